"""Maps of rendered pieces: the thickness put in must come out, in the right order."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from oxhue.optics.errors import InputError, LimitError, OutOfRangeError
from oxhue.optics.images.icc import SRGB
from oxhue.optics.images.image import Codes
from oxhue.optics.inference.uncertainty import DEFAULTS
from oxhue.optics.look.look import look
from oxhue.optics.thickness_map import thickness_map as fieldmap
from oxhue.optics.thickness_map.photo import map_photo
from oxhue.optics.thickness_map.places import KnownPlace, parse_known_place
from oxhue.optics.thickness_map.thickness_map import map_thickness
from oxhue.optics.thickness_map.unwrap import settle

CARD = DEFAULTS["card"]
SIDE = 320


def ramp() -> np.ndarray:
    return look("TiO2 0..220nm step 0.5nm / Ti").reflected.srgb


def render(thickness_nm: np.ndarray, noise: float = 1.5, seed: int = 0) -> Codes:
    """A plate of titanium with oxide of the given thickness, NaN where there is no plate."""
    place = np.nan_to_num(2.0 * thickness_nm).round().astype(int)
    colours = ramp()[place]
    colours[np.isnan(thickness_nm)] = [0.55, 0.03, 0.03]  # a red cloth under the plate
    codes = 255.0 * colours + np.random.default_rng(seed).normal(0.0, noise, colours.shape)
    values = np.clip(np.rint(codes), 0, 255).astype(np.uint8)
    return Codes(values, np.ones(values.shape[:2], dtype=bool), SRGB, ())


def dial() -> np.ndarray:
    """A round numeral plate, thick in the middle and thin at the edge, on a cloth."""
    y, x = np.mgrid[0:SIDE, 0:SIDE] / (SIDE / 2.0) - 1.0
    radius = np.hypot(x, y)
    return np.where(radius < 0.9, 10.0 + 150.0 * (1.0 - radius / 0.9), np.nan)


@pytest.fixture(scope="module")
def field_and_truth():
    truth = dial()
    # The rendered plate is a perfect mirror; with its finish unknown 0.25 % of it, not 0, takes a
    # wrong order.
    field = map_thickness(render(truth), ["TiO2"], "Ti", doubts=CARD, finish="polished")
    return field, truth


def test_thickness_comes_back_in_the_right_order(field_and_truth):
    field, truth = field_and_truth
    known = ~np.isnan(truth) & (field.order > 0)
    error = np.abs(field.median_nm - truth)[known]
    assert np.median(error) < 3.0
    assert np.mean(error > 40.0) < 1e-3


def test_the_piece_is_found_and_its_background_left_out(field_and_truth):
    field, truth = field_and_truth
    assert np.mean(field.order[~np.isnan(truth)] > 0) > 0.97
    assert np.mean(field.order[np.isnan(truth)] > 0) < 0.02
    assert np.isnan(field.median_nm[field.order == 0]).all()
    assert field.share_fitted == pytest.approx(np.mean(field.order > 0))


def test_intervals_hold_the_truth_and_surround_the_median(field_and_truth):
    field, truth = field_and_truth
    known = ~np.isnan(truth) & (field.order > 0)
    low, high, median = (p[known] for p in (field.low_nm, field.high_nm, field.median_nm))
    assert np.all((low <= median) & (median <= high))
    # The data set drawn is the model's likeliest, so the share is well above nine tenths.
    assert np.mean((low <= truth[known]) & (truth[known] <= high)) > 0.9


def test_a_seed_settles_which_order_a_lone_patch_belongs_to():
    """Yellow may be of the second or the third order; one known place decides for the patch."""
    alone = np.full((64, 64), 119.0)
    codes = render(alone)
    doubtful = replace(DEFAULTS["photo"], noise_de=14.0, white_balance_de=10.0)
    for known_nm in (119.0, 214.0):
        field = map_thickness(
            codes, ["TiO2"], "Ti", doubts=doubtful, known_places=[KnownPlace(30, 30, known_nm)]
        )
        assert abs(float(np.nanmedian(field.median_nm)) - known_nm) < 15.0


def test_sixteen_bits_and_transparent_parts():
    truth = np.tile(np.linspace(20.0, 100.0, 64), (32, 1))
    eight = render(truth, noise=0.0)
    valid = np.ones(truth.shape, dtype=bool)
    valid[:8] = False
    deep = Codes(eight.values.astype(np.uint16) * 257, valid, SRGB, ())
    field = map_thickness(deep, ["TiO2"], "Ti", doubts=CARD)
    assert np.isnan(field.median_nm[:8]).all()
    assert np.nanmedian(np.abs(field.median_nm - truth)) < 3.0


def test_nothing_fits_a_picture_of_something_else():
    cloth = np.full((40, 40), np.nan)
    field = map_thickness(render(cloth), ["TiO2"], "Ti", doubts=CARD)
    assert field.share_fitted == 0.0


@pytest.mark.parametrize(
    ("seed", "wording"),
    [
        (KnownPlace(999, 0, 45.0), "outside the picture of 64 x 64"),
        (KnownPlace(3, 3, 900.0), "outside the range 0 to 250 nm"),
    ],
)
def test_a_seed_that_cannot_be_is_refused(seed, wording):
    with pytest.raises(OutOfRangeError, match=wording):
        map_thickness(
            render(np.full((64, 64), 50.0)), ["TiO2"], "Ti", doubts=CARD, known_places=[seed]
        )


def test_a_seed_on_the_background_is_refused():
    with pytest.raises(InputError, match="no film in question shows the colour at 5,5"):
        map_thickness(
            render(np.full((64, 64), np.nan)),
            ["TiO2"],
            "Ti",
            doubts=CARD,
            known_places=[KnownPlace(5, 5, 45.0)],
        )


def test_a_picture_too_large_to_map_is_refused_before_it_is_begun(monkeypatch):
    monkeypatch.setattr(fieldmap, "MOST_PIXELS", 1_000_000)
    monkeypatch.setattr(fieldmap, "binned_table_for", None)
    codes = render(np.zeros((1000, 1001)))
    with pytest.raises(LimitError, match="at most 1 megapixels, and the picture has 1; scale it"):
        map_thickness(codes, ["TiO2"], "Ti", doubts=DEFAULTS["card"])


def test_places_are_read_as_written():
    assert parse_known_place("812,300=45nm") == KnownPlace(812, 300, 45.0)
    for bad in ("812,300", "812=45nm", "a,b=45nm", "1,2=45", "-1,2=45nm"):
        with pytest.raises(InputError):
            parse_known_place(bad)


def test_continuity_prefers_the_smooth_path():
    """Every place could be 30 or 150; the ends are sure of 30, so all settle there."""
    values = np.tile(np.array([30.0, 150.0], dtype=np.float32), (5, 9, 1))
    cost = np.full(values.shape, 0.7, dtype=np.float32)
    cost[:, :, 1] = 0.5
    cost[:, 0], cost[:, -1] = [0.1, 3.0], [0.1, 3.0]
    assert np.all(settle(values, cost) == 30.0)


def test_continuity_leaves_empty_places_empty():
    values = np.full((3, 4, 2), np.nan, dtype=np.float32)
    values[:, :2] = [40.0, 120.0]
    cost = np.where(np.isnan(values), np.inf, 1.0).astype(np.float32)
    settled = settle(values, cost)
    assert np.isnan(settled[:, 2:]).all()
    assert not np.isnan(settled[:, :2]).any()


@pytest.mark.parametrize(
    ("said", "parameter"),
    [
        ({"path": 3}, "path"),
        ({"white": 3}, "white"),
        ({"bare": (1, 2, 3, 4)}, "bare"),
        ({"on": 5}, "on"),
    ],
)
def test_a_wrong_kind_is_refused_by_its_parameter(said, parameter):
    with pytest.raises(InputError) as refused:
        map_photo(**({"path": "photo.png", "film": "TiO2", "on": "Ti"} | said))
    assert refused.value.parameter == parameter


@pytest.mark.parametrize("places", [3, [3], [(1, 2, 45.0)]])
def test_places_of_a_wrong_kind_are_refused(places):
    codes = Codes(np.zeros((16, 16, 3), dtype=np.uint8), np.ones((16, 16), dtype=bool), SRGB, ())
    with pytest.raises(InputError, match="812,300=45nm"):
        map_thickness(codes, "TiO2", "Ti", doubts=CARD, known_places=places)
