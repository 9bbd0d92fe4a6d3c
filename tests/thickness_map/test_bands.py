"""A map has no bands but those of the picture itself."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.images.icc import SRGB
from oxhue.optics.images.image import Codes
from oxhue.optics.images.patches import linear_to_lab
from oxhue.optics.inference.binned import gauge_binned
from oxhue.optics.inference.likelihood import binned_table_for
from oxhue.optics.inference.question import FilmQuestion
from oxhue.optics.inference.uncertainty import DEFAULTS
from oxhue.optics.look.look import look
from oxhue.optics.thickness_map.thickness_map import map_thickness

CARD = DEFAULTS["card"]
ASKED = {"between_nm": (0.0, 80.0), "finish": "polished"}


@pytest.fixture(scope="module")
def photo_and_truth():
    """A plate that thickens evenly from 30 to 60 nm, with a camera's grain of one code."""
    truth_nm = np.tile(np.linspace(30.0, 60.0, 601), (96, 1))
    colours = 255.0 * look("TiO2 30..60nm step 0.05nm / Ti").reflected.srgb
    grain = np.random.default_rng(2).normal(0.0, 1.0, (*truth_nm.shape, 3))
    values = np.clip(np.rint(colours + grain), 0, 255).astype(np.uint8)
    return Codes(values, np.ones(truth_nm.shape, dtype=bool), SRGB, ()), truth_nm


@pytest.fixture(scope="module")
def mapped(photo_and_truth):
    return map_thickness(photo_and_truth[0], "TiO2", "Ti", doubts=CARD, **ASKED)


def unevenness(thickness_nm, step_nm):
    """How far each bar of a histogram stands from the mean of its neighbours, in mean bars."""
    low, high = np.quantile(thickness_nm, [0.05, 0.95])
    bars, _ = np.histogram(thickness_nm, np.arange(low, high, step_nm))
    return np.abs(bars[1:-1] - 0.5 * (bars[:-2] + bars[2:])).mean() / bars.mean()


def test_an_even_wedge_has_an_even_histogram(mapped):
    # A bar holds some 1,000 of 58,000 pixels: chance leaves 0.04, codes of 8 bits as much again.
    assert unevenness(mapped.median_nm, 0.5) < 0.15
    inner = (mapped.median_nm > 31.0) & (mapped.median_nm < 59.0)
    assert np.diff(np.unique(mapped.median_nm[inner])).max() < 0.2


def test_each_pixel_is_as_thick_as_its_colour_read_alone(photo_and_truth, mapped):
    codes, _ = photo_and_truth
    question = FilmQuestion.of("TiO2", "Ti", **ASKED)
    at = slice(3, None, 31), slice(5, None, 7)
    lab = linear_to_lab(SRGB.to_linear(codes.values[at].reshape(-1, 3)))
    alone = gauge_binned(binned_table_for(question, CARD), lab)
    likeliest = alone.probability.argmax(axis=1)
    exact = alone.thickness_nm[np.arange(len(lab)), likeliest]
    for i, part in enumerate((mapped.low_nm, mapped.median_nm, mapped.high_nm)):
        off = np.abs(part[at].ravel() - exact[:, i])
        assert np.quantile(off, 0.99) < 0.5
