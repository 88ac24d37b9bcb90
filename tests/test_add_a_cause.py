"""The guide docs/add-a-cause.md, done as it stands: its commands typed, its files put in, in the order of the page."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest

from tests.running import Ran, Run, in_process

ROOT = Path(__file__).resolve().parents[1]
GUIDE = ROOT / "docs/add-a-cause.md"
CAUSE, PART = "coupling.half-open", "bucket-cap-hose"

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not GUIDE.is_file(), reason="the guide is that of a checkout"),
]


def blocks() -> list[tuple[str, str]]:
    """(`sh`, commands) or (name of a file, its text), in order."""
    found = re.findall(r"(?ms)^```(sh|yaml)\n(?:# (\S+\.yaml)\n)?(.*?)^```$", GUIDE.read_text(encoding="utf-8"))
    return [(name or kind, text) for kind, name, text in found]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("OILPATH_KB", raising=False)
    return in_process(monkeypatch, capsys)


def test_the_page_from_top_to_bottom(run: Run) -> None:
    done: dict[str, list[Ran]] = {}
    skeletons: set[str] = set()
    for name, text in blocks():
        if name != "sh":
            path = Path(name)
            path.parent.mkdir(parents=True, exist_ok=True)
            if name.startswith(("my-kb/causes", "my-kb/signs", "my-kb/rules")):
                assert name in skeletons, f"{name} is not a file that a command of the page has made"
                assert name not in {str(path) for path in Path("my-kb").rglob("*.yaml")} - skeletons
            path.write_text(text, encoding="utf-8")
            continue
        for line in text.splitlines():
            words = shlex.split(line)
            assert words.pop(0) == "oilpath"
            ran = run(*words)
            done.setdefault(" ".join(words[:2]), []).append(ran)
            skeletons |= set(re.findall(r"Wrote (\S+\.yaml)\.", ran.out))
    assert [ran.status for ran in done["kb new"]] == [0, 0, 0, 0]
    first, last = done["kb check"]
    assert first.status == 1
    said = " ".join(first.out.split())
    assert f"{CAUSE}: readings show it, and no rule suspects it" in said
    assert "its readings fire cylinder-slow-both-ways" in said
    assert (last.status, last.out.splitlines()[-1][:20]) == (0, "my-kb is in order; 1"), last.out
    (answer,) = done["diagnose --kb"]
    assert "Cause Quick coupling half open in the bucket hose at the cap end" in " ".join(answer.out.split())
    (why,) = done["why --kb"]
    assert "(coupling-slows)" in " ".join(why.out.split())
    assert "(sign-ring-not-home)" in " ".join(why.out.split())


def test_the_example_is_found_by_readings_and_sign_and_by_nothing_else(run: Run) -> None:
    for name, text in blocks():
        if name != "sh":
            Path(name).parent.mkdir(parents=True, exist_ok=True)
            Path(name).write_text(text, encoding="utf-8")
    first = json.loads(run("diagnose", "--kb", "my-kb", "sheet.yaml", "--format", "json").out)["causes"][0]
    assert (first["cause"], first["part"]) == (CAUSE, PART)
    plain = run("diagnose", "sheet.yaml", "--format", "json")
    assert plain.status == 2
    assert "sheet.yaml:2: machine: `pit-07` is not a file that exists" in plain.err


def test_what_the_page_says_is_good_to_know(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    assert run(*["kb", "new", "cause", "pump.worn", "--like", "pump.worn", "--kb", "my-kb"]).status == 0
    assert run(*["kb", "new", "check", "pin-look", "--kb", "my-kb"]).status == 0
    Path("my-kb/checks/pin-look.yaml").unlink()
    ran = run("kb", "check", "--kb", "my-kb")
    assert ran.status == 0, ran.out
    assert "pump.worn: replaces the cause of this id" in ran.out
    monkeypatch.setenv("OILPATH_KB", "my-kb")
    assert run("kb", "check").out == ran.out
