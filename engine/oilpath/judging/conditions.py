"""The conditions that a test demands: which hold, which do not, and what engine speed does to a value.

A condition that is not stated is not failed. Engine speed within 3 % of the test speed (or the machine's own
tolerance) is taken as it is, within 7 % a flow-limited value is computed for the test speed, beyond it is a fault.
Source: common practice; how much uncertainty a correction adds is from memory.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from oilpath.documents.machine import Demand, Machine
from oilpath.documents.sheet import Conditions, Reading, Sheet
from oilpath.flow.notes import Amount, Between, Note, Stretch, note
from oilpath.knowledge.applicability import has_any
from oilpath.knowledge.testkind import TestKind
from oilpath.records import dataclass
from oilpath.uncertainty import rectangular
from oilpath.units import parse

ACCEPTED = 0.03  # share of the test speed within which a value is taken as it is
CORRECTED = 0.07  # share within which it is corrected
GRAVITY_LED = 0.5  # share of a movement done by its weight from which engine speed does not set the time
_HAIR = 1e-9  # rounding of converted units must not decide

Window = tuple[float | None, float | None]
_NOT_STATED = Conditions()
NO_NEEDS: Mapping[str, tuple[str, ...]] = {}

_WRONG: Mapping[str, str] = {
    "attachment": "attachment-wrong",
    "auto-idle": "auto-idle-wrong",
    "working-setting": "working-setting-wrong",
}


@dataclass(frozen=True, slots=True)
class Demands:
    """What one test of one machine demands; windows in SI, words empty if nothing is demanded."""

    oil_temperature: Window | None
    oil_temperature_from: str | None
    speed: float | None
    """engine speed of the test, rev/s; None if no condition or not known"""
    speed_window: tuple[float, float] | None
    engine_speed: bool
    words: Mapping[str, tuple[str, ...]]
    least: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class ConditionCheck:
    """What the conditions of one reading come to.

    faults: condition → what is wrong and what to do; missing: conditions demanded and not stated; factor turns the
    measured value into the one at test speed, u_ratio is the uncertainty that this adds, as a share.
    """

    faults: Mapping[str, Note]
    missing: tuple[str, ...]
    factor: float
    u_ratio: float
    corrected: tuple[str, ...]
    notes: tuple[Note, ...]


def demands(
    test: str,
    kind: TestKind,
    machine: Machine,
    waived: tuple[str, ...] = (),
    needs: Mapping[str, tuple[str, ...]] = NO_NEEDS,
) -> Demands:
    """The test kind's conditions with what the machine file says otherwise, less what a variant waives.

    needs: condition → classes of parts of which a machine must have one for the condition to be asked for, unless its
    own file states it (`Knowledge.asked_of`).
    """
    usual = kind.conditions
    own = next((demand for demand in machine.conditions if demand.test == test), None)
    window: Window | None = (usual.oil_temperature.min, usual.oil_temperature.max) if usual.oil_temperature else None
    words: dict[str, tuple[str, ...]] = {
        "attachment": tuple(usual.attachment),
        "auto-idle": (usual.auto_idle,) if usual.auto_idle else (),
        "working-setting": (usual.working_setting,) if usual.working_setting else (),
    }
    lacking = {name for name, classes in needs.items() if not has_any(classes, machine)}
    words = {name: () if name in lacking else wanted for name, wanted in words.items()}
    window = None if "oil-temperature" in lacking else window
    least = {
        key: value if isinstance(value, int | float) else parse(value, kind.keys[key].quantity or "ratio")
        for key, value in usual.least.items()
    }
    needs_speed = usual.engine_speed and ("engine-speed" not in lacking or machine.engine_speed is not None)
    if own is not None:
        window = own.oil_temperature or window
        needs_speed = needs_speed or own.engine_speed is not None
        for name in words:
            word = getattr(own, name.replace("-", "_"))
            words[name] = (word,) if word else words[name]
        if own.hold is not None:
            least["hold"] = own.hold
    needs_speed = needs_speed and "engine-speed" not in waived
    speed, accepted = speed_window(machine, own)
    return Demands(
        oil_temperature=None if "oil-temperature" in waived else window,
        oil_temperature_from=usual.oil_temperature_from,
        engine_speed=needs_speed,
        speed=speed if needs_speed else None,
        speed_window=accepted if needs_speed else None,
        words={name: wanted for name, wanted in words.items() if wanted and name not in waived},
        least=least,
    )


def speed_window(machine: Machine, own: Demand | None = None) -> tuple[float | None, tuple[float, float] | None]:
    """Test speed of the engine and the window that is accepted around it, rev/s; None if the machine states none."""
    stated = machine.engine_speed
    if own is not None and own.engine_speed is not None:
        low, high = own.engine_speed
        return (stated.test if stated else (low + high) / 2), own.engine_speed
    if stated is None:
        return None, None
    share = ACCEPTED if stated.tolerance is None else stated.tolerance
    return stated.test, (stated.test * (1 - share), stated.test * (1 + share))


def stated(reading: Reading, sheet: Sheet) -> Conditions:
    """The reading's own conditions, else the sheet's, key by key."""
    own, general = reading.conditions, sheet.conditions
    if own == _NOT_STATED:
        return general
    names = Conditions.__dataclass_fields__
    return Conditions(
        **{name: getattr(general, name) if getattr(own, name) is None else getattr(own, name) for name in names}
    )


def check(
    reading: Reading,
    sheet: Sheet,
    waived: tuple[str, ...] = (),
    needs: Mapping[str, tuple[str, ...]] = NO_NEEDS,
    demanded: Callable[..., Demands] = demands,
) -> ConditionCheck:
    """Compare what was stated with what the test demands. Missing is only what the machine is asked for (see `needs` of
    `demands`); what a sheet states anyway must be right.

    demanded: `demands`, or what remembers its answers
    """
    kind = reading.kind
    wanted = demanded(reading.test, kind, sheet.machine, waived)
    asked_for = demanded(reading.test, kind, sheet.machine, waived, needs)
    given = stated(reading, sheet)
    faults: dict[str, Note] = {}
    missing: list[str] = []

    temperature = reading.figures.get(wanted.oil_temperature_from or "", given.oil_temperature)
    if wanted.oil_temperature is not None:
        if temperature is None:
            if asked_for.oil_temperature is not None:
                missing.append("oil-temperature")
        elif (fault := _temperature_fault(temperature, wanted.oil_temperature)) is not None:
            faults["oil-temperature"] = fault
    for name, accepted in wanted.words.items():
        word = getattr(given, name.replace("-", "_"))
        if word is None:
            if name in asked_for.words:
                missing.append(name)
        elif word not in accepted:
            faults[name] = note(_WRONG[name], word=word, accepted=accepted)
    for key, least in wanted.least.items():
        if key in reading.figures and reading.figures[key] < least * (1 - _HAIR):
            quantity = kind.keys[key].quantity
            made, asked = (Stretch(value, key, quantity) for value in (reading.figures[key], least))
            faults[key] = note("too-little", made=made, asked=asked)

    effect = _Effect()
    if wanted.engine_speed:
        if given.engine_speed is None:
            if asked_for.engine_speed:
                missing.append("engine-speed")
        elif wanted.speed is not None and wanted.speed_window is not None:
            effect = _speed_effect(given.engine_speed, wanted.speed, wanted.speed_window, kind, _group(reading, sheet))
            if effect.fault:
                faults["engine-speed"] = effect.fault
    notes = list(effect.notes)
    if missing:
        notes.append(note("not-stated", conditions=tuple(missing)))
    return ConditionCheck(faults, tuple(missing), effect.factor, effect.u_ratio, effect.corrected, tuple(notes))


@dataclass(frozen=True, slots=True)
class _Effect:
    factor: float = 1.0
    u_ratio: float = 0.0
    corrected: tuple[str, ...] = ()
    notes: tuple[Note, ...] = ()
    fault: Note | None = None


def _speed_effect(
    speed: float, test: float, window: tuple[float, float], kind: TestKind, group: tuple[str | None, float]
) -> _Effect:
    """What an engine speed beside the test speed does to a value of this kind, for a group with its gravity share."""
    share = speed / test
    if window[0] * (1 - _HAIR) <= speed <= window[1] * (1 + _HAIR):
        return _Effect()
    at, of = Amount(speed, "rotation"), Amount(share, "ratio")
    if abs(share - 1) > CORRECTED + _HAIR:
        return _Effect(fault=note("engine-speed-wrong", speed=at, share=of))
    if kind.speed_power == 0:
        return _Effect(notes=(note("engine-speed-does-not-matter", speed=at, share=of),))
    off = abs(math.log(share))
    name, gravity = group
    if gravity >= GRAVITY_LED or name in kind.uncorrected_groups:
        # Anything from no effect to the whole of it.
        notes = (note("engine-speed-not-corrected", speed=at, share=of),)
        return _Effect(u_ratio=rectangular(off), notes=notes)
    factor = share**kind.speed_power
    notes = (note("engine-speed-corrected", speed=at, share=of, factor=Amount(factor)),)
    # A move that power or a restriction limits follows engine speed by half or less.
    return _Effect(factor=factor, u_ratio=rectangular(off / 2), corrected=("engine-speed",), notes=notes)


def _group(reading: Reading, sheet: Sheet) -> tuple[str | None, float]:
    function = sheet.machine.circuit.functions.get(reading.keys.get("function", ""))
    return (function.group, function.gravity) if function is not None else (None, 0.0)


def _temperature_fault(value: float, window: Window) -> Note | None:
    side = outside(value, window)
    if side == 0:
        return None
    oil, wanted = Amount(value, "temperature"), Between(*window, "temperature")
    return note("oil-too-cold" if side < 0 else "oil-too-hot", oil=oil, window=wanted)


def outside(value: float, window: Window) -> int:
    """-1 below the window, 1 above it, 0 within."""
    low, high = window
    if low is not None and value < low - abs(low) * _HAIR:
        return -1
    return 1 if high is not None and value > high + abs(high) * _HAIR else 0
