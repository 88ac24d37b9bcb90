"""The machine file, `oilpath: machine/1`: what is known of one machine, and its limits."""

from collections.abc import Mapping
from functools import cached_property
from typing import Annotated, ClassVar, Literal, Self

from pydantic import BeforeValidator, Field, ValidationInfo, field_validator

from oilpath.documents.value_types import Count, Grade, SpeedRatio, Tolerance, ViscosityIndex
from oilpath.knowledge.circuit import Circuit, Control, Feeds, FeedsField
from oilpath.knowledge.fields import Displacement, Entry, Id, Keyed, Length, Rotation, Text, problem


class TestSpeed(Entry):
    """Engine speed at the test setting, and the tolerance that the machine's information gives."""

    called: ClassVar[str] = "the engine speed"

    test: Rotation
    tolerance: Tolerance | None = None


def read_speed(value: object) -> object:
    """An engine speed alone → `{test: speed}`."""
    return value if isinstance(value, dict | TestSpeed) else {"test": value}


class Oil(Entry):
    """The oil: ISO viscosity grade (mm²/s at 40 °C) and viscosity index."""

    called: ClassVar[str] = "the oil"

    grade: Grade | None = None
    viscosity_index: ViscosityIndex | None = None


class PartData(Entry):
    """What is known of one part; everything optional, SI inside."""

    called: ClassVar[str] = "what is known of a part"

    displacement: Displacement | None = None
    speed_ratio: SpeedRatio | None = None
    count: Count | None = None
    bore: Length | None = None
    rod: Length | None = None
    stroke: Length | None = None
    numbers: dict[Id, Text] = {}
    """the workshop's own order numbers, by the words of the knowledge base (`assembly`, `seal-kit`)"""

    @field_validator("rod")
    @classmethod
    def _thinner(cls, value: float | None, info: ValidationInfo) -> float | None:
        bore = info.data.get("bore")
        if value is not None and bore is not None and value >= bore:
            raise problem("a rod is thinner than its bore", "the rod's diameter, less than that of the bore")
        return value


class Dimensions(Entry):
    """Dimensions of the machine in m."""

    called: ClassVar[str] = "the dimensions"

    length: Length | None = None
    track_gauge: Length | None = None
    track_length: Length | None = None


class CodeMeaning(Entry):
    """What one of the machine's own fault codes says, and the part it names."""

    says: Text
    part: Id | None = None


class Limit(Entry):
    """One limit as written: `where` are its target keys, the numbers are SI. The reader fills it by the test kind."""

    test: Id
    where: Mapping[str, str] = {}
    new: float | None = None
    min: float | None = None
    max: float | None = None
    max_veer: float | None = None
    max_difference: float | None = None
    per: float | None = None
    """hold [s], distance [m] or turns that the limit is for"""
    line: int = 1


class Demand(Entry):
    """Conditions that this machine's tests demand where they differ from common practice; ranges in SI."""

    test: Id
    oil_temperature: tuple[float, float] | None = None
    attachment: Literal["empty", "loaded", "other"] | None = None
    auto_idle: Literal["on", "off"] | None = None
    working_setting: Literal["full", "reduced"] | None = None
    engine_speed: tuple[float, float] | None = None
    hold: float | None = None


class Machine(Keyed):
    """One machine with its circuit read in."""

    oilpath: Literal["machine/1"] = "machine/1"
    name: Text
    circuit: Circuit
    engine_speed: Annotated[TestSpeed, BeforeValidator(read_speed)] | None = None
    oil: Oil = Oil()
    parts: dict[Id, PartData] = {}
    absent: tuple[Id, ...] = ()
    feeds: FeedsField | None = None
    control: Control | None = None
    figures: tuple[Id, ...] = ()
    """those of the circuit's assumed figures that its file states; `circuit` holds them as stated"""
    dimensions: Dimensions = Dimensions()
    limits: tuple[Limit, ...] = ()
    conditions: tuple[Demand, ...] = ()
    codes: dict[str, CodeMeaning] = {}
    baseline: tuple[Text, ...] = ()
    file: str = Field(default="-", exclude=True)

    def _content(self) -> tuple[str, ...]:
        apart = ("circuit", "file")  # where the file stands changes no answer
        return (self.circuit.content, *(f"{name}={value!r}" for name, value in self if name not in apart))

    @cached_property
    def classes(self) -> frozenset[str]:
        """Classes of the parts that are there."""
        return frozenset(part.class_ for name, part in self.circuit.parts.items() if name not in self.absent)

    @cached_property
    def modelled(self) -> Self:
        """The machine with only what the circuit model looks at; machines that differ in the rest share one model."""
        unseen: dict[str, object] = {
            "displacement": None,
            "speed_ratio": None,
            "count": None,
            "stroke": None,
            "numbers": {},
        }
        ends = {
            name: data.model_copy(update=unseen)
            for name, data in sorted(self.parts.items())
            if data.bore is not None and data.rod is not None
        }
        return self.model_copy(
            update={
                "name": self.circuit.id, "figures": (), "engine_speed": None, "oil": Oil(), "parts": ends,
                "absent": tuple(sorted(self.absent)),
                "dimensions": self.dimensions.model_copy(update={"length": None, "track_length": None}),
                "limits": (), "conditions": (), "codes": {}, "baseline": (), "file": "-",
            }
        )  # fmt: skip

    @property
    def allocation(self) -> Feeds:
        """The feeds in force: the circuit's, with what the machine file changes."""
        return feeds_in_force(self.circuit, self.feeds)

    @property
    def track_gauge(self) -> tuple[float, float] | None:
        """Track gauge [m] and its standard uncertainty [m]: the machine's own, else what is usual for its circuit."""
        if self.dimensions.track_gauge is not None:
            return self.dimensions.track_gauge, 0.0
        usual, spread = (self.circuit.values.get(f"track-gauge{end}") for end in ("", "-uncertainty"))
        return None if usual is None else (usual, spread or 0.0)


def feeds_in_force(circuit: Circuit, own: Feeds | None) -> Feeds:
    """The circuit's feeds, with what a machine changes."""
    usual = circuit.feeds
    if own is None:
        return usual
    return Feeds(pumps={**usual.pumps, **own.pumps}, merge=own.merge if own.merge else usual.merge)
