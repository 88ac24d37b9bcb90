"""Where faults can be: the parts of one machine, by the ids of the file formats."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from oilpath.lab.family.layout import SIDES, WAYS
from oilpath.lab.family.machine import Machine

Places = Callable[[Machine], Sequence[str]]


def at(*parts: str) -> Places:
    return lambda machine: parts


def pumps(suffix: str = "") -> Places:
    return lambda machine: [f"{pump}{suffix}" for pump in machine.layout.pumps]


def pilots(machine: Machine) -> list[str]:
    layout = machine.layout
    names = [m.name for m in layout.movements if m.group not in layout.unpiloted]
    if layout.swings:
        names += [f"swing-{side}" for side in SIDES]
    if layout.tracks:
        names += [f"travel-{side}-{way}" for side in SIDES for way in WAYS]
    return [f"{name}-pilot" for name in names]


def groups(machine: Machine) -> list[str]:
    """All groups of movements, swing and tracks among them; steering has a unit in place of a spool."""
    layout = machine.layout
    more = (["swing"] if layout.swings else []) + ([f"travel-{side}" for side in SIDES] if layout.tracks else [])
    return [*layout.groups, *more]


def spools(machine: Machine) -> list[str]:
    return [f"{group}-spool" for group in groups(machine) if group != "steering"]


def bored_spools(machine: Machine) -> list[str]:
    """Spools that stand alone between a load and the tank: behind a sound holding valve they cannot let it sink."""
    held = {
        c.group for c in machine.layout.cylinders if c.valve and c.valve not in machine.absent
        and machine.holds[c.name].end == c.loaded
    }  # fmt: skip
    return [f"{c.group}-spool" for c in machine.layout.cylinders if c.loaded and c.group not in held]


def ends(suffix: str) -> Places:
    return lambda machine: [
        f"{c.group}-{end}-{suffix}" for c in machine.layout.cylinders if c.loaded for end in ("cap", "rod")
    ]


def hoses(machine: Machine) -> list[str]:
    steering = [f"steering-{side}-hose" for side in SIDES] if machine.steering else []
    return [*ends("hose")(machine), *steering]


def held_by(machine: Machine) -> list[str]:
    return [c.valve for c in machine.layout.cylinders if c.valve and c.valve not in machine.absent]


def members(machine: Machine) -> list[str]:
    return [one for c in machine.layout.cylinders for one in c.members]


def on_swing(*parts: str) -> Places:
    return lambda machine: parts if machine.layout.swings else ()


def on_tracks(pattern: str) -> Places:
    return lambda machine: [pattern.format(side=side) for side in SIDES] if machine.layout.tracks else []


def crossovers(machine: Machine) -> list[str]:
    names = [f"travel-{side}-{way}-crossover" for side in SIDES for way in WAYS]
    return names if machine.layout.tracks else []


def two_pump(*parts: str) -> Places:
    return lambda machine: () if machine.layout.load_sensing else parts


def sensing(*parts: str) -> Places:
    return lambda machine: parts if machine.layout.load_sensing else ()


def steered(*parts: str) -> Places:
    return lambda machine: parts if machine.steering else ()


def of_groups(suffix: str) -> Places:
    return lambda machine: [f"{g}-{suffix}" for g in groups(machine)] if machine.layout.load_sensing else []


def gauges(machine: Machine) -> list[str]:
    """The gauge of each pump, and one gauge that read them all."""
    pumps = machine.layout.pumps
    return [*[f"pressure-sensor-{pump[-1]}" for pump in pumps], *(["both"] if len(pumps) > 1 else [])]


def all_pumps(machine: Machine) -> list[str]:
    """The whole machine, where it has two pumps that can wear together."""
    return ["machine"] if len(machine.layout.pumps) > 1 else []


def make_up_checks(machine: Machine) -> Sequence[str]:
    return ends("make-up-check")(machine) if machine.layout.checks else ()


def swing_checks(machine: Machine) -> list[str]:
    return [f"swing-{side}-make-up" for side in SIDES] if machine.layout.checks else []


def swivel(machine: Machine) -> list[str]:
    return ["swivel-joint"] if machine.layout.tracks else []
