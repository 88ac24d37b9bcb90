"""What the truck or workshop has, `oilpath: have/1`: tools, people, room, a stand. What it does not state is there."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, ClassVar

from pydantic import Field, WithJsonSchema

from oilpath.documents.location import Location
from oilpath.documents.nodes import read_file
from oilpath.documents.paths import is_kind
from oilpath.documents.validate import drafted
from oilpath.documents.yaml_data import top_of
from oilpath.knowledge.fields import Distance, Entry, Texts
from oilpath.problems import Problems


class HaveDraft(Entry):
    """A list of what is there, `oilpath: have/1`."""

    called: ClassVar[str] = "a list of what is there"

    oilpath: Annotated[Any, WithJsonSchema({"const": "have/1"})] = None
    tools: Texts | None = Field(None, description="a list of tools")
    people: Annotated[int, Field(ge=1, le=99)] | None = None
    room: Distance | None = None
    """clear straight ground, m"""
    stand: bool | None = None
    """a stand rated for the load"""


def load_have(path: str | Path) -> HaveDraft:
    """Read a list of what is there. Raises UnusableInput with every problem."""
    shown, problems = str(path), Problems()
    location: Location = top_of(read_file(Path(path), shown), shown, Path(path).parent, problems, Path(path))
    found = drafted(HaveDraft, location) if is_kind(location, "have") else None
    problems.raise_if_any()
    assert found is not None
    return found
