"""Changes by path: the operations add, replace, remove and test of JSON Patch (RFC 6902) on a file's text."""

from __future__ import annotations

from typing import Any

from oilpath.documents.edit import Document
from oilpath.page.api.asked import wrong
from oilpath.page.api.models import Change
from oilpath.page.visit import Refused
from oilpath.problems import UnusableInput

Steps = tuple[str | int, ...]


def changed(document: Document, change: Change, key: str) -> Document:
    """The document with one change; `key` is what problems call it.

    Raises UnusableInput, Refused where a test does not hold.
    """
    where = f"{key}.path"
    path = _steps(document.as_read, change.path, where)
    if change.op != "remove" and "value" not in change.model_fields_set:
        raise wrong(f"{key}.value", "is missing", "the value at this path")
    try:
        match change.op:
            case "remove":
                return document.remove(path)
            case "test":
                if found(document.as_read, path) != change.value:
                    raise Refused(409, f"What stands at {change.path} is another value; nothing was written.")
                return document
            case "replace":
                found(document.as_read, path)
                return document.set(path, change.value)
            case "add":
                return _added(document, path, change.value, where)
    except LookupError:
        raise wrong(where, "there is no such place in the document", "a JSON pointer to a place in it") from None
    except UnusableInput:
        raise
    except ValueError:
        raise wrong(f"{key}.value", "holds what a file cannot hold", "finite numbers, whole characters") from None


def _added(document: Document, path: Steps, value: Any, where: str) -> Document:
    holder = found(document.as_read, path[:-1]) if len(path) > 1 else document.as_read
    if not isinstance(holder, list):
        if not isinstance(holder, dict):
            raise LookupError
        return document.set(path, value)
    if path[-1] != len(holder):
        raise wrong(where, "an entry can be added at the end of a list only", "the path of the list with /-")
    return document.append(path[:-1], value)


def found(data: Any, path: Steps) -> Any:
    """What stands at a path. Raises LookupError."""
    for step in path:
        inside = isinstance(data, list) and isinstance(step, int) and 0 <= step < len(data)
        if not inside and not (isinstance(data, dict) and step in data):
            raise LookupError
        data = data[step]
    return data


def _steps(data: Any, pointer: str, where: str) -> Steps:
    """A JSON pointer (RFC 6901) as the steps of a path; `-` of a list is the place after its last entry."""
    if not pointer.startswith("/"):
        raise wrong(where, "is no JSON pointer into the document", "such as /readings/0/note")
    steps: list[str | int] = []
    for text in pointer.split("/")[1:]:
        step = text.replace("~1", "/").replace("~0", "~")
        if isinstance(data, list):
            number = len(data) if step == "-" else int(step) if step.isascii() and step.isdecimal() else -1
            steps.append(number)
            data = data[number] if 0 <= number < len(data) else None
        else:
            steps.append(step)
            data = data.get(step) if isinstance(data, dict) else None
    return tuple(steps)
