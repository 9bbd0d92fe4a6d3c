"""Field and absorption inside a stack: what is absorbed adds up, fields meet at boundaries."""

import numpy as np
import pytest

from oxhue.optics.errors import InputError
from oxhue.optics.films.engine.field import field_profile
from oxhue.optics.films.engine.transfer_matrix import solve_arrays
from oxhue.optics.numerics.integrate import trapezoid

INDEX = np.array([1.0, 2.4 + 0.02j, 1.46, 1.2 + 5.5j, 1.52])
THICK_NM = np.array([60.0, 95.0, 30.0])


def parts(profile):
    """Rows of each layer: every boundary stands twice."""
    ends = np.flatnonzero(np.diff(profile.depth_nm) == 0.0) + 1
    return np.split(np.arange(profile.depth_nm.size), ends)


@pytest.mark.parametrize("ambient", [1.0, 1.33])
def test_what_each_layer_absorbs_is_the_share_the_engine_finds(ambient):
    index = np.array([ambient, *INDEX[1:]])
    profile = field_profile(index, THICK_NM, 550.0, step_nm=0.25)
    whole = solve_arrays(index[:, None], THICK_NM, np.array([550.0]))
    assert len(parts(profile)) == 3
    found = [
        trapezoid(profile.absorption_per_nm[rows], profile.depth_nm[rows])
        for rows in parts(profile)
    ]
    np.testing.assert_allclose(found, whole.layer_A[:, 0], rtol=1e-4, atol=1e-9)


def test_the_field_is_continuous_and_stands_before_a_mirror():
    profile = field_profile(INDEX, THICK_NM, 550.0)
    np.testing.assert_array_equal(profile.boundaries_nm, [0.0, 60.0, 155.0, 185.0])
    for one, other in zip(parts(profile)[:-1], parts(profile)[1:], strict=True):
        assert profile.field[one[-1]] == pytest.approx(profile.field[other[0]])
    whole = solve_arrays(INDEX[:, None], THICK_NM, np.array([550.0]))
    # At the surface |1 + r|² lies between the least and the most that |r|² allows.
    size = np.sqrt(whole.R[0])
    assert (1.0 - size) ** 2 <= profile.field[0] <= (1.0 + size) ** 2
    # A quarter wave before a thick metal the field is at its crest of nearly 4.
    metal = field_profile([1.0, 1.0, 0.1 + 8.0j, 1.5], [600.0, 80.0], 550.0)
    clear = metal.field[metal.depth_nm < 600.0]
    assert 3.8 < clear.max() <= 4.0
    assert clear.min() < 0.05


@pytest.mark.parametrize("step_nm", [0.7, 10.0, 1000.0])
def test_depths_are_no_further_apart_than_asked(step_nm):
    profile = field_profile(INDEX, THICK_NM, 550.0, step_nm=step_nm)
    assert np.diff(profile.depth_nm).max() <= min(step_nm, THICK_NM.max()) + 1e-9
    assert all(rows.size >= 2 for rows in parts(profile))
    fine = field_profile(INDEX, THICK_NM, 550.0, step_nm=0.05)
    at_ends = np.interp(profile.boundaries_nm, profile.depth_nm, profile.field)
    np.testing.assert_allclose(
        at_ends, np.interp(profile.boundaries_nm, fine.depth_nm, fine.field), rtol=1e-9
    )


def test_the_field_on_a_perfect_match_is_that_of_the_incident_wave():
    profile = field_profile([1.0, 1.0, 1.0], [100.0], 550.0)
    np.testing.assert_allclose(profile.field, 1.0, rtol=1e-12)


def test_a_film_nothing_comes_through_is_followed_to_its_end():
    profile = field_profile([1.0, 0.2 + 7.0j, 1.5], [5000.0], 550.0)
    assert np.isfinite(profile.field).all()
    slope = 2.0 * 2.0 * np.pi * 7.0 / 550.0
    inner = profile.field[(profile.depth_nm > 10.0) & (profile.depth_nm < 100.0)]
    np.testing.assert_allclose(inner[1:] / inner[:-1], np.exp(-slope), rtol=1e-3)
    thicker = field_profile([1.0, 0.96 + 6.69j, 1.52], [1e5], 550.0, step_nm=50.0)
    assert thicker.field[-1] == 0.0
    assert np.isfinite(thicker.field).all()


@pytest.mark.parametrize(
    ("change", "match"),
    [
        ({"index": INDEX[:-1]}, "one value for each layer"),
        ({"index": [1.0, 1.52], "thickness_nm": [10.0]}, "one value for each layer"),
        ({"index": INDEX[None]}, "one value for each layer"),
        ({"index": [1.0, np.nan, 1.46, 1.0, 1.5]}, "must be numbers"),
        ({"thickness_nm": [60.0, -1.0, 30.0]}, "none below 0"),
        ({"thickness_nm": [60.0, np.inf, 30.0]}, "must be numbers"),
        ({"wavelength_nm": 0.0}, "must be numbers"),
        ({"step_nm": 0.0}, "step_nm must be above 0"),
        ({"step_nm": np.nan}, "step_nm must be above 0"),
        ({"step_nm": 0.009}, "at most 20,000 depths"),
    ],
)
def test_what_cannot_be_followed_is_refused(change, match):
    good = {"index": INDEX, "thickness_nm": THICK_NM, "wavelength_nm": 550.0}
    with pytest.raises(InputError, match=match):
        field_profile(**good | change)
