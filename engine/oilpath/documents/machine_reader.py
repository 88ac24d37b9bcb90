"""The machine file, `oilpath: machine/1`: what is known of one machine, checked against its circuit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, get_args

from oilpath.codes import FMI_MAX, SPN_MAX
from oilpath.documents import walk
from oilpath.documents.limit_reader import read_demands, read_limits
from oilpath.documents.machine import CodeMeaning, Dimensions, Machine, Oil, PartData, TestSpeed
from oilpath.documents.machine_scope import MachineScope
from oilpath.documents.nodes import Node
from oilpath.documents.paths import is_kind, open_named, sheet_names
from oilpath.documents.validate import model_from
from oilpath.documents.walk import Fields, Location
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.circuit import Circuit, Control, Feeds
from oilpath.knowledge.circuit_check import blocked_functions, check_circuit
from oilpath.knowledge.wiring import wire
from oilpath.problems import shorten
from oilpath.units import sample

#: Viscosity grades of ISO 3448:1992, by their viscosity at 40 °C in mm²/s.
GRADES: Final = (2, 3, 5, 7, 10, 15, 22, 32, 46, 68, 100, 150, 220, 320, 460, 680, 1000, 1500, 2200, 3200)
KEYS: Final = (
    "oilpath", "name", "circuit", "engine-speed", "oil", "parts", "absent", "feeds", "control", "dimensions", "limits",
    "conditions", "codes", "baseline",
)  # fmt: skip
_GRADE: Final = re.compile(r"(?:iso[ -]*)?vg[ -]*([0-9]{1,4})", re.IGNORECASE)
_CODE: Final = re.compile(r"(0|[1-9][0-9]{0,5})-(0|[1-9][0-9]?)")
_CIRCUIT_ID: Final = re.compile(r"[A-Za-z0-9_ -]+")
_MOST_PARTS: Final = 16  # of one kind in one place, such as the cylinders of a boom
_MOST_TOLERANCE: Final = 0.2


@dataclass(frozen=True, slots=True)
class ReadMachine:
    """A machine as far as it could be read: None where something is wrong, with the scope where that is known.

    baseline: where its file names earlier sheets; they are read with a sheet of this machine.
    """

    machine: Machine | None = None
    scope: MachineScope | None = None
    baseline: tuple[Location, ...] = ()


def read_machine(location: Location, knowledge: Knowledge, *, inline: bool = False) -> ReadMachine:
    """The machine that stands at `location`; inline it may leave out its kind."""
    fields = location.fields("a machine")
    if fields is None:
        return ReadMachine()
    stated = fields.get("oilpath")
    if (stated is not None or not inline) and not is_kind(location, "machine"):
        return ReadMachine()
    before = len(location.file.problems)
    fields.close(KEYS)
    name = fields.need("name", "a name for the machine")
    title = walk.text(name) if name is not None else None
    speed, oil, dimensions = _speed(fields), _oil(fields), _dimensions(fields)
    control = fields.get("control")
    controlled: Any = (
        walk.word(control, get_args(Control), "a control of the main pumps") if control is not None else None
    )
    ref = fields.need("circuit", "an id from kb/circuits/, or a path to a circuit file")
    circuit = read_circuit(ref, knowledge) if ref is not None else None
    if circuit is None:
        return ReadMachine()
    absent = _absent(fields, circuit)
    feeds = _feeds(fields, circuit, absent)
    allocation = merged_feeds(circuit, feeds)
    scope = MachineScope(circuit, allocation, frozenset(absent))
    parts = _parts(fields, scope)
    limits = read_limits(fields.get("limits"), scope, knowledge)
    demands = read_demands(fields.get("conditions"), knowledge)
    codes = _codes(fields, scope)
    earlier = sheet_names(fields.get("baseline"))
    if len(location.file.problems) > before or title is None:
        return ReadMachine(None, scope)
    machine = Machine.model_construct(
        oilpath="machine/1", name=title, circuit=circuit, engine_speed=speed, oil=oil, parts=parts, absent=absent,
        feeds=feeds, control=controlled, dimensions=dimensions, limits=limits, conditions=demands, codes=codes,
        baseline=tuple(str(one.value) for one in earlier), file=location.file.shown,
    )  # fmt: skip
    if (absent or circuit is not knowledge.circuits.get(circuit.id)) and (blocked := blocked_functions(machine)):
        key = fields.get("absent") or ref
        message = f"no way for the oil is left to {', '.join(blocked[:6])}"
        (key or location).wrong(
            message, "a circuit whose lines lead from the tank through pump and spool to each actuator and back"
        )
        return ReadMachine(None, scope)
    return ReadMachine(machine, scope, earlier)


def read_circuit(ref: Location, knowledge: Knowledge) -> Circuit | None:
    """The circuit that a machine names: by an id of the knowledge base, or by the path of a circuit file."""
    name = ref.value
    if not isinstance(name, str):
        ref.wrong("names no circuit", "an id from kb/circuits/, or a path to a circuit file")
        return None
    if name in knowledge.circuits:
        return knowledge.circuits[name]
    if _CIRCUIT_ID.fullmatch(name):
        guess = walk.hint(name, tuple(knowledge.circuits), ref.file.problems)
        ref.wrong(
            f"`{shorten(name)}` is no circuit of the knowledge base", f"{guess}; or a path such as my-circuit.yaml"
        )
        return None
    top = open_named(ref, "circuit")
    if top is None:
        return None
    circuit = model_from(top.node, Circuit, top.file.shown, top.file.problems)
    if circuit is None:
        return None
    return circuit if check_circuit(circuit, top, knowledge) else None


def merged_feeds(circuit: Circuit, own: Feeds | None) -> Feeds:
    """The feeds in force, as `Machine.allocation` gives them."""
    usual = circuit.feeds
    if own is None:
        return usual
    return Feeds.model_construct(pumps={**usual.pumps, **own.pumps}, merge=own.merge if own.merge else usual.merge)


# --- plain facts --------------------------------------------------------------------


def _speed(fields: Fields) -> TestSpeed | None:
    location = fields.get("engine-speed")
    if location is None:
        return None
    if not isinstance(location.value, dict):
        alone = walk.quantity(location, "rotation", "positive")
        return None if alone is None else TestSpeed.model_construct(test=alone, tolerance=None)
    inside = location.fields("the engine speed")
    assert inside is not None
    inside.close(("test", "tolerance"))
    test, tolerance = inside.need("test", sample("rotation")), inside.get("tolerance")
    value = walk.quantity(test, "rotation", "positive") if test is not None else None
    share = walk.quantity(tolerance, "ratio", "positive") if tolerance is not None else None
    if tolerance is not None and share is not None and share > _MOST_TOLERANCE:
        tolerance.wrong("is too large to be a tolerance", "at most 20 %, such as 2 %")
    return None if value is None else TestSpeed.model_construct(test=value, tolerance=share)


def _oil(fields: Fields) -> Oil:
    location = fields.get("oil")
    inside = location.fields("the oil") if location is not None else None
    if inside is None:
        return Oil.model_construct(grade=None, viscosity_index=None)
    inside.close(("grade", "viscosity-index"))
    grade, index = inside.get("grade"), inside.get("viscosity-index")
    return Oil.model_construct(
        grade=_grade(grade) if grade is not None else None,
        viscosity_index=walk.number(index, least=1, most=400) if index is not None else None,
    )


def _grade(location: Location) -> str | None:
    found = _GRADE.fullmatch(location.value.strip()) if isinstance(location.value, str) else None
    if found is not None and int(found.group(1)) in GRADES:
        return f"ISO VG {int(found.group(1))}"
    location.wrong("is no viscosity grade of ISO 3448", "ISO VG followed by " + ", ".join(map(str, GRADES)))
    return None


def _dimensions(fields: Fields) -> Dimensions:
    location = fields.get("dimensions")
    inside = location.fields("the dimensions") if location is not None else None
    known = ("length", "track-gauge", "track-length")
    if inside is None:
        return Dimensions.model_construct(length=None, track_gauge=None, track_length=None)
    inside.close(known)
    length, gauge, track = (
        walk.quantity(found, "length", "positive") if (found := inside.get(key)) is not None else None for key in known
    )
    return Dimensions.model_construct(length=length, track_gauge=gauge, track_length=track)


# --- parts --------------------------------------------------------------------------


def _absent(fields: Fields, circuit: Circuit) -> tuple[str, ...]:
    location = fields.get("absent")
    everything = MachineScope(circuit, circuit.feeds)
    names: dict[str, int] = {}
    for item in (location.one_or_many("a list of parts") or ()) if location is not None else ():
        name = everything.name(item, "part")
        if name is not None and name in names:
            item.wrong(f"{name} is listed twice, first on line {names[name]}", "each part once")
        elif name is not None:
            names[name] = item.line
    return tuple(names)


def _parts(fields: Fields, scope: MachineScope) -> dict[str, PartData]:
    location = fields.get("parts")
    inside = location.fields("the parts") if location is not None else None
    parts: dict[str, PartData] = {}
    for name, value in inside.all() if inside is not None else ():
        key = Location(value.file, _as_node(name, value), value.path, value.line)
        known = scope.name(key, "part")
        data = _part(value)
        if known is not None and data is not None:
            parts[known] = data
    return parts


def _as_node(name: str, value: Location) -> Node:
    return Node(name, value.line, value.node.column, name)


def _part(location: Location) -> PartData | None:
    fields = location.fields("what is known of a part")
    if fields is None:
        return None
    fields.close(("displacement", "speed-ratio", "count", "bore", "rod", "stroke"))
    sizes: dict[str, float | None] = {}
    for key, quantity in (
        ("displacement", "displacement"),
        ("bore", "length"),
        ("rod", "length"),
        ("stroke", "length"),
    ):
        found = fields.get(key)
        sizes[key] = walk.quantity(found, quantity, "positive") if found is not None else None
    ratio, count, rod = fields.get("speed-ratio"), fields.get("count"), fields.get("rod")
    if rod is not None and sizes["rod"] is not None and sizes["bore"] is not None and sizes["rod"] >= sizes["bore"]:
        rod.wrong("a rod is thinner than its bore", "the rod's diameter, less than that of the bore")
    number = walk.whole(count, _MOST_PARTS) if count is not None else None
    if count is not None and number == 0:
        count.wrong("must be more than zero", "1, 2 …; a part that the machine lacks is listed under absent")
    return PartData.model_construct(
        displacement=sizes["displacement"],
        speed_ratio=walk.number(ratio, least=0.05, most=20) if ratio is not None else None,
        count=number, bore=sizes["bore"], rod=sizes["rod"], stroke=sizes["stroke"],
    )  # fmt: skip


def _codes(fields: Fields, scope: MachineScope) -> dict[str, CodeMeaning]:
    location = fields.get("codes")
    inside = location.fields("the codes") if location is not None else None
    codes: dict[str, CodeMeaning] = {}
    for name, value in inside.all() if inside is not None else ():
        found = _CODE.fullmatch(name)
        if found is None or int(found.group(1)) > SPN_MAX or int(found.group(2)) > FMI_MAX:
            value.wrong("is no code", f"SPN-FMI in quotes, such as 520201-4 (SPN to {SPN_MAX}, FMI to {FMI_MAX})")
        entry = value.fields("a code")
        if entry is None:
            continue
        entry.close(("says", "part"))
        says, part = entry.need("says", "what the code says"), entry.get("part")
        meaning = walk.text(says) if says is not None else None
        known = scope.name(part, "part") if part is not None else None
        if meaning is not None:
            codes[name] = CodeMeaning.model_construct(says=meaning, part=known)
    return codes


# --- feeds --------------------------------------------------------------------------


def _feeds(fields: Fields, circuit: Circuit, absent: tuple[str, ...]) -> Feeds | None:
    location = fields.get("feeds")
    inside = location.fields("the feeds") if location is not None else None
    if location is None or inside is None:
        return None
    scope = MachineScope(circuit, circuit.feeds, frozenset(absent))
    before = len(location.file.problems)
    pumps: dict[str, tuple[str, ...]] = {}
    for name, value in inside.all():
        if name == "merge":
            continue
        key = Location(value.file, _as_node(name, value), value.path, value.line)
        pump = scope.name(key, "pump")
        groups = [
            walk.word(item, scope.groups(), "a group of functions")
            for item in value.one_or_many("a list of groups of functions") or ()
        ]
        if pump is not None:
            pumps[pump] = tuple(dict.fromkeys(group for group in groups if group is not None))
    merge = _merge(inside.get("merge"), scope)
    own = Feeds.model_construct(pumps=pumps, merge=merge)
    if len(location.file.problems) == before:
        _check_feeds(location, merged_feeds(circuit, own), scope)
    return own


def _merge(location: Location | None, scope: MachineScope) -> dict[str, str]:
    inside = location.fields("the merge valves") if location is not None else None
    merge: dict[str, str] = {}
    for name, value in inside.all() if inside is not None else ():
        key = Location(value.file, _as_node(name, value), value.path, value.line)
        function, pump = scope.name(key, "function"), scope.name(value, "pump")
        if function is None or pump is None:
            continue
        valve = wire(scope.circuit).functions[function].merge_valve
        if valve is None or valve in scope.absent:
            value.wrong(f"{function} has no merge valve", "a function through whose merge valve a second pump joins")
        merge[function] = pump
    return merge


def _check_feeds(location: Location, feeds: Feeds, scope: MachineScope) -> None:
    """Each group is fed by one pump, and what a merge valve adds is another one."""
    feeding: Mapping[str, list[str]] = {
        group: [pump for pump, groups in feeds.pumps.items() if group in groups] for group in scope.groups()
    }
    for group, pumps in feeding.items():
        if len(pumps) > 1:
            location.wrong(
                f"{group} would be fed by {' and '.join(pumps)}", "each group under one pump; write out both pumps"
            )
        elif not pumps and scope.of_group(group):
            location.wrong(f"{group} would be fed by no pump", "each group under one pump; write out both pumps")
    for function, pump in feeds.merge.items():
        if feeding[scope.circuit.functions[function].group] == [pump]:
            accepted = "merge: the function with the other pump"
            location.wrong(f"{function} would be merged from {pump}, which feeds it anyway", accepted)
