"""Pictures of how: how a machine stands for a test or a check, where people are, and where it is read.

Our own line drawings, made from the posture and the place in the knowledge base and the plain outline of the kind of
machine. Greys and numbers alone carry the meaning; the same is said in words below the picture and for those who do
not see it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from html import escape
from textwrap import wrap
from typing import Final

from oilpath.documents.machine import Machine
from oilpath.knowledge.stance import Lane, Person, Place, Point, Pose, Posture
from oilpath.knowledge.wiring import wire
from oilpath.machine.stance import Stance, stance
from oilpath.records import dataclass
from oilpath.reports.how_words import BY, CLEAR, ENGINE, MOVES, ON, PORTS, TRACKS
from oilpath.reports.names import safe, sentence, spaced
from oilpath.reports.words import Words
from oilpath.session.day import DayTest
from oilpath.session.slots import slots_of

_WIDE: Final = 560
_TALL: Final = 190
_PAD: Final = 20
_LINE: Final = 21
_LETTERS: Final = 64
_FONT: Final = 16
_FILLS: Final = {"dark": "#8d8d8d", "middle": "#c9c9c9", "light": "#f2f2f2", "link": "#dcdcdc"}
_INK: Final = "#222222"
_NAMESPACE: Final = ' xmlns="http://www.w3.org/2000/svg"'
_BOLD: Final = 'font-family="sans-serif" font-weight="bold" text-anchor="middle"'

_At = Callable[[float, float], tuple[float, float]]
"""metres of the machine to points of the picture"""


@dataclass(frozen=True, slots=True)
class How:
    """A picture to be drawn. keys: what `{part}`, `{cylinder}` … stand for, where one place is meant."""

    title: str
    posture: Posture
    pose: Pose
    place: Place
    keys: Mapping[str, str]
    machine: Machine
    words: Words
    one: bool = True
    """whether `keys` are the only place that is meant, or the first of several"""


def how_of(
    title: str,
    posture: Posture | None,
    place: Place | None,
    keys: Mapping[str, str],
    machine: Machine,
    words: Words,
    *,
    one: bool = True,
) -> How | None:
    """What is to be drawn for a test or a check; None where the knowledge base says no posture or place for it."""
    pose = None if posture is None else words.knowledge.poses.get(posture.pose)
    if posture is None or pose is None:
        return None
    return How(title, posture, pose, place or Place(), keys, machine, words, one)


def how_of_test(test: DayTest, machine: Machine, words: Words) -> How | None:
    """The picture of a test of the day, at the first place where it is read; none for a variant."""
    kind = words.knowledge.tests[test.test]
    if test.variant is not None:
        return None
    room = slots_of(test, machine, words.knowledge)
    keys = room[0].keys if room else {}
    return how_of(words.test(test.test), kind.posture, kind.place, keys, machine, words, one=len(room) < 2)


def how_of_check(check: str, part: str, machine: Machine, words: Words) -> How | None:
    """The picture of a check at a part."""
    known = next((one for one in words.knowledge.checks if one.check == check), None)
    if known is None:
        return None
    return how_of(words.check(check, part), known.posture, known.place, {"part": part}, machine, words)


# --- in words -----------------------------------------------------------------------------


def how_lines(how: How, *, people: bool = True) -> tuple[str, ...]:
    """What the picture shows, in words, its numbers among them; with what people do."""
    posture, place = how.posture, how.place
    doing = [ENGINE[posture.engine], MOVES[posture.moves]]
    if posture.tracks in TRACKS and _tracked(how):
        doing.append(TRACKS[posture.tracks])
    doing += ["a stand rated for the load under the tool"] * posture.stand
    doing += [f"on a slope of {posture.slope:g}°"] * bool(posture.slope)
    found = [f"{sentence(safe(_pose(how)))}.", f"{', '.join(doing)}."]
    if place.lane is not None:
        found.append(_lane_words(place.lane, how.words))
    found += [f"{number}  {_point(point, how)}" for number, point in enumerate(place.points, 1)]
    if people:
        found += [f"{sentence(one.who)}{_where(one)}: {safe(one.does)}." for one in place.people]
    found.append(f"{CLEAR[place.clear]}.")
    return tuple(found)


def _pose(how: How) -> str:
    """The pose in words, in those of the kind of machine where it has its own."""
    outline = how.machine.circuit.outline
    own = {} if outline is None else outline.titles
    return own.get(how.posture.pose, how.pose.title)


def _tracked(how: How) -> bool:
    return any(part.class_ == "track" for part in how.machine.circuit.parts.values())


def _where(one: Person) -> str:
    return {"seat": " in the seat", "away": ", well away"}.get(one.at, f", {one.at} the machine" if one.at != "ahead"
                                                               else ", ahead of the machine")  # fmt: skip


def _point(point: Point, how: How) -> str:
    port = f", {PORTS.get(point.port, spaced(point.port))}" if point.port else ""
    on = f", {ON[point.on]}" if point.on in ON else ""
    return f"{sentence(BY[point.by])}: {_at(point, how)}{port}{on}"


def _at(point: Point, how: How) -> str:
    text = point.at
    if how.one:
        text = _filled(text, how)
    if text in how.machine.circuit.parts:
        return how.words.part(text)
    if text in how.machine.circuit.functions:
        return how.words.function(text)
    for key in ("part", "cylinder", "pump", "function", "side", "at"):
        text = text.replace(f"{{{key}}}", {"at": "the point", "side": "one side"}.get(key, f"the {key}"))
    return spaced(text)


def _filled(text: str, how: How) -> str:
    for key, value in how.keys.items():
        text = text.replace(f"{{{key}}}", value)
    return text


def _lane_words(lane: Lane, words: Words) -> str:
    run_up, length, beyond = (words.stretch(one, "length") for one in (lane.run_up, lane.length, lane.beyond))
    return f"Lane: {run_up} of run-up, {length} measured from mark to mark, {beyond} to stop."


# --- the drawing --------------------------------------------------------------------------


def how_drawing(how: How, name: str, *, people: bool = True, alone: bool = False, written: bool = True) -> str:
    """The picture as SVG text, with a title and a description; `name` is its own on the page.

    people: what they do is written below it as well; it is in the description in any case.
    alone: a file by itself, not a piece of a page. written: without, the page itself says :func:`how_lines`.
    """
    lines = how_lines(how, people=people) if written else ()
    parts: list[str] = []
    y = 12.0
    outline = how.machine.circuit.outline
    if outline is not None:
        drawn, y = _machine(how, stance(outline, how.pose, how.posture), y)
        parts += drawn
    if how.place.lane is not None:
        drawn, y = _lane(how, how.place.lane, y)
        parts += drawn
    drawn, y = _details(how, y)
    parts += drawn
    for line in lines:
        for number, row in enumerate(wrap(line, _LETTERS)):
            parts.append(_text(_PAD + (12 if number else 0), y + 12, row))
            y += _LINE
    height = math.ceil(y + 8)
    return (
        f'<svg{_NAMESPACE if alone else ""} class="how" viewBox="0 0 {_WIDE} {height}" width="{_WIDE}"'
        f' height="{height}" role="img" aria-labelledby="{name}-t{f" {name}-d" * written}">'
        f'<title id="{name}-t">{escape(f"How it is done: {how.title}")}</title>'
        + f'<desc id="{name}-d">{escape(" ".join(how_lines(how)))}</desc>' * written
        + f'<rect width="{_WIDE}" height="{height}" fill="#ffffff"/>\n'
        + "\n".join(parts)
        + "\n</svg>\n"
    )


def _machine(how: How, stands: Stance, top: float) -> tuple[list[str], float]:
    """The machine on its ground, with the people and the numbered points."""
    points = [point for shape in stands.shapes for point in shape.points]
    walkers = [one for one in how.place.people if one.at != "seat"]
    tall = max(y for _, y in points)
    man = 1.75 if tall > 2.6 else 1.2  # on a small machine people would hide it
    uphill = how.posture.slope > 0
    ahead = [one for one in walkers if one.at == "ahead" or uphill]
    left = min(x for x, _ in points) - 0.6 - 1.1 * man * (len(walkers) - len(ahead))
    right = max(x for x, _ in points) + 0.6 + 1.1 * man * len(ahead)
    lean = math.radians(how.posture.slope)
    scale = min((_WIDE - 2 * _PAD) / (right - left), _TALL / (tall + 0.3 + math.sin(lean) * (right - left)))
    middle = (_WIDE - scale * (left + right)) / 2
    ground = top + _TALL + 4

    def at(x: float, y: float) -> tuple[float, float]:
        turned_x, turned_y = x * math.cos(lean) - y * math.sin(lean), x * math.sin(lean) + y * math.cos(lean)
        return round(middle + turned_x * scale, 1), round(ground - (turned_y - left * math.sin(lean)) * scale, 1)

    found = [_line(at(left, 0), at(right, 0), 2)]
    if lean:
        found.append(_line(at(left, 0), (at(right, 0)[0], at(left, 0)[1]), 1, dashed=True))
    if how.posture.stand:
        x, y = stands.lowest
        foot, head = 0.28 * y + 0.25, 0.2
        found.append(
            _polygon([at(x - foot, 0), at(x + foot, 0), at(x + head, y - 0.1), at(x - head, y - 0.1)], "#a8a8a8")
        )
    found += [_polygon([at(*point) for point in shape.points], _FILLS[shape.tone]) for shape in stands.shapes]
    if how.posture.tracks == "chocked" and not stands.across:
        ends = [x for shape in stands.shapes if shape.tone == "dark" for x, y in shape.points if y < 0.3]
        for x, way in ((min(ends), -1), (max(ends), 1)):
            found.append(_polygon([at(x, 0), at(x + 0.35 * way, 0), at(x, 0.3)], "#555555"))
    found += _moving(how, stands, at)
    found += _people(how, stands, at, (left, right), man)
    found += _numbers(how, stands, at)
    return found, ground + 14


def _moving(how: How, stands: Stance, at: _At) -> Iterator[str]:
    """Arrows for what moves."""
    match how.posture.moves:
        case "swing":
            top = max(y for shape in stands.shapes if shape.tone != "link" for _, y in shape.points)
            x, y = at(0.0, top)
            yield _arrow(
                f"M{x - 46:g} {y - 4:g}C{x - 40:g} {y - 20:g} {x + 40:g} {y - 20:g} {x + 46:g} {y - 4:g}", both=True
            )
        case "travel":
            x, y = at(max(x for shape in stands.shapes if shape.tone == "dark" for x, _ in shape.points), 0.0)
            yield _arrow(f"M{x + 6:g} {y - 14:g}H{x + 46:g}", both=True)
        case "function":
            x, y = at(*stands.tip)
            y = max(y, 44.0)  # at the top of the picture
            yield _arrow(
                f"M{x + 30:g} {y - 26:g}C{x + 44:g} {y - 8:g} {x + 42:g} {y + 14:g} {x + 26:g} {y + 30:g}", both=True
            )
        case "raised-track":
            tracks = [shape for shape in stands.shapes if shape.name == "track"]
            if tracks:
                x, y = at(*max(tracks[-1].points))
                yield _arrow(f"M{x + 6:g} {y - 4:g}v-22", both=False)
        case _:
            return


def _people(how: How, stands: Stance, at: _At, ends: tuple[float, float], man: float) -> Iterator[str]:
    """A head in the seat; whoever stands is behind the machine, ahead of it, or uphill.

    Between the machine and those who are well away the ground is broken, as it is longer than the picture.
    """
    x_left, x_right = ends[0] + 0.35 * man, ends[1] - 0.35 * man
    for one in how.place.people:
        if one.at == "seat":
            x, y = at(*stands.seat)
            yield f'<circle cx="{x:g}" cy="{y - 12:g}" r="5" fill="{_INK}"/>'
            yield f'<path d="M{x - 5:g} {y + 8:g}v-9q5 -7 10 0v9z" fill="{_INK}"/>'
        elif one.at == "ahead" or how.posture.slope > 0:
            yield from _standing(at, x_right, man)
            x_right -= 1.1 * man
        else:
            yield from _standing(at, x_left, man)
            if one.at == "away":
                x, y = at(x_left + 0.6 * man, 0.0)
                yield f'<path d="M{x - 6:g} {y + 8:g}l8 -16h6l-8 16z" fill="#ffffff"/>'
                yield f'<path d="M{x - 6:g} {y + 8:g}l8 -16m6 0l-8 16" fill="none" stroke="{_INK}" stroke-width="1.6"/>'
            x_left += 1.1 * man


def _standing(at: _At, x: float, man: float) -> Iterator[str]:
    foot, head = at(x, 0.0), at(x, man)
    high = foot[1] - head[1]
    r = high * 0.1
    yield f'<circle cx="{foot[0]:g}" cy="{foot[1] - high + r:g}" r="{r:.1f}" fill="{_INK}"/>'
    x, y = foot
    knee, wide = y - 0.42 * high, 0.12 * high
    body = f"M{x:g} {y - 0.78 * high:.1f}V{knee:.1f}"
    legs = f"M{x - wide:.1f} {y:g}L{x:g} {knee:.1f}L{x + wide:.1f} {y:g}"
    arms = f"M{x - 1.4 * wide:.1f} {knee:.1f}L{x:g} {y - 0.72 * high:.1f}L{x + 1.4 * wide:.1f} {knee:.1f}"
    yield f'<path d="{body}{legs}{arms}" fill="none" stroke="{_INK}" stroke-width="2.4" stroke-linecap="round"/>'


def _numbers(how: How, stands: Stance, at: _At) -> Iterator[str]:
    """The numbered points at their parts; several at one part beside each other."""
    taken: dict[tuple[float, float], int] = {}
    for number, point in enumerate(how.place.points, 1):
        where = _spot(point, how, stands)
        if where is None:
            continue
        x, y = at(*where)
        beside = taken.get((x, y), 0)
        taken[x, y] = beside + 1
        yield _number(x + 23 * beside, y, number)


def _spot(point: Point, how: How, stands: Stance) -> tuple[float, float] | None:
    if point.on == "seat":
        return stands.seat
    for name in _names(_filled(point.at, how), how.machine):
        if name in stands.spots:
            return stands.spots[name]
    return None


def _names(text: str, machine: Machine) -> Iterator[str]:
    """A part, the pair that it belongs to, its class, the part that it belongs to; a class by itself."""
    parts = wire(machine.circuit).parts
    yield text
    yield from (name for name, part in parts.items() if text in part.members)
    if text in parts:
        yield parts[text].class_
        if (of := parts[text].of) is not None and of != text:
            yield from _names(of, machine)


# --- lane and details ---------------------------------------------------------------------


def _lane(how: How, lane: Lane, top: float) -> tuple[list[str], float]:
    """The lane from above: marks, the starting line stretched along it, and where the offset is measured."""
    whole = lane.run_up + lane.length + lane.beyond
    scale = (_WIDE - 2 * _PAD) / whole
    high = 56.0
    y = top + 18

    def x(metres: float) -> float:
        return round(_PAD + metres * scale, 1)

    start, end = x(lane.run_up), x(lane.run_up + lane.length)
    middle = y + high / 2
    found = [
        f'<rect x="{_PAD}" y="{y:g}" width="{_WIDE - 2 * _PAD}" height="{high:g}" fill="#f4f4f4" stroke="{_INK}"/>'
    ]
    found += [_line((one, y - 6), (one, y + high + 6), 2.5) for one in (start, end)]
    for offset in (8, high - 20):
        found.append(f'<rect x="{_PAD + 6}" y="{y + offset:g}" width="44" height="12" fill="#8d8d8d" stroke="{_INK}"/>')
    found.append(
        f'<rect x="{_PAD + 14}" y="{y + 16:g}" width="28" height="{high - 32:g}" fill="#c9c9c9" stroke="{_INK}"/>'
    )
    edge = y + high - 8
    found.append(_line((_PAD + 50, edge), (end, edge), 1.2, dashed=True))
    found.append(
        f'<path d="M{_PAD + 50} {edge:g}H{start:g}C{(start + end) / 2:g} {edge:g} {end - 40:g} {edge - 6:g} {end:g}'
        f' {edge - 20:g}" fill="none" stroke="{_INK}" stroke-width="1.6"/>'
    )
    found.append(_arrow(f"M{end + 9:g} {edge:g}V{edge - 20:g}", both=True))
    found.append(_arrow(f"M{_PAD + 58} {middle:g}H{_PAD + 96}"))
    words = how.words
    for left, right, text in (
        (x(0), start, words.stretch(lane.run_up, "length")),
        (start, end, words.stretch(lane.length, "length")),
        (end, x(whole), words.stretch(lane.beyond, "length")),
    ):
        below = y + high + 22
        found.append(_arrow(f"M{left + 2:g} {below - 10:g}H{right - 2:g}", both=True))
        found.append(_text((left + right) / 2, below + 4, text, middle=True))
    found.append(_text(start, y - 8, "start mark", middle=True))
    found.append(_text(end, y - 8, "end mark", middle=True))
    return found, y + high + 40


def _details(how: How, top: float) -> tuple[list[str], float]:
    """Close views: the mark on the rod with its tape, and the gauge at its port."""
    points = how.place.points
    pictures = []
    if any(one.port == "rod" and one.by in ("mark", "tape") for one in points):
        pictures.append(_rod)
    if any(one.by == "gauge" for one in points):
        pictures.append(_gauge)
    if any(one.by == "jug" for one in points):
        pictures.append(_jug)
    found: list[str] = []
    for number, picture in enumerate(pictures[:2]):
        found += picture(_PAD + number * 270, top + 6)
    return found, top + (92 if pictures else 0)


def _rod(x: float, y: float) -> list[str]:
    """Barrel, gland and rod; the mark a hand's breadth from the gland, the tape between."""
    return [
        f'<rect x="{x:g}" y="{y + 14:g}" width="90" height="40" fill="#c9c9c9" stroke="{_INK}"/>',
        f'<rect x="{x + 90:g}" y="{y + 10:g}" width="14" height="48" fill="#8d8d8d" stroke="{_INK}"/>',
        f'<rect x="{x + 104:g}" y="{y + 25:g}" width="136" height="18" fill="#f2f2f2" stroke="{_INK}"/>',
        _line((x + 178, y + 20), (x + 178, y + 48), 3),
        _arrow(f"M{x + 105:g} {y + 60:g}H{x + 177:g}", both=True),
        _text(x + 141, y + 76, "tape", middle=True),
        _text(x + 182, y + 16, "mark"),
        _text(x + 97, y + 6, "gland", middle=True),
    ]


def _gauge(x: float, y: float) -> list[str]:
    """A port, a hose, and the gauge at its end, away from what moves."""
    return [
        f'<rect x="{x:g}" y="{y + 30:g}" width="54" height="36" fill="#c9c9c9" stroke="{_INK}"/>',
        f'<rect x="{x + 54:g}" y="{y + 42:g}" width="12" height="12" fill="#8d8d8d" stroke="{_INK}"/>',
        f'<path d="M{x + 66:g} {y + 48:g}C{x + 110:g} {y + 48:g} {x + 110:g} {y + 76:g} {x + 150:g} {y + 70:g}'
        f'S{x + 190:g} {y + 60:g} {x + 196:g} {y + 50:g}" fill="none" stroke="{_INK}" stroke-width="3"/>',
        f'<circle cx="{x + 198:g}" cy="{y + 28:g}" r="21" fill="#ffffff" stroke="{_INK}" stroke-width="2"/>',
        _line((x + 198, y + 28), (x + 209, y + 15), 2),
        f'<circle cx="{x + 198:g}" cy="{y + 28:g}" r="2.5" fill="{_INK}"/>',
        _text(x + 27, y + 24, "port", middle=True),
        _text(x + 116, y + 42, "hose"),
    ]


def _jug(x: float, y: float) -> list[str]:
    """A drain hose into a measuring jug."""
    return [
        f'<rect x="{x:g}" y="{y + 20:g}" width="54" height="36" fill="#c9c9c9" stroke="{_INK}"/>',
        f'<path d="M{x + 54:g} {y + 30:g}C{x + 90:g} {y - 6:g} {x + 150:g} {y - 6:g} {x + 160:g} {y + 30:g}"'
        f' fill="none" stroke="{_INK}" stroke-width="3"/>',
        f'<path d="M{x + 140:g} {y + 26:g}V{y + 72:g}H{x + 182:g}V{y + 26:g}" fill="none" stroke="{_INK}"'
        ' stroke-width="2"/>',
        f'<rect x="{x + 141:g}" y="{y + 50:g}" width="40" height="21" fill="#c9c9c9"/>',
        *(_line((x + 172, y + one), (x + 181, y + one), 1.2) for one in (36, 46, 56)),
        _text(x + 27, y + 14, "drain", middle=True),
        _text(x + 190, y + 50, "jug"),
    ]


# --- strokes ------------------------------------------------------------------------------


def _line(from_: tuple[float, float], to: tuple[float, float], wide: float, *, dashed: bool = False) -> str:
    dash = ' stroke-dasharray="6 4"' if dashed else ""
    return (
        f'<line x1="{from_[0]:g}" y1="{from_[1]:g}" x2="{to[0]:g}" y2="{to[1]:g}" stroke="{_INK}"'
        f' stroke-width="{wide:g}"{dash}/>'
    )


def _polygon(points: Iterable[tuple[float, float]], fill: str) -> str:
    said = " ".join(f"{x:g},{y:g}" for x, y in points)
    return f'<polygon points="{said}" fill="{fill}" stroke="{_INK}" stroke-width="1.4" stroke-linejoin="round"/>'


def _text(x: float, y: float, text: str, *, middle: bool = False) -> str:
    anchor = ' text-anchor="middle"' if middle else ""
    return (
        f'<text x="{x:g}" y="{y:g}" fill="#111111" font-family="sans-serif" font-size="{_FONT}"{anchor}>'
        f"{escape(text)}</text>"
    )


def _number(x: float, y: float, number: int) -> str:
    return (
        f'<circle cx="{x:g}" cy="{y:g}" r="11" fill="#ffffff" stroke="{_INK}" stroke-width="1.6"/>'
        f'<text x="{x:g}" y="{y + 5.5:g}" fill="#111111" font-size="{_FONT}" {_BOLD}>{number}</text>'
    )


def _arrow(way: str, *, both: bool = False) -> str:
    """A line with its tip drawn as short strokes, so that no other part of the page is referred to."""
    ends = _ends(way)
    tips = [_tip(*ends[-2:])] + ([_tip(ends[1], ends[0])] if both else [])
    return f'<path d="{way}{"".join(tips)}" fill="none" stroke="{_INK}" stroke-width="1.8" stroke-linecap="round"/>'


def _ends(way: str) -> Sequence[tuple[float, float]]:
    """The points of a simple path of M, H, V, v and C."""
    found: list[tuple[float, float]] = []
    for word, rest in re.findall(r"([MHVvC])([^MHVvC]*)", way):
        figures = [float(one) for one in re.findall(r"-?[0-9.]+", rest)]
        x, y = found[-1] if found else (0.0, 0.0)
        if word == "H":
            found.append((figures[0], y))
        elif word in "Vv":
            found.append((x, figures[0] + (y if word == "v" else 0.0)))
        else:
            found += list(zip(figures[::2], figures[1::2], strict=True))
    return found


def _tip(from_: tuple[float, float], to: tuple[float, float]) -> str:
    angle = math.atan2(to[1] - from_[1], to[0] - from_[0])
    said = ""
    for side in (2.6, -2.6):
        x, y = to[0] + 7 * math.cos(angle + side), to[1] + 7 * math.sin(angle + side)
        said += f"M{to[0]:g} {to[1]:g}L{x:.1f} {y:.1f}"
    return said
