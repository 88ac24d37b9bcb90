"""Read a typed line: numbers with units, words, codes."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from typing import Any, Final

from pydantic_core import PydanticCustomError

from oilpath.knowledge.fields import date_value, number_value, text_value

_AMOUNT: Final = re.compile(r"([+-]?(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+))(.*)", re.DOTALL)
_CODE: Final = re.compile(r"([0-9]{1,6})\s*[-/ ]\s*([0-9]{1,2})")
_STORED: Final = "stored"
TODAY: Final = "today"


class Unclear(Exception):
    """An answer that cannot be taken: what is wrong, what is accepted, and what was perhaps meant."""

    def __init__(self, message: str, accepted: str = "", likely: str | None = None) -> None:
        super().__init__(message, accepted)
        self.message, self.accepted, self.likely = message, accepted, likely


def is_amount(text: str) -> bool:
    """Whether a text begins with a number."""
    return _AMOUNT.match(text) is not None


def pieces(text: str) -> Iterator[tuple[str, str]]:
    """Numbers with the units that follow them; `.7` takes the whole part of the first number. Raises Unclear."""
    found: list[list[str]] = []
    for word in text.split():
        match = _AMOUNT.fullmatch(word)
        if match is not None:
            found.append([_plain(match.group(1), found, text), match.group(2)])
        elif found:
            found[-1][1] += word
        else:
            raise Unclear("no-number")
    if not found:
        raise Unclear("no-number")
    # A unit holds for the numbers before it that have none.
    for number in range(len(found) - 2, -1, -1):
        found[number][1] = found[number][1] or found[number + 1][1]
    yield from ((number, unit) for number, unit in found)


def _plain(number: str, before: Sequence[Sequence[str]], text: str) -> str:
    if "," in number:
        raise Unclear("comma", likely=re.sub(r"(?<=[0-9]),(?=[0-9])|,(?=[0-9])", ".", text))
    if number.lstrip("+-").startswith("."):
        return (before[0][0].partition(".")[0] if before else "0") + number.lstrip("+-")
    return number


def number_of(text: str) -> float | int:
    match = _AMOUNT.fullmatch(text)
    if match is None or match.group(2).strip():
        raise Unclear("no-number")
    number = float(_plain(match.group(1), [], text))
    return int(number) if number == int(number) else number


def taken(read: Any, value: Any, *given: Any) -> Any:
    """Check a value by a field's rule and return it. Raises Unclear with the message of that rule."""
    try:
        read(value, *given)
    except PydanticCustomError as error:
        context = error.context or {}
        raise Unclear(str(context.get("message", error)), str(context.get("accepted", ""))) from None
    return value


def head_value(name: str, text: str) -> Any:
    """The value of a key of the head. A date may be typed as `today`, or its first letters."""
    if name == "hours":
        plain = text.removesuffix("h").rstrip()  # 6120 h
        return taken(lambda value: number_value(value, "nonnegative", most=200_000.0), number_of(plain))
    if name == "date" and TODAY.startswith(text.lower()):
        return date.today().isoformat()
    return taken(date_value if name == "date" else text_value, text)


def found_by(text: str, known: Iterable[tuple[int, str]]) -> int:
    """The number of the first id whose words begin with the words typed. Raises Unclear if there is none."""
    wanted = text.lower().split()
    for number, id_ in known:
        words = id_.replace("/", " ").replace("-", " ").split()
        if wanted and all(any(word.startswith(one) for word in words) for one in wanted):
            return number
    raise Unclear("no-step")


def word_of(text: str, words: Sequence[str]) -> str:
    """The word that begins with the letters typed. Raises Unclear if there is not exactly one."""
    fitting = [word for word in words if word.startswith(text.lower())] if text else []
    exact = [word for word in fitting if word == text.lower()]
    if len(exact or fitting) != 1:
        raise Unclear("no-word", ", ".join(words))
    return (exact or fitting)[0]


def code_of(text: str) -> dict[str, Any]:
    """A code as typed: `520201-4`, `520201-4 stored`, or another as a text."""
    head, _, last = text.rpartition(" ")
    stored = last.lower() == _STORED
    shown = head if stored else text
    found = _CODE.fullmatch(shown.strip())
    what = {"spn": int(found.group(1)), "fmi": int(found.group(2))} if found else {"text": taken(text_value, shown)}
    return {**what, "active": not stored}
