"""The outline of a kind of machine: our own plain shapes in m, from which pictures of how it stands are drawn.

Seen from its left side with the front to the right, y upwards from the ground. It is nobody's machine.
"""

from typing import Annotated, Literal

from pydantic import Field

from oilpath.knowledge.fields import Entry, Id, Number, PositiveNumber, Text

XY = Annotated[tuple[Number, ...], Field(min_length=2, max_length=2)]
Shape = Annotated[tuple[XY, ...], Field(min_length=3, max_length=24)]


class Body(Entry):
    """A shape that does not move against the ground but by travel and slew."""

    body: Id
    shape: Shape
    tone: Literal["dark", "middle", "light"] = "middle"
    slews: bool = True
    """turns with the upper structure"""


class Link(Entry):
    """A shape that turns about its foot. Its points are along the line from foot to tip (x) and left of it (y)."""

    link: Id
    """the group of functions that turns it"""
    on: Id | None = None
    """the link at whose tip its foot is; without it the foot is at `foot` on the machine"""
    foot: XY = (0.0, 0.0)
    length: PositiveNumber
    shape: Shape


class Spot(Entry):
    """Where parts are, for a mark in the picture: a point of the machine, or of a link in its own points."""

    link: Id | None = None
    at: XY
    slews: bool = True
    """turns with the upper structure"""


class Outline(Entry):
    """What a kind of machine looks like, by and large."""

    bodies: tuple[Body, ...]
    links: tuple[Link, ...]
    """from the machine outwards"""
    tool: Id
    """the link that is the tool"""
    seat: XY
    wide: PositiveNumber
    """over its tracks or wheels [m]"""
    run: PositiveNumber
    """width of one track or wheel [m]"""
    long: PositiveNumber
    """of its tracks, or over its wheels [m]"""
    titles: dict[Id, Text] = {}
    """poses that are said otherwise of this kind of machine"""
    spots: dict[Id, Spot] = {}
    """by part or class of parts"""
