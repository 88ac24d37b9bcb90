"""How well a reading is known: scatter, instruments, and the probability of being out of a limit.

Scatter      ``pooled_sd``, ``mean_uncertainty``
Combination  ``combine``, ``propagate``
Shapes       ``rectangular``, ``arcsine``, ``resolution_uncertainty``
Instruments  ``stopwatch_uncertainty``, ``tape_error``, ``tape_uncertainty``, ``gauge_error``,
             ``gauge_uncertainty``, ``thermometer_error``, ``thermometer_uncertainty``
Decision     ``probability_out``

All results are standard uncertainties unless the name says *error* (a maximum permissible one).
[u] stands for the unit of the quantity, the same within one call. Plain floats; imports nothing of
oilpath.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

HAND_TIMING_SCATTER = 0.07  # [s] one press at a foreseen event: Am. J. Phys. 87(2) 110 (2019), 4304 timings

TapeClass = Literal["I", "II", "III"]
# a, b in mm of the error a + b·L, L in whole metres: Directive 2014/32/EU, annex X, chapter I (MI-008).
_TAPE_CLASSES = {"I": (0.1, 0.1), "II": (0.3, 0.2), "III": (0.6, 0.4)}

GAUGE_CLASSES = (0.1, 0.25, 0.6, 1.0, 1.6, 2.5, 4.0)
"""Accuracy classes of EN 837-1:1996, per cent of the span."""

Thermometer = Literal["type-k-2", "pt100-b"]


def probability_out(value: float, u: float, lower: float | None, upper: float | None) -> float:
    """Probability that the true value lies outside its limits, Φ((T_L − y)/u) + Φ((y − T_U)/u).

    Normal law without other knowledge of the value. With u = 0 it is 0 or 1; a value on a limit is in.

    Parameters
    ----------
    value : float, reading y [u]
    u : float, standard uncertainty of the reading, zero or more [u]
    lower : float or None, lower limit T_L [u]
    upper : float or None, upper limit T_U, not below the lower one [u]

    Returns
    -------
    float, probability, 0 to 1 [-]

    Raises
    ------
    ValueError : no limit at all, crossed limits, u below zero, a figure not finite

    Source
    ------
    [1] JCGM 106:2012, 7.3 and 7.4.

    >>> round(1 - probability_out(13.6, 1.8, 12.5, 16.3), 3)
    0.663
    """
    _finite(value=value)
    _not_negative(u=u)
    if lower is None and upper is None:
        raise ValueError("a probability of being out needs a lower or an upper limit")
    if lower is not None:
        _finite(lower=lower)
    if upper is not None:
        _finite(upper=upper)
    if lower is not None and upper is not None and lower > upper:
        raise ValueError(f"lower limit {lower} is above upper limit {upper}")
    below = 0.0 if lower is None else _beyond(lower - value, u)
    above = 0.0 if upper is None else _beyond(value - upper, u)
    return min(1.0, below + above)


def _beyond(excess: float, u: float) -> float:
    """Probability that a normal value lies beyond a limit that its mean exceeds by ``excess``."""
    if u == 0:
        return 1.0 if excess > 0 else 0.0
    return 0.5 * math.erfc(-excess / u / math.sqrt(2))


def combine(*components: float) -> float:
    """Combined standard uncertainty of independent components, √Σuᵢ²; none at all give 0.

    Parameters
    ----------
    components : floats, standard uncertainties as they act on the result, zero or more [u]

    Returns
    -------
    float, standard uncertainty [u]

    Raises
    ------
    ValueError : a component below zero or not finite

    Source
    ------
    [1] JCGM 100:2008, 5.1.2, with sensitivities already applied.
    """
    for component in components:
        _not_negative(component=component)
    return math.hypot(*components)


def propagate(
    sensitivities: Sequence[float],
    uncertainties: Sequence[float],
    correlation: Sequence[Sequence[float]] | None = None,
) -> float:
    """Standard uncertainty of a result of several, perhaps correlated inputs, √Σᵢ Σⱼ cᵢ cⱼ uᵢ uⱼ rᵢⱼ.

    Parameters
    ----------
    sensitivities : sequence of floats, derivatives cᵢ of the result by each input [result/input]
    uncertainties : sequence of floats, standard uncertainties uᵢ of the inputs, zero or more [input]
    correlation : square matrix or None, coefficients rᵢⱼ, symmetric, 1 on the diagonal; None for none [-]

    Returns
    -------
    float, standard uncertainty of the result [result]

    Raises
    ------
    ValueError : lengths that differ, an uncertainty below zero, a matrix that is not a correlation matrix

    Source
    ------
    [1] JCGM 100:2008, 5.2.2, equation (16).
    """
    count = len(sensitivities)
    if len(uncertainties) != count:
        raise ValueError(f"{count} sensitivities need as many uncertainties, not {len(uncertainties)}")
    for sensitivity, uncertainty in zip(sensitivities, uncertainties, strict=True):
        _finite(sensitivity=sensitivity)
        _not_negative(uncertainty=uncertainty)
    effects = [c * u for c, u in zip(sensitivities, uncertainties, strict=True)]
    if correlation is None:
        return math.hypot(*effects)
    _correlation_matrix(correlation, count)
    variance = math.fsum(effects[i] * effects[j] * correlation[i][j] for i in range(count) for j in range(count))
    # Rounding may leave a hair below zero where inputs cancel; more than that is not a correlation matrix.
    if variance < -1e-9 * math.fsum(e * e for e in effects):
        raise ValueError("correlation coefficients contradict each other: the variance comes out negative")
    return math.sqrt(max(variance, 0.0))


def _correlation_matrix(matrix: Sequence[Sequence[float]], count: int) -> None:
    if len(matrix) != count or any(len(row) != count for row in matrix):
        raise ValueError(f"the correlation matrix must be {count} by {count}")
    for i in range(count):
        if matrix[i][i] != 1:
            raise ValueError(f"correlation of an input with itself must be 1, not {matrix[i][i]}")
        for j in range(i):
            if matrix[i][j] != matrix[j][i] or not -1 <= matrix[i][j] <= 1:
                raise ValueError(f"correlation {matrix[i][j]} must be within -1 and 1, and the same both ways")


def pooled_sd(groups: Sequence[Sequence[float]]) -> float | None:
    """Standard deviation of repeats pooled over several readings, √(ΣΣ(x − x̄ᵢ)²/Σ(nᵢ − 1)).

    Readings of the same test in different places have different means and the same scatter.

    Parameters
    ----------
    groups : sequence of sequences of floats, repeats of each reading; single ones add nothing [u]

    Returns
    -------
    float or None, standard deviation; None if no reading was repeated [u]

    Raises
    ------
    ValueError : a figure not finite

    Source
    ------
    [1] JCGM 100:2008, 4.2.4 and H.3.6 (pooled estimate).

    >>> pooled_sd([[4.0, 6.0], [10.0]])
    1.4142135623730951
    """
    squares: list[float] = []
    freedom = 0
    for group in groups:
        if not group:
            continue
        for value in group:
            _finite(value=value)
        mean = math.fsum(group) / len(group)
        squares.extend((value - mean) ** 2 for value in group)
        freedom += len(group) - 1
    return math.sqrt(math.fsum(squares) / freedom) if freedom else None


def mean_uncertainty(n: int, scatter: float | None, scatter_min: float, systematic: float) -> float:
    """Standard uncertainty of a mean of repeats, u² = max(s, s_min)²/n + u_systematic².

    The least scatter keeps two repeats that happen to agree from looking perfect.

    Parameters
    ----------
    n : int, count of repeats, 1 or more [-]
    scatter : float or None, standard deviation s of a single repeat; None where unknown [u]
    scatter_min : float, least believable s_min, zero or more [u]
    systematic : float, standard uncertainty common to all repeats, zero or more [u]

    Returns
    -------
    float, standard uncertainty of the mean [u]

    Raises
    ------
    ValueError : no repeat, a figure below zero or not finite

    Source
    ------
    [1] JCGM 100:2008, 4.2.3 and 5.1.2; the floor s_min is this project's choice.
    """
    if n < 1:
        raise ValueError(f"a mean needs at least one reading, not {n}")
    _not_negative(scatter_min=scatter_min, systematic=systematic)
    if scatter is not None:
        _not_negative(scatter=scatter)
    single = scatter_min if scatter is None else max(scatter, scatter_min)
    return math.hypot(single / math.sqrt(n), systematic)


def rectangular(half_width: float) -> float:
    """Standard uncertainty when every value within ± a is equally likely, a/√3.

    Parameters
    ----------
    half_width : float, half width a, zero or more [u]

    Returns
    -------
    float, standard uncertainty [u]

    Raises
    ------
    ValueError : half width below zero or not finite

    Source
    ------
    [1] JCGM 100:2008, 4.3.7.
    """
    _not_negative(half_width=half_width)
    return half_width / math.sqrt(3)


def arcsine(half_width: float) -> float:
    """Standard uncertainty of a value that swings regularly within ± a, a/√2.

    Parameters
    ----------
    half_width : float, amplitude a, zero or more [u]

    Returns
    -------
    float, standard uncertainty [u]

    Raises
    ------
    ValueError : half width below zero or not finite

    Source
    ------
    [1] JCGM 100:2008, H.1.3.4 (cyclic temperature).
    """
    _not_negative(half_width=half_width)
    return half_width / math.sqrt(2)


def resolution_uncertainty(step: float) -> float:
    """Standard uncertainty of reading to the nearest step, q/√12.

    Parameters
    ----------
    step : float, smallest step q of the display or scale, zero or more [u]

    Returns
    -------
    float, standard uncertainty [u]

    Raises
    ------
    ValueError : step below zero or not finite

    Source
    ------
    [1] JCGM 100:2008, F.2.2.1.
    """
    _not_negative(step=step)
    return step / math.sqrt(12)


def stopwatch_uncertainty(resolution: float = 0.01, press: float = HAND_TIMING_SCATTER) -> float:
    """Standard uncertainty of one interval timed by hand, √(2·s² + q²/12), about 0.10 s.

    Two presses at foreseen events; a habit of pressing early or late cancels between start and stop.
    It is scatter: repeats average it out.

    Parameters
    ----------
    resolution : float, smallest step q of the watch, zero or more [s]
    press : float, scatter s of a single press, zero or more [s]

    Returns
    -------
    float, standard uncertainty [s]

    Raises
    ------
    ValueError : a figure below zero or not finite

    Source
    ------
    [1] Am. J. Phys. 87(2) 110 (2019): single events 0.07 s, differences 0.10 s.
    """
    _not_negative(resolution=resolution, press=press)
    return combine(press, press, resolution_uncertainty(resolution))


def tape_error(length: float, tape_class: TapeClass = "II") -> float:
    """Maximum permissible error of a tape measure, a + b·L, L rounded up to the next whole metre.

    Class I: 0.1 + 0.1·L mm, II: 0.3 + 0.2·L mm, III: 0.6 + 0.4·L mm. Without the allowance for a
    length measured from an end face.

    Parameters
    ----------
    length : float, measured length, zero or more [m]
    tape_class : text, accuracy class I, II or III [-]

    Returns
    -------
    float, maximum permissible error [m]

    Raises
    ------
    ValueError : length below zero or not finite, unknown class

    Source
    ------
    [1] Directive 2014/32/EU, annex X, chapter I (material measures of length).

    >>> round(tape_error(10.0) * 1e3, 6)
    2.3
    """
    _not_negative(length=length)
    if tape_class not in _TAPE_CLASSES:
        raise ValueError(f"tape class must be I, II or III, not {tape_class}")
    a, b = _TAPE_CLASSES[tape_class]
    return (a + b * math.ceil(length)) * 1e-3


def tape_uncertainty(length: float, tape_class: TapeClass = "II") -> float:
    """Standard uncertainty of a tape measure, its permissible error taken as rectangular.

    Parameters
    ----------
    length : float, measured length, zero or more [m]
    tape_class : text, accuracy class I, II or III [-]

    Returns
    -------
    float, standard uncertainty [m]

    Raises
    ------
    ValueError : length below zero or not finite, unknown class

    Source
    ------
    [1] As ``tape_error`` and ``rectangular``.
    """
    return rectangular(tape_error(length, tape_class))


def gauge_error(span: float, accuracy_class: float) -> float:
    """Maximum permissible error of a pressure gauge, class per cent of the span, anywhere on the scale.

    Parameters
    ----------
    span : float, span of the scale, above zero [Pa]
    accuracy_class : float, class of EN 837-1 or another, 0 < class ≤ 10 [% of span]

    Returns
    -------
    float, maximum permissible error [Pa]

    Raises
    ------
    ValueError : span not above zero, class outside its range

    Source
    ------
    [1] EN 837-1:1996, table 11.
    """
    _not_negative(span=span)
    if span == 0:
        raise ValueError("span must be above zero")
    if not 0 < accuracy_class <= 10:
        raise ValueError(f"accuracy class must be above 0 and at most 10 per cent, not {accuracy_class}")
    return span * accuracy_class / 100


def gauge_uncertainty(span: float, accuracy_class: float) -> float:
    """Standard uncertainty of a pressure gauge, its permissible error taken as rectangular.

    Parameters
    ----------
    span : float, span of the scale, above zero [Pa]
    accuracy_class : float, class of EN 837-1 or another, 0 < class ≤ 10 [% of span]

    Returns
    -------
    float, standard uncertainty [Pa]

    Raises
    ------
    ValueError : span not above zero, class outside its range

    Source
    ------
    [1] As ``gauge_error`` and ``rectangular``.
    """
    return rectangular(gauge_error(span, accuracy_class))


def thermometer_error(temperature: float, kind: Thermometer = "type-k-2") -> float:
    """Tolerance of a temperature sensor: type K class 2 ± 2.5 K, Pt100 class B ± (0.3 + 0.005·|t|) K.

    The sensor alone: contact with the oil or the pipe usually matters more.

    Parameters
    ----------
    temperature : float, temperature, −40 to 333 °C [K]
    kind : text, type-k-2 (IEC 60584 class 2) or pt100-b (IEC 60751 class B) [-]

    Returns
    -------
    float, tolerance [K]

    Raises
    ------
    ValueError : temperature outside the range of the constant tolerance, unknown kind

    Source
    ------
    [1] IEC 60584 (type K, class 2); IEC 60751 (class B).
    """
    celsius = temperature - 273.15
    if not -40 <= celsius <= 333:
        raise ValueError(f"temperature must be 233.15 K to 606.15 K, not {temperature}")
    if kind == "type-k-2":
        return 2.5
    if kind == "pt100-b":
        return 0.3 + 0.005 * abs(celsius)
    raise ValueError(f"thermometer must be type-k-2 or pt100-b, not {kind}")


def thermometer_uncertainty(temperature: float, kind: Thermometer = "type-k-2") -> float:
    """Standard uncertainty of a temperature sensor, its tolerance taken as rectangular.

    Parameters
    ----------
    temperature : float, temperature, −40 to 333 °C [K]
    kind : text, type-k-2 or pt100-b [-]

    Returns
    -------
    float, standard uncertainty [K]

    Raises
    ------
    ValueError : temperature outside the range of the constant tolerance, unknown kind

    Source
    ------
    [1] As ``thermometer_error`` and ``rectangular``.
    """
    return rectangular(thermometer_error(temperature, kind))


def _finite(**values: float) -> None:
    for name, value in values.items():
        if not math.isfinite(value):
            raise ValueError(f"{name} must be a finite number, not {value}")


def _not_negative(**values: float) -> None:
    for name, value in values.items():
        if not 0 <= value < math.inf:
            raise ValueError(f"{name.replace('_', ' ')} must be zero or more, and finite, not {value}")
