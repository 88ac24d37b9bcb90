"""What the YAML parser complains of, in plain words and without the file's text."""

from __future__ import annotations

from typing import Final

import yaml

# A piece of the parser's own message -> what is wrong, what is accepted. First match counts.
_SENTENCES: Final[tuple[tuple[str, str, str], ...]] = (
    ("mapping values are not allowed",
     "a colon where no key can stand", "one `key: value` a line; text that holds `: ` in quotes"),
    ("found unexpected ':'", "a colon in the middle of a text between brackets", "put the text in quotes"),
    ("could not find expected ':'",
     "a line without a colon, or indented too little", "`key: value`"),
    ("tab character", "a tab where spaces are expected", "indent with spaces"),
    ("'\\t' that cannot start any token", "a tab where spaces are expected", "indent with spaces"),
    ("cannot start any token",
     "a value cannot start with this character", "put the text in quotes"),
    ("document indicator", "a line of --- or ... inside a quoted text", "close the quotation mark"),
    ("unknown escape", "an unknown escape after a backslash in double quotes",
     "single quotes, where a backslash is text"),
    ("expected hexdecimal", "an incomplete escape after a backslash", "\\uXXXX with four digits"),
    ("hexadecimal", "an incomplete escape after a backslash", "\\uXXXX with four digits"),
    ("invalid Unicode character escape", "an escape that names no character", "a valid character"),
    ("nesting", "nested too deeply", "at most 64 levels"),
    ("' or ']'", "a list that opens with [ goes wrong here", "commas between the values, ] at the end"),
    ("' or '}'", "a mapping that opens with { goes wrong here",
     "commas between the entries, } at the end"),
    ("<document start>", "text behind the end of the mapping", "one mapping in a file"),
    ("' indicator", "this line does not belong to the list above it",
     "the same indentation and `- ` for each value of a list"),
    ("expected <block end>", "this line does not fit the lines above it",
     "the same indentation for all keys of a mapping"),
    ("expected key", "this line does not fit the lines above it",
     "the same indentation for all keys of a mapping; text after a quoted text not at all"),
    ("node content", "a value is missing here", "a value, or text in quotes"),
    ("sequence entries are not allowed", "a list cannot start here",
     "`- ` on a line of its own, or [a, b]"),
    ("mapping keys are not allowed", "a `?` where no key can stand", "put the text in quotes"),
    ("alphabetic or numeric", "& or * without a name", "put the text in quotes"),
    ("indentation indicator", "a wrong number after | or >", "| alone"),
    ("comment or", "text behind | or >", "the text on the lines below"),
    ("leading empty line", "an empty line indented more than the text", "the same indentation"),
)  # fmt: skip


def in_plain_words(error: yaml.MarkedYAMLError, text: str) -> tuple[int, str, str]:
    """Line (from 1), what is wrong, what is accepted.

    Nothing of the file is in it; the parser's own message is never shown.
    """
    problem, context = error.problem or "", error.context or ""
    mark = error.problem_mark or error.context_mark
    line = mark.line + 1 if mark is not None else 1
    start = error.context_mark.line + 1 if error.context_mark is not None else line
    if "quoted scalar" in context and "end of stream" in problem:
        return start, "a quotation mark that is never closed", "the same mark at the end of the text"
    if "tag" in problem or "tag" in context:
        return line, "a tag (a word that starts with !)", "leave it out, or quote the text"
    if "directive" in problem or "directive" in context:
        return line, "a directive (a line that starts with %)", "leave it out"
    if "cannot start any token" in problem and mark is not None and text.startswith("\t", mark.index):
        problem = "tab character"
    if "simple key" in context:
        line = start  # of the text that should have been a key; the parser notices later
    at_end = mark is not None and not text[mark.index :].strip()
    for piece, message, accepted in _SENTENCES:
        if piece in problem:
            if piece.startswith("' or"):
                bracket = "[" if "]" in piece else "{"
                if at_end:
                    return start, f"a {bracket} that is never closed", accepted
                if start != line:
                    message = f"{message} (it opens on line {start})"
            return line, message, accepted
    return line, "this is not well-formed YAML", "YAML or JSON text"
