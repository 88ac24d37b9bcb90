"""A remedy that is the cheapest test comes first where it is quick and likely; a dear one waits for its check."""

from __future__ import annotations

from dataclasses import replace

import pytest

from oilpath.bench import Bench, bench_of
from oilpath.data import data_folder
from oilpath.diagnosis import diagnose
from oilpath.documents.load import load_sheet
from oilpath.flow import Diagnosis, RankedCause
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.planning.remedies import remedy_first


@pytest.fixture(scope="module")
def known() -> Knowledge:
    return load_knowledge()


@pytest.fixture(scope="module")
def answered(known: Knowledge) -> tuple[Diagnosis, Bench]:
    sheet = load_sheet(data_folder("cases") / "demo/pump-1-slow.yaml", known)
    return diagnose(sheet, known), bench_of(sheet, known)


def with_shares(answer: Diagnosis, shares: dict[tuple[str, str], float]) -> Diagnosis:
    """The answer with these causes alone, and no check to be made."""
    left = [one for one in answer.causes if (one.cause, one.part) in shares]

    def made(one: RankedCause) -> RankedCause:
        return replace(one, probability=shares[one.cause, one.part], nodes=())

    causes = tuple(sorted(map(made, left), key=lambda one: -one.probability))
    return replace(answer, causes=causes, groups=(), sets=(), checks=())


def test_topping_up_comes_before_a_pump_is_looked_at(answered: tuple[Diagnosis, Bench]) -> None:
    answer, bench = answered
    first = remedy_first(with_shares(answer, {("tank.low-level", "tank"): 0.6, ("pump.worn", "pump-1"): 0.4}), bench)
    assert first is not None
    assert (first.action, first.part) == ("topped-up", "tank")
    # 20 min and 20 of proof; in 4 of 10 then the pump: 480, what its parts cost, and its proof
    assert first.expected == pytest.approx(40 + 0.4 * (480 + 1200 + 20))
    assert first.with_check is None


def test_nothing_dear_or_unlikely_is_done_as_a_test(answered: tuple[Diagnosis, Bench]) -> None:
    answer, bench = answered
    pump = with_shares(answer, {("tank.low-level", "tank"): 0.02, ("pump.worn", "pump-1"): 0.98})
    assert remedy_first(pump, bench) is None
    assert remedy_first(answer, bench) is None  # the pump leads, and a check tells


def test_causes_say_what_their_remedy_takes(known: Knowledge) -> None:
    stated = {cause.cause: cause.repair for cause in known.causes if cause.repair is not None}
    assert len(stated) >= 80
    assert stated["tank.low-level"].action == "topped-up"
    assert stated["pump.worn"].parts == "major"
