"""Pressures over time against closed forms, and flushing."""

import numpy as np
import pytest

from oxhue.optics.deposition.gas_balance import MetalFlow, gas_balance
from oxhue.optics.deposition.history import Flush, follow_pressures, parse_flush
from oxhue.optics.deposition.jar import make_jar
from oxhue.optics.errors import InputError

TITANIUM = MetalFlow("Ti", 1e15, 4e17)
TIGHT = make_jar(leak=0.0, outgassing=0.0, pumping=2.0)


def total(history):
    return np.sum(list(history.partial_mbar.values()), axis=0)


def test_a_pump_of_one_speed_falls_as_an_exponential():
    """p = p0 exp(-S t / V) for a chamber without any leak."""
    history = follow_pressures(TIGHT, pumped_s=30.0, duration_s=1.0)
    at = history.time_s < 30.0
    expected = 1013.25 * np.exp(-2.0 * history.time_s[at] / 3.0)
    np.testing.assert_allclose(total(history)[at], expected, rtol=1e-9)


def test_the_course_runs_into_the_balance():
    jar = make_jar(leak=1e-3, outgassing=1e-4, pumping=2.0)
    run = {"working_gas": "Ar", "working_pressure_mbar": 1e-2}
    history = follow_pressures(jar, TITANIUM, duration_s=600.0, **run)
    end = {gas: course[-1] for gas, course in history.partial_mbar.items()}
    steady = gas_balance(jar, TITANIUM, pumped_s=history.time_s[-1], duration_s=0.0, **run)
    for gas, pressure in steady.partial_mbar.items():
        assert end[gas] == pytest.approx(pressure, rel=1e-6, abs=1e-20)


def test_phases_follow_each_other():
    jar = make_jar(leak=1e-3, pumping=2.0)
    history = follow_pressures(jar, TITANIUM, Flush(3, 5.0), working_gas="Ar",
                               working_pressure_mbar=1e-2)  # fmt: skip
    assert list(history.phases) == ["pump", "flush", "working gas", "metal"]
    assert np.all(np.diff(list(history.phases.values())) >= 0.0)
    assert np.all(np.diff(history.time_s) >= 0.0)
    assert all(np.all(course >= 0.0) for course in history.partial_mbar.values())


def test_puffs_dilute_what_was_there():
    """(p_low / p_high)^n of the air is left where nothing leaks."""
    puffs = Flush(2, 5.0, 0.5)
    history = follow_pressures(TIGHT, None, puffs, pumped_s=5.01, duration_s=0.0)
    # down to 0.5 and up to 5, twice: the share of air falls by the ratio each time
    argon, nitrogen = history.partial_mbar["Ar"], history.partial_mbar["N2"]
    up = np.flatnonzero((np.diff(history.time_s) == 0.0) & (np.diff(argon) > 1.0)) + 1
    assert up.size == 2
    shares = nitrogen[up] / total(history)[up]
    assert shares[1] / shares[0] == pytest.approx(total(history)[up[1] - 1] / 5.0, rel=1e-9)


@pytest.mark.parametrize(("puffs", "low", "left"), [(1, 0.5, 0.1), (3, 0.05, 1e-6), (2, 9.0, 1.0)])
def test_share_left(puffs, low, left):
    assert Flush(puffs, 5.0).share_left(low) == pytest.approx(left, rel=1e-12)


def test_outgassing_dies_away_as_one_over_the_time():
    jar = make_jar(leak=0.0, outgassing=1e-3, pumping=2.0)
    history = follow_pressures(jar, None, pumped_s=7200.0, duration_s=1.0)
    at = [int(np.argmin(np.abs(history.time_s - t))) for t in (1000.0, 4000.0)]
    water, times = history.partial_mbar["H2O"][at], history.time_s[at]
    assert water[0] / water[1] == pytest.approx(times[1] / times[0], rel=0.1)


def test_written_puffs():
    assert parse_flush("3,5mbar") == Flush(3, 5.0)
    assert parse_flush("3, 5mbar, 1e-2mbar") == Flush(3, 5.0, 1e-2)
    assert parse_flush(None) is None


@pytest.mark.parametrize(
    "text",
    ["3", "5mbar", "3,5", "0,5mbar", "3.5,5mbar", "3,5mbar,6mbar", "-1,5mbar", 3, "3,1e9mbar"],
)
def test_puffs_that_are_refused(text):
    with pytest.raises(InputError) as refused:
        parse_flush(text)
    assert refused.value.parameter in ("flush", None)


def test_a_speed_is_needed():
    with pytest.raises(InputError, match="pumping speed"):
        follow_pressures(make_jar(base_pressure=1e-5))
