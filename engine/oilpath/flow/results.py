"""What was judged: a reading, a condition, a sign, a fault code, or the outcome of a check.

Every number is SI (s, m, Pa, m³/s, K, rev/s, rad; ratios as fractions); words are those of the file formats.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import field
from typing import Literal, TypeAlias

from oilpath.flow import ids
from oilpath.flow.notes import Note, Value
from oilpath.records import dataclass

Verdict = Literal["pass", "near", "fail", "invalid", "unjudged"]
Basis = Literal["limit", "estimate", "baseline", "twin", "sister"]


@dataclass(frozen=True, slots=True)
class Computed:
    """A figure computed beside a result, with its SI value, its quantity and a standard uncertainty."""

    value: float
    quantity: str
    uncertainty: float | None = None


@dataclass(frozen=True, slots=True)
class Slip:
    """What was perhaps meant instead of what was written.

    id: of `slips` in kb/tests.yaml. meant: the value in SI. shift: what it adds to `e` of the evidence.
    """

    id: str
    meant: float
    shift: float
    probability: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """What one result says to the ranking.

    e is ln(measured/reference) for `scale: ratio`, else measured − reference in SI; u its standard uncertainty
    (the reading's own, without the scatter between sound machines, which is knowledge). `observe`, `load` and `keys`
    name the reading to the circuit model.
    """

    result: str
    test: str
    observe: str
    load: str
    keys: Mapping[str, str]
    scale: Literal["ratio", "offset"]
    e: float
    u: float
    corrected: tuple[str, ...] = ()
    variant: str = "standard"
    figures: Mapping[str, float] = field(default_factory=dict)
    slips: tuple[Slip, ...] = ()
    as_meant: bool = False
    """e is that of what was probably meant, as what was written cannot be"""


SHARED_TIME = "shared-time"
"""`observe` of evidence that compares a function that is served first with itself, alone and while others work"""


@dataclass(frozen=True, slots=True)
class Question:
    """Something to ask about a result: whether it is meant.

    likely: what was probably meant, as `says` has it, where something fits.
    """

    result: str
    asks: Literal["unit", "decimal", "turns", "side", "repeat", "impossible"]
    says: Note
    likely: Value | None = None
    of_limit: bool = False
    """not the reading is asked about, but the limit that it is judged against"""


@dataclass(frozen=True, slots=True)
class _Common:
    """What all results have: an id, the words that place it (`keys`), a verdict, and what is to be said of it."""

    id: str
    test: str
    keys: Mapping[str, str]
    verdict: Verdict
    notes: tuple[Note, ...] = field(default=(), kw_only=True)
    variant: str = field(default=ids.STANDARD, kw_only=True)
    together_with: tuple[str, ...] = field(default=(), kw_only=True)

    @property
    def standard(self) -> bool:
        """Made as its test asks: no variant, nothing worked at the same time."""
        return self.variant == ids.STANDARD and not self.together_with


@dataclass(frozen=True, slots=True)
class Measured(_Common):
    """A figure that was measured and judged. quantity: a name of `units.QUANTITIES`, None for a plain number."""

    value: float
    quantity: str | None
    uncertainty: float | None = None
    count: int | None = None
    new: float | None = None
    min: float | None = None
    max: float | None = None
    basis: Basis | None = None
    deviation: str | None = None
    probability_out: float | None = None
    computed: Mapping[str, Computed] = field(default_factory=dict)
    evidence: Evidence | None = None
    questions: tuple[Question, ...] = ()


@dataclass(frozen=True, slots=True)
class ReadingResult(Measured):
    """A measured reading of the sheet, or a veer that belongs to one."""


@dataclass(frozen=True, slots=True)
class ConditionFigure(Measured):
    """A condition that is measured: engine speed, oil temperature."""

    condition: str = field(kw_only=True)


@dataclass(frozen=True, slots=True)
class ConditionWord(_Common):
    """A condition that is a word: attachment, automatic idle, working setting."""

    condition: str
    word: str


@dataclass(frozen=True, slots=True)
class SignResult(_Common):
    """A sign, seen (`fail`) or not (`pass`); `where` names the part, function or side that it was noted at."""

    sign: str
    where: tuple[str, ...]
    seen: bool
    heard: str = field(default="", kw_only=True)
    """entry of the vocabulary by which words of the sheet say it; empty where somebody looked"""


@dataclass(frozen=True, slots=True)
class CodeResult(_Common):
    """A fault code, active (`fail`), stored (`pass`), or neither stated. spn and fmi are None if it is free text."""

    code: str
    active: bool | None
    spn: int | None = None
    fmi: int | None = None


@dataclass(frozen=True, slots=True)
class CheckResult(_Common):
    """The outcome of a check at a part, noted and not judged."""

    check: str
    part: str
    outcome: str


ConditionResult: TypeAlias = ConditionFigure | ConditionWord
Result: TypeAlias = Measured | ConditionWord | SignResult | CodeResult | CheckResult


def sign_result(
    keys: Mapping[str, str], seen: bool, order: Iterable[str] = ("part", "function", "side"), *, heard: str = "",
    notes: tuple[Note, ...] = (),
) -> SignResult:  # fmt: skip
    """A sign from its keys (`sign`, and where it was noted); heard: the words that say it."""
    where = ids.placed_by(order, keys)
    return SignResult(
        ids.result_id("sign", (keys["sign"], *where)), "sign", keys, "fail" if seen else "pass", sign=keys["sign"],
        where=where, seen=seen, heard=heard, notes=notes,
    )  # fmt: skip


def code_result(code: str, active: bool | None, keys: Mapping[str, str] | None = None) -> CodeResult:
    """A fault code from its name (`520201-4`) and, where it has them, its numbers in `keys` (`spn`, `fmi`)."""
    known = dict(keys or {})
    spn, fmi = (int(known[name]) if name in known else None for name in ("spn", "fmi"))
    verdict: Verdict = "unjudged" if active is None else "fail" if active else "pass"
    return CodeResult(
        ids.result_id("code", (code,)), "code", known, verdict, code=code, active=active, spn=spn, fmi=fmi
    )


def check_result(check: str, part: str, outcome: str) -> CheckResult:
    """The outcome of a check at a part."""
    keys = {"check": check, "part": part, "outcome": outcome}
    return CheckResult(
        ids.result_id("check", (check, part)), "check", keys, "unjudged", check=check, part=part, outcome=outcome
    )


def evidence_in(results: Iterable[Result]) -> tuple[Evidence, ...]:
    """The evidence of all results that have some."""
    return tuple(one.evidence for one in results if isinstance(one, Measured) and one.evidence is not None)
