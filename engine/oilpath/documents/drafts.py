"""Drafts: the shape of a machine file and a test sheet, before anything is compared with circuit and test kinds.

A draft is checked as far as a file alone allows. What only a circuit or a test kind can say (which part, which keys of
a reading) is left as it is, and bound by the readers. An adapter for another form of the same document (a table, a
page) makes the same plain data and gives the places. The JSON Schemas are made from these models.
"""

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator, ConfigDict, Field, WithJsonSchema

from oilpath.documents.machine import Dimensions, Oil, PartData, TestSpeed, read_speed
from oilpath.documents.value_types import (
    FEEDS,
    FIGURES,
    ID_SCHEMA,
    Attachment,
    AutoIdle,
    Cause,
    Class,
    ControlWord,
    FilePath,
    FilePaths,
    Hours,
    JobGrade,
    Many,
    Moved,
    Offset,
    Ref,
    Refs,
    RemedyAction,
    RotationRange,
    Side,
    TemperatureRange,
    Turns,
    VeerLine,
    WorkingSetting,
    WorkKind,
    WorkMinutes,
)
from oilpath.knowledge.fields import Date, Distance, Entry, Ratio, Rotation, Temperature, Text, Texts, Time
from oilpath.units import sample


class ConditionsDraft(Entry):
    """Conditions of a sheet or of one reading."""

    called: ClassVar[str] = "the conditions"

    oil_temperature: Temperature | None = None
    engine_speed: Rotation | None = None
    ambient_temperature: Temperature | None = None
    attachment: Attachment | None = None
    auto_idle: AutoIdle | None = None
    working_setting: WorkingSetting | None = None


class ReadingDraft(Entry):
    """One reading: its test; the other keys are those of the test kind."""

    model_config = ConfigDict(extra="allow")
    called: ClassVar[str] = "a reading"
    needed: ClassVar[Mapping[str, str]] = {"test": "the name of the test"}

    test: Any = None
    note: Text | None = None
    conditions: ConditionsDraft | None = None


class VeerDraft(Entry):
    """A sideways offset as written."""

    called: ClassVar[str] = "a veer"
    needed: ClassVar[Mapping[str, str]] = {"offset": sample("distance")}

    toward: Side | None = None
    offset: Offset | None = None
    from_: VeerLine | None = None


class LogPointDraft(Entry):
    """One point of a drift log."""

    called: ClassVar[str] = "a point of the log"
    needed: ClassVar[Mapping[str, str]] = {"after": sample("time"), "moved": sample("length")}

    after: Time | None = None
    moved: Moved | None = None


class InstrumentDraft(Entry):
    """An instrument; resolution and span are of the quantity that it reads."""

    called: ClassVar[str] = "an instrument"

    resolution: Any = None
    span: Any = None
    class_: Class | None = None


class ConfirmedDraft(Entry):
    """The confirmed cause of a closed job."""

    called: ClassVar[str] = "a confirmed cause"
    needed: ClassVar[Mapping[str, str]] = {
        "cause": "a cause such as pump.worn", "part": "the part that it was found at"
    }  # fmt: skip

    cause: Cause | None = None
    part: Ref = None
    how: Text | None = None
    after: FilePath = None
    grade: JobGrade | None = None
    minutes: WorkMinutes | None = None
    """what the whole job took"""


class RemedyDraft(Entry):
    """What was done to a part, and whether it helped."""

    called: ClassVar[str] = "a remedy"
    needed: ClassVar[Mapping[str, str]] = {
        "action": "exchanged, adjusted, cleaned, repaired or topped-up", "part": "the part that it was done to"
    }  # fmt: skip

    action: RemedyAction | None = None
    part: Ref = None
    after: FilePath = None
    helped: bool | None = None


class WorkDraft(Entry):
    """What was moved on the machine while it was tested."""

    called: ClassVar[str] = "an entry of the work"
    needed: ClassVar[Mapping[str, str]] = {
        "what": "setting, plugged, crossed, fitted, wired or exchanged", "part": "the part that was worked on"
    }  # fmt: skip

    what: WorkKind | None = None
    part: Ref = None
    turns: Turns | None = None
    """of a setting: how far the screw was turned, in is positive"""
    undo: bool | None = None
    """true: it must be put back before the machine starts; false: it stays, or is put back"""
    minutes: WorkMinutes | None = None
    check: Text | None = None
    """the check for which it was done"""
    note: Text | None = None


class SheetDraft(Entry):
    """A test sheet, `oilpath: sheet/1`."""

    called: ClassVar[str] = "a sheet"
    needed: ClassVar[Mapping[str, str]] = {
        "machine": "the path of a machine file, or the whole machine inline",
        "readings": "a list of readings, which may be empty: []",
    }

    oilpath: Annotated[Any, WithJsonSchema({"const": "sheet/1"})] = None
    machine: FilePath = None
    unit_number: Text | None = None
    order_number: Text | None = None
    serial_number: Text | None = None
    technician: Text | None = None
    hours: Hours | None = None
    date: Date | None = None
    complaint: Text | None = None
    history: Texts | None = Field(None, description="the history")
    conditions: ConditionsDraft | None = None
    instruments: dict[str, InstrumentDraft | None] | None = Field(None, description="the instruments")
    readings: Many[ReadingDraft | None] | None = Field(None, description="a list of readings")
    baseline: FilePaths | None = Field(None, description="a list of sheets")
    sister: FilePaths | None = Field(None, description="a list of sheets of a sound machine of the same kind")
    confirmed: Many[ConfirmedDraft | None] | None = Field(None, description="a list of confirmed causes")
    remedies: Many[RemedyDraft | None] | None = Field(None, description="a list of remedies")
    work: Many[WorkDraft | None] | None = Field(None, description="a list of work on the machine")


# --- machines -----------------------------------------------------------------------


class CodeDraft(Entry):
    """What one of the machine's own fault codes says."""

    called: ClassVar[str] = "a code"
    needed: ClassVar[Mapping[str, str]] = {"says": "what the code says"}

    says: Text | None = None
    part: Ref = None


class LimitDraft(Entry):
    """One limit: values in the unit of its test; the other keys are those that the test kind lets a limit name."""

    model_config = ConfigDict(extra="allow")
    called: ClassVar[str] = "a limit"
    needed: ClassVar[Mapping[str, str]] = {"test": "the test that a limit is for"}

    test: Any = None
    new: Any = None
    min: Any = None
    max: Any = None
    max_veer: Distance | None = None
    max_difference: Ratio | None = None


class DemandDraft(Entry):
    """Conditions that one test of this machine demands."""

    model_config = ConfigDict(extra="allow")
    called: ClassVar[str] = "a demand"
    needed: ClassVar[Mapping[str, str]] = {"test": "the test that a demand is for"}

    test: Any = None
    oil_temperature: TemperatureRange | None = None
    engine_speed: RotationRange | None = None
    hold: Time | None = None
    attachment: Attachment | None = None
    auto_idle: AutoIdle | None = None
    working_setting: WorkingSetting | None = None


class MachineDraft(Entry):
    """A machine file, `oilpath: machine/1`."""

    called: ClassVar[str] = "a machine"
    needed: ClassVar[Mapping[str, str]] = {
        "name": "a name for the machine",
        "circuit": "an id from kb/circuits/, or a path to a circuit file",
    }

    oilpath: Annotated[Any, WithJsonSchema({"const": "machine/1"})] = None
    name: Text | None = None
    circuit: Annotated[Any, WithJsonSchema({"type": "string"})] = Field(
        None, description="an id from kb/circuits/, or the path of a circuit file"
    )
    engine_speed: Annotated[TestSpeed, BeforeValidator(read_speed)] | None = None
    oil: Oil | None = None
    parts: dict[str, PartData | None] | None = Field(
        None, description="the parts", json_schema_extra={"propertyNames": ID_SCHEMA}
    )
    absent: Refs | None = Field(None, description="a list of parts")
    feeds: Annotated[dict[str, Any], WithJsonSchema(FEEDS)] | None = Field(None, description="the feeds")
    control: ControlWord | None = None
    figures: Annotated[dict[str, Any], WithJsonSchema(FIGURES)] | None = Field(None, description="the figures")
    dimensions: Dimensions | None = None
    limits: Many[LimitDraft | None] | None = Field(None, description="a list of limits")
    conditions: Many[DemandDraft | None] | None = Field(None, description="a list of demanded conditions")
    codes: dict[str, CodeDraft | None] | None = Field(
        None, description="the codes", json_schema_extra={"propertyNames": {"pattern": "^[0-9]+-[0-9]+$"}}
    )
    baseline: FilePaths | None = Field(None, description="a list of sheets")
