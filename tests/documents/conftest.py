"""What the tests of the readers share: the real test kinds and circuit, with signs and a check of their own."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from oilpath.documents.load import load_machine, load_sheet
from oilpath.documents.machine import Machine
from oilpath.documents.nodes import read_file
from oilpath.documents.sheet import Sheet
from oilpath.documents.validate import model_from
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.check import Check, CheckOutcome, Sign
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.testkind import TestFile
from oilpath.problems import Problem, Problems, UnusableInput

KB = Path(__file__).parents[2] / "kb"

#: Invented for these tests.
MACHINE = """\
oilpath: machine/1
name: Gravel-pit trainer
circuit: two-pump-excavator
engine-speed: 1900 rpm
limits:
  - {test: cycle-time, function: boom-raise, new: 4.2 s, max: 4.9 s}
"""

Loader = Callable[..., tuple[Sheet | Machine | None, tuple[Problem, ...]]]


def _read(name: str, model: Any) -> Any:
    problems = Problems()
    read = model_from(read_file(KB / name, name), model, name, problems)
    problems.raise_if_any()
    return read


@pytest.fixture(scope="session")
def knowledge() -> Knowledge:
    tests = _read("tests.yaml", TestFile)
    circuit = _read("circuits/two-pump-excavator.yaml", Circuit)
    sign = Sign(title="Sign", look="Look at it.", source="common practice")
    outcomes = tuple(CheckOutcome(outcome=word, says="It does.") for word in ("rod-moves", "still"))
    known: dict[str, Any] = {"check": "plug-loaded-line", "title": "Plug the line", "outcomes": outcomes}
    parts: dict[str, Any] = {
        "version": "test",
        "variants": tests.variants,
        "tests": tests.tests,
        "circuits": {circuit.id: circuit},
        "causes": (),
        "rules": (),
        "checks": (Check.model_construct(**known),),
        "signs": {"foamy-oil": sign, "milky-oil": sign},
    }
    return Knowledge.model_construct(**parts)


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    """A folder with a sound machine file."""
    (tmp_path / "machine.yaml").write_text(MACHINE, encoding="utf-8")
    return tmp_path


@pytest.fixture
def read(yard: Path, knowledge: Knowledge) -> Loader:
    """Write a file into the yard and load it: what was read, or None and the problems."""

    def load(text: str | bytes, *, kind: str = "sheet") -> tuple[Sheet | Machine | None, tuple[Problem, ...]]:
        path = yard / f"{kind}-read.yaml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass"))
        try:
            return (load_machine if kind == "machine" else load_sheet)(path, knowledge), ()
        except UnusableInput as error:
            return None, error.problems

    return load
