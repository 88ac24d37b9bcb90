"""Decode bytes to text for the YAML parser; refuse files that are too large or hold characters YAML forbids."""

from __future__ import annotations

import re
from typing import Final

from yaml.reader import Reader

from oilpath.problems import Problem, UnusableInput

MAX_BYTES: Final = 1024 * 1024

_BREAK: Final = re.compile(r"\r\n|\r|\n")
_REFUSED: Final = Reader.NON_PRINTABLE  # the parser's own; to compile it anew takes 8 ms
_UTF16: Final = (b"\xff\xfe", b"\xfe\xff", b"\x00\x00\xfe\xff")
# An escaped UTF-16 half, its backslash not itself escaped.
_HALF: Final = re.compile(r"(?<!\\)((?:\\\\)*)\\(?=u[dD][89a-fA-F][0-9a-fA-F]{2})")


def _single(file: str, line: int, message: str, accepted: str = "") -> UnusableInput:
    return UnusableInput([Problem(file, line, "-", message, accepted)])


def line_at(before: str) -> int:
    """The number of the line (from 1) at the end of `before`."""
    return 1 + sum(1 for _ in _BREAK.finditer(before))


def decoded(text: bytes | str, file: str) -> str:
    """The text without its byte-order mark. Raises UnusableInput: too large, binary, not UTF-8."""
    size = len(text)
    if isinstance(text, str) and MAX_BYTES // 4 < size <= MAX_BYTES:
        size = len(text.encode("utf-8", "surrogatepass"))
    if size > MAX_BYTES:
        raise _single(file, 1, "the text is larger than 1 MiB", "at most 1 MiB")
    if isinstance(text, bytes):
        if text.startswith(_UTF16):
            raise _single(file, 1, "the file is UTF-16 or UTF-32", "a file saved as UTF-8")
        if b"\x00" in text:
            raise _single(file, 1, "the file is binary, not text", "YAML or JSON text in UTF-8")
        try:
            text = text.decode("utf-8")
        except UnicodeDecodeError as error:
            line = line_at(error.object[: error.start].decode("latin-1"))
            message = f"byte {error.start + 1} of the file is not UTF-8"
            raise _single(file, line, message, "a file saved as UTF-8") from None
    return text.removeprefix("\ufeff")


def refuse_odd_characters(text: str, file: str) -> None:
    """Raises UnusableInput at the first character that YAML does not allow."""
    found = _REFUSED.search(text)
    if found is None:
        return
    char, before = found.group(), text[: found.start()]
    column = found.start() - max(before.rfind("\n"), before.rfind("\r"))
    if char == "\0":
        message = "the text holds a NUL character, so it is binary"
    elif "\ud800" <= char <= "\udfff":
        message = f"half a character (a lone surrogate) at column {column}"
    else:
        message = f"a control character at column {column}"
    raise _single(file, line_at(before), message, "printable text in UTF-8")


class Marked:
    """The text with what the parser trips over marked by characters it does not hold.

    The parser takes U+0085, U+2028 and U+2029 for line breaks, as YAML 1.1 did; in 1.2
    they are text. It also refuses escaped surrogates, which JSON writes in pairs; whether
    such an escape is one depends on the quotes around it, known only after parsing.
    """

    _BREAKS: Final = "\x85\u2028\u2029"

    def __init__(self, text: str) -> None:
        self.halves = self.breaks = False
        self.text = text
        if not any(char in text for char in self._BREAKS) and _HALF.search(text) is None:
            return
        used = set(text)
        free = [chr(code) for code in range(0xE000, 0xF900) if chr(code) not in used][:4]
        if len(free) < 4:  # thousands of private-use characters: nobody's sheet
            return
        self._half = free[0]
        self._to = dict(zip(map(ord, self._BREAKS), free[1:], strict=True))
        self._back = {ord(mark): chr(code) for code, mark in self._to.items()}
        marked, count = _HALF.subn(lambda m: m.group(1) + self._half, text)
        self.halves, self.breaks = count > 0, True
        self.text = marked.translate(self._to)
        self._pair = re.compile(f"{self._half}u([dD][89abAB]..){self._half}u([dD][c-fC-F]..)", re.DOTALL)

    def undone(self, value: str, double_quoted: bool) -> tuple[str, bool]:
        """The scalar as meant, and whether it holds a lone surrogate."""
        if self.breaks:
            value = value.translate(self._back)
        if not self.halves or self._half not in value:
            return value, False
        if not double_quoted:
            return value.replace(self._half, "\\"), False
        value = self._pair.sub(_joined, value)
        return value.replace(self._half, "\\"), self._half in value


def _joined(pair: re.Match[str]) -> str:
    high, low = (int(half, 16) for half in pair.groups())
    return chr(0x10000 + ((high - 0xD800) << 10) + (low - 0xDC00))
