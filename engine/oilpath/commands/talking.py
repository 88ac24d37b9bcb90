"""Questions to standard output, answers from standard input, a line at a time."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Final, Protocol

from oilpath.commands import streams

if TYPE_CHECKING:
    from oilpath.session.asking import Filling
    from oilpath.session.entry import Given, Step
    from oilpath.session.lines import Unclear

_LONGEST: Final = 4096


class Says(Protocol):
    """Puts questions and results into words."""

    def start(self) -> str: ...
    def end(self, name: str) -> str: ...
    def stopped(self, name: str, again: str) -> str: ...
    def question(self, step: Step) -> str: ...
    def how(self, step: Step) -> str: ...
    def unclear(self, error: Unclear) -> str: ...
    def not_saved(self, reason: str) -> str: ...
    def noted(self, text: str) -> str: ...
    def meant(self, doubts: tuple[str, ...]) -> str: ...


def width() -> int:
    """The columns of the terminal."""
    import shutil

    return shutil.get_terminal_size((80, 24)).columns


def converse(entry: Filling, talk: Terminal, again: str) -> None:
    """Ask to the end. If it stops before, say how to go on: with the command `again`."""
    from oilpath.session.asking import ask_all

    streams.write(talk.says.start())
    try:
        ask_all(entry, talk)
    except (EOFError, KeyboardInterrupt) as stop:
        streams.write(talk.says.stopped(talk.shown, again))
        if isinstance(stop, KeyboardInterrupt):
            raise
        return
    if entry.step is not None:
        streams.write(talk.says.stopped(talk.shown, again))


class Terminal:
    """One conversation. `shown` is the name of the file in messages."""

    def __init__(self, entry: Filling, says: Says, shown: str) -> None:
        self.entry, self.says, self.shown = entry, says, shown

    def ask(self, step: Step) -> str:
        """A line for a step."""
        return self._line(self.says.question(step))

    def ask_again(self, doubts: tuple[str, ...]) -> str:
        """A line for whether what was given is meant."""
        return self._line(self.says.meant(doubts))

    def ask_end(self) -> str:
        """A line for what to do at the end; none where nothing is left."""
        text = self.says.end(self.shown)
        if self.entry.left():
            return self._line(text + "> ")
        streams.write(text)
        return ""

    def take(self, given: Given) -> tuple[str, ...]:
        """Show what became of an answer; what looks wrong with it. Nothing here."""
        return ()

    def unclear(self, error: Unclear) -> None:
        """Show why an answer cannot be taken."""
        streams.write(self.says.unclear(error))

    def failed(self, error: Exception) -> None:
        """Show why an answer could not be written."""
        from oilpath.problems import UnusableInput

        if isinstance(error, UnusableInput):
            reason = "; ".join(one.message for one in error.problems)
        else:
            reason = str(getattr(error, "strerror", None) or error).lower()
        streams.write(self.says.not_saved(reason))

    def help(self, step: Step) -> None:
        """Show how a step is done."""
        streams.write(self.says.how(step))

    def changed(self, what: str, value: str) -> None:
        """Show what was done that is no answer."""
        said = {"note": "Noted with the last reading.", "removed": "Taken out.", "oil": f"Oil from now on: {value}."}
        streams.write(self.says.noted(said[what]))

    def _line(self, prompt: str) -> str:
        streams.write(prompt)
        if sys.stdin is None:
            raise EOFError
        line = sys.stdin.buffer.readline(_LONGEST)
        if not line:
            raise EOFError
        return line.decode("utf-8", "replace").rstrip("\r\n")
