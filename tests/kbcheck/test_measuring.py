"""Checks that measure: what they name is looked up, and a check whose readings nothing moves is found."""

import pytest

from oilpath.kbcheck.entries import Entry
from oilpath.kbcheck.measuring import check_measures, try_measures
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.check import Check
from oilpath.knowledge.compile import load_knowledge


@pytest.fixture(scope="module")
def known() -> Knowledge:
    """One circuit is enough, and one check is put in."""
    whole = load_knowledge()
    circuits = {"two-pump-excavator": whole.circuits["two-pump-excavator"]}
    return whole.model_copy(update={"circuits": circuits, "rules": (), "checks": ()})


def check_of(**measure: object) -> Check:
    return Check.model_validate(
        {
            "check": "zz-read", "title": "Read {part}", "at": {"class": "main-pump"}, "minutes": 5, "intrusiveness": 0,
            "tools": [], "cautions": [], "how": "Read.", "outcomes": {"right": "right", "high": "high"},
            "measures": {"one": measure},
            "gives": [{"outcome": "high", "when": {"one": "above"}}, {"outcome": "right"}],
            "source": "from memory",
        }
    )  # fmt: skip


@pytest.mark.parametrize(
    ("measure", "said"),
    [
        ({"test": "case-drain"}, None),
        ({"test": "case-drian"}, "names the test case-drian, which does not exist"),
        ({"test": "case-drain", "keys": {"prat": "{part}"}}, "names the key of the test case-drain prat"),
        (
            {"test": "engine-speed", "keys": {"state": "idle-high"}},
            "names the state of the test engine-speed idle-high",
        ),
        ({"test": "case-drain", "variant": "hotter"}, "names the variant hotter"),
        ({"test": "flow"}, "does not say what is noticeable in the test flow"),
        ({"test": "flow", "noticeable": 0.1}, None),
    ],
)
def test_what_a_reading_names_is_looked_up(measure: dict[str, object], said: str | None, known: Knowledge) -> None:
    found = list(check_measures(known, [Entry("checks/zz.yaml", 7, "zz-read", check_of(**measure))]))
    assert [(one.file, one.line, one.key) for one in found] == [("checks/zz.yaml", 7, "zz-read")] * bool(said)
    assert all(said is not None and said in one.message for one in found)


@pytest.mark.parametrize(("measure", "moves"), [({"test": "case-drain"}, True), ({"test": "temperature"}, False)])
def test_readings_that_nothing_moves_tell_nothing_apart(
    measure: dict[str, object], moves: bool, known: Knowledge
) -> None:
    """The circuit model has no temperatures of parts."""
    check = check_of(**measure, noticeable=0.9)
    found = list(
        try_measures(known.model_copy(update={"checks": (check,)}), [Entry("checks/zz.yaml", 7, "zz-read", check)])
    )
    assert [one.key for one in found] == ([] if moves else ["zz-read"])
