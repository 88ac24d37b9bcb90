"""The register of parameters: every one has its words, its sound value and its effect."""

from typing import get_args

from oilpath.knowledge.parameters import PARAMETERS, Parameter, parameter_words
from oilpath.physics import state


def test_words_values_and_effects_are_there_for_every_parameter() -> None:
    assert set(get_args(Parameter)) == set(PARAMETERS) == set(parameter_words()) == set(state._APPLY)


def test_ratios_are_one_and_additions_nothing_on_a_sound_machine() -> None:
    ratios = {name for name, words in parameter_words().items() if words.quantity == "ratio"}
    assert {name for name, kind in PARAMETERS.items() if not kind.adds} == ratios
    assert {kind.sound for kind in PARAMETERS.values()} == {0.0, 1.0}
