"""The circuit of one machine. What it says is judged by networkx's own algorithms on the lines as drawn."""

from itertools import combinations

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.documents.machine import Machine
from oilpath.machine.graph import PASSING, CircuitGraph, circuit_graph, draw
from tests import shipped

from .conftest import MachineOf

FUNCTIONS = (
    "boom-raise", "boom-lower", "arm-in", "arm-out", "bucket-curl", "bucket-dump", "swing-left", "swing-right",
    "travel-left-forward", "travel-left-reverse", "travel-right-forward", "travel-right-reverse",
)  # fmt: skip
HELD = (("boom", "cap"), ("arm", "rod"))  # common practice: where load-holding valves sit


def test_the_functions_are_those_of_the_circuit(circuit: CircuitGraph) -> None:
    assert tuple(circuit.functions) == FUNCTIONS


@pytest.fixture(scope="module")
def lines(machine: Machine) -> "nx.DiGraph[str]":
    return draw(machine)


@pytest.fixture(scope="module")
def oil(lines: "nx.DiGraph[str]") -> "nx.DiGraph[str]":
    return oil_of(lines)


def oil_of(lines: "nx.DiGraph[str]") -> "nx.DiGraph[str]":
    return nx.DiGraph((a, b) for a, b, kind in lines.edges(data="kind") if kind in PASSING)


def test_every_part_is_one_node(lines: "nx.DiGraph[str]", machine: Machine) -> None:
    assert set(lines) == set(machine.circuit.parts)


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_part_of_a_path_lies_on_a_circuit_of_oil_through_the_tank(
    circuit: CircuitGraph, oil: "nx.DiGraph[str]", function: str
) -> None:
    path = circuit.path(function)
    assert path[0] == circuit.reservoir
    way = oil.subgraph(path)
    assert nx.is_strongly_connected(way)
    assert len(way) == len(path) == len(set(path))


@pytest.mark.parametrize("function", FUNCTIONS)
def test_a_path_holds_the_pumps_of_its_function_and_no_other(circuit: CircuitGraph, function: str) -> None:
    path = circuit.path(function)
    assert [part for part in path if part in circuit.main_pumps()] == list(circuit.pumps(function))
    assert "pilot-pump" not in path


@pytest.mark.parametrize("function", FUNCTIONS)
def test_a_path_goes_from_pump_over_spool_to_actuator(circuit: CircuitGraph, function: str) -> None:
    path, f = circuit.path(function), circuit.functions[function]
    order = [*circuit.pumps(function)[:1], *f.gates, f.spool, *f.supply[:1], f.actuator, "return-filter"]
    places = [path.index(part) for part in order]
    assert places == sorted(places)


@pytest.mark.parametrize("function", FUNCTIONS)
def test_a_path_holds_both_sides_of_the_actuator(circuit: CircuitGraph, function: str) -> None:
    f = circuit.functions[function]
    assert {f.spool, f.actuator, *f.supply, *f.exhaust, *f.gates} <= set(circuit.path(function))


@pytest.mark.parametrize(
    ("function", "pumps"),
    [
        ("boom-raise", ("pump-1", "pump-2")),
        ("boom-lower", ("pump-1",)),
        ("arm-in", ("pump-2", "pump-1")),
        ("arm-out", ("pump-2", "pump-1")),
        ("bucket-curl", ("pump-1",)),
        ("swing-left", ("pump-2",)),
        ("travel-left-forward", ("pump-2",)),
        ("travel-right-reverse", ("pump-1",)),
    ],
)
def test_pumps_first_hand_first(circuit: CircuitGraph, function: str, pumps: tuple[str, ...]) -> None:
    assert circuit.pumps(function) == pumps


def test_the_second_pump_comes_only_through_the_merge_valve(circuit: CircuitGraph, lines: "nx.DiGraph[str]") -> None:
    merged = [f for pump in circuit.main_pumps() for f in circuit.merged(pump)]
    assert sorted(merged) == ["arm-in", "arm-out", "boom-raise"]
    for function in merged:
        second, spool = circuit.pumps(function)[1], circuit.functions[function].spool
        delivery = lines.edge_subgraph(
            [(a, b) for a, b, kind in lines.edges(data="kind") if kind in ("delivery", "merge")]
        )
        assert nx.minimum_node_cut(delivery, second, spool) == {circuit.functions[function].merge_valve}


@pytest.mark.parametrize(("name", "end"), HELD)
def test_the_holding_valve_is_in_series_between_spool_and_held_end(
    oil: "nx.DiGraph[str]", circuit: CircuitGraph, name: str, end: str
) -> None:
    oil = oil.copy()
    oil.remove_node(f"{name}-cylinder")  # else the oil would come round by the other end
    hose, valve, spool = f"{name}-{end}-hose", f"{name}-holding-valve", f"{name}-spool"
    assert nx.minimum_node_cut(oil, spool, hose) == {valve}
    assert nx.minimum_node_cut(oil, hose, spool) == {valve}
    assert circuit.holds[f"{name}-cylinder"].valve == valve


@pytest.mark.parametrize(("name", "end"), [(n, e) for n in ("boom", "arm", "bucket") for e in ("cap", "rod")])
@pytest.mark.parametrize("kind", ["port-relief", "make-up-check"])
def test_port_valves_stand_on_the_cylinders_side(
    circuit: CircuitGraph, lines: "nx.DiGraph[str]", name: str, end: str, kind: str
) -> None:
    part, cylinder, spool = f"{name}-{end}-{kind}", f"{name}-cylinder", f"{name}-spool"
    graph = lines.copy()
    graph.remove_nodes_from([part_ for part_ in (spool, f"{name}-holding-valve") if part_ in graph])
    # the cylinder's oil reaches it without the spool or the holding valve …
    assert nx.has_path(graph, cylinder, part)
    assert nx.minimum_node_cut(graph, cylinder, part) == {f"{name}-{end}-hose"}
    # … and past it goes to the return without the spool
    assert nx.has_path(graph, part, circuit.reservoir)
    if (name, end) in HELD:
        whole = lines.copy()
        whole.remove_node(cylinder)
        assert nx.minimum_node_cut(whole, f"{name}-holding-valve", part) == {f"{name}-{end}-hose"}
        whole.remove_node(f"{name}-holding-valve")
        assert not nx.has_path(whole, spool, part)


@pytest.mark.parametrize("side", ["left", "right"])
def test_swivel_joint_and_counterbalance_are_cuts_of_the_track(oil: "nx.DiGraph[str]", side: str) -> None:
    spool, motor = f"travel-{side}-spool", f"travel-{side}-motor"
    for cut in ("swivel-joint", f"travel-{side}-counterbalance"):
        rest = oil.copy()
        rest.remove_node(cut)
        assert not nx.has_path(rest, spool, motor)


def test_an_absent_holding_valve_is_bridged(machine_of: MachineOf) -> None:
    machine = machine_of(absent=("boom-holding-valve",))
    without, lines = circuit_graph(machine), draw(machine)
    assert "boom-holding-valve" not in lines
    assert lines.has_edge("boom-spool", "boom-cap-hose")
    assert "boom-holding-valve" not in without.path("boom-raise")
    assert without.holds["boom-cylinder"].valve is None
    assert nx.is_strongly_connected(oil_of(lines).subgraph(without.path("boom-raise")))


def test_an_absent_merge_valve_leaves_one_pump(machine_of: MachineOf) -> None:
    without = circuit_graph(machine_of(absent=("boom-merge-valve",)))
    assert without.pumps("boom-raise") == ("pump-1",)
    assert "pump-2" not in without.path("boom-raise")
    assert without.merged("pump-2") == ()


def test_a_function_without_its_actuator_is_none(machine_of: MachineOf) -> None:
    without = circuit_graph(machine_of(absent=("bucket-cylinder",)))
    assert not {"bucket-curl", "bucket-dump"} & set(without.functions)


def test_with_an_actuator_goes_what_belongs_to_it_and_what_acts_on_another_part_stays(machine_of: MachineOf) -> None:
    without = circuit_graph(machine_of(absent=("swing-motor", "pilot-pump")))
    assert not {"swing-brake", "swing-gear", "swing-left-relief", "swing-right-make-up"} & set(without.parts)
    assert without.parts["pilot-filter"].of is None
    assert all(part.of in (None, *without.parts) for part in without.parts.values())
    for part in without.parts:
        without.functions_of(part)
        without.pump_of(part)


def test_other_feeds_move_the_delivery_lines(machine_of: MachineOf) -> None:
    feeds = {"pump-1": ["travel-left", "bucket", "boom"], "pump-2": ["travel-right", "swing", "arm"]}
    swapped = circuit_graph(machine_of(feeds=feeds))
    assert swapped.pumps("travel-left-forward") == ("pump-1",)
    assert swapped.pumps("travel-right-forward") == ("pump-2",)
    assert swapped.pumps("boom-raise") == ("pump-1", "pump-2")  # merging is as before
    assert "pump-2" not in swapped.path("travel-left-forward")
    assert "travel-left-forward" in swapped.fed("pump-1")


def test_other_merging_replaces_the_usual(machine_of: MachineOf) -> None:
    alone = circuit_graph(machine_of(feeds={"merge": {"boom-raise": "pump-2"}}))
    assert alone.pumps("arm-in") == ("pump-2",)
    assert alone.pumps("boom-raise") == ("pump-1", "pump-2")


def test_shared_parts_are_the_intersection_of_the_paths(circuit: CircuitGraph) -> None:
    for names in combinations(FUNCTIONS, 3):
        shared = circuit.shared(names)
        assert set(shared) == {part for part in circuit.path(names[0]) if all(part in circuit.path(n) for n in names)}
        assert list(shared) == sorted(shared, key=circuit.path(names[0]).index)
    assert circuit.shared([]) == ()


def test_what_the_functions_of_one_pump_share_is_that_pump(circuit: CircuitGraph) -> None:
    for pump in circuit.main_pumps():
        assert [p for p in circuit.shared(circuit.fed(pump)) if p in circuit.main_pumps()] == [pump]


@pytest.mark.parametrize(
    ("part", "functions"),
    [
        ("boom-holding-valve", {"boom-raise", "boom-lower"}),
        ("boom-rod-port-relief", {"boom-lower"}),
        ("boom-cap-port-relief", {"boom-raise"}),
        ("boom-cylinder-left", {"boom-raise", "boom-lower"}),
        ("arm-in-pilot", {"arm-in"}),
        ("swing-left-relief", {"swing-left"}),
        ("swing-brake", {"swing-left", "swing-right"}),
        ("travel-left-shift", {"travel-left-forward", "travel-left-reverse"}),
        ("travel-left-forward-crossover", {"travel-left-forward"}),
        ("track-right", {"travel-right-forward", "travel-right-reverse"}),
        ("straight-travel-valve", {n for n in FUNCTIONS if n.startswith("travel")}),
        ("swivel-joint", {n for n in FUNCTIONS if n.startswith("travel")}),
        ("boom-merge-valve", {"boom-raise"}),
        ("pump-2", {n for n in FUNCTIONS if n.startswith(("swing", "travel-left", "arm", "boom-raise"))}),
        ("controller", set()),
    ],
)
def test_functions_that_a_part_serves(circuit: CircuitGraph, part: str, functions: set[str]) -> None:
    assert set(circuit.functions_of(part)) == functions


@pytest.mark.parametrize(
    ("part", "pump"),
    [
        ("pump-1", "pump-1"),
        ("pump-2-regulator", "pump-2"),
        ("bucket-spool", "pump-1"),
        ("swing-motor", "pump-2"),
        ("travel-right-shift", "pump-1"),
        ("swivel-joint", None),
        ("main-relief", None),
        ("engine", None),
    ],
)
def test_main_pump_of_a_part(circuit: CircuitGraph, part: str, pump: str | None) -> None:
    assert circuit.pump_of(part) == pump


def test_words_for_parts(circuit: CircuitGraph) -> None:
    assert circuit.title("boom-spool") == "boom spool"
    assert circuit.title("no-such-part") == "no-such-part"
    assert (circuit.side("track-left"), circuit.side("tank")) == ("left", None)
    assert circuit.of_class("main-pump") == ("pump-1", "pump-2")
    assert circuit.of_class("swing-motor", "main-pump") == ("pump-1", "pump-2", "swing-motor")


def test_each_machine_keeps_its_own_graph(machine_of: MachineOf) -> None:
    one, other = machine_of(), machine_of(absent=("boom-merge-valve",))
    assert "boom-merge-valve" in circuit_graph(one).parts
    assert "boom-merge-valve" not in circuit_graph(other).parts


CIRCUITS = shipped.knowledge().circuits
LACKING = st.sampled_from(sorted(CIRCUITS)).flatmap(
    lambda name: st.tuples(st.just(name), st.sets(st.sampled_from(sorted(CIRCUITS[name].parts)), max_size=8))
)


@given(lacking=LACKING)
def test_what_a_machine_lacks_is_nowhere_and_all_else_stands_as_before(lacking: tuple[str, set[str]]) -> None:
    """Any parts absent, on any circuit: no table names them, and the rest is as with them."""
    model, absent = CIRCUITS[lacking[0]], lacking[1]
    whole = circuit_graph(Machine(name="x", circuit=model))
    without = circuit_graph(Machine(name="x", circuit=model, absent=tuple(sorted(absent))))
    for name, f in without.functions.items():
        before = whole.functions[name]
        assert f.supply == tuple(part for part in before.supply if part in without.parts)
        assert f.exhaust == tuple(part for part in before.exhaust if part in without.parts)
        assert {f.actuator, f.spool} <= set(without.parts)
        assert set(without.path(name)) <= set(without.parts)
        assert set(without.path(name)) <= set(whole.path(name))
        assert f.pilot in (before.pilot, None)
    for table in (without.shunts, without.reliefs, without.gauges, without.drains, without.filling, without.moved):
        assert not absent & {*table, *(name for found in table.values() for name in found)}
    joining = {*whole.main_pumps(), *(f.merge_valve for f in whole.functions.values())}
    for part in without.parts:
        served, left = set(without.functions_of(part)), set(whole.functions_of(part)) & set(without.functions)
        assert served == left or (served < left and absent & joining)  # a pump less serves less
        without.pump_of(part)


@given(data=st.data())
def test_the_pumps_are_those_of_the_allocation(data: st.DataObject, machine_of: MachineOf) -> None:
    """Groups dealt out to the pumps at random: each function gets its group's pump, then the one that joins it."""
    groups = ["travel-left", "travel-right", "boom", "arm", "bucket", "swing"]
    owner = {group: data.draw(st.sampled_from(["pump-1", "pump-2"])) for group in groups}
    feeds = {pump: [group for group in groups if owner[group] == pump] for pump in ("pump-1", "pump-2")}
    dealt = circuit_graph(machine_of(feeds=feeds))
    joined = {"boom-raise": "pump-2", "arm-in": "pump-1", "arm-out": "pump-1"}
    for name, f in dealt.functions.items():
        first, second = owner[f.group], joined.get(name)
        assert dealt.pumps(name) == ((first,) if second in (None, first) else (first, second))
        assert [part for part in dealt.path(name) if part in ("pump-1", "pump-2")] == list(dealt.pumps(name))
