"""What a cause does to the tests, and what tells two apart, on the machines that ship."""

from __future__ import annotations

import math

import pytest

from oilpath.bench import Bench, bench_for
from oilpath.data import data_folder
from oilpath.documents.load import load_machine
from oilpath.explore.effects import Effect
from oilpath.explore.topics import Topic
from oilpath.explore.views import CauseView, CheckView, ReadingsView, SuspectView, apart, fits, view
from oilpath.knowledge.base import Knowledge


@pytest.fixture(scope="module")
def bench(knowledge: Knowledge) -> Bench:
    return bench_for(load_machine(data_folder("cases") / "machines/trainer-22t.yaml", knowledge), knowledge)


def effects(cause: str, bench: Bench, part: str | None = None) -> tuple[float, dict[str, Effect]]:
    found = view(Topic("cause", cause, part), bench)
    assert isinstance(found, CauseView)
    level, moved = found.ways[0]
    return level.value or 0.0, {effect.reading.result: effect for effect in moved}


def test_a_slow_engine_slows_an_unhindered_movement_in_proportion(bench: Bench) -> None:
    """A pump delivers displacement times speed [ISO 4391: derived capacity], so a time goes with 1 / speed."""
    speed, moved = effects("engine.low-speed", bench)
    assert math.exp(moved["engine-speed/low-idle"].moved) == pytest.approx(speed, rel=0.01)
    time = math.exp(moved["cycle-time/bucket-dump"].moved)
    assert time == pytest.approx(1 / speed, rel=0.05)


def test_a_worn_pump_raises_its_own_case_drain_alone(bench: Bench) -> None:
    """Common practice: the case drains of two pumps are compared, and the worn one's is the higher."""
    _, moved = effects("pump.worn", bench, "pump-2")
    assert moved["case-drain/pump-2"].noticed
    assert not moved["case-drain/pump-1"].noticed


def test_what_a_leaking_piston_seal_moves_is_a_drift(bench: Bench) -> None:
    """Common practice."""
    _, moved = effects("cylinder.seal-leak", bench)
    first = next(iter(moved.values()))
    assert first.reading.test == "drift"
    assert first.moved > 0


def test_two_pumps_are_told_apart_by_the_side_to_which_the_machine_pulls(bench: Bench) -> None:
    """Common practice: each pump drives one track."""
    found = apart(Topic("cause", "pump.worn", "pump-1"), Topic("cause", "pump.worn", "pump-2"), bench)
    assert found.tests[0].one.reading.test == "travel-veer"
    for two in found.tests:
        if two.one.reading.test == "travel-veer":
            assert two.one.moved > 0 >= two.other.moved
    assert all(0 < one.distance <= 1 for one in found.checks)


def test_a_pump_and_its_suction_are_told_apart_by_a_vacuum_gauge(bench: Bench) -> None:
    """Common practice: a vacuum above what the pump tolerates is the suction's."""
    found = apart(Topic("cause", "pump.worn"), Topic("cause", "suction.restricted"), bench)
    vacuum = [one for one in found.checks if "vacuum" in one.check.check]
    words = [outcome.outcome for outcome in vacuum[0].check.outcomes]
    assert vacuum[0].other[words.index("high")] > 0.8 > 0.2 > vacuum[0].one[words.index("high")]


def test_every_topic_has_a_view_where_it_fits(bench: Bench) -> None:
    knowledge = bench.knowledge
    topics = [Topic("cause", cause.cause) for cause in knowledge.causes]
    topics += [Topic("check", check.check) for check in knowledge.checks]
    topics += [Topic("part", part) for part in bench.circuit.parts]
    topics += [Topic("function", name) for name in bench.circuit.functions]
    seen = {topic.kind: view(topic, bench) for topic in topics if fits(topic, bench)}
    assert set(seen) == {"cause", "check", "part", "function"}


def test_the_causes_of_a_reading_stand_where_its_oil_passes_or_act_on_all(bench: Bench) -> None:
    found = view(Topic("test", "cycle-time", reading="cycle-time/arm-in"), bench)
    assert isinstance(found, ReadingsView)
    assert {"pump.worn", "engine.low-speed", "suction.restricted"} & {h.cause.cause for h, _ in found.causes}
    assert all(effect.reading.result == "cycle-time/arm-in" and effect.noticed for _, effect in found.causes)
    assert not {h.part for h, _ in found.causes} & {"swing-motor", "travel-motor-left", "bucket-cylinder"}


def test_an_outcome_speaks_for_what_makes_it_more_probable(bench: Bench) -> None:
    found = view(Topic("check", "case-drain", "pump-1"), bench)
    assert isinstance(found, CheckView)
    outcomes = dict(zip((one.outcome for one in found.check.outcomes), found.outcomes, strict=True))
    assert ("pump.worn", "pump-1") in {(one.cause, one.part) for one in outcomes["high"]}
    assert all(one.chance >= 2 * one.sound for spoken in found.outcomes for one in spoken)


def test_a_sign_leads_to_what_its_rules_suspect(bench: Bench) -> None:
    found = view(Topic("sign", "boom-falls"), bench)
    assert isinstance(found, SuspectView)
    assert "holding-valve.held-open" in {one.cause for rule in found.rules for one in rule.suspect}
