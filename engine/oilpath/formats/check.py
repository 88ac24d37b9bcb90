"""The files of `kb/checks/` (`oilpath: checks/1`) and `kb/signs.yaml` (`oilpath: signs/1`)."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator

from oilpath.formats.cause import Place
from oilpath.formats.fields import Entry, Id, Number, PositiveNumber, Text, Texts, WholeNumber, problem


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


class CheckOutcome(Entry):
    """One outcome: its word for the sheet, and what is seen and what it means."""

    outcome: Id
    says: Text


def _outcomes(value: object) -> object:
    """`{rod-moves: says …}` as written → a list of outcomes."""
    return [{"outcome": k, "says": v} for k, v in value.items()] if isinstance(value, dict) else value


class Check(Entry):
    """One check: a step that parts causes, made at a part of a class (or at a named part)."""

    check: Id
    title: Text
    """`{part}` stands for the part's title"""
    at: Place
    needs: dict[Id, WholeNumber] = {}
    """classes of which the machine must have at least so many parts"""
    readings: tuple[str, ...] = ()
    """result ids (with `{part}`, `{function}`, `*`) that make the check needless once all of them are on the sheet"""
    minutes: PositiveNumber
    wait: Annotated[float, Field(ge=0)] = 0.0
    """hours until the outcome is known, where it is not at once (a laboratory)"""
    intrusiveness: Literal[0, 1, 2, 3]
    """0 look, listen, stopwatch; 1 gauge on a test port; 2 break a line; 3 dismantle"""
    hazards: tuple[Hazard, ...] = ()
    tools: Texts
    cautions: tuple[Id, ...]
    how: Texts
    trap: Text | None = None
    outcomes: Annotated[tuple[CheckOutcome, ...], BeforeValidator(_outcomes), Field(min_length=2)]
    tells: Annotated[tuple[Tells, ...], Field(min_length=1)]
    otherwise: dict[Id, Number]
    """probability of each outcome under every cause that `tells` does not name, `none` and `unknown` included"""
    source: Text

    @model_validator(mode="after")
    def _probabilities(self) -> Check:
        words = [one.outcome for one in self.outcomes]
        if len(set(words)) < len(words):
            raise problem("names an outcome twice", "each outcome once")
        named = {"otherwise": self.otherwise}
        named |= {f"tells[{place}]": tells.outcomes for place, tells in enumerate(self.tells, 1)}
        for place, given in named.items():
            if set(given) != set(words):
                raise problem(f"{place} does not name the outcomes", f"a probability for each of {', '.join(words)}")
            if not all(0 < value < 1 for value in given.values()):
                raise problem(f"{place} holds a certainty", "probabilities above 0 and below 1")
            if abs(sum(given.values()) - 1) > 1e-9:
                raise problem(f"{place} adds up to {sum(given.values()):.4g}", "probabilities that add up to 1")
        return self


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
