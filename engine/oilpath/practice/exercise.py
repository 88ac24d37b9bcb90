"""One session: what is suspected, which step is made, what is expected of it, what it shows; then what is named.

Everything follows from the setup and the lines that were typed: a session is kept as these, and goes on by giving the
same lines again.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from oilpath.documents.load import load_sheet
from oilpath.documents.sheet import Sheet
from oilpath.flow import Measured, Result
from oilpath.judging import judge
from oilpath.practice.catalogue import fitting, of_kind, suspects
from oilpath.practice.records import (
    ACTIONS,
    SOUND,
    Ask,
    Chosen,
    Ended,
    Event,
    Expected,
    Help,
    Hides,
    Hint,
    Key,
    Listed,
    Option,
    Read,
    Refused,
    Setup,
    Side,
    SoFar,
    Stage,
    Suspected,
    Taken,
)
from oilpath.records import dataclass
from oilpath.units import QUANTITIES, parse

_SHOWN: Final = 12
_QUIT, _HELP, _HINT, _NAME, _SHEET, _BACK, _AGAIN = "q", "?", "h", "n", "s", "b", "r"
_NOTHING: Final = ("-", "nothing", "none")
_USUAL: Final = ("ok", "in", "usual", "in order", "normal", "good")
_BELOW: Final = ("low", "lower", "below", "less", "short", "fast", "faster")
_ABOVE: Final = ("high", "higher", "above", "more", "long", "slow", "slower")
_NUMBER: Final = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?")
_AMOUNT: Final = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?\s*\S.*")


@dataclass(frozen=True, slots=True)
class Repair:
    """A cause named at the end, and the repair chosen for it."""

    cause: Key
    action: str = ""


@dataclass(frozen=True, slots=True)
class State:
    """Where a session stands."""

    stage: Stage = "suspect"
    suspected: Key | None = None
    step: str = ""
    choices: tuple[str, ...] = ()
    taken: tuple[Taken, ...] = ()
    named: tuple[Repair, ...] = ()

    @property
    def minutes(self) -> float:
        """The bill so far."""
        return sum(one.minutes for one in self.taken)


class Exercise:
    """A session on a hidden machine. complaint: the customer's words; lines: what was typed so far, in order."""

    def __init__(self, setup: Setup, hidden: Hides, complaint: str, lines: Sequence[str] = ()) -> None:
        self.setup, self.hidden, self.complaint = setup, hidden, complaint
        self.bench = hidden.bench
        self.options: dict[str, Option] = {one.id: one for one in hidden.options}
        self.suspects = {" ".join(one.key): one for one in suspects(self.bench)}
        self.state = State()
        self.lines: list[str] = []
        for line in lines:
            self.give(line)

    # --- what is asked and answered -----------------------------------------------------

    @property
    def ask(self) -> Ask:
        """What is asked for now."""
        choices = self.state.choices
        if self.state.stage == "expect":
            choices = self.options[self.state.step].outcomes
        elif self.state.stage == "repair":
            choices = ACTIONS
        return Ask(self.state.stage, choices)

    @property
    def over(self) -> bool:
        """Whether the session has ended."""
        return self.state.stage in ("done", "left")

    def give(self, line: str) -> tuple[Event, ...]:
        """Take a line and return what to show for it; nothing once the session is over."""
        if self.over:
            return ()
        self.lines.append(line)
        text = " ".join(line.split())[:200]
        stage = self.state.stage
        match text.lower():
            case "q":
                self.state = replace(self.state, stage="left", choices=())
                return (Ended(left=True),)
            case "?":
                return (Help(stage),)
            case "s":
                return (SoFar(),)
            case "h" if stage in ("suspect", "step"):
                return (self._hint(),)
            case "n" if stage in ("suspect", "step"):
                self.state = replace(self.state, stage="name", choices=())
                return ()
            case "b" if stage in ("step", "expect", "name"):
                back: Stage = "step" if stage == "expect" else "suspect"
                self.state = replace(self.state, stage=back, choices=())
                return ()
        answers = {
            "suspect": self._suspect, "step": self._step, "expect": self._expect, "trust": self._trust,
            "name": self._name, "repair": self._repair, "more": self._more,
        }  # fmt: skip
        return answers[stage](text)

    # --- suspect ------------------------------------------------------------------------

    def _suspect(self, text: str) -> tuple[Event, ...]:
        if not text and (self.state.suspected is not None or self.state.taken):
            self.state = replace(self.state, stage="step", choices=())
            return ()
        if text.lower() in _NOTHING:
            self.state = replace(self.state, stage="step", suspected=None, choices=())
            return (Suspected(None),)
        key, events = self._one_cause(text)
        if key is None:
            return events
        self.state = replace(self.state, stage="step", suspected=key, choices=())
        return (Suspected(key),)

    def _one_cause(self, text: str) -> tuple[Key | None, tuple[Event, ...]]:
        """The one cause that a text names, or what to show if there is not exactly one."""
        found = self._picked(text) or fitting(text, ((id_, one.name) for id_, one in self.suspects.items()))
        if len(found) == 1:
            return self.suspects[found[0]].key, ()
        return None, self._listed("causes", found, text)

    def _picked(self, text: str) -> tuple[str, ...]:
        """What a number stands for in the list on the screen."""
        if text.isascii() and text.isdecimal() and 1 <= int(text) <= len(self.state.choices):
            return (self.state.choices[int(text) - 1],)
        return ()

    def _listed(self, kind: str, found: Sequence[str], text: str) -> tuple[Event, ...]:
        shown = tuple(found[:_SHOWN])
        self.state = replace(self.state, choices=shown)
        if not shown:
            return (Refused("nothing-fits" if text else "say-something", text),)
        return (Listed("causes" if kind == "causes" else "steps", shown, len(found) - len(shown)),)

    # --- the step -----------------------------------------------------------------------

    def _step(self, text: str) -> tuple[Event, ...]:
        if not text:
            kinds = tuple(dict.fromkeys(one.test for one in self.options.values() if one.test))
            self.state = replace(self.state, choices=kinds)
            return (Listed("tests", kinds),)
        picked = self._picked(text)
        if picked and picked[0] not in self.options:  # a test: its readings
            found = of_kind(picked[0], tuple(self.options.values()))
        else:
            found = picked or fitting(text, ((id_, one.name) for id_, one in self.options.items()))
        if len(found) != 1:
            return self._listed("steps", found, text)
        (step,) = found
        if self.options[step].check and any(one.step == step for one in self.state.taken):
            return (Refused("made-already", text),)
        self.state = replace(self.state, stage="expect", step=step, choices=())
        return (Chosen(step, self.cost(step)),)

    def cost(self, step: str) -> float:
        """Minutes that a step costs now."""
        option = self.options[step]
        begun = option.test and any(self.options[one.step].test == option.test for one in self.state.taken)
        return option.again if begun else option.minutes

    # --- commit, pay, read --------------------------------------------------------------

    def _expect(self, text: str) -> tuple[Event, ...]:
        option = self.options[self.state.step]
        expected = self._outcome_expected(text, option) if option.check else self._side_expected(text, option)
        if expected is None:
            return (Refused("not-expected", text),)
        return self._made(option, expected, again=False)

    def _outcome_expected(self, text: str, option: Option) -> Expected | None:
        words = option.outcomes
        if text.isascii() and text.isdecimal() and 1 <= int(text) <= len(words):
            return Expected(words[int(text) - 1], typed=text)
        wanted = text.lower().replace(" ", "-")
        fits = [word for word in words if wanted and word.startswith(wanted)]
        return Expected(fits[0], typed=text) if len(fits) == 1 else None

    def _side_expected(self, text: str, option: Option) -> Expected | None:
        word = text.lower()
        kind = self.bench.knowledge.tests[option.test]
        for side, words in (("usual", _USUAL), ("below", _BELOW), ("above", _ABOVE)):
            if word in words:
                return Expected(side, typed=text)
        if kind.quantity is None or kind.quantity not in QUANTITIES:
            return None
        unit = kind.unit or QUANTITIES[kind.quantity].unit
        written = f"{text} {unit}" if _NUMBER.fullmatch(text) else text
        if not _AMOUNT.fullmatch(written):
            return None
        try:
            return Expected(value=parse(written, kind.quantity), typed=written)
        except ValueError:
            return None

    def _made(self, option: Option, expected: Expected, *, again: bool) -> tuple[Event, ...]:
        nth = sum(one.step == option.id for one in self.state.taken)
        cost = self.cost(option.id)
        if option.check:
            outcome = self.hidden.outcome(option)
            row: Mapping[str, Any] | None = {"test": "check", "check": option.check, "part": option.part,
                                             "outcome": outcome}  # fmt: skip
            taken = Taken(option.id, self.state.suspected, expected, cost, row, outcome=outcome)
        else:
            slip = self.hidden.slip(option, nth, self.setup.rules.slips)
            row = self.hidden.reading(option, nth, slip)
            side = self.side(option, row)
            taken = Taken(option.id, self.state.suspected, expected, cost, row, slip, side, again=again)
        after: Stage = "trust" if self.setup.rules.slips and not option.check and row is not None else "suspect"
        self.state = replace(self.state, stage=after, taken=(*self.state.taken, taken), choices=())
        return (Read(taken, self.state.minutes),)

    def _trust(self, text: str) -> tuple[Event, ...]:
        if text.lower() == _AGAIN:
            last = self.state.taken[-1]
            return self._made(self.options[last.step], last.expected, again=True)
        self.state = replace(self.state, stage="suspect")
        return self._suspect(text) if text else ()  # whoever goes on has trusted it

    # --- the end ------------------------------------------------------------------------

    def _name(self, text: str) -> tuple[Event, ...]:
        key, events = self._one_cause(text)
        if key is None:
            return events
        stage: Stage = "done" if key == SOUND else "repair"
        self.state = replace(self.state, stage=stage, named=(*self.state.named, Repair(key)), choices=())
        shown: tuple[Event, ...] = (Suspected(key, named=True),)
        return (*shown, Ended()) if stage == "done" else shown

    def _repair(self, text: str) -> tuple[Event, ...]:
        wanted = text.lower().replace(" ", "-")
        number = int(text) - 1 if text.isascii() and text.isdecimal() else -1
        fits = (
            [ACTIONS[number]] if 0 <= number < len(ACTIONS) else [a for a in ACTIONS if wanted and a.startswith(wanted)]
        )
        if len(fits) != 1:
            return (Refused("no-repair", text),)
        named = (*self.state.named[:-1], replace(self.state.named[-1], action=fits[0]))
        most = max(self.setup.rules.causes)
        stage: Stage = "more" if len(named) < most else "done"
        self.state = replace(self.state, stage=stage, named=named, choices=())
        return (Ended(),) if stage == "done" else ()

    def _more(self, text: str) -> tuple[Event, ...]:
        if not text or text.lower() in _NOTHING:
            self.state = replace(self.state, stage="done", choices=())
            return (Ended(),)
        return self._name(text)

    # --- what was read ------------------------------------------------------------------

    def rows(self, taken: Sequence[Taken] | None = None) -> list[Mapping[str, Any]]:
        """The lines of the sheet so far. If a reading was repeated, only the last one counts."""
        last = {one.step: one.row for one in (self.state.taken if taken is None else taken)}
        return [row for row in last.values() if row is not None]

    def sheet(self, rows: Sequence[Mapping[str, Any]]) -> Sheet:
        """A sheet of this machine with these lines."""
        data: dict[str, Any] = {"oilpath": "sheet/1", "machine": self.setup.machine, "hours": self.hidden.hours}
        if self.complaint:
            data["complaint"] = self.complaint
        data |= {"conditions": self.hidden.conditions, "readings": [*rows]}
        return load_sheet("practice.yaml", self.bench.knowledge, text=json.dumps(data, ensure_ascii=False))

    def results(self) -> tuple[Result, ...]:
        """What was read so far, judged."""
        return tuple(judge(self.sheet(self.rows()), self.bench))

    def result_of(self, row: Mapping[str, Any] | None) -> tuple[Result, ...]:
        """One line of the sheet, judged by itself."""
        return () if row is None else tuple(judge(self.sheet([row]), self.bench))

    def side(self, option: Option, row: Mapping[str, Any] | None) -> Side:
        """Whether a reading is below, within or above its limits."""
        result = next((one for one in self.result_of(row) if one.id == option.id), None)
        if not isinstance(result, Measured) or result.verdict in ("invalid", "unjudged"):
            return "unjudged"
        if result.verdict != "fail":
            return "usual"
        kind = self.bench.knowledge.tests[option.test]
        return "above" if result.deviation == kind.more_is else "below"

    def _hint(self) -> Event:
        if not self.setup.rules.hints:
            return Refused("no-hints")
        from oilpath.practice.compare import best_steps

        return Hint(best_steps(self, self.rows())[:3])
