"""The list of causes against plain loops over the hypotheses."""

import numpy as np

from oilpath.physics.predictions import Predictions
from oilpath.ranking.cause_index import cause_index


def test_every_hypothesis_belongs_to_its_cause(model: Predictions) -> None:
    who = cause_index(model)
    assert who.keys[-2:] == (("none", "machine"), ("unknown", "machine"))
    assert len(set(who.keys)) == len(who.keys) == who.causes + 2
    for h, owner, title in zip(model.hypotheses, who.owner, who.titles, strict=True):
        assert who.keys[owner] == (h.cause.cause, h.part)
        assert "{" not in title
        assert title[0] == title[0].upper()
    assert [who.keys[i] for i in np.argsort(who.place)] == sorted(who.keys)


def test_sums_and_the_foremost(model: Predictions) -> None:
    who = cause_index(model)
    values = np.random.default_rng(1).integers(0, 3, len(model.hypotheses)).astype(float)  # with ties
    sums, most_probable = who.gathered(values), who.most_probable(values)
    for cause in range(who.causes):
        mine = np.flatnonzero(who.owner == cause)
        assert sums[cause] == values[mine].sum()
        assert most_probable[cause] == max(mine, key=lambda h: (values[h], -h))
