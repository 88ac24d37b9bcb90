"""The knowledge base that ships, and a machine of the founding circuit."""

import pytest

from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.check import Check
from oilpath.knowledge.compile import load_knowledge


@pytest.fixture(scope="session")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.fixture(scope="session")
def checks(knowledge: Knowledge) -> tuple[Check, ...]:
    return knowledge.checks


@pytest.fixture(scope="session")
def machine(knowledge: Knowledge) -> Machine:
    return Machine(name="Yard trainer, invented", circuit=knowledge.circuits["two-pump-excavator"])
