"""The parameters of the circuit model that a cause can disturb: one register of them.

What each is, in words, is data for people (`kb/parameters.yaml`); its sound value and least value belong to the
computation and stand here. At which parts it works follows from the lines: `oilpath.machine.reach`.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Final, Literal

from oilpath.data import data_folder
from oilpath.knowledge.fields import Entry, Id, Text
from oilpath.records import dataclass

Parameter = Literal[
    "speed", "drive-speed", "viscosity", "heat", "load", "fill", "intake", "stroke", "torque", "leakage", "bypass",
    "opening", "setting", "regeneration", "merging", "drag", "back-pressure", "shift", "held-leak", "held-gap",
    "seal-leak", "creep", "cooling", "offset", "scatter", "effectiveness", "switching", "charge",
    "priority", "none",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class ParameterKind:
    """What the computation must know of a parameter."""

    sound: float
    """its value on a sound machine: 1 for a ratio, 0 for what is added"""
    least: float = 0.0
    """least value that it can come to; the model divides by some"""
    doubt: float = 1.0
    """how far the pattern of its effects differs from machine to machine, in units of the shares `of: effect` in
    `kb/scatter.yaml`; near 0 where all that it acts on changes by the same ratio on every machine. Set by drawing the
    figures of the circuits from their ranges (tests/ranking/test_doubt.py)"""

    @property
    def adds(self) -> bool:
        """Whether two disturbances of it add up; ratios multiply."""
        return self.sound == 0


_RATIO, _ADDED, _DIVISOR = ParameterKind(1.0), ParameterKind(0.0), ParameterKind(1.0, 1e-3)
PLAIN = 0.25
"""doubt of a parameter whose effects are in one ratio on every machine"""
_SAME, _SAME_DIVISOR = ParameterKind(1.0, doubt=PLAIN), ParameterKind(1.0, 1e-3, PLAIN)
MOST: Final = 1e3
"""most that any parameter can come to"""
PARAMETERS: Final[Mapping[Parameter, ParameterKind]] = {
    "speed": _SAME_DIVISOR, "drive-speed": _SAME, "viscosity": _DIVISOR, "heat": _DIVISOR, "load": _RATIO,
    "fill": _SAME, "intake": _RATIO, "stroke": _RATIO, "torque": _RATIO, "leakage": _ADDED, "bypass": _ADDED,
    "opening": _SAME, "setting": _DIVISOR, "regeneration": _RATIO, "merging": _RATIO, "drag": _ADDED,
    "back-pressure": _ADDED, "shift": ParameterKind(0.0, -1.0), "held-leak": _ADDED, "held-gap": _ADDED,
    "seal-leak": _ADDED, "creep": _ADDED, "cooling": _ADDED, "offset": _SAME, "scatter": _ADDED,
    "effectiveness": _RATIO,
    "switching": _RATIO, "charge": _RATIO, "priority": _RATIO, "none": _ADDED,
}  # fmt: skip


class ParameterWords(Entry):
    """A parameter for people: what it is, in what it is given, at which parts it works."""

    says: Text
    quantity: Text
    at: Text


class ParameterFile(Entry):
    """`kb/parameters.yaml`."""

    oilpath: Literal["parameters/1"]
    parameters: dict[Id, ParameterWords]


@cache
def parameter_words(folder: Path | None = None) -> Mapping[str, ParameterWords]:
    """The words for every parameter, from the knowledge base that ships (or another folder).

    Raises UnusableInput if the file is not in order.
    """
    from oilpath.documents.nodes import read_file
    from oilpath.documents.validate import data_of, model_from_data
    from oilpath.problems import Problems

    problems = Problems()
    path = (folder or data_folder("kb")) / "parameters.yaml"
    data, where = data_of(read_file(path, path.name))
    read = model_from_data(data, where, ParameterFile, path.name, problems)
    problems.raise_if_any()
    assert read is not None
    return read.parameters
