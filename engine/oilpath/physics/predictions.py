"""The steady-state model of a circuit: what every reading would be, as against the sound machine's.

`Predictions` holds all single-cause hypotheses of a machine on their severity grids and predicts any reading for all
of them in one vectorised call. It depends on machine and knowledge alone, so a bench makes it once.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from itertools import product

import numpy as np

from oilpath.arrays import Array, Mask
from oilpath.documents.machine import Machine
from oilpath.flow import SHARED_TIME, Evidence
from oilpath.flow.ids import result_id
from oilpath.knowledge.applicability import can_be_put_to
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.parameters import PARAMETERS
from oilpath.knowledge.testkind import TestVariant
from oilpath.latest import Latest
from oilpath.machine.graph import CircuitGraph
from oilpath.machine.hypotheses import Hypothesis, hypotheses, misplaced
from oilpath.physics.flows import Flows
from oilpath.physics.formulas.orifice import laminar_leakage
from oilpath.physics.formulas.travel import veer_offset
from oilpath.physics.responses import response
from oilpath.physics.state import State
from oilpath.problems import Problems

SEVERITIES = 16
"""nodes of the severity grid"""


FINE = 16
"""nodes at which the model is computed, before the severities are chosen by effect"""
NOTICED = 1.0
"""effect of the least severity on its most affected reading, in units of what counts as noticeable for that test"""


_FLOWS: Latest[object, Flows] = Latest(2)
"""the flows on the fine grid of the latest machines: large, and seldom asked for once a sheet's readings are known"""


KEPT = 4096
"""readings whose effects are kept for later sheets of the same machine"""


def severity_grid(start: float, end: float, sound: float, positions: int | Array = SEVERITIES) -> Array:
    """Parameter values from just noticeable to function lost.

    positions: where between start (0) and end (1), or how many evenly; the scale is the logarithm of the distance to
    the sound value (linear where that has none).
    """
    where = np.linspace(0, 1, positions) if isinstance(positions, int) else positions
    a, b = start - sound, end - sound
    values: Array = start + (end - start) * where if a * b <= 0 else sound + a * (b / a) ** where
    return values


class Predictions:
    """Predicted readings of one machine for all hypotheses at all severities.

    The severities of a hypothesis are evenly spaced in the logarithm of its effect on the reading that it affects most,
    of all that the tests could give, from just noticeable to function lost.
    """

    def __init__(self, machine: Machine, knowledge: Knowledge, circuit: CircuitGraph) -> None:
        self.machine = machine
        self.variants = knowledge.variants
        self.circuit = circuit
        self.hypotheses = _placed(hypotheses(knowledge.causes, self.circuit), machine)
        self.numbers: dict[tuple[str, str], list[int]] = {}
        """the hypotheses of each cause at a part"""
        for number, h in enumerate(self.hypotheses):
            self.numbers.setdefault((h.cause.cause, h.part), []).append(number)
        self.doubt = np.array([_doubt(h) for h in self.hypotheses])
        """how far the pattern of the effects of a hypothesis differs from machine to machine, shape (hypotheses,)"""
        self._columns: dict[Hashable, Array | None] = {}
        self._usual: dict[Hashable, Array | None] = {}
        """effects on the fine grid of usual readings that no sheet and no check has asked for yet"""
        self.silent: Mask
        """hypotheses that no usual reading could show, shape (hypotheses,)"""
        self._sound = Flows(State(1, self.circuit, machine))
        self.token = object()
        """stands for these predictions as a key of what is kept"""
        self.positions, self.steps = self._positions(knowledge)
        place = self.positions * (FINE - 1)
        low = np.minimum(place.astype(int), FINE - 2)
        self._low = low + FINE * np.arange(len(low))[:, None]
        """place of the node below each severity, in the rows of the fine grid"""
        self._above = place - low
        self.severities = np.stack([self.values(n) for n in range(len(self.hypotheses))])

    def values(self, hypothesis: int, disturbance: int = 0) -> Array:
        """Values of a disturbed parameter at the severities of a hypothesis, shape (severities,); nan where none."""
        disturbances = self.hypotheses[hypothesis].disturbances
        if disturbance >= len(disturbances):
            return np.full(SEVERITIES, np.nan)
        d = disturbances[disturbance]
        return severity_grid(d.start, d.end, d.sound, self.positions[hypothesis])

    def _flows(self) -> Flows:
        """The flows on the fine grid, made anew where other machines have come since."""
        return _FLOWS.get(self.token, lambda: Flows(self._fine(), sound=self._sound))

    def _fine(self) -> State:
        state = State(len(self.hypotheses) * FINE, self.circuit, self.machine)
        for number, hypothesis in enumerate(self.hypotheses):
            for d in hypothesis.disturbances:
                rows = slice(number * FINE, (number + 1) * FINE)
                state.disturb(d, rows, severity_grid(d.start, d.end, d.sound, FINE))
        return state

    def _positions(self, knowledge: Knowledge) -> tuple[Array, Array]:
        """Where the severities of every hypothesis lie between the ends of its range, shape (hypotheses, severities).

        And by how much the logarithm of the effect grows from one to the next, shape (hypotheses,).
        """
        most, flows = np.zeros(len(self.hypotheses) * FINE), self._flows()
        usual = usual_readings(self.machine, self.circuit, knowledge)
        for e, noticeable in (*usual, *shared_readings(self.circuit, knowledge)):
            effect = self._usual[reading_key(e)] = observe(e, flows, self._sound, self.machine)
            if effect is not None:
                np.maximum(most, np.abs(effect) / noticeable, out=most)
        self.silent = most.reshape(-1, FINE).max(axis=1) < 1e-9
        effects = np.log(np.maximum(np.maximum.accumulate(most.reshape(-1, FINE), axis=1), 1e-6))
        fine = np.linspace(0, 1, FINE)
        positions = np.tile(np.linspace(0, 1, SEVERITIES), (len(effects), 1))
        steps = np.zeros(len(effects))
        for number, effect in enumerate(effects):
            least = max(effect[0], math.log(NOTICED))
            if effect[-1] > least:
                rising = np.flatnonzero(np.diff(effect, prepend=-np.inf) > 1e-9)
                positions[number] = np.interp(np.linspace(least, effect[-1], SEVERITIES), effect[rising], fine[rising])
                steps[number] = (effect[-1] - least) / (SEVERITIES - 1)
        return positions, steps

    def predict(self, evidence: Sequence[Evidence]) -> tuple[Array, Mask]:
        """Effects on some readings: (hypotheses, severities, readings) against sound, and which ones the model knows.

        Ratios are natural logarithms, offsets SI. A reading that the model does not know has effect 0 and is False in
        the second array, shape (readings,).
        """
        columns = [self._column(e) for e in evidence]
        known = np.array([c is not None for c in columns], dtype=bool)
        silent = np.zeros(self.positions.shape)
        filled = [silent if c is None else c for c in columns]
        table = np.stack(filled, axis=-1) if filled else np.zeros((*silent.shape, 0))
        return table, known

    def combined(self, sets: Sequence[tuple[tuple[int, ...], Array]], evidence: Sequence[Evidence]) -> Array:
        """Effects when several hypotheses hold at once, shape (rows, readings).

        Each entry of `sets` is (hypotheses, their severity nodes of shape (rows of the set, number of hypotheses)); the
        rows of all sets follow each other.
        """
        state = State(sum(len(nodes) for _, nodes in sets), self.circuit, self.machine)
        at = 0
        for members, nodes in sets:
            rows = slice(at, at + len(nodes))
            for place, number in enumerate(members):
                for order, d in enumerate(self.hypotheses[number].disturbances):
                    state.disturb(d, rows, self.values(number, order)[nodes[:, place].astype(int)])
            at += len(nodes)
        flows = Flows(state, sound=self._sound)
        columns = [observe(e, flows, self._sound, self.machine, self.variants) for e in evidence]
        return np.stack([np.zeros(state.rows) if c is None else c for c in columns], axis=-1)

    def _column(self, e: Evidence) -> Array | None:
        key = reading_key(e)
        if key not in self._columns:
            if len(self._columns) > KEPT:
                self._columns.clear()
            if key in self._usual:
                fine = self._usual.pop(key)
            else:
                fine = observe(e, self._flows(), self._sound, self.machine, self.variants)
            column = None if fine is None else self._at_severities(fine)
            self._columns[key] = column
            return column
        return self._columns[key]

    def _at_severities(self, fine: Array) -> Array:
        """Effects on the fine grid, shape (hypotheses·FINE,), at the severities, shape (hypotheses, severities)."""
        low = fine[self._low]
        result: Array = low + (fine[self._low + 1] - low) * self._above
        return result


def _doubt(hypothesis: Hypothesis) -> float:
    """The largest doubt of what it disturbs; 1 where that is nothing."""
    return max((PARAMETERS[d.parameter].doubt for d in hypothesis.disturbances), default=1.0)


def _placed(found: Sequence[Hypothesis], machine: Machine) -> tuple[Hypothesis, ...]:
    """The hypotheses without those that lost their place to absent parts (the spool of an absent cylinder).

    Raises UnusableInput with every cause that disturbs what has no place at its part on a whole machine.
    """
    if machine.absent:
        return tuple(h for h in found if not misplaced(h, machine.circuit))
    problems = Problems()
    for h in found:
        for d in misplaced(h, machine.circuit):
            problems.add(
                "kb",
                1,
                h.cause.cause,
                f"disturbs `{d.parameter}` at {d.part}, where it has no place",
                "a place that `oilpath kb check` names",
            )
    problems.raise_if_any()
    return tuple(found)


def usual_readings(machine: Machine, circuit: CircuitGraph, knowledge: Knowledge) -> Iterator[tuple[Evidence, float]]:
    """All readings that the tests could give on a machine, each with the deviation that counts as noticeable."""
    words: dict[str, Sequence[str]] = {
        "function": tuple(circuit.functions),
        "pump": circuit.main_pumps(),
        "cylinder": tuple({f.actuator: None for f in circuit.functions.values() if f.end}),
        "part": (*circuit.main_pumps(), *dict.fromkeys(f.actuator for f in circuit.functions.values() if not f.end)),
    }
    for test, kind in knowledge.tests.items():
        noticeable = kind.scatter.noticeable if kind.scatter else None
        if noticeable is None or kind.observe not in _OBSERVE or not can_be_put_to(test, kind, machine):
            continue
        words["response"] = tuple(one.at for one in machine.circuit.responses if one.test == test)
        choices = [
            kind.keys[name].words or words.get(kind.observe) or words.get(kind.keys[name].is_, ()) for name in kind.id
        ]
        for chosen in product(*choices):
            keys = dict(zip(kind.id, chosen, strict=True))
            load = kind.load.format_map(keys)
            function = circuit.functions.get(keys.get("function", ""))
            if function is not None and "pump" not in keys and load and load not in function.pressure:
                continue
            yield Evidence("", test, kind.observe, load, keys, kind.scale, 0.0, 1.0), noticeable


def shared_readings(circuit: CircuitGraph, knowledge: Knowledge) -> Iterator[tuple[Evidence, float]]:
    """The readings of movements that are served first, with another one at work; as `usual_readings`."""
    first = [name for name, f in circuit.functions.items() if f.group in circuit.served_first]
    beside = next((name for name, f in circuit.functions.items() if f.group not in circuit.served_first), None)
    for test, kind in knowledge.tests.items():
        noticeable = kind.scatter.noticeable if kind.scatter else None
        if noticeable is None or beside is None or kind.together is None or kind.id != ("function",):
            continue
        for name in first:
            named = result_id(test, (name,), together=(beside,))
            yield Evidence(named, test, SHARED_TIME, kind.load, {"function": name}, kind.scale, 0.0, 1.0), noticeable


# What each kind of observation is, in terms of the flows. All return the effect against the sound machine.

Observed = Callable[[Evidence, Flows, Machine], "Array | None"]


def observe(
    e: Evidence, flows: Flows, sound: Flows, machine: Machine, variants: Mapping[str, TestVariant] | None = None
) -> Array | None:
    """Effect on one reading for every row of `flows`, or None if the model does not know the reading.

    A variant is compared with the standard reading of the same test.
    """
    see = _OBSERVE.get(e.observe)
    if see is None:
        return None
    if "oil-temperature" in e.corrected:
        flows, sound = flows.cooled(), sound.cooled()
    effect = _effect(e, see, flows, sound, machine)
    if e.variant == "standard" or effect is None:
        return effect
    variant = (variants or {}).get(e.variant)
    if variant is None or not (variant.changes or variant.running or variant.reversed_):
        return None
    varied = _effect(e, see, flows.under(e.variant, variant), sound.under(e.variant, variant), machine)
    return None if varied is None else varied - effect


def _effect(e: Evidence, see: Observed, flows: Flows, sound: Flows, machine: Machine) -> Array | None:
    key = reading_key(e)
    if key not in sound.seen:
        if len(sound.seen) > KEPT:
            sound.seen.clear()
        sound.seen[key] = see(e, sound, machine)
    there, here = see(e, flows, machine), sound.seen[key]
    if there is None or here is None:
        return None
    if e.scale == "offset":
        return there - here
    ratio: Array = np.log(np.maximum(there, 1e-9)) - np.log(np.maximum(here, 1e-9))
    return ratio


def reading_key(e: Evidence) -> Hashable:
    """All of a reading that the model looks at."""
    return (
        e.test, e.observe, e.load, e.scale, tuple(sorted(e.keys.items())), e.variant, e.corrected,
        tuple(sorted(e.figures.items())),
    )  # fmt: skip


def _function(e: Evidence, flows: Flows) -> int | None:
    """Column of the function that a reading names, by its function or by side and direction."""
    functions = flows.state.circuit.functions
    keys = e.keys
    if "function" in keys:
        return flows.state.functions.index(keys["function"]) if keys["function"] in functions else None
    for number, function in enumerate(functions.values()):
        if function.direction == keys.get("direction") and function.side == keys.get("side"):
            return number
    return None


def _tracks(e: Evidence, flows: Flows) -> tuple[int, int] | None:
    """Columns of the left and the right track in a direction."""
    found = {}
    for number, function in enumerate(flows.state.circuit.functions.values()):
        if function.direction == e.keys.get("direction") and function.side:
            found[function.side] = number
    return (found["left"], found["right"]) if len(found) == 2 else None


def _time(e: Evidence, speed: Array, flows: Flows) -> Array:
    """A time from a speed; where the reading was corrected for engine speed the engine's part is taken out."""
    if "engine-speed" in e.corrected:
        speed = speed / np.minimum(flows.state.speed, 1.0)
    return 1 / np.maximum(speed, 1e-6)


def _function_time(e: Evidence, flows: Flows, machine: Machine) -> Array | None:
    column = _function(e, flows)
    return None if column is None else _time(e, flows.net(e.load)[:, column], flows)


def _shared_time(e: Evidence, flows: Flows, machine: Machine) -> Array | None:
    """Time of a function that is served first with others at work, over that of the same function alone."""
    column = _function(e, flows)
    return None if column is None else 1 / np.maximum(flows.state.priority[:, column], 1e-6)


def _range_speeds(e: Evidence, flows: Flows, machine: Machine) -> Array:
    case, wanted = e.load.rsplit("-", 1)
    other = "low" if wanted == "high" else "high"
    slow = flows.low_range
    return flows.ranged(case, wanted, other, slow if wanted == "high" else 1 / slow)


def _track_time(e: Evidence, flows: Flows, machine: Machine) -> Array | None:
    column = _function(e, flows)
    return None if column is None else _time(e, _range_speeds(e, flows, machine)[:, column], flows)


def _travel_time(e: Evidence, flows: Flows, machine: Machine) -> Array | None:
    tracks = _tracks(e, flows)
    if tracks is None:
        return None
    speeds = _range_speeds(e, flows, machine)
    return _time(e, (speeds[:, tracks[0]] + speeds[:, tracks[1]]) / 2, flows)


def _veer(e: Evidence, flows: Flows, machine: Machine) -> Array | None:
    """Offset from the starting line, positive to the right."""
    tracks, usual = _tracks(e, flows), machine.track_gauge
    if tracks is None or usual is None:
        return None
    speeds = _range_speeds(e, flows, machine)
    left, right = speeds[:, tracks[0]], speeds[:, tracks[1]]
    gauge = e.figures.get("track-gauge") or usual[0]
    length = e.figures.get("distance", 20.0)
    difference: Array = (left - right) / ((left + right) / 2)
    return difference * veer_offset(1.0, length, gauge)


def _stall(e: Evidence, flows: Flows, machine: Machine) -> Array | None:
    column = _function(e, flows)
    pump = e.keys.get("pump", "")
    if column is None or pump not in flows.state.pumps:
        return None
    name = flows.state.functions[column]
    if pump not in flows.state.circuit.pumps(name):
        return None
    return flows.stall(flows.state.pumps.index(pump), column)


def _pilot(e: Evidence, flows: Flows, machine: Machine) -> Array | None:
    return flows.pilot_supply()


def _case_drain(e: Evidence, flows: Flows, machine: Machine) -> Array | None:
    """Case drain as a share of one pump's flow; part of a pump's or motor's leakage does not pass its case."""
    s = flows.state
    part = e.keys.get("part", "")
    sound = s.values.get("case-drain", 0.02)
    if part in s.pumps:
        extra = s.leakage[:, s.pumps.index(part)]
    else:
        columns = [n for n, f in enumerate(s.circuit.functions.values()) if f.actuator == part]
        if not columns:
            return None
        extra = s.cross[:, columns].max(axis=1)
    return laminar_leakage(sound + s.values.get("case-share", 0.6) * extra, 1.0, s.viscosity)


def _condition(e: Evidence, flows: Flows, machine: Machine) -> Array | None:
    return flows.state.speed if e.load == "engine-speed" else None


def _engine_speed(e: Evidence, flows: Flows, machine: Machine) -> Array | None:
    """Engine speed with no, one or both pumps at their torque limit; a weak engine droops when torque is asked for."""
    s = flows.state
    total = flows.corner * len(s.pumps)  # of all pumps; one that stalls alone takes what it can get of it
    asked = {"stall-one-pump": min(1.0, flows.stalled) / total, "stall-both-pumps": 1.0}.get(e.load, 0.0)
    droop = 0.03 * asked + np.clip(asked * s.torque.mean(axis=1) - s.engine_torque, 0.0, 0.6) * bool(asked)
    speed: Array = s.speed * (1 - np.minimum(droop, 0.8))
    return speed


def _drift(e: Evidence, flows: Flows, machine: Machine) -> Array | None:
    cylinder = e.keys.get("cylinder", "")
    if cylinder not in flows.state.cylinders:
        return None
    return flows.drift(flows.state.cylinders.index(cylinder))


def _swing_stop(e: Evidence, flows: Flows, machine: Machine) -> Array | None:
    column = _function(e, flows)
    if column is None:
        return None
    s = flows.state
    # The motor pumps against the relief of the other line: angle = energy / (its pressure · displacement), and what
    # leaks there lets it run on.
    opposite = s.circuit.functions[s.functions[column]].opposite
    line = column if opposite is None else s.functions.index(opposite)
    braking = s.limit[:, line] + s.drag[:, column]
    leak = s.cross[:, column] + s.shunt[:, line] + s.seep[:, line]
    angle: Array = (1 + 4 * leak) * s.port_relief[line] / np.maximum(braking, 0.05)
    return angle


def _pressure(e: Evidence, flows: Flows, machine: Machine) -> Array | None:
    """Moving or free-running pressure of a function; at stall as at the pump's gauge."""
    column = _function(e, flows)
    if column is None:
        return None
    name = flows.state.functions[column]
    if e.load == "stall":
        return flows.stall(flows.state.pumps.index(flows.state.circuit.pumps(name)[0]), column)
    if e.load not in ("moving", "free-running"):
        return None
    cases = flows.state.circuit.functions[name].pressure
    if not cases:
        return None
    case = min(cases, key=lambda c: cases[c]) if e.load == "free-running" else next(iter(cases))
    return np.minimum(flows.working_pressure(case, column), flows.state.relief[:, flows.first[column]])


def _flow(e: Evidence, flows: Flows, machine: Machine) -> Array | None:
    at = e.keys.get("at", "").removesuffix("-outlet")
    if at not in flows.state.pumps:
        return None
    pressure = np.full((flows.state.rows, 1), min(e.figures.get("pressure-share", 0.6), 0.9))
    return np.maximum(
        flows.pump_flow(pressure, np.array([flows.state.pumps.index(at)]), torque=flows.stalled)[:, 0], 0.01
    )


_OBSERVE: Mapping[str, Observed] = {
    "function-time": _function_time, "track-time": _track_time, "travel-time": _travel_time, "veer": _veer,
    "stall-pressure": _stall, "pilot-pressure": _pilot, "case-drain": _case_drain, "condition": _condition,
    "engine-speed": _engine_speed, "drift": _drift, "swing-stop": _swing_stop, "pressure": _pressure, "flow": _flow,
    "response": response, SHARED_TIME: _shared_time,
}  # fmt: skip
OBSERVABLE = tuple(_OBSERVE)
"""what the model can predict"""
