"""Kinds of causes that no reading of a sheet could ever tell apart, counted as one when the cause itself is scored.

Each line says why. Places are never merged but where it says so: which pump, side or movement is always asked for.
"""

from __future__ import annotations

from typing import Final

from oilpath.lab.family.faults import Key

ALIKE: Final[tuple[tuple[str, tuple[str, ...], str], ...]] = (
    ("pump that leaks inside", ("pump.worn", "pump.damaged"), "both lose oil inside the same pump; opening it tells"),
    (
        "intake short of oil", ("tank.low-level", "suction.restricted", "suction.air-leak", "breather.blocked"),
        "all leave the pumps' chambers partly empty; a look, a vacuum gauge or grease on the joints tells",
    ),
    (
        "piston that leaks", ("cylinder.seal-leak", "cylinder.scored-barrel"),
        "oil passes the same piston; taking it apart tells",
    ),
    (
        "pump asked for too little", ("flow-signal.no-demand", "flow-signal.weak-demand"),
        "one fault in two degrees",
    ),
    ("hub that drags", ("travel-brake.dragging", "final-drive.damaged"), "friction and heat at the same shaft"),
    ("swing that drags", ("swing-brake.dragging", "swing-gear.dragging"), "friction and heat at the same shaft"),
)  # fmt: skip
"""name, kinds of causes, why no reading tells them apart"""

PAIRED_PLACES: Final = {"boom-cylinder", "lift-cylinder", "steering-cylinder"}
"""pairs of cylinders that share their oil: which of the two leaks shows only once each is shut off"""
_CLASS: Final = {cause: name for name, causes, _ in ALIKE for cause in causes}
#: Classes whose kinds stand at parts of different names that are one place anyway.
_PLACE: Final = {"intake short of oil": "intake", "swing that drags": "swing"}


def merged(cause: str, part: str) -> Key:
    """The kind and place under which a cause is counted."""
    kind = _CLASS.get(cause, cause)
    if kind in _PLACE:
        return kind, _PLACE[kind]
    if kind == "hub that drags":
        return kind, "left" if "left" in part else "right"
    for pair in PAIRED_PLACES:
        if part in (pair, f"{pair}-left", f"{pair}-right"):
            return kind, pair
    return kind, part


def same(cause: str, part: str, true: Key) -> bool:
    """Whether an answer names the truth. Kinds that no reading can tell apart count as one."""
    if true[0] == "pressure-sensor.offset" and true[1] == "both":  # one gauge for both pumps: any name of it is right
        return cause == "pressure-sensor.offset"
    return merged(cause, part) == merged(*true)
