"""The troubleshooting tree: symptom → what the failing results share → part → cause → check.

A node's probability is the sum of its causes' shares; the best comes first, small ones are folded into one node.
What results share comes from the circuit: for each part, those failing results whose function it serves (or which it
holds, or that name it, or that a rule laid to it); parts with the same such results stand together. A line before them
names the parts in the path of everything that is slow and of nothing that is in order: the facts of kind `shared`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Final, Literal

from oilpath.flow import (
    CodeResult,
    Fact,
    Measured,
    NextCheck,
    RankedCause,
    Ranking,
    Result,
    Shared,
    SignResult,
    Suspicions,
    TreeNode,
)
from oilpath.flow.notes import Named, Note, Quote, note
from oilpath.machine.graph import CircuitGraph

if TYPE_CHECKING:
    from oilpath.bench import Bench
    from oilpath.knowledge.base import Knowledge

#: Nodes with a smaller share are folded into one.
SMALL: Final = 0.01
_STANDING: Final = ("none", "unknown")
_WAYS: Final = 8  # so many parts on the way are named; the rest are counted
_GAIN: Final = 1.2  # a check counts for a cause when one of its outcomes makes it so much more probable,
_NAMING: Final = ("part", "at", "pump", "cylinder")  # keys of a result that name a part
_SETTLED: Final = 0.9  # or as good as certain

Kind = Literal["symptom", "shared", "part", "cause", "check"]


def troubleshooting_tree(
    ranking: Ranking,
    results: Sequence[Result],
    suspicions: Suspicions,
    checks: Sequence[NextCheck],
    bench: Bench,
    complaint: str | None = None,
    facts: Sequence[Fact] = (),
) -> TreeNode:
    """Build the tree of one answer. Its root is the symptom: the complaint, or how many results are out."""
    place = _Places(results, suspicions, bench.circuit)
    by_shared: dict[tuple[str, ...], dict[str, list[RankedCause]]] = {}
    standing: list[TreeNode] = []
    for cause in ranking.causes:
        if cause.cause in _STANDING:
            standing.append(TreeNode("cause", _named(cause), cause.probability))
            continue
        key = place.shared(cause.part)
        by_shared.setdefault(key, {}).setdefault(cause.part, []).append(cause)
    children = [
        _node(
            "shared",
            place.says(key),
            [
                _node("part", Named("part", part), [_cause(cause, checks, bench.knowledge) for cause in causes])
                for part, causes in parts.items()
            ],
        )
        for key, parts in by_shared.items()
    ]
    total = sum(cause.probability for cause in ranking.causes)
    return TreeNode(
        "symptom", _symptom(place, complaint), total, (*_ways(facts, ranking), *_fold([*children, *standing], "shared"))
    )


def _ways(facts: Sequence[Fact], ranking: Ranking) -> tuple[TreeNode, ...]:
    """Parts in the oil's path of everything that is slow and of nothing that is in order; most probable first."""
    share: dict[str, float] = {}
    for cause in ranking.causes:
        share[cause.part] = share.get(cause.part, 0.0) + cause.probability
    parts = [fact.slots["part"] for fact in facts if fact.kind == "shared"]
    parts.sort(key=lambda part: -round(share.get(part, 0.0), 12))
    if not parts:
        return ()
    named, more = tuple(Named("part", part) for part in parts[:_WAYS]), len(parts) - _WAYS
    says = note("on-every-way-and", parts=named, count=more) if more > 0 else note("on-every-way", parts=named)
    return (TreeNode("shared", says, None),)


def _node(kind: Kind, says: Note | Named | Shared, children: list[TreeNode]) -> TreeNode:
    below: Kind = "part" if kind == "shared" else "cause"
    total = sum(child.probability or 0.0 for child in children)
    return TreeNode(kind, says, total, _fold(children, below))


def _fold(nodes: Iterable[TreeNode], kind: Kind) -> tuple[TreeNode, ...]:
    """Best first, equals in the order of the ranking; what is small becomes one node, unless it is the only one."""
    ordered = sorted(nodes, key=lambda node: -round(node.probability or 0.0, 12))
    kept = [node for node in ordered if (node.probability or 0.0) >= SMALL]
    small = [node for node in ordered if (node.probability or 0.0) < SMALL]
    if len(small) <= 1:
        return tuple(ordered)
    total = sum(node.probability or 0.0 for node in small)
    number = sum(_causes_in(node) for node in small)
    return (*kept, TreeNode(kind, note("other-causes", count=number), total))


def _causes_in(node: TreeNode) -> int:
    return 1 if node.kind == "cause" else sum(_causes_in(child) for child in node.children)


def _named(cause: RankedCause) -> Named:
    return Named("cause", cause.cause, cause.part)


def _cause(cause: RankedCause, checks: Sequence[NextCheck], knowledge: Knowledge) -> TreeNode:
    check = _check_for(cause, checks, knowledge) if cause.probability >= SMALL else None
    children = (TreeNode("check", check, None),) if check is not None else ()
    return TreeNode("cause", _named(cause), cause.probability, children)


def _check_for(cause: RankedCause, checks: Sequence[NextCheck], knowledge: Knowledge) -> Named | None:
    """The next check with an outcome that makes this cause the most probable; else the first one that it names."""
    best, found = min(_GAIN * cause.probability, _SETTLED), None
    for check in checks:
        left = [one for outcome in check.outcomes for one in outcome.then]
        after = max(
            (one.probability for one in left if (one.cause, one.part) == (cause.cause, cause.part)), default=0.0
        )
        if after > best:
            best, found = after, Named("check", check.check, check.part)
    if found is not None:
        return found
    named = next((known.checks for known in knowledge.causes if known.cause == cause.cause), ())
    existing = {known.check for known in knowledge.checks}
    return next((Named("check", name, cause.part) for name in named if name in existing), None)


def _symptom(place: _Places, complaint: str | None) -> Note | Quote:
    if complaint:
        return Quote(complaint)
    if place.near:
        return note("results-near", count=len(place.failing))
    if not place.failing:
        return note("nothing-out")
    return note("results-out", count=len(place.failing), of=len(place.results))


class _Places:
    """For each part, the failing results that it can affect."""

    def __init__(self, results: Sequence[Result], suspicions: Suspicions, graph: CircuitGraph) -> None:
        self.graph = graph
        self.results = [result for result in results if result.verdict in ("pass", "near", "fail")]
        self.failing = [result for result in results if result.verdict == "fail"]
        self.near = not self.failing and any(result.verdict == "near" for result in results)
        if self.near:
            self.failing = [result for result in results if result.verdict == "near"]
        self._laid: dict[str, set[str]] = {}
        for suspicion in suspicions.suspicions:
            self._laid.setdefault(suspicion.part, set()).update(suspicion.evidence)
        self._functions: dict[str, frozenset[str]] = {}
        self._shared: dict[str, tuple[str, ...]] = {}
        self._chains: dict[str, tuple[str, ...]] = {}
        self._about = {result.id: self._spoken_of(result) for result in self.failing}
        self._names = {
            result.id: frozenset(value for key, value in result.keys.items() if key in _NAMING)
            for result in self.failing
        }

    def shared(self, part: str) -> tuple[str, ...]:
        """Ids of the failing results that a part can affect, in the order of the sheet."""
        if part not in self._shared:
            laid = self._laid.get(part, set())
            self._shared[part] = tuple(
                result.id for result in self.failing if result.id in laid or self._concerns(part, result)
            )
        return self._shared[part]

    def _chain(self, part: str) -> tuple[str, ...]:
        """A part, what it belongs to, what that belongs to …"""
        if part not in self._chains:
            chain: list[str] = []
            at: str | None = part
            while at is not None and at in self.graph.parts and at not in chain:
                chain.append(at)
                at = self.graph.parts[at].of
            self._chains[part] = tuple(chain)
        return self._chains[part]

    def functions(self, part: str) -> frozenset[str]:
        """Functions that a part serves, itself or through what it belongs to; all where none is known."""
        if part not in self._functions:
            found: frozenset[str] = frozenset()
            for step in self._chain(part):
                found = frozenset(self.graph.functions_of(step))
                if found:
                    break
            self._functions[part] = found or frozenset(self.graph.functions)
        return self._functions[part]

    def _concerns(self, part: str, result: Result) -> bool:
        keys = result.keys
        if not self._names[result.id].isdisjoint(self._chain(part)):
            return True
        everything = len(self.functions(part)) == len(self.graph.functions)
        if "cylinder" in keys:
            holding = {f.spool for f in self.graph.functions.values() if f.actuator == keys["cylinder"]}
            return part in holding or (everything and not self.graph.functions_of(part))
        about = self.about(result)
        if not about:
            return (
                everything
                and not isinstance(result, SignResult | CodeResult)
                and "part" not in keys
                and "at" not in keys
            )
        return not about.isdisjoint(self.functions(part))

    def about(self, result: Result) -> frozenset[str]:
        """Functions that a result speaks of, from its keys; none if it speaks of no function."""
        return self._about[result.id]

    def _spoken_of(self, result: Result) -> frozenset[str]:
        keys = result.keys
        functions = self.graph.functions
        if "function" in keys:
            return frozenset({keys["function"]} & set(functions))
        if "direction" in keys:
            side = keys.get("side")
            tracked = "range" in keys or side is not None
            if tracked and isinstance(result, Measured) and result.deviation in ("left", "right"):
                side = result.deviation  # the machine pulls to the slower side, in reverse too
            return frozenset(
                name
                for name, function in functions.items()
                if function.direction == keys["direction"]
                and (function.side is not None) == tracked
                and side in (None, function.side)
            )
        if "of" in keys:
            group = keys["of"]
            return frozenset(
                name
                for name, function in functions.items()
                if function.group == group or function.group.startswith(f"{group}-")
            )
        return frozenset()

    def says(self, key: tuple[str, ...]) -> Note | Shared:
        """These results with what they have in common: main pump 1 feeds them."""
        if not key:
            return note("not-shown-by-what-is-out" if self.failing else "not-shown-by-any-reading")
        common, named = self._common([result for result in self.failing if result.id in key])
        return Shared(key, common, named)

    def _common(self, results: Sequence[Result]) -> tuple[Note | None, bool]:
        """What all these results are about: one movement or actuator, a side, a pump; and whether that names each."""
        sets = [about for result in results if (about := self.about(result))]
        functions = frozenset().union(*sets)
        named = {value for result in results for key, value in result.keys.items() if key in ("cylinder", "part")}
        graph, complete = self.graph, len(sets) == len(results)
        if not sets and len(named) == 1 and all("cylinder" in result.keys for result in results):
            return note("one-part-alone", part=Named("part", named.pop())), True
        if complete and len({graph.functions[name].actuator for name in functions}) == 1:
            moved = tuple(Named("function", name) for name in graph.functions if name in functions)
            return note("functions-alone", functions=moved), True
        for side in ("left", "right"):
            if _common_to(sets, {name for name, function in graph.functions.items() if function.side == side}):
                return note("one-side", side=side), False
        reach = {pump: {*graph.fed(pump), *graph.merged(pump)} for pump in graph.main_pumps()}
        feeding = [pump for pump, fed in reach.items() if _common_to(sets, fed)]
        if len(feeding) == 1 and (len(functions) > 1 or feeding[0] in named):
            return note("one-pump-feeds-them", pump=Named("part", feeding[0])), False
        return None, False


def _common_to(sets: Sequence[frozenset[str]], these: set[str]) -> bool:
    """Whether every set has some of these functions, and one of the sets has no others."""
    return all(about & these for about in sets) and any(about <= these for about in sets)
