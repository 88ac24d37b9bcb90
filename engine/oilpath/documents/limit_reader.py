"""The limits of a machine file and the conditions that its tests demand, as the test kinds allow them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from oilpath.documents import walk
from oilpath.documents.machine import Demand, Limit
from oilpath.documents.machine_scope import MachineScope, named
from oilpath.documents.walk import CONDITION_WORDS, Fields, Location
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.testkind import TestKind
from oilpath.units import sample

MAX_LIMITS: Final = 300
_VALUES: Final = ("new", "min", "max")


def measured(knowledge: Knowledge) -> tuple[str, ...]:
    """The tests that measure a value, so that there can be a limit for it."""
    return tuple(name for name, kind in knowledge.tests.items() if kind.value is not None and not kind.derived)


def read_limits(location: Location | None, scope: MachineScope, knowledge: Knowledge) -> tuple[Limit, ...]:
    """The limits under `limits`; two that are equally specific are a problem that names both lines."""
    items = (location.items("a list of limits") or []) if location is not None else []
    if location is not None and len(items) > MAX_LIMITS:
        location.wrong(f"{len(items)} limits are too many", f"at most {MAX_LIMITS}")
        return ()
    limits: list[Limit] = []
    for item in items:
        limit = _limit(item, scope, knowledge)
        if limit is not None:
            limits.append(limit)
            _refuse_equal(item, limit, limits[:-1], scope, knowledge.tests[limit.test])
    return tuple(limits)


def _test(fields: Fields, knowledge: Knowledge, what: str) -> str | None:
    location = fields.need("test", f"the test that {what} is for")
    return walk.word(location, measured(knowledge), f"a test that {what} can be for") if location is not None else None


def _limit(location: Location, scope: MachineScope, knowledge: Knowledge) -> Limit | None:
    fields = location.fields("a limit")
    test = _test(fields, knowledge, "a limit") if fields is not None else None
    if fields is None or test is None:
        return None
    kind = knowledge.tests[test]
    assert kind.value is not None
    assert kind.quantity is not None
    rules, before = kind.limits, len(location.file.problems)
    extra = (("max-veer",) if rules.veer else ()) + (("max-difference",) if rules.difference else ())
    per_key = (rules.per,) if rules.per is not None else ()
    fields.close(("test", *rules.where, *per_key, *_VALUES, *extra))
    where = {
        key: name
        for key in rules.where
        if (found := fields.get(key)) is not None and (name := named(found, kind.keys[key], scope)) is not None
    }
    places = {key: found for key in _VALUES if (found := fields.get(key)) is not None}
    values = {key: walk.quantity(found, kind.quantity, kind.keys[kind.value].sign) for key, found in places.items()}
    _refuse_disorder(places, values)
    veer, difference = (fields.get(key) if key in extra else None for key in ("max-veer", "max-difference"))
    if not places and veer is None and difference is None:
        location.wrong("states no value", "at least one of " + ", ".join((*_VALUES, *extra)))
    read = Limit.model_construct(
        test=test, where=where, new=values.get("new"), min=values.get("min"), max=values.get("max"),
        max_veer=walk.quantity(veer, "distance", "positive") if veer is not None else None,
        max_difference=walk.quantity(difference, "ratio", "positive") if difference is not None else None,
        per=_per(fields, kind, bool(places) or veer is not None), line=location.line,
    )  # fmt: skip
    return read if len(location.file.problems) == before else None


def _per(fields: Fields, kind: TestKind, needed: bool) -> float | None:
    """Hold, distance or turns that the limit is for."""
    if kind.limits.per is None:
        return None
    key = kind.keys[kind.limits.per]
    wanted = sample(key.quantity) if key.quantity is not None else "a number such as 3"
    location = fields.need(kind.limits.per, wanted) if needed else fields.get(kind.limits.per)
    if location is None:
        return None
    return walk.quantity(location, key.quantity, key.sign) if key.quantity is not None else walk.number(location)


def _refuse_disorder(places: Mapping[str, Location], values: Mapping[str, float | None]) -> None:
    for low, high, may_be_equal in (("min", "max", False), ("min", "new", True), ("new", "max", True)):
        a, b = values.get(low), values.get(high)
        if a is not None and b is not None and (a > b or (a == b and not may_be_equal)):
            places[high].wrong(f"is not above {low}", "min ≤ new ≤ max")
            return


def _refuse_equal(location: Location, limit: Limit, earlier: list[Limit], scope: MachineScope, kind: TestKind) -> None:
    """Two limits that name as many keys, and that can both hold for one reading, leave open which one counts."""
    for other in earlier:
        if other.test != limit.test or len(other.where) != len(limit.where):
            continue
        if all(other.where.get(key, name) == name for key, name in limit.where.items()) and _meet(
            limit, other, scope, kind
        ):
            location.wrong(
                f"holds for the same readings as the limit on line {other.line}, and is as specific",
                "one limit for each reading, or one that names more keys",
            )
            return


def _meet(one: Limit, two: Limit, scope: MachineScope, kind: TestKind) -> bool:
    """Whether a limit without a function, kept to some groups by the test kind, meets one that names a function."""
    groups = kind.limits.default_functions
    if not groups or ("function" in one.where) == ("function" in two.where):
        return True
    function = one.where.get("function") or two.where["function"]
    return scope.circuit.functions[function].group in groups


# --- demanded conditions ------------------------------------------------------------


def read_demands(location: Location | None, knowledge: Knowledge) -> tuple[Demand, ...]:
    """What the tests of this machine demand, one entry a test."""
    demands: dict[str, tuple[Demand, int]] = {}
    for item in (location.items("a list of demanded conditions") or ()) if location is not None else ():
        fields = item.fields("a demand")
        test = _test(fields, knowledge, "a demand") if fields is not None else None
        if fields is None or test is None:
            continue
        if test in demands:
            item.wrong(f"demands conditions for the same test as line {demands[test][1]}", "one entry for each test")
        demands[test] = (_demand(fields, test, knowledge.tests[test]), item.line)
    return tuple(demand for demand, _ in demands.values())


def _demand(fields: Fields, test: str, kind: TestKind) -> Demand:
    hold = ("hold",) if "hold" in kind.keys else ()
    fields.close(("test", "oil-temperature", "engine-speed", *CONDITION_WORDS, *hold))
    words: dict[str, Any] = {
        key: walk.word(found, words, f"a word for {key}") if (found := fields.get(key)) is not None else None
        for key, words in CONDITION_WORDS.items()
    }
    least = fields.get("hold") if hold else None
    return Demand.model_construct(
        test=test,
        oil_temperature=_range(fields.get("oil-temperature"), "temperature"),
        engine_speed=_range(fields.get("engine-speed"), "rotation"),
        hold=walk.quantity(least, "time", "positive") if least is not None else None,
        attachment=words["attachment"], auto_idle=words["auto-idle"], working_setting=words["working-setting"],
    )  # fmt: skip


def _range(location: Location | None, quantity: str) -> tuple[float, float] | None:
    if location is None:
        return None
    accepted = "the least and the greatest value, such as [50 °C, 60 °C] for a temperature"
    if not isinstance(location.value, list) or len(location.value) != 2:
        location.wrong("is no range", accepted)
        return None
    low, high = (walk.quantity(item, quantity, "any") for item in location.items("a range") or ())
    if low is None or high is None:
        return None
    if not 0 < low < high:
        location.wrong("does not rise from the least to the greatest value", accepted)
        return None
    return low, high
