"""Bytes of regular files only, whatever stands at the path and whatever it becomes between two looks."""

import os
from pathlib import Path

import pytest

from oilpath.documents.files import check_folder, file_bytes
from oilpath.problems import UnusableInput


def refused(path: Path) -> str:
    with pytest.raises(UnusableInput) as caught:
        file_bytes(path, "file")
    (problem,) = caught.value.problems
    return problem.message


def test_a_regular_file_up_to_its_bound(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"12345")
    assert file_bytes(tmp_path / "file", "file", 5) == b"12345"
    with pytest.raises(UnusableInput, match="larger than"):
        file_bytes(tmp_path / "file", "file", 4)


def test_a_file_that_becomes_a_pipe_after_the_first_look(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The kind is checked on the opened descriptor too, and opening waits for nobody to write."""
    (tmp_path / "file").write_bytes(b"12345")
    os.mkfifo(tmp_path / "pipe")
    opened = os.open
    monkeypatch.setattr(os, "open", lambda path, flags: opened(tmp_path / "pipe", flags))
    assert refused(tmp_path / "file") == "this is a device, pipe or socket"


def test_a_folder(tmp_path: Path) -> None:
    assert refused(tmp_path) == "this is a folder"
    check_folder(tmp_path, "folder")
    (tmp_path / "file").touch()
    for name, said in (("file", "not a folder"), ("none", "no such folder"), ("a\0b", "possible name")):
        with pytest.raises(UnusableInput, match=said):
            check_folder(tmp_path / name, "folder")
