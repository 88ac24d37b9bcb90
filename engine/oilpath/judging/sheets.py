"""One sheet, all its readings: the order in which the parts of judging are used."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from oilpath.documents.machine import Machine
from oilpath.documents.sheet import Reading, Sheet
from oilpath.flow import Computed, ReadingResult, Result
from oilpath.flow.notes import Note, note
from oilpath.judging.baselines import (
    Baseline,
    Earlier,
    beside_limit,
    find_baseline,
    from_baseline,
    from_sister,
    same_machine,
    sister_sheets,
    veer_factor,
)
from oilpath.judging.comparable import compared_or_invalid
from oilpath.judging.computed import computed
from oilpath.judging.condition_results import Made, condition_results
from oilpath.judging.conditions import NO_NEEDS, ConditionCheck, Demands, check, demands, stated
from oilpath.judging.counterparts import counterpart_of, differences, from_counterpart, from_droop
from oilpath.judging.doubts import asked, sides
from oilpath.judging.drifting import drift
from oilpath.judging.estimates import from_dimensions
from oilpath.judging.heard import HeardOnSheet, hear
from oilpath.judging.limits import Standard, from_limit, limit_for
from oilpath.judging.measured import Case, measure, scatters
from oilpath.judging.observed import observed
from oilpath.judging.variants import compared, is_plain, together_standard
from oilpath.judging.veer import measure_veer, veer_computed, veer_figures, veer_reading, veer_standard
from oilpath.judging.verdicts import Thresholds, judged
from oilpath.knowledge.testkind import TestKind

if TYPE_CHECKING:
    from oilpath.bench import Bench


def judge(
    sheet: Sheet, bench: Bench, *, fail_at: float = 0.95, pass_at: float = 0.05, heard: HeardOnSheet | None = None
) -> tuple[Result, ...]:
    """Judge every reading of a sheet.

    Parameters
    ----------
    sheet : Sheet, readings in SI with their test kinds
    bench : Bench of the sheet's machine, with the test kinds and variants
    fail_at : float, probability of being out from which a value fails, above pass_at, at most 1 [-]
    pass_at : float, probability of being out up to which it passes, zero or more [-]
    heard : what the words of the sheet say; found here if left out

    Returns
    -------
    tuple of Result in the order of the readings, a veer after its travel time; what words say, the conditions last

    Raises
    ------
    ValueError : thresholds that are not 0 ≤ pass_at < fail_at ≤ 1

    Source
    ------
    [1] Uncertainty: JCGM 100:2008. Probability of being out: JCGM 106:2012, 7.3 and 7.4.
    """
    said = hear(sheet, bench) if heard is None else heard
    return _Judging(sheet, bench, Thresholds(fail_at, pass_at)).results(said.results)


class _Judging:
    """The readings of one sheet on their way, in the order they were written."""

    def __init__(self, sheet: Sheet, bench: Bench, thresholds: Thresholds) -> None:
        self.sheet, self.bench, self.thresholds = sheet, bench, thresholds
        self.knowledge = bench.knowledge
        self.machine = sheet.machine
        self.made: list[Made] = []
        self.demanded: dict[tuple[str, tuple[str, ...], bool], Demands] = {}
        self.cases: dict[str, Case] = {}
        self.veers: dict[str, tuple[Case, tuple[Note, ...]]] = {}
        self.standards: dict[str, Standard | None] = {}
        self.earlier = tuple(Earlier(one, self._earlier_cases(one)) for one in same_machine(sheet))
        self.sisters = tuple(Earlier(one, self._earlier_cases(one)) for one in sister_sheets(sheet))

    def results(self, heard: Iterable[Result]) -> tuple[Result, ...]:
        self._measure()
        found: list[Result] = []
        for reading in self.sheet.readings:
            case = self.cases.get(reading.id)
            found.append(observed(reading, self.machine) if case is None else self._numeric(case))
            if reading.id in self.veers:
                found.append(self._veer(reading))
        found_apart = differences(found, self.cases, self.standards, self.machine.circuit, self.thresholds)
        said = sides(tuple(found_apart), self.knowledge.slips, self.knowledge.tests)
        return (*said, *heard, *condition_results(self.sheet, self.made, self.knowledge.tests, self.knowledge.slips))

    def _earlier_cases(self, sheet: Sheet) -> Mapping[str, Case]:
        """What an earlier sheet measured, by id: the plain readings, veers included."""
        other = _Judging(sheet, self.bench, self.thresholds)
        other._measure()
        cases = [*other.cases.values(), *(case for case, _ in other.veers.values())]
        return {case.reading.id: case for case in cases if is_plain(case)}

    def _measure(self) -> None:
        spread = scatters(self.sheet)
        for reading in self.sheet.readings:
            if reading.kind.value is not None and reading.values:
                self.cases[reading.id] = measure(self.sheet, reading, self._check(reading), spread)
            test = reading.kind.veer_as
            if reading.veer is not None and test is not None and test in self.knowledge.tests:
                own = veer_reading(reading, test, self.knowledge.tests[test])
                self.veers[reading.id] = measure_veer(self.sheet, own, self._check(own))

    def _check(self, reading: Reading) -> ConditionCheck:
        variant = self.knowledge.variants.get(reading.variant)
        waived = variant.waives if variant is not None else ()
        made = check(reading, self.sheet, waived, self.knowledge.asked_of, self._demands)
        if not reading.kind.derived:  # a veer stands to the conditions as its travel time does
            self.made.append(Made(reading, self._demands(reading.test, reading.kind, self.machine, waived), made))
        return made

    def _demands(
        self,
        test: str,
        kind: TestKind,
        machine: Machine,
        waived: tuple[str, ...] = (),
        needs: Mapping[str, tuple[str, ...]] = NO_NEEDS,
    ) -> Demands:
        """As `demands`, each computed once for a sheet."""
        key = test, waived, bool(needs)
        if key not in self.demanded:
            self.demanded[key] = demands(test, kind, machine, waived, needs)
        return self.demanded[key]

    def _numeric(self, case: Case) -> ReadingResult:
        beside, notes = computed(case, self.bench, stated(case.reading, self.sheet).engine_speed)
        drifted = drift(case, self.bench)
        taken_off = (0.0, 0.0)
        if drifted is not None:
            beside, notes = {**beside, **drifted.computed}, (*notes, *drifted.notes)
            taken_off = (drifted.beyond, drifted.u)
        if not is_plain(case):
            return self._compared(case, self.cases, beside=beside, notes=notes)
        before = (one.cases.get(case.reading.id) for one in self.earlier)
        case = compared_or_invalid(case, [one for one in before if one is not None and one.usable])
        standard, given = self._standard(case)
        self.standards[case.reading.id] = standard
        result = judged(case, standard, self.thresholds, computed=beside, notes=(*given, *notes), taken_off=taken_off)
        return asked(result, case, self.knowledge.slips, self.machine, limit_for(case.reading, self.machine))

    def _standard(self, case: Case) -> tuple[Standard | None, tuple[Note, ...]]:
        """The machine's limit, else its earlier readings, else an estimate from dimensions, else its counterpart."""
        standard, notes = from_limit(case.reading, self.machine)
        past = find_baseline(case, self.sheet, self.earlier)
        if past is not None:
            standard, more = _with_baseline(case, standard, past)
            return standard, (*notes, *more)
        why: tuple[Note, ...] = ()
        if standard is None and self.sisters:
            sister = find_baseline(case, self.sheet, self.sisters)
            if sister is not None:
                return from_sister(case, sister), notes
        if standard is None and not notes:
            standard, why = from_dimensions(case, self.bench)
        standard = standard or from_droop(case, self.cases)
        if standard is None:
            counterpart = counterpart_of(case, self.cases, self.machine.circuit)
            standard = from_counterpart(case, counterpart) if counterpart is not None else None
        if standard is None and not notes:
            notes = (note("no-limit"), *why)
        return standard, notes

    def _compared(
        self, case: Case, cases: Mapping[str, Case], *, beside: Mapping[str, Computed], notes: tuple[Note, ...]
    ) -> ReadingResult:
        if not case.usable:
            return judged(case, None, self.thresholds, computed=beside, notes=notes)
        says, evidence = compared(case, cases, self.machine.circuit)
        standard = together_standard(case, cases, self.machine.circuit)
        result = judged(case, standard, self.thresholds, computed=beside, notes=(*notes, says))
        return asked(dataclasses.replace(result, evidence=evidence), case, self.knowledge.slips, self.machine)

    def _veer(self, travel: Reading) -> ReadingResult:
        case, notes = self.veers[travel.id]
        beside = veer_computed(case, self.machine)
        figures = veer_figures(self.machine)
        if not is_plain(case):
            veers = {one.reading.id: one for one, _ in self.veers.values()}
            return self._compared(case, veers, beside=beside, notes=notes)
        standard = veer_standard(case.reading, travel, self.machine)
        past = find_baseline(case, self.sheet, self.earlier, veer_factor(travel.kind.limits.per or ""))
        if past is not None:
            standard, more = _with_baseline(case, standard, past)
            notes = (*notes, *more)
        elif standard is None or standard.basis == "twin":
            sister = find_baseline(case, self.sheet, self.sisters, veer_factor(travel.kind.limits.per or ""))
            standard = standard if sister is None else from_sister(case, sister)
        result = judged(case, standard, self.thresholds, computed=beside, notes=notes, figures=figures)
        return asked(result, case, self.knowledge.slips, self.machine)


def _with_baseline(case: Case, standard: Standard | None, past: Baseline) -> tuple[Standard, tuple[Note, ...]]:
    """A limit of the machine stays what judges, with the earlier readings beside it; else they judge."""
    if standard is not None and standard.basis == "limit" and not (standard.min is None and standard.max is None):
        return standard, (beside_limit(case, past),)
    return from_baseline(case, past), ()
