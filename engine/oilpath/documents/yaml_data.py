"""YAML nodes as plain data with places: text exactly as written where a text belongs."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

from oilpath.documents.location import KeyPath, Location, SourceFile
from oilpath.documents.nodes import Node
from oilpath.documents.shelves import DISK, Shelf
from oilpath.knowledge.fields import TEXT_KEYS
from oilpath.problems import Problems, key_text


class YamlPlaces:
    """Lines of a YAML file, looked up when a problem asks for one."""

    def __init__(self, top: Node) -> None:
        self._top = top

    def line(self, path: KeyPath) -> int:
        node, line = self._top, self._top.line if path else 1
        for step in path:
            if isinstance(step, str) and isinstance(node.value, dict) and step in node.value:
                line, node = node.key_lines[step], cast("Node", node.value[step])
            elif isinstance(step, int) and isinstance(node.value, list) and step < len(node.value):
                node = cast("Node", node.value[step])
                line = node.line
            else:
                break
        return line

    def key(self, path: KeyPath) -> str:
        return key_text(path)


def value_of(node: Node, as_text: bool = False) -> Any:
    """The data of a node: a number or true under a key of `TEXT_KEYS`, or in a list there, as it was written."""
    value = node.value
    if isinstance(value, dict):
        return {key: value_of(cast("Node", one), key in TEXT_KEYS) for key, one in value.items()}
    if isinstance(value, list):
        return [value_of(cast("Node", one), as_text and not isinstance(one.value, list)) for one in value]
    return node.raw if as_text and value is not None else value


def top_of(
    node: Node, shown: str, folder: Path, problems: Problems, path: Path | None = None, shelf: Shelf = DISK
) -> Location:
    """The whole of a YAML file as a location."""
    return Location(SourceFile(shown, folder, problems, YamlPlaces(node), path, shelf), value_of(node))
