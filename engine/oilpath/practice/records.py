"""The data of a practice session: its setup, possible steps, steps taken, and what is shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import TYPE_CHECKING, Any, Final, Literal, Protocol

from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.bench import Bench

Key = tuple[str, str]
"""cause id and part id"""
Slip = Literal["none", "unit", "repeat", "decimal", "oil", "lever"]
"""what is wrong with how a reading was made or written down; `lever`: it was pushed half way only"""
Side = Literal["usual", "below", "above", "unjudged"]
SOUND: Final[Key] = ("none", "machine")


@dataclass(frozen=True, slots=True)
class Level:
    """How hard it is. causes: how many may be hidden. slips: chance that a reading is badly made.

    verdicts: each reading is judged at once. limits: they are shown beside each reading. hints: the tool's next steps.
    """

    causes: tuple[int, ...]
    common: bool
    verdicts: bool
    limits: bool
    hints: bool
    slips: float


LEVELS: Final[Mapping[int, Level]] = {
    1: Level((1,), True, True, True, True, 0.0),
    2: Level((1,), False, True, True, False, 0.0),
    3: Level((1,), False, False, True, False, 0.12),
    4: Level((1, 2), False, False, True, False, 0.18),
    5: Level((0, 1, 2, 2), False, False, False, False, 0.25),
}
"""from common faults with every help to two faults, or none at all, with readings that one must not trust"""


@dataclass(frozen=True, slots=True)
class Setup:
    """The setup of a session: the machine file as plain data, a seed, a level. Everything else follows from it."""

    seed: int
    level: int
    machine: Mapping[str, Any]

    @property
    def rules(self) -> Level:
        """What the level means."""
        return LEVELS[self.level]


@dataclass(frozen=True, slots=True)
class Option:
    """A step that can be made: a reading (`test`, `keys`), or a check at a part.

    minutes: what it costs first; again: what it costs once its test is set up.
    """

    id: str
    name: str
    minutes: float
    again: float
    test: str = ""
    keys: Mapping[str, str] = field(default_factory=dict)
    check: str = ""
    part: str = ""
    outcomes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    how: tuple[str, ...] = ()
    tools: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Suspect:
    """A cause at a part that can be named."""

    key: Key
    name: str


@dataclass(frozen=True, slots=True)
class Felt:
    """What the customer notices: a reading that is off, and whether it is too high. No test: nothing is noticed."""

    test: str = ""
    keys: Mapping[str, str] = field(default_factory=dict)
    more: bool = True
    everything: bool = False


@dataclass(frozen=True, slots=True)
class Expected:
    """What the trainee expected: an outcome of a check, a side of the limits, or a figure as typed (`value` in SI)."""

    word: str = ""
    value: float | None = None
    typed: str = ""


@dataclass(frozen=True, slots=True)
class Taken:
    """A step that was made. row: the line of the sheet; slip: what is wrong with it, which is told at the end."""

    step: str
    suspected: Key | None
    expected: Expected
    minutes: float
    row: Mapping[str, Any] | None
    slip: Slip = "none"
    side: Side = "unjudged"
    outcome: str = ""
    again: bool = False
    """it was made once more, because the one before it was not trusted"""


class Hides(Protocol):
    """What a session needs of a machine with hidden faults."""

    @property
    def bench(self) -> Bench:
        """The machine and the knowledge base."""

    @property
    def options(self) -> tuple[Option, ...]:
        """The steps that can be made on it."""

    @property
    def truths(self) -> tuple[Key, ...]:
        """What is hidden; `SOUND` alone where nothing is."""

    @property
    def felt(self) -> Felt:
        """What the customer feels."""

    @property
    def hours(self) -> int:
        """Hours of the machine."""

    @property
    def signs(self) -> tuple[Mapping[str, Any], ...]:
        """Signs that somebody noted, as lines of a sheet."""

    @property
    def conditions(self) -> Mapping[str, Any]:
        """Conditions of the day, as a sheet has them."""

    def reading(self, option: Option, nth: int, slip: Slip) -> Mapping[str, Any] | None:
        """The `nth` reading of a step as a line of the sheet; None where nothing moves."""

    def slip(self, option: Option, nth: int, chance: float) -> Slip:
        """What goes wrong the `nth` time that a step is made; seldom anything."""

    def outcome(self, option: Option) -> str:
        """What a check finds."""

    def is_truth(self, key: Key, truth: Key) -> bool:
        """Whether a cause that was named is this truth, kinds that no reading tells apart counted as one."""


# --- what is asked and shown --------------------------------------------------------------

Stage = Literal["suspect", "step", "expect", "trust", "name", "repair", "more", "done", "left"]
ACTIONS: Final = ("exchanged", "adjusted", "cleaned", "repaired", "topped-up")


@dataclass(frozen=True, slots=True)
class Ask:
    """What is asked for now. choices: what a number stands for."""

    stage: Stage
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Listed:
    """Matches for the words typed: ids of steps, or causes as `CAUSE PART`. more: how many are not shown."""

    kind: Literal["steps", "causes", "tests"]
    ids: tuple[str, ...]
    more: int = 0


@dataclass(frozen=True, slots=True)
class Refused:
    """An answer that cannot be taken: why (`nothing-fits`, `not-expected`, `no-hints`, `suspect-first`…)."""

    why: str
    typed: str = ""


@dataclass(frozen=True, slots=True)
class Chosen:
    """A step was chosen. It is shown with its cautions before the trainee says what to expect."""

    step: str
    minutes: float


@dataclass(frozen=True, slots=True)
class Suspected:
    """A cause is suspected, or named, from now on; None: nothing yet."""

    key: Key | None
    named: bool = False


@dataclass(frozen=True, slots=True)
class Read:
    """A step was made and paid for."""

    taken: Taken
    minutes: float
    """the whole bill so far"""


@dataclass(frozen=True, slots=True)
class Hint:
    """The steps that the tool would make next."""

    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SoFar:
    """The trainee asked for the readings so far."""


@dataclass(frozen=True, slots=True)
class Help:
    """The trainee asked what can be typed."""

    stage: Stage


@dataclass(frozen=True, slots=True)
class Ended:
    """The session has ended: everything was named, or the trainee left."""

    left: bool = False


Event = Listed | Refused | Chosen | Suspected | Read | Hint | SoFar | Help | Ended
