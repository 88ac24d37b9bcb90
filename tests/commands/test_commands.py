"""`prepare` and `trend` as typed: what goes where, with which status; real files, the command in this process."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.running import Run, in_process

MACHINE = """oilpath: machine/1
name: Invented
circuit: two-pump-excavator
engine-speed: 1900 rpm
dimensions: {length: 9.5 m}
limits:
  - {test: cycle-time, function: bucket-curl, new: 3.4 s, max: 4.0 s}
"""
SHEET = """oilpath: sheet/1
machine: machine.yaml
unit-number: %s
hours: %s
conditions: {oil-temperature: 55 °C, engine-speed: 1900 rpm, attachment: empty, auto-idle: off, working-setting: full}
readings:
  - {test: cycle-time, function: bucket-curl, times: [%s s]}
"""


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """run(*arguments) in a folder with a machine and four sheets of it, 0.yaml to 3.yaml."""
    (tmp_path / "machine.yaml").write_text(MACHINE, encoding="utf-8")
    for number, value in enumerate((3.4, 3.5, 3.6, 3.7)):
        times = " s, ".join([str(value)] * 3)
        (tmp_path / f"{number}.yaml").write_text(SHEET % ("T-1", 1000 + 2000 * number, times), encoding="utf-8")
    monkeypatch.chdir(tmp_path)

    return in_process(monkeypatch, capsys)


SHEETS = ("0.yaml", "1.yaml", "2.yaml", "3.yaml")


def test_prepare_writes_the_plan(run: Run) -> None:
    ran = run("prepare", "machine.yaml")
    assert (ran.status, ran.err) == (0, "")
    assert "34.5 m clear ahead" in " ".join(ran.out.split())
    assert run("prepare", "machine.yaml") == ran


def test_prepare_reads_standard_input_and_writes_markdown(run: Run) -> None:
    ran = run("prepare", "-", "--format", "markdown", text=MACHINE)
    assert ran.status == 0
    assert ran.out.startswith("# Plan for a day of testing: Invented\n")


def test_prepare_into_a_file(run: Run, tmp_path: Path) -> None:
    ran = run("prepare", "machine.yaml", "-o", "plan.txt")
    assert (ran.status, ran.out) == (0, "")
    assert (tmp_path / "plan.txt").read_text(encoding="utf-8") == run("prepare", "machine.yaml").out
    assert run("prepare", "machine.yaml", "-o", "machine.yaml").status == 2


def test_prepare_of_an_unusable_machine(run: Run) -> None:
    ran = run("prepare", "-", text=MACHINE + "speed: 3\n")
    assert (ran.status, ran.out) == (2, "")
    assert "speed" in ran.err
    assert "Traceback" not in ran.err
    assert run("prepare", "nowhere.yaml").status == 2


def test_trend_in_any_order(run: Run) -> None:
    ran = run("trend", *SHEETS)
    assert (ran.status, ran.err) == (0, "")
    assert "at about 13000 h" in " ".join(ran.out.split())
    assert run("trend", *reversed(SHEETS)).out == ran.out


@pytest.mark.parametrize(("format_", "start"), [("markdown", "# Invented"), ("svg", "<svg ")])
def test_trend_in_its_formats(run: Run, format_: str, start: str) -> None:
    ran = run("trend", *SHEETS, "--format", format_)
    assert ran.status == 0
    assert ran.out.startswith(start)


def test_a_bad_sheet_has_its_own_error_and_the_rest_is_answered(run: Run, tmp_path: Path) -> None:
    (tmp_path / "bad.yaml").write_text("oilpath: sheet/1\nmachine: machine.yaml\n", encoding="utf-8")
    (tmp_path / "other.yaml").write_text(SHEET % ("T-2", 4000, 9), encoding="utf-8")
    (tmp_path / "when.yaml").write_text((SHEET % ("T-1", 4000, 9)).replace("hours", "order-number"), encoding="utf-8")
    ran = run("trend", "0.yaml", "bad.yaml", "other.yaml", "when.yaml", "1.yaml", "2.yaml", "3.yaml")
    assert ran.status == 2
    assert ran.out == run("trend", *SHEETS).out
    said = ran.err.splitlines()
    assert [line.split(":")[0] for line in said] == ["bad.yaml", "other.yaml", "when.yaml"]


@pytest.mark.parametrize("again", ["0.yaml", "./0.yaml", "hard.yaml", "soft.yaml"])
def test_trend_counts_no_sheet_twice(run: Run, tmp_path: Path, again: str) -> None:
    (tmp_path / "hard.yaml").hardlink_to(tmp_path / "0.yaml")
    (tmp_path / "soft.yaml").symlink_to("0.yaml")
    ran = run("trend", "0.yaml", again)
    assert (ran.status, ran.out) == (2, "")
    assert "given twice" in " ".join(ran.err.split())


def test_trend_with_no_usable_sheet(run: Run) -> None:
    ran = run("trend", "nowhere.yaml")
    assert (ran.status, ran.out) == (2, "")


@pytest.mark.parametrize(
    "arguments", [("0.yaml", "0.yaml"), ("-", "-"), ("0.yaml", "-o", "0.yaml"), ("0.yaml", "-f", "json"), ()]
)
def test_wrong_usage(run: Run, arguments: tuple[str, ...]) -> None:
    ran = run("trend", *arguments)
    assert (ran.status, ran.out) == (2, "")
    assert "Traceback" not in ran.err


def test_a_baseline_shows_in_the_diagnosis(run: Run, tmp_path: Path) -> None:
    """The whole way: an earlier sheet named on this one, of a machine that has no limit for the reading."""
    (tmp_path / "machine.yaml").write_text(MACHINE.partition("limits")[0], encoding="utf-8")
    now = (SHEET % ("T-1", 9000, 4.9)).replace("readings", "baseline: [0.yaml, 1.yaml]\nreadings")
    (tmp_path / "now.yaml").write_text(now, encoding="utf-8")
    ran = run("diagnose", "now.yaml")
    assert ran.status == 0
    said = " ".join(ran.out.split())
    assert "judged by 2 earlier readings of this machine when it was sound" in said
    assert '"basis": "baseline"' in run("diagnose", "now.yaml", "-f", "json").out
    (tmp_path / "0.yaml").write_text(SHEET % ("T-9", 100, 3.4), encoding="utf-8")
    assert "baseline 0.yaml is not used: it does not match this sheet in unit number" in " ".join(
        run("diagnose", "now.yaml").out.split()
    )


# --- order ----------------------------------------------------------------------------


@pytest.fixture
def sheets(run: Run, tmp_path: Path) -> Path:
    """The folder, with slow.yaml in it."""
    (tmp_path / "slow.yaml").write_text(SHEET % ("T-1", 9000, "4.9 s, 5.0 s, 4.9"), encoding="utf-8")
    return tmp_path


def test_an_order_goes_to_a_file_in_the_form_of_its_name(run: Run, sheets: Path) -> None:
    assert run("order", "slow.yaml", "-o", "order.md").status == 0
    assert (sheets / "order.md").read_text(encoding="utf-8").startswith("- **Machine:**")
    assert run("order", "slow.yaml", "-f", "text", "-o", "order.txt").status == 0
    assert (sheets / "order.txt").read_text(encoding="utf-8").startswith("MACHINE:")


def test_a_closed_job_shows_the_readings_after_the_repair(run: Run, sheets: Path) -> None:
    sheet = (sheets / "slow.yaml").read_text(encoding="utf-8")
    (sheets / "retest.yaml").write_text(sheet.replace("4.9 s, 5.0 s, 4.9 s", "3.4 s, 3.4 s, 3.4 s"), encoding="utf-8")
    confirmed = "confirmed: [{cause: pump.worn, part: pump-1, how: Pump exchanged, after: retest.yaml}]\n"
    (sheets / "closed.yaml").write_text(sheet + confirmed, encoding="utf-8")
    text = " ".join(run("order", "closed.yaml").out.split())
    assert "CAUSE: FOUND AND CORRECTED - Worn main pump 1. CORRECTION - Pump exchanged" in text
    assert "Proof: Cycle time, bucket curl: 4.93 s before, 3.4 s after" in text


def test_a_template_of_a_layer_takes_the_place_of_the_usual_order(run: Run, sheets: Path) -> None:
    (sheets / "my-kb/templates").mkdir(parents=True)
    (sheets / "my-kb/templates/order.txt").write_text("{{ machine }}: {{ suspected[0].title }}", encoding="utf-8")
    assert run("order", "slow.yaml", "--kb", "my-kb").out.count("\n") == 1
    assert "MACHINE:" in run("order", "slow.yaml", "--kb", "my-kb", "--full").out
    (sheets / "my-kb/templates/order.txt").write_text("\n{{ nothing }}", encoding="utf-8")
    ran = run("order", "slow.yaml", "--kb", "my-kb")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.startswith("my-kb/templates/order.txt:2: -: 'nothing' is undefined; ")


def test_a_short_order_goes_alone(run: Run, sheets: Path) -> None:
    assert run("order", "slow.yaml", "--short", "--parts").status == 2


# --- pages and pictures ---------------------------------------------------------------


def test_the_ending_of_the_file_says_the_form(run: Run, sheets: Path) -> None:
    for name, start in (
        ("x.json", "{"),
        ("x.html", "<!doctype html>"),
        ("x.md", "# "),
        ("x.dot", "// oilpath"),
        ("x.txt", "Invented"),
    ):
        assert run("diagnose", "slow.yaml", "-o", name).status == 0
        assert (sheets / name).read_text(encoding="utf-8").lstrip().startswith(start)
    assert run("diagnose", "slow.yaml", "-o", "y.html", "-f", "json").status == 0
    assert (sheets / "y.html").read_text(encoding="utf-8").startswith("{")


def test_several_pages_go_into_a_folder(run: Run, sheets: Path) -> None:
    assert run("diagnose", "slow.yaml", "0.yaml", "-f", "html").status == 2
    ran = run("diagnose", "slow.yaml", "nowhere.yaml", "0.yaml", "-f", "html", "-o", "pages")
    assert ran.status == 2
    assert sorted(path.name for path in (sheets / "pages").iterdir()) == ["0.html", "slow.html"]
    assert run("diagnose", "slow.yaml", "0.yaml", "-f", "html", "-o", "slow.yaml").status == 2


def test_a_picture_goes_with_its_forms_alone(run: Run, sheets: Path) -> None:
    assert run("diagnose", "slow.yaml", "--picture", "plan").status == 2
    assert run("diagnose", "slow.yaml", "-f", "dot", "--picture", "results").status == 2
    assert run("diagnose", "slow.yaml", "-f", "svg", "--picture", "results").out.startswith("<svg ")
    for picture in ("circuit", "causes", "plan"):
        assert "digraph {" in run("diagnose", "slow.yaml", "-f", "dot", "--picture", picture).out


@pytest.mark.parametrize("name", ["answer.pdf", "answer.DOCX", "new.xlsx"])
@pytest.mark.parametrize("command", ["diagnose", "order"])
def test_text_is_not_written_under_the_ending_of_another_form(
    run: Run, sheets: Path, tmp_path: Path, command: str, name: str
) -> None:
    ran = run(command, "slow.yaml", "--output", str(tmp_path / name))
    assert ran.status == 2
    assert ".md" in ran.err
    assert not (tmp_path / name).exists()


def test_several_pages_do_not_go_into_a_folder_named_like_a_page(run: Run, sheets: Path, tmp_path: Path) -> None:
    ran = run("diagnose", "slow.yaml", "slow.yaml", "--output", str(tmp_path / "two.html"))
    assert ran.status == 2
    assert not (tmp_path / "two.html").exists()


def test_a_sheet_is_not_imported_as_a_table(run: Run, sheets: Path) -> None:
    ran = run("sheet", "import", "slow.yaml")
    assert (ran.status, ran.out) == (2, "")
    assert "is YAML, not a table" in ran.err


def test_conditions_in_order_are_not_counted_with_the_readings(run: Run) -> None:
    assert "Out          1 in order." in run("diagnose", "0.yaml", "--short").out
