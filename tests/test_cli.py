"""The command: what goes where, with which status, and never a traceback.

Here the flow behind it is replaced by a hand-made answer; `test_cli_flow.py` runs the whole.
"""

import io
import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import oilpath
from oilpath import cli
from oilpath.commands import answers, console
from oilpath.flow.notes import Quote, note
from oilpath.problems import Problem, UnusableInput
from tests.reports.sample import DIAGNOSIS, KNOWLEDGE, MACHINE
from tests.running import Ran, Run, in_process

BAD = "bad.yaml"


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """run(*arguments): the command in this process; sheets named bad.yaml cannot be read, all others give DIAGNOSIS."""

    class Stand:
        machine = MACHINE
        confirmed = ()

        def __init__(self, name: str) -> None:
            self.name = name

    def sheet(name: str, knowledge: object, text: bytes | None = None) -> Stand:
        if name == BAD:
            raise UnusableInput([Problem(BAD, 3, "readings", "is missing", "a list"), Problem(BAD, 4, "x", "no key")])
        if name == "boom.yaml":
            raise RuntimeError("a mistake\nof ours")
        if name == "stop.yaml":
            raise KeyboardInterrupt
        return Stand(name)

    def diagnosed(sheet: Stand, knowledge: object, fail_at: float = 0.95, pass_at: float = 0.05) -> Any:
        return replace(
            DIAGNOSIS,
            sheet=sheet.name,
            warnings=(note("rule-warns", says=Quote(f"fail at {fail_at}, pass at {pass_at}")),),
        )

    monkeypatch.setattr(console, "read_knowledge", lambda: KNOWLEDGE)
    monkeypatch.setattr(console, "read_sheet", sheet)
    monkeypatch.setattr(answers, "diagnosed", diagnosed)

    return in_process(monkeypatch, capsys)


# --- start ----------------------------------------------------------------------------


def test_version(run: Run) -> None:
    assert run("--version") == Ran(0, f"oilpath {oilpath.__version__}\n", "")


def test_help_shows_the_commands_that_exist_and_no_others(run: Run) -> None:
    listed = run("--help").out.split("Commands:")[1].split("Examples:")[0]
    names = {line.split()[0] for line in listed.splitlines() if line.startswith("  ") and line[2] != " "}
    assert names == {
        "demo",
        "machine",
        "prepare",
        "sheet",
        "diagnose",
        "why",
        "next",
        "explore",
        "order",
        "close",
        "trend",
        "practice",
        "serve",
        "store",
        "kb",
        "completion",
    }


@pytest.mark.parametrize(
    "command", [("demo",), ("prepare",), ("diagnose",), ("why",), ("order",), ("trend",), ("kb",), ("kb", "check")]
)
def test_every_command_has_help(run: Run, command: tuple[str, ...]) -> None:
    ran = run(*command, "--help")
    assert ran.status == 0
    assert len(ran.out.splitlines()[2].strip()) > 15


@pytest.mark.parametrize(
    "arguments",
    [
        ("nothing",),
        ("diagnose",),
        ("diagnose", "a", "--format", "poem"),
        ("diagnose", "a", "--no-such"),
        ("diagnose", "a", "--fail-at", "much"),
        ("diagnose", "a", "--fail-at", "nan"),
        ("diagnose", "a", "--fail-at", "0.1", "--pass-at", "0.2"),
        ("diagnose", "a", "--fail-at", "1.2"),
        ("diagnose", "-", "a", "-"),
        ("why", "a"),
        ("order",),
        ("order", "a", "b"),
        ("demo", "no-such-case"),
    ],
)
def test_wrong_usage_is_status_2_in_a_few_lines(run: Run, arguments: tuple[str, ...]) -> None:
    ran = run(*arguments)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err
    assert "Traceback" not in ran.err


# --- diagnose -------------------------------------------------------------------------


def test_diagnose_text(run: Run) -> None:
    ran = run("diagnose", "a.yaml")
    assert (ran.status, ran.err) == (0, "")
    assert "STOP USE" in ran.out
    assert "\x1b" not in ran.out
    assert max(len(line) for line in ran.out.splitlines()) <= 80


def test_all_shows_what_is_in_order_too(run: Run) -> None:
    assert "4.77 s" not in run("diagnose", "a.yaml").out
    assert "4.77 s" in run("diagnose", "--all", "a.yaml").out


def test_thresholds_reach_the_judging(run: Run) -> None:
    assert "fail at 0.9, pass at 0.1" in run("diagnose", "a", "--fail-at", "0.9", "--pass-at", "0.1").out


def test_several_sheets_follow_in_the_order_given(run: Run) -> None:
    out = run("diagnose", "b.yaml", "a.yaml").out
    assert out.index("sheet b.yaml") < out.index("sheet a.yaml")
    markdown = run("diagnose", "b.yaml", "a.yaml", "--format", "markdown").out
    assert markdown.count("\n---\n") == 1
    assert markdown.startswith("# ")


def test_a_bad_sheet_among_several(run: Run) -> None:
    ran = run("diagnose", "a.yaml", BAD, "b.yaml")
    assert ran.status == 2
    assert ran.err == "bad.yaml:3: readings: is missing; a list\nbad.yaml:4: x: no key\n"
    assert ran.out.index("sheet a.yaml") < ran.out.index("sheet b.yaml")


def test_one_bad_sheet_writes_nothing(run: Run) -> None:
    for format_ in ("text", "markdown", "json"):
        ran = run("diagnose", BAD, "--format", format_)
        assert (ran.status, ran.out) == (2, "")
        assert ran.err.startswith("bad.yaml:3: ")


def test_json_of_one_is_an_object_of_several_an_array(run: Run) -> None:
    assert json.loads(run("diagnose", "a.yaml", "-f", "json").out)["oilpath"] == "diagnosis/1"
    ran = run("diagnose", "a.yaml", BAD, "b.yaml", "-f", "json")
    assert ran.status == 2
    entries = json.loads(ran.out)
    assert [(entry["oilpath"], entry["sheet"]) for entry in entries] == [
        ("diagnosis/1", "a.yaml"),
        ("error/1", BAD),
        ("diagnosis/1", "b.yaml"),
    ]
    assert entries[1]["problems"][0] == {
        "file": BAD,
        "line": 3,
        "key": "readings",
        "message": "is missing",
        "accepted": "a list",
    }


def test_jsonl_is_a_line_each_also_for_a_bad_one(run: Run) -> None:
    ran = run("diagnose", "a.yaml", BAD, "-f", "jsonl")
    assert [json.loads(line)["oilpath"] for line in ran.out.splitlines()] == ["diagnosis/1", "error/1"]
    assert [json.loads(line)["oilpath"] for line in run("diagnose", BAD, "-f", "jsonl").out.splitlines()] == ["error/1"]


# --- output ---------------------------------------------------------------------------


def test_output_is_written_whole_and_alone(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "answer.json"
    file.write_text("old and much longer than the new one" * 10_000)
    file.chmod(0o640)
    ran = run("diagnose", "a.yaml", "-f", "json", "-o", str(file))
    assert (ran.status, ran.out, ran.err) == (0, "", "")
    assert json.loads(file.read_text(encoding="utf-8"))["sheet"] == "a.yaml"
    assert file.stat().st_mode & 0o777 == 0o640
    assert list(tmp_path.iterdir()) == [file]


def test_a_new_output_has_the_usual_rights(run: Run, tmp_path: Path) -> None:
    beside = tmp_path / "beside"
    beside.touch()
    run("diagnose", "a.yaml", "b.yaml", "-o", str(tmp_path / "new.txt"))
    assert (tmp_path / "new.txt").stat().st_mode == beside.stat().st_mode
    text = (tmp_path / "new.txt").read_text(encoding="utf-8")
    assert text.index("sheet a.yaml") < text.index("sheet b.yaml")


def test_output_of_a_bad_sheet_leaves_the_old_file(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "answer.txt"
    file.write_text("old")
    assert run("diagnose", BAD, "-o", str(file)).status == 2
    assert file.read_text() == "old"


def test_output_through_a_link_keeps_the_link(run: Run, tmp_path: Path) -> None:
    target, link = tmp_path / "target", tmp_path / "link"
    link.symlink_to(target)
    target.touch()
    run("diagnose", "a.yaml", "-o", str(link))
    assert link.is_symlink()
    assert target.read_text(encoding="utf-8")


def test_output_that_cannot_be_written_is_a_problem(run: Run, tmp_path: Path) -> None:
    ran = run("diagnose", "a.yaml", "-o", str(tmp_path / "none" / "answer.txt"))
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.endswith(
        "answer.txt:1: --output: cannot be written: there is no such folder; a file in a folder for writing\n"
    )


def test_output_to_a_folder_or_over_the_sheet_is_refused(run: Run, tmp_path: Path) -> None:
    assert run("diagnose", "a.yaml", "-o", str(tmp_path)).status == 2
    sheet = tmp_path / "a.yaml"
    sheet.write_text("mine")
    ran = run("diagnose", str(sheet), "-o", str(sheet))
    assert ran.status == 2
    assert sheet.read_text() == "mine"


def test_output_to_a_device_is_written_to_it(run: Run) -> None:
    assert run("diagnose", "a.yaml", "-o", os.devnull) == Ran(0, "", "")
    assert Path(os.devnull).is_char_device()


# --- why, order, demo, kb check -------------------------------------------------------


def test_why(run: Run) -> None:
    assert run("why", "a.yaml", "pump.worn").out.startswith("Worn main pump 1")
    assert run("why", "a.yaml", "pump.wron") == Ran(
        2, "", "a.yaml:1: pump.wron: is not a result, cause or part in this answer; did you mean pump.worn?\n"
    )
    assert run("why", BAD, "pump.worn").status == 2


def test_order(run: Run) -> None:
    ran = run("order", "a.yaml")
    assert ran.out.startswith("*** STOP USE ***")
    assert run("order", BAD).status == 2


@pytest.fixture
def cases(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    folder = tmp_path / "demo"
    folder.mkdir()
    for name, kind in (("pump-1-slow", "sheet"), ("a-drift", "sheet"), ("machine", "machine")):
        (folder / f"{name}.yaml").write_text(f"# invented\noilpath: {kind}/1\n")
    monkeypatch.setattr("oilpath.data.data_folder", lambda kind: tmp_path)
    return folder


def test_demo(run: Run, cases: Path) -> None:
    assert "sheet demo case pump-1-slow" in run("demo").out
    assert "sheet demo case a-drift" in run("demo", "a-drift").out
    assert run("demo", "--list").out == "a-drift\npump-1-slow\n"
    (cases / "a-drift.yaml").write_text("oilpath: sheet/1\ncomplaint: Arm sinks\n")
    assert run("demo", "--list").out == "a-drift      Arm sinks\npump-1-slow\n"
    ran = run("demo", "machine")
    assert ran.status == 2
    assert "a-drift, pump-1-slow" in ran.err


def test_kb_check(run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from oilpath import kbcheck

    finding = Problem("rules/a.yaml", 2, "id", "is used twice", "another id")
    note = Problem("causes/b.yaml", 4, "c.d", "reads like e.f")
    told = kbcheck.Review()
    asked: list[Path] = []

    def review(folder: Path) -> kbcheck.Review:
        asked.append(folder)
        return told

    monkeypatch.setattr(kbcheck, "review", review)
    assert run("kb", "check", str(tmp_path)) == Ran(0, "The knowledge base is in order.\n", "")
    assert asked == [tmp_path]
    told = kbcheck.Review((), (note,))
    ran = run("kb", "check", str(tmp_path))
    assert (ran.status, ran.out.splitlines()[-1]) == (0, "The knowledge base is in order; 1 note.")
    told = kbcheck.Review((finding,), (note,))
    ran = run("kb", "check", str(tmp_path))
    assert ran.status == 1
    assert ran.out.startswith("rules/a.yaml:2: id: is used twice; another id\n")
    assert ran.out.endswith("\n1 finding; 1 note.\n")
    asked.clear()
    for name in (tmp_path / "nowhere", Path(__file__)):
        ran = run("kb", "check", str(name))
        assert (ran.status, ran.out, asked) == (2, "", [])
        assert "is not a folder" in " ".join(ran.err.split())


# --- when things go wrong -------------------------------------------------------------


def test_a_mistake_of_ours_is_one_line(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("OILPATH_TRACEBACK", raising=False)
    ran = run("diagnose", "boom.yaml")
    assert (ran.status, ran.out) == (2, "")
    assert len(ran.err.splitlines()) == 1
    assert ran.err.startswith("oilpath: internal error: RuntimeError: a mistake\\nof ours (test_cli.py:")
    assert "please report" in ran.err


def test_a_mistake_of_ours_with_its_traceback(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OILPATH_TRACEBACK", "1")
    with pytest.raises(RuntimeError, match="a mistake"):
        cli.run(["diagnose", "boom.yaml"])


def test_interrupted(run: Run) -> None:
    ran = run("diagnose", "stop.yaml")
    assert ran.status == 130
    assert "Traceback" not in ran.err


class Terminal(io.StringIO):
    """Standard error as a terminal."""

    def isatty(self) -> bool:
        return True


def test_progress_on_a_terminal_with_several_sheets(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    shown = Terminal()
    monkeypatch.setattr(sys, "stderr", shown)
    run("diagnose", "a\x1b[31m.yaml", BAD, "-f", "jsonl")
    said = shown.getvalue()
    assert "\r\x1b[K1 of 2: a\\x1b[31m.yaml" in said
    assert "\r\x1b[Kbad.yaml:3: readings" in said.replace("\r\x1b[K\r\x1b[K", "\r\x1b[K")
    assert said.endswith("\r\x1b[K" + f"{BAD}:3: readings: is missing; a list\n{BAD}:4: x: no key\n")
    assert run("diagnose", "a.yaml", "stop.yaml").status == 130
    assert shown.getvalue().endswith("2 of 2: stop.yaml\r\x1b[K")
    shown.truncate(0)
    run("diagnose", "a.yaml")
    assert "1 of" not in shown.getvalue()


def test_signs_that_the_encoding_lacks(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def shown(encoding: str, *arguments: str) -> str:
        raw = io.BytesIO()
        monkeypatch.setattr(
            sys, "stdout", io.TextIOWrapper(raw, encoding=encoding, errors="strict", write_through=True)
        )
        run(*arguments)
        return raw.getvalue().decode(encoding)

    text = shown("ascii", "diagnose", "a.yaml")
    assert "+-- " in text
    assert "- 81%" in text
    plain = json.loads(shown("ascii", "diagnose", "a.yaml", "-f", "json"))
    assert plain == json.loads(shown("utf-8", "diagnose", "a.yaml", "-f", "json"))
    assert any(entry["unit"] == "°C" for entry in plain["results"])


# --- as a process ---------------------------------------------------------------------

START = f"import sys; sys.path[:0] = [{str(Path(cli.__file__).parents[1])!r}]; sys.argv[0] = 'oilpath'; "


def process(code: str, *arguments: str, **more: Any) -> "subprocess.CompletedProcess[bytes]":
    return subprocess.run(
        [sys.executable, "-c", START + code, *arguments], capture_output=True, timeout=60, check=False, **more
    )


def test_a_closed_pipe_is_quiet() -> None:
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [sys.executable, "-c", START + "from oilpath.cli import main; main()", "--version"],
        stdout=write,
        stderr=subprocess.PIPE,
        timeout=60,
        check=False,
    )
    os.close(write)
    assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_is_said() -> None:
    with open("/dev/full", "wb") as full:
        done = subprocess.run(
            [sys.executable, "-c", START + "from oilpath.cli import main; main()", "--version"],
            stdout=full,
            stderr=subprocess.PIPE,
            timeout=60,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr.decode().startswith("oilpath: the answer cannot be written")
    assert b"Traceback" not in done.stderr


def test_version_and_help_load_no_rich() -> None:
    for argument in ("--version", "--help"):
        code = (
            "import oilpath.cli\noilpath.cli.run(sys.argv[1:])\n"
            "print([name for name in ('rich', 'numpy', 'pydantic', 'networkx', 'durable') if name in sys.modules])"
        )
        done = process(code, argument)
        assert done.stdout.decode().splitlines()[-1] == "[]", done
