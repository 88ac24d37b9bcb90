"""Figures, verdicts, probabilities and weights in words; the titles are those of `wording`."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Final, Literal

from oilpath.documents.machine import Machine
from oilpath.flow import (
    CheckResult,
    CodeResult,
    Computed,
    ConditionWord,
    Measured,
    NextCheck,
    Result,
    Severity,
    SignResult,
)
from oilpath.knowledge.base import Knowledge
from oilpath.reports.names import Titles, safe, spaced
from oilpath.session.fits import Lack
from oilpath.units import CUSTOMARY, UNITS, figure, from_unit, to_unit, unit_of

#: How sure, from a probability: a scale of our own with eight steps. Each applies from its figure up to the next.
SURE: Final = (
    (0.95, "almost certain"),
    (0.80, "very likely"),
    (0.60, "likely"),
    (0.40, "about even"),
    (0.20, "possible"),
    (0.05, "less likely"),
    (0.01, "unlikely"),
    (0.00, "very unlikely"),
)

#: How strong the evidence of a reading is, from its weight in decibans (10 dB: ten times as probable).
STRENGTH: Final = ((10.0, "strongly"), (5.0, "clearly"), (1.0, "slightly"))

VERDICTS: Final[Mapping[str, str]] = {
    "pass": "in order",
    "near": "near the limit",
    "fail": "out",
    "invalid": "not valid",
    "unjudged": "not judged",
}

BASES: Final[Mapping[str, str]] = {
    "limit": "limit of this machine",
    "estimate": "estimate from dimensions, no substitute for the service information",
    "baseline": "this machine's earlier readings",
    "sister": "a sister machine, a weak reference",
    "twin": "its counterpart: the other side, direction or pump",
}

#: How a disturbed parameter is shown with its figure. The first text is for a ratio to the sound machine's value, with
#: `78 % of` or `7 times` for {}; the second is for a figure with a unit.
_PARAMETERS: Final[Mapping[str, tuple[str, str]]] = {
    "speed": ("engine speed {} its test speed", "engine speed {}"),
    "drive-speed": ("pumps turning at {} their speed", "pumps turning at {}"),
    "viscosity": ("oil at {} its usual viscosity", "viscosity {}"),
    "fill": ("inlet filling {} the displacement", "fill {}"),
    "stroke": ("stroke {} full", "stroke {}"),
    "leakage": ("losing {} one main pump's flow at relief pressure", "losing {} at relief pressure"),
    "bypass": ("passing {} one main pump's flow at relief pressure", "passing {} at relief pressure"),
    "torque": ("torque limit {} normal", "torque limit {}"),
    "opening": ("letting through {} the flow", "letting through {}"),
    "drag": ("drag {} the relief pressure", "drag {}"),
    "back-pressure": ("back pressure {} the relief pressure", "back pressure {}"),
    "setting": ("setting {} normal", "setting {}"),
    "regeneration": ("{} the regeneration flow left", "regeneration flow {}"),
    "held-leak": ("leakage {} a sound one's", "leaking {}"),
    "held-gap": ("leakage {} a sound one's", "leaking {}"),
    "intake": ("intake letting in {} the full flow", "intake {}"),
    "seal-leak": ("leakage {} the drift of a sound one", "leaking {}"),
    "creep": ("creeping {} a sound one's drift", "creeping {}"),
    "offset": ("reading {} the true value", "offset {}"),
    "scatter": ("scatter {} the usual", "scatter {}"),
    "cooling": ("cooling explains {} the drift", "cooling {}"),
    "heat": ("oil at {} its usual viscosity through heat", "viscosity {}"),
    "effectiveness": ("{} its sound effect left", "effect {}"),
    "switching": ("opening {} its usual stroke in its time", "opening {}"),
    "charge": ("charge {} normal", "charge {}"),
    "priority": ("keeping {} its speed while others work", "keeping {} of its speed"),
    "load": ("load {} normal", "load {}"),
}

_PERCENT: Final = re.compile(r", (?:about |under |over )?\d+%")
_VAGUE: Final = 8.0  # a range wider than this factor says nothing about how bad it is
_NARROW_FLOW: Final = from_unit(1.0, "L/min")  # below this a flow reads better in mL/min

Units = Literal["si", "us"]
"""units of the figures that people read: those of the answers, or US customary ones"""


class Words(Titles):
    """Titles, and figures in the chosen units.

    Texts of the knowledge base (how to do a check, cautions) keep the units they are written in.
    """

    def __init__(self, knowledge: Knowledge, machine: Machine | None = None, units: Units = "si") -> None:
        super().__init__(knowledge, machine)
        self.units = units

    def unit(self, result: Result) -> str | None:
        """The unit of a result's numbers in answers, whatever unit people read; None if it has none."""
        if not isinstance(result, Measured) or result.quantity is None:
            return None
        kind = self.knowledge.tests.get(result.test)
        if kind is not None and kind.unit is not None:
            return kind.unit
        return unit_of(result.quantity) if result.quantity in UNITS else None

    def shown(self, unit: str) -> str:
        """The unit shown to people instead of that of the answer, for `to_unit`; its name is `named(unit)`."""
        return CUSTOMARY.get(unit, unit) if self.units == "us" else unit

    def written_unit(self, test: str) -> str:
        """The unit in which people write what a test measures; empty if it has none."""
        kind = self.knowledge.tests[test]
        unit = kind.unit or (unit_of(kind.quantity) if kind.quantity is not None and kind.quantity in UNITS else None)
        return "" if unit is None else named(self.shown(unit))

    def number(self, value: float, unit: str, u: float | None = None) -> str:
        """An SI value for people, three significant digits (more if there are more before the decimal point).

        With u, `± u` in two digits, and the value to the same place [JCGM 100:2008, 7.2.6].
        """
        unit = self.shown(unit)
        value, spread = to_unit(value, unit), 0.0 if u is None else difference(u, unit)
        if spread <= 0:
            return f"{_figure(value)} {named(unit)}"
        places = 1 - math.floor(math.log10(spread))
        return f"{figure(round(value, places), 12)} ± {figure(spread, 2)} {named(unit)}"

    def amount(self, value: float, quantity: str | None, digits: int = 3, unit: str = "") -> str:
        """An SI figure with its unit (the usual one, or `unit`), in significant digits; 0: a whole number."""
        if quantity is None:
            return figure(value, digits)
        unit = unit or unit_of(quantity)
        return f"{self._rounded(value, unit, digits)} {named(self.shown(unit))}"

    def between(self, window: tuple[float | None, float | None], quantity: str, digits: int = 3) -> str:
        """A range in SI: `50 to 60 °C`, `at least 50 °C`; one figure if both ends are the same."""
        low, high = window
        if low is not None and high is not None and low != high:
            return f"{self._rounded(low, unit_of(quantity), digits)} to {self.amount(high, quantity, digits)}"
        end = low if low is not None else high
        if end is None:
            return "any"
        only = "" if low == high else "at least " if high is None else "at most "
        return only + self.amount(end, quantity, digits)

    def stretch(self, value: float, quantity: str | None) -> str:
        """A hold in minutes, a distance in metres, a number of turns as it is."""
        return self.amount(value, quantity, 3, {"time": "min", "length": "m"}.get(quantity or "", ""))

    def _rounded(self, value: float, unit: str, digits: int) -> str:
        """In the reader's unit; if that is not the answer's, with one digit more than there, at least three."""
        shown = self.shown(unit)
        if digits == 0:
            return f"{to_unit(value, shown):.0f}"
        text = figure(to_unit(value, unit), digits)
        if shown == unit:
            return text
        return _figure(to_unit(value, shown), max(3, 1 + len(text.replace(".", "").lstrip("-0"))))

    def value(self, result: Result) -> str:
        """What was measured or noted, in words."""
        match result:
            case SignResult():
                return "said" if result.heard else "seen" if result.seen else "not seen"
            case CodeResult(active=None):
                return "–"
            case CodeResult():
                return "active" if result.active else "stored"
            case CheckResult():
                return spaced(result.outcome)
            case ConditionWord():
                return safe(result.word)
            case _:
                return self.figure(result, result.value)

    def figure(self, result: Measured, value: float) -> str:
        """An SI value of what a result measures, in its unit."""
        unit = self.unit(result)
        if unit is None:
            return _figure(value)
        if self._sideways(result) and value:
            return f"{self.number(abs(value), unit)} {'right' if value > 0 else 'left'}"
        return self.number(value, unit)

    def _sideways(self, result: Measured) -> bool:
        """Whether its sign means a side, not more or less."""
        kind = self.knowledge.tests.get(result.test)
        return kind is not None and kind.more_is == "right"

    def uncertainty(self, result: Measured) -> str | None:
        """The standard uncertainty in the result's unit."""
        unit = self.unit(result)
        if result.uncertainty is None or unit is None:
            return None
        unit = self.shown(unit)
        return f"{figure(difference(result.uncertainty, unit), 2)} {named(unit)}"

    def limit(self, result: Measured) -> str:
        """The accepted range in words: `max 4.9 s`, `33.3 to 35.3 MPa`; empty if there is none."""
        unit = self.unit(result)
        if unit is None:
            return ""
        unit = self.shown(unit)
        name = named(unit)
        digits = self._digits(result)
        low = None if result.min is None else _figure(to_unit(result.min, unit), digits)
        high = None if result.max is None else _figure(to_unit(result.max, unit), digits)
        if low is not None and high is not None:
            if self._sideways(result) and result.min == -(result.max or 0.0):
                return f"within ±{high} {name}"
            return f"{low} to {high} {name}"
        if high is not None:
            return f"max {high} {name}"
        return f"min {low} {name}" if low is not None else ""

    def new(self, result: Measured) -> str | None:
        """The value of a new machine."""
        unit = self.unit(result)
        if result.new is None or unit is None:
            return None
        unit = self.shown(unit)
        return f"{_figure(to_unit(result.new, unit), self._digits(result))} {named(unit)}"

    @staticmethod
    def _digits(result: Measured) -> int:
        """A stated limit is shown as it is; a computed one only as fine as it is known."""
        return 4 if result.basis in (None, "limit") else 3

    def judged(self, result: Result) -> str:
        """Verdict and how sure: `out, almost certain`; empty for signs, codes and checks, which are only noted."""
        if not isinstance(result, Measured):
            return "" if not isinstance(result, ConditionWord) else VERDICTS[result.verdict]
        out = result.probability_out
        if out is None or result.verdict in ("invalid", "unjudged"):
            return VERDICTS[result.verdict]
        if result.verdict == "near":
            return f"near limit, {percent(out)} out"
        if result.verdict == "pass":
            return f"in order, {sure(1 - out)}"
        return f"out, {sure(out)}"

    def computed(self, name: str, computed: Computed) -> str:
        """A figure computed for a result, with its standard uncertainty: `leakage 3.4 ± 0.5 mL/min`."""
        if computed.quantity not in UNITS:
            return f"{spaced(name)} {_figure(computed.value)}"
        unit = unit_of(computed.quantity)
        if computed.quantity == "flow" and abs(computed.value) < _NARROW_FLOW:
            unit = "mL/min"
        # a share below zero is a difference; its sign means the side, which the result itself names
        value = abs(computed.value) if computed.quantity == "ratio" else computed.value
        return f"{spaced(name)} {self.number(value, unit, computed.uncertainty)}"

    def severity(self, severity: Severity) -> str:
        """How bad, with its range: `losing 34 L/min at relief pressure (26 to 45)`; empty where no figure is."""
        if severity.parameter not in _PARAMETERS:
            return ""
        if severity.low > 0 and severity.high > _VAGUE * severity.low:
            return ""
        share, plain = _PARAMETERS[severity.parameter]
        if severity.quantity not in UNITS or severity.quantity == "ratio":
            return _as_ratio(share, severity)
        unit = self.shown(unit_of(severity.quantity))
        low, high = (_figure(to_unit(value, unit), 2) for value in (severity.low, severity.high))
        middle = f"about {_figure(to_unit(severity.median, unit), 2)} {named(unit)}"
        return f"{plain.format(middle)} ({low} to {high})"

    def disturbed(self, parameter: str, value: float) -> str:
        """A disturbed parameter at one value, as a ratio: `stroke about 60 % of full`; empty where no figure is."""
        if parameter not in _PARAMETERS:
            return ""
        share = f"about {figure(value, 2)} times" if value >= 2 else f"about {figure(value * 100, 2)} % of"
        return _PARAMETERS[parameter][0].format(share)


def _as_ratio(template: str, severity: Severity) -> str:
    """Ratios from two on as `7 times`, smaller ones as a percentage."""
    figures = (severity.median, severity.low, severity.high)
    if severity.median >= 2:
        middle, low, high = (figure(value, 2) for value in figures)
        return f"{template.format(f'about {middle} times')} ({low} to {high})"
    middle, low, high = (figure(value * 100, 2) for value in figures)
    return f"{template.format(f'about {middle} % of')} ({low} to {high} %)"


def check_needs(check: NextCheck) -> str:
    """Minutes and tools of a check: `20 min; pressure gauge`."""
    tools = ", ".join(safe(tool) for tool in check.tools)
    minutes = f"about {_figure(check.minutes, 2)} min"
    return f"{minutes}; {tools}" if tools else minutes


def minutes(value: float) -> str:
    """Minutes for people, hours from two hours on."""
    if value >= 120:
        return f"{figure(value / 60, 2)} h"
    return f"{figure(value, 2) if value >= 10 else max(1, round(value))} min"


def sure(probability: float) -> str:
    """How sure, in the words of `SURE`."""
    return next(word for floor, word in SURE if probability >= floor or floor == 0.0)


def how_sure(probability: float) -> str:
    """How sure in words and as a percentage: `very likely, 94%`."""
    return f"{sure(probability)}, {percent(probability)}"


def percent(probability: float) -> str:
    """A probability as a percentage; never 0% or 100% unless exactly that.

    Written without a space, to keep it on one line.
    """
    whole = round(probability * 100)
    if whole == 0 and probability > 0.0:
        return "under 1%"
    if whole == 100 and probability < 1.0:
        return "over 99%"
    return f"{whole}%"


def about(probability: float) -> str:
    """A probability as `about 71%`, `over 99%`."""
    text = percent(probability)
    return f"about {text}" if text[0].isdigit() else text


def without_percent(text: str) -> str:
    """A sentence without the percentages behind the words for how sure: `(likely, 62%)` becomes `(likely)`."""
    return _PERCENT.sub("", text)


def weight(decibans: float) -> str:
    """How strong the evidence of a reading is, and which way: `clearly for it`, `slightly against it`."""
    side = "for" if decibans > 0 else "against"
    for floor, word in STRENGTH:
        if abs(decibans) >= floor:
            return f"{word} {side} it"
    return "hardly either way"


def odds(decibans: float) -> str:
    """Odds in decibans as a probability for people: `about 1 in 40`."""
    chance = 1.0 / (1.0 + 10.0 ** (-decibans / 10.0)) if decibans > -300 else 0.0
    if chance >= 0.2:
        return percent(chance)
    return f"about 1 in {figure(1 / chance, 2)}" if chance > 0 else "next to never"


def named(unit: str) -> str:
    """How people write a unit: a difference in °R is one in °F."""
    return "°F" if unit == "°R" else unit


def difference(value: float, unit: str) -> float:
    """A difference or uncertainty in SI in `unit`, whose scale may have an offset."""
    return to_unit(value, unit) - to_unit(0.0, unit)


def _figure(value: float, digits: int = 3) -> str:
    if abs(value) >= 10.0**digits:
        return f"{value:.0f}"
    return figure(value, digits)


def lack_text(lack: Lack) -> str:
    """What is missing for a step: `a flow meter`, `2 people`."""
    match lack.kind:
        case "people":
            return f"{lack.what:g} people"
        case "room":
            return f"{lack.what:g} m of clear ground"
        case "minutes":
            return minutes(float(lack.what))
        case _:
            return safe(str(lack.what))
