"""Checks of a circuit file: all ids are defined, figures are possible, and oil can reach every function."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Final

from oilpath.documents.location import Location
from oilpath.documents.machine import Machine
from oilpath.knowledge.applicability import RESPONSE
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.circuit import Circuit, Function
from oilpath.knowledge.figures import FUNCTION_KEYS, Figure
from oilpath.problems import nearest, shorten
from oilpath.records import dataclass

KeyPath = tuple[str | int, ...]

VALUES: Final = {
    "pump-leakage": (1e-4, 0.5), "motor-leakage": (0.0, 0.5), "case-drain": (1e-4, 0.5), "case-share": (0.0, 1.0),
    "torque-corner": (0.05, 5.0), "power-sum": (0.0, 1.0), "pilot-shift": (0.0, 1.0), "standby-pressure": (0.0, 0.5),
    "section-share": (0.01, 1.0), "override": (1e-4, 0.5), "port-relief-setting": (0.1, 5.0),
    "pilot-full-stroke": (0.01, 1.0), "low-range-speed": (0.01, 1.0), "spool-leak": (1e-4, 1e4),
    "holding-leak": (1e-4, 1e4), "seal-flow": (0.0, 0.5), "reference-temperature": (250.0, 400.0),
    "scatter-freedom": (1.0, 1e4), "tempering": (0.05, 1.0), "track-gauge": (0.3, 10.0),
}  # fmt: skip
"""typical figures that a circuit can give: the least and the most that each can be"""
UNCERTAINTY: Final = "-uncertainty"
"""what is put behind the name of a figure for how sure one is of it"""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong with a circuit: where, what, and what is accepted."""

    place: KeyPath
    message: str
    accepted: str = ""


def check_circuit(circuit: Circuit, top: Location, knowledge: Knowledge) -> bool:
    """Whether a circuit read from the file at `top` has no fault. Faults are added as problems of that file."""
    faults = [*circuit_faults(circuit, asked_values(knowledge)), *_unknown_tests(circuit, knowledge)]
    for fault in faults:
        at_place(top, fault.place).wrong(fault.message, fault.accepted)
    return not faults


def at_place(top: Location, place: KeyPath) -> Location:
    """The location of a path below `top`."""
    return top.below(*place)


def asked_values(knowledge: Knowledge) -> frozenset[str]:
    """Figures of a circuit that tests of the knowledge base ask for by name, beside those that the model takes."""
    rules = (kind.leakage for kind in knowledge.tests.values())
    return frozenset(rule.of_circuit for rule in rules if rule is not None and rule.of_circuit is not None)


def _unknown_tests(circuit: Circuit, knowledge: Knowledge) -> Iterator[Fault]:
    """Responses of a test that there is not, or that observes something else."""
    known = [name for name, kind in knowledge.tests.items() if kind.observe == RESPONSE]
    for number, one in enumerate(circuit.responses):
        if one.test not in known:
            near = nearest(one.test, known)
            hint = f"did you mean {near}?" if near else f"one of {', '.join(known)}"
            yield Fault(
                ("responses", number, "test"), f"`{shorten(one.test)}` is not a test that observes a response", hint
            )


def circuit_faults(circuit: Circuit, asked: Collection[str] = ()) -> Iterator[Fault]:
    """Every id of a circuit that it does not define, every group that no pump or two pumps feed, every odd figure.

    asked: names of figures that its `values` may hold beside those of the model
    """
    parts, functions = circuit.parts, circuit.functions
    yield from _unknown([circuit.reservoir], parts, ("reservoir",), "a part")
    for number, line in enumerate(circuit.lines):
        yield from _unknown(line.parts, parts, ("lines", number, "through"), "a part")
    for name, function in functions.items():
        yield from _function(circuit, name, function)
    for name in circuit.holds:
        yield from _unknown([name], parts, ("holds", name), "a part")
        if name not in {function.actuator for function in functions.values()}:
            yield Fault(("holds", name), "is moved by no function", "an actuator of a function")
    for number, response in enumerate(circuit.responses):
        named = (response.at, *(factor.part for factor in response.factors))
        yield from _unknown(named, parts, ("responses", number), "a part")
        for place, factor in enumerate(response.factors):
            yield from _figure(factor.power, -10, 10, ("responses", number, "factors", place, "power"))
    yield from _twice(circuit)
    loads = {load for function in circuit.functions.values() for load in function.pressure}
    yield from _unknown(circuit.together, loads, ("together",), "a load case")
    groups = {function.group for function in functions.values()}
    for group, part in circuit.served_first.items():
        yield from _unknown([group], groups, ("served-first",), "a group of functions")
        yield from _unknown([part], parts, ("served-first", group), "a part")
    yield from _feeds(circuit)
    yield from _figures(circuit, asked)
    yield from _lines(circuit)


def _lines(circuit: Circuit) -> Iterator[Fault]:
    """What the lines leave without a way; asked once all names are known."""
    named = {part for line in circuit.lines for part in line.parts}
    if named <= circuit.parts.keys():
        for key, lacking in circuit.wiring.faults:
            yield Fault(tuple(key.split(".")), lacking, "lines that join it, as kb/README.md says")


def _twice(circuit: Circuit) -> Iterator[Fault]:
    """A second response of the same reading, which would count for nothing."""
    seen: set[tuple[str, str]] = set()
    for number, one in enumerate(circuit.responses):
        if (one.test, one.at) in seen:
            yield Fault(("responses", number), f"{one.test} at {one.at} is there twice", "each reading once")
        seen.add((one.test, one.at))


def _figures(circuit: Circuit, asked: Collection[str]) -> Iterator[Fault]:
    """What the model divides by or takes a root of must be above zero, and a share is one."""
    for name, function in circuit.functions.items():
        place: KeyPath = ("functions", name)
        for load, pressure in function.pressure.items():
            yield from _figure(pressure, 0, 1, (*place, "pressure", load), circuit.values)
        yield from _figure(function.gravity, 0, 1, (*place, "gravity"), circuit.values)
        yield from _figure(function.acceleration, 0, 1, (*place, "acceleration"), circuit.values)
        yield from _figure(function.regeneration, 0, 1, (*place, "regeneration"), circuit.values)
        yield from _figure(function.section, 0.01, 1, (*place, "section"), circuit.values)
        if function.relief is not None:
            yield from _figure(function.relief, 0.1, 5, (*place, "relief"), circuit.values)
    for name, hold in circuit.holds.items():
        yield from _figure(hold.load, 0.001, 1, ("holds", name, "load"), circuit.values)
    limits = figure_bounds(circuit)
    known = [*VALUES, *sorted({*asked, *_shared(circuit)} - VALUES.keys())]
    for name, value in circuit.values.items():
        own = name.removesuffix(UNCERTAINTY)
        if own not in known:
            near = nearest(own, known)
            hint = f"did you mean {near}?" if near else f"one of {', '.join(known)}"
            yield Fault(("values", name), "is not a figure that the model or a test asks for", hint)
        elif own != name:
            yield from _figure(value, 0, 1, ("values", name))
        else:
            yield from _figure(value, *limits.get(name, (0.0, 1.0)), ("values", name))


def figure_bounds(circuit: Circuit) -> Mapping[str, tuple[float, float]]:
    """The least and greatest possible value of each figure of a circuit, if they are not 0 and 1."""
    reliefs = (function.relief for function in circuit.functions.values())
    return {**{one.name: VALUES["port-relief-setting"] for one in reliefs if isinstance(one, Figure)}, **VALUES}


def _shared(circuit: Circuit) -> Iterator[str]:
    """Names of figures that functions and holds take from the circuit's values."""
    for function in circuit.functions.values():
        for value in (*function.pressure.values(), *(getattr(function, key) for key in FUNCTION_KEYS)):
            yield from [value.name] if isinstance(value, Figure) else []
    yield from (hold.load.name for hold in circuit.holds.values() if isinstance(hold.load, Figure))


def _figure(value: float, least: float, most: float, place: KeyPath, shared: Collection[str] = ()) -> Iterator[Fault]:
    if isinstance(value, Figure) and value.name in shared:
        return  # said where it is
    ends = (value, value.low, value.high) if isinstance(value, Figure) else (value,)
    for one in ends:
        if not least <= one <= most:
            yield Fault(place, f"cannot be {one:.6g}", f"a number from {least:.6g} to {most:.6g}")
            return


def _unknown(names: Iterable[str | None], known: Collection[str], place: KeyPath, what: str) -> Iterator[Fault]:
    for name in names:
        if name is not None and name not in known:
            near = nearest(name, known)
            hint = f"did you mean {near}?" if near else f"{what} that this circuit defines"
            yield Fault(place, f"`{shorten(name)}` is not {what} of this circuit", hint)


def _function(circuit: Circuit, name: str, function: Function) -> Iterator[Fault]:
    place: KeyPath = ("functions", name)
    yield from _unknown([function.opposite], circuit.functions, (*place, "opposite"), "a function")
    yield from _unknown([function.actuator], circuit.parts, (*place, "actuator"), "a part")


def _feeds(circuit: Circuit) -> Iterator[Fault]:
    groups = tuple(dict.fromkeys(function.group for function in circuit.functions.values()))
    for pump, fed in circuit.feeds.pumps.items():
        yield from _unknown([pump], circuit.parts, ("feeds", pump), "a part")
        yield from _unknown(fed, groups, ("feeds", pump), "a group of functions")
    for function, pump in circuit.feeds.merge.items():
        yield from _unknown([function], circuit.functions, ("feeds", "merge", function), "a function")
        yield from _unknown([pump], circuit.feeds.pumps, ("feeds", "merge", function), "a pump")
    for group in groups:
        count = sum(group in fed for fed in circuit.feeds.pumps.values())
        if count != 1:
            how = "no pump" if count == 0 else f"{count} pumps"
            yield Fault(("feeds",), f"{shorten(group)} is fed by {how}", "each group of functions under one pump")


def blocked_functions(machine: Machine) -> tuple[str, ...]:
    """Functions that are cut off from pump or tank because of the machine's absent parts."""
    circuit, absent = machine.circuit, set(machine.absent)
    feeding = {group: pump for pump, groups in machine.allocation.pumps.items() for group in groups}
    return tuple(
        name
        for name, function in circuit.wiring.functions.items()
        if not absent & {function.actuator, function.spool}
        and (circuit.reservoir in absent or feeding.get(function.group) in absent | {None})
    )
