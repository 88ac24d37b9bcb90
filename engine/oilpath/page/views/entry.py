"""Entry: a sheet's fields, saved one by one as they are typed, or all at once without a script."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from starlette.responses import JSONResponse, Response

from oilpath.bench import bench_for
from oilpath.documents.edit import Document
from oilpath.judging import judge
from oilpath.page.visit import Refused, Visit, address
from oilpath.problems import UnusableInput
from oilpath.reports.entry_page import judged_readings, lay_out_entry, likely, outcome_text, problem_text
from oilpath.reports.how import how_drawing, how_lines, how_of_test
from oilpath.reports.words import Words
from oilpath.session.day import prepare
from oilpath.session.fields import Change, Fields, Outcome, entry_of
from oilpath.session.habits import units_of_limits
from oilpath.session.lines import Unclear
from oilpath.store.documents import Conflict
from oilpath.units import CUSTOMARY, QUANTITIES

if TYPE_CHECKING:
    from oilpath.documents.sheet import Sheet
    from oilpath.flow import Result
    from oilpath.session.day import DayPlan

_FIELD, _TRIES, _MOST = "f.", 8, 400
_READINGS: Final = "readings"


class Open:
    """One version of a sheet, opened for entry."""

    def __init__(self, visit: Visit, name: str, number: int | None = None) -> None:
        workshop = visit.workshop
        self.visit, self.name = visit, name
        self.held = workshop.held(name, "sheet", number)
        self.number = self.held.version.number
        document = Document(name, self.held.text)
        self.machine = workshop.sheet(name, self.held.text).machine
        self.plan: DayPlan = prepare(self.machine, workshop.knowledge)
        units, self.units = _units(workshop.limits_as_written(name, document), visit)
        self.words = Words(workshop.knowledge, self.machine, self.units)
        self.fields = Fields(entry_of(document, self.machine, self.plan, workshop.knowledge, units, self._read))

    def _read(self, document: Document) -> Sheet:
        return self.visit.workshop.sheet(self.name, document.text)

    @property
    def text(self) -> str:
        """The text of the sheet as it is now."""
        return self.fields.entry.document.text

    def results(self) -> Sequence[Result]:
        """The readings as they are judged now."""
        return judge(self.fields.entry.sheet, bench_for(self.machine, self.visit.workshop.knowledge))


def _units(limits: Sequence[Mapping[str, Any]], visit: Visit) -> tuple[Mapping[str, str], Any]:
    """The unit of each quantity where none is typed: those that the machine's limits are written in come first."""
    habits = units_of_limits(limits, visit.workshop.knowledge)
    us = visit.units == "us" or bool(set(habits.values()) & set(CUSTOMARY.values()))
    usual = {key: CUSTOMARY.get(one.unit, one.unit) for key, one in QUANTITIES.items()} if us else {}
    if visit.units == "us":
        return {**habits, **usual}, "us"
    return {**usual, **habits}, "us" if us else "si"


def entry(visit: Visit) -> Response:
    """The page of entry; what is sent to it is saved."""
    name = visit.path["name"]
    if visit.request.method == "GET":
        return _page(visit, Open(visit, name))
    if visit.sent.json is not None:
        return _script(visit, name)
    return _form(visit, name)


def _page(
    visit: Visit, opened: Open, outcomes: Sequence[Outcome] = (), status: int = 200, oil: str = "", said: str = ""
) -> Response:
    wanted = [test for test in visit.request.query_params.getlist("test") if test in visit.workshop.knowledge.tests]
    results = opened.results()
    shown = lay_out_entry(opened.fields, opened.plan, opened.words, results, wanted)
    told = {one.change.key: one for one in outcomes if not one.kept}
    photos: dict[str, list[Any]] = {}
    for photo in visit.workshop.store.photos.of(opened.name):
        photos.setdefault(photo.reading, []).append(photo)
    signs = {name: sign.title for name, sign in visit.workshop.knowledge.signs.items()}
    circuit = opened.machine.circuit
    pictures = {
        test.test: (how_drawing(how, f"how-{test.test}", written=False), how_lines(how))
        for test in (*opened.plan.tests, *opened.plan.left_out)
        if test.variant is None and (how := how_of_test(test, opened.machine, opened.words)) is not None
    }
    places = {
        **{f"function {one}": opened.words.function(one) for one in circuit.functions},
        **{f"part {one}": opened.words.part(one) for one in circuit.parts if one not in opened.machine.absent},
    }
    return visit.show(
        "entry.html", status, name=opened.name, number=opened.number, pictures=pictures, machine=opened.machine,
        entry=shown, wanted=wanted, trouble={key: outcome_text(one) for key, one in told.items()},
        typed={key: one.change.typed for key, one in told.items()}, oil=oil, said=said, photos=photos,
        signs=dict(sorted(signs.items(), key=lambda one: one[1])), places=places,
    )  # fmt: skip


# --- without a script ---------------------------------------------------------------------


def _form(visit: Visit, name: str) -> Response:
    """The whole form: fields that were not touched stay as they are, whoever changed them meanwhile."""
    number, oil = visit.number("number", 1, 1), visit.sent.one("oil")
    seen = Open(visit, name, number).fields
    changes = []
    for key, typed in visit.sent.fields.items():
        if key.startswith(_FIELD) and key.removeprefix(_FIELD) in seen.numbers:
            field = key.removeprefix(_FIELD)
            changes.append(Change(field, _one_or_more(field, typed), seen.typed(field)))
    _check_count(changes)
    opened, outcomes, said = save(visit, name, changes, oil)
    if visit.sent.one("then") == "answer" and not said and all(one.kept for one in outcomes):
        return visit.to(address("sheet", name))
    if not said and all(one.kept for one in outcomes):
        query = visit.request.url.query
        return visit.to(address("sheet", name, "entry") + (f"?{query}" if query else ""))
    status = 409 if any(one.other for one in outcomes) else 422
    return _page(visit, opened, outcomes, status, oil if said else "", said)


def _one_or_more(key: str, typed: Sequence[str]) -> tuple[str, ...]:
    """What was typed in the boxes of a field; a veer is a side and a figure."""
    pieces = tuple(piece for one in typed if (piece := " ".join(one.split())))
    if key.endswith(":veer"):
        return (" ".join(pieces),) if any(any(sign.isdigit() for sign in piece) for piece in pieces) else ()
    return pieces


def _check_count(changes: Sequence[Change]) -> None:
    if len(changes) > _MOST:
        raise Refused(413, "These are too many fields at once.")


def save(visit: Visit, name: str, changes: Sequence[Change], oil: str = "") -> tuple[Open, Sequence[Outcome], str]:
    """Take changes onto the latest version, again where somebody else was a moment quicker.

    Gives the sheet as it is then, what became of each change, and what is wrong with the oil's temperature.
    """
    for _ in range(_TRIES):
        opened = Open(visit, name)
        try:
            outcomes = opened.fields.take(changes, oil)
        except Unclear as error:
            from oilpath.reports.asking import unclear_sentence

            return opened, [Outcome(change, False, error) for change in changes], unclear_sentence(error)
        if opened.text == opened.held.text:
            return opened, outcomes, ""
        saved = visit.workshop.store.documents.save(name, opened.text, base=opened.number, author=visit.person.name)
        if not isinstance(saved, Conflict):
            opened.number = saved.version.number
            return opened, outcomes, ""
    raise Refused(503, "Too many people write on this sheet at the same moment. Send it once more.")


# --- with a script --------------------------------------------------------------------------


def _script(visit: Visit, name: str) -> Response:
    """Changes one by one, each with what the field held; the answer says what became of each, and how all is judged.

    `{"changes": [{"key": …, "typed": […], "was": […], "oil": "57"}]}`: oil is the oil's temperature as it was given
    when this was typed, which may be long before it is sent.
    """
    sent = _list(visit.sent.json, "changes")
    _check_count(sent)
    changes = [(_change(one), _oil(one)) for one in sent]
    readings = {
        change.key.removeprefix("reading:"): oil for change, oil in changes if change.key.startswith("reading:")
    }
    by_oil: dict[str, list[Change]] = {}
    for change, oil in changes:
        kind, _, rest = change.key.partition(":")
        with_reading = readings.get(rest.partition(":")[0], oil) if kind in ("more", "note") else oil
        by_oil.setdefault(with_reading, []).append(change)
    opened, outcomes, said = _all_saved(visit, name, by_oil)
    judged = judged_readings(opened.results(), opened.words)
    made, of = _progress(opened)
    return JSONResponse(
        {
            "number": opened.number,
            "said": said,
            "fields": opened.fields.all(),
            "changes": [_became(one) for one in outcomes],
            "judged": {
                key: {"texts": one.texts, "tone": one.tone, "doubts": one.doubts} for key, one in judged.items()
            },
            "made": made,
            "of": of,
        }
    )


def _became(one: Outcome) -> dict[str, Any]:
    """What became of a change; with what was perhaps meant where that can be told."""
    told = {
        "key": one.change.key, "kept": one.kept, "other": one.other, "early": one.early, "says": outcome_text(one),
    }  # fmt: skip
    meant = likely(one)
    return {**told, "likely": meant} if meant else told


def _all_saved(visit: Visit, name: str, by_oil: Mapping[str, Sequence[Change]]) -> tuple[Open, Sequence[Outcome], str]:
    """The changes of each oil temperature, in the order in which they were typed; the sheet as it is then."""
    opened = None if by_oil else Open(visit, name)
    outcomes: list[Outcome] = []
    said = ""
    for oil, changes in by_oil.items():
        opened, found, wrong = save(visit, name, changes, oil)
        outcomes += found
        said = said or wrong
    assert opened is not None
    return opened, outcomes, said


def _oil(one: Any) -> str:
    found = one.get("oil", "") if isinstance(one, dict) else ""
    return found.strip()[:100] if isinstance(found, str) else ""


def _progress(opened: Open) -> tuple[int, int]:
    from oilpath.reports.entry_page import counts

    return counts(opened.fields, opened.plan)


def _list(data: Any, key: str) -> list[Any]:
    found = data.get(key) if isinstance(data, dict) else None
    if not isinstance(found, list):
        raise Refused(422, f"A list is expected under “{key}”.")
    return found


def _change(one: Any) -> Change:
    def texts(value: Any) -> tuple[str, ...]:
        if not isinstance(value, list) or not all(isinstance(text, str) for text in value):
            raise Refused(422, "A list of texts is expected.")
        return tuple(" ".join(text.split()) for text in value if text.strip())

    if not isinstance(one, dict) or not isinstance(one.get("key"), str):
        raise Refused(422, "A change names its field under “key”.")
    was = one.get("was")
    return Change(one["key"], texts(one.get("typed")), None if was is None else texts(was))


# --- signs and codes ------------------------------------------------------------------------


def found(visit: Visit) -> Response:
    """A sign or a code onto the sheet, or one of its readings off it."""
    name = visit.path["name"]
    for _ in range(_TRIES):
        opened = Open(visit, name)
        try:
            _found(visit, opened)
        except Unclear as error:
            from oilpath.reports.asking import unclear_sentence

            raise Refused(422, unclear_sentence(error)) from None
        except UnusableInput as error:
            raise Refused(422, problem_text(error)) from None
        saved = visit.workshop.store.documents.save(name, opened.text, base=opened.number, author=visit.person.name)
        if not isinstance(saved, Conflict):
            return visit.to(address("sheet", name, "entry") + "#found")
    raise Refused(503, "Too many people write on this sheet at the same moment. Send it once more.")


def _found(visit: Visit, opened: Open) -> None:
    entry = opened.fields.entry
    sign, code, off = visit.sent.one("sign"), visit.sent.one("code").strip(), visit.sent.one("remove")
    if off:
        readings = entry.document.as_read.get(_READINGS) or []
        number = visit.number("remove", 0)
        at = next((n for n, one in enumerate(entry.sheet.readings) if one.id == visit.sent.one("id")), None)
        if at is None or at >= len(readings) or number < 0:
            raise Refused(409, "This is no longer on the sheet.")
        entry.put_document(entry.document.remove((_READINGS, at)))
    elif sign:
        if sign not in visit.workshop.knowledge.signs:
            raise Refused(422, "There is no such sign.")
        kind, _, place = visit.sent.one("where").partition(" ")
        where = {kind: place} if place and kind in ("function", "part", "side") else {}
        seen = visit.sent.one("seen", "yes") == "yes"
        entry.record({"test": "sign", "sign": sign, **where, "seen": seen})
    elif code:
        number = next(n for n, step in enumerate(entry.steps) if step.kind == "code")
        entry.put(number, f"{code} stored" if visit.sent.one("active", "yes") == "no" else code)
