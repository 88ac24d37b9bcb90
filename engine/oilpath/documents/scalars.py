"""What a plain scalar means: the core schema of YAML 1.2, with decimal numbers only."""

from __future__ import annotations

import re
from typing import Final

MAX_DIGITS: Final = 300

_WORDS: Final[dict[str, object]] = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL")),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}
_INT: Final = re.compile(r"[-+]?(?:0|[1-9][0-9]*)")
_FLOAT: Final = re.compile(r"[-+]?(?:\.[0-9]+|(?:0|[1-9][0-9]*)(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?")
_NO_NUMBER: Final = re.compile(r"[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)")
_NUMERIC_START: Final = frozenset("+-.0123456789")

#: Half a character, which no text may hold.
SURROGATE: Final = re.compile("[\ud800-\udfff]")


class BadScalar(ValueError):
    """A plain scalar that is not a value; args: message, accepted."""


def resolved(text: str) -> object:
    """The value of a plain scalar.

    A number with leading zeros is text; so is one that no float holds (``4E5678``
    is somebody's serial number), and so are NaN and infinity. Raises BadScalar: hundreds of digits.
    """
    if text in _WORDS:
        return _WORDS[text]
    if text[0] not in _NUMERIC_START:
        return text
    if _NO_NUMBER.fullmatch(text):
        return text  # a problem of whatever takes a number there, so that the file's other problems are said with it
    whole = _INT.fullmatch(text)
    if not whole and not _FLOAT.fullmatch(text):
        return text
    if len(text) > MAX_DIGITS:
        raise BadScalar(f"a number of {len(text):,} characters", f"a number of at most {MAX_DIGITS} digits")
    if whole:
        return int(text)
    value = float(text)
    overflow = value in (float("inf"), float("-inf"))
    mantissa = re.split("[eE]", text)[0]
    underflow = value == 0.0 and mantissa.strip("+-.0") != ""
    return text if overflow or underflow else value
