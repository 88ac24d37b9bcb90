"""The chain of reasons: strata taken away one by one, what is cleared, and where rules and figures differ.

The sheets are invented; that heat tells leakage from a control, and what the other movements of a pump clear, is
common practice.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from oilpath import diagnose, load_knowledge, load_sheet
from oilpath.flow import Diagnosis, Measured, RankedCause, Ranking, SignResult, Step, Suspicion, Suspicions
from oilpath.flow.notes import Filled, Note
from oilpath.knowledge.base import Knowledge
from oilpath.planning.reasons import chain_to, reasons_of
from oilpath.rules.strata import strata

DEMO = Path(__file__).parents[2] / "cases" / "demo"


@pytest.fixture(scope="module")
def kb() -> Knowledge:
    return load_knowledge()


def without(kb: Knowledge, stratum: int) -> Knowledge:
    """The knowledge base without the rules of one stratum."""
    of = strata(kb.rules)
    return kb.model_copy(update={"rules": tuple(rule for rule in kb.rules if of[rule.id] != stratum)})


def answered(name: str, kb: Knowledge) -> Diagnosis:
    return diagnose(load_sheet(DEMO / f"{name}.yaml", kb), kb)


def rules(answer: Diagnosis) -> set[str]:
    return {reason.step.split("/")[0] for reason in answer.reasons}


def test_each_layer_of_rules_has_its_own_part_in_the_chain(kb: Knowledge) -> None:
    """Pull to one side, another movement of its pump short, worse when hot: so the pump leaks."""
    whole = rules(answered("pump-1-slow", kb))
    assert {"travel-slow-one-side", "pull-and-movement-of-same-pump-slow", "pull-pump-leaks"} <= whole
    assert rules(answered("pump-1-slow", without(kb, 3))) == whole - {"pull-pump-leaks"}
    second = {
        "pull-and-movement-of-same-pump-slow", "pull-pump-leaks", "side-slow-worse-hot", "pull-raise-next",
        "pitfall-motor-blamed", "pitfall-track-tension-first",
    }  # fmt: skip
    assert rules(answered("pump-1-slow", without(kb, 2))) == whole - second
    assert rules(answered("pump-1-slow", without(kb, 1))) == set()


def test_what_is_cleared_vanishes_with_the_layer_that_clears_it(kb: Knowledge) -> None:
    cleared = {one for reason in answered("one-track-slow", kb).reasons for one in reason.cleared}
    assert ("pump.worn", "pump-2") in cleared
    assert ("track.too-tight", "track-left") in cleared
    assert not any(reason.cleared for reason in answered("one-track-slow", without(kb, 2)).reasons)


@pytest.mark.parametrize("path", sorted(DEMO.glob("*.yaml")), ids=lambda path: path.stem)
def test_only_what_was_measured_or_looked_at_clears(path: Path, kb: Knowledge) -> None:
    answer = answered(path.stem, kb)
    seen = {
        one.id for one in answer.results
        if isinstance(one, SignResult) or (isinstance(one, Measured) and one.verdict in ("pass", "fail"))
    }  # fmt: skip
    for reason in answer.reasons:
        if reason.cleared:
            assert reason.own
            assert set(reason.own) <= seen


@pytest.mark.parametrize("path", sorted(DEMO.glob("*.yaml")), ids=lambda path: path.stem)
def test_a_reason_stands_after_those_it_rests_on_and_holds_their_results(path: Path, kb: Knowledge) -> None:
    reasons = answered(path.stem, kb).reasons
    assert len({reason.step for reason in reasons if not isinstance(reason.says, Note)}) == sum(
        not isinstance(reason.says, Note) for reason in reasons
    )
    for place, reason in enumerate(reasons):
        for below in reason.after:
            assert below < place
            assert set(reasons[below].results) <= set(reason.results)


# ------------------------------------------------------------------ rules and figures


def cause(name: str, share: float) -> RankedCause:
    return RankedCause(name, "pump-1", None, None, share, share, None, None, None)


def step(rule: str, stratum: int, *suspects: str, cleared: tuple[str, ...] = (), after: tuple[int, ...] = ()) -> Step:
    return Step(
        rule, stratum, Filled("It is so."), ("r1",), ("r1",), tuple((one, "pump-1") for one in suspects),
        tuple((one, "pump-1") for one in cleared), (), (), after,
    )  # fmt: skip


def reasons(steps: tuple[Step, ...], *causes: RankedCause) -> list[str]:
    suspected = {one for each in steps for one in (*each.suspects, *each.cleared)}
    said = tuple(Suspicion("a", "pattern", *one, Filled("It is so."), ("r1",)) for one in sorted(suspected))
    return [one.step for one in reasons_of(Suspicions(said, (), steps), Ranking(causes, (), ()))]


def test_rules_that_the_figures_contradict_are_said() -> None:
    steps = (step("low", 1, "pump.worn"), step("high", 3, "pump.worn", after=(0,)))
    assert reasons(steps, cause("main-relief.low", 0.9), cause("pump.worn", 0.05)) == [
        "low", "high", "rules-against-figures",
    ]  # fmt: skip
    assert reasons(steps, cause("main-relief.low", 0.6), cause("pump.worn", 0.3)) == ["low", "high"]


def test_what_the_rules_clear_and_the_figures_do_not_is_not_called_cleared() -> None:
    steps = (step("clears", 2, cleared=("pump.worn",)),)
    assert reasons(steps, cause("pump.worn", 0.01)) == ["clears"]
    assert reasons(steps, cause("pump.worn", 0.5)) == ["cleared-against-figures"]


def test_the_chain_to_a_cause_holds_what_it_rests_on_and_no_other(kb: Knowledge) -> None:
    answer = answered("pump-1-slow", kb)
    names = [answer.reasons[place].step.split("/")[0] for place in chain_to(answer.reasons, [("pump.worn", "pump-1")])]
    assert names[-1] == "pull-pump-leaks"
    assert "travel-slow-one-side" in names
    assert chain_to(answer.reasons, [("no.such", "pump-1")]) == ()
