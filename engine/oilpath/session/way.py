"""From an answer to the proof: the best next step, and how its outcome is written onto the sheet.

A step is a check of the plan or a further reading of a test. What the checks would tell is worked out by the planner;
a reading is weighed the same way, as expected information for its minutes.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from oilpath.documents.drafts import ReadingDraft
from oilpath.documents.emit import emitted
from oilpath.flow import CheckResult, Diagnosis, NextCheck, RankedCause, ReadingResult
from oilpath.planning.checks import Wanted, cost
from oilpath.planning.further import Worth, worth_of
from oilpath.planning.proofs import PROVES, proving
from oilpath.records import dataclass
from oilpath.session.day import DayTest, prepare
from oilpath.session.fits import AtHand, lacking_for_test
from oilpath.session.slots import Slot, slots_of

if TYPE_CHECKING:
    from oilpath.bench import Bench
    from oilpath.documents.edit import Document

_LOOK_MINUTES: Final = 10.0
_LOOK_WORTH: Final = 0.3
"""a look comes first from this share of the best step's information for its cost"""
_BESIDE: Final = 0.03
"""bits from which a further reading of the same test is worth making while it is set up"""
_MOST_BESIDE: Final = 5
_OPENED: Final = 2
"""intrusiveness from which the machine is shut down and a line opened"""
_MOST_TOGETHER: Final = 2
_ASKED: Final = 4.0
"""how much more a step counts that is about what the complaint names, while nothing is out; from memory"""
_REPRODUCES: Final = 20.0
"""how much more a reading counts that would show what the complaint says, while nothing is out; from memory"""
_CHECK: Final = "check"
_DECIMAL_COMMA: Final = re.compile(r"(?<![0-9.])[0-9]+,[0-9]+(?![0-9]*\.[0-9])")
"""`3,4`, where no decimal point says that the comma stands between two values"""
_UNIT: Final = re.compile(r"[0-9.]\s*([^\s0-9.+-].*)$")
_READINGS: Final = "readings"
_WORK: Final = "work"
_SOUND: Final = "none"
_SURE: Final = 0.9
"""share from which one part, or nothing at all, counts as found; that of the plan's ends"""
_SURE_UNPROVED: Final = 0.95
"""the same of a part that no check at it confirms: one outcome in some twenty-five is mistaken"""
_LIKELY: Final = 0.5
_POSSIBLE: Final = 0.1
"""presence, alone or with others, from which a cause counts as likely, and as one of many"""
_MOST_FAULTS: Final = 2
"""parts that are taken to be faulty at once; where the figures ask for more, they do not fit the machine"""
_NAMED: Final = 0.05
"""causes from this share on are named where nothing more tells them apart"""


@dataclass(frozen=True, slots=True)
class Way:
    """One possible next step, with the information it gives for its cost (weighted bits per minute).

    Either `check`, or `reading` with its `test`. beside: further readings of that test worth making in one go.
    """

    worth: float
    minutes: float
    bits: float
    check: NextCheck | None = None
    reading: Worth | None = None
    test: DayTest | None = None
    beside: tuple[Worth, ...] = ()
    together: tuple[NextCheck, ...] = ()
    """checks that need the same shutdown or opening and fit into the time"""
    shows: bool = False
    """would show what the complaint says, which nothing has shown yet"""

    @property
    def records(self) -> Mapping[str, str]:
        """The line of the sheet for each outcome of a check, by outcome."""
        return records(self.check) if self.check is not None else {}


def record(check: str, part: str, outcome: str) -> dict[str, Any]:
    """The outcome of a check as a reading of the sheet."""
    return {"test": _CHECK, "check": check, "part": part, "outcome": outcome}


def work_of(check: str, part: str, bench: Bench) -> list[dict[str, Any]]:
    """What a check moves on the machine, as entries of the sheet's `work`."""
    kind = next(one for one in bench.knowledge.checks if one.check == check)
    took = {"minutes": round(kind.minutes)}  # with the first entry, or the step would count twice
    return [
        {"what": one.what, "part": part, "undo": one.undo, **(took if place == 0 else {}), "check": check}
        for place, one in enumerate(kind.work)
    ]


def records(check: NextCheck) -> dict[str, str]:
    """The line of the sheet for each outcome of a check."""
    return {one.outcome: emitted(record(check.check, check.part, one.outcome)) for one in check.outcomes}


def ways(answer: Diagnosis, bench: Bench, passed: Collection[str] = (), hand: AtHand | None = None) -> tuple[Way, ...]:
    """The steps worth making next, best first: that of the plan, then by information for their cost.

    passed: ids of checks (`check/CHECK/PART`) and readings that are not to be made. hand: what is there; only tests
    are left out by it, for the checks of `answer` see `with_what_is_there`.
    """
    kinds = {check.check: check for check in bench.knowledge.checks}
    found = [
        Way(one.bits / cost(kinds[one.check]), one.minutes, one.bits, check=one)
        for one in answer.checks
        if check_id(one.check, one.part) not in passed
    ]
    # a check that makes the same reading says more about it: what can mislead, how it is isolated
    known = {(one.check, one.part) for one in answer.checks} | {(one.check, one.part) for one in _made(answer)}
    covered = [one for one in bench.wanted if (one.check, one.part) in known]
    asked = _Asked(answer, bench)
    found += _readings(answer, bench, passed, covered, hand or AtHand(), asked)
    alone = unmeasured(answer)
    if asked.wanted:
        found = [replace(way, worth=way.worth * asked.factor(way), shows=asked.shows(way)) for way in found]
    found.sort(key=lambda way: -round(way.worth, 12))
    first = answer.plan.first
    if first is not None and not alone and not asked.wanted and not (found and found[0].reading is not None):
        planned = [way for way in found if _is(way, first.check, first.part)]
        found = [*planned, *(way for way in found if way not in planned)]
    return tuple(_touched_first(_looks_first(found, bench), answer, bench))


def _touched_first(found: list[Way], answer: Diagnosis, bench: Bench) -> list[Way]:
    """For a machine that came back: start with steps at the parts that were worked on last."""
    if answer.comeback is None:
        return found
    parts = bench.circuit.parts
    touched = {name for name in answer.comeback.touched if name in parts}
    touched |= {name for name, part in parts.items() if touched.intersection(part.members)}
    return sorted(found, key=lambda way: way.check is None or way.check.part not in touched)


def _made(answer: Diagnosis) -> list[CheckResult]:
    return [one for one in answer.results if isinstance(one, CheckResult)]


def unmeasured(answer: Diagnosis) -> bool:
    """Whether nothing is measured yet."""
    return not any(isinstance(result, ReadingResult) for result in answer.results)


class _Asked:
    """What the words of the complaint ask for, as long as nothing is out."""

    def __init__(self, answer: Diagnosis, bench: Bench) -> None:
        out = any(isinstance(one, ReadingResult) and one.verdict in ("fail", "near") for one in answer.results)
        entries = bench.knowledge.vocabulary.words
        self._tests = {
            test
            for one in answer.heard
            if one.word and not out and one.source == "complaint"
            for test in entries[one.word].measured_by
        }
        self._said = re.findall(r"[a-z]{3,}", (answer.complaint or "").lower())
        self._named = bench.listener.named(self._said)
        self._sides = {bench.circuit.side(part) for part in bench.circuit.parts}
        self._everywhere = not self._named.difference(self._sides)
        self.wanted = bool(self._tests or self._named) and not out
        """whether the complaint is still to be shown"""

    def factor(self, way: Way) -> float:
        """How much more a step counts."""
        if self.shows(way):
            return _REPRODUCES
        named = way.reading.slot.id if way.reading is not None else way.check.part if way.check is not None else ""
        return _ASKED if self._about(named) else 1.0

    def shows(self, way: Way) -> bool:
        """Whether a step is a reading that would show what the complaint says."""
        return way.reading is not None and self.would_show(way.reading.slot)

    def would_show(self, slot: Slot) -> bool:
        """Whether a reading would, of a movement that the complaint names, of any where it names none."""
        return slot.test in self._tests and (self._everywhere or self._about(slot.id))

    def _about(self, named: str) -> bool:
        """Whether the id of a reading or a part is about what the complaint names: a word of it begins one of the
        complaint (`travel`, `travelling`), or the vocabulary knows another name for it (`slewing`).

        Sides do not count: whatever is on the left is not what is meant by slow to the left.
        """
        words = set(re.findall(r"[a-z]{3,}", named)) - self._sides
        return bool(words & self._named) or any(one.startswith(word) for word in words for one in self._said)


def bundled(steps: Sequence[Way], bench: Bench, hand: AtHand) -> tuple[Way, ...]:
    """The steps; the first one with other checks for the same shutdown, those at the same part first."""
    if not steps or steps[0].check is None:
        return tuple(steps)
    first = steps[0].check
    opens = {one.check for one in bench.knowledge.checks if one.intrusiveness >= _OPENED}
    if first.check not in opens:
        return tuple(steps)
    left = None if hand.minutes is None else hand.minutes - first.minutes
    others = [way.check for way in steps[1:] if way.check is not None and way.check.check in opens]
    kept: list[NextCheck] = []
    for one in sorted(others, key=lambda check: check.part != first.part):
        if one.bits >= _BESIDE and len(kept) < _MOST_TOGETHER and (left is None or one.minutes <= left):
            kept.append(one)
            left = None if left is None else left - one.minutes
    return (replace(steps[0], together=tuple(kept)), *steps[1:])


def check_id(check: str, part: str) -> str:
    """The id of a check's result at a part."""
    return f"{_CHECK}/{check}/{part}"


def _is(way: Way, check: str, part: str) -> bool:
    return way.check is not None and (way.check.check, way.check.part) == (check, part)


def _looks_first(found: list[Way], bench: Bench) -> list[Way]:
    """Put a quick look before steps that need tools, if it gives almost as much for its cost."""
    if not found:
        return found
    kinds = {check.check: check for check in bench.knowledge.checks}
    least = _LOOK_WORTH * found[0].worth

    def free(way: Way) -> bool:
        return (
            way.check is not None
            and kinds[way.check.check].intrusiveness == 0
            and way.minutes <= _LOOK_MINUTES
            and way.worth >= least
        )

    return sorted(found, key=lambda way: not free(way))


def _readings(
    answer: Diagnosis, bench: Bench, passed: Collection[str], covered: Sequence[Wanted], hand: AtHand, asked: _Asked
) -> list[Way]:
    """One step for each test with a useful further reading: the best reading, with other useful ones beside it."""
    machine, knowledge = bench.machine, bench.knowledge
    day = prepare(machine, knowledge)
    tests = {test.test: test for test in (*day.tests, *day.left_out) if test.variant is None}
    rooms: dict[str, tuple[Slot, ...]] = {
        name: slots_of(test, machine, knowledge) for name, test in tests.items() if test.judged_by != "nothing"
    }
    made = {result.id for result in answer.results if result.verdict != "invalid"}
    open_ = [s for room in rooms.values() for s in room if asked.would_show(s) or not _covered(s.id, covered)]
    worths = worth_of(open_, answer.causes, bench, {*made, *passed})
    worths = tuple(sorted(worths, key=lambda worth: not asked.would_show(worth.slot)))
    by_test: dict[str, list[Worth]] = {}
    for worth in worths:
        by_test.setdefault(worth.slot.test, []).append(worth)
    found = []
    for name, telling in by_test.items():
        test, best = tests[name], telling[0]
        beside = tuple(one for one in telling[1:] if one.bits >= _BESIDE)[:_MOST_BESIDE]
        # set up once: the first reading has its share of the test's minutes, at least a third for setting up
        begun = any(slot.id in made for slot in rooms[name])
        share = max((1 + len(beside)) / len(rooms[name]), 0.1 if begun else 1 / 3)
        minutes = max(1.0, test.minutes * share)
        if lacking_for_test(knowledge.tests[name], minutes, hand, machine):
            continue
        found.append(Way(best.bits / minutes, minutes, best.bits, reading=best, test=test, beside=beside))
    return found


def _covered(reading: str, covered: Sequence[Wanted]) -> bool:
    """Whether one of these checks makes a reading."""
    return any(reading in one.ids or any(fits(reading) for fits in one.patterns) for one in covered)


# --- what is recorded -------------------------------------------------------------------


class NotRecorded(Exception):
    """An outcome or a reading that cannot be recorded: the reason as an id, and what is accepted."""

    def __init__(self, why: str, given: str, accepted: tuple[str, ...] = ()) -> None:
        super().__init__(why)
        self.why, self.given, self.accepted = why, given, accepted


def outcome_of(text: str, answer: Diagnosis, bench: Bench) -> dict[str, Any]:
    """`CHECK[@PART]=OUTCOME` as a reading of the sheet. Raises NotRecorded.

    Without a part the check is at the part where it is proposed first, or the only one where it can be made. Ids and
    titles are taken alike.
    """
    named, equals, outcome = (piece.strip() for piece in text.rpartition("="))
    if not equals or not named or not outcome:
        raise NotRecorded("no-outcome", text)
    name, _, part = (piece.strip() for piece in named.partition("@"))
    kinds = {check.check: check for check in bench.knowledge.checks}
    check = kinds.get(name) or next((one for one in kinds.values() if _same(one.title, name)), None)
    if check is None:
        near = tuple(dict.fromkeys(one.check for one in answer.checks))
        raise NotRecorded("no-check", name, _nearest(name, [*kinds]) or near)
    places = bench.places.of(check)
    if not part:
        proposed = [one.part for one in answer.checks if one.check == check.check]
        done = {one.part for one in _made(answer) if one.check == check.check}
        left = [place for place in places if place not in done]
        if not proposed and len(left) != 1:
            raise NotRecorded("which-part", check.check, tuple(places))
        part = proposed[0] if proposed else left[0]
    elif part not in places:
        titled = next((place for place in places if _same(bench.circuit.parts[place].title, part)), None)
        if titled is None:
            raise NotRecorded("no-part", part, tuple(places))
        part = titled
    words = tuple(one.outcome for one in check.outcomes)
    if outcome not in words:
        fitting = [word for word in words if word.startswith(outcome.lower().replace(" ", "-"))]
        if len(fitting) != 1:
            raise NotRecorded("no-such-outcome", outcome, words)
        outcome = fitting[0]
    return record(check.check, part, outcome)


def reading_of(text: str, bench: Bench) -> dict[str, Any]:
    """`ID=VALUE, VALUE …`, or the keys of a reading as the sheet has them (`test: …, …`). Raises NotRecorded.

    The former takes what the reading needs else (hold, turns, distance) from the machine's limits, or what is usual.
    Raises UnusableInput for what is not readable YAML.
    """
    from oilpath.documents.nodes import read_nodes
    from oilpath.documents.yaml_data import value_of

    stripped = text.strip().removeprefix("- ").strip()
    if stripped.partition(":")[0].strip().lstrip("{") in ReadingDraft.needed:
        data = value_of(read_nodes(stripped if stripped.startswith("{") else f"{{{stripped}}}", "--reading"))
        if not isinstance(data, dict):
            raise NotRecorded("no-reading", text)
        return data
    name, equals, values = (piece.strip() for piece in stripped.partition("="))
    room = _rooms(bench)
    if not equals or not values:
        raise NotRecorded("no-reading", text)
    slot = room.get(name)
    if slot is None or slot.value is None:
        raise NotRecorded("no-such-reading", name, _nearest(name, [*room]) or tuple(room))
    if found := _DECIMAL_COMMA.search(values):
        raise NotRecorded("decimal-comma", found[0], (found[0].replace(",", "."),))
    written = [value.strip() for value in values.split(",") if value.strip()]
    unit = next((found[1] for value in reversed(written) if (found := _UNIT.search(value))), None)
    written = [value if unit is None or _UNIT.search(value) else f"{value} {unit}" for value in written]
    single = len(written) == 1 and slot.repeats == 1
    return {**slot.stated, slot.value: written[0] if single else written}


def _rooms(bench: Bench) -> dict[str, Slot]:
    """Every possible reading by its id, also of tests that the day leaves out."""
    day = prepare(bench.machine, bench.knowledge)
    tests = (test for test in (*day.tests, *day.left_out) if test.variant is None)
    return {slot.id: slot for test in tests for slot in slots_of(test, bench.machine, bench.knowledge)}


def _same(title: str, name: str) -> bool:
    return title.replace("{part}", "").strip(" :,").lower() == name.lower() or title.lower() == name.lower()


def _nearest(name: str, known: list[str]) -> tuple[str, ...]:
    from difflib import get_close_matches

    return tuple(get_close_matches(name, known, 5, 0.6))


def put_back(document: Document, part: str, open_: Collection[str]) -> Document:
    """The sheet with the work at a part noted as put back. Raises NotRecorded where none is open there."""
    entries = document.as_read.get(_WORK) or []
    if part not in open_:
        raise NotRecorded("nothing-to-put-back", part, tuple(open_))
    for number, entry in enumerate(entries):
        if isinstance(entry, dict) and entry.get("part") == part and entry.get("undo") is not False:
            document = document.set((_WORK, number, "undo"), False)
    return document


def without_work_of(document: Document, reading: Mapping[str, Any]) -> Document:
    """The sheet without the work that was noted for a check whose outcome is taken back."""
    entries = document.as_read.get(_WORK) or []
    made = (reading.get("check"), reading.get("part"))
    if reading.get("test") != _CHECK or any(
        one.get("test") == _CHECK and (one.get("check"), one.get("part")) == made
        for one in document.as_read.get(_READINGS) or []
    ):
        return document
    gone = [n for n, one in enumerate(entries) if (one.get("check"), one.get("part")) == made]
    if gone and len(gone) == len(entries):
        return document.remove((_WORK,))
    for number in reversed(gone):
        document = document.remove((_WORK, number))
    return document


def last_recorded(document: Document) -> tuple[int, dict[str, Any]] | None:
    """The last reading of a sheet with its number; None if it has none."""
    readings = document.as_read.get(_READINGS) or []
    return (len(readings) - 1, readings[-1]) if readings else None


# --- where the way stands ---------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Standing:
    """How far the way has come.

    kind: `open`; `one-part` left; `proved`: that, and a check that proves its cause is made; `sound`: nothing is wrong;
    `together`: nothing that can still be done tells apart what is left; `too-many`: the figures fit only with more
    faults at once than a machine has, so that more of them settle nothing. causes: those left, most probable first.
    A part that is sure only together with other faults counts once its own proof is made: what several faults would
    explain is most often one that they share.
    """

    kind: str
    causes: tuple[RankedCause, ...] = ()
    share: float = 0.0
    alone: bool = True
    """one part and nothing else: no second fault is likely"""


def standing(answer: Diagnosis, steps: Collection[Way], bench: Bench) -> Standing:
    """How far the search has come, given the steps that are left."""
    shares: dict[str, float] = {}
    for cause in answer.causes:
        shares[cause.part] = shares.get(cause.part, 0.0) + cause.probability
    first = answer.causes[0] if answer.causes else None
    if first is None:
        return Standing("together")
    if first.cause == _SOUND:
        sound = first.probability >= _SURE and not any(way.shows for way in steps)
        return Standing("sound" if sound else "open", (first,), first.probability)
    here = tuple(one for one in answer.causes if one.part == first.part and one.probability >= _NAMED)
    there = min(sum(one.present for one in answer.causes if one.part == first.part), 1.0)
    alone = shares[first.part]
    if "." in first.cause and max(alone, there) >= _SURE:
        if alone < _SURE and len({one.part for one in answer.causes if one.present >= _LIKELY}) > _MOST_FAULTS:
            some = (one for one in answer.causes if one.present >= _POSSIBLE)
            return Standing("too-many", tuple(sorted(some, key=lambda one: -round(one.present, 9))), there)
        if _proved(answer, first, bench):
            return Standing("proved", here, max(alone, there), alone=alone >= _SURE)
        if alone >= _SURE_UNPROVED:
            return Standing("one-part", here, alone)
    if steps:
        return Standing("open", (first,), first.probability)
    left = tuple(one for one in answer.causes if one.probability >= _NAMED)
    return Standing("together", left, sum(one.probability for one in left))


def proofs_of(cause: RankedCause, bench: Bench) -> tuple[str, ...]:
    """The checks that prove a cause at its part."""
    return tuple(dict.fromkeys(check for check, _ in proving(cause.cause, cause.part, bench)))


def _proved(answer: Diagnosis, cause: RankedCause, bench: Bench) -> bool:
    """Whether a cause is confirmed: by a check that proves it or that speaks clearly for it, or by readings."""
    pairs = {name for name, part in bench.circuit.parts.items() if cause.part in part.members}
    places = {cause.part, *pairs}
    named = set(proving(cause.cause, cause.part, bench))
    weights = {one.result: one.weight for one in cause.speaks_for}
    for one in _made(answer):
        least = 0.0 if (one.check, one.part) in named else PROVES
        if one.part in places and weights.get(one.id, -1.0) > least:
            return True
    valid = {result.id for result in answer.results if result.verdict not in ("invalid", "unjudged")}
    return any(
        one.ids and not one.patterns and one.ids <= valid for one in bench.wanted if (one.check, one.part) in named
    )


def proving_first(steps: Collection[Way], stands: Standing, bench: Bench) -> tuple[Way, ...]:
    """With one part left: put first the check that proves its cause, if that has not been made yet."""
    if stands.kind != "one-part":
        return tuple(steps)
    order = {name: place for place, name in enumerate(proofs_of(stands.causes[0], bench))}
    proofs = [way for way in steps if way.check is not None and way.check.check in order]
    proofs.sort(key=lambda way: order[way.check.check] if way.check is not None else 0)
    return (*proofs, *(way for way in steps if way not in proofs))
