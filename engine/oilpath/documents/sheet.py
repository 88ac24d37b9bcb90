"""The test sheet, `oilpath: sheet/1`, as the rest of the engine sees it: readings with their test kind, SI inside."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Final

from oilpath.documents.machine import Machine
from oilpath.knowledge.testkind import TestKind
from oilpath.records import dataclass


@dataclass(frozen=True, slots=True)
class Conditions:
    """Conditions of a sheet or of one reading; None is not stated. K and rev/s."""

    oil_temperature: float | None = None
    engine_speed: float | None = None
    ambient_temperature: float | None = None
    attachment: str | None = None
    auto_idle: str | None = None
    working_setting: str | None = None


@dataclass(frozen=True, slots=True)
class InstrumentData:
    """An instrument named on the sheet: resolution and span in the SI unit of what it reads, class in %."""

    resolution: float | None = None
    span: float | None = None
    accuracy_class: float | None = None


@dataclass(frozen=True, slots=True)
class Veer:
    """Sideways offset in m, positive to the right, and the line it was measured from."""

    offset: float
    reference: str


@dataclass(frozen=True, slots=True)
class LogPoint:
    """One point of a drift log: s after the start, m moved."""

    after: float
    moved: float


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading. `keys` are the words that place it (function, side, pump …); `figures` its other numbers in SI."""

    id: str
    test: str
    kind: TestKind
    keys: Mapping[str, str]
    values: tuple[float, ...] = ()
    figures: Mapping[str, float] = field(default_factory=dict)
    flags: Mapping[str, bool] = field(default_factory=dict)
    text: str | None = None
    variant: str = "standard"
    together_with: tuple[str, ...] = ()
    conditions: Conditions = Conditions()
    veer: Veer | None = None
    log: tuple[LogPoint, ...] = ()
    note: str | None = None
    line: int = 1


@dataclass(frozen=True, slots=True)
class Confirmed:
    """The confirmed cause of a closed job. Never influences an answer."""

    cause: str
    part: str
    how: str | None = None
    after: str | None = None
    grade: str | None = None
    minutes: float | None = None


@dataclass(frozen=True, slots=True)
class Remedy:
    """What was done to a part after the readings of the sheet. helped: None where it is not known yet; after: the sheet
    of the tests made again, as named."""

    action: str
    part: str
    helped: bool | None = None
    after: str | None = None


OPENED: Final = frozenset({"plugged", "crossed", "fitted", "wired"})
"""work that must be undone before the machine starts, where the sheet does not say otherwise"""


@dataclass(frozen=True, slots=True)
class Work:
    """What was moved on the machine. turns: of a screw, in is positive. undo: whether it must still be put back, None
    where the sheet does not say. check: the check for which it was done."""

    what: str
    part: str
    turns: float | None = None
    undo: bool | None = None
    minutes: float | None = None
    check: str | None = None
    note: str | None = None

    @property
    def open(self) -> bool:
        """Whether it must be put back before the machine starts, and is not yet."""
        return self.what in OPENED if self.undo is None else self.undo


@dataclass(frozen=True, slots=True)
class Sheet:
    """One filled-in sheet with its machine."""

    name: str
    """the path as typed, `-` for standard input"""
    machine: Machine
    readings: tuple[Reading, ...]
    conditions: Conditions = Conditions()
    instruments: Mapping[str, InstrumentData] = field(default_factory=dict)
    unit_number: str | None = None
    order_number: str | None = None
    serial_number: str | None = None
    technician: str | None = None
    hours: float | None = None
    date: str | None = None
    complaint: str | None = None
    history: tuple[str, ...] = ()
    baseline: tuple[str, ...] = ()
    """earlier sheets of this machine, when it was sound, as named on the sheet"""
    earlier: tuple[Sheet, ...] = ()
    """those that the sheet and its machine file name, as read; they hold none of their own"""
    sisters: tuple[Sheet, ...] = ()
    """sheets of sound machines of the same kind, as `earlier`"""
    confirmed: tuple[Confirmed, ...] = ()
    remedies: tuple[Remedy, ...] = ()
    work: tuple[Work, ...] = ()
