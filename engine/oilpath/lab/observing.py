"""Signs and fault codes on simulated sheets, with the probabilities of the knowledge base.

A finding rule says how many times more probable an observation is with a cause than without it, `observed` in
`kb/priors.yaml` how probable it is without, and whether anybody looks. A sign goes with its cause wherever that stands;
a code with the part that the machine file says it names.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np

from oilpath.bench import Bench, bench_for
from oilpath.documents.machine import Machine
from oilpath.flow import code_result
from oilpath.knowledge.base import Knowledge, Observed
from oilpath.machine.hypotheses import Hypothesis
from oilpath.rules.engine import suspect
from oilpath.rules.facts import relate

PLACELESS = {"kind", "of", "value"}
"""slots of a sign that is seen nowhere in particular"""

Seen = tuple[dict[str, Any], Hypothesis | None]
"""a reading as it is on a sheet, and the cause that it comes from (None: astray)"""

Likely = Mapping[str, Mapping[tuple[str, str], float]]
_KEPT: WeakKeyDictionary[Bench, Likely] = WeakKeyDictionary()


def signs(present: Sequence[Hypothesis], knowledge: Knowledge, rng: np.random.Generator) -> Iterator[Seen]:
    """Signs that are seen under these causes. A sign seen at its true place is not reported by mistake elsewhere."""
    says = knowledge.priors.observed["sign"]
    for sign, rules in _of_signs(knowledge).items():
        likely: dict[str, tuple[float, bool]] = {}
        for placed, likelihoods in rules:
            likely.update(
                {cause: (by, placed) for cause, by in likelihoods.items() if by > likely.get(cause, (0.0,))[0]}
            )
        nothing = (None, False)
        whose, seen = _seen(says, [(h, likely.get(h.cause.cause, nothing)[0]) for h in present], rng)
        if seen and (whose is not None or not all(placed for placed, _ in rules)):
            where = {"part": whose.part} if whose is not None and likely[whose.cause.cause][1] else {}
            yield {"test": "sign", "sign": sign, "seen": True, **where}, whose


def _of_signs(knowledge: Knowledge) -> dict[str, list[tuple[bool, dict[str, float]]]]:
    """For each sign the finding rules that speak of it: whether they ask where it is seen, and their likelihoods."""
    found: dict[str, list[tuple[bool, dict[str, float]]]] = {}
    for rule in knowledge.rules:
        named = [c for c in rule.when if c.fact == "observed" and c.slots.get("kind") == "sign"]
        if rule.kind == "finding" and len(rule.when) == 1 and named:
            slots = named[0].slots
            likelihoods = {one.cause: one.likelihood for one in rule.suspect if one.likelihood}
            found.setdefault(slots["of"], []).append((not set(slots) <= PLACELESS, likelihoods))
    return found


def codes(
    present: Sequence[Hypothesis], machine: Machine, knowledge: Knowledge, rng: np.random.Generator
) -> Iterator[Seen]:
    """Codes of the machine that are active under these causes."""
    says = knowledge.priors.observed["code"]
    for code, likely in _likely(bench_for(machine, knowledge)).items():
        whose, active = _seen(says, [(h, likely.get((h.cause.cause, h.part))) for h in present], rng)
        if active:
            spn, fmi = map(int, code.split("-"))
            yield {"test": "code", "spn": spn, "fmi": fmi, "active": True}, whose


def _seen(
    says: Observed, likelihoods: Sequence[tuple[Hypothesis, float | None]], rng: np.random.Generator
) -> tuple[Hypothesis | None, bool]:
    """The cause that an observation would come from, and whether it is made."""
    chance: float = says.astray
    whose: Hypothesis | None = None
    for h, likelihood in likelihoods:
        with_it = min(says.at_most, says.astray * (likelihood or 1.0))
        if with_it > chance:
            chance, whose = with_it, h
    return whose, bool(rng.random() < says.looked_for and rng.random() < chance)


def _likely(bench: Bench) -> Likely:
    """For each code of a machine the likelihoods of what the rules suspect when it is active; kept with its bench."""
    if bench not in _KEPT:
        likely = {}
        for code in sorted(bench.machine.codes):
            active = code_result(code, True)
            said = suspect(relate((active,), bench), bench.rules).suspicions
            likely[code] = {(one.cause, one.part): one.likelihood for one in said if one.likelihood}
        _KEPT[bench] = likely
    return _KEPT[bench]
