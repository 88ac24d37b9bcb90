"""`oilpath practice`: a simulated machine with a hidden fault to find."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from shlex import quote
from typing import IO, TYPE_CHECKING, Any, Final

import click

from oilpath.commands import completing, console, options, streams

if TYPE_CHECKING:
    from oilpath.documents.machine import Machine
    from oilpath.knowledge.base import Knowledge
    from oilpath.practice.exercise import Exercise
    from oilpath.practice.records import Setup
    from oilpath.reports.blocks import Block
    from oilpath.reports.words import Units, Words

_LONGEST: Final = 4096
_SEEDS: Final = 1_000_000
_MACHINES: Final = ("trainer-22t", "quarry-36t", "yard-12t", "compact-3t", "loader-11t")
"""shipped machines, one of which is taken by the seed"""
_KIND: Final = "practice/1"
_NOT_KEPT: Final = "\nNot finished. With --log FILE a session is kept and goes on.\n"


@options.command(
    "practice",
    examples=(
        "oilpath practice",
        "oilpath practice --level 2 --seed 7 --log mine.log",
        "oilpath practice --drill lookalikes",
    ),
)
@click.option("--seed", type=options.whole_number(0, _SEEDS), metavar="NUMBER", help="Take this machine again.")
@click.option("--level", type=options.whole_number(1, 5), metavar="1-5", help="How hard it is; 1 if left out.")
@click.option(
    "--machine",
    "machine_name",
    metavar="FILE",
    shell_complete=completing.machines,
    help="Practise on this machine file.",
)
@click.option("--log", metavar="FILE", type=click.Path(path_type=Path), help="Keep what is typed; go on from it.")
@click.option("--replay", metavar="FILE", shell_complete=completing.files, help="Show the session of a log again.")
@click.option(
    "--drill",
    type=click.Choice(["lookalikes", "bad-measurements", "closed-jobs"]),
    help="Short questions instead: lookalikes, badly made readings, closed jobs (your own with --kb).",
)
@options.units
def command(
    seed: int | None,
    level: int | None,
    machine_name: str | None,
    log: Path | None,
    replay: str | None,
    drill: str | None,
    units: Units,
) -> None:
    """Find the fault of a simulated machine: say what you expect of each test, pay for it in minutes, name the cause.

    At the end your steps are shown next to those that oilpath would have made, with both bills. The same seed, level
    and machine hide the same fault. With --log a session that was stopped goes on where it was.
    """
    knowledge = console.read_knowledge()
    if drill is not None:
        if log is not None or replay is not None:
            raise click.UsageError("--log and --replay are for a whole machine, not for a drill")
        _drill(drill, _setup(seed, level or 2, machine_name, knowledge), knowledge, units)
        return
    if replay is not None:
        setup, lines = _logged(replay)
        _run(setup, lines, knowledge, units, None, replayed=True)
        return
    if log is not None and log.exists():
        setup, lines = _logged(str(log))
        if (seed, level, machine_name) != (None, None, None):
            raise click.UsageError(f"--log {console.shown(str(log))} is there already and has its own seed and machine")
        with log.open("a", encoding="utf-8") as file:
            _run(setup, lines, knowledge, units, file)
        return
    setup = _setup(seed, level or 1, machine_name, knowledge)
    if log is None:
        _run(setup, [], knowledge, units, None)
        return
    with log.open("x", encoding="utf-8") as file:
        _put(file, {"oilpath": _KIND, "seed": setup.seed, "level": setup.level, "machine": setup.machine,
                    "knowledge": knowledge.version})  # fmt: skip
        _run(setup, [], knowledge, units, file)


def _setup(seed: int | None, level: int, machine_name: str | None, knowledge: Knowledge) -> Setup:
    from oilpath.data import data_folder
    from oilpath.practice.records import Setup

    if seed is None:
        from secrets import randbelow

        seed = randbelow(10_000)
    if machine_name is None:
        machine_name = str(data_folder("cases") / "machines" / f"{_MACHINES[seed % len(_MACHINES)]}.yaml")
    text = console.standard_input() if machine_name == console.STANDARD_INPUT else None
    if text is not None:
        raise click.UsageError("--machine needs the name of a file: answers come from standard input")
    machine = console.read_machine(machine_name, knowledge)
    return Setup(seed, level, _plain(machine_name, machine))


def _plain(name: str, machine: Machine) -> dict[str, Any]:
    """The machine file as plain data that stands by itself."""
    from oilpath.documents.edit import open_document

    data = dict(open_document(name).data)
    data.pop("baseline", None)
    return data | {"circuit": machine.circuit.id}


def _logged(name: str) -> tuple[Setup, list[str]]:
    """The setup and the lines of a log. Raises UnusableInput."""
    from oilpath.practice.records import LEVELS, Setup
    from oilpath.problems import Problem, UnusableInput

    wanted = "a log that oilpath practice --log has written"
    try:
        text = Path(name).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = (getattr(error, "strerror", None) or "is no text").lower()
        raise UnusableInput([Problem(name, 1, "-", f"cannot be read: {reason}", wanted)]) from None
    setup, lines = None, []
    for number, line in enumerate(text.splitlines(), 1):
        try:
            entry = json.loads(line)
        except ValueError:
            if number == len(text.splitlines()) and not text.endswith("\n"):
                break  # the line that was being written when the session was cut off
            raise UnusableInput([Problem(name, number, "-", "is no line of JSON", wanted)]) from None
        if number == 1:
            fits = isinstance(entry, dict) and entry.get("oilpath") == _KIND and isinstance(entry.get("machine"), dict)
            if not fits or not isinstance(entry.get("seed"), int) or entry.get("level") not in LEVELS:
                raise UnusableInput([Problem(name, 1, "oilpath", "is no log of a practice session", wanted)])
            setup = Setup(entry["seed"], entry["level"], entry["machine"])
        elif isinstance(entry, dict) and isinstance(entry.get("typed"), str):
            lines.append(entry["typed"])
    if setup is None:
        raise UnusableInput([Problem(name, 1, "-", "is empty", wanted)])
    return setup, lines


def _put(file: IO[str], entry: dict[str, Any]) -> None:
    """One line of the log, on the disk before anything is answered."""
    import os

    file.write(json.dumps(entry, ensure_ascii=False) + "\n")
    file.flush()
    os.fsync(file.fileno())


# --- the session --------------------------------------------------------------------------


def begun(setup: Setup, knowledge: Knowledge, units: Units) -> tuple[Exercise, Words, str]:
    """A session from its setup, its words, and the machine's name. Raises UnusableInput, click.UsageError."""
    from oilpath.documents.load import load_machine
    from oilpath.practice.exercise import Exercise
    from oilpath.practice.hidden import Hidden, NoMachine
    from oilpath.practice.records import SOUND
    from oilpath.reports.practice import complaint
    from oilpath.reports.words import Words

    machine = load_machine("practice.yaml", knowledge, text=json.dumps(setup.machine, ensure_ascii=False))
    words = Words(knowledge, machine, units)
    try:
        hidden = Hidden(setup, machine, knowledge)
    except NoMachine as error:
        if error.accepted:
            raise click.UsageError(
                f"there is no simulator for the circuit {error.circuit}; there is one for {', '.join(error.accepted)}"
            ) from None
        raise click.UsageError("no fault shows on this machine with its limits; try another seed") from None
    said = complaint(hidden.felt, hidden.truths == (SOUND,), setup.seed, words)
    return Exercise(setup, hidden, said), words, machine.name


def _run(
    setup: Setup, lines: list[str], knowledge: Knowledge, units: Units, log: IO[str] | None, *, replayed: bool = False
) -> None:
    from oilpath.reports.practice import opening, prompt, told

    exercise, words, name = begun(setup, knowledge, units)
    _show(opening(exercise, words, name))
    waiting, piped = list(lines), sys.stdin is None or not sys.stdin.isatty()
    while not exercise.over:
        streams.write(f"\n{prompt(exercise, words)}")
        again = f"\nTo go on: oilpath practice --log {quote(log.name)}\n" if log is not None else _NOT_KEPT
        try:
            line = waiting.pop(0) if waiting else None if replayed else _line()
        except KeyboardInterrupt:
            streams.write(again)
            raise
        if line is None or (log is not None and line.strip().lower() == "q"):
            streams.write(again)
            return
        if replayed or piped or waiting:
            streams.write(f"{line}\n")
        if log is not None and len(exercise.lines) >= len(lines):
            _put(log, {"asked": exercise.ask.stage, "typed": line, "minutes": round(exercise.state.minutes, 2)})
        for event in exercise.give(line):
            _show(told(event, exercise, words))
    _end(exercise, words, log if len(exercise.lines) > len(lines) else None)


def _end(exercise: Exercise, words: Words, log: IO[str] | None) -> None:
    """What was hidden, and both ways; the log ends with what was named."""
    from oilpath.practice.compare import review
    from oilpath.reports.practice_review import lay_out_review

    state, setup = exercise.state, exercise.setup
    if log is not None:
        named = [[*one.cause, one.action] for one in state.named]
        hidden = [list(truth) for truth in exercise.hidden.truths]
        _put(log, {"ended": state.stage, "hidden": hidden, "named": named, "minutes": round(state.minutes, 2)})
    streams.progress(1, "the tool's own way, for comparison", 2)
    try:
        found = review(exercise)
    finally:
        streams.progress(0, "", 2)
    _show(lay_out_review(found, exercise, words))
    streams.write(f"\nThe same again: oilpath practice --seed {setup.seed} --level {setup.level}\n")


# --- drills -------------------------------------------------------------------------------


def _drill(kind: Any, setup: Setup, knowledge: Knowledge, units: Units) -> None:
    """Questions one after the other, then how many were right."""
    from oilpath.practice.drills import Drill, bad_measurements, closed_jobs, lookalikes
    from oilpath.reports import drill as said

    exercise, words, _ = begun(setup, knowledge, units)
    bench = exercise.bench
    if kind == "lookalikes":
        items = lookalikes(bench, setup.seed)
    elif kind == "bad-measurements":
        items = bad_measurements(exercise.hidden, setup.seed)
    else:
        items = closed_jobs(_jobs(knowledge), knowledge, setup.seed)
    drill, piped = Drill(kind, items), sys.stdin is None or not sys.stdin.isatty()
    _show(said.drill_opening(drill, setup.seed))
    while drill.item is not None:
        _show(said.question(drill, bench, words))
        streams.write("> ")
        line = _line()
        if line is None:
            streams.write("\n")
            break
        if piped:
            streams.write(f"{line}\n")
        if (given := drill.give(line)) is not None:
            _show(said.answered(given, bench, words))
    _show(said.drill_end(drill))


def _jobs(knowledge: Knowledge) -> list[Any]:
    """The closed jobs of the user's own folders; without any the invented ones."""
    from oilpath.data import data_folder
    from oilpath.documents.closed import closed_files, load_closed

    own = [path for folder in console.layers() if (Path(folder) / "closed").is_dir() for path in closed_files(folder)]
    return [load_closed(path, knowledge) for path in own or closed_files(data_folder("cases"))]


def _show(blocks: Iterator[Block]) -> None:
    streams.write(console.page(blocks, "text"))


def _line() -> str | None:
    if sys.stdin is None:
        return None
    text = sys.stdin.buffer.readline(_LONGEST)
    return text.decode("utf-8", "replace").rstrip("\r\n") if text else None
