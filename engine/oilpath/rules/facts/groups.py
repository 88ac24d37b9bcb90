"""Facts about groups of readings: all of a pump, a movement, a side … are out, some are, none is, or none was made."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from oilpath.flow import Fact
from oilpath.knowledge.rule import slots_for
from oilpath.machine.graph import CircuitGraph
from oilpath.rules.facts.readings import ReadingState

Chosen = Callable[[ReadingState], bool]

#: Readings that a group needs before "all of it is out" says more than the one reading does.
AT_LEAST = {"pump": 2, "pump-loaded": 2, "pump-alone": 2, "two-pump": 2, "function": 2, "all": 3, "all-loaded": 3,
            "drift": 2, "stall": 2, "drain": 2, "raised": 2, "ground": 2}  # fmt: skip


def groups(readings: Sequence[ReadingState], circuit: CircuitGraph) -> Iterator[Fact]:
    """Every group of the circuit, measured or not, in a fixed order."""
    usual = [reading for reading in readings if reading.usual]
    timed = [reading for reading in usual if reading.kind.timed]
    yield from _of_pumps(timed, circuit)
    yield from _of_functions(timed, circuit)
    yield from _of_travel(timed, [reading for reading in usual if reading.kind.observe == "veer"], circuit)
    yield _group("all", "all", timed, "slow")
    yield _group("all-loaded", "all", [reading for reading in timed if reading.loaded], "slow")
    yield _group("drift", "all", [reading for reading in usual if reading.kind.observe == "drift"], "high")
    stalls = [reading for reading in usual if reading.kind.observe == "stall-pressure"]
    for deviation in ("low", "high"):
        yield _group("stall", "all", stalls, deviation)
        for pump in circuit.main_pumps():
            of = [reading for reading in stalls if reading.pump == pump]
            yield _group("stall", pump, of, deviation, least=1, others=_without(stalls, of), pump=pump)
    pumps = circuit.main_pumps()
    drains = [reading for reading in usual if reading.kind.observe == "case-drain" and reading.part in pumps]
    yield _group("drain", "all", drains, "high")


def _of_pumps(timed: Sequence[ReadingState], circuit: CircuitGraph) -> Iterator[Fact]:
    """Of each pump: what it feeds first-hand, of that what runs under load, and what it feeds alone under load."""
    functional = [reading for reading in timed if reading.function]
    for pump in circuit.main_pumps():
        merged = circuit.merged(pump)
        first = circuit.fed(pump)
        fed = [reading for reading in functional if reading.function in first]
        loaded = [reading for reading in fed if reading.loaded]
        alone = [reading for reading in loaded if len(circuit.pumps(reading.function or "")) == 1]
        # What the pump only joins may be slow or not: it stands on neither side.
        others = [r for r in functional if r.function not in first and r.function not in merged]
        for kind, of in (("pump", fed), ("pump-loaded", loaded), ("pump-alone", alone)):
            yield _group(kind, pump, of, "slow", others=others, pump=pump)
    double = {name for name in circuit.functions if len(circuit.pumps(name)) > 1}
    joined = [reading for reading in functional if reading.function in double]
    yield _group("two-pump", "all", joined, "slow", others=_without(functional, joined))
    for valve in dict.fromkeys(f.merge_valve for name, f in circuit.functions.items() if name in double):
        of = [r for r in joined if circuit.functions[r.function or ""].merge_valve == valve]
        yield _group("merge", str(valve), of, "slow", others=_without(functional, of))


def _of_functions(timed: Sequence[ReadingState], circuit: CircuitGraph) -> Iterator[Fact]:
    """Of each movement both ways, and of each direction of it."""
    functional = [reading for reading in timed if reading.function]
    for group in dict.fromkeys(f.group for f in circuit.functions.values()):
        of = [reading for reading in functional if reading.group == group]
        f = next(f for f in circuit.functions.values() if f.group == group)
        ways = {reading.function for reading in of}
        least = 2 if len(ways) > 1 else len(of) + 1  # one direction alone does not speak for both
        yield _group(
            "function", group, of, "slow", least=least, others=_without(functional, of),
            class_=circuit.parts[f.actuator].class_, side=f.side, pump=_pump(circuit, group),
        )  # fmt: skip
    for name, f in circuit.functions.items():
        of = [reading for reading in functional if reading.function == name]
        back = [reading for reading in functional if reading.function == f.opposite]
        pump = next(iter(circuit.pumps(name)), None)
        opposite = {"unmeasured": "unmeasured", "none-out": "in"}.get(_state(back, "slow", 1), "out")
        if opposite == "in" and any(reading.is_near("slow") for reading in back):
            opposite = "near"  # neither in order nor out
        yield _group(
            "direction", name, of, "slow", others=_without(functional, of), opposite=opposite,
            class_=circuit.parts[f.actuator].class_, side=f.side, pump=pump, back=f.opposite,
        )  # fmt: skip


def _pump(circuit: CircuitGraph, group: str) -> str | None:
    name = next(name for name, f in circuit.functions.items() if f.group == group)
    return next(iter(circuit.pumps(name)), None)


def _of_travel(timed: Sequence[ReadingState], veers: Sequence[ReadingState], circuit: CircuitGraph) -> Iterator[Fact]:
    """Of the tracks: each side raised, each range, all raised, all on the ground, and the pull to each side."""
    raised = [reading for reading in timed if reading.side in ("left", "right") and "range" in reading.keys]
    ground = [reading for reading in timed if reading.side == "both"]
    ranges = ("high", "low")
    for side in ("left", "right"):
        of = [reading for reading in raised if reading.side == side]
        pump = next((reading.pump for reading in of), None)
        yield _group("side", side, of, "slow", others=_without(raised, of), side=side, pump=pump)
        for high_or_low in ranges:
            part = [reading for reading in of if reading.keys["range"] == high_or_low]
            yield _group("range", high_or_low, part, "slow", others=_without(of, part), side=side, pump=pump)
    # one track alone does not speak for both
    least = 2 if len({reading.side for reading in raised}) > 1 else len(raised) + 1
    yield _group("raised", "all", raised, "slow", least=least, others=_without(timed, raised + ground))
    yield _group("ground", "all", ground, "slow", others=_without(timed, raised + ground))
    for high_or_low in ranges:
        part = [reading for reading in ground if reading.keys["range"] == high_or_low]
        yield _group("ground-range", high_or_low, part, "slow", others=_without(ground, part))
    for side in ("left", "right"):
        pump = _pump_of_side(side, circuit)
        yield _group("veer", side, veers, side, side=side, pump=pump)


def _pump_of_side(side: str, circuit: CircuitGraph) -> str | None:
    """The pump that feeds the track of a side, where it is one."""
    pumps = {circuit.pumps(name)[:1] for name, f in circuit.functions.items() if f.side == side}
    return next(iter(pumps.pop()), None) if len(pumps) == 1 else None


def _without(readings: Iterable[ReadingState], left_out: Sequence[ReadingState]) -> list[ReadingState]:
    out = set(map(id, left_out))  # each reading is one object
    return [reading for reading in readings if id(reading) not in out]


def _state(readings: Sequence[ReadingState], deviation: str, least: int) -> str:
    """How many are out that way.

    A reading near its limit does not break the pattern of those beyond it, but half of them must be out.
    """
    if not readings:
        return "unmeasured"
    out = sum(reading.is_out(deviation) for reading in readings)
    near = sum(reading.is_near(deviation) for reading in readings)
    if out == 0:
        return "none-out"
    if out + near == len(readings) and 2 * out >= len(readings):
        return "all-out" if len(readings) >= least else "one-out" if len(readings) == 1 else "some-out"
    return "some-out"


def _group(
    kind: str,
    of: str,
    readings: Sequence[ReadingState],
    deviation: str,
    *,
    least: int | None = None,
    others: Sequence[ReadingState] | None = None,
    **words: str | None,
) -> Fact:
    """The fact of one group.

    `only`: whether the other readings, where there are any, are not out that way; `near`: whether some are near it.
    """
    state = _state(readings, deviation, AT_LEAST.get(kind, 1) if least is None else least)
    only = None
    if others is not None:
        only = "unknown" if not others else "no" if any(reading.is_out(deviation) for reading in others) else "yes"
    shown = [r for r in readings if r.is_out(deviation) or r.is_near(deviation)] if state[-3:] == "out" else []
    if state == "none-out":
        shown = list(readings)
    near = ("yes" if any(reading.is_near(deviation) for reading in readings) else "no") if readings else None
    slots = slots_for("group", kind=kind, of=of, deviation=deviation, state=state, only=only, near=near, **words)
    return Fact("group", slots, tuple(reading.result.id for reading in shown))
