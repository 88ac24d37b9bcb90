"""What to check next: the worth of each check in bits for its cost, and a plan down to one replaceable part.

A single fault is assumed, so a cause's share is its probability. Nothing here knows a part, a cause or a check by name.
"""

from oilpath.planning.checks import advise
from oilpath.planning.words import cautions_for, not_measured

__all__ = ["advise", "cautions_for", "not_measured"]
