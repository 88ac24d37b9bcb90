"""P(outcome | cause) of checks: computed by the circuit model where the outcome is a reading, else as declared."""

from oilpath.outcomes.declared import CauseKey as CauseKey
from oilpath.outcomes.table import Table, likelihoods, outcome_likelihood, table

__all__ = ["Cause", "Table", "likelihoods", "outcome_likelihood", "table"]
