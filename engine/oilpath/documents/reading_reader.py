"""One reading of a sheet, read as its test kind says: keys, values, figures and the result id."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final, TypeVar

from oilpath.codes import FMI_MAX, SPN_MAX
from oilpath.documents import walk
from oilpath.documents.machine_scope import WORDS, MachineScope, named
from oilpath.documents.sheet import Conditions, LogPoint, Reading, Veer
from oilpath.documents.walk import CONDITION_WORDS, Fields, Location
from oilpath.flow.ids import STANDARD, code_of, placed_by, result_id, slug
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.testkind import TestKey, TestKind
from oilpath.units import sample

T = TypeVar("T")

MAX_REPEATS: Final = 100
COMMON_KEYS: Final = ("test", "note", "conditions")
#: Quantities among the conditions of a sheet; the others are words.
CONDITION_QUANTITIES: Final = {
    "oil-temperature": "temperature",
    "engine-speed": "rotation",
    "ambient-temperature": "temperature",
}
#: Greatest whole number by key; the bounds of codes are those of the open standard.
_WHOLE: Final = {"spn": SPN_MAX, "fmi": FMI_MAX}
_MAX_WHOLE: Final = 1_000_000
_TOWARD: Final = {"left": -1.0, "right": 1.0}
VEER_LINES: Final = ("start-line", "run-up-line", "chord")


def tests_of_sheets(knowledge: Knowledge) -> tuple[str, ...]:
    """The tests that a sheet may name."""
    return tuple(name for name, kind in knowledge.tests.items() if not kind.derived)


def read_conditions(location: Location | None) -> Conditions:
    """Conditions as stated; what is not stated is None."""
    fields = location.fields("the conditions") if location is not None else None
    if fields is None:
        return Conditions()
    fields.close((*CONDITION_QUANTITIES, *CONDITION_WORDS))
    stated: dict[str, Any] = {}
    for key, quantity in CONDITION_QUANTITIES.items():
        found = fields.get(key)
        stated[key] = walk.quantity(found, quantity, "positive") if found is not None else None
    for key, words in CONDITION_WORDS.items():
        found = fields.get(key)
        stated[key] = walk.word(found, words, f"a word for {key}") if found is not None else None
    return Conditions(**{key.replace("-", "_"): value for key, value in stated.items()})


@dataclass(slots=True)
class _Draft:
    """What has been read of a reading so far."""

    keys: dict[str, str] = field(default_factory=dict)
    values: tuple[float, ...] = ()
    figures: dict[str, float] = field(default_factory=dict)
    flags: dict[str, bool] = field(default_factory=dict)
    text: str | None = None
    together: tuple[str, ...] = ()
    veer: Veer | None = None
    log: tuple[LogPoint, ...] = ()


def read_reading(location: Location, scope: MachineScope | None, knowledge: Knowledge) -> Reading | None:
    """The reading at `location`, with its own conditions; None after noting what is wrong."""
    before = len(location.file.problems)
    fields = location.fields("a reading")
    named_test = fields.need("test", "the name of the test") if fields is not None else None
    if fields is None or named_test is None:
        return None
    test = walk.word(named_test, tests_of_sheets(knowledge), "a test")
    if test is None:
        return None
    kind = knowledge.tests[test]
    compared = kind.value is not None  # a sign, code or check has no standard reading to be compared with
    fields.close((*COMMON_KEYS, *kind.keys, *(("variant",) if compared else ())))
    draft = _Draft()
    for name, key in kind.keys.items():
        found = fields.need(name, _wanted(name, key, test)) if key.required else fields.get(name)
        if found is not None:
            _read_key(found, name, key, kind, draft, scope, knowledge)
    variant = STANDARD
    stated = fields.get("variant") if compared else None
    if stated is not None:
        variant = walk.word(stated, (STANDARD, *knowledge.variants), "a variant") or STANDARD
    conditions = read_conditions(fields.get("conditions"))
    note = fields.get("note")
    noted = walk.text(note) if note is not None else None
    _check_together(fields, kind, draft)
    _check_veer_and_log(fields, kind, draft)
    target = _target(fields, kind, draft)
    if len(location.file.problems) > before or target is None:
        return None
    identity = result_id(test, target, variant, draft.together)
    return Reading(
        id=identity, test=test, kind=kind, keys=draft.keys, values=draft.values, figures=draft.figures,
        flags=draft.flags, text=draft.text, variant=variant, together_with=draft.together, conditions=conditions,
        veer=draft.veer, log=draft.log, note=noted, line=location.line,
    )  # fmt: skip


def _wanted(name: str, key: TestKey, test: str) -> str:
    if key.quantity is not None:
        return sample(key.quantity) + (", or a list of repeats" if key.repeats else "")
    if key.is_ in WORDS:
        return f"{WORDS[key.is_]}, which {test} needs"
    if key.words:
        return "one of " + ", ".join(key.words)
    return "true or false" if key.is_ == "flag" else f"{name}, which {test} needs"


def _read_key(
    location: Location,
    name: str,
    key: TestKey,
    kind: TestKind,
    draft: _Draft,
    scope: MachineScope | None,
    knowledge: Knowledge,
) -> None:
    """One key of a reading, by what the test kind says it is."""
    if key.is_ == "quantity":
        _read_quantity(location, name, key, kind, draft)
    elif key.is_ == "number":
        _keep(draft.figures, name, walk.number(location, key.sign))
    elif key.is_ == "whole":
        value = walk.whole(location, _WHOLE.get(name, _MAX_WHOLE))
        _keep(draft.figures, name, None if value is None else float(value))
        _keep(draft.keys, name, None if value is None else str(value))
    elif key.is_ == "flag":
        _keep(draft.flags, name, walk.flag(location))
    elif key.is_ == "functions":
        draft.together = _together(location, scope)
    elif key.is_ == "veer":
        draft.veer = _veer(location)
    elif key.is_ == "log":
        draft.log = _log(location)
    elif key.is_ == "text":
        draft.text = walk.text(location)
    elif key.is_ == "word" and not key.words:
        _keep(draft.keys, name, _known_word(location, name, draft, knowledge))
    else:
        _keep(draft.keys, name, named(location, key, scope))


def _keep(table: dict[str, T], name: str, value: T | None) -> None:
    if value is not None:
        table[name] = value


def _read_quantity(location: Location, name: str, key: TestKey, kind: TestKind, draft: _Draft) -> None:
    assert key.quantity is not None
    if name != kind.value:
        _keep(draft.figures, name, walk.quantity(location, key.quantity, key.sign))
        return
    items = location.items("a list of repeats") if key.repeats and isinstance(location.value, list) else [location]
    if items is None:
        return
    if not items:
        location.wrong("is empty", "one value, or a list of repeats of the same measurement")
    if len(items) > MAX_REPEATS:
        location.wrong(f"{len(items)} repeats are too many", f"at most {MAX_REPEATS}")
        return
    values = [walk.quantity(item, key.quantity, key.sign) for item in items]
    draft.values = tuple(value for value in values if value is not None)


def _known_word(location: Location, name: str, draft: _Draft, knowledge: Knowledge) -> str | None:
    """A word that the knowledge base defines: a sign, a check, or an outcome of the check named before."""
    if name == "sign":
        return walk.word(location, tuple(knowledge.signs), "a sign of the knowledge base")
    checks = {check.check: check for check in knowledge.checks}
    if name == "check":
        return walk.word(location, tuple(checks), "a check of the knowledge base")
    check = checks.get(draft.keys.get("check", ""))
    if check is None:  # the check itself has been refused
        return None
    return walk.word(location, tuple(one.outcome for one in check.outcomes), f"an outcome of {check.check}")


# --- several functions, veer, log ---------------------------------------------------


def _together(location: Location, scope: MachineScope | None) -> tuple[str, ...]:
    """Functions worked at the same time, in the order of the alphabet."""
    names: set[str] = set()
    for item in location.one_or_many("a list of functions") or ():
        name = named(item, _FUNCTION, scope)
        if name is not None and name in names:
            item.wrong(f"{name} is named twice", "each function once")
        elif name is not None:
            names.add(name)
    return tuple(sorted(names))


_FUNCTION: Final = TestKey.model_validate({"is": "function"})


def _check_together(fields: Fields, kind: TestKind, draft: _Draft) -> None:
    own = {draft.keys[name] for name, key in kind.keys.items() if key.is_ == "function" and name in draft.keys}
    place = next((fields.get(name) for name, key in kind.keys.items() if key.is_ == "functions"), None)
    for name in own.intersection(draft.together):
        if place is not None:
            place.wrong(f"{name} is the function that is measured", "the other functions worked at the same time")


def _veer(location: Location) -> Veer | None:
    fields = location.fields("a veer")
    if fields is None:
        return None
    fields.close(("toward", "offset", "from"))
    offset = fields.need("offset", sample("distance"))
    amount = walk.quantity(offset, "distance", "nonnegative") if offset is not None else None
    line = fields.get("from")
    reference = VEER_LINES[0] if line is None else walk.word(line, VEER_LINES, "a line that a veer is measured from")
    toward = fields.get("toward") if amount == 0 else fields.need("toward", "left or right, of the undercarriage")
    side = walk.word(toward, tuple(_TOWARD), "a side") if toward is not None else None
    if amount is None or reference is None:
        return None
    return Veer(0.0 if amount == 0 else amount * _TOWARD.get(side or "", 1.0), reference)


def _log(location: Location) -> tuple[LogPoint, ...]:
    points: list[LogPoint] = []
    for item in location.items("a list of points in time") or ():
        fields = item.fields("a point of the log")
        if fields is None:
            continue
        fields.close(("after", "moved"))
        after, moved = fields.need("after", sample("time")), fields.need("moved", sample("length"))
        time = walk.quantity(after, "time", "positive") if after is not None else None
        way = walk.quantity(moved, "length", "nonnegative") if moved is not None else None
        if after is not None and time is not None and points and time <= points[-1].after:
            after.wrong("is not later than the point before", "points in the order of time")
        if time is not None and way is not None:
            points.append(LogPoint(time, way))
    return tuple(points)


def _check_veer_and_log(fields: Fields, kind: TestKind, draft: _Draft) -> None:
    """A machine cannot veer further than it has travelled, nor a log run on after the hold."""
    extent = draft.figures.get(kind.limits.per or "")
    if extent is None:
        return
    for name, key in kind.keys.items():
        location = fields.get(name)
        if location is None:
            continue
        if key.is_ == "veer" and draft.veer is not None and abs(draft.veer.offset) > extent * (1 + 1e-9):
            location.wrong(f"is more than the {kind.limits.per}", "the sideways offset at the end of the stretch")
        if key.is_ == "log" and draft.log and draft.log[-1].after > extent * (1 + 1e-9):
            location.wrong(f"runs on after the {kind.limits.per}", "points in time within it")


# --- result id ----------------------------------------------------------------------


def _target(fields: Fields, kind: TestKind, draft: _Draft) -> tuple[str, ...] | None:
    """The steps of the result id: the keys that place it; whole numbers make one joint step."""
    steps = placed_by(kind.id, draft.keys)
    numbers = [name for name in kind.id if kind.keys[name].is_ == "whole"]
    if not numbers:
        return steps
    texts = [name for name, key in kind.keys.items() if key.is_ == "text"]
    stated = [name for name in numbers if fields.get(name) is not None]
    either = " and ".join(numbers) + "".join(f", or {name}" for name in texts)
    if len(stated) == len(numbers):
        return (code_of(steps),)
    if not stated and any(fields.get(name) is not None for name in texts):
        return None if draft.text is None else (slug(draft.text),)
    missing = [name for name in numbers if name not in stated]
    fields.location.wrong(f"{' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} missing", either)
    return None
