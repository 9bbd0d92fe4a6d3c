"""Vapour pressure and the rate of evaporation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.deposition.vapour import (
    evaporation_g_cm2_s,
    has_vapour_data,
    temperature_for_pressure,
    temperature_for_rate,
    vapour_pressure_mbar,
)
from oxhue.optics.errors import InputError, OutOfRangeError, UnknownNameError

# Solid and liquid are in equilibrium at the melting point; the paper's pairs of formulas, fitted
# apart, meet there to a few percent, which also guards against a slip in typing one.
TWO_PHASES = {
    "Al": 660.3, "Ti": 1667.9, "V": 1910.0, "Fe": 1538.0, "Co": 1495.0, "Ni": 1455.0,
    "Cu": 1084.6, "Zn": 419.5, "Zr": 1855.0, "Rh": 1964.0, "Pd": 1554.8, "Ag": 961.8,
    "Sn": 231.9, "Pt": 1768.0, "Au": 1064.2,
}  # fmt: skip


@pytest.mark.parametrize(("material", "melting_C"), TWO_PHASES.items())
def test_solid_and_liquid_meet_at_the_melting_point(material, melting_C):
    below, above = vapour_pressure_mbar(material, [melting_C - 0.2, melting_C + 0.2])
    assert above / below == pytest.approx(1.0, abs=0.08)


@given(
    material=st.sampled_from([*TWO_PHASES, "Cr", "Mo", "W", "Mg", "SiO", "MgF2"]),
    log_mbar=st.floats(-6.0, -1.0),
)
@settings(deadline=None, max_examples=100)
def test_temperature_is_found_for_a_pressure(material, log_mbar):
    found = temperature_for_pressure(material, 10.0**log_mbar)
    back = vapour_pressure_mbar(material, found.temperature_C, extrapolate=True)
    # where solid and liquid jump at the melting point the lower one falls short by the jump
    assert np.log10(back) == pytest.approx(log_mbar, abs=0.03)
    assert found.pressure_mbar == pytest.approx(back, rel=0.07)


@given(
    flux=st.floats(1e-7, 1e-2),
    factor=st.floats(1.1, 10.0),
    material=st.sampled_from(["Ti", "Al", "Cr", "Cu"]),
)
@settings(deadline=None, max_examples=50)
def test_faster_is_hotter(flux, factor, material):
    slow, fast = (temperature_for_rate(material, f, 50.0) for f in (flux, factor * flux))
    assert fast.temperature_C > slow.temperature_C


def test_rate_and_temperature_undo_each_other():
    found = temperature_for_rate("Cr", 1e-4, 51.996)
    flux = evaporation_g_cm2_s(found.pressure_mbar, found.temperature_C, 51.996)
    assert flux == pytest.approx(1e-4, rel=1e-9)


def test_evaporation_is_that_of_an_ideal_gas_one_way():
    # n v/4 m with n = p/kT and v = sqrt(8 kT / π m), worked through apart from the module
    k, u, T, p = 1.380649e-23, 1.66053906660e-27, 1500.0, 1.0
    m = 47.867 * u
    one_way = p / (k * T) * np.sqrt(8.0 * k * T / (np.pi * m)) / 4.0 * m  # kg/m²s
    found = evaporation_g_cm2_s(0.01, T - 273.15, 47.867)
    assert found == pytest.approx(0.1 * one_way, rel=1e-8)


def test_shape_follows_the_input():
    assert vapour_pressure_mbar("Ti", np.full((2, 3), 1400.0)).shape == (2, 3)


def test_past_the_data_only_when_asked():
    with pytest.raises(OutOfRangeError, match=r"tungsten|W is held from 25 to 2077 °C; 2500 °C"):
        vapour_pressure_mbar("W", 2500.0)
    assert vapour_pressure_mbar("W", 2500.0, extrapolate=True) > 0.0
    assert temperature_for_pressure("W", 1e-4).extrapolated
    assert not temperature_for_pressure("Cr", 1e-4).extrapolated


@pytest.mark.parametrize("bad", [np.nan, np.inf, -270.0, 4000.0])
def test_refuses_impossible_temperatures(bad):
    with pytest.raises(OutOfRangeError, match="outside"):
        vapour_pressure_mbar("Ti", [1000.0, bad], extrapolate=True)


def test_refuses_what_it_has_no_data_for():
    assert not has_vapour_data("TiO2")
    with pytest.raises(UnknownNameError, match="no vapour pressure is held for 'TiO2'"):
        vapour_pressure_mbar("TiO2", 1000.0)
    with pytest.raises(InputError, match="must be above 0"):
        temperature_for_pressure("Ti", 0.0)
    with pytest.raises(OutOfRangeError, match="at no temperature between"):
        temperature_for_pressure("W", 1e6)
