"""The readings of a sheet as arrays: variance, scatter in common, what is out."""

from dataclasses import replace

import numpy as np
import pytest

from oilpath.flow import Measured, ReadingResult, evidence_in
from oilpath.knowledge.base import Knowledge
from oilpath.physics.predictions import Predictions
from oilpath.ranking.evidence import NOTHING, censor, readings

from .conftest import BLANK, SheetOf, result_of


def test_results_without_evidence_are_left_out(sheet_of: SheetOf) -> None:
    sheet = sheet_of()
    invalid = ReadingResult("swing-time/left", "swing-time", {}, "invalid", 20.0, "time")
    assert (
        evidence_in((*sheet, invalid))
        == evidence_in(sheet)
        == tuple(one.evidence for one in sheet if isinstance(one, Measured))
    )


def test_covariance_is_the_sum_of_its_sources(sheet_of: SheetOf, model: Predictions, knowledge: Knowledge) -> None:
    got = readings(sheet_of(), BLANK, model.circuit, knowledge)
    covariance = np.diag(got.variance) + got.shared @ got.shared.T
    functions = model.circuit.functions

    def words(n: int) -> dict[str, str]:
        keys = dict(BLANK[n].keys)
        for name, f in functions.items():
            if name == keys.get("function") or (
                f.direction and (f.direction, f.side) == (keys.get("direction"), keys.get("side"))
            ):
                keys |= {"function": name, "group": f.group, "pump": keys.get("pump", model.circuit.pumps(name)[0])}
        return keys

    for i in range(len(BLANK)):
        for j in range(len(BLANK)):
            common = 0.0
            for source in (s for s in knowledge.scatter if s.of == "reading"):
                both = BLANK[i].observe in source.observes and BLANK[j].observe in source.observes
                if both and all(words(i).get(k) is not None and words(i).get(k) == words(j).get(k) for k in source.by):
                    common += source.sd**2
            if i == j:
                scatter = knowledge.tests[BLANK[i].test].scatter
                assert scatter is not None
                common += BLANK[i].u ** 2 + scatter.own**2
            assert covariance[i, j] == pytest.approx(common), (BLANK[i].result, BLANK[j].result)
    assert np.linalg.eigvalsh(covariance).min() > 0


def test_readings_of_one_pump_move_together(sheet_of: SheetOf, model: Predictions, knowledge: Knowledge) -> None:
    got = readings(sheet_of(), BLANK, model.circuit, knowledge)
    place = {e.result: n for n, e in enumerate(BLANK)}
    common = got.shared @ got.shared.T
    bucket, boom, swing = (
        place[f"{k}"] for k in ("cycle-time/bucket-curl", "cycle-time/boom-raise", "swing-time/left")
    )
    assert common[bucket, boom] > common[bucket, swing] > 0
    assert common[bucket, place["drift/boom-cylinder"]] == 0


def test_what_is_out(sheet_of: SheetOf, model: Predictions, knowledge: Knowledge) -> None:
    sheet = sheet_of(("regulator.stuck-low", "pump-2-regulator", 10))
    got = readings(sheet, evidence_in(sheet), model.circuit, knowledge)
    assert got.out.tolist() == [result.verdict == "fail" for result in sheet]
    assert got.out.any()
    assert not got.out.all()
    near = [replace(result, verdict="near") for result in sheet]
    assert readings(near, evidence_in(near), model.circuit, knowledge).out.all()


def test_a_condition_that_was_not_met_is_not_a_reading_that_is_out(model: Predictions, knowledge: Knowledge) -> None:
    e = replace(
        BLANK[0], result="condition/engine-speed", test="condition", observe="condition", load="engine-speed", keys={}
    )
    failed = replace(result_of(e), verdict="fail")
    assert not readings([failed], [e], model.circuit, knowledge).out.any()


def test_a_large_veer_only_says_much(model: Predictions, knowledge: Knowledge) -> None:
    veer = next(e for e in BLANK if e.observe == "veer")
    sheets = [[result_of(replace(veer, e=value))] for value in (1.5, 2.5, 7.0, -7.0)]
    e = [readings(sheet, evidence_in(sheet), model.circuit, knowledge).e[0] for sheet in sheets]
    assert e == [1.5, 2.0, 2.0, -2.0]  # m; beyond 2 m the operator corrects or stops (common practice)


def test_no_pressure_at_all_only_says_nothing(model: Predictions, knowledge: Knowledge) -> None:
    pilot = next(e for e in BLANK if e.observe == "pilot-pressure")
    sheets = [[result_of(replace(pilot, e=value))] for value in (-1.0, -4.5, -14.0)]
    e = [readings(sheet, evidence_in(sheet), model.circuit, knowledge).e[0] for sheet in sheets]
    assert e == [-1.0, NOTHING, NOTHING]


def test_other_readings_are_taken_as_they_are(model: Predictions, knowledge: Knowledge) -> None:
    time = result_of(replace(BLANK[0], e=7.0))
    assert readings([time], evidence_in([time]), model.circuit, knowledge).e[0] == 7
    assert censor(np.array([[-3.0, 7.0]]), np.array([2.0, np.inf])).tolist() == [[-2, 7]]
