"""The trade's short index from symptom to causes: a sheet with the symptom alone, and a cause that the index names
among the first five kinds. Common practice, from memory; no measurements. Machines are our own invention.
"""

from __future__ import annotations

import pytest

from tests.external.test_handbook import Row, answered, first_kinds

TRADE = "common practice"
LOADED = (
    ("cycle-time/boom-raise", 1.2), ("cycle-time/arm-out", 1.2), ("cycle-time/bucket-curl", 1.2),
    ("cycle-time/bucket-dump", 1.2), ("cycle-time/arm-in", 1.15), ("swing-time", 1.2), ("travel-time", 1.2),
)  # fmt: skip
ALL = (
    ("cycle-time/boom-lower", 1.15), ("cycle-time", 1.3), ("swing-time", 1.3), ("travel-time", 1.3),
    ("track-time", 1.3),
)  # fmt: skip
"""its weight lowers the boom, whatever the pump gives"""


def pull(direction: str, offset: float) -> str:
    veer = f"veer: {{toward: left, offset: {offset} m, from: start-line}}"
    return f"{{test: travel-time, direction: {direction}, range: high, distance: 20 m, times: [14.4 s], {veer}}}"


ROWS = (
    Row("all slow", "", TRADE, ("engine.low-speed", "setup.wrong-setting", "oil.too-thick", "tank.low-level",
        "suction.restricted", "pump-drive.slipping", "pilot-pump.worn", "pilot-relief.low", "pilot-filter.blocked",
        "return.restricted", "pumps.worn-alike"), factors=ALL),
    Row("slow under load, engine drops", "", TRADE, ("engine.low-power", "regulator.stuck-high"),
        signs=("dark-exhaust",), sound=("track-time",),
        factors=(("cycle-time/boom-raise", 1.3), ("swing-time", 1.15), ("travel-time", 1.25))),
    Row("slow under load, engine holds", "", TRADE, ("torque-control.at-default", "regulator.torque-low",
        "control-sensor.faulty", "pumps.worn-alike", "main-relief.leaking"), signs=("engine-barely-loaded",),
        factors=LOADED, sound=("track-time",)),
    Row("slow when hot, fine when cold", "", TRADE, ("pumps.worn-alike", "pump.worn", "oil.too-thin",
        "cooler.ineffective", "pilot-pump.worn", "spool.worn"), signs=("worse-when-hot",), factors=LOADED,
        sound=("track-time",)),
    Row("slow when cold, fine when hot", "", TRADE, ("oil.too-thick", "suction.restricted", "return.restricted",
        "pilot-filter.blocked"), signs=("better-when-warm",)),
    Row("nothing moves", "", TRADE, ("pilot-lockout.faulty", "load-signal.lost", "pump-drive.slipping",
        "tank.low-level", "main-relief.leaking", "pump.wrongly-fitted"), signs=("nothing-moves",)),
    Row("one pump's group slow", "", TRADE, ("pump.worn", "regulator.stuck-low", "regulator.torque-low",
        "flow-signal.no-demand", "pump.damaged", "suction.one-pump-starved"),
        factors=(("cycle-time/bucket-curl", 1.25), ("cycle-time/bucket-dump", 1.25), ("cycle-time/boom-raise", 1.15),
                 ("track-time/right", 1.2)), sound=("swing-time",)),
    Row("what two pumps feed slow", "", TRADE, ("merge-valve.stuck-closed", "straight-travel.stuck-on",
        "flow-signal.weak-demand"), factors=(("cycle-time/boom-raise", 1.6),), sound=("swing-time",)),
    Row("one function slow both ways", "", TRADE, ("spool.short-stroke", "cylinder.seal-leak", "cylinder.binding",
        "section-compensator.stuck", "load-shuttle.stuck", "lever.short-stroke"),
        factors=(("cycle-time/bucket-curl", 1.4), ("cycle-time/bucket-dump", 1.4)),
        sound=("swing-time", "stall-pressure")),
    Row("one function slow one way", "", TRADE, ("pilot-valve.low-output", "pilot-line.faulty", "port-relief.leaking",
        "make-up-check.leaking", "hose.restricted", "spool.short-stroke"),
        factors=(("cycle-time/bucket-curl", 1.4),), sound=("swing-time",)),
    Row("stall pressure low everywhere", "", TRADE, ("main-relief.low", "main-relief.leaking", "pressure-cutoff.low",
        "pressure-sensor.offset", "pumps.worn-alike"), factors=(("stall-pressure", 0.85),)),
    Row("stall pressure high", "", TRADE, ("main-relief.high", "pressure-sensor.offset"),
        factors=(("stall-pressure", 1.12),)),
    Row("boom drifts", "", TRADE, ("holding-valve.leaking", "cylinder.seal-leak", "spool.worn",
        "holding-valve.held-open", "port-relief.leaking"), factors=(("drift/boom-cylinder", 8.0),)),
    Row("arm drifts", "", TRADE, ("cylinder.seal-leak", "holding-valve.leaking", "spool.worn", "port-relief.leaking"),
        factors=(("drift/arm-cylinder", 6.0),)),
    Row("bucket drifts", "", TRADE, ("spool.worn", "cylinder.seal-leak", "port-relief.leaking"),
        factors=(("drift/bucket-cylinder", 5.0),)),
    Row("drift only with the engine running", "", TRADE, ("spool.off-centre", "holding-valve.held-open",
        "pilot-return.restricted"), signs=("drift-only-engine-running",)),
    Row("load dips at the start", "", TRADE, ("load-check.leaking", "load-shuttle.stuck"),
        signs=("load-dips-at-start",)),
    Row("boom lower slow", "", TRADE, ("holding-valve.not-opening", "pilot-valve.low-output", "hose.restricted",
        "oil.too-thick"), factors=(("cycle-time/boom-lower", 1.5),)),
    Row("arm in slow", "", TRADE, ("regen-valve.stuck-closed", "merge-valve.stuck-closed", "pilot-valve.low-output"),
        factors=(("cycle-time/arm-in", 1.5),)),
    Row("swing slow both ways", "", TRADE, ("swing-brake.dragging", "swing-motor.worn", "swing-relief.leaking",
        "swing-gear.dragging", "function-priority.stuck"), factors=(("swing-time", 1.3),), sound=("cycle-time",)),
    Row("swing slow one way", "", TRADE, ("swing-relief.leaking", "pilot-valve.low-output", "swing-make-up.leaking"),
        factors=(("swing-time/left", 1.3),)),
    Row("swing runs on", "", TRADE, ("swing-motor.worn", "swing-relief.leaking", "anti-rebound.faulty",
        "swing-make-up.leaking"), signs=("swing-runs-on",)),
    Row("pulls both ways", "", TRADE, ("pump.worn", "regulator.stuck-low", "regulator.stop-set-low",
        "travel-motor.worn", "swivel.cross-leak", "track.too-tight", "travel-brake.dragging", "lever.short-stroke",
        "travel-motor.mismatched"), extra=(pull("forward", 2.4), pull("reverse", 2.4))),
    Row("pulls one way only", "", TRADE, ("travel-crossover.leaking", "counterbalance.sticking",
        "pilot-valve.low-output", "swivel.cross-leak"), extra=(pull("forward", 2.4), pull("reverse", 0.1))),
    Row("veers in combined work only", "", TRADE, ("straight-travel.stuck-off",),
        signs=("veers-with-second-function",)),
    Row("both tracks at half speed", "", TRADE, ("straight-travel.stuck-on", "travel-shift.stuck-low",
        "travel-shift.no-signal"), factors=(("travel-time", 1.8),), sound=("swing-time",)),
    Row("no high range", "", TRADE, ("travel-shift.stuck-low", "travel-shift.no-signal", "pilot-pump.worn"),
        signs=("no-high-range-both",)),
    Row("drain of a pump high", "", TRADE, ("pump.worn", "pumps.worn-alike", "pump.damaged"),
        extra=("{test: case-drain, part: pump-1, flow: 45 L/min}",)),
    Row("pump whines", "", TRADE, ("suction.restricted", "breather.blocked", "oil.too-thick",
        "suction.one-pump-starved"), signs=("suction-whine",)),
    Row("rattle and foam", "", TRADE, ("suction.air-leak", "tank.low-level"), signs=("pump-rattle", "foamy-oil")),
    Row("oil overheats", "", TRADE, ("cooler.ineffective", "main-relief.leaking", "flow-signal.full-demand",
        "load-signal.trapped", "pumps.worn-alike", "oil.too-thin"), signs=("oil-overheats",)),
    Row("jerky and spongy", "", TRADE, ("suction.air-leak", "cylinder.air", "spool.short-stroke", "cylinder.binding",
        "load-margin.low"), signs=("jerky-motion",)),
)  # fmt: skip


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_a_cause_of_the_index_is_among_the_first_kinds(row: Row) -> None:
    first = first_kinds(answered(row))
    assert set(first) & set(row.named), first
