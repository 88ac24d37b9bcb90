"""What follows from a sheet: the answer, the next step, the order."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

from starlette.responses import PlainTextResponse, Response

from oilpath.bench import Bench, bench_for, bench_of
from oilpath.documents.edit import Document, add_reading
from oilpath.documents.emit import emitted
from oilpath.page.visit import Refused, Visit, address
from oilpath.page.workshop import Answered
from oilpath.planning.remedies import remedy_first
from oilpath.records import dataclass
from oilpath.reports.how import how_drawing, how_lines, how_of_check, how_of_test
from oilpath.reports.html import answer_pieces, piece_of
from oilpath.reports.order_page import WIDTH, to_order
from oilpath.reports.page import lay_out
from oilpath.reports.way import Shown, changed, refused
from oilpath.reports.way_page import around_step, step_shown
from oilpath.reports.words import Words
from oilpath.session.fits import at_hand, with_what_is_there
from oilpath.session.way import (
    NotRecorded,
    bundled,
    last_recorded,
    outcome_of,
    proving_first,
    reading_of,
    standing,
    unmeasured,
    ways,
    without_work_of,
    work_of,
)
from oilpath.store.documents import Conflict

if TYPE_CHECKING:
    from oilpath.flow import Diagnosis
    from oilpath.page.workshop import Workshop

_TRIES: Final = 8
_UNBROKEN: Final = 100_000
"""columns of an order whose lines the browser breaks"""


def words_of(visit: Visit, found: Answered) -> Words:
    """The words for an answer."""
    return Words(visit.workshop.knowledge, found.sheet.machine, visit.units)


def answer(visit: Visit) -> Response:
    """The answer, one screen first; what changed since the version that was seen last."""
    name = visit.path["name"]
    number = visit.number("version", 0)
    found = visit.workshop.answered(name, number or None)
    words = words_of(visit, found)
    circuit = bench_for(found.sheet.machine, visit.workshop.knowledge).circuit
    pieces = list(answer_pieces(lay_out(found.answer, words, all_rows=True), found.answer, words, circuit))
    first = next((n for n, one in enumerate(pieces) if one.kind == "heading"), len(pieces))
    return visit.show(
        "answer.html",
        name=name,
        number=found.held.version.number,
        first=pieces[:first],
        rest=pieces[first:],
        change=_change(visit, name, found, words),
        versions=visit.workshop.store.documents.versions(name),
        photos=visit.workshop.store.photos.of(name),
        sheet=found.sheet,
    )


def _change(visit: Visit, name: str, found: Answered, words: Words) -> str:
    """How the leading cause stands against the version before, or the one that is named."""
    number = found.held.version.number
    before = visit.number("since", number - 1)
    if not 1 <= before < number:
        return ""
    from oilpath.problems import UnusableInput

    try:
        old = visit.workshop.answered(name, before)
    except (UnusableInput, Refused):
        return ""
    return changed(old.answer, found.answer, words)


# --- the next step ------------------------------------------------------------------------

Record = Callable[[Answered, Document, Bench], tuple[Document, str]]
"""what is done to a sheet: the changed document, and the line that was written or taken back"""


@dataclass(frozen=True, slots=True)
class Recorded:
    """The number of the version before, and the line that was written or taken back."""

    before: int
    line: str


def next_step(visit: Visit) -> Response:
    """The best next step, one button an outcome; what is sent is recorded on the sheet."""
    name = visit.path["name"]
    if visit.request.method == "GET":
        return _step_page(visit, name)
    outcome, reading, undo = visit.sent.one("outcome"), visit.sent.one("reading"), visit.sent.one("undo")
    if undo:
        change = taking_back(undo)
    elif outcome:
        change = with_outcome(outcome[:300])
    else:
        value = " ".join(visit.sent.fields.get("value", ()))[:300]
        change = with_reading(f"{reading[:300]}={_spaced(value)}")
    done = record(visit, name, change)
    return visit.to(address("sheet", name, "next") + f"?since={done.before}")


def record(visit: Visit, name: str, change: Record) -> Recorded:
    """Change the latest version, again where somebody else was a moment quicker. Raises Refused, UnusableInput."""
    workshop = visit.workshop
    for _ in range(_TRIES):
        found = workshop.answered(name)
        number = found.held.version.number
        try:
            document, line = change(found, Document(name, found.held.text), bench_of(found.sheet, workshop.knowledge))
        except NotRecorded as error:
            raise Refused(422, f"{refused(error)}.") from None
        workshop.sheet(name, document.text)
        saved = workshop.store.documents.save(name, document.text, base=number, author=visit.person.name)
        if not isinstance(saved, Conflict):
            return Recorded(number, line)
    raise Refused(503, "Too many people write on this sheet at the same moment. Send it once more.")


def with_outcome(text: str) -> Record:
    """The outcome of a check onto the sheet, with what was moved for it."""

    def done(found: Answered, document: Document, bench: Bench) -> tuple[Document, str]:
        line = outcome_of(text, found.answer, bench)
        document = add_reading(document, line)
        for entry in work_of(line["check"], line["part"], bench):
            document = document.append(("work",), entry)
        return document, emitted(line)

    return done


def with_reading(text: str) -> Record:
    """A reading onto the sheet."""

    def done(_found: Answered, document: Document, bench: Bench) -> tuple[Document, str]:
        line = reading_of(text, bench)
        return add_reading(document, line), emitted(line)

    return done


def taking_back(number: str | None) -> Record:
    """The last reading off the sheet; with a number only if it is still that one."""

    def done(_found: Answered, document: Document, _bench: Bench) -> tuple[Document, str]:
        last = last_recorded(document)
        if last is None:
            raise Refused(409, "The sheet has no reading to take back.")
        if number is not None and str(last[0]) != number:
            raise Refused(409, "The sheet has changed meanwhile; look at it again before you take anything back.")
        return without_work_of(document.remove(("readings", last[0])), last[1]), emitted(last[1])

    return done


def _spaced(value: str) -> str:
    """Repeats apart by blanks, as they are typed on a page: `4.8 4.7 s`."""
    import re

    return re.sub(r"(?<=[0-9])\s+(?=[0-9.+-])", ", ", value.strip())


def stepped(
    visit: Visit, name: str, found: Answered, *, minutes: int | None = None, passed: frozenset[str] = frozenset(),
    before: Diagnosis | None = None,
) -> Shown:  # fmt: skip
    """Where the search stands and the next steps, as `oilpath next` has them."""
    bench = bench_of(found.sheet, visit.workshop.knowledge)
    hand = at_hand(None, minutes, bench)
    reply, left_out = with_what_is_there(found.answer, bench, hand)
    steps = ways(reply, bench, passed, hand)
    stand = standing(reply, steps, bench)
    steps = bundled(proving_first(steps, stand, bench), bench, hand)
    remedy = remedy_first(reply, bench) if stand.kind == "open" and not unmeasured(reply) else None
    return Shown(
        reply, stand, steps, None, before=before, remedies=found.sheet.remedies, retest=_retest(visit, name, found),
        left_out=left_out, remedy=remedy,
    )  # fmt: skip


def _step_page(visit: Visit, name: str) -> Response:
    found = visit.workshop.answered(name)
    words = words_of(visit, found)
    passed = frozenset(visit.request.query_params.getlist("pass")[:20])
    minutes = visit.number("minutes", 0, 0, 10_000)
    shown = stepped(
        visit, name, found, minutes=minutes or None, passed=passed, before=_before(visit, name, found)
    )  # fmt: skip
    steps, last = shown.steps, last_recorded(Document(name, found.held.text))
    above, below = around_step(shown, words)
    picture = None
    if steps and steps[0].check is not None:
        picture = how_of_check(steps[0].check.check, steps[0].check.part, found.sheet.machine, words)
    elif steps and steps[0].test is not None:
        picture = how_of_test(steps[0].test, found.sheet.machine, words)
    return visit.show(
        "next.html", name=name, step=step_shown(shown, words), above=[piece_of(one) for one in above],
        below=[piece_of(one) for one in below], last=last, last_text="" if last is None else emitted(last[1]),
        passed=sorted(passed), picture="" if picture is None else how_drawing(picture, "how", written=False),
        picture_says=() if picture is None else how_lines(picture),
        minutes=minutes, sheet=found.sheet,
    )  # fmt: skip


def _before(visit: Visit, name: str, found: Answered) -> Any:
    since = visit.number("since", 0)
    if not 1 <= since < found.held.version.number:
        return None
    return visit.workshop.answered(name, since).answer


def _retest(visit: Visit, name: str, found: Answered) -> Any:
    """The sheet made after a remedy that helped, with its results."""
    from oilpath.judging import judge
    from oilpath.store.names import resolved

    after = next((one.after for one in reversed(found.sheet.remedies) if one.helped and one.after), None)
    where = resolved(name, after) if after is not None else None
    if after is None or where is None:
        return None
    later = visit.workshop.sheet(where)
    return after, judge(later, bench_for(later.machine, visit.workshop.knowledge))


# --- the order ----------------------------------------------------------------------------


def order(visit: Visit) -> Response:
    """The text for a repair order, to copy and print."""
    name = visit.path["name"]
    length, reader = visit.query("length", "usual"), visit.query("for", "workshop")
    parts, form = visit.query("parts") == "1", visit.query("form", "text")
    if length not in ("short", "usual", "full") or reader not in ("workshop", "customer"):
        raise Refused(400, "There is no such order.")
    if form not in ("text", "markdown"):
        raise Refused(400, "There is no such form of an order.")
    found = visit.workshop.answered(name)
    asked = visit.workshop, name, found, words_of(visit, found), length, reader, parts, form
    text = order_text(*asked)
    if visit.query("plain") == "1":
        return PlainTextResponse(text)
    return visit.show(
        "order.html", name=name, text=text, unbroken=order_text(*asked, width=_UNBROKEN), length=length,
        reader=reader, parts=parts, sheet=found.sheet,
    )  # fmt: skip


def order_text(
    workshop: Workshop, name: str, found: Answered, words: Words, length: Any, reader: Any, parts: bool, form: Any,
    width: int = WIDTH,
) -> str:  # fmt: skip
    """The order of a sheet; a template of the workshop's own takes the place of the usual one."""
    from oilpath.judging import judge
    from oilpath.reports.order import closed_job, order_of
    from oilpath.reports.order_template import by_template, own_template
    from oilpath.store.names import resolved

    knowledge, closed = workshop.knowledge, []
    for one in found.sheet.confirmed:
        where = resolved(name, one.after) if one.after else None
        later = workshop.sheet(where) if where is not None else None
        after = () if later is None else judge(later, bench_for(later.machine, knowledge))
        causes = found.answer.causes
        title = next((words.cause(c) for c in causes if (c.cause, c.part) == (one.cause, one.part)), None)
        title = title or f"{one.cause}, {words.part(one.part)}"
        closed.append(closed_job(title, one, found.answer.results, after, words))
    own = own_template(((layer.folder, layer.shown) for layer in knowledge.layers), form)
    if own is not None and length == "usual" and not parts and reader == "workshop":
        return by_template(order_of(found.answer, words, closed=closed), *own)
    return to_order(
        found.answer, words, length=length, reader=reader, parts=parts, form=form, closed=closed, width=width
    )
