"""What judged results have in common, as facts. All results and machines are invented."""

from __future__ import annotations

from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.bench import bench_for
from oilpath.documents.machine import CodeMeaning, Machine
from oilpath.flow import (
    Computed,
    ConditionFigure,
    Fact,
    Measured,
    ReadingResult,
    Result,
    check_result,
    code_result,
    sign_result,
)
from oilpath.flow.ids import read_id
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.circuit import Feeds
from oilpath.knowledge.compile import read_knowledge
from oilpath.knowledge.rule import FACTS, NOT_STATED
from oilpath.machine.graph import circuit_graph
from oilpath.rules.facts import relate

KB = read_knowledge(Path(__file__).parents[2] / "kb")
CIRCUIT = KB.circuits["two-pump-excavator"]
MACHINE = Machine(name="Invented machine", circuit=CIRCUIT)


@pytest.fixture(scope="module")
def kb() -> Knowledge:
    return KB


def timed(name: str, value: float = 1.0, verdict: str = "pass", deviation: str | None = None, **more: object) -> Result:
    """A judged time of a test whose new value is 1 and whose limit is 1.15."""
    if deviation is None and verdict in ("fail", "near"):
        deviation = "slow"
    given_: dict[str, object] = {"uncertainty": 0.01, "count": 3, "new": 1.0, "max": 1.15, "basis": "limit", **more}
    parts = read_id(name)
    keys = dict(zip(KB.tests[parts.test].id, parts.steps, strict=False))
    if parts.test == "condition":
        given_["condition"] = parts.steps[0]
    kind: Any = ConditionFigure if parts.test == "condition" else ReadingResult
    result: Measured = kind(name, parts.test, keys, verdict, value, "time", deviation=deviation, **given_)
    return result


def slow(name: str, value: float = 1.4) -> Result:
    return timed(name, value, "fail")


def facts_of(*results: Result, machine: Machine = MACHINE) -> tuple[Fact, ...]:
    return relate(results, bench_for(machine, KB))


def the(facts: tuple[Fact, ...], fact_kind: str, **slots: str) -> Fact:
    """The one fact of this kind whose slots are as said."""
    wanted = {name.rstrip("_").replace("_", "-"): word for name, word in slots.items()}
    found = [f for f in facts if f.kind == fact_kind and all(f.slots[slot] == word for slot, word in wanted.items())]
    assert len(found) == 1, (fact_kind, wanted, found)
    return found[0]


# ------------------------------------------------------------------ facts as such


def test_facts_are_words_with_every_slot_filled(kb: Knowledge) -> None:
    results = (slow("cycle-time/boom-raise"), timed("swing-time/left"), timed("travel-veer/forward/high", 0.3))
    for fact in facts_of(*results):
        assert list(fact.slots) == list(FACTS[fact.kind])
        for slot, word in fact.slots.items():
            assert isinstance(word, str)
            assert word
            closed = FACTS[fact.kind][slot]
            assert not closed or word in (*closed, NOT_STATED), (fact.kind, slot, word)


def test_the_order_of_the_results_does_not_matter_to_what_is_said() -> None:
    results = (slow("cycle-time/bucket-curl"), slow("cycle-time/bucket-dump"), timed("swing-time/left"))
    one, other = facts_of(*results), facts_of(*reversed(results))

    def said(facts: tuple[Fact, ...]) -> set[tuple[str, ...]]:
        return {(fact.kind, *fact.slots.values()) for fact in facts}

    assert said(one) == said(other)
    assert facts_of(*results) == one


def test_nothing_measured_is_said_and_not_left_out(kb: Knowledge) -> None:
    facts = facts_of()
    groups = [fact for fact in facts if fact.kind == "group"]
    assert groups
    assert {fact.slots["state"] for fact in groups} == {"unmeasured"}
    unmeasured = {fact.slots["test"] for fact in facts if fact.kind == "finding"}
    assert unmeasured == {name for name, kind in kb.tests.items() if kind.value is not None}
    assert {fact.slots["relation"] for fact in facts if fact.kind == "contrast"} == {"unknown"}
    assert not [fact for fact in facts if fact.kind == "observed"]


def test_a_full_sheet_stays_under_two_hundred_facts_beside_the_parts() -> None:
    directions, ranges = ("forward", "reverse"), ("high", "low")
    names = [f"cycle-time/{name}" for name in CIRCUIT.functions] + [f"drift/{name}" for name in CIRCUIT.holds]
    names += ["swing-time/left", "swing-time/right", "pilot-pressure", "case-drain/pump-1", "case-drain/pump-2"]
    names += [f"track-time/{side}/{d}/{r}" for side in ("left", "right") for d in directions for r in ranges]
    names += [f"{test}/{d}/{r}" for test in ("travel-time", "travel-veer") for d in directions for r in ranges]
    results = [timed(name) for name in names]
    facts = facts_of(*results)
    assert len([fact for fact in facts if fact.kind != "part"]) < 200


# ------------------------------------------------------------------ parts


def test_every_present_part_and_its_role_is_named() -> None:
    facts = facts_of()
    assert {fact.slots["part"] for fact in facts if fact.kind == "part"} == set(CIRCUIT.parts)
    spool = the(facts, "part", part="bucket-spool", function="bucket-curl")
    assert (spool.slots["role"], spool.slots["group"], spool.slots["pump"]) == ("spool", "bucket", "pump-1")
    relief = the(facts, "part", part="arm-rod-port-relief")
    assert (relief.slots["role"], relief.slots["function"], relief.slots["carries"]) == ("shunt", "arm-out", "load")
    assert the(facts, "part", part="arm-cap-port-relief").slots["carries"] == "no-load"
    assert the(facts, "part", part="boom-holding-valve", function="boom-lower").slots["role"] == "exhaust"
    assert the(facts, "part", part="boom-holding-valve", function="boom-raise").slots["role"] == "supply"
    left = the(facts, "part", part="boom-cylinder-left", function="boom-raise")
    assert (left.slots["role"], left.slots["actuator"]) == ("actuator", "boom-cylinder")
    assert the(facts, "part", part="pump-1-regulator").slots["pump"] == "pump-1"
    assert the(facts, "part", part="travel-left-shift", function="travel-left-forward").slots["role"] == "own"


def test_absent_parts_are_not_named() -> None:
    facts = facts_of(machine=Machine(name="No holding valve", circuit=CIRCUIT, absent=("arm-holding-valve",)))
    assert not [fact for fact in facts if fact.kind == "part" and fact.slots["part"] == "arm-holding-valve"]


# ------------------------------------------------------------------ findings


@pytest.mark.parametrize(
    ("value", "size"),
    [(1.2, "slight"), (1.29, "slight"), (1.5, "clear"), (1.59, "clear"), (1.7, "gross")],
)
def test_size_is_the_excess_in_widths_of_the_tolerance(value: float, size: str) -> None:
    """The tolerance is 0.15: up to 1.30 slight, up to 1.60 clear, beyond gross."""
    facts = facts_of(slow("cycle-time/boom-raise", value))
    assert the(facts, "finding", test="cycle-time").slots["size"] == size


def test_a_finding_is_placed_by_the_circuit() -> None:
    facts = facts_of(slow("swing-time/left"), slow("track-time/right/reverse/low"), slow("travel-time/forward/high"))
    swing = the(facts, "finding", test="swing-time").slots
    assert (swing["function"], swing["group"], swing["pump"], swing["class"]) == (
        "swing-left", "swing", "pump-2", "swing-motor"
    )  # fmt: skip
    track = the(facts, "finding", test="track-time").slots
    assert (track["function"], track["side"], track["range"], track["pump"]) == (
        "travel-right-reverse", "right", "low", "pump-1"
    )  # fmt: skip
    ground = the(facts, "finding", test="travel-time").slots
    assert (ground["function"], ground["side"], ground["pump"]) == (NOT_STATED, "both", NOT_STATED)


def test_the_machines_own_allocation_counts() -> None:
    feeds = Feeds(pumps={"pump-1": ("travel-right", "bucket", "boom", "swing"), "pump-2": ("travel-left", "arm")})
    facts = facts_of(slow("swing-time/left"), machine=Machine(name="Swing on pump 1", circuit=CIRCUIT, feeds=feeds))
    assert the(facts, "finding", test="swing-time").slots["pump"] == "pump-1"


def test_a_veer_is_on_the_side_that_it_goes_to() -> None:
    """The slow track is the one that the machine turns to, forward and in reverse: common practice."""
    facts = facts_of(timed("travel-veer/reverse/high", -2.0, "fail", "left", min=-1.2, max=1.2, new=0.0))
    assert the(facts, "finding", test="travel-veer").slots["side"] == "left"
    assert the(facts, "group", kind="veer", of="left").slots["state"] == "all-out"
    assert the(facts, "group", kind="veer", of="right").slots["state"] == "none-out"


def test_verdicts_become_states_of_a_finding() -> None:
    words = {"pass": "in", "near": "near", "fail": "out", "invalid": "invalid", "unjudged": "unmeasured"}
    for verdict, state in words.items():
        facts = facts_of(timed("cycle-time/boom-raise", verdict=verdict))
        assert the(facts, "finding", test="cycle-time").slots["state"] == state


def test_points_of_a_part_belong_to_the_part() -> None:
    facts = facts_of(timed("flow/pump-2-outlet"), timed("pressure/boom-cylinder-rod/moving/boom-raise"))
    assert the(facts, "finding", test="flow").slots["pump"] == "pump-2"
    assert the(facts, "finding", test="pressure").slots["case"] == "moving"
    assert the(facts, "finding", test="pressure").slots["part"] == "boom-cylinder"


def test_scattered_repeats_and_cooling_are_said() -> None:
    drift = timed("drift/arm-cylinder", 0.01, "fail", "high", computed={"cooling": Computed(0.007, "length")})
    facts = facts_of(timed("cycle-time/boom-raise", uncertainty=0.05), timed("swing-time/left", count=1), drift)
    assert the(facts, "finding", test="cycle-time").slots["repeats"] == "scattered"
    assert the(facts, "finding", test="swing-time").slots["repeats"] == "single"
    cooled = the(facts, "finding", test="drift").slots
    assert (cooled["cooling"], cooled["end"], cooled["cylinder"]) == ("most", "rod", "arm-cylinder")


# ------------------------------------------------------------------ groups


def test_all_of_a_pump_is_what_it_feeds_first_hand() -> None:
    """Pump 1 feeds bucket and boom; arm, which it only joins, stands on neither side."""
    results = (slow("cycle-time/bucket-curl"), slow("cycle-time/boom-raise"), slow("cycle-time/arm-in"))
    facts = facts_of(*results, timed("swing-time/left"))
    group = the(facts, "group", kind="pump", of="pump-1")
    assert (group.slots["state"], group.slots["only"]) == ("all-out", "yes")
    assert group.results == ("cycle-time/bucket-curl", "cycle-time/boom-raise")
    other = the(facts, "group", kind="pump", of="pump-2")
    assert (other.slots["state"], other.slots["only"]) == ("some-out", "no")


def test_one_reading_does_not_speak_for_a_pump() -> None:
    facts = facts_of(slow("cycle-time/bucket-curl"))
    assert the(facts, "group", kind="pump", of="pump-1").slots["state"] == "one-out"
    assert the(facts, "group", kind="pump", of="pump-1").slots["only"] == "unknown"


def test_a_raised_track_and_a_lowering_boom_are_no_readings_under_load() -> None:
    """The raised track runs at a sixth of the relief's setting: common practice."""
    results = (slow("swing-time/left"), slow("swing-time/right"), timed("track-time/left/forward/high"))
    facts = facts_of(*results)
    assert the(facts, "group", kind="pump", of="pump-2").slots["state"] == "some-out"
    assert the(facts, "group", kind="pump-loaded", of="pump-2").slots["state"] == "all-out"


def test_near_readings_do_not_break_a_pattern_but_half_must_be_out() -> None:
    near = [timed(f"cycle-time/{name}", 1.14, "near") for name in ("bucket-dump", "boom-raise")]
    facts = facts_of(slow("cycle-time/bucket-curl"), near[0])
    assert the(facts, "group", kind="pump", of="pump-1").slots["state"] == "all-out"
    facts = facts_of(slow("cycle-time/bucket-curl"), *near)
    assert the(facts, "group", kind="pump", of="pump-1").slots["state"] == "some-out"
    assert the(facts_of(*near), "group", kind="pump", of="pump-1").slots["state"] == "none-out"


def test_fast_is_not_slow() -> None:
    facts = facts_of(timed("cycle-time/bucket-curl", 0.5, "fail", "fast"), slow("cycle-time/bucket-dump"))
    assert the(facts, "group", kind="function", of="bucket").slots["state"] == "some-out"


def test_invalid_and_variant_readings_are_in_no_group() -> None:
    facts = facts_of(
        timed("cycle-time/bucket-curl", 2.0, "invalid"),
        timed("cycle-time/bucket-dump@cold", 2.0, "unjudged", variant="cold"),
        timed("cycle-time/boom-raise+swing-left", 2.0, "fail", together_with=("swing-left",)),
    )
    assert the(facts, "group", kind="all").slots["state"] == "unmeasured"


def test_one_direction_and_its_opposite() -> None:
    facts = facts_of(slow("cycle-time/boom-lower"), timed("cycle-time/boom-raise"))
    lower = the(facts, "group", kind="direction", of="boom-lower").slots
    assert (lower["state"], lower["opposite"], lower["class"]) == ("all-out", "in", "cylinder-pair")
    assert the(facts, "group", kind="direction", of="boom-raise").slots["opposite"] == "out"
    assert the(facts, "group", kind="direction", of="arm-in").slots["opposite"] == "unmeasured"
    assert the(facts, "group", kind="function", of="boom").slots["state"] == "some-out"


def test_one_measured_direction_does_not_speak_for_both() -> None:
    facts = facts_of(slow("track-time/left/forward/high"), slow("track-time/left/forward/low"))
    assert the(facts, "group", kind="function", of="travel-left").slots["state"] == "some-out"
    assert the(facts, "group", kind="side", of="left").slots["state"] == "all-out"


def test_ranges_of_a_side_and_of_the_ground() -> None:
    facts = facts_of(
        slow("track-time/left/forward/high"), timed("track-time/left/forward/low"),
        slow("travel-time/forward/high"), timed("travel-time/forward/low"),
    )  # fmt: skip
    high = the(facts, "group", kind="range", of="high", side="left").slots
    assert (high["state"], high["only"]) == ("all-out", "yes")
    assert the(facts, "group", kind="range", of="high", side="right").slots["state"] == "unmeasured"
    assert the(facts, "group", kind="ground-range", of="high").slots["only"] == "yes"


def test_stall_pressures_by_pump_and_all_low_and_high() -> None:
    low = timed("stall-pressure/pump-1/bucket-curl", 0.9, "fail", "low", min=0.95)
    facts = facts_of(low, timed("stall-pressure/pump-2/arm-in"))
    assert the(facts, "group", kind="stall", of="all", deviation="low").slots["state"] == "some-out"
    assert the(facts, "group", kind="stall", of="pump-1", deviation="low").slots["only"] == "yes"
    assert the(facts, "group", kind="stall", of="pump-2", deviation="low").slots["state"] == "none-out"
    assert the(facts, "group", kind="stall", of="all", deviation="high").slots["state"] == "none-out"


def test_merge_valves_and_what_two_pumps_feed() -> None:
    facts = facts_of(slow("cycle-time/arm-in"), slow("cycle-time/arm-out"), timed("cycle-time/boom-raise"))
    assert the(facts, "group", kind="two-pump").slots["state"] == "some-out"
    assert the(facts, "group", kind="merge", of="arm-merge-valve").slots["state"] == "all-out"
    assert the(facts, "group", kind="merge", of="boom-merge-valve").slots["state"] == "none-out"


@given(st.lists(st.sampled_from(["pass", "near", "fail", "invalid"]), min_size=2, max_size=2))
def test_a_group_is_what_its_readings_are(verdicts: list[str]) -> None:
    results = [timed(f"swing-time/{side}", verdict=v) for side, v in zip(("left", "right"), verdicts, strict=True)]
    state = the(facts_of(*results), "group", kind="function", of="swing").slots["state"]
    judged = [verdict for verdict in verdicts if verdict != "invalid"]
    if not judged:
        assert state == "unmeasured"
    elif "fail" not in judged:
        assert state == "none-out"
    elif "pass" in judged or len(judged) == 1:
        assert state in ("some-out", "one-out")
    else:
        assert state == "all-out"


# ------------------------------------------------------------------ contrasts


def test_ground_against_raised() -> None:
    pull = timed("travel-veer/forward/high", 2.0, "fail", "right", min=-1.2, max=1.2, new=0.0)
    raised = [timed("track-time/right/forward/high"), timed("track-time/left/forward/high")]
    facts = facts_of(pull, *raised)
    assert the(facts, "contrast", pair="ground-raised", of="right").slots["relation"] == "first-worse"
    assert the(facts, "contrast", pair="ground-raised", of="left").slots["relation"] == "alike"
    assert the(facts, "contrast", pair="ground-raised", of="all").slots["relation"] == "unknown"


@pytest.mark.parametrize(
    ("variant", "value", "relation"),
    [("cold", 1.3, "second-worse"), ("cold", 1.05, "alike"), ("hot", 1.3, "first-worse"), ("hot", 0.8, "second-worse")],
)
def test_hot_against_cold(variant: str, value: float, relation: str) -> None:
    """More than 10 % counts, from memory; a sound machine is some 8 % slower at 80 than at 50 °C."""
    other = timed(f"cycle-time/bucket-curl@{variant}", value, "unjudged", variant=variant)
    facts = facts_of(timed("cycle-time/bucket-curl"), other)
    assert the(facts, "contrast", pair="hot-cold", of="bucket-curl").slots["relation"] == relation
    assert the(facts, "contrast", pair="hot-cold", of="all").slots["relation"] == relation


def test_a_variant_is_held_against_the_standard_as_the_knowledge_base_says() -> None:
    """Nothing in the program knows a variant: with another pair, another end, or none the fact is another."""
    results = timed("cycle-time/bucket-curl"), timed("cycle-time/bucket-curl@hot", 1.3, "unjudged", variant="hot")

    def with_hot(**changes: object) -> tuple[Fact, ...]:
        hot = KB.variants["hot"].model_copy(update=changes)
        return relate(results, bench_for(MACHINE, KB.model_copy(update={"variants": {"hot": hot}})))

    def told(facts: tuple[Fact, ...]) -> list[tuple[str, str]]:
        of = [fact.slots for fact in facts if fact.kind == "contrast" and fact.slots["of"] == "bucket-curl"]
        return [(slots["pair"], slots["relation"]) for slots in of]

    assert told(with_hot()) == [("hot-cold", "first-worse")]
    assert told(with_hot(stands="second")) == [("hot-cold", "second-worse")]
    assert told(with_hot(pair="idle-full")) == [("idle-full", "first-worse")]
    assert told(with_hot(pair=None)) == []


def test_a_lower_pressure_is_the_worse_one() -> None:
    idle = timed("pilot-pressure@low-idle", 0.7, "unjudged", variant="low-idle")
    facts = facts_of(timed("pilot-pressure"), idle)
    assert the(facts, "contrast", pair="idle-full").slots["relation"] == "first-worse"


def test_left_against_right_and_forward_against_reverse() -> None:
    facts = facts_of(
        timed("swing-time/left", 1.1), timed("swing-time/right"),
        timed("track-time/left/forward/high"), timed("track-time/left/reverse/high", 1.12),
    )  # fmt: skip
    assert the(facts, "contrast", pair="left-right", of="swing-time").slots["relation"] == "first-worse"
    assert the(facts, "contrast", pair="forward-reverse", of="left").slots["relation"] == "second-worse"


def test_faster_together_is_worse_alone() -> None:
    both = timed("swing-time/left+arm-in", 0.8, "unjudged", together_with=("arm-in",))
    facts = facts_of(timed("swing-time/left"), both)
    assert the(facts, "contrast", pair="single-combined", of="swing-left").slots["relation"] == "first-worse"


@pytest.mark.parametrize("value", [0.0, -1.0])
def test_values_that_have_no_ratio_give_no_contrast(value: float) -> None:
    facts = facts_of(timed("drift/arm-cylinder"), timed("drift/arm-cylinder@engine-on", value, variant="engine-on"))
    pairs = [fact for fact in facts if fact.kind == "contrast" and fact.slots["pair"] == "running-stopped"]
    assert pairs == []


# ------------------------------------------------------------------ observations


def test_signs_codes_and_checks_are_observed_at_their_part() -> None:
    codes = {"520201-4": CodeMeaning(says="Flow signal of pump 2 below range", part="pump-2-flow-signal")}
    facts = facts_of(
        sign_result({"sign": "wet-rod", "part": "boom-cylinder-left"}, True),
        sign_result({"sign": "foamy-oil"}, False),
        code_result("520201-4", True),
        check_result("plug-loaded-line", "boom-cylinder", "rod-moves"),
        machine=Machine(name="With codes", circuit=CIRCUIT, codes=codes),
    )
    rod = the(facts, "observed", of="wet-rod").slots
    assert (rod["value"], rod["actuator"], rod["side"], rod["class"]) == ("seen", "boom-cylinder", "left", "cylinder")
    assert the(facts, "observed", of="foamy-oil").slots["value"] == "not-seen"
    code = the(facts, "observed", kind="code").slots
    assert (code["part"], code["class"], code["pump"], code["value"]) == (
        "pump-2-flow-signal", "flow-signal", "pump-2", "active"
    )  # fmt: skip
    check = the(facts, "observed", kind="check").slots
    assert (check["of"], check["part"], check["value"]) == ("plug-loaded-line", "boom-cylinder", "rod-moves")


@given(st.text(max_size=40))
def test_any_text_becomes_a_plain_word(text: str) -> None:
    facts = facts_of(check_result("x", text, text or "-"))
    words = the(facts, "observed", kind="check").slots
    assert all(set(word) <= set("abcdefghijklmnopqrstuvwxyz0123456789-./@+") for word in words.values())


def test_the_graph_is_not_changed() -> None:
    before = deepcopy(circuit_graph(MACHINE))
    facts_of(slow("cycle-time/bucket-curl"))
    assert circuit_graph(MACHINE) == before


def test_parts_on_the_way_of_all_that_is_slow_and_of_nothing_in_order() -> None:
    """Both tracks slow, all else in order: what the drawing gives the tracks alone."""
    tracks = [f"track-time/{side}/{way}/high" for side in ("left", "right") for way in ("forward", "reverse")]
    sound = ["cycle-time/bucket-curl", "cycle-time/arm-in", "cycle-time/boom-raise", "swing-time/left"]
    shared = [fact.slots for fact in facts_of(*map(slow, tracks), *map(timed, sound)) if fact.kind == "shared"]
    assert [slots["part"] for slots in shared] == ["straight-travel-valve", "swivel-joint"]
    assert {slots["among"] for slots in shared} == {"several"}
