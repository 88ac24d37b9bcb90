"""What follows from the results: facts, suspicions, ranked causes, checks, the plan, the whole answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import TYPE_CHECKING, Literal

from oilpath.flow.notes import Filled, Named, Note, Quote
from oilpath.flow.results import Question, Result
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.documents.sheet import Remedy, Work
    from oilpath.knowledge.base import Replaced


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact for the rules: a kind and slots that are all words; `results` are the result ids it rests on."""

    kind: str
    slots: Mapping[str, str]
    results: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Suspicion:
    """What a rule that fired says: a cause at a part, because of these results.

    `likelihood` is the ratio of a finding rule (P(observation | cause) / P(observation | not the cause)), else None.
    """

    rule: str
    kind: Literal["pattern", "finding"]
    cause: str
    part: str
    because: Filled
    evidence: tuple[str, ...]
    likelihood: float | None = None

    @property
    def accuses(self) -> bool:
        """Whether it speaks for its cause: a pattern does, a finding where it makes the cause likelier."""
        return self.likelihood is None or self.likelihood >= 1


@dataclass(frozen=True, slots=True)
class RuleWarning:
    """A pitfall that a rule warns of."""

    rule: str
    says: Filled


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the rules' reasoning: what a rule concludes from results and from steps before it.

    results: ids of all results that carry it, those of the steps it rests on among them; own: those that it adds.
    suspects, cleared: causes with their parts. narrows: what it narrows to. asks: tests that would narrow it further.
    after: the steps it rests on, by their place in `Suspicions.steps`. warns: a pitfall that applies here.
    """

    rule: str
    stratum: int
    says: Filled
    results: tuple[str, ...]
    own: tuple[str, ...] = ()
    suspects: tuple[tuple[str, str], ...] = ()
    cleared: tuple[tuple[str, str], ...] = ()
    narrows: tuple[str, ...] = ()
    asks: tuple[str, ...] = ()
    after: tuple[int, ...] = ()
    warns: bool = False


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason of the chain that the answer shows: a step of the rules, or where rules and figures differ.

    step: an id of its own. results: all that carry it; own: those that it adds to the reasons before it.
    after: the reasons it rests on, by their place. asks: tests that would narrow it further.
    """

    step: str
    says: Filled | Note
    results: tuple[str, ...]
    own: tuple[str, ...] = ()
    suspects: tuple[tuple[str, str], ...] = ()
    cleared: tuple[tuple[str, str], ...] = ()
    asks: tuple[str, ...] = ()
    after: tuple[int, ...] = ()
    warns: bool = False


@dataclass(frozen=True, slots=True)
class Suspicions:
    """All that the rules said of one sheet; `steps` is how they got there, lower strata first."""

    suspicions: tuple[Suspicion, ...] = ()
    warnings: tuple[RuleWarning, ...] = ()
    steps: tuple[Step, ...] = ()


@dataclass(frozen=True, slots=True)
class Severity:
    """Posterior of the disturbed parameter: median and the central 90 %, in `quantity` (SI) or as a ratio."""

    parameter: str
    median: float
    low: float
    high: float
    quantity: str


@dataclass(frozen=True, slots=True)
class Weight:
    """How strongly one result speaks: decibans, positive for the cause."""

    result: str
    weight: float


@dataclass(frozen=True, slots=True)
class JointWeight:
    """How strongly several results speak when they are taken together: decibans, positive for the cause."""

    results: tuple[str, ...]
    weight: float


@dataclass(frozen=True, slots=True)
class RankedCause:
    """One cause at one part with its share, best first in `Ranking.causes`.

    title: of the knowledge base, with its part put in; None for the hypotheses that are not causes (none, unknown).
    """

    cause: str
    part: str
    variant: str | None
    title: str | None
    probability: float
    present: float
    severity: Severity | None
    prior: float | None
    total: float | None
    speaks_for: tuple[Weight, ...] = ()
    speaks_against: tuple[Weight, ...] = ()
    together: tuple[JointWeight, ...] = ()
    """what groups of readings say, strongest first; for the few causes that are shown first"""
    nodes: tuple[float, ...] = ()
    """weights of the severity nodes that fit the sheet, one variant after the other; empty: not computed"""


@dataclass(frozen=True, slots=True)
class Group:
    """Causes that the readings of this sheet cannot tell apart; members index `Ranking.causes`.

    parted_by: the check that would tell them apart best. silent: a group because no reading shows any of them.
    """

    probability: float
    members: tuple[int, ...]
    parted_by: str | None = None
    silent: bool = False


@dataclass(frozen=True, slots=True)
class CauseSet:
    """Two to four causes at once; members index `Ranking.causes`."""

    members: tuple[int, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class Ranking:
    """All causes with `none` and `unknown`; shares add to one."""

    causes: tuple[RankedCause, ...]
    groups: tuple[Group, ...]
    sets: tuple[CauseSet, ...]
    remarks: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True)
class Remaining:
    """A cause and its probability after an outcome."""

    cause: str
    part: str
    probability: float


@dataclass(frozen=True, slots=True)
class Outcome:
    """One outcome of a check: how likely it is now, and what would then remain (best three)."""

    outcome: str
    says: str
    probability: float
    then: tuple[Remaining, ...]


@dataclass(frozen=True, slots=True)
class NextCheck:
    """A check worth making, best first: expected information in bits, minutes, cautions before it."""

    check: str
    part: str
    minutes: float
    bits: float
    tools: tuple[str, ...]
    cautions: tuple[str, ...]
    how: tuple[str, ...]
    outcomes: tuple[Outcome, ...]
    trap: str | None = None


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One step of the plan as a tree: make `check`; after each outcome either go on or stop with `isolated`."""

    check: str
    part: str
    minutes: float
    branches: tuple[PlanBranch, ...]


@dataclass(frozen=True, slots=True)
class PlanBranch:
    outcome: str
    says: str
    probability: float
    isolated: tuple[Remaining, ...]
    next: PlanStep | None


@dataclass(frozen=True, slots=True)
class GaugePoint:
    """A point on a function's way: which share of the suspects a gauge there leaves before it and behind it."""

    function: str
    behind: str
    """the part behind which the gauge is fitted, in the direction of the oil"""
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Plan:
    """The tree of checks, with the expected minutes until one replaceable part (or an inseparable group) is left."""

    first: PlanStep | None
    expected_minutes: float | None
    remarks: tuple[Note, ...] = ()
    gauge_points: tuple[GaugePoint, ...] = ()


@dataclass(frozen=True, slots=True)
class AssumedFigure:
    """A figure of the circuit on which an answer rests, with the range in which it lies.

    stated: by the machine's file; else it is what machines of the kind usually have.
    """

    name: str
    value: float
    low: float
    high: float
    because: str
    stated: bool


@dataclass(frozen=True, slots=True)
class StopUse:
    """A reason to take the machine out of service: a sign that was seen, or a cause that is not ruled out.

    probability: that the cause is there, alone or with others; None if the sign alone is reason enough.
    """

    cause: str
    part: str
    sign: str | None = None
    probability: float | None = None


@dataclass(frozen=True, slots=True)
class NotMeasured:
    """A test of which the sheet has no reading, or only invalid ones."""

    test: str
    invalid: bool


@dataclass(frozen=True, slots=True)
class Shared:
    """What failing results have in common. named: `common` says already what each of them is about."""

    results: tuple[str, ...]
    common: Note | None = None
    named: bool = False


@dataclass(frozen=True, slots=True)
class TreeNode:
    """A node of the troubleshooting tree: symptom → what the failing results share → part → cause → check."""

    kind: Literal["symptom", "shared", "part", "cause", "check"]
    says: Note | Named | Shared | Quote
    probability: float | None
    children: tuple[TreeNode, ...] = ()


@dataclass(frozen=True, slots=True)
class Heard:
    """Words of the complaint, the history or a note, and the sign that they say.

    sign, word: the sign and the entry of the vocabulary; empty where nothing was recognised. keys: where it is noted.
    counts: `yes`; `stated`: the sheet says itself whether it was seen; `measured`: a reading says more; `asked`: a
    reading is to say it, and none has been made yet; `no`.
    """

    sign: str
    word: str
    source: Literal["complaint", "history", "note"]
    text: str
    keys: Mapping[str, str]
    counts: Literal["yes", "stated", "measured", "asked", "no"]


@dataclass(frozen=True, slots=True)
class FoundCause:
    """A cause that was found in a closed job, and what was done."""

    cause: str
    part: str
    how: str | None = None


@dataclass(frozen=True, slots=True)
class SimilarJob:
    """A closed job whose sheet came out much like this one.

    likeness: from 0 to 1. alike: results that are out or seen alike on both. grade: how its cause is known.
    """

    job: str
    unit_number: str | None
    date: str | None
    found: tuple[FoundCause, ...]
    grade: str
    likeness: float
    alike: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Compared:
    """A result that was out before an earlier repair: its value then, after that repair, and now, in SI."""

    result: str
    test: str
    before: float
    after: float | None
    now: float


@dataclass(frozen=True, slots=True)
class Comeback:
    """The same unit was repaired before. since: hours between the two. touched: parts that were worked on then."""

    job: str
    date: str | None
    since: float | None
    found: tuple[FoundCause, ...]
    grade: str
    touched: tuple[str, ...]
    compared: tuple[Compared, ...]


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """The whole answer for one sheet."""

    sheet: str
    machine: str
    unit_number: str | None
    order_number: str | None
    serial_number: str | None
    technician: str | None
    hours: float | None
    date: str | None
    complaint: str | None
    history: tuple[str, ...]
    stop_use: tuple[StopUse, ...]
    results: tuple[Result, ...]
    suspicions: tuple[Suspicion, ...]
    causes: tuple[RankedCause, ...]
    groups: tuple[Group, ...]
    sets: tuple[CauseSet, ...]
    checks: tuple[NextCheck, ...]
    plan: Plan
    tree: TreeNode
    not_measured: tuple[NotMeasured, ...]
    cautions: tuple[str, ...]
    warnings: tuple[Note, ...]
    knowledge_version: str
    tool_version: str
    figures: tuple[AssumedFigure, ...] = ()
    """assumed figures of the machine's circuit, those that its file states among them"""
    questions: tuple[Question, ...] = ()
    """what is asked about before anything is blamed"""
    reasons: tuple[Reason, ...] = ()
    """the chain of reasons, each after those it rests on"""
    replaced: tuple[Replaced, ...] = ()
    """entries of a workshop's own layers on which this answer rests, where they replace what ships"""
    work: tuple[Work, ...] = ()
    """what was moved on the machine"""
    remedies: tuple[Remedy, ...] = ()
    """what was tried"""
    similar: tuple[SimilarJob, ...] = ()
    """closed jobs that looked most like this sheet"""
    comeback: Comeback | None = None
    heard: tuple[Heard, ...] = ()
    """what the words of the complaint, the history and the notes say, what was not recognised last"""
    counted: int = 0
    """closed jobs that the prior odds and the outcomes of checks rest on"""
    found_before: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """by kind of cause how many closed jobs had it, by their grades, and the factor on its prior odds"""
