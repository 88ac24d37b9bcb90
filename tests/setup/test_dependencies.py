"""docs/dependencies.md has a reason for every library that pyproject.toml asks for, and for none besides."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.setup.test_locks import PROJECT, ROOT, group, pinned

PAGE = ROOT / "docs/dependencies.md"
#: Where a library's module has another name.
MODULES = {"durable-rules": "durable", "pyyaml": "yaml"}
RUN = [Requirement(line) for line in PROJECT["project"]["dependencies"]]

pytestmark = pytest.mark.skipif(not PAGE.is_file(), reason="the documents are those of a checkout")


def names(needs: list[Requirement]) -> set[str]:
    return {str(canonicalize_name(need.name)) for need in needs}


def rows(heading: str) -> Iterator[tuple[str, list[str]]]:
    """The rows of the table under a heading: a library and its other cells."""
    (table,) = re.findall(rf"(?ms)^## {heading}\n(.*?)(?=^## |\Z)", PAGE.read_text(encoding="utf-8"))
    for line in re.findall(r"(?m)^\| (.*) \|$", table)[1:]:
        if not set(line) <= set("-| "):
            library, *cells = (cell.strip() for cell in line.split("|"))
            yield str(canonicalize_name(library)), cells


@cache
def imported() -> set[str]:
    """The top modules that the package imports."""
    found = set()
    for path in (ROOT / "engine").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {name.name.split(".")[0] for name in node.names}
            elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
                found.add(node.module.split(".")[0])
    return found


def test_every_library_that_oilpath_runs_on_has_its_reasons() -> None:
    said = dict(rows("What oilpath runs on"))
    assert set(said) == names(RUN)
    for library, cells in said.items():
        assert len(cells) == 3, library
        assert all(len(cell) > 10 for cell in cells), library


def test_every_library_that_builds_or_tests_has_its_reasons() -> None:
    project = PROJECT["project"]
    optional = [Requirement(line) for lines in project["optional-dependencies"].values() for line in lines]
    asked = [Requirement(line) for line in PROJECT["build-system"]["requires"]] + optional
    asked += [need for name in PROJECT["dependency-groups"] for need in group(name)]
    said = dict(rows("To draw, build and test"))
    assert set(said) == names(asked) - names(RUN)
    for library, cells in said.items():
        assert len(cells) == 2, library
        assert all(len(cell) > 10 for cell in cells), library


def test_every_library_has_its_weight() -> None:
    weighed = set(dict(rows("What they weigh")))
    assert weighed == set(dict(rows("What oilpath runs on"))) | set(dict(rows("To draw, build and test")))


@pytest.mark.parametrize("library", sorted(names(RUN)))
def test_a_library_is_used_unless_the_page_says_otherwise(library: str) -> None:
    what = dict(rows("What oilpath runs on"))[library][0]
    used = MODULES.get(library, library.replace("-", "_")) in imported()
    assert used != what.startswith("not used yet"), what


def test_nothing_comes_along_unnamed() -> None:
    """On this or any other system: what the lock for running holds beyond what is asked for."""
    (text,) = re.findall(r"(?ms)^Come along with these: (.*?)\n\n", PAGE.read_text(encoding="utf-8"))
    said = {str(canonicalize_name(word)) for word in re.split(r",\s|;\s|\sand\s|\s\(.*?\)\S?\s?", text) if word}
    assert said == names([need for need, _ in pinned("run")]) - names(RUN)
