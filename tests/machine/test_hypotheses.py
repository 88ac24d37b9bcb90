"""Every cause at every part where it can stand, in every variant, with its share of the prior."""

from collections import defaultdict

import pytest

from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.cause import Cause, CausePlace
from oilpath.knowledge.parameters import PARAMETERS
from oilpath.machine.graph import CircuitGraph, circuit_graph
from oilpath.machine.hypotheses import hypotheses, misplaced, places

from .conftest import MachineOf


def cause_of(knowledge: Knowledge, name: str) -> Cause:
    return next(cause for cause in knowledge.causes if cause.cause == name)


def test_a_kinds_prior_is_shared_out_whole(knowledge: Knowledge, circuit: CircuitGraph) -> None:
    whole: dict[str, float] = defaultdict(float)
    ways: dict[tuple[str, str | None], float] = defaultdict(float)
    for h in hypotheses(knowledge.causes, circuit):
        if h.variant in h.cause.frequencies:
            ways[h.cause.cause, h.variant] += h.share
        else:
            whole[h.cause.cause] += h.share
    assert all(value == pytest.approx(1) for value in ways.values())
    # others stand on other machines
    assert set(whole) == {cause.cause for cause in knowledge.causes if places(cause, circuit)}
    assert all(value == pytest.approx(1) for value in whole.values())


def test_parts_of_a_kind_get_even_shares(knowledge: Knowledge, circuit: CircuitGraph) -> None:
    at: dict[tuple[str, str], float] = defaultdict(float)
    for h in hypotheses(knowledge.causes, circuit):
        if h.variant not in h.cause.frequencies:
            at[h.cause.cause, h.part] += h.share
    for cause in (one for one in knowledge.causes if places(one, circuit)):
        shares = [value for (name, _), value in at.items() if name == cause.cause]
        assert shares == pytest.approx([1 / len(shares)] * len(shares))
    assert at["pilot-valve.low-output", "arm-in-pilot"] == pytest.approx(1 / 12)


def test_what_strikes_all_parts_of_a_class_alike_is_one_hypothesis(knowledge: Knowledge, circuit: CircuitGraph) -> None:
    found = hypotheses(knowledge.causes, circuit)
    both = [h for h in found if h.cause.cause == "pumps.worn-alike"]
    gauge = [h for h in found if h.variant == "both-pumps"]
    assert [(h.part, [d.part for d in h.disturbances]) for h in both] == [("machine", ["pump-1", "pump-2"])]
    assert [[pump for d in h.disturbances for pump in d.reach.pumps] for h in gauge] == [["pump-1", "pump-2"]]
    one = circuit_graph(Machine(name="x", circuit=knowledge.circuits["compact-excavator"]))
    there = hypotheses(knowledge.causes, one)  # one pump alone is a cause of its own
    assert not [h for h in there if h.cause.cause == "pumps.worn-alike" or h.variant == "both-pumps"]
    assert places(cause_of(knowledge, "pumps.worn-alike"), one) == ()


def test_hypotheses_are_distinct_and_in_order(knowledge: Knowledge, circuit: CircuitGraph) -> None:
    found = [(h.cause.cause, h.part, h.variant) for h in hypotheses(knowledge.causes, circuit)]
    assert len(found) == len(set(found))
    order = [cause.cause for cause in knowledge.causes]
    assert [name for name, _, _ in found] == sorted((name for name, _, _ in found), key=order.index)


def test_places_by_class_and_by_name(knowledge: Knowledge, circuit: CircuitGraph) -> None:
    assert places(cause_of(knowledge, "pump.worn"), circuit) == ("pump-1", "pump-2")
    place = CausePlace.model_validate({"class": "main-pump", "parts": "pump-2"})
    named = cause_of(knowledge, "pump.worn").model_copy(update={"at": place})
    assert places(named, circuit) == ("pump-2", "pump-1")


def test_a_cause_at_both_a_pair_and_its_members_stands_at_the_members(
    knowledge: Knowledge, circuit: CircuitGraph
) -> None:
    where = places(cause_of(knowledge, "cylinder.seal-leak"), circuit)
    assert where == ("boom-cylinder-left", "boom-cylinder-right", "arm-cylinder", "bucket-cylinder")


def test_an_absent_part_has_no_cause(knowledge: Knowledge, machine_of: MachineOf) -> None:
    without = circuit_graph(machine_of(absent=("boom-merge-valve", "arm-merge-valve", "pilot-filter")))
    found = hypotheses(knowledge.causes, without)
    assert not {"merge-valve.stuck-closed", "pilot-filter.blocked"} & {h.cause.cause for h in found}
    assert {h.part for h in found} <= set(without.parts)


@pytest.mark.parametrize(
    ("cause", "part", "variants"),
    [
        ("pump.worn", "pump-1", [None]),
        ("spool.short-stroke", "boom-spool", [None, "boom-raise", "boom-lower"]),
        ("hose.restricted", "boom-cap-hose", [None, "boom-raise", "boom-lower"]),
        ("swivel.cross-leak", "swivel-joint", ["left", "right"]),
        ("port-relief.leaking", "boom-cap-port-relief", ["set-low", "leaking", "stuck-open"]),
    ],
)
def test_variants(
    knowledge: Knowledge, circuit: CircuitGraph, cause: str, part: str, variants: list[str | None]
) -> None:
    found = [h for h in hypotheses(knowledge.causes, circuit) if h.cause.cause == cause and h.part == part]
    assert [h.variant for h in found] == variants


def test_a_variant_acts_on_its_own_functions(knowledge: Knowledge, circuit: CircuitGraph) -> None:
    for h in hypotheses(knowledge.causes, circuit):
        for d in h.disturbances:
            alike = [one.of for one in h.cause.disturbs] + [one.of for one in h.cause.ways.get(h.variant or "", ())]
            assert d.part == h.part or circuit.parts[d.part].class_ in alike
            assert d.sound == PARAMETERS[d.parameter].sound
            assert d.reach
            if h.variant in circuit.functions:
                assert d.functions == (h.variant,)
            if h.variant in ("left", "right"):
                assert {circuit.functions[name].side for name in d.functions} == {h.variant}


def test_a_valve_that_does_not_open_stops_what_flows_out_through_it(
    knowledge: Knowledge, circuit: CircuitGraph
) -> None:
    found = [h for h in hypotheses(knowledge.causes, circuit) if h.cause.cause == "holding-valve.not-opening"]
    assert {h.part: h.disturbances[0].functions for h in found} == {
        "boom-holding-valve": ("boom-lower",),
        "arm-holding-valve": ("arm-in",),
    }


@pytest.mark.parametrize("name", ["two-pump-excavator", "compact-excavator", "wheel-loader", "hydraulic-test-rig"])
def test_what_the_causes_that_ship_disturb_has_a_place_wherever_they_stand(knowledge: Knowledge, name: str) -> None:
    model = knowledge.circuits[name]
    circuit = circuit_graph(Machine(name="x", circuit=model))
    assert [h for h in hypotheses(knowledge.causes, circuit) if misplaced(h, model)] == []


def test_a_place_that_a_response_of_the_circuit_names_is_one(knowledge: Knowledge) -> None:
    """A factor says what a reading goes with, where no law of the model tells."""
    model = knowledge.circuits["hydraulic-test-rig"]
    circuit = circuit_graph(Machine(name="x", circuit=model))
    slow = cause_of(knowledge, "switching-valve.slow")
    at_tank = slow.model_copy(update={"at": CausePlace.model_validate({"parts": "tank"})})
    (h,) = hypotheses((at_tank,), circuit)
    assert [d.parameter for d in misplaced(h, model)] == ["switching"]
    factor = model.responses[1].factors[0].model_copy(update={"part": "tank"})
    response = model.responses[1].model_copy(update={"factors": (factor,)})
    assert misplaced(h, model.model_copy(update={"responses": (response,)})) == ()
