"""Codes, signs and checks."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from oilpath.flow import CheckResult
from oilpath.knowledge.base import Knowledge
from tests.saying import said
from tests.steps import judge

CODES = '  codes: {"520201-4": {says: Flow signal of pump 2 below range, part: pump-2-flow-signal}}'


@pytest.mark.parametrize(("active", "verdict"), [("true", "fail"), ("false", "pass")])
def test_code(judged: Any, active: str, verdict: str) -> None:
    result = judged(f"test: code, spn: 520201, fmi: 4, active: {active}", machine=CODES)["code/520201-4"]
    assert (result.active, result.verdict) == (active == "true", verdict)
    assert (result.code, result.spn, result.fmi) == ("520201-4", 520201, 4)
    told = said(result)
    assert "Flow signal of pump 2 below range; it names the flow signal of main pump 2" in told
    assert "FMI 4: voltage too low" in told  # SAE J1939-73: voltage below normal or shorted to low source


def test_unknown_code_says_where_to_look(judged: Any) -> None:
    result = judged("test: code, spn: 100, fmi: 1, active: true")["code/100-1"]
    assert "service information" in said(result)


def test_code_that_is_neither_active_nor_stored(judged: Any) -> None:
    result = judged("test: code, spn: 100, fmi: 1")["code/100-1"]
    assert (result.active, result.verdict) == (None, "unjudged")
    assert "not stated whether active" in said(result)


@pytest.mark.parametrize(("seen", "verdict"), [("true", "fail"), ("false", "pass")])
def test_sign(judged: Any, seen: str, verdict: str) -> None:
    result = judged(f"test: sign, sign: foamy-oil, seen: {seen}")["sign/foamy-oil"]
    assert (result.sign, result.seen, result.verdict) == ("foamy-oil", seen == "true", verdict)


def test_check_has_its_outcome_and_is_unjudged(read: Any, knowledge: Knowledge) -> None:
    sheet = read("test: sign, sign: foamy-oil, seen: true")
    made = dataclasses.replace(
        sheet.readings[0], id="check/plug-loaded-line/boom-cylinder", test="check", kind=knowledge.tests["check"],
        keys={"check": "plug-loaded-line", "part": "boom-cylinder", "outcome": "rod-moves"}, flags={},
    )  # fmt: skip
    result = judge(dataclasses.replace(sheet, readings=(made,)), knowledge)[0]
    assert isinstance(result, CheckResult)
    assert (result.check, result.part, result.outcome) == ("plug-loaded-line", "boom-cylinder", "rod-moves")
    assert result.verdict == "unjudged"


def test_empty_sheet_has_only_its_conditions(read: Any, knowledge: Knowledge) -> None:
    sheet = dataclasses.replace(read("test: sign, sign: foamy-oil, seen: true"), readings=())
    assert {result.test for result in judge(sheet, knowledge)} == {"condition"}
