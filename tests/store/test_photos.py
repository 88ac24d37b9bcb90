"""Photos and drafts: kept once however often they are sent, and gone with what they belong to."""

from __future__ import annotations

from typing import Any

from oilpath.store.opening import Store

SHEET = "oilpath: sheet/1\nreadings: []\n"
FACTS: dict[str, Any] = {"media_type": "image/jpeg", "width": 4, "height": 3, "author": "Ann"}


def test_a_photo_is_kept_once_to_its_reading(store: Store) -> None:
    assert store.photos.add("a.yaml", b"one", **FACTS) is None  # there is no such sheet
    store.documents.save("a.yaml", SHEET, base=None, author="Ann")
    first = store.photos.add("a.yaml", b"one", reading="pilot-pressure", caption="gauge", **FACTS)
    again = store.photos.add("a.yaml", b"one", reading="pilot-pressure", caption="sent twice", **FACTS)
    other = store.photos.add("a.yaml", b"one", **FACTS)
    assert first is not None
    assert other is not None
    assert first == again
    assert store.photos.of("a.yaml") == (first, other)
    assert store.photos.get(first.id) == (first, b"one")
    assert (first.caption, first.reading, other.reading, first.width) == ("gauge", "pilot-pressure", "", 4)
    assert store.photos.remove(first.id)
    assert not store.photos.remove(first.id)
    assert store.photos.get(first.id) is None
    assert store.photos.of("a.yaml") == (other,)


def test_a_photo_stays_with_a_sheet_that_was_taken_away(store: Store) -> None:
    store.documents.save("a.yaml", SHEET, base=None, author="Ann")
    store.photos.add("a.yaml", bytes(range(256)), **FACTS)
    store.documents.remove("a.yaml", base=1, author="Ann")
    assert store.photos.add("a.yaml", b"late", **FACTS) is None
    store.documents.save("a.yaml", SHEET, base=2, author="Ann")
    (held,) = store.photos.of("a.yaml")
    found = store.photos.get(held.id)
    assert found is not None
    assert found[1] == bytes(range(256))


def test_a_draft_that_comes_late_changes_nothing_and_is_its_authors(store: Store) -> None:
    for sequence, content in ((1, "a"), (3, "c"), (2, "b"), (3, "c")):
        store.drafts.keep("k", content, author="Ann", sequence=sequence, name="a.yaml", base=4)
    kept = store.drafts.get("k")
    assert kept is not None
    assert (kept.content, kept.sequence, kept.name, kept.base) == ("c", 3, "a.yaml", 4)
    assert store.drafts.keep("k", "mine", author="Bob", sequence=9) is None
    assert not store.drafts.drop("k", author="Bob")
    assert [draft.content for draft in store.drafts.of("Ann")] == ["c"]
    assert store.drafts.drop("k", author="Ann")
    assert store.drafts.get("k") is None
