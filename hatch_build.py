"""Build hook of the wheel: reads kb/ once, with the package's own reader, and ships it as one file that loads faster.

An installed oilpath without kb/compiled.json, or one in a checkout, reads the YAML itself.
"""

import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class CompileKnowledge(BuildHookInterface[Any]):
    """Adds `oilpath/kb/compiled.json` to a wheel; the source tree stays untouched."""

    PLUGIN_NAME = "custom"
    _scratch: Path | None = None

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Compile before the wheel is written. Problems in kb/ stop the build."""
        if version == "editable":  # kb/ is edited and read in place
            return
        root = Path(self.root)
        if not (root / "engine/oilpath/knowledge/compile.py").is_file():
            return
        sys.path.insert(0, str(root / "engine"))
        try:
            from oilpath.knowledge.compile import compile_knowledge, sealed
        finally:
            sys.path.pop(0)
        self._scratch = Path(tempfile.mkdtemp(prefix="oilpath-kb-"))
        compiled = self._scratch / "compiled.json"
        compiled.write_bytes(sealed(compile_knowledge(root / "kb")))
        build_data["force_include"][str(compiled)] = "oilpath/kb/compiled.json"

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        """Remove the scratch folder."""
        if self._scratch is not None:
            shutil.rmtree(self._scratch)
