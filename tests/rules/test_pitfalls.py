"""The pitfalls that the trade knows, each with the rules that warn of it; `kb check` tries every rule on its cases.

The list is common practice of the trade; what each rule rests on stands with the rule.
"""

import pytest

from oilpath.knowledge.rule import Rule
from tests import shipped

PITFALLS = {
    "cold oil hides leakage": ["pitfall-cold-oil"],
    "automatic idle or an economy setting left on": ["pitfall-settings-left-on", "pitfall-engine-speed"],
    "a weak engine taken for weak hydraulics": ["pitfall-engine-lug"],
    "a pressure used to judge a pump": ["pitfall-stall-says-nothing-of-flow"],
    "a relief turned up against a weakness elsewhere": ["pitfall-relief-turned-up"],
    "a drift taken as proof of the piston seal": ["pitfall-seal-is-not-drift"],
    "both ports plugged, and misread": ["pitfall-both-ports-plugged"],
    "cooling read as drift": ["pitfall-drift-cooling", "pitfall-drift-not-valid"],
    "a case drain trusted alone": ["pitfall-drain-in-order"],
    "air taken for vacuum by its sound": ["pitfall-aeration-or-cavitation"],
    "a gauge at the pump only": ["pitfall-gauge-at-pump-only"],
    "shared flow taken for a fault": ["pitfall-combined-work"],
    "one bad function masks another": ["pitfall-one-masks-another"],
    "the motor blamed for the swivel joint": ["pitfall-motor-blamed", "pitfall-raised-track"],
    "track tension not looked at": ["pitfall-track-tension-first", "pitfall-small-veer"],
    "low flow at zero pressure called wear": ["pitfall-low-flow-is-not-wear"],
    "the old unit's metal in the new one": ["pitfall-metal-of-the-old-pump"],
    "cushion, lever or posture timed in": ["pitfall-cushion-timed"],
    "a heavier tool, or material in the bucket": ["pitfall-heavier-tool"],
    "air after a repair": ["pitfall-air-after-repair"],
    "a noise taken as proof": ["pitfall-noise-is-no-proof"],
    "an outside leak blamed for slowness": ["pitfall-outside-leak"],
    "two-speed travel that steps down by load": ["pitfall-step-down-by-load"],
    "drift timed with the engine running": ["pitfall-drift-engine-running"],
    "a mean over both ways": ["pitfall-one-way-averaged"],
    "an exchange with a twin that is worn too": ["pitfall-both-twins-worn"],
    "parts before numbers": ["pitfall-numbers-before-parts"],
    "a code taken for a part": ["pitfall-code-is-a-circuit"],
}


def test_every_pitfall_of_the_trade_has_a_rule() -> None:
    assert len(PITFALLS) == 28


@pytest.mark.parametrize("rules", PITFALLS.values(), ids=PITFALLS)
def test_it_warns_and_has_a_case_that_fires_it_and_one_that_does_not(rules: list[str]) -> None:
    for name in rules:
        rule = shipped.read(f"rules/{name}.yaml", Rule)
        assert rule.kind == "pitfall"
        assert rule.fires
        assert rule.silent
        assert rule.warn
