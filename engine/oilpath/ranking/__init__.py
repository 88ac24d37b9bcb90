"""How well every cause fits all readings: likelihoods from the circuit model, priors from the trade."""

from oilpath.ranking.rank import rank

__all__ = ["rank"]
