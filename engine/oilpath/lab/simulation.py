"""Simulated test sheets: what a technician would write down for a machine with given causes, or none.

A blank sheet of all readings that the machine has limits for is judged, which gives each reading's reference and its
evidence; the circuit model says what the causes do to it. On top come the scatter between sound machines (each
reading's own and the shared one of the knowledge base), the instrument's error and its resolution.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Mapping, Sequence
from fnmatch import fnmatchcase
from itertools import product
from typing import Any, Final, Literal

import numpy as np

from oilpath.bench import bench_for
from oilpath.documents.machine import Limit, Machine
from oilpath.documents.sheet import Conditions, Reading, Sheet, Veer
from oilpath.flow import Evidence, Measured, Result
from oilpath.flow.ids import placed_by, result_id
from oilpath.judging import judge
from oilpath.judging.conditions import demands
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.testkind import TestKind
from oilpath.machine.graph import CircuitGraph
from oilpath.machine.hypotheses import Hypothesis
from oilpath.physics.flows import Flows
from oilpath.physics.predictions import observe, severity_grid
from oilpath.physics.state import State
from oilpath.ranking.evidence import readings as as_arrays
from oilpath.records import dataclass
from oilpath.uncertainty import combine
from oilpath.units import QUANTITIES, from_unit, to_unit

SimulatedCause = int | tuple[str, str, str | None]
"""a hypothesis by its number in the circuit model, or as (cause, part, variant)"""
Units = Literal["metric", "us"]

REPEATS: Final = 3
"""repeats of a timed test"""
GROSS: Final = 1.5
"""a gross mistake lies up to so far from the truth: ln ratio, or m"""

_LOW: Final = 100
"""below so many steps a pressure is read on a gauge of a tenth of the span"""


@dataclass(slots=True)
class _Value:
    """One value on its way: the blank reading (None: a condition), its evidence, and what the machine shows (SI)."""

    reading: Reading | None
    evidence: Evidence
    result: Measured
    reference: float
    unsure: float
    """standard uncertainty of the reference itself, on the scale of the evidence"""
    shown: float = 0.0


def simulate(
    machine: Machine,
    knowledge: Knowledge,
    causes: Sequence[tuple[SimulatedCause, float]],
    seed: int,
    *,
    only: Sequence[str] | None = None,
    gross: float = 0.0,
    scatter: float = 1.0,
    distort: float = 0.0,
    units: Units = "metric",
    path: str | None = None,
) -> dict[str, Any]:
    """One simulated sheet as a plain mapping, as it would stand in a file; the same for the same arguments.

    Parameters
    ----------
    machine : Machine, with limits
    knowledge : Knowledge
    causes : what is wrong, each with its severity from 0 (just noticeable) to 1 (function lost); empty: sound
    seed : int, zero or more
    only : patterns of result ids (``cycle-time/*``) that are measured; None: everything with a limit
    gross : probability that one reading of the sheet is a gross mistake [-]
    scatter : factor on the scatter between sound machines [-]
    distort : standard deviation of a random error of each predicted effect, as a share of it [-]
    units : the units that the sheet is written in
    path : what the sheet names as its machine; the machine's own file where left out

    Raises
    ------
    ValueError : a cause that this machine cannot have, a severity outside 0 to 1
    """
    rng = np.random.default_rng(seed)
    bench = bench_for(machine, knowledge)
    circuit = bench.circuit
    blank = _blank(machine, knowledge, circuit, only, rng)
    results = judge(blank, bench)
    values = _values(blank, results)
    present = [(_hypothesis(cause, machine, knowledge), _share(severity)) for cause, severity in causes]
    _disturb(values, results, present, machine, knowledge, circuit, rng, scatter, distort)
    chance, which, how = rng.random(3).tolist()  # drawn in any case, so that all else stays the same
    if chance < gross:
        _spoil(values, which, how)
    much = float(rng.uniform(2.5, 6.0))  # an operator who veers that far stops
    writer = _Writer(units, float(rng.choice([0.01, 0.1])))
    shown = {value.result.id: value for value in values}
    usual = _words(blank.conditions)
    written = [_reading(reading, usual, shown, writer, much, rng) for reading in blank.readings if reading.id in shown]
    return {
        "oilpath": "sheet/1",
        "machine": path if path is not None else machine.file,
        "conditions": _conditions(blank.conditions, shown, writer),
        "readings": written,
    }


# --- the blank sheet ----------------------------------------------------------------


def _blank(
    machine: Machine, knowledge: Knowledge, circuit: CircuitGraph, only: Sequence[str] | None, rng: np.random.Generator
) -> Sheet:
    """Every reading that a limit of the machine can hold for, with a value that its test could show."""
    temperature = float(rng.integers(53, 58))
    conditions = Conditions(
        oil_temperature=from_unit(temperature, "°C"),
        engine_speed=machine.engine_speed.test if machine.engine_speed else None,
        ambient_temperature=from_unit(float(rng.integers(8, 28)), "°C"),
        attachment="empty", auto_idle="off", working_setting="full",
    )  # fmt: skip
    found: dict[str, Reading] = {}
    for limit in machine.limits:
        kind = knowledge.tests[limit.test]
        for keys in _targets(limit, kind, machine, circuit):
            reading = _blank_reading(limit, kind, keys, machine, conditions, rng)
            wanted = only is None or any(fnmatchcase(reading.id, pattern) for pattern in only)
            if wanted and reading.values:
                found.setdefault(reading.id, reading)
    in_order = sorted(found.values(), key=lambda reading: (reading.kind.order, reading.test))
    return Sheet(name="-", machine=machine, readings=tuple(in_order), conditions=conditions)


def _targets(limit: Limit, kind: TestKind, machine: Machine, circuit: CircuitGraph) -> Iterator[dict[str, str]]:
    """All targets of one limit: what it names, and every value of the required keys that it leaves out."""
    choices: dict[str, tuple[str, ...]] = {}
    for name in kind.id:
        key = kind.keys[name]
        if name in limit.where:
            choices[name] = (limit.where[name],)
        elif key.required:
            choices[name] = key.words if key.is_ == "word" else _named(key.is_, kind, machine, circuit)
    for chosen in product(*choices.values()):
        keys = dict(zip(choices, chosen, strict=True))
        pump, function = keys.get("pump"), keys.get("function")
        if pump is None or function is None or pump in circuit.pumps(function):
            yield keys


def _named(what: str, kind: TestKind, machine: Machine, circuit: CircuitGraph) -> tuple[str, ...]:
    """What a limit that names nothing holds for; a part must be named."""
    if what == "function":
        cases = {case for function in circuit.functions.values() for case in function.pressure}
        groups = kind.limits.default_functions
        return tuple(
            name
            for name, function in circuit.functions.items()
            if (not groups or function.group in groups) and (kind.load not in cases or kind.load in function.pressure)
        )
    if what == "cylinder":
        return tuple(name for name in machine.circuit.holds if name in circuit.parts)
    return circuit.main_pumps() if what == "pump" else ()


def _blank_reading(
    limit: Limit, kind: TestKind, keys: dict[str, str], machine: Machine, conditions: Conditions,
    rng: np.random.Generator,
) -> Reading:  # fmt: skip
    """A reading with the figures and conditions that its test needs; without values where they cannot be made up."""
    wanted = demands(limit.test, kind, machine)
    words = {
        name: accepted[0] if usual not in accepted else usual
        for name, usual in _words(conditions).items()
        if (accepted := wanted.words.get(name)) and usual is not None
    }
    own = dataclasses.replace(
        conditions,
        attachment=words.get("attachment", conditions.attachment),
        auto_idle=words.get("auto-idle", conditions.auto_idle),
        working_setting=words.get("working-setting", conditions.working_setting),
    )
    figures: dict[str, float] = {}
    if kind.limits.per is not None and limit.per is not None:
        figures[kind.limits.per] = limit.per
    if kind.cooling is not None and conditions.oil_temperature is not None:
        figures[kind.cooling.start] = conditions.oil_temperature
        figures[kind.cooling.end] = conditions.oil_temperature - float(rng.integers(0, 3))
        stroke = next((p.stroke for word in keys.values() if (p := machine.parts.get(word)) and p.stroke), None)
        if stroke is not None:
            figures[kind.cooling.column] = round(stroke * float(rng.uniform(0.4, 0.6)), 2)
    lacking = [
        name
        for name, key in kind.keys.items()
        if key.required and name not in keys and name not in figures and name != kind.value
    ]
    stated = [value for value in (limit.new, limit.max, limit.min) if value]
    repeats = REPEATS if kind.timed else 1
    return Reading(
        id=result_id(limit.test, placed_by(kind.id, keys)), test=limit.test, kind=kind,
        keys=keys, values=(max(stated),) * repeats if stated and not lacking else (), figures=figures,
        conditions=own,
        veer=Veer(0.0, "start-line") if kind.veer_as is not None else None,
    )  # fmt: skip


def _values(blank: Sheet, results: Sequence[Result]) -> list[_Value]:
    """The readings (with their veers and the conditions) that have a reference to start from."""
    readings = {reading.id: reading for reading in blank.readings}
    veers = {
        result_id(reading.kind.veer_as, placed_by(reading.kind.id, reading.keys)): reading
        for reading in blank.readings
        if reading.kind.veer_as is not None
    }
    found = []
    for result in results:
        says = result.evidence if isinstance(result, Measured) else None
        if says is None or not isinstance(result, Measured):
            continue
        reading = readings.get(result.id) or veers.get(result.id)
        value = result.value - _cooling(result)
        reference = value * math.exp(-says.e) if says.scale == "ratio" else value - says.e
        unsure = 0.0
        if reading is not None and says.scale == "ratio":
            unsure = math.sqrt(max(0.0, says.u**2 - (_error(reading.kind, value) / value) ** 2))
        found.append(_Value(reading, says, result, reference, unsure))
    return found


def _cooling(result: Measured) -> float:
    """The part of a value that judging holds to be cooling of the oil, SI."""
    return result.computed["cooling"].value if "cooling" in result.computed else 0.0


def _error(kind: TestKind, value: float) -> float:
    """Standard uncertainty of the mean that the instrument leaves, SI."""
    tool = kind.instrument
    if tool is None:
        return 0.0
    count = REPEATS if kind.timed else 1
    return combine(
        tool.systematic, tool.systematic_ratio * value,
        combine(tool.scatter, tool.scatter_ratio * value) / math.sqrt(count),
    )  # fmt: skip


# --- what the machine shows ---------------------------------------------------------


def _hypothesis(cause: SimulatedCause, machine: Machine, knowledge: Knowledge) -> Hypothesis:
    known = bench_for(machine, knowledge).model.hypotheses
    if isinstance(cause, int):
        if not 0 <= cause < len(known):
            raise ValueError(f"there are {len(known)} hypotheses, no number {cause}")
        return known[cause]
    for hypothesis in known:
        if (hypothesis.cause.cause, hypothesis.part, hypothesis.variant) == cause:
            return hypothesis
    raise ValueError(f"{cause[0]} at {cause[1]}, variant {cause[2]}, is nothing that this machine can have")


def _share(severity: float) -> float:
    if not 0 <= severity <= 1:
        raise ValueError(f"severity runs from 0 to 1, not {severity}")
    return severity


def _disturb(
    values: list[_Value], results: Sequence[Result], causes: Sequence[tuple[Hypothesis, float]], machine: Machine,
    knowledge: Knowledge, circuit: CircuitGraph, rng: np.random.Generator, scatter: float, distort: float,
) -> None:  # fmt: skip
    """Set what each reading shows: the causes' effects, and the scatter between machines."""
    evidence = [value.evidence for value in values]
    effect = _effects(evidence, causes, machine, knowledge, circuit)
    effect = effect * (1 + distort * rng.standard_normal(len(values)))
    arrays = as_arrays(results, evidence, circuit, knowledge)
    own = np.sqrt(np.maximum(arrays.variance - np.array([e.u for e in evidence]) ** 2, 0.0))
    unsure = np.array([value.unsure for value in values])
    between = arrays.shared @ rng.standard_normal(arrays.shared.shape[1]) + own * rng.standard_normal(len(values))
    off = effect + scatter * between + unsure * rng.standard_normal(len(values))
    for value, e in zip(values, off.tolist(), strict=True):
        ratio = value.evidence.scale == "ratio"
        value.shown = value.reference * math.exp(e) if ratio else value.reference + e


def _effects(
    evidence: Sequence[Evidence],
    causes: Sequence[tuple[Hypothesis, float]],
    machine: Machine,
    knowledge: Knowledge,
    circuit: CircuitGraph,
) -> np.ndarray:
    """Effects of all causes together on some readings, shape (readings,); severities lie between the grid's nodes."""
    model = bench_for(machine, knowledge).model
    state = State(1, circuit, machine)
    for hypothesis, severity in causes:
        positions = model.positions[model.hypotheses.index(hypothesis)]
        at = np.interp(severity * (len(positions) - 1), np.arange(len(positions)), positions)
        for d in hypothesis.disturbances:
            state.disturb(d, slice(0, 1), severity_grid(d.start, d.end, d.sound, np.array([at])))
    flows, sound = Flows(state), Flows(State(1, circuit, machine))
    effects = [observe(e, flows, sound, machine) for e in evidence]
    return np.array([0.0 if effect is None else float(effect[0]) for effect in effects])


def _spoil(values: list[_Value], which: float, how: float) -> None:
    """Make one reading a gross mistake; never a condition. Both numbers from 0 to 1."""
    readings = [value for value in values if value.reading is not None]
    if readings:
        chosen = readings[int(which * len(readings))]
        off = GROSS * (2 * how - 1)
        chosen.shown = chosen.shown * math.exp(off) if chosen.evidence.scale == "ratio" else chosen.shown + off


# --- what is written down -----------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Writer:
    """Values as text, rounded as people read them."""

    units: Units
    stopwatch: float
    """the step to which times are written, s"""

    def text(self, value: float, quantity: str) -> str:
        kind = QUANTITIES[quantity]
        if quantity == "ratio":
            value = min(value, 1.0)  # nobody writes down more than the whole
        if not kind.steps:
            return f"{to_unit(value, kind.unit):.4g} {kind.unit}"
        unit, step = kind.steps[self.units]
        if quantity == "time":
            step = self.stopwatch
        number = to_unit(value, unit)
        if quantity == "pressure" and number < _LOW * step:
            step /= 10
        decimals = max(0, math.ceil(-math.log10(step) - 1e-9))
        return f"{round(number / step) * step + 0.0:.{decimals}f} {unit}"

    def exact(self, value: float, quantity: str) -> str:
        """A value that is no reading but stands in the machine file (hold, distance), in a unit that keeps it short."""
        lengths = ("m", "mm") if self.units == "metric" else ("ft", "in")
        kind = QUANTITIES[quantity]
        usual = kind.steps[self.units][0] if kind.steps else kind.unit
        candidates = {"time": ("min", "s"), "length": lengths}.get(quantity, (usual,))
        for unit in candidates:
            number = round(to_unit(value, unit), 6)
            if number >= 1 and number == round(number, 1):
                return f"{number:g} {unit}"
        return f"{round(to_unit(value, candidates[-1]), 3):g} {candidates[-1]}"


def _reading(
    blank: Reading, usual: Mapping[str, str | None], shown: Mapping[str, _Value], writer: _Writer, much: float,
    rng: np.random.Generator,
) -> dict[str, Any]:  # fmt: skip
    """One reading as it is on a sheet."""
    kind = blank.kind
    assert kind.value is not None
    assert kind.quantity is not None
    written: dict[str, Any] = {"test": blank.test, **blank.keys}
    for name, value in blank.figures.items():
        quantity = kind.keys[name].quantity
        if quantity is None:
            written[name] = int(value) if value == int(value) else value
        else:
            written[name] = (writer.exact if name == kind.limits.per else writer.text)(value, quantity)
    own = shown[blank.id]
    most = blank.figures.get(kind.cooling.column, math.inf) if kind.cooling is not None else math.inf
    value = min(own.shown + _cooling(own.result), most)  # then the cylinder is at its end
    values = [writer.text(value, kind.quantity) for value in _repeats(kind, value, rng)]
    written[kind.value] = values if kind.timed else values[0]
    if (own_words := _words(blank.conditions)) != usual:
        written["conditions"] = {name: word for name, word in own_words.items() if word != usual[name]}
    if kind.veer_as is not None:
        veer = shown.get(result_id(kind.veer_as, placed_by(kind.id, blank.keys)))
        if veer is not None:
            written["veer"] = _veer(veer.shown, writer, much, rng)
    return written


def _repeats(kind: TestKind, value: float, rng: np.random.Generator) -> list[float]:
    """What the instrument reads, SI: one systematic error, and the scatter of each repeat; never below zero."""
    tool = kind.instrument
    count = REPEATS if kind.timed else 1
    if tool is None:
        return [value] * count
    off = rng.standard_normal() * combine(tool.systematic, tool.systematic_ratio * value)
    sd = combine(tool.scatter, tool.scatter_ratio * value)
    read = value + off + sd * rng.standard_normal(count)
    assert kind.value is not None
    sign = kind.keys[kind.value].sign
    least = 0.05 * abs(value) if sign == "positive" else 0.0
    return [float(max(one, least)) if sign != "any" else float(one) for one in read]


def _veer(offset: float, writer: _Writer, much: float, rng: np.random.Generator) -> dict[str, Any]:
    """The sideways offset, measured with a tape from the line; from `much` on the operator stops or corrects."""
    read = offset + 0.07 * float(rng.standard_normal())
    amount = min(abs(read), much * float(rng.uniform(0.85, 1.0)))
    return {"toward": "left" if read < 0 else "right", "offset": writer.text(amount, "distance"), "from": "start-line"}


def _words(conditions: Conditions) -> dict[str, str | None]:
    """The conditions that are words, by their keys."""
    return {
        "attachment": conditions.attachment, "auto-idle": conditions.auto_idle,
        "working-setting": conditions.working_setting,
    }  # fmt: skip


def _conditions(blank: Conditions, shown: Mapping[str, _Value], writer: _Writer) -> dict[str, Any]:
    """The conditions; a value that a cause moves (the engine's speed) is what the machine shows."""
    quantities = {"oil-temperature": "temperature", "engine-speed": "rotation", "ambient-temperature": "temperature"}
    written: dict[str, Any] = {}
    for name, value in dataclasses.asdict(blank).items():
        key = name.replace("_", "-")
        if key in quantities and value is not None:
            measured = shown.get(result_id("condition", (key,)))
            written[key] = writer.text(measured.shown if measured else value, quantities[key])
        elif value is not None:
            written[key] = value
    return written
