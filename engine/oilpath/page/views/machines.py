"""Machines and sheets: search, a machine with its limits and history, a new sheet, a new machine."""

from __future__ import annotations

from starlette.responses import Response

from oilpath.documents.emit import emitted
from oilpath.page.visit import Refused, Visit, address
from oilpath.page.workshop import free_name, relative
from oilpath.reports.limits import limit_of_test
from oilpath.reports.names import sentence
from oilpath.reports.words import Words
from oilpath.session.day import prepare
from oilpath.store.answers import answered_by
from oilpath.store.documents import Conflict

_ROWS = 30


def home(visit: Visit) -> Response:
    """Machines and the latest sheets, those with all words of a search."""
    words, start = visit.query("q")[:200], visit.number("from", 0)
    search, by = visit.workshop.store.search, answered_by(visit.workshop.knowledge)
    return visit.show(
        "home.html",
        words=words,
        machines=search.machines(words),
        sheets=search.sheets(words, order="saved" if not words else "newest", start=start, most=_ROWS, answered_by=by),
        start=start,
        step=_ROWS,
    )


def machine(visit: Visit) -> Response:
    """One machine: its limits, its sheets, a new sheet."""
    name = visit.path["name"]
    store = visit.workshop.store
    found = visit.workshop.machine(name)
    words = Words(visit.workshop.knowledge, found, visit.units)
    limits: dict[str, list[str]] = {}
    for limit in found.limits:
        said = limit_of_test(limit, words).removeprefix("limit").removeprefix(", ").removeprefix(": ")
        limits.setdefault(words.test(limit.test), []).append(sentence(said))
    plan = prepare(found, visit.workshop.knowledge)
    tests = {one.test: words.test(one.test) for one in plan.tests if one.variant is None}
    return visit.show(
        "machine.html",
        name=name,
        machine=found,
        limits=limits,
        tests=tests,
        sheets=store.search.sheets(
            machine=name, order="newest", most=200, answered_by=answered_by(visit.workshop.knowledge)
        ),
        versions=store.documents.versions(name),
    )


def new_sheet(visit: Visit) -> Response:
    """Begin a sheet for a machine, and on to its entry."""
    machine_name = visit.path["name"]
    visit.workshop.held(machine_name, "machine")
    store = visit.workshop.store
    unit = visit.sent.one("unit-number").strip()[:60]
    name = free_name(store, "sheets", unit or machine_name.rpartition("/")[2].removesuffix(".yaml"))
    lines = ["oilpath: sheet/1", f"machine: {emitted(relative(name, machine_name))}"]
    for key in ("unit-number", "complaint"):
        value = visit.sent.one(key).strip()
        if value:
            lines.append(f"{key}: {emitted(value[:2000])}")
    text = "\n".join([*lines, "readings: []", ""])
    visit.workshop.sheet(name, text)
    if isinstance(store.documents.save(name, text, base=None, author=visit.person.name), Conflict):
        raise Refused(409, "Somebody else has begun a sheet of this name. Send it once more.")
    known = visit.workshop.knowledge.tests
    tests = "&".join(f"test={test}" for test in visit.sent.fields.get("test", ()) if test in known)
    return visit.to(address("sheet", name, "entry") + (f"?{tests}" if tests else ""))


def machine_text(visit: Visit) -> Response:
    """The file of a machine, to be read and changed."""
    return _text(visit, "machine")


def sheet_text(visit: Visit) -> Response:
    """The file of a sheet, to be read and changed."""
    return _text(visit, "sheet")


def _text(visit: Visit, kind: str) -> Response:
    name = visit.path["name"]
    held = visit.workshop.held(name, kind)
    if visit.request.method == "GET":
        return visit.show("text.html", name=name, kind=kind, text=held.text, number=held.version.number)
    return _save_text(visit, name, kind)


def _save_text(visit: Visit, name: str, kind: str) -> Response:
    """A whole text: checked, then saved unless somebody else has saved since; then both are shown."""
    text = visit.sent.one("text").replace("\r\n", "\n")
    number = visit.number("number", 0)
    load = visit.workshop.sheet if kind == "sheet" else visit.workshop.machine_of
    load(name, text)
    saved = visit.workshop.store.documents.save(name, text, base=number or None, author=visit.person.name)
    if isinstance(saved, Conflict):
        held = visit.workshop.held(name, kind)
        return visit.show(
            "text.html", 409, name=name, kind=kind, text=text, number=held.version.number, other=held.text,
            who=held.version.author,
        )  # fmt: skip
    return visit.to(address(kind, name))


def new_machine(visit: Visit) -> Response:
    """A machine from the text of its file, or a blank one for a circuit."""
    if visit.request.method == "GET":
        circuits = {name: circuit.title for name, circuit in visit.workshop.knowledge.circuits.items()}
        return visit.show("new_machine.html", circuits=circuits)
    upload = visit.sent.files.get("file")
    try:
        text = upload.content.decode("utf-8") if upload is not None else visit.sent.one("text").replace("\r\n", "\n")
    except UnicodeDecodeError:
        raise Refused(422, "The file is not text in UTF-8.") from None
    if not text.strip():
        title, circuit = visit.sent.one("title").strip()[:200], visit.sent.one("circuit")
        if not title or circuit not in visit.workshop.knowledge.circuits:
            raise Refused(422, "A machine needs a name and a circuit, or its whole file.")
        text = f"oilpath: machine/1\nname: {emitted(title)}\ncircuit: {circuit}\n"
    store = visit.workshop.store
    machine = visit.workshop.machine_of("machines/new.yaml", text)
    name = free_name(store, "machines", machine.name)
    store.documents.save(name, text, base=None, author=visit.person.name)
    return visit.to(address("machine", name))
