"""What must not matter, through the whole flow: which side is left, in which order causes stand, what was foretold,
which parts a machine lacks.

Symmetry and the laws of probability are the outside source: no answer may depend on the names of two like sides.
"""

from __future__ import annotations

import math
import random
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from oilpath import diagnose, load_knowledge, load_sheet
from oilpath.bench import bench_for
from oilpath.data import data_folder
from oilpath.documents.sheet import Sheet
from oilpath.flow import Diagnosis, evidence_in
from oilpath.knowledge.circuit import Feeds
from oilpath.knowledge.wiring import wire

CASES = data_folder("cases")
OTHER = {"left": "right", "right": "left"}
MIRRORED = ("pump-1-slow", "one-track-slow", "swing-one-way", "two-causes", "compact-arm-slow", "loader-lift-slow")

Key = tuple[str, str, str | None]


def mirrored(text: str) -> str:
    return re.sub(r"\b(left|right)\b", lambda found: OTHER[found[1]], text)


def as_feeds(feeds: Feeds) -> str:
    """The allocation as a machine file says it, left for right."""
    pumps = [f"{pump}: [{', '.join(map(mirrored, groups))}]" for pump, groups in feeds.pumps.items()]
    merge = ", ".join(f"{mirrored(function)}: {pump}" for function, pump in feeds.merge.items())
    return f"feeds: {{{', '.join(pumps)}{f', merge: {{{merge}}}' if merge else ''}}}"


def mirror_of(path: Path, sheet: Sheet) -> Sheet:
    """The same sheet of a machine built the other way round."""
    name = re.search(r"(?m)^machine: (\S+)", path.read_text(encoding="utf-8"))
    assert name is not None
    machine = mirrored((path.parent / name[1]).read_text(encoding="utf-8"))
    own = [
        line for line in machine.splitlines() if re.match(r"[a-z ]", line) and not re.match(r"oilpath|codes|  \"", line)
    ]
    if len(sheet.machine.allocation.pumps) > 1:
        own.append(as_feeds(sheet.machine.allocation))
    inside = "machine:\n" + "\n".join(f"  {line}" for line in own)
    text = re.sub(r"(?m)^machine: \S+", lambda _: inside, mirrored(path.read_text(encoding="utf-8")))
    return load_sheet(path, text=text)


def shares(answer: Diagnosis, swapped: bool = False) -> dict[Key, tuple[float, float]]:
    name = mirrored if swapped else str
    return {
        (one.cause, name(one.part), one.variant and name(one.variant)): (one.probability, one.present)
        for one in answer.causes
    }


def farthest(one: dict[Key, tuple[float, float]], two: dict[Key, tuple[float, float]]) -> float:
    assert one.keys() == two.keys()
    return float(np.abs(np.array([one[key] for key in one]) - np.array([two[key] for key in one])).max())


@pytest.mark.parametrize("name", MIRRORED)
def test_left_and_right_swapped_swaps_the_answer(name: str) -> None:
    path = CASES / "demo" / f"{name}.yaml"
    sheet = load_sheet(path)
    here, there = diagnose(sheet), diagnose(mirror_of(path, sheet))
    assert {mirrored(one.id): one.verdict for one in here.results} == {one.id: one.verdict for one in there.results}
    assert farthest(shares(here, swapped=True), shares(there)) < 1e-9


@pytest.mark.parametrize("name", ["two-causes", "rig-flow-short"])
def test_the_order_of_causes_in_the_knowledge_base_moves_nothing(name: str) -> None:
    known = load_knowledge()
    causes = list(known.causes)
    random.Random(3).shuffle(causes)
    other = known.model_copy(update={"causes": tuple(causes)})
    path = CASES / "demo" / f"{name}.yaml"
    here, there = diagnose(load_sheet(path, known), known), diagnose(load_sheet(path, other), other)
    assert farthest(shares(here), shares(there)) < 1e-9
    assert [one.cause for one in here.causes[:5]] == [one.cause for one in there.causes[:5]]


@pytest.mark.parametrize(
    ("name", "reading"),
    [
        ("relief-low", "stall-pressure/pump-2/boom-raise"),
        ("relief-low", "cycle-time/bucket-curl"),
        ("two-causes", "track-time/right/forward/low"),
        ("rig-flow-short", "flow-at-load/pump-outlet/middle"),
    ],
)
def test_a_reading_just_as_the_leading_cause_foretells_hardly_lowers_it(name: str, reading: str) -> None:
    """One is left out, the leading cause is asked what it would be, and so it is written down."""
    sheet, known = load_sheet(CASES / "demo" / f"{name}.yaml"), load_knowledge()
    (place,) = [number for number, one in enumerate(sheet.readings) if one.id == reading]
    (evidence,) = [one for one in evidence_in(diagnose(sheet).results) if one.result == reading]
    assert evidence is not None
    before, after = sheet.readings[:place], sheet.readings[place + 1 :]
    lead = diagnose(replace(sheet, readings=before + after)).causes[0]
    assert lead.severity is not None
    key = (lead.cause, lead.part, lead.variant)
    model = bench_for(sheet.machine, known).model
    row = [(one.cause.cause, one.part, one.variant) for one in model.hypotheses].index(key)
    node = int(np.abs(model.severities[row] - lead.severity.median).argmin())
    foretold = model.predict([evidence])[0][row, node, 0]
    factor = math.exp(foretold - evidence.e)
    written = replace(sheet.readings[place], values=tuple(value * factor for value in sheet.readings[place].values))
    then = shares(diagnose(replace(sheet, readings=(*before, written, *after))))
    assert then[key][1] > lead.present - 0.03


@pytest.mark.filterwarnings("error::RuntimeWarning")
@pytest.mark.parametrize("number", [0, 1, 2])
@pytest.mark.parametrize("circuit", sorted(load_knowledge().circuits))
def test_a_machine_may_lack_what_other_parts_belong_to(circuit: str, number: int) -> None:
    """Alone, and all of them but the pumps that feed functions."""
    known = load_knowledge().circuits[circuit]
    owners = [name for name in known.parts if any(part.of == name for part in wire(known).parts.values())]
    lacking = [name for name in owners if name not in known.feeds.pumps]
    some = lacking if number == 2 else lacking[number :: max(1, len(lacking) - 1)][:1]
    head = f"oilpath: sheet/1\nmachine: {{name: x, circuit: {circuit}, absent: [{', '.join(some)}]}}\n"
    answer = diagnose(load_sheet("-", text=f"{head}readings: [{{test: sign, sign: foamy-oil, seen: true}}]\n"))
    assert math.isclose(sum(one.probability for one in answer.causes), 1)
    assert not {one.part for one in answer.causes} & set(some)
