"""The family knows nothing of the engine that it judges: numpy, the standard library and itself."""

import ast
import sys
from pathlib import Path

import pytest

import oilpath.lab.family as family

FOLDER = Path(family.__file__).parent
MODULES = sorted(FOLDER.glob("*.py"))


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.stem)
def test_a_module_imports_only_numpy_the_standard_library_and_the_family(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            names = [node.module or ""]
            assert node.level == 0, "relative"
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        else:
            continue
        for name in names:
            root = name.split(".")[0]
            assert root in {"numpy", *sys.stdlib_module_names} or name.startswith("oilpath.lab.family"), name


def test_there_are_modules_to_look_at() -> None:
    assert len(MODULES) > 10
