"""Reading machine files. The format is the project's own; units are checked against published values elsewhere."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from oilpath.documents.load import load_circuit, load_machine
from oilpath.documents.machine import Machine
from oilpath.knowledge.base import Knowledge
from oilpath.problems import Problem, Problems, UnusableInput

Loader = Callable[..., tuple[Any, tuple[Problem, ...]]]
KB = Path(__file__).parents[2] / "kb"

HEAD = "oilpath: machine/1\nname: Trainer\ncircuit: two-pump-excavator\n"
FULL = """\
oilpath: machine/1
name: 007
circuit: two-pump-excavator
engine-speed: {test: 1900 rpm, tolerance: 2 %}
oil: {grade: iso vg46, viscosity-index: 100}
parts:
  pump-1: {displacement: 112 cm3/rev, speed-ratio: 1.0}
  boom-cylinder: {count: 2, bore: 120 mm, rod: 85 mm, stroke: 1260 mm}
absent: [arm-holding-valve]
feeds:
  pump-1: [travel-right, boom, swing]
  pump-2: [travel-left, arm, bucket]
  merge: {boom-raise: pump-2, arm-in: pump-1, arm-out: pump-1}
control: negative
dimensions: {length: 9.5 m, track-gauge: 2.4 m, track-length: 9.2 m}
limits:
  - {test: cycle-time, function: boom-raise, new: 4.2 s, max: 4.9 s}
  - {test: drift, cylinder: boom-cylinder, hold: 5 min, new: 3 mm, max: 12 mm}
  - {test: swing-time, turns: 3, new: 14.0 s, max: 16.1 s}
  - {test: travel-time, range: high, distance: 20 m, new: 14.1 s, max: 15.9 s, max-veer: 1.2 m}
  - {test: track-time, range: high, turns: 3, new: 18.2 s, max: 20.6 s, max-difference: 6 %}
  - {test: stall-pressure, new: 34.3 MPa, min: 33.3 MPa, max: 35.3 MPa}
  - {test: pilot-pressure, new: 3.9 MPa, min: 3.6 MPa, max: 4.3 MPa}
  - {test: case-drain, part: pump-1, max: 24 L/min}
conditions:
  - {test: drift, oil-temperature: [50 °C, 60 °C], attachment: loaded, hold: 4 min}
  - {test: cycle-time, engine-speed: [1880 rpm, 1920 rpm], auto-idle: false}
codes: {"520201-4": {says: 42, part: pump-2-flow-signal}}
"""


def limits(*entries: str) -> str:
    return HEAD + "limits:\n" + "".join(f"  - {{{entry}}}\n" for entry in entries)


def test_a_whole_machine_file_in_si(read: Loader) -> None:
    machine, problems = read(FULL, kind="machine")
    assert problems == ()
    assert isinstance(machine, Machine)
    assert machine.name == "007"  # text as written
    assert machine.circuit.id == "two-pump-excavator"
    assert machine.engine_speed is not None
    assert machine.engine_speed.test == pytest.approx(1900 / 60)
    assert machine.engine_speed.tolerance == pytest.approx(0.02)
    assert (machine.oil.grade, machine.oil.viscosity_index) == ("ISO VG 46", 100)
    assert machine.parts["pump-1"].displacement == pytest.approx(112e-6)
    assert machine.parts["boom-cylinder"].bore == pytest.approx(0.12)
    assert machine.absent == ("arm-holding-valve",)
    assert machine.control == "negative"
    assert machine.allocation.pumps["pump-2"] == ("travel-left", "arm", "bucket")
    assert machine.allocation.merge["boom-raise"] == "pump-2"
    assert machine.dimensions.track_gauge == pytest.approx(2.4)
    assert machine.codes["520201-4"].says == "42"
    assert machine.file.endswith("machine-read.yaml")


def test_limits_keep_their_keys_and_lines(read: Loader) -> None:
    machine, _ = read(FULL, kind="machine")
    cycle, drift, swing, travel, track, stall, pilot, drain = machine.limits
    assert (cycle.where, cycle.new, cycle.max, cycle.min) == ({"function": "boom-raise"}, 4.2, 4.9, None)
    assert cycle.line == 17
    assert (drift.where, drift.per) == ({"cylinder": "boom-cylinder"}, 300.0)
    assert drift.max == pytest.approx(0.012)
    assert (swing.where, swing.per) == ({}, 3.0)
    assert (travel.where, travel.per, travel.max_veer) == ({"range": "high"}, 20.0, 1.2)
    assert track.max_difference == pytest.approx(0.06)
    assert (stall.where, stall.min) == ({}, pytest.approx(33.3e6))
    assert (pilot.test, pilot.new) == ("pilot-pressure", pytest.approx(3.9e6))
    assert (drain.where, drain.max) == ({"part": "pump-1"}, pytest.approx(24e-3 / 60))


def test_demanded_conditions(read: Loader) -> None:
    machine, _ = read(FULL, kind="machine")
    drift, cycle = machine.conditions
    assert drift.oil_temperature == pytest.approx((323.15, 333.15))
    assert (drift.attachment, drift.hold, drift.auto_idle) == ("loaded", 240.0, None)
    assert cycle.engine_speed == pytest.approx((1880 / 60, 1920 / 60))
    assert cycle.auto_idle == "off"  # false alike


def test_engine_speed_alone_and_nothing_else(read: Loader) -> None:
    machine, problems = read(HEAD + "engine-speed: 31.5 rev/s\n", kind="machine")
    assert problems == ()
    assert machine.engine_speed.test == pytest.approx(31.5)
    assert machine.engine_speed.tolerance is None
    assert machine.allocation == machine.circuit.feeds
    assert (machine.limits, machine.conditions, machine.codes, machine.parts) == ((), (), {}, {})


def test_null_means_not_stated(read: Loader) -> None:
    keys = ("engine-speed", "oil", "parts", "absent", "feeds", "control", "dimensions", "limits", "conditions", "codes")
    nothing, problems = read(HEAD + "".join(f"{key}: null\n" for key in keys), kind="machine")
    assert problems == ()
    plain, _ = read(HEAD, kind="machine")
    assert nothing == plain


def test_json_is_yaml(read: Loader) -> None:
    text = '{"oilpath": "machine/1", "name": "Trainer", "circuit": "two-pump-excavator", "engine-speed": "1900 rpm"}'
    machine, problems = read(text, kind="machine")
    assert problems == ()
    assert machine.name == "Trainer"


@pytest.mark.parametrize(
    "entries",
    [
        # more keys: more specific
        ("test: swing-time, turns: 3, max: 14 s", "test: swing-time, direction: left, turns: 3, max: 15 s"),
        # as many keys, but never for the same reading
        ("test: cycle-time, function: arm-in, max: 3 s", "test: cycle-time, function: arm-out, max: 3 s"),
        (
            "test: travel-time, direction: forward, range: high, distance: 20 m, max: 14 s",
            "test: travel-time, direction: reverse, range: high, distance: 20 m, max: 15 s",
        ),
        # a stall limit without a function does not hold for swing
        (
            "test: stall-pressure, pump: pump-1, max: 35 MPa",
            "test: stall-pressure, function: swing-left, max: 30 MPa",
        ),
    ],
)
def test_limits_that_do_not_compete(entries: tuple[str, ...], read: Loader) -> None:
    machine, problems = read(limits(*entries), kind="machine")
    assert problems == ()
    assert len(machine.limits) == len(entries)


def test_limits_that_compete_over_a_function_of_the_default_groups(read: Loader) -> None:
    one, two = "test: stall-pressure, pump: pump-1, max: 35 MPa", "test: stall-pressure, function: arm-in, max: 30 MPa"
    _, problems = read(limits(one, two), kind="machine")
    assert [(p.line, p.key) for p in problems] == [(6, "limits[1]")]
    assert "line 5" in problems[0].message


def test_a_limit_for_veer_or_difference_alone(read: Loader) -> None:
    text = limits("test: travel-time, distance: 20 m, max-veer: 1.2 m", "test: track-time, max-difference: 6 %")
    machine, problems = read(text, kind="machine")
    assert problems == ()
    assert machine.limits[0].max_veer == pytest.approx(1.2)
    assert machine.limits[1].max_difference == pytest.approx(0.06)


def test_new_may_equal_min_or_max(read: Loader) -> None:
    _, problems = read(limits("test: pilot-pressure, new: 4.3 MPa, max: 4.3 MPa"), kind="machine")
    assert problems == ()


# --- circuits -----------------------------------------------------------------------


@pytest.fixture
def circuit_text() -> str:
    return (KB / "circuits/two-pump-excavator.yaml").read_text(encoding="utf-8")


def test_a_circuit_by_path_is_relative_to_the_machine_file(yard: Path, knowledge: Knowledge, circuit_text: str) -> None:
    (yard / "kinds").mkdir()
    (yard / "kinds/own.yaml").write_text(circuit_text.replace("id: two-pump-excavator", "id: own"), encoding="utf-8")
    (yard / "machines").mkdir()
    path = yard / "machines/m.yaml"
    path.write_text("oilpath: machine/1\nname: x\ncircuit: ../kinds/own.yaml\n", encoding="utf-8")
    machine = load_machine(path, knowledge)
    assert machine.circuit.id == "own"
    assert machine.circuit.parts == knowledge.circuits["two-pump-excavator"].parts


@pytest.mark.parametrize(
    ("old", "new", "key", "fragment"),
    [
        (
            "actuator: boom-cylinder, end: cap",
            "actuator: bom-cylinder, end: cap",
            "functions.boom-raise.actuator",
            "boom-cy",
        ),
        ("opposite: boom-lower", "opposite: boom-down", "functions.boom-raise.opposite", "boom-lower"),
        ("end: cap, pressure", "end: cap, port: cab, pressure", "functions.boom-raise", "joins boom-cylinder.cab with"),
        ("pump-1: [travel-right, bucket, boom]", "pump-1: [travel-right, boom]", "feeds", "bucket is fed by no pump"),
        ("[suction, pump-2]", "[suction, pump-1]", "parts.pump-2", "no suction line leads from tank to it"),
        ("through: [breather, tank", "through: [breathe, tank", "lines[0].through", "breather"),
        ("  boom-cylinder: {loaded: cap", "  boom-spool: {loaded: cap", "holds.boom-spool", "moved by no function"),
        ("control: positive", "control: electric", "control", "accepted words"),
    ],
)
def test_a_circuit_that_does_not_hold_together(
    old: str, new: str, key: str, fragment: str, yard: Path, knowledge: Knowledge, circuit_text: str
) -> None:
    assert old in circuit_text
    (yard / "own.yaml").write_text(circuit_text.replace(old, new, 1), encoding="utf-8")
    (yard / "m.yaml").write_text("oilpath: machine/1\nname: x\ncircuit: own.yaml\n", encoding="utf-8")
    with pytest.raises(UnusableInput) as caught:
        load_machine(yard / "m.yaml", knowledge)
    fitting = [p for p in caught.value.problems if p.key == key and fragment in f"{p.message}; {p.accepted}"]
    assert fitting, str(caught.value)
    assert Path(fitting[0].file).name == "own.yaml"
    line = (yard / "own.yaml").read_text(encoding="utf-8").splitlines()[fitting[0].line - 1]
    assert new in line or key in ("feeds", "parts.pump-2")


def test_a_circuit_without_a_way_for_the_oil(yard: Path, knowledge: Knowledge, circuit_text: str) -> None:
    cut = [line for line in circuit_text.splitlines() if "through: [boom-spool, return-filter]" not in line]
    (yard / "own.yaml").write_text("\n".join(cut), encoding="utf-8")
    (yard / "m.yaml").write_text("oilpath: machine/1\nname: x\ncircuit: own.yaml\n", encoding="utf-8")
    with pytest.raises(
        UnusableInput, match=r"own\.yaml:\d+: functions\.boom-raise: no work line joins boom-cylinder\.cap"
    ):
        load_machine(yard / "m.yaml", knowledge)


def test_load_circuit_by_id_and_by_path(yard: Path, knowledge: Knowledge) -> None:
    problems = Problems()
    assert load_circuit("two-pump-excavator", yard, problems, knowledge) is knowledge.circuits["two-pump-excavator"]
    assert not problems
    assert load_circuit("machine.yaml", yard, problems, knowledge) is None
    assert "it is a machine file" in str(problems.sorted()[0])


def test_a_machine_that_is_read_again_has_the_same_content(read: Loader) -> None:
    """What is worked out once for a machine then serves a thousand sheets of it; any difference makes another one."""
    first, _ = read(FULL, kind="machine")
    assert read(FULL, kind="machine")[0].content == first.content
    slower, _ = read(FULL.replace("4.9 s", "5.0 s"), kind="machine")
    assert slower.content != first.content
    assert slower.limits[0].max == pytest.approx(5.0)


def test_parts_in_another_order_are_another_machine(read: Loader) -> None:
    turned = FULL.replace("  pump-1: {displacement: 112 cm3/rev, speed-ratio: 1.0}\n", "").replace(
        "absent:", "  pump-1: {displacement: 112 cm3/rev, speed-ratio: 1.0}\nabsent:"
    )
    first, _ = read(FULL, kind="machine")
    again, problems = read(turned, kind="machine")
    assert problems == ()
    assert list(again.parts) == list(reversed(first.parts))
