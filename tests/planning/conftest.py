"""The knowledge that planning uses (no rules, no signs), a machine of the founding circuit, rankings by hand."""

from collections.abc import Callable

import pytest

from oilpath.documents.machine import Machine
from oilpath.flow import RankedCause, Ranking
from oilpath.knowledge.base import CautionFile, Knowledge, SourceFile
from oilpath.knowledge.cause import Cause
from oilpath.knowledge.check import Check
from tests import shipped

RankingOf = Callable[..., Ranking]


@pytest.fixture(scope="session")
def checks() -> tuple[Check, ...]:
    return shipped.checks()


@pytest.fixture(scope="session")
def causes(knowledge: Knowledge) -> tuple[Cause, ...]:
    return knowledge.causes


@pytest.fixture(scope="session")
def knowledge(checks: tuple[Check, ...]) -> Knowledge:
    cautions = shipped.read("cautions.yaml", CautionFile)
    sources = shipped.read("sources.yaml", SourceFile).sources
    return shipped.knowledge(checks=checks, cautions=cautions.cautions, always=cautions.always, sources=sources)


@pytest.fixture(scope="session")
def machine(knowledge: Knowledge) -> Machine:
    return Machine(name="Yard trainer, invented", circuit=knowledge.circuits["two-pump-excavator"])


@pytest.fixture(scope="session")
def ranking_of() -> RankingOf:
    """A ranking from `((cause, part), share)` pairs, best first as given; what is missing to 1 is `unknown`."""

    def make(*shares: tuple[tuple[str, str], float]) -> Ranking:
        rest = 1 - sum(share for _, share in shares)
        every = [*shares, (("unknown", "machine"), rest)]
        causes = tuple(
            RankedCause(cause, part, None, f"{cause} at {part}", share, share, None, None, None)
            for (cause, part), share in every
        )
        return Ranking(causes, (), ())

    return make
