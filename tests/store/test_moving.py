"""Files go in and come out with the same bytes; what differs is told, and nothing is lost without being asked for."""

from __future__ import annotations

import shutil
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from oilpath.problems import UnusableInput
from oilpath.store.columns import indexed
from oilpath.store.moving import Imported, export_files, files_of, import_files, missing
from oilpath.store.names import document_name
from oilpath.store.opening import Store, open_store

MACHINE = b"oilpath: machine/1\nname: Invented\ncircuit: two-pump-excavator\n"
SHEET = b"oilpath: sheet/1\nmachine: ../machines/m.yaml\nhours: 8450\nreadings: []\n"
FILES = {
    "machines/m.yaml": MACHINE, "sheets/a.yaml": SHEET, "sheets/b.yml": b"\xef\xbb\xbf" + SHEET.replace(b"\n", b"\r\n"),
    "c.json": b'{"oilpath": "sheet/1", "readings": []}', "sheets/d.yaml": SHEET[:-1] + "\n# Größe µ ½".encode(),
}  # fmt: skip


def laid(folder: Path, files: dict[str, bytes]) -> Path:
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return folder


def held(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def taken_in(store: Store, folder: Path, *, replace: bool = False) -> list[Imported]:
    return list(import_files(store, files_of(str(folder)), author="Ann", replace=replace))


def test_files_come_back_with_the_same_bytes(store: Store, tmp_path: Path) -> None:
    done = taken_in(store, laid(tmp_path / "in", FILES))
    assert {one.file.name: one.done for one in done} == dict.fromkeys(FILES, "added")
    found = export_files(store, tmp_path / "out")
    assert (found.written, found.same) == (len(FILES), 0)
    assert held(tmp_path / "out") == FILES
    assert export_files(store, tmp_path / "out").same == len(FILES)
    assert missing(store, done) == ()
    (row, *_) = store.search.sheets("invented").rows  # a sheet is found by its machine, whichever came first
    assert row.machine_title == "Invented"


SMALL = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Zl", "Zp"]), max_size=30)
NAMES = st.lists(st.text(st.characters(codec="utf-8"), min_size=1, max_size=12), min_size=1, max_size=3)


@given(st.lists(st.tuples(NAMES, SMALL, st.sampled_from([b"\n", b"\r\n"]), st.booleans()), min_size=1, max_size=4))
@settings(max_examples=10, deadline=None)
def test_any_bytes_that_are_taken_come_back(ready_file: Path, drawn: list[tuple[list[str], str, bytes, bool]]) -> None:
    files: dict[str, bytes] = {}
    for names, comment, end, marked in drawn:
        name = f"{'/'.join(names)}.yaml"
        content = b"\xef\xbb\xbf" * marked + SHEET.replace(b"\n", end) + f"# {comment}".encode() + end
        try:
            document_name(name)
            indexed(name, content)
        except UnusableInput:
            continue
        files[name] = content
    assume(files and len({name.casefold() for name in files}) == len(files))
    with TemporaryDirectory() as folder:
        try:
            laid(Path(folder) / "in", files)
        except OSError:  # a name that is a file of one drawn document and a folder of another
            assume(False)
        store = open_store(shutil.copy(ready_file, Path(folder) / "w.db"))
        done = taken_in(store, Path(folder) / "in")
        assert [one.wrong for one in done] == [()] * len(files)
        export_files(store, Path(folder) / "out")
        store.close()
        assert held(Path(folder) / "out") == files


def test_what_is_there_already_is_left_and_what_differs_asks_first(store: Store, tmp_path: Path) -> None:
    folder = laid(tmp_path / "in", FILES)
    taken_in(store, folder)
    store.documents.save("sheets/a.yaml", SHEET + b"# on the page\n", base=1, author="Bob")
    again = {one.file.name: one for one in taken_in(store, folder)}
    assert {name: one.done for name, one in again.items()} == {**dict.fromkeys(FILES, "same"), "sheets/a.yaml": None}
    (problem,) = again["sheets/a.yaml"].wrong
    assert "another version of sheets/a.yaml, saved 2026-05-14T07:30 by Bob" in str(problem)
    assert problem.file == str(folder / "sheets/a.yaml")
    assert len(store.documents.versions("sheets/a.yaml")) == 2
    assert {one.done for one in taken_in(store, folder, replace=True)} == {"same", "changed"}
    versions = store.documents.versions("sheets/a.yaml")
    assert [(one.number, one.author) for one in versions] == [(3, "Ann"), (2, "Bob"), (1, "Ann")]


def test_one_bad_file_does_not_keep_the_others_out(store: Store, tmp_path: Path) -> None:
    bad = {"bad.yaml": b"readings: [", "b|ad.yaml": SHEET, "machines/m.yaml": SHEET}
    store.documents.save("machines/m.yaml", MACHINE, base=None, author="Ann")
    folder = laid(tmp_path / "in", {**FILES, **bad, "rule.yaml": b"oilpath: rule/1\n", ".hidden.yaml": SHEET})
    laid(folder, {".git/x.yaml": SHEET, "notes.txt": b"-"})
    done = {one.file.name: one for one in taken_in(store, folder, replace=True)}
    assert {name for name, one in done.items() if one.wrong} == set(bad)
    assert [name for name, one in done.items() if one.done == "other"] == ["rule.yaml"]
    assert "has been a machine so far" in str(done["machines/m.yaml"].wrong[0])
    assert set(store.documents.names()) == set(FILES)


def test_a_file_alone_is_called_as_typed(file_store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    laid(tmp_path, FILES)
    monkeypatch.chdir(tmp_path)
    named = ["sheets/a.yaml", "./sheets/../c.json", str(tmp_path / "sheets/b.yml")]
    found = [file.name for one in named for file in files_of(one)]
    assert found == ["sheets/a.yaml", "c.json", "b.yml"]
    done = list(import_files(file_store, files_of("sheets/a.yaml"), author="Ann"))
    assert "names machines/m.yaml, which is not in the database" in str(missing(file_store, done)[0])


def test_an_export_writes_over_nothing_unless_asked(file_store: Store, tmp_path: Path) -> None:
    taken_in(file_store, laid(tmp_path / "in", FILES))
    laid(tmp_path / "out", {"sheets/a.yaml": b"mine", "c.json": FILES["c.json"], "other.txt": b"-"})
    with pytest.raises(UnusableInput, match="a file with other content is there"):
        export_files(file_store, tmp_path / "out")
    assert len(held(tmp_path / "out")) == 3
    found = export_files(file_store, tmp_path / "out", overwrite=True)
    assert (found.written, found.same) == (len(FILES) - 1, 1)
    assert held(tmp_path / "out") == {**FILES, "other.txt": b"-"}


def test_what_was_taken_away_is_not_exported_and_names_alike_are_told(file_store: Store, tmp_path: Path) -> None:
    for name in ("a.yaml", "A.yaml", "b.yaml"):
        file_store.documents.save(name, SHEET, base=None, author="Ann")
    with pytest.raises(UnusableInput, match="by capitals alone"):
        export_files(file_store, tmp_path / "out")
    file_store.documents.remove("A.yaml", base=1, author="Ann")
    export_files(file_store, tmp_path / "out")
    assert set(held(tmp_path / "out")) == {"a.yaml", "b.yaml"}
