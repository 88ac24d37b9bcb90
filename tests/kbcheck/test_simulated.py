"""Every cause on every circuit: what no rule suspects, what does not lead and what looks alike is found and placed.

On the wheel loader of the knowledge base, with causes added that are our own invention. The knowledge base as it ships
is checked as a whole in tests/test_cli_flow.py.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from oilpath.kbcheck import bench, simulated
from oilpath.kbcheck.entries import Entry, read_entries
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.check import Check
from oilpath.knowledge.compile import read_knowledge
from oilpath.knowledge.rule import Rule
from oilpath.problems import Problem

KB = Path(__file__).parents[2] / "kb"
CIRCUIT = "wheel-loader"

CAUSE = """\
  - cause: {name}
    title: '{{part}} spoilt'
    at: {{class: tank}}
    disturbs: {{parameter: {parameter}, from: 0.9, to: 0.3}}
    frequency: common
    mechanism: Invented.
    signature: Invented.
    remedy: None.
    source: from memory
"""


def added(tmp_path: Path, **causes: str) -> tuple[Knowledge, list[Entry]]:
    """The knowledge base with causes added (kind of fault → parameter), on one circuit."""
    copy = tmp_path / "kb"
    shutil.copytree(KB, copy)
    text = "".join(CAUSE.format(name=f"tank.{name}", parameter=parameter) for name, parameter in causes.items())
    if causes:
        (copy / "causes/zz.yaml").write_text(f"oilpath: causes/1\ncauses:\n{text}", encoding="utf-8")
    known = read_knowledge(copy)
    return known.model_copy(update={"circuits": {CIRCUIT: known.circuits[CIRCUIT]}}), list(read_entries(copy))


def tried(known: Knowledge, placed: list[Entry], brought: tuple[str, ...] = ()) -> tuple[list[Problem], list[Problem]]:
    """(findings, notes), where the causes that are our own are tried, and no other; all are known."""
    own = {"tank.spoilt", "tank.one", "tank.two", "tank.hidden"}
    return simulated.try_causes(known, placed, brought, simulated.Wanted(frozenset(own)))


def of(name: str, problems: list[Problem]) -> list[Problem]:
    return [problem for problem in problems if problem.key == f"tank.{name}"]


def suspecting(known: Knowledge, *causes: str) -> Knowledge:
    """The same with the rules for slow movements under load suspecting these causes too."""
    rules = tuple(
        Rule.model_validate(
            {**data, "suspect": [*data["suspect"], *({"cause": f"tank.{cause}"} for cause in causes)]}
        ) if (data := rule.model_dump(by_alias=True))["id"] in ("all-loaded-slow", "load-sensing-some-slow") else rule
        for rule in known.rules
    )  # fmt: skip
    return known.model_copy(update={"rules": rules})


def test_a_cause_that_no_rule_suspects_is_found(tmp_path: Path) -> None:
    known, placed = added(tmp_path, spoilt="fill")
    findings, _ = tried(known, placed)
    (finding,) = of("spoilt", findings)
    assert (finding.file, finding.line) == ("causes/zz.yaml", 3)
    assert finding.message == f"{simulated.UNSUSPECTED} (at tank of {CIRCUIT})"
    assert of("spoilt", tried(suspecting(known, "spoilt"), placed)[0]) == []


def test_two_causes_alike_are_a_note_with_the_check_that_tells_them_apart(tmp_path: Path) -> None:
    known, placed = added(tmp_path, one="fill", two="fill")
    known = suspecting(known, "one", "two")
    findings, notes = tried(known, placed)
    assert of("one", findings) == of("two", findings) == []
    (note,) = of("one", notes)
    assert f"tank.two: no check tells them apart (at tank of {CIRCUIT})" in note.message
    check = Check.model_validate(
        {"check": "zz-look", "title": "Look", "at": {"class": "tank"}, "minutes": 1, "intrusiveness": 0, "tools": [],
         "cautions": [], "how": ["Look."], "outcomes": {"bad": "bad", "good": "good"},
         "tells": [{"causes": "tank.one", "outcomes": {"bad": 0.9, "good": 0.1}}],
         "otherwise": {"bad": 0.1, "good": 0.9}, "source": "from memory"}
    )  # fmt: skip
    known = known.model_copy(update={"checks": (*known.checks, check)})
    (note,) = of("one", tried(known, placed)[1])
    assert "tank.two: zz-look tells them apart" in note.message


def test_a_cause_that_nothing_shows_is_found_unless_a_sign_or_a_case_brings_it_up(tmp_path: Path) -> None:
    known, placed = added(tmp_path, hidden="none")
    (finding,) = of("hidden", tried(known, placed)[0])
    assert finding.message == f"{simulated.UNSEEN} (at tank of {CIRCUIT})"
    assert of("hidden", tried(known, placed, ("tank.hidden",))[0]) == []
    rule = next(rule for rule in known.rules if rule.id == "sign-foamy-oil")
    data = rule.model_dump(by_alias=True)
    signed = Rule.model_validate({**data, "suspect": [*data["suspect"], {"cause": "tank.hidden", "likelihood": 5}]})
    known = known.model_copy(update={"rules": tuple(signed if one is rule else one for one in known.rules)})
    assert of("hidden", tried(known, placed)[0]) == []


def test_a_cause_that_does_not_lead_is_found_with_what_leads(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    known, placed = added(tmp_path, spoilt="fill")
    led = bench.Shown(readings=True, suspected=True, leading=(("cylinder.binding", "tilt-cylinder"),))
    monkeypatch.setattr(bench.Bench, "tried", lambda self, number, sight=None: led)
    (finding,) = of("spoilt", tried(known, placed)[0])
    assert finding.message == f"cylinder.binding at tilt-cylinder leads (at tank of {CIRCUIT})"


def test_a_cause_that_no_part_of_the_circuit_can_show_is_a_note(tmp_path: Path) -> None:
    """Oil that shrinks while it cools shows in a held cylinder only, and a rig has none."""
    known, placed = added(tmp_path)
    kept = tuple(cause for cause in known.causes if cause.cause == "oil.cooling-shrink")
    rig = "hydraulic-test-rig"
    both = read_knowledge(tmp_path / "kb").circuits
    known = known.model_copy(update={"causes": kept, "circuits": {rig: both[rig], CIRCUIT: both[CIRCUIT]}})
    findings, notes = simulated.try_causes(known, placed, ())
    assert findings == []
    assert [note.message for note in notes] == [f"{simulated.VOID} (at oil of {rig})"]


def test_places_beyond_the_first_are_counted(tmp_path: Path) -> None:
    known, placed = added(tmp_path)
    rules = tuple(rule for rule in known.rules if all(one.cause != "cylinder.binding" for one in rule.suspect))
    findings, _ = simulated.try_causes(known.model_copy(update={"rules": rules}), placed, ())
    (finding,) = (one for one in findings if one.key == "cylinder.binding")
    assert finding.message.startswith(simulated.UNSUSPECTED)
    assert finding.message.endswith(" more)")
