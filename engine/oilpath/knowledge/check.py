"""The files of `kb/checks/` (`oilpath: checks/1`) and `kb/signs.yaml` (`oilpath: signs/1`)."""

from itertools import product
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from oilpath.knowledge.cause import CausePlace
from oilpath.knowledge.fields import Entry, Id, Number, PositiveNumber, Text, Texts, WholeNumber, problem
from oilpath.knowledge.stance import Place, Posture, Takes


def _many(value: object) -> object:
    return value if isinstance(value, list | tuple) else [value]


_Kind = Annotated[str, Field(pattern=r"^[a-z0-9-]+\.([a-z0-9-]+|\*)$")]

Hazard = Literal["jet", "falling", "moving", "hot", "heat-at-relief", "stored", "rotating", "electric"]

Scope = Literal[
    "part",  # the part where the check is made
    "members",  # that part and the members of its pair
    "members-left",  # the member of its pair on the left
    "members-right",
    "assembly",  # that part, its members, what it belongs to, and all that belongs to either
    "side",  # all parts of the same side of the machine
    "pump",  # all of the same main pump's group
    "function",  # all that share a function with it
    "actuator",  # all that share an actuator with it
    "anywhere",
]


class Tells(Entry):
    """How probable each outcome is under some causes: kinds (`pump.worn`), or all of a family (`pump.*`).

    `here` narrows to the causes at parts that stand so to the part where the check is made. The first entry that
    fits a cause counts.
    """

    causes: Annotated[tuple[_Kind, ...], BeforeValidator(_many)]
    here: Scope = "part"
    outcomes: dict[Id, Number]
    because: Text | None = None
    """why the outcome is not left to the model, in a check that measures"""


Side = Literal["below", "within", "above"]
SIDES: tuple[Side, ...] = ("below", "within", "above")

TWIN = "twin"
"""what a reading is compared with where it is the same reading at the other parts of the class"""

MOST_READ = 6
"""readings that may decide on an outcome: every side of each with every side of the others is gone through"""


class Measure(Entry):
    """A reading that the check makes, for the circuit model to predict.

    A key of the test's id that is left out stands for all that the part has: its functions (all functions where it
    serves none), the pump that feeds the function, its cylinders, the part itself, every word of a list.
    """

    test: Annotated[tuple[Id, ...], BeforeValidator(_many), Field(min_length=1)]
    keys: dict[Id, Text] = {}
    """keys of the reading; `{part}` stands for the part, `{side}` for its side"""
    figures: dict[Id, Number] = {}
    """figures that the model takes (`pressure-share`: pressure as a share of the main relief's setting)"""
    variant: Id = "standard"
    against: Id | None = None
    """another reading of the check, or `twin`; where left out, what is usual for a sound machine"""
    take: Literal["strongest", "least", "most"] = "strongest"
    """which one counts if it stands for several: the one moved furthest, the lowest or the highest"""
    noticeable: PositiveNumber | None = None
    """deviation from which it lies above or below, where it is not that of the test: ln ratio, or SI for offsets"""
    scatter: PositiveNumber | None = None
    """how far sound machines lie apart, where it is not as the test says; likewise"""
    model_error: PositiveNumber | None = None
    """what the model does not know of this reading, a share of the effect, where it is not that of the priors"""


class Gives(Entry):
    """An outcome, and on which side the readings must lie for it."""

    outcome: Id
    when: dict[Id, Annotated[tuple[Side, ...], BeforeValidator(_many), Field(min_length=1)]] = {}

    def holds(self, sides: dict[str, Side]) -> bool:
        """Whether the readings are on these sides of their limits (reading: its side)."""
        return all(sides[name] in wanted for name, wanted in self.when.items())


class CheckOutcome(Entry):
    """One outcome: its word for the sheet, and what is seen and what it means."""

    outcome: Id
    says: Text


def _outcomes(value: object) -> object:
    """`{rod-moves: says …}` as written → a list of outcomes."""
    return [{"outcome": k, "says": v} for k, v in value.items()] if isinstance(value, dict) else value


class CheckWork(Entry):
    """What a check moves on the machine."""

    what: Literal["setting", "plugged", "crossed", "fitted", "wired", "exchanged"]
    undo: bool = True
    """whether it must be put back before the machine starts"""


class Check(Entry):
    """One check: a step that tells causes apart, made at a part of a class (or at a named part)."""

    check: Id
    title: Text
    """`{part}` stands for the part's title"""
    at: CausePlace
    needs: dict[Id, WholeNumber] = {}
    """classes of which the machine must have at least so many parts"""
    readings: tuple[str, ...] = ()
    """result ids (with `{part}`, `{side}`, `{function}`, `*`) that make it needless once all are on the sheet"""
    minutes: PositiveNumber
    wait: Annotated[float, Field(ge=0)] = 0.0
    """hours until the outcome is known, where it is not at once (a laboratory)"""
    intrusiveness: Literal[0, 1, 2, 3]
    """0 look, listen, stopwatch; 1 gauge on a test port; 2 break a line; 3 dismantle"""
    hazards: tuple[Hazard, ...] = ()
    tools: Texts
    people: Annotated[int, Field(ge=1, le=9)] = 1
    """how many it takes to do it safely"""
    posture: Posture | None = None
    place: Place | None = None
    takes: Takes = Takes()
    cautions: tuple[Id, ...]
    how: Texts
    trap: Text | None = None
    work: tuple[CheckWork, ...] = ()
    """what it moves on the machine, for the sheet's `work`"""
    not_after: tuple[Text, ...] = ()
    """signs, and outcomes of checks (`drain-filter-metal=metal`), after which it is not made"""
    outcomes: Annotated[tuple[CheckOutcome, ...], BeforeValidator(_outcomes), Field(min_length=2)]
    measures: dict[Id, Measure] = {}
    """readings by which the outcome is decided; its probabilities are then computed"""
    gives: tuple[Gives, ...] = ()
    """which outcome they give; the first one that holds counts"""
    tells: tuple[Tells, ...] = ()
    otherwise: dict[Id, Number] = {}
    """probability of each outcome under every cause that `tells` does not name, `none` and `unknown` included; in a
    check that measures only that of the outcomes that no reading gives"""
    source: Text

    @property
    def read(self) -> tuple[str, ...]:
        """The readings that decide the outcome; the others only serve for comparison."""
        return tuple(name for name in self.measures if any(name in given.when for given in self.gives))

    @model_validator(mode="after")
    def _outcomes_once(self) -> Self:
        words = [one.outcome for one in self.outcomes]
        if len(set(words)) < len(words):
            raise problem("names an outcome twice", "each outcome once")
        if not self.tells and not self.measures:
            raise problem("tells no causes apart", "`tells` with at least one cause, or `measures` and `gives`")
        return self

    @model_validator(mode="after")
    def _readings(self) -> Self:
        """Every side on which the readings can lie gives one outcome."""
        if bool(self.measures) != bool(self.gives):
            raise problem("has `measures` or `gives` alone", "both, or neither")
        words = {one.outcome for one in self.outcomes}
        for place, given in enumerate(self.gives, 1):
            if given.outcome not in words:
                raise problem(f"gives[{place}] names no outcome of the check", ", ".join(sorted(words)))
            if absent := [name for name in given.when if name not in self.measures]:
                raise problem(f"gives[{place}] names no reading of the check: {absent[0]}", ", ".join(self.measures))
        for name, measure in self.measures.items():
            other = measure.against
            if other not in (None, TWIN) and (other == name or other not in self.measures):
                raise problem(f"{name} is held against {other}, which is not another reading of the check", TWIN)
            if name not in self.read and all(name != one.against for one in self.measures.values()):
                raise problem(f"reads {name} for nothing", "a `when` or an `against` that names it")
        if len(self.read) > MOST_READ:
            raise problem(f"decides by {len(self.read)} readings", f"at most {MOST_READ}, or two checks")
        used: set[int] = set()
        for sides in product(SIDES, repeat=len(self.read) if self.measures else 0):
            lie = dict(zip(self.read, sides, strict=True))
            first = next((place for place, given in enumerate(self.gives) if given.holds(lie)), None)
            if first is None and self.gives:
                where = ", ".join(f"{name} {side}" for name, side in lie.items())
                raise problem(f"gives no outcome where {where}", "an outcome for every side, the last without `when`")
            used.add(-1 if first is None else first)
        if self.gives and (idle := [place for place in range(len(self.gives)) if place not in used]):
            raise problem(f"gives[{idle[0] + 1}] never counts", "what stands before it holds always")
        return self

    @model_validator(mode="after")
    def _probabilities(self) -> Self:
        words = [one.outcome for one in self.outcomes]
        given = {one.outcome for one in self.gives}
        for place, tells in enumerate(self.tells, 1):
            if self.measures and tells.because is None:
                raise problem(f"tells[{place}] does not say why it is not left to the model", "`because`")
            _distribution(f"tells[{place}]", tells.outcomes, words, 1.0)
        if not self.measures:
            _distribution("otherwise", self.otherwise, words, 1.0)
        elif self.otherwise or len(given) < len(words):
            _distribution("otherwise", self.otherwise, [word for word in words if word not in given], None)
        return self


def _distribution(place: str, given: dict[str, float], words: list[str], total: float | None) -> None:
    """Raises where these are no probabilities of the outcomes; with a total of None they must leave some over."""
    if set(given) != set(words):
        raise problem(f"{place} does not name the outcomes", f"a probability for each of {', '.join(words)}")
    if not all(0 < value < 1 for value in given.values()):
        raise problem(f"{place} holds a certainty", "probabilities above 0 and below 1")
    if total is None and sum(given.values()) >= 1:
        raise problem(f"{place} adds up to {sum(given.values()):.4g}", "probabilities that add up to less than 1")
    if total is not None and abs(sum(given.values()) - total) > 1e-9:
        raise problem(f"{place} adds up to {sum(given.values()):.4g}", "probabilities that add up to 1")


class CheckFile(Entry):
    """One file of `kb/checks/`."""

    oilpath: Literal["checks/1"]
    checks: tuple[Check, ...]


class Sign(Entry):
    """What is seen, heard or smelt; which causes it speaks for is said by finding rules."""

    title: Text
    look: Text
    stop_use: Text | None = None
    cautions: tuple[Id, ...] = ()
    source: Text


class SignFile(Entry):
    """`kb/signs.yaml`."""

    oilpath: Literal["signs/1"]
    signs: dict[Id, Sign]
