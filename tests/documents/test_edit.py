"""A file changed by path: what is not asked for keeps its bytes, and what was asked for reads back.

What the edited file says is read by PyYAML's BaseLoader here (every scalar a text), not by our own reader alone.
"""

import json
import os
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from oilpath.documents.edit import Document, add_outcome, add_reading, open_document, set_note
from oilpath.documents.emit import emitted
from oilpath.documents.load import load_sheet
from oilpath.documents.nodes import plain, read_nodes
from oilpath.documents.writing import Disk
from oilpath.problems import UnusableInput
from tests.documents.conftest import MACHINE

PILOT = {"test": "pilot-pressure", "pressure": "3.9 MPa"}


def document(text: str) -> Document:
    return Document("sheet.yaml", text)


# --- by example ---------------------------------------------------------------------

APPENDED = {
    "a block list": ("a:\n- 1\n- 2\nb: 3\n", "a:\n- 1\n- 2\n- x\nb: 3\n"),
    "indented, with comments": (
        "a:\n  # of\n  - 1 # one\n  # end\nb: 3\n", "a:\n  # of\n  - 1 # one\n  - x\n  # end\nb: 3\n",
    ),
    "a list in brackets": ("a: [1, 2] # c\n", "a: [1, 2, x] # c\n"),
    "over several lines": ("a: [\n  1, # one\n  2  # two\n]\n", "a: [\n  1, # one\n  2,  # two\n  x\n]\n"),
    "over several lines, a comma behind the last": ("a: [\n  1, # one\n]\n", "a: [\n  1, # one\n  x,\n]\n"),
    "several lines without an entry": ("a: [\n  # 1,\n]\n", "a: [\n  x,\n  # 1,\n]\n"),
    "JSON over several lines": ('{"a": [\n  "1"\n]}\n', '{"a": [\n  "1",\n  "x"\n]}\n'),
    "a comma behind the last": ("a: [1, 2, ]\n", "a: [1, 2, x, ]\n"),
    "empty brackets": ("a: []\nb: 3\n", "a:\n  - x\nb: 3\n"),
    "empty brackets with a comment": ("a: [] # none\nb: 3\n", "a: # none\n  - x\nb: 3\n"),
    "empty brackets over two lines": ("a: [ # none\n]\n", "a: [ # none\n  x,\n]\n"),
    "nothing": ("a:\nb: 3\n", "a:\n  - x\nb: 3\n"),
    "null": ("a: null\nb: 3\n", "a:\n  - x\nb: 3\n"),
    "no such key": ("b: 3\n", "b: 3\na:\n  - x\n"),
    "no such key in brackets": ("{b: 3}", "{b: 3, a: [x]}"),
    "no line end at the end": ("a:\n- 1", "a:\n- 1\n- x"),
    "the line ends of another system": ("a:\r\n- 1\r\nb: 3\r\n", "a:\r\n- 1\r\n- x\r\nb: 3\r\n"),
    "empty, the line ends of another system": ("a: []\r\nb: 3", "a:\r\n  - x\r\nb: 3"),
    "behind a text of several lines": ("a:\n- |\n  1\n\nb: 3\n", "a:\n- |\n  1\n\n- x\nb: 3\n"),
    "JSON": ('{"a": ["1"], "b": 3}\n', '{"a": ["1", "x"], "b": 3}\n'),
    "empty JSON": ('{"a": []}', '{"a": ["x"]}'),
    "no ASCII": ("ä: ё # 😀\na: [ж, \"é😀\"] # ü\n", "ä: ё # 😀\na: [ж, \"é😀\", x] # ü\n"),
}  # fmt: skip


@pytest.mark.parametrize("kind", APPENDED)
def test_append(kind: str) -> None:
    before, after = APPENDED[kind]
    assert document(before).append(["a"], "x").text == after


SET: dict[str, tuple[str, list[str | int], Any, str]] = {
    "a word": ("a: 1 # c\nb: 3\n", ["a"], "x", "a: x # c\nb: 3\n"),
    "quoted": ("a: '1'   # c\n", ["a"], "x", "a: x   # c\n"),
    "nothing": ("a: # c\nb: 3\n", ["a"], "x", "a: x # c\nb: 3\n"),
    "nothing at all": ("b: 3\na:", ["a"], "x", "b: 3\na: x"),
    "in brackets": ("a: {b: 1, c: [1, 2]}\n", ["a", "c", 1], "x", "a: {b: 1, c: [1, x]}\n"),
    "a new key in brackets": ("a: {b: 1} # c\n", ["a", "c"], 2, "a: {b: 1, c: 2} # c\n"),
    "a new key in empty brackets": ("a: {} # c\n", ["a", "c"], 2, "a: {c: 2} # c\n"),
    "a new key below others": (
        "a:\n  b: 1 # one\n  # more\nd: 3\n", ["a", "c"], 2,
        "a:\n  b: 1 # one\n  c: 2\n  # more\nd: 3\n",
    ),
    "a new key in an item": ("a:\n- b: 1\n- b: 2\n", ["a", 0, "c"], 2, "a:\n- b: 1\n  c: 2\n- b: 2\n"),
    "a new key at the end": ("a: 1", ["b"], 2, "a: 1\nb: 2"),
    "a list": ("a: # c\n  - 1 # one\nb: 3\n", ["a"], [2], "a: [2] # c # one\nb: 3\n"),
    "a text of several lines": ("a: |\n  1\n  2\n\nb: 3\n", ["a"], "x", "a: x\n\nb: 3\n"),
    "over lines": ("a: one\n  two # c\nb: 3\n", ["a"], "x", "a: x # c\nb: 3\n"),
    "an item": ("a:\n- 1 # one\n- 2\n", ["a", 0], {"b": 1}, "a:\n- {b: 1} # one\n- 2\n"),
    "an item that is a mapping": ("a:\n- b: 1\n  c: 2\n- 2\n", ["a", 0], 7, "a:\n- 7\n- 2\n"),
    "before the end of the document": ("--- # c\na: 1\n...\n", ["b"], 2, "--- # c\na: 1\nb: 2\n...\n"),
}  # fmt: skip


@pytest.mark.parametrize("kind", SET)
def test_set(kind: str) -> None:
    before, path, value, after = SET[kind]
    assert document(before).set(path, value).text == after


REMOVED: dict[str, tuple[str, list[str | int], str]] = {
    "an item": ("a:\n- 1\n- 2 # two\n# end\nb: 3\n", ["a", 1], "a:\n- 1\n# end\nb: 3\n"),
    "the first": ("a:\n- 1\n- 2 # two\n", ["a", 0], "a:\n- 2 # two\n"),
    "the last in a text without line end": ("a:\n- 1\n- 2", ["a", 1], "a:\n- 1\n"),
    "the same in lines of another system": ("a:\r\n- 1\r\n- 2", ["a", 1], "a:\r\n- 1\r\n"),
    "the only one": ("a: # c\n  - 1 # one\nb: 3\n", ["a", 0], "a: [] # c # one\nb: 3\n"),
    "an entry": ("a: 1\n# b\nb:\n  c: 1\n  d: 2\ne: 3\n", ["b"], "a: 1\n# b\ne: 3\n"),
    "the first of an item": ("a:\n- b: 1 # one\n  c: 2\n", ["a", 0, "b"], "a:\n- c: 2\n"),
    "the first of an item, then a comment": ("a:\n- b: 1\n  # c\n  c: 2\n", ["a", 0, "b"], "a:\n- # c\n  c: 2\n"),
    "in brackets": ("a: [1, 2, 3] # c\n", ["a", 1], "a: [1, 3] # c\n"),
    "the last in brackets": ("a: [1, 2, 3] # c\n", ["a", 2], "a: [1, 2] # c\n"),
    "the only one in brackets": ("a: [1] # c\n", ["a", 0], "a: [] # c\n"),
    "an entry in brackets": ("a: {b: 1, c: 2}\n", ["a", "b"], "a: {c: 2}\n"),
    "the last entry in brackets": ("a: {b: 1, c: 2}\n", ["a", "c"], "a: {b: 1}\n"),
    "a line in brackets": ("a: [\n  1,\n  2, # two\n  3\n]\n", ["a", 0], "a: [\n  2, # two\n  3\n]\n"),
    "the last line in brackets": ("a: [\n  1, # one\n  2\n]\n", ["a", 1], "a: [\n  1 # one\n  \n]\n"),
    "JSON": ('{"a": ["1", "2"], "b": 3}', ["b"], '{"a": ["1", "2"]}'),
    "a list in a list": ("a:\n- - 1\n  - 2\n- 3\n", ["a", 0, 0], "a:\n- - 2\n- 3\n"),
}  # fmt: skip


@pytest.mark.parametrize("kind", REMOVED)
def test_remove(kind: str) -> None:
    before, path, after = REMOVED[kind]
    assert document(before).remove(path).text == after


def test_what_an_alias_stands_for_is_not_changed_for_all_its_places() -> None:
    text = "a: &one {b: 1}\nc: *one\n"
    for path in (["a", "b"], ["c", "b"], ["a"]):
        with pytest.raises(UnusableInput, match="cannot be changed here"):
            document(text).set(path, 2)
    assert document(text).set(["c"], 2).text == "a: &one {b: 1}\nc: 2\n"


def test_there_must_be_such_a_place() -> None:
    nowhere: list[list[str | int]] = [["a", 2], ["b", "c"], ["a", "x"], [], ["c", "d"]]
    for path in nowhere:
        with pytest.raises(LookupError):
            document("a: [1, 2]\nc: 1\n").set(path, 1)
    no_lists: list[list[str | int]] = [["c"], ["a", 0]]
    for path in no_lists:
        with pytest.raises(LookupError, match="is not a list"):
            document("a: [1, 2]\nc: 1\n").append(path, 1)
    with pytest.raises(LookupError):
        document("a: [1, 2]\n").remove(["b"])


def test_a_file_does_not_grow_beyond_what_is_read() -> None:
    with pytest.raises(UnusableInput, match="1 MiB"):
        document("a: 1\n").set(["b"], "x" * (1 << 20))


# --- any data, any style ------------------------------------------------------------

TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
SCALARS = st.none() | st.booleans() | st.integers(-(10**6), 10**6) | st.floats(allow_nan=False, allow_infinity=False)
WORDS = st.sampled_from(
    ["3.4 s", "54 °C", "off", "007", "2026-05-14", "1e5", "null", "- a", "a: b", "#", "'", '"', "*a", "ё"]
)
DATA = st.recursive(
    SCALARS | TEXTS | WORDS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=6,
)


@given(DATA, st.booleans())
def test_what_is_written_on_one_line_reads_back(value: Any, as_json: bool) -> None:
    line = emitted(value, as_json=as_json)
    assert "\n" not in line
    read = plain(read_nodes(f"a: {line}\n", "-")).data["a"]
    assert json.dumps(read) == json.dumps(value)
    if as_json:
        assert json.dumps(json.loads(line)) == json.dumps(value)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), "\ud800", {1, 2}, b"x"])
def test_what_no_file_can_hold_is_refused(value: object) -> None:
    with pytest.raises(ValueError, match=r"a file|surrogates"):
        emitted(value)


COMMENT = st.sampled_from(["", "  # as read", " # ж: [a, {b", "   "])
NAME = st.sampled_from(["a", "note", "boom-raise", "ключ", "x1", "'quoted'", '"é: #"'])
VALUE = st.sampled_from(
    ["1", "3.4 s", "'it''s'", '"a \\" # b"', "über", "true", "", "~", "[]", "{}", "[1, [2, 3]]", "{k: [v, w], l: }"]
)


@st.composite
def mappings(draw: st.DrawFn, most: int = 3) -> list[str]:
    """Lines of a block mapping, of one entry each or of more where a value stands below its key."""
    names = draw(st.lists(NAME, min_size=1, max_size=most, unique_by=lambda name: name.strip("'\"")))
    lines = []
    for name in names:
        below = draw(st.sampled_from(["none", "none", "mapping", "list", "text", "comment"]))
        if below == "mapping" and most > 1:
            lines.append(f"{name}:{draw(COMMENT)}")
            lines += [f"  {line}" for line in draw(mappings(most - 1))]
        elif below == "list" and most > 1:
            lines.append(f"{name}:{draw(COMMENT)}")
            lines += [f"  {line}" for line in draw(lists(most - 1))]
        elif below == "text":
            lines += [f"{name}: |", "  one # no comment", "", "  two"]
        else:
            lines.append(f"{name}: {draw(VALUE)}{draw(COMMENT)}")
            lines += ["# on a line of its own"] * (below == "comment")
    return lines


@st.composite
def lists(draw: st.DrawFn, most: int = 2) -> list[str]:
    lines = []
    for _ in range(draw(st.integers(1, 3))):
        if draw(st.booleans()) and most > 1:
            first, *rest = draw(mappings(most - 1))
            lines += [f"- {first}", *(f"  {line}" for line in rest)]
        else:
            lines.append(f"- {draw(VALUE)}{draw(COMMENT)}")
    return lines


@st.composite
def chunks(draw: st.DrawFn) -> tuple[str, list[str], str]:
    """A text in three: what stands before a list of items, the items one by one, what stands behind it."""
    end = draw(st.sampled_from(["\n", "\r\n"]))
    indent = draw(st.sampled_from(["", "  "]))

    def joined(lines: list[str]) -> str:
        return "".join(f"{line}{end}" for line in lines)

    before = joined(["# head", *draw(mappings()), f"list:{draw(COMMENT)}"])
    items = [joined([f"{indent}{line}" for line in draw(lists(2))[:1]]) for _ in range(draw(st.integers(1, 3)))]
    after = joined(["tail: 'ü'  # end", *(f"tail-{line}" for line in ["x: 1", "y: [1, 2]"])])
    if draw(st.booleans()):
        after = after.removesuffix(end)
    return before, items, after


def as_text(text: str) -> Any:
    """What another reader finds; every scalar a text."""
    return yaml.load(text, yaml.BaseLoader)


@settings(max_examples=300, deadline=None)
@given(chunks(), st.data())
def test_an_item_changed_leaves_all_others_their_bytes(parts: tuple[str, list[str], str], data: st.DataObject) -> None:
    before, items, after = parts
    old = before + "".join(items) + after
    try:
        opened = document(old)
        said = opened.data
    except UnusableInput:
        assume(False)
        return
    assume(len(said["list"] or ()) == len(items))
    number = data.draw(st.integers(0, len(items) - 1))
    change = data.draw(st.sampled_from(["set", "append", "remove"]))
    value = data.draw(st.sampled_from(["x", {"test": "check", "outcome": "3.4 s"}, ["ё", 2], "# : [", True]))
    if change == "set":
        made = opened.set(["list", number], value)
        said["list"][number] = value
        start, end = before + "".join(items[:number]), "".join(items[number + 1 :]) + after
    elif change == "append":
        made = opened.append(["list"], value)
        said["list"].append(value)
        start, end = before + "".join(items), after
    else:
        made = opened.remove(["list", number])
        del said["list"][number]
        start, end = before + "".join(items[:number]), "".join(items[number + 1 :]) + after
        if not said["list"]:
            start = before[: before.rindex("list:")]  # the brackets of an empty list stand on the line of its key
    assert json.dumps(made.data) == json.dumps(said)
    assert made.text.startswith(start)
    assert made.text.endswith(end)
    assert change == "append" or len(made.text) <= len(old) + len(emitted(value)) + 8
    others = [key for key in said if key != "list"]
    assert {key: as_text(made.text)[key] for key in others} == {key: as_text(old)[key] for key in others}


def paths(data: Any, above: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Every path of some data."""
    steps = list(data) if isinstance(data, dict) else list(range(len(data))) if isinstance(data, list) else []
    return [path for step in steps for path in ((*above, step), *paths(data[step], (*above, step)))]


def said_at(data: Any, path: tuple[str | int, ...]) -> Any:
    for step in path:
        data = data[step]
    return data


@settings(max_examples=300, deadline=None)
@given(mappings(4), st.sampled_from(["\n", "\r\n"]), st.booleans(), st.data())
def test_any_entry_can_be_set_or_removed(lines: list[str], end: str, ended: bool, data: st.DataObject) -> None:
    text = end.join(lines) + end * ended
    try:
        opened = document(text)
        said = opened.data
    except UnusableInput:
        assume(False)
        return
    path = data.draw(st.sampled_from(paths(said)))
    value = data.draw(st.sampled_from([7, "x", {"a": [1]}, None]))
    expected = said
    for step in path[:-1]:
        expected = expected[step]
    if data.draw(st.booleans()):
        made = opened.set(path, value)
        expected[path[-1]] = value
    else:
        try:
            made = opened.remove(path)
        except UnusableInput:  # a comment on its own line would come to stand below a text of several lines
            assert "|" in text
            assert "    # on a line" in text or "  # on a line" in text
            return
        del expected[path[-1]]
    assert json.dumps(made.data) == json.dumps(said)
    if not isinstance(said_at(opened.data, path), dict | list):  # comments on their own lines belong to no value
        assert made.text.count("# on a line of its own") == text.count("# on a line of its own")
    if end == "\r\n":
        assert made.text.count("\r\n") == made.text.count("\n")


# --- files --------------------------------------------------------------------------


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    (tmp_path / "machine.yaml").write_text(MACHINE, encoding="utf-8")
    text = "# ours\noilpath: sheet/1\nmachine: machine.yaml   # the yard's\nhours: 8450\nreadings: []\n"
    (tmp_path / "sheet.yaml").write_text(text, encoding="utf-8")
    return tmp_path / "sheet.yaml"


def test_a_sheet_filled_by_and_by_is_read_as_a_sheet(sheet: Path) -> None:
    opened = open_document(sheet)
    opened = add_reading(opened, PILOT).save()
    opened = add_outcome(opened, "free-running-pressure", "normal").remove(["readings", 1]).save()
    opened = add_reading(opened, {"test": "cycle-time", "function": "boom-raise", "times": ["4.8 s", "4.7 s"]})
    set_note(opened, 1, "engine cold: 2nd try").set(["hours"], 8451).save()
    assert sheet.read_text(encoding="utf-8") == (
        "# ours\noilpath: sheet/1\nmachine: machine.yaml   # the yard's\nhours: 8451\nreadings:\n"
        "  - {test: pilot-pressure, pressure: 3.9 MPa}\n"
        '  - {test: cycle-time, function: boom-raise, times: [4.8 s, 4.7 s], note: "engine cold: 2nd try"}\n'
    )
    read = load_sheet(sheet)
    assert read.hours == 8451
    assert [one.id for one in read.readings] == ["pilot-pressure", "cycle-time/boom-raise"]
    assert read.readings[1].note == "engine cold: 2nd try"


def test_a_byte_order_mark_stays(sheet: Path) -> None:
    sheet.write_bytes(b"\xef\xbb\xbf" + sheet.read_bytes())
    add_reading(open_document(sheet), PILOT).save()
    assert sheet.read_bytes().startswith(b"\xef\xbb\xbf# ours\n")


def test_what_somebody_else_wrote_meanwhile_stays(sheet: Path) -> None:
    opened = add_reading(open_document(sheet), PILOT)
    sheet.write_text("oilpath: sheet/1\n", encoding="utf-8")
    with pytest.raises(UnusableInput, match=r"sheet\.yaml:1: -: the file was changed by somebody else"):
        opened.save()
    assert sheet.read_text(encoding="utf-8") == "oilpath: sheet/1\n"


def test_a_disk_that_is_full_leaves_the_old_sheet(sheet: Path) -> None:
    class Full(Disk):
        def sync(self, file: object) -> None:
            raise OSError(28, "No space left on device")

    before = sheet.read_bytes()
    with pytest.raises(OSError, match="No space left"):
        add_reading(open_document(sheet), PILOT).save(Full())
    assert sheet.read_bytes() == before
    assert sorted(os.listdir(sheet.parent)) == ["machine.yaml", "sheet.yaml"]
