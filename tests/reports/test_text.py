"""The answer for a terminal."""

import io
from collections.abc import Callable
from dataclasses import replace

import pytest

from oilpath.flow import Diagnosis
from oilpath.flow.notes import Named, note
from oilpath.reports.page import lay_out
from oilpath.reports.plain import columns
from oilpath.reports.text import render, to_text
from tests.reports.sample import DIAGNOSIS, KNOWLEDGE, MACHINE, SOUND, WORDS

Golden = Callable[[str, str], None]


@pytest.mark.parametrize(("name", "answer"), [("full", DIAGNOSIS), ("sound", SOUND)])
def test_golden(golden: Golden, name: str, answer: Diagnosis) -> None:
    golden(f"text-{name}.txt", to_text(answer, WORDS))


def test_all_results(golden: Golden) -> None:
    golden("text-all.txt", to_text(DIAGNOSIS, WORDS, all_results=True))


@pytest.mark.parametrize("width", [40, 60, 80, 100])
def test_no_line_is_wider_than_asked(width: int) -> None:
    lines = to_text(DIAGNOSIS, WORDS, all_results=True, width=width).splitlines()
    assert max(columns(line) for line in lines) <= width


def test_plain_text_holds_no_escape_whatever_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("FORCE_COLOR", "CLICOLOR_FORCE", "TTY_COMPATIBLE"):
        monkeypatch.setenv(name, "1")
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("COLUMNS", "200")
    text = to_text(DIAGNOSIS, WORDS)
    assert "\x1b" not in text
    assert text == to_text(DIAGNOSIS, WORDS)
    assert max(columns(line) for line in text.splitlines()) <= 80


def test_colours_on_a_terminal_and_the_same_words() -> None:
    from rich.console import Console

    def on_terminal(no_color: bool) -> str:
        console = Console(
            file=io.StringIO(), width=80, force_terminal=True, color_system="standard", no_color=no_color, _environ={}
        )
        return render(lay_out(DIAGNOSIS, WORDS), console)

    from oilpath.reports.names import _ESCAPES

    coloured, plain = on_terminal(False), to_text(DIAGNOSIS, WORDS)
    assert "\x1b[1;31m" in coloured  # bold red: out
    assert "31m" not in on_terminal(True)
    stripped = [line.rstrip() for line in _ESCAPES.sub("", coloured).splitlines()]
    assert stripped == plain.splitlines()


def test_stop_use_comes_before_all_findings_and_cautions_before_their_check() -> None:
    text = to_text(DIAGNOSIS, WORDS)
    assert text.index("STOP USE") < text.index("Cause  ") < text.index("FINDINGS")
    checks = text[text.index("NEXT CHECKS") :]
    assert checks.index("Hot oil scalds") < checks.index("1. Measure")
    assert checks.index("Release the pressure") < checks.index("1. Measure") < checks.rindex("Hot oil")
    assert checks.rindex("Hot oil") < checks.index("2. Exchange")


def test_markup_of_other_people_is_shown_as_it_is() -> None:
    text = to_text(DIAGNOSIS, WORDS)
    assert "[b]22 t[/b]" in text
    assert "[red]x[/]" in text
    assert "\u202e" not in text
    assert ":smile:" in to_text(replace(SOUND, complaint=":smile: [/] [link=x]"), WORDS)


def test_without_the_machine() -> None:
    from oilpath.reports.words import Words

    assert "Cycle time, bucket curl" in to_text(DIAGNOSIS, Words(KNOWLEDGE))
    assert MACHINE.name in to_text(DIAGNOSIS, Words(KNOWLEDGE))


SETTING = note("not-stated", conditions=("working-setting",))


def test_a_note_of_several_results_is_said_once() -> None:
    noted = tuple(
        replace(entry, notes=(SETTING, note("not-compared-invalid", other=Named("result", entry.id))))
        for entry in DIAGNOSIS.results[1:4]
    )
    text = " ".join(to_text(replace(SOUND, results=noted), WORDS).split())
    assert text.count("not stated: working setting") == 1
    assert "3 results: not stated: working setting; judged as if in order" in text
    assert "Cycle time, boom lower: not compared: “Cycle time, boom lower” is invalid" in text


def test_where_most_readings_are_not_valid_that_is_said_first() -> None:
    invalid = tuple(replace(entry, verdict="invalid") for entry in DIAGNOSIS.results[:3])
    condition = replace(DIAGNOSIS.results[15], verdict="fail")
    text = " ".join(to_text(replace(SOUND, results=(*invalid, condition)), WORDS).split())
    assert "Little can be concluded: 3 readings must be repeated" in text
    assert "These readings show no fault" in text  # a condition that was not kept is no fault
    assert "Little can be concluded" not in to_text(DIAGNOSIS, WORDS)


def test_none_with_a_result_that_is_out() -> None:
    text = " ".join(to_text(replace(SOUND, results=DIAGNOSIS.results[2:3]), WORDS).split())
    assert "Repeat this reading first: Cycle time, " in text
    assert "The others show no fault" in text
