"""The package finds its data as installed and as a checkout, and says so where it cannot."""

from pathlib import Path
from typing import get_args

import pytest

from oilpath import data


def lay(root: Path, *files: str) -> None:
    for name in files:
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("x", encoding="utf-8")


@pytest.fixture
def package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A package folder of our own, two levels below where a checkout keeps its data."""
    folder = tmp_path / "engine" / "oilpath"
    folder.mkdir(parents=True)
    monkeypatch.setattr(data, "_PACKAGE", folder)
    return folder


@pytest.mark.parametrize("kind", get_args(data.Kind))
def test_the_checkout_has_its_data(kind: data.Kind) -> None:
    assert data.data_folder(kind) == Path(__file__).resolve().parents[1] / kind


def test_data_inside_the_package_is_taken_first(package: Path, tmp_path: Path) -> None:
    lay(tmp_path, "kb/README.md", "engine/oilpath/kb/README.md")
    assert data.data_folder("kb") == package / "kb"


def test_a_folder_without_the_marker_is_not_taken(package: Path, tmp_path: Path) -> None:
    lay(tmp_path, "cases/README.md", "engine/oilpath/cases/something-else.yaml")
    assert data.data_folder("cases") == tmp_path / "cases"


def test_lost_data_is_an_error_that_names_both_places(package: Path, tmp_path: Path) -> None:
    with pytest.raises(data.DataNotFound) as caught:
        data.data_folder("kb")
    assert str(package / "kb" / "README.md") in str(caught.value)
    assert str(tmp_path / "kb" / "README.md") in str(caught.value)
