"""(1 - exp(2iδ))/2 from real functions, part by part against many digits."""

from __future__ import annotations

import mpmath as mp
import numpy as np
import pytest

from oxhue.optics.films.engine.phase import round_trip_of, round_trips

TINY = [0.0, 5e-324, 1e-310, 1e-200, 1e-30, 1e-9, 1e-3]
MIDDLE = [0.3, 0.78539816339744828, 1.5707963267948966, 3.0, 3.141592653589793, 20.0, 1e3]


def exactly(phase):
    with mp.workdps(700):  # enough to see 1e-310 beside 1
        exact = [(1 - mp.exp(2j * mp.mpc(complex(z)))) / 2 for z in phase]
        return np.array([complex(z) for z in exact])


@pytest.mark.parametrize("fade", [*TINY, 0.5, 7.0, 400.0, 1e5])
def test_small_phases_keep_their_digits_and_large_ones_end_at_a_half(fade):
    phase = np.array([*TINY, *MIDDLE]) + 1j * fade
    found, exact = round_trips(phase, 1.0), exactly(phase)
    np.testing.assert_allclose(found, exact, rtol=1e-14, atol=0)
    # Each part by itself, but for what rounding the phase costs near a zero of its sine.
    np.testing.assert_allclose(found.real, exact.real, rtol=1e-13, atol=0)
    np.testing.assert_allclose(found.imag, exact.imag, rtol=1e-12, atol=1e-15)


def test_nothing_that_fades_is_the_same_as_a_fade_of_zero():
    across = np.random.default_rng(0).uniform(0.0, 40.0, 500)
    clear = np.empty(500, dtype=complex)
    round_trip_of(-across, None, np.empty((2, 500)), round_trip=clear)
    np.testing.assert_array_equal(clear, round_trips(across + 0j, 1.0))
    np.testing.assert_allclose(clear, exactly(across), rtol=1e-14)


def test_phases_of_many_turns_are_those_of_the_rounded_number():
    phase = np.array([1e6, 123456789.0, 1e15, 6e21]) + 0.25j
    np.testing.assert_allclose(round_trips(phase, 1.0), exactly(phase), rtol=1e-14)
