"""What the commands share: reading, and the loop over sheets.

Libraries are imported inside the functions, so that the command starts at once.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Final, Generic, TypeVar

import click

from oilpath.commands.streams import is_terminal, progress, say

if TYPE_CHECKING:
    from oilpath.documents.machine import Machine
    from oilpath.documents.sheet import Sheet
    from oilpath.knowledge.base import Knowledge
    from oilpath.problems import UnusableInput
    from oilpath.reports.blocks import Block

T = TypeVar("T")

STANDARD_INPUT: Final = "-"
FINDINGS: Final = 1
UNUSABLE: Final = 2

LAYERS: Final = "oilpath.layers"
"""where the context keeps the folders that `--kb` named"""

_WANTED: Final = "a sheet or machine file on standard input"
_SHEET_BYTES: Final = 1 << 20  # what the reader takes at most; one byte more is read, so that it says so


# --- reading --------------------------------------------------------------------------


def layers(*, options: bool = False) -> tuple[str, ...]:
    """The folders that OILPATH_KB and `--kb` lay over the knowledge base, from the lowest to the highest.

    With `options` those of `--kb` alone.
    """
    from oilpath.knowledge.layers import layer_folders

    return layer_folders(click.get_current_context().meta.get(LAYERS, ()), {} if options else None)


def read_knowledge() -> Knowledge:
    """The knowledge base that ships with oilpath, with the user's own layers over it. Raises UnusableInput."""
    from oilpath.knowledge.compile import load_knowledge

    return load_knowledge(*layers())


def read_sheet(name: str, knowledge: Knowledge, text: bytes | None = None) -> Sheet:
    """A sheet as typed, `-` from standard input, or from a text that was read there. Raises UnusableInput."""
    from oilpath.documents.load import load_sheet

    return load_sheet(name, knowledge, text=standard_input() if name == STANDARD_INPUT and text is None else text)


def read_machine(name: str, knowledge: Knowledge) -> Machine:
    """A machine file as typed, `-` from standard input. Raises UnusableInput."""
    from oilpath.documents.load import load_machine

    if name == STANDARD_INPUT:
        return load_machine(name, knowledge, text=standard_input())
    return load_machine(name, knowledge)


def standard_input() -> bytes:
    """What is on standard input, as far as a reader takes it. Raises UnusableInput."""
    from oilpath.problems import Problem, UnusableInput

    try:
        if sys.stdin is not None:  # None: it was closed when the program started
            return sys.stdin.buffer.read(_SHEET_BYTES + 1)
        reason = "it is closed"
    except OSError as error:
        reason = (error.strerror or "an error").lower()
    raise UnusableInput([Problem(STANDARD_INPUT, 1, "-", f"standard input cannot be read: {reason}", _WANTED)])


def page(blocks: Iterable[Block], format_: str, *, to_file: bool = False) -> str:
    """Blocks of a page as `text` (in the terminal's colours where standard output is one) or `markdown`."""
    if format_ == "markdown":
        from oilpath.reports.markdown import blocks_to_markdown

        return blocks_to_markdown(blocks)
    from oilpath.reports.text import blocks_to_terminal, blocks_to_text

    return blocks_to_text(blocks) if to_file or not is_terminal() else blocks_to_terminal(blocks)


# --- the loop -------------------------------------------------------------------------


class Worked(Generic[T]):
    """Sheets worked on in the order given, over several processes where wanted, with progress on the terminal.

    `work` has the name of a sheet and, of standard input, its text (None: read the file).

    Gives each name with what `work` returned for it, or with the UnusableInput that it raised. Its problems are then
    said already, and `failed` is true.
    """

    def __init__(self, names: Sequence[str], work: Callable[[str, bytes | None], T], jobs: int = 1) -> None:
        self._names, self._work, self._jobs = names, work, jobs
        self.failed = False

    def __len__(self) -> int:
        return len(self._names)

    def __iter__(self) -> Iterator[tuple[str, T | UnusableInput]]:
        from oilpath.commands.spread import spread
        from oilpath.problems import UnusableInput

        done = iter(spread(self._work, self._names, self._jobs))
        for number, name in enumerate(self._names, 1):
            progress(number, name, len(self))
            try:
                found = next(done)
            finally:  # also after Ctrl-C
                progress(0, "", len(self))
            if isinstance(found, UnusableInput):
                self.failed = True
                say(str(found))
            yield name, found


def shown(name: str) -> str:
    """A name as typed, safe to show on one line."""
    from oilpath.problems import shorten

    return shorten(name)


def check_names(names: Sequence[str]) -> None:
    """Refuse standard input named twice."""
    if names.count(STANDARD_INPUT) > 1:
        raise click.UsageError("- (standard input) can be read once only")
