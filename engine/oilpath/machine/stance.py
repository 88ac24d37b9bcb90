"""How a machine stands in a posture: the shapes of its outline, turned and put together. Lengths in m.

Forward kinematics of an open chain: every link has its angle against the horizontal; the first link is turned until the
tool is where the pose says.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

from oilpath.knowledge.outline import Link, Outline, Spot
from oilpath.knowledge.stance import Pose, Posture
from oilpath.records import dataclass

Point = tuple[float, float]
_STEPS = 50
_TURN = 75.0
"""degrees by which the first link may be turned to bring the tool down or up"""
_HAND = 0.12
_CLEAR = 0.3
_STAND = 0.7
"""height of a stand as a share of the seat's, from memory"""
_LIFTED = 7.0
"""degrees by which a machine leans with one track raised"""


@dataclass(frozen=True, slots=True)
class Placed:
    """One shape where it stands; `name` is that of its body or link."""

    name: str
    tone: str
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Stance:
    """All shapes of a machine in a posture, from back to front, and where its parts are."""

    shapes: tuple[Placed, ...]
    spots: Mapping[str, Point]
    seat: Point
    tip: Point
    """of the tool"""
    lowest: Point
    """of the tool"""
    across: bool
    """the undercarriage is seen from its end"""


def stance(outline: Outline, pose: Pose, posture: Posture) -> Stance:
    """Put the shapes of a machine together.

    Parameters
    ----------
    outline : Outline, shapes in m
    pose : Pose, angles of its links in degrees; links that it does not name lie level
    posture : Posture, slew in degrees and what the tracks do

    Returns
    -------
    Stance : shapes in m, y upwards from the ground on which it stands
    """
    across = abs(posture.slew) > 45
    raised = posture.tracks == "one-raised"
    lean = -_LIFTED if across and raised else 0.0
    pivot = (-outline.wide / 2, 0.0) if across else (0.0, 0.0)

    def placed(point: Point) -> Point:
        return _turned(point, -lean, pivot) if lean else point

    known = {link.link: link for link in outline.links}
    first = _chain(outline.tool, known)[0]

    def links(turn: float) -> dict[str, tuple[Point, float]]:
        """Foot of each link and its angle, with the chain's first link turned."""
        found: dict[str, tuple[Point, float]] = {}
        for name, link in known.items():
            angle = pose.links.get(name, 0.0) + (turn if name == first else 0.0)
            if link.on is None:
                foot: Point = placed((link.foot[0], link.foot[1]))
            else:
                base, its = found[link.on]
                foot = _along(base, its, known[link.on].length, 0.0)
            found[name] = (foot, angle)
        return found

    def tool(turn: float) -> Point:
        foot, angle = links(turn)[outline.tool]
        shape = [_along(foot, angle, x, y) for x, y in known[outline.tool].shape]
        return min(shape, key=lambda one: one[1])

    turn = _turn(pose, posture, lambda by: tool(by)[1], _STAND * outline.seat[1])
    where = links(turn)
    shapes = [
        Placed(body.body, body.tone, tuple(placed((x, y)) for x, y in body.shape))
        for body in outline.bodies
        if body.slews or not across
    ]
    if across:
        shapes = [*_from_the_end(outline, placed), *shapes]
    chain = _chain(outline.tool, known)
    for name in known:
        if across and name not in chain:  # it stands on the undercarriage, which is seen from its end
            continue
        foot, angle = where[name]
        points = tuple(_along(foot, angle, x, y) for x, y in known[name].shape)
        shapes.append(Placed(name, "link", points))

    half = outline.wide / 2 - outline.run / 2

    def spot(one: Spot) -> Point:
        if one.link is None and across and not one.slews:
            return placed((half, one.at[1]))
        if one.link is None:
            return placed((one.at[0], one.at[1]))
        foot, angle = where[one.link]
        return _along(foot, angle, *one.at)

    foot, angle = where[outline.tool]
    spots = {name: spot(one) for name, one in outline.spots.items()}
    return Stance(
        tuple(shapes), spots, placed((outline.seat[0], outline.seat[1])),
        _along(foot, angle, known[outline.tool].length, 0.0), tool(turn), across,
    )  # fmt: skip


def _chain(name: str, known: Mapping[str, Link]) -> tuple[str, ...]:
    """The links from the one that stands on the machine itself to this one."""
    on = known[name].on
    return (name,) if on is None else (*_chain(on, known), name)


def _turn(pose: Pose, posture: Posture, height: Callable[[float], float], stand: float) -> float:
    """Degrees by which the first link is turned so that the tool is at its height."""
    if pose.tool == "on-ground":
        return _root(height)
    if pose.tool == "just-above":
        least = stand + _HAND if posture.stand else _HAND
        return _root(lambda by: height(by) - least)
    return 0.0 if height(0.0) >= _CLEAR else _root(lambda by: height(by) - _CLEAR)


def _root(rises: Callable[[float], float]) -> float:
    """Where a function of the turn that rises is zero, by halving; an end of the range if it is not in it."""
    low, high = -_TURN, _TURN
    for _ in range(_STEPS):
        middle = (low + high) / 2
        low, high = (low, middle) if rises(middle) > 0 else (middle, high)
    return (low + high) / 2


def _from_the_end(outline: Outline, placed: Callable[[Point], Point]) -> list[Placed]:
    """Both tracks seen from the end of the machine."""
    high = max(y for body in outline.bodies if not body.slews for _, y in body.shape)
    half = outline.wide / 2
    ends = ((-half, -half + outline.run), (half - outline.run, half))
    found = [
        Placed("track", "dark", tuple(placed(p) for p in ((a, 0.0), (b, 0.0), (b, high), (a, high)))) for a, b in ends
    ]
    frame: Sequence[Point] = ((-half + outline.run, 0.45), (half - outline.run, 0.45), (0.6, high), (-0.6, high))
    return [Placed("frame", "middle", tuple(placed(p) for p in frame)), *found]


def _along(foot: Point, degrees: float, x: float, y: float) -> Point:
    """A point of a link: x along it, y to its left."""
    turn = math.radians(degrees)
    return foot[0] + x * math.cos(turn) - y * math.sin(turn), foot[1] + x * math.sin(turn) + y * math.cos(turn)


def _turned(point: Point, degrees: float, pivot: Point) -> Point:
    return _along(pivot, degrees, point[0] - pivot[0], point[1] - pivot[1])
