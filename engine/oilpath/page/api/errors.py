"""What is wrong, as data: `error/1`, each problem with a JSON pointer into its document."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from starlette.responses import JSONResponse, Response

from oilpath.problems import Problem, key_text

Json = dict[str, Any]


def error_response(
    status: int, says: str, problems: Iterable[Problem] = (), *, sheet: str | None = None,
    documents: Mapping[str, Any] | None = None, more: Mapping[str, Any] | None = None,
) -> Response:  # fmt: skip
    """`error/1` with a status. documents: the data of those that problems may be of, by name; what has no problem of a
    document says what it is as its only problem."""
    says = says.removesuffix(":")
    found = tuple(problems) or (Problem("-", 1, "-", says),)
    known = documents or {}
    return JSONResponse(
        {
            "oilpath": "error/1",
            "message": says,
            **({} if sheet is None else {"sheet": sheet}),
            "problems": [_problem(one, known.get(one.file)) for one in found],
            **(more or {}),
        },
        status,
    )


def _problem(one: Problem, data: Any) -> Json:
    return {
        "file": one.file,
        "line": one.line,
        "key": one.key,
        "pointer": pointer_of(one.key, data),
        "message": one.message,
        "accepted": one.accepted,
    }


def pointer_of(key: str, data: Any = None) -> str:
    """The key of a problem (`readings[2].times[0]`) as a JSON pointer (RFC 6901): `/readings/2/times/0`.

    data: what the document holds, by which a point or bracket in a name is told from one between names.
    """
    steps: list[str] = []
    rest = "" if key == "-" else key
    while rest:
        step, rest, data = _step(rest, data)
        steps.append(step)
    return "".join("/" + step.replace("~", "~0").replace("/", "~1") for step in steps)


def _step(text: str, data: Any) -> tuple[str, str, Any]:
    """The first step of a key, what follows it, and the data there."""
    if text.startswith("["):
        number, _, rest = text[1:].partition("]")
        inside = isinstance(data, list) and number.isdecimal() and int(number) < len(data)
        return number, rest.removeprefix("."), data[int(number)] if inside else None
    names = [name for name in data if isinstance(name, str)] if isinstance(data, dict) else []
    for name in sorted(names, key=len, reverse=True):
        said = key_text([name])
        rest = text.removeprefix(said)
        if text.startswith(said) and rest[:1] in ("", ".", "["):
            return name, rest.removeprefix("."), data[name]
    ends = [at for sign in ".[" if (at := text.find(sign, 1)) > 0]
    end = min(ends, default=len(text))
    return text[:end], text[end:].removeprefix("."), None
