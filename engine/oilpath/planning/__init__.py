"""What to check next. Each check is rated by the information it gives (bits) for its cost; the plan goes on until one
replaceable part is left.

A single fault is assumed, so a cause's share is its probability. Nothing here knows a part, a cause or a check by name.
"""

from oilpath.planning.checks import advise
from oilpath.planning.words import cautions_for, not_measured

__all__ = ["advise", "cautions_for", "not_measured"]
