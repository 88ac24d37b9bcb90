"""What is sent and given back: the models by which a request is checked and from which the description is made."""

from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, StrictBool, StrictInt, StrictStr, WithJsonSchema

from oilpath.knowledge.fields import Entry

_MOST_ROWS = 200
_MOST_CHANGES = 200
_LONG = 1 << 20

Name = Annotated[StrictStr, Field(max_length=200)]
Short = Annotated[StrictStr, Field(max_length=300)]
Number = Annotated[StrictInt, Field(ge=1, le=2_000_000_000)]
Object = dict[str, Any]

NAME = "the name of a document, a path such as sheets/pit-07.yaml"


# the data of a document, as the schema of its file has it
MachineFile = Annotated[Object, WithJsonSchema({"$ref": "#/components/schemas/machine"})]
SheetFile = Annotated[Object, WithJsonSchema({"$ref": "#/components/schemas/sheet"})]


# --- queries --------------------------------------------------------------------------
# Their values come as text, so numbers and flags are read from it.


class Query(Entry):
    """What may stand behind the question mark."""

    called: ClassVar[str] = "the query"


class MachinesQuery(Query):
    """Which machines."""

    words: Annotated[str, Field(max_length=200, description="words that a machine has in its name or title")] = ""


class SheetsQuery(Query):
    """Which sheets, in which order, from which place on."""

    words: Annotated[str, Field(max_length=200, description="words that a sheet or its machine has")] = ""
    machine: Annotated[str | None, Field(max_length=200, description="the name of a machine's document")] = None
    unit_number: Annotated[str | None, Field(max_length=200)] = None
    cause: Annotated[str | None, Field(max_length=100, description="the leading cause, such as pump.worn")] = None
    closed: Annotated[bool | None, Field(description="sheets with, or without, a confirmed cause")] = None
    order: Literal["newest", "oldest", "hours", "share", "saved", "name"] = "newest"
    start: Annotated[int, Field(ge=0, le=10_000_000)] = 0
    most: Annotated[int, Field(ge=1, le=_MOST_ROWS)] = 50


class ClosedQuery(Query):
    """Which closed jobs."""

    words: Annotated[str, Field(max_length=200, description="words that a sheet or its machine has")] = ""
    start: Annotated[int, Field(ge=0, le=10_000_000)] = 0
    most: Annotated[int, Field(ge=1, le=_MOST_ROWS)] = 50


class VersionQuery(Query):
    """Which version."""

    version: Annotated[int | None, Field(ge=1, le=2_000_000_000, description="the latest where left out")] = None


class NextQuery(Query):
    """What is at hand."""

    minutes: Annotated[int | None, Field(ge=1, le=10_000, description="propose nothing longer")] = None
    pass_: Annotated[
        tuple[Annotated[str, Field(max_length=200)], ...],
        Field(max_length=20, description="steps that cannot be made here"),
    ] = ()


class OrderQuery(Query):
    """Which order."""

    length: Literal["short", "usual", "full"] = "usual"
    for_: Annotated[Literal["workshop", "customer"], Field(description="who reads it")] = "workshop"
    parts: Annotated[bool, Field(description="what to order, and whether now or only after a check")] = False
    form: Literal["text", "markdown"] = "text"
    units: Literal["si", "us"] = "si"


class WhyQuery(Query):
    """What is asked about."""

    topic: Annotated[
        str,
        Field(min_length=1, max_length=300, description="a result, cause, part or sign, by id or title; CAUSE@PART"),
    ]
    units: Literal["si", "us"] = "si"


class ExploreQuery(Query):
    """What is looked up; without a topic everything that can be."""

    topic: Annotated[str, Field(max_length=200, description="an id or a title")] = ""
    against: Annotated[str, Field(max_length=200, description="another cause, to tell the two apart")] = ""
    machine: Annotated[str, Field(max_length=200, description="the name of a machine's document")] = ""


# --- bodies ---------------------------------------------------------------------------


class NewDocument(Entry):
    """A new document: its text as in a file, or the same as data."""

    called: ClassVar[str] = "a new document"

    name: Annotated[Name | None, Field(description=f"{NAME}; where left out one is made")] = None
    text: Annotated[StrictStr | None, Field(max_length=_LONG, description="the file, YAML or JSON")] = None


class NewMachine(NewDocument):
    """A new machine: its text as in a file, or the same as data."""

    data: Annotated[MachineFile | None, Field(description="a machine/1")] = None


class NewSheet(NewDocument):
    """A new sheet: its text as in a file, or the same as data."""

    data: Annotated[SheetFile | None, Field(description="a sheet/1; it names its machine from where it is")] = None


class Whole(Entry):
    """A whole document in the place of the version that was read."""

    called: ClassVar[str] = "a document"

    version: Annotated[Number, Field(description="the version that was read")]
    text: Annotated[StrictStr | None, Field(max_length=_LONG, description="the file, YAML or JSON")] = None


class WholeMachine(Whole):
    """A whole machine in the place of the version that was read."""

    data: Annotated[MachineFile | None, Field(description="a machine/1")] = None


class WholeSheet(Whole):
    """A whole sheet in the place of the version that was read."""

    data: Annotated[SheetFile | None, Field(description="a sheet/1")] = None


class Change(Entry):
    """One change by path, as an operation of JSON Patch (RFC 6902)."""

    called: ClassVar[str] = "a change"

    op: Literal["add", "replace", "remove", "test"]
    path: Annotated[StrictStr, Field(max_length=1000, description="a JSON pointer (RFC 6901); /readings/- adds")]
    value: Any = None


class Changes(Entry):
    """Changes to the version that was read, all or none; comments and order of the file stay."""

    called: ClassVar[str] = "what is sent"

    version: Annotated[Number, Field(description="the version that was read")]
    changes: Annotated[tuple[Change, ...], Field(max_length=_MOST_CHANGES)]


class Judge(Entry):
    """A sheet that is answered and not kept."""

    called: ClassVar[str] = "what is sent"

    name: Annotated[Name, Field(description="where it would be: other documents are named from there")] = "sheet.yaml"
    text: Annotated[StrictStr | None, Field(max_length=_LONG, description="the sheet, YAML or JSON")] = None
    data: Annotated[SheetFile | None, Field(description="a sheet/1")] = None


class Record(Entry):
    """What a step gave: one of the three."""

    called: ClassVar[str] = "what is sent"

    outcome: Annotated[Short | None, Field(description="CHECK[@PART]=OUTCOME")] = None
    reading: Annotated[Short | None, Field(description="ID=VALUE, or the keys of a reading as a sheet has them")] = None
    undo: Annotated[StrictBool, Field(description="take the last reading off the sheet")] = False


class Rank(Entry):
    """Begin ranking all sheets anew, or stop for now."""

    called: ClassVar[str] = "what is sent"

    do: Literal["start", "stop"]


# --- answers --------------------------------------------------------------------------


class VersionOut(Entry):
    """A version of a document. author is empty where nobody signed in."""

    version: int
    author: str
    saved_at: str
    removed: bool


class DocumentOut(Entry):
    """A document: the file as it is, and what it says."""

    oilpath: Literal["document/1"]
    name: str
    kind: Literal["machine", "sheet", "circuit"]
    version: int
    author: str
    saved_at: str
    text: str
    data: Object


class SavedOut(Entry):
    """What was saved. again: it was there already, so nothing was added."""

    oilpath: Literal["saved/1"]
    name: str
    version: int
    author: str
    saved_at: str
    again: bool


class VersionsOut(Entry):
    """All versions of a document, the latest first."""

    oilpath: Literal["versions/1"]
    name: str
    versions: list[VersionOut]


class MachineRowOut(Entry):
    """A machine in a list."""

    name: str
    version: int
    title: str
    circuit: str | None
    sheets: int
    hours: float | None
    date: str | None


class MachinesOut(Entry):
    """A list of machines."""

    oilpath: Literal["machines/1"]
    machines: list[MachineRowOut]


class SheetRowOut(Entry):
    """A sheet in a list. leading: of its latest answer, null before the first; stale: that answer is out of date."""

    name: str
    version: int
    machine: str | None
    machine_title: str
    unit_number: str | None
    order_number: str | None
    serial_number: str | None
    hours: float | None
    date: str | None
    complaint: str | None
    readings: int
    closed: bool
    saved_at: str
    stale: bool
    usable: bool | None
    cause: str | None
    part: str | None
    title: str | None
    share: float | None
    stop_use: bool | None


class SheetsOut(Entry):
    """A part of a list of sheets, and how many there are in all."""

    oilpath: Literal["sheets/1"]
    total: int
    start: int
    sheets: list[SheetRowOut]


class ConfirmedOut(Entry):
    """A confirmed cause."""

    cause: str
    part: str | None
    how: str | None
    after: str | None


class ClosedRowOut(SheetRowOut):
    """A closed job: its sheet, and what was found."""

    confirmed: list[ConfirmedOut]


class CountOut(Entry):
    """How often a cause was found."""

    cause: str
    count: int


class ClosedOut(Entry):
    """A part of the list of closed jobs, and how often each cause was found in all of them."""

    oilpath: Literal["closed-jobs/1"]
    total: int
    start: int
    jobs: list[ClosedRowOut]
    causes: list[CountOut]


class JobOut(Entry):
    """The ranking that was begun last."""

    state: Literal["running", "stopped", "done"]
    begun_at: str
    seen_at: str
    total: int
    done: int
    unusable: int


class RankingOut(Entry):
    """How many sheets are not ranked by today's knowledge. running: this server is at it."""

    oilpath: Literal["ranking/1"]
    left: int
    running: bool
    job: JobOut | None


class ProblemOut(Entry):
    """One thing that is wrong. pointer: a JSON pointer to the field, empty for the whole document."""

    file: str
    line: int
    key: str
    pointer: str
    message: str
    accepted: str


class ErrorOut(Entry):
    """What is wrong; current: the version that somebody else has saved meanwhile."""

    oilpath: Literal["error/1"]
    message: str
    sheet: str | None = None
    problems: list[ProblemOut]
    current: VersionOut | None = None
