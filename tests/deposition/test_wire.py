"""Wires heated by their own current."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.deposition.wire import (
    melting_margin,
    wire_current_A,
    wire_lifetime_s,
    wire_materials,
    wire_power_W_cm,
    wire_temperature_C,
)
from oxhue.optics.errors import OutOfRangeError, UnknownNameError


@given(
    material=st.sampled_from(["W", "Mo", "Ta", "Ti"]),
    diameter_mm=st.floats(0.05, 3.0),
    temperature_C=st.floats(100.0, 1600.0),
)
@settings(deadline=None, max_examples=60)
def test_temperature_is_found_for_a_current(material, diameter_mm, temperature_C):
    current = float(wire_current_A(material, diameter_mm, temperature_C))
    assert wire_temperature_C(material, diameter_mm, current) == pytest.approx(
        temperature_C, abs=1e-4
    )


@pytest.mark.parametrize("material", wire_materials())
def test_hotter_takes_more_current(material):
    current = wire_current_A(material, 0.8, np.linspace(100.0, 1660.0, 300))
    # titanium's resistance drops by 8 % where its lattice changes, at 882 °C
    assert np.all(np.diff(current) > 0.0)


def test_current_goes_as_diameter_to_three_halves():
    thin, thick = (wire_current_A("W", d, 2000.0) for d in (0.5, 1.0))
    assert thick / thin == pytest.approx(2.0**1.5, rel=1e-12)


def test_power_is_current_squared_times_resistance():
    current = wire_current_A("W", 0.8, 2000.0 - 273.15)
    ohm_per_cm = 56.67e-6 / (np.pi * 0.04**2)
    power = wire_power_W_cm("W", 0.8, 2000.0 - 273.15)
    assert power == pytest.approx(current**2 * ohm_per_cm, rel=1e-9)


def test_life_goes_as_diameter_and_falls_with_heat():
    life = [wire_lifetime_s("W", d, t) for d, t in ((0.5, 2300.0), (1.0, 2300.0), (1.0, 2500.0))]
    assert life[1] == pytest.approx(2.0 * life[0])
    assert life[2] < 0.2 * life[1]


def test_margins_are_said_plainly():
    margins = {name: melting_margin(name) for name in ("Ti", "Cr", "Al")}
    assert margins["Ti"].margin_K == pytest.approx(215.0, abs=10.0)
    assert "is narrow" in margins["Ti"].sentence
    assert "is comfortable" in margins["Cr"].sentence
    assert "must be molten" in margins["Al"].sentence
    assert melting_margin("TiO2") is None


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: wire_current_A("Au", 0.8, 900.0), UnknownNameError, "no data for a wire of 'Au'"),
        (lambda: wire_current_A("W", 0.0, 900.0), OutOfRangeError, "diameter of a wire is 0 mm"),
        (lambda: wire_current_A("W", 0.8, 3500.0), OutOfRangeError, "3500 °C is outside"),
        (lambda: wire_current_A("W", 0.8, np.nan), OutOfRangeError, "nan °C is outside"),
        (
            lambda: wire_power_W_cm("W", 0.8, 100.0, surroundings_C=200.0),
            OutOfRangeError,
            "colder than",
        ),
        (lambda: wire_temperature_C("Ti", 0.8, 90.0), OutOfRangeError, "melting point"),
        (lambda: wire_temperature_C("W", 0.8, 0.0), OutOfRangeError, "not 0 A"),
        (
            lambda: wire_lifetime_s("W", 0.8, 2000.0, thinning=0.0),
            OutOfRangeError,
            "must be 0 to 1",
        ),
    ],
)
def test_refuses_what_cannot_be(call, error, words):
    with pytest.raises(error, match=words):
        call()
