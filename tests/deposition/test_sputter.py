"""What an argon discharge knocks out of a target, and what arrives through the gas."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oxhue.optics.deposition.arrival import arrival, directed_share, stopping_way_cm
from oxhue.optics.deposition.geometry import Placement, Source
from oxhue.optics.deposition.sputter import Discharge, has_yield, sputter_yield, sputtered_g_s
from oxhue.optics.errors import OutOfRangeError, UnknownNameError


@pytest.mark.parametrize("metal", ["Ag", "Cu", "Ti", "Zn", "brass", "stainless"])
def test_yields_rise_with_energy(metal):
    rising = sputter_yield(metal, np.linspace(100.0, 1500.0, 60))
    assert rising.shape == (60,)
    assert np.all(np.diff(rising) > 0.0)


def test_an_alloy_gives_the_mean_of_its_atoms():
    copper, zinc, brass = (float(sputter_yield(name, 500.0)) for name in ("Cu", "Zn", "brass"))
    share = (0.7 / 63.546) / (0.7 / 63.546 + 0.3 / 65.38)
    assert brass == pytest.approx(share * copper + (1.0 - share) * zinc, rel=1e-3)
    assert has_yield("nichrome")
    assert not has_yield("Bi")


def test_mass_goes_as_the_current():
    one, two = (sputtered_g_s("Cu", 63.546, Discharge(500.0, amps)) for amps in (0.05, 0.1))
    assert two == pytest.approx(2.0 * one)
    atoms = 0.05 / 1.602176634e-19 * float(sputter_yield("Cu", 500.0))
    assert one == pytest.approx(atoms * 63.546 / 6.02214076e23)


@given(st.floats(0.01, 100.0), st.floats(0.01, 100.0))
def test_more_gas_or_more_way_leaves_less_directed(way_cm, stopping_cm):
    share = directed_share(way_cm, stopping_cm)
    assert 0.0 < share <= 1.0
    assert directed_share(1.1 * way_cm, stopping_cm) < share + 1e-12
    assert share * way_cm / stopping_cm == pytest.approx(-math.expm1(-way_cm / stopping_cm))


def test_heavy_atoms_keep_their_way_longer_in_argon():
    ways = [stopping_way_cm(0.66, mass) for mass in (40.0, 63.5, 107.9, 197.0)]
    assert ways == sorted(ways)


@pytest.mark.parametrize("kind", ["boat", "wire", "point", "sputter"])
def test_without_gas_all_arrives_and_with_much_the_doubt_grows(kind):
    place = Placement(50.0)
    free, thick = (arrival(Source(kind), place, p, molar_mass=48.0) for p in (1e6, 0.05))
    assert free.factor == pytest.approx(1.0, abs=1e-4)
    assert free.doubt == pytest.approx(1.0, abs=1e-4)
    assert 0.0 < thick.factor < 0.6
    assert thick.doubt == pytest.approx(2.0, abs=0.25)


def test_refuses_what_it_does_not_know():
    with pytest.raises(UnknownNameError, match="no sputter yield is held for 'Bi'"):
        sputter_yield("Bi", 500.0)
    with pytest.raises(OutOfRangeError, match="100 to 1500"):
        Discharge(50.0, 0.1)
    with pytest.raises(OutOfRangeError, match="current of the discharge is 0 A"):
        Discharge(500.0, 0.0)
