"""Skeletons of `oilpath kb new`: every word that fits, nothing filled in, nothing written over."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml
from pydantic import BaseModel

from oilpath import load_knowledge
from oilpath.kbcheck import as_far_as_read, review_layers
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.layers import state_of
from oilpath.knowledge.skeletons import KINDS, OWN, USUAL_ID, Kind, skeleton, write_skeleton, wrong_id
from oilpath.problems import UnusableInput
from tests.running import Run, in_process


@pytest.fixture(scope="module")
def known() -> Knowledge:
    return load_knowledge()


@pytest.fixture(scope="module")
def rig(known: Knowledge) -> Knowledge:
    """What ships, for the one machine that is quick to simulate."""
    only = known.circuits["hydraulic-test-rig"].model_copy(update={"usual": True})
    return known.model_copy(update={"circuits": {only.id: only}})


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("OILPATH_KB", raising=False)
    return in_process(monkeypatch, capsys)


def comments(text: str) -> str:
    return " ".join(part.lstrip() for part in re.findall(r"#(.*)", text))


# --- the words that fit ---------------------------------------------------------------


def test_a_cause_is_given_every_class_check_and_parameter(known: Knowledge) -> None:
    path, text = skeleton("cause", "pin.dry", known)
    assert path == "causes/pin-dry.yaml"
    said = comments(text)
    classes = {part.class_ for circuit in known.circuits.values() for part in circuit.parts.values()}
    parameters = {one.parameter for cause in known.causes for one in cause.disturbs}
    for word in (*classes, *(check.check for check in known.checks), *parameters, "common", "occasional", "rare"):
        assert re.search(rf"(?<![\w-]){word}(?![\w-])", said), word


def test_a_rule_and_a_check_are_given_every_cause(known: Knowledge) -> None:
    kinds: tuple[Kind, ...] = ("rule", "check")
    for kind in kinds:
        said = comments(skeleton(kind, "own", known)[1])
        assert all(cause.cause in said for cause in known.causes)
    assert all(caution in comments(skeleton("check", "own", known)[1]) for caution in known.cautions)


@pytest.mark.parametrize("kind", KINDS)
def test_a_skeleton_is_yaml_with_every_key_that_must_be_there(kind: Kind, known: Knowledge, tmp_path: Path) -> None:
    """Left as it is every problem is that something is left empty; a key that lacks would be said to be missing."""
    write_skeleton(tmp_path, kind, USUAL_ID[kind], known)
    found = review_layers(known, [tmp_path]).findings
    assert len(found) >= 2
    assert {one.message for one in found} <= {"is left empty", "is empty"}


@pytest.mark.parametrize("kind", KINDS)
def test_a_skeleton_filled_in_is_in_order(kind: Kind, rig: Knowledge, tmp_path: Path) -> None:
    filled = {
        "cause": {
            "title:": "title: Worn {part}", "at: {class: }": "at: {class: load-valve}",
            "{parameter: , from: , to: }": "{parameter: none}", "frequency:": "frequency: rare",
            "mechanism:": "mechanism: Worn.", "signature:": "signature: A hiss.", "remedy:": "remedy: Exchange it.",
        },
        "sign": {"title:": "title: Hiss", "look:": "look: A steady hiss."},
        "rule": {
            "title:": "title: All slow", "kind: , of": "kind: all, of", "{cause: ,": "{cause: pump.worn,",
            "at: {group: $f}": "at: {class: main-pump}", "because:": "because: All is slow.", "says:": "says: a case",
        },
        "check": {
            "title:": 'title: "Look at {part}"', "at: {class: }": "at: {class: main-pump}", "minutes:": "minutes: 5",
            "intrusiveness:": "intrusiveness: 0", "tools: []": "tools: [lamp]", "how: []": "how: [Look.]",
            "good:": "good: clean", "bad:": "bad: worn", "causes: ,": "causes: pump.worn,",
        },
    }[kind]  # fmt: skip
    path = write_skeleton(tmp_path, kind, USUAL_ID[kind], rig)
    text = path.read_text(encoding="utf-8")
    for old, new in filled.items():
        pattern = rf"^( *(?:- )?){old}(?: \"\")?" if old.endswith(":") else rf"^([^#\n]*?){re.escape(old)}"
        text, times = re.subn(f"(?m){pattern}", rf"\g<1>{new}", text)  # a key stands first on its line
        assert times, old
    path.write_text(text, encoding="utf-8")
    found = [str(one) for one in review_layers(rig, [tmp_path]).findings]
    if kind == "cause":  # only a sign, a check or a code can bring up what no reading shows
        assert [one for one in found if "brings it up" not in one] == []
    elif kind == "rule":  # the cases are still to be said
        assert all("case" in one for one in found)
    else:
        assert found == []


@pytest.mark.parametrize(
    ("kind", "like"), [("cause", "pump.worn"), ("rule", "oil-hot"), ("check", "case-drain"), ("sign", "boom-falls")]
)
def test_like_another_is_that_entry_under_its_own_name(kind: Kind, like: str, known: Knowledge, tmp_path: Path) -> None:
    """Read again it is the entry itself, but for its id and its source."""
    name = "own.one" if kind == "cause" else "own-one"
    write_skeleton(tmp_path, kind, name, known, like)
    here: dict[str, BaseModel] = dict(state_of(load_knowledge(tmp_path))[kind])
    wanted: dict[str, object] = {**here[like].model_dump(), "source": OWN}
    if kind == "rule":  # its cases suspect what the new rule is to suspect
        wanted["fires"] = tuple({**case, "suspects": ()} for case in wanted["fires"])  # type: ignore[attr-defined]
    if kind != "sign":
        wanted["id" if kind == "rule" else kind] = name
    assert here[name].model_dump() == wanted


# --- writing --------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_written_over(kind: Kind, known: Knowledge, tmp_path: Path) -> None:
    path = write_skeleton(tmp_path, kind, USUAL_ID[kind], known)
    before = path.read_bytes()
    with pytest.raises(UnusableInput, match="is there already; nothing was written"):
        write_skeleton(tmp_path, kind, USUAL_ID[kind], known)
    assert path.read_bytes() == before


def test_a_sign_joins_the_signs_that_are_there(known: Knowledge, tmp_path: Path) -> None:
    path = tmp_path / "signs.yaml"
    first = "oilpath: signs/1\nsigns:\n  dry-pin: {title: Dry pin, look: No grease., source: own experience}  # ours"
    path.write_text(first, encoding="utf-8")
    write_skeleton(tmp_path, "sign", "wet-pin", known)
    text = path.read_text(encoding="utf-8")
    assert text.startswith(first + "\n")
    assert set(yaml.safe_load(text)["signs"]) == {"dry-pin", "wet-pin"}


@pytest.mark.parametrize("text", ["oilpath: signs/1\nsigns: {}\n", "signs: [\n", "[]\n", "oilpath: signs/1\n"])
def test_a_file_that_a_sign_cannot_join_stays(known: Knowledge, tmp_path: Path, text: str) -> None:
    path = tmp_path / "signs.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(UnusableInput):
        write_skeleton(tmp_path, "sign", "wet-pin", known)
    assert path.read_text(encoding="utf-8") == text


def test_a_rule_for_a_sign_of_ones_own_is_about_it(known: Knowledge, tmp_path: Path) -> None:
    """Also while the sign itself is still to be filled in."""
    write_skeleton(tmp_path, "sign", "dry-pin", known)
    path = write_skeleton(tmp_path, "rule", "dry-pin", as_far_as_read(known, [tmp_path]))
    assert path == tmp_path / "rules/sign-dry-pin.yaml"
    rule = yaml.safe_load(path.read_text(encoding="utf-8"))
    assert (rule["id"], rule["kind"], rule["when"][0]["of"]) == ("sign-dry-pin", "finding", "dry-pin")
    assert rule["fires"][0]["results"] == {"sign/dry-pin": "seen"}


@pytest.mark.parametrize(
    ("kind", "name", "right"),
    [
        ("cause", "pin.dry", True), ("cause", "pin", False), ("cause", "a.b.c", False), ("cause", "Pin.dry", False),
        ("sign", "dry-pin", True), ("sign", "../dry", False), ("rule", "a.b", False), ("check", "", False),
        ("cause", "../x.y", False),
    ],
)  # fmt: skip
def test_ids(kind: Kind, name: str, right: bool) -> None:
    assert (wrong_id(kind, name) == "") is right


# --- the command ----------------------------------------------------------------------


def test_it_says_where_it_wrote_and_what_comes_next(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    ran = run("kb", "new", "cause", "pin.dry")
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith("Wrote my-kb/causes/pin-dry.yaml.")
    assert "oilpath kb check --kb my-kb\n" in ran.out
    monkeypatch.setenv("OILPATH_KB", "one:two words")
    assert "Wrote two words/signs.yaml." in run("kb", "new", "sign").out
    ran = run("kb", "new", "sign", "--kb", "three")
    assert ran.out.startswith("Wrote three/signs.yaml.")
    assert "ships with oilpath; yours stands in its place" in run("kb", "new", "cause", "pump.worn").out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("sgin", "x"), "there is no kind sgin; one of cause, rule, check, sign"),
        (("sign", "Dry Pin"), "Dry Pin is not an id; lower-case letters, digits and hyphens"),
        (("rule", "x", "--like", "oil-hto"), "there is no rule oil-hto; did you mean oil-hot?"),
    ],
)
def test_a_wrong_call_writes_nothing(run: Run, arguments: tuple[str, ...], said: str) -> None:
    ran = run("kb", "new", *arguments)
    assert (ran.status, ran.out) == (2, "")
    assert said in " ".join(ran.err.split())
    assert list(Path().iterdir()) == []


def test_a_folder_that_cannot_be_written(run: Run) -> None:
    Path("my-kb").write_text("a file in its place", encoding="utf-8")
    ran = run("kb", "new", "sign", "dry-pin")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.startswith("my-kb/signs.yaml:1: -: cannot be written: ")
