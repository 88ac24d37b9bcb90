"""Checks and repairs together: what to do next so that a lasting repair takes the fewest minutes on average.

A repair is an action too: it ends the search if it was the right one, and is paid for if it was not. At each step the
few best actions are tried in thought, each followed by a simple rule to the end (rollout), several steps deep.

Works on numbers alone, so that it can be compared with the exact optimum on small problems.

Sources: order of repairs by probability over cost, and of an observation before them: D. Heckerman, J. S. Breese,
K. Rommelse (1995), Decision-theoretic troubleshooting, Commun. ACM 38, 49. Rollout: D. P. Bertsekas, D. A. Castañón
(1999), Rollout algorithms for stochastic scheduling problems, J. Heuristics 5, 89. Both from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field
from typing import Final, Literal

import numpy as np

from oilpath.arrays import Array, Mask
from oilpath.records import dataclass

Kind = Literal["check", "repair"]
Action = tuple[Kind, int]
Then = Callable[[Array, int, int], float]
"""minutes from a state on: belief, checks made, repairs tried"""

_NOTHING: Final = 1e-9
"""probability below which nothing is left"""
_SURE: Final = 0.9
"""probability of success from which the simple rule repairs at once"""
_LEAST: Final = 1e-6
"""bits that a check must bring"""


@dataclass(frozen=True, slots=True)
class Task:
    """What can be done. likelihood: (checks, outcomes, causes), zero for outcomes that a check lacks; minutes:
    (checks,); fixes: (repairs, causes), which causes a repair ends; repair_minutes: (repairs,), with its proof.

    Without repairs the search ends when one cause has the probability `isolated`.
    """

    likelihood: Array
    minutes: Array
    fixes: Mask
    repair_minutes: Array
    isolated: float = 1 - 1e-9
    least: float = _LEAST
    """bits from which a check is worth making"""
    most: int = 64
    """checks in a row that the simple rule makes"""


@dataclass(slots=True)
class Lookahead:
    """The plan for one task. depth: steps tried in thought before the simple rule; breadth: actions tried at each."""

    task: Task
    depth: int = 2
    breadth: int = 8
    _simple: dict[bytes, float] = field(default_factory=dict)
    _best: dict[tuple[bytes, int], tuple[float, Action | None]] = field(default_factory=dict)
    _worth: dict[bytes, float] = field(default_factory=dict)

    def choose(self, belief: Array) -> Action | None:
        """What to do next; None where the search ends. belief: (causes,), adding up to 1, no check made yet."""
        return self._look(belief, 0, 0, self.depth)[1]

    def ranked(self, belief: Array) -> list[tuple[float, Action]]:
        """The actions worth considering, each with the average minutes to the end if it comes next; fewest first."""

        def after(belief: Array, made: int, tried: int) -> float:
            if self.depth > 1:
                return self._look(belief, made, tried, self.depth - 1)[0]
            return self._rule(belief, made, tried)

        found = [(round(self._cost(one, belief, 0, 0, after), 9), one) for one in self._actions(belief, 0, 0)]
        return sorted(found, key=lambda one: one[0])

    def expected(self, belief: Array) -> float:
        """Average minutes from this belief to the end, if `choose` is followed."""
        return self._follow(belief, 0, 0)

    def by_rule(self, belief: Array) -> float:
        """Minutes that the simple rule takes on average."""
        return self._rule(belief, 0, 0)

    # --- states -------------------------------------------------------------------------
    # A state is a belief with the checks made and the repairs tried, as bits of two whole numbers.

    def _follow(self, belief: Array, made: int, tried: int) -> float:
        key = _key(belief, made, tried)
        if key not in self._worth:
            action = self._look(belief, made, tried, self.depth)[1]
            self._worth[key] = 0.0 if action is None else self._cost(action, belief, made, tried, self._follow)
        return self._worth[key]

    def _look(self, belief: Array, made: int, tried: int, depth: int) -> tuple[float, Action | None]:
        """Least minutes over the best actions, looking `depth` steps ahead, and the first of them."""
        if self._ended(belief, tried):
            return 0.0, None
        key = (_key(belief, made, tried), depth)
        if key not in self._best:

            def after(belief: Array, made: int, tried: int) -> float:
                if depth > 1:
                    return self._look(belief, made, tried, depth - 1)[0]
                return self._rule(belief, made, tried)

            best: tuple[float, Action | None] = (np.inf, None)
            for action in self._actions(belief, made, tried):
                minutes = round(self._cost(action, belief, made, tried, after), 9)
                if minutes < best[0]:
                    best = (minutes, action)
            self._best[key] = best if best[1] is not None else (0.0, None)
        return self._best[key]

    def _cost(
        self, action: Action, belief: Array, made: int, tried: int, after: Callable[[Array, int, int], float]
    ) -> float:
        """Minutes of an action and, on average, of all that follows."""
        task, (kind, number) = self.task, action
        if kind == "repair":
            left = np.where(task.fixes[number], 0.0, belief)
            total = float(left.sum())
            more = 0.0 if total <= _NOTHING else total * after(left / total, made, tried | 1 << number)
            return float(task.repair_minutes[number]) + more
        minutes = float(task.minutes[number])
        for joint in task.likelihood[number] * belief:
            total = float(joint.sum())
            if total > _NOTHING:
                minutes += total * after(joint / total, made | 1 << number, tried)
        return minutes

    def _ended(self, belief: Array, tried: int) -> bool:
        if not len(self.task.fixes):
            return bool(belief.max() >= self.task.isolated)
        return not self._open(tried) or self._success(belief, tried).max() <= _NOTHING

    def _open(self, tried: int) -> list[int]:
        return [n for n in range(len(self.task.fixes)) if not tried >> n & 1]

    def _success(self, belief: Array, tried: int) -> Array:
        """Probability that each repair ends it, 0 for those tried."""
        found: Array = self.task.fixes @ belief
        for number in range(len(found)):
            if tried >> number & 1:
                found[number] = 0.0
        return found

    def _gain(self, belief: Array, made: int) -> Array:
        """Expected bits of each check about the causes, 0 for those made."""
        outcome = self.task.likelihood @ belief
        certain = _xlogx(self.task.likelihood).sum(axis=1) @ belief
        gain: Array = np.maximum(certain - _xlogx(outcome).sum(axis=1), 0.0)
        for number in range(len(gain)):
            if made >> number & 1:
                gain[number] = 0.0
        return gain

    def _actions(self, belief: Array, made: int, tried: int) -> list[Action]:
        """The actions worth considering: checks by bits per minute, repairs by probability of success per minute."""
        gain = self._gain(belief, made)
        worth = np.round(gain / self.task.minutes, 12)
        order = [n for n in np.argsort(-worth, kind="stable").tolist() if gain[n] > self.task.least][: self.breadth]
        checks: list[Action] = [("check", n) for n in order]
        if not len(self.task.fixes):
            return checks
        success = self._success(belief, tried)
        ratio = np.round(success / self.task.repair_minutes, 12)
        fixing = [n for n in np.argsort(-ratio, kind="stable").tolist() if success[n] > _NOTHING][: self.breadth]
        return [*checks, *(("repair", n) for n in fixing)]

    # --- the simple rule ----------------------------------------------------------------

    def _rule(self, belief: Array, made: int, tried: int) -> float:
        """Minutes of the better of two rules: one repair after another, or checks until a repair is almost certain."""
        if self._ended(belief, tried):
            return 0.0
        key = _key(belief, made, tried)
        if key not in self._simple:
            gain = self._gain(belief, made)
            repairs = self._in_turn(belief, tried) if len(self.task.fixes) else np.inf
            sure = len(self.task.fixes) and self._success(belief, tried).max() >= _SURE
            best = int(np.round(gain / self.task.minutes, 12).argmax()) if len(gain) else -1
            if sure or best < 0 or gain[best] <= self.task.least or made.bit_count() >= self.task.most:
                self._simple[key] = repairs if np.isfinite(repairs) else 0.0
            else:
                checking = self._cost(("check", best), belief, made, tried, self._rule)
                self._simple[key] = min(repairs, checking)
        return self._simple[key]

    def _in_turn(self, belief: Array, tried: int) -> float:
        """Minutes of repairs in the order of success for their minutes, until one holds."""
        minutes, left, alive = 0.0, belief, 1.0
        while alive > _NOTHING and self._open(tried):
            success = self._success(left, tried)
            best = int(np.round(success / self.task.repair_minutes, 12).argmax())
            if success[best] <= _NOTHING:
                break
            minutes += alive * float(self.task.repair_minutes[best])
            left = np.where(self.task.fixes[best], 0.0, left)
            total = float(left.sum())
            alive, tried = alive * total, tried | 1 << best
            left = left / total if total > _NOTHING else left
        return minutes


def _key(belief: Array, made: int, tried: int) -> bytes:
    return np.round(belief, 10).tobytes() + made.to_bytes(64, "little") + tried.to_bytes(64, "little")


def _xlogx(p: Array) -> Array:
    return p * np.log2(np.where(p > 0, p, 1.0))
