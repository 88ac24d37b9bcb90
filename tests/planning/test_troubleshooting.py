"""The troubleshooting tree: symptom → what the failing results share → part → cause → check."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.bench import bench_for
from oilpath.flow import Fact, RankedCause, Ranking, Result, Suspicion, Suspicions, TreeNode
from oilpath.flow.notes import Filled
from oilpath.planning.troubleshooting import SMALL, troubleshooting_tree
from oilpath.reports.names import sentence
from oilpath.reports.notes import Sayer
from tests.reports.sample import CAUSES, CHECKS, KNOWLEDGE, MACHINE, RESULTS, WORDS, ranked, result, timed


@dataclass(frozen=True)
class Shown:
    """A node as a person reads it."""

    kind: str
    title: str
    probability: float | None
    children: tuple["Shown", ...]


def tree(
    results: tuple[Result, ...],
    causes: tuple[RankedCause, ...],
    *suspicions: Suspicion,
    complaint: str | None = None,
    facts: tuple[Fact, ...] = (),
) -> Shown:
    made = troubleshooting_tree(
        Ranking(causes, (), ()),
        results,
        Suspicions(suspicions),
        CHECKS,
        bench_for(MACHINE, KNOWLEDGE),
        complaint,
        facts,
    )
    sayer = Sayer(WORDS, results, causes)

    def shown(node: TreeNode) -> Shown:
        title = sentence(sayer.node(node.says))
        return Shown(node.kind, title, node.probability, tuple(shown(child) for child in node.children))

    return shown(made)


def walk(node: Shown) -> Iterator[Shown]:
    yield node
    for child in node.children:
        yield from walk(child)


def slow(*functions: str) -> tuple[Result, ...]:
    return tuple(timed(f"cycle-time/{name}", 5, 4, 3, "fail", 1.0, deviation="slow") for name in functions)


def shared_of(root: Shown, part: str) -> str:
    """The title of the shared node under which a part stands."""
    return next(
        shared.title
        for shared in root.children
        for node in shared.children
        if node.kind == "part" and node.title == part
    )


PUMP = ranked("pump.worn", "pump-1", "Worn main pump 1", 0.6)
REGULATOR = ranked("regulator.stuck-low", "pump-1-regulator", "Regulator stuck", 0.2)
SPOOL = ranked("spool.short-stroke", "bucket-spool", "Short stroke", 0.1)
HOLDING = ranked("holding-valve.leaking", "boom-holding-valve", "Holding valve leaking", 0.1)
ENGINE = ranked("engine.low-speed", "engine", "Engine slow", 0.1)
LEFT = ranked("travel-motor.worn", "travel-left-motor", "Worn left travel motor", 0.5)
RIGHT = ranked("travel-motor.worn", "travel-right-motor", "Worn right travel motor", 0.2)


def test_levels_come_in_their_order() -> None:
    order = ("symptom", "shared", "part", "cause", "check")

    def descend(node: Shown) -> None:
        for child in node.children:
            # none and unknown stand beside the shared nodes
            assert order.index(child.kind) == order.index(node.kind) + 1 or (node.kind, child.kind) == (
                "symptom",
                "cause",
            )
            descend(child)

    descend(tree(RESULTS, CAUSES))


def test_probabilities_add_up_at_every_level_and_best_comes_first() -> None:
    for node in walk(tree(RESULTS, CAUSES)):
        shares = [child.probability for child in node.children if child.probability is not None]
        if shares:
            assert sum(shares) == pytest.approx(node.probability)
        folded = [share for child, share in zip(node.children, shares, strict=False) if "Others" in child.title]
        kept = shares[: len(shares) - len(folded)]
        assert kept == sorted(kept, reverse=True)


@given(st.lists(st.floats(1e-6, 1.0), min_size=2, max_size=len(CAUSES)))
def test_nothing_is_lost_by_folding(weights: list[float]) -> None:
    causes = tuple(
        replace(cause, probability=weight / sum(weights)) for cause, weight in zip(CAUSES, weights, strict=False)
    )
    root = tree(RESULTS, causes)
    leaves = [node for node in walk(root) if not any(child.kind != "check" for child in node.children)]
    assert sum(leaf.probability or 0 for leaf in leaves if leaf.kind != "check") == pytest.approx(1.0)


def test_small_ones_are_folded_into_one() -> None:
    few = tuple(ranked("x.y", f"p-{number}", f"Cause {number}", SMALL / 2) for number in range(5))
    root = tree(slow("bucket-curl"), (PUMP, *few))
    folded = [node for node in walk(root) if node.title.startswith("Others")]
    assert [node.title for node in folded] == ["Others (5 causes)"]
    assert folded[0].probability == pytest.approx(5 * SMALL / 2)


def test_parts_on_the_way_of_all_failing_functions_stand_together() -> None:
    root = tree(slow("boom-raise", "bucket-curl"), (PUMP, REGULATOR, SPOOL, ENGINE))
    pump = shared_of(root, "Main pump 1")
    assert pump == "Main pump 1 feeds them: cycle time slow (boom raise and bucket curl)"
    assert shared_of(root, "Regulator of main pump 1") == pump
    assert shared_of(root, "Engine") == pump
    assert shared_of(root, "Bucket spool") == "Bucket curl: cycle time slow"


def test_a_line_names_what_lies_on_every_slow_way_and_on_no_other_the_most_probable_first() -> None:
    facts = tuple(Fact("shared", {"part": part}) for part in ("bucket-cylinder", "bucket-spool"))
    line = tree(slow("bucket-curl"), (SPOOL, PUMP), facts=facts).children[0]
    assert (line.kind, line.probability, line.children) == ("shared", None, ())
    assert (
        line.title
        == "In the path of everything measured slow and of nothing measured in order: bucket spool and bucket cylinder"
    )


def test_no_line_without_such_a_part() -> None:
    root = tree(slow("bucket-curl"), (SPOOL, PUMP))
    assert not any(node.title.startswith("On the way") for node in walk(root))


def test_drift_of_one_cylinder_belongs_to_what_holds_it() -> None:
    drift = result("drift/boom-cylinder", 30, "mm", "fail", max=12, deviation="high", probability_out=1.0)
    root = tree((drift,), (PUMP, HOLDING))
    assert shared_of(root, "Boom holding valve") == "Boom cylinder: cylinder drift high"
    assert shared_of(root, "Main pump 1") == "Not shown by any result that is out"


def test_one_side_slow_both_ways() -> None:
    slow_side = tuple(
        result(f"track-time/left/{way}/high", 25, "s", "fail", max=20, deviation="slow", probability_out=1.0)
        for way in ("forward", "reverse")
    )
    root = tree(slow_side, (LEFT, RIGHT))
    assert shared_of(root, "Left travel motor") == (
        "Left travel forward and left travel reverse: raised-track time slow"
    )
    assert shared_of(root, "Right travel motor") == "Not shown by any result that is out"


def test_a_rule_can_lay_a_sign_to_a_part() -> None:
    sign = result("sign/foamy-oil", True, None, "fail")
    laid = Suspicion("foam", "finding", "tank.low-level", "tank", Filled("foam"), ("sign/foamy-oil",))
    root = tree((sign,), (ranked("tank.low-level", "tank", "Low level", 0.6), LEFT), laid)
    assert shared_of(root, "Hydraulic tank") == "Foamy oil"
    assert shared_of(root, "Left travel motor") == "Not shown by any result that is out"


def test_symptom_is_the_complaint_or_a_count() -> None:
    assert tree(RESULTS, CAUSES, complaint="Slow").title == "Slow"
    assert tree(slow("boom-raise", "bucket-curl"), CAUSES).title == "2 results of 2 out"
    assert tree((), CAUSES).title == "No measured result is out"
    near = replace(slow("boom-raise")[0], verdict="near")
    assert tree((near,), CAUSES).title == "1 result near the limit"


def test_the_check_is_the_best_next_one_that_bears_on_the_cause() -> None:
    found = {node.title: node.children for node in walk(tree(RESULTS, CAUSES)) if node.kind == "cause"}
    assert [child.title for child in found["Worn main pump 1"]] == ["Measure the flow of main pump 1 against pressure"]
    # from the cause's own list in the knowledge base
    assert [child.title for child in found["Short stroke of the bucket spool (bucket curl)"]] == [
        "Exchange the bucket spool for its like"
    ]


def test_a_machine_that_pulls_aside_points_to_the_slower_side() -> None:
    veer = result("travel-veer/reverse/high", 4, "m", "fail", min=-1.2, max=1.2, deviation="right", probability_out=1.0)
    root = tree((veer,), (LEFT, RIGHT))
    assert shared_of(root, "Right travel motor") == "Right travel reverse: travel veer right"
    assert shared_of(root, "Left travel motor") == "Not shown by any result that is out"
