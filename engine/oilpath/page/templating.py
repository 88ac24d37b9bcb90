"""The templates of the pages, and the files that go with them: style, scripts, icon."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import cached_property
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

from oilpath.page.visit import address
from oilpath.records import dataclass
from oilpath.reports.drawing import STYLE

if TYPE_CHECKING:
    from oilpath.page.visit import Visit

_TYPES: Final = {
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "webmanifest": "application/manifest+json",
}


@dataclass(frozen=True, slots=True)
class Asset:
    """A file that pages load: its bytes, its media type, and a mark that changes with it."""

    content: bytes
    media_type: str
    mark: str


class Templates:
    """Renders pages."""

    def __init__(self) -> None:
        self._host = Environment(
            loader=ChoiceLoader([PackageLoader("oilpath.page"), PackageLoader("oilpath.reports")]),
            autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
        )  # fmt: skip
        self._host.globals |= {"address": address, "asset": self.asset_address}

    def render(self, template: str, visit: Visit, values: Mapping[str, Any]) -> str:
        """A page for a visit."""
        return self._host.get_template(template).render(visit=visit, **values)

    @cached_property
    def assets(self) -> Mapping[str, Asset]:
        """All files that pages load, by name."""
        found: dict[str, Asset] = {}
        for path in files("oilpath.page").joinpath("static").iterdir():
            kind = _TYPES.get(path.name.rpartition(".")[2])
            if kind is not None:
                content = path.read_bytes()
                if path.name == "page.css":
                    content += STYLE.encode()
                found[path.name] = Asset(content, kind, hashlib.sha256(content).hexdigest()[:12])
        return found

    def asset_address(self, name: str) -> str:
        """The address of a file that pages load; it changes with the file, so a browser may keep what it has."""
        return f"/static/{name}?{self.assets[name].mark}"
