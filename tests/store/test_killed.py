"""The server of the pages killed at any moment: what was confirmed is there, and the database is whole."""

from __future__ import annotations

import os
from importlib.util import find_spec
from pathlib import Path

import pytest

LIBRARIES = ("starlette", "uvicorn", "python_multipart")


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="servers are made by fork")
@pytest.mark.skipif(not all(map(find_spec, LIBRARIES)), reason="needs the extra `page`")
def test_killed_at_twenty_moments_nothing_confirmed_is_lost(tmp_path: Path) -> None:
    from tests.store.killing import survive

    kept = survive(tmp_path / "workshop.db", 20, 7)
    assert kept.odd == []
    assert len(kept.confirmed) >= 20
