"""Rise tests: the sum from two readings, leak and outgassing from more."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.deposition.rise_test import RiseTest, parse_rise, read_inflow
from oxhue.optics.errors import InputError

TIMES_S = np.array([0.0, 15.0, 30.0, 60.0, 120.0, 300.0])


def risen(leak: float, outgassing: float, tau_s: float, volume_l: float = 3.0) -> RiseTest:
    """What a rise test would show."""
    bent = outgassing * tau_s * -np.expm1(-TIMES_S / tau_s)
    return RiseTest(tuple(TIMES_S), tuple(1e-3 + (leak * TIMES_S + bent) / volume_l))


def test_two_readings_give_the_sum():
    """V Δp / Δt in closed form: 3 l from 5e-3 to 5e-2 mbar in 60 s."""
    found = read_inflow(parse_rise("5e-3mbar,5e-2mbar,60s"), 3.0)
    assert found.leak_mbar_l_s == pytest.approx(3.0 * 4.5e-2 / 60.0, rel=1e-12)
    assert found.total_mbar_l_s == found.leak_mbar_l_s
    assert not found.separated
    assert found.leak_interval90[0] == 0.0  # it may all be outgassing


@given(st.floats(1e-6, 1.0), st.floats(1.0, 100.0))
@settings(max_examples=30, deadline=None)
def test_a_straight_line_is_a_leak(leak, volume_l):
    found = read_inflow(risen(leak, 0.0, 30.0, volume_l), volume_l)
    assert found.leak_mbar_l_s == pytest.approx(leak, rel=1e-3)
    assert found.outgassing_mbar_l_s < 1e-3 * leak
    assert found.separated


@pytest.mark.parametrize("tau_s", [10.0, 30.0, 60.0])
def test_what_bends_over_is_outgassing(tau_s):
    found = read_inflow(risen(0.0, 1e-3, tau_s), 3.0)
    assert found.leak_mbar_l_s < 0.1e-3
    assert found.outgassing_mbar_l_s == pytest.approx(1e-3, rel=0.4)


@pytest.mark.parametrize("tau_s", [10.0, 30.0, 60.0])
@pytest.mark.parametrize("outgassing", [5e-4, 2e-3])
def test_the_leak_lies_in_its_interval(outgassing, tau_s):
    found = read_inflow(risen(1e-3, outgassing, tau_s), 3.0)
    low, high = found.leak_interval90
    assert low <= 1e-3 <= high
    assert high < 2.5e-3


def test_written_rises():
    assert parse_rise("5e-3mbar,2e-2mbar,30s,3e-2mbar,1min") == RiseTest(
        (0.0, 30.0, 60.0), (5e-3, 2e-2, 3e-2)
    )


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("5e-3mbar,5e-2mbar", "pressure and time of each later reading"),
        ("5e-3mbar,5e-2mbar,60s,7e-2mbar", "pressure and time"),
        ("5e-2mbar,5e-3mbar,60s", "end above"),
        ("5e-3mbar,5e-2mbar,0s", "times that rise"),
        ("5e-3,5e-2mbar,60s", "no unit"),
        ("5e-3mbar,5e4mbar,60s", "0 to 1100 mbar"),
        (3, "pressure and time"),
    ],
)
def test_rises_that_are_refused(text, why):
    with pytest.raises(InputError, match=why):
        parse_rise(text)
