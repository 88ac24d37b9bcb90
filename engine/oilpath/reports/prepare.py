"""The plan for a day of testing as blocks of a page: cautions before each test, this machine's limits after it."""

from __future__ import annotations

from collections.abc import Iterator

from oilpath._version import __version__
from oilpath.reports import words as say
from oilpath.reports.blocks import DEFER, Block, Heading, Items, Para, Row, Step, Table, Title
from oilpath.reports.layers import lost_sentences
from oilpath.reports.limits import limit_of_test
from oilpath.reports.names import counted, listed, safe, sentence, spaced
from oilpath.reports.words import Words
from oilpath.session.day import DayPhase, DayPlan, DayTest
from oilpath.units import figure

_JUDGED_BY = {
    "limit": "",
    "baseline": "no limit in the machine file: judged by this machine's earlier sheets",
    "estimate": "no limit in the machine file: judged by an estimate, no substitute for the service information",
    "twin": "no limit in the machine file: compared with its counterpart only",
    "nothing": "",
}


def lay_out_day(plan: DayPlan, words: Words) -> Iterator[Block]:
    """The blocks of the plan, in the order they are needed."""
    yield Title(f"Plan for a day of testing: {safe(plan.machine)}")
    if not plan.always:  # these say it too
        yield Para(DEFER)
    yield Heading("Cautions")
    yield Items(tuple(words.caution(caution) for caution in plan.always), "caution")
    if lost := [sentence(safe(text)) for text in lost_sentences(plan.replaced)]:
        yield Heading("Warnings")
        yield Items(tuple(lost), "near")
    yield Heading("Overview")
    yield Table(("What", "For this day"), tuple(Row(cells) for cells in _overview(plan, words)))
    if plan.ground or plan.space is not None:
        yield Heading("Ground and room")
        yield Items((*_space(plan, words), *(sentence(safe(text)) for text in plan.ground)))
    if plan.tools:
        yield Heading("Tools")
        yield Items(tuple(sentence(safe(tool)) for tool in plan.tools))
    yield Heading("Order")
    yield Table(("What", "Minutes", "Oil"), tuple(_order(plan, words)), right=(1,))
    number = 1
    for phase in plan.phases:
        yield from _phase(phase, plan, words, number)
        number += len(phase.tests)
    if plan.impossible:
        yield Heading("Not possible here")
        lacks = ((words.test(name), listed([say.lack_text(one) for one in found])) for name, found in plan.impossible)
        yield Items(tuple(f"{test}: needs {what}" for test, what in lacks), "dim")
    if plan.left_out:
        yield Heading("Not in this plan")
        yield Items(tuple(_left_out(test, words) for test in plan.left_out))
    yield Para(f"oilpath {__version__}, knowledge {words.knowledge.version[:19]}", "dim")


def _overview(plan: DayPlan, words: Words) -> Iterator[tuple[str, str]]:
    made = [test for test in plan.tests if test.variant is None]
    yield "Time", f"about {say.minutes(plan.minutes)} for {counted(len(made), 'kind of test', 'kinds of test')}"
    if plan.oil_temperature is not None:
        yield (
            "Oil",
            f"{words.between(plan.oil_temperature, 'temperature')} suits all tests; each test gives its own range",
        )
    if plan.engine_speed is not None:
        yield "Engine", _engine(plan, words)
    elif any(test.demands.engine_speed for test in made):
        yield "Engine", "at its test speed, which the machine file does not state"
    for name, word in plan.words.items():
        yield sentence(spaced(name)), f"{word}, unless a test says otherwise"


def _order(plan: DayPlan, words: Words) -> Iterator[Row]:
    """The day on one page: each phase with its tests."""
    number = 0
    for phase in plan.phases:
        yield Row((safe(phase.title), figure(phase.minutes) if phase.minutes else "", ""), "lead")
        for test in phase.tests:
            number += 1
            window = test.demands.oil_temperature
            minutes = figure(test.minutes) if test.variant is None else f"({figure(test.minutes)})"
            yield Row(
                (f"{number} {words.test(test.test)}", minutes, words.between(window, "temperature") if window else ""),
                level=1,
            )


def _engine(plan: DayPlan, words: Words) -> str:
    assert plan.engine_speed is not None
    speed = f"{words.amount(plan.engine_speed, 'rotation', 4)} at the test setting"
    if plan.speed_window is None:
        return speed
    return f"{speed}, {words.between(plan.speed_window, 'rotation', 4)} is accepted without correction"


def _space(plan: DayPlan, words: Words) -> Iterator[str]:
    space = plan.space
    if space is None:
        return
    rest = "" if space.length is not None else " and the machine's length, which its file does not state"
    long = "" if space.length is None else f" (with the machine's length of {words.amount(space.length, 'distance')})"
    better = f"; {words.amount(space.better, 'distance')} is better" if space.better is not None else ""
    ahead = words.amount(space.ahead, "distance")
    yield (f"{words.test(space.test)}: {ahead}{rest} clear ahead of the machine and the same behind it{long}{better}")
    if space.instead is not None:
        yield f"If there is not enough room: {words.test(space.instead)} instead of {words.test(space.test)}"


def _phase(phase: DayPhase, plan: DayPlan, words: Words, number: int) -> Iterator[Block]:
    minutes = f" (about {say.minutes(phase.minutes)})" if phase.minutes else ""
    yield Heading(safe(phase.title) + minutes)
    if phase.cautions:
        yield Items(tuple(words.caution(caution) for caution in phase.cautions), "caution")
    if phase.how:
        yield Items(tuple(safe(text) for text in phase.how))
    for place, test in enumerate(phase.tests, number):
        yield _step(place, test, plan, words)


def _step(number: int, test: DayTest, plan: DayPlan, words: Words) -> Step:
    title = words.test(test.test)
    if test.variant is not None:
        known = words.knowledge.variants.get(test.variant)
        title += f", {safe(known.says) if known else spaced(test.variant)}; only if asked for"
    tools = ", ".join(safe(tool) for tool in test.tools)
    needs = f"about {say.minutes(test.minutes)}" + (f"; {tools}" if tools else "")
    cautions = tuple(words.caution(caution) for caution in test.cautions)
    limits = (limit_of_test(limit, words) for limit in test.limits)
    beside = [*own_conditions(test, plan, words), *limits, *judged_by(test)]
    how = " ".join(safe(text) for text in test.how)
    return Step(number, cautions, title, needs, how, tuple(sentence(text) for text in beside))


def judged_by(test: DayTest) -> tuple[str, ...]:
    """What a test without a limit is judged by; nothing if it has one."""
    said = _JUDGED_BY[test.judged_by]
    return (said,) if said else ()


def own_conditions(test: DayTest, plan: DayPlan, words: Words) -> Iterator[str]:
    """The conditions of a test that the overview does not state."""
    wanted, kind = test.demands, words.knowledge.tests[test.test]
    said: list[str] = []
    if wanted.oil_temperature is not None:
        said.append(f"oil {words.between(wanted.oil_temperature, 'temperature')}")
    if wanted.speed_window is not None and wanted.speed_window != plan.speed_window:
        said.append(f"engine {words.between(wanted.speed_window, 'rotation', 4)}")
    for name, accepted in wanted.words.items():
        word = " or ".join(accepted)
        if plan.words.get(name) != word:
            said.append(f"{spaced(name)} {word}")
    for name, least in wanted.least.items():
        said.append(f"{spaced(name)} at least {words.stretch(least, kind.keys[name].quantity)}")
    if said:
        own = " for this machine" if test.own_conditions else ""
        yield f"conditions{own}: {', '.join(said)}"


def _left_out(test: DayTest, words: Words) -> str:
    return f"{words.test(test.test)}: the machine file states no limit for it (about {say.minutes(test.minutes)})"
