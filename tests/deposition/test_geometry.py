"""Thickness from the shape of a source: conservation, closed forms, tilt and turning."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.deposition.geometry import (
    Piece,
    Placement,
    Source,
    share_at,
    share_on,
    uniformity,
)
from oxhue.optics.errors import InputError, OutOfRangeError, UnknownNameError

SOURCES = [
    Source("point"),
    Source("plane"),
    Source("boat", focus=2.5),
    Source("wire", length_mm=40.0),
    Source("sputter", ring_mm=60.0),
]
KINDS = ("point", "plane", "wire", "boat", "sputter")


def sphere(polar: int, around: int):
    """Directions of a sphere with weights that sum to 4π."""
    cosine, weight = np.polynomial.legendre.leggauss(polar)
    turn = 2.0 * np.pi * np.arange(around) / around
    sine = np.sqrt(1.0 - cosine**2)[:, None]
    along = np.broadcast_to(cosine[:, None], (polar, around))
    way = np.stack([sine * np.cos(turn), sine * np.sin(turn), along], axis=-1)
    return way, np.broadcast_to(weight[:, None] * 2.0 * np.pi / around, (polar, around))


@pytest.mark.parametrize("source", SOURCES, ids=lambda s: s.kind)
@pytest.mark.parametrize("radius_mm", [150.0, 400.0])
def test_all_vapour_lands_on_a_sphere_around_the_source(source, radius_mm):
    way, weight = sphere(200, 60)
    landed = share_at(source, radius_mm * way, -way) * weight * (radius_mm / 10.0) ** 2
    # The cosine ends with a kink at the equator, the sine of a wire at its poles.
    assert landed.sum() == pytest.approx(1.0, rel=2e-4)


@given(
    kind=st.sampled_from(KINDS),
    distance_mm=st.floats(50.0, 1000.0),
    factor=st.floats(1.01, 3.0),
)
@settings(deadline=None, max_examples=60)
def test_farther_gets_less(kind, distance_mm, factor):
    source = Source(kind, length_mm=20.0, ring_mm=20.0)
    near, far = (share_on(source, Placement(d)) for d in (distance_mm, factor * distance_mm))
    assert far < near


@given(kind=st.sampled_from(KINDS), x_mm=st.floats(0.0, 300.0), step_mm=st.floats(1.0, 300.0))
@settings(deadline=None, max_examples=60)
def test_thickness_falls_from_the_middle_outward(kind, x_mm, step_mm):
    source = Source(kind, length_mm=20.0, ring_mm=20.0)
    here, outward = share_on(source, Placement(200.0), x_mm=[x_mm, x_mm + step_mm])
    assert outward < here


def test_short_wire_is_a_point_with_a_sine():
    short = share_on(Source("wire", length_mm=1.0), Placement(500.0))
    assert short * 50.0**2 == pytest.approx(1.0 / np.pi**2, rel=1e-6)


def test_long_wire_matches_its_integral():
    # ∫ h² dx / (h² + x²)² over the wire's length, by hand, with u = L/2h
    u = 100.0 / 60.0 / 2.0
    expected = (u / (1.0 + u * u) + np.arctan(u)) / (np.pi**2 * 10.0 * 6.0)
    assert share_on(Source("wire", length_mm=100.0), Placement(60.0)) == pytest.approx(expected)


@pytest.mark.parametrize("beside_mm", [0.0, 20.0, 55.0])
def test_ring_matches_its_integral(beside_mm):
    # mean of h²/(π (a - b cos φ)²) over φ is h² a / (π (a² - b²)^1.5)
    h, s, x = 6.0, 4.0, beside_mm / 10.0
    a, b = h * h + s * s + x * x, 2.0 * s * x
    expected = h * h * a / (np.pi * (a * a - b * b) ** 1.5)
    found = share_on(Source("sputter", ring_mm=80.0), Placement(60.0), x_mm=beside_mm)
    assert found == pytest.approx(expected, rel=1e-9)


def test_tilting_a_piece_beside_the_axis_to_face_the_source_brings_it_more():
    facing_deg = np.degrees(np.arctan2(100.0, 200.0))
    flat, faced = (
        share_on(Source("point"), Placement(200.0, 100.0, tilt)) for tilt in (0.0, facing_deg)
    )
    # facing a point source fully, the landing angle is nil: inverse square alone
    assert faced == pytest.approx(1.0 / (4.0 * np.pi * (10.0**2 + 20.0**2)))
    assert flat / faced == pytest.approx(np.cos(np.radians(facing_deg)))


def test_turning_evens_out_a_piece_beside_the_axis():
    piece = Piece(60.0, 60.0)
    still, turning = (
        uniformity(Source("plane"), Placement(200.0, 80.0, 10.0, turns), piece)
        for turns in (False, True)
    )
    assert turning.half_spread < 0.3 * still.half_spread
    on_ring = share_on(
        Source("plane"), Placement(200.0, 80.0, 0.0, True), x_mm=[0.0, 20.0], y_mm=[20.0, 0.0]
    )
    assert on_ring[0] == pytest.approx(on_ring[1], rel=1e-12)


def test_map_is_one_in_the_middle_and_knows_what_is_on_the_piece():
    even = uniformity(Source("plane"), Placement(300.0), Piece(50.0, 50.0))
    assert even.relative[20, 20] == pytest.approx(1.0)
    assert not even.inside[0, 0]
    # at the rim of a round piece: (1 + (25/300)²)^-2
    assert even.lowest == pytest.approx((1.0 + (25.0 / 300.0) ** 2) ** -2)
    square = uniformity(Source("plane"), Placement(300.0), Piece(50.0, 50.0, round=False))
    assert square.inside.all()
    assert square.lowest < even.lowest


@pytest.mark.parametrize(
    ("make", "error", "words"),
    [
        (lambda: Source("candle"), UnknownNameError, "unknown source 'candle'; use one of point"),
        (lambda: Source("plane", focus=0.0), OutOfRangeError, "focus of a source is 0"),
        (lambda: Placement(float("nan")), OutOfRangeError, "distance from source to piece is nan"),
        (lambda: Placement(300.0, tilt_deg=85.0), OutOfRangeError, "tilt of the piece is 85°"),
        (lambda: Piece(0.0, 50.0), OutOfRangeError, "size of the piece is 0 mm"),
        (
            lambda: uniformity(Source("plane"), Placement(50.0, 200.0, -80.0), Piece(10.0, 10.0)),
            InputError,
            "turned away from the source",
        ),
        (
            lambda: uniformity(Source("plane"), Placement(50.0, 0.0, 60.0), Piece(200.0, 10.0)),
            OutOfRangeError,
            "reaches down to the source",
        ),
    ],
)
def test_refuses_what_cannot_be(make, error, words):
    with pytest.raises(error, match=words):
        make()


def test_a_turning_piece_gets_the_same_at_equal_distance_from_its_middle():
    placement = Placement(120.0, offset_mm=40.0, tilt_deg=10.0, turning=True)
    source = Source("plane")
    x, y = np.array([3.0, 0.0, -5.0, 4.0]), np.array([4.0, 5.0, 0.0, 3.0])
    whole = share_on(source, placement, x_mm=x, y_mm=y)
    np.testing.assert_array_equal(whole, whole[0])
    np.testing.assert_allclose(whole[0], share_on(source, placement, x_mm=5.0), rtol=1e-14)
    assert share_on(source, placement).shape == ()
    assert share_on(source, placement, x_mm=x[None], y_mm=y[:, None]).shape == (4, 4)
