# ruff: noqa: E501 (one broken input a line reads best)
"""Broken sheets and machines: every problem with file, line and key, all at once. How quickly is measured in benchmarks/.

What is accepted and refused is the project's own format, so there is no outside source to compare with.
"""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from oilpath.documents.load import load_sheet
from oilpath.knowledge.base import Knowledge
from oilpath.problems import Problem, UnusableInput

Loader = Callable[..., tuple[Any, tuple[Problem, ...]]]

#: The whole sheet but its last part; `readings` stands on line 3, the first reading on line 4.
HEAD = "oilpath: sheet/1\nmachine: machine.yaml\nreadings:\n"
#: A machine whose last keys are given; the first of them stands on line 4.
MACHINE = "oilpath: machine/1\nname: Trainer\ncircuit: two-pump-excavator\n"


def reading(entry: str) -> str:
    return f"{HEAD}  - {entry}\n"


def cycle(times: str) -> str:
    return reading(f"{{test: cycle-time, function: boom-raise, times: {times}}}")


def head(line: str) -> str:
    return f"oilpath: sheet/1\nmachine: machine.yaml\n{line}\nreadings: []\n"


def limit(entry: str) -> str:
    return f"{MACHINE}limits:\n  - {entry}\n"


TIMES = "readings[0].times"
DEEP = "x: " + "[" * 3000 + "]" * 3000
BOMB = "a: &a [x,x,x,x,x,x,x,x,x]\n" + "".join(
    f"{new}: &{new} [{','.join([f'*{old}'] * 9)}]\n" for old, new in zip("abcdefg", "bcdefgh", strict=True)
)

# text, line, key, a piece of what is said
SHEETS: dict[str, tuple[str | bytes, int, str, str]] = {
    # the file itself
    "empty": ("", 1, "-", "empty"),
    "only-comments": ("# nothing\n\n", 1, "-", "empty"),
    "binary": (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", 1, "-", "binary"),
    "latin-1": (b"oilpath: sheet/1\ncomplaint: langsam \xfc\n", 2, "-", "UTF-8"),
    "a-list": ("- oilpath: sheet/1\n", 1, "-", "a list"),
    "a-single-value": ("sheet\n", 1, "-", "single value"),
    "second-document": (HEAD + "---\nx: 1\n", 4, "-", "second document"),
    "tag": (cycle("!!python/object:os.system [4.8 s]"), 4, TIMES, "tag"),
    "merge-key": (reading("{<<: {test: cycle-time}}"), 4, "readings[0]", "merge key"),
    "directive": ("%YAML 1.2\n---\noilpath: sheet/1\n", 1, "-", "directive"),
    "alias-bomb": (f"oilpath: sheet/1\n{BOMB}", 6, "e[0]", "more than 10,000 values"),
    "alias-cycle": ("oilpath: sheet/1\nmachine: &m [*m]\n", 2, "machine[0]", "alias"),
    "alias-of-nothing": (cycle("*t"), 4, TIMES, "alias"),
    "3000-levels": (f"oilpath: sheet/1\n{DEEP}\n", 2, "x[0]", "64 levels"),
    "5000-digits": (head("hours: " + "9" * 5000), 3, "hours", "5,000"),
    "5000-digits-in-a-quantity": (cycle(f"[{'9' * 5000} s]"), 4, f"{TIMES}[0]", "5,00"),
    "lone-surrogate": (head('complaint: "\\ud800"'), 3, "complaint", "surrogate"),
    "control-character": (head('complaint: "a\\u0007b"'), 3, "complaint", "control character"),
    "raw-control-character": (head("complaint: a\x07b"), 3, "-", "control character"),
    "duplicate-key": (head("hours: 1\nhours: 2"), 4, "hours", "line 3"),
    "unclosed-quote": (head("complaint: 'slow"), 3, "complaint", "quotation"),
    "unclosed-list": (HEAD + "  - {test: cycle-time, times: [4.8 s}\n", 4, f"{TIMES}[1]", "wrong"),
    "tab": (HEAD + "\t- {test: pilot-pressure}\n", 4, "readings", "tab"),
    "top-not-ours": ("root: x\n", 1, "oilpath", "missing"),
    # kind and version
    "wrong-kind": ("oilpath: machine/1\nname: x\n", 1, "oilpath", "this is a machine file"),
    "unknown-kind": ("oilpath: recipe/1\n", 1, "oilpath", "not known"),
    "newer-version": ("oilpath: sheet/2\nmachine: m.yaml\n", 1, "oilpath", "newer oilpath"),
    "no-such-version": ("oilpath: sheet/0\n", 1, "oilpath", "no such version"),
    "kind-is-a-number": ("machine: x\noilpath: 1\n", 2, "oilpath", "names no kind"),
    "kind-missing": ("machine: machine.yaml\nreadings: []\n", 1, "oilpath", "missing"),
    # keys of the sheet
    "unknown-key": (head("complain: slow"), 3, "complain", "did you mean complaint?"),
    "unknown-key-far": (head("zzzzzzzz: slow"), 3, "zzzzzzzz", "one of oilpath"),
    "no-machine": ("oilpath: sheet/1\nreadings: []\n", 1, "machine", "missing"),
    "null-machine": ("oilpath: sheet/1\nreadings: []\nmachine: null\n", 3, "machine", "missing"),
    "no-readings": ("oilpath: sheet/1\nmachine: machine.yaml\n", 1, "readings", "may be empty"),
    "readings-mapping": ("oilpath: sheet/1\nmachine: machine.yaml\nreadings: {a: b}\n", 3, "readings", "a list"),
    "reading-a-text": (reading("boom raise slow"), 4, "readings[0]", "a reading"),
    "reading-null": (reading("null"), 4, "readings[0]", "nothing"),
    "hours-text": (head("hours: 8450 h"), 3, "hours", "without a unit"),
    "hours-negative": (head("hours: -5"), 3, "hours", "negative"),
    "hours-huge": (head("hours: 1e9"), 3, "hours", "too large"),
    "hours-true": (head("hours: true"), 3, "hours", "true or false"),
    "30-february": (head("date: 2026-02-30"), 3, "date", "calendar"),
    "date-other-order": (head("date: 14.05.2026"), 3, "date", "YYYY-MM-DD"),
    "date-number": (head("date: 20260514"), 3, "date", "YYYY-MM-DD"),
    "complaint-list": (head("complaint: [slow]"), 3, "complaint", "text"),
    "complaint-empty": (head("complaint: ''"), 3, "complaint", "empty"),
    "complaint-long": (head(f"complaint: {'slow ' * 500}"), 3, "complaint", "too long"),
    "history-mapping": (head("history: [{a: b}]"), 3, "history[0]", "text"),
    "conditions-word": (head("conditions: {attachment: full}"), 3, "conditions.attachment", "empty"),
    "conditions-key": (head("conditions: {oil-temp: 54 °C}"), 3, "conditions.oil-temp", "oil-temperature"),
    "conditions-text": (head("conditions: warm"), 3, "conditions", "mapping"),
    "temperature-c": (head("conditions: {oil-temperature: 54 C}"), 3, "conditions.oil-temperature", "°C"),
    "temperature-hot": (head("conditions: {oil-temperature: 900 °C}"), 3, "conditions.oil-temperature", "250 °C"),
    "absolute-zero": (head("conditions: {oil-temperature: -300 °C}"), 3, "conditions.oil-temperature", "absolute"),
    "auto-idle-yes": (head("conditions: {auto-idle: yes}"), 3, "conditions.auto-idle", "on, off"),
    "instrument-unknown": (head("instruments: {presure: {class: 1}}"), 3, "instruments.presure", "pressure"),
    "class-without-span": (head("instruments: {pressure: {class: 1}}"), 3, "instruments.pressure.class", "span"),
    "confirmed-part": (head("confirmed: [{cause: pump.worn, part: pump-9}]"), 3, "confirmed[0].part", "pump-1"),
    "confirmed-cause": (head("confirmed: [{cause: worn, part: pump-1}]"), 3, "confirmed[0].cause", "pump.worn"),
    # names of files
    "machine-missing": ("oilpath: sheet/1\nreadings: []\nmachine: none.yaml\n", 3, "machine", "not a file"),
    "machine-folder": ("oilpath: sheet/1\nmachine: .\nreadings: []\n", 2, "machine", "folder"),
    "machine-itself": ("oilpath: sheet/1\nmachine: sheet-read.yaml\nreadings: []\n", 2, "machine", "itself"),
    "machine-address": ("oilpath: sheet/1\nmachine: https://example.org/m.yaml\nreadings: []\n", 2, "machine", "address"),
    "machine-file-address": ("oilpath: sheet/1\nmachine: file:///etc/passwd\nreadings: []\n", 2, "machine", "address"),
    "machine-share": ("oilpath: sheet/1\nmachine: '\\\\\\\\host\\\\m.yaml'\nreadings: []\n", 2, "machine", "address"),
    "machine-device": ("oilpath: sheet/1\nmachine: /dev/zero\nreadings: []\n", 2, "machine", "regular"),
    "machine-nul": ('oilpath: sheet/1\nmachine: "a\\0b"\nreadings: []\n', 2, "machine", "not a possible name"),
    "machine-long": (f"oilpath: sheet/1\nmachine: {'x' * 5000}\nreadings: []\n", 2, "machine", "not a possible name"),
    "machine-number": ("oilpath: sheet/1\nmachine: 5\nreadings: []\n", 2, "machine", "names no file"),
    "machine-list": ("oilpath: sheet/1\nmachine: [a.yaml]\nreadings: []\n", 2, "machine", "names no file"),
    "baseline-missing": (head("baseline: [old.yaml]"), 3, "baseline[0]", "not a file"),
    "baseline-no-sheet": (head("baseline: machine.yaml"), 3, "baseline", "it is a machine file"),
    "baseline-itself": (head("baseline: sheet-read.yaml"), 3, "baseline", "itself"),
    "after-missing": (
        head("confirmed: [{cause: pump.worn, part: pump-1, after: old.yaml}]"), 3, "confirmed[0].after", "not a file",
    ),
    # readings
    "no-test": (reading("{function: boom-raise}"), 4, "readings[0].test", "missing"),
    "unknown-test": (reading("{test: cycletime}"), 4, "readings[0].test", "did you mean cycle-time?"),
    "derived-test": (reading("{test: travel-veer, direction: forward}"), 4, "readings[0].test", "not a test"),
    "test-number": (reading("{test: 5}"), 4, "readings[0].test", "a number"),
    "no-function": (reading("{test: cycle-time, times: 4.8 s}"), 4, "readings[0].function", "missing"),
    "no-times": (reading("{test: cycle-time, function: boom-raise}"), 4, TIMES, "missing"),
    "no-hold": (reading("{test: drift, cylinder: boom-cylinder, moved: 9 mm}"), 4, "readings[0].hold", "missing"),
    "no-turns": (reading("{test: swing-time, direction: left, times: 14 s}"), 4, "readings[0].turns", "missing"),
    "no-distance": (
        reading("{test: travel-time, direction: forward, range: high, times: 14 s}"), 4, "readings[0].distance", "missing",
    ),
    "unknown-reading-key": (
        reading("{test: cycle-time, function: boom-raise, time: 4.8 s}"), 4, "readings[0].time", "did you mean times?",
    ),
    "key-of-another-test": (
        reading("{test: cycle-time, function: boom-raise, times: 4 s, hold: 5 min}"), 4, "readings[0].hold", "not a key",
    ),
    "bare-number": (cycle("[4.8]"), 4, f"{TIMES}[0]", "no unit"),
    "bare-number-alone": (cycle("4.8"), 4, TIMES, "no unit"),
    "wrong-dimension": (cycle("[4.8 MPa]"), 4, f"{TIMES}[0]", "pressure"),
    "decimal-comma": (cycle("['4,8 s']"), 4, f"{TIMES}[0]", "decimal point"),
    "nan": (cycle("[.nan]"), 4, f"{TIMES}[0]", "NaN"),
    "nan-with-unit": (cycle("[nan s]"), 4, f"{TIMES}[0]", "NaN"),
    "infinity": (cycle("[inf s]"), 4, f"{TIMES}[0]", "infinity"),
    "negative-time": (cycle("[-4.8 s]"), 4, f"{TIMES}[0]", "more than zero"),
    "zero-time": (cycle("[4.8 s, 0 s]"), 4, f"{TIMES}[1]", "more than zero"),
    "null-time": (cycle("[4.8 s, null]"), 4, f"{TIMES}[1]", "nothing"),
    "nested-times": (cycle("[[4.8 s]]"), 4, f"{TIMES}[0]", "a list"),
    "no-repeats": (cycle("[]"), 4, TIMES, "empty"),
    "too-many-repeats": (cycle("[" + "4.8 s, " * 150 + "4.8 s]"), 4, TIMES, "too many"),
    "tiny-time": (cycle("[1e-30 s]"), 4, f"{TIMES}[0]", "too small"),
    "huge-time": (cycle("[1e9 s]"), 4, f"{TIMES}[0]", "at most 24 h"),
    "expression": (cycle("['2*2.4 s']"), 4, f"{TIMES}[0]", "expression"),
    "code-in-a-unit": (cycle("['4 __import__(\"os\").system(\"id\")']"), 4, f"{TIMES}[0]", "expression"),
    "range": (cycle("[4.7-4.9 s]"), 4, f"{TIMES}[0]", "range"),
    "unknown-unit": (cycle("[4.8 seconde]"), 4, f"{TIMES}[0]", "unit"),
    "list-for-one-value": (
        reading("{test: drift, cylinder: boom-cylinder, hold: [5 min], moved: 9 mm}"), 4, "readings[0].hold", "a list",
    ),
    "hold-of-days": (
        reading("{test: drift, cylinder: boom-cylinder, hold: 3 d, moved: 9 mm}"), 4, "readings[0].hold", "at most 24 h",
    ),
    "negative-moved": (
        reading("{test: drift, cylinder: boom-cylinder, hold: 5 min, moved: -9 mm}"), 4, "readings[0].moved", "negative",
    ),
    "turns-with-unit": (
        reading("{test: swing-time, direction: left, turns: 3 rev, times: 14 s}"), 4, "readings[0].turns", "plain number",
    ),
    "turns-huge": (
        reading("{test: swing-time, direction: left, turns: 1e9, times: 14 s}"), 4, "readings[0].turns", "too large",
    ),
    "turns-zero": (
        reading("{test: swing-time, direction: left, turns: 0, times: 14 s}"), 4, "readings[0].turns", "more than zero",
    ),
    "unknown-function": (
        reading("{test: cycle-time, function: boom-rise, times: 4 s}"), 4, "readings[0].function", "did you mean boom-raise?",
    ),
    "unknown-cylinder": (
        reading("{test: drift, cylinder: boom, hold: 5 min, moved: 9 mm}"), 4, "readings[0].cylinder", "boom-cylinder",
    ),
    "unknown-part": (reading("{test: case-drain, part: pump-3, flow: 9 L/min}"), 4, "readings[0].part", "did you mean pump-"),
    "part-is-no-pump": (
        reading("{test: stall-pressure, pump: pilot-pump, function: arm-in, pressure: 30 MPa}"), 4, "readings[0].pump",
        "not a pump",
    ),
    "unknown-port": (reading("{test: flow, at: pump-1-cap, flow: 9 L/min}"), 4, "readings[0].at", "no port"),
    "unknown-direction": (
        reading("{test: swing-time, direction: links, turns: 3, times: 14 s}"), 4, "readings[0].direction", "left",
    ),
    "unknown-variant": (
        reading("{test: cycle-time, function: arm-in, times: 4 s, variant: colder}"), 4, "readings[0].variant", "cold",
    ),
    "variant-of-a-sign": (
        reading("{test: sign, sign: foamy-oil, seen: true, variant: cold}"), 4, "readings[0].variant", "not a key",
    ),
    "with-unknown": (
        reading("{test: cycle-time, function: arm-in, times: 4 s, with: [swing]}"), 4, "readings[0].with[0]", "swing-",
    ),
    "with-itself": (
        reading("{test: cycle-time, function: arm-in, times: 4 s, with: arm-in}"), 4, "readings[0].with", "is measured",
    ),
    "with-twice": (
        reading("{test: cycle-time, function: arm-in, times: 4 s, with: [arm-out, arm-out]}"), 4, "readings[0].with[1]",
        "twice",
    ),
    "unknown-sign": (reading("{test: sign, sign: foam, seen: true}"), 4, "readings[0].sign", "foamy-oil"),
    "sign-seen-text": (reading("{test: sign, sign: foamy-oil, seen: maybe}"), 4, "readings[0].seen", "true or false"),
    "unknown-check": (
        reading("{test: check, check: plug-line, part: pump-1, outcome: still}"), 4, "readings[0].check", "plug-loaded-line",
    ),
    "unknown-outcome": (
        reading("{test: check, check: plug-loaded-line, part: boom-cylinder, outcome: moves}"), 4, "readings[0].outcome",
        "did you mean rod-moves?",
    ),
    "code-of-nothing": (reading("{test: code, active: true}"), 4, "readings[0]", "spn and fmi, or text"),
    "code-without-fmi": (reading("{test: code, spn: 520201}"), 4, "readings[0]", "fmi is missing"),
    "code-fmi-range": (reading("{test: code, spn: 520201, fmi: 32}"), 4, "readings[0].fmi", "0 to 31"),
    "code-spn-range": (reading("{test: code, spn: 524288, fmi: 1}"), 4, "readings[0].spn", "0 to 524287"),
    "veer-without-side": (
        reading("{test: travel-time, direction: forward, range: high, distance: 20 m, times: 14 s, veer: {offset: 1 m}}"),
        4, "readings[0].veer.toward", "missing",
    ),
    "veer-beyond-distance": (
        reading(
            "{test: travel-time, direction: forward, range: high, distance: 20 m, times: 14 s, "
            "veer: {toward: left, offset: 30 m}}"
        ), 4, "readings[0].veer", "more than the distance",
    ),
    "veer-line": (
        reading(
            "{test: travel-time, direction: forward, range: high, distance: 20 m, times: 14 s, "
            "veer: {toward: left, offset: 1 m, from: middle}}"
        ), 4, "readings[0].veer.from", "chord",
    ),
    "log-out-of-order": (
        reading(
            "{test: drift, cylinder: boom-cylinder, hold: 5 min, moved: 9 mm, "
            "log: [{after: 2 min, moved: 4 mm}, {after: 1 min, moved: 2 mm}]}"
        ), 4, "readings[0].log[1].after", "later",
    ),
    "log-beyond-hold": (
        reading("{test: drift, cylinder: boom-cylinder, hold: 5 min, moved: 9 mm, log: [{after: 9 min, moved: 9 mm}]}"),
        4, "readings[0].log", "after the hold",
    ),
    "own-condition": (
        reading("{test: pilot-pressure, pressure: 3.9 MPa, conditions: {engine-speed: 1900}}"), 4,
        "readings[0].conditions.engine-speed", "no unit",
    ),
    "same-reading-twice": (
        HEAD + "  - {test: pilot-pressure, pressure: 3.9 MPa}\n\n  - {test: pilot-pressure, pressure: 3.8 MPa}\n",
        6, "readings[1]", "on line 4",
    ),
    "same-with-in-another-order": (
        HEAD + "  - {test: cycle-time, function: boom-raise, times: 4 s, with: [arm-in, swing-left]}\n"
        "  - {test: cycle-time, function: boom-raise, times: 5 s, with: [swing-left, arm-in]}\n",
        5, "readings[1]", "on line 4",
    ),
    # a machine inline
    "inline-without-name": (
        "oilpath: sheet/1\nmachine: {circuit: two-pump-excavator}\nreadings: []\n", 2, "machine.name", "missing",
    ),
    "inline-wrong-kind": ("oilpath: sheet/1\nmachine: {oilpath: sheet/1}\nreadings: []\n", 2, "oilpath", "machine file"),
    "inline-problem-deep": (
        "oilpath: sheet/1\nmachine:\n  name: x\n  circuit: two-pump-excavator\n  oil: {grade: 46}\nreadings: []\n",
        5, "machine.oil.grade", "ISO 3448",
    ),
}  # fmt: skip

MACHINES: dict[str, tuple[str | bytes, int, str, str]] = {
    "empty": ("", 1, "-", "empty"),
    "wrong-kind": ("oilpath: sheet/1\n", 1, "oilpath", "this is a test sheet"),
    "newer-version": ("oilpath: machine/7\n", 1, "oilpath", "newer oilpath"),
    "no-name": ("oilpath: machine/1\ncircuit: two-pump-excavator\n", 1, "name", "missing"),
    "no-circuit": ("oilpath: machine/1\nname: x\n", 1, "circuit", "missing"),
    "unknown-circuit": ("oilpath: machine/1\nname: x\ncircuit: two-pump\n", 3, "circuit", "two-pump-excavator"),
    "circuit-missing": ("oilpath: machine/1\nname: x\ncircuit: own.yaml\n", 3, "circuit", "not a file"),
    "circuit-is-itself": ("oilpath: machine/1\nname: x\ncircuit: machine-read.yaml\n", 3, "circuit", "machine file"),
    "circuit-address": ("oilpath: machine/1\nname: x\ncircuit: http://x/c.yaml\n", 3, "circuit", "address"),
    "unknown-key": (MACHINE + "engine-sped: 1900 rpm\n", 4, "engine-sped", "did you mean engine-speed?"),
    "speed-bare": (MACHINE + "engine-speed: 1900\n", 4, "engine-speed", "no unit"),
    "speed-huge": (MACHINE + "engine-speed: 1e6 rpm\n", 4, "engine-speed", "20000 rpm"),
    "tolerance-huge": (MACHINE + "engine-speed: {test: 1900 rpm, tolerance: 90 %}\n", 4, "engine-speed.tolerance", "20 %"),
    "oil-grade": (MACHINE + "oil: {grade: ISO VG 47}\n", 4, "oil.grade", "ISO VG followed by"),
    "viscosity-index": (MACHINE + "oil: {viscosity-index: 4000}\n", 4, "oil.viscosity-index", "at most 400"),
    "unknown-part": (MACHINE + "parts: {pump-9: {count: 1}}\n", 4, "parts.pump-9", "did you mean pump-"),
    "displacement": (
        MACHINE + "parts: {pump-1: {displacement: 112 cm3}}\n", 4, "parts.pump-1.displacement", "per revolution",
    ),
    "rod-and-bore": (
        MACHINE + "parts: {arm-cylinder: {bore: 80 mm, rod: 80 mm}}\n", 4, "parts.arm-cylinder.rod", "thinner",
    ),
    "count-zero": (MACHINE + "parts: {arm-cylinder: {count: 0}}\n", 4, "parts.arm-cylinder.count", "more than zero"),
    "unknown-absent": (MACHINE + "absent: [arm-holding-valv]\n", 4, "absent[0]", "arm-holding-valve"),
    "absent-twice": (MACHINE + "absent: [breather, breather]\n", 4, "absent[1]", "twice"),
    "absent-tank": (MACHINE + "absent: [tank]\n", 4, "absent", "no way for the oil"),
    "limit-for-absent": (
        MACHINE + "absent: [arm-cylinder]\nlimits:\n  - {test: cycle-time, function: arm-in, max: 3 s}\n", 6,
        "limits[0].function", "lacks arm-cylinder",
    ),
    "fed-twice": (MACHINE + "feeds: {pump-1: [boom, swing]}\n", 4, "feeds", "swing would be fed by pump-1 and pump-2"),
    "fed-by-none": (
        MACHINE + "feeds: {pump-1: [boom], pump-2: [arm, swing, travel-left, travel-right]}\n", 4, "feeds", "by no pump",
    ),
    "feeds-function": (MACHINE + "feeds: {pump-1: [boom-raise]}\n", 4, "feeds.pump-1[0]", "group of functions"),
    "merge-same-pump": (
        MACHINE + "feeds: {merge: {boom-raise: pump-1}}\n", 4, "feeds", "boom-raise would be merged from pump-1",
    ),
    "merge-without-valve": (MACHINE + "feeds: {merge: {bucket-curl: pump-2}}\n", 4, "feeds.merge.bucket-curl", "merge valve"),
    "control": (MACHINE + "control: electric\n", 4, "control", "negative"),
    "dimension": (MACHINE + "dimensions: {track-gauge: 0 m}\n", 4, "dimensions.track-gauge", "more than zero"),
    "code-key": (MACHINE + "codes: {E52: {says: x}}\n", 4, "codes.E52", "SPN-FMI"),
    "code-part": (MACHINE + "codes: {'1-4': {says: x, part: pumpp-1}}\n", 4, "codes.1-4.part", "pump-1"),
    "limits-mapping": (MACHINE + "limits: {test: drift}\n", 4, "limits", "a list"),
    "limit-test": (limit("{test: sign, max: 3 s}"), 5, "limits[0].test", "a test that a limit can be for"),
    "limit-key": (limit("{test: drift, hold: 5 min, maximum: 3 mm}"), 5, "limits[0].maximum", "did you mean max?"),
    "limit-key-of-another": (limit("{test: drift, hold: 5 min, max: 3 mm, range: low}"), 5, "limits[0].range", "not a key"),
    "limit-empty": (limit("{test: pilot-pressure}"), 5, "limits[0]", "at least one of new, min, max"),
    "limit-bare": (limit("{test: pilot-pressure, max: 4.3}"), 5, "limits[0].max", "no unit"),
    "limit-dimension": (limit("{test: pilot-pressure, max: 4.3 s}"), 5, "limits[0].max", "pressure"),
    "limit-order": (limit("{test: pilot-pressure, min: 5 MPa, max: 4 MPa}"), 5, "limits[0].max", "min ≤ new ≤ max"),
    "limit-new": (limit("{test: pilot-pressure, new: 5 MPa, max: 4 MPa}"), 5, "limits[0].max", "min ≤ new ≤ max"),
    "limit-hold": (limit("{test: drift, max: 12 mm}"), 5, "limits[0].hold", "missing"),
    "limit-difference": (
        limit("{test: track-time, turns: 3, max: 20 s, max-difference: 6}"), 5, "limits[0].max-difference", "no unit",
    ),
    "limit-veer-elsewhere": (limit("{test: track-time, turns: 3, max-veer: 1 m}"), 5, "limits[0].max-veer", "not a key"),
    "limits-equal": (
        limit("{test: swing-time, turns: 3, max: 14 s}\n  - {test: swing-time, turns: 3, max: 15 s}"), 6, "limits[1]",
        "the limit on line 5",
    ),
    "limits-cross": (
        limit(
            "{test: travel-time, direction: forward, distance: 20 m, max: 14 s}\n"
            "  - {test: travel-time, range: high, distance: 20 m, max: 15 s}"
        ), 6, "limits[1]", "the limit on line 5",
    ),
    "limits-many": (MACHINE + "limits:\n" + "  - {test: pilot-pressure, max: 4 MPa}\n" * 400, 4, "limits", "too many"),
    "demand-range": (
        MACHINE + "conditions: [{test: drift, oil-temperature: [60 °C, 50 °C]}]\n", 4, "conditions[0].oil-temperature",
        "rise",
    ),
    "demand-alone": (
        MACHINE + "conditions: [{test: drift, oil-temperature: 60 °C}]\n", 4, "conditions[0].oil-temperature", "not a range",
    ),
    "demand-twice": (
        MACHINE + "conditions:\n  - {test: drift, attachment: empty}\n  - {test: drift, attachment: loaded}\n", 6,
        "conditions[1]", "line 5",
    ),
}  # fmt: skip


def check(problems: tuple[Problem, ...], file: str, line: int, key: str, fragment: str) -> None:
    said = [str(problem) for problem in problems]
    fitting = [p for p in problems if (p.line, p.key) == (line, key) and fragment in f"{p.message}; {p.accepted}"]
    assert fitting, said
    assert fitting[0].file.endswith(file), said
    assert all(re.match(r".+:\d+: .+: .+", one) and one.isprintable() for one in said), said


@pytest.mark.parametrize("name", SHEETS)
def test_a_broken_sheet_is_told_by_line_and_key(name: str, read: Loader) -> None:
    text, line, key, fragment = SHEETS[name]
    sheet, problems = read(text)
    assert sheet is None
    check(problems, "sheet-read.yaml", line, key, fragment)


@pytest.mark.parametrize("name", MACHINES)
def test_a_broken_machine_is_told_by_line_and_key(name: str, read: Loader) -> None:
    text, line, key, fragment = MACHINES[name]
    machine, problems = read(text, kind="machine")
    assert machine is None
    check(problems, "machine-read.yaml", line, key, fragment)


@pytest.mark.parametrize("name", MACHINES)
def test_a_sheet_of_a_broken_machine_is_unusable(name: str, yard: Path, knowledge: Knowledge) -> None:
    """Mistakes in a machine file are told at its own lines; where it is none, at the sheet's `machine:` line."""
    text, line, key, fragment = MACHINES[name]
    (yard / "machine-read.yaml").write_text(str(text), encoding="utf-8")
    sheet = yard / "sheet.yaml"
    sheet.write_text("oilpath: sheet/1\nreadings: []\nmachine: machine-read.yaml\n", encoding="utf-8")
    with pytest.raises(UnusableInput) as caught:
        load_sheet(sheet, knowledge)
    if name in ("empty", "wrong-kind"):
        check(caught.value.problems, "sheet.yaml", 3, "machine", "not a machine file")
    else:
        check(caught.value.problems, "machine-read.yaml", line, key, fragment)


def test_all_problems_are_told_at_once_in_the_order_of_the_lines(read: Loader) -> None:
    text = (
        "oilpath: sheet/1\nmachine: none.yaml\nhours: many\nreadings:\n"
        "  - {test: cycle-time, function: boom-raise, times: [4.8]}\n  - {test: cycletime}\nzzz: 1\n"
    )
    _, problems = read(text)
    assert [p.line for p in problems] == [2, 3, 5, 6, 7]


def test_readings_are_checked_against_the_circuit_even_where_the_machine_has_a_mistake(
    read: Loader, yard: Path
) -> None:
    (yard / "machine.yaml").write_text(MACHINE + "control: electric\n", encoding="utf-8")
    _, problems = read(reading("{test: cycle-time, function: boom-rise, times: 4 s}"))
    assert [p.key for p in problems] == ["control", "readings[0].function"]


# --- bounded work -------------------------------------------------------------------


MISTAKES = f"{HEAD}  - {{test: pilot-pressure, pressure: 3.9 MPa}}\n" + "".join(
    f"cycle-tim-{number}: 1\n" for number in range(4000)
)
EQUAL_LIMITS = f"{MACHINE}limits:\n" + "".join(
    f"  - {{test: pilot-pressure, max: {number} kPa}}\n" for number in range(1000, 1299)
)


def test_thousands_of_mistakes_are_all_named(read: Loader) -> None:
    _, problems = read(MISTAKES)
    assert len(problems) == 4000


def test_many_equal_limits_are_all_named(read: Loader) -> None:
    _, problems = read(EQUAL_LIMITS, kind="machine")
    assert len(problems) == 298
