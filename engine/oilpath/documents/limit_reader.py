"""The limits of a machine file and the conditions that its tests demand, as the test kinds allow them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from oilpath.documents.drafts import DemandDraft, LimitDraft
from oilpath.documents.location import Location
from oilpath.documents.machine import Demand, Limit
from oilpath.documents.machine_scope import MachineScope, named
from oilpath.documents.value_types import CONDITION_WORDS
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.testkind import TestKind
from oilpath.units import sample

MAX_LIMITS: Final = 300
_VALUES: Final = ("new", "min", "max")


def measured(knowledge: Knowledge) -> tuple[str, ...]:
    """The tests that measure a value, so that there can be a limit for it."""
    return tuple(name for name, kind in knowledge.tests.items() if kind.value is not None and not kind.derived)


def read_limits(
    location: Location, drafts: Sequence[LimitDraft | None], scope: MachineScope, knowledge: Knowledge
) -> tuple[Limit, ...]:
    """The limits under `limits`; two that are equally specific are a problem that names both lines."""
    if len(drafts) > MAX_LIMITS:
        location.wrong(f"{len(drafts)} limits are too many", f"at most {MAX_LIMITS}")
        return ()
    limits: list[Limit] = []
    for number, draft in enumerate(drafts):
        item = location.below(number)
        limit = _limit(item, draft, scope, knowledge) if draft is not None else None
        if draft is None and item.value is None:
            item.mapping(LimitDraft.called)
        if limit is not None:
            limits.append(limit)
            _refuse_equal(item, limit, limits[:-1], scope, knowledge.tests[limit.test])
    return tuple(limits)


def _test(location: Location, draft: LimitDraft | DemandDraft, knowledge: Knowledge) -> str | None:
    stated = location.need("test", draft.called, draft.needed["test"])
    return stated.word(measured(knowledge), f"a test that {draft.called} can be for") if stated is not None else None


def _limit(location: Location, draft: LimitDraft, scope: MachineScope, knowledge: Knowledge) -> Limit | None:
    before = len(location.file.problems)
    test = _test(location, draft, knowledge)
    if test is None:
        return None
    kind = knowledge.tests[test]
    assert kind.value is not None
    assert kind.quantity is not None
    rules = kind.limits
    extra = (("max-veer",) if rules.veer else ()) + (("max-difference",) if rules.difference else ())
    per_key = (rules.per,) if rules.per is not None else ()
    location.close(("test", *rules.where, *per_key, *_VALUES, *extra), draft.called)
    where = {
        key: name
        for key in rules.where
        if (found := location.get(key)) is not None and (name := named(found, kind.keys[key], scope)) is not None
    }
    places = {key: found for key in _VALUES if (found := location.get(key)) is not None}
    values = {key: found.quantity(kind.quantity, kind.keys[kind.value].sign) for key, found in places.items()}
    _refuse_disorder(places, values)
    if not places and not any(location.get(key) for key in extra):
        location.wrong("states no value", "at least one of " + ", ".join((*_VALUES, *extra)))
    per = _per(location, kind, bool(places) or location.get("max-veer") is not None)
    if len(location.file.problems) > before:
        return None
    return Limit(
        test=test, where=where, new=values.get("new"), min=values.get("min"), max=values.get("max"),
        max_veer=draft.max_veer, max_difference=draft.max_difference, per=per, line=location.line,
    )  # fmt: skip


def _per(location: Location, kind: TestKind, needed: bool) -> float | None:
    """Hold, distance or turns that the limit is for."""
    if kind.limits.per is None:
        return None
    key = kind.keys[kind.limits.per]
    wanted = sample(key.quantity) if key.quantity is not None else "a number such as 3"
    stated = location.need(kind.limits.per, LimitDraft.called, wanted) if needed else location.get(kind.limits.per)
    if stated is None:
        return None
    return stated.quantity(key.quantity, key.sign) if key.quantity is not None else stated.number()


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


def read_demands(location: Location, drafts: Sequence[DemandDraft | None], knowledge: Knowledge) -> tuple[Demand, ...]:
    """What the tests of this machine demand, one entry a test."""
    demands: dict[str, tuple[Demand, int]] = {}
    for number, draft in enumerate(drafts):
        item = location.below(number)
        if draft is None:
            if item.value is None:
                item.mapping(DemandDraft.called)
            continue
        test = _test(item, draft, knowledge)
        if test is None:
            continue
        if test in demands:
            item.wrong(f"demands conditions for the same test as line {demands[test][1]}", "one entry for each test")
        hold = ("hold",) if "hold" in knowledge.tests[test].keys else ()
        item.close(("test", "oil-temperature", "engine-speed", *CONDITION_WORDS, *hold), draft.called)
        demand = Demand(
            test=test, oil_temperature=draft.oil_temperature, engine_speed=draft.engine_speed, hold=draft.hold,
            attachment=draft.attachment, auto_idle=draft.auto_idle, working_setting=draft.working_setting,
        )  # fmt: skip
        demands[test] = (demand, item.line)
    return tuple(demand for demand, _ in demands.values())
