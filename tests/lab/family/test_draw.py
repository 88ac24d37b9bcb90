"""Drawn cases: the same bytes for the same seed, sheets that the ordinary reader takes, sound machines look sound."""

import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

import oilpath
from oilpath import load_knowledge, load_sheet
from oilpath.lab.family import KINDS, SHEETS, draw
from oilpath.lab.family.alike import ALIKE, merged, same
from oilpath.lab.family.checks import LOOKS
from oilpath.lab.family.faults import FAULTS
from tests.steps import judge

PRINT = "from oilpath.lab.family import draw\nfor i in range(3): print(draw({kind!r}, 4, i, {sheet!r}).text())"


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_seed_gives_the_same_bytes_in_another_process(kind: str) -> None:
    env = {**os.environ, "PYTHONPATH": str(Path(oilpath.__file__).parents[1]), "PYTHONHASHSEED": "77"}
    code = PRINT.format(kind=kind, sheet="8")
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == [draw(kind, 4, index, "8").text() for index in range(3)]


def test_seeds_indexes_and_kinds_of_sheets_differ() -> None:
    texts = {
        draw("wheel-loader", seed, index, sheet).text() for seed in (1, 2) for index in (0, 1) for sheet in ("5", "8")
    }
    assert len(texts) == 8


@pytest.mark.parametrize("sheet_kind", SHEETS)
@pytest.mark.parametrize("kind", KINDS)
def test_the_ordinary_reader_takes_every_sheet(kind: str, sheet_kind: str) -> None:
    knowledge = load_knowledge()
    for index in range(6):
        case = draw(kind, 21, index, sheet_kind)
        sheet = load_sheet(case.name, knowledge, text=case.text())
        assert len(sheet.readings) == len(case.sheet["readings"])


@pytest.mark.parametrize("kind", KINDS)
def test_sizes_of_sheets_and_number_of_truths(kind: str) -> None:
    counts = {}
    for sheet_kind in SHEETS:
        cases = [draw(kind, 22, index, sheet_kind) for index in range(6)]
        truths = {"sound": 0, "pairs": 2}.get(sheet_kind, 1)
        assert all(len(case.truths) == truths for case in cases)
        beside = {"sign", "code"}
        counts[sheet_kind] = [sum(row["test"] not in beside for row in case.sheet["readings"]) for case in cases]
    for name in ("3", "5", "8"):
        assert max(counts[name]) == int(name)
    assert sum(counts["thin"]) < 0.75 * sum(counts["full"])


@pytest.mark.parametrize("kind", KINDS)
def test_a_sound_machine_reads_inside_its_limits_mostly(kind: str) -> None:
    knowledge = load_knowledge()
    verdicts: Counter[str] = Counter()
    for index in range(25):
        case = draw(kind, 23, index, "sound")
        results = judge(load_sheet(case.name, knowledge, text=case.text()), knowledge)
        verdicts.update(r.verdict for r in results if r.test not in ("sign", "code", "condition"))
    assert verdicts["fail"] < 0.01 * verdicts.total()
    assert verdicts["pass"] > 0.6 * verdicts.total()


@pytest.mark.parametrize("kind", KINDS)
def test_a_faulty_machine_shows_something(kind: str) -> None:
    knowledge = load_knowledge()
    shown = out = 0
    for index in range(25):
        case = draw(kind, 24, index, "full")
        results = judge(load_sheet(case.name, knowledge, text=case.text()), knowledge)
        out += any(r.verdict in ("fail", "near") for r in results)
        shown += case.shown
    assert shown >= 21
    assert out >= 15


def test_every_cause_is_drawn_by_its_frequency() -> None:
    drawn = Counter(draw("wheel-loader", 25, index, "full").truths[0][0] for index in range(150))
    weights = {fault.cause: fault.weight for fault in FAULTS}
    common = sum(count for cause, count in drawn.items() if weights[cause] >= 2)
    rare = sum(count for cause, count in drawn.items() if weights[cause] <= 0.3)
    assert common > 6 * rare
    assert len(drawn) > 20


def test_a_case_is_frozen_and_hides_its_scene() -> None:
    case = draw("wheel-loader", 1, 0, "5")
    with pytest.raises(AttributeError):
        case.kind = "other"  # type: ignore[misc]
    assert "Bench" not in repr(case)
    assert json.loads(case.text()) == case.sheet


def test_what_is_not_of_the_family_is_refused() -> None:
    with pytest.raises(ValueError, match="wheel-loader"):
        draw("forklift", 1, 0, "full")
    with pytest.raises(ValueError, match="pairs"):
        draw("wheel-loader", 1, 0, "half")


# --- more readings and checks ---------------------------------------------------------------


def test_measuring_again_gives_the_same_and_what_is_not_there_none() -> None:
    case = draw("compact-excavator", 5, 1, "3")
    first = case.measure("cycle-time", {"function": "boom-raise"})
    assert first is not None
    case.measure("swing-time", {"direction": "left"})
    assert case.measure("cycle-time", {"function": "boom-raise"}) == first
    assert case.measure("cycle-time", {"function": "tilt-back"}) is None
    knowledge = load_knowledge()
    sheet = {**case.sheet, "readings": [first]}
    assert load_sheet("more.yaml", knowledge, text=json.dumps(sheet)).readings


def test_checks_that_are_known_have_the_outcomes_of_the_knowledge_base() -> None:
    """Ids and outcomes of the file format; the family itself reads nothing of it."""
    checks = {check.check: check for check in load_knowledge().checks}
    for name, look in LOOKS.items():
        outcomes = {look.usual, *(outcome for _, _, outcome in look.finds)}
        assert outcomes <= {outcome.outcome for outcome in checks[name].outcomes}, name


@pytest.mark.parametrize("kind", KINDS)
def test_every_check_of_the_knowledge_base_has_an_answer_where_it_can_be_made(kind: str) -> None:
    knowledge, case = load_knowledge(), draw(kind, 27, 0, "full")
    silent = set()
    for check in knowledge.checks:
        outcomes = {outcome.outcome for outcome in check.outcomes}
        for name, part in knowledge.circuits[kind].parts.items():
            if part.class_ in check.at.class_:
                given = case.answer(check.check, name)
                assert given is None or given in outcomes, (check.check, name)
                silent |= {check.check} if given is None and name not in case.machine.get("absent", ()) else set()
    assert silent <= {
        "drift-at-steady-temperature",
        "drift-engine-on-off",
        "drift-load-reversed",
    }  # of a steering cylinder


@pytest.mark.slow
def test_the_right_check_finds_the_fault_nearly_always() -> None:
    found = total = 0
    for index in range(200):
        case = draw("two-pump-excavator", 26, index, "3")
        cause, part = case.truths[0]
        if cause == "travel-crossover.leaking":
            total += 1
            found += case.answer("exchange-crossover-relief", part) == "follows"
        if cause == "pump.worn":
            total += 1
            found += case.answer("case-drain", part) == "high" or case.answer("flow-at-pressure", part) != "good"
    assert total >= 6
    assert found >= 0.75 * total
    assert case.answer("no-such-check", "machine") is None


# --- kinds that count as one ----------------------------------------------------------------


def test_kinds_that_no_reading_tells_apart_are_few_and_stand_at_one_place() -> None:
    causes = [cause for _, some, _ in ALIKE for cause in some]
    assert len(causes) == len(set(causes))
    assert len(ALIKE) <= 6
    assert set(causes) <= {fault.cause for fault in FAULTS}
    assert merged("pump.worn", "pump-1") == merged("pump.damaged", "pump-1") != merged("pump.worn", "pump-2")
    assert merged("tank.low-level", "tank") == merged("breather.blocked", "breather")
    assert merged("main-relief.low", "main-relief") == ("main-relief.low", "main-relief")


def test_one_gauge_for_both_pumps_is_right_by_any_of_its_names() -> None:
    truth = ("pressure-sensor.offset", "both")
    assert same("pressure-sensor.offset", "pressure-sensor-2", truth)
    assert not same("main-relief.low", "main-relief", truth)
    assert not same("pressure-sensor.offset", "pressure-sensor-2", ("pressure-sensor.offset", "pressure-sensor-1"))
    assert same("cylinder.scored-barrel", "boom-cylinder-left", ("cylinder.seal-leak", "boom-cylinder-right"))
