"""The wheel holds the package and its data, no more and no less, and runs on its declared dependencies alone."""

import email
import importlib.metadata
import os
import shutil
import subprocess
import sys
import tarfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

import oilpath

CHECKOUT = Path(__file__).resolve().parents[1]
COMPILED = "oilpath/kb/compiled.json"
DATA = ("oilpath/kb/", "oilpath/cases/")
START = "import sys; sys.argv[0] = 'oilpath'; from oilpath.cli import main; sys.exit(main())"

pytestmark = [
    pytest.mark.slow,
    # One worker builds the wheel for all of them.
    pytest.mark.xdist_group("packaging"),
]


def files_in_git(*folders: str) -> set[str]:
    """What git holds, or would hold after `git add`, of these folders."""
    if shutil.which("git") is None or not (CHECKOUT / ".git").exists():
        pytest.skip("compares with git's list of files: needs git and a clone")
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard", *folders],
        cwd=CHECKOUT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    return {name for name in listed.split("\0") if name and (CHECKOUT / name).is_file()}


def build(target: str, source: Path, into: Path) -> Path:
    """Build with the hatchling that is installed here, so that no network is needed."""
    done = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", target, "-d", str(into)],
        cwd=source,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    (built,) = into.iterdir()
    return built


@pytest.fixture(scope="module")
def sdist(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The source archive of this checkout, unpacked."""
    archive = build("sdist", CHECKOUT, tmp_path_factory.mktemp("sdist"))
    unpacked = tmp_path_factory.mktemp("source")
    with tarfile.open(archive) as tar:
        if hasattr(tarfile, "data_filter"):
            tar.extractall(unpacked, filter="data")
        else:  # an early 3.11
            tar.extractall(unpacked)
    (root,) = unpacked.iterdir()
    return root


@pytest.fixture(scope="module")
def wheel(sdist: Path, tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    """The wheel, built from the source archive as an installer would."""
    return zipfile.ZipFile(build("wheel", sdist, tmp_path_factory.mktemp("wheel")))


def test_the_wheel_holds_just_the_data_that_git_holds(wheel: zipfile.ZipFile) -> None:
    held = {
        name.removeprefix("oilpath/") for name in wheel.namelist() if name.startswith(("oilpath/kb/", "oilpath/cases/"))
    }
    assert held - {"kb/compiled.json"} == files_in_git("kb", "cases")
    for name in sorted(held - {"kb/compiled.json"}):
        assert wheel.read(f"oilpath/{name}") == (CHECKOUT / name).read_bytes(), name


def test_the_wheel_holds_just_the_package(wheel: zipfile.ZipFile) -> None:
    rest = {name for name in wheel.namelist() if not name.startswith(DATA)}
    modules = {f"engine/{name}" for name in rest if ".dist-info/" not in name}
    assert modules == files_in_git("engine")
    assert "engine/oilpath/py.typed" in modules
    assert any(name.endswith("licenses/LICENSE") for name in rest)


def test_the_knowledge_base_is_compiled_into_the_wheel(wheel: zipfile.ZipFile) -> None:
    from oilpath.knowledge.compile import compile_knowledge, sealed

    assert wheel.read(COMPILED) == sealed(compile_knowledge(CHECKOUT / "kb"))


def test_the_source_archive_can_test_itself(sdist: Path) -> None:
    for name in ("tests/conftest.py", "Makefile", "scripts/setup.sh", "README.md", "DEVELOPERS.md", "CHANGELOG.md"):
        assert (sdist / name).is_file(), name


def runtime_requirements(wheel: zipfile.ZipFile) -> list[Requirement]:
    (metadata,) = (name for name in wheel.namelist() if name.endswith(".dist-info/METADATA"))
    lines = email.message_from_bytes(wheel.read(metadata)).get_all("Requires-Dist", [])
    return [need for line in lines if (need := Requirement(line)).marker is None or need.marker.evaluate({"extra": ""})]


def distributions(needs: list[Requirement]) -> Iterator[importlib.metadata.Distribution]:
    """These requirements as they are installed here, with all that they require in turn."""
    seen: set[tuple[str, str]] = set()
    waiting = [(need.name, extra) for need in needs for extra in ("", *need.extras)]
    while waiting:
        name, extra = waiting.pop()
        if (canonicalize_name(name), extra) in seen:
            continue
        seen.add((canonicalize_name(name), extra))
        dist = importlib.metadata.distribution(name)
        yield dist
        for line in dist.requires or ():
            need = Requirement(line)
            if need.marker is None or need.marker.evaluate({"extra": extra}):
                waiting += [(need.name, more) for more in ("", *need.extras)]


@pytest.fixture(scope="module")
def installed(wheel: zipfile.ZipFile, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the wheel and links to its run-time dependencies: what `pip install` of the wheel would give."""
    site = tmp_path_factory.mktemp("site")
    wheel.extractall(site)
    for dist in distributions(runtime_requirements(wheel)):
        for top in sorted({file.parts[0] for file in dist.files or ()} - {"..", "__pycache__"}):
            if not (site / top).exists():
                (site / top).symlink_to(Path(str(dist.locate_file(top))))
    return site


def run_installed(site: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run `oilpath` from that folder: -S leaves out this environment's own packages, the folder is no checkout."""
    return subprocess.run(
        [sys.executable, "-W", "error", "-S", "-c", START, *arguments],
        cwd=site.parent,
        env={"PYTHONPATH": str(site), "PYTHONDONTWRITEBYTECODE": "1", "PATH": os.defpath, "HOME": str(site.parent)},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def run_from_checkout(*arguments: str) -> str:
    """The same command from this checkout and its environment: it must answer the same."""
    return subprocess.run(
        [sys.executable, "-c", START, *arguments],
        cwd=CHECKOUT,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
        env={**os.environ, "PYTHONPATH": str(CHECKOUT / "engine")},
    ).stdout


def test_no_development_dependency_is_beside_the_installed_wheel(installed: Path) -> None:
    beside = {path.name for path in installed.iterdir()}
    assert {"oilpath", "numpy", "durable"} <= beside
    assert not beside & {"pytest", "hypothesis", "mypy", "ruff", "hatchling"}


def test_version_from_the_wheel(installed: Path) -> None:
    done = run_installed(installed, "--version")
    assert (done.returncode, done.stderr) == (0, "")
    assert oilpath.__version__ in done.stdout


def test_demo_from_the_wheel_outside_the_checkout(installed: Path) -> None:
    done = run_installed(installed, "demo")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == run_from_checkout("demo")
    assert len(done.stdout.splitlines()) > 10
