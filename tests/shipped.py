"""The shipped knowledge base read file by file, so that tests of one room need no other room's files to be sound."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

from oilpath.knowledge.base import Knowledge, Priors, ScatterFile
from oilpath.knowledge.cause import Cause, CauseFile
from oilpath.knowledge.check import Check, CheckFile
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.compile import M, model_from_path
from oilpath.knowledge.testkind import TestFile
from oilpath.problems import Problems

KB: Final = Path(__file__).parents[1] / "kb"


def read(name: str, model: type[M]) -> M:
    """One file of the knowledge base. Raises UnusableInput with all that is wrong in it."""
    problems = Problems()
    found = model_from_path(KB / name, name, model, problems)
    problems.raise_if_any()
    assert found is not None
    return found


def folder(name: str) -> list[str]:
    """The files of a folder, in order."""
    return [f"{name}/{path.name}" for path in sorted((KB / name).glob("*.yaml"))]


def causes() -> tuple[Cause, ...]:
    """All causes."""
    return tuple(cause for name in folder("causes") for cause in read(name, CauseFile).causes)


def checks() -> tuple[Check, ...]:
    """All checks."""
    return tuple(check for name in folder("checks") for check in read(name, CheckFile).checks)


def knowledge(**more: Any) -> Knowledge:
    """Test kinds, circuits, causes, priors and scatter; no rules, checks, signs and cautions but those of `more`."""
    tests = read("tests.yaml", TestFile)
    circuits = [read(name, Circuit) for name in folder("circuits")]
    keys: dict[str, Any] = {
        "version": "test", "variants": tests.variants, "tests": tests.tests,
        "circuits": {one.id: one for one in circuits}, "causes": causes(), "rules": (), "checks": (), "signs": {},
        "cautions": {}, "always": (), "sources": {}, "priors": read("priors.yaml", Priors),
        "scatter": read("scatter.yaml", ScatterFile).shared,
    }  # fmt: skip
    return Knowledge(**{**keys, **more})
