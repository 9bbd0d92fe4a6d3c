"""Sums over thicknesses of spots against every sequence written out."""

from itertools import product

import numpy as np
import pytest

from oxhue.optics.gauge.joint.sums import sum_each, sum_rising


def weights(spots, steps=5, seed=1):
    return np.random.default_rng(seed).normal(0.0, 2.0, (2, spots, steps)).astype(np.float32)


@pytest.mark.parametrize("spots", [1, 2, 4])
def test_free_spots_are_summed_one_by_one(spots):
    log = weights(spots)
    total, share = sum_each(log.copy())
    plain = np.exp(log.astype(float))
    np.testing.assert_allclose(total, np.log(plain.sum(axis=2)).sum(axis=1), rtol=1e-5)
    np.testing.assert_allclose(share, plain / plain.sum(axis=2, keepdims=True), rtol=1e-4)


@pytest.mark.parametrize("spots", [1, 2])
def test_rising_spots_are_summed_over_every_sequence_in_order(spots):
    """Two in the same step are in order half the time; the prior is that of spots put in order."""
    log = weights(spots)
    total, share = sum_rising(log.copy())
    plain = np.exp(log.astype(float))
    for n in range(2):
        whole, each = 0.0, np.zeros((spots, 5))
        for places in product(range(5), repeat=spots):
            if list(places) != sorted(places):
                continue
            weight = np.prod([plain[n, p, t] for p, t in enumerate(places)])
            weight *= 0.5 ** (spots - len(set(places)))
            whole += weight
            for p, t in enumerate(places):
                each[p, t] += weight
        ways = np.prod(np.arange(1, spots + 1))
        assert total[n] == pytest.approx(np.log(ways * whole), rel=1e-5)
        np.testing.assert_allclose(share[n], each / whole, rtol=1e-4)


def test_spots_far_out_of_order_stay_finite():
    log = np.full((1, 2, 5), -200.0, dtype=np.float32)
    log[0, 0, 4] = log[0, 1, 0] = 0.0
    total, share = sum_rising(log)
    assert np.isfinite(total).all()
    np.testing.assert_allclose(share.sum(axis=2), 1.0, rtol=1e-3)
