"""Turn plain data into frozen pydantic models. Every error is reported in plain words at its place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from copy import deepcopy
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from oilpath.documents.location import MAX_HINTS, Location
from oilpath.documents.nodes import Node, plain
from oilpath.documents.yaml_data import value_of
from oilpath.knowledge.fields import Entry, hint, kebab, nature
from oilpath.problems import Problems, key_text

Path = tuple[str | int, ...]
M = TypeVar("M", bound=BaseModel)
E = TypeVar("E", bound=Entry)


def data_of(node: Node) -> tuple[Any, Mapping[Path, tuple[int, int]]]:
    """Plain data with text keys exactly as written, and the (line, column) of every path."""
    return value_of(node), plain(node).where


def line_of(where: Mapping[Path, tuple[int, int]], path: Path) -> int:
    """Line of the nearest known place at or above `path`."""
    while path not in where and path:
        path = path[:-1]
    return where.get(path, (1, 1))[0]


def known_keys(model: type[BaseModel]) -> list[str]:
    """The keys that a mapping of this model may have."""
    return [field.alias or kebab(name) for name, field in model.model_fields.items()]


def model_from(node: Node, model: type[M], file: str, problems: Problems) -> M | None:
    """The node as `model`, or None with every error added to `problems`."""
    data, where = data_of(node)
    return model_from_data(data, where, model, file, problems)


def model_from_data(
    data: Any,
    where: Mapping[Path, tuple[int, int]],
    model: type[M],
    file: str,
    problems: Problems,
    at: Path = (),
) -> M | None:
    """As `model_from`, for plain data that stands at path `at` of the file."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        for path, message, accepted in _said(error, model, data, problems):
            problems.add(file, line_of(where, at + path), key_text(at + path), message, accepted)
    return None


def drafted(model: type[E], location: Location) -> E | None:
    """The data at `location` as a draft. Wrong entries are reported and left out; None if nothing is left."""
    if not location.mapping(model.called):
        return None
    for key, accepted in model.needed.items():
        location.need(key, model.called, accepted)
    try:
        return model.model_validate(location.value)
    except ValidationError as error:
        said = list(_said(error, model, location.value, location.file.problems))
    for path, message, accepted in said:
        location.below(*path).wrong(message, accepted)
    rest = deepcopy(location.value)
    for path, _, _ in said:
        _take_out(rest, path)
    try:
        return model.model_validate(rest)
    except ValidationError as error:  # an entry that lacks something, or a list that takes no gap: the whole of it goes
        for path, _, _ in _said(error, model, rest, location.file.problems):
            rest.pop(path[0] if path else "", None)
    try:
        return model.model_validate(rest)
    except ValidationError:  # without a key that it must have
        return None


def _take_out(data: Any, path: Path) -> None:
    """Remove the entry of a mapping, or leave a gap in a list."""
    for step in path[:-1]:
        data = data.get(step) if isinstance(data, dict) else data and data[step]
    if isinstance(data, dict):
        data.pop(path[-1], None)
    elif data:
        data[path[-1]] = None


def _said(
    error: ValidationError, model: type[BaseModel], data: Any, problems: Problems
) -> Iterator[tuple[Path, str, str]]:
    """The mistakes, each once: path in the file, what is wrong, what is accepted."""
    for number, entry in enumerate(error.errors(include_url=False)):
        near = len(problems) + number < MAX_HINTS
        yield _file_path(entry["loc"], data), *_words(entry, model, near)


def _file_path(loc: tuple[int | str, ...], data: Any) -> Path:
    """The part of a pydantic location that exists in the file (union tags and the like left out)."""
    path: list[str | int] = []
    for step in loc:
        name = kebab(step) if isinstance(step, str) and isinstance(data, dict) and step not in data else step
        if isinstance(data, dict) and isinstance(name, str):
            path.append(name)
            data = data.get(name)
        elif isinstance(data, list | tuple) and isinstance(step, int) and step < len(data):
            path.append(step)
            data = data[step]
    return tuple(path)


def _words(entry: Any, model: type[BaseModel], near: bool) -> tuple[str, str]:
    """A pydantic error in plain words: (what is wrong, what is accepted)."""
    kind, context, given, loc = entry["type"], entry.get("ctx", {}), entry.get("input"), entry["loc"]
    if given is None and kind != "missing":
        return "is left empty", str(context.get("accepted") or context.get("expected") or "text")
    if kind == "oilpath":
        return str(context["message"]), str(context.get("accepted", ""))
    if kind == "missing":
        return f"is missing in {_called(_model_at(model, loc[:-1]))}", "this key with its value"
    if kind == "extra_forbidden":
        owner = _model_at(model, loc[:-1])
        known = known_keys(owner) if owner else []
        return f"is not a key of {_called(owner)}", hint(str(loc[-1]), known, near=near)
    if kind in ("literal_error", "enum"):
        return "is not one of the accepted words", str(context.get("expected", ""))
    if kind in ("dict_type", "model_type", "model_attributes_type", "mapping_type"):
        owner = _model_at(model, loc) if kind != "dict_type" else None
        wanted = (
            owner.called if owner is not None and issubclass(owner, Entry) else _description(model, loc, "a mapping")
        )
        return f"{nature(given)} where {wanted} is expected", "a mapping of keys and values"
    if kind in ("list_type", "tuple_type"):
        wanted = _description(model, loc, "a list")
        return f"{nature(given)} where {wanted} is expected", "a list in [ ] or lines that start with -"
    if kind == "too_long":
        return f"{len(given):,} entries are too many", f"at most {context['max_length']:,}"
    if kind == "too_short":
        return "has too few entries", f"at least {context['min_length']}"
    if kind == "string_pattern_mismatch":
        return "has the wrong form", f"text like {context.get('pattern', '')}"
    if kind == "string_type":
        return f"{nature(given)} where a text is expected", "one text"
    return str(entry["msg"]).lower(), ""


def _called(model: type[BaseModel] | None) -> str:
    return model.called if model is not None and issubclass(model, Entry) else Entry.called


def _description(model: type[BaseModel], loc: tuple[int | str, ...], otherwise: str) -> str:
    """What a field says that it wants."""
    owner = _model_at(model, loc[:-1])
    for name, field in (owner.model_fields if owner is not None else {}).items():
        if (field.alias or kebab(name)) == loc[-1] and field.description:
            return field.description
    return otherwise


def _model_at(model: type[BaseModel], loc: tuple[int | str, ...]) -> type[BaseModel] | None:
    """The model class that stands at a location, found by walking the annotations."""
    current: Any = model
    for step in loc:
        fields = getattr(current, "model_fields", None)
        if fields is not None and isinstance(step, str):
            named = {field.alias or kebab(name): field for name, field in fields.items()}
            if step not in named:
                continue
            current = _inner(named[step].annotation)
    return current if isinstance(current, type) and issubclass(current, BaseModel) else None


def _inner(annotation: Any) -> Any:
    """The first model class inside an annotation such as `tuple[X, ...]`, `dict[str, X]`, `X | None`."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for argument in getattr(annotation, "__args__", ()):
        found = _inner(argument)
        if found is not None:
            return found
    return None
