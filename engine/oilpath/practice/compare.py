"""What the tool would have done on the same machine: step by step beside the trainee, and by itself from the start."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from oilpath.diagnosis import diagnose
from oilpath.flow import Diagnosis
from oilpath.practice.exercise import Exercise, Repair
from oilpath.practice.records import Expected, Key, Option, Taken
from oilpath.records import dataclass
from oilpath.session.way import Way, check_id, proving_first, standing, ways

_MOST_STEPS: Final = 30
_ENDS: Final = ("proved", "sound", "together", "too-many")


@dataclass(frozen=True, slots=True)
class Beside:
    """One step of the trainee, and what the tool would have done there. as_expected: None if it cannot be told."""

    taken: Taken
    tool: str
    """id of the step, empty where the tool had nothing left to do"""
    as_expected: bool | None


@dataclass(frozen=True, slots=True)
class OwnWay:
    """The tool's own way: its steps with their minutes, where it ended, and its last answer."""

    taken: tuple[Taken, ...]
    stands: str
    answer: Diagnosis

    @property
    def minutes(self) -> float:
        """Its bill."""
        return sum(one.minutes for one in self.taken)


@dataclass(frozen=True, slots=True)
class Verdict:
    """One thing that was hidden: whether it was named, and what was done about it."""

    truth: Key
    named: Repair | None


@dataclass(frozen=True, slots=True)
class Review:
    """The end of a session. wrong: what was named and is not there; answer: the tool's, on the trainee's readings."""

    found: tuple[Verdict, ...]
    wrong: tuple[Repair, ...]
    steps: tuple[Beside, ...]
    minutes: float
    tool: OwnWay
    answer: Diagnosis
    slips: tuple[tuple[Taken, bool], ...]
    """readings that were badly made, each with whether it was made again"""


def review(exercise: Exercise) -> Review:
    """Compare a session with the truth and with what the tool would have done."""
    state, hidden = exercise.state, exercise.hidden
    truths = hidden.truths
    found = tuple(
        Verdict(truth, next((one for one in state.named if hidden.is_truth(one.cause, truth)), None))
        for truth in truths
    )
    wrong = tuple(one for one in state.named if not any(hidden.is_truth(one.cause, truth) for truth in truths))
    steps, before = [], list[Taken]()
    for taken in state.taken:
        if not taken.again:
            best = best_steps(exercise, exercise.rows(before))
            steps.append(Beside(taken, best[0] if best else "", _as_expected(taken, exercise)))
        before.append(taken)
    answer = diagnose(exercise.sheet(exercise.rows()), exercise.bench.knowledge)
    return Review(
        found, wrong, tuple(steps), state.minutes, own_way(exercise), answer, tuple(_slips(state.taken))
    )  # fmt: skip


def _slips(taken: Sequence[Taken]) -> list[tuple[Taken, bool]]:
    return [
        (one, any(later.step == one.step for later in taken[number + 1 :]))
        for number, one in enumerate(taken)
        if one.slip != "none"
    ]


def _as_expected(taken: Taken, exercise: Exercise) -> bool | None:
    if taken.outcome:
        return taken.outcome == taken.expected.word
    if taken.row is None or taken.side == "unjudged":
        return None
    if taken.expected.value is None:
        return taken.expected.word == taken.side
    option = exercise.options[taken.step]
    value = _value(exercise, option, taken.row)
    return None if value is None else abs(value - taken.expected.value) <= 0.1 * abs(value)


def _value(exercise: Exercise, option: Option, row: Mapping[str, Any]) -> float | None:
    result = next((one for one in exercise.result_of(row) if one.id == option.id), None)
    value = getattr(result, "value", None)
    return value if isinstance(value, float) else None


# --- the tool ------------------------------------------------------------------------------


def best_steps(exercise: Exercise, rows: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """The next steps that the tool would choose, given these lines on the sheet; best first."""
    answer = diagnose(exercise.sheet(rows), exercise.bench.knowledge)
    found = proving_first(ways(answer, exercise.bench), standing(answer, ways(answer, exercise.bench), exercise.bench),
                          exercise.bench)  # fmt: skip
    return tuple(step for way in found if (step := _step(way)) in exercise.options)


def _step(way: Way) -> str:
    if way.check is not None:
        return check_id(way.check.check, way.check.part)
    assert way.reading is not None
    return way.reading.slot.id


def own_way(exercise: Exercise) -> OwnWay:
    """Let the tool work alone from the complaint, with well-made readings, until it is sure or has no step left."""
    taken: list[Taken] = []
    bench, passed = exercise.bench, set[str]()
    while True:
        rows = exercise.rows(taken)
        answer = diagnose(exercise.sheet(rows), bench.knowledge)
        steps = ways(answer, bench, passed)
        stands = standing(answer, steps, bench)
        steps = proving_first(steps, stands, bench)
        step = next((id_ for way in steps if (id_ := _step(way)) in exercise.options), None)
        if step is None or stands.kind in _ENDS or len(taken) >= _MOST_STEPS:
            return OwnWay(tuple(taken), stands.kind, answer)
        option = exercise.options[step]
        begun = option.test and any(exercise.options[one.step].test == option.test for one in taken)
        cost = option.again if begun else option.minutes
        if option.check:
            outcome = exercise.hidden.outcome(option)
            row: Mapping[str, Any] | None = {"test": "check", "check": option.check, "part": option.part,
                                             "outcome": outcome}  # fmt: skip
        else:
            outcome, row = "", exercise.hidden.reading(option, 0, "none")
        passed.add(step)
        side = exercise.side(option, row) if not outcome else "unjudged"
        taken.append(Taken(step, None, Expected(), cost, row, side=side, outcome=outcome))
