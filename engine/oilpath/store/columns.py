"""What is searched for, taken from a document's plain data; a sheet that is half filled in has its columns too."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from typing import Any, Final

from oilpath.documents.nodes import read_nodes
from oilpath.documents.paths import KINDS as ALL_KINDS
from oilpath.documents.paths import kind_problem
from oilpath.documents.yaml_data import value_of
from oilpath.problems import Problem, UnusableInput
from oilpath.records import dataclass
from oilpath.store.names import resolved

KINDS: Final = ("sheet", "machine", "circuit")
_STATED: Final = re.compile(r"([a-z-]+)/[0-9]+")

Row = dict[str, Any]


class OtherKind(UnusableInput):
    """It is a file of ours of a kind that is not kept in the database, such as a closed job or a rule."""


@dataclass(frozen=True, slots=True)
class Indexed:
    """A document as it is looked for: the row of its kind, and of a sheet the outcomes of checks and found causes."""

    kind: str
    row: Row
    outcomes: tuple[Row, ...] = ()
    confirmed: tuple[Row, ...] = ()


def indexed(name: str, content: bytes) -> Indexed:
    """The columns of a document. Raises UnusableInput: it is no YAML, or not of a kind that is kept."""
    data = value_of(read_nodes(content, name))
    stated = data.get("oilpath") if isinstance(data, Mapping) else None
    found = _STATED.fullmatch(stated) if isinstance(stated, str) else None
    kind = found[1] if found is not None and found[1] in KINDS else "sheet"
    wrong = kind_problem(stated, kind)
    if wrong is not None:
        other = found is not None and found[1] in ALL_KINDS and found[1] not in KINDS
        raise (OtherKind if other else UnusableInput)([Problem(name, 1, "oilpath", *wrong)])
    if kind == "machine":
        title = _text(data.get("name")) or name
        circuit = _text(data.get("circuit"))
        return Indexed(kind, {"title": title, "circuit": circuit, "words": folded(name, title, circuit)})
    return _sheet(name, data) if kind == "sheet" else Indexed(kind, {})


def folded(*texts: str | None) -> str:
    """Texts to be searched in, a line each: no case, no width, no ligature makes a difference."""
    return unicodedata.normalize("NFKC", "\n".join(text for text in texts if text)).casefold()


def _sheet(name: str, data: Mapping[str, Any]) -> Indexed:
    named = data.get("machine")
    inline = named if isinstance(named, Mapping) else {}
    texts = {key: _text(data.get(key.replace("_", "-"))) for key in _TEXTS}
    history = data.get("history")
    title = _text(inline.get("name"))
    said = [_text(one) for one in (history if isinstance(history, list) else [history])]
    row: Row = {
        **{key: texts[key] for key in ("unit_number", "order_number", "serial_number", "date", "complaint")},
        "machine": resolved(name, named) if isinstance(named, str) else None,
        "machine_title": title or "",
        "hours": _number(data.get("hours")),
        "readings": len(_entries(data, "readings")),
        "closed": bool(_entries(data, "confirmed")),
        "words": folded(name, *texts.values(), *said, title),
    }
    outcomes = [
        {"check": _text(one.get("check")), "part": _text(one.get("part")), "outcome": _text(one.get("outcome"))}
        for one in _entries(data, "readings")
        if one.get("test") == "check"
    ]
    confirmed = [{key: _text(one.get(key)) for key in _CONFIRMED} for one in _entries(data, "confirmed")]
    return Indexed(
        "sheet",
        row,
        tuple(one for one in outcomes if one["check"] and one["outcome"]),
        tuple(one for one in confirmed if one["cause"]),
    )


_TEXTS: Final = ("unit_number", "order_number", "serial_number", "technician", "date", "complaint")
_CONFIRMED: Final = ("cause", "part", "how", "after")


def _entries(data: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
    found = data.get(key)
    entries = found if isinstance(found, list) else [found]
    return [one for one in entries if isinstance(one, Mapping)]


def _text(value: object) -> str | None:
    """A value as text; one that PostgreSQL cannot hold (half a character, NUL) without what it cannot hold."""
    if isinstance(value, str):
        return value.replace("\0", "").encode("utf-8", "replace").decode()[:_MOST] or None
    return str(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


_MOST: Final = 2000
_LARGE: Final = 1e9


def _number(value: object) -> float | None:
    if not isinstance(value, int | float) or isinstance(value, bool):
        return None
    return float(value) if abs(value) < _LARGE else None  # not for NaN


def references(name: str, content: bytes) -> Iterator[str]:
    """The documents that a document names (machine, circuit file, earlier sheets), by their names in the folder."""
    data = value_of(read_nodes(content, name))
    if not isinstance(data, Mapping):
        return
    machine = data.get("machine")
    inside = [data, *([machine] if isinstance(machine, Mapping) else [])]
    values: list[object] = [machine]
    for one in inside:
        values.append(one.get("circuit"))
        for key in ("baseline", "sister"):
            found = one.get(key)
            values += found if isinstance(found, list) else [found]
    values += [one.get("after") for key in ("confirmed", "remedies") for one in _entries(data, key)]
    for value in values:
        path = resolved(name, value) if isinstance(value, str) else None
        if path is not None:
            yield path
