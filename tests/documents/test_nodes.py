"""YAML and JSON text to nodes: what is taken, what is refused, how it is said."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from oilpath.documents.nodes import MAX_BYTES, MAX_DEPTH, MAX_NODES, plain, read_file, read_nodes
from oilpath.problems import UnusableInput

SECRET = "hunter2"


def data(text: bytes | str) -> Any:
    return plain(read_nodes(text, "f.yaml")).data


def said(text: bytes | str) -> list[str]:
    with pytest.raises(UnusableInput) as caught:
        read_nodes(text, "f.yaml")
    lines = str(caught.value).split("\n")
    assert len(lines) == len(caught.value.problems)
    assert all(line.isprintable() for line in lines)
    return lines


# --- what is taken ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("scalar", "value"),
    [
        # YAML 1.2.2, 10.3.2 (core schema), less octal and hexadecimal numbers
        ("", None), ("~", None), ("null", None), ("Null", None), ("NULL", None), ("nULL", "nULL"),
        ("true", True), ("True", True), ("TRUE", True), ("false", False), ("False", False), ("FALSE", False),
        ("tRUE", "tRUE"), ("0", 0), ("-0", 0), ("+12", 12), ("-3", -3), ("8450", 8450), ("1.0", 1.0), ("-0.5", -0.5),
        (".5", 0.5), ("5.", 5.0), ("1e3", 1000.0), ("1E-3", 0.001), ("1.5e+3", 1500.0),
        # words of YAML 1.1 that are text in 1.2
        ("yes", "yes"), ("no", "no"), ("on", "on"), ("off", "off"), ("Off", "Off"), ("y", "y"), ("NO", "NO"),
        ("2026-05-14", "2026-05-14"), ("2026-05-14 10:00:00", "2026-05-14 10:00:00"), ("12:30:45", "12:30:45"),
        ("1_000", "1_000"), ("0b101", "0b101"), ("=", "="), ("0x1F", "0x1F"), ("0o7", "0o7"), ("007", "007"),
        ("-007", "-007"), ("00.5", "00.5"), ("1,5", "1,5"), ("3.4 s", "3.4 s"), ("1.2.3", "1.2.3"), ("e5", "e5"),
        ("520201-4", "520201-4"), ("--5", "--5"), ("+", "+"), (".", "."), ("1e", "1e"), ("\uff15", "\uff15"),
        # no float holds them, and serial numbers look like this
        ("4E5678", "4E5678"), ("-4E5678", "-4E5678"), ("4E-5678", "4E-5678"), ("0e999", 0.0),
        ("123456789012345678901234567890", 123456789012345678901234567890),
        # quoted is always text
        ('"5"', "5"), ("'true'", "true"), ('""', ""), ("'~'", "~"), ('".nan"', ".nan"), ("|\n  5", "5\n"),
        # no number of a file: text, which whatever wants a number refuses together with the file's other problems
        (".NaN", ".NaN"), ("-.INF", "-.INF"),
        (">-\n  5", "5"),
        # YAML 1.2 knows no other line breaks than CR and LF
        ("a\x85b", "a\x85b"), ("a\u2028b\u2029c", "a\u2028b\u2029c"), ("a\xa0b", "a\xa0b"), ("😀", "😀"),
        # escapes are escapes in double quotes only; JSON writes characters beyond U+FFFF as pairs
        (r'"\ud83d\ude00"', "😀"), (r'"\uD83D\uDE00 \u00b0C"', "😀 °C"), (r'"\ud83d\ude00\ud83d\ude01"', "😀😁"),
        (r'"\U0001F600"', "😀"), (r'"\/"', "/"), (r'"\\ud83d\\ude00"', r"\ud83d\ude00"), (r'"\\\ud83d\ude00"', "\\😀"),
        (r"'\ud83d'", r"\ud83d"), (r"\ud83d", r"\ud83d"), (r"|-" + "\n  " + r"\ud83d\ude00", r"\ud83d\ude00"),
        ('"\\ud83d\\ude00 \x85"', "😀 \x85"),
    ],
)  # fmt: skip
def test_scalars_of_the_core_schema(scalar: str, value: object) -> None:
    found = data(f"a: {scalar}\n")["a"]
    assert found == value
    assert type(found) is type(value)


def test_numbers_are_also_given_as_written() -> None:
    result = plain(read_nodes("name: 1.50\nlist: [007, 1e3, true, null, '5', ~]\n", "f"))
    assert result.raw == {("name",): "1.50", ("list", 1): "1e3", ("list", 2): "true"}
    assert result.data == {"name": 1.5, "list": ["007", 1000.0, True, None, "5", None]}


def test_places_are_those_of_keys_and_items() -> None:
    result = plain(read_nodes("# x\na: 1\nb:\n  - c: 2\n    d:\n      3\n  - [4,\n     5]\n", "f"))
    assert result.where == {
        (): (2, 1), ("a",): (2, 1), ("b",): (3, 1), ("b", 0): (4, 5), ("b", 0, "c"): (4, 5), ("b", 0, "d"): (5, 5),
        ("b", 1): (7, 5), ("b", 1, 0): (7, 6), ("b", 1, 1): (8, 6),
    }  # fmt: skip
    assert result.data == {"a": 1, "b": [{"c": 2, "d": 3}, [4, 5]]}


def test_columns_hold_behind_joined_pairs() -> None:
    assert plain(read_nodes(r'{"a": "\ud83d\ude00", "b": 1}', "f")).where["b",] == (1, 23)


@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_lines_are_counted_for_every_line_ending(newline: str) -> None:
    text = newline.join(["a: 1", "b: \x85 \u2028", "c: 3", ""])
    assert plain(read_nodes(text, "f")).where["c",] == (3, 1)


@pytest.mark.parametrize(
    "text",
    [
        "---\na: 1\n",
        "a: 1\n...\n",
        "a: 1\n...\n# bye\n\n",
        "# hi\n\n--- # start\na: 1",
        "\ufeffa: 1",
        b"\xef\xbb\xbfa: 1\r\n",
        "{a: 1}",
        "{a: 1}\n# bye",
        '{"a":\t1}',
        '{\n\t"a": 1\n}\n',
        '{"a":1}',
        "a:\t1",
        "? a\n: 1",
        "a : 1",
    ],
)
def test_forms_of_one_mapping(text: bytes | str) -> None:
    assert data(text) == {"a": 1}


def test_aliases_are_expanded_and_stand_where_they_are_used() -> None:
    result = plain(read_nodes("a: &x {b: [1]}\nc: *x\nd: [*x]\n&k e: &k f\n*k : 2\n", "f"))
    assert result.data == {"a": {"b": [1]}, "c": {"b": [1]}, "d": [{"b": [1]}], "e": "f", "f": 2}
    assert result.where["c",] == (2, 1)
    assert result.where["d", 0] == (3, 5)
    assert result.data["a"] is not result.data["c"]


def test_the_bounds_themselves_are_taken() -> None:
    assert data("a: " + "[" * (MAX_DEPTH - 1) + "]" * (MAX_DEPTH - 1))
    assert len(data("a: [" + "1," * (MAX_NODES - 3) + "]")["a"]) == MAX_NODES - 3
    assert data("a: &x [" + "1," * 99 + "]\nb: [" + "*x," * 98 + "]\n")  # 9,904 values
    padding = "# " + "x" * (MAX_BYTES - 8) + "\n"
    assert data(padding + "a: 1\n") == {"a": 1}


JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**20), 10**20) | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x7f"), max_size=20),
    lambda inner: st.lists(inner, max_size=4)
    | st.dictionaries(st.text(st.characters(codec="ascii"), max_size=8), inner),
    max_leaves=12,
)  # fmt: skip


@given(st.dictionaries(st.text(max_size=10), JSON, max_size=4))
def test_json_is_read_as_json(value: dict[str, Any]) -> None:
    try:
        text = json.dumps(value)
        text.encode("utf-8")
        expected = json.loads(text)
        json.dumps(expected, ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError:  # lone surrogates are refused, see below
        return
    assert data(text) == expected


# --- what is refused ----------------------------------------------------------------

OURS = "oilpath: sheet/1\n"


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        pytest.param("", 1, "empty", id="empty"),
        pytest.param("\n\n  \n", 1, "empty", id="blank"),
        pytest.param("# only\n# comments", 1, "empty", id="comments"),
        pytest.param("---\n", 1, "empty", id="marker"),
        pytest.param("\ufeff", 1, "empty", id="bom-alone"),
        pytest.param("null", 1, "empty", id="null"),
        pytest.param("- a\n- b\n", 1, "a list", id="list-on-top"),
        pytest.param("\n5\n", 2, "a single value", id="number-on-top"),
        pytest.param("hunter2\n", 1, "a single value", id="text-on-top"),
        pytest.param("&a hunter2", 1, "a single value", id="anchored-text-on-top"),
        pytest.param(b"a: 1\n\x00\x01", 1, "binary", id="nul-bytes"),
        pytest.param(b"\x89PNG\r\n\x1a\n\x00\x00", 1, "binary", id="png"),
        pytest.param("a: \0", 1, "NUL", id="nul-in-text"),
        pytest.param("a: 1\nb: x\x07", 2, "control character at column 5", id="bell"),
        pytest.param("a: \x7f", 1, "control character", id="del"),
        pytest.param("a: \x1b[31m", 1, "control character", id="escape"),
        pytest.param("a: \uffff", 1, "control character", id="noncharacter"),
        pytest.param("a: 1\nb: \ud800", 2, "lone surrogate", id="surrogate-in-text"),
        pytest.param(b"a: 1\nb: \xe9t\xe9\n", 2, "byte 9 of the file is not UTF-8", id="latin-1"),
        pytest.param(b"a: \xed\xa0\x80", 1, "byte 4 of the file is not UTF-8", id="surrogate-in-utf-8"),
        pytest.param(b"a: \xc0\xaf", 1, "not UTF-8", id="overlong"),
        pytest.param("a: 1".encode("utf-16"), 1, "UTF-16", id="utf-16"),
        pytest.param("a: 1".encode("utf-16-be"), 1, "binary", id="utf-16-without-bom"),
        pytest.param("a: 1".encode("utf-32"), 1, "UTF-16 or UTF-32", id="utf-32"),
        pytest.param('a: 1\nb: "\\ud800"', 2, "lone surrogate", id="lone-high"),
        pytest.param('a: "\\udc00 x"', 1, "lone surrogate", id="lone-low"),
        pytest.param('a: "\\ude00\\ud83d"', 1, "lone surrogate", id="pair-turned-round"),
        pytest.param('"\\ud83d": 1', 1, "lone surrogate", id="lone-in-key"),
        pytest.param('a: "\\U0000d800"', 1, "", id="long-lone"),
        pytest.param('a: "\\U00110000"', 1, "", id="beyond-unicode"),
        pytest.param('a: "\\q"', 1, "escape", id="unknown-escape"),
        pytest.param('a: "\\u12"', 1, "escape", id="short-escape"),
        pytest.param("%YAML 1.2\n---\na: 1", 1, "directive", id="yaml-directive"),
        pytest.param("# x\n%TAG ! tag:x,2000:\n---\na: 1", 2, "directive", id="tag-directive"),
        pytest.param("%FOO\n---\na: 1", 1, "directive", id="unknown-directive"),
        pytest.param("a: 1\n---\nb: 2\n", 2, "second document", id="second-document"),
        pytest.param("a: 1\n...\n%YAML 1.2\n---\nb: 2", 3, "second document", id="second-with-directive"),
        pytest.param("a: 1\n---\n", 2, "second document", id="second-empty"),
        pytest.param("--- {a: 1}\n--- {b: 1}", 2, "second document", id="second-flow"),
        pytest.param("a: 1\n...\nb: 2\n", 3, "behind the end", id="text-after-end"),
        pytest.param("{a: 1} b", 1, "behind the end", id="text-after-flow"),
        pytest.param("{a: 1}\nb: 2", 2, "", id="mapping-after-flow"),
        pytest.param("a: !!str 5", 1, "a tag", id="core-tag"),
        pytest.param("a: !python/object:os.system x", 1, "a tag", id="local-tag"),
        pytest.param("a: !!python/object/apply:os.system [ls]", 1, "a tag", id="python-tag"),
        pytest.param("a: !x!y z", 1, "a tag", id="undefined-handle"),
        pytest.param("a: ! z", 1, "a tag", id="bare-tag"),
        pytest.param("!!map {a: 1}", 1, "a tag", id="tag-on-top"),
        pytest.param("!!set {a}", 1, "a tag", id="set"),
        pytest.param("a: {b: 1}\n<<: {c: 1}", 2, "merge key", id="merge"),
        pytest.param("a: &x {b: 1}\nc:\n  <<: *x\n", 3, "merge key", id="merge-alias"),
        pytest.param("a: 1\nb: 2\na: 3", 3, "the same key as on line 1", id="duplicate"),
        pytest.param('a: 1\n"a": 3', 2, "the same key as on line 1", id="duplicate-quoted"),
        pytest.param('{"a": 1, "\\u0061": 3}', 1, "the same key as on line 1", id="duplicate-escaped"),
        pytest.param("a: {b: 1,\n b: 1}", 2, "the same key as on line 1", id="duplicate-below"),
        pytest.param("520201: x", 1, "a key that is not text", id="number-as-key"),
        pytest.param("a:\n  true: x", 2, "a key that is not text", id="true-as-key"),
        pytest.param("~: x", 1, "a key that is not text", id="null-as-key"),
        pytest.param(": x", 1, "does not fit", id="no-key"),
        pytest.param("? [a]\n: x", 1, "a key that is a list", id="list-as-key"),
        pytest.param("? {a: 1}\n: x", 1, "a key that is a list or mapping", id="mapping-as-key"),
        pytest.param("a: &x [1]\n*x : 2", 2, "a key that is a list", id="alias-of-list-as-key"),
        pytest.param("a: *x", 1, "alias (*name) of nothing", id="unknown-alias"),
        pytest.param("*x : 1", 1, "alias (*name) of nothing", id="unknown-alias-as-key"),
        pytest.param("a: *x\nb: &x 1", 1, "alias (*name) of nothing", id="alias-before-anchor"),
        pytest.param("a: &x [*x]", 1, "inside what it stands for", id="cycle"),
        pytest.param("&x a: 1\nb: &y\n  c: &z [1, *y]", 3, "inside what it stands for", id="longer-cycle"),
        pytest.param("&x {a: *x}", 1, "inside what it stands for", id="cycle-on-top"),
        pytest.param("a: " + "9" * 5000, 1, "5,000 characters", id="5000-digits"),
        pytest.param("a: 0." + "3" * 5000, 1, "5,002 characters", id="5000-decimals"),
        pytest.param("9" * 500 + ": x", 1, "characters", id="500-digits-as-key"),
        pytest.param("a: 1\n  b: 2", 2, "colon", id="indented-too-far"),
        pytest.param("a: b: c", 1, "colon", id="two-colons"),
        pytest.param("a: 1\nb\nc: 2", 2, "colon", id="no-colon"),
        pytest.param("a:\n\t- b", 2, "tab", id="tab"),
        pytest.param("a: b\n\tc: d", 2, "tab", id="tab-in-text"),
        pytest.param("a:\n  b: 1\n\tc: 2", 3, "tab", id="tab-for-key"),
        pytest.param("a: [1, 2\n", 1, "[ that is never closed", id="open-list"),
        pytest.param("x: 1\na: [1, 2\nb: 3\n", 3, "opens on line 2", id="open-list-earlier"),
        pytest.param("a: {b: 1", 1, "{ that is never closed", id="open-mapping"),
        pytest.param("a: [1}", 1, "[", id="wrong-bracket"),
        pytest.param("a: {b:,c}", 1, "colon in the middle", id="colon-in-brackets"),
        pytest.param("a: 1\n]", 2, "does not fit", id="bracket-alone"),
        pytest.param('a: 1\nb: "abc\nc: 2\n', 2, "never closed", id="open-quotes"),
        pytest.param("b: 'abc\nc: 2\n", 1, "never closed", id="open-single-quotes"),
        pytest.param('a: "x\n---\ny"', 2, "inside a quoted text", id="marker-in-quotes"),
        pytest.param('a: "b" c', 1, "does not fit", id="text-after-quotes"),
        pytest.param("a: @x", 1, "cannot start", id="at"),
        pytest.param("a: `x`", 1, "cannot start", id="backtick"),
        pytest.param("a: %x", 1, "cannot start", id="percent"),
        pytest.param("a: - b", 1, "a list cannot start here", id="list-on-key-line"),
        pytest.param("a: &", 1, "without a name", id="bare-anchor"),
        pytest.param("a: *", 1, "without a name", id="bare-alias"),
        pytest.param("a: |0\n  x", 1, "number after", id="block-indent"),
        pytest.param("a: >x\n  y", 1, "text behind | or >", id="block-header"),
        pytest.param("- a\nb: c", 1, "a list", id="list-then-mapping"),
        pytest.param("a:\n - b\n c: d", 3, "does not belong to the list", id="mapping-in-list"),
        pytest.param("a: ? b", 1, "`?`", id="question-mark"),
        pytest.param("x: 1\n" + "a" * 2000 + ": 1", 2, "colon", id="very-long-key"),
        pytest.param("a: " + "[" * 3000, 1, "64 levels", id="3000-levels"),
        pytest.param("a: " + "[" * 3000 + "]" * 3000, 1, "64 levels", id="3000-levels-closed"),
        pytest.param("{a: " * 100 + "}" * 100, 1, "64 levels", id="100-mappings"),
        pytest.param("".join(f"{' ' * i}a:\n" for i in range(100)), 65, "64 levels", id="100-levels-of-lines"),
        pytest.param(
            "a: &x " + "[" * 40 + "]" * 40 + "\nb: " + "[" * 30 + "*x" + "]" * 30, 2, "64", id="deep-by-alias"
        ),
        pytest.param("- " * 3000 + "a", 1, "a list", id="dashes"),
        pytest.param("a:\n  " + "- " * 3000 + "a", 2, "64 levels", id="dashes-below"),
        pytest.param("a: [" + "1," * MAX_NODES + "]", 1, "10,000", id="too-many-values"),
        pytest.param("a: &x [" + "1," * 100 + "]\nb: [" + "*x," * 99 + "]\n", 2, "10,000", id="too-many-by-alias"),
        pytest.param("# " + "x" * MAX_BYTES, 1, "1 MiB", id="too-large"),
        pytest.param("# " + "é" * (MAX_BYTES // 2), 1, "1 MiB", id="too-large-in-utf-8"),
        pytest.param(b"\xff" * (MAX_BYTES + 1), 1, "1 MiB", id="too-large-and-binary"),
    ],
)
def test_refused_with_line_and_words(text: bytes | str, line: int, says: str) -> None:
    lines = said(text)
    assert lines[0].startswith(f"f.yaml:{line}: -: ")
    assert says in lines[0]
    assert SECRET not in "\n".join(lines)


def _laughs(count: int) -> str:
    rows = [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 10)}]" for i in range(1, count)]
    return "\n".join(["a0: &a0 [ha, ha]", *rows])


#: As large as a file may be and meant to cost time or memory; benchmarks/test_bounded_work.py says how long each takes.
LARGE: dict[str, bytes | str] = {
    "billion-laughs": _laughs(60),
    "100k-aliases": "a: &x 1\nb: [" + "*x," * 100_000 + "]",
    "100k-unknown-aliases": "a: [" + "*x," * 100_000 + "]",
    "100k-anchors": "a: [" + "&x 1," * 100_000 + "]",
    "brackets": "[" * (MAX_BYTES - 1),
    "brackets-below": "a: " + "[" * (MAX_BYTES - 3),
    "braces": "{" * (MAX_BYTES - 1),
    "nested-braces": "{a: " * (MAX_BYTES // 4),
    "dashes": "- " * (MAX_BYTES // 2),
    "dashes-below": "a:\n " + "- " * (MAX_BYTES // 2 - 2),
    "question-marks": "? " * (MAX_BYTES // 2),
    "question-marks-in-list": "a: [" + "? " * (MAX_BYTES // 2 - 2),
    "directives": "%TAG ! !\n" * (MAX_BYTES // 9),
    "directives-behind": "a: 1\n...\n" + "%TAG ! !\n" * (MAX_BYTES // 9 - 1),
    "percents": "%" * MAX_BYTES,
    "quotes": "a: '" + "''" * (MAX_BYTES // 2 - 2),
    "backslashes": 'a: "' + "\\" * (MAX_BYTES - 4),
    "lone-surrogates": 'a: "' + "\\ud83d" * (MAX_BYTES // 6 - 1) + '"',
    "digits": "a: " + "9" * (MAX_BYTES - 3),
    "exponent": "a: 1e" + "9" * (MAX_BYTES - 5),
    "dots": "a: " + "." * (MAX_BYTES - 5) + "\n - b",
    "empty-lines": "a: |" + "\n" * (MAX_BYTES - 6) + "\t:",
    "comments": "#\n" * (MAX_BYTES // 2),
    "lines": "\n" * MAX_BYTES,
    "tabs": "\t" * MAX_BYTES,
    "blanks": " " * (MAX_BYTES - 1) + "-",
    "one-word": "a" * MAX_BYTES,
    "words": "a b\n" * (MAX_BYTES // 4),
    "same-key": "a: b\n" * (MAX_BYTES // 5),
    "keys": "".join(f"{i:06x}:\n" for i in range(120_000)),
    "tags": "!" * MAX_BYTES,
    "long-tag": "a: !<" + "%41" * (MAX_BYTES // 3 - 2) + "> b",
    "long-anchor": "a: &" + "x" * (MAX_BYTES - 5) + "\n-",
    "documents": "a: 1\n" + "---\n" * (MAX_BYTES // 4 - 2),
    "all-private-characters": "".join(chr(code) for code in range(0xE000, 0xF900)) + "\x85",
    "boms": b"\xef\xbb\xbf" * (MAX_BYTES // 3),
}


@pytest.mark.parametrize("name", LARGE)
def test_any_large_text_is_refused(name: str) -> None:
    assert said(LARGE[name])


def test_large_text_that_is_in_order_is_read() -> None:
    assert len(data('a: "' + r"\ud83d\ude00" * (MAX_BYTES // 12 - 1) + '"')["a"]) == MAX_BYTES // 12 - 1
    assert len(data("a: " + "b\u2028" * (MAX_BYTES // 4 - 1))["a"]) == MAX_BYTES // 2 - 2
    assert len(data("a: [" + "x: y, " * 3000 + "]")["a"]) == 3000


def test_every_problem_is_told() -> None:
    text = OURS + (
        "hours: 4\n"
        "date: !!timestamp 2026-05-14\n"
        "1: x\n"
        "readings:\n"
        "  - {test: drift, test: drift, moved: *nothing}\n"
        '  - {note: "\\ud800"}\n'
        "hours: 3\n"
        "<<: {}\n"
        "last: [1, 2\n"
    )
    lines = said(text)
    assert [line.split(": ", 2)[:2] for line in lines] == [
        ["f.yaml:3", "date"],
        ["f.yaml:4", "-"],
        ["f.yaml:6", "readings[0].test"],
        ["f.yaml:6", "readings[0].moved"],
        ["f.yaml:7", "readings[1].note"],
        ["f.yaml:8", "hours"],
        ["f.yaml:9", "-"],
        ["f.yaml:10", "last[2]"],
    ]


def test_keys_are_named_only_in_files_of_ours() -> None:
    broken = "hunter2: &hunter2 hunter2\nhunter2: hunter2\nx: {hunter2: .nan, y: *hunter3, <<: 1}\n'hunter2\n"
    foreign = "\n".join(said(broken))
    assert SECRET not in foreign
    assert "hunter" not in foreign
    assert said(OURS + broken)[0].startswith("f.yaml:3: hunter2: the same key as on line 2")


@given(st.binary(max_size=200))
def test_any_bytes_are_nodes_or_problems(content: bytes) -> None:
    _any(content)


PIECES = ["a", "b: ", ": ", "\n", "  ", "- ", "[", "]", "{", "}", ",", "&x ", "*x", "!t ", "? ", "|", ">", "'", '"',
          "\\", "\\ud83d", "\\ude00", "---\n", "...\n", "%Y\n", "#", "\t", "\r", "\x85", "\u2028", "\ufeff", "é", "😀",
          "0", "1e9", ".nan", "~", "true", "<<", "oilpath: sheet/1\n", "@", "`", "\ue000", "\ue001"]  # fmt: skip


@given(st.lists(st.sampled_from(PIECES), max_size=30).map("".join))
def test_any_text_of_pieces_is_nodes_or_problems(text: str) -> None:
    _any(text)


def _any(content: bytes | str) -> None:
    try:
        node = read_nodes(content, "f.yaml")
    except UnusableInput as error:
        lines = [str(one) for one in error.problems]
    else:
        result = plain(node)
        assert isinstance(result.data, dict)
        assert json.dumps(result.data, ensure_ascii=False).encode("utf-8")
        assert set(result.raw) < set(result.where)
        return
    assert lines
    assert all(line.isprintable() and line.startswith("f.yaml:") for line in lines)


@pytest.mark.parametrize(
    "text", ["a: [1, 2\n", "a: !x!y z", 'a: "\\U0000d800"', 'a: "\\U00110000"', "a:\n\t- b", "a: b: c"]
)
def test_without_the_c_parser_too(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(yaml, "CSafeLoader")
    assert said(text)
    assert data('{"a": "\\ud83d\\ude00", b: [&x off, *x, 1]}\n...\n# é') == {"a": "😀", "b": ["off", "off", 1]}


# --- files --------------------------------------------------------------------------


def refused(path: Path, shown: str = "shown.yaml") -> str:
    with pytest.raises(UnusableInput) as caught:
        read_file(path, shown)
    (problem,) = caught.value.problems
    assert (problem.file, problem.line, problem.key) == (shown, 1, "-")
    return problem.message


def test_a_file_is_read(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text("a: 54 °C\n", encoding="utf-8")
    (tmp_path / "link.yaml").symlink_to("a.yaml")
    assert plain(read_file(tmp_path / "a.yaml", "a")).data == {"a": "54 °C"}
    assert plain(read_file(tmp_path / "link.yaml", "a")).data == {"a": "54 °C"}


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("a: 1")
    (tmp_path / "loop").symlink_to("loop")
    os.mkfifo(tmp_path / "pipe")
    assert refused(tmp_path) == "this is a folder"
    assert refused(tmp_path / "nothing.yaml") == "there is no such file"
    assert refused(tmp_path / "file" / "below.yaml") == "there is no such file"
    assert refused(tmp_path / "pipe") == "this is a device, pipe or socket"
    assert refused(Path(os.devnull)) == "this is a device, pipe or socket"
    assert "cannot be read" in refused(tmp_path / "loop")
    assert "cannot be read" in refused(tmp_path / ("x" * 5000))
    assert "no possible name" in refused(Path("a\0b"))
    assert refused(Path("\ud800.yaml")).isprintable()


def test_a_large_file_is_not_read(tmp_path: Path) -> None:
    with open(tmp_path / "large.yaml", "wb") as stream:
        stream.truncate(1 << 40)  # sparse: nothing is written
    assert refused(tmp_path / "large.yaml") == "the file is larger than 1 MiB"


def test_a_locked_file_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a.yaml").write_text("a: 1")

    def locked(*_: object, **__: object) -> int:  # root may read everything, so the system's answer is played
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("oilpath.documents.files.os.open", locked)
    assert refused(tmp_path / "a.yaml") == "no permission to read the file"


def test_nothing_of_a_foreign_file_is_shown(tmp_path: Path) -> None:
    lines = ["root:x:0:0:root:/root:/bin/bash", "hunter2: *hunter2", "hunter2: !hunter2 .nan", "'hunter2"]
    for count in range(1, 5):
        for text in ("\n".join(lines[:count]), "\n".join(lines[-count:])):
            (tmp_path / "foreign").write_text(text)
            with pytest.raises(UnusableInput) as caught:
                read_file(tmp_path / "foreign", "machine.yaml")
            assert "hunter" not in str(caught.value)
            assert "root" not in str(caught.value)
