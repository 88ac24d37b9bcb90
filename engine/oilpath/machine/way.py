"""What the oil's paths have in common, and where a gauge in a path would tell the most."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from oilpath.flow import GaugePoint
from oilpath.machine.graph import CircuitGraph


def serves(part: str, circuit: CircuitGraph) -> frozenset[str]:
    """Functions that a part serves: in the oil's path, beside it, by moving it, or by supplying what moves it."""
    return frozenset((*circuit.functions_of(part), *circuit.piloted.get(part, ())))


def measured(keys: Mapping[str, str], circuit: CircuitGraph) -> tuple[str, ...]:
    """The functions that a reading measures: the one that its keys name, else those of its direction (and side)."""
    named = keys.get("function")
    if named is not None:
        return (named,) if named in circuit.functions else ()
    direction = keys.get("direction")
    if direction is None:
        return ()
    sides = (keys["side"],) if "side" in keys else (None, "left", "right")
    return tuple(name for name, f in circuit.functions.items() if f.direction == direction and f.side in sides)


def on_all_ways(failing: Iterable[str], sound: Iterable[str], circuit: CircuitGraph) -> tuple[str, ...]:
    """Parts that serve everything that fails and nothing that is in order, in the circuit's order.

    Empty where nothing fails or nothing is in order: then the ways tell nothing apart.
    """
    wrong, good = frozenset(failing), frozenset(sound)
    if not wrong or not good:
        return ()
    return tuple(part for part in circuit.parts if wrong <= (served := serves(part, circuit)) and not good & served)


def position(part: str, function: str, circuit: CircuitGraph) -> int | None:
    """Where on a function's way a part acts, as an index of its path; None if it serves another one.

    What is beside the way acts where it branches off, a pilot valve at the spool, a control at its pump.
    """
    path, f = circuit.path(function), circuit.functions[function]
    if part in path:
        return path.index(part)
    if part == f.pilot or part in circuit.piloted:
        return path.index(f.spool) if function in serves(part, circuit) else None
    placed = circuit.parts.get(part)
    if placed is None or (placed.of not in path and function not in serves(part, circuit)):
        return None
    if placed.end is not None:  # beside a hose or valve of that end, if there is one
        beside = [name for name in (*f.supply, *f.exhaust) if circuit.parts[name].end == placed.end]
        return path.index(beside[-1] if beside and beside[-1] in f.supply else f.actuator)
    return path.index(placed.of) if placed.of in path else path.index(f.actuator)


def splits(function: str, shares: Mapping[str, float], circuit: CircuitGraph) -> tuple[GaugePoint, ...]:
    """Points in a function's path at which a gauge would split the suspects; the most even split first.

    Parameters
    ----------
    function : a function whose test is out
    shares : part → probability of the causes at it
    circuit : the circuit of the machine

    Returns
    -------
    points : shares are of the suspects that act on the way; a point that leaves nothing on one side is left out
    """
    at: dict[int, float] = {}
    for part, share in shares.items():
        place = position(part, function, circuit)
        if place is not None:
            at[place] = at.get(place, 0.0) + share
    whole, before, found = sum(at.values()), 0.0, []
    for place, part in enumerate(circuit.path(function)):
        before += at.get(place, 0.0)
        if at.get(place) and 0 < before < whole:
            found.append(GaugePoint(function, part, before / whole, 1 - before / whole))
    return tuple(sorted(found, key=lambda one: round(abs(one.before - one.after), 9)))
