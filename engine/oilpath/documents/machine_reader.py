"""The machine file, `oilpath: machine/1`: what is known of one machine, checked against its circuit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from pydantic_core import PydanticCustomError

from oilpath.codes import FMI_MAX, SPN_MAX
from oilpath.documents.drafts import CodeDraft, MachineDraft
from oilpath.documents.limit_reader import read_demands, read_limits
from oilpath.documents.location import Location
from oilpath.documents.machine import CodeMeaning, Dimensions, Machine, Oil, PartData, feeds_in_force
from oilpath.documents.machine_scope import MachineScope
from oilpath.documents.paths import is_kind, open_named, sheet_names
from oilpath.documents.validate import drafted
from oilpath.documents.value_types import MAX_ENTRIES
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.circuit import Circuit, Feeds
from oilpath.knowledge.circuit_check import blocked_functions, check_circuit, figure_bounds
from oilpath.knowledge.fields import hint
from oilpath.knowledge.figures import Figure, stated
from oilpath.problems import shorten
from oilpath.records import dataclass

_CODE: Final = re.compile(r"(0|[1-9][0-9]{0,5})-(0|[1-9][0-9]?)")
_CIRCUIT_ID: Final = re.compile(r"[A-Za-z0-9_ -]+")


@dataclass(frozen=True, slots=True)
class ReadMachine:
    """A machine as far as it could be read: None where something is wrong, with the scope where that is known.

    baseline: where its file names earlier sheets; they are read with a sheet of this machine.
    """

    machine: Machine | None = None
    scope: MachineScope | None = None
    baseline: tuple[Location, ...] = ()


def read_machine(location: Location, knowledge: Knowledge, *, inline: bool = False) -> ReadMachine:
    """The machine at `location`; inline it may leave out its kind."""
    if not location.mapping(MachineDraft.called):
        return ReadMachine()
    if (location.get("oilpath") is not None or not inline) and not is_kind(location, "machine"):
        return ReadMachine()
    before = len(location.file.problems)
    draft = drafted(MachineDraft, location)
    assert draft is not None
    circuit = read_circuit(location.below("circuit"), knowledge) if draft.circuit is not None else None
    if circuit is None:
        return ReadMachine()
    absent = _absent(location.below("absent"), circuit)
    feeds = _feeds(location, circuit, absent)
    scope = MachineScope(circuit, feeds_in_force(circuit, feeds), frozenset(absent))
    parts = _parts(location.below("parts"), draft.parts or {}, scope)
    limits = read_limits(location.below("limits"), draft.limits or (), scope, knowledge)
    demands = read_demands(location.below("conditions"), draft.conditions or (), knowledge)
    own = _figures(location.below("figures"), draft.figures or {}, circuit)
    codes = _codes(location.below("codes"), draft.codes or {}, scope)
    earlier = sheet_names(location.get("baseline"))
    if len(location.file.problems) > before or draft.name is None:
        return ReadMachine(None, scope)
    machine = Machine(
        name=draft.name, circuit=circuit.with_figures(own), figures=tuple(own),
        engine_speed=draft.engine_speed, oil=draft.oil or Oil(), parts=parts,
        absent=absent, feeds=feeds, control=draft.control, dimensions=draft.dimensions or Dimensions(), limits=limits,
        conditions=demands, codes=codes, baseline=tuple(str(one.value) for one in earlier), file=location.file.shown,
    )  # fmt: skip
    if (absent or circuit is not knowledge.circuits.get(circuit.id)) and (blocked := blocked_functions(machine)):
        message = f"no way for the oil is left to {', '.join(blocked[:6])}"
        location.below("absent" if absent else "circuit").wrong(
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
        guess = hint(name, tuple(knowledge.circuits))
        ref.wrong(
            f"`{shorten(name)}` is not a circuit of the knowledge base", f"{guess}; or a path such as my-circuit.yaml"
        )
        return None
    top = open_named(ref, "circuit")
    if top is None:
        return None
    before = len(top.file.problems)
    circuit = drafted(Circuit, top)
    if circuit is None or len(top.file.problems) > before:
        return None
    return circuit if check_circuit(circuit, top, knowledge) else None


# --- parts --------------------------------------------------------------------------


def _absent(location: Location, circuit: Circuit) -> tuple[str, ...]:
    everything = MachineScope(circuit, circuit.feeds)
    names: dict[str, int] = {}
    for item in _listed(location):
        name = everything.name(item, "part")
        if name is not None and name in names:
            item.wrong(f"{name} is listed twice, first on line {names[name]}", "each part once")
        elif name is not None:
            names[name] = item.line
    return tuple(names)


def _listed(location: Location) -> list[Location]:
    """The values of a list or one value alone, nothing if there is none or the draft has found it too long."""
    if location.value is None or (isinstance(location.value, list) and len(location.value) > MAX_ENTRIES):
        return []
    return location.one_or_many("a list") or []


def _parts(location: Location, drafts: Mapping[str, PartData | None], scope: MachineScope) -> dict[str, PartData]:
    parts: dict[str, PartData] = {}
    for name, data in drafts.items():
        known = scope.name(location.named(name), "part") if data is not None else None
        if known is not None and data is not None:
            parts[known] = data
    return parts


def _codes(location: Location, drafts: Mapping[str, CodeDraft | None], scope: MachineScope) -> dict[str, CodeMeaning]:
    codes: dict[str, CodeMeaning] = {}
    for name, draft in drafts.items():
        entry = location.below(name)
        found = _CODE.fullmatch(name)
        if found is None or int(found.group(1)) > SPN_MAX or int(found.group(2)) > FMI_MAX:
            entry.wrong("is not a code", f"SPN-FMI in quotes, such as 520201-4 (SPN to {SPN_MAX}, FMI to {FMI_MAX})")
        if draft is None:
            continue
        entry.need("says", draft.called, draft.needed["says"])
        part = entry.get("part")
        known = scope.name(part, "part") if part is not None else None
        if draft.says is not None:
            codes[name] = CodeMeaning(says=draft.says, part=known)
    return codes


def _figures(location: Location, written: Mapping[str, object], circuit: Circuit) -> dict[str, Figure]:
    """What the machine's file states of its circuit's assumed figures."""
    found: dict[str, Figure] = {}
    for name, value in written.items():
        figure = circuit.figures_named.get(name)
        if figure is None:
            location.named(name).wrong(
                f"`{shorten(name)}` is not a figure of this circuit", hint(name, tuple(circuit.figures_named))
            )
            continue
        try:
            own = stated(value, figure)
        except PydanticCustomError as error:
            context = error.context or {}
            location.below(name).wrong(str(context["message"]), str(context["accepted"]))
            continue
        least, most = figure_bounds(circuit).get(name, (0.0, 1.0))
        if own.low < least or own.high > most:
            location.below(name).wrong("is out of range", f"from {least:g} to {most:g}")
        else:
            found[name] = own
    return found


# --- feeds --------------------------------------------------------------------------


def _feeds(machine: Location, circuit: Circuit, absent: tuple[str, ...]) -> Feeds | None:
    location = machine.get("feeds")
    if location is None or not isinstance(location.value, Mapping):
        return None
    scope = MachineScope(circuit, circuit.feeds, frozenset(absent))
    before = len(location.file.problems)
    pumps: dict[str, tuple[str, ...]] = {}
    for name, value in location.all():
        if name == "merge":
            continue
        pump = scope.name(location.named(name), "pump")
        items = value.one_or_many("a list of groups of functions") or ()
        groups = [item.word(scope.groups(), "a group of functions") for item in items]
        if pump is not None:
            pumps[pump] = tuple(dict.fromkeys(group for group in groups if group is not None))
    merge = _merge(location.get("merge"), scope)
    if len(location.file.problems) > before:
        return None
    own = Feeds(pumps=pumps, merge=merge)
    _check_feeds(location, feeds_in_force(circuit, own), scope)
    return own


def _merge(location: Location | None, scope: MachineScope) -> dict[str, str]:
    merge: dict[str, str] = {}
    if location is None or not location.mapping("the merge valves"):
        return merge
    for name, value in location.all():
        function, pump = scope.name(location.named(name), "function"), scope.name(value, "pump")
        if function is None or pump is None:
            continue
        valve = scope.circuit.wiring.functions[function].merge_valve
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
