"""The invented machines and sheets that ship, as documents of a database."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from oilpath.data import data_folder
from oilpath.store.documents import Conflict

if TYPE_CHECKING:
    from oilpath.store.opening import Store

_FOLDERS: Final = ("machines", "sound", "demo")
_AUTHOR: Final = "demo"


def put_demo(store: Store) -> int:
    """Put in what is not there yet; how many that were."""
    added = 0
    for folder in _FOLDERS:
        for path in sorted((data_folder("cases") / folder).glob("*.yaml")):
            name = f"{folder}/{path.name}"
            if store.documents.latest(name) is None:
                saved = store.documents.save(name, path.read_bytes(), base=None, author=_AUTHOR)
                added += not isinstance(saved, Conflict)
    return added
