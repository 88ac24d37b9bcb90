"""`kb/excused.yaml`, `oilpath: excused/1`: what `kb check` would find and does not, each with its reason and date."""

from typing import Annotated, Literal

from pydantic import Field

from oilpath.knowledge.fields import Entry, Id, Text

MOST = 10
"""exclusions that a knowledge base may hold: with more of them, a check proves nothing"""


class Excused(Entry):
    """One finding on a cause of one circuit that is let be."""

    finding: Literal["not-suspected", "not-leading", "not-told-apart", "not-proved"]
    cause: Annotated[str, Field(pattern=r"^[a-z0-9-]+\.[a-z0-9-]+$")]
    neighbour: Annotated[str, Field(pattern=r"^[a-z0-9-]+\.[a-z0-9-]+$")] | None = None
    """not-told-apart: the cause that it looks like; the cause itself for another part of its kind"""
    circuit: Id
    because: Text
    since: Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")]


class ExcusedFile(Entry):
    """`kb/excused.yaml`."""

    oilpath: Literal["excused/1"]
    excused: Annotated[tuple[Excused, ...], Field(max_length=MOST)] = ()
