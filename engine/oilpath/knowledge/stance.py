"""How a machine stands for a test or a check, where people and instruments are, and what it takes beside tools.

Angles are degrees; distances stand in the files with their unit and are kept in m.
"""

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema, model_validator

from oilpath.knowledge.fields import Entry, Id, NonnegativeNumber, Number, Text, Texts, problem, quantity_value


def _metres(value: object) -> object:
    # once compiled, the knowledge base holds SI numbers
    return quantity_value(value, "length", "positive") if isinstance(value, str) else value


Metres = Annotated[
    float, BeforeValidator(_metres), WithJsonSchema({"type": "string", "description": "length: number and unit"})
]


def _angle(value: float) -> float:
    if not -180 <= value <= 180:
        raise problem("is no angle", "degrees from -180 to 180")
    return value


Angle = Annotated[Number, AfterValidator(_angle)]


class Pose(Entry):
    """Angles of the links of a machine; one pose serves several kinds of machine, each takes the links that it has."""

    title: Text
    links: dict[Id, Angle]
    """group of functions (`boom`, `arm`, `lift`) → its link from its foot to its tip against the horizontal [°],
    positive upwards, 0 forward; a bucket from its pin to its cutting edge. Links that are not named lie as they lie"""
    tool: Literal["on-ground", "just-above", "raised"] = "on-ground"
    """where the tool is; `just-above`: a hand's breadth above ground or stand"""
    source: Text = "common practice"


class Posture(Entry):
    """How the machine stands while the reading is made. What is left out is the first word of its list."""

    pose: Id
    """name of one of `poses` in `tests.yaml`"""
    engine: Literal["off", "low-idle", "test-speed"] = "off"
    moves: Literal["nothing", "function", "swing", "travel", "raised-track", "steering"] = "nothing"
    """what moves while it is read"""
    tracks: Literal["on-ground", "one-raised", "blocked", "chocked"] = "on-ground"
    stand: bool = False
    """a stand rated for the load is under the tool"""
    tool: Literal["empty", "loaded", "any"] = "empty"
    slew: Angle = 0.0
    """upper structure against the undercarriage [°]; 90: across the tracks"""
    slope: Angle = 0.0
    """of the ground [°]"""


class Lane(Entry):
    """A marked lane, in the direction of travel."""

    run_up: Metres
    length: Metres
    """measured stretch"""
    beyond: Metres
    """room to stop"""


class Person(Entry):
    """Where somebody is while the reading is made."""

    who: Literal["operator", "helper", "reader"]
    at: Literal["seat", "ahead", "beside", "behind", "away"]
    """`away`: outside of everything that the machine can reach"""
    does: Text


class Point(Entry):
    """Where something is read, marked, opened or looked at."""

    at: Text
    """a part, a class of parts or a key of the reading (`{part}`, `{cylinder}`, `{side}`), or words of `on`"""
    on: Literal["part", "ground", "seat", "display"] = "part"
    port: Id | None = None
    """of the part: `cap`, `rod`, `outlet`, `inlet`, `drain`, `pilot`, `signal`"""
    by: Literal["eye", "ear", "gauge", "tape", "stopwatch", "mark", "jug", "meter", "thermometer", "reader", "hand"]


class Place(Entry):
    """Where it is made: the lane or the clear space around, the points, the people."""

    clear: Literal["around", "reach", "swing-circle", "lane", "beside-tracks", "below"] = "around"
    """what must be free of people; `below`: on a slope, what lies below the machine"""
    lane: Lane | None = None
    points: Annotated[tuple[Point, ...], Field(max_length=6)] = ()
    people: Annotated[tuple[Person, ...], Field(max_length=4)] = ()

    @model_validator(mode="after")
    def _lane(self) -> Self:
        if (self.clear == "lane") != (self.lane is not None):
            raise problem("has a lane or `clear: lane` alone", "both, or neither")
        return self


class Port(Entry):
    """A port that a gauge or a meter goes to."""

    at: Text
    usual: bool = True
    """whether nearly every machine has it"""
    instead: Text | None = None
    """what to fit where it does not exist"""
    minutes: NonnegativeNumber = 0
    """what that takes more"""

    @model_validator(mode="after")
    def _instead(self) -> Self:
        if not self.usual and self.instead is None:
            raise problem("may not exist, and it is not said what to do then", "`instead`")
        return self


class Takes(Entry):
    """What it takes beside tools and people."""

    ports: tuple[Port, ...] = ()
    fittings: Texts = ()
    """adapters, plugs, hoses"""
    helper: Text | None = None
    """what the second person does, where one alone cannot do it safely"""
    room: Text | None = None
