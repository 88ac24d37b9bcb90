"""Lists: what is found, in which order, a page at a time, alike in both kinds of database."""

from __future__ import annotations

from typing import Any

import pytest

from oilpath.store.opening import Store

MACHINE = "oilpath: machine/1\nname: %s\ncircuit: two-pump-excavator\n"
SHEET = (
    "oilpath: sheet/1\nmachine: ../machines/%s.yaml\nunit-number: %s\nhours: %s\ndate: %s\ncomplaint: '%s'\nreadings:\n"
)


@pytest.fixture
def listed(store: Store) -> Store:
    for name, title in (("a", "Gravel pit 22 t"), ("b", "Yard 12 t")):
        store.documents.save(f"machines/{name}.yaml", MACHINE % title, base=None, author="Ann")
    rows: list[tuple[Any, ...]] = [
        ("s1", "a", "PIT-07", 8450, "2026-05-14", "Slow when digging"),
        ("s2", "a", "PIT-07", 2100, "2024-05-14", "none"),
        ("s3", "a", "PIT-08", "", "", "Boom drops 50% a_b"),
        ("s4", "b", "007", 120, "2026-05-14", "Straße: Größe µ"),
    ]  # fmt: skip
    for name, *values in rows:
        store.documents.save(f"sheets/{name}.yaml", SHEET % tuple(values), base=None, author="Ann")
    return store


def found(store: Store, *words: str, **more: Any) -> list[str]:
    return [row.name[7:-5] for row in store.search.sheets(*words, **more).rows]


def test_each_word_is_found_wherever_it_stands(listed: Store) -> None:
    expected = {
        "": "s1 s2 s3 s4", "pit-07": "s1 s2", "PIT digging": "s1", "gravel": "s1 s2 s3", "007": "s4",
        "STRASSE größe": "s4", "μ": "s4", "2026-05": "s1 s4", "50%": "s3", "a_b": "s3", "a%b": "", "sheets/s2": "s2",
        "' OR 1=1 --": "", "\\": "", "\N{FULLWIDTH LATIN CAPITAL LETTER P}it-08": "s3", "yard gravel": "",
    }  # fmt: skip
    assert {words: " ".join(sorted(found(listed, words))) for words in expected} == expected
    totals = {words: listed.search.sheets(words, most=1).total for words in expected}
    assert totals == {words: len(names.split()) for words, names in expected.items()}


def test_what_is_not_stated_comes_last(listed: Store) -> None:
    expected: dict[Any, str] = {
        "newest": "s4 s1 s2 s3", "oldest": "s2 s1 s4 s3", "hours": "s1 s2 s4 s3", "saved": "s4 s3 s2 s1",
        "name": "s1 s2 s3 s4", "share": "s4 s1 s2 s3",
    }  # fmt: skip
    assert {order: " ".join(found(listed, order=order)) for order in expected} == expected
    for order, names in expected.items():
        pages = [found(listed, order=order, start=start, most=3) for start in (0, 3)]
        assert pages == [names.split()[:3], names.split()[3:]]


def test_a_machine_has_its_sheets_and_its_latest_hours(listed: Store) -> None:
    one, two = listed.search.machines()
    assert (one.title, one.sheets, one.hours, one.date) == ("Gravel pit 22 t", 3, 8450, "2026-05-14")
    assert (two.title, two.sheets) == ("Yard 12 t", 1)
    assert [row.name for row in listed.search.machines("yard")] == ["machines/b.yaml"]
    assert found(listed, machine="machines/a.yaml", unit_number="PIT-07") == ["s1", "s2"]
    over = listed.search.over_time("machines/a.yaml", "PIT-07")
    assert [(row.name[7:9], row.hours) for row in over] == [("s2", 2100), ("s1", 8450)]


def test_another_title_of_a_machine_is_on_its_sheets(listed: Store) -> None:
    listed.documents.save("machines/a.yaml", MACHINE % "Clay pit", base=1, author="Ann")
    assert sorted(found(listed, "clay")) == ["s1", "s2", "s3"]
    assert {row.machine_title for row in listed.search.sheets(machine="machines/a.yaml").rows} == {"Clay pit"}
    listed.documents.remove("machines/a.yaml", base=2, author="Ann")
    assert found(listed, "clay") == []
    assert {row.machine_title for row in listed.search.sheets(machine="machines/a.yaml").rows} == {""}


def test_outcomes_and_closed_jobs_are_found(store: Store) -> None:
    head = "oilpath: sheet/1\nmachine: {oilpath: machine/1, name: Inline, circuit: two-pump-excavator}\n"
    closed = (
        head + "readings:\n  - {test: check, check: plug-loaded-line, part: boom-cylinder, outcome: rod-moves}\n"
        "confirmed: [{cause: cylinder.seal-leak, part: boom-cylinder-left, how: New seals}, {cause: pump.worn}]\n"
    )
    store.documents.save("a.yaml", closed, base=None, author="Ann")
    store.documents.save("b.yaml", head + "readings: []\nconfirmed: {cause: pump.worn}\n", base=None, author="Ann")
    store.documents.save("c.yaml", head + "readings: []\n", base=None, author="Ann")
    assert [row.name for row in store.search.sheets(closed=True, order="name").rows] == ["a.yaml", "b.yaml"]
    assert [row.name for row in store.search.sheets(closed=False).rows] == ["c.yaml"]
    assert store.search.causes_found() == (("pump.worn", 2), ("cylinder.seal-leak", 1))
    (first, second) = store.search.confirmed(["a.yaml", "c.yaml"])["a.yaml"]
    assert (first.cause, first.part, first.how, second.cause) == (
        "cylinder.seal-leak", "boom-cylinder-left", "New seals", "pump.worn",
    )  # fmt: skip
    assert [row.machine_title for row in store.search.sheets("inline").rows] == ["Inline"] * 3
