"""What ways have in common, judged by the lines as drawn; splits of a way, by adding up."""

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.documents.machine import Machine
from oilpath.machine.graph import circuit_graph
from oilpath.machine.way import on_all_ways, position, splits
from tests import shipped

CIRCUITS = shipped.knowledge().circuits
GRAPHS = {name: circuit_graph(Machine(name="x", circuit=model)) for name, model in CIRCUITS.items()}
EXCAVATOR, LOADER = GRAPHS["two-pump-excavator"], GRAPHS["wheel-loader"]


def test_what_only_the_tracks_share_stands_on_their_ways_alone() -> None:
    tracks = [name for name in EXCAVATOR.functions if name.startswith("travel")]
    others = [name for name in EXCAVATOR.functions if name not in tracks]
    assert on_all_ways(tracks, others, EXCAVATOR) == ("straight-travel-valve", "swivel-joint")


def test_what_is_piloted_shares_its_supply() -> None:
    found = on_all_ways(["lift-raise", "tilt-back"], ["steer-left"], LOADER)
    assert {"priority-excess", "pilot-lockout", "pilot-relief", "pilot-pump", "pilot-filter"} == set(found)


def test_nothing_is_told_apart_where_all_fails_or_nothing() -> None:
    assert on_all_ways(EXCAVATOR.functions, [], EXCAVATOR) == ()
    assert on_all_ways([], EXCAVATOR.functions, EXCAVATOR) == ()


@given(data=st.data())
def test_a_common_part_serves_all_that_fails_and_nothing_else(data: st.DataObject) -> None:
    graph = GRAPHS[data.draw(st.sampled_from(sorted(GRAPHS)))]
    names = list(graph.functions)
    fails = data.draw(st.lists(st.booleans(), min_size=len(names), max_size=len(names)))
    wrong = [name for name, out in zip(names, fails, strict=True) if out]
    good = [name for name, out in zip(names, fails, strict=True) if not out]
    on_path = set(graph.shared(wrong)) - {part for name in good for part in graph.path(name)}
    found = set(on_all_ways(wrong, good, graph))
    if wrong and good:
        assert {part for part in on_path if not set(graph.functions_of(part)) & set(good)} <= found
    assert all(not set(graph.functions_of(part)) & set(good) for part in found)


@pytest.mark.parametrize(
    ("part", "at"),
    [
        ("pump-1", "pump-1"),
        ("pump-1-regulator", "pump-1"),
        ("boom-raise-pilot", "boom-spool"),
        ("pilot-relief", "boom-spool"),
        ("boom-cap-port-relief", "boom-cap-hose"),
        ("boom-cylinder-left", "boom-cylinder"),
        ("arm-spool", None),
        ("swing-brake", None),
    ],
)
def test_where_a_part_acts_on_the_way_of_boom_raise(part: str, at: str | None) -> None:
    place = position(part, "boom-raise", EXCAVATOR)
    assert (EXCAVATOR.path("boom-raise")[place] if place is not None else None) == at


def test_the_most_even_split_comes_first_and_all_shares_add_up() -> None:
    shares = {"pump-1": 0.2, "boom-spool": 0.3, "boom-cap-hose": 0.1, "boom-cylinder-left": 0.4, "arm-spool": 0.9}
    found = splits("boom-raise", shares, EXCAVATOR)
    assert [(one.behind, round(one.before, 9)) for one in found] == [
        ("boom-spool", 0.5), ("boom-cap-hose", 0.6), ("pump-1", 0.2)
    ]  # fmt: skip
    assert all(one.before + one.after == pytest.approx(1) for one in found)


def test_an_ancestor_of_all_that_fails_on_the_drawn_lines_is_found() -> None:
    """networkx: what leads to both spools of lift and tilt on delivery lines, and to the steering's not."""
    delivery = nx.DiGraph(
        pair
        for line in CIRCUITS["wheel-loader"].lines
        if line.kind == "delivery"
        for pair in zip(line.parts, line.parts[1:], strict=False)
    )
    common = nx.ancestors(delivery, "lift-spool") & nx.ancestors(delivery, "tilt-spool")
    assert common == {"priority-excess"}
    assert common <= set(on_all_ways(["lift-raise", "tilt-back"], ["steer-left"], LOADER))
