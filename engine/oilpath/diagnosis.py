"""The whole flow in one function: read → judge → relate → suspect → rank → plan → report.

Every step is a pure function on the plain data of `flow`; files are read before it and texts written after it.
"""

from __future__ import annotations

from collections.abc import Sequence

from oilpath._version import __version__
from oilpath.bench import bench_of
from oilpath.documents.machine import Machine
from oilpath.documents.sheet import Sheet
from oilpath.flow import AssumedFigure, Diagnosis, Measured, Ranking, Result, SignResult, StopUse, Suspicions
from oilpath.flow.notes import note
from oilpath.judging import baseline_warnings, hear, judge, moved_settings
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.knowledge.touched import replaced_in_answer
from oilpath.learning.likejobs import comeback, similar_jobs
from oilpath.planning import advise, cautions_for, not_measured
from oilpath.planning.reasons import reasons_of
from oilpath.planning.troubleshooting import troubleshooting_tree
from oilpath.ranking import rank
from oilpath.ranking.priors import is_routine
from oilpath.rules.engine import suspect
from oilpath.rules.facts import relate

DANGER = 0.05
"""probability that a dangerous cause is there from which the machine stands still until it is ruled out"""


def diagnose(
    sheet: Sheet, knowledge: Knowledge | None = None, *, fail_at: float = 0.95, pass_at: float = 0.05
) -> Diagnosis:
    """Diagnose one sheet.

    A result fails from `fail_at` probability of being out and passes up to `pass_at` (0 ≤ pass_at < fail_at ≤ 1).
    The same sheet, knowledge and version give the same answer. Raises ValueError for thresholds out of order.
    """
    known = load_knowledge() if knowledge is None else knowledge
    machine, bench = sheet.machine, bench_of(sheet, known)
    heard, routine = hear(sheet, bench), is_routine(sheet.complaint, bench.priors)
    results = judge(sheet, bench, fail_at=fail_at, pass_at=pass_at, heard=heard)
    facts = relate(results, bench)
    suspicions = suspect(facts, bench.rules)
    ranking = rank(
        results,
        suspicions,
        bench,
        routine=routine,
        hours=sheet.hours,
        remedies=sheet.remedies,
    )
    ranking, checks, plan = advise(ranking, results, bench)
    tree = troubleshooting_tree(ranking, results, suspicions, checks, bench, sheet.complaint, facts)
    warned = (note("rule-warns", says=one.says) for one in suspicions.warnings)
    return Diagnosis(
        sheet=sheet.name,
        machine=machine.name,
        unit_number=sheet.unit_number,
        order_number=sheet.order_number,
        serial_number=sheet.serial_number,
        technician=sheet.technician,
        hours=sheet.hours,
        date=sheet.date,
        complaint=sheet.complaint,
        history=sheet.history,
        stop_use=stop_use(ranking, results, suspicions, known),
        results=results,
        questions=tuple(one for result in results if isinstance(result, Measured) for one in result.questions),
        suspicions=tuple(s for s in suspicions.suspicions if s.accuses),
        causes=ranking.causes,
        groups=ranking.groups,
        sets=ranking.sets,
        checks=checks,
        plan=plan,
        tree=tree,
        not_measured=not_measured(results, known, sheet.machine),
        cautions=cautions_for(results, checks, known, machine),
        warnings=(*baseline_warnings(sheet), *moved_settings(sheet, results, bench), *warned, *ranking.remarks),
        knowledge_version=known.version,
        tool_version=__version__,
        figures=assumed(machine),
        reasons=reasons_of(suspicions, ranking),
        replaced=replaced_in_answer(known, machine, results, suspicions, ranking.causes, checks),
        work=sheet.work,
        remedies=sheet.remedies,
        similar=similar_jobs(results, machine.circuit.id, bench.jobs),
        comeback=comeback(sheet, results, bench.jobs),
        heard=(*heard.heard, *(one for one in heard.unknown if not routine or one.source != "complaint")),
        counted=bench.learned.jobs,
        found_before={
            kind: (found, bench.learned.frequency[kind])
            for kind, found in bench.learned.found.items()
            if kind in bench.learned.frequency
        },
    )


def assumed(machine: Machine) -> tuple[AssumedFigure, ...]:
    """The figures of the machine's circuit that are in doubt or that its file states, in alphabetical order."""
    circuit = machine.circuit
    names = sorted({*circuit.figures, *machine.figures})
    known = ((circuit.figures_named[name], name in machine.figures) for name in names)
    return tuple(AssumedFigure(f.name, float(f), f.low, f.high, f.because, own) for f, own in known)


def stop_use(
    ranking: Ranking, results: Sequence[Result], suspicions: Suspicions, knowledge: Knowledge
) -> tuple[StopUse, ...]:
    """Why the machine must stand still: a dangerous sign that is seen, or a dangerous cause that is not ruled out."""
    found: list[StopUse] = []
    for result in results:
        sign = knowledge.signs.get(result.sign) if isinstance(result, SignResult) and result.seen else None
        if sign is not None and sign.stop_use:
            behind = next((s for s in suspicions.suspicions if result.id in s.evidence), None)
            cause, part = (behind.cause, behind.part) if behind else ("unknown", "machine")
            found.append(StopUse(cause, part, result.keys["sign"]))
    dangers = {cause.cause for cause in knowledge.causes if cause.stop_use}
    named = {(stop.cause, stop.part) for stop in found}
    for ranked in ranking.causes:
        if ranked.cause in dangers and ranked.present >= DANGER and (ranked.cause, ranked.part) not in named:
            found.append(StopUse(ranked.cause, ranked.part, probability=ranked.present))
    return tuple(dict.fromkeys(found))
