"""Work on all sheets, such as ranking them anew after a change of the knowledge base.

What is left to do follows from the sheets themselves: those without an answer by this knowledge base. So a job that was
killed goes on where it was, and two that run at once only share the work. The row of a job says how far it is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from random import Random
from typing import Any, Final, Literal

import sqlalchemy as sql

from oilpath.knowledge.base import Knowledge
from oilpath.records import dataclass
from oilpath.store import tables
from oilpath.store.answers import answered_by
from oilpath.store.opening import Database

State = Literal["running", "stopped", "done"]
RERANK: Final = "rerank"


@dataclass(frozen=True, slots=True)
class Job:
    """How far a job is. seen_at: when whoever does it last wrote that down: a running job that was not seen for a
    minute was killed."""

    id: int
    kind: str
    answered_by: str
    state: State
    begun_at: str
    seen_at: str
    total: int
    done: int
    unusable: int


class Jobs:
    """The jobs of one database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def latest(self, kind: str = RERANK) -> Job | None:
        """The job of a kind that was begun last."""
        query = sql.select(tables.job).where(tables.job.c.kind == kind).order_by(tables.job.c.id.desc())
        with self._database.reading() as connection:
            row = connection.execute(query.limit(1)).first()
        return None if row is None else Job(*row)

    def count_left(self, knowledge: Knowledge) -> int:
        """How many sheets have no answer of their latest version by this knowledge base."""
        query = sql.select(sql.func.count()).select_from(tables.sheet).where(_unanswered(knowledge))
        with self._database.reading() as connection:
            return connection.execute(query).scalar_one()

    def left(self, knowledge: Knowledge, *, after: int = 0, most: int | None = None) -> dict[str, int]:
        """Sheets without an answer of their latest version by this knowledge base, with their ids, in the order of
        these from beyond `after` on."""
        document, sheet = tables.document.c, tables.sheet.c
        query = sql.select(document.name, document.id).join(tables.sheet).where(_unanswered(knowledge))
        query = query.where(sheet.document > after).order_by(sheet.document).limit(most)
        with self._database.reading() as connection:
            return {row.name: row.id for row in connection.execute(query)}

    def begin(self, knowledge: Knowledge) -> Job:
        """The job of ranking all sheets anew: one that was stopped or killed is gone on with, else a new one."""
        by, now = answered_by(knowledge), self._database.now()
        job = tables.job
        with self._database.writing() as connection:
            count = sql.select(sql.func.count()).select_from(tables.sheet)
            left = connection.execute(count.where(_unanswered(knowledge))).scalar_one()
            unfinished = sql.select(job).where(job.c.kind == RERANK, job.c.answered_by == by, job.c.state != "done")
            row: Any = connection.execute(unfinished.order_by(job.c.id.desc()).limit(1)).first()
            values: dict[str, Any] = {"state": "running", "seen_at": now}
            if row is None:
                values |= {"kind": RERANK, "answered_by": by, "begun_at": now, "total": left, "done": 0, "unusable": 0}
                return Job(*connection.execute(sql.insert(job).values(**values).returning(job)).one())
            values |= {"total": row.done + left}  # sheets may have been added or changed
            put = sql.update(job).where(job.c.id == row.id).values(**values).returning(job)
            return Job(*connection.execute(put).one())

    def note(self, job: int, *, done: int = 0, unusable: int = 0, state: State = "running") -> Job:
        """Write down what was done since the last note."""
        table = tables.job
        now = table.c.done + done
        put = (
            sql.update(table)
            .where(table.c.id == job)
            .values(
                done=sql.case((now > table.c.total, table.c.total), else_=now),
                unusable=table.c.unusable + unusable, state=state, seen_at=self._database.now(),
            )
            .returning(table)
        )  # fmt: skip
        with self._database.writing() as connection:
            return Job(*connection.execute(put).one())


Answered = tuple[str, bool]
"""a sheet, and whether it could be used"""
Spread = Callable[[tuple[str, ...]], Iterator[Answered]]
"""answers sheets and keeps the answers, in any number of processes; gives each when it is kept"""

_TURN: Final = 200
"""sheets that are looked up at once"""
_NOTED: Final = 20
"""sheets between two notes"""


def rerank(jobs: Jobs, knowledge: Knowledge, spread: Spread) -> Iterator[Job]:
    """Answer all sheets that are left, and say after every few how far it is; the last one is done.

    Where the caller stops, or `spread` raises, the job is stopped, and goes on when it is begun again.
    """
    job = jobs.begin(knowledge)
    since, after = [0, 0], 0

    def note(state: State) -> Job:
        found = jobs.note(job.id, done=since[0], unusable=since[1], state=state)
        since[:] = [0, 0]
        return found

    state: State = "stopped"
    try:
        yield job
        while left := jobs.left(knowledge, after=after, most=_TURN):
            after = max(left.values())  # each is tried once, also one that somebody changes all the time
            names = list(left)
            Random().shuffle(names)  # another job at the same time takes others; what it has done is found done
            for _, usable in spread(tuple(names)):
                since[0] += 1
                since[1] += not usable
                if since[0] >= _NOTED:
                    yield note("running")
        state = "done"
    finally:
        job = note(state)
    yield job


def _unanswered(knowledge: Knowledge) -> sql.ColumnElement[bool]:
    sheet = tables.sheet.c
    return sheet.stale | sheet.answered_by.is_(None) | (sheet.answered_by != answered_by(knowledge))
