"""The posterior of the ranking's discrete form, ours and another library's on the very same network."""

from collections.abc import Callable

import numpy as np
import pytest

from oilpath.lab.discrete import Network, network, posterior

Compare = Callable[..., tuple[float, float]]


def sheet_like(hypotheses: int, severities: int, readings: int, columns: int) -> Network:
    """A network as large as the other library takes in fractions of a second; seeded."""
    random = np.random.default_rng(11)
    size = (hypotheses, severities, readings)
    return network(
        random.dirichlet(np.ones(hypotheses)),
        np.full((hypotheses, severities), 1 / severities),
        random.normal(0, 0.15, size) * (random.random((hypotheses, 1, readings)) < 0.4),
        random.normal(0, 0.1, readings),
        random.uniform(1e-3, 4e-3, readings),
        np.full((readings, columns), 0.03) * (random.random((readings, columns)) < 0.6),
        np.full(readings, 3.0),
        model_error=0.2,
        freedom=5.0,
        gross=0.01,
        smear=random.uniform(0.05, 0.3, hypotheses),
    )


@pytest.mark.parametrize("size", [(12, 5, 8, 1), (30, 8, 12, 2)], ids=["small", "larger"])
def test_ten_times_faster_than_the_other_library(compare: Compare, size: tuple[int, int, int, int]) -> None:
    """Both start from their ready network and sum out every hidden node; building it is not counted on either side."""
    pytest.importorskip("pyagrum", reason="compares with pyagrum: run `make test-peers` once", exc_type=ImportError)
    from tests.lab.agrum import inference_for, peer_posterior

    net = sheet_like(*size)
    inference = inference_for(net)

    def peer() -> None:
        inference.eraseAllEvidence()  # or it would remember its last answer
        inference.setEvidence({f"reading-{i}": 1 for i in range(len(net.parents))})
        peer_posterior(inference)

    name = f"posterior of {size[0]} hypotheses, {size[1]} severities, {size[2]} readings"
    assert peer_posterior(inference) == pytest.approx(posterior(net), abs=1e-9)
    ours, theirs = compare(name, lambda: posterior(net), "pyagrum on the same network", peer)
    assert ours * 10 <= theirs
