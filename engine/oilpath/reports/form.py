"""A test sheet to print and fill in by hand: one page of HTML for A4 or Letter, which an extra turns into PDF."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from oilpath._version import __version__
from oilpath.documents.machine import Machine
from oilpath.reports import words as say
from oilpath.reports.blocks import DEFER
from oilpath.reports.how import how_drawing, how_of_test
from oilpath.reports.limits import limit_beside
from oilpath.reports.names import counted, safe, sentence, spaced
from oilpath.reports.prepare import judged_by, own_conditions
from oilpath.reports.words import Words
from oilpath.session.day import DayPlan, DayTest
from oilpath.session.slots import REPEATS, Slot, slots_of
from oilpath.units import QUANTITIES

Paper = Literal["a4", "letter"]
SIZES: Final = {"a4": ("A4", "210mm"), "letter": ("letter", "8.5in")}
_CODES: Final = 3
_STOP: Final = "stop, do not use the machine"
_CONDITIONS: Final = {
    "attachment": ("empty", "loaded", "other"),
    "auto-idle": ("off", "on"),
    "working-setting": ("full", "reduced"),
}


@dataclass(frozen=True, slots=True)
class Field:
    """Room for something in the head; `words` are to be ticked."""

    name: str
    wide: bool = False
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FormRow:
    """Room for one reading."""

    what: str
    limit: str


@dataclass(frozen=True, slots=True)
class FormSign:
    """A sign to tick."""

    title: str
    stop: bool


@dataclass(frozen=True, slots=True)
class FormTest:
    """One test: what comes before it, and its table. The first two columns are filled in, the others are to be."""

    title: str
    needs: str
    cautions: tuple[str, ...]
    how: str
    beside: tuple[str, ...]
    columns: tuple[str, ...] = ()
    rows: tuple[FormRow, ...] = ()
    signs: tuple[FormSign, ...] = ()
    limits: bool = False
    """whether the second column holds limits"""
    legend: str = ""
    picture: str = ""
    """how it is done, as SVG"""


@dataclass(frozen=True, slots=True)
class FormPhase:
    """A stretch of the day."""

    title: str
    cautions: tuple[str, ...]
    how: tuple[str, ...]
    tests: tuple[FormTest, ...]


@dataclass(frozen=True, slots=True)
class Form:
    """The whole form, all texts plain."""

    title: str
    size: str
    width: str
    head: tuple[Field, ...]
    cautions: tuple[str, ...]
    phases: tuple[FormPhase, ...]
    sign_off: tuple[str, ...]
    versions: str
    stop: str = _STOP


def form_of(plan: DayPlan, machine: Machine, words: Words, paper: Paper = "a4") -> Form:
    """The form of a day of testing."""
    size, width = SIZES[paper]
    return Form(
        title=f"Test sheet: {safe(machine.name)}", size=size, width=width,
        head=tuple(_head(plan, words)), cautions=tuple(words.caution(caution) for caution in plan.always) or (DEFER,),
        phases=tuple(_phases(plan, machine, words)),
        sign_off=("Tested by, date, signature", "Seen by, date, signature"),
        versions=f"oilpath {__version__}, knowledge {words.knowledge.version[:19]}",
    )  # fmt: skip


def to_html(form: Form) -> str:
    """The form as one HTML file that asks nothing of any address; everything put in is escaped."""
    from importlib.resources import files

    from jinja2 import Environment, StrictUndefined

    text = files("oilpath.reports").joinpath("templates/sheet-form.html").read_text(encoding="utf-8")
    environment = Environment(autoescape=True, undefined=StrictUndefined, keep_trailing_newline=True)
    return environment.from_string(text).render(form=form)


def to_pdf(html: str) -> bytes:
    """HTML as PDF. Raises ImportError where the extra `pdf` is not installed, OSError where its C libraries are not."""
    import weasyprint

    def refused(url: str, *_rest: object, **_more: object) -> dict[str, object]:
        raise ValueError(f"nothing is fetched: {url}")

    made: bytes = weasyprint.HTML(string=html, url_fetcher=refused).write_pdf()
    return made


# --- the head ---------------------------------------------------------------------------


def _head(plan: DayPlan, words: Words) -> Iterator[Field]:
    for name in ("Unit number", "Serial number", "Order number", "Hours", "Date", "Technician"):
        yield Field(name)
    yield Field("Complaint, in the operator's own words", wide=True)
    yield Field("What was done before, how it came", wide=True)
    degrees = say.named(words.shown("°C"))
    suits = f" ({words.between(plan.oil_temperature, 'temperature')})" if plan.oil_temperature is not None else ""
    yield Field(f"Oil, {degrees}{suits}")
    if plan.engine_speed is not None:
        yield Field(f"Engine, rpm ({words.amount(plan.engine_speed, 'rotation', 4)})")
    yield Field(f"Air, {degrees}")
    asked = {name for test in plan.tests for name in test.demands.words}
    for name, choices in _CONDITIONS.items():
        if name in asked:
            yield Field(sentence(spaced(name)), words=choices)


# --- tests ------------------------------------------------------------------------------


def _phases(plan: DayPlan, machine: Machine, words: Words) -> Iterator[FormPhase]:
    for phase in plan.phases:
        tests = tuple(_test(test, plan, machine, words) for test in phase.tests if test.variant is None)
        if phase.tests and not tests:  # only variants, which a complaint asks for
            continue
        minutes = f" (about {say.minutes(phase.minutes)})" if phase.minutes else ""
        cautions = tuple(words.caution(caution) for caution in phase.cautions)
        yield FormPhase(safe(phase.title) + minutes, cautions, tuple(safe(text) for text in phase.how), tests)


def _test(test: DayTest, plan: DayPlan, machine: Machine, words: Words) -> FormTest:
    kind = words.knowledge.tests[test.test]
    tools = ", ".join(safe(tool) for tool in test.tools)
    how = how_of_test(test, machine, words)
    columns: tuple[str, ...] = ()
    rows: tuple[FormRow, ...] = ()
    signs: tuple[FormSign, ...] = ()
    room = slots_of(test, machine, words.knowledge)
    if room:
        columns, rows = tuple(_columns(room, words)), tuple(_row(slot, words) for slot in room)
    elif "sign" in kind.id:
        signs = tuple(FormSign(safe(sign.title), bool(sign.stop_use)) for sign in words.knowledge.signs.values())
    elif "check" not in kind.id:
        columns = ("Code", "SPN and FMI, or as shown", "Active", "Stored", "Note")
        rows = tuple(FormRow(str(number), "") for number in range(1, _CODES + 1))
    return FormTest(
        title=words.test(test.test), needs=f"About {say.minutes(test.minutes)}" + (f"; {tools}" if tools else ""),
        cautions=tuple(words.caution(caution) for caution in test.cautions),
        how=" ".join(safe(text) for text in test.how),
        beside=tuple(f"{sentence(text)}." for text in (*own_conditions(test, plan, words), *judged_by(test))),
        columns=columns, rows=rows, signs=signs, limits=bool(room),
        legend="First box: seen. Second box: looked for, not there. Write the place beside it." if signs else "",
        picture=how_drawing(how, f"how-{test.test}", people=False) if room and how is not None else "",
    )  # fmt: skip


def _columns(room: tuple[Slot, ...], words: Words) -> Iterator[str]:
    """What is read, its limit, three repeats, and what else is written down."""
    kind = words.knowledge.tests[room[0].test]
    yield "Reading"
    yield "Limit"
    unit = words.written_unit(room[0].test)
    yield from (f"{number}: {unit}" for number in range(1, REPEATS + 1))
    for name in (*room[0].asked, *room[0].offered):
        quantity = kind.keys[name].quantity
        if kind.keys[name].is_ == "veer":
            yield f"Off the line, {say.named(words.shown('m'))}, L or R"
        elif quantity is not None and quantity in QUANTITIES:
            yield f"{sentence(spaced(name))}, {say.named(words.shown(QUANTITIES[quantity].unit))}"
        else:
            yield sentence(spaced(name))
    if kind.timed:
        yield f"Oil, {say.named(words.shown('°C'))}"


def _row(slot: Slot, words: Words) -> FormRow:
    from oilpath.reports.check import slot_title

    title = slot_title(slot, words)
    head = f"{words.test(slot.test)}, "
    over = "".join(f", {_stretch(key, value)}" for key, value in slot.figures.items())
    return FormRow(sentence(title.removeprefix(head)) + over, limit_beside(slot, words))


def _stretch(key: str, value: str | float) -> str:
    return f"{spaced(key)} {value}" if isinstance(value, str) else counted(int(value), key.removesuffix("s"), key)
