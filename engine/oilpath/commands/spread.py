"""Do the same work for many sheets in several processes. Results come in the order of the names."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, TypeVar

from oilpath.commands.console import STANDARD_INPUT, standard_input
from oilpath.problems import UnusableInput

T = TypeVar("T")
Work = Callable[[str, bytes | None], T]
"""made of a sheet's name, and of its text where it comes from standard input"""

_CHUNK = 8
"""sheets handed to a process at once, at most"""


def spread(work: Work[T], names: Sequence[str], jobs: int) -> Iterator[T | UnusableInput]:
    """What `work` returns for each sheet, or the UnusableInput that it raised, in the order of the names.

    work must be picklable where processes do not inherit the memory of the one that starts them. Anything else that it
    raises is raised here.
    """
    if jobs == 1 or len(names) < 2:
        for name in names:
            yield _tried(work, name)
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_all_start_methods, get_context

    # a process that is forked has the knowledge base at once
    context = get_context("fork" if "fork" in get_all_start_methods() else "spawn")
    jobs = min(jobs, len(names))
    here = {STANDARD_INPUT: _tried(work, STANDARD_INPUT)} if STANDARD_INPUT in names else {}
    pool = ProcessPoolExecutor(jobs, mp_context=context, initializer=_begin, initargs=(work,))
    try:
        chunk = max(1, min(_CHUNK, len(names) // (4 * jobs)))
        found = pool.map(_one, [name for name in names if name not in here], chunksize=chunk)
        for name in names:
            yield here[name] if name in here else next(found)
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _tried(work: Work[T], name: str) -> T | UnusableInput:
    try:
        return work(name, standard_input() if name == STANDARD_INPUT else None)
    except UnusableInput as error:
        return error


# --- in the processes -----------------------------------------------------------------

_WORK: list[Work[Any]] = []


def _begin(work: Work[Any]) -> None:
    from oilpath.processes import settle

    settle()
    _WORK[:] = [work]


def _one(name: str) -> Any:
    return _tried(_WORK[0], name)
