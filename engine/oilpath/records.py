"""Frozen records: `dataclass` of the standard library, put together faster.

For each frozen dataclass Python 3.11 and 3.12 compile six methods, one by one. The program has some 170 of them, and
that was a fifth of the time from the command to the answer. Here only `__init__` is compiled; the other methods are
functions that all records share. What such a class does is the same, its hash and its text included.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from operator import attrgetter
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

T = TypeVar("T")
_MISSING = dataclasses.MISSING

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:

    def dataclass(*, frozen: bool = False, slots: bool = False, **more: bool) -> Callable[[type[T]], type[T]]:
        """As `dataclasses.dataclass`. What is not frozen, or asks for `more`, is left to that."""
        if not frozen or more:
            return dataclasses.dataclass(frozen=frozen, slots=slots, **more)
        return lambda cls: _record(cls, slots=slots)


def _record(cls: type[T], *, slots: bool) -> type[T]:
    made = dataclasses.dataclass(init=False, repr=False, eq=False, slots=slots)(cls)
    own = vars(made)
    methods: dict[str, Any] = {"__init__": _initializer(made), **_comparing(made)}
    methods |= {"__repr__": _text, "__setattr__": _refuse_setting, "__delattr__": _refuse_deleting}
    if slots:  # else copies and pickles would set each attribute
        methods |= {"__getstate__": _state, "__setstate__": _set_state}
    for name, method in methods.items():
        if own.get(name) is None:  # Python sets __hash__ to None in a class with an __eq__ of its own
            setattr(made, name, method)
    return made


def _initializer(cls: type) -> Any:
    """`__init__` with a parameter for each field, those that must be named last."""
    defaults: dict[str, Any] = {}
    named: dict[bool, list[str]] = {False: [], True: []}
    lines = []
    for one in dataclasses.fields(cls):
        parameter = value = one.name
        if one.default_factory is not _MISSING:
            defaults[f"_{one.name}"] = one.default_factory
            parameter, value = f"{one.name}=_missing", f"_made({one.name}, _{one.name})"
        elif one.default is not _MISSING:
            defaults[f"_{one.name}"] = one.default
            parameter = f"{one.name}=_{one.name}"
        named[bool(one.kw_only)].append(parameter)
        lines.append(f"_set(self, {one.name!r}, {value})")
    if hasattr(cls, "__post_init__"):
        lines.append("self.__post_init__()")
    parameters = ["self", *named[False], *(["*", *named[True]] if named[True] else [])]
    body = "\n    ".join(lines or ["pass"])
    made: dict[str, Any] = {"_set": object.__setattr__, "_made": _made, "_missing": _MISSING, **defaults}
    exec(f"def __init__({', '.join(parameters)}):\n    {body}\n", made)
    init = made["__init__"]
    init.__module__, init.__qualname__ = cls.__module__, f"{cls.__qualname__}.__init__"
    init.__annotations__ = {one.name: one.type for one in dataclasses.fields(cls)} | {"return": None}
    return init


def _made(value: Any, make: Callable[[], Any]) -> Any:
    return make() if value is _MISSING else value


def _comparing(cls: type) -> dict[str, Any]:
    """Two records are equal if they are of one class and their fields are."""
    names = [one.name for one in dataclasses.fields(cls) if one.compare]
    if len(names) > 1:
        values: Callable[[Any], tuple[Any, ...]] = attrgetter(*names)
    else:
        values = lambda record: tuple(getattr(record, name) for name in names)  # noqa: E731

    def equal(self: Any, other: object) -> Any:
        return values(self) == values(other) if other.__class__ is self.__class__ else NotImplemented

    def hashed(self: Any) -> int:
        return hash(values(self))

    return {"__eq__": equal, "__hash__": hashed}


def _text(self: Any) -> str:
    shown = (f"{one.name}={getattr(self, one.name)!r}" for one in dataclasses.fields(self) if one.repr)
    return f"{type(self).__qualname__}({', '.join(shown)})"


def _refuse_setting(self: Any, name: str, value: object) -> NoReturn:
    raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")


def _refuse_deleting(self: Any, name: str) -> NoReturn:
    raise dataclasses.FrozenInstanceError(f"cannot delete field {name!r}")


def _state(self: Any) -> list[Any]:
    return [getattr(self, one.name) for one in dataclasses.fields(self)]


def _set_state(self: Any, state: list[Any]) -> None:
    for one, value in zip(dataclasses.fields(self), state, strict=True):
        object.__setattr__(self, one.name, value)
