"""The text for the repair order."""

import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath import diagnose, load_knowledge, load_sheet
from oilpath.data import data_folder
from oilpath.documents.machine import PartData
from oilpath.documents.sheet import Confirmed
from oilpath.flow import Diagnosis, Group, Measured
from oilpath.problems import UnusableInput
from oilpath.reports import words as say
from oilpath.reports.conclusions import measure_again, next_checks, suspects, tally, tally_in_full
from oilpath.reports.order import as_mapping, closed_job, order_of
from oilpath.reports.order_page import SHORT, WIDTH, to_order
from oilpath.reports.order_template import by_template, own_template
from oilpath.reports.plain import ascii_text, columns
from oilpath.reports.words import Words
from tests.reports.sample import CAUSES, DIAGNOSIS, MACHINE, SOUND, WORDS, ranked

Golden = Callable[[str, str], None]


def test_golden(golden: Golden) -> None:
    golden("order-full.txt", to_order(DIAGNOSIS, WORDS, length="full"))
    golden("order-usual.txt", to_order(DIAGNOSIS, WORDS))
    golden("order-sound.txt", to_order(SOUND, WORDS))
    golden("order-customer.txt", to_order(DIAGNOSIS, WORDS, reader="customer"))
    golden("order-parts.txt", to_order(DIAGNOSIS, WORDS, parts=True))
    golden("order-markdown.txt", to_order(DIAGNOSIS, WORDS, form="markdown"))
    golden("order-short.txt", to_order(DIAGNOSIS, WORDS, length="short"))


@given(st.text(max_size=200))
def test_at_most_78_columns_whatever_people_write(text: str) -> None:
    for answer in (
        replace(DIAGNOSIS, complaint=text, machine=text or "-"),
        replace(DIAGNOSIS, history=(text, "x" * 200)),
    ):
        assert max(columns(line) for line in to_order(answer, WORDS).splitlines()) <= WIDTH


def test_our_own_text_is_ascii() -> None:
    assert to_order(DIAGNOSIS, WORDS).isascii()


def test_the_remedy_is_named_only_for_a_likely_cause() -> None:
    assert "Once it is confirmed" not in to_order(DIAGNOSIS, WORDS)
    likely = replace(
        DIAGNOSIS,
        causes=(replace(CAUSES[0], probability=0.9), *CAUSES[1:]),
        groups=(Group(0.9, (0,)),),
    )
    text = to_order(likely, WORDS)
    assert "CAUSE: INDICATED, NOT CONFIRMED\n- Worn main pump 1 (very likely, about 90%)." in text
    assert text.index("Once it is confirmed: Overhaul or exchange the pump") > text.index("CORRECTION")


def test_stop_use_is_the_first_line() -> None:
    assert to_order(DIAGNOSIS, WORDS).startswith("*** STOP USE ***")


def test_no_inner_words_reach_the_customer() -> None:
    text = to_order(DIAGNOSIS, WORDS)
    for inner in (" dB", "one-pump-slow", "pump.worn", "sha256", "somebody", "pump-1"):
        assert inner not in text


def test_something_unknown_asks_for_more_checks() -> None:
    unknown = replace(
        SOUND,
        causes=(ranked("unknown", "machine", "Something that the knowledge base does not hold", 0.7),),
        groups=(Group(0.7, (0,)),),
    )
    text = " ".join(to_order(unknown, WORDS).split())
    assert "fit no usual cause (likely, about 70%). Further checks are needed." in text


@pytest.mark.parametrize("answer", [DIAGNOSIS, SOUND])
def test_defers_to_people_and_manuals(answer: object) -> None:
    assert "qualified people" in to_order(answer, WORDS)  # type: ignore[arg-type]


# --- every doubt ----------------------------------------------------------------------

SHEETS = [path for folder in ("demo", "sound") for path in sorted((data_folder("cases") / folder).glob("*.yaml"))]
FORMS: tuple[dict[str, Any], ...] = (
    {},
    {"length": "short"},
    {"length": "full"},
    {"reader": "customer"},
    {"form": "markdown"},
    {"parts": True},
)


@cache
def answered(path: Path) -> tuple[Diagnosis, Words]:
    knowledge = load_knowledge()
    sheet = load_sheet(path, knowledge)
    return diagnose(sheet, knowledge), Words(knowledge, sheet.machine)


@pytest.mark.parametrize("form", FORMS, ids=str)
@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_no_doubt_is_lost_whatever_the_form(path: Path, form: dict[str, Any]) -> None:
    """Every group from a tenth on is named with its share in words; the counts are those of the answer."""
    answer, words = answered(path)
    text = " ".join(to_order(answer, words, **form).replace("\\", "").split()).casefold()
    for one in suspects(answer, words):
        together = "together " if len(one.members) > 1 else ""
        assert f"({together}{say.sure(one.share)}" in text
        if one.members[0].cause not in ("none", "unknown"):
            assert " ".join(ascii_text(one.title).casefold().split()[:3]) in text
    if "parts" not in form:
        counts = tally_in_full if form.get("reader") == "customer" else tally
        assert ascii_text(counts(answer.results)).casefold() in text


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_the_short_form_is_below_600_characters(path: Path) -> None:
    assert len(to_order(*answered(path), length="short")) < SHORT == 600


@given(st.text(max_size=2000), st.integers(2, 9))
def test_the_short_form_cuts_other_text_and_keeps_the_shares(text: str, number: int) -> None:
    shares = [1 / number] * number
    many = replace(
        DIAGNOSIS,
        complaint=text,
        causes=tuple(replace(CAUSES[0], part=f"pump-{n}", probability=share) for n, share in enumerate(shares)),
        groups=tuple(Group(share, (n,)) for n, share in enumerate(shares)),
        sets=(),
        stop_use=(),
    )
    short = to_order(many, WORDS, length="short")
    assert len(short) < SHORT
    assert short.count(f"({say.sure(shares[0])}") == number
    assert "not confirmed" in short


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_a_customer_reads_no_percentage_and_no_inner_word(path: Path) -> None:
    answer, words = answered(path)
    text = to_order(answer, words, reader="customer")
    cause = text[text.index("WHAT WE CONCLUDE") :]
    assert "%" not in cause
    for inner in ("sha256", "decibel"):
        assert inner not in cause
    assert "MAY THE MACHINE BE USED?" in text
    assert ("Signature" in text) == bool(next_checks(answer))
    assert ("Only then can we say more" in " ".join(text.split())) == bool(measure_again(answer, words))


def test_cautions_come_before_their_step_in_full_the_first_time() -> None:
    text = to_order(DIAGNOSIS, WORDS)
    assert text.index("Hot oil scalds: gloves") < text.index("1. Measure")


# --- closed jobs, parts ---------------------------------------------------------------


def test_a_closed_job_says_what_was_found_with_the_readings_before_and_after() -> None:
    before = [one for one in DIAGNOSIS.results if isinstance(one, Measured) and one.verdict == "fail"]
    after = tuple(replace(one, value=one.value * 0.85, verdict="pass") for one in before)
    job = closed_job(
        "Worn main pump 1",
        Confirmed("pump.worn", "pump-1", "Pump exchanged", None, "torn-down", 410),
        before,
        after,
        WORDS,
    )
    text = " ".join(to_order(DIAGNOSIS, WORDS, closed=(job,)).split())
    assert "How the cause is known: seen in the opened part. - Time spent: 6.8 h." in text
    assert "CAUSE: FOUND AND CORRECTED - Worn main pump 1." in text
    assert "not confirmed" not in text.casefold()
    assert re.search(r"Proof: Cycle time, bucket \w+: 4.12 s before, 3.5 s after, accepted max 3.6 s, in order", text)
    short = to_order(DIAGNOSIS, WORDS, closed=(job,), length="short")
    assert "Found and corrected: Worn main pump 1. Pump exchanged" in short


def test_parts_are_ordered_now_only_for_the_one_cause_left_and_numbers_are_never_guessed() -> None:
    cause = next(one for one in WORDS.knowledge.causes if one.cause == "pump.worn")
    order = {"assembly": "Pump for exchange", "oil": "Oil for the case"}
    causes = tuple(one.model_copy(update={"order": order}) if one is cause else one for one in WORDS.knowledge.causes)
    knowledge = WORDS.knowledge.model_copy(update={"causes": causes})
    part = PartData(numbers={"assembly": "W-1234"})
    machine = MACHINE.model_copy(update={"parts": {"pump-1": part}})
    words = Words(knowledge, machine)
    text = to_order(DIAGNOSIS, words, parts=True)
    assert "Order only after the check:" in " ".join(text.split())
    assert "- Pump for exchange: no. W-1234\n" in text
    assert "- Oil for the case: no. ________\n" in text
    sure = replace(
        DIAGNOSIS,
        causes=(replace(CAUSES[0], probability=0.97), *CAUSES[1:]),
        groups=(Group(0.97, (0,)),),
        sets=(),
        checks=(),
    )
    assert "Order now." in to_order(sure, words, parts=True)


# --- a workshop's own template --------------------------------------------------------


def templated(folder: Path, text: str) -> str:
    (folder / "templates").mkdir()
    (folder / "templates/order.txt").write_text(text, encoding="utf-8")
    found = own_template([(str(folder), "my-kb")], "text")
    assert found is not None
    return by_template(order_of(DIAGNOSIS, WORDS), *found)


def test_a_template_sees_the_fields_of_the_order(tmp_path: Path) -> None:
    page = Path(__file__).resolve().parents[2] / "docs/order-template.md"
    (example,) = re.findall(r"(?ms)^```jinja\n(.*?)^```", page.read_text(encoding="utf-8"))
    text = templated(tmp_path, example)
    assert text.startswith("STOP USE until this fault is ruled out or repaired: boom holding valve held open")
    assert "Indicated, not confirmed:\n- Worn main pump 1" in text
    assert text.index("CAUTION Hot oil") < text.index("1. Measure")
    table = set(re.findall(r"`([a-z_]+)`", "".join(re.findall(r"(?m)^\| (`.*?) \|", page.read_text(encoding="utf-8")))))
    assert table == set(as_mapping(order_of(DIAGNOSIS, WORDS)))


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("one\n{{ nothing }}", 2),
        ("{% if %}", 1),
        ("one\ntwo\n{{ stop.0.x.y }}", 3),
        ("{{ ().__class__.__base__.__subclasses__() }}", 1),
        ("{{ range(9999999999) | list }}", 1),
        ("{% include 'order.txt' %}", 1),
    ],
)
def test_a_mistake_in_a_template_is_named_with_its_line_and_nothing_of_the_program_is_reached(
    tmp_path: Path, text: str, line: int
) -> None:
    with pytest.raises(UnusableInput) as error:
        templated(tmp_path, text)
    (problem,) = error.value.problems
    assert (problem.file, problem.line) == ("my-kb/templates/order.txt", line)


def test_no_template_of_a_layer_below_when_a_higher_has_one(tmp_path: Path) -> None:
    for name in ("low", "high"):
        (tmp_path / name / "templates").mkdir(parents=True)
        (tmp_path / name / "templates/order.txt").write_text(name, encoding="utf-8")
    folders = [(str(tmp_path / name), name) for name in ("low", "high", "none")]
    assert own_template(folders, "text") == (tmp_path / "high/templates/order.txt", "high/templates/order.txt")
    assert own_template(folders, "markdown") is None


def test_readings_that_are_not_valid_for_one_reason_share_a_line() -> None:
    answer, words = answered(data_folder("cases") / "demo/engine-low.yaml")
    text = " ".join(to_order(answer, words).split())
    assert text.count("bring it to the test speed") == 1
    assert re.search(r"\d+ readings not valid \(engine at 1890 rpm", text)
    customer = " ".join(to_order(answer, words, reader="customer").split())
    assert re.search(r"\d+ readings must be repeated", customer)
    assert "test speed" not in customer
