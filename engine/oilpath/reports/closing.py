"""What `oilpath close` says: what was found and corrected, its proof, what it counts for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

from oilpath.documents.sheet import Confirmed, Work
from oilpath.flow import Measured, Result
from oilpath.knowledge.closed import Closed
from oilpath.learning.counts import Learned
from oilpath.reports import words as say
from oilpath.reports.blocks import Block, Heading, Items, Para, Title
from oilpath.reports.conclusions import finding, out_of
from oilpath.reports.names import counted, safe, sentence
from oilpath.reports.order import closed_job
from oilpath.reports.words import Words
from oilpath.reports.work import BEFORE_START, to_undo
from oilpath.units import figure

if TYPE_CHECKING:
    from oilpath.session.closing import NotThere

_MANY: Final = 12
_REFUSED: Final = {
    "cause": "--cause: this machine can have no cause “{given}”",
    "part": "--part: that cause cannot be at “{given}”",
    "which-part": "--part is missing: {given} can be at several parts",
}


def not_there(error: NotThere) -> str:
    """Why a cause or part is refused, and what is accepted."""
    said = _REFUSED[error.what].format(given=safe(error.given))
    more = ", …" if len(error.accepted) > _MANY else ""
    return f"{said}; accepted: {', '.join(error.accepted[:_MANY])}{more}" if error.accepted else said


def lay_out_closed(
    job: Closed,
    work: Sequence[Work],
    before: Sequence[Result],
    after: Sequence[Result],
    learned: Learned,
    words: Words,
) -> Iterator[Block]:
    """The page: causes with their proof, what is still out or to be put back, what counts now."""
    yield Title("Found and corrected")
    kinds = {one.cause: one for one in words.knowledge.causes}
    for place, one in enumerate(job.found):
        title = kinds[one.cause].title if one.cause in kinds else one.cause
        title = title.replace("{part}", words.part(one.part))
        done = closed_job(title, Confirmed(one.cause, one.part, one.how, None, job.grade), before, after, words)
        yield Para(f"{done.how} ({done.known})", label=done.title)
        if done.proof and place == 0:
            yield Items(done.proof, "good")
    if out := [one for one in out_of(after) if isinstance(one, Measured)]:
        still = "; ".join(finding(one, words) for one in out)
        yield Para(f"{still}. The job may not be done.", "out", label="Still out after the repair")
    elif not after:
        yield Para("No reading after the repair is on file; --after SHEET adds it.", "near", label="No proof")
    if job.minutes:
        yield Para(say.minutes(job.minutes), label="Time spent")
    if undo := to_undo(work, words):
        yield Para(f"{'; '.join(undo)}.", "caution", label=BEFORE_START)
    yield Heading("What it counts for")
    yield Items(tuple(_counts(job, learned, words)))


def _counts(job: Closed, learned: Learned, words: Words) -> Iterator[str]:
    kinds = {one.cause: one for one in words.knowledge.causes}
    many = "count" if learned.jobs != 1 else "counts"
    yield f"{sentence(counted(learned.jobs, 'closed job'))} {many} on machines of this kind."
    for kind in dict.fromkeys(one.cause for one in job.found):
        if kind not in kinds:
            continue
        if kind in learned.found:
            yield (
                f"{kind} (stated as {kinds[kind].frequency}): found {figure(learned.found[kind], 3)} times by weight;"
                f" its odds are now {figure(learned.frequency.get(kind, 1.0), 3)} times what they were."
            )
        else:
            yield f"{kind}: not counted, as nobody knows that it was the cause."
