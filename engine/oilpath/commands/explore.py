"""`oilpath explore [TOPIC]`: what is known without a sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click

from oilpath.commands import completing, console, options, streams

if TYPE_CHECKING:
    from collections.abc import Iterator

    from oilpath.bench import Bench
    from oilpath.explore.topics import Topic
    from oilpath.explore.views import View
    from oilpath.knowledge.base import Knowledge
    from oilpath.reports.words import Units

_FIRST: Final = "trainer-22t"
"""the machine that ships on which a topic is shown, where it has what the topic is about"""


@options.command(
    "explore",
    examples=(
        "oilpath explore",
        'oilpath explore "boom falls"',
        "oilpath explore pump.worn --against suction.restricted",
    ),
)
@click.argument("topic", metavar="[TOPIC]", required=False, shell_complete=completing.topics)
@click.option(
    "--against", metavar="CAUSE", shell_complete=completing.causes, help="What tells the cause TOPIC from this one."
)
@click.option(
    "--machine",
    "machine_name",
    metavar="FILE",
    shell_complete=completing.machines,
    help="Show it on this machine; else on a demo machine.",
)
@options.format_of("text", "markdown", "json")
@options.units
def command(topic: str | None, against: str | None, machine_name: str | None, format_: str, units: Units) -> None:
    """Look up what can cause a symptom, what a cause does to every test, what tells two causes apart.

    TOPIC is a sign, symptom, test, reading, function, part, cause or check, by its id or its title, or CAUSE@PART.
    Without it, everything that can be looked up is listed.
    """
    if against is not None and topic is None:
        raise click.UsageError("--against needs a cause before it")
    knowledge = console.read_knowledge()
    if topic is None:
        _list(knowledge, machine_name, format_, units)
        return
    views = explored(topic, against, machine_name, knowledge)
    _write(shown(views, knowledge, format_, units), format_)


def explored(
    topic: str, against: str | None, machine_name: str | None, knowledge: Knowledge
) -> list[tuple[Bench, View]]:
    """What is known of each topic of this name, on a machine that has it. Raises click.UsageError, UnusableInput."""
    from oilpath.explore.views import apart, view

    topics = topics_named(topic, knowledge)
    if against is None:
        return [(bench, view(one, bench)) for one in topics for bench in [_bench((one,), machine_name, knowledge)]]
    one, other = (_cause(text, found) for text, found in ((topic, topics), (against, topics_named(against, knowledge))))
    if one == other:
        raise click.UsageError("--against names the same cause")
    bench = _bench((one, other), machine_name, knowledge)
    return [(bench, apart(one, other, bench))]


def topics_named(text: str, knowledge: Knowledge) -> tuple[Topic, ...]:
    """The topics of an id or a title. Raises click.UsageError with the nearest ones."""
    from oilpath.explore.topics import NoTopic, find
    from oilpath.reports.explore_words import not_found

    try:
        return find(text, knowledge)
    except NoTopic as error:
        raise click.UsageError(not_found(console.shown(error.text), error.nearest)) from None


def _cause(text: str, topics: tuple[Topic, ...]) -> Topic:
    found = next((one for one in topics if one.kind == "cause"), None)
    if found is None:
        raise click.UsageError(f"{console.shown(text)} is no cause; --against compares two causes")
    return found


def shown(views: list[tuple[Bench, View]], knowledge: Knowledge, format_: str, units: Units) -> str:
    """Views as `text`, `markdown` or `json`."""
    from oilpath.reports.words import Words

    if format_ == "json":
        from oilpath.reports.explore_json import views_data, written

        return written(views_data([(view, Words(knowledge, bench.machine)) for bench, view in views]))
    from oilpath.reports.explore import lay_out_view

    texts = [console.page(lay_out_view(view, Words(knowledge, bench.machine, units)), format_) for bench, view in views]
    return "\n".join(texts)


def _list(knowledge: Knowledge, machine_name: str | None, format_: str, units: Units) -> None:
    from oilpath.reports.words import Words

    machine = next(_machines(machine_name, knowledge)).machine
    words = Words(knowledge, machine, units)
    if format_ == "json":
        from oilpath.reports.explore_json import topics_data, written

        _write(written(topics_data(words)), format_)
        return
    from oilpath.reports.explore import lay_out_topics

    _write(console.page(lay_out_topics(words), format_), format_)


def _write(text: str, format_: str) -> None:
    """Through the pager what a person reads."""
    (streams.page if format_ == "text" else streams.write)(text)


def _bench(topics: tuple[Topic, ...], machine_name: str | None, knowledge: Knowledge) -> Bench:
    """The machine as named, else the first that ships and has what the topics are about. Raises click.UsageError."""
    from oilpath.explore.views import fits

    name = ""
    for bench in _machines(machine_name, knowledge):
        name = name or bench.machine.name
        if all(fits(one, bench) for one in topics):
            return bench
    ids = " and ".join(one.reading or (f"{one.id}@{one.part}" if one.part else one.id) for one in topics)
    where = console.shown(name) if machine_name is not None else "no demo machine"
    raise click.UsageError(f"{ids}: {where} has {'no such thing' if machine_name is not None else 'it'}")


def _machines(machine_name: str | None, knowledge: Knowledge) -> Iterator[Bench]:
    from oilpath.bench import bench_for
    from oilpath.data import data_folder

    if machine_name is not None:
        yield bench_for(console.read_machine(machine_name, knowledge), knowledge)
        return
    paths = sorted(
        (data_folder("cases") / "machines").glob("*.yaml"), key=lambda path: (path.stem != _FIRST, path.stem)
    )
    for path in paths:
        yield bench_for(console.read_machine(str(path), knowledge), knowledge)
