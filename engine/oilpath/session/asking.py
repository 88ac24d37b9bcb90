"""The loop of questions and answers, line by line. `Talk` shows texts and reads lines, `Filling` holds the file."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from oilpath.problems import UnusableInput
from oilpath.session.entry import Given, Step
from oilpath.session.lines import Unclear


class Filling(Protocol):
    """A file that is filled in step by step: a sheet, or a machine."""

    at: int
    steps: tuple[Step, ...]

    @property
    def step(self) -> Step | None:
        """What is asked for now; None at the end."""

    def left(self) -> tuple[int, ...]:
        """The steps that are still open, by number."""

    def back(self) -> None:
        """To the step before."""

    def skip(self) -> None:
        """To the next step."""

    def give(self, line: str) -> Given:
        """Take an answer and write it. Raises Unclear, OSError, UnusableInput."""

    def remove(self) -> bool:
        """Remove the answer to this step; return whether there was one."""

    def go(self, text: str) -> None:
        """To the step whose name has these words. Raises Unclear if there is none."""

    def note(self, text: str) -> None:
        """A note with the last answer."""

    def warm(self, text: str) -> str:
        """The oil's temperature from now on."""

    def reload(self) -> None:
        """Read the file anew."""


class Talk(Protocol):
    """Shows the steps and gives the lines that come back."""

    def ask(self, step: Step) -> str:
        """Ask for a step; return the line typed. Raises EOFError if there are no more lines."""

    def ask_again(self, doubts: tuple[str, ...]) -> str:
        """Ask whether a doubtful answer is meant; return the line typed."""

    def ask_end(self) -> str:
        """Ask what to do at the end; return the line typed."""

    def take(self, given: Given) -> tuple[str, ...]:
        """Show what became of an answer; what looks wrong with it."""

    def unclear(self, error: Unclear) -> None:
        """Show why an answer cannot be taken."""

    def failed(self, error: Exception) -> None:
        """Show why an answer could not be written."""

    def help(self, step: Step) -> None:
        """Show how a step is done."""

    def changed(self, what: str, value: str) -> None:
        """Show what was done that is not an answer: `note`, `removed`, `oil`."""


BACK, REMOVE, NOTE, OIL, GO, HELP, QUIT, ALL = "b", "x", "n ", "t ", "g ", "?", "q", "a"

_WORDS_OF_ONES_OWN = ("head", "name", "sign", "code")


def ask_all(entry: Filling, talk: Talk) -> None:
    """Ask step by step until the end or `q`. Raises EOFError if no more lines come."""
    likely: str | None = None
    wanted: frozenset[str] | None = None  # after `a`: what was left then; the rest is passed over
    while True:
        while wanted is not None and entry.step is not None and _what(entry.step) not in wanted:
            entry.at += 1
        step = entry.step
        if step is None:
            line = talk.ask_end().strip()
            if not _at_end(entry, line):
                return
            wanted = frozenset(_what(entry.steps[number]) for number in entry.left()) if line == ALL else None
            continue
        line = talk.ask(step)
        if line.strip() == BACK:
            wanted = None
        if not line.strip() and likely is not None:
            line = likely
        likely = None
        if line.strip() == QUIT:
            return
        try:
            if not _one(entry, talk, step, line):
                return
        except Unclear as error:
            likely = error.likely
            talk.unclear(error)


def _what(step: Step) -> str:
    """What a step is about: one reading with all that adds to it, or one thing else."""
    return step.slot.id if step.slot is not None else f"{step.kind} {step.name}"


def _at_end(entry: Filling, line: str) -> bool:
    """Act on a line typed after the last step; return whether to go on."""
    left = entry.left()
    if line == BACK:
        entry.back()
        return True
    if line == ALL and left:
        entry.at = left[0]
        return True
    return False


def _one(entry: Filling, talk: Talk, step: Step, line: str) -> bool:
    """Carry out one line, a command or an answer; return whether to go on."""
    text = line.strip()
    match text:
        case "":
            entry.skip()
        case "b":
            entry.back()
        case "?":
            talk.help(step)
        case "x":
            if _saved(entry, talk, lambda: entry.remove()):
                talk.changed("removed", "")
        case _ if text.startswith(GO) and step.kind not in _WORDS_OF_ONES_OWN:
            entry.go(text[len(GO) :])
        case _ if text.startswith(NOTE) and step.kind not in ("head", "name"):
            if _saved(entry, talk, lambda: entry.note(text[len(NOTE) :].strip())) is not None:
                talk.changed("note", text[len(NOTE) :].strip())
        case _ if text.startswith(OIL) and step.kind in ("condition", "reading", "more"):
            if (stated := _saved(entry, talk, lambda: entry.warm(text[len(OIL) :]))) is not None:
                talk.changed("oil", str(stated))
        case _:
            return _answer(entry, talk, text)
    return True


def _answer(entry: Filling, talk: Talk, text: str) -> bool:
    """Take an answer and ask again until it is confirmed; return whether to go on."""
    at = entry.at
    given = _saved(entry, talk, lambda: entry.give(text))
    if not isinstance(given, Given):
        return True
    doubts = talk.take(given)
    while doubts:
        line = talk.ask_again(doubts)
        if line.strip() in ("", QUIT):
            return not line.strip()
        behind, entry.at = entry.at, at
        try:
            given = _saved(entry, talk, lambda line=line: entry.give(line))  # type: ignore[misc]
        except Unclear as error:
            entry.at = behind
            talk.unclear(error)
            continue
        if not isinstance(given, Given):
            return True
        doubts = talk.take(given)
    return True


def _saved(entry: Filling, talk: Talk, change: Callable[[], object]) -> object:
    """The result of a change, or True if it has none; None if it could not be written. Then nothing has changed."""
    try:
        found = change()
    except UnusableInput as error:
        talk.failed(error)
        entry.reload()
        return None
    except OSError as error:
        talk.failed(error)
        return None
    return True if found is None else found or None
