"""`kb check` tells everything at once, of a layer alone, however much of it is wrong."""

from __future__ import annotations

import copy
import shutil
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from oilpath import load_knowledge
from oilpath.kbcheck import Review, review, review_layers
from oilpath.knowledge.base import Knowledge

KB = Path(__file__).parents[2] / "kb"
RIG = "hydraulic-test-rig"

CAUSE = {
    "cause": "load-valve.worn", "title": "Worn {part}", "at": {"class": "load-valve"},
    "disturbs": {"parameter": "none"}, "frequency": "rare", "mechanism": "Edge worn.", "signature": "A hiss.",
    "checks": ["rig-pump-swap"], "remedy": "Exchange it.", "source": "own experience",
}  # fmt: skip
SIGN = {"title": "Hiss at the load valve", "look": "A steady hiss.", "source": "own experience"}
RULE = {
    "oilpath": "rule/1", "id": "sign-load-valve-hiss", "kind": "finding", "title": "Hiss at the load valve",
    "when": [{"fact": "observed", "kind": "sign", "of": "load-valve-hiss", "value": "seen"}],
    "suspect": [{"cause": "load-valve.worn", "likelihood": 6}], "because": "Oil hisses at a worn edge.",
    "source": "own experience",
    "fires": [
        {"says": "heard", "results": {"sign/load-valve-hiss": "seen"}, "suspects": ["load-valve.worn at load-valve"]},
    ],
    "silent": [{"says": "not heard", "results": {"sign/load-valve-hiss": "not-seen"}}],
}  # fmt: skip
CHECK = {
    "check": "load-valve-look", "title": "Look at {part}", "at": {"class": "load-valve"}, "minutes": 20,
    "intrusiveness": 3, "tools": ["spanners"], "cautions": ["release-pressure-first"], "how": ["Take it out."],
    "outcomes": {"worn": "edge worn", "sharp": "edge sharp"},
    "tells": [{"causes": "load-valve.worn", "outcomes": {"worn": 0.9, "sharp": 0.1}}],
    "otherwise": {"worn": 0.1, "sharp": 0.9}, "source": "own experience",
}  # fmt: skip
LAYER: dict[str, Any] = {
    "causes/own.yaml": {"oilpath": "causes/1", "causes": [{**CAUSE, "checks": ["load-valve-look"]}]},
    "signs.yaml": {"oilpath": "signs/1", "signs": {"load-valve-hiss": SIGN}},
    "rules/sign-load-valve-hiss.yaml": RULE,
    "checks/own.yaml": {"oilpath": "checks/1", "checks": [CHECK]},
}


@pytest.fixture(scope="module")
def rig() -> Knowledge:
    """What ships, for the one machine that is quick to simulate."""
    whole = load_knowledge()
    only = whole.circuits[RIG].model_copy(update={"usual": True})
    return whole.model_copy(update={"circuits": {RIG: only}})


def write(folder: Path, layer: dict[str, Any]) -> Path:
    for name, data in layer.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(yaml.safe_dump(data, sort_keys=False, allow_unicode=True), encoding="utf-8")
    return folder


def changed(*changes: tuple[str, tuple[str | int, ...], object]) -> dict[str, Any]:
    """The layer with values replaced at (file, path); None takes the key away."""
    layer = copy.deepcopy(LAYER)
    for file, path, value in changes:
        holder = layer[file]
        for step in path[:-1]:
            holder = holder[step]
        if value is None:
            del holder[path[-1]]
        else:
            holder[path[-1]] = value
    return layer


def messages(found: Review) -> list[str]:
    return [f"{Path(one.file).name}: {one.key}: {one.message}" for one in found.findings]


def test_a_sound_layer_is_in_order(tmp_path: Path, rig: Knowledge) -> None:
    found = review_layers(rig, [write(tmp_path, LAYER)])
    assert found.findings == ()
    assert found.replaced == ()


def test_everything_is_told_at_once(tmp_path: Path, rig: Knowledge) -> None:
    """Schema, names, a rule on its cases and a simulated cause, each in another entry or in the same one."""
    spoilt = changed(
        ("causes/own.yaml", ("causes", 0, "frequency"), "never"),
        ("causes/own.yaml", ("causes", 0, "checks"), ["load-valve-lok"]),
        ("causes/own.yaml", ("causes", 0, "remedy"), None),
        ("signs.yaml", ("signs", "load-valve-hiss", "source"), "hearsay"),
        ("rules/sign-load-valve-hiss.yaml", ("fires", 0, "results"), {"sign/load-valve-hiss": "not-seen"}),
        ("rules/sign-load-valve-hiss.yaml", ("because",), "Oil hisses at $part."),
        ("checks/own.yaml", ("checks", 0, "otherwise"), {"worn": 0.5, "sharp": 0.9}),
        ("checks/own.yaml", ("checks", 0, "cautions"), ["release-presure-first"]),
    )
    spoilt["causes/own.yaml"]["causes"].append(
        {
            **CAUSE,
            "cause": "load-valve.stuck",
            "checks": [],
            "disturbs": {"parameter": "leakage", "from": 0.03, "to": 0.9},
        }
    )
    found = messages(review_layers(rig, [write(tmp_path, spoilt)]))
    for said in (
        "own.yaml: causes[0].frequency: is not one of the accepted words",
        "own.yaml: causes[0].remedy: is missing",
        "own.yaml: load-valve.worn: names the check load-valve-lok, which does not exist",
        "signs.yaml: load-valve-hiss: names the source hearsay, which does not exist",
        "sign-load-valve-hiss.yaml: -: $part is bound by no condition",
        "own.yaml: checks[0]: otherwise adds up to 1.4",
        "own.yaml: load-valve-look: names the caution release-presure-first, which does not exist",
    ):
        assert any(one.startswith(said) for one in found), (said, found)
    assert any("load-valve.stuck" in one for one in found)


def test_a_case_and_a_simulated_cause_are_tried_beside_mistakes_elsewhere(tmp_path: Path, rig: Knowledge) -> None:
    spoilt = changed(
        ("signs.yaml", ("signs", "load-valve-hiss", "look"), None),
        ("causes/own.yaml", ("causes", 0, "mechanism"), ["no", "text"]),
        ("rules/sign-load-valve-hiss.yaml", ("fires", 0, "results"), {"sign/load-valve-hiss": "not-seen"}),
        ("checks/own.yaml", ("checks", 0, "minutes"), "long"),
    )
    found = messages(review_layers(rig, [write(tmp_path, spoilt)]))
    assert [one.split(": ")[1] for one in found] == [
        "causes[0].mechanism", "checks[0].minutes", "sign-load-valve-hiss", "signs.load-valve-hiss.look",
    ]  # fmt: skip
    assert "is not fired by its case “heard”" in found[2]


def test_what_could_not_be_read_is_not_said_to_be_missing(tmp_path: Path, rig: Knowledge) -> None:
    folder = write(tmp_path, changed(("checks/own.yaml", ("checks", 0, "outcomes"), None)))
    (folder / "signs.yaml").write_text("oilpath: signs/1\nsigns:\n  load-valve-hiss: {title: [\n", encoding="utf-8")
    found = review_layers(rig, [folder]).findings
    assert not any("which does not exist" in one.message for one in found)
    assert {Path(one.file).name for one in found} >= {"own.yaml", "signs.yaml"}


def test_a_layer_is_checked_alone(tmp_path: Path, rig: Knowledge) -> None:
    """A mistake below is none of the layer's; what replaces is named; all that it names is found in what lies below."""
    below = rig.model_copy(update={"sources": {}})
    text = (KB / "rules/oil-hot.yaml").read_text(encoding="utf-8").replace("source: ", "source: from memory #", 1)
    folder = write(tmp_path, LAYER)
    (folder / "rules/oil-hot.yaml").write_text(text, encoding="utf-8")
    found = review_layers(below, [folder])
    assert {one.file for one in (*found.findings, *found.notes, *found.replaced)} <= {
        f"{folder}/{path.relative_to(folder).as_posix()}" for path in folder.rglob("*.yaml")
    }
    assert [(one.key, one.message) for one in found.replaced] == [("oil-hot", "replaces the rule of this id")]


def test_a_sign_without_a_rule_is_noted(tmp_path: Path, rig: Knowledge) -> None:
    (note,) = review_layers(rig, [write(tmp_path, {"signs.yaml": LAYER["signs.yaml"]})]).notes
    assert note.key == "load-valve-hiss"
    assert note.accepted == "oilpath kb new rule load-valve-hiss"


def test_what_a_replaced_rule_no_longer_suspects_is_a_finding_of_the_layer(tmp_path: Path, rig: Knowledge) -> None:
    (path,) = (
        path for path in (KB / "rules").glob("*.yaml") if "switching-valve.slow" in path.read_text(encoding="utf-8")
        and "kind: pattern" in path.read_text(encoding="utf-8")
    )  # fmt: skip
    rule = yaml.safe_load(path.read_text(encoding="utf-8"))
    rule["suspect"] = [{"cause": "pump.worn"}]
    for case in rule["fires"]:
        case.pop("suspects", None)
    found = review_layers(rig, [write(tmp_path, {f"rules/{path.name}": rule})]).findings
    assert any(one.message.startswith("readings show it, and no rule suspects it") for one in found), found
    assert {Path(one.file).name for one in found} == {path.name}


def test_all_layers_given_are_checked_each_over_the_ones_before(tmp_path: Path, rig: Knowledge) -> None:
    first = write(tmp_path / "first", {name: LAYER[name] for name in ("causes/own.yaml", "checks/own.yaml")})
    second = write(tmp_path / "second", {name: LAYER[name] for name in LAYER if "sign" in name})
    assert review_layers(rig, [first, second]).findings == ()
    alone = messages(review_layers(rig, [second]))
    assert any("names the cause load-valve.worn, which does not exist" in one for one in alone)


def test_a_folder_that_is_no_layer(tmp_path: Path, rig: Knowledge) -> None:
    assert messages(review_layers(rig, [tmp_path / "nowhere"])) == ["nowhere: -: there is no such folder"]
    (tmp_path / "sings.yaml").write_text("oilpath: signs/1\nsigns: {}\n", encoding="utf-8")
    found = review_layers(rig, [tmp_path]).findings
    assert [(Path(one.file).name, one.accepted) for one in found if "belong" in one.message] == [
        ("sings.yaml", "did you mean signs.yaml?")
    ]


@pytest.mark.slow
def test_a_whole_knowledge_base_tells_everything_at_once_too(tmp_path: Path) -> None:
    copied = tmp_path / "kb"
    shutil.copytree(KB, copied)
    for path in (copied / "circuits").glob("*.yaml"):
        if path.stem not in (RIG, "two-pump-excavator"):  # the rules' cases are of the latter
            path.unlink()
    signs = copied / "signs.yaml"
    signs.write_text(signs.read_text(encoding="utf-8").replace("source: common practice", "source: hearsay", 1))
    rule = copied / "rules/oil-hot.yaml"
    rule.write_text(rule.read_text(encoding="utf-8").replace("because:", "becase:", 1))
    cause = copied / "causes/rig.yaml"
    cause.write_text(cause.read_text(encoding="utf-8").replace("frequency: rare", "frequency: never", 1))
    found = messages(review(copied))
    for said in ("names the source hearsay", "becase: is not a key", "because: is missing"):
        assert any(said in one for one in found), (said, found)


# --- however much is wrong ------------------------------------------------------------


def paths(data: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Every place in the data below its top."""
    inside = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    return [found for step, value in inside for found in ((*path, step), *paths(value, (*path, step)))]


JUNK = st.sampled_from([None, "no such word", 12, -1.5, True, [], {}, "$x", ["a", 3], {"a": {"b": "c"}}, "own.nothing"])


@pytest.mark.slow
@settings(max_examples=75, deadline=None)
@given(data=st.data())
def test_any_mistakes_are_told_and_none_stops_it(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory, rig: Knowledge
) -> None:
    """Any values of any files replaced by junk or taken away: never a traceback, and the files of the layer alone."""
    layer = copy.deepcopy(LAYER)
    for _ in range(data.draw(st.integers(1, 3))):
        file = data.draw(st.sampled_from(sorted(layer)))
        path = data.draw(st.sampled_from(paths(layer[file]) or [()]))
        if not path:
            continue
        holder = layer[file]
        for step in path[:-1]:
            holder = holder[step]
        junk = data.draw(JUNK)
        if junk is None:
            del holder[path[-1]]
        else:
            holder[path[-1]] = copy.deepcopy(junk)
    folder = write(tmp_path_factory.mktemp("layer"), layer)
    found = review_layers(rig, [folder])
    assert all(one.file.startswith(str(folder)) for one in (*found.findings, *found.notes))
    assert found == review_layers(rig, [folder])
