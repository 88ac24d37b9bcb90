"""Make the answer for a sheet and put it into words. Shared by several commands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from oilpath.commands.streams import is_terminal

if TYPE_CHECKING:
    from oilpath.documents.have import HaveDraft
    from oilpath.documents.sheet import Sheet
    from oilpath.flow import Diagnosis
    from oilpath.knowledge.base import Knowledge
    from oilpath.reports.words import Units, Words


def diagnosed(sheet: Sheet, knowledge: Knowledge, fail_at: float = 0.95, pass_at: float = 0.05) -> Diagnosis:
    """The answer for a sheet. A result fails from probability `fail_at` of being out, and passes up to `pass_at`."""
    from oilpath.diagnosis import diagnose

    return diagnose(sheet, knowledge, fail_at=fail_at, pass_at=pass_at)


def with_what_is_there(answer: Diagnosis, sheet: Sheet, knowledge: Knowledge, have: HaveDraft) -> Diagnosis:
    """The answer with only the checks that are possible here; what is missing becomes a warning."""
    from oilpath.bench import bench_of
    from oilpath.session.fits import at_hand, only_possible

    bench = bench_of(sheet, knowledge)
    return only_possible(answer, bench, at_hand(have, None, bench))


def words(sheet: Sheet, knowledge: Knowledge, units: Units) -> Words:
    """The words for answers about a sheet's machine, figures in `si` or `us` units."""
    from oilpath.reports.words import Words

    return Words(knowledge, sheet.machine, units)


def rendered(
    answer: Diagnosis,
    words: Words,
    format_: str = "text",
    *,
    all_results: bool = False,
    short: bool = False,
    to_file: bool = False,
) -> str:
    """An answer as `text` (in the terminal's colours where standard output is one) or `markdown`."""
    if format_ == "markdown":
        from oilpath.reports.markdown import to_markdown

        return to_markdown(answer, words, all_results=all_results, short=short)
    from oilpath.reports.text import to_terminal, to_text

    show = to_text if to_file or not is_terminal() else to_terminal
    return show(answer, words, all_results=all_results, short=short)


def drawn(answer: Diagnosis, words: Words, sheet: Sheet, knowledge: Knowledge, format_: str, picture: str) -> str:
    """An answer as an `html` page, or one of its pictures as `svg` or `dot`. Raises UnusableInput without `dot`."""
    from oilpath.bench import bench_for

    circuit = bench_for(sheet.machine, knowledge).circuit
    if format_ == "html":
        from oilpath.reports.html import to_html

        return to_html(answer, words, circuit, sheet.machine)
    from oilpath.reports import pictures

    if picture == "results":
        from oilpath.reports.drawing import results_drawing
        from oilpath.reports.page import bar_of

        bars = ((result, bar_of(result)) for result in answer.results)
        return results_drawing(words, [(result, bar) for result, bar in bars if bar is not None])
    if picture == "circuit":
        shown = pictures.circuit_picture(answer, words, circuit)
    elif picture == "causes":
        shown = pictures.causes_picture(answer, words)
    else:
        shown = pictures.plan_picture(answer, words)
    from oilpath.reports.dot import to_dot, to_svg

    source = to_dot(shown, across=picture != "circuit")
    return source if format_ == "dot" else to_svg(source)
