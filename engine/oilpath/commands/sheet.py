"""`oilpath sheet`: a test sheet made, filled in, looked over, and turned into other forms."""

from __future__ import annotations

from oilpath.commands import options

_HOMES = {name: f"oilpath.commands.sheet_{name}" for name in ("new", "check", "fill", "import", "export", "form")}

command = options.Group(
    "sheet",
    help="Make a test sheet, fill it in, check it.",
    homes=_HOMES,
    examples=("oilpath sheet fill machine.yaml --output today.yaml", "oilpath sheet check sheet.yaml"),
)
