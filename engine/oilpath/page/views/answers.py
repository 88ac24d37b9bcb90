"""What follows from a sheet: the answer, the next step, the order."""

from __future__ import annotations

from typing import Any, Final

from starlette.responses import PlainTextResponse, Response

from oilpath.bench import bench_for
from oilpath.documents.edit import Document, add_reading
from oilpath.page.visit import Refused, Visit, address
from oilpath.page.workshop import Answered
from oilpath.reports.how import how_drawing, how_of_check, how_of_test
from oilpath.reports.html import answer_pieces, piece_of
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
    ways,
    without_work_of,
    work_of,
)
from oilpath.store.documents import Conflict

_TRIES: Final = 8


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


def next_step(visit: Visit) -> Response:
    """The best next step, one button an outcome; what is sent is recorded on the sheet."""
    name = visit.path["name"]
    if visit.request.method == "GET":
        return _step_page(visit, name)
    outcome, reading, undo = visit.sent.one("outcome"), visit.sent.one("reading"), visit.sent.one("undo")
    for _ in range(_TRIES):
        found = visit.workshop.answered(name)
        held = found.held
        document = Document(name, held.text)
        if undo:
            changed_document = _without_last(visit, document)
        else:
            bench = bench_for(found.sheet.machine, visit.workshop.knowledge)
            try:
                if outcome:
                    line = outcome_of(outcome[:300], found.answer, bench)
                else:
                    value = " ".join(visit.sent.fields.get("value", ()))[:300]
                    line = reading_of(f"{reading[:300]}={_spaced(value)}", bench)
            except NotRecorded as error:
                raise Refused(422, f"{refused(error)}.") from None
            changed_document = add_reading(document, line)
            for entry in work_of(line["check"], line["part"], bench) if outcome else ():
                changed_document = changed_document.append(("work",), entry)
        visit.workshop.sheet(name, changed_document.text)
        saved = visit.workshop.store.documents.save(
            name, changed_document.text, base=held.version.number, author=visit.person.name
        )
        if not isinstance(saved, Conflict):
            return visit.to(address("sheet", name, "next") + f"?since={held.version.number}")
    raise Refused(503, "Too many people write on this sheet at the same moment. Send it once more.")


def _spaced(value: str) -> str:
    """Repeats apart by blanks, as they are typed on a page: `4.8 4.7 s`."""
    import re

    return re.sub(r"(?<=[0-9])\s+(?=[0-9.+-])", ", ", value.strip())


def _without_last(visit: Visit, document: Document) -> Document:
    last = last_recorded(document)
    if last is None:
        raise Refused(409, "The sheet has no reading to take back.")
    if str(last[0]) != visit.sent.one("undo"):
        raise Refused(409, "The sheet has changed meanwhile; look at it again before you take anything back.")
    return without_work_of(document.remove(("readings", last[0])), last[1])


def _step_page(visit: Visit, name: str) -> Response:
    found = visit.workshop.answered(name)
    knowledge = visit.workshop.knowledge
    words, bench = words_of(visit, found), bench_for(found.sheet.machine, knowledge)
    passed = frozenset(visit.request.query_params.getlist("pass")[:20])
    minutes = visit.number("minutes", 0, 0, 10_000)
    hand = at_hand(None, float(minutes) if minutes else None, bench)
    reply, left_out = with_what_is_there(found.answer, bench, hand)
    steps = ways(reply, bench, passed, hand)
    stand = standing(reply, steps, bench)
    steps = bundled(proving_first(steps, stand, bench), bench, hand)
    before = _before(visit, name, found)
    shown = Shown(
        reply, stand, steps, None, before=before, remedies=found.sheet.remedies, retest=_retest(visit, name, found),
        left_out=left_out,
    )  # fmt: skip
    last = last_recorded(Document(name, found.held.text))
    above, below = around_step(shown, words)
    picture = None
    if steps and steps[0].check is not None:
        picture = how_of_check(steps[0].check.check, steps[0].check.part, found.sheet.machine, words)
    elif steps and steps[0].test is not None:
        picture = how_of_test(steps[0].test, found.sheet.machine, words)
    return visit.show(
        "next.html", name=name, step=step_shown(shown, words), above=[piece_of(one) for one in above],
        below=[piece_of(one) for one in below], last=last, last_text=_line(last), passed=sorted(passed),
        picture="" if picture is None else how_drawing(picture, "how"),
        minutes=minutes, sheet=found.sheet,
    )  # fmt: skip


def _line(last: Any) -> str:
    from oilpath.documents.emit import emitted

    return "" if last is None else emitted(last[1])


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
    text = order_text(visit, name, found, length, reader, parts, form)
    if visit.query("plain") == "1":
        return PlainTextResponse(text)
    return visit.show("order.html", name=name, text=text, length=length, reader=reader, parts=parts, sheet=found.sheet)


def order_text(visit: Visit, name: str, found: Answered, length: Any, reader: Any, parts: bool, form: Any) -> str:
    """The order of a sheet; a template of the workshop's own takes the place of the usual one."""
    from oilpath.judging import judge
    from oilpath.reports.order import closed_job, order_of
    from oilpath.reports.order_page import to_order
    from oilpath.reports.order_template import by_template, own_template
    from oilpath.store.names import resolved

    words, knowledge = words_of(visit, found), visit.workshop.knowledge
    closed = []
    for one in found.sheet.confirmed:
        where = resolved(name, one.after) if one.after else None
        later = visit.workshop.sheet(where) if where is not None else None
        after = () if later is None else judge(later, bench_for(later.machine, knowledge))
        causes = found.answer.causes
        title = next((words.cause(c) for c in causes if (c.cause, c.part) == (one.cause, one.part)), None)
        title = title or f"{one.cause}, {words.part(one.part)}"
        closed.append(closed_job(title, one, found.answer.results, after, words))
    own = own_template(((layer.folder, layer.shown) for layer in knowledge.layers), form)
    if own is not None and length == "usual" and not parts and reader == "workshop":
        return by_template(order_of(found.answer, words, closed=closed), *own)
    return to_order(found.answer, words, length=length, reader=reader, parts=parts, form=form, closed=closed)
