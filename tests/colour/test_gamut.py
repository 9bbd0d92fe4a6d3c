"""Gamut mapping: what must stay, what must hold, what may move."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from oxhue.optics.colour.gamut import JUST_NOTICEABLE, in_srgb, map_to_srgb
from oxhue.optics.colour.spaces import (
    oklab_to_oklch,
    oklab_to_srgb_linear,
    oklch_to_oklab,
    srgb_encode,
    srgb_linear_to_oklab,
    srgb_to_oklab,
)
from oxhue.optics.errors import InputError


@settings(deadline=None)
@given(arrays(np.float64, (6, 3), elements=st.floats(0.0, 1.0)))
def test_colours_inside_are_not_changed(linear):
    srgb, inside = map_to_srgb(linear)
    assert inside.all()
    np.testing.assert_allclose(srgb, srgb_encode(linear), atol=1e-15)


@settings(deadline=None)
@given(arrays(np.float64, (6, 3), elements=st.floats(-1.0, 2.0)))
def test_the_result_can_always_be_shown(linear):
    srgb, inside = map_to_srgb(linear)
    assert srgb.min() >= 0.0
    assert srgb.max() <= 1.0
    np.testing.assert_array_equal(inside, in_srgb(linear))


def outside_colours() -> np.ndarray:
    rng = np.random.default_rng(3)
    lch = rng.uniform([0.05, 0.05, 0.0], [0.98, 0.37, 360.0], (4000, 3))
    linear = oklab_to_srgb_linear(oklch_to_oklab(lch))
    return lch[~in_srgb(linear)]


def test_lightness_and_hue_move_by_no_more_than_a_clip_nobody_sees():
    lch = outside_colours()
    srgb, inside = map_to_srgb(oklab_to_srgb_linear(oklch_to_oklab(lch)))
    assert len(lch) > 1000
    assert not inside.any()
    mapped = oklab_to_oklch(srgb_to_oklab(srgb))
    assert np.all(np.abs(mapped[:, 0] - lch[:, 0]) <= JUST_NOTICEABLE)
    turn = np.radians((mapped[:, 2] - lch[:, 2] + 180.0) % 360.0 - 180.0)
    sideways = 2.0 * np.abs(np.sin(turn / 2.0)) * mapped[:, 1]
    assert np.all(sideways <= 1.5 * JUST_NOTICEABLE)


def test_chroma_is_kept_as_far_as_the_clip_allows():
    lch = outside_colours()
    mapped = oklab_to_oklch(srgb_to_oklab(map_to_srgb(lch_to_linear(lch))[0]))
    more = lch.copy()
    more[:, 1] = mapped[:, 1] + 3.0 * JUST_NOTICEABLE
    shift = srgb_linear_to_oklab(np.clip(lch_to_linear(more), 0, 1)) - oklch_to_oklab(more)
    reachable = more[:, 1] < lch[:, 1]
    assert reachable.sum() > 500
    assert np.all(np.linalg.norm(shift, axis=-1)[reachable] > JUST_NOTICEABLE)


def lch_to_linear(lch: np.ndarray) -> np.ndarray:
    return oklab_to_srgb_linear(oklch_to_oklab(lch))


def test_where_nobody_sees_the_clip_a_colour_is_clipped_and_nothing_more():
    linear = np.array([[1.002, 0.5, 0.3], [0.4, 0.2, -0.0005]])
    srgb, inside = map_to_srgb(linear)
    assert not inside.any()
    np.testing.assert_allclose(srgb, srgb_encode(np.clip(linear, 0.0, 1.0)), atol=1e-12)


def test_too_light_is_white_and_too_dark_is_black():
    linear = lch_to_linear(np.array([[1.05, 0.1, 30.0], [-0.1, 0.05, 30.0]]))
    srgb, inside = map_to_srgb(linear)
    np.testing.assert_allclose(srgb, [[1, 1, 1], [0, 0, 0]], atol=1e-15)
    assert not inside.any()


def test_rounding_does_not_put_a_colour_outside():
    srgb, inside = map_to_srgb([1.0 + 1e-12, 1.0, -1e-12])
    assert inside
    np.testing.assert_allclose(srgb, [1.0, 1.0, 0.0], atol=1e-15)


@pytest.mark.parametrize("shape", [(3,), (4, 3), (2, 5, 3), (0, 3)])
def test_shapes(shape):
    srgb, inside = map_to_srgb(np.full(shape, 1.2))
    assert srgb.shape == shape
    assert inside.shape == shape[:-1]


def test_not_a_number_is_refused():
    with pytest.raises(InputError, match="linear_srgb must be finite"):
        map_to_srgb([0.1, np.nan, 0.2])
