"""What is asked of the posterior of one sheet, put together once: what could be wrong, how likely, what was read."""

from __future__ import annotations

import numpy as np

from oilpath.arrays import Array, Mask
from oilpath.knowledge.base import Priors
from oilpath.physics.predictions import Predictions
from oilpath.ranking.chance import left_to_chance
from oilpath.ranking.evidence import Readings, censor
from oilpath.ranking.likelihood import SheetScatter, scatter
from oilpath.ranking.pattern import Pattern
from oilpath.ranking.slips import shifts
from oilpath.records import dataclass


@dataclass(frozen=True, slots=True)
class Search:
    """How thoroughly the hypotheses are looked at; near: nats behind the best, at first look, within which one is
    looked at again on the whole severity grid (inf: every one)."""

    near: float = 10.0


USUAL = Search()
"""the settings of every answer; others are for tests and scoring"""


@dataclass(frozen=True, slots=True)
class Question:
    """H hypotheses with S severities, and R readings.

    `effects` (H, S, R) predicted on the readings, veers censored; `odds` (H,) before any reading; `findings` (H,) what
    signs, codes and checks add to the ln likelihood; `suspected` (H,) the candidates for sets of causes; `scattered`
    how the readings scatter; `doubt` (H,) how far the pattern of the effects of each is in doubt; `by_chance` (H, S) ln
    factor on what leaves readings beyond their limits to chance, and `none_by_chance` that of the sound machine;
    `pattern` what follows from the effects, where it is kept.
    """

    model: Predictions
    readings: Readings
    effects: Array
    odds: Array
    findings: Array
    suspected: Mask
    priors: Priors
    none_prior: float
    scattered: SheetScatter
    doubt: Array
    by_chance: Array
    none_by_chance: float
    search: Search = USUAL
    pattern: Pattern | None = None

    @property
    def log_odds(self) -> Array:
        """ln odds with what signs, codes and checks say, shape (H,)."""
        result: Array = np.log(self.odds) + self.findings
        return result


def question(
    model: Predictions,
    readings: Readings,
    table: Array,
    odds: Array,
    findings: Array,
    priors: Priors,
    none_prior: float,
    suspected: Mask | None = None,
    search: Search = USUAL,
    doubt: Array | None = None,
    pattern: Pattern | None = None,
) -> Question:
    """The question with what follows from its parts; table (H, S, R) as predicted, all hypotheses suspected where none
    are named."""
    scattered = scatter(
        readings.e, readings.variance, readings.shared, readings.width, priors.model_error, priors.freedom,
        priors.gross, shifts(readings.evidence, readings.e, readings.censored),
        kinds=readings.kinds, off=readings.off, tempering=priors.tempering,
    )  # fmt: skip
    named = np.ones(len(odds), dtype=np.bool_) if suspected is None else suspected
    effects = censor(table, readings.censored) if pattern is None else pattern.effects
    sure = np.ones(len(odds)) if doubt is None else doubt
    by_chance = left_to_chance(effects, readings, priors)
    of_sound = float(left_to_chance(np.zeros(len(readings.e)), readings, priors))
    return Question(
        model, readings, effects, odds, findings, named, priors, none_prior, scattered, sure, by_chance, of_sound,
        search, pattern,
    )  # fmt: skip
