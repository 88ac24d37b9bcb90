"""A sheet's plain data as the text of a file, and the paths in it from another folder."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from oilpath.documents.emit import emitted


def sheet_text(data: Mapping[str, Any]) -> str:
    """The YAML of a sheet: a key a line, a reading a line. Raises ValueError for what a file cannot hold."""
    kind = {"oilpath": data["oilpath"]} if "oilpath" in data else {}
    lines = [f"{emitted(key)}: {emitted(value)}" for key, value in {**kind, **data}.items() if key != "readings"]
    readings = data.get("readings") or []
    lines.append("readings:" if readings else "readings: []")
    lines += [f"  - {emitted(reading)}" for reading in readings]
    return "\n".join(lines) + "\n"


def from_folder(data: Mapping[str, Any], old: Path, new: Path) -> dict[str, Any]:
    """The same sheet in another folder: the files that it names, as far as they are there, by their paths from it."""
    if os.path.realpath(old) == os.path.realpath(new):
        return dict(data)

    def moved(name: Any) -> Any:
        if isinstance(name, list):
            return [moved(one) for one in name]
        if not isinstance(name, str) or os.path.isabs(name) or not os.path.isfile(old / name):
            return name
        return Path(os.path.relpath(old / name, new)).as_posix()

    made = {key: moved(value) if key in ("machine", "baseline", "sister") else value for key, value in data.items()}
    for key in ("confirmed", "remedies"):
        if isinstance(made.get(key), list):
            made[key] = [
                {**one, "after": moved(one["after"])} if isinstance(one, dict) and "after" in one else one
                for one in made[key]
            ]
    return made


def document_text(data: Mapping[str, Any]) -> str:
    """The YAML of a machine or a sheet: a key a line, an entry of a list of mappings a line.

    Raises ValueError for what a file cannot hold.
    """
    lines = []
    for key, value in data.items():
        if isinstance(value, list) and value and all(isinstance(one, Mapping) for one in value):
            lines += [f"{emitted(key)}:", *(f"  - {emitted(one)}" for one in value)]
        else:
            lines.append(f"{emitted(key)}: {emitted(value)}")
    return "\n".join(lines) + "\n" if lines else "{}\n"
