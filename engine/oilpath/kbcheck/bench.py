"""A machine of one kind on the bench: each cause in turn, and a sheet of all tests without scatter.

There are no limits for a kind of machine, so a reading counts as out where it lies off by what counts as noticeable for
its test. Readings of a sound machine are 1 (of an offset: 0).
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Sequence

import numpy as np

from oilpath.arrays import Array, Mask
from oilpath.bench import bench_for
from oilpath.documents.machine import CodeMeaning, Machine
from oilpath.flow import SHARED_TIME, Evidence, ReadingResult, Result, Suspicion, Verdict, code_result, sign_result
from oilpath.flow.ids import result_id
from oilpath.kbcheck.alike import alike
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.rule import Rule
from oilpath.machine.hypotheses import Hypothesis
from oilpath.physics.predictions import SEVERITIES, Predictions, shared_readings, usual_readings
from oilpath.ranking import rank
from oilpath.records import dataclass
from oilpath.rules.engine import suspect
from oilpath.rules.facts import relate

MIDDLE = SEVERITIES // 2
UNSURE = 0.01
"""standard uncertainty of every reading: ln ratio, or a share of ten times what is noticeable for an offset"""

WeightedEvidence = tuple[Evidence, float]
"""a reading that could be made, and the deviation that is noticeable for its test"""


@dataclass(frozen=True, slots=True)
class Shown:
    """What a cause shows: whether in readings (only in `varied` ones), whether a rule suspects it, what leads."""

    readings: bool
    suspected: bool = False
    varied: bool = False
    leading: tuple[tuple[str, str], ...] = ()
    rules: tuple[str, ...] = ()
    """rules that suspect something at the same part, or else all that suspect anything"""


class Bench:
    """All causes of a kind of machine, tried one by one."""

    def __init__(self, circuit: Circuit, known: Knowledge) -> None:
        self.known = known
        self.machine = Machine(name=circuit.id, circuit=circuit)
        self.bench = bench_for(self.machine, known)
        self.model: Predictions = self.bench.model
        usual = ((_named(e), n) for e, n in usual_readings(self.machine, self.bench.circuit, known))
        shared = shared_readings(self.bench.circuit, known)
        self.standard = self._moved([*usual, *shared])
        self.varied = self._moved(list(self._variants()))
        curves = self._curves(self.standard)
        self.effects, self.shifts = curves[:, MIDDLE], self._curves(self.varied)[:, MIDDLE]
        self.same: Mask = alike(curves, np.array([n for _, n in self.standard]), MIDDLE)
        """which hypotheses look the same, shape (H, H)"""

    def _variants(self) -> Iterator[WeightedEvidence]:
        """Timed tests in conditions that are changed on purpose, held cylinders held otherwise."""
        for name, variant in self.known.variants.items():
            for e, noticeable in self.standard:
                if e.observe == SHARED_TIME:
                    continue
                if variant.running or variant.reversed_ or self.known.tests[e.test].timed:
                    yield (
                        dataclasses.replace(e, variant=name, result=result_id(e.test, e.keys.values(), name)),
                        noticeable,
                    )

    def _moved(self, readings: Sequence[WeightedEvidence]) -> list[WeightedEvidence]:
        """Those that the model knows and that some cause moves."""
        table, known = self.model.predict([e for e, _ in readings])
        moved = known & (np.abs(table).max(axis=(0, 1), initial=0.0) > 1e-9)
        return [one for one, ok in zip(readings, moved, strict=True) if ok]

    def moving(self) -> Mask:
        """Hypotheses that move some reading at some severity, shape (H,)."""
        both = (self._curves(self.standard), self._curves(self.varied))
        moved: Mask = np.logical_or.reduce([np.abs(x).max(axis=(1, 2), initial=0.0) > 1e-9 for x in both])
        return moved

    def _curves(self, readings: Sequence[WeightedEvidence]) -> Array:
        """Effects of all hypotheses at all severities, shape (hypotheses, severities, readings)."""
        return self.model.predict([e for e, _ in readings])[0]

    def tried(self, number: int, sight: Result | None = None) -> Shown:
        """One hypothesis at its middle severity.

        Where the standard readings show nothing, the tests are made in their variants as well, and `sight` (a sign that
        speaks for the cause) is seen.
        """
        effects, shifts = self.effects[number], self.shifts[number]
        results: list[Result] = [
            self._result(e, n, x) for (e, n), x in zip(self.standard, effects.tolist(), strict=True)
        ]
        varied = False
        if all(result.verdict == "pass" for result in results):
            if all(abs(x) < n for x, (_, n) in zip(shifts.tolist(), self.varied, strict=True)):
                return Shown(readings=False)
            varied = True
            results += [*self._varied(effects, shifts), *([sight] if sight else ())]
        said = suspect(relate(tuple(results), self.bench), self.bench.rules)
        ranking = rank(results, said, self.bench, routine=False)
        h = self.model.hypotheses[number]
        suspected = any((one.cause, one.part) == (h.cause.cause, h.part) for one in said.suspicions)
        first = (ranking.causes[i] for i in ranking.groups[0].members)
        fired = [one.rule for one in said.suspicions if one.part == h.part] or [one.rule for one in said.suspicions]
        leading = tuple((one.cause, one.part) for one in first)
        return Shown(True, suspected, varied, leading, tuple(dict.fromkeys(fired)))

    def _result(self, e: Evidence, noticeable: float, effect: float) -> ReadingResult:
        kind = self.known.tests[e.test]
        ratio = e.scale == "ratio"
        new = 1.0 if ratio else 0.0
        value, low, high = (math.exp(x) if ratio else x for x in (effect, -noticeable, noticeable))
        over, under = value > high and kind.limits.sides != "lower", value < low and kind.limits.sides != "upper"
        verdict: Verdict = "fail" if over or under else "pass"
        deviation = kind.more_is if over else kind.less_is if under else None
        return ReadingResult(
            e.result, e.test, e.keys, verdict, value, kind.quantity, UNSURE * abs(value), 3, new, low, high, "limit",
            deviation, together_with=("another",) if e.observe == SHARED_TIME else (),
            evidence=dataclasses.replace(e, e=effect, u=UNSURE if ratio else UNSURE * 10 * noticeable),
        )  # fmt: skip

    def _varied(self, effects: Array, shifts: Array) -> Iterator[Result]:
        """Readings in variants: how they differ from the standard ones is what counts."""
        plain = {(e.test, *e.keys.values()): x for (e, _), x in zip(self.standard, effects.tolist(), strict=True)}
        for (e, _), shift in zip(self.varied, shifts.tolist(), strict=True):
            value = math.exp(plain[e.test, *e.keys.values()] + shift)
            quantity = self.known.tests[e.test].quantity
            says = dataclasses.replace(e, e=shift, u=UNSURE)
            yield ReadingResult(
                e.result,
                e.test,
                e.keys,
                "unjudged",
                value,
                quantity,
                UNSURE * value,
                3,
                variant=e.variant,
                evidence=says,
            )

    # signs and codes

    def sight(self, number: int) -> tuple[Result, Suspicion] | None:
        """The sign or code that speaks most for a hypothesis, with what a rule then suspects; None if none does."""
        h = self.model.hypotheses[number]
        found: list[tuple[Result, Suspicion]] = []
        for rule in self.known.rules:
            if rule.kind == "finding" and any(suspected.cause == h.cause.cause for suspected in rule.suspect):
                for seen, machine in self._sights(rule, h):
                    bench = bench_for(machine, self.known)
                    said = suspect(relate((seen,), bench), bench.rules).suspicions
                    found += [(seen, one) for one in said if (one.cause, one.part) == (h.cause.cause, h.part)]
        spoken = [one for one in found if (one[1].likelihood or 0) > 1]
        return max(spoken, key=lambda one: (one[1].likelihood or 0, one[0].id), default=None)

    def _sights(self, rule: Rule, h: Hypothesis) -> Iterator[tuple[Result, Machine]]:
        """What can be observed for a rule with one condition: nowhere in particular, at the part, in its functions."""
        slots = rule.when[0].slots
        if len(rule.when) > 1 or rule.when[0].fact != "observed":
            return
        if slots.get("kind") == "code":
            code, meaning = "1-1", CodeMeaning(says="a code of this machine", part=h.part)
            machine = self.machine.model_copy(update={"codes": {code: meaning}})
            yield code_result(code, True), machine
        elif slots.get("kind") == "sign":
            part = self.model.circuit.parts[h.part]
            places = [("part", h.part), ("part", part.of), ("side", part.side)]
            places += [("function", name) for name in self.model.circuit.functions_of(h.part)]
            for where in ({}, *({key: word} for key, word in places if word)):
                yield sign_result({"sign": slots["of"], **where}, True), self.machine


def _named(e: Evidence) -> Evidence:
    return dataclasses.replace(e, result=result_id(e.test, e.keys.values()))
