"""Practice: a simulated machine with something hidden, or short drills; a session is its setup and the lines given.

The lines are kept as a draft of whoever practises, so a session goes on where it was left, also after the server
was started anew.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from starlette.responses import Response

from oilpath.data import data_folder
from oilpath.documents.edit import Document
from oilpath.documents.load import load_machine
from oilpath.page.visit import Refused, Visit, address
from oilpath.practice.drills import KINDS, Drill, Item, bad_measurements, closed_jobs, lookalikes
from oilpath.practice.exercise import Exercise
from oilpath.practice.hidden import Hidden, NoMachine
from oilpath.practice.records import LEVELS, SOUND, Listed, Setup, SoFar
from oilpath.records import dataclass
from oilpath.reports import drill as drilled
from oilpath.reports import practice as said
from oilpath.reports.blocks import Block, Para, Row, Table, Title
from oilpath.reports.html import Piece, piece_of
from oilpath.reports.names import sentence
from oilpath.reports.words import Words

if TYPE_CHECKING:
    from oilpath.bench import Bench

_KIND: Final = "practice/1"
_KEY: Final = "practice-"
_SEEDS: Final = 1_000_000
_MOST: Final = 500  # lines of one session
_LONGEST: Final = 200
_SHIPPED: Final = ("trainer-22t", "quarry-36t", "yard-12t", "compact-3t", "loader-11t")
_GO_ON: Final = 5
_DRILLS: Final = {
    "lookalikes": "Two causes that look alike: which check tells them apart",
    "bad-measurements": "A reading: what is wrong with how it was made",
    "closed-jobs": "A job from the file: what it was",
}
assert set(_DRILLS) == set(KINDS)


@dataclass(frozen=True, slots=True)
class Kept:
    """A session as it is kept: its setup, which drill it is (empty: a whole machine), and the lines given."""

    setup: Setup
    drill: str
    lines: tuple[str, ...]

    def text(self) -> str:
        """As the draft holds it."""
        setup = self.setup
        return json.dumps(
            {
                "oilpath": _KIND, "seed": setup.seed, "level": setup.level, "machine": setup.machine,
                "drill": self.drill, "lines": self.lines,
            },
            ensure_ascii=False,
        )  # fmt: skip


def practice(visit: Visit) -> Response:
    """What can be practised; what is sent begins it."""
    if visit.request.method == "POST":
        return _begin(visit)
    sessions: list[tuple[str, str, Kept, str]] = []
    for draft in visit.workshop.store.drafts.of(visit.person.name):
        if draft.key.startswith(_KEY) and len(sessions) < _GO_ON:
            kept = _read(draft.content)
            sessions.append((draft.key, str(kept.setup.machine.get("name", "")), kept, draft.kept_at))
    return visit.show(
        "practice.html", levels=said.LEVEL_WORDS, drills=_DRILLS, sessions=sessions,
        machines=visit.workshop.store.search.machines()[:100],
    )  # fmt: skip


def _begin(visit: Visit) -> Response:
    level, seed = visit.number("level", 1, min(LEVELS), max(LEVELS)), visit.sent.one("seed").strip()
    number = visit.number("seed", 0, 0, _SEEDS) if seed else secrets.randbelow(10_000)
    drill = visit.sent.one("drill")
    if drill and drill not in _DRILLS:
        raise Refused(422, "There is no such drill.")
    machine = _machine(visit, visit.sent.one("machine"), number)
    kept = Kept(Setup(number, level, machine), drill, ())
    begun(visit, kept.setup)  # whether this machine has a simulator
    key = _KEY + secrets.token_urlsafe(12)
    visit.workshop.store.drafts.keep(key, kept.text(), author=visit.person.name, sequence=0)
    return visit.to(address("practice", key))


def _machine(visit: Visit, name: str, seed: int) -> Mapping[str, Any]:
    """A machine's file as plain data that stands by itself: one of the workshop's, else one that ships."""
    knowledge = visit.workshop.knowledge
    if name:
        text = visit.workshop.held(name, "machine").text
        machine = visit.workshop.machine_of(name, text)
    else:
        path = data_folder("cases") / "machines" / f"{_SHIPPED[seed % len(_SHIPPED)]}.yaml"
        text, machine = path.read_text(encoding="utf-8"), load_machine(path, knowledge)
    data = {key: value for key, value in Document(name, text).data.items() if key != "baseline"}
    return {**data, "circuit": machine.circuit.id}


def begun(visit: Visit, setup: Setup) -> tuple[Exercise, Words, str]:
    """A session from its setup, its words, and the machine's name. Raises UnusableInput, Refused."""
    workshop = visit.workshop
    text = json.dumps(setup.machine, ensure_ascii=False)
    key = (setup.seed, setup.level, text)
    hidden = workshop.hidden.get(key, lambda: _hidden(visit, setup, text))
    machine = hidden.bench.machine
    words = Words(workshop.knowledge, machine, visit.units)
    complaint = said.complaint(hidden.felt, hidden.truths == (SOUND,), setup.seed, words)
    return Exercise(setup, hidden, complaint), words, machine.name


def _hidden(visit: Visit, setup: Setup, text: str) -> Hidden:
    knowledge = visit.workshop.knowledge
    try:
        return Hidden(setup, load_machine("practice.yaml", knowledge, text=text), knowledge)
    except NoMachine:
        raise Refused(422, "This machine cannot be simulated with its circuit and limits. Take another.") from None


# --- a session --------------------------------------------------------------------------


def session(visit: Visit) -> Response:
    """A session where it stands; a line that is sent moves it on."""
    key = visit.path["key"]
    drafts = visit.workshop.store.drafts
    draft = drafts.get(key) if key.startswith(_KEY) else None
    if draft is None or draft.author != visit.person.name:
        raise Refused(404, "There is no such practice here.")
    kept = _read(draft.content)
    if visit.request.method == "GET":
        return _drill_page(visit, key, kept) if kept.drill else _machine_page(visit, key, kept)
    if visit.sent.one("drop"):
        drafts.drop(key, author=visit.person.name)
        return visit.to(address("practice"))
    line = visit.sent.one("line")[:_LONGEST]
    if visit.number("at", 0) == len(kept.lines) and len(kept.lines) < _MOST:  # else it was sent twice
        more = Kept(kept.setup, kept.drill, (*kept.lines, line))
        drafts.keep(key, more.text(), author=visit.person.name, sequence=len(more.lines))
    return visit.to(address("practice", key) + "#now")


def _read(content: str) -> Kept:
    data = json.loads(content)
    return Kept(Setup(data["seed"], data["level"], data["machine"]), data["drill"], tuple(data["lines"]))


def _pieces(blocks: Iterator[Block]) -> list[Piece]:
    return [piece_of(one) for one in blocks]


def _machine_page(visit: Visit, key: str, kept: Kept) -> Response:
    exercise, words, name = begun(visit, kept.setup)
    events: Sequence[Any] = ()
    for line in kept.lines:
        events = exercise.give(line)
    shown: list[Piece] = []
    choices: list[tuple[str, str]] = []
    for event in events:
        blocks = tuple(said.told(event, exercise, words))
        if isinstance(event, Listed):  # a button for each row
            rows = next((one.rows for one in blocks if isinstance(one, Table)), ())
            choices = [(one.cells[0], " · ".join(_beside(one, event.kind))) for one in rows]
            blocks = tuple(one for one in blocks if not isinstance(one, Table))
        shown += [piece_of(one) for one in blocks]
    stage, state = exercise.ask.stage, exercise.state
    return visit.show(
        "practice_machine.html", key=key, at=len(kept.lines), setup=kept.setup, stage=stage, shown=shown,
        opening=[piece_of(one) for one in _without_typing(said.opening(exercise, words, name))],
        choices=choices, hints=kept.setup.rules.hints, minutes=round(state.minutes),
        suspected="" if state.suspected is None else said.cause_name(state.suspected, exercise),
        names=_names(exercise), outcomes=_outcomes(exercise), actions=exercise.ask.choices if stage == "repair" else (),
        far=_pieces(said.told(SoFar(), exercise, words)) if state.taken else [],
        end=_end(exercise, words) if stage == "done" else [],
    )  # fmt: skip


def _beside(row: Row, kind: str) -> Iterator[str]:
    """What stands on the button of a row: its title, and what it costs or how many readings it has."""
    yield row.cells[1]
    if kind == "steps":
        yield f"{row.cells[2]} min"
    elif kind == "tests":
        yield f"{row.cells[2]} reading{'' if row.cells[2] == '1' else 's'}"


def _without_typing(blocks: Iterator[Block]) -> Iterator[Block]:
    """Without what says which keys to type: here are buttons."""
    return (one for one in blocks if not isinstance(one, Para) or one.label or one.tone != "plain")


def _names(exercise: Exercise) -> list[str]:
    """What can be typed now, by its title."""
    if exercise.ask.stage == "step":
        return sorted(sentence(one.name) for one in exercise.options.values())
    if exercise.ask.stage in ("suspect", "name", "more"):
        return sorted(sentence(one.name) for one in exercise.suspects.values())
    return []


def _outcomes(exercise: Exercise) -> list[tuple[str, str]]:
    """The outcomes of the check that is to be made, with what they mean; none for a reading."""
    if exercise.ask.stage != "expect":
        return []
    option = exercise.options[exercise.state.step]
    check = next((one for one in exercise.bench.knowledge.checks if one.check == option.check), None)
    return [] if check is None else [(one.outcome, sentence(one.says)) for one in check.outcomes]


def _end(exercise: Exercise, words: Words) -> list[Piece]:
    from oilpath.practice.compare import review
    from oilpath.reports.practice_review import lay_out_review

    return _pieces(lay_out_review(review(exercise), exercise, words))


# --- drills -------------------------------------------------------------------------------


def _drill_page(visit: Visit, key: str, kept: Kept) -> Response:
    exercise, words, _ = begun(visit, kept.setup)
    bench = exercise.bench
    which = (kept.drill, kept.setup.seed, kept.setup.level, json.dumps(kept.setup.machine, ensure_ascii=False))
    items = visit.workshop.hidden.get(which, lambda: _items(visit, kept, exercise, bench))
    drill = Drill(kept.drill, items)  # type: ignore[arg-type]
    given = None
    for line in kept.lines:
        given = drill.give(line)
    title = next(one for one in drilled.drill_opening(drill, kept.setup.seed) if isinstance(one, Title))
    return visit.show(
        "practice_drill.html", key=key, at=len(kept.lines), title=piece_of(title), setup=kept.setup,
        caution=said.SIMULATED, shown=[] if given is None else _pieces(drilled.answered(given, bench, words)),
        question=_pieces(drilled.question_asked(drill, bench, words)), choices=drilled.choices(drill, bench, words),
        end=[] if drill.item is not None else _pieces(drilled.drill_end(drill)),
    )  # fmt: skip


def _items(visit: Visit, kept: Kept, exercise: Exercise, bench: Bench) -> tuple[Item, ...]:
    if kept.drill == "lookalikes":
        return lookalikes(bench, kept.setup.seed)
    if kept.drill == "bad-measurements":
        return bad_measurements(exercise.hidden, kept.setup.seed)
    from oilpath.documents.closed import closed_files, load_closed

    knowledge = visit.workshop.knowledge
    folders = [one.folder for one in knowledge.layers if (Path(one.folder) / "closed").is_dir()]
    own = [path for folder in folders for path in closed_files(folder)]
    jobs = [load_closed(path, knowledge) for path in own or closed_files(data_folder("cases"))]
    return closed_jobs(jobs, knowledge, kept.setup.seed)
