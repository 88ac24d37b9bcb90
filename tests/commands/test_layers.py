"""`--kb` and OILPATH_KB with every command; what an answer says of what a layer replaces."""

from __future__ import annotations

import json
import os
from pathlib import Path

import click
import pytest
import yaml

from oilpath import cli
from tests.running import Run, in_process

KB = Path(__file__).parents[2] / "kb"
CASES = KB.parent / "cases"
SHEET = str(CASES / "demo/one-track-slow.yaml")
MACHINE = str(CASES / "machines/trainer-22t.yaml")


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    monkeypatch.delenv("OILPATH_KB", raising=False)
    return in_process(monkeypatch, capsys)


@pytest.fixture(scope="module")
def weak(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A layer in which a broken final drive is no reason to stop, and one caution says little."""
    folder = tmp_path_factory.mktemp("weak")
    causes = yaml.safe_load((KB / "causes/travel.yaml").read_text(encoding="utf-8"))["causes"]
    (cause,) = (one for one in causes if one["cause"] == "final-drive.damaged")
    del cause["stop-use"]
    cause["urgency"] = "care"
    caution = {"hazard": "general", "source": "own experience", "says": "Go on."}
    (folder / "causes").mkdir()
    (folder / "causes/own.yaml").write_text(
        yaml.safe_dump({"oilpath": "causes/1", "causes": [cause]}), encoding="utf-8"
    )
    (folder / "cautions.yaml").write_text(
        yaml.safe_dump({"oilpath": "cautions/1", "cautions": {"defer-to-manual": caution}}), encoding="utf-8"
    )
    return str(folder)


def every_command() -> list[tuple[str, ...]]:
    """All commands with their groups."""

    def below(group: click.Group, path: tuple[str, ...]) -> list[tuple[str, ...]]:
        context = click.Context(group)
        found = []
        for name in group.list_commands(context):
            command = group.get_command(context, name)
            assert command is not None
            found += below(command, (*path, name)) if isinstance(command, click.Group) else [(*path, name)]
        return found

    return below(cli.app(), ())


@pytest.mark.parametrize("command", every_command(), ids=" ".join)
def test_every_command_takes_layers(run: Run, command: tuple[str, ...]) -> None:
    assert "--kb DIR" in run(*command, "--help").out


def test_a_layer_may_be_named_before_or_after_the_command_or_by_the_environment(
    run: Run, weak: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain, after = run("order", SHEET), run("order", SHEET, "--kb", weak)
    assert plain.status == after.status == 0
    assert plain.out != after.out
    assert run("--kb", weak, "order", SHEET) == after
    monkeypatch.setenv("OILPATH_KB", weak)
    assert run("order", SHEET) == after
    assert run("order", SHEET, "--kb", weak) == after


def test_a_layer_that_is_none_is_unusable_and_named(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for command in (("order", SHEET), ("prepare", MACHINE), ("diagnose", SHEET), ("demo",)):
        ran = run(*command, "--kb", "nowhere")
        assert (ran.status, ran.out) == (2, "")
        assert ran.err.startswith("nowhere:1: -: there is no such folder; a folder with causes/")
    monkeypatch.setenv("OILPATH_KB", os.pathsep.join(["first", "second"]))
    assert [line.split(":")[0] for line in run("demo").err.splitlines()] == ["first", "second"]


def test_what_a_layer_takes_away_is_in_every_answer_that_it_touches(run: Run, weak: str) -> None:
    shown = [run(*command, "--kb", weak).out for command in (("diagnose", SHEET), ("order", SHEET), ("diagnose", SHEET,
             "-f", "markdown"))]  # fmt: skip
    (warnings,) = (json.loads(run("diagnose", SHEET, "-f", "json", "--kb", weak).out)["warnings"],)
    for text in (*shown, " ".join(warnings)):
        said = " ".join(text.split()).replace("\\", "")
        assert "replaces the caution defer-to-manual and takes away its words: " in said
        assert "replaces the cause final-drive.damaged and takes away its reason to stop the machine: " in said
        assert "A breaking final drive can lock the track." in said
    day = " ".join(run("prepare", MACHINE, "--kb", weak).out.split())
    assert "replaces the caution defer-to-manual and takes away its words" in day
    loader = run("diagnose", str(CASES / "demo/loader-lift-slow.yaml"), "-f", "json", "--kb", weak)
    (about,) = (text for text in json.loads(loader.out)["warnings"] if "takes away" in text)
    assert "defer-to-manual" in about  # the loader has no final drive that this cause can stand at


def test_what_is_replaced_and_takes_nothing_away_is_named_below(run: Run, tmp_path: Path) -> None:
    (tmp_path / "rules").mkdir()
    text = (KB / "rules/travel-slow-one-side.yaml").read_text(encoding="utf-8")
    (tmp_path / "rules/travel-slow-one-side.yaml").write_text(text, encoding="utf-8")
    said = " ".join(run("diagnose", SHEET, "--kb", str(tmp_path)).out.split())
    assert "Own knowledge in place of what ships with oilpath: rule travel-slow-one-side (" in said
    assert "takes away" not in said
    assert "Own knowledge" not in run("diagnose", SHEET).out
