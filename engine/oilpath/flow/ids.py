"""The ids of results, made here and nowhere else: `TEST/STEP/STEP@VARIANT+FUNCTION`.

The steps are the words that place a result, in the order in which its test kind names them. An id is a name: nobody
takes it apart to learn what it is about, for a result says that itself. Only rule cases, which people write as ids,
are read by `read_id`.
"""

from __future__ import annotations

import re
import unicodedata
import zlib
from collections.abc import Iterable, Mapping

from oilpath.records import dataclass

STANDARD = "standard"
"""the variant of a reading that is made as its test asks"""


def result_id(test: str, steps: Iterable[str] = (), variant: str = STANDARD, together: Iterable[str] = ()) -> str:
    """The id of a result: its test, the words that place it, its variant and the functions worked at the same time."""
    target = "/".join((test, *steps))
    return target + ("" if variant == STANDARD else f"@{variant}") + "".join(f"+{name}" for name in together)


def placed_by(order: Iterable[str], keys: Mapping[str, str]) -> tuple[str, ...]:
    """The words that place a result, in the order of its test kind; a key that is not stated is left out."""
    return tuple(keys[name] for name in order if name in keys)


def code_of(numbers: Iterable[str]) -> str:
    """A fault code by its numbers: `520201-4` for SPN 520201 and FMI 4."""
    return "-".join(numbers)


def slug(text: str) -> str:
    """Free text as a step of an id; text without a Latin letter or digit gets its checksum."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii").lower()
    made = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-")
    return made or f"text-{zlib.crc32(text.encode('utf-8', 'surrogatepass')):08x}"


@dataclass(frozen=True, slots=True)
class IdParts:
    """What an id says: the test, the words that place the result, the variant, what was worked at the same time."""

    test: str
    steps: tuple[str, ...]
    variant: str = STANDARD
    together: tuple[str, ...] = ()


def read_id(text: str) -> IdParts:
    """An id as people write it in the cases of a rule."""
    head, *together = text.split("+")
    target, _, variant = head.partition("@")
    test, *steps = target.split("/")
    return IdParts(test, tuple(steps), variant or STANDARD, tuple(together))
