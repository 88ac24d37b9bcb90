"""The small sheet docs/worked.yaml, followed through the flow for docs/worked-example.md."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from oilpath.documents.sheet import Sheet
    from oilpath.flow import Diagnosis, RankedCause, ReadingResult, Result

ROOT: Final = Path(__file__).resolve().parents[1]
WORKED: Final = "docs/worked.yaml"


def wrapped(text: str) -> str:
    """Prose in lines of a document's length; a list's further lines stand under its text."""
    return fill(
        text, 130, subsequent_indent="  " * text.startswith("- "), break_long_words=False, break_on_hyphens=False
    )


def worked_block() -> str:
    """The small sheet followed through every step."""
    from oilpath import diagnose, load_sheet
    from oilpath.bench import bench_for
    from oilpath.judging import judge
    from oilpath.knowledge.compile import load_knowledge
    from oilpath.rules.facts import relate

    knowledge, sheet = load_knowledge(), load_sheet(ROOT / WORKED)
    bench = bench_for(sheet.machine, knowledge)
    results = judge(sheet, bench)
    facts = relate(results, bench)
    answer = diagnose(sheet)
    return "\n\n".join(
        [
            f"**read** – `{WORKED}` on the machine `cases/machines/trainer-22t.yaml`:",
            f"```yaml\n{_readings()}\n```",
            wrapped(
                "**judge** – a `Result` for each reading. u is its standard uncertainty, P(out) the probability that"
                " the true value lies beyond the limit:"
            ),
            _judged(results),
            "**relate** – `Fact`s: a kind and slots that are words. Three of them:",
            f"```text\n{_facts(facts)}\n```",
            "**suspect** – rules that these facts fired, and what they suspect:",
            _suspected(answer),
            _ranked(sheet, answer),
            _checked(answer),
        ]
    )


def _readings() -> str:
    text = (ROOT / WORKED).read_text(encoding="utf-8")
    return text[text.index("readings:") :].rstrip()


def _told(results: Iterable[Result]) -> list[ReadingResult]:
    from oilpath.flow import ReadingResult

    return [result for result in results if isinstance(result, ReadingResult)]


def _judged(results: Sequence[Result]) -> str:
    from oilpath.units import from_unit, to_unit

    units = {"time": "s", "pressure": "MPa"}
    rows = ["| result | mean | u | new | accepted | P(out) | verdict |", "|---|---|---|---|---|---|---|"]
    for result in _told(results):
        unit = units[str(result.quantity)]
        size = from_unit(1, unit)

        def shown(value: object, unit: str = unit) -> str:
            return f"{to_unit(float(str(value)), unit):.4g}"

        low, high = result.min, result.max
        accepted = f"up to {shown(high)}" if low is None else f"{shown(low)} to {shown(high)}"
        chance = result.probability_out or 0.0
        rows.append(
            f"| `{result.id}` | {shown(result.value)} {unit} | {(result.uncertainty or 0) / size:.2g} {unit} |"
            f" {shown(result.new)} | {accepted} | {_chance(chance)} | {result.verdict} |"
        )
    return "\n".join(rows)


def _chance(value: float) -> str:
    if value > 0.999:
        return "over 0.999"
    return "under 0.001" if value < 0.001 else f"{value:.3f}"


def _facts(facts: Iterable[Any]) -> str:
    wanted = (("pump-loaded", "pump-1"), ("pump-loaded", "pump-2"), ("stall", "pump-1"))
    lines = []
    for kind, of in wanted:
        fact = next(f for f in facts if f.kind == "group" and (f.slots["kind"], f.slots["of"]) == (kind, of))
        kept = ", ".join(f"{slot}: {fact.slots[slot]}" for slot in ("kind", "of", "deviation", "state", "only"))
        lines.append(f"group {{{kept}}}\n    from {', '.join(fact.results)}")
    return "\n".join(lines)


def _suspected(answer: Diagnosis) -> str:
    rules: dict[str, list[str]] = {}
    for s in answer.suspicions:
        rules.setdefault(s.rule, []).append(f"`{s.cause}` at `{s.part}`")
    lines = []
    for rule, causes in rules.items():
        more = f" and {len(causes) - 3} more" if len(causes) > 3 else ""
        lines.append(wrapped(f"- `{rule}`: {', '.join(causes[:3])}{more}"))
    return "\n".join(lines)


def _ranked(sheet: Sheet, answer: Diagnosis) -> str:
    first = next(cause for cause in answer.causes if cause.severity is not None)
    other = next(cause for cause in answer.causes if (cause.cause, cause.part) == ("pump.worn", "pump-1"))
    fits = [_fit(sheet, answer, cause) for cause in (first, other)]
    rows = [
        f"| reading | e | u | Δ `{first.cause}` | weight | Δ `{other.cause}` | weight |",
        "|---|---|---|---|---|---|---|",
    ]
    for result in _told(answer.results):
        if result.evidence is None:
            continue
        cells = [f"{result.evidence.e:+.3f}", f"{result.evidence.u:.3f}"]
        for cause, fit in zip((first, other), fits, strict=True):
            cells += [f"{fit[result.id]:+.3f}", _weight(cause, result.id)]
        rows.append(f"| `{result.id}` | {' | '.join(cells)} |")
    lines = [
        wrapped(
            "**rank** – e = ln(measured/new) is the evidence. Δ is what the circuit model predicts for it, at the"
            " severity that fits best. A reading's weight is how much more probable it is under the cause than under"
            " all that is not the cause, given the other readings, in decibans (10 dB: ten times). A dash stands where"
            " it is under half a deciban, or the cause too improbable for it to be worked out:"
        ),
        "\n".join(rows),
        "\n".join(_odds(cause) for cause in (first, other)),
    ]
    group = answer.groups[0]
    names = ", ".join(f"`{answer.causes[n].cause}` at `{answer.causes[n].part}`" for n in group.members)
    if len(group.members) > 1:
        share = f"{100 * group.probability:.0f} %"
        lines.append(wrapped(f"These readings cannot tell apart {names}: they are one group, share {share}."))
    return "\n\n".join(lines)


def _fit(sheet: Sheet, answer: Diagnosis, cause: RankedCause) -> dict[str, float]:
    """Predicted effect on each reading at the severity nearest to them, by squares over each reading's own scatter."""
    import numpy as np

    from oilpath.bench import bench_for
    from oilpath.flow import evidence_in
    from oilpath.knowledge.compile import load_knowledge

    knowledge = load_knowledge()
    model = bench_for(sheet.machine, knowledge).model
    evidence = evidence_in(answer.results)
    table, _ = model.predict(evidence)
    own = [knowledge.tests[x.test].scatter for x in evidence]
    sigma = np.array([math.hypot(x.u, s.own if s else 0.02) for x, s in zip(evidence, own, strict=True)])
    e = np.array([x.e for x in evidence])
    mine = [
        n for n, h in enumerate(model.hypotheses)
        if (h.cause.cause, h.part, h.variant) == (cause.cause, cause.part, cause.variant)
    ]  # fmt: skip
    effects = table[mine[0]]
    best = int((((e - effects) / sigma) ** 2).sum(axis=1).argmin())
    return {x.result: float(value) for x, value in zip(evidence, effects[best], strict=True)}


def _weight(cause: RankedCause, result: str) -> str:
    found = [w.weight for w in (*cause.speaks_for, *cause.speaks_against) if w.result == result]
    return f"{found[0]:+.0f} dB" if found else "–"


def _odds(cause: RankedCause) -> str:
    share = f"{100 * cause.probability:.0f} %" if cause.probability >= 0.01 else "under 1 %"
    return (
        f"- `{cause.cause}` at `{cause.part}`: {cause.prior:+.0f} dB before any reading, {cause.total:+.0f} dB after;"
        f" share {share}"
    )


def _checked(answer: Diagnosis) -> str:
    check = answer.checks[0]
    outcomes = "; ".join(f"{o.says} ({100 * o.probability:.0f} %)" for o in check.outcomes)
    return wrapped(
        f"**plan** – the check with the most bits for its cost comes first: `{check.check}` at `{check.part}`,"
        f" {check.minutes:g} min, {check.bits:.2f} bits. Its outcomes: {outcomes}."
    )
