"""Guided entry killed at two hundred moments drawn by lot: a count, no time."""

from __future__ import annotations

from pathlib import Path

from oilpath.knowledge.compile import load_knowledge
from tests.session.killing import survive


def test_killed_at_two_hundred_moments_nothing_is_lost(tmp_path: Path) -> None:
    shown, lost = survive(tmp_path, 200, 11, load_knowledge())
    print(f"\n{shown} answers were followed by another question before a kill; {lost} of them lost")
    assert lost == 0
