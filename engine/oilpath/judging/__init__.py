"""Judging: every reading of a sheet becomes a result with a value, an uncertainty, a verdict and evidence.

``conditions`` and ``condition_results``  what a test demands, and whether it was so
``measured``    mean, uncertainty and, where engine speed was off, the value at test speed
``limits``, ``baselines``, ``estimates``, ``counterparts``  what a value is judged against
``verdicts``    probability of being out, verdict, deviation, evidence
``variants``    readings made otherwise on purpose
``heard``       signs that words of the complaint, the history and the notes say
``moved``       settings that were moved, and the readings that depend on them
``drifting``, ``veer``, ``computed``, ``observed``  what is known beside a drift, a veer, a time, a code
"""

from oilpath.judging.baselines import baseline_warnings
from oilpath.judging.heard import hear
from oilpath.judging.moved import moved_settings
from oilpath.judging.sheets import judge

__all__ = ["baseline_warnings", "hear", "judge", "moved_settings"]
