"""The knowledge base that ships."""

import pytest

from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge


@pytest.fixture(scope="session")
def knowledge() -> Knowledge:
    return load_knowledge()
