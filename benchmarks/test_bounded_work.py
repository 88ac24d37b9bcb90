"""Hostile and hopeless input costs no more than honest input: what the tests give to the readers, and PyYAML and pint.

The bounds are some three times what was measured (2 cores, CPython 3.11): a reader whose work grows with the square of
the input misses them by far.
"""

from __future__ import annotations

import contextlib
import functools
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest
import yaml

from oilpath import load_knowledge
from oilpath.data import data_folder
from oilpath.documents.load import load_machine, load_sheet
from oilpath.documents.nodes import MAX_BYTES, read_nodes
from oilpath.knowledge.compile import base_knowledge
from oilpath.problems import UnusableInput
from oilpath.units import QuantityError, parse
from tests.documents.test_broken_input import EQUAL_LIMITS, MACHINES, MISTAKES, SHEETS
from tests.documents.test_nodes import LARGE
from tests.test_units import REFUSED

from .conftest import LINES, sheet_files

Compare = Callable[..., tuple[float, float]]
SHEET = sheet_files()[0].read_text(encoding="utf-8")
#: A sheet that ships, written so often that it is as large as a file may be.
HONEST = "\n---\n".join([SHEET] * (MAX_BYTES // len(SHEET.encode())))
Texts = list[str | bytes]


def within(compare: Compare, most: float, name: str, ours: Any, peer_name: str, peer: Any, rounds: int = 5) -> None:
    took, theirs = compare(name, ours, peer_name, peer, rounds)
    LINES.append(f"  that is {took / theirs:.2f} times; {most:g} are allowed")
    assert took <= most * theirs


def with_pyyaml(texts: Iterable[str | bytes]) -> None:
    for text in texts:
        with contextlib.suppress(yaml.YAMLError, RecursionError, ValueError):
            list(yaml.load_all(text, yaml.CSafeLoader))


def seconds(function: Callable[[], object]) -> float:
    begun = time.perf_counter()
    function()
    return time.perf_counter() - begun


def test_no_large_text_takes_longer_than_honest_ones() -> None:
    """Each hostile text of 1 MiB beside PyYAML's C parser on 1 MiB of sheets; the best of three, turn about."""

    def refuse(name: str) -> None:
        with contextlib.suppress(UnusableInput):
            read_nodes(LARGE[name], "f.yaml")

    took, theirs = dict.fromkeys(LARGE, float("inf")), float("inf")
    for _ in range(3):
        theirs = min(theirs, seconds(lambda: with_pyyaml([HONEST])))
        took = {name: min(best, seconds(functools.partial(refuse, name))) for name, best in took.items()}
    slowest = sorted(took, key=lambda name: -took[name])[:3]
    LINES.append(
        f"{len(LARGE)} hostile texts of 1 MiB: the slowest "
        + ", ".join(f"{name} {took[name] * 1e3:.0f} ms" for name in slowest)
        + f"; PyYAML on 1 MiB of sheets: {theirs * 1e3:.0f} ms"
    )
    assert took[slowest[0]] <= theirs


def files_that_are_refused(
    folder: Path, texts: Iterable[str | bytes], load: Callable[..., object]
) -> Callable[[], None]:
    """Loads each of these texts as a file, and is content with problems."""
    knowledge = load_knowledge()
    (folder / "machine.yaml").write_text(
        "oilpath: machine/1\nname: Trainer\ncircuit: two-pump-excavator\n", encoding="utf-8"
    )
    paths = []
    for number, text in enumerate(texts):
        paths.append(folder / f"{number}.yaml")
        paths[-1].write_bytes(text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass"))

    def run() -> None:
        for path in paths:
            with contextlib.suppress(UnusableInput):
                load(path, knowledge)

    return run


@pytest.mark.parametrize(
    ("most", "name", "texts", "load"),
    [
        pytest.param(8.0, "4000 mistakes in a sheet", [MISTAKES], load_sheet, id="mistakes"),
        pytest.param(12.0, "298 equal limits", [EQUAL_LIMITS], load_machine, id="limits"),
        pytest.param(8.0, "all broken machines", [case[0] for case in MACHINES.values()], load_machine, id="machines"),
    ],
)
def test_files_with_mistakes(
    compare: Compare, tmp_path: Path, most: float, name: str, texts: Texts, load: Callable[..., object]
) -> None:
    ours = files_that_are_refused(tmp_path, texts, load)
    within(compare, most, name, ours, "PyYAML, the same texts", lambda: with_pyyaml(texts))


def test_broken_sheets(compare: Compare, tmp_path: Path) -> None:
    """They are a few lines each, but bring a machine along: so beside as many whole ones."""
    texts: Texts = [case[0] for case in SHEETS.values()]
    ours = files_that_are_refused(tmp_path, texts, load_sheet)
    name, peer_name = f"{len(texts)} broken sheets", "PyYAML, as many that ship"
    within(compare, 2.0, name, ours, peer_name, lambda: with_pyyaml([SHEET] * len(texts)))


def test_quantities_that_are_refused(compare: Compare) -> None:
    """Beside as many honest ones read by pint, whose registry is made before."""
    import pint

    registry: Any = pint.UnitRegistry()

    def refused() -> None:
        for text, quantity, *_ in REFUSED:
            with contextlib.suppress(QuantityError):
                parse(text, quantity)

    def honest() -> None:
        for number in range(len(REFUSED)):
            registry.Quantity(f"{number}.5 MPa").to_base_units()

    within(compare, 1.0, f"{len(REFUSED)} refused quantities", refused, "pint, as many honest ones", honest)


def test_the_kept_knowledge_base(compare: Compare, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its compiled form, beside PyYAML's C parser on the files that it was made from."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    base = data_folder("kb")
    texts = [path.read_text(encoding="utf-8") for path in sorted(base.rglob("*.yaml"))]
    load_knowledge(base=base)

    def kept() -> None:
        base_knowledge.cache_clear()
        load_knowledge(base=base)

    within(compare, 1.0, "knowledge base from its cache", kept, "PyYAML on kb/", lambda: with_pyyaml(texts))
