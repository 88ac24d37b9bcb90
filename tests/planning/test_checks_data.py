"""The shipped checks, cautions and sources: ids exist, every check parts causes, every cause has a check."""

import numpy as np
import pytest
from pydantic import ValidationError

from oilpath.bench import bench_for
from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.check import Check
from oilpath.machine.graph import circuit_graph
from oilpath.machine.hypotheses import hypotheses
from oilpath.outcomes import Table, table

BARE_SOURCES = {"common practice", "from memory"}


@pytest.fixture(scope="module")
def every(knowledge: Knowledge, machine: Machine) -> list[tuple[str, str]]:
    found = hypotheses(knowledge.causes, circuit_graph(machine))
    return [*dict.fromkeys((one.cause.cause, one.part) for one in found), ("none", "machine")]


@pytest.fixture(scope="module")
def whole(knowledge: Knowledge, machine: Machine, every: list[tuple[str, str]]) -> Table:
    return table(bench_for(machine, knowledge), every)


def test_there_are_enough_and_each_once(checks: tuple[Check, ...]) -> None:
    names = [check.check for check in checks]
    assert len(names) == len(set(names)) >= 20


def test_the_check_of_the_format_keeps_its_words(checks: tuple[Check, ...]) -> None:
    plug = next(check for check in checks if check.check == "plug-loaded-line")
    assert "rod-moves" in {one.outcome for one in plug.outcomes}
    assert plug.trap is not None


def test_every_check_can_be_made_somewhere_and_parts_two_causes(
    checks: tuple[Check, ...], knowledge: Knowledge
) -> None:
    parting: set[str] = set()
    for circuit in knowledge.circuits.values():  # each on one machine type at least
        machine = Machine(name=circuit.id, circuit=circuit)
        graph = circuit_graph(machine)
        causes = [
            *dict.fromkeys((h.cause.cause, h.part) for h in hypotheses(knowledge.causes, graph)),
            ("none", "machine"),
        ]
        found = table(bench_for(machine, knowledge), causes)
        parting |= {
            check.check
            for row, (check, _) in enumerate(found.checks)
            if np.ptp(found.likelihood[row], axis=1).max() > 0.3
        }
    assert {check.check for check in checks} == parting


def test_every_cause_at_every_part_has_a_check_that_tells_of_it(whole: Table, every: list[tuple[str, str]]) -> None:
    untold = [cause for column, cause in enumerate(every) if not whole.affected[:, column].any()]
    assert untold == [("none", "machine")]


def test_kinds_and_check_ids_exist(checks: tuple[Check, ...], knowledge: Knowledge) -> None:
    kinds = {cause.cause for cause in knowledge.causes}
    families = {f"{kind.split('.')[0]}.*" for kind in kinds}
    named = {kind for check in checks for tells in check.tells for kind in tells.causes}
    assert named <= kinds | families
    assert {name for cause in knowledge.causes for name in cause.checks} <= {check.check for check in checks}


def test_cautions_exist_and_every_one_is_used(checks: tuple[Check, ...], knowledge: Knowledge) -> None:
    used = {name for check in checks for name in check.cautions} | set(knowledge.always)
    used |= {name for kind in knowledge.tests.values() for name in kind.cautions}
    assert used <= knowledge.cautions.keys()
    # Said with an answer's stop-use line, not with one test.
    assert knowledge.cautions.keys() - used == {"out-of-service"}


def test_what_can_hurt_is_cautioned_against(checks: tuple[Check, ...], knowledge: Knowledge) -> None:
    """A hazard that a check names is met by a caution of that hazard, or by one of those that every answer shows."""
    for check in checks:
        met = {knowledge.cautions[name].hazard for name in (*check.cautions, *knowledge.always)}
        # A track that turns is both a moving and a rotating hazard.
        if {"moving", "rotating"} & met:
            met |= {"moving", "rotating"}
        assert set(check.hazards) <= met, check.check
        if check.intrusiveness >= 2 and "jet" in check.hazards:
            assert {"release-pressure-first", "load-on-stand", "block-and-relieve"} & set(check.cautions), check.check


def test_every_entry_has_a_source(checks: tuple[Check, ...], knowledge: Knowledge) -> None:
    stated = {f"check {check.check}": check.source for check in checks}
    stated |= {f"caution {name}": caution.source for name, caution in knowledge.cautions.items()}
    for what, source in stated.items():
        for piece in source.split("; "):
            assert piece in BARE_SOURCES or piece in knowledge.sources, f"{what}: {piece}"


def test_titles_name_the_part_where_a_check_stands_at_several(whole: Table) -> None:
    places: dict[str, int] = {}
    for check, _ in whole.checks:
        places[check.check] = places.get(check.check, 0) + 1
    for check, _ in whole.checks:
        assert places[check.check] == 1 or "{part}" in check.title, check.check


GOOD: dict[str, object] = {
    "check": "look", "title": "Look", "at": {"class": "tank"}, "minutes": 5, "intrusiveness": 0, "tools": [],
    "cautions": [], "how": "Look.", "outcomes": {"right": "right", "wrong": "wrong"}, "source": "common practice",
    "tells": [{"causes": "tank.low-level", "outcomes": {"right": 0.1, "wrong": 0.9}}],
    "otherwise": {"right": 0.9, "wrong": 0.1},
}  # fmt: skip


def tells(**outcomes: float) -> list[dict[str, object]]:
    return [{"causes": "tank.low-level", "outcomes": outcomes}]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"otherwise": {"right": 0.9, "wrong": 0.2}}, "otherwise adds up to 1.1"),
        ({"otherwise": {"right": 1.0, "wrong": 0.0}}, "otherwise holds a certainty"),
        ({"otherwise": {"right": 1.0}}, "otherwise does not name the outcomes"),
        ({"tells": tells(right=0.1, wrong=0.8)}, r"tells\[1\] adds up to 0.9"),
        ({"tells": tells(right=0.1, worse=0.9)}, r"tells\[1\] does not name the outcomes"),
        ({"tells": tells(right=-0.1, wrong=1.1)}, r"tells\[1\] holds a certainty"),
        ({"outcomes": {"right": "right"}}, "at least 2"),
        ({"outcomes": [{"outcome": "right", "says": "a"}] * 2}, "names an outcome twice"),
        ({"tells": []}, "tells no causes apart"),
        ({"minutes": 0}, "must be more than zero"),
        ({"hazards": ["boredom"]}, "hazards"),
        ({"tells": [{"causes": "low", "outcomes": {"right": 0.1, "wrong": 0.9}}]}, "pattern"),
    ],
)
def test_a_check_whose_figures_cannot_be_is_refused(change: dict[str, object], said: str) -> None:
    assert Check.model_validate(GOOD).outcomes[0].outcome == "right"
    with pytest.raises(ValidationError, match=said):
        Check.model_validate(GOOD | change)


def test_a_check_survives_being_compiled(checks: tuple[Check, ...]) -> None:
    for check in checks:
        assert Check.model_validate_json(check.model_dump_json(by_alias=True)) == check
