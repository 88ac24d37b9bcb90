"""Every note has its phrase, every phrase is used, and each gets the values that it needs."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest

import oilpath
from oilpath import load_knowledge
from oilpath.flow import RankedCause, ReadingResult
from oilpath.flow.notes import Amount, Between, Filled, Named, Note, OfTest, Quote, Stretch, note
from oilpath.reports.notes import Sayer
from oilpath.reports.phrases import PHRASES
from oilpath.reports.words import Words

ENGINE = Path(oilpath.__file__).parent
WORDS = Words(load_knowledge())


def fields(phrase: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(PHRASES[phrase]) if name is not None}


def made() -> Iterator[tuple[str, set[str], str]]:
    """Every `note(…)` of the engine: the ids that it may have, its values, and where it stands."""
    for path in sorted(ENGINE.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        if "from oilpath.flow.notes import" not in text:
            continue
        tree = ast.parse(text)
        tables = {
            target.id: node.value
            for node in tree.body
            if isinstance(node, ast.AnnAssign) and isinstance(target := node.target, ast.Name)
        }
        for call in ast.walk(tree):
            if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "note":
                where = f"{path.relative_to(ENGINE)}:{call.lineno}"
                values = {keyword.arg or "**" for keyword in call.keywords}
                for phrase in ids(call.args[0], tables, where):
                    yield phrase, values, where


def ids(node: ast.expr, tables: dict[str, ast.expr | None], where: str) -> Iterator[str]:
    match node:
        case ast.Constant(value=str(phrase)):
            yield phrase
        case ast.IfExp():
            yield from ids(node.body, tables, where)
            yield from ids(node.orelse, tables, where)
        case ast.Subscript(value=ast.Name(id=name)) if isinstance(table := tables.get(name), ast.Dict):
            for value in table.values:
                yield from ids(value, tables, where)
        case _:
            pytest.fail(f"{where}: the id of a note is a literal, one of two, or out of a table of the module")


MADE = list(made())


def test_every_note_has_its_phrase_and_every_phrase_is_used() -> None:
    assert {phrase for phrase, _, _ in MADE} == set(PHRASES)


def test_every_phrase_gets_the_values_that_it_needs() -> None:
    assert [(where, phrase) for phrase, values, where in MADE if values != fields(phrase)] == []


def test_notes_are_made_in_one_way() -> None:
    """So that the two tests above see all of them."""
    users = [
        str(path.relative_to(ENGINE))
        for path in sorted(ENGINE.rglob("*.py"))
        for call in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "Note"
    ]
    assert users == ["flow/notes.py"]


# --- how values are shown -------------------------------------------------------------

COLD = ReadingResult(
    "cycle-time/arm-in@cold", "cycle-time", {"function": "arm-in"}, "unjudged", 1.0, "time", variant="cold"
)
CAUSE = RankedCause("pump.worn", "pump-1", None, "Worn main pump 1", 0.7, 0.7, None, None, None)


@pytest.mark.parametrize(
    ("says", "sentence"),
    [
        (note("not-compared-invalid", other=Named("result", COLD.id)),
         "not compared: “Cycle time, arm in, with cold oil” is invalid"),
        (note("not-compared-invalid", other=Named("result", "drift/arm-cylinder")),
         "not compared: drift/arm-cylinder is invalid"),
        (note("not-foreseen", cause=Named("cause", "pump.worn", "pump-1")), "Worn main pump 1: no rule suspects it."),
        (note("not-foreseen", cause=Named("cause", "pump.worn", "pump-2")),
         "pump.worn at main pump 2: no rule suspects it."),
        (note("makes-readings-invalid", count=1), "makes 1 reading invalid"),
        (note("makes-readings-invalid", count=14), "makes 14 readings invalid"),
        (note("not-stated", conditions=("oil-temperature", "attachment")),
         "not stated: oil temperature, attachment; judged as if in order"),
        (note("attachment-wrong", word="loaded", accepted=("empty", "other")),
         "attachment loaded, but the test requires empty or other; change it and repeat"),
        (note("baseline-of-another-machine", sheet=Quote("old.yaml"), differing=("unit-number", "serial-number")),
         "baseline old.yaml is not used: it does not match this sheet in unit number and serial number"),
        (note("too-little", made=Stretch(120.0, "hold", "time"), asked=Stretch(180.0, "hold", "time")),
         "a hold of 2 min, but the test requires at least 3 min; repeat with 3 min or more"),
        (note("oil-too-hot", oil=Amount(344.15, "temperature"), window=Between(None, 333.15, "temperature")),
         "oil at 71 °C, but the test requires at most 60 °C; let it cool and repeat"),
        (note("judged-by-one-earlier-reading", mean=OfTest(-0.4, "travel-veer")),
         "no limit: judged by one earlier reading of this machine when it was sound, 0.4 m left"),
        (note("rule-warns", says=Filled("Of $p, $s, $f, $r, $x and $n.", (
            ("p", "boom-cylinder"), ("s", "foamy-oil"), ("f", "boom-raise"), ("r", COLD.id), ("x", "all-out"),
            ("n", "-"),
        ))),
         f"Of {WORDS.part('boom-cylinder')}, {load_knowledge().signs['foamy-oil'].title}, boom raise,"
         " “Cycle time, arm in, with cold oil”, all out and the machine."),
    ],
)  # fmt: skip
def test_values_in_a_sentence(says: Note, sentence: str) -> None:
    assert Sayer(WORDS, [COLD], [CAUSE]).say(says) == sentence


def test_programs_get_results_by_their_ids() -> None:
    says = note("not-compared-invalid", other=Named("result", COLD.id))
    assert Sayer(WORDS, [COLD], by_id=True).say(says) == "not compared: cycle-time/arm-in@cold is invalid"
