"""Outcomes of checks: what a technician would find at this machine; right most of the time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Final

from oilpath.lab.family.bench import Bench, Test, with_keys
from oilpath.lab.family.faults import Key
from oilpath.lab.family.machine import Rng
from oilpath.lab.family.visit import deviation

MISTAKEN: Final = 0.04
"""chance that a check is misjudged"""


@dataclass(frozen=True, slots=True)
class Look:
    """A check by looking: the outcome if nothing is found, and the outcome that each kind of cause gives."""

    usual: str
    finds: tuple[tuple[str, str, str], ...]
    """patterns of causes (separated by spaces), where they must be (`here`, `group`, `anywhere`), the outcome"""


_VALVES: Final = "holding-valve.* spool.worn spool.off-centre port-relief.leaking make-up-check.leaking"
_PISTON: Final = "cylinder.seal-leak cylinder.scored-barrel"
NEVER: Final = {
    "cushion-timing": "even", "sensor-supply": "right", "torque-signal": "right", "outside-leak-look": "dry",
    "pin-slack-look": "tight", "bleed-by-cycling": "as-before", "signal-orifice-look": "there",
    "pilot-return-pressure": "none", "lever-stroke-look": "full", "boost-on-off": "rises", "load-dip-watch": "rises",
    "block-leak-test": "holds", "case-pressure": "low", "inlet-pipe-look": "clear", "fitting-look": "as-ordered",
    "stroke-stop-look": "untouched", "housing-level-look": "right", "swing-rock-watch": "rests",
    "slew-slack-measure": "within", "motor-plate-look": "alike", "drive-turn-look": "turns",
    "suction-valve-look": "open", "filter-bypass-look": "sound", "fan-speed": "right", "brake-presses": "enough",
    "ride-control-try": "cushions",
}  # fmt: skip
"""checks for what no machine of the family has, with the outcome of a machine that has it not"""
LOOKS: Final[dict[str, Look]] = {
    **{check: Look(usual, ()) for check, usual in NEVER.items()},
    "drift-at-steady-temperature": Look("goes-on", (("oil.cooling-shrink", "anywhere", "dies-out"),)),
    "look-for-leak": Look("dry", ()),
    "pins-and-linkage-look": Look("free", (("cylinder.binding", "group", "rubs"),)),
    "moving-pressure": Look("normal", (
        ("cylinder.binding", "group", "high-at-actuator"), ("holding-valve.not-opening", "group", "high-at-actuator"),
        ("hose.restricted spool.short-stroke", "group", "high-before-it"),
    )),
    "both-sides-pressure": Look("stay-apart", ((_PISTON, "group", "come-together"),)),
    "plug-loaded-line": Look("still", ((_PISTON, "group", "rod-moves"),)),
    "valve-side-return-look": Look("stays-dry", ((_VALVES, "group", "oil-runs"),)),
    "plug-holding-pilot": Look("drift-goes-on", (("holding-valve.held-open", "here", "drift-stops"),)),
    "exchange-holding-valve": Look("stays", (("holding-valve.leaking holding-valve.held-open", "here", "follows"),)),
    "exchange-port-relief": Look("stays", (("port-relief.leaking", "here", "follows"),)),
    "exchange-make-up-check": Look("stays", (("make-up-check.leaking swing-make-up.leaking", "here", "follows"),)),
    "exchange-swing-relief": Look("stays", (("swing-relief.leaking", "here", "follows"),)),
    "exchange-crossover-relief": Look("stays", (("travel-crossover.leaking", "here", "follows"),)),
    "exchange-steering-relief": Look("stays", (("steering-relief.leaking", "here", "follows"),)),
    "outlet-and-signal": Look("in-order", (
        ("load-signal.lost", "anywhere", "no-signal"), ("load-margin.low", "anywhere", "margin-low"),
        ("load-shuttle.stuck", "anywhere", "one-missing"),
    )),
    "cutoff-or-relief": Look("in-order", (
        ("pressure-cutoff.low", "anywhere", "low-and-quiet"), ("main-relief.*", "anywhere", "low-with-hiss"),
    )),
    "compensator-look": Look("free", (("section-compensator.stuck", "here", "stuck"),)),
    "shuttle-look": Look("in-order", (("load-shuttle.stuck", "here", "stuck"),)),
    "wheel-against-stop": Look("firm", (
        ("steering-unit.worn", "anywhere", "turns-both-ways"), ("steering-relief.leaking", "anywhere", "turns-one-way"),
        (_PISTON, "group", "turns-both-ways"),
    )),
    "priority-pressures": Look("in-order", (
        ("priority-valve.starving-steering", "anywhere", "steering-short"),
        ("priority-valve.holding-back", "anywhere", "working-short"),
    )),
    "pilot-pressure-at-points": Look("right", (
        ("pilot-relief.low pump-drive.slipping", "anywhere", "low-everywhere"),
        ("pilot-pump.worn", "anywhere", "low-hot-or-idle"), ("pilot-filter.blocked", "anywhere", "low-after-filter"),
        ("pilot-lockout.faulty", "anywhere", "low-after-lockout"),
    )),
    "lockout-supply": Look("right", (("pilot-lockout.faulty", "here", "wrong"),)),
    "pilot-pressure-at-spool": Look("full", (
        ("pilot-valve.low-output", "here", "low"), ("pilot-*", "anywhere", "low"),
    )),
    "swap-pilot-hoses": Look("fault-stays", (("pilot-valve.low-output", "here", "fault-moves"),)),
    "lower-with-engine-off": Look("lowers", (("pilot-lockout.faulty", "anywhere", "does-not"),)),
    "second-pump-joins": Look("both-rise", (("merge-valve.stuck-closed", "here", "one-stays-low"),)),
    "relief-response": Look("follows", (("main-relief.leaking main-relief.high", "here", "no-effect"),)),
    "two-point-pressure": Look("small-difference", (("hose.restricted", "here", "big-difference"),)),
    "spool-stroke-look": Look("free", (("spool.short-stroke", "here", "sticks"), ("spool.worn", "here", "scored"))),
    "lowering-back-pressure": Look("opens", (("holding-valve.not-opening", "here", "stays-shut"),)),
    "regeneration-ports": Look("as-it-should", (
        ("regen-valve.stuck-open", "here", "alike-under-load"), ("regen-valve.stuck-closed", "here", "apart-unloaded"),
    )),
    "swap-pump-outlets": Look("group-stays", (
        ("pump.* regulator.* flow-signal.*", "anywhere", "group-changes"),
    )),
    "control-signal-compare": Look("right", (("flow-signal.*", "here", "wrong"),)),
    "regulator-signal-swap": Look("fault-stays", (("flow-signal.*", "anywhere", "fault-moves"),)),
    "pump-drive-look": Look("sound", (("pump-drive.slipping", "here", "worn"),)),
    "check-engine-speed-and-settings": Look("in-order", (
        ("engine.low-speed", "anywhere", "speed-low"), ("setup.wrong-setting", "anywhere", "setting-wrong"),
    )),
    "relief-load-speed-drop": Look("small-drop", (
        ("engine.low-power", "anywhere", "drop-both"), ("regulator.stuck-high", "anywhere", "drop-one"),
    )),
    "second-gauge": Look("agree", (("pressure-sensor.offset", "gauge", "disagree"),)),
    "repeat-with-second-timer": Look("same-again", (("timing.unrepeatable", "anywhere", "other-values"),)),
    "single-and-combined": Look("no-change", (
        ("flow-signal.weak-demand load-shuttle.stuck", "anywhere", "faster-combined"),
        ("straight-travel.stuck-on", "anywhere", "travel-half-alone"),
    )),
    "attachment-look": Look("as-stated", (("load.not-reference", "anywhere", "other"),)),
    "track-sag-look": Look("in-order", (("track.too-tight", "here", "tight-or-packed"),)),
    "cross-travel-hoses-above-joint": Look("track-stays", (
        ("pump.* regulator.* flow-signal.* pilot-valve.* spool.short-stroke", "travels", "track-changes"),
    )),
    "cross-travel-hoses-at-motors": Look("track-changes", (
        ("travel-* counterbalance.* final-drive.* track.*", "anywhere", "track-stays"),
    )),
    "brake-release-pressure": Look("full-and-cool", (
        ("travel-brake.dragging swing-brake.dragging", "here", "full-and-hot"), ("pilot-*", "anywhere", "low-or-late"),
    )),
    "two-speed-signal": Look("shifts", (
        ("travel-shift.*", "here", "signal-no-shift"), ("pilot-relief.low pilot-pump.worn", "anywhere", "no-signal"),
    )),
    "joint-test": Look("holds", (("swivel.cross-leak", "here", "passes"),)),
    "counterbalance-look": Look("free", (("counterbalance.sticking", "here", "sticks"),)),
    "final-drive-oil": Look("clean", (("final-drive.damaged", "here", "metal-or-low"),)),
    "holding-valve-look": Look("sound", (("holding-valve.leaking", "here", "chip-or-worn"),)),
    "bypass-by-position": Look("dry", (
        ("cylinder.seal-leak", "group", "everywhere"), ("cylinder.scored-barrel", "group", "one-part"),
    )),
    "pilot-pressure-both-ends": Look("full", (("pilot-*", "anywhere", "low-at-both"),)),
    "port-relief-bench": Look("opens", (("port-relief.leaking", "here", "passes"),)),
    "slope-hold": Look("holds", (("swing-brake.slipping travel-brake.slipping", "here", "creeps"),)),
    "tank-look": Look("in-order", (
        ("tank.low-level", "anywhere", "level-low"), ("suction.air-leak", "anywhere", "foam"),
    )),
    "suction-vacuum": Look("low", (
        ("suction.restricted", "anywhere", "high"), ("breather.blocked", "anywhere", "high-until-eased"),
    )),
    "suction-leak-grease": Look("no-change", (("suction.air-leak", "anywhere", "sound-changes"),)),
    "return-pressure": Look("normal", (("return.restricted", "anywhere", "high"),)),
    "drain-filter-metal": Look("clean", (("pump.damaged", "anywhere", "metal"),)),
    "cooler-drop": Look("cools", (("cooler.ineffective", "anywhere", "hardly-cools"),)),
    "oil-sample": Look("in-order", (("oil.too-thin", "anywhere", "thin"), ("oil.too-thick", "anywhere", "thick"))),
    "heat-map": Look("alike", (
        ("main-relief.leaking pump.* travel-motor.worn swing-motor.worn *-brake.dragging", "here", "warmer"),
    )),
}  # fmt: skip


def answer(check: str, part: str, truths: Sequence[Key], ill: Bench, sound: Bench, rng: Rng) -> str | None:
    """The outcome of a check at a part, or None for a check that the family does not know or the machine cannot have.

    What can be measured is measured; the rest is found where it is. One look in twenty-five misjudges.
    """
    if part in ill.machine.absent:
        return None
    pair = part.removesuffix("-left").removesuffix("-right") if "-cylinder-" in part else part
    if check.startswith("drift-") and pair not in ill.machine.holds:
        return None
    measured = _measured(check, pair, ill, sound)
    if measured is not None:
        return measured
    if check == "isolate-each-of-pair":
        own = [where for cause, where in truths if fnmatchcase(cause, "cylinder.s*") and where.startswith(part)]
        return f"{own[0].rsplit('-', 1)[1]}-passes" if own else "neither"
    look = LOOKS.get(check)
    if look is None:
        return None
    outcomes = [outcome for _, _, outcome in look.finds]
    found = look.usual
    for patterns, where, outcome in look.finds:
        if any(
            fnmatchcase(cause, pattern) and _there(where, part, own, ill)
            for cause, own in truths
            for pattern in patterns.split()
        ):
            found = outcome
            break
    if rng.random() < MISTAKEN and outcomes:
        return look.usual if found != look.usual else str(rng.choice(sorted(set(outcomes))))
    return found


def _there(where: str, part: str, own: str, bench: Bench) -> bool:
    """Whether a cause at `own` is where a check at `part` looks."""
    group = part.removesuffix("-left").removesuffix("-right").removesuffix("-cylinder")
    match where:
        case "here":
            return own == part
        case "group":
            return own.startswith(group)
        case "gauge":
            return own in (part, "both")
        case "travels":
            return own.startswith("travel") or own.startswith("pump")
        case _:
            return True


def _measured(check: str, part: str, ill: Bench, sound: Bench) -> str | None:
    """Checks that are readings: judged by how far they are from the same machine when it is sound."""

    def off(test: Test) -> float:
        return deviation(test, ill, sound)

    layout = ill.machine.layout
    match check:
        case "case-drain":
            return "high" if off(with_keys("case-drain", {"part": part})) > 0.6 else "normal"
        case "flow-at-pressure":
            loaded = off(with_keys("flow", {"at": f"{part}-outlet"}))
            number = layout.pumps.index(part)
            free = [b.holding.flow(layout.pumps[number], 1.0) for b in (ill, sound)]
            if free[0] < 0.92 * free[1]:
                return "low-from-zero"
            if loaded > -1:
                return "good"
            return "falls-along-power" if ill.state.torque[f"{part}-regulator"] < 0.9 else "falls-with-pressure"
        case "drift-engine-on-off":
            on, still = (ill.drift(part, variant) for variant in ("engine-on", ""))
            return "faster-running" if on > 1.6 * still + 2 else "same-rate"
        case "drift-load-reversed":
            here, there = (b.drift(part, "load-reversed") for b in (ill, sound))
            return "both-ways" if here > 2 * there + 2 else "usual-way-only"
        case "raised-track-run":
            side = part.split("-")[1]
            ways = [off(Test("track-time", (("side", side), ("direction", way), ("range", gear))))
                    for way in ("forward", "reverse") for gear in ("high", "low")]  # fmt: skip
            return "slow" if max(ways) > 1 else "fast" if min(ways) < -1 else "in-order"
        case "free-running-pressure":
            return "high" if off(Test("pressure", (("at", part), ("state", "free-running")))) > 1 else "normal"
        case "free-swing-pressure":
            return "high" if ill.moves.swing_drag() > 0.08 * ill.machine.relief else "normal"
        case "swing-run-on":
            ways = [off(Test("swing-stop", (("direction", side),))) for side in ("left", "right")]
            return "far" if max(ways) > 1 else "short" if min(ways) < -1 else "in-order"
        case "stall-per-direction":
            return _stall_ways(part, ill, sound)
        case "cold-hot-pair":
            return _cold_hot(ill)
        case _:
            return None


def _stall_ways(part: str, ill: Bench, sound: Bench) -> str:
    group = part.removesuffix("-spool")
    names = [m.name for m in ill.machine.layout.movements if m.group == group]
    names = names or [f"swing-{s}" for s in ("left", "right")] if group == "swing" else names
    names = names or [f"{group}-{way}" for way in ("forward", "reverse")]
    pump = ill.machine.feeds[group]
    ratios = [b.moves.stall(pump, name, group) for b in (ill, sound) for name in names]
    here, there = ratios[: len(names)], ratios[len(names) :]
    low = [a < 0.96 * b for a, b in zip(here, there, strict=True)]
    if all(low):
        return "both-low"
    if any(low):
        return "one-low"
    return "both-high" if all(a > 1.03 * b for a, b in zip(here, there, strict=True)) else "both-right"


def _cold_hot(ill: Bench) -> str:
    times = []
    for celsius in (30.0, 70.0):
        bench = ill.at(celsius)
        times.append(sum(bench.moves.cylinder_time(m) for m in ill.machine.layout.movements))
    ratio = times[1] / times[0]
    return "slower-hot" if ratio > 1.1 else "slower-cold" if ratio < 0.93 else "alike"
