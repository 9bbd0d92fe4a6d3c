"""Charge, heat and wire of a layer from the mechanics of a chamber."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.deposition.geometry import Piece, Placement, Source
from oxhue.optics.deposition.setup import (
    Heater,
    Setup,
    charge_mass_g,
    thickness_from_charge_nm,
    tooling_factor,
)
from oxhue.optics.errors import InputError, OutOfRangeError

PIECE = Piece(50.0, 50.0)
BOAT = Setup(Source("boat"), Placement(300.0), PIECE)


@given(
    kind=st.sampled_from(["point", "plane", "wire", "boat"]),
    thickness_nm=st.floats(0.1, 1000.0),
    tooling=st.floats(0.5, 2.0),
)
@settings(deadline=None, max_examples=40)
def test_charge_and_thickness_undo_each_other(kind, thickness_nm, tooling):
    setup = Setup(Source(kind), Placement(250.0), PIECE, tooling=tooling)
    mass = charge_mass_g(thickness_nm, 4.5, setup)
    assert thickness_from_charge_nm(mass, 4.5, setup) == pytest.approx(thickness_nm)


def test_charge_goes_as_the_square_of_the_distance():
    far = replace(BOAT, placement=Placement(600.0))
    assert charge_mass_g(80.0, 2.7, far) == pytest.approx(4.0 * charge_mass_g(80.0, 2.7, BOAT))


def test_tooling_from_a_measured_piece():
    factor = tooling_factor(90.0, 99.0)
    assert factor == pytest.approx(1.1)
    assert tooling_factor(100.0, 95.0, used=factor) == pytest.approx(1.1 * 0.95)
    corrected = charge_mass_g(90.0, 2.7, replace(BOAT, tooling=factor))
    # the charge that had given 99 nm gives 90 nm once it is cut by the factor
    assert corrected == pytest.approx(charge_mass_g(90.0, 2.7, BOAT) * 90.0 / 99.0)


@pytest.mark.parametrize(
    ("make", "error", "words"),
    [
        (lambda: Heater(area_cm2=0.0), OutOfRangeError, "hot surface is 0 cm²"),
        (lambda: replace(BOAT, tooling=0.0), OutOfRangeError, "tooling factor is 0"),
        (lambda: tooling_factor(0.0, 90.0), OutOfRangeError, "computed thickness is 0 nm"),
        (lambda: tooling_factor(90.0, float("nan")), OutOfRangeError, "measured thickness is nan"),
        (lambda: Heater(current_A=0.0), OutOfRangeError, "current is 0 A"),
        (lambda: Heater(wire_mm=0.4, cold_ohm=1.0), InputError, "give one of them"),
    ],
)
def test_refuses_what_cannot_be(make, error, words):
    with pytest.raises(error, match=words):
        make()
