"""The circuit file, `oilpath: circuit/1`: parts, the lines between them, functions, pumps and their control."""

from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import TYPE_CHECKING, Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from oilpath.knowledge.fields import Entry, Id, Keyed, Number, Text, identifier, problem
from oilpath.knowledge.figures import FUNCTION_KEYS, Figure, FigureField, resolve_figures
from oilpath.knowledge.outline import Outline
from oilpath.knowledge.parameters import Parameter

if TYPE_CHECKING:
    from oilpath.knowledge.wiring import Wiring

Control = Literal["negative", "positive", "load-sensing", "fixed"]
End = Literal["cap", "rod"]
Side = Literal["left", "right"]


class Part(Entry):
    """One part of the circuit. Its place and what it serves follow from the lines."""

    class_: Id
    """the word by which causes, rules and checks find it"""
    title: Text
    side: Side | None = None


def _port(value: object) -> object:
    """A part, or PART.PORT: one port or passage of it."""
    pieces = value.split(".") if isinstance(value, str) else [value]
    if len(pieces) > 2:
        raise problem("names more than one port", "a part, or a part and its port, such as boom-cylinder.cap")
    return ".".join(identifier(piece) for piece in pieces)


Port = Annotated[str, BeforeValidator(_port)]
Kind = Literal["suction", "delivery", "merge", "work", "relief", "return", "drain", "pilot", "signal", "drive"]


class Line(Entry):
    """A chain of parts in the order in which the oil (or a signal, or torque) passes them."""

    kind: Kind
    through: tuple[Port, ...] = Field(min_length=2)
    both_ways: bool = False

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts joined by the line, without their ports."""
        return tuple(part_of(name) for name in self.through)


def part_of(port: str) -> str:
    """The part of a port: boom-cylinder of boom-cylinder.cap."""
    return port.partition(".")[0]


class Feeds(Entry):
    """Which groups of functions each pump feeds, and which functions a second pump joins through a merge valve."""

    pumps: dict[Id, tuple[Id, ...]] = {}
    merge: dict[Id, Id] = {}


def read_feeds(value: object) -> object:
    """`{pump-1: [...], merge: {...}}` as written → `{pumps: {pump-1: [...]}, merge: {...}}`."""
    if isinstance(value, dict) and "pumps" not in value:
        return {"pumps": {k: v for k, v in value.items() if k != "merge"}, "merge": value.get("merge") or {}}
    return value


FeedsField = Annotated[Feeds, BeforeValidator(read_feeds)]


class Function(Entry):
    """One movement in one direction: what its lines cannot say.

    Its port is that of the actuator which takes the oil: `port`, else the `end` of a cylinder, else the `direction` of
    a motor; an actuator that is drawn without ports needs none.
    """

    title: Text
    group: Id
    opposite: Id | None = None
    actuator: Id
    end: End | None = None
    """the end of the cylinder that takes the oil"""
    side: Side | None = None
    direction: Literal["left", "right", "forward", "reverse"] | None = None
    port: Id | None = None
    pressure: dict[Id, FigureField] = {}
    """pressure at the actuator while it moves, by load case, as a share of the main relief's setting"""
    gravity: FigureField = 0
    """share of the movement that its own weight does (meter-out sets the speed)"""
    regeneration: FigureField = 0
    """share of the speed that the oil of the other end gives, led back to the inlet through a valve"""
    acceleration: FigureField = 0
    """share of the movement's time that goes into speeding it up, at the pressure of its relief"""

    section: FigureField = 1
    """share of the pump's flow that its section of a load-sensing block takes"""
    relief: FigureField | None = None
    """setting of the relief at the actuator's port as a share of the main relief's; None: `port-relief-setting`"""

    @property
    def inlet(self) -> str:
        """The actuator's port that takes the oil, as the lines name it."""
        port = self.port or self.end or self.direction
        return f"{self.actuator}.{port}" if port else self.actuator


class Hold(Entry):
    """The drift test of one cylinder: which end carries the load, and how much of it."""

    loaded: End
    load: FigureField
    """pressure at the loaded end as a share of the main relief's setting"""


class Factor(Entry):
    """A parameter of a part, with the power to which a reading depends on it."""

    part: Id
    parameter: Parameter
    power: Number = 1


class Response(Entry):
    """What a reading of a test with `observe: response` goes with: the product of its factors.

    For what no law of pumps, functions and cylinders tells. A parameter that is a ratio to the sound part's counts as
    it is, one that is added (a leakage) as 1 − value.
    """

    test: Id
    at: Id
    """the part at which the reading is made"""
    factors: tuple[Factor, ...]


class Circuit(Keyed):
    """A kind of machine: what parts it has and how the oil goes."""

    oilpath: Literal["circuit/1"]
    id: Id
    title: Text
    says: Text | None = None
    usual: bool = False
    """the cases of rules that name no circuit are of this one; one of a knowledge base's"""
    source: Text
    control: Control
    reservoir: Id
    """the part from which the oil comes and to which it returns"""
    parts: dict[Id, Part]
    lines: tuple[Line, ...]
    functions: dict[Id, Function]
    feeds: FeedsField
    together: tuple[Id, ...] = ()
    """load cases in which all pumps work at once (travel on the ground)"""
    served_first: dict[Id, Id] = {}
    """groups of functions that get their oil before all others → the part that sees to it"""
    holds: dict[Id, Hold] = {}
    """cylinders → how the drift test loads them"""
    responses: tuple[Response, ...] = ()
    """what readings go with that no law of the model tells"""
    values: dict[Id, FigureField] = {}
    """typical figures of a sound machine of this kind, as ratios (leakage of a pump, torque limit …)"""
    outline: Outline | None = None
    """plain shapes for pictures of how it stands"""

    @model_validator(mode="before")
    @classmethod
    def _named_figures(cls, data: Any) -> Any:
        return resolve_figures(data)

    @cached_property
    def figures(self) -> Mapping[str, Figure]:
        """The assumed figures by name, in the order of the file; those without doubt are left out."""
        found = {one.name: one for one in self._used() if isinstance(one, Figure) and one.in_doubt}
        return dict(sorted(found.items(), key=lambda item: item[0] not in self.values))

    @cached_property
    def figures_named(self) -> Mapping[str, Figure]:
        """All figures that a machine file can state, those without doubt as well."""
        plain = {name: Figure(v, v, v, "", name) for name, v in self.values.items() if not isinstance(v, Figure)}
        return plain | {one.name: one for one in self._used() if isinstance(one, Figure)}

    def _used(self) -> Iterator[float]:
        yield from self.values.values()
        for function in self.functions.values():
            yield from (getattr(function, key) for key in FUNCTION_KEYS)
            yield from function.pressure.values()
        yield from (hold.load for hold in self.holds.values())

    def with_figures(self, figures: Mapping[str, float]) -> Self:
        """The circuit with other values for some of its figures, wherever it uses them.

        figures: name → `Figure` or plain number; a name that the circuit does not know changes nothing
        """
        if not figures:
            return self

        def other(old: float, name: str = "") -> float:
            new = figures.get(old.name if isinstance(old, Figure) else name)
            if new is None:
                return old
            return old.at(new) if isinstance(old, Figure) and not isinstance(new, Figure) else new

        functions = {
            name: one.model_copy(
                update={
                    **{key: other(getattr(one, key)) for key in FUNCTION_KEYS},
                    "pressure": {load: other(value) for load, value in one.pressure.items()},
                }
            )
            for name, one in self.functions.items()
        }
        holds = {name: one.model_copy(update={"load": other(one.load)}) for name, one in self.holds.items()}
        values = {name: other(value, name) for name, value in self.values.items()}
        from oilpath.knowledge.wiring import refitted

        changed = self.model_copy(update={"functions": functions, "holds": holds, "values": values})
        return changed.wired(refitted(self.wiring, changed)) if _regenerate_alike(self, changed) else changed

    @cached_property
    def wiring(self) -> "Wiring":
        """What its lines say."""
        from oilpath.knowledge.wiring import wire

        return wire(self)

    def wired(self, wiring: "Wiring") -> Self:
        """Hold what was derived from its lines before."""
        self.__dict__["wiring"] = wiring
        return self


def _regenerate_alike(one: Circuit, two: Circuit) -> bool:
    """Whether the same functions regenerate: the one figure on which it depends what the lines say."""
    return all(
        bool(function.regeneration) == bool(two.functions[name].regeneration)
        for name, function in one.functions.items()
    )
