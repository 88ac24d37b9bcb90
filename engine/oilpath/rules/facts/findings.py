"""Facts about single results: each reading's finding, what was not measured, and what was observed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from oilpath.documents.machine import Machine
from oilpath.flow import CheckResult, CodeResult, Fact, Measured, Result, SignResult
from oilpath.knowledge.rule import slots_for
from oilpath.machine.graph import CircuitGraph
from oilpath.rules.facts.readings import ReadingState, part_at

if TYPE_CHECKING:
    from oilpath.knowledge.base import Knowledge

#: Excess over a limit in widths of the tolerance (limit − new): a slight one up to 1, a gross one beyond 3.
SLIGHT, GROSS = 1.0, 3.0
#: Tolerance taken where the new value is not known, as a share of the limit (common practice, 10 to 20 %).
TOLERANCE = 0.15
#: Standard uncertainty of repeats, as a share of the mean, from which they are called scattered (from memory: three
#: repeats of a good stopwatch test lie within 5 %).
SCATTERED = 0.04
#: Shares of a drift from which cooling of the oil is called most or some of it.
MOST, SOME = 0.6, 0.25


def findings(readings: Sequence[ReadingState], circuit: CircuitGraph, knowledge: Knowledge) -> Iterator[Fact]:
    """One fact for each result, and one `unmeasured` for each test of the knowledge base that was not made."""
    for reading in readings:
        yield _finding(reading, circuit)
    made = {reading.result.test for reading in readings}
    for name, kind in knowledge.tests.items():
        if name not in made and kind.value is not None:
            yield Fact(
                "finding", slots_for("finding", test=name, variant="standard", together="no", state="unmeasured")
            )


def _finding(reading: ReadingState, circuit: CircuitGraph) -> Fact:
    keys, result = reading.keys, reading.result
    cylinder = keys.get("cylinder")
    hold = circuit.holds.get(cylinder or "")
    part = None if cylinder else reading.part
    actuator = circuit.functions[reading.function].actuator if reading.function else cylinder
    placed = circuit.parts.get(part or actuator or "")
    side = reading.side
    if reading.deviation in ("left", "right"):
        side = reading.deviation
    words = slots_for(
        "finding",
        result=word(result.id),
        test=result.test,
        function=reading.function,
        group=reading.group,
        cylinder=cylinder,
        side=side,
        direction=keys.get("direction"),
        range=keys.get("range"),
        pump=reading.pump,
        part=part,
        class_=placed.class_ if placed else None,
        case=keys.get("condition") or keys.get("state") or keys.get("of"),
        end=hold.loaded if hold else None,
        variant=result.variant,
        together="yes" if result.together_with else "no",
        state=reading.state,
        deviation=reading.deviation,
        size=_size(reading),
        repeats=_repeats(result) if isinstance(result, Measured) else None,
        cooling=_cooling(result) if isinstance(result, Measured) else None,
    )
    return Fact("finding", words, (result.id,))


def _size(reading: ReadingState) -> str | None:
    """How far an out reading lies beyond its limit."""
    result = reading.result
    if reading.state != "out" or not isinstance(result, Measured):
        return None
    over = result.max is not None and result.value > result.max
    limit = result.max if over else result.min
    if limit is None:
        return None
    width = abs(limit - result.new) if result.new is not None else 0.0
    width = width or TOLERANCE * abs(limit)
    excess = abs(result.value - limit) / width if width else float("inf")
    return "slight" if excess <= SLIGHT else "clear" if excess <= GROSS else "gross"


def _repeats(result: Measured) -> str | None:
    if result.count is None:
        return None
    if result.basis == "estimate" and result.verdict == "near":
        return None  # the width of the estimate leaves it open, not the repeats
    if result.count < 2 or result.uncertainty is None or not result.value:
        return "single"
    return "scattered" if result.uncertainty / abs(result.value) > SCATTERED else "steady"


def _cooling(result: Measured) -> str | None:
    """How much of a drift is the cooling of its oil, where the judging worked it out."""
    cooling, most = result.computed.get("cooling"), result.computed.get("cooling-at-most")
    if not result.value:
        return None
    if cooling is None:  # no temperatures: only a drift far beyond what any cooling can do says something
        return "little" if most is not None and most.value / result.value < SOME else None
    share = cooling.value / result.value
    return "most" if share >= MOST else "some" if share >= SOME else "little"


def word(text: str) -> str:
    """Text of a sheet or machine file as a word that the rules can hold: lower case, digits, `-`, `.` and `/`."""
    return re.sub(r"[^a-z0-9./@+-]+", "-", text.casefold()).strip("-") or "-"


def observations(results: Sequence[Result], machine: Machine, circuit: CircuitGraph) -> Iterator[Fact]:
    """Signs seen or not, codes active or stored, outcomes of checks; each with the part that it names."""
    for result in results:
        match result:
            case SignResult():
                seen = "seen" if result.seen else "not-seen"
                yield _observed(result, "sign", result.sign, seen, result.keys.get("part"), circuit)
            case CodeResult(active=bool()):
                meaning = machine.codes.get(result.code)
                value = "active" if result.active else "stored"
                yield _observed(result, "code", result.code, value, meaning.part if meaning else None, circuit)
            case CheckResult():
                yield _observed(result, "check", result.check, result.outcome, result.part, circuit)


def _observed(result: Result, kind: str, of: str, value: str, at: str | None, circuit: CircuitGraph) -> Fact:
    part = part_at(at, circuit) if at else None
    part = part if part in circuit.parts else None
    function = result.keys.get("function")
    f = circuit.functions.get(function) if function else None
    placed = circuit.parts.get(part or (f.actuator if f else ""))
    pump = circuit.pump_of(part) if part else next(iter(circuit.pumps(function)), None) if f and function else None
    actuators = {known.actuator: known.group for known in circuit.functions.values()}
    moved = f.actuator if f else part if part in actuators else placed.of if placed and placed.of in actuators else None
    words = slots_for(
        "observed",
        kind=kind,
        of=word(of),
        part=part,
        class_=placed.class_ if placed else None,
        function=function if f else None,
        group=f.group if f else actuators.get(moved or ""),
        side=result.keys.get("side") or (circuit.side(part) if part else f.side if f else None),
        pump=pump,
        actuator=moved,
        value=word(value),
    )
    return Fact("observed", words, (result.id,))
