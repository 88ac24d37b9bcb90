"""P(outcome | cause, severity) of the checks whose outcome is a reading, from the circuit model; once for a machine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from threading import Lock
from weakref import WeakValueDictionary

import numpy as np

from oilpath.arrays import Array, Indexes
from oilpath.documents.machine import Limit
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.check import Check
from oilpath.outcomes.declared import CauseKey
from oilpath.outcomes.places import Places
from oilpath.outcomes.readings import Effects, Read, read
from oilpath.outcomes.sides import outcomes, sides
from oilpath.physics.predictions import SEVERITIES, Predictions
from oilpath.records import dataclass

MOVED = 1e-9
"""effect from which a cause moves a reading"""


Scatters = tuple[tuple[float, ...], ...]
"""standard uncertainty of what each reading of a check stands for"""


@dataclass(frozen=True, slots=True, weakref_slot=True)
class Measured:
    """The outcomes of all measuring checks of one machine at all their parts, side by side as columns.

    parts: check → the parts at which the model knows its readings; at: check → its columns, (parts · outcomes) of them.
    sound: (columns,) probability of each outcome where nothing moves a reading. table: (rows, columns) under the causes
    that move some; start: (hypotheses,) the row of a hypothesis' first severity, −1 where it moves none.
    """

    parts: Mapping[str, tuple[str, ...]]
    at: Mapping[str, slice]
    sound: Array
    table: Array
    start: Indexes
    members: Mapping[CauseKey, tuple[int, int]]
    """the hypotheses of a cause at a part (its variants): first and one past the last"""

    def probabilities(self, causes: Sequence[CauseKey], nodes: Sequence[Sequence[float]]) -> Array:
        """P(outcome | cause), shape (causes, columns), averaged over variants and severities.

        nodes: for every cause the weights of its variants' severities, one variant after the other; where there are
        none, all are alike. A cause that the model does not hold moves nothing.
        """
        found = np.tile(self.sound, (len(causes), 1))
        rows: list[int] = []
        weights: list[float] = []
        first: list[int] = []
        moving: list[int] = []
        for number, cause in enumerate(causes):
            begin, end = self.members.get(cause, (0, 0))
            own = nodes[number] if len(nodes) else ()
            size = (end - begin) * SEVERITIES
            if len(own) != size:
                own = [1 / size] * size if size else ()
            at = len(rows)
            unmoved = 1.0
            for place, start in enumerate(self.start[begin:end].tolist()):
                mine = own[place * SEVERITIES : (place + 1) * SEVERITIES]
                if start >= 0 and any(mine):
                    rows += range(start, start + SEVERITIES)
                    weights += mine
                    unmoved -= sum(mine)
            if len(rows) > at:
                first.append(at)
                moving.append(number)
                found[number] *= max(unmoved, 0.0)
        if moving:
            parts = self.table[rows] * np.array(weights)[:, None]
            found[moving] += np.add.reduceat(parts, first, axis=0)
        return found

    def columns(self, check: Check, part: str) -> slice | None:
        """The columns of a check at a part, None if the model does not know its readings there."""
        if part not in self.parts.get(check.check, ()):
            return None
        begin = self.at[check.check].start + self.parts[check.check].index(part) * len(check.outcomes)
        return slice(begin, begin + len(check.outcomes))

    def of_hypotheses(self, columns: slice) -> Array:
        """P(outcome | hypothesis), shape (hypotheses, columns), all severities alike."""
        moved = self.start >= 0
        found = np.tile(self.sound[columns], (len(self.start), 1))
        found[moved] = self.table[:, columns].reshape(int(moved.sum()), SEVERITIES, -1).mean(axis=1)
        return found


@dataclass(frozen=True, slots=True)
class _Piece:
    """One check at one part: the hypotheses that move its readings, P(outcome) under the sound machine and under those,
    shape (outcomes, hypotheses · severities)."""

    moved: Indexes
    sound: Array
    chance: Array


class Measures:
    """What all measuring checks read on machines with one model. Their tables differ only in the scatter that a
    machine's limits give, so what two machines have in common is computed once."""

    def __init__(self, model: Predictions, places: Places, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self.priors = knowledge.priors.on(model.machine.circuit)
        self.readings: dict[tuple[str, str], dict[str, Read]] = {}
        for check in knowledge.checks:
            for part in places.of(check) if check.measures else ():
                found = read(check, part, model, knowledge, places)
                if len(found) == len(check.read):
                    self.readings[check.check, part] = found
        self.members: dict[CauseKey, tuple[int, int]] = {}
        for number, h in enumerate(model.hypotheses):
            key = h.cause.cause, h.part
            self.members[key] = (self.members.get(key, (number, 0))[0], number + 1)
        self._hypotheses = len(model.hypotheses)
        self._lock = Lock()
        self._pieces: dict[tuple[str, str], tuple[Scatters, _Piece]] = {}
        """for each check at a part the latest scatter and what follows from it"""
        self._whole: WeakValueDictionary[tuple[Scatters, ...], Measured] = WeakValueDictionary()
        """as long as a bench holds them"""

    def on(self, limits: Sequence[Limit]) -> Measured:
        """The computed outcomes of the checks of a machine with these limits."""
        scatters = tuple(
            tuple(one.scatter(limits, self.knowledge) for one in found.values()) for found in self.readings.values()
        )
        with self._lock:
            whole = self._whole.get(scatters)
            if whole is None:
                whole = self._whole[scatters] = self._measured(scatters)
            return whole

    def _measured(self, scatters: Sequence[Scatters]) -> Measured:
        checks = {check.check: check for check in self.knowledge.checks}
        pieces: list[tuple[slice, _Piece]] = []
        parts: dict[str, tuple[str, ...]] = {}
        at: dict[str, slice] = {}
        column = 0
        for (name, part), scatter in zip(self.readings, scatters, strict=True):
            piece = self._piece(checks[name], part, scatter)
            columns = slice(column, column + len(piece.chance))
            pieces.append((columns, piece))
            parts[name] = (*parts.get(name, ()), part)
            at[name] = slice(at.get(name, columns).start, columns.stop)
            column = columns.stop
        moving = np.zeros(self._hypotheses, dtype=np.bool_)
        for _, piece in pieces:
            moving[piece.moved] = True
        start = np.where(moving, (np.cumsum(moving) - 1) * SEVERITIES, -1)
        sound = np.concatenate([piece.sound for _, piece in pieces]) if pieces else np.zeros(0)
        table = np.tile(sound, (int(moving.sum()) * SEVERITIES, 1))
        for columns, piece in pieces:
            rows = (start[piece.moved][:, None] + np.arange(SEVERITIES)).ravel()
            table[rows, columns] = piece.chance.T
        return Measured(parts, at, sound, table, start, self.members)

    def _piece(self, check: Check, part: str, scatter: Scatters) -> _Piece:
        key = check.check, part
        if key not in self._pieces or self._pieces[key][0] != scatter:
            found = {
                name: one.effects(own, self.knowledge)
                for (name, one), own in zip(self.readings[key].items(), scatter, strict=True)
            }
            self._pieces[key] = scatter, _piece(check, found, self.priors.freedom, self.priors.gross)
        return self._pieces[key][1]


def _piece(check: Check, read: Mapping[str, Effects], freedom: float, gross: float) -> _Piece:
    moves = [(np.abs(one.effect[:-1]) > MOVED).any(axis=1) for one in read.values()]
    moved = np.flatnonzero(np.logical_or.reduce(moves))
    lie = {}
    for name, one in read.items():
        effect, sd, noticeable = (
            np.concatenate([values[moved].ravel(), values[-1, :1]]) for values in (one.effect, one.sd, one.noticeable)
        )
        lie[name] = sides(effect, sd, noticeable, freedom)
    chance = outcomes(check, lie, gross)
    return _Piece(moved, chance[:, -1], chance[:, :-1])
