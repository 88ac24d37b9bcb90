"""All sheets ranked anew, in this process or spread over others, for the shell and for the pages.

A helping process starts from nothing (no memory of the one that starts it, in which other threads may hold locks and
connections to the database), and ends with it. Whatever is killed, the next run goes on with what is left.
"""

from __future__ import annotations

import logging
import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import get_context
from threading import Event, Lock, Thread
from typing import Final

from oilpath.knowledge.base import Knowledge
from oilpath.problems import Problem, UnusableInput, clean
from oilpath.processes import settle
from oilpath.store.jobs import Answered, Job, Spread, rerank
from oilpath.store.opening import Store, open_store

_CHUNK: Final = 5
"""sheets handed to a process at once"""
_log = logging.getLogger("oilpath.store")


def rank_all(store: Store, knowledge: Knowledge, jobs: int = 1) -> Iterator[Job]:
    """Answer every sheet that has no answer by this knowledge base; says after every few how far it is.

    Parameters
    ----------
    store : Store, the database
    knowledge : Knowledge, what ranks
    jobs : int, 1: in this process; more: spread over so many others

    Raises
    ------
    UnusableInput : a process was ended from outside; what is left is done by the next run
    """
    if jobs == 1:
        yield from rerank(store.jobs, knowledge, lambda names: _here(store, knowledge, names))
        return
    with spread_over(store, knowledge, jobs) as spread:
        yield from rerank(store.jobs, knowledge, spread)


def _here(store: Store, knowledge: Knowledge, names: tuple[str, ...]) -> Iterator[Answered]:
    for name in names:
        yield name, _ranked(store, knowledge, name)


def _ranked(store: Store, knowledge: Knowledge, name: str) -> bool:
    """Whether the sheet could be used; one that was taken away meanwhile counts as done."""
    try:
        return store.answers.answer(name, knowledge).usable
    except UnusableInput:
        return True
    except Exception as error:  # a fault of ours: the sheet stays without an answer, and holds no other one up
        shown = os.environ.get("OILPATH_TRACEBACK") == "1"
        _log.warning("%s cannot be ranked: %s", clean(name), type(error).__name__, exc_info=shown)
        return False


@contextmanager
def spread_over(store: Store, knowledge: Knowledge, jobs: int, *, gentle: bool = False) -> Iterator[Spread]:
    """So many processes that rank; gentle: whatever else the machine has to do comes first."""
    known = (store.database.address, knowledge, gentle)
    pool = ProcessPoolExecutor(jobs, mp_context=get_context("spawn"), initializer=_begin, initargs=known)

    def spread(names: tuple[str, ...]) -> Iterator[Answered]:
        chunk = max(1, min(_CHUNK, len(names) // (2 * jobs)))
        try:
            yield from zip(names, pool.map(_one, names, chunksize=chunk), strict=True)
        except BrokenProcessPool:
            message = "a process that ranked sheets was ended from outside"
            wanted = "the same once more, which goes on with what is left"
            raise UnusableInput([Problem(store.database.shown, 1, "-", message, wanted)]) from None

    try:
        yield spread
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


_OPENED: list[tuple[Store, Knowledge]] = []


def _begin(where: str, knowledge: Knowledge, gentle: bool) -> None:
    settle(gentle=gentle)
    _OPENED[:] = [(open_store(where, create=False), knowledge)]


def _one(name: str) -> bool:
    return _ranked(*_OPENED[0], name)


class Ranker:
    """Ranks in the background of a server: in processes of their own, after whatever else there is to do.

    How far it is says `store.jobs.latest()`; what went wrong stands in the log.
    """

    def __init__(self, store: Store, knowledge: Knowledge, jobs: int = 1) -> None:
        self._store, self._knowledge, self._jobs = store, knowledge, jobs
        self._lock, self._stopping = Lock(), Event()
        self._thread: Thread | None = None

    @property
    def running(self) -> bool:
        """Whether it is at work."""
        thread = self._thread
        return thread is not None and thread.is_alive()

    def start(self) -> bool:
        """Begin, or go on with what was stopped; False where it is at work already."""
        with self._lock:
            if self.running:
                return False
            self._stopping.clear()
            self._thread = Thread(target=self._run, name="ranking", daemon=True)
            self._thread.start()
            return True

    def stop(self) -> None:
        """Stop after the sheets that are being ranked; `start` goes on."""
        self._stopping.set()
        thread = self._thread
        if thread is not None:
            thread.join()

    def _run(self) -> None:
        try:
            with spread_over(self._store, self._knowledge, self._jobs, gentle=True) as spread:

                def until_stopped(names: tuple[str, ...]) -> Iterator[Answered]:
                    for one in spread(names):
                        yield one
                        if self._stopping.is_set():
                            raise _Stopped

                for _ in rerank(self._store.jobs, self._knowledge, until_stopped):
                    pass
        except _Stopped:
            pass
        except Exception:
            _log.exception("while ranking all sheets")


class _Stopped(Exception):
    """It was told to stop."""
