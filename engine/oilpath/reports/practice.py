"""A practice session in words: the machine and its customer, what is asked, and what each answer brings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from oilpath.flow import Measured
from oilpath.practice.exercise import Exercise
from oilpath.practice.records import (
    Ask,
    Chosen,
    Ended,
    Event,
    Expected,
    Felt,
    Help,
    Hint,
    Key,
    Listed,
    Read,
    Refused,
    SoFar,
    Stage,
    Suspected,
    Taken,
)
from oilpath.reports import words as say
from oilpath.reports.blocks import Block, Items, Para, Row, Step, Table, Title, Tone
from oilpath.reports.names import listed, safe, sentence, spaced
from oilpath.reports.words import Words

SIMULATED: Final = (
    "This machine is simulated, by way of practice: nothing here was measured on a real one. The cautions are those of"
    " the real test or check all the same."
)
LEVEL_WORDS: Final = {
    1: "one common fault; limits, verdicts and hints are shown",
    2: "one fault; limits and verdicts are shown",
    3: "one fault; you judge the readings, and now and then one is badly made",
    4: "one or two faults; you judge the readings, and some are badly made",
    5: "two faults, one, or none; no limits shown, and one reading in four is badly made",
}
_EVERYTHING: Final = ("Everything is slow.", "No speed in anything any more.", "The whole machine has become lazy.")
_NOTHING_FELT: Final = ("It does not work as it should.", "Something is wrong with it, I cannot say what.")
_SOUND: Final = ("Feels weaker than before.", "It uses more fuel, the driver says.", "Jerky at times.")
_FELT: Final[Mapping[tuple[str, bool], tuple[str, ...]]] = {
    ("cycle-time", True): ("{What} is slow.", "{What} takes for ever.", "{What} has become slow over the last weeks."),
    ("cycle-time", False): ("{What} is faster than it was.",),
    ("drift", True): ("The {what} sinks by itself.", "Left overnight, the {what} is down in the morning."),
    ("drift", False): ("The {what} behaves oddly when parked.",),
    ("swing-time", True): ("Swing to the {what} is slow.", "Swings slowly to the {what}."),
    ("swing-time", False): ("Swing to the {what} is wild.",),
    ("travel-time", True): ("Travels slowly in {what}.", "Travel has become slow, or it pulls to one side."),
    ("travel-time", False): ("Travels too fast in {what}.",),
    ("track-time", True): ("The {what} track is slow.", "It lags behind on the {what}."),
    ("track-time", False): ("The {what} track runs ahead.",),
    ("stall-pressure", True): ("{What} hits its stop very hard.",),
    ("stall-pressure", False): ("{What} has no force.", "{What} stalls on what it lifted before."),
    ("swing-stop", True): ("Swing runs on after the lever is let go.",),
    ("swing-stop", False): ("Swing stops with a jerk.",),
    ("creep", True): ("It creeps on a slope: {what}.",),
    ("creep", False): ("Something creeps on a slope.",),
}
_WHAT: Final = {"cycle-time": "function", "stall-pressure": "function", "drift": "cylinder", "swing-time": "direction",
                "travel-time": "direction", "track-time": "side", "creep": "of"}  # fmt: skip
_VALUES: Final = ("times", "moved", "pressure", "flow", "speed", "angle", "temperature")
_BESIDE: Final = {"hold": "hold", "turns": "turns", "distance": "over", "oil-start": "oil at first",
                  "oil-end": "oil at the end", "extension": "rod out", "start": "start"}  # fmt: skip
_SIDES: Final = {"usual": "in its limits", "below": "below its limits", "above": "above its limits"}
SIDE_WORDS: Final = {"usual": "in order", "below": "out, low or fast", "above": "out, high or slow", "unjudged": ""}
_TONES: Final[Mapping[str, Tone]] = {"fail": "out", "near": "near", "pass": "good"}


def complaint(felt: Felt, sound: bool, seed: int, words: Words) -> str:
    """The customer's words, the same for the same seed."""
    if felt.everything:
        said: Sequence[str] = _EVERYTHING
    elif not felt.test:
        said = _SOUND if sound else _NOTHING_FELT
    else:
        said = _FELT[felt.test, felt.more]
    word = felt.keys.get(_WHAT.get(felt.test, ""), "")
    what = words.place(word) if word else ""
    return said[seed % len(said)].format(what=what, What=sentence(what))


# --- the beginning ------------------------------------------------------------------------


def opening(exercise: Exercise, words: Words, name: str) -> Iterator[Block]:
    """The machine, its customer, the rules of the level, and the general cautions."""
    setup, hidden = exercise.setup, exercise.hidden
    yield Title(f"Practice: {safe(name)} · level {setup.level} · seed {setup.seed}")
    yield Para(SIMULATED, "caution")
    yield Items(tuple(words.caution(one) for one in words.knowledge.always), "caution")
    yield Para(
        "Say what you suspect, choose a test or check, say what you expect, then it is paid for in minutes and read."
        " Name the cause when you know it (n). ? says what can be typed."
    )
    yield Para(LEVEL_WORDS[setup.level], label="Level")
    yield Para(f"{hidden.hours} h", label="Hours")
    yield Para(_conditions(hidden.conditions), label="Today")
    for sign in hidden.signs:
        title = words.knowledge.signs[str(sign["sign"])].title if sign["sign"] in words.knowledge.signs else ""
        where = [words.place(str(sign[key])) for key in ("part", "function", "side") if key in sign]
        told = f"{safe(title) or spaced(str(sign['sign']))}{': ' if where else ''}{listed(where)}"
        yield Para(told, label="Seen" if sign.get("seen") else "Looked for, not there")
    yield Para(f"“{exercise.complaint}”", "lead", label="The customer says")


def _conditions(conditions: Mapping[str, Any]) -> str:
    return ", ".join(f"{spaced(key)} {value}" for key, value in conditions.items())


# --- what is asked ------------------------------------------------------------------------

_PROMPTS: Final[Mapping[Stage, str]] = {
    "suspect": "What do you suspect? (part and fault; - for nothing yet)",
    "step": "Which test or check? (words or a number; Enter lists the tests)",
    "trust": "Enter: I trust it. r: make it again.",
    "name": "Which cause is it? (part and fault, or: nothing wrong)",
    "repair": "What do you do about it?",
    "more": "Another cause beside it? (Enter: no)",
    "done": "",
    "left": "",
}
_KEYS: Final[Mapping[Stage, str]] = {
    "suspect": "Type words of a part and a fault, such as “worn pump 1”, or the number of a line above. Enter keeps"
    " what you suspect.",
    "step": "Type words of a test, a check or a part, such as “stall boom” or “case drain”, or the number of a line"
    " above. Enter lists the tests. b goes back.",
    "expect": "Of a reading: ok, low, high, slow, fast, or a figure with its unit. Of a check: the number or the word"
    " of an outcome. b chooses another step.",
    "trust": "Enter takes the reading as it is. r makes it again, and is paid for again.",
    "name": "Type words of a part and a fault, or the number of a line above. b goes back to testing.",
    "repair": "Type the number or the word of what you would do.",
    "more": "Enter ends it; or name a second cause.",
}


def prompt(exercise: Exercise, words: Words) -> str:
    """The question that is asked now; it ends where the answer is typed."""
    ask = exercise.ask
    head = f"[{say.minutes(round(exercise.state.minutes))}] " if ask.stage in ("suspect", "step") else ""
    if ask.stage == "suspect" and exercise.state.suspected is not None:
        kept = cause_name(exercise.state.suspected, exercise)
        return f"{head}Do you still suspect: {kept}? Enter: yes; or another; n: name it\n> "
    if ask.stage == "expect":
        return f"{_expectation(exercise, ask)}\n> "
    if ask.stage == "repair":
        choices = "  ".join(f"{n} {word}" for n, word in enumerate(ask.choices, 1))
        return f"{_PROMPTS[ask.stage]} {choices}\n> "
    return f"{head}{_PROMPTS[ask.stage]}\n> "


def _expectation(exercise: Exercise, ask: Ask) -> str:
    option = exercise.options[exercise.state.step]
    if not option.check:
        return "What do you expect to read? (ok, low, high, slow, fast, or a figure with its unit)"
    check = next(one for one in exercise.bench.knowledge.checks if one.check == option.check)
    lines = [f"  {n} {safe(one.outcome)}: {safe(one.says)}" for n, one in enumerate(check.outcomes, 1)]
    return "\n".join(["What do you expect to find?", *lines])


# --- what each answer brings --------------------------------------------------------------


def told(event: Event, exercise: Exercise, words: Words) -> Iterator[Block]:
    """What is shown for what happened."""
    match event:
        case Listed():
            yield from _listed(event, exercise, words)
        case Refused():
            yield Para(_refused(event), "near")
        case Suspected(key=key, named=named):
            yield Para("nothing yet" if key is None else cause_name(key, exercise),
                       label="Named" if named else "Suspected")  # fmt: skip
        case Chosen():
            yield from _chosen(event, exercise, words)
        case Read():
            yield from read(event.taken, exercise, words, event.minutes)
        case Hint(steps=steps):
            lines = tuple(step_name(step, exercise) for step in steps)
            yield Para("The tool would make next:" if lines else "The tool has no further step.")
            yield Items(lines)
        case SoFar():
            yield from _so_far(exercise, words)
        case Help(stage=stage):
            yield Para(_KEYS.get(stage, ""))
            hints = " h: hints." if exercise.setup.rules.hints else ""
            yield Para(f"n: name the cause. s: what was read so far.{hints} q: stop.")
        case Ended(left=True):
            yield Para("Stopped before a cause was named.")
        case Ended():
            return


def cause_name(key: Key, exercise: Exercise) -> str:
    """A cause at its part by its title."""
    known = exercise.suspects.get(" ".join(key))
    return sentence(safe(known.name)) if known is not None else f"{spaced(key[0])}, {spaced(key[1])}"


def step_name(step: str, exercise: Exercise) -> str:
    """A step by its title."""
    return sentence(safe(exercise.options[step].name)) if step in exercise.options else spaced(step)


def _listed(event: Listed, exercise: Exercise, words: Words) -> Iterator[Block]:
    rows = []
    for number, one in enumerate(event.ids, 1):
        beside = ""
        if event.kind == "causes":
            name = sentence(safe(exercise.suspects[one].name))
        elif event.kind == "tests":
            name = words.test(one)
            beside = str(sum(option.test == one for option in exercise.options.values()))
        else:
            name, beside = step_name(one, exercise), f"{exercise.cost(one):.0f}"
        rows.append(Row((str(number), name, beside)[: 2 if event.kind == "causes" else 3]))
    columns = {"causes": ("No.", "Cause"), "tests": ("No.", "Test", "Readings"), "steps": ("No.", "Step", "Minutes")}
    yield Table(columns[event.kind], tuple(rows), right=(0, 2)[: len(columns[event.kind]) - 1])
    if event.kind == "tests":
        yield Para("For checks type words of a part or of a check.", "dim")
    if event.kind == "causes":
        yield Para("Its number, or other words.", "dim")
    if event.more:
        yield Para(f"… and {event.more} more that fit: type another word.", "dim")


_REFUSED: Final = {
    "nothing-fits": "Nothing fits “{typed}”. Try fewer or other words; ? says what can be typed.",
    "say-something": "Say what you suspect, or - for nothing yet.",
    "made-already": "That check is made already; it would say the same again.",
    "not-expected": "“{typed}” is not clear. First say what you expect: ? says what is taken.",
    "no-repair": "“{typed}” is none of them: type a number.",
    "no-hints": "No hints at this level.",
}


def _refused(event: Refused) -> str:
    return _REFUSED[event.why].format(typed=safe(event.typed))


def _chosen(event: Chosen, exercise: Exercise, words: Words) -> Iterator[Block]:
    option = exercise.options[event.step]
    tools = ", ".join(safe(tool) for tool in option.tools)
    needs = f"{say.minutes(round(event.minutes))}" + (f"; {tools}" if tools else "")
    cautions = tuple(words.caution(one) for one in option.cautions)
    number = 1 + sum(not one.again for one in exercise.state.taken)
    yield Step(number, cautions, sentence(safe(option.name)), needs, " ".join(safe(text) for text in option.how), ())


def read(taken: Taken, exercise: Exercise, words: Words, minutes: float | None = None) -> Iterator[Block]:
    """What a step showed, with its limit and verdict as far as the level shows them."""
    option, rules = exercise.options[taken.step], exercise.setup.rules
    name = sentence(safe(option.name))
    if taken.outcome:
        check = next(one for one in exercise.bench.knowledge.checks if one.check == option.check)
        said = next(one.says for one in check.outcomes if one.outcome == taken.outcome)
        yield Para(f"{spaced(taken.outcome)}: {safe(said)}", "lead", label=name)
    elif taken.row is None:
        yield Para("it hardly moves: there is nothing to time or read", "lead", label=name)
    else:
        yield Para(written(taken.row), "lead", label=name)
        for result in exercise.result_of(taken.row):
            if not isinstance(result, Measured) or result.test.startswith("condition"):
                continue
            limit = words.limit(result)
            if rules.limits and limit and not rules.verdicts:
                yield Para(f"{words.result(result)}: {limit}", label="Limit")
            if rules.verdicts and result.verdict != "unjudged":
                beside = f" ({limit})" if limit else ""
                tone = _TONES.get(result.verdict, "plain")
                yield Para(f"{words.result(result)}: {words.judged(result)}{beside}", tone, label="Judged")
    if minutes is not None:
        yield Para(f"{say.minutes(round(taken.minutes))}; so far {say.minutes(round(minutes))}", "dim", label="Paid")


def written(row: Mapping[str, Any]) -> str:
    """A line of the sheet as one would read it out."""
    value = next((row[key] for key in _VALUES if key in row), "")
    values = [str(one) for one in value] if isinstance(value, list) else [str(value)]
    beside = [f"{label} {row[key]}" for key, label in _BESIDE.items() if key in row]
    if veer := row.get("veer"):
        beside.append(f"off the line {veer['offset']} to the {veer['toward']}")
    beside += [f"{spaced(key)} {one}" for key, one in (row.get("conditions") or {}).items()]
    if row.get("test") in ("flow", "case-drain") and "pressure" in row:
        beside.append(f"at {row['pressure']}")
        values = [str(row["flow"])]
    return safe(", ".join(values) + (f" ({'; '.join(beside)})" if beside else ""))


def _so_far(exercise: Exercise, words: Words) -> Iterator[Block]:
    if not exercise.state.taken:
        yield Para("Nothing is read yet.")
        return
    rows = []
    for one in exercise.state.taken:
        said = spaced(one.outcome) if one.outcome else "hardly moves" if one.row is None else written(one.row)
        rows.append(Row((step_name(one.step, exercise), said)))
    yield Table(("Step", "Read"), tuple(rows))


def expected_words(expected: Expected) -> str:
    """What was expected, as it is told at the end."""
    if expected.value is not None:
        return safe(expected.typed)
    return _SIDES.get(expected.word, spaced(expected.word))
