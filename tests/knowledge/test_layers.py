"""Layers of a workshop's own knowledge: added, replaced, named; in what order; what they take away."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from oilpath import load_knowledge, load_machine, load_sheet
from oilpath.kbcheck import review_layers
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import compile_knowledge, knowledge_of, sealed
from oilpath.knowledge.files import FOLDERS, SINGLE, read_folder
from oilpath.knowledge.layers import lay_over, layer_folders, state_of
from oilpath.problems import Problems, UnusableInput

KB = Path(__file__).parents[2] / "kb"

CAUSE = """oilpath: causes/1
causes:
  - cause: grease-line.blocked
    title: Grease line to {part} blocked
    at: {class: cylinder}
    disturbs: {parameter: drag, from: 0.05, to: 0.5}
    frequency: rare
    mechanism: Hardened grease.
    signature: Squeal at the pins.
    remedy: Clear the line.
    source: own experience
"""
SIGN = "oilpath: signs/1\nsigns:\n  dry-pin: {title: Dry pin, look: No grease at the pin., source: own experience}\n"


def write(folder: Path, **files: str) -> Path:
    """A layer with these files, named `causes__own` for causes/own.yaml."""
    for name, text in files.items():
        path = folder / f"{name.replace('__', '/').replace('_', '-')}.yaml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def shipped() -> Knowledge:
    return load_knowledge()


def shipped_entry(file: str, section: str, name: str) -> dict[str, Any]:
    """One entry of a shipped file as plain data."""
    data = yaml.safe_load((KB / file).read_text(encoding="utf-8"))[section]
    if isinstance(data, dict):
        return dict(data[name])
    return dict(next(entry for entry in data if name in (entry.get("cause"), entry.get("check"))))


# --- what is laid over ----------------------------------------------------------------


def test_new_ids_are_added_and_the_rest_stays(tmp_path: Path, shipped: Knowledge) -> None:
    known = load_knowledge(write(tmp_path / "own", causes__own=CAUSE, signs=SIGN))
    assert known.causes[:-1] == shipped.causes
    assert known.causes[-1].cause == "grease-line.blocked"
    assert set(known.signs) - set(shipped.signs) == {"dry-pin"}
    assert known.replaced == ()
    (layer,) = known.layers
    assert set(layer.added) == {("cause", "grease-line.blocked"), ("sign", "dry-pin")}
    same = {"causes", "signs", "layers", "version"}
    assert known.model_dump(exclude=same) == shipped.model_dump(exclude=same)


def test_a_layer_adds_words(tmp_path: Path, shipped: Knowledge) -> None:
    words = (
        "oilpath: words/1\nwords:\n"
        "  own-foam: {sign: foamy-oil, phrases: [cappuccino], source: own experience}\n"
        "names: {arm: {said: [digger]}}\nfillers: [blooming]\n"
    )
    known = load_knowledge(write(tmp_path / "own", words=words))
    assert set(known.vocabulary.words) - set(shipped.vocabulary.words) == {"own-foam"}
    assert known.vocabulary.names["arm"].said == ("digger",)
    assert known.vocabulary.fillers == (*shipped.vocabulary.fillers, "blooming")
    assert {(one.kind, one.id) for one in known.replaced} == {("name", "arm")}
    wrong = words.replace("foamy-oil", "foamy-oyl")
    with pytest.raises(UnusableInput, match="foamy-oyl"):
        load_knowledge(write(tmp_path / "wrong", words=wrong))


def test_the_same_id_replaces_in_its_place_and_is_named(tmp_path: Path, shipped: Knowledge) -> None:
    text = (
        CAUSE.replace("grease-line.blocked", "pump.worn")
        .replace("class: cylinder", "class: main-pump")
        .replace("drag", "leakage")
    )
    folder = write(tmp_path / "own", causes__own=text)
    known = load_knowledge(folder)
    order = [cause.cause for cause in shipped.causes]
    assert [cause.cause for cause in known.causes] == order
    assert known.causes[order.index("pump.worn")].mechanism == "Hardened grease."
    (one,) = known.replaced
    assert (one.kind, one.id, one.file, one.line) == ("cause", "pump.worn", f"{folder}/causes/own.yaml", 3)


def test_one_rule_alone_is_a_layer(tmp_path: Path, shipped: Knowledge) -> None:
    (tmp_path / "rules").mkdir()
    shutil.copy(KB / "rules/oil-hot.yaml", tmp_path / "rules")
    known = load_knowledge(tmp_path)
    assert known.rules == shipped.rules
    assert [(one.kind, one.id) for one in known.replaced] == [("rule", "oil-hot")]


def test_the_order_of_layers_decides(tmp_path: Path) -> None:
    first = write(tmp_path / "first", causes__own=CAUSE)
    second = write(tmp_path / "second", causes__other=CAUSE.replace("Hardened grease", "Ice"))
    said = {cause.cause: cause.mechanism for cause in load_knowledge(first, second).causes}
    assert said["grease-line.blocked"] == "Ice."
    said = {cause.cause: cause.mechanism for cause in load_knowledge(second, first).causes}
    assert said["grease-line.blocked"] == "Hardened grease."


def test_the_version_follows_every_layer_and_their_order(tmp_path: Path, shipped: Knowledge) -> None:
    first, second = write(tmp_path / "a", causes__own=CAUSE), write(tmp_path / "b", signs=SIGN)
    versions = [
        load_knowledge(*layers).version for layers in ((), (first,), (second,), (first, second), (second, first))
    ]
    assert len(set(versions)) == 5
    assert versions[0] == shipped.version
    elsewhere = Path(shutil.copytree(first, tmp_path / "elsewhere"))
    assert load_knowledge(elsewhere).version == versions[1]


def test_a_change_in_a_layer_is_seen_at_once(tmp_path: Path) -> None:
    folder = write(tmp_path / "own", causes__own=CAUSE)
    before = load_knowledge(folder)
    assert load_knowledge(folder) is before
    write(folder, causes__own=CAUSE.replace("Hardened grease", "Ice"))
    assert load_knowledge(folder).causes[-1].mechanism == "Ice."


def test_a_program_that_holds_no_yaml_takes_layers_too(tmp_path: Path, shipped: Knowledge) -> None:
    base = tmp_path / "kb"
    base.mkdir()
    (base / "compiled.json").write_bytes(sealed(compile_knowledge(KB)))
    known = load_knowledge(write(tmp_path / "own", causes__own=CAUSE), base=base)
    assert known.causes[:-1] == shipped.causes


@pytest.mark.slow
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_split_into_base_and_layer_is_the_whole(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory, shipped: Knowledge
) -> None:
    """Files of causes, checks, rules and circuits in either; the six single files in both, for a base has them all."""
    base, layer = tmp_path_factory.mktemp("base"), tmp_path_factory.mktemp("layer")
    for name in SINGLE:
        shutil.copy(KB / name, base)
        if data.draw(st.booleans()):
            shutil.copy(KB / name, layer)
    for folder in FOLDERS:
        for path in sorted((KB / folder).glob("*.yaml")):
            for chosen in data.draw(st.sampled_from([(base,), (layer,), (base, layer)])):
                (chosen / folder).mkdir(exist_ok=True)
                shutil.copy(path, chosen / folder)
    problems = Problems()
    below, over = read_folder(base, problems), read_folder(layer, problems, "layer")
    assert not problems
    known = lay_over(knowledge_of(below), over)
    assert state_of(known) == state_of(shipped)
    assert known.always == shipped.always
    assert not any(one.lost for one in known.replaced)


# --- which folders --------------------------------------------------------------------


def test_the_environment_lies_below_the_options(tmp_path: Path) -> None:
    listed = os.pathsep.join(["a", "", "b"])
    assert layer_folders(["c"], {"OILPATH_KB": listed}) == ("a", "b", "c")
    assert layer_folders([], {}) == ()


def test_a_folder_named_twice_counts_where_it_is_named_last(tmp_path: Path) -> None:
    assert layer_folders(["b", f"{tmp_path}/x/../a", f"{tmp_path}/a"], {"OILPATH_KB": "b"}) == ("b", f"{tmp_path}/a")


# --- problems name the layer's file ---------------------------------------------------


def problems_of(folder: Path) -> list[str]:
    with pytest.raises(UnusableInput) as caught:
        load_knowledge(folder)
    return [str(problem).replace(str(folder), "own") for problem in caught.value.problems]


@pytest.mark.parametrize(
    ("files", "said"),
    [
        ({"causes__own": CAUSE.replace("rare", "never")}, "own/causes/own.yaml:7: causes[0].frequency: is not one of"),
        ({"causes__own": CAUSE.replace("cylinder}", "cilinder}")}, "own/causes/own.yaml:3: grease-line.blocked:"
         " names the part class cilinder, which does not exist; did you mean cylinder?"),
        ({"causes__own": CAUSE.replace("own experience", "hearsay")}, "own/causes/own.yaml:3: grease-line.blocked:"
         " names the source hearsay, which does not exist"),
        ({"sign": SIGN}, "own/sign.yaml:1: -: does not belong here in a knowledge base; did you mean signs"),
        ({"cause__own": CAUSE}, "own/cause/own.yaml:1: -: does not belong here in a knowledge base; did you mean"
         " causes/?"),
        ({"causes__a": CAUSE, "causes__b": CAUSE}, "own/causes/b.yaml:3: grease-line.blocked: is there twice; see"
         " own/causes/a.yaml:3"),
    ],
)  # fmt: skip
def test_problems_name_the_file_of_the_layer(tmp_path: Path, files: dict[str, str], said: str) -> None:
    found = problems_of(write(tmp_path / "own", **files))
    assert any(problem.startswith(said) for problem in found), found


def test_parameters_are_the_programs(tmp_path: Path) -> None:
    shutil.copy(KB / "parameters.yaml", tmp_path)
    shutil.copy(KB / "sources.yaml", tmp_path)
    (said,) = problems_of(tmp_path)
    assert "what a parameter is belongs to the program" in said


def test_yml_is_said_to_be_another_ending(tmp_path: Path) -> None:
    (tmp_path / "rules").mkdir()
    shutil.copy(KB / "rules/oil-hot.yaml", tmp_path / "rules" / "oil-hot.yml")
    assert any("rules/oil-hot.yaml" in problem for problem in problems_of(tmp_path))


@pytest.mark.parametrize("kind", ["no folder", "a file", "an empty folder"])
def test_a_layer_that_is_none_is_a_problem(tmp_path: Path, kind: str) -> None:
    folder = tmp_path / "own"
    if kind == "a file":
        folder.write_text("x", encoding="utf-8")
    elif kind == "an empty folder":
        folder.mkdir()
    (said,) = problems_of(folder)
    assert said.startswith("own:1: -: ")
    assert "causes/" in said


def test_problems_of_all_layers_come_at_once(tmp_path: Path) -> None:
    one = write(tmp_path / "one", causes__own=CAUSE.replace("rare", "never"))
    two = write(tmp_path / "two", signs=SIGN.replace("look", "see"))
    with pytest.raises(UnusableInput) as caught:
        load_knowledge(one, two, tmp_path / "three")
    assert {Path(problem.file).relative_to(tmp_path).parts[0] for problem in caught.value.problems} == {
        "one", "two", "three",
    }  # fmt: skip


# --- what is taken away ---------------------------------------------------------------


def lost(*layers: Path) -> list[tuple[str, str, str, str]]:
    """(kind, id, what is lost, of what) of all replaced entries."""
    return [(one.kind, one.id, gone.what, gone.of) for one in load_knowledge(*layers).replaced for gone in one.lost]


def layer(folder: Path, file: str, section: str, name: str, **changes: object) -> Path:
    """A layer that replaces one shipped entry, with keys changed; None leaves a key out."""
    entry = {**shipped_entry(file, section, name), **{key.replace("_", "-"): value for key, value in changes.items()}}
    entry = {key: value for key, value in entry.items() if value is not None}
    path = folder / file
    path.parent.mkdir(parents=True, exist_ok=True)
    listed = section in ("causes", "checks")
    kind = {
        "causes": "causes/1",
        "checks": "checks/1",
        "signs": "signs/1",
        "cautions": "cautions/1",
        "tests": "tests/1",
    }
    data = {"oilpath": kind[section], section: [entry] if listed else {name: entry}}
    if section == "tests":
        data["variants"] = {}
    path.write_text(yaml.safe_dump(data, allow_unicode=True), encoding="utf-8")
    return folder


def test_a_cause_without_its_reason_to_stop(tmp_path: Path) -> None:
    file, name = "causes/travel.yaml", "final-drive.damaged"
    assert lost(layer(tmp_path / "same", file, "causes", name)) == []
    assert lost(layer(tmp_path / "words", file, "causes", name, stop_use="It can lock.")) == []
    gone = lost(layer(tmp_path / "gone", file, "causes", name, stop_use=None, urgency="care"))
    assert gone == [("cause", name, "stop-use", "")]
    moved = lost(layer(tmp_path / "moved", file, "causes", name, at={"parts": ["travel-left-final-drive"]}))
    assert set(moved) == {("cause", name, "place", "travel-right-final-drive")}


def test_a_check_a_test_or_a_sign_without_a_caution(tmp_path: Path) -> None:
    entry = shipped_entry("checks/pumps.yaml", "checks", "flow-at-pressure")
    fewer = [word for word in entry["cautions"] if word != "hot-oil"]
    folder = layer(
        tmp_path / "check", "checks/pumps.yaml", "checks", "flow-at-pressure", cautions=fewer, hazards=["hot"]
    )
    assert lost(folder) == [
        ("check", "flow-at-pressure", "caution", "hot-oil"),
        ("check", "flow-at-pressure", "hazard", "jet"),
    ]
    assert lost(layer(tmp_path / "sign", "signs.yaml", "signs", "boom-falls", cautions=["exclusion-zone"])) == [
        ("sign", "boom-falls", "caution", "nobody-under-load")
    ]
    drift = shipped_entry("tests.yaml", "tests", "drift")["cautions"]
    assert [one[2:] for one in lost(layer(tmp_path / "test", "tests.yaml", "tests", "drift", cautions=None))] == [
        ("caution", word) for word in drift
    ]


def test_a_caution_in_other_words_or_for_fewer_machines(tmp_path: Path) -> None:
    def gone(name: str, **changes: object) -> list[str]:
        return [
            one[2]
            for one in lost(layer(tmp_path / str(len(changes)) / name, "cautions.yaml", "cautions", name, **changes))
        ]

    says = shipped_entry("cautions.yaml", "cautions", "nobody-under-load")["says"]
    assert gone("nobody-under-load", says="Mind your head.") == ["words"]
    assert gone("nobody-under-load", says=f"{says} Not even the boss.", hazard="falling") == []
    assert gone("nobody-under-load", says=says, hazard="falling", needs=["track"]) == ["shown-for"]
    assert gone("marked-lane", needs=None) == []


def test_what_every_answer_shows_cannot_be_taken_away(tmp_path: Path, shipped: Knowledge) -> None:
    known = load_knowledge(write(tmp_path, cautions="oilpath: cautions/1\nalways: [hot-oil]\ncautions: {}\n"))
    assert known.always == (*shipped.always, "hot-oil")


def test_what_a_higher_layer_gives_back_is_not_lost(tmp_path: Path) -> None:
    file, name = "causes/travel.yaml", "final-drive.damaged"
    without = layer(tmp_path / "without", file, "causes", name, stop_use=None, urgency="care")
    same = layer(tmp_path / "same", file, "causes", name)
    assert lost(without, same) == []
    assert lost(same, without) == lost(without) != []
    again = layer(tmp_path / "again", file, "causes", name, stop_use=None, urgency="care", frequency="rare")
    assert lost(without, again) == [*lost(without)]


# --- machines of a layer --------------------------------------------------------------

CASES = KB.parent / "cases"


@pytest.fixture
def with_machine(tmp_path: Path) -> Knowledge:
    """A layer that holds one machine and nothing else."""
    (tmp_path / "own" / "machines").mkdir(parents=True)
    shutil.copy(CASES / "machines/trainer-22t.yaml", tmp_path / "own/machines/pit-07.yaml")
    return load_knowledge(tmp_path / "own")


def test_a_machine_of_a_layer_goes_by_its_name(with_machine: Knowledge, tmp_path: Path) -> None:
    machine = load_machine("pit-07", with_machine)
    usual = load_machine(CASES / "machines/trainer-22t.yaml")
    assert machine.limits == usual.limits
    assert machine.file == f"{tmp_path}/own/machines/pit-07.yaml"
    text = (CASES / "demo/pump-1-slow.yaml").read_text(encoding="utf-8")
    assert "machine: ../machines/trainer-22t.yaml" in text
    sheet = tmp_path / "sheet.yaml"
    sheet.write_text(text.replace("../machines/trainer-22t.yaml", "pit-07"), encoding="utf-8")
    assert load_sheet(sheet, with_machine).machine.limits == usual.limits
    with pytest.raises(UnusableInput, match="is not a file that exists"):
        load_sheet(sheet)


def test_a_file_of_that_name_comes_first_and_no_name_leaves_the_folder(
    with_machine: Knowledge, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copy(CASES / "machines/compact-3t.yaml", tmp_path / "pit-07.yaml")
    assert "Gravel-pit" not in load_machine("pit-07.yaml", with_machine).name
    for name in ("../machines/pit-07", "own/machines/pit-08", "machines/pit-07", "", "\0"):
        with pytest.raises(UnusableInput):
            load_machine(name, with_machine)


def test_a_machine_is_no_part_of_the_version(with_machine: Knowledge, tmp_path: Path) -> None:
    (tmp_path / "own/machines/pit-07.yaml").unlink()
    shutil.copy(CASES / "machines/compact-3t.yaml", tmp_path / "own/machines/other.yaml")
    assert load_knowledge(tmp_path / "own").version == with_machine.version


@pytest.mark.parametrize("kind", ["too long", "a pipe", "a pipe among its files"])
def test_what_is_no_folder_of_files_is_a_problem_and_nobody_waits(tmp_path: Path, kind: str) -> None:
    folder = tmp_path / ("x" * 5000 if kind == "too long" else "own")
    if kind == "a pipe":
        os.mkfifo(folder)
    elif kind != "too long":
        write(folder, causes__own=CAUSE)
        os.mkfifo(folder / "causes" / "pipe.yaml")
    with pytest.raises(UnusableInput):
        load_knowledge(folder)
    assert review_layers(load_knowledge(), [folder]).findings
