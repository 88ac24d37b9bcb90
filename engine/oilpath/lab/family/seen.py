"""What is seen, heard and displayed beside the measurements: signs and codes, with chances of their own."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from oilpath.lab.family.book import CODES
from oilpath.lab.family.faults import Key
from oilpath.lab.family.machine import Machine, Rng

#: Signs by cause, each with the chance that it is there; from the memory of the trade.
SIGNS: Final[dict[str, tuple[tuple[str, float], ...]]] = {
    "engine.low-power": (("dark-exhaust", 0.5),),
    "pump-drive.slipping": (("drive-rattle", 0.6),),
    "oil.too-thick": (("better-when-warm", 0.5), ("suction-whine", 0.2)),
    "oil.too-thin": (("worse-when-hot", 0.45), ("burnt-oil-smell", 0.15)),
    "cooler.ineffective": (("oil-overheats", 0.75), ("worse-when-hot", 0.6)),
    "tank.low-level": (("tank-level-low", 0.6), ("foamy-oil", 0.35), ("pump-rattle", 0.25)),
    "suction.restricted": (("suction-whine", 0.55), ("pump-rattle", 0.15)),
    "suction.air-leak": (("foamy-oil", 0.6), ("pump-rattle", 0.5), ("jerky-motion", 0.3)),
    "breather.blocked": (("tank-drawn-in", 0.5), ("suction-whine", 0.4)),
    "return.restricted": (("return-filter-indicator", 0.6), ("oil-overheats", 0.2)),
    "pump.worn": (("worse-when-hot", 0.4), ("metal-in-drain-filter", 0.1), ("pump-rattle", 0.05)),
    "pumps.worn-alike": (("worse-when-hot", 0.5), ("oil-overheats", 0.25)),
    "pump.damaged": (("pump-knock", 0.6), ("metal-in-drain-filter", 0.6)),
    "regulator.stuck-low": (("engine-barely-loaded", 0.3),),
    "regulator.torque-low": (("engine-barely-loaded", 0.4),),
    "flow-signal.weak-demand": (("faster-with-second-function", 0.3),),
    "flow-signal.no-demand": (("engine-barely-loaded", 0.25),),
    "main-relief.leaking": (("relief-hiss", 0.5), ("oil-overheats", 0.35)),
    "regen-valve.stuck-open": (("fast-but-weak", 0.5),),
    "spool.short-stroke": (("sticks-after-standing", 0.3),),
    "spool.off-centre": (("drift-only-engine-running", 0.6),),
    "port-relief.leaking": (("hot-port-valve", 0.3),),
    "make-up-check.leaking": (("hot-port-valve", 0.15),),
    "holding-valve.held-open": (("drift-only-engine-running", 0.35), ("boom-falls", 0.2)),
    "holding-valve.not-opening": (("jerky-motion", 0.35),),
    "cylinder.seal-leak": (("warm-tube", 0.25),),
    "cylinder.scored-barrel": (("warm-tube", 0.2), ("jerky-motion", 0.15)),
    "cylinder.binding": (("squeal-at-pins", 0.5), ("jerky-motion", 0.15)),
    "swing-motor.worn": (("swing-runs-on", 0.35), ("metal-in-drain-filter", 0.08)),
    "swing-relief.leaking": (("swing-runs-on", 0.25),),
    "swing-make-up.leaking": (("swing-runs-on", 0.25),),
    "travel-motor.worn": (("metal-in-drain-filter", 0.12), ("hot-hub", 0.12)),
    "travel-shift.stuck-high": (("fast-but-weak", 0.4),),
    "travel-brake.dragging": (("hot-hub", 0.65),),
    "final-drive.damaged": (("final-drive-grind", 0.5), ("hot-hub", 0.5), ("metal-in-gear-oil", 0.45)),
    "counterbalance.sticking": (("runs-ahead-downhill", 0.4),),
    "track.too-tight": (("track-too-tight", 0.55),),
    "swivel.cross-leak": (("changes-with-slew-angle", 0.4),),
    "load-shuttle.stuck": (("faster-with-second-function", 0.4),),
    "section-compensator.stuck": (("jerky-motion", 0.35),),
    "load-signal.lost": (("engine-barely-loaded", 0.35),),
    "steering-unit.worn": (("steering-slips", 0.5),),
    "steering-relief.leaking": (("steering-slips", 0.25),),
}
ASTRAY: Final = 0.006
"""chance of a look that a sign is reported which nothing here causes"""
_BY_SIDE: Final = ("hot-hub", "final-drive-grind", "metal-in-gear-oil", "track-too-tight", "runs-ahead-downhill")
_BY_PART: Final = ("warm-tube", "squeal-at-pins", "hot-port-valve", "pump-knock", "pump-rattle")
_LOADER_LACKS: Final = (*_BY_SIDE, "swing-runs-on", "changes-with-slew-angle", "boom-falls")


def signs(truths: Sequence[Key], machine: Machine, dead: bool, rng: Rng) -> list[dict[str, Any]]:
    """Signs on the sheet: what is there and was looked for, what was looked for in vain, seldom a mistaken one.

    That a machine is dead nobody overlooks, and nearly everybody writes it down.
    """
    attention = float(rng.uniform(0.15, 0.85))
    written: dict[str, dict[str, Any]] = {}
    there = {}
    for cause, part in truths:
        for sign, chance in SIGNS.get(cause, ()):
            if rng.random() < chance:
                there[sign] = part
    for sign, part in there.items():
        if rng.random() < attention:
            written[sign] = {"test": "sign", "sign": sign, "seen": True, **_where(sign, part, rng)}
    if dead and rng.random() < 0.9:
        written["nothing-moves"] = {"test": "sign", "sign": "nothing-moves", "seen": True}
    names = sorted({sign for some in SIGNS.values() for sign, _ in some})
    names = [name for name in names if machine.layout.tracks or name not in _LOADER_LACKS]
    names = [name for name in names if machine.steering is not None or name != "steering-slips"]
    for name in names:
        if name not in there and rng.random() < 0.12 * attention:
            astray = rng.random() < ASTRAY
            side = {"side": str(rng.choice(["left", "right"]))} if name in _BY_SIDE else {}
            written[name] = {"test": "sign", "sign": name, "seen": bool(astray), **(side if astray else {})}
    return list(written.values())


def _where(sign: str, part: str, rng: Rng) -> dict[str, str]:
    if sign in _BY_SIDE:
        return {"side": "left" if "left" in part else "right"}
    if sign in _BY_PART and rng.random() < 0.7:
        return {"part": part}
    return {}


def codes(truths: Sequence[Key], machine: Machine, known: dict[str, Any], rng: Rng) -> list[dict[str, Any]]:
    """Codes that the display shows, on a machine that has any: half of the faults of a coded part set theirs."""
    found = []
    for part, code in CODES.items():
        if code not in known:
            continue
        cause = any(part == own or (part.startswith("pressure-sensor") and own == "both") for _, own in truths)
        if rng.random() < (0.45 if cause else 0.008):
            spn, fmi = code.split("-")
            active = bool(cause or rng.random() < 0.4)
            found.append({"test": "code", "spn": int(spn), "fmi": int(fmi), "active": active})
    return found
