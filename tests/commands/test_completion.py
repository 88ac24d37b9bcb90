"""What a shell completes with the Tab key: in bash itself where there is one, else by what the script asks for."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest
from click.shell_completion import ShellComplete

from oilpath import cli
from tests.running import Run, command_line, in_process

CASES = Path(__file__).parents[2] / "cases"


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return in_process(monkeypatch, capsys)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copy(CASES / "machines/trainer-22t.yaml", tmp_path / "my machine.yaml")
    sheet = (CASES / "demo/boom-drift.yaml").read_text(encoding="utf-8")
    (tmp_path / "monday.yaml").write_text(sheet.replace("../machines/trainer-22t", "my machine"), encoding="utf-8")
    (tmp_path / "more.txt").write_text("", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def offered(*words: str) -> dict[str, str | None]:
    """What is offered for the last word, with what is said beside it."""
    found = ShellComplete(cli.app(), {}, "oilpath", "").get_completions(list(words[:-1]), words[-1])
    return {str(one.value) if one.type == "plain" else one.type: one.help for one in found}


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_script_is_printed(run: Run, shell: str) -> None:
    ran = run("completion", shell)
    assert (ran.status, ran.err) == (0, "")
    assert f"_OILPATH_COMPLETE={shell}_complete" in ran.out


def test_commands_options_and_words_are_completed() -> None:
    assert list(offered("di")) == ["diagnose"]
    assert "fill" in offered("sheet", "")
    assert list(offered("diagnose", "a.yaml", "--pic")) == ["--picture"]
    assert list(offered("diagnose", "a.yaml", "--format", "js")) == ["json", "jsonl"]
    assert list(offered("machine", "new", "two")) == ["two-pump-excavator"]
    assert offered("demo", "boom-d") == {"boom-drift": "Boom sinks overnight, bucket is on the ground in the morning"}
    assert list(offered("kb", "new", "c")) == ["cause", "check"]


@pytest.mark.parametrize(
    ("words", "files"),
    [
        (("diagnose", "m"), ["monday.yaml"]),
        (("prepare", "m"), ["my machine.yaml"]),
        (("sheet", "fill", ""), ["monday.yaml", "my machine.yaml"]),
        (("diagnose", "nothing/"), ["file"]),
        (("diagnose", "monday.yaml", "-o", ""), ["file"]),
        (("--kb", ""), ["dir"]),
    ],
)
def test_files_are_of_the_kind_that_is_wanted(folder: Path, words: tuple[str, ...], files: list[str]) -> None:
    assert list(offered(*words)) == files


def test_ids_have_their_titles_beside_them_and_titles_are_taken_too(folder: Path) -> None:
    assert offered("explore", "pump.worn@pump-2") == {"pump.worn@pump-2": "Worn main pump 2"}
    assert list(offered("explore", "worn main pump 1")) == ["Worn main pump 1"]
    assert "drift/boom-cylinder" in offered("why", "monday.yaml", "drift/")
    assert list(offered("close", "monday.yaml", "--part", "boom-h")) == ["boom-holding-valve"]
    assert list(offered("close", "monday.yaml", "--cause", "pump.wor")) == ["pump.worn"]


BASH = shutil.which("bash")


@pytest.mark.skipif(BASH is None, reason="needs bash")
def test_bash_puts_the_values_into_the_line(folder: Path) -> None:
    """The words as bash takes the line apart, and its COMPREPLY."""
    program = folder / "oilpath"
    program.write_text(f'#!/bin/sh\nexec {shlex.join(command_line())} "$@"\n', encoding="utf-8")
    program.chmod(0o755)
    cases = {
        "prepare|my": ["my\\ machine.yaml"],
        "prepare|'my": ["my machine.yaml"],
        "explore|pump.worn|@|pump-1": ["@pump-1"],
        "diagnose|a|--format|mark": ["markdown"],
        "no-such|x": [],
    }
    lines = ['source <("$1" completion bash)', "complete -p oilpath"]
    for line in cases:
        words = " ".join(shlex.quote(word) for word in ["oilpath", *line.split("|")])
        lines.append(f"COMP_WORDS=({words}); COMP_CWORD=$((${{#COMP_WORDS[@]}}-1)); COMPREPLY=()")
        lines.append('_oilpath_completion "$1" 2>&1; printf "%s\\n" "${COMPREPLY[@]}" -- ')
    done = subprocess.run(
        [str(BASH), "-c", "\n".join(lines), "bash", str(program)],
        capture_output=True, text=True, timeout=120, env={**os.environ, "PYTHONPATH": ""},
    )  # fmt: skip
    head, *answers = done.stdout.split("\n", 1)[0], *done.stdout.split("\n", 1)[1].split("--\n")
    assert head.endswith("_oilpath_completion oilpath")
    assert [[one for one in answer.splitlines() if one] for answer in answers[:-1]] == list(cases.values())
