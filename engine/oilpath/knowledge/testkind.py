"""The file `kb/tests.yaml`, `oilpath: tests/1`: what each test kind needs, how it is judged, its cautions."""

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, WithJsonSchema, field_validator

from oilpath.knowledge.fields import (
    Entry,
    Id,
    NonnegativeNumber,
    Number,
    PositiveNumber,
    Share,
    Text,
    Texts,
    WholeNumber,
    problem,
    quantity_value,
)
from oilpath.knowledge.plausible import FigureSpan, Plausible, SlipKind, plausible_value
from oilpath.knowledge.stance import Metres, Place, Pose, Posture, Takes

ConditionName = Literal["engine-speed", "oil-temperature", "attachment", "auto-idle", "working-setting"]


class TestKey(Entry):
    """One key of a reading. `is_` says what it names; `words` closes the list; quantities name their `quantity`."""

    is_: Literal[
        "function", "cylinder", "part", "pump", "word", "quantity", "number", "whole", "flag", "functions", "veer",
        "log", "text",
    ]  # fmt: skip
    quantity: Id | None = None
    words: tuple[str, ...] = ()
    required: bool = False
    repeats: bool = False
    sign: Literal["positive", "nonnegative", "any"] = "any"
    ports: tuple[Id, ...] = ()
    """suffixes that may follow the id of a part (`boom-cylinder-rod`, `pump-1-outlet`)"""
    usual: str | float | None = None
    """what a blank sheet has for it, as it is written there, where the machine's limits do not say it"""


class LimitRule(Entry):
    """What a limit of this test may state beside new, min and max, and how it scales."""

    where: tuple[Id, ...] = ()
    """target keys that a limit may name"""
    per: Id | None = None
    """key (hold, turns, distance) for which the limit holds"""
    scaling: Literal["proportional", "proportional-wide", "none"] = "none"
    """`proportional-wide`: with an extra uncertainty (a drift is not quite steady)"""
    veer: bool = False
    difference: bool = False
    sides: Literal["upper", "lower", "both"] = "both"
    default_functions: tuple[Id, ...] = ()
    """groups of functions for which a limit holds that names no function (empty: all)"""
    unscaled: dict[Id, Id] = {}
    """words of the reading with which a limit holds for its own `per` alone (a swing from rest holds the start)"""


class Range(Entry):
    """An accepted range of a condition, in SI; either end may be open."""

    min: float | None = None
    max: float | None = None


def _range(value: object) -> object:
    if isinstance(value, dict):
        return {k: quantity_value(v, "temperature") if isinstance(v, str) else v for k, v in value.items()}
    return value


class ConditionRules(Entry):
    """The conditions that a test demands by common practice."""

    oil_temperature: Annotated[Range, BeforeValidator(_range)] | None = None
    engine_speed: bool = False
    """the engine must be at its test speed"""
    attachment: tuple[Literal["empty", "loaded", "other"], ...] = ()
    auto_idle: Literal["on", "off"] | None = None
    working_setting: Literal["full", "reduced"] | None = None
    oil_temperature_from: Id | None = None
    """quantity of the reading that, where given, is its oil temperature"""
    least: dict[Id, Any] = {}
    """keys of the reading (hold …) with the least value that counts"""


class Instrument(Entry):
    """Instrument assumed where the sheet names none: type-B parts of the uncertainty, SI or shares."""

    kind: Id
    systematic: NonnegativeNumber = 0
    """standard uncertainty that repeats do not reduce, in the test's SI unit"""
    systematic_ratio: NonnegativeNumber = 0
    """the same as a share of the value"""
    scatter: NonnegativeNumber = 0
    """least standard deviation of one reading, in the test's SI unit"""
    scatter_ratio: NonnegativeNumber = 0
    resolution: NonnegativeNumber = 0


class TestScatter(Entry):
    """How far sound machines of one kind lie apart on this test (knowledge, used by the ranking)."""

    own: PositiveNumber
    """as ln ratio for ratio tests, in SI for offsets"""
    noticeable: PositiveNumber | None = None
    """deviation that counts as noticeable: the unit in which the severities of causes are spaced"""
    because: Text


class Twin(Entry):
    """The reading that one is compared with if there is no limit: the same test at the other one of two alike."""

    by: tuple[Id, ...]
    """keys of which one may differ (the other side, or an alike part), the first that has a twin counts"""
    across: tuple[Id, ...] = ()
    """keys that may differ as well"""
    tolerance: NonnegativeNumber
    """difference that sound twins may have: a share for ratio tests, else SI"""
    worse: Literal["higher", "lower"] = "higher"


def _above_one(value: float) -> float:
    if value <= 1:
        raise problem("must be more than 1", "a factor such as 2")
    return value


class Together(Entry):
    """How much longer a movement may take while others work than by itself, as factors; where no limit says it."""

    shared: Annotated[PositiveNumber, AfterValidator(_above_one)]
    """for one that shares the flow with them"""
    first: Annotated[PositiveNumber, AfterValidator(_above_one)]
    """for one that is served first (`served-first` of a circuit)"""
    within: Annotated[PositiveNumber, AfterValidator(_above_one)]
    """factor within which these hold for two of three machines"""
    because: Text


class Droop(Entry):
    """How far a reading may fall below the same test in another state, if there is no limit: an engine under load."""

    key: Id
    """key that tells the states apart"""
    below: Id
    """the state that it is measured from"""
    of: tuple[Id, ...]
    """states that are judged by it"""
    most: Share
    """largest fall that is in order, a share"""
    because: Text


class Cooling(Entry):
    """Quantities of the reading from which the part of a drift is computed that is cooling of the oil."""

    start: Id
    end: Id
    column: Id


class Leakage(Entry):
    """How far what a test reads is leakage, which goes against the oil's viscosity."""

    share: Share = 0
    """of the flow that leaks at the reference temperature; without meaning where the reading itself is leakage"""
    uncertainty: Share = 0
    """standard uncertainty of the share"""
    acts: Literal["slows", "lowers", "is"]
    """`slows` a time, `lowers` a flow, or `is` what is read"""
    of_circuit: Id | None = None
    """value of the circuit that holds the share instead, and under its name with `-uncertainty` how sure that is"""


class Alike(Entry):
    """By how much a quantity of the reading may differ from that of earlier readings, or they are not comparable."""

    below: Share
    """share by which it may lie below theirs"""
    above: NonnegativeNumber
    """share by which it may lie above theirs"""


class Estimate(Entry):
    """Expected value from the machine's dimensions, if there is no limit."""

    efficiency: Share
    """volumetric efficiency that a sound machine is taken to have"""
    uncertainty: NonnegativeNumber
    """standard uncertainty of the estimate, a share"""
    allowance: NonnegativeNumber
    """share by which a reading may be worse than the estimate"""


def _flow(value: object) -> object:
    # once compiled, the knowledge base holds SI numbers
    return quantity_value(value, "flow", "positive") if isinstance(value, str) else value


Flow = Annotated[
    float, BeforeValidator(_flow), WithJsonSchema({"type": "string", "description": "flow: number and unit"})
]


class Creep(Entry):
    """Expected drift of a cylinder, if there is no limit: its dimensions and what leaves its loaded end, in m³/s."""

    area: PositiveNumber
    """area of the loaded end for which the leakages hold [m²]; for another they go with its root"""
    spool: Flow
    """leakage of a sound spool at the pressure of the load"""
    holding_valve: Flow
    """what a sound holding valve and the valves beside it let through"""
    worst: Flow
    """leakage that would still pass"""
    factor: Annotated[PositiveNumber, AfterValidator(_above_one)]
    """factor within which two of three machines lie, above 1"""
    because: Text


class Space(Entry):
    """Clear ground that a test needs ahead of the machine and as much behind it, beside the machine's own length."""

    ahead: Metres
    better: Metres | None = None
    instead: Id | None = None
    """test that serves if there is no such room"""


class Phase(Entry):
    """A stretch of the day of testing: what is done for all its tests at once, before the first of them."""

    phase: Id
    title: Text
    minutes: NonnegativeNumber = 0
    how: Texts = ()
    cautions: tuple[Id, ...] = ()
    always: bool = False
    """also on a day that has no test of this phase"""
    variant: Id | None = None
    """variant that its `tests` are made in, where the complaint asks for it"""
    tests: tuple[Id, ...] = ()


class Day(Entry):
    """The day of testing."""

    phases: tuple[Phase, ...] = ()
    """in their order"""
    everyday: Texts = ()
    """tools and small things that are always at hand, so that nobody lists them"""


class TestVariant(Entry):
    """A variant that is compared with the standard reading."""

    says: Text
    pair: Id | None = None
    """pair of the facts on contrasts as which it is compared with the standard reading"""
    stands: Literal["first", "second"] = "first"
    """which of the pair the variant is"""
    waives: tuple[Id, ...] = ()
    """conditions that the variant does not demand, because it is made otherwise on purpose"""
    changes: dict[Literal["viscosity", "speed", "load"], PositiveNumber] = {}
    """what it changes in the circuit, as factors"""
    running: bool = False
    """the engine runs while a cylinder is held"""
    reversed_: bool = False
    """the other end of a cylinder carries the load"""


class TestKind(Entry):
    """One kind of test."""

    __test__ = False

    title: Text
    says: Text
    id: tuple[Id, ...] = ()
    """keys that make the result id, in order"""
    keys: dict[Id, TestKey]
    value: Id | None
    """key that holds the measured value (None: a sign, code or check)"""
    quantity: Id | None = None
    unit: str | None = None
    observe: Id
    """what the circuit model predicts for it"""
    load: str = ""
    """load case of the circuit; may name a key, such as `ground-{range}`"""
    scale: Literal["ratio", "offset"] = "ratio"
    more_is: Literal["slow", "high", "right"] = "high"
    less_is: Literal["fast", "low", "left"] = "low"
    timed: bool = False
    """flow-limited time: corrected for engine speed, invalid outside the accepted range"""
    speed_power: Number = 0
    """power of (engine speed / test speed) that turns the measured value into the one at test speed: 1 for a time"""
    uncorrected_groups: tuple[Id, ...] = ()
    veer_as: Id | None = None
    """the test under which the veer of a reading is judged"""
    censored_at: PositiveNumber | None = None
    """beyond it (SI) a value says only `much`"""
    twin: Twin | None = None
    droop: Droop | None = None
    together: Together | None = None
    """how a reading with other functions at work is judged by the same reading alone"""
    cooling: Cooling | None = None
    estimate: Estimate | Creep | None = None
    no_estimate: Text | None = None
    """why dimensions cannot say what to expect"""
    limits: LimitRule = LimitRule()
    conditions: ConditionRules = ConditionRules()
    instrument: Instrument | None = None
    scatter: TestScatter | None = None
    new_from_max: NonnegativeNumber | None = None
    """where only `max` is known: typical new value as a share of it"""
    new_from_min: NonnegativeNumber | None = None
    """the same where only `min` is known"""
    leakage: Leakage | None = None
    alike: dict[Id, Alike] = {}
    """quantities of the reading (the load …) that must be as in the earlier readings it is compared with"""
    plausible: Plausible | None = None
    """what readings of it can be; beyond that people are asked whether it is meant"""
    plausible_figures: dict[Id, FigureSpan] = {}
    """the same for figures beside it, and for conditions"""
    order: WholeNumber = 50
    phase: Id = "warm"
    """stretch of the day in which it is made"""
    routine: bool = False
    """made on every day of testing, also without a limit"""
    needs: tuple[Id, ...] = ()
    """classes of parts; a machine that has none of them is not tested so"""
    ground: Texts = ()
    """what ground and surroundings it needs"""
    space: Space | None = None
    posture: Posture | None = None
    place: Place | None = None
    takes: Takes = Takes()
    minutes: NonnegativeNumber = 5
    tools: Texts = ()
    people: Annotated[int, Field(ge=1, le=9)] = 1
    """how many it takes to do it safely"""
    how: Texts = ()
    cautions: tuple[Id, ...] = ()
    source: Text
    derived: bool = False
    """never written on a sheet: judging makes it from other readings or conditions"""

    @field_validator("plausible", mode="before")
    @classmethod
    def _si(cls, value: object, info: ValidationInfo) -> object:
        return plausible_value(value, info.data.get("quantity"))


class TestFile(Entry):
    """`kb/tests.yaml`."""

    __test__ = False

    oilpath: Literal["tests/1"]
    asked_of: dict[ConditionName, tuple[Id, ...]] = {}
    """conditions that only a machine with a part of one of these classes is asked for"""
    day: Day = Day()
    variants: dict[Id, TestVariant]
    poses: dict[Id, Pose] = {}
    """how machines stand, for the postures of tests and checks"""
    slips: tuple[SlipKind, ...] = ()
    """slips of writing that are looked for in readings and limits"""
    tests: dict[Id, TestKind]
