"""Models of what the engine answers to programs, for the description: `reports/json_.py` and its neighbours write it.

Keys may be added to these formats, so the models take more than they name; a test holds real answers against them.
"""

from typing import Any, ClassVar, Literal

from pydantic import ConfigDict

from oilpath.knowledge.fields import Entry

Object = dict[str, Any]
Figure = float | None


class Open(Entry):
    """An answer: more keys may come."""

    model_config = ConfigDict(extra="allow")
    called: ClassVar[str] = "an answer"


class StopUse(Open):
    """A reason to stop the machine."""

    cause: str | None
    part: str | None
    because: str


class Result(Open):
    """A result: numbers are in the unit beside them."""

    id: str
    test: str
    title: str
    value: float | bool | str | None
    unit: str | None
    uncertainty: Figure
    count: int | None
    new: Figure
    min: Figure
    max: Figure
    basis: Literal["limit", "estimate", "baseline", "twin"] | None
    verdict: Literal["pass", "near", "fail", "invalid", "unjudged"]
    deviation: Literal["slow", "fast", "high", "low", "left", "right"] | None
    probability_out: Figure
    computed: dict[str, Object]
    notes: list[str]


class Question(Open):
    """A reading that was probably not meant."""

    result: str
    asks: str
    likely: str | None
    text: str


class Suspicion(Open):
    """A rule that fired."""

    rule: str
    cause: str
    part: str
    because: str
    evidence: list[str]


class Weight(Open):
    """What a result says for or against a cause, in decibans."""

    result: str
    weight: Figure


class Severity(Open):
    """How bad a cause would be."""

    parameter: str
    median: Figure
    low: Figure
    high: Figure
    unit: str | None


class Cause(Open):
    """A cause with its share."""

    cause: str
    part: str
    variant: str | None
    title: str
    probability: float
    present: float
    severity: Severity | None
    prior: Figure
    total: Figure
    for_: list[Weight]
    against: list[Weight]


class Group(Open):
    """Causes that no reading on the sheet can part, as places in `causes`."""

    title: str
    probability: float
    members: list[int]
    parted_by: str | None


class CauseSet(Open):
    """Two to four causes at once, as places in `causes`."""

    members: list[int]
    probability: float


class Left(Open):
    """A cause after an outcome."""

    cause: str
    part: str
    probability: float


class CheckOutcome(Open):
    """An outcome of a check."""

    outcome: str
    says: str
    probability: float
    then: list[Left]


class Check(Open):
    """A check, with the line of the sheet that records each outcome."""

    check: str
    part: str
    title: str
    minutes: float
    bits: Figure
    cautions: list[str]
    outcomes: list[CheckOutcome]
    record: dict[str, str]


class Versions(Open):
    """By what an answer was made."""

    tool: str
    knowledge: str


class DiagnosisOut(Open):
    """The answer for a sheet."""

    oilpath: Literal["diagnosis/1"]
    sheet: str
    machine: str
    unit_number: str | None
    stop_use: list[StopUse]
    results: list[Result]
    questions: list[Question]
    suspicions: list[Suspicion]
    reasons: list[Object]
    causes: list[Cause]
    groups: list[Group]
    sets: list[CauseSet]
    checks: list[Check]
    plan: Object
    cautions: list[str]
    warnings: list[str]
    versions: Versions


class NextOut(Open):
    """The next step for a sheet."""

    oilpath: Literal["next/1"]
    sheet: str
    machine: str
    standing: str
    leading: Object | None
    causes: list[Left]
    step: Object | None
    others: list[Object]


class ExploreOut(Open):
    """What is known of topics; without a topic, what can be looked up."""

    oilpath: Literal["explore/1"]
    topics: list[Object] | None = None
    known: dict[str, dict[str, str]] | None = None
    notice: str | None = None
