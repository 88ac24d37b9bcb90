"""The JSON of real answers against the format: its keys, what refers to what, sums, signs and digits."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from typing import Any

import pytest

from oilpath import diagnose, load_knowledge, load_sheet
from oilpath.data import data_folder
from oilpath.reports.json_ import to_data, to_json
from oilpath.reports.words import Words

SHEETS = sorted((data_folder("cases") / "demo").glob("*.yaml"))
VERDICTS = ("pass", "near", "fail", "invalid", "unjudged")
BASES = ("limit", "estimate", "baseline", "twin", None)
DEVIATIONS = ("slow", "fast", "high", "low", "left", "right", None)
DIGITS = 2e-5  # sums of figures that are rounded to six digits


def read(path: Any) -> Any:
    knowledge = load_knowledge()
    sheet = load_sheet(path, knowledge)
    return json.loads(to_json(to_data(diagnose(sheet, knowledge), Words(knowledge, sheet.machine))))


def figures(data: Any) -> Iterator[float]:
    if isinstance(data, dict | list):
        for value in data.values() if isinstance(data, dict) else data:
            yield from figures(value)
    elif isinstance(data, int | float) and not isinstance(data, bool):
        yield data


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_an_answer_is_as_the_format_says(path: Any) -> None:
    data = read(path)
    results, causes = data["results"], data["causes"]
    ids = [one["id"] for one in results]
    assert len(set(ids)) == len(ids)
    for one in results:
        assert one["verdict"] in VERDICTS
        assert one["basis"] in BASES
        assert one["deviation"] in DEVIATIONS
        assert (one["verdict"] != "unjudged") or one["probability-out"] is None
    shares = [one["probability"] for one in causes]
    assert math.isclose(sum(shares), 1, abs_tol=len(causes) * DIGITS)
    assert shares == sorted(shares, reverse=True)
    assert {("none", "machine"), ("unknown", "machine")} <= {(one["cause"], one["part"]) for one in causes}
    for one in causes:
        assert 0 <= one["probability"] <= one["present"] + DIGITS <= 1 + 2 * DIGITS
        assert all(weight["weight"] > 0 and weight["result"] in ids for weight in one["for"])
        assert all(weight["weight"] < 0 and weight["result"] in ids for weight in one["against"])
    assert sorted(member for group in data["groups"] for member in group["members"]) == list(range(len(causes)))
    for group in data["groups"]:
        assert math.isclose(group["probability"], sum(shares[n] for n in group["members"]), abs_tol=1e-4)
        assert len(group["members"]) == 1 or all(
            causes[n]["part"] != "machine" or "." in causes[n]["cause"] for n in group["members"]
        )
    for one in data["sets"]:
        assert 2 <= len(set(one["members"])) == len(one["members"]) <= 4
        assert one["probability"] >= 0.01
        assert set(one["members"]) <= set(range(len(causes)))
    for check in data["checks"]:
        assert math.isclose(sum(one["probability"] for one in check["outcomes"]), 1, abs_tol=1e-4)
    for one in data["suspicions"]:
        assert set(one["evidence"]) <= set(ids)
    assert all(figure == float(f"{figure:.6g}") for figure in figures(data))
