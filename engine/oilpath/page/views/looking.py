"""Looking things up: the trend of a machine, and what is known without a sheet."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator
from typing import TYPE_CHECKING, Final
from urllib.parse import quote

from starlette.responses import Response

from oilpath.bench import bench_for
from oilpath.documents.load import load_machine
from oilpath.page.visit import Refused, Visit
from oilpath.problems import UnusableInput
from oilpath.reports.blocks import Chart, Heading
from oilpath.reports.html import piece_of
from oilpath.reports.words import Words
from oilpath.session.history import placed, trend

if TYPE_CHECKING:
    from oilpath.bench import Bench
    from oilpath.documents.machine import Machine
    from oilpath.explore.topics import Topic
    from oilpath.explore.views import View
    from oilpath.page.workshop import Workshop
    from oilpath.reports.html import Piece
    from oilpath.session.history import Trend

_ID: Final = re.compile(r"\(([a-z0-9][a-z0-9.-]*)(?=[;,)])")
_COLUMNS, _MOST, _CHARTS = 4, 60, "Charts"
_FIRST: Final = "trainer-22t"


def over_time(visit: Visit) -> tuple[Trend, Words, list[str]]:
    """The trend of a machine's sheets, and what is wrong with those left out. Raises Refused."""
    name, workshop, unit = visit.path["name"], visit.workshop, chosen_unit(visit)
    workshop.held(name, "machine")
    key = (name, unit, workshop.store.documents.state())
    found = workshop.trends.find(key)
    if found is None:
        made = found = _over_time(workshop, name, unit)
        workshop.trends.get(key, lambda: made)
    shown, machine, problems = found
    return shown, Words(workshop.knowledge, machine, visit.units), problems


def _over_time(workshop: Workshop, name: str, unit: str) -> tuple[Trend, Machine, list[str]]:
    sheets, problems = [], []
    rows = workshop.store.search.over_time(name, unit or None)[-_MOST:]
    for found in workshop.store.answers.sheets([row.name for row in rows], workshop.knowledge):
        if isinstance(found, UnusableInput):
            problems += [str(one) for one in found.problems[:1]]
        else:
            sheets.append(found)
    if not sheets:
        raise Refused(404, "This machine has no sheet that can be used yet.")
    ordered, axis, wrong = placed(sheets)
    problems += [str(one) for one in wrong]
    if not ordered:
        raise Refused(422, "A trend needs hours, or a date, on the sheets.")
    return trend(ordered, axis, workshop.knowledge), ordered[-1].machine, problems


def units_of(visit: Visit) -> dict[str, int]:
    """The units that a machine's file stands for, each with its sheets, the one with most sheets first."""
    counts: dict[str, int] = {}
    for row in visit.workshop.store.search.over_time(visit.path["name"]):
        if row.unit_number:
            counts[row.unit_number] = counts.get(row.unit_number, 0) + 1
    return dict(sorted(counts.items(), key=lambda one: (-one[1], one[0])))


def chosen_unit(visit: Visit) -> str:
    """The unit that is asked for, else the one with most sheets; empty where the sheets name none."""
    return visit.query("unit") or next(iter(units_of(visit)), "")


def trend_page(visit: Visit) -> Response:
    """The trend in words and tables, with its picture."""
    from oilpath.reports.trend import lay_out_trend

    found, words, problems = over_time(visit)
    blocks = [
        one
        for one in lay_out_trend(found, words, columns=_COLUMNS)
        if not isinstance(one, Chart) and not (isinstance(one, Heading) and one.text == _CHARTS)
    ]
    return visit.show(
        "trend.html", name=visit.path["name"], pieces=[piece_of(one) for one in blocks], problems=problems,
        unit=chosen_unit(visit), units=units_of(visit),
    )  # fmt: skip


def trend_picture(visit: Visit) -> Response:
    """The picture of a trend."""
    from oilpath.reports.trend_svg import to_svg

    found, words, _ = over_time(visit)
    return Response(to_svg(found, words, slim=visit.query("slim") == "1"), media_type="image/svg+xml")


# --- what is known without a sheet ----------------------------------------------------------


def explore(visit: Visit) -> Response:
    """A topic by its id or title, two causes against each other, or everything that can be looked up."""
    from oilpath.explore.topics import NoTopic
    from oilpath.reports.explore import lay_out_view, listed_topics
    from oilpath.reports.explore_words import not_found

    topic, against = visit.query("topic").strip()[:200], visit.query("against").strip()[:200]
    machine, knowledge = visit.query("machine"), visit.workshop.knowledge
    lists = list(listed_topics(Words(knowledge, first_machine(visit, machine).machine, visit.units)))
    views: list[list[Piece]] = []
    says: str = ""
    if topic:
        try:
            views = [
                [piece_of(block) for block in lay_out_view(found, Words(knowledge, bench.machine, visit.units))]
                for bench, found in explored(visit, topic, against, machine)
            ]
        except NoTopic as error:
            says = not_found(error.text, error.nearest)
    return visit.show(
        "explore.html", 404 if says else 200, topic=topic, against=against if topic else "", lists=lists, views=views,
        machine=machine, says=says, linked=_linked({name for _, _, entries in lists for name in entries}, machine),
    )  # fmt: skip


def _linked(known: Collection[str], machine: str) -> Callable[[str], str]:
    """Puts a link to each topic whose id stands in brackets in a piece of a page."""
    more = f"&amp;machine={quote(machine, safe='')}" if machine else ""

    def link(found: re.Match[str]) -> str:
        name = found[1]
        return f'(<a href="?topic={name}{more}">{name}</a>' if name in known else found[0]

    return lambda shown: _ID.sub(link, str(shown))


def explored(visit: Visit, topic: str, against: str, machine: str) -> list[tuple[Bench, View]]:
    """What is known of the topics of this name, each on a machine that has it; with `against` what parts two causes.

    Raises Refused, NoTopic.
    """
    from oilpath.explore.topics import find
    from oilpath.explore.views import apart, fits, view

    knowledge, benches = visit.workshop.knowledge, list(_benches(visit, machine))
    topics = find(topic, knowledge)
    made: list[tuple[Bench, View]] = []
    if against:
        one, other = (_cause(found) for found in (topics, find(against, knowledge)))
        if one is None or other is None or one == other:
            raise Refused(422, "Two different causes can be compared.")
        bench = next((b for b in benches if fits(one, b) and fits(other, b)), None)
        made = [] if bench is None else [(bench, apart(one, other, bench))]
    else:
        for found in topics:
            bench = next((b for b in benches if fits(found, b)), None)
            if bench is not None:
                made.append((bench, view(found, bench)))
    if not made:
        raise Refused(404, "No machine here has this.")
    return made


def first_machine(visit: Visit, machine: str) -> Bench:
    """The machine that is named, else the first of those that ship."""
    return next(_benches(visit, machine))


def _cause(topics: tuple[Topic, ...]) -> Topic | None:
    return next((one for one in topics if one.kind == "cause"), None)


def _benches(visit: Visit, machine: str) -> Iterator[Bench]:
    """The machine that is named, else those that ship, on the first of which that has it a topic is shown."""
    from oilpath.data import data_folder

    knowledge = visit.workshop.knowledge
    if machine:
        yield bench_for(visit.workshop.machine(machine), knowledge)
        return
    paths = (data_folder("cases") / "machines").glob("*.yaml")
    for path in sorted(paths, key=lambda path: (path.stem != _FIRST, path.stem)):
        yield bench_for(load_machine(path, knowledge), knowledge)
