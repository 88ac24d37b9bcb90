"""The machine behind a session: the simulator scaled to the trainee's machine, with faults hidden in it."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np

from oilpath.bench import Bench, bench_for
from oilpath.documents.load import load_sheet
from oilpath.documents.machine import Machine
from oilpath.flow import Measured
from oilpath.judging import judge
from oilpath.knowledge.base import Knowledge
from oilpath.lab.family.alike import same
from oilpath.lab.family.bench import Test
from oilpath.lab.family.book import Limit
from oilpath.lab.family.draw import chance_of
from oilpath.lab.family.posed import Given, Posed, Wish, kinds, test_of
from oilpath.outcomes.table import SOUND as NO_CAUSE
from oilpath.outcomes.table import likelihoods
from oilpath.practice.catalogue import options
from oilpath.practice.records import SOUND, Felt, Key, Option, Setup, Slip
from oilpath.session.day import prepare
from oilpath.units import to_unit

_UNITS: Final = {"time": "s", "length": "mm", "distance": "m", "pressure": "MPa", "flow": "L/min", "rotation": "rpm",
                 "angle": "deg", "temperature": "°C"}  # fmt: skip
"""units of the simulator's figures"""
_COLD: Final = 31.0
"""°C of a reading that is taken too early in the day"""
_OTHER: Final = {"MPa": "bar", "bar": "psi", "psi": "bar", "L/min": "gpm", "gpm": "L/min", "mm": "in", "in": "mm"}
"""the unit that slips in for another"""
_FIGURE: Final = re.compile(r"([0-9]+(?:\.[0-9]+)?)( ?)(.*)")
_VALUES: Final = ("times", "moved", "pressure", "flow", "speed", "angle", "temperature")
_ABSOLUTE: Final = ("creep", "temperature")
"""tests whose figures are not scaled: sound machines show next to nothing"""


class NoMachine(Exception):
    """Practice is not possible: the simulator has no such circuit, or no fault would show on this machine."""

    def __init__(self, circuit: str, accepted: tuple[str, ...]) -> None:
        super().__init__(circuit)
        self.circuit, self.accepted = circuit, accepted


class Hidden:
    """A machine with hidden faults. The same setup and knowledge base always give the same faults."""

    def __init__(self, setup: Setup, machine: Machine, knowledge: Knowledge) -> None:
        if machine.circuit.id not in kinds():
            raise NoMachine(machine.circuit.id, tuple(kinds()))
        self.bench: Bench = bench_for(machine, knowledge)
        self._seed = setup.seed
        plan = prepare(machine, knowledge)
        written = json.dumps(setup.machine, ensure_ascii=False)
        units = "us" if " psi" in written else "bar" if " bar" in written else "metric"
        self._posed = Posed(_given(machine, units, plan.oil_temperature), setup.seed)
        there = set(self._posed.tests())
        self.options: tuple[Option, ...] = ()
        self._tests: dict[str, Test] = {}
        for option in options(self.bench):
            test = test_of(option.test, option.keys) if option.test else None
            if option.check or test in there:
                self.options = (*self.options, option)
            if test is not None and test in there:
                self._tests[option.id] = test
        self._factors, limits, loose = self._anchored(setup.machine, knowledge)
        self._tests = {id_: test for id_, test in self._tests.items() if id_ not in loose}
        self.options = tuple(one for one in self.options if one.id not in loose)
        many = setup.rules.causes[int(chance_of(setup.seed, "many").integers(len(setup.rules.causes)))]
        known = frozenset((one.cause.cause, one.part) for one in self.bench.hypotheses if _nameable(one.part))
        try:
            self._hidden = self._posed.hide(Wish(many, known, setup.rules.common, limits, tuple(self._tests.values())))
        except ValueError:
            raise NoMachine(machine.circuit.id, ()) from None
        self.truths: tuple[Key, ...] = self._hidden.truths or (SOUND,)
        self.hours = self._posed.hours
        self.signs: tuple[Mapping[str, Any], ...] = tuple(self._hidden.signs)
        felt = self._hidden.felt
        self.felt = (
            Felt() if felt.test is None else Felt(felt.test.name, dict(felt.test.keys), felt.more, felt.everything)
        )
        self.conditions = self._conditions(plan.oil_temperature)

    def reading(self, option: Option, nth: int, slip: Slip) -> Mapping[str, Any] | None:
        """The `nth` reading of a step as a line of the sheet; None where nothing moves."""
        test, factor = self._tests[option.id], self._factors[option.id]
        if slip == "lever":
            factor *= 1.45 if option.test.endswith("-time") else 0.8
        row = self._hidden.reading(test, factor, nth, celsius=_COLD if slip == "oil" else None)
        if row is None:
            return None
        if slip == "oil":
            degrees = f"{_COLD:.0f} °C" if self._posed.given.units != "us" else f"{1.8 * _COLD + 32:.0f} °F"
            row["conditions"] = {"oil-temperature": degrees}
        return _slipped(row, slip, chance_of(self._seed, "slip", option.id, nth))

    def slip(self, option: Option, nth: int, chance: float) -> Slip:
        """The mistake made the `nth` time a step is done. Usually there is none, and never two in a row."""
        rng, kinds_ = chance_of(self._seed, "slips", option.id, nth), slips_of(option)
        if nth or not kinds_ or rng.random() >= chance:
            return "none"
        return kinds_[int(rng.integers(len(kinds_)))]

    def outcome(self, option: Option) -> str:
        """The outcome of a check: from the simulator's physics; if that has none, drawn from the knowledge base."""
        found = self._hidden.check(option.check, option.part)
        if found in option.outcomes:
            return str(found)
        check = next(one for one in self.bench.knowledge.checks if one.check == option.check)
        causes = [*(NO_CAUSE if truth == SOUND else truth for truth in self.truths), NO_CAUSE]
        try:
            chance = likelihoods(check, option.part, self.bench, causes)
        except LookupError:
            chance = np.full((len(option.outcomes), len(causes)), 1 / len(option.outcomes))
        told = max(range(len(causes)), key=lambda n: float(np.abs(chance[:, n] - chance[:, -1]).sum()))
        odds = np.clip(chance[:, told], 0, None)
        rng = chance_of(self._seed, "look", option.id)
        return option.outcomes[int(rng.choice(len(odds), p=odds / odds.sum()))]

    def is_truth(self, key: Key, truth: Key) -> bool:
        """Whether a cause that was named is this truth, kinds that no reading tells apart counted as one."""
        return key == truth or (SOUND not in (key, truth) and same(*key, truth))

    # --- the trainee's machine --------------------------------------------------------------

    def _anchored(
        self, machine: Mapping[str, Any], knowledge: Knowledge
    ) -> tuple[dict[str, float], dict[Test, Limit], frozenset[str]]:
        """For each reading the factor from the simulator's figure to this machine's, and its limits in the former.

        Last the readings that are judged by an estimate from sizes which the simulator does not share.
        """
        still = self._posed.hide(Wish(0, frozenset()))
        rows = {id_: still.reading(test, 1.0, 0) for id_, test in self._tests.items()}
        sheet = {"oilpath": "sheet/1", "machine": machine, "readings": [row for row in rows.values() if row]}
        read = load_sheet("practice.yaml", knowledge, text=json.dumps(sheet))
        judged = {one.id: one for one in judge(read, self.bench) if isinstance(one, Measured)}
        factors, limits = dict.fromkeys(self._tests, 1.0), {}
        for id_, test in self._tests.items():
            result = judged.get(id_)
            if result is None or result.quantity is None or result.basis != "limit":
                continue
            unit, own = _UNITS.get(result.quantity, ""), self._posed.new(test)
            new = _new(result, knowledge)
            if not unit or new is None or own <= 0 or test.name in _ABSOLUTE:
                continue
            factors[id_] = to_unit(new, unit) / own
            low, high = (None if end is None else to_unit(end, unit) / factors[id_] for end in (result.min, result.max))
            limits[test] = Limit(low, high)
        stalls = [factors[id_] for id_, test in self._tests.items() if test in limits and test.name == "stall-pressure"]
        if stalls:
            usual = float(np.mean(stalls))
            factors |= {
                id_: usual
                for id_, test in self._tests.items()
                if test not in limits and test.name in ("stall-pressure", "pressure")
            }
        loose = frozenset(id_ for id_ in self._tests if id_ in judged and judged[id_].basis == "estimate")
        return factors, limits, loose

    def _conditions(self, window: tuple[float | None, float | None] | None) -> dict[str, Any]:
        """Conditions that a careful person notes. Conditions that would give the fault away are left out."""
        celsius = self._posed.day.celsius
        us = self._posed.given.units == "us"
        found = {"oil-temperature": f"{1.8 * celsius + 32:.0f} °F" if us else f"{celsius:.0f} °C"}
        causes = {cause for cause, _ in self.truths}
        if "load.not-reference" not in causes:
            found["attachment"] = "empty"
        if "setup.wrong-setting" not in causes:
            found |= {"auto-idle": "off", "working-setting": "full"}
        return found


def _nameable(part: str) -> bool:
    return part != "both"


def _new(result: Measured, knowledge: Knowledge) -> float | None:
    """Readings of the machine when new: as stated, else from its limits by the usual ratios in the knowledge base."""
    kind = knowledge.tests[result.test]
    if result.new is not None:
        return result.new
    if result.min is not None and result.max is not None:
        return (result.min + result.max) / 2
    if result.max is not None:
        return result.max * (kind.new_from_max or 0.85)
    return None if result.min is None else result.min * (kind.new_from_min or 1.05)


def _given(machine: Machine, units: str, window: tuple[float | None, float | None] | None) -> Given:
    feeds = machine.allocation
    sizes = [one.displacement for name, one in machine.parts.items() if name in feeds.pumps and one.displacement]
    stalls = [
        end
        for limit in machine.limits
        if limit.test == "stall-pressure" and (end := limit.new or limit.min or limit.max) is not None
    ]
    celsius = None
    if window is not None:
        ends = [one - 273.15 for one in window if one is not None]
        celsius = round(sum(ends) / len(ends)) if len(ends) == 2 else round(ends[0] + 4)
    return Given(
        machine.circuit.id,
        {group: pump for pump, groups in feeds.pumps.items() for group in groups},
        dict(feeds.merge),
        frozenset(machine.absent),
        machine.control or machine.circuit.control,
        units,
        to_unit(sizes[0], "cm3/rev") if sizes else None,
        to_unit(max(stalls), "MPa") if stalls else None,
        celsius,
    )


# --- slips --------------------------------------------------------------------------------


def slips_of(option: Option) -> tuple[Slip, ...]:
    """What can be wrong with a reading of this kind."""
    if option.test.endswith("-time"):
        return ("repeat", "decimal", "oil", "lever")
    if option.test in ("drift", "case-drain"):
        return ("unit", "oil")
    return ("unit",) if option.test == "flow" or option.test.endswith("pressure") else ()


def _slipped(row: dict[str, Any], slip: Slip, rng: np.random.Generator) -> dict[str, Any]:
    key = next((one for one in _VALUES if one in row), None)
    if key is None or slip in ("none", "oil"):
        return row
    value = row[key]
    values: Sequence[str] = value if isinstance(value, list) else [value]
    if slip == "repeat":
        values = [_times(one, 1.4) if n == 1 else one for n, one in enumerate(values)]
    elif slip == "decimal":
        values = [_times(one, 10.0) for one in values]
    elif slip == "lever":
        values = [_times(one, 1 + 0.12 * float(rng.standard_normal())) for one in values]
    elif slip == "unit":
        values = [_other_unit(one) for one in values]
    return row | {key: list(values) if isinstance(value, list) else values[0]}


def _times(text: str, factor: float) -> str:
    found = _FIGURE.fullmatch(text)
    if found is None:
        return text
    number, gap, unit = found.groups()
    places = len(number.partition(".")[2])
    changed = max(float(number) * factor, 10.0**-places)
    return f"{changed:.{places}f}{gap}{unit}" if math.isfinite(changed) else text


def _other_unit(text: str) -> str:
    found = _FIGURE.fullmatch(text)
    if found is None:
        return text
    number, gap, unit = found.groups()
    return f"{number}{gap}{_OTHER.get(unit, unit)}"
