"""Documents: every version kept, the same bytes back, nobody's version overwritten."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oilpath.problems import UnusableInput
from oilpath.store.columns import indexed
from oilpath.store.documents import Conflict, Saved
from oilpath.store.names import document_name, resolved
from oilpath.store.opening import Store

SHEET = b"oilpath: sheet/1\nmachine: ../machines/a.yaml\nunit-number: 007\nhours: 8450\nreadings: []\n"
NAME = "sheets/a.yaml"


def saved(found: Saved | Conflict) -> Saved:
    assert isinstance(found, Saved)
    return found


def test_every_version_is_kept_with_who_and_when(store: Store) -> None:
    first = saved(store.documents.save(NAME, SHEET, base=None, author="Ann"))
    second = saved(store.documents.save(NAME, SHEET + b"# more\n", base=1, author="Bob"))
    assert (first.version.number, first.version.parent, second.version.number, second.version.parent) == (1, None, 2, 1)
    assert [one.author for one in store.documents.versions(NAME)] == ["Bob", "Ann"]
    assert first.version.saved_at < second.version.saved_at < "2026-05-14T07:31"
    assert first.version.saved_at.endswith("Z")
    one, two = store.documents.version(NAME, 1), store.documents.latest(NAME)
    assert one is not None
    assert two is not None
    assert (one.content, two.content) == (SHEET, SHEET + b"# more\n")


@pytest.mark.parametrize("content", [
    b"\xef\xbb\xbf" + SHEET, SHEET.replace(b"\n", b"\r\n"), SHEET + "complaint: Größe µ – ½\n".encode(), SHEET[:-1],
    b'{"oilpath": "sheet/1", "readings": []}', b"# half typed\noilpath: sheet/1\nmachine:\nreadings:\n",
])  # fmt: skip
def test_the_same_bytes_come_back(store: Store, content: bytes) -> None:
    store.documents.save(NAME, content, base=None, author="Ann")
    held = store.documents.latest(NAME)
    assert held is not None
    assert held.content == content


def test_two_on_one_sheet_are_told_and_neither_is_overwritten(store: Store) -> None:
    store.documents.save(NAME, SHEET, base=None, author="Ann")
    store.documents.save(NAME, SHEET + b"# Ann\n", base=1, author="Ann")
    refused = store.documents.save(NAME, SHEET + b"# Bob\n", base=1, author="Bob")
    assert isinstance(refused, Conflict)
    assert refused.read is not None
    assert refused.current is not None
    assert (refused.read.number, refused.current.number, refused.current.author) == (1, 2, "Ann")
    assert len(store.documents.versions(NAME)) == 2
    other = store.documents.save(NAME, SHEET + b"# new\n", base=None, author="Bob")
    assert isinstance(other, Conflict)
    assert other.read is None
    assert isinstance(store.documents.save("sheets/none.yaml", SHEET, base=3, author="Bob"), Conflict)
    assert store.documents.names() == (NAME,)


def test_a_save_that_is_sent_again_is_confirmed_again(store: Store) -> None:
    store.documents.save(NAME, SHEET, base=None, author="Ann")
    for base in (None, 1):  # its first confirmation was lost; nothing has changed
        again = saved(store.documents.save(NAME, SHEET, base=base, author="Ann"))
        assert (again.again, again.version.number) == (True, 1)
    store.documents.save(NAME, SHEET + b"#\n", base=1, author="Ann")
    assert saved(store.documents.save(NAME, SHEET + b"#\n", base=1, author="Ann")).again
    assert len(store.documents.versions(NAME)) == 2


def test_of_many_who_save_at_once_one_is_saved(store: Store) -> None:
    store.documents.save(NAME, SHEET, base=None, author="Ann")

    def save(number: int) -> Saved | Conflict:
        name = NAME if number % 2 else "sheets/new.yaml"
        return store.documents.save(name, SHEET + b"# %d\n" % number, base=number % 2 or None, author=str(number))

    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(save, range(16)))
    assert sum(isinstance(one, Saved) for one in found) == 2
    assert [len(store.documents.versions(name)) for name in (NAME, "sheets/new.yaml")] == [2, 1]


def test_what_is_taken_away_can_be_brought_back(store: Store) -> None:
    store.documents.save(NAME, SHEET, base=None, author="Ann")
    assert isinstance(store.documents.remove(NAME, base=3, author="Ann"), Conflict)
    assert isinstance(store.documents.remove("none.yaml", base=1, author="Ann"), Conflict)
    gone = saved(store.documents.remove(NAME, base=1, author="Ann"))
    assert gone.version.removed
    assert saved(store.documents.remove(NAME, base=1, author="Ann")).again
    assert (store.documents.latest(NAME), store.documents.names(), store.search.sheets().total) == (None, (), 0)
    first = store.documents.version(NAME, 1)
    assert first is not None
    back = saved(store.documents.save(NAME, first.content, base=2, author="Bob"))
    assert (back.version.number, store.documents.names(), store.search.sheets().total) == (3, (NAME,), 1)


@pytest.mark.parametrize(("name", "content", "said"), [
    (NAME, b"readings: [", "a value is missing here"),
    (NAME, b"machine: a.yaml\n", "is missing, so this is not known to be a test sheet"),
    (NAME, b"oilpath: tests/1\n", "this is a file of test kinds"),
    (NAME, b"oilpath: sheet/2\n", "version 2 needs a newer oilpath"),
    ("../a.yaml", SHEET, "no path"), ("/etc/a.yaml", SHEET, "no path"), ("a//b.yaml", SHEET, "no path"),
    (".git/a.yaml", SHEET, "no path"), ("a", SHEET, "ends in none"), ("a?.yaml", SHEET, "cannot hold everywhere"),
    ("a\n.yaml", SHEET, "cannot hold"), ("a" * 300 + ".yaml", SHEET, "longer than"), ("", SHEET, "no path"),
    ("C:\\a.yaml", SHEET, "cannot hold"),
])  # fmt: skip
def test_what_is_no_document_is_refused_with_a_reason(file_store: Store, name: str, content: bytes, said: str) -> None:
    with pytest.raises(UnusableInput) as error:
        file_store.documents.save(name, content, base=None, author="Ann")
    assert said in str(error.value)
    assert file_store.documents.names() == ()


def test_a_sheet_does_not_become_a_machine(store: Store) -> None:
    store.documents.save(NAME, SHEET, base=None, author="Ann")
    with pytest.raises(UnusableInput, match="has been a sheet so far"):
        store.documents.save(NAME, b"oilpath: machine/1\n", base=1, author="Ann")
    assert len(store.documents.versions(NAME)) == 1


@pytest.mark.parametrize(("name", "named", "found"), [
    ("sheets/a.yaml", "../machines/m.yaml", "machines/m.yaml"), ("a.yaml", "m.yaml", "m.yaml"),
    ("sheets/x/a.yaml", "./b.yaml", "sheets/x/b.yaml"), ("a.yaml", "../m.yaml", None), ("a.yaml", "/etc/passwd", None),
    ("s/a.yaml", "..", None), ("a.yaml", "b\\c.yaml", None),
])  # fmt: skip
def test_names_on_a_document_stay_in_the_folder(name: str, named: str, found: str | None) -> None:
    assert resolved(name, named) == found


@given(st.text(max_size=40))
@settings(max_examples=50)
def test_a_name_is_refused_or_a_file_in_the_folder(text: str) -> None:
    try:
        name = document_name(f"{text}.yaml")
    except UnusableInput:
        return
    parts = name.split("/")
    assert ".." not in parts
    assert "" not in parts


@given(st.binary(max_size=200))
def test_columns_of_any_bytes_are_text_for_any_database_or_refused(end: bytes) -> None:
    content = b"oilpath: sheet/1\nreadings: []\ncomplaint: " + end
    try:
        found = indexed(NAME, content)
    except UnusableInput:
        return
    assert found.kind == "sheet"
    assert "\0" not in found.row["words"]
    found.row["words"].encode()
