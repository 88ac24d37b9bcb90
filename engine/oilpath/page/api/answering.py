"""What follows from a sheet, for programs: the answer, the next step, the order, why; and what is known without one."""

from __future__ import annotations

from starlette.responses import PlainTextResponse, Response

from oilpath.diagnosis import diagnose
from oilpath.page.api.asked import Asked, answered, wrong
from oilpath.page.views.answers import order_text, record, stepped, taking_back, with_outcome, with_reading
from oilpath.page.views.looking import explored, first_machine
from oilpath.page.visit import Refused
from oilpath.page.workshop import Answered
from oilpath.reports.json_ import to_data
from oilpath.reports.words import Words

_MEDIA = {"text": "text/plain", "markdown": "text/markdown"}


def _words(asked: Asked, found: Answered, units: object = "si") -> Words:
    return Words(asked.workshop.knowledge, found.sheet.machine, "us" if units == "us" else "si")


def get_answer(asked: Asked) -> Response:
    found = asked.workshop.answered(asked.name, asked.query.version)
    return answered(to_data(found.answer, _words(asked, found)))


def judge_sheet(asked: Asked) -> Response:
    name = asked.body.name
    sheet = asked.workshop.sheet(name, asked.text_of(name))
    knowledge = asked.workshop.knowledge
    return answered(to_data(diagnose(sheet, knowledge), Words(knowledge, sheet.machine)))


def get_next(asked: Asked) -> Response:
    return _step(asked, asked.query.minutes, frozenset(asked.query.pass_))


def record_step(asked: Asked) -> Response:
    body = asked.body
    if sum((body.outcome is not None, body.reading is not None, body.undo)) != 1:
        raise wrong("outcome", "one of outcome, reading and undo is expected", "the outcome of a check, or a reading")
    if body.outcome is not None:
        change = with_outcome(body.outcome)
    else:
        change = with_reading(body.reading) if body.reading is not None else taking_back(None)
    done = record(asked.visit, asked.name, change)
    return _step(asked, None, frozenset(), since=done.before, done=done.line, undone=body.undo)


def _step(
    asked: Asked, minutes: int | None, passed: frozenset[str], *, since: int | None = None, done: str | None = None,
    undone: bool = False,
) -> Response:  # fmt: skip
    from dataclasses import replace

    from oilpath.reports.way import to_way_data

    found = asked.workshop.answered(asked.name)
    before = None if since is None else asked.workshop.answered(asked.name, since).answer
    shown = stepped(asked.visit, asked.name, found, minutes=minutes, passed=passed, before=before)
    shown = replace(shown, sheet=asked.name, done=done, undone=undone)
    return answered(to_way_data(shown, _words(asked, found)))


def get_order(asked: Asked) -> Response:
    wanted = asked.query
    if wanted.length == "short" and wanted.parts:
        raise Refused(422, "A short order goes without parts.")
    found = asked.workshop.answered(asked.name)
    words = _words(asked, found, wanted.units)
    text = order_text(
        asked.workshop, asked.name, found, words, wanted.length, wanted.for_, wanted.parts, wanted.form
    )  # fmt: skip
    return PlainTextResponse(text, media_type=_MEDIA[wanted.form])


def get_why(asked: Asked) -> Response:
    from oilpath.reports.why import why

    found = asked.workshop.answered(asked.name)
    return PlainTextResponse(why(found.answer, asked.query.topic, _words(asked, found, asked.query.units)))


def look_up(asked: Asked) -> Response:
    from oilpath.explore.topics import NoTopic
    from oilpath.reports.explore_json import topics_data, views_data
    from oilpath.reports.explore_words import not_found

    wanted, knowledge = asked.query, asked.workshop.knowledge
    if not wanted.topic.strip():
        return answered(topics_data(Words(knowledge, first_machine(asked.visit, wanted.machine).machine)))
    try:
        views = explored(asked.visit, wanted.topic.strip(), wanted.against.strip(), wanted.machine)
    except NoTopic as error:
        raise Refused(404, not_found(error.text, error.nearest)) from None
    return answered(views_data((view, Words(knowledge, bench.machine)) for bench, view in views))
