"""Assumed figures of a circuit: numbers that differ from machine to machine, each with the range in which it lies.

A figure is a number that the model reckons with; it remembers the range and why. Several places may share one figure
by its name (both swing directions start alike), and then it is one unknown of the machine.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Final

from pydantic import PlainSerializer, PlainValidator, WithJsonSchema

from oilpath.knowledge.fields import ID_PATTERN, nature, number_value, problem, quantity_value, text_value

_KEYS: Final = ("value", "from", "to", "because", "name")
_MOST: Final = 1e12
FUNCTION_KEYS: Final = ("gravity", "regeneration", "acceleration", "section", "relief")
"""keys of a function that are figures, beside its pressures"""


class Figure(float):
    """A number with the range `low` to `high` in which it lies on machines of the kind, its name, and the reason.

    It counts as a float everywhere; what is computed of it is a plain number.
    """

    __slots__ = ("because", "high", "low", "name")
    name: str
    low: float
    high: float
    because: str

    def __new__(cls, value: float, low: float, high: float, because: str, name: str = "") -> Figure:
        made = super().__new__(cls, value)
        made.low, made.high, made.because, made.name = low, high, because, name
        return made

    def __getnewargs__(self) -> tuple[float, float, float, str, str]:  # type: ignore[override]
        return float(self), self.low, self.high, self.because, self.name

    def __repr__(self) -> str:  # the hash of a circuit's content is made of it
        return f"Figure({float(self)!r}, {self.low!r}, {self.high!r}, {self.because!r}, {self.name!r})"

    @property
    def in_doubt(self) -> bool:
        """Whether it has a range at all."""
        return self.low < self.high

    def at(self, value: float) -> Figure:
        """The same figure, known to be `value`."""
        return Figure(value, value, value, self.because, self.name)

    def within(self, low: float, high: float) -> Figure:
        """The same figure, known to lie between two values; its own value where that lies there, else the middle."""
        value = float(self) if low <= self <= high else (low + high) / 2
        return Figure(value, low, high, self.because, self.name)


def read_figure(value: object) -> float:
    """A number without doubt, or `{value, from, to, because}` as a `Figure`."""
    if isinstance(value, Figure):
        return value
    if isinstance(value, str):
        raise problem(
            f"`{value[:40]}` is not a figure of this circuit", "a number, or the name of a figure under values"
        )
    if not isinstance(value, Mapping):
        return number_value(value, "any", least=0.0, most=_MOST)
    if unknown := [key for key in value if key not in _KEYS]:
        raise problem(f"{unknown[0]} is not a key of a figure", "value, from, to, because")
    lacking = [key for key in _KEYS[:4] if value.get(key) is None]
    if lacking:
        raise problem(f"a figure lacks {', '.join(lacking)}", "{value: 0.7, from: 0.1, to: 1.0, because: …}")
    middle, low, high = (number_value(value[key], "any", least=0.0, most=_MOST) for key in _KEYS[:3])
    if not low <= middle <= high:
        raise problem("a figure lies outside its own range", "from ≤ value ≤ to")
    return Figure(middle, low, high, text_value(value["because"]), str(value.get("name") or ""))


def written_figure(value: float) -> float | dict[str, Any]:
    """A figure as plain data, for `read_figure`."""
    if not isinstance(value, Figure):
        return value
    return dict(zip(_KEYS, (float(value), value.low, value.high, value.because, value.name), strict=True))


_NUMBER: Final[dict[str, Any]] = {"type": "number"}
_RANGED: Final[dict[str, Any]] = {
    "type": "object",
    "properties": {"value": _NUMBER, "from": _NUMBER, "to": _NUMBER, "because": {"type": "string"}},
    "required": ["because", "from", "to", "value"],
    "additionalProperties": False,
}
FigureField = Annotated[
    float,
    PlainValidator(read_figure),
    PlainSerializer(written_figure, return_type=Any),
    WithJsonSchema({"anyOf": [_NUMBER, {"type": "string", "pattern": f"^{ID_PATTERN}$"}, _RANGED]}),
]
"""a number, a figure with its range, or (in a function or a hold) the name of a figure of the circuit's values"""


def resolve_figures(data: Any) -> Any:
    """A circuit as written, with each figure named: by its key, where it is used by that name, or by its place.

    What cannot be read is left for the validation of its field.
    """
    if not isinstance(data, Mapping):
        return data
    made = dict(data)
    known = {key: _named(value, str(key)) for key, value in _mapping(made.get("values")).items()}
    if "values" in made and isinstance(made["values"], Mapping):
        made["values"] = known
    for group, keys in (("functions", FUNCTION_KEYS), ("holds", ("load",))):
        entries = made.get(group)
        if isinstance(entries, Mapping):
            made[group] = {name: _resolved(entry, str(name), keys, known) for name, entry in entries.items()}
    return made


def _resolved(entry: Any, name: str, keys: tuple[str, ...], known: Mapping[str, Any]) -> Any:
    if not isinstance(entry, Mapping):
        return entry
    made = dict(entry)
    for key in keys:
        if key in made:
            made[key] = _one(made[key], f"{name}-{key}", known)
    if isinstance(made.get("pressure"), Mapping):
        made["pressure"] = {load: _one(value, f"{name}-{load}", known) for load, value in made["pressure"].items()}
    return made


def _one(value: Any, place: str, known: Mapping[str, Any]) -> Any:
    if isinstance(value, str):
        found = known.get(value, value)
        return Figure(found, found, found, "", value) if isinstance(found, int | float) and not _is(found) else found
    return _named(value, place)


def _is(value: Any) -> bool:
    return isinstance(value, Figure | bool)


def _named(value: Any, name: str) -> Any:
    return {"name": name, **value} if isinstance(value, Mapping) else value


def _mapping(value: Any) -> Mapping[str, Any]:
    return value if isinstance(value, Mapping) else {}


def stated(value: object, figure: Figure) -> Figure:
    """What a machine file says of a figure: `0.9`, `90 %`, or `[0.4, 0.5]`. Raises a problem in words."""
    if isinstance(value, list | tuple):
        if len(value) != 2:
            raise problem("is not a range", "[low, high]")
        low, high = (_amount(one) for one in value)
        if low > high:
            raise problem("begins above its end", "[low, high]")
        return figure.within(low, high)
    return figure.at(_amount(value))


def _amount(value: object) -> float:
    if isinstance(value, str):
        return quantity_value(value, "ratio")
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise problem(f"{nature(value)} stands where a figure is wanted", "a number, a share in %, or [low, high]")
    return number_value(value, "nonnegative", least=0.0, most=_MOST)
