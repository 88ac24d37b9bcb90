"""A sheet filled in step by step. The machine is invented; readings and keystrokes are made up by hand."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import BinaryIO

import pytest

from oilpath.commands.sheet_fill import entry_for
from oilpath.documents.edit import open_document
from oilpath.documents.load import load_sheet
from oilpath.documents.writing import Disk
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.session.asking import ask_all
from oilpath.session.entry import Entry, Given, Step
from oilpath.session.lines import Unclear

ROOT = Path(__file__).parents[2]
MACHINES = ROOT / "cases/machines"


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def begun(folder: Path, machine: str = "trainer-22t") -> Path:
    shutil.copy(MACHINES / f"{machine}.yaml", folder / "m.yaml")
    sheet = folder / "s.yaml"
    sheet.write_text("oilpath: sheet/1\nmachine: m.yaml\nreadings: []\n", encoding="utf-8")
    return sheet


def opened(sheet: Path, knowledge: Knowledge, disk: Disk | None = None) -> Entry:
    return entry_for(open_document(sheet), knowledge, "si", disk)[0]


@pytest.fixture
def entry(tmp_path: Path, knowledge: Knowledge) -> Entry:
    return opened(begun(tmp_path), knowledge)


def at(entry: Entry, id_: str, name: str = "") -> None:
    """Go to the step of a reading, or of what adds to it."""
    entry.at = next(
        n
        for n, step in enumerate(entry.steps)
        if step.slot is not None and step.slot.id == id_ and (step.name == name if name else step.kind == "reading")
    )


def written(entry: Entry) -> str:
    """The last reading as it stands in the file."""
    assert entry.document.path is not None
    return entry.document.path.read_text(encoding="utf-8").split("- ")[-1].split("\n")[0]


# --- what an answer means ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("id_", "line", "value"),
    [
        ("cycle-time/boom-raise", "4.8 4.7 4.8", "times: [4.8 s, 4.7 s, 4.8 s]"),
        ("cycle-time/boom-raise", "4.8", "times: [4.8 s]"),
        ("track-time/left/forward/high", "20.1 .3 .2", "times: [20.1 s, 20.3 s, 20.2 s]"),
        ("cycle-time/boom-raise", "0.08 0.08 min", "times: [0.08 min, 0.08 min]"),
        ("pilot-pressure", "565psi", "pressure: 565 psi"),
        ("pilot-pressure", "565 psi", "pressure: 565 psi"),
        ("drift/boom-cylinder", ".5 in", "moved: 0.5 in"),
    ],
)  # fmt: skip
def test_amounts_are_taken_as_they_are_typed(entry: Entry, id_: str, line: str, value: str) -> None:
    at(entry, id_)
    entry.give(line)
    assert value in written(entry)


def test_a_unit_holds_for_those_that_follow(entry: Entry) -> None:
    at(entry, "pilot-pressure")
    entry.give("565 psi")
    at(entry, "stall-pressure/pump-1/boom-raise")
    entry.give("4950")
    assert "pressure: 4950 psi" in written(entry)


@pytest.mark.parametrize(
    ("id_", "line"),
    [
        ("pilot-pressure", "x"), ("pilot-pressure", "3.9 s"), ("pilot-pressure", "-3"),
        ("pilot-pressure", "3.9 furlong"),
        ("cycle-time/boom-raise", "0"), ("cycle-time/boom-raise", "4.8 s fast"), ("cycle-time/boom-raise", "1e99"),
        ("pilot-pressure", "nan"), ("pilot-pressure", "3.9 {"), ("pilot-pressure", "3..9"),
    ],
)  # fmt: skip
def test_what_is_no_answer_is_not_taken_and_nothing_is_written(entry: Entry, id_: str, line: str) -> None:
    assert entry.document.path is not None
    before = entry.document.path.read_bytes()
    at(entry, id_)
    with pytest.raises(Unclear):
        entry.give(line)
    assert entry.document.path.read_bytes() == before
    assert entry.step is not None
    assert entry.step.slot is not None
    assert entry.step.slot.id == id_


@pytest.mark.parametrize(("line", "likely"), [("4,8", "4.8"), ("4,8 4,7 s", "4.8 4.7 s"), ("4,8,", None)])
def test_a_decimal_comma_is_understood_as_what_it_is(entry: Entry, line: str, likely: str | None) -> None:
    at(entry, "cycle-time/boom-raise")
    with pytest.raises(Unclear) as raised:
        entry.give(line)
    assert raised.value.likely == likely or likely is None


@pytest.mark.parametrize(
    ("line", "veer"),
    [("l .4", "{toward: left, offset: 0.4 m}"), ("r0.4", "{toward: right, offset: 0.4 m}"), ("0", "{offset: 0 m}"),
     ("right 1 ft", "{toward: right, offset: 1 ft}")],
)  # fmt: skip
def test_a_veer_has_its_side_by_a_letter(entry: Entry, line: str, veer: str) -> None:
    at(entry, "travel-time/forward/high")
    entry.give("14.2")
    at(entry, "travel-time/forward/high", "veer")
    entry.give(line)
    assert f"veer: {veer}" in written(entry)
    at(entry, "travel-time/forward/high", "veer")
    with pytest.raises(Unclear):
        entry.give("0.4")


def test_signs_are_found_by_words_of_them(entry: Entry) -> None:
    entry.at = next(n for n, step in enumerate(entry.steps) if step.kind == "sign")
    assert entry.give("foam").sign == "foamy-oil"
    assert "sign: foamy-oil, seen: true" in written(entry)
    several = entry.give("metal")
    assert len(several.choices) > 1
    assert entry.give("2").sign == several.choices[1]
    assert entry.give("no wet rod").seen is False
    assert "sign: wet-rod, seen: false" in written(entry)
    entry.give("wet rod")
    assert [one.flags["seen"] for one in entry.sheet.readings if one.id == "sign/wet-rod"] == [True]
    for line in ("umbrella", "1", "99"):  # a number without a list to choose from is no word of a sign
        with pytest.raises(Unclear):
            entry.give(line)
    entry.give("no metal")
    entry.give("1")
    assert "seen: false" in written(entry)


def test_signs_may_say_where(entry: Entry) -> None:
    entry.at = next(n for n, step in enumerate(entry.steps) if step.kind == "sign")
    entry.give("pump knock @pump-1")
    assert "sign: pump-knock, part: pump-1, seen: true" in written(entry)
    entry.give("pump knock @ Main pump 2")
    assert "sign: pump-knock, part: pump-2, seen: true" in written(entry)
    entry.give("no pump knock @pump-1")
    entry.give("hot hub @left")
    assert "sign: hot-hub, side: left, seen: true" in written(entry)
    entry.give("fast but weak @bucket curl")
    assert "function: bucket-curl" in written(entry)
    assert [one.flags["seen"] for one in entry.sheet.readings] == [False, True, True, True]
    with pytest.raises(Unclear):
        entry.give("pump knock @pump-9")
    assert entry.remove()
    assert [one.test for one in entry.sheet.readings] == ["sign"] * 3


@pytest.mark.parametrize(
    ("line", "reading"),
    [("520201-4", "spn: 520201, fmi: 4, active: true"), ("520201/4 stored", "spn: 520201, fmi: 4, active: false"),
     ("E 31", "text: E 31, active: true")],
)  # fmt: skip
def test_codes_are_taken_by_numbers_or_as_shown(entry: Entry, line: str, reading: str) -> None:
    entry.at = next(n for n, step in enumerate(entry.steps) if step.kind == "code")
    entry.give(line)
    assert reading in written(entry)


def test_the_oil_of_later_readings_is_their_own(entry: Entry) -> None:
    entry.warm("54")
    at(entry, "cycle-time/boom-raise")
    entry.give("4.8")
    assert entry.warm("61") == "61 °C"
    entry.give("4.4")
    assert [reading.conditions.oil_temperature for reading in entry.sheet.readings] == [None, pytest.approx(334.15)]
    assert entry.sheet.conditions.oil_temperature == pytest.approx(327.15)


def test_words_are_taken_by_their_first_letters(entry: Entry) -> None:
    entry.at = next(n for n, step in enumerate(entry.steps) if step.name == "attachment")
    entry.give("e")
    entry.give("of")
    assert entry.sheet.conditions.attachment == "empty"
    assert entry.sheet.conditions.auto_idle == "off"
    with pytest.raises(Unclear):
        entry.give("half")


# --- back, skip, take out, go on --------------------------------------------------------


def test_an_answer_can_be_gone_back_to_and_given_anew(entry: Entry) -> None:
    at(entry, "cycle-time/boom-raise")
    entry.give("4.8 4.7")
    entry.back()
    assert entry.step is not None
    assert entry.current(entry.step) == ["4.8 s", "4.7 s"]
    entry.give("4.6")
    assert [reading.values for reading in entry.sheet.readings] == [(4.6,)]


def test_a_reading_can_be_taken_out(entry: Entry) -> None:
    at(entry, "cycle-time/boom-raise")
    entry.give("4.8")
    entry.back()
    assert entry.remove()
    assert entry.sheet.readings == ()
    assert not entry.remove()


def test_what_adds_to_a_reading_is_asked_after_it_and_not_again_once_skipped(entry: Entry) -> None:
    at(entry, "drift/boom-cylinder")
    entry.give("9")
    asked = []
    while entry.step is not None and entry.step.kind == "more":
        asked.append(entry.step.name)
        entry.skip()
    assert asked == ["oil-start", "oil-end", "extension"]
    entry.give("9")
    assert entry.step is not None
    assert (entry.step.kind, entry.step.slot and entry.step.slot.id) == ("reading", "drift/bucket-cylinder")


def test_a_run_up_is_in_the_unit_of_the_distance(entry: Entry) -> None:
    at(entry, "travel-time/forward/high")
    entry.give("16.2 .1 .3")
    assert entry.step is not None
    assert (entry.step.name, entry.unit_of(entry.step), entry.unit("length")) == ("run-up", "m", "mm")
    entry.give("5")
    assert "run-up: 5 m" in written(entry)


def test_a_session_goes_on_behind_its_last_answer(tmp_path: Path, knowledge: Knowledge) -> None:
    first = opened(begun(tmp_path), knowledge)
    at(first, "pilot-pressure")
    first.give("3.9")
    where = first.at
    again = opened(tmp_path / "s.yaml", knowledge)
    assert again.at == where
    assert again.done() == (1, first.done()[1])
    assert [again.steps[n].name for n in again.left()[:6]] == [
        "unit-number", "hours", "date", "technician", "complaint", "speed",
    ]  # fmt: skip


def test_a_sheet_begun_elsewhere_is_asked_for_what_its_head_lacks(tmp_path: Path, knowledge: Knowledge) -> None:
    sheet = begun(tmp_path)
    sheet.write_text(sheet.read_text(encoding="utf-8") + "complaint: Slow\nunit-number: P7\n", encoding="utf-8")
    entry = opened(sheet, knowledge)
    assert entry.step is not None
    assert entry.step.name == "hours"


def test_history_takes_a_line_after_the_other_until_enter(entry: Entry) -> None:
    entry.at = next(n for n, step in enumerate(entry.steps) if step.name == "history")
    script = Script("Oil new in March", "Came on slowly", "x", "Came on at once", "")
    with pytest.raises(EOFError):
        ask_all(entry, script)
    assert entry.sheet.history == ("Oil new in March", "Came on at once")
    assert isinstance(script.shown[-1], Step)
    assert script.shown[-1].kind == "condition"


@pytest.mark.parametrize("line", ["6120", "6120 h", "6120h"])
def test_hours_may_have_their_unit(entry: Entry, line: str) -> None:
    entry.at = next(n for n, step in enumerate(entry.steps) if step.name == "hours")
    entry.give(line)
    assert entry.sheet.hours == 6120


@pytest.mark.parametrize("line", ["2026-05-14", "t", "today"])
def test_a_date_is_written_out(entry: Entry, line: str) -> None:
    entry.at = next(n for n, step in enumerate(entry.steps) if step.name == "date")
    entry.give(line)
    assert entry.sheet.date is not None
    assert entry.sheet.date == line or (line in ("t", "today") and date.fromisoformat(entry.sheet.date) <= date.today())


def test_a_sheet_with_its_comments_keeps_them(tmp_path: Path, knowledge: Knowledge) -> None:
    sheet = begun(tmp_path)
    sheet.write_text(
        "# mine\noilpath: sheet/1 # kind\nmachine: m.yaml\nreadings: [\n  # of today\n]\n", encoding="utf-8"
    )
    entry = opened(sheet, knowledge)
    at(entry, "pilot-pressure")
    entry.give("3.9")
    text = sheet.read_text(encoding="utf-8")
    assert all(comment in text for comment in ("# mine", "# kind", "# of today"))


def test_a_machine_whose_readings_need_more_is_asked_for_it_first(tmp_path: Path, knowledge: Knowledge) -> None:
    sheet = begun(tmp_path, "training-rig")
    machine = (tmp_path / "m.yaml").read_text(encoding="utf-8")
    (tmp_path / "m.yaml").write_text(machine[: machine.index("baseline:")], encoding="utf-8")
    entry = opened(sheet, knowledge)
    at(entry, "mean-flow/pump-outlet", "load")
    entry.give("12.4")
    entry.give("22.1")
    assert "load: 12.4 MPa, flow: 22.1 L/min" in written(entry)


# --- the loop ---------------------------------------------------------------------------


class Script:
    """Gives the lines of a list, and keeps what it is shown."""

    def __init__(self, *lines: str) -> None:
        self.lines: Iterator[str] = iter(lines)
        self.shown: list[object] = []
        self.doubts: tuple[str, ...] = ()

    def _next(self) -> str:
        try:
            return next(self.lines)
        except StopIteration:
            raise EOFError from None

    def ask(self, step: Step) -> str:
        self.shown.append(step)
        return self._next()

    def ask_again(self, doubts: tuple[str, ...]) -> str:
        self.shown.append(doubts)
        return self._next()

    def ask_end(self) -> str:
        return self._next()

    def take(self, given: Given) -> tuple[str, ...]:
        self.shown.append(given)
        doubts, self.doubts = self.doubts, ()
        return doubts

    def unclear(self, error: Unclear) -> None:
        self.shown.append(error)

    def failed(self, error: Exception) -> None:
        self.shown.append(error)

    def help(self, step: Step) -> None:
        self.shown.append("help")

    def changed(self, what: str, value: str) -> None:
        self.shown.append((what, value))


def test_enter_takes_what_was_perhaps_meant(entry: Entry) -> None:
    at(entry, "pilot-pressure")
    with pytest.raises(EOFError):
        ask_all(entry, Script("3,9", ""))
    assert [reading.values for reading in entry.sheet.readings] == [(3.9e6,)]


def test_what_is_doubted_can_be_kept_or_given_again(entry: Entry) -> None:
    for lines, value in ((("39", ""), 39e6), (("39", "3.9"), 3.9e6), (("39", "x", "3.8"), 3.8e6)):
        at(entry, "pilot-pressure")
        script = Script(*lines)
        script.doubts = ("?",)
        with pytest.raises(EOFError):
            ask_all(entry, script)
        assert [reading.values for reading in entry.sheet.readings] == [(pytest.approx(value),)]


def test_commands_are_letters_and_no_answers(entry: Entry) -> None:
    at(entry, "pilot-pressure")
    script = Script("?", "3.9", "n gauge of the workshop", "t 61", "b", "x", "q")
    ask_all(entry, script)
    assert "help" in script.shown
    assert ("note", "gauge of the workshop") in script.shown
    assert ("removed", "") in script.shown
    assert entry.sheet.readings == ()


def test_a_reading_can_be_gone_to_by_words_of_it(entry: Entry) -> None:
    at(entry, "pilot-pressure")
    ask_all(entry, script := Script("g boom rai", "4.8", "g no-such", "q"))
    assert [reading.id for reading in entry.sheet.readings] == ["cycle-time/boom-raise"]
    assert [one.message for one in script.shown if isinstance(one, Unclear)] == ["no-step"]


def test_at_the_end_what_was_left_out_can_be_asked_for(entry: Entry) -> None:
    entry.at = len(entry.steps)
    script = Script("a", "P7", "", "q")
    ask_all(entry, script)
    assert [one.name for one in script.shown if isinstance(one, Step)] == ["unit-number", "hours", "date"]


def test_what_is_left_out_alone_is_asked_for_at_the_end(entry: Entry) -> None:
    at(entry, "drift/boom-cylinder")
    entry.give("9")
    entry.at = len(entry.steps)
    script = Script("a", *[""] * len(entry.steps))
    ask_all(entry, script)
    asked = [one for one in script.shown if isinstance(one, Step)]
    assert {one.kind for one in asked} >= {"head", "reading"}
    assert not {one.kind for one in asked} & {"condition", "sign", "code"}
    assert not any(one.slot is not None and one.slot.id == "drift/boom-cylinder" for one in asked)


# --- faults -----------------------------------------------------------------------------


class Failing(Disk):
    """Fails at one call, once, as a full or broken disk would."""

    def __init__(self) -> None:
        self.calls, self.fails_at = 0, -1

    def _call(self) -> None:
        self.calls += 1
        if self.calls - 1 == self.fails_at:
            raise OSError(28, "No space left on device")

    def create(self, path: str, mode: int) -> BinaryIO:
        self._call()
        return super().create(path, mode)

    def write(self, file: BinaryIO, content: bytes) -> None:
        self._call()
        super().write(file, content)

    def flush(self, file: BinaryIO) -> None:
        self._call()
        super().flush(file)

    def sync(self, file: BinaryIO) -> None:
        self._call()
        super().sync(file)

    def set_mode(self, path: str, mode: int) -> None:
        self._call()
        super().set_mode(path, mode)

    def rename(self, old: str, new: str) -> None:
        self._call()
        super().rename(old, new)

    def sync_folder(self, path: str) -> None:
        self._call()
        super().sync_folder(path)


ANSWERS = ("4.8 4.7", "4.2", "3.4 3.5", "2.7")


def test_a_fault_at_any_call_loses_no_answer(tmp_path: Path, knowledge: Knowledge) -> None:
    """A fault at every call of the disk in turn, over four answers."""
    whole = Failing()
    ids = ["boom-raise", "boom-lower", "arm-in", "arm-out"]
    for fails_at in range(-1, 4 * 7):
        folder = tmp_path / str(fails_at)
        folder.mkdir()
        disk = Failing()
        disk.fails_at = fails_at
        entry = opened(begun(folder), knowledge, disk)
        at(entry, "cycle-time/boom-raise")
        script = Script(*ANSWERS)
        with pytest.raises(EOFError):
            ask_all(entry, script)
        found = load_sheet(folder / "s.yaml", knowledge).readings
        failed = any(isinstance(one, Exception) for one in script.shown)
        # Once the new name is there, an answer is safe; before that it is asked for again.
        assert failed == (fails_at >= 0 and fails_at % 7 != 6)
        assert len(found) == len(ANSWERS) - failed
        assert [one.keys["function"] for one in found] == ids[: len(found)]
        assert entry.sheet.readings == found
        assert [path.name for path in folder.iterdir() if path.suffix == ".tmp"] == []
        whole = disk if fails_at < 0 else whole
    assert whole.calls == 4 * 7  # create, write, flush, fsync, mode, rename, fsync of the folder


def test_a_file_changed_by_somebody_else_is_read_anew(tmp_path: Path, knowledge: Knowledge) -> None:
    sheet = begun(tmp_path)
    entry = opened(sheet, knowledge)
    at(entry, "pilot-pressure")
    other = sheet.read_text(encoding="utf-8") + "complaint: Slow\n"
    sheet.write_text(other, encoding="utf-8")
    script = Script("3.9", "3.8")
    with pytest.raises(EOFError):
        ask_all(entry, script)
    read = load_sheet(sheet, knowledge)
    assert (read.complaint, [one.values for one in read.readings]) == ("Slow", [(3.8e6,)])


# --- keystrokes -------------------------------------------------------------------------


def test_thirty_readings_take_twelve_keystrokes_each_at_most(tmp_path: Path, knowledge: Knowledge) -> None:
    """Three repeats of each time, temperatures at both ends of a drift, veers, a result each; Enter counts."""
    entry = opened(begun(tmp_path), knowledge)
    typed = {
        "engine-speed": "1950", "pilot-pressure": "3.85", "drift": "9", "oil-start": "57", "oil-end": "55",
        "cycle-time": "4.9 .8 .9", "swing-time": "13.9 .9 .8", "track-time": "20.1 .2 .1", "travel-time": "16.1 .2 .0",
        "veer": "r.4", "stall-pressure": "33.7", "case-drain": "9.5",
    }  # fmt: skip
    at(entry, "engine-speed/high-idle")
    keys: dict[str, int] = {}
    while entry.step is not None:
        step = entry.step
        assert step.slot is not None
        line = typed.get(step.test if step.kind == "reading" else step.name, "")
        result = f"{step.slot.id} veer" if step.name == "veer" else step.slot.id
        keys[result] = keys.get(result, 0) + len(line) + 1
        entry.give(line) if line else entry.skip()
    assert len(keys) >= 30
    assert max(keys.values()) <= 12, keys
    assert len(load_sheet(tmp_path / "s.yaml", knowledge).readings) == entry.done()[1]


# --- units by habit ---------------------------------------------------------------------


def test_units_are_those_that_the_limits_are_written_in(tmp_path: Path, knowledge: Knowledge) -> None:
    entry, asking = entry_for(open_document(begun(tmp_path, "quarry-36t")), knowledge)
    assert (entry.unit("pressure"), entry.unit("length"), entry.unit("distance")) == ("psi", "in", "ft")
    assert entry.unit("temperature") == "°F"
    assert asking.words.units == "us"
    at(entry, "pilot-pressure")
    entry.give("565")
    assert "pressure: 565 psi" in written(entry)
    metric, asking = entry_for(open_document(tmp_path / "s.yaml"), knowledge, "si")
    assert (metric.unit("pressure"), asking.words.units) == ("MPa", "si")


def test_bar_stays_bar(tmp_path: Path, knowledge: Knowledge) -> None:
    machine = "{name: Invented, circuit: two-pump-excavator, limits: [{test: pilot-pressure, max: 43 bar}]}"
    (tmp_path / "s.yaml").write_text(f"oilpath: sheet/1\nmachine: {machine}\nreadings: []\n", encoding="utf-8")
    entry, asking = entry_for(open_document(tmp_path / "s.yaml"), knowledge)
    assert (entry.unit("pressure"), asking.words.units) == ("bar", "si")
