"""Every text that people see is found by scripts/texts.py, for whoever translates it.

A package is built whose texts have accents on their vowels, and commands are run in it. Whatever comes out without
accents was not found: but for names, words of the file formats and of the shell, that must be nothing.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from oilpath.knowledge.compile import load_knowledge

ROOT = Path(__file__).parents[2]
SCRIPTS = ROOT / "scripts"
pytestmark = pytest.mark.skipif(not (SCRIPTS / "texts.py").is_file(), reason="scripts are those of a checkout")
ACCENTS = str.maketrans("aeiouAEIOU", "åéíöüÅÉÍÖÜ")
#: What stays as it is within a text: what is put in, what is typed.
HELD = re.compile(r"(\{[^}]*\}|`[^`]*`|oilpath [\w -]+|\$\w+)")
COMMANDS = (
    "diagnose sheet.yaml", "diagnose sheet.yaml --format html", "order sheet.yaml --for customer",
    "order sheet.yaml --parts", "next sheet.yaml", "prepare machine.yaml", "explore pump.worn",
    "why sheet.yaml drift/boom-cylinder", "diagnose --help", "sheet check wrong.yaml", "sheet form machine.yaml",
    "practice --seed 7", "sheet fill machine.yaml --output new.yaml",
)  # fmt: skip
#: Words that stand in the code alone and in small letters, as names do; words of the formats; headings of click's help,
#: which has a translation of its own.
KNOWN = {
    "without", "limit", "sheet", "yaml", "oilpath", "machine", "outcome", "text", "false", "true", "seen", "moved",
    "unit", "test", "json", "html", "file", "number", "spn", "fmi", "per", "all", "letter", "from", "dot", "jsonl",
    "markdown", "plan", "reduced", "knowledge", "usage", "options", "timber",
}  # fmt: skip


@pytest.fixture(scope="module")
def texts() -> Iterator[object]:
    sys.path.insert(0, str(SCRIPTS))
    try:
        import texts  # type: ignore[import-not-found]

        yield texts
    finally:
        sys.path.remove(str(SCRIPTS))


def accented(_context: str, text: str, _place: str) -> str:
    return "".join(one if n % 2 else one.translate(ACCENTS) for n, one in enumerate(HELD.split(text)))


def said_in(folder: Path) -> str:
    """What the commands say in the package that was built."""
    code = (
        "import io, sys\nfrom oilpath import cli\n"
        "for line in sys.argv[1:]:\n"
        "    sys.stdin = io.TextIOWrapper(io.BytesIO(b''))\n"
        "    cli.run(line.split()); print()\n"
    )
    environment = {**os.environ, "PYTHONPATH": str(folder), "COLUMNS": "80", "XDG_CACHE_HOME": str(folder / "cache")}
    done = subprocess.run(
        [sys.executable, "-c", code, *COMMANDS],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
    )
    return done.stdout + done.stderr


def names() -> set[str]:
    """The words of all ids of the knowledge base, which files and commands are written with."""
    found: set[str] = set()

    def walk(value: object) -> None:
        if isinstance(value, dict):
            for key, held in value.items():
                found.update(re.findall(r"[a-z]+", str(key)))
                walk(held)
        elif isinstance(value, list):
            for held in value:
                walk(held)
        elif isinstance(value, str) and re.fullmatch(r"[a-z0-9./@-]+", value):
            found.update(re.findall(r"[a-z]+", value))

    walk(load_knowledge().model_dump(mode="json", by_alias=True))
    return found


def test_no_text_is_missed(texts: object, tmp_path: Path) -> None:
    texts.build(tmp_path, accented)  # type: ignore[attr-defined]
    cases = ROOT / "cases"
    (tmp_path / "machine.yaml").write_bytes((cases / "machines/trainer-22t.yaml").read_bytes())
    sheet = (cases / "demo/boom-drift.yaml").read_text(encoding="utf-8")
    sheet = re.sub(r"(?m)^machine: .*$", "machine: machine.yaml", sheet)
    (tmp_path / "sheet.yaml").write_text(sheet, encoding="utf-8")
    (tmp_path / "wrong.yaml").write_text(
        "oilpath: sheet/1\nmachine: machine.yaml\nhours: many\nreadings:\n  - {test: sign, sign: nothing-such}\n"
        "  - {test: pilot-pressure, pressure: 3.9}\n",
        encoding="utf-8",
    )
    said = said_in(tmp_path)
    plain = re.sub(r"(?s)<style.*?</style>|<[^>]*>|`[^`]*`|\{[^}]*\}|--?[a-z-]+|oilpath [\w .-]+", " ", said)
    words = {word.lower() for word in re.findall(r"\b[A-Za-z]{3,}\b", plain) if re.search("[aeiouAEIOU]", word)}
    machine = (tmp_path / "machine.yaml").read_text(encoding="utf-8")
    typed = set(re.findall(r"[a-z]+", " ".join((*COMMANDS, sheet, machine)).lower()))
    assert len(re.findall("[åéíöü]", said)) > 10_000
    missed = sorted(words - names() - typed - KNOWN)
    assert not missed, "not found by scripts/texts.py, or names for KNOWN: " + ", ".join(missed)


def test_the_template_has_texts_of_code_with_places_and_of_the_knowledge_base_by_key(texts: object) -> None:
    found = texts.all_texts()  # type: ignore[attr-defined]
    assert found[("", "Nothing was measured.")] == [
        one for one in found[("", "Nothing was measured.")] if ".py:" in one
    ]
    assert any(context == "signs boom-falls stop-use" for context, _ in found)
    assert any(context.startswith("causes pump.worn mechanism") for context, _ in found)
    assert any(place[0].endswith("templates/home.html") for place in found.values())
    assert "Judge the readings of test sheets" in " ".join(text for _, text in found)
