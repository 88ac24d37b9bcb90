"""What guided entry says: questions with their limits, how an answer is judged, why one cannot be taken."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any, Final

from oilpath.flow import Measured, ReadingResult, Result
from oilpath.reports import words as say
from oilpath.reports.blocks import DEFER
from oilpath.reports.check import slot_title
from oilpath.reports.limits import limit_beside
from oilpath.reports.names import counted, safe, sentence, spaced
from oilpath.reports.notes import Sayer
from oilpath.reports.prepare import judged_by, own_conditions
from oilpath.reports.words import Words
from oilpath.session.day import DayPlan
from oilpath.session.entry import Entry, Given, Step
from oilpath.session.lines import Unclear
from oilpath.units import QUANTITIES

PROMPT: Final = "> "
KEYS: Final = (
    "Enter skips, b back, g boom raise goes to that reading, x takes one out, n TEXT a note with the last one, t 57 the"
    " oil's temperature from now on, ? how to, q stop. Each answer is saved as soon as it is typed."
)
_HEAD: Final = {
    "unit-number": "Number of the machine in the fleet",
    "hours": "Hours on the meter",
    "date": "Date of the tests, as 2026-05-14; t for today",
    "technician": "Technician",
    "complaint": "Complaint, in the operator's own words",
    "history": "What was done before, and how it came on, one thing a line; Enter for no more",
}
_SIGNS: Final = (
    "Anything seen, heard or smelt? A word of it, such as foam, and where: pump knock @pump-1; no foam: looked, not"
    " there"
)
_UNCLEAR: Final = {
    "no-number": "a number is wanted; its unit may be left out",
    "one-value": "one value is wanted",
    "no-side": "which side is not said: l 0.4 or r 0.4, as the driver sits",
    "no-choice": "there is no such number in the list",
    "no-sign": "no sign has these words; another word of it, or Enter where nothing was found",
    "no-place": "this machine has no such part, function or side; its id or its whole name behind the @",
    "no-word": "is not one of the words",
    "no-reading": "there is no reading yet that a note could go with",
    "reading-first": "the reading itself is wanted first; this goes with it",
    "cylinder": "bore, rod and stroke are wanted, then a whole number where there are several",
    "limit": "these are too many figures for one limit",
    "per-turn": "a pump's displacement is per revolution",
    "comma": "this has a decimal comma",
    "too-long": "this is too long",
    "no-step": "nothing that is asked for has these words in its name",
    "no-field": "this sheet has no such field",
}
_WIDEST: Final = 100


class Asking:
    """Says the steps of one entry, in `width` columns."""

    def __init__(self, entry: Entry, plan: DayPlan, words: Words, width: int = 80) -> None:
        self.entry, self.plan, self.words = entry, plan, words
        self.width = max(40, min(width, _WIDEST))
        self._shown: set[str] = set()

    # --- the whole ------------------------------------------------------------------------

    def start(self) -> str:
        """What is said first."""
        made, of = self.entry.done()
        title = f"{safe(self.plan.machine)}: {made} of {counted(of, 'reading')} made"
        lines = [title, "━" * self.width, *self._wrapped(KEYS)]
        for text in [self.words.caution(one) for one in self.plan.always] or [DEFER]:
            lines += self._wrapped(text, "! ")
        return "\n".join(lines) + "\n"

    def end(self, name: str) -> str:
        """What is said at the end."""
        made, of = self.entry.done()
        left = [self._title(self.entry.steps[number]) for number in self.entry.left()]
        lines = ["", f"{made} of {counted(of, 'reading')} made; all of it is in {name}."]
        if left:
            some = "; ".join(left[:3]) + ("; …" if len(left) > 3 else "")
            lines += self._wrapped(f"Left out: {some}. a asks for them, b goes back, Enter ends.")
        return "\n".join(lines) + "\n"

    def _title(self, step: Step) -> str:
        return spaced(step.name) if step.slot is None else slot_title(step.slot, self.words)

    def stopped(self, name: str, again: str) -> str:
        """What is said when it stops on the way."""
        return f"\nAll that was answered is in {name}. To go on: {again}\n"

    # --- a step ---------------------------------------------------------------------------

    def question(self, step: Step) -> str:
        """A step as it is asked, with the cautions and the way of its test before its first reading."""
        lines = ["", *self._before(step)]
        now = self._current(step)
        match step.kind:
            case "head":
                lines.append(self._line(_HEAD[step.name], now))
            case "condition":
                lines.append(self._line(*self._condition(step), now))
            case "sign":
                lines.append(self._line(_SIGNS, now))
            case "code":
                lines.append(self._line("Fault codes: 520201-4, or 520201-4 stored", now))
            case "reading":
                lines += self._reading(step, now)
            case "more":
                lines.append(self._line(*self._more(step), now))
        return "\n".join(lines) + f"\n{PROMPT}"

    def _line(self, *parts: str) -> str:
        return "\n".join(self._wrapped("; ".join(part for part in parts if part)))

    def _condition(self, step: Step) -> tuple[str, str]:
        name = sentence(spaced(step.name))
        if step.quantity is not None:
            window = self.plan.oil_temperature if step.name == "oil-temperature" else None
            suits = f"{self.words.between(window, 'temperature')} suits all tests" if window is not None else ""
            if step.name == "engine-speed" and self.plan.engine_speed is not None:
                suits = f"{self.words.amount(self.plan.engine_speed, 'rotation', 4)} at the test setting"
            return f"{name} in {self._unit(step.quantity)}", suits
        return name, f"{', '.join(step.words)}; the first letters will do"

    def _unit(self, quantity: str) -> str:
        return say.named(self.entry.unit(quantity))

    def _reading(self, step: Step, now: str) -> Iterator[str]:
        slot = step.slot
        assert slot is not None
        readings = [number for number, one in enumerate(self.entry.steps) if one.kind == "reading"]
        count = f"{readings.index(self.entry.at) + 1} of {len(readings)}"
        title = slot_title(slot, self.words)
        yield f"{title} {'─' * max(1, self.width - len(title) - len(count) - 2)} {count}"
        stretch = ", ".join(f"{spaced(key)} {value}" for key, value in slot.figures.items())
        unit = self._unit(step.quantity or "")
        times = f"{slot.repeats} times, in {unit}" if slot.repeats > 1 else f"in {unit}"
        yield self._line(limit_beside(slot, self.words), stretch, times, now)

    def _more(self, step: Step) -> tuple[str, ...]:
        if step.name == "veer":
            return (
                "Off the line at the end, as the driver sits: l 0.4 or r 0.4, in " + self._unit("distance"),
                "0 for none",
            )
        known = step.quantity is not None and step.quantity in QUANTITIES
        unit = f" in {say.named(self.entry.unit_of(step))}" if known else ""
        return (sentence(spaced(step.name)) + unit,)

    def _current(self, step: Step) -> str:
        now = self.entry.current(step)
        if now is None or step.kind in ("sign", "code"):
            return ""
        return f"now {_shown(now)}"

    def _before(self, step: Step) -> Iterator[str]:
        """What comes before the first step of a test: its stretch of the day, cautions, how it is made."""
        if step.test == "" or step.test in self._shown:
            return
        self._shown.add(step.test)
        phase = next(
            (
                one
                for one in self.plan.phases
                if any(test.test == step.test and test.variant is None for test in one.tests)
            ),
            None,
        )
        if phase is not None and phase.phase not in self._shown:
            self._shown.add(phase.phase)
            yield f"═══ {safe(phase.title)} " + "═" * max(0, self.width - len(safe(phase.title)) - 5)
            for caution in phase.cautions:
                yield from self._wrapped(self.words.caution(caution), "! ")
            for text in phase.how:
                yield from self._wrapped(safe(text), "- ")
        test = next((one for one in self.plan.tests if one.test == step.test and one.variant is None), None)
        if test is not None:
            yield self.words.test(step.test)
            for caution in test.cautions:
                yield from self._wrapped(self.words.caution(caution), "! ")
            for text in (*own_conditions(test, self.plan, self.words), *judged_by(test)):
                yield from self._wrapped(f"{sentence(text)}.")

    def how(self, step: Step) -> str:
        """How the present step is done, and the keys."""
        test = next((one for one in self.plan.tests if one.test == step.test), None)
        lines = [] if test is None else [line for text in test.how for line in self._wrapped(safe(text))]
        if test is not None:
            lines += [line for caution in test.cautions for line in self._wrapped(self.words.caution(caution), "! ")]
        if step.kind == "reading":
            lines += self._wrapped(
                "Repeats on one line: 4.8 4.7 4.8, or 14.2 .1 .3 for 14.2 14.1 14.3. Another unit: 4975 psi."
            )
        return "\n".join([*lines, *self._wrapped(KEYS)]) + "\n"

    # --- what became of an answer -----------------------------------------------------------

    def taken(self, given: Given, results: Sequence[Result]) -> str:
        """How an answer is judged, and what looks wrong with it."""
        if given.choices:
            signs = self.words.knowledge.signs
            lines = [f"  {n} {safe(signs[name].title)}" for n, name in enumerate(given.choices, 1)]
            return "\n".join([*lines, "  Its number, or another word"]) + "\n"
        if given.sign is not None:
            return self._sign(given, results)
        if given.id is None:
            return ""
        found = [one for one in results if one.id == given.id]
        if given.step.kind == "more":
            found = [
                one
                for one in results
                if isinstance(one, ReadingResult) and given.step.slot and dict(one.keys) == dict(given.step.slot.keys)
            ]
        if given.step.kind == "code":
            return "".join(f"  {self.words.result(one)}: {self.words.value(one)}\n" for one in found)
        lines = []
        for result in found:
            lines += self._judged(result, Sayer(self.words, results))
        return "\n".join(lines) + "\n" if lines else ""

    def _sign(self, given: Given, results: Sequence[Result]) -> str:
        assert given.sign is not None
        sign = self.words.knowledge.signs[given.sign]
        title = next((self.words.result(one) for one in results if one.id == given.id), safe(sign.title))
        lines = [
            f"  {title}: {'seen' if given.seen else 'looked for, not there'}",
            *self._wrapped(safe(sign.look)),
        ]
        if given.seen and sign.stop_use:
            lines += self._wrapped(f"STOP: {safe(sign.stop_use)}", "! ")
        for caution in sign.cautions if given.seen else ():
            lines += self._wrapped(self.words.caution(caution), "! ")
        return "\n".join(lines) + "\n"

    def _judged(self, result: Result, sayer: Sayer) -> Iterator[str]:
        if isinstance(result, Measured):
            for line in judged_lines(result, self.words, sayer):
                yield from self._wrapped(line, "  ")

    def doubts(self, given: Given, results: Iterable[Result], sayer: Sayer) -> tuple[str, ...]:
        """Whether what was given is meant: what looks wrong with it, in words."""
        return tuple(
            sayer.say(question.says)
            for result in results
            if isinstance(result, Measured) and result.id == given.id
            for question in result.questions
            if not question.of_limit
        )

    def meant(self, doubts: Sequence[str]) -> str:
        """The question whether an answer is meant."""
        lines = [line for text in doubts for line in self._wrapped(f"Is this meant? {sentence(text)}", "? ")]
        return "\n".join([*lines, "  Enter keeps it; or give it again"]) + f"\n{PROMPT}"

    def unclear(self, error: Unclear) -> str:
        """Why an answer cannot be taken, and what was perhaps meant."""
        return unclear_text(error, self._wrapped)

    def not_saved(self, reason: str) -> str:
        """An answer that could not be written."""
        return "\n".join(self._wrapped(f"Not saved: {reason}. Give it again.", "  ")) + "\n"

    def noted(self, text: str) -> str:
        """What was done that is not an answer."""
        return "\n".join(self._wrapped(text, "  ")) + "\n"

    def _wrapped(self, text: str, mark: str = "  ") -> list[str]:
        return textwrap.wrap(
            text, self.width, initial_indent=mark, subsequent_indent=" " * len(mark), break_on_hyphens=False
        )


def judged_lines(result: Measured, words: Words, sayer: Sayer) -> Iterator[str]:
    """How a reading is judged, beside its limit; why, where it is not."""
    limit = words.limit(result)
    basis = "" if result.basis in (None, "limit") else f", {say.BASES[result.basis]}"
    beside = f" ({limit}{basis})" if limit else ""
    yield f"{words.value(result)}{beside}: {words.judged(result)}"
    if result.verdict in ("invalid", "unjudged"):
        for note in result.notes[:2]:
            yield sentence(sayer.say(note))


def unclear_sentence(error: Unclear) -> str:
    """Why an answer cannot be taken."""
    message = _UNCLEAR.get(error.message, error.message)
    accepted = f"; {error.accepted}" if error.accepted else ""
    return sentence(f"{message}{accepted}.")


def unclear_text(error: Unclear, wrapped: Callable[[str], list[str]]) -> str:
    """Why an answer cannot be taken, and what was perhaps meant."""
    lines = wrapped(unclear_sentence(error))
    if error.likely is not None:
        lines.append(f"  Enter takes {safe(error.likely)}")
    return "\n".join(lines) + "\n"


def _shown(value: Any) -> str:
    if isinstance(value, dict):
        return safe(" ".join(str(one) for one in value.values()))
    return safe(" ".join(str(one) for one in value) if isinstance(value, list) else str(value))
