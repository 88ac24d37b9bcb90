"""A straight line through points of known uncertainty, and where it crosses a level.

``fit_line``          weighted least squares
``scatter_of``        how far the stated uncertainties are to be believed, with the degrees of freedom
``student_quantile``  Student's t for a whole number of degrees of freedom
``crossing``          where the line crosses a level, with its interval

Plain floats in any unit; [x] and [y] stand for those of the points. Imports nothing of oilpath.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from oilpath.records import dataclass

_MOST_FREEDOM = 10_000  # above it the normal law serves
_HALVINGS = 200
_STATED = 8  # degrees of freedom of an uncertainty that is good to 25 %, JCGM 100, G.4.2
_REFUTED = 2.0  # about the 5 % point of √F for few residuals and eight degrees of freedom


@dataclass(frozen=True, slots=True)
class Line:
    """y = level + slope·(x − at); level and slope are uncorrelated there.

    u_level [y] and u_slope [y/x] are standard uncertainties as those of the points make them, scatter is what the
    residuals come to in units of these (1: just as stated), freedom the degrees of freedom.
    """

    at: float
    level: float
    slope: float
    u_level: float
    u_slope: float
    scatter: float
    freedom: int

    def widened(self, factor: float) -> Line:
        """The same line with its uncertainties times a factor, such as the scatter of the residuals."""
        return replace(self, u_level=self.u_level * factor, u_slope=self.u_slope * factor)

    def value(self, x: float) -> float:
        """The line at x [y]."""
        return self.level + self.slope * (x - self.at)

    def uncertainty(self, x: float) -> float:
        """Standard uncertainty of the line at x [y]."""
        return math.hypot(self.u_level, self.u_slope * (x - self.at))


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where a line crosses a level: best x, and the ends of its interval (None: open) [x]."""

    at: float
    earliest: float | None
    latest: float | None


def fit_line(x: Sequence[float], y: Sequence[float], u: Sequence[float]) -> Line:
    """The line through points by weighted least squares, weights 1/u².

    Parameters
    ----------
    x : floats, at least three, not all equal [x]
    y : floats, as many [y]
    u : floats, standard uncertainties of y, above zero [y]; all 1 and `widened` by the scatter give the ordinary fit

    Returns
    -------
    Line

    Raises
    ------
    ValueError : fewer than three points, lengths that differ, all x equal, u not above zero, a figure not finite

    Source
    ------
    [1] Least squares with weights as in any textbook, e.g. P. R. Bevington, Data Reduction and Error Analysis for the
    Physical Sciences, chapter 6 (from memory).

    >>> line = fit_line([0.0, 1.0, 2.0, 3.0], [1.0, 3.1, 4.9, 7.0], [1.0] * 4)
    >>> round(line.slope, 3), round(line.value(0.0), 3)
    (1.98, 1.03)
    """
    n = len(x)
    if n < 3 or len(y) != n or len(u) != n:
        raise ValueError(f"a line needs three points or more, each with x, y and u, not {n}, {len(y)} and {len(u)}")
    if not all(math.isfinite(value) for value in (*x, *y, *u)):
        raise ValueError("a point is not finite")
    if any(not value > 0 for value in u):
        raise ValueError("an uncertainty is not above zero")
    weight = [1 / value**2 for value in u]
    total = math.fsum(weight)
    at = math.fsum(w * a for w, a in zip(weight, x, strict=True)) / total
    level = math.fsum(w * b for w, b in zip(weight, y, strict=True)) / total
    away = [a - at for a in x]
    spread = math.fsum(w * d * d for w, d in zip(weight, away, strict=True))
    if len(set(x)) < 2 or not spread > 0:
        raise ValueError("all points stand at the same x")
    slope = math.fsum(w * d * (b - level) for w, d, b in zip(weight, away, y, strict=True)) / spread
    rest = (w * (b - level - slope * d) ** 2 for w, d, b in zip(weight, away, y, strict=True))
    scatter = math.sqrt(math.fsum(rest) / (n - 2))
    return Line(at, level, slope, 1 / math.sqrt(total), 1 / math.sqrt(spread), scatter, n - 2)


def scatter_of(line: Line) -> tuple[float, int]:
    """Factor on the stated uncertainties, never below 1, and the degrees of freedom to use with it.

    A stated uncertainty is good to a quarter, which counts as eight degrees of freedom; residuals are pooled with it.
    Where they scatter more than twice as much, it is refuted and they alone count.

    Parameters
    ----------
    line : Line, as `fit_line` gives it

    Returns
    -------
    tuple of float and int, factor [-] and degrees of freedom [-]

    Source
    ------
    [1] JCGM 100:2008, G.4.2, equation (G.3): ν = ½·(Δu/u)⁻².
    """
    if line.scatter > _REFUTED:
        return line.scatter, line.freedom
    freedom = _STATED + line.freedom
    pooled = math.sqrt((_STATED + line.freedom * line.scatter**2) / freedom)
    return max(pooled, 1.0), freedom


def student_quantile(probability: float, freedom: int) -> float:
    """t with this probability between −t and t, for a whole number of degrees of freedom.

    Parameters
    ----------
    probability : float, between 0 and 1 (0.95 leaves 2.5 % on each side) [-]
    freedom : int, degrees of freedom, 1 or more [-]

    Returns
    -------
    float, t [-]

    Raises
    ------
    ValueError : an argument outside its range

    Source
    ------
    [1] M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 26.7.3 and 26.7.4 (finite series of
    A(t|ν)), inverted by halving.

    >>> round(student_quantile(0.95, 10), 3)
    2.228
    """
    if not 0 < probability < 1:
        raise ValueError(f"probability must be between 0 and 1, not {probability}")
    if freedom < 1:
        raise ValueError(f"degrees of freedom must be 1 or more, not {freedom}")
    low, high = 0.0, math.pi / 2  # of θ = arctan(t/√ν)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if _within(middle, min(freedom, _MOST_FREEDOM)) < probability:
            low = middle
        else:
            high = middle
    return math.sqrt(min(freedom, _MOST_FREEDOM)) * math.tan(low)


def _within(theta: float, freedom: int) -> float:
    """A(t|ν), the probability between −t and t, with θ = arctan(t/√ν)."""
    sine, cosine = math.sin(theta), math.cos(theta)
    odd = freedom % 2 == 1
    term, total = (cosine, cosine) if odd else (1.0, 1.0)
    if freedom == 1:
        return 2 * theta / math.pi
    for k in range(3 if odd else 2, freedom - 1, 2):
        term *= (k - 1) / k * cosine**2
        total += term
    return 2 / math.pi * (theta + sine * total) if odd else sine * total


def crossing(line: Line, level: float, factor: float, u: float = 0.0) -> Crossing | None:
    """Where a line, or one reading that scatters about it, crosses a level.

    Parameters
    ----------
    line : Line
    level : float, the level [y]
    factor : float, half width of the interval in standard uncertainties (Student's t), zero or more [-]
    u : float, standard uncertainty of one more reading, zero for the line alone [y]

    Returns
    -------
    Crossing, or None if the slope does not differ from zero by `factor` standard uncertainties

    Raises
    ------
    ValueError : a factor or u below zero

    Source
    ------
    [1] E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175: the interval of a ratio of two normal values, here of level
    and slope; with u the prediction interval of inverse regression (from memory).
    """
    if factor < 0 or u < 0:
        raise ValueError("factor and uncertainty must be zero or more")
    a = line.slope**2 - (factor * line.u_slope) ** 2
    if not a > 0:
        return None
    rise = level - line.level
    c = rise**2 - factor**2 * (line.u_level**2 + u**2)
    root = math.sqrt(max((line.slope * rise) ** 2 - a * c, 0.0))
    ends = sorted(((line.slope * rise - root) / a, (line.slope * rise + root) / a))
    return Crossing(line.at + rise / line.slope, line.at + ends[0], line.at + ends[1])
