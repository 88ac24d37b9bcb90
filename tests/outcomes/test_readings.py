"""Which readings a check stands for at a part, and how far sound machines lie apart on them."""

import math

import numpy as np
import pytest

from oilpath.bench import bench_for
from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.check import Check
from oilpath.outcomes.places import Places, places_of
from oilpath.outcomes.readings import _known, _readings, effects
from oilpath.physics.predictions import Predictions


@pytest.fixture(scope="module")
def model(machine: Machine, knowledge: Knowledge) -> Predictions:
    return bench_for(machine, knowledge).model


@pytest.fixture(scope="module")
def places(model: Predictions) -> Places:
    return places_of(model.circuit)


def check_of(**measures: dict[str, object]) -> Check:
    held = {one.get("against") for one in measures.values()}
    when = {name: "above" for name in measures if name not in held}
    gives = [{"outcome": "high", "when": when}, {"outcome": "right"}]
    return Check.model_validate(
        {
            "check": "zz", "title": "Read {part}", "at": {"class": "main-pump"}, "minutes": 5, "intrusiveness": 0,
            "tools": [], "cautions": [], "how": "Read.", "outcomes": {"right": "right", "high": "high"},
            "measures": measures, "gives": gives, "source": "from memory",
        }
    )  # fmt: skip


@pytest.mark.parametrize(
    ("measure", "part", "readings"),
    [
        ({"test": "case-drain"}, "pump-1", [{"part": "pump-1"}]),
        ({"test": "drift"}, "boom-cylinder", [{"cylinder": "boom-cylinder"}]),
        ({"test": "flow", "keys": {"at": "{part}-outlet"}}, "pump-2", [{"at": "pump-2-outlet"}]),
        ({"test": "pilot-pressure"}, "pilot-pump", [{}]),
        (
            {"test": "stall-pressure"},
            "bucket-spool",
            [
                {"pump": "pump-1", "function": "bucket-curl"},
                {"pump": "pump-1", "function": "bucket-dump"},
            ],
        ),
        (
            {"test": "pressure", "keys": {"state": "free-running"}},
            "travel-left-motor",
            [
                {"at": "travel-left-motor", "state": "free-running", "function": "travel-left-forward"},
                {"at": "travel-left-motor", "state": "free-running", "function": "travel-left-reverse"},
            ],
        ),
    ],
)
def test_a_key_that_is_left_out_stands_for_all_that_the_part_has(
    measure: dict[str, object],
    part: str,
    readings: list[dict[str, str]],
    machine: Machine,
    knowledge: Knowledge,
    places: Places,
) -> None:
    """Facts of the circuit file."""
    one = check_of(one=measure).measures["one"]
    found = [dict(reading.evidence.keys) for reading in _readings(one, part, machine, knowledge, places)]
    assert sorted(found, key=str) == sorted(readings, key=str)


def test_a_part_without_functions_stands_for_all_of_them(
    machine: Machine, knowledge: Knowledge, places: Places
) -> None:
    one = check_of(one={"test": ["cycle-time", "swing-time"]}).measures["one"]
    found = list(_readings(one, "machine", machine, knowledge, places))
    times = {reading.evidence.keys.get("function") for reading in found if reading.evidence.test == "cycle-time"}
    # swing and travel have no such load case
    assert times == {name for name, f in places.graph.functions.items() if "cycle" in f.pressure}
    assert {dict(r.evidence.keys)["direction"] for r in found if r.evidence.test == "swing-time"} == {"left", "right"}


def row(model: Predictions, cause: str, part: str, variant: str | None = None) -> int:
    wanted = (cause, part, variant)
    return next(n for n, h in enumerate(model.hypotheses) if (h.cause.cause, h.part, h.variant) == wanted)


def test_lowest_highest_and_strongest(model: Predictions, knowledge: Knowledge, places: Places) -> None:
    """A port relief set low limits one direction alone: common practice."""
    number = row(model, "port-relief.leaking", "bucket-cap-port-relief", "set-low")
    found = {
        take: effects(check_of(one={"test": "stall-pressure", "take": take}), "bucket-spool", model, knowledge, places)[
            "one"
        ].effect[number]
        for take in ("least", "most", "strongest")
    }
    assert (found["least"] < -0.03).all()
    assert np.abs(found["most"]).max() < 1e-9
    assert (found["strongest"] == found["least"]).all()
    # the last row is the sound machine
    sound = effects(check_of(one={"test": "stall-pressure"}), "bucket-spool", model, knowledge, places)["one"]
    assert not sound.effect[-1].any()


def test_a_variant_against_the_plain_reading(model: Predictions, knowledge: Knowledge, places: Places) -> None:
    """A worn pump loses less with thick oil: leakage goes against viscosity."""
    pair = check_of(cold={"test": "cycle-time", "variant": "cold", "against": "warm"}, warm={"test": "cycle-time"})
    number = row(model, "pump.worn", "pump-1")
    apart = effects(pair, "bucket-cylinder", model, knowledge, places)["cold"].effect[number]
    assert apart[-1] < -0.1
    plain = _known(pair.measures["warm"], "bucket-cylinder", model, knowledge, places)
    cold = _known(pair.measures["cold"], "bucket-cylinder", model, knowledge, places)
    slower = [now[number] - before[number] for (_, now), (_, before) in zip(cold, plain, strict=True)]
    assert apart[-1] == min(one[-1] for one in slower)


def test_what_does_not_fit_together_is_no_reading(model: Predictions, knowledge: Knowledge, places: Places) -> None:
    one = check_of(a={"test": "stall-pressure", "against": "b"}, b={"test": "cycle-time"})
    assert effects(one, "oil", model, knowledge, places) == {}
    assert effects(check_of(a={"test": "temperature"}), "pump-1", model, knowledge, places) == {}


def test_scatter_of_one_reading(model: Predictions, knowledge: Knowledge, places: Places) -> None:
    """Root of the sum of the squares (GUM): the test's own, what it shares, its instrument, and the model's error."""
    kind = knowledge.tests["stall-pressure"]
    assert kind.scatter is not None
    assert kind.instrument is not None
    gauge = next(one.sd for one in knowledge.scatter if one.id == "gauge")
    tool = (kind.instrument.systematic_ratio, kind.instrument.scatter_ratio)
    found = effects(check_of(one={"test": "stall-pressure"}), "bucket-spool", model, knowledge, places)["one"]
    alone = math.hypot(kind.scatter.own, *tool, gauge)
    assert found.sd[-1] == pytest.approx(alone)
    np.testing.assert_allclose(found.sd, np.hypot(alone, knowledge.priors.model_error * found.effect))
    own = effects(
        check_of(one={"test": "case-drain", "scatter": 0.1, "model-error": 0.5}), "pump-1", model, knowledge, places
    )
    np.testing.assert_allclose(own["one"].sd, np.hypot(math.hypot(0.1, 0.04, 0.05), 0.5 * own["one"].effect))


def test_between_twins_what_both_share_cancels(model: Predictions, knowledge: Knowledge, places: Places) -> None:
    check = check_of(one={"test": "case-drain", "against": "twin"})
    found = effects(check, "pump-1", model, knowledge, places)["one"]
    thin, worn = row(model, "oil.too-thin", "oil"), row(model, "pump.worn", "pump-2")
    assert np.abs(found.effect[thin]).max() < 1e-9
    assert (found.effect[worn] < -0.5).all()
    assert found.sd[-1, 0] == pytest.approx(math.sqrt(2) * math.hypot(0.25, 0.04, 0.05))
