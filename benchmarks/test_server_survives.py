"""The server of the pages killed at two hundred moments while programs save through it: a count, no time."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

pytest.importorskip("starlette")


@pytest.mark.skipif(not hasattr(os, "fork"), reason="servers are made by fork")
def test_killed_at_two_hundred_moments_nothing_confirmed_is_lost(tmp_path: Path) -> None:
    from tests.store.killing import survive

    kept = survive(tmp_path / "workshop.db", 200, 11)
    print(f"\n{len(kept.confirmed)} saves were confirmed between 200 kills, {kept.conflicts} conflicts told; none lost")
    assert kept.odd == []
    assert len(kept.confirmed) >= 200
