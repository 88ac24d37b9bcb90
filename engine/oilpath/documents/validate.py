"""From YAML nodes to frozen pydantic models, with every error mapped back to its line and key."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from oilpath.documents.nodes import Node, plain
from oilpath.knowledge.fields import TEXT_KEYS, kebab
from oilpath.problems import Problems, key_text, nearest

Path = tuple[str | int, ...]
M = TypeVar("M", bound=BaseModel)


def data_of(node: Node) -> tuple[Any, Mapping[Path, tuple[int, int]]]:
    """Plain data with text keys exactly as written, and the (line, column) of every path."""
    read = plain(node)
    for path, raw in read.raw.items():
        names = [step for step in path[-2:] if isinstance(step, str)]
        if names and names[-1] in TEXT_KEYS and _value(read.data, path) is not None:
            _value(read.data, path[:-1])[path[-1]] = raw
    return read.data, read.where


def _value(data: Any, path: Path) -> Any:
    for step in path:
        data = data[step]
    return data


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
        for entry in error.errors(include_url=False):
            path = at + _file_path(entry["loc"], data)
            message, accepted = _words(entry, model)
            problems.add(file, line_of(where, path), key_text(path), message, accepted)
    return None


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


def _words(entry: Any, model: type[BaseModel]) -> tuple[str, str]:
    """A pydantic error in plain words: (what is wrong, what is accepted)."""
    kind, context, given = entry["type"], entry.get("ctx", {}), entry.get("input")
    if kind == "oilpath":
        return str(context["message"]), str(context.get("accepted", ""))
    if kind == "missing":
        return "is missing", "this key with its value"
    if kind == "extra_forbidden":
        owner = _model_at(model, entry["loc"][:-1])
        known = known_keys(owner) if owner else []
        name = str(entry["loc"][-1])
        like = nearest(name, known)
        return "is no key of this mapping", f"did you mean {like}?" if like else ", ".join(known)
    if kind in ("literal_error", "enum"):
        return "is not one of the accepted words", str(context.get("expected", ""))
    if kind in ("dict_type", "model_type", "model_attributes_type", "mapping_type"):
        return "is not a mapping", "keys and values"
    if kind in ("list_type", "tuple_type"):
        return "is not a list", "a list"
    if kind in ("too_short", "too_long"):
        least = context.get("min_length", context.get("max_length"))
        return "has too few entries" if kind == "too_short" else "has too many entries", f"{least}"
    if kind == "string_pattern_mismatch":
        return "has the wrong form", f"text like {context.get('pattern', '')}"
    if kind == "string_type":
        return f"is {'nothing' if given is None else 'not text'}", "text"
    return str(entry["msg"]).lower(), ""


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
