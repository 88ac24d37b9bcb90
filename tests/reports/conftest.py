"""Golden files: plain text in `golden/`, compared byte for byte; OILPATH_UPDATE_GOLDEN=1 writes them anew."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

GOLDEN = Path(__file__).parent / "golden"


@pytest.fixture
def golden() -> Callable[[str, str], None]:
    """golden(name, text): the text is what the file holds."""

    def compare(name: str, text: str) -> None:
        file = GOLDEN / name
        if os.environ.get("OILPATH_UPDATE_GOLDEN") == "1":
            file.write_text(text, encoding="utf-8")
        assert text == file.read_text(encoding="utf-8"), f"{name} differs; OILPATH_UPDATE_GOLDEN=1 writes it anew"

    return compare
