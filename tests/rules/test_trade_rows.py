"""What the trade's index from symptom to causes says, row by row: the rules together suspect every cause of the row.

The rows are common practice of the trade, in our own words: a pattern of readings and signs, and the kinds of cause
that a technician has in mind before anything else is known. The likelihoods play no part here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pytest

from oilpath import load_knowledge
from oilpath.kbcheck.cases import said_of
from oilpath.knowledge.rule import RuleCase

CYLINDERS = ("boom-raise", "boom-lower", "arm-in", "arm-out", "bucket-curl", "bucket-dump")
SWINGS = ("left", "right")


def cycles(word: str, *names: str) -> dict[str, str]:
    return {f"cycle-time/{name}": word for name in names or CYLINDERS}


def swings(word: str, *ways: str) -> dict[str, str]:
    return {f"swing-time/{way}": word for way in ways or SWINGS}


def stalls(word: str, *functions: str) -> dict[str, str]:
    return {f"stall-pressure/pump-1/{name}": word for name in functions or ("boom-raise", "bucket-curl")}


def signs(*names: str) -> dict[str, str]:
    return {f"sign/{name}": "seen" for name in names}


ALL_SLOW = {**cycles("slow"), **swings("slow")}
ALL_IN = {**cycles("in"), **swings("in")}
LOADED_SLOW = {**cycles("slow"), **swings("slow"), "cycle-time/boom-lower": "in"}


@dataclass(frozen=True)
class Row:
    """A row of the index: what is out, and the kinds of cause that it may be. steps: rules of the chain behind it."""

    says: str
    results: Mapping[str, str]
    causes: str
    steps: tuple[str, ...] = ()
    circuit: str | None = None


ROWS = (
    Row(
        "everything slow, loaded and unloaded",
        ALL_SLOW,
        "engine.low-speed setup.wrong-setting oil.too-thick tank.low-level suction.restricted pump-drive.slipping"
        " pilot-pump.worn pilot-relief.low pilot-filter.blocked return.restricted pumps.worn-alike",
        ("all-slow",),
    ),
    Row(
        "slow only under load, the engine's speed drops",
        {**LOADED_SLOW, "engine-speed/stall-both-pumps": "low"},
        "engine.low-power regulator.stuck-high",
        ("slow-under-load-engine-drops",),
    ),
    Row(
        "slow only under load, the engine's speed stays",
        {**LOADED_SLOW, "engine-speed/stall-both-pumps": "in"},
        "regulator.torque-low pumps.worn-alike main-relief.leaking",
        ("slow-under-load-engine-holds",),
    ),
    Row(
        "everything slow hot, fine cold",
        {**ALL_SLOW, **signs("worse-when-hot")},
        "pumps.worn-alike oil.too-thin cooler.ineffective pilot-pump.worn",
    ),
    Row(
        "everything slow cold, fine hot",
        {**ALL_SLOW, **signs("better-when-warm")},
        "oil.too-thick suction.restricted return.restricted pilot-filter.blocked",
    ),
    Row(
        "nothing moves, the engine is fine",
        signs("nothing-moves"),
        "pilot-lockout.faulty pump-drive.slipping tank.low-level",
    ),
    Row(
        "what one pump feeds is slow, its stall pressure in order",
        {**cycles("slow", "bucket-curl", "bucket-dump"), **swings("in"), **stalls("in", "bucket-curl")},
        "pump.worn regulator.stuck-low regulator.torque-low flow-signal.no-demand",
        ("one-pump-slow", "pump-group-slow-stall-normal"),
    ),
    Row(
        "only what two pumps feed is slow",
        {**cycles("slow", "boom-raise"), **cycles("in", "bucket-curl", "bucket-dump"), **swings("in")},
        "merge-valve.stuck-closed",
        ("merged-function-slow",),
    ),
    Row(
        "one cylinder slow both ways",
        {**ALL_IN, **cycles("slow", "bucket-curl", "bucket-dump"), "cycle-time/boom-raise": "in"},
        "spool.short-stroke cylinder.seal-leak cylinder.binding",
        ("movement-slow-both-ways", "cylinder-slow-both-ways"),
    ),
    Row(
        "one movement slow one way",
        {**ALL_IN, **cycles("slow", "bucket-curl")},
        "pilot-valve.low-output port-relief.leaking make-up-check.leaking hose.restricted",
        ("movement-slow-one-way", "cylinder-slow-one-way"),
    ),
    Row(
        "stall pressure low everywhere",
        {**stalls("low"), "stall-pressure/pump-2/arm-in": "low"},
        "main-relief.low main-relief.leaking pressure-sensor.offset",
    ),
    Row(
        "stall pressure low in one movement one way",
        {**stalls("low", "bucket-curl"), **stalls("in", "bucket-dump", "boom-raise")},
        "port-relief.leaking make-up-check.leaking",
        ("function-stalls-low", "stall-low-one-function"),
    ),
    Row("stall pressure too high", stalls("high"), "main-relief.high pressure-sensor.offset"),
    Row(
        "the boom drifts down",
        {"drift/boom-cylinder": "high", "drift/arm-cylinder": "in", "drift/bucket-cylinder": "in"},
        "holding-valve.leaking cylinder.seal-leak spool.worn holding-valve.held-open port-relief.leaking"
        " make-up-check.leaking spool.off-centre",
        ("cylinder-drifts", "one-cylinder-drifts"),
    ),
    Row(
        "the bucket drifts",
        {"drift/bucket-cylinder": "high", "drift/boom-cylinder": "in", "drift/arm-cylinder": "in"},
        "spool.worn cylinder.seal-leak port-relief.leaking make-up-check.leaking",
    ),
    Row(
        "drift while the oil cools explains it",
        {"drift/boom-cylinder": "cooling"},
        "oil.cooling-shrink",
    ),
    Row(
        "drift only with the engine running",
        {"drift/boom-cylinder": "in", "drift/boom-cylinder@engine-on": "worse"},
        "spool.off-centre holding-valve.held-open",
    ),
    Row(
        "the boom lowers slowly",
        {**ALL_IN, **cycles("slow", "boom-lower")},
        "holding-valve.not-opening pilot-valve.low-output hose.restricted",
    ),
    Row(
        "arm in slow",
        {**ALL_IN, **cycles("slow", "arm-in")},
        "regen-valve.stuck-closed pilot-valve.low-output",
        ("regenerated-function-slow",),
    ),
    Row(
        "swing slow both ways",
        {**ALL_IN, **swings("slow")},
        "swing-brake.dragging swing-motor.worn swing-gear.dragging",
        ("swing-slow-both-ways",),
    ),
    Row(
        "swing slow one way",
        {**ALL_IN, **swings("slow", "left")},
        "swing-relief.leaking swing-make-up.leaking pilot-valve.low-output",
        ("swing-slow-one-way",),
    ),
    Row("swing runs on", signs("swing-runs-on"), "swing-motor.worn swing-relief.leaking swing-make-up.leaking"),
    Row(
        "pulls to one side both ways",
        {"travel-veer/forward/high": "left", "travel-veer/reverse/high": "left"},
        "pump.worn regulator.stuck-low travel-motor.worn swivel.cross-leak travel-brake.dragging track.too-tight",
        ("travel-slow-one-side",),
    ),
    Row(
        "pulls to one side one way only",
        {"travel-veer/forward/high": "left", "travel-veer/reverse/high": "in"},
        "travel-crossover.leaking counterbalance.sticking pilot-valve.low-output swivel.cross-leak",
    ),
    Row(
        "both tracks slow, straight",
        {
            "travel-time/forward/high": "slow", "travel-time/reverse/high": "slow",
            "travel-veer/forward/high": "in", "travel-veer/reverse/high": "in", **ALL_IN,
        },
        "straight-travel.stuck-on",
    ),
    Row(
        "the pumps' drain is high",
        {"case-drain/pump-1": "high", "case-drain/pump-2": "in"},
        "pump.worn pump.damaged",
    ),
    Row("a motor's drain is high", {"case-drain/travel-left-motor": "high"}, "travel-motor.worn"),
    Row("the pumps whine", signs("suction-whine"), "suction.restricted breather.blocked oil.too-thick"),
    Row("rattle and foam", signs("pump-rattle", "foamy-oil"), "suction.air-leak tank.low-level"),
    Row(
        "the oil overheats",
        signs("oil-overheats"),
        "cooler.ineffective main-relief.leaking flow-signal.full-demand pumps.worn-alike",
    ),
    Row(
        "the oil overheats on a machine with load sensing",
        signs("oil-overheats"),
        "cooler.ineffective load-signal.trapped",
        circuit="compact-excavator",
    ),
    Row("jerky and spongy", signs("jerky-motion"), "suction.air-leak cylinder.binding"),
    # two things together
    Row(
        "everything slow and the pumps whine: the suction",
        {**ALL_SLOW, **signs("suction-whine")},
        "suction.restricted tank.low-level breather.blocked suction.air-leak",
        ("all-slow", "slow-with-signs-of-suction"),
    ),
    Row(
        "everything slow and pilot pressure low: the pilot supply",
        {**ALL_SLOW, "pilot-pressure": "low"},
        "pilot-pump.worn pilot-relief.low pilot-filter.blocked",
        ("all-slow", "all-slow-pilot-low"),
    ),
    Row(
        "a cylinder slow and drifting: its piston",
        {**ALL_IN, **cycles("slow", "bucket-curl", "bucket-dump"), "drift/bucket-cylinder": "high"},
        "cylinder.seal-leak",
        ("movement-slow-both-ways", "cylinder-drifts", "cylinder-slow-and-drifting"),
    ),
    Row(
        "pulls, and the track is slow when raised too, with a hot hub: it drags",
        {
            "travel-veer/forward/high": "left", "travel-veer/reverse/high": "left",
            "track-time/left/forward/high": "slow", "sign/hot-hub/left": "seen",
        },
        "travel-brake.dragging final-drive.damaged",
        ("travel-slow-one-side", "pull-and-hot-hub"),
    ),
    Row(
        "flow short and its drain high: the pump itself",
        {**cycles("slow", "bucket-curl", "bucket-dump"), **swings("in"), "case-drain/pump-1": "high"},
        "pump.worn pump.damaged",
        ("pump-drain-high",),
    ),
)  # fmt: skip


@pytest.mark.parametrize("row", ROWS, ids=[row.says for row in ROWS])
def test_the_rules_suspect_every_cause_of_the_row(row: Row) -> None:
    case = RuleCase(says=row.says, results=dict(row.results), circuit=row.circuit)
    said = said_of(case, load_knowledge())
    found = {one.cause for one in said.suspicions if one.accuses}
    assert set(row.causes.split()) - found == set()
    assert set(row.steps) <= {step.rule for step in said.steps}
