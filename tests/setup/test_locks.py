"""The locks pin all that pyproject.toml asks for, with hashes, and name no server.

Read with `packaging`, the library that pip reads requirements with.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).resolve().parents[2]
PROJECT: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
STALE = "run: make lock KEEP=1"
# What setup.sh installs for each: the dependency groups beyond the package's own dependencies.
GROUPS = {"run": (), "lowest": (), "page": (), "test": ("test",), "peers": ("build", "test", "peers")}
EXTRAS = {"page": ("page",), "test": ("page",), "peers": ("page",)}
LOCKS = ("build", *GROUPS)
PYTHONS = ("3.11", "3.12", "3.13")
PLATFORMS = ("linux", "darwin", "win32")


def pinned(name: str) -> list[tuple[Requirement, list[str]]]:
    """The pins of a lock, each with its hashes."""
    text = (ROOT / "locks" / f"{name}.txt").read_text(encoding="utf-8").replace("\\\n", " ")
    pins = []
    for line in text.splitlines():
        if line.strip() and not line.lstrip().startswith("#"):
            need, *hashes = line.split("--hash=")
            pins.append((Requirement(need.strip()), [value.strip() for value in hashes]))
    return pins


def versions(name: str, python: str, platform: str) -> dict[str, Version]:
    """What a lock installs on that system. AssertionError if it pins a name twice there."""
    system = {key: str(value) for key, value in default_environment().items()}
    system |= {"python_version": python, "python_full_version": f"{python}.0", "sys_platform": platform}
    system |= {"platform_python_implementation": "CPython", "implementation_name": "cpython"}
    found: dict[str, Version] = {}
    for need, _ in pinned(name):
        if need.marker is None or need.marker.evaluate(system):
            key = canonicalize_name(need.name)
            assert key not in found, f"{name}: {key} twice"
            (exactly,) = need.specifier
            found[key] = Version(exactly.version)
    return found


def group(name: str) -> Iterator[Requirement]:
    for entry in PROJECT["dependency-groups"][name]:
        if isinstance(entry, dict):
            yield from group(entry["include-group"])
        else:
            yield Requirement(entry)


def asked(lock: str) -> list[Requirement]:
    """What pyproject.toml asks of that lock."""
    if lock == "build":
        return list(group("build"))
    needs = [Requirement(line) for line in PROJECT["project"]["dependencies"]]
    more = [
        Requirement(line) for name in EXTRAS.get(lock, ()) for line in PROJECT["project"]["optional-dependencies"][name]
    ]
    return needs + more + [need for name in GROUPS[lock] for need in group(name)]


@pytest.mark.parametrize("name", LOCKS)
def test_every_pin_is_exact_and_has_hashes(name: str) -> None:
    pins = pinned(name)
    assert pins
    for need, hashes in pins:
        assert [part.operator for part in need.specifier] == ["=="], need
        assert hashes, need
        assert all(re.fullmatch(r"sha256:[0-9a-f]{64}", value) for value in hashes), need


@pytest.mark.parametrize("name", LOCKS)
def test_no_server_and_no_folder_is_named(name: str) -> None:
    text = (ROOT / "locks" / f"{name}.txt").read_text(encoding="utf-8")
    assert "://" not in text
    assert re.findall(r"(?m)^\s*--(?!hash)\S*", text) == []
    assert re.findall(r"(?m)(?<=\s)/\S+", text) == []


@pytest.mark.parametrize("platform", PLATFORMS)
@pytest.mark.parametrize("python", PYTHONS)
@pytest.mark.parametrize("name", LOCKS)
def test_all_that_is_asked_for_is_pinned(name: str, python: str, platform: str) -> None:
    have = versions(name, python, platform)
    for need in asked(name):
        key = canonicalize_name(need.name)
        assert key in have, f"{need.name} is missing from locks/{name}.txt; {STALE}"
        assert need.specifier.contains(have[key], prereleases=True), f"{need} but {have[key]} in {name}; {STALE}"


@pytest.mark.parametrize("name", [name for name in LOCKS if name not in ("peers", "lowest")])
def test_all_locks_agree_with_the_largest(name: str) -> None:
    """So the demo, the tests and the comparisons run the same versions, and one environment can serve them all."""
    for python in PYTHONS:
        largest = versions("peers", python, "linux")
        for key, version in versions(name, python, "linux").items():
            assert largest[key] == version, f"{key}; {STALE}"


def test_the_lowest_lock_holds_the_lower_bounds() -> None:
    have = versions("lowest", "3.11", "linux")
    for need in asked("lowest"):
        (bound,) = (part.version for part in need.specifier if part.operator == ">=")
        assert have[canonicalize_name(need.name)] == Version(bound), f"{need}; {STALE}"


def test_the_build_is_pinned_too() -> None:
    """oilpath itself and durable-rules are built without an environment of the builder's own choosing."""
    have = versions("build", "3.11", "linux") | versions("run", "3.11", "linux")
    for line in PROJECT["build-system"]["requires"]:
        need = Requirement(line)
        assert need.specifier.contains(have[canonicalize_name(need.name)])
