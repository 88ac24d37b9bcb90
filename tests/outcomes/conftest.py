"""The knowledge base that ships, and a machine of the founding circuit."""

import pytest

from oilpath.formats.check import Check
from oilpath.formats.compile import load_knowledge
from oilpath.formats.knowledge import Knowledge
from oilpath.formats.machine import Machine


@pytest.fixture(scope="session")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.fixture(scope="session")
def checks(knowledge: Knowledge) -> tuple[Check, ...]:
    return knowledge.checks


@pytest.fixture(scope="session")
def machine(knowledge: Knowledge) -> Machine:
    return Machine(name="Yard trainer, invented", circuit=knowledge.circuits["two-pump-excavator"])
