"""Files written whole: the order of the calls, a fault at each of them, rights, links, files that somebody else edits.

What makes the order safe is POSIX: `fsync` returns when the bytes are on the device, `rename` replaces a file in one
step (IEEE Std 1003.1, fsync() and rename()); that a rename needs its folder synced is said in Linux's fsync(2).
"""

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO

import pytest

from oilpath.documents.writing import Disk, digest, write_whole
from oilpath.problems import UnusableInput

OLD, NEW = b"old\n", b"new, and longer\n" * 5000


class Recorder(Disk):
    """Makes and notes the real calls. Number `fails` goes wrong; with `half`, after half of what is to be written."""

    def __init__(self, fails: int | None = None, half: bool = False) -> None:
        self.calls: list[str] = []
        self._fails, self._half = fails, half

    def _note(self, call: str) -> None:
        self.calls.append(call)
        if len(self.calls) - 1 == self._fails:
            raise OSError(errno.EIO, "Input/output error")

    def create(self, path: str, mode: int) -> BinaryIO:
        self._note("create")
        return super().create(path, mode)

    def write(self, file: BinaryIO, content: bytes) -> None:
        if self._half and len(self.calls) == self._fails:
            super().write(file, content[: len(content) // 2])
        self._note("write")
        super().write(file, content)

    def flush(self, file: BinaryIO) -> None:
        self._note("flush")
        super().flush(file)

    def sync(self, file: BinaryIO) -> None:
        self._note("sync")
        super().sync(file)

    def set_mode(self, path: str, mode: int) -> None:
        self._note("mode")
        super().set_mode(path, mode)

    def rename(self, old: str, new: str) -> None:
        assert os.path.dirname(old) == os.path.dirname(new), "a rename across file systems is no single step"
        self._note("rename")
        super().rename(old, new)

    def remove(self, path: str) -> None:
        self.calls.append("remove")
        super().remove(path)

    def sync_folder(self, path: str) -> None:
        self._note("sync folder")
        super().sync_folder(path)


ORDER = ["create", "write", "flush", "sync", "mode", "rename", "sync folder"]


def test_the_bytes_are_on_the_disk_before_the_name_and_the_folder_last(tmp_path: Path) -> None:
    file, disk = tmp_path / "sheet.yaml", Recorder()
    file.write_bytes(OLD)
    write_whole(file, NEW, disk=disk)
    assert disk.calls == ORDER
    assert file.read_bytes() == NEW
    assert os.listdir(tmp_path) == ["sheet.yaml"]


@pytest.mark.parametrize("half", [False, True])
@pytest.mark.parametrize("number", range(len(ORDER)))
def test_a_fault_at_any_call_leaves_the_old_file_or_the_new_one(tmp_path: Path, number: int, half: bool) -> None:
    file, disk = tmp_path / "sheet.yaml", Recorder(number, half)
    file.write_bytes(OLD)
    with pytest.raises(OSError, match="Input/output error"):
        write_whole(file, NEW, disk=disk)
    after_rename = number > ORDER.index("rename")
    assert file.read_bytes() == (NEW if after_rename else OLD)
    assert os.listdir(tmp_path) == ["sheet.yaml"], "a temporary file is left behind"
    assert [call for call in disk.calls if call != "remove"] == ORDER[: number + 1]


def test_a_temporary_that_cannot_be_removed_hides_no_error(tmp_path: Path) -> None:
    class Stubborn(Recorder):
        def remove(self, path: str) -> None:
            raise OSError(errno.EROFS, "Read-only file system")

    file = tmp_path / "sheet.yaml"
    file.write_bytes(OLD)
    with pytest.raises(OSError, match="Input/output error"):
        write_whole(file, NEW, disk=Stubborn(ORDER.index("rename")))
    assert file.read_bytes() == OLD


def test_ctrl_c_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    class Interrupted(Disk):
        def sync(self, file: BinaryIO) -> None:
            raise KeyboardInterrupt

    file = tmp_path / "sheet.yaml"
    file.write_bytes(OLD)
    with pytest.raises(KeyboardInterrupt):
        write_whole(file, NEW, disk=Interrupted())
    assert file.read_bytes() == OLD
    assert os.listdir(tmp_path) == ["sheet.yaml"]


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o444])
def test_the_old_files_mode_is_kept(tmp_path: Path, mode: int) -> None:
    file = tmp_path / "sheet.yaml"
    file.write_bytes(OLD)
    file.chmod(mode)
    write_whole(file, NEW)
    assert stat.S_IMODE(file.stat().st_mode) == mode


def test_what_is_private_is_so_from_the_first_byte(tmp_path: Path) -> None:
    class Looking(Disk):
        def write(self, file: BinaryIO, content: bytes) -> None:
            modes.append(stat.S_IMODE(os.fstat(file.fileno()).st_mode))
            super().write(file, content)

    modes: list[int] = []
    file = tmp_path / "sheet.yaml"
    file.write_bytes(OLD)
    file.chmod(0o600)
    write_whole(file, NEW, disk=Looking())
    assert modes == [0o600]


def test_a_new_file_gets_the_users_usual_mode(tmp_path: Path) -> None:
    usual = tmp_path / "usual"
    usual.touch()
    write_whole(tmp_path / "new", NEW)
    assert (tmp_path / "new").stat().st_mode == usual.stat().st_mode


def test_a_link_stays_and_its_target_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    target, link = tmp_path / "elsewhere" / "sheet.yaml", tmp_path / "link.yaml"
    target.write_bytes(OLD)
    link.symlink_to(target)
    write_whole(link, NEW, read=digest(OLD))
    assert link.is_symlink()
    assert target.read_bytes() == NEW
    assert sorted(os.listdir(tmp_path)) == ["elsewhere", "link.yaml"]


def test_a_name_as_long_as_the_system_allows(tmp_path: Path) -> None:
    file = tmp_path / ("s" * 250 + ".yaml")
    write_whole(file, NEW)
    assert file.read_bytes() == NEW


def test_a_file_edited_since_it_was_read_is_not_overwritten(tmp_path: Path) -> None:
    file = tmp_path / "sheet.yaml"
    file.write_bytes(b"somebody else's\n")
    with pytest.raises(UnusableInput, match="changed by somebody else since it was read; nothing was written"):
        write_whole(file, NEW, read=digest(OLD))
    assert file.read_bytes() == b"somebody else's\n"


def test_a_file_edited_while_it_is_written_is_not_overwritten(tmp_path: Path) -> None:
    class Busy(Disk):
        def sync(self, handle: BinaryIO) -> None:
            super().sync(handle)
            file.write_bytes(b"somebody else's\n")

    file = tmp_path / "sheet.yaml"
    file.write_bytes(OLD)
    with pytest.raises(UnusableInput, match="changed by somebody else"):
        write_whole(file, NEW, read=digest(OLD), disk=Busy())
    assert file.read_bytes() == b"somebody else's\n"
    assert os.listdir(tmp_path) == ["sheet.yaml"]


def test_a_file_that_is_gone_is_not_made_again(tmp_path: Path) -> None:
    with pytest.raises(UnusableInput, match="the file is gone"):
        write_whole(tmp_path / "sheet.yaml", NEW, read=digest(OLD))
    assert os.listdir(tmp_path) == []


def test_a_folder_or_a_pipe_is_no_place_for_a_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path, said in ((tmp_path, "folder"), (tmp_path / "pipe", "pipe")):
        with pytest.raises(UnusableInput, match=said):
            write_whole(path, NEW)
    assert os.listdir(tmp_path) == ["pipe"]
