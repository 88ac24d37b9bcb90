"""No test asks the clock: a busy machine would decide. How long things take is measured in benchmarks/, with a peer."""

import ast
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parents[1]
CLOCKS = {"perf_counter", "perf_counter_ns", "monotonic", "monotonic_ns", "process_time", "process_time_ns", "time_ns"}
#: It draws by lot when a server is killed, within what a save takes there: nothing passes or fails by it.
LEFT_OUT = {TESTS / "store/killing.py"}


@pytest.mark.parametrize(
    "path", sorted({*TESTS.rglob("*.py")} - LEFT_OUT), ids=lambda path: str(path.relative_to(TESTS))
)
def test_no_test_asks_the_clock(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    imported = {
        name.name
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in node.names
        if isinstance(node, ast.Import) or node.module == "time"
    }
    attributes = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    assert not (imported | attributes) & CLOCKS
    assert "timeit" not in imported
    calls = {ast.unparse(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
    assert "time.time" not in calls
