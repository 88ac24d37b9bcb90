"""The plain frozen data that the steps hand on: read → judge → relate → suspect → rank → plan → report.

Every number is SI (s, m, Pa, m³/s, K, rev/s, rad; ratios as fractions); words are those of the file formats.
No step changes what an earlier one made, and none of these types knows how it is computed or shown.

``ids``      the ids of results, made in one place
``results``  a reading, a condition, a sign, a fault code, the outcome of a check
``answer``   facts, suspicions, ranked causes, checks, plan, the whole answer
"""

from oilpath.flow.answer import (
    CauseSet,
    Diagnosis,
    Fact,
    Group,
    NextCheck,
    Outcome,
    Plan,
    PlanBranch,
    PlanStep,
    RankedCause,
    Ranking,
    Remaining,
    RuleWarning,
    Severity,
    StopUse,
    Suspicion,
    Suspicions,
    TreeNode,
    Weight,
)
from oilpath.flow.results import (
    Basis,
    CheckResult,
    CodeResult,
    Computed,
    ConditionFigure,
    ConditionResult,
    ConditionWord,
    Evidence,
    Measured,
    ReadingResult,
    Result,
    SignResult,
    Verdict,
    check_result,
    code_result,
    evidence_in,
    sign_result,
)

__all__ = [
    "Basis",
    "CauseSet",
    "CheckResult",
    "CodeResult",
    "Computed",
    "ConditionFigure",
    "ConditionResult",
    "ConditionWord",
    "Diagnosis",
    "Evidence",
    "Fact",
    "Group",
    "Measured",
    "NextCheck",
    "Outcome",
    "Plan",
    "PlanBranch",
    "PlanStep",
    "RankedCause",
    "Ranking",
    "ReadingResult",
    "Remaining",
    "Result",
    "RuleWarning",
    "Severity",
    "SignResult",
    "StopUse",
    "Suspicion",
    "Suspicions",
    "TreeNode",
    "Verdict",
    "Weight",
    "check_result",
    "code_result",
    "evidence_in",
    "sign_result",
]
