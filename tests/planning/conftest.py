"""The knowledge that planning uses (no rules, no signs), a machine of the founding circuit, rankings by hand."""

from collections.abc import Callable
from pathlib import Path

import pytest

from oilpath.flow import RankedCause, Ranking
from oilpath.formats.cause import Cause, CauseFile
from oilpath.formats.check import Check, CheckFile
from oilpath.formats.circuit import Circuit
from oilpath.formats.compile import M, model_from_path
from oilpath.formats.knowledge import CautionFile, Knowledge, Priors, ScatterFile, SourceFile
from oilpath.formats.machine import Machine
from oilpath.formats.problems import Problems
from oilpath.formats.testkind import TestFile

KB = Path(__file__).parents[2] / "kb"

RankingOf = Callable[..., Ranking]


def _read(name: str, model: type[M]) -> M:
    problems = Problems()
    read = model_from_path(KB / name, name, model, problems)
    problems.raise_if_any()
    assert read is not None
    return read


def _folder(name: str) -> list[str]:
    return [f"{name}/{path.name}" for path in sorted((KB / name).glob("*.yaml"))]


@pytest.fixture(scope="session")
def checks() -> tuple[Check, ...]:
    return tuple(check for name in _folder("checks") for check in _read(name, CheckFile).checks)


@pytest.fixture(scope="session")
def causes() -> tuple[Cause, ...]:
    return tuple(cause for name in _folder("causes") for cause in _read(name, CauseFile).causes)


@pytest.fixture(scope="session")
def knowledge(checks: tuple[Check, ...], causes: tuple[Cause, ...]) -> Knowledge:
    tests, cautions = _read("tests.yaml", TestFile), _read("cautions.yaml", CautionFile)
    return Knowledge(
        version="test",
        variants=tests.variants,
        tests=tests.tests,
        circuits={one.id: one for one in (_read(name, Circuit) for name in _folder("circuits"))},
        causes=causes,
        rules=(),
        checks=checks,
        signs={},
        cautions=cautions.cautions,
        always=cautions.always,
        sources=_read("sources.yaml", SourceFile).sources,
        priors=_read("priors.yaml", Priors),
        scatter=_read("scatter.yaml", ScatterFile).shared,
    )


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
