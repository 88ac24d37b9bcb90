"""What the trade would say of plain sheets: its answer leads or is in the leading group, no other is nearly certain.

Each row is a pattern of readings with everything else as new; the answers are common practice of the trade (from
memory, no measurements). Factors are on the value of a new machine; the machines are our own invention.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import pytest

from oilpath import Diagnosis, diagnose, load_machine, load_sheet
from oilpath.data import data_folder
from oilpath.documents.machine import Machine

MACHINES = data_folder("cases") / "machines"
SURE = 0.95
CONDITIONS = "oil-temperature: 54 °C, attachment: empty, auto-idle: off, working-setting: full"
Key = tuple[str, ...]


@dataclass(frozen=True)
class Row:
    """A pattern and the trade's answer. factor: of each reading, by (test, *its target)."""

    says: str
    factor: Callable[[Key], float]
    trade: frozenset[tuple[str, str]]
    machine: str = "trainer-22t"
    extra: tuple[str, ...] = ()


def readings(machine: Machine, factor: Callable[[Key], float]) -> list[str]:
    """A reading of every limit with a new value, as the factor says."""
    made = []
    for limit in machine.limits:
        if limit.new is None:
            continue
        where = dict(limit.where)
        for target, keys in _targets(limit.test, where, machine):
            value = limit.new * factor((limit.test, *target))
            text = ", ".join(f"{key}: {word}" for key, word in keys.items())
            per = {
                "drift": "hold: 5 min",
                "swing-time": "turns: 3",
                "track-time": "turns: 3",
                "travel-time": "distance: 20 m",
            }
            more = f", {per[limit.test]}" if limit.test in per else ""
            made.append(f"{{test: {limit.test}{', ' if text else ''}{text}{more}, {_value(limit.test, value)}}}")
    return made


def _value(test: str, value: float) -> str:
    if test == "drift":
        return f"moved: {value * 1000:.2f} mm, oil-start: 55 °C, oil-end: 54 °C, extension: 600 mm"
    if test in ("stall-pressure", "pilot-pressure"):
        return f"pressure: {value / 1e6:.2f} MPa"
    return f"times: [{value:.3f} s, {value * 1.004:.3f} s]"


def _targets(test: str, where: Mapping[str, str], machine: Machine) -> list[tuple[Key, dict[str, str]]]:
    ways = ("forward", "reverse")
    if test == "swing-time":
        return [((d,), {"direction": d}) for d in ("left", "right")]
    if test == "travel-time":
        return [((d, where["range"]), {"direction": d, "range": where["range"]}) for d in ways]
    if test == "track-time":
        both = [(s, d) for s in ("left", "right") for d in ways]
        return [((s, d, where["range"]), {"side": s, "direction": d, "range": where["range"]}) for s, d in both]
    if test == "stall-pressure":
        usual = [("pump-1", "bucket-curl"), ("pump-1", "boom-raise"), ("pump-2", "arm-in")]
        if "function" in where:
            usual = [("pump-1", where["function"])]
        elif machine.circuit.id != "two-pump-excavator":
            usual = [
                ("pump-1", name) for name in machine.circuit.functions if name.endswith(("-raise", "-back", "-in"))
            ]
        return [((p, f), {"pump": p, "function": f}) for p, f in usual]
    return [(tuple(where.values()), dict(where))]


def answer(row: Row) -> Diagnosis:
    path = MACHINES / f"{row.machine}.yaml"
    machine = load_machine(path)
    speed = "" if machine.engine_speed is None else f"engine-speed: {machine.engine_speed.test * 60:.0f} rpm, "
    lines = [f"  - {one}" for one in (*readings(machine, row.factor), *row.extra)]
    head = f"oilpath: sheet/1\nmachine: {path}\nhours: 6500\ncomplaint: Slow\nconditions: {{{speed}{CONDITIONS}}}"
    text = "\n".join([head, "readings:", *lines, ""])
    return diagnose(load_sheet("trade.yaml", text=text))


def times(key: Key) -> bool:
    return key[0].endswith("-time")


def _worn(key: Key) -> float:
    """Pump 1 loses in proportion to pressure: most where it works hardest."""
    if key[0] == "cycle-time":
        return {"boom-raise": 1.08, "bucket-curl": 1.1, "bucket-dump": 1.1, "arm-in": 1.04, "arm-out": 1.05}.get(
            key[1], 1
        )
    if key[:2] == ("track-time", "right"):
        return 1.05 if key[-1] == "high" else 1.03
    return {"high": 1.09, "low": 1.06}[key[-1]] if key[0] == "travel-time" else 1


INTAKE = frozenset({("tank.low-level", "tank"), ("suction.restricted", "suction"), ("suction.air-leak", "suction")})
ROWS = (
    Row("all stall pressures 15 % low: the relief first, the gauge second",
        lambda key: 0.85 if key[0] == "stall-pressure" else 1, frozenset({("main-relief.low", "main-relief")})),
    Row("everything 20 % slow, pilot pressure in order: level, suction, aeration",
        lambda key: 1.2 if times(key) else 1, INTAKE),
    Row("everything 15 % slow, lowering the boom 25 %: the intake again",
        lambda key: 1.25 if key[1:] == ("boom-lower",) else 1.15 if times(key) else 1, INTAKE),
    Row("one track slow both ways, more on the ground: motor or swivel joint",
        lambda key: 1.12 if key[:2] == ("track-time", "left") else 1.15 if key[0] == "travel-time" else 1,
        frozenset({("travel-motor.worn", "travel-left-motor"), ("swivel.cross-leak", "swivel-joint")})),
    Row("a track slow one way only, most on the ground: its crossover relief first",
        lambda key: {"track-time left": 1.06, "travel-time forward": 1.12}.get(" ".join(key[:2]), 1)
        if "forward" in key else 1,
        frozenset({("travel-crossover.leaking", "travel-left-forward-crossover")})),
    Row("a cylinder drifts, its times in order: the seal first",
        lambda key: 4 if key == ("drift", "bucket-cylinder") else 1,
        frozenset({("cylinder.seal-leak", "bucket-cylinder")})),
    Row("what pump 1 feeds is slow under load: the pump", _worn, frozenset({("pump.worn", "pump-1")})),
    Row("loaded movements slow, both case drains high, worse hot: both pumps worn",
        lambda key: 1.1 if key[0] in ("swing-time", "travel-time") else {
            "boom-raise": 1.1, "arm-in": 1.07, "arm-out": 1.09, "bucket-curl": 1.08, "bucket-dump": 1.08
        }.get(key[-1], 1) if key[0] == "cycle-time" else 1.03 if key[0] == "track-time" else 1,
        frozenset({("pumps.worn-alike", "machine")}),
        extra=("{test: case-drain, part: pump-1, flow: 30 L/min}", "{test: case-drain, part: pump-2, flow: 31 L/min}",
               "{test: sign, sign: worse-when-hot, seen: true}")),
    Row("a loader's lift and tilt stall low, its steering reaches its own relief: the main relief",
        lambda key: 0.88 if key[0] == "stall-pressure" and "steer" not in key[-1] else 1,
        frozenset({("main-relief.low", "main-relief"), ("pressure-cutoff.low", "pump-1-cutoff")}),
        machine="loader-11t"),
    Row("a compact's pump gives a fifth less: what needs most flow is slow, the rest is not",
        lambda key: 1.25 if key[0] == "travel-time" else {"boom": 1.19, "arm-": 1.03}.get(key[-1][:4], 1),
        frozenset({("pump.worn", "pump-1"), ("regulator.stuck-low", "pump-1-regulator"), *INTAKE,
                   ("pump-drive.slipping", "pump-drive")}), machine="compact-3t"),
)  # fmt: skip


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.says)
def test_the_trades_answer_leads_and_no_other_is_nearly_certain(row: Row) -> None:
    found = answer(row)
    leading = {(found.causes[n].cause, found.causes[n].part) for n in found.groups[0].members}
    first = (found.causes[0].cause, found.causes[0].part)
    assert row.trade & leading or first in row.trade, [(c.cause, c.part, c.probability) for c in found.causes[:5]]
    others = [c for c in found.causes if (c.cause, c.part) not in row.trade]
    assert all(c.probability <= SURE for c in others)


STEERING = """oilpath: sheet/1
machine: {machine}
conditions: {{{conditions}, engine-speed: 2200 rpm}}
readings:
  - {{test: cycle-time, function: lift-raise, times: [5.7 s, 5.8 s]}}
  - {{test: cycle-time, function: steer-left, times: [2.6 s, 2.7 s]}}
  - {{test: cycle-time, function: steer-right, times: [2.6 s, 2.6 s]}}
  - {{test: cycle-time, function: {function}, with: [{other}], times: [{seconds} s]}}
"""


def combined(function: str, other: str, seconds: float) -> Diagnosis:
    machine = MACHINES / "loader-11t.yaml"
    text = STEERING.format(machine=machine, conditions=CONDITIONS, function=function, other=other, seconds=seconds)
    return diagnose(load_sheet("-", text=text))


def test_steering_that_dies_while_lifting_is_the_priority_valve() -> None:
    """Common practice: the steering has priority, so that it is slow beside others alone speaks of the priority valve,
    and the machine must not be used.
    """
    found = combined("steer-left", "lift-raise", 10.4)
    result = next(one for one in found.results if one.id == "cycle-time/steer-left+lift-raise")
    assert result.verdict == "fail"
    first = found.causes[0]
    assert (first.cause, first.part, first.variant) == (
        "priority-valve.starving-steering", "priority-valve", "beside-others",
    )  # fmt: skip
    assert [(one.cause, one.part) for one in found.stop_use][:1] == [(first.cause, first.part)]


def test_lift_that_gives_way_to_the_steering_is_by_design() -> None:
    found = combined("lift-raise", "steer-left", 9.5)
    assert found.causes[0].cause == "none"
