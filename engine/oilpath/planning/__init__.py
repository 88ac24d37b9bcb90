"""What to check next: the worth of each check in bits for its cost, and a plan down to one replaceable part.

An outcome's probability under a cause is declared by the check; a single fault is assumed, so a cause's share is its
probability. Nothing here knows a part, a cause or a check by name.
"""

from oilpath.planning.checks import advise, part_groups, plan_checks
from oilpath.planning.outcomes import likelihoods, outcome_likelihood
from oilpath.planning.words import cautions_for, not_measured

__all__ = ["advise", "cautions_for", "likelihoods", "not_measured", "outcome_likelihood", "part_groups", "plan_checks"]
