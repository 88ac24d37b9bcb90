"""From a sheet to its answer in words: what several commands do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from oilpath.commands.streams import is_terminal

if TYPE_CHECKING:
    from oilpath.documents.sheet import Sheet
    from oilpath.flow import Diagnosis
    from oilpath.knowledge.base import Knowledge
    from oilpath.reports.words import Units, Words


def diagnosed(sheet: Sheet, knowledge: Knowledge, fail_at: float = 0.95, pass_at: float = 0.05) -> Diagnosis:
    """The answer for a sheet; from the probability `fail_at` of being out a result fails, up to `pass_at` it passes."""
    from oilpath.diagnosis import diagnose

    return diagnose(sheet, knowledge, fail_at=fail_at, pass_at=pass_at)


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
