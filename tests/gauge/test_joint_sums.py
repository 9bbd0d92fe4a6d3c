"""Sums over thicknesses of spots against every sequence written out."""

from itertools import product

import numpy as np
import pytest

from oxhue.optics.gauge.joint.sums import sum_each, sum_rising


def weights(spots, steps=5, seed=1):
    return np.random.default_rng(seed).normal(0.0, 2.0, (spots, steps, 2)).astype(np.float32)


def summed(sums, log):
    """Over the whole scale of every spot, (P, t, n)."""
    spots, steps, _ = log.shape
    return sums(list(log.copy()), [slice(0, steps)] * spots, steps)


@pytest.mark.parametrize("spots", [1, 2, 4])
def test_free_spots_are_summed_one_by_one(spots):
    log = weights(spots)
    total, share = summed(sum_each, log)
    plain = np.exp(log.astype(float))
    np.testing.assert_allclose(total, np.log(plain.sum(axis=1)).sum(axis=0), rtol=1e-5)
    np.testing.assert_allclose(share, plain / plain.sum(axis=1, keepdims=True), rtol=1e-4)


@pytest.mark.parametrize("spots", [1, 2])
def test_rising_spots_are_summed_over_every_sequence_in_order(spots):
    """Two in the same step are in order half the time; the prior is that of spots put in order."""
    log = weights(spots)
    total, share = summed(sum_rising, log)
    plain = np.exp(log.astype(float))
    for n in range(2):
        whole, each = 0.0, np.zeros((spots, 5))
        for places in product(range(5), repeat=spots):
            if list(places) != sorted(places):
                continue
            weight = np.prod([plain[p, t, n] for p, t in enumerate(places)])
            weight *= 0.5 ** (spots - len(set(places)))
            whole += weight
            for p, t in enumerate(places):
                each[p, t] += weight
        ways = np.prod(np.arange(1, spots + 1))
        assert total[n] == pytest.approx(np.log(ways * whole), rel=1e-5)
        np.testing.assert_allclose(share[:, :, n], each / whole, rtol=1e-4)


@pytest.mark.parametrize("sums", [sum_each, sum_rising])
def test_windows_leave_out_what_weighs_nothing(sums):
    """Of more steps than one product takes."""
    steps, windows = 150, [slice(0, 90), slice(20, 150), slice(60, 70)]
    log = np.full((3, steps, 2), -200.0, dtype=np.float32)
    for own, window in zip(log, windows, strict=True):
        own[window] = weights(1, window.stop - window.start, seed=window.stop)[0]
    whole, shares = summed(sums, log)
    each = [own[window].copy() for own, window in zip(log, windows, strict=True)]
    total, share = sums(each, windows, steps)
    np.testing.assert_allclose(total, whole, rtol=1e-5)
    np.testing.assert_allclose(share, shares, atol=1e-6)


def test_spots_far_out_of_order_stay_finite():
    log = np.full((2, 5, 1), -200.0, dtype=np.float32)
    log[0, 4] = log[1, 0] = 0.0
    total, share = summed(sum_rising, log)
    assert np.isfinite(total).all()
    assert np.isfinite(share).all()
    assert total[0] < -25.0


def test_a_spot_out_of_order_costs_the_same_however_many_follow_it():
    """What those after it add is what they have by themselves, and of the three ways in which two
    may be out of order alike the half is gone where the second would be past the third."""
    log = np.full((6, 9, 1), -200.0, dtype=np.float32)
    log[[0, 1, 2, 3, 4, 5], [8, 1, 2, 4, 5, 6]] = 0.0
    two, six = (summed(sum_rising, log[:count])[0][0] for count in (2, 6))
    assert six - two == pytest.approx(np.log(3.0 * 4.0 * 5.0 * 6.0 * 2.5 / 3.0), abs=1e-3)
    shares = summed(sum_rising, log)[1]
    np.testing.assert_allclose(shares[[2, 3, 4, 5], [2, 4, 5, 6]], 1.0, atol=1e-6)
