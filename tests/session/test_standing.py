"""How far a way has come: what is named, what is not yet, and what a complaint asks to be shown first."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from oilpath import diagnose, load_knowledge, load_sheet
from oilpath.bench import Bench, bench_for
from oilpath.flow import Diagnosis, RankedCause, Weight
from oilpath.planning.checks import CONFIRMED
from oilpath.planning.proofs import proving
from oilpath.session.way import proofs_of, standing, ways

SHEET = "oilpath: sheet/1\nmachine: cases/machines/trainer-22t.yaml\n"
PART = "travel-left-motor"
CHECK = "case-drain"


@cache
def answer_to(rest: str) -> Diagnosis:
    return diagnose(load_sheet("way.yaml", text=SHEET + rest))


@cache
def bench() -> Bench:
    return bench_for(load_sheet("way.yaml", text=f"{SHEET}readings: []\n").machine, load_knowledge())


def with_shares(*shares: tuple[str, str, float, float], outcome: str = "", weight: float = 0.0) -> Diagnosis:
    """An answer with these causes: kind, part, share, present; the outcome of a check at the first one's part."""
    made = f"{{test: check, check: {CHECK}, part: {PART}, outcome: {outcome}}}" if outcome else ""
    whole = answer_to(f"readings: [{made}]\n")
    model = next(one for one in whole.causes if "." in one.cause)
    spoken = (Weight(f"check/{CHECK}/{PART}", weight),) if weight else ()
    causes: tuple[RankedCause, ...] = tuple(
        replace(model, cause=cause, part=part, probability=share, present=present, speaks_for=spoken)
        for cause, part, share, present in shares
    )
    return replace(whole, causes=causes)


MOTOR = ("travel-motor.worn", PART)


def kind(answer: Diagnosis, *, left: bool = True) -> str:
    steps = ways(answer_to("readings: []\n"), bench())[:1]
    return standing(answer, steps if left else (), bench()).kind


def test_a_part_is_named_from_its_own_share() -> None:
    assert kind(with_shares((*MOTOR, 0.97, 0.97))) == "one-part"
    assert kind(with_shares((*MOTOR, 0.92, 0.92))) == "open"  # one outcome in some twenty-five misleads


@pytest.mark.parametrize(("weight", "found"), [(7.0, "proved"), (0.5, "proved"), (0.0, "open")])
def test_a_proof_must_speak_for_its_cause(weight: float, found: str) -> None:
    """A check that the cause names was made: it proves nothing where its outcome does not speak for the cause."""
    outcome = "high" if weight else "normal"
    answer = with_shares((*MOTOR, 0.93, 0.93), outcome=outcome, weight=weight)
    assert CHECK in proofs_of(answer.causes[0], bench())
    assert kind(answer) == found


def test_several_faults_at_once_are_not_named() -> None:
    """What only many faults would explain is most often one that they share, or a reading that misleads."""
    four = [("pilot-relief.low", "pilot-relief"), ("pilot-filter.blocked", "pilot-filter"),
            ("pilot-pump.worn", "pilot-pump"), ("pilot-lockout.faulty", "pilot-lockout")]  # fmt: skip
    answer = with_shares(*((*place, 0.25, 0.99) for place in four))
    stands = standing(answer, ways(answer_to("readings: []\n"), bench())[:1], bench())
    assert stands.kind == "too-many"
    assert [one.part for one in stands.causes] == [part for _, part in four]
    two = with_shares(*((*place, 0.5, 0.99) for place in four[:2]))
    assert kind(two) == "open"  # until its proof is made
    assert kind(two, left=False) == "together"


@pytest.mark.parametrize(
    ("complaint", "test", "place"),
    [
        ("Stick sinks overnight", "drift", "arm"),
        ("Bucket has no force", "stall-pressure", "bucket"),
        ("Slewing is sluggish", "swing-time", "swing"),
        ("Boom takes ages", "cycle-time", "boom"),
    ],
)
def test_what_would_show_the_complaint_comes_first(complaint: str, test: str, place: str) -> None:
    """Beside short looks, which come before everything."""
    answer = answer_to(f"complaint: {complaint}\nreadings: []\n")
    found = ways(answer, bench())
    first = next(way for way in found if way.reading is not None)
    assert first.shows
    assert first.reading is not None
    assert first.reading.slot.test == test
    assert place in first.reading.slot.id
    assert found.index(first) <= 2


def test_a_sound_machine_is_not_said_before_the_complaint_was_tried() -> None:
    complaint = answer_to("complaint: Bucket has no force\nreadings: []\n")
    (nothing,) = (one for one in complaint.causes if one.cause == "none")
    sound = replace(complaint, causes=(replace(nothing, probability=0.95, present=0.95),))
    steps = ways(complaint, bench())
    assert standing(sound, steps, bench()).kind == "open"
    assert standing(sound, [way for way in steps if not way.shows], bench()).kind == "sound"


@pytest.mark.parametrize("case", ["boom-drift", "engine-low", "relief-low", "swing-one-way"])
def test_the_check_that_confirms_is_offered_however_sure_it_is(case: str) -> None:
    """It hardly tells anything new, but nothing is taken apart without it; unless it is made, or readings made it."""
    sheet = load_sheet(f"cases/demo/{case}.yaml")
    answer, here = diagnose(sheet), bench_for(sheet.machine, load_knowledge())
    lead = next(one for one in answer.causes if "." in one.cause)
    offered = {(one.check, one.part) for one in answer.checks}
    made = {one.id for one in answer.results}
    needless = {(one.check, one.part) for one in here.wanted if one.ids and one.ids <= made}
    wanted = set(proving(lead.cause, lead.part, here))
    if lead.probability >= CONFIRMED:
        assert wanted - needless <= offered
    assert set(proofs_of(lead, here)) == {check for check, _ in wanted}
