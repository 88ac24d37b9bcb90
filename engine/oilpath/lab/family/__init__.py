"""The family: machines that differ from the model, with faults and test sheets, used to judge the ranking.

A simulator in absolute units with laws of its own. It knows ids of the file formats (parts, movements, causes, tests)
and nothing of the engine: it imports numpy and the standard library alone. `docs/family.md` says what it is and is not.

    from oilpath.lab.family import draw
    case = draw("two-pump-excavator", seed=11, index=0, sheet_kind="full")
    case.text(), case.truths
"""

from oilpath.lab.family.alike import ALIKE, merged, same
from oilpath.lab.family.draw import KINDS, SHEETS, Case, draw
from oilpath.lab.family.faults import Key

__all__ = ["ALIKE", "KINDS", "SHEETS", "Case", "Key", "draw", "merged", "same"]
