"""What all tests share: repeatable hypothesis runs, and the skipping of comparisons whose library is not installed."""

import importlib.util
import os
from collections import Counter

import pytest
from hypothesis import settings

# As in the command: systems are small, and threads of two test processes would wait for each other.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# The same examples on every run and machine; the machine's speed decides nothing; no folder of examples is left behind.
settings.register_profile("oilpath", derandomize=True, deadline=None, max_examples=100, database=None)
settings.load_profile("oilpath")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files with slow tests go first, so that no processor waits for another at the end.

    A test marked `peer("library")` is skipped where that library is missing, with the command that brings it.
    """
    slow = Counter(item.path for item in items if item.get_closest_marker("slow"))
    items.sort(key=lambda item: slow[item.path] == 0)
    for item in items:
        for mark in item.iter_markers("peer"):
            missing = [name for name in mark.args if importlib.util.find_spec(name) is None]
            if missing:
                item.add_marker(pytest.mark.skip(reason=f"compares with {', '.join(missing)}: run `make test-peers`"))
