"""The knowledge base compiled and kept: the same as read, under the hash of its content, and never in the way."""

import hashlib
import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from oilpath._version import __version__
from oilpath.knowledge import compile as module
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import (
    base_knowledge,
    cache_name,
    compile_knowledge,
    compiled,
    load_knowledge,
    read_knowledge,
    sealed,
)
from oilpath.knowledge.files import content_hash
from oilpath.problems import UnusableInput

KB = Path(__file__).parents[2] / "kb"


@pytest.fixture(autouse=True)
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A cache of the test's own, and nothing remembered between tests."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    base_knowledge.cache_clear()
    yield tmp_path / "cache" / "oilpath"
    base_knowledge.cache_clear()


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small files and one of each folder."""
    folder = tmp_path_factory.mktemp("kb")
    for path in KB.glob("*.yaml"):
        shutil.copy(path, folder)
    for name in ("circuits", "causes", "rules", "checks"):
        (folder / name).mkdir()
        shutil.copy(sorted((KB / name).glob("*.yaml"))[0], folder / name)
    return folder


@pytest.fixture
def copy(small: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(small, tmp_path / "kb"))


@pytest.fixture(scope="module")
def whole() -> Knowledge:
    return read_knowledge(KB)


def test_compiled_equals_read(whole: Knowledge) -> None:
    text = compile_knowledge(KB)
    assert compiled(text) == whole
    assert compile_knowledge(KB) == text


def test_what_ships_is_complete(whole: Knowledge) -> None:
    assert len(whole.tests) >= 10
    assert len(whole.rules) >= 25
    assert len(whole.checks) >= 10
    assert len({cause.cause for cause in whole.causes}) == len(whole.causes) >= 35
    assert "two-pump-excavator" in whole.circuits
    assert set(whole.always) <= set(whole.cautions)
    assert [rule.id for rule in whole.rules] == sorted(rule.id for rule in whole.rules)


def test_the_version_is_the_hash_of_names_and_contents(copy: Path) -> None:
    version = read_knowledge(copy).version
    assert version == f"sha256:{content_hash(copy)}"
    assert len(version) == len("sha256:") + 64
    digest = hashlib.sha256()
    for path in sorted(copy.rglob("*.yaml"), key=lambda p: p.relative_to(copy).as_posix()):
        digest.update(path.relative_to(copy).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    assert content_hash(copy) == digest.hexdigest()


def test_the_hash_follows_content_not_time_or_place(copy: Path, tmp_path: Path) -> None:
    before = content_hash(copy)
    os.utime(copy / "priors.yaml", (1, 1))
    elsewhere = shutil.copytree(copy, tmp_path / "elsewhere")
    assert content_hash(copy) == content_hash(Path(elsewhere)) == before
    (copy / "notes.txt").write_text("no knowledge", encoding="utf-8")
    assert content_hash(copy) == before
    (copy / "priors.yaml").write_bytes((copy / "priors.yaml").read_bytes() + b"# a word\n")
    assert content_hash(copy) != before


def test_a_renamed_or_moved_file_is_another_content(copy: Path) -> None:
    before = content_hash(copy)
    cause = next((copy / "causes").glob("*.yaml"))
    cause.rename(cause.with_name("other.yaml"))
    assert content_hash(copy) != before


def test_the_first_load_fills_the_cache_and_the_next_reads_it(
    copy: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = load_knowledge(base=copy)
    (kept,) = cache.glob("*")
    assert kept.name == cache_name(copy)
    assert kept.name.startswith(f"kb-{__version__}-{content_hash(copy)[:32]}-")
    base_knowledge.cache_clear()
    monkeypatch.setattr(module, "read_knowledge", lambda kb_dir: pytest.fail("read again"))
    assert load_knowledge(base=copy) == first


def test_loaded_once_in_a_process(copy: Path) -> None:
    assert load_knowledge(base=copy) is load_knowledge(base=copy)


def test_a_change_is_seen_in_the_next_process(copy: Path, cache: Path) -> None:
    before = load_knowledge(base=copy)
    text = (copy / "priors.yaml").read_text(encoding="utf-8")
    (copy / "priors.yaml").write_text(text.replace("freedom: 5", "freedom: 6"), encoding="utf-8")
    base_knowledge.cache_clear()  # as a new process starts
    after = load_knowledge(base=copy)
    assert (before.priors.freedom, after.priors.freedom) == (5, 6)
    assert before.version != after.version
    assert len(list(cache.glob("*"))) == 2


@pytest.mark.parametrize("spoilt", [b"", b"{", b"\xff\xfe", b"[]", b'{"version": "sha256:1"}'])
def test_a_spoilt_cache_is_made_again(copy: Path, cache: Path, spoilt: bytes) -> None:
    first = load_knowledge(base=copy)
    (kept,) = cache.glob("*")
    kept.write_bytes(spoilt)
    base_knowledge.cache_clear()
    assert load_knowledge(base=copy) == first
    assert json.loads(kept.read_text(encoding="utf-8").splitlines()[1])["version"] == first.version


def test_a_cache_that_says_something_else_than_it_was_given_is_made_again(copy: Path, cache: Path) -> None:
    first = load_knowledge(base=copy)
    (kept,) = cache.glob("*")
    made = kept.read_bytes()
    kept.write_bytes(made.replace(b'"freedom": 5', b'"freedom": 9', 1))
    assert kept.read_bytes() != made
    base_knowledge.cache_clear()
    assert load_knowledge(base=copy) == first
    assert kept.read_bytes() == made


def test_a_pipe_in_the_place_of_the_cache_is_replaced(copy: Path, cache: Path) -> None:
    first = load_knowledge(base=copy)
    (kept,) = cache.glob("*")
    made = kept.read_bytes()
    kept.unlink()
    os.mkfifo(kept)
    base_knowledge.cache_clear()
    assert load_knowledge(base=copy) == first
    assert kept.read_bytes() == made


def test_a_spoilt_base_that_came_compiled_is_read_from_its_files(copy: Path) -> None:
    (copy / "compiled.json").write_bytes(sealed(compile_knowledge(copy))[:-100])
    assert load_knowledge(base=copy).version == f"sha256:{content_hash(copy)}"


@pytest.mark.parametrize(
    ("name", "said"),
    [("nowhere", "there is no such folder"), ("kb/priors.yaml", "this is not a folder"), ("x" * 5000, "too long")],
)
def test_a_folder_that_is_none_is_a_problem(copy: Path, name: str, said: str) -> None:
    with pytest.raises(UnusableInput, match=said):
        load_knowledge(base=copy.parent / name)


def test_a_pipe_among_the_files_is_a_problem(copy: Path) -> None:
    os.mkfifo(copy / "rules" / "pipe.yaml")
    with pytest.raises(UnusableInput, match=r"rules/pipe\.yaml:1: -: this is a device, pipe or socket"):
        load_knowledge(base=copy)


@pytest.mark.parametrize("kind", ["a file in its place", "a folder in its place", "a folder that cannot be made"])
def test_a_cache_that_cannot_be_written_is_done_without(
    copy: Path, cache: Path, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if kind == "a file in its place":
        cache.parent.mkdir()
        cache.write_text("in the way", encoding="utf-8")
    elif kind == "a folder in its place":
        (cache / cache_name(copy)).mkdir(parents=True)
    else:
        monkeypatch.setenv("XDG_CACHE_HOME", "/dev/null/nowhere")
    assert load_knowledge(base=copy).version == f"sha256:{content_hash(copy)}"


def test_a_cache_that_is_full_leaves_nothing_behind(copy: Path, cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "no space left")

    monkeypatch.setattr(os, "replace", full)
    assert load_knowledge(base=copy).causes
    assert list(cache.glob("*")) == []


def test_without_a_cache_folder_of_its_own_the_homes_is_used(
    copy: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("XDG_CACHE_HOME")
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    load_knowledge(base=copy)
    assert len(list((tmp_path / "home" / ".cache" / "oilpath").glob("kb-*.json"))) == 1


def test_an_installed_base_comes_compiled(copy: Path, cache: Path) -> None:
    (copy / "compiled.json").write_bytes(sealed(compile_knowledge(copy)))
    for path in copy.glob("*.yaml"):
        path.unlink()
    assert load_knowledge(base=copy).causes
    assert not cache.exists()


def test_all_problems_of_all_files_at_once(copy: Path, cache: Path) -> None:
    (copy / "priors.yaml").write_text("oilpath: priors/1\n", encoding="utf-8")
    (copy / "sources.yaml").write_text("oilpath: sources/1\nsources: [1]\n", encoding="utf-8")
    (copy / "causes" / "bad.yaml").write_text("oilpath: causes/1\ncauses: [{cause: Bad}]\n", encoding="utf-8")
    with pytest.raises(UnusableInput) as caught:
        load_knowledge(base=copy)
    assert {p.file for p in caught.value.problems} == {"priors.yaml", "sources.yaml", "causes/bad.yaml"}
    assert not cache.exists()  # nothing half-read is kept
