"""What is kept by the identity of what it was made of: made once, apart for each, and not without end."""

from __future__ import annotations

from oilpath.once import once


def test_made_once_for_each_object_whatever_its_value() -> None:
    calls: list[int] = []

    @once(8)
    def length(of: list[int]) -> int:
        calls.append(len(of))
        return len(of)

    one, equal = [1, 2], [1, 2]
    assert [length(one), length(one), length(equal)] == [2, 2, 2]
    assert len(calls) == 2


def test_each_combination_is_its_own() -> None:
    @once(8)
    def joined(a: list[int], b: list[int]) -> list[int]:
        return a + b

    one, two = [1], [2]
    assert joined(one, two) == [1, 2]
    assert joined(two, one) == [2, 1]
    assert joined(one, two) is joined(one, two)


def test_no_identity_is_taken_over_and_old_ones_go() -> None:
    calls: list[int] = []

    @once(3)
    def first(of: list[int]) -> int:
        calls.append(of[0])
        return of[0]

    # each list would be gone before the next one, and its identity free, were it not held
    assert [first([n]) for n in range(10)] == list(range(10))
    assert calls == list(range(10))
    kept = [99]
    assert first(kept) == 99
    assert [first([n]) for n in range(3)] == [0, 1, 2]
    assert first(kept) == 99
    assert calls.count(99) == 2


def test_it_keeps_its_name_and_words() -> None:
    @once(1)
    def named(of: object) -> object:
        """Says what it does."""
        return of

    assert (named.__name__, named.__doc__) == ("named", "Says what it does.")
