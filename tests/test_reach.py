"""What the product reaches: no laboratory from the flow, and no formula that nothing calls."""

import ast
from collections import deque
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import oilpath

ROOT = Path(oilpath.__file__).parent
FORMULAS = "oilpath.physics.formulas"
LAB = "oilpath.lab"
STORE = "oilpath.store"
PAGE = "oilpath.page"
SERVE_THE_LAB = (
    "oilpath.commands", "oilpath.kbcheck", "oilpath.cli", "oilpath.__main__", "oilpath.practice.hidden", LAB,
    "oilpath.page.app", "oilpath.page.serving", "oilpath.page.views.practice",
)  # fmt: skip
"""what may import the laboratory; all else is the flow and what it stands on"""
UNUSED: dict[str, str] = {}
"""formulas that nothing calls yet, each with the reason why it stays"""


def _modules() -> dict[str, ast.Module]:
    found = {}
    for path in sorted(ROOT.rglob("*.py")):
        parts = ("oilpath", *path.relative_to(ROOT).with_suffix("").parts)
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found[name] = ast.parse(path.read_text(encoding="utf-8"))
    return found


MODULES = _modules()


@cache
def _imports(module: str) -> tuple[str, ...]:
    """Modules that one module imports anywhere, in functions and for type checkers as well."""
    return tuple(dict.fromkeys(_named(module)))


def _named(module: str) -> Iterator[str]:
    for node in ast.walk(MODULES[module]):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, module
            names = [f"{node.module}.{alias.name}" for alias in node.names] + [node.module or ""]
        else:
            continue
        for name in names:
            if name in MODULES:
                yield name


def _reached(start: str) -> dict[str, str]:
    """All modules that a module imports, however far, each with the one that imports it."""
    found, waiting = {start: ""}, deque([start])
    while waiting:
        here = waiting.popleft()
        for name in _imports(here):
            if name not in found:
                found[name] = here
                waiting.append(name)
    return found


FLOW = [name for name in MODULES if not any(name == one or name.startswith(f"{one}.") for one in SERVE_THE_LAB)]
SERVE_THE_STORE = (*SERVE_THE_LAB, STORE, PAGE)
"""what may import the database: the flow and what it stands on know no database"""


def test_the_parts_of_the_flow_are_all_looked_at() -> None:
    rooms = {name.split(".")[1] for name in FLOW if "." in name}
    assert {
        "diagnosis", "flow", "documents", "knowledge", "machine", "physics", "judging", "rules", "outcomes", "ranking",
        "planning", "session", "reports", "bench",
    } <= rooms  # fmt: skip


@pytest.mark.parametrize("module", FLOW)
def test_the_flow_imports_nothing_of_the_laboratory(module: str) -> None:
    reached = _reached(module)
    assert {name: by for name, by in reached.items() if name == LAB or name.startswith(f"{LAB}.")} == {}


def test_nothing_but_commands_and_page_imports_the_database() -> None:
    inside = [name for name in FLOW if not any(name == one or name.startswith(f"{one}.") for one in SERVE_THE_STORE)]
    assert "oilpath.diagnosis" in inside
    outside = (STORE, PAGE)
    found = {
        name: one
        for name in inside
        for one in _imports(name)
        if any(one == room or one.startswith(f"{room}.") for room in outside)
    }
    assert found == {}


def test_the_database_is_known_by_its_room_alone() -> None:
    """SQLAlchemy and its kin are imported by the store, and by nothing that starts without it."""
    libraries = ("sqlalchemy", "alembic", "psycopg", "argon2")
    found = {
        module
        for module, tree in MODULES.items()
        for node in ast.walk(tree)
        for name in (
            [one.name for one in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else []
        )
        if name.split(".")[0] in libraries
    }
    assert {name for name in found if not name.startswith(f"{STORE}.")} == set()
    assert found


def test_the_search_finds_the_laboratory_where_it_is_used() -> None:
    assert "oilpath.lab.scoring" in _reached("oilpath.commands.kb")


def _formulas() -> dict[str, ast.FunctionDef]:
    return {
        f"{module}.{node.name}": node
        for module, tree in MODULES.items()
        if module.startswith(f"{FORMULAS}.") and not module.rpartition(".")[2].startswith("_")
        for node in tree.body
        if isinstance(node, ast.FunctionDef)
    }


def _names_of(module: str) -> dict[str, str]:
    """Name in a module → the formula that it stands for."""
    own = {node.name: f"{module}.{node.name}" for node in MODULES[module].body if isinstance(node, ast.FunctionDef)}
    imported = {
        alias.asname or alias.name: f"{node.module}.{alias.name}"
        for node in ast.walk(MODULES[module])
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    return {**own, **imported}


def _used(tree: ast.AST, names: dict[str, str]) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Name):
            yield names.get(node.id, "")
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            yield f"{names.get(node.value.id, '')}.{node.attr}"


def test_every_formula_is_called_by_the_product() -> None:
    """From outside the formulas' own package, or by a formula that is."""
    formulas = _formulas()
    waiting = deque(
        name
        for module, tree in MODULES.items()
        if not module.startswith(FORMULAS) and not module.startswith(f"{LAB}.")
        for name in _used(tree, _names_of(module))
        if name in formulas
    )
    reached: set[str] = set()
    while waiting:
        name = waiting.popleft()
        if name in formulas and name not in reached:
            reached.add(name)
            waiting.extend(_used(formulas[name], _names_of(name.rpartition(".")[0])))
    lacking = {name for name in formulas if not name.rpartition(".")[2].startswith("_")} - reached
    assert lacking == set(UNUSED)
