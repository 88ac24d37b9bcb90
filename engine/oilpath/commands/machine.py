"""`oilpath machine`: a machine file made and looked over."""

from __future__ import annotations

from oilpath.commands import options

_HOMES = {name: f"oilpath.commands.machine_{name}" for name in ("new", "check")}

command = options.Group(
    "machine",
    help="Make a machine file, check it.",
    homes=_HOMES,
    examples=("oilpath machine new two-pump-excavator --output mine.yaml", "oilpath machine check machine.yaml"),
)
