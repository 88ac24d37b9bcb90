"""`oilpath explore` as a user runs it."""

from __future__ import annotations

import json

import pytest

from oilpath.data import data_folder
from tests.running import Run, in_process

run = pytest.fixture(in_process)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["pump.worn"], "What it does to the tests"),
        (["Boom falls"], "STOP USE"),
        (["all-slow"], "What can cause it"),
        (["cycle-time/boom-raise"], "What can cause it to be out"),
        (["boom-raise"], "Oil's way"),
        (["pump-1"], "What can be wrong with it"),
        (["check/case-drain"], "What each outcome speaks for"),
        (["pump.worn", "--against", "Suction restricted"], "Tests that tell them apart"),
        ([], "Signs ("),
    ],
)
def test_each_kind_of_topic_is_answered(arguments: list[str], said: str, run: Run) -> None:
    done = run("explore", *arguments)
    assert (done.status, done.err) == (0, "")
    assert said.casefold() in done.out.casefold()
    if arguments:
        assert "come\nfirst" in done.out or "come first" in done.out


def test_json_holds_the_same(run: Run) -> None:
    done = run("explore", "pump.worn", "--format", "json")
    data = json.loads(done.out)
    assert data["oilpath"] == "explore/1"
    (topic,) = data["topics"]
    assert topic["id"] == "pump.worn"
    assert {"reading", "title", "factor", "noticed"} <= set(topic["effects"][0]["tests"][-1])
    assert "sign" in json.loads(run("explore", "--format", "json").out)["known"]


def test_a_cause_of_another_machine_is_shown_on_one_that_has_it(run: Run) -> None:
    machines = [
        json.loads(run("explore", cause, "--format", "json").out)["topics"][0]["machine"]
        for cause in ("pump.worn", "steering-unit.worn", "accumulator.charge-low")
    ]
    assert len(set(machines)) == 3


def test_what_is_unknown_names_the_nearest(run: Run) -> None:
    done = run("explore", "pump.wron")
    assert done.status == 2
    assert "pump.worn" in done.err
    assert done.out == ""


def test_against_compares_causes(run: Run) -> None:
    assert run("explore", "pump.worn", "--against", "boom-falls").status == 2
    assert run("explore", "--against", "pump.worn").status == 2


def test_why_takes_a_cause_or_a_sign_without_a_sheet(run: Run) -> None:
    for topic in ("pump.worn", "Boom falls"):
        assert run("why", topic).out == run("explore", topic).out
    assert run("why", "pump.wron").status == 2


def test_why_explains_in_general_what_a_sheet_says_nothing_about(run: Run) -> None:
    sheet = str(data_folder("cases") / "demo/pump-1-slow.yaml")
    done = run("why", sheet, "Grinding from a final drive")
    assert done.status == 0
    assert "in general" in done.out
    assert run("why", sheet, "pump.worn@pump-1").out == run("why", sheet, "Worn main pump 1").out
