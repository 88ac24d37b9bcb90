"""The files of a knowledge base checked against each other: those that ship are sound, each thing spoilt is found."""

import re
import shutil
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest

from oilpath.kbcheck import check_knowledge
from oilpath.problems import Problem

KB = Path(__file__).parents[2] / "kb"

# A slice that hangs together, so that each case is quick; the whole is checked once.
SLICE = (
    "tests.yaml", "signs.yaml", "cautions.yaml", "sources.yaml", "priors.yaml", "scatter.yaml",
    "circuits/two-pump-excavator.yaml", "causes/pump.yaml", "checks/slice.yaml",
    "rules/one-pump-slow.yaml", "rules/pump-group-slow-stall-normal.yaml",
)  # fmt: skip

CHECKS = """\
oilpath: checks/1
checks:
  - check: flow-at-pressure
    title: Measure the flow of {part} against pressure
    at: {class: main-pump}
    minutes: 50
    intrusiveness: 2
    tools: [flow meter]
    cautions: [release-pressure-first]
    how: [Meter behind the pump.]
    outcomes: {good: near the stated flow, low: short}
    tells:
      - {causes: [pump.worn, "regulator.*"], outcomes: {good: 0.1, low: 0.9}}
    otherwise: {good: 0.9, low: 0.1}
    source: common practice
"""

Spoil = Callable[..., list[Problem]]


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("kb")
    for name in SLICE:
        (folder / name).parent.mkdir(exist_ok=True)
        if name == "checks/slice.yaml":
            (folder / name).write_text(CHECKS, encoding="utf-8")
        else:
            shutil.copy(KB / name, folder / name)
    tests = folder / "tests.yaml"
    tests.write_text(tests.read_text(encoding="utf-8").replace(", lift, tilt]", "]"), encoding="utf-8")
    causes = folder / "causes/pump.yaml"
    named = re.sub(r"checks: \[[^\]]*\]", "checks: [flow-at-pressure]", causes.read_text(encoding="utf-8"))
    causes.write_text(named, encoding="utf-8")
    # Cautions of machines that the slice does not hold.
    cautions = folder / "cautions.yaml"
    said = cautions.read_text(encoding="utf-8").replace("needs: [steering-unit]", "needs: [swing-motor]")
    cautions.write_text(said, encoding="utf-8")
    return folder


@pytest.fixture
def spoil(sound: Path, tmp_path: Path) -> Spoil:
    """Replace one text in one file of a copy; what is then found."""

    def change(name: str, old: str, new: str) -> list[Problem]:
        copy = tmp_path / "kb"
        shutil.copytree(sound, copy)
        text = (copy / name).read_text(encoding="utf-8")
        assert text.count(old) >= 1, f"{name} does not hold {old!r}"
        (copy / name).write_text(text.replace(old, new, 1), encoding="utf-8")
        return check_knowledge(copy)

    return change


def messages(found: Iterable[Problem]) -> list[str]:
    return [f"{p.file}: {p.key}: {p.message}" for p in found]


def test_the_knowledge_base_that_ships_is_sound() -> None:
    assert check_knowledge(KB) == []


def test_the_slice_is_sound(sound: Path) -> None:
    assert check_knowledge(sound) == []


PUMP, CIRCUIT, CHECK = "causes/pump.yaml", "circuits/two-pump-excavator.yaml", "checks/slice.yaml"
RULE = "rules/pump-group-slow-stall-normal.yaml"


@pytest.mark.parametrize(
    ("name", "old", "new", "finding"),
    [
        # sources
        (PUMP, "source: common practice", "source: hearsay", "pump.worn: names the source hearsay"),
        (
            CHECK,
            "source: common practice",
            "source: common practice; hearsay",
            "flow-at-pressure: names the source hearsay",
        ),
        (RULE, "source: common practice", "source: hearsay", "pump-group-slow-stall-normal: names the source hearsay"),
        (CIRCUIT, "source: common practice", "source: hearsay", "two-pump-excavator: names the source hearsay"),
        # cautions
        (
            CHECK,
            "[release-pressure-first]",
            "[release-pressure-frist]",
            "flow-at-pressure: names the caution release-pressure-frist",
        ),
        # places
        (PUMP, "at: {class: main-pump}", "at: {class: main-pumps}", "pump.worn: names the part class main-pumps"),
        (PUMP, "at: {class: main-pump}", "at: {parts: pump-9}", "pump.worn: names the part pump-9"),
        (PUMP, "at: {class: main-pump}", "at: {}", "pump.worn: stands at no part"),
        (PUMP, "stroke, from: 0.93, to: 0.15", "setting, from: 0.93, to: 0", "disturbs setting to 0"),
        (PUMP, "leakage, from: 0.05", "leakage, from: -0.05", "disturbs leakage to -0.05"),
        (CHECK, "at: {class: main-pump}", "at: {class: mane-pump}", "flow-at-pressure: names the part class mane-pump"),
        # causes
        (PUMP, "- cause: flow-signal.full-demand", "- cause: pump.worn", "pump.worn: is there twice"),
        (PUMP, "checks: [flow-at-pressure]", "checks: [flow-at-presure]", "pump.worn: names the check flow-at-presure"),
        (
            PUMP,
            "    disturbs: {parameter: leakage, from: 0.03, to: 0.9, quantity: flow}\n",
            "",
            "pump.worn: disturbs nothing",
        ),
        # rules
        (RULE, "cause: pump.worn", "cause: pump.wron", "pump-group-slow-stall-normal: names the cause pump.wron"),
        (
            RULE,
            "id: pump-group-slow-stall-normal",
            "id: other-name",
            "other-name: does not stand in a file of its name",
        ),
        # what checks tell
        (CHECK, '[pump.worn, "regulator.*"]', "[pump.wron]", "flow-at-pressure: names the cause pump.wron"),
        (CHECK, '"regulator.*"', '"regulators.*"', "flow-at-pressure: names the cause regulators.*"),
        (CHECK, '[pump.worn, "regulator.*"]', "[]", "flow-at-pressure: tells no causes apart"),
        # circuits
        (
            CIRCUIT,
            "through: [suction, pump-2]",
            "through: [suction, pump-3]",
            "`pump-3` is not a part",
        ),
        (CIRCUIT, "reservoir: tank", "reservoir: tonk", "`tonk` is not a part"),
        (CIRCUIT, "boom-cylinder-left]}", "boom-cylinder-lift]}", "`boom-cylinder-lift` is not a part"),
        (CIRCUIT, "bucket-curl-pilot, bucket", "bucket-pilot, bucket", "`bucket-pilot` is not a part"),
        (CIRCUIT, ", arm-regen-valve, arm", ", arm-valve, arm", "`arm-valve` is not a part"),
        (
            CIRCUIT,
            "[straight-travel-valve, travel-left",
            "[straight-valve, travel-left",
            "`straight-valve` is not a part",
        ),
        (
            CIRCUIT,
            "actuator: arm-cylinder, end: rod",
            "actuator: arm-cylinder, end: rod, port: ring",
            "joins arm-cylinder.ring",
        ),
        (
            CIRCUIT,
            "[boom-merge-valve, boom-spool]",
            "[boom-merge-valve, arm-spool]",
            "feeds.merge.boom-raise: no merge valve",
        ),
        (
            CIRCUIT,
            "[arm-in-pilot, arm-merge-valve]",
            "[boom-lower-pilot, arm-merge-valve]",
            "feeds.merge.arm-in: no merge",
        ),
        (
            CIRCUIT,
            "through: [arm-holding-valve, arm-regen-valve",
            "through: [arm-cap-hose, arm-regen-valve",
            "no valve leads oil",
        ),
        (CIRCUIT, "[pilot-lockout, swing-brake]", "[pilot-filter, pilot-lockout]", "]: nothing follows from this line"),
        (
            CIRCUIT,
            "  controller: {class: controller, title: controller}\n",
            "  controller: {class: controller, title: controller}\n  horn: {class: horn, title: horn}\n",
            "parts.horn: is on no line",
        ),
        (
            CIRCUIT,
            "pump-1: [travel-right, bucket, boom]",
            "pump-1: [travel-right, bucket, bom]",
            "`bom` is not a group of functions",
        ),
        (
            CIRCUIT,
            "merge: {boom-raise: pump-2,",
            "merge: {boom-up: pump-2,",
            "`boom-up` is not a function",
        ),
        (CIRCUIT, "opposite: boom-lower", "opposite: boom-down", "`boom-down` is not a function"),
        (
            CIRCUIT,
            "  bucket-cylinder: {loaded: cap",
            "  bucket-cylindre: {loaded: cap",
            "`bucket-cylindre` is not a part",
        ),
        (CIRCUIT, "arm-out: pump-1}", "arm-out: pump-7}", "`pump-7` is not a pump"),
        (
            CIRCUIT,
            "  - {kind: return, through: [swing-spool, return-filter]}\n",
            "",
            "functions.swing-left: no work line joins swing-motor.left with a valve",
        ),
        (
            CIRCUIT,
            "corner: {value: 0.5, from: 0.35",
            "corner: {value: 0.5, from: -1",
            "values.torque-corner: cannot be -1",
        ),
        (
            CIRCUIT,
            "torque-corner: {value: 0.5",
            "torque-korner: {value: 0.5",
            "values.torque-korner: is not a figure that the model",
        ),
        # test kinds
        ("tests.yaml", "id: [function]", "id: [functoin]", "cycle-time: names the key of a reading functoin"),
        ("tests.yaml", "load: cycle", "load: 'cycle{'", "cycle-time: names the key of a reading {"),
        ("tests.yaml", "value: times", "value: tmes", "names the key of a reading tmes"),
        ("tests.yaml", "alike: {load:", "alike: {lod:", "names the key of a reading lod"),
        ("tests.yaml", "column: extension", "column: extent", "drift: names the key of a reading extent"),
        (
            "tests.yaml",
            "oil-temperature-from: oil-start",
            "oil-temperature-from: start",
            "names the key of a reading start",
        ),
        ("tests.yaml", "of-circuit: pump-leakage", "of-circuit: pump-leak", "names the figure of a circuit pump-leak"),
        ("tests.yaml", "observe: function-time", "observe: time", "names the observation time"),
        ("tests.yaml", "default-functions: [boom,", "default-functions: [bom,", "names the group of functions bom"),
        ("tests.yaml", "unit: s\n", "unit: mm\n", "cycle-time: unit: "),
        ("scatter.yaml", "by: [pump]", "by: [pmp]", "pump: names the word of a reading pmp"),
        ("scatter.yaml", "observes: [travel-time]", "observes: [travel]", "ground: names the observation travel"),
        # the day of testing
        ("tests.yaml", "tests: [cycle-time, swing-time]", "tests: [cycle-tyme]", "cold: names the test cycle-tyme"),
        ("tests.yaml", "variant: cold\n", "variant: cool\n", "cold: names the variant cool"),
        (
            "tests.yaml",
            "phase: slope\n    needs",
            "phase: slopes\n    needs",
            "creep: names the stretch of the day slopes",
        ),
        ("tests.yaml", "needs: [pilot-pump]", "needs: [pilot-pomp]", "pilot-pressure: names the part class pilot-pomp"),
        ("tests.yaml", "instead: track-time", "instead: track-tyme", "travel-time: names the test track-tyme"),
        ("tests.yaml", "engine-speed: [engine]", "engine-speed: [engyne]", "engine-speed: names the part class engyne"),
        ("tests.yaml", "pair: hot-cold", "pair: hot-coal", "cold: names the pair hot-coal"),
        ("cautions.yaml", "needs: [engine]", "needs: [engyne]", "exhaust-led-away: names the part class engyne"),
        ("tests.yaml", "exhaust-led-away", "exhaust-lead-away", "names the caution exhaust-lead-away"),
    ],
)
def test_one_thing_spoilt_is_found(spoil: Spoil, name: str, old: str, new: str, finding: str) -> None:
    found = spoil(name, old, new)
    text = "\n".join(messages(found))
    assert finding in text, text
    assert all(p.file == name for p in found), text
    assert all(p.line >= 1 and p.message for p in found)


def test_a_finding_stands_at_the_line_of_its_entry(spoil: Spoil, sound: Path) -> None:
    lines = (sound / PUMP).read_text(encoding="utf-8").splitlines()
    at = next(n for n, line in enumerate(lines, 1) if "cause: regulator.torque-low" in line)
    (found,) = spoil(PUMP, "- cause: regulator.torque-low", "- cause: pump.worn")[:1]
    assert (found.file, found.line) == (PUMP, at)


def test_the_nearest_name_is_offered(spoil: Spoil) -> None:
    (found,) = spoil(RULE, "cause: pump.worn", "cause: pump.wron")
    assert found.accepted == "did you mean pump.worn?"


def test_findings_come_in_the_order_of_files_and_lines(spoil: Spoil, sound: Path) -> None:
    found = spoil(PUMP, "at: {class: main-pump}", "at: {class: [no-pump, nor-this]}")
    assert [p.message.split(",")[0] for p in found] == ["names the part class no-pump", "names the part class nor-this"]
    assert found == sorted(found, key=lambda p: (p.file, p.line))


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("priors.yaml", "freedom: 5", "freedom: five"),
        ("priors.yaml", "gross:", "grosss:"),
        ("priors.yaml", "silent: 0.15", "silent: -1"),
        ("priors.yaml", "none-routine: 0.5", "none-routine: 1"),
        ("priors.yaml", "unknown: 0.02", "unknown: 0"),
        ("priors.yaml", "common: 3, ", ""),
        ("priors.yaml", "  code: {looked-for: 0.8, astray: 0.02, at-most: 0.9}\n", ""),
        ("priors.yaml", "looked-for: 0.8", "looked-for: 8"),
        ("scatter.yaml", "sd: 0.02", "sd: -0.02"),
        ("scatter.yaml", "sd: 0.02", "sd: 1000"),
        ("tests.yaml", "kind: stopwatch, systematic: 0.05", "kind: stopwatch, systematic: -0.05"),
        ("tests.yaml", "changes: {viscosity: 2.7}", "changes: {viscosity: -2.7}"),
        (PUMP, "frequency: common", "frequency: often"),
        (PUMP, "parameter: leakage", "parameter: leak"),
        (CIRCUIT, "control: positive", "control: sideways"),
        ("tests.yaml", "oilpath: tests/1", "oilpath: tests/9"),
        ("sources.yaml", "oilpath: sources/1", "oilpath: [sources/1"),
    ],
)
def test_a_file_that_cannot_be_read_is_a_finding_with_its_line(spoil: Spoil, name: str, old: str, new: str) -> None:
    found = spoil(name, old, new)
    assert found
    assert {p.file for p in found} == {name}


@pytest.mark.parametrize(
    "name", ["tests.yaml", "signs.yaml", "priors.yaml", "scatter.yaml", "cautions.yaml", "sources.yaml"]
)
def test_a_missing_file_is_a_finding(sound: Path, tmp_path: Path, name: str) -> None:
    copy = tmp_path / "kb"
    shutil.copytree(sound, copy)
    (copy / name).unlink()
    found = check_knowledge(copy)
    assert [p.file for p in found] == [name]


def test_a_knowledge_base_that_comes_near_the_rule_engines_limits_is_told(
    sound: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("oilpath.rules.engine.engine_limits", lambda rules: [f"{len(rules)} rules are too many"])
    (found,) = check_knowledge(sound)
    assert found.message == "2 rules are too many"


WORDS = """\
oilpath: words/1
words:
  foamy: {sign: foamy-oil, phrases: [foam*], measured-by: [swing-stop], source: common practice}
  runs-on: {sign: swing-runs-on, phrases: [swing runs on], source: common practice}
names: {swing: {said: [slew*]}}
fillers: [the]
breaks: [but]
"""


@pytest.mark.parametrize(
    ("old", "new", "finding"),
    [
        ("foamy-oil", "foamy-oyl", "words.yaml: foamy: names the sign foamy-oyl"),
        ("[swing-stop]", "[swing-stopp]", "words.yaml: foamy: names the test, variant or check swing-stopp"),
        ("[foam*]", "[foam*, the foam]", "words.yaml: foamy: a phrase holds a word that is not heard: the"),
        ("[foam*]", "[foam* but/and clear]", "words.yaml: foamy: a phrase holds a word that is not heard: but"),
        ("[foam*]", "[foam*, swing/slew runs on]", "words.yaml: foamy: a phrase says two signs: swing/slew runs on"),
        ("[foam*]", "['Foams, a lot']", "words.yaml: words.foamy.phrases[0]: is no phrase"),
        ("{swing:", "{swimg:", "words.yaml: swimg: names the group of functions swimg"),
    ],
)
def test_words_name_what_is_there(sound: Path, tmp_path: Path, old: str, new: str, finding: str) -> None:
    copy = tmp_path / "kb"
    shutil.copytree(sound, copy)
    (copy / "words.yaml").write_text(WORDS, encoding="utf-8")
    assert check_knowledge(copy) == []
    (copy / "words.yaml").write_text(WORDS.replace(old, new, 1), encoding="utf-8")
    assert any(message.startswith(finding) for message in messages(check_knowledge(copy)))
