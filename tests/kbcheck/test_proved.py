"""What is not proved of a cause is a finding unless it is excused; an idle excuse is one too. Invented causes."""

from __future__ import annotations

from oilpath.kbcheck.entries import Entry
from oilpath.kbcheck.proved import lacks, unproved
from oilpath.kbcheck.simulated import Proof
from oilpath.knowledge.excused import MOST, Excused, ExcusedFile
from tests import shipped

CAUSE = next(cause for cause in shipped.causes() if cause.cause == "cylinder.binding")
PLACED = Entry("causes/a.yaml", 3, CAUSE.cause, CAUSE, "cause")


def proof(**more: object) -> Proof:
    return Proof(CAUSE.cause, "wheel-loader", **more)  # type: ignore[arg-type]


def excuse(finding: str, neighbour: str | None = None) -> Entry:
    said = {"finding": finding, "cause": CAUSE.cause, "circuit": "wheel-loader", "because": "x", "since": "2026-01-02"}
    return Entry("excused.yaml", 4, "0", Excused.model_validate({**said, "neighbour": neighbour}), "excused")


def test_what_is_proved_is_no_finding() -> None:
    assert list(lacks([proof(told={"spool.worn": "some-check"})])) == []
    assert list(unproved([proof()], [PLACED])) == []


def test_what_is_not_told_apart_or_has_no_proof_is_found_with_its_place() -> None:
    (one,) = unproved([proof(told={"spool.worn": None})], [PLACED])
    assert (one.file, one.line, one.key) == ("causes/a.yaml", 3, CAUSE.cause)
    assert "no check tells it from spool.worn on wheel-loader" in one.message
    (one,) = unproved([proof(remedy_proved=False)], [PLACED])
    assert "remedy" in one.message


def test_what_is_excused_is_no_finding_and_an_idle_excuse_is_one() -> None:
    lacking = [proof(told={"spool.worn": None})]
    assert list(unproved(lacking, [PLACED, excuse("not-told-apart", "spool.worn")])) == []
    idle = excuse("not-proved")
    (one,) = unproved([proof()], [PLACED, idle])
    assert (one.file, one.message) == ("excused.yaml", "excuses what is no finding")
    assert len(list(unproved(lacking, [PLACED, idle]))) == 2


def test_the_shipped_exclusions_are_few_and_each_has_its_reason_and_date() -> None:
    excused = shipped.read("excused.yaml", ExcusedFile).excused
    assert len(excused) <= MOST
    assert all(one.because and one.since for one in excused)


def test_every_cause_that_ships_has_a_proof_of_its_remedy() -> None:
    assert [cause.cause for cause in shipped.causes() if cause.proof is None] == []
