"""Read one reading of a sheet by the rules of its test kind: keys, values, figures and the result id."""

from __future__ import annotations

from dataclasses import field
from typing import Final, TypeVar

from oilpath.codes import FMI_MAX, SPN_MAX
from oilpath.documents.drafts import ConditionsDraft, LogPointDraft, ReadingDraft, VeerDraft
from oilpath.documents.location import Location
from oilpath.documents.machine_scope import WORDS, MachineScope, named
from oilpath.documents.sheet import Conditions, LogPoint, Reading, Veer
from oilpath.documents.validate import drafted
from oilpath.documents.value_types import VEER_LINES
from oilpath.flow.ids import STANDARD, code_of, placed_by, result_id, slug
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.testkind import TestKey, TestKind
from oilpath.records import dataclass
from oilpath.units import sample

T = TypeVar("T")

MAX_REPEATS: Final = 100
COMMON_KEYS: Final = ("test", "note", "conditions")
#: Greatest whole number by key; the bounds of codes are those of the open standard.
_WHOLE: Final = {"spn": SPN_MAX, "fmi": FMI_MAX}
_MAX_WHOLE: Final = 1_000_000
_TOWARD: Final = {"left": -1.0, "right": 1.0}


def tests_of_sheets(knowledge: Knowledge) -> tuple[str, ...]:
    """The tests that a sheet may name."""
    return tuple(name for name, kind in knowledge.tests.items() if not kind.derived)


def _test(stated: Location, knowledge: Knowledge) -> str | None:
    name = stated.value
    kind = knowledge.tests.get(name) if isinstance(name, str) else None
    if kind is not None and not kind.derived:
        return str(name)
    return stated.word(tests_of_sheets(knowledge), "a test")


def bound_conditions(draft: ConditionsDraft | None) -> Conditions:
    """Conditions as stated; what is not stated is None."""
    if draft is None:
        return Conditions()
    return Conditions(
        oil_temperature=draft.oil_temperature, engine_speed=draft.engine_speed,
        ambient_temperature=draft.ambient_temperature, attachment=draft.attachment, auto_idle=draft.auto_idle,
        working_setting=draft.working_setting,
    )  # fmt: skip


@dataclass(slots=True)
class _Bound:
    """What has been read of a reading so far."""

    keys: dict[str, str] = field(default_factory=dict)
    values: tuple[float, ...] = ()
    figures: dict[str, float] = field(default_factory=dict)
    flags: dict[str, bool] = field(default_factory=dict)
    text: str | None = None
    together: tuple[str, ...] = ()
    veer: Veer | None = None
    log: tuple[LogPoint, ...] = ()


def read_reading(
    location: Location, draft: ReadingDraft, scope: MachineScope | None, knowledge: Knowledge
) -> Reading | None:
    """The reading at `location`, bound as its test kind says; None after noting what is wrong."""
    before = len(location.file.problems)
    stated = location.need("test", draft.called, draft.needed["test"])
    test = _test(stated, knowledge) if stated is not None else None
    if test is None:
        return None
    kind = knowledge.tests[test]
    compared = kind.value is not None  # a sign, code or check has no standard reading to be compared with
    location.close((*COMMON_KEYS, *kind.keys, *(("variant",) if compared else ())), draft.called)
    bound = _Bound()
    for name, key in kind.keys.items():
        found = location.get(name)
        if found is not None:
            _read_key(found, name, key, kind, bound, scope, knowledge)
        elif key.required:
            location.need(name, draft.called, _wanted(name, key, test))
    variant = STANDARD
    stated = location.get("variant") if compared else None
    if stated is not None:
        variant = stated.word((STANDARD, *knowledge.variants), "a variant") or STANDARD
    _check_together(location, kind, bound)
    _check_veer_and_log(location, kind, bound)
    target = _target(location, kind, bound)
    if len(location.file.problems) > before or target is None:
        return None
    return Reading(
        id=result_id(test, target, variant, bound.together), test=test, kind=kind, keys=bound.keys,
        values=bound.values, figures=bound.figures, flags=bound.flags, text=bound.text, variant=variant,
        together_with=bound.together, conditions=bound_conditions(draft.conditions), veer=bound.veer, log=bound.log,
        note=draft.note, line=location.line,
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
    bound: _Bound,
    scope: MachineScope | None,
    knowledge: Knowledge,
) -> None:
    """One key of a reading, by what the test kind says it is."""
    if key.is_ == "quantity":
        _read_quantity(location, name, key, kind, bound)
    elif key.is_ == "number":
        _keep(bound.figures, name, location.number(key.sign))
    elif key.is_ == "whole":
        value = location.whole(_WHOLE.get(name, _MAX_WHOLE))
        _keep(bound.figures, name, None if value is None else float(value))
        _keep(bound.keys, name, None if value is None else str(value))
    elif key.is_ == "flag":
        _keep(bound.flags, name, location.flag())
    elif key.is_ == "functions":
        bound.together = _together(location, scope)
    elif key.is_ == "veer":
        bound.veer = _veer(location)
    elif key.is_ == "log":
        bound.log = _log(location)
    elif key.is_ == "text":
        bound.text = location.text()
    elif key.is_ == "word" and not key.words:
        _keep(bound.keys, name, _known_word(location, name, bound, knowledge))
    else:
        _keep(bound.keys, name, named(location, key, scope))


def _keep(table: dict[str, T], name: str, value: T | None) -> None:
    if value is not None:
        table[name] = value


def _read_quantity(location: Location, name: str, key: TestKey, kind: TestKind, bound: _Bound) -> None:
    assert key.quantity is not None
    if name != kind.value:
        _keep(bound.figures, name, location.quantity(key.quantity, key.sign))
        return
    items = location.items("a list of repeats") if key.repeats and isinstance(location.value, list) else [location]
    if items is None:
        return
    if not items:
        location.wrong("is empty", "one value, or a list of repeats of the same measurement")
    if len(items) > MAX_REPEATS:
        location.wrong(f"{len(items)} repeats are too many", f"at most {MAX_REPEATS}")
        return
    values = [item.quantity(key.quantity, key.sign) for item in items]
    bound.values = tuple(value for value in values if value is not None)


def _known_word(location: Location, name: str, bound: _Bound, knowledge: Knowledge) -> str | None:
    """A word that the knowledge base defines: a sign, a check, or an outcome of the check named before."""
    if name == "sign":
        return location.word(tuple(knowledge.signs), "a sign of the knowledge base, or of a folder named by --kb")
    checks = {check.check: check for check in knowledge.checks}
    if name == "check":
        return location.word(tuple(checks), "a check of the knowledge base")
    check = checks.get(bound.keys.get("check", ""))
    if check is None:  # the check itself has been refused
        return None
    return location.word(tuple(one.outcome for one in check.outcomes), f"an outcome of {check.check}")


# --- several functions, veer, log ---------------------------------------------------


def _together(location: Location, scope: MachineScope | None) -> tuple[str, ...]:
    """Functions worked at the same time, sorted by id."""
    names: set[str] = set()
    for item in location.one_or_many("a list of functions") or ():
        name = named(item, _FUNCTION, scope)
        if name is not None and name in names:
            item.wrong(f"{name} is named twice", "each function once")
        elif name is not None:
            names.add(name)
    return tuple(sorted(names))


_FUNCTION: Final = TestKey.model_validate({"is": "function"})


def _check_together(location: Location, kind: TestKind, bound: _Bound) -> None:
    own = {bound.keys[name] for name, key in kind.keys.items() if key.is_ == "function" and name in bound.keys}
    place = next((location.get(name) for name, key in kind.keys.items() if key.is_ == "functions"), None)
    for name in own.intersection(bound.together):
        if place is not None:
            place.wrong(f"{name} is the function that is measured", "the other functions worked at the same time")


def _veer(location: Location) -> Veer | None:
    draft = drafted(VeerDraft, location)
    if draft is None:
        return None
    side = draft.toward
    if side is None and draft.offset != 0:
        location.need("toward", VeerDraft.called, "left or right, of the undercarriage")
    if draft.offset is None:
        return None
    return Veer(0.0 if draft.offset == 0 else draft.offset * _TOWARD.get(side or "", 1.0), draft.from_ or VEER_LINES[0])


def _log(location: Location) -> tuple[LogPoint, ...]:
    points: list[LogPoint] = []
    for item in location.items("a list of points in time") or ():
        draft = drafted(LogPointDraft, item)
        if draft is None or draft.after is None:
            continue
        if points and draft.after <= points[-1].after:
            item.below("after").wrong("is not later than the point before", "points in the order of time")
        if draft.moved is not None:
            points.append(LogPoint(draft.after, draft.moved))
    return tuple(points)


def _check_veer_and_log(location: Location, kind: TestKind, bound: _Bound) -> None:
    """Check that the veer is not longer than the distance, and that the log ends within the hold."""
    extent = bound.figures.get(kind.limits.per or "")
    if extent is None:
        return
    for name, key in kind.keys.items():
        place = location.get(name)
        if place is None:
            continue
        if key.is_ == "veer" and bound.veer is not None and abs(bound.veer.offset) > extent * (1 + 1e-9):
            place.wrong(f"is more than the {kind.limits.per}", "the sideways offset at the end of the stretch")
        if key.is_ == "log" and bound.log and bound.log[-1].after > extent * (1 + 1e-9):
            place.wrong(f"runs on after the {kind.limits.per}", "points in time within it")


# --- result id ----------------------------------------------------------------------


def _target(location: Location, kind: TestKind, bound: _Bound) -> tuple[str, ...] | None:
    """The steps of the result id: the keys that place it; whole numbers make one joint step."""
    steps = placed_by(kind.id, bound.keys)
    numbers = [name for name in kind.id if kind.keys[name].is_ == "whole"]
    if not numbers:
        return steps
    texts = [name for name, key in kind.keys.items() if key.is_ == "text"]
    stated = [name for name in numbers if location.get(name) is not None]
    either = " and ".join(numbers) + "".join(f", or {name}" for name in texts)
    if len(stated) == len(numbers):
        return (code_of(steps),)
    if not stated and any(location.get(name) is not None for name in texts):
        return None if bound.text is None else (slug(bound.text),)
    missing = [name for name in numbers if name not in stated]
    location.wrong(f"{' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} missing", either)
    return None
