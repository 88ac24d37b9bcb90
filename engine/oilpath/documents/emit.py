"""Write plain data as YAML on one line, so that our reader reads the same data back."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from typing import Any, Final

from oilpath.documents.scalars import BadScalar, resolved

# Text that needs no quotes anywhere, not within brackets either; no colon, though some would do.
_PLAIN: Final = re.compile(r"[^\W_](?:[\w ./%°+*'()&;²³-]*[\w./%°+*'()&;²³-])?")
# What a text may not hold as it is, or what some parsers take for the end of a line.
_ESCAPED: Final = re.compile("[\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]")


def emitted(value: Any, *, as_json: bool = False) -> str:
    """A value on one line; `as_json` with quotes everywhere, for a file that is JSON.

    Raises ValueError for what a file cannot hold: NaN, infinity, half a character, other types.
    """
    if value is None or isinstance(value, bool):
        return json.dumps(value)
    if isinstance(value, int | float):
        if not math.isfinite(value):
            raise ValueError("a file holds finite numbers only")
        return repr(value)
    if isinstance(value, str):
        return _text(value, as_json)
    if isinstance(value, Mapping):
        inside = ", ".join(
            f"{emitted(str(key), as_json=as_json)}: {emitted(one, as_json=as_json)}" for key, one in value.items()
        )
        return f"{{{inside}}}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(emitted(one, as_json=as_json) for one in value)}]"
    raise ValueError(f"a file cannot hold a {type(value).__name__}")


def _text(value: str, as_json: bool) -> str:
    if not as_json and _PLAIN.fullmatch(value):
        try:
            if resolved(value) == value:
                return value
        except BadScalar:
            pass
    value.encode("utf-8")  # UnicodeEncodeError, a ValueError, on half a character
    return _ESCAPED.sub(lambda found: f"\\u{ord(found.group()):04x}", json.dumps(value, ensure_ascii=False))
