"""Problems of a user's input, in words for people, all reported at once.

Nothing here knows a file format: a :class:`Problem` is one line for a person,
:class:`Problems` gathers them, :class:`UnusableInput` carries them out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from oilpath.records import dataclass
from oilpath.spelling import clean as clean
from oilpath.spelling import nearest as nearest
from oilpath.spelling import shorten as shorten


def key_text(path: Sequence[str | int]) -> str:
    """A path as people read it: ``readings[2].times[0]``; ``-`` for the file itself."""
    parts: list[str] = []
    for step in path:
        if isinstance(step, int):
            parts.append(f"[{step}]")
        else:
            parts.append(f".{shorten(step)}" if parts else shorten(step))
    return "".join(parts) or "-"


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong with an input.

    file: path as typed. line: from 1. key: ``-`` where none is known.
    message: what is wrong. accepted: what would be accepted, may be empty.
    Key, message and accepted are made printable on the way in.
    """

    file: str
    line: int
    key: str
    message: str
    accepted: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "line", max(1, self.line))
        object.__setattr__(self, "key", shorten(self.key, 120) or "-")
        object.__setattr__(self, "message", clean(self.message))
        object.__setattr__(self, "accepted", clean(self.accepted))

    def __str__(self) -> str:
        tail = f"; {self.accepted}" if self.accepted else ""
        return f"{clean(self.file)}:{self.line}: {self.key}: {self.message}{tail}"


class UnusableInput(ValueError):
    """The input cannot be used; `problems` says why, one line each."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__(self.problems)

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)


class Problems:
    """Gathers problems, so that all of them are reported at once."""

    def __init__(self) -> None:
        self._found: list[Problem] = []

    def add(self, file: str, line: int, key: str, message: str, accepted: str = "") -> None:
        """Note one problem."""
        self._found.append(Problem(file, line, key, message, accepted))

    def extend(self, problems: Iterable[Problem]) -> None:
        """Note problems found elsewhere (also another :class:`Problems`)."""
        self._found.extend(problems)

    def sorted(self) -> tuple[Problem, ...]:
        """By file and line, otherwise in the order found; no problem twice."""
        unique = dict.fromkeys(self._found)
        return tuple(sorted(unique, key=lambda problem: (problem.file, problem.line)))

    def raise_if_any(self) -> None:
        """Raise :class:`UnusableInput` with every problem, if there is one."""
        if self._found:
            raise UnusableInput(self.sorted())

    def __bool__(self) -> bool:
        return bool(self._found)

    def __len__(self) -> int:
        return len(self._found)

    def __iter__(self) -> Iterator[Problem]:
        return iter(self.sorted())
