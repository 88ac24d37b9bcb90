"""A record does what a frozen dataclass of the standard library does, which each check here is made against."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import pickle
from collections.abc import Mapping
from dataclasses import field
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import oilpath.flow.answer
import oilpath.flow.results
import oilpath.reports.blocks
from oilpath import records


def pair(slots: bool) -> tuple[type[Any], type[Any]]:
    """One class as a record and as a dataclass of the standard library."""

    def made(dataclass: Any) -> type[Any]:
        @dataclass(frozen=True, slots=slots)
        class Base:
            """A class with a default."""

            name: str
            size: float = 1.5
            parts: Mapping[str, int] = field(default_factory=dict)
            note: str = field(default="", kw_only=True)
            hidden: int = field(default=0, repr=False, compare=False)

            def __post_init__(self) -> None:
                if self.size < 0:
                    raise ValueError("less than nothing")

        @dataclass(frozen=True, slots=slots)
        class Item(Base):
            """A class of it."""

            more: tuple[int, ...] = ()
            must: bool = field(kw_only=True)

        return Item

    return made(records.dataclass), made(dataclasses.dataclass)


BOTH = {slots: pair(slots) for slots in (True, False)}
ARGUMENTS = st.fixed_dictionaries(
    {"name": st.text(max_size=3), "must": st.booleans()},
    optional={
        "size": st.sampled_from([0.0, 0.1, float("nan")]), "note": st.text(max_size=2), "hidden": st.integers(0, 2),
        "more": st.tuples(st.integers()), "parts": st.dictionaries(st.text(max_size=1), st.integers(), max_size=2),
    },
)  # fmt: skip


@pytest.mark.parametrize("slots", [True, False])
@given(one=ARGUMENTS, two=ARGUMENTS)
def test_text_equality_and_fields_are_those_of_a_dataclass(
    slots: bool, one: dict[str, Any], two: dict[str, Any]
) -> None:
    ours, theirs = BOTH[slots]
    assert repr(ours(**one)) == repr(theirs(**one))
    assert (ours(**one) == ours(**two)) == (theirs(**one) == theirs(**two))
    assert dataclasses.asdict(ours(**one)).keys() == dataclasses.asdict(theirs(**one)).keys()
    changed = dataclasses.replace(ours(**one), name="new")
    assert repr(changed) == repr(dataclasses.replace(theirs(**one), name="new"))
    assert ours(**one) != theirs(**one)
    for again in (copy.copy(ours(**one)), copy.deepcopy(ours(**one))):
        assert repr(again) == repr(ours(**one))


@pytest.mark.parametrize("slots", [True, False])
def test_the_rest_of_the_class_is_that_of_a_dataclass(slots: bool) -> None:
    ours, theirs = BOTH[slots]
    for one, two in zip(*(inspect.signature(cls).parameters.values() for cls in (ours, theirs)), strict=True):
        assert (one.name, one.kind, one.annotation) == (two.name, two.kind, two.annotation)
    assert ours.__match_args__ == theirs.__match_args__
    assert [one.name for one in dataclasses.fields(ours)] == [one.name for one in dataclasses.fields(theirs)]
    assert getattr(ours, "__slots__", None) == getattr(theirs, "__slots__", None)
    with pytest.raises(ValueError, match="less than nothing"):
        ours("a", -1, must=True)
    too_few_or_many: tuple[tuple[Any, ...], ...] = ((), ("a",), ("a", 1, {}, 0, (), 1))
    for wrong in too_few_or_many:
        with pytest.raises(TypeError) as said:
            ours(*wrong)
        with pytest.raises(TypeError) as wanted:
            theirs(*wrong)
        assert str(said.value) == str(wanted.value)


@pytest.mark.parametrize("slots", [True, False])
def test_nothing_can_be_set_or_deleted(slots: bool) -> None:
    for cls in BOTH[slots]:
        one = cls("a", must=True)
        with pytest.raises(dataclasses.FrozenInstanceError, match="cannot assign to field 'name'"):
            one.name = "b"
        with pytest.raises(dataclasses.FrozenInstanceError, match="cannot delete field 'name'"):
            del one.name


@records.dataclass(frozen=True, slots=True)
class Point:
    """Two numbers."""

    x: int
    y: int = 2


@records.dataclass(frozen=True, slots=True)
class Nothing:
    """No field."""


@records.dataclass(frozen=True)
class Own:
    """With an equality of its own."""

    x: int

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Own)

    def __repr__(self) -> str:
        return "mine"


def test_the_hash_is_that_of_the_values() -> None:
    """The documentation of dataclasses leaves open which; sets were in this order before."""
    assert hash(Point(1)) == hash((1, 2))
    assert len({Point(1), Point(1, 2), Point(2)}) == 2
    assert Nothing() == Nothing()
    assert hash(Nothing()) == hash(())


def test_a_method_of_its_own_stays() -> None:
    assert Own(1) == Own(2)
    assert repr(Own(1)) == "mine"
    assert hash(Own(1)) == hash((1,))


def test_goes_to_another_process_and_back() -> None:
    assert pickle.loads(pickle.dumps(Point(3))) == Point(3)
    assert pickle.loads(pickle.dumps(Nothing())) == Nothing()


def test_what_asks_for_more_is_the_librarys() -> None:
    @records.dataclass(frozen=True, order=True)
    class Ordered:
        """In order."""

        x: int

    assert Ordered(1) < Ordered(2)
    assert Ordered.__init__.__qualname__.endswith("Ordered.__init__")


@pytest.mark.parametrize("room", [oilpath.flow.answer, oilpath.flow.results, oilpath.reports.blocks])
def test_classes_that_are_made_at_every_start_are_records(room: Any) -> None:
    made = [one for one in vars(room).values() if inspect.isclass(one) and one.__module__ == room.__name__]
    assert made
    assert all(one.__setattr__ is records._refuse_setting for one in made if dataclasses.is_dataclass(one))
