"""From repeats to a value with a standard uncertainty: scatter of the sheet's own readings, and the instrument."""

from __future__ import annotations

import math
from collections.abc import Mapping

from oilpath.documents.sheet import InstrumentData, Reading, Sheet
from oilpath.judging.conditions import ConditionCheck
from oilpath.knowledge.circuit import Function
from oilpath.knowledge.testkind import Instrument, TestKind
from oilpath.records import dataclass
from oilpath.uncertainty import (
    combine,
    mean_uncertainty,
    pooled_sd,
    rectangular,
    resolution_uncertainty,
)


@dataclass(frozen=True, slots=True)
class Case:
    """One numeric reading on its way to a result.

    raw is the mean as measured, value the one that is judged (at test speed where it was corrected), u its standard
    uncertainty, resolution the smallest step of the instrument (0: not known); all SI.
    """

    reading: Reading
    kind: TestKind
    function: Function | None
    check: ConditionCheck
    raw: float
    value: float
    u: float
    count: int
    resolution: float = 0.0
    fellows: tuple[float, float] | None = None
    """mean and standard uncertainty without the one repeat that lies far off, in the units of value and u"""

    @property
    def usable(self) -> bool:
        """Made under the conditions that it demands."""
        return not self.check.faults


def measure(sheet: Sheet, reading: Reading, check: ConditionCheck, scatters: Mapping[str, float | None]) -> Case:
    """Mean and uncertainty of one reading that has values."""
    kind = reading.kind
    raw = math.fsum(reading.values) / len(reading.values)
    assumed = kind.instrument
    named = instrument_of(sheet, kind)
    least = combine(assumed.scatter, assumed.scatter_ratio * abs(raw)) if assumed else 0.0
    scatter = scatters.get(reading.test)
    if scatter is not None and _relative(assumed):
        scatter *= abs(raw)
    apart = far_repeat(reading)
    own = pooled_sd([reading.values]) if apart is not None else scatter
    error = systematic(assumed, named, raw)
    u = mean_uncertainty(len(reading.values), own, least, error)
    value = raw * check.factor
    fellows = None
    if apart is not None and len(apart.fellows) > 1:
        mean = apart.mean * check.factor
        spread = mean_uncertainty(len(apart.fellows), scatter, least, error)
        fellows = mean, combine(spread * check.factor, abs(mean) * check.u_ratio)
    return Case(
        reading, kind, sheet.machine.circuit.functions.get(reading.keys.get("function", "")), check, raw, value,
        combine(u * check.factor, abs(value) * check.u_ratio), len(reading.values), resolution(assumed, named), fellows,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class FarRepeat:
    """One repeat that lies far from its fellows; of two that lie far apart nobody knows which."""

    repeat: float
    fellows: tuple[float, ...]

    @property
    def mean(self) -> float:
        """Mean of the fellows."""
        return math.fsum(self.fellows) / len(self.fellows)


def far_repeat(reading: Reading) -> FarRepeat | None:
    """The repeat that lies off its fellows by more than the test kind's share, where these agree with each other."""
    values = sorted(reading.values)
    share = reading.kind.plausible.repeat if reading.kind.plausible is not None else 0.0
    if not share or len(values) < 2 or values[0] < 0:
        return None
    low, high = values[0], values[-1]
    if len(values) == 2:
        return FarRepeat(high, (low,)) if high - low > share * high else None
    for far, fellows in ((high, values[:-1]), (low, values[1:])):
        middle = fellows[len(fellows) // 2]
        if abs(far - middle) > share * middle and fellows[-1] - fellows[0] <= share / 2 * middle:
            return FarRepeat(far, tuple(fellows))
    return None


def instrument_of(sheet: Sheet, kind: TestKind) -> InstrumentData | None:
    """The instrument that the sheet names for what this test reads."""
    return sheet.instruments.get(kind.quantity or "")


def resolution(assumed: Instrument | None, named: InstrumentData | None) -> float:
    """Smallest step of the instrument in SI; the sheet's comes before the assumed one."""
    if named is not None and named.resolution is not None:
        return named.resolution
    return assumed.resolution if assumed is not None else 0.0


def systematic(assumed: Instrument | None, named: InstrumentData | None, value: float) -> float:
    """Standard uncertainty that repeats do not reduce, in SI.

    A class on the sheet takes the place of the assumed error (per cent of the span as in EN 837-1, without a span of
    the value); a resolution adds its own part.
    """
    usual = combine(assumed.systematic, assumed.systematic_ratio * abs(value)) if assumed is not None else 0.0
    if named is None:
        return usual
    if named.accuracy_class:
        usual = rectangular((named.span or abs(value)) * named.accuracy_class / 100)
    return combine(usual, resolution_uncertainty(named.resolution or 0.0))


def scatters(sheet: Sheet) -> dict[str, float | None]:
    """Standard deviation of one reading for each test, pooled over the sheet; a share where the instrument's is one.

    None if nothing was repeated. Repeats that lie far off say nothing about how the others scatter.
    """
    groups: dict[str, list[list[float]]] = {}
    for reading in sheet.readings:
        values = list(reading.values)
        if not values or far_repeat(reading) is not None:
            continue
        if _relative(reading.kind.instrument):
            mean = math.fsum(values) / len(values)
            values = [value / mean for value in values] if mean > 0 else []
        groups.setdefault(reading.test, []).append(values)
    return {test: pooled_sd(repeats) for test, repeats in groups.items()}


def _relative(instrument: Instrument | None) -> bool:
    return instrument is not None and instrument.scatter == 0 and instrument.scatter_ratio > 0
