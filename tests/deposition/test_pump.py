"""Pump and tube: limits of the conductance, series of speeds, the pump's own lowest pressure."""

import math

import numpy as np
import pytest

from oxhue.optics.deposition.gases import GASES
from oxhue.optics.deposition.pump import Pump, Tube, as_tube, usual_pump
from oxhue.optics.errors import InputError, OutOfRangeError

N2, H2 = GASES.index("N2"), GASES.index("H2")


def test_a_long_tube_at_low_pressure_is_molecular():
    tube = Tube(100.0, 0.8)
    low = tube.conductance_l_s(1e-9)
    assert low[N2] == pytest.approx(12.1 * 0.8**3 / 100.0 * np.sqrt(28.96 / 28.014), rel=0.02)
    assert low[H2] / low[N2] == pytest.approx(np.sqrt(28.014 / 2.016), rel=1e-6)


def test_at_high_pressure_it_is_viscous_and_alike_for_all_gases():
    tube = Tube(1000.0, 2.0)
    high = tube.conductance_l_s(10.0)
    assert high[N2] == pytest.approx(135.0 * 2.0**4 * 10.0 / 1000.0, rel=0.01)
    assert high[H2] == pytest.approx(high[N2], rel=0.02)


def test_a_tube_of_no_length_is_a_hole():
    assert Tube(0.1, 5.0).conductance_l_s(1e-6)[N2] == pytest.approx(
        11.6 * np.pi * 6.25 * np.sqrt(28.96 / 28.014), rel=0.02
    )


def test_between_the_two_it_has_one_shallow_minimum():
    """Knudsen's: a little below the molecular value before the viscous flow takes over."""
    conductance = Tube(1000.0, 1.0).conductance_l_s(np.geomspace(1e-5, 10.0, 200))[:, N2]
    falls = np.diff(conductance) < 0.0
    assert falls[0]
    assert np.count_nonzero(np.diff(falls.astype(int))) == 1
    assert 0.9 < conductance.min() / conductance[0] < 1.0


def test_speeds_in_series():
    tube = Tube(100.0, 0.8)
    speed = Pump(2.0, tube=tube).speed_at_l_s(1e-3)
    through = tube.conductance_l_s(5e-4)
    np.testing.assert_allclose(1.0 / speed, 1.0 / 2.0 + 1.0 / through, rtol=1e-12)


def test_a_pump_stops_at_its_lowest_pressure():
    pump = Pump(2.0, 1e-3)
    assert pump.speed_at_l_s(1e-2)[N2] == pytest.approx(2.0 * 0.9)
    assert pump.speed_at_l_s(1e-3)[N2] == 0.0
    assert pump.speed_at_l_s(5e-4)[N2] == 0.0
    assert pump.speed_at_l_s([1e-2, 1.0]).shape == (2, len(GASES))


def test_written_tubes():
    assert as_tube("1m,8mm") == Tube(100.0, 0.8)
    assert as_tube(None) is None
    for wrong in ("1m", "1m,8mm,3mm", "1m;8mm", 5):
        with pytest.raises(InputError, match="such as '1m,8mm'"):
            as_tube(wrong)


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda: Tube(0.0, 1.0), "tube"),
        (lambda: Tube(1.0, 0.0), "tube"),
        (lambda: Pump(0.0), "pumping"),
        (lambda: Pump(2.0, 20.0), "ultimate"),
        (lambda: Pump(float("nan")), "pumping"),
    ],
)
def test_what_cannot_be_is_refused_by_its_name(make, named):
    with pytest.raises(OutOfRangeError) as refused:
        make()
    assert refused.value.parameter == named


def test_a_pump_whose_speed_is_not_said_is_one_that_reaches_the_base_pressure():
    held = [10.0**decade for decade in (-7, -5, -4, -3.7, -3.3, -3, -2)]
    pumps = [usual_pump(mbar) for mbar in held]
    assert pumps[0] == pumps[2]
    assert pumps[-1] == pumps[-2]
    assert pumps[-1].speed_l_s < pumps[0].speed_l_s
    for reach in (-1.645, 0.0, 1.645):  # what comes in never falls while the pressure rises
        flows = [mbar * one.speed_l_s * math.exp(reach * one.doubt)
                 for mbar, one in zip(held, pumps, strict=True)]  # fmt: skip
        assert flows == sorted(flows)
