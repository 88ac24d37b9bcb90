"""Decimal commas: `3,9 MPa` within brackets reads as a number and a key, and gives problems that hide the mistake.

The lines with problems are read again with points for their commas. Where that leaves fewer problems, one that names
the commas, with the line as it is right, takes the place of those that are gone.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from typing import Final

from oilpath.problems import Problem

_COMMA: Final = re.compile(r"(?<![\w.])([+-]?[0-9]+),([0-9]+)")
_THOUSANDS: Final = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}")
_PLACE: Final = re.compile(r"[^.\[]+(?:\[[0-9]+\])?")
_LONGEST: Final = 400


def explain_commas(
    problems: Sequence[Problem], file: str, text: str, read_again: Callable[[str], Iterable[Problem]]
) -> tuple[Problem, ...]:
    """The problems of a file, with one for the decimal commas of a line in place of what comes of them.

    `read_again` gives the problems that another text in the file's place would have.
    """
    lines = text.splitlines(keepends=True)
    mended: dict[int, str] = {}
    for number in {problem.line for problem in problems if problem.file == file}:
        line = lines[number - 1] if number <= len(lines) else ""
        if len(line) <= _LONGEST and _COMMA.search(line):
            mended[number] = _COMMA.sub(r"\1.\2", line)
    if not mended:
        return tuple(problems)
    other = "".join(mended.get(number, line) for number, line in enumerate(lines, 1))
    again = [problem for problem in read_again(other) if problem.file == file]
    said: list[Problem] = []
    for number, right in mended.items():
        before = [problem for problem in problems if problem.file == file and problem.line == number]
        left = [problem for problem in again if problem.line == number]
        if len(left) < len(before):
            said += [_said(before, lines[number - 1], right), *left]
        else:
            said += before
    rest = [problem for problem in problems if problem.file != file or problem.line not in mended]
    return tuple(sorted((*rest, *said), key=lambda one: (one.file, one.line)))


def _said(before: Sequence[Problem], written: str, right: str) -> Problem:
    problem = before[0]
    found = list(dict.fromkeys(match.group() for match in _COMMA.finditer(written)))
    place = _PLACE.match(problem.key)
    # Several problems are of pieces of a value that was cut at its commas; what holds them has a name.
    key = place.group() if place is not None and len(before) > 1 else problem.key
    shown = ", ".join(f"`{number}`" for number in found)
    many = next((number for number in found if _THOUSANDS.fullmatch(number)), None)
    if many is not None:  # 1,900 rpm: thousands, or a comma for the point
        accepted = f"no comma in a number: {many.replace(',', '')} or {many.replace(',', '.')}, whichever it is"
        return Problem(problem.file, problem.line, key, f"`{many}` has a comma in its number", accepted)
    message = f"{shown} {'is' if len(found) == 1 else 'are'} written with a decimal comma"
    return Problem(problem.file, problem.line, key, message, f"a decimal point: {right.strip()}")
