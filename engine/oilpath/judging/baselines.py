"""What this very machine showed when it was sound: earlier sheets as the standard if it has no limit.

An earlier reading counts where it was made under the conditions that its test demands, as the plain test. It is brought
to the hold, distance or turns, the engine speed and the oil temperature of the reading that is judged. A reading is out
beyond three standard deviations from the mean of the earlier ones, the action limits of a control chart (Shewhart;
ISO 7870-2), where the deviation is theirs, and never less than the instrument or sound machines of one kind leave it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from oilpath.documents.machine import Machine
from oilpath.documents.sheet import Conditions, Sheet
from oilpath.flow.notes import Amount, Between, Note, OfTest, Quote, Value, note
from oilpath.judging.comparable import alike
from oilpath.judging.conditions import CORRECTED, GRAVITY_LED, demands, stated
from oilpath.judging.limits import WIDE, Standard
from oilpath.judging.measured import Case
from oilpath.knowledge.testkind import Leakage
from oilpath.physics.formulas.oil import viscosity_ratio
from oilpath.records import dataclass
from oilpath.uncertainty import combine, rectangular

ACTION = 3.0  # standard deviations from the mean: action limits of a Shewhart chart, ISO 7870-2
_REFERENCE = 273.15 + 55  # [K] oil temperature for which leakage is stated, where the circuit names none
_USUAL_GRADE, _USUAL_INDEX = 46e-6, 100.0  # [m²/s at 40 °C] if none is stated; ratios differ little between grades
_LAW = 0.25  # share of a correction that the law itself leaves open, from memory
_THERMOMETER = 1.5  # [K] tank against the oil at work, from memory
_HAIR = 1e-9
_BUILD = 0.05
"""how far two sound machines of one kind lie apart beyond what one test leaves open, as ln ratio; from memory"""
_WORN = 2.0
"""how much further a sister in use, whose wear nobody knows, may lie; from memory"""
_SISTERLY = 2.0
"""standard deviations from the sister's reading at which a reading is taken for out"""


@dataclass(frozen=True, slots=True)
class Earlier:
    """One sheet of the time when the machine was sound: its measured readings by id, and their conditions."""

    sheet: Sheet
    cases: Mapping[str, Case]


@dataclass(frozen=True, slots=True)
class Baseline:
    """Earlier readings brought to the present one: mean and its uncertainty, standard deviation, how many.

    ratio: deviation and uncertainty are those of the logarithm, else they are in SI.
    """

    mean: float
    u: float
    deviation: float
    count: int
    ratio: bool
    notes: tuple[Note, ...] = ()
    corrected: tuple[str, ...] = ()

    def beyond(self, deviations: float) -> float:
        """The value that lies so many standard deviations from the mean, SI."""
        if self.ratio:
            return self.mean * math.exp(deviations * self.deviation)
        return self.mean + deviations * self.deviation


def same_machine(sheet: Sheet) -> tuple[Sheet, ...]:
    """The earlier sheets that are of this machine."""
    return tuple(one for one in sheet.earlier if not _differing(sheet, one))


def sister_sheets(sheet: Sheet) -> tuple[Sheet, ...]:
    """The sheets of sisters that are machines of the same kind."""
    return tuple(one for one in sheet.sisters if one.machine.circuit.id == sheet.machine.circuit.id)


def baseline_warnings(sheet: Sheet) -> tuple[Note, ...]:
    """What is odd about the other sheets: another machine or kind (not used), a later time."""
    found = [
        note("sister-of-another-kind", sheet=Quote(one.name), circuit=Quote(one.machine.circuit.title))
        for one in sheet.sisters
        if one.machine.circuit.id != sheet.machine.circuit.id
    ]
    for one in sheet.earlier:
        other = _differing(sheet, one)
        if other:
            found.append(note("baseline-of-another-machine", sheet=Quote(one.name), differing=tuple(other)))
        elif _later(one, sheet):
            found.append(note("baseline-is-later", sheet=Quote(one.name)))
    return tuple(found)


def _differing(sheet: Sheet, other: Sheet) -> list[str]:
    pairs = {
        "machine-name": (sheet.machine.name, other.machine.name),
        "unit-number": (sheet.unit_number, other.unit_number),
        "serial-number": (sheet.serial_number, other.serial_number),
    }
    return [what for what, (a, b) in pairs.items() if a is not None and b is not None and a.strip() != b.strip()]


def _later(one: Sheet, sheet: Sheet) -> bool:
    if one.hours is not None and sheet.hours is not None:
        return one.hours > sheet.hours
    return one.date is not None and sheet.date is not None and one.date > sheet.date


def find_baseline(
    case: Case, sheet: Sheet, earlier: Sequence[Earlier], scale: Callable[[Case, Case], float | None] | None = None
) -> Baseline | None:
    """The earlier readings of the same test at the same place, brought to this one; None if there is none.

    scale: factor from an earlier reading to this one (None: not comparable), by hold, distance or turns if left out.
    """
    machine, ratio = sheet.machine, case.kind.scale == "ratio"
    values: list[float] = []
    shares: list[float] = []
    open_: list[float] = []
    speeds: list[tuple[float, float]] = []
    oils: list[tuple[float, float]] = []
    for one in earlier:
        found = one.cases.get(case.reading.id)
        factor = (scale or amount_factor)(case, found) if found is not None and found.usable else None
        if found is None or factor is None or not alike(case, found):
            continue
        adjusted = _adjusted(case, found, stated(case.reading, sheet), stated(found.reading, one.sheet), machine)
        if adjusted is None:
            continue
        floor = max(found.resolution / 2, _HAIR)
        value = found.value * factor
        u = found.u * factor
        if ratio:
            value, u = max(value, floor), u / max(value, floor)
            values.append(math.log(value * adjusted.factor))
        else:
            values.append(value)
        shares.append(u)
        wide = WIDE * abs(math.log(factor)) if case.kind.limits.scaling == "proportional-wide" else 0.0
        open_.append(combine(adjusted.u, wide) if ratio else 0.0)
        speeds += [adjusted.speeds] if adjusted.speeds else []
        oils += [adjusted.oils] if adjusted.oils else []
    if not values:
        return None
    count = len(values)
    mean = math.fsum(values) / count
    own = case.kind.scatter.own if case.kind.scatter is not None else 0.0
    scatter = math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (count - 1)) if count > 1 else 0.0
    deviation = max(scatter, own, math.fsum(shares) / count)
    u = combine(deviation / math.sqrt(count), max(open_))
    if ratio:
        mean = math.exp(mean)
    corrected = ("oil-temperature",) if oils else ()
    return Baseline(mean, u * mean if ratio else u, deviation, count, ratio, _notes(speeds, oils), corrected)


def _notes(speeds: list[tuple[float, float]], oils: list[tuple[float, float]]) -> tuple[Note, ...]:
    """What the earlier readings were computed for; pairs of past and present value."""
    made: list[Note] = []
    if speeds:
        made.append(note("converted-from-other-speed", past=_ends(speeds, "rotation"), now=_now(speeds, "rotation")))
    if oils:
        made.append(note("converted-from-other-oil", past=_ends(oils, "temperature"), now=_now(oils, "temperature")))
    return tuple(made)


def _ends(pairs: list[tuple[float, float]], quantity: str) -> Between:
    past = [before for before, _ in pairs]
    return Between(min(past), max(past), quantity)


def _now(pairs: list[tuple[float, float]], quantity: str) -> Amount:
    return Amount(pairs[0][1], quantity)


def from_baseline(case: Case, baseline: Baseline) -> Standard:
    """The standard that the earlier readings set: limits on the sides that the test kind knows."""
    sides = case.kind.limits.sides
    low = baseline.beyond(-ACTION) if sides in ("lower", "both") else None
    high = baseline.beyond(ACTION) if sides in ("upper", "both") else None
    mean = OfTest(baseline.mean, case.reading.test)
    if baseline.count == 1:
        says = note("judged-by-one-earlier-reading", mean=mean)
    else:
        says = note("judged-by-earlier-readings", count=baseline.count, mean=mean)
    return Standard(
        "baseline", baseline.mean, low, high, u=baseline.u, reference=baseline.mean, reference_u=baseline.u,
        notes=(says, *baseline.notes), corrected=baseline.corrected,
    )  # fmt: skip


def from_sister(case: Case, sister: Baseline) -> Standard:
    """The weak standard that sound sisters set: as earlier readings do, but machines differ, and wear is not known."""
    own = case.kind.scatter.own if case.kind.scatter is not None else 0.0
    apart = _WORN * (combine(own, _BUILD) if sister.ratio else own)
    wide = replace(sister, deviation=max(sister.deviation, apart))
    u = combine(sister.u, apart / math.sqrt(sister.count) * (sister.mean if sister.ratio else 1.0))
    sides = case.kind.limits.sides
    mean = OfTest(sister.mean, case.reading.test)
    if sister.ratio:
        says = note("judged-by-sister", mean=mean, share=Amount(u / sister.mean, "ratio"))
    else:
        says = note("judged-by-sister-roughly", mean=mean, off=OfTest(u, case.reading.test, difference=True))
    return Standard(
        "sister", sister.mean,
        wide.beyond(-_SISTERLY) if sides in ("lower", "both") else None,
        wide.beyond(_SISTERLY) if sides in ("upper", "both") else None,
        u=u, reference=sister.mean, reference_u=u, notes=(says, *sister.notes), corrected=sister.corrected,
    )  # fmt: skip


def beside_limit(case: Case, baseline: Baseline) -> Note:
    """What the earlier readings say where the machine's own limit judges."""
    moved, mean = case.value - baseline.mean, OfTest(baseline.mean, case.reading.test)
    apart = math.log(case.value / baseline.mean) if baseline.ratio and case.value > 0 else moved
    own = case.u / baseline.mean if baseline.ratio else case.u
    open_ = baseline.u / baseline.mean if baseline.ratio else baseline.u
    if abs(apart) <= ACTION * combine(baseline.deviation, own, open_):
        return note("unchanged-since-sound", mean=mean)
    by: Value = OfTest(abs(moved), case.reading.test, difference=True)
    if baseline.ratio:
        by = Amount(abs(moved) / baseline.mean, "ratio")
    return note("more-than-when-sound" if moved > 0 else "less-than-when-sound", mean=mean, by=by)


def amount_factor(case: Case, other: Case) -> float | None:
    """From an earlier reading to this one's hold, distance or turns; None if it cannot be scaled."""
    rules = case.kind.limits
    if any(case.reading.keys.get(key) != other.reading.keys.get(key) for key in rules.unscaled):
        return None
    if rules.per is None:
        return 1.0
    own, theirs = case.reading.figures.get(rules.per), other.reading.figures.get(rules.per)
    if own is None or theirs is None or math.isclose(own, theirs, rel_tol=1e-9):
        return 1.0
    if rules.scaling == "none" or any(case.reading.keys.get(key) == word for key, word in rules.unscaled.items()):
        return None
    return own / theirs


def veer_factor(per: str) -> Callable[[Case, Case], float | None]:
    """Scale of a veer, which grows with the square of the distance (`per` names it)."""

    def factor(case: Case, other: Case) -> float | None:
        own, theirs = case.reading.figures.get(per), other.reading.figures.get(per)
        return float((own / theirs) ** 2) if own and theirs else None

    return factor


# --- engine speed and oil temperature ---------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Adjusted:
    """Factor to an earlier value, the uncertainty that it adds as a share; speed and oil, past and present, if used."""

    factor: float = 1.0
    u: float = 0.0
    speeds: tuple[float, float] | None = None
    oils: tuple[float, float] | None = None


def _adjusted(case: Case, other: Case, now: Conditions, then: Conditions, machine: Machine) -> _Adjusted | None:
    """What other engine speed and oil make of an earlier value; None if the speeds lie too far apart."""
    speed = _speed(case, other, now, then, machine)
    if speed is None:
        return None
    oil = _oil(case, other, now, then, machine)
    return _Adjusted(speed.factor * oil.factor, combine(speed.u, oil.u), speed.speeds, oil.oils)


def _speed(case: Case, other: Case, now: Conditions, then: Conditions, machine: Machine) -> _Adjusted | None:
    """By the ratio of engine speeds, each that of the value as judged (the test speed, where it was corrected)."""
    power = case.kind.speed_power
    present, past = _speed_of(case, now, machine), _speed_of(other, then, machine)
    if power == 0 or present is None or past is None or math.isclose(present, past, rel_tol=1e-6):
        return _Adjusted()
    share = past / present
    if abs(share - 1) > 2 * CORRECTED:
        return None
    function = case.function
    if function is not None and (function.gravity >= GRAVITY_LED or function.group in case.kind.uncorrected_groups):
        return _Adjusted(1.0, rectangular(abs(math.log(share))))
    return _Adjusted(float(share**power), rectangular(abs(power * math.log(share)) / 2), (past, present))


def _speed_of(case: Case, conditions: Conditions, machine: Machine) -> float | None:
    if "engine-speed" in case.check.corrected and machine.engine_speed is not None:
        return float(machine.engine_speed.test)
    return conditions.engine_speed


def _oil(case: Case, other: Case, now: Conditions, then: Conditions, machine: Machine) -> _Adjusted:
    """By the viscosity law: leakage goes against viscosity, and is a share of what the reading shows."""
    rules = case.kind.leakage
    key = demands(case.reading.test, case.kind, machine).oil_temperature_from or ""
    present: float | None = case.reading.figures.get(key, now.oil_temperature)
    past = other.reading.figures.get(key, then.oil_temperature)
    if rules is None or present is None or past is None or math.isclose(present, past, rel_tol=1e-6):
        return _Adjusted()
    share, spread = leakage_share(rules, machine)
    try:
        factor = _oil_factor(rules, share, past, present, machine)
        other_share = _oil_factor(rules, share + spread, past, present, machine)
        other_oil = _oil_factor(rules, share, past, present + _THERMOMETER, machine)
    except ValueError:  # beyond what the law describes
        return _Adjusted()
    u = combine(
        abs(math.log(other_share / factor)),
        abs(math.log(other_oil / factor)) * math.sqrt(2),
        _LAW * abs(math.log(factor)),
    )
    return _Adjusted(factor, u, oils=(past, present))


def leakage_share(rules: Leakage, machine: Machine) -> tuple[float, float]:
    """Share that leakage has in a reading at the reference temperature, with its uncertainty; the circuit's first."""
    values, name = machine.circuit.values, rules.of_circuit
    if name is None or name not in values:
        return rules.share, rules.uncertainty
    return values[name], values.get(f"{name}-uncertainty", rules.uncertainty)


def _oil_factor(rules: Leakage, share: float, past: float, present: float, machine: Machine) -> float:
    """Value with oil at the present temperature over that at the past one. ValueError outside the law's range."""
    grade = machine.oil.grade
    viscosity = float(grade.rpartition(" ")[2]) * 1e-6 if grade else _USUAL_GRADE
    index = machine.oil.viscosity_index or _USUAL_INDEX
    # How much thinner than at the reference the oil is, and so how much more leaks.
    reference = machine.circuit.values.get("reference-temperature", _REFERENCE)
    before, after = (1 / float(viscosity_ratio(at, reference, viscosity, index)) for at in (past, present))
    if rules.acts == "is":
        return after / before
    left_before, left_after = 1 - share * before, 1 - share * after
    if left_before <= 0 or left_after <= 0:
        raise ValueError("more would leak than there is")
    return left_before / left_after if rules.acts == "slows" else left_after / left_before
