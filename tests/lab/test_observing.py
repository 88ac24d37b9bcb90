"""Signs and codes of simulated sheets: drawn with the probabilities that the knowledge base declares.

The expected shares are arithmetic on those declarations; how wide they may scatter is the binomial distribution.
"""

from __future__ import annotations

import json
import math
from collections import Counter

import numpy as np
import pytest

from oilpath.bench import bench_for
from oilpath.data import data_folder
from oilpath.documents.load import load_machine, load_sheet
from oilpath.documents.machine import Machine
from oilpath.flow import CodeResult
from oilpath.judging import judge
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.lab.observing import codes, signs
from oilpath.lab.scoring import OWN, _draw
from oilpath.machine.hypotheses import Hypothesis

DRAWS = 4000


@pytest.fixture(scope="module")
def kb() -> Knowledge:
    return load_knowledge()


@pytest.fixture(scope="module")
def machine(kb: Knowledge) -> Machine:
    return load_machine(str(data_folder("cases") / "machines" / "trainer-22t.yaml"), kb)


def hypothesis(machine: Machine, kb: Knowledge, cause: str, part: str) -> Hypothesis:
    return next(h for h in bench_for(machine, kb).model.hypotheses if (h.cause.cause, h.part) == (cause, part))


def like(count: int, probability: float) -> bool:
    """Within four standard deviations of a binomial count."""
    return abs(count - DRAWS * probability) < 4 * math.sqrt(DRAWS * probability * (1 - probability))


def test_codes_come_as_declared(machine: Machine, kb: Knowledge) -> None:
    says = kb.priors.observed["code"]
    h = hypothesis(machine, kb, "pressure-sensor.offset", "pressure-sensor-1")
    rule = next(rule for rule in kb.rules if rule.id == "code-names-pressure-sensor")
    likelihood = rule.suspect[0].likelihood or 0.0
    rng = np.random.default_rng(1)
    drawn = [list(codes([h], machine, kb, rng)) for _ in range(DRAWS)]
    own = (520210, 2)
    others = {(spn, fmi) for code in machine.codes for spn, fmi in [map(int, code.split("-"))]} - {own}
    count = Counter((one["spn"], one["fmi"]) for seen in drawn for one, _ in seen)
    assert like(count[own], says.looked_for * says.astray * likelihood)
    assert all(like(count[other], says.looked_for * says.astray) for other in others)
    whose = {((one["spn"], one["fmi"]) == own, of is h) for seen in drawn for one, of in seen}
    assert whose == {(True, True), (False, False)}


def test_a_sound_machine_hardly_ever_sets_a_code(machine: Machine, kb: Knowledge) -> None:
    rng = np.random.default_rng(2)
    silent = sum(not list(codes([], machine, kb, rng)) for _ in range(DRAWS))
    says = kb.priors.observed["code"]
    assert like(silent, (1 - says.looked_for * says.astray) ** len(machine.codes))
    assert silent > 0.85 * DRAWS


def test_a_machine_without_codes_has_none(machine: Machine, kb: Knowledge) -> None:
    bare = machine.model_copy(update={"codes": {}})
    rng = np.random.default_rng(3)
    assert not any(list(codes([], bare, kb, rng)) for _ in range(200))


def test_signs_come_as_declared(machine: Machine, kb: Knowledge) -> None:
    says = kb.priors.observed["sign"]
    h = hypothesis(machine, kb, "cylinder.gland-leak", "arm-cylinder")
    rule = next(rule for rule in kb.rules if rule.id == "sign-wet-rod")
    likelihood = rule.suspect[0].likelihood or 0.0
    rng = np.random.default_rng(4)
    seen = [one for _ in range(DRAWS) for one, of in signs([h], kb, rng) if of is h and one["sign"] == "wet-rod"]
    assert like(len(seen), says.looked_for * min(says.at_most, says.astray * likelihood))
    assert all(one == {"test": "sign", "sign": "wet-rod", "seen": True, "part": "arm-cylinder"} for one in seen)


def test_a_likelihood_below_one_makes_nothing_more_probable(machine: Machine, kb: Knowledge) -> None:
    """What speaks against a cause never counts as its own sign."""
    against = [(rule, one) for rule in kb.rules if rule.kind == "finding" for one in rule.suspect]
    told = {one.cause for _, one in against if (one.likelihood or 1) < 1}
    present = [h for h in bench_for(machine, kb).model.hypotheses if h.cause.cause in told]
    more = {(r.id, one.cause) for r, one in against if (one.likelihood or 1) > 1}
    rng = np.random.default_rng(5)
    for _ in range(300):
        for one, whose in signs(present, kb, rng):
            assert whose is None or any((f"sign-{one['sign']}", whose.cause.cause) == pair for pair in more)


def test_codes_are_read_as_any_sheet_is(machine: Machine, kb: Knowledge) -> None:
    rng = np.random.default_rng(6)
    written = next(seen for _ in range(500) if (seen := [one for one, _ in codes([], machine, kb, rng)]))
    text = json.dumps({"oilpath": "sheet/1", "machine": "trainer-22t.yaml", "readings": written})
    sheet = load_sheet(str(data_folder("cases") / "machines" / "simulated.yaml"), kb, text=text)
    results = [result for result in judge(sheet, bench_for(sheet.machine, kb)) if isinstance(result, CodeResult)]
    assert [result.id for result in results] == [f"code/{one['spn']}-{one['fmi']}" for one in written]
    assert all(result.active for result in results)


def test_simulated_sheets_hold_codes_the_same_for_the_same_seed(machine: Machine, kb: Knowledge) -> None:
    def sheets() -> list[list[tuple[str, object]]]:
        drawn = [_draw(machine, kb, np.random.default_rng([7, n]), OWN, causes=n % 2)[1] for n in range(40)]
        return [[(result.id, repr(result)) for result in results] for results in drawn]

    first = sheets()
    assert first == sheets()
    assert any(name.startswith("code/") for results in first for name, _ in results)


def test_a_sign_of_which_two_rules_speak_is_noted_once(machine: Machine, kb: Knowledge) -> None:
    of = [c.slots["of"] for rule in kb.rules if rule.kind == "finding" and len(rule.when) == 1
          for c in rule.when if c.fact == "observed" and c.slots.get("kind") == "sign"]  # fmt: skip
    assert max(Counter(of).values()) > 1
    rng = np.random.default_rng(5)
    h = hypothesis(machine, kb, "pilot-lockout.faulty", "pilot-lockout")
    for _ in range(DRAWS):
        names = [one["sign"] for one, _ in signs([h], kb, rng)]
        assert len(names) == len(set(names))
