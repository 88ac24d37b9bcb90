"""What the guided making of a machine file says."""

from __future__ import annotations

import textwrap
from typing import Final

from oilpath.reports import words as say
from oilpath.reports.asking import PROMPT, unclear_text
from oilpath.reports.blocks import DEFER
from oilpath.reports.names import safe, sentence, spaced
from oilpath.reports.words import Words
from oilpath.session.entry import Step
from oilpath.session.lines import Unclear
from oilpath.session.machine_entry import MachineEntry

KEYS: Final = (
    "Enter skips, b back, g boom raise goes to what is called so, x takes an answer out, ? help, q stop. Each answer is"
    " saved as soon as it is typed. Almost everything may be skipped; limits come from the service information for this"
    " very machine."
)
_DIMENSIONS: Final = {
    "track-gauge": "Track gauge, from the middle of one track to that of the other",
    "length": "Length of the machine, for the room that tests need",
}
_ENDS: Final = {
    ("new", "max"): "new and max, or max alone",
    ("new", "min"): "new and min, or min alone",
    ("new", "min", "max"): "new, min and max, or min and max",
}


class AskingMachine:
    """Says the steps of a machine file, in `width` columns."""

    def __init__(self, entry: MachineEntry, words: Words, width: int = 80) -> None:
        self.entry, self.words, self.width = entry, words, max(40, min(width, 100))

    def start(self) -> str:
        """What is said first."""
        return "\n".join([*self._wrapped(KEYS), *self._wrapped(DEFER)]) + "\n"

    def end(self, name: str) -> str:
        """What is said at the end."""
        made, of = self.entry.done()
        lines = ["", f"{made} of {of} answered; all of it is in {name}. Look it over: oilpath machine check {name}"]
        if self.entry.left():
            lines += self._wrapped("a asks for what was skipped, b goes back, Enter ends.")
        return "\n".join(lines) + "\n"

    def stopped(self, name: str, again: str) -> str:
        """What is said when it stops on the way."""
        return f"\nAll that was answered is in {name}. To go on: {again}\n"

    def question(self, step: Step) -> str:
        """A step as it is asked."""
        now = self.entry.current(step)
        held = "" if now is None else f"; now {safe(_shown(now))}"
        return "\n".join(["", *self._wrapped(f"{self._asked(step)}{held}")]) + f"\n{PROMPT}"

    def _asked(self, step: Step) -> str:
        unit = say.named(self.entry.unit(step.quantity)) if step.quantity is not None else ""
        match step.kind:
            case "name":
                return "What the machine is called"
            case "speed":
                return f"Engine speed at the test setting, in {unit}"
            case "pump":
                return f"{sentence(self.words.part(step.name))}: displacement, in {unit}"
            case "cylinder":
                part = sentence(self.words.part(step.name))
                return f"{part}: bore, rod and stroke in {unit}; where there are two: 120 85 1260 2"
            case "dimension":
                return f"{_DIMENSIONS.get(step.name) or sentence(spaced(step.name))}, in {unit}"
        room = self.entry.limits[step.name]
        where = [self._place(room.test, key, value) for key, value in room.stated.items() if key != "test"]
        title = ", ".join(["Limit", self.words.test(room.test), *where])
        return f"{title}: {_ENDS[room.ends]}, in {unit}"

    def _place(self, test: str, key: str, value: str | float) -> str:
        known = self.words.knowledge.tests[test].keys[key].is_
        if known in ("quantity", "number") or not isinstance(value, str):
            return f"{spaced(key)} {value}"
        return f"{spaced(value)} {spaced(key)}" if known == "word" else self.words.place(value)

    def how(self, step: Step) -> str:
        """Help with a step."""
        said = ""
        if step.kind == "limit":
            said = f"{safe(self.words.knowledge.tests[self.entry.limits[step.name].test].says)}. "
        return "\n".join(self._wrapped(f"{sentence(said)}{KEYS}")) + "\n"

    def unclear(self, error: Unclear) -> str:
        """Why an answer cannot be taken, and what was perhaps meant."""
        return unclear_text(error, self._wrapped)

    def meant(self, doubts: tuple[str, ...]) -> str:
        """A machine file is not doubted."""
        raise NotImplementedError

    def not_saved(self, reason: str) -> str:
        """An answer that could not be written."""
        return "\n".join(self._wrapped(f"Not saved: {reason}. Give it again.")) + "\n"

    def noted(self, text: str) -> str:
        """What was done that is no answer."""
        return "\n".join(self._wrapped(text)) + "\n"

    def _wrapped(self, text: str) -> list[str]:
        return textwrap.wrap(
            text, self.width, initial_indent="  ", subsequent_indent="  ", break_on_hyphens=False
        )  # fmt: skip


def _shown(value: object) -> str:
    return " ".join(str(one) for one in value.values()) if isinstance(value, dict) else str(value)
