"""The bench: kept by value, few of them, one for several threads, and never seen in an answer."""

import dataclasses
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from oilpath import diagnose, load_machine, load_sheet
from oilpath.bench import Bench, Model, bench_for, rules_for
from oilpath.data import data_folder
from oilpath.documents.machine import CodeMeaning, Machine
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.latest import Latest

CASES = data_folder("cases")


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.fixture(scope="module")
def machine(knowledge: Knowledge) -> Machine:
    return load_machine(CASES / "machines" / "trainer-22t.yaml", knowledge)


def test_a_machine_that_is_read_again_is_on_the_same_bench(machine: Machine, knowledge: Knowledge) -> None:
    again = load_machine(CASES / "machines" / "trainer-22t.yaml", knowledge)
    assert again is not machine
    assert bench_for(again, knowledge) is bench_for(machine, knowledge)


def test_where_the_file_stands_makes_no_other_machine(machine: Machine, knowledge: Knowledge, tmp_path: Path) -> None:
    copy = tmp_path / "mine.yaml"
    copy.write_bytes((CASES / "machines" / "trainer-22t.yaml").read_bytes())
    assert bench_for(load_machine(copy, knowledge), knowledge) is bench_for(machine, knowledge)


def test_any_difference_makes_another_bench(machine: Machine, knowledge: Knowledge) -> None:
    here = bench_for(machine, knowledge)
    others = [
        machine.model_copy(update={"codes": {"1-1": CodeMeaning(says="new")}}),
        machine.model_copy(update={"absent": ("pilot-filter",)}),
        machine.model_copy(update={"limits": machine.limits[1:]}),
        machine.model_copy(update={"circuit": machine.circuit.model_copy(update={"title": "Another"})}),
    ]
    benches = [bench_for(other, knowledge) for other in others]
    assert len({id(bench) for bench in (here, *benches)}) == 5
    fewer = knowledge.model_copy(update={"rules": knowledge.rules[1:]})
    assert fewer.version == knowledge.version  # the version is that of the files, the content is not
    assert bench_for(machine, fewer) is not here


def test_rules_are_shared_by_the_benches_of_a_knowledge_base(machine: Machine, knowledge: Knowledge) -> None:
    other = machine.model_copy(update={"absent": ("pilot-filter",)})
    assert Bench(machine, knowledge).rules is Bench(other, knowledge).rules is rules_for(knowledge)


def test_what_the_model_does_not_look_at_leaves_the_model_shared(machine: Machine, knowledge: Knowledge) -> None:
    here = bench_for(machine, knowledge)
    named = bench_for(machine.model_copy(update={"name": "Another"}), knowledge)
    fewer = bench_for(machine.model_copy(update={"limits": ()}), knowledge)
    assert here.model is named.model is fewer.model
    assert here.outcomes is named.outcomes is not fewer.outcomes  # limits say how exact an instrument is
    lacking = bench_for(machine.model_copy(update={"absent": ("pilot-filter",)}), knowledge)
    wider = machine.dimensions.model_copy(update={"track_gauge": 3.0})
    assert here.model is not lacking.model
    assert here.model is not bench_for(machine.model_copy(update={"dimensions": wider}), knowledge).model


def test_outcomes_are_the_same_whichever_machine_came_first(machine: Machine, knowledge: Knowledge) -> None:
    """With the limits of one machine after another's, as with a model of its own."""
    other = machine.model_copy(update={"limits": machine.limits[::2]})
    alone = Model(machine, knowledge).measures.on(other.limits)
    shared = Model(machine, knowledge).measures
    before, after = shared.on(machine.limits), shared.on(other.limits)
    assert not np.array_equal(before.table, after.table)
    np.testing.assert_array_equal(after.table, alone.table)
    np.testing.assert_array_equal(after.sound, alone.sound)


def test_everything_is_worked_out_once(machine: Machine, knowledge: Knowledge) -> None:
    bench = bench_for(machine, knowledge)
    for name in ("circuit", "model", "causes", "places", "outcomes", "part_facts", "priors", "rules"):
        assert getattr(bench, name) is getattr(bench, name)


def test_several_threads_find_the_same(machine: Machine, knowledge: Knowledge) -> None:
    bench = Bench(machine, knowledge)
    start = threading.Barrier(8)

    def ask(_: int) -> tuple[int, int]:
        start.wait()
        return id(bench.model), id(bench.outcomes)

    with ThreadPoolExecutor(8) as threads:
        assert len(set(threads.map(ask, range(8)))) == 1


def test_the_latest_used_are_kept() -> None:
    made: list[str] = []

    def make(name: str) -> str:
        made.append(name)
        return name

    def value(name: str) -> str:
        return kept.get(name, lambda: make(name))

    kept: Latest[str, str] = Latest(2)
    for name in ("a", "b", "a", "c", "a", "b"):
        assert value(name) == name
    assert made == ["a", "b", "c", "b"]
    assert len(kept) == 2
    kept.clear()
    assert len(kept) == 0


@pytest.fixture
def fresh() -> Iterator[None]:
    """No bench is there before or after."""
    from oilpath import bench

    bench._BENCHES.clear()
    bench._MODELS.clear()
    yield
    bench._BENCHES.clear()
    bench._MODELS.clear()


@pytest.mark.usefixtures("fresh")
def test_an_answer_does_not_depend_on_what_was_asked_before(knowledge: Knowledge) -> None:
    """Each sheet first on a fresh bench, then after all others, from several threads."""
    from oilpath import bench

    sheets = [load_sheet(file, knowledge) for file in sorted((CASES / "demo").glob("*.yaml"))[:6]]
    alone = []
    for sheet in sheets:
        bench._BENCHES.clear()
        bench._MODELS.clear()
        alone.append(repr(dataclasses.asdict(diagnose(sheet, knowledge))))
    with ThreadPoolExecutor(4) as threads:
        after = list(
            threads.map(lambda sheet: repr(dataclasses.asdict(diagnose(sheet, knowledge))), [*sheets, *sheets])
        )
    assert after == alone * 2
