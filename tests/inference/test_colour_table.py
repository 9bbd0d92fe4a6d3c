"""The tabulated colours and densities against the general engine and a textbook density."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import logsumexp
from scipy.stats import multivariate_normal

from oxhue.optics.colour.colour import to_colour
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.colour.illuminants import white_xyz
from oxhue.optics.colour.spaces import xyz_to_lab
from oxhue.optics.errors import LimitError, OutOfRangeError
from oxhue.optics.films.engine.thickness_scan import reflectance_scan
from oxhue.optics.films.engine.transfer_matrix import solve_arrays
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.films.spectra import DEFAULT_WAVELENGTH_NM
from oxhue.optics.films.stack import Layer, Stack
from oxhue.optics.inference.colour_table import (
    MAX_THICKNESS_NM,
    VEIL,
    build_table,
    index_nodes,
    scale_grid,
    view_nodes,
)
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.layered import layers_of
from oxhue.optics.inference.normal import features
from oxhue.optics.inference.uncertainty import DEFAULTS, Uncertainty

ODD = Uncertainty(
    noise_de=2.0,
    discrepancy_de=1.0,
    gain=0.3,
    white_balance_de=5.0,
    glare=0.4,
    angle_low_deg=20.0,
    angle_high_deg=50.0,
    index_spread=0.05,
)
PAIRS = list_film_models(("TiO2(rutile)", "Fe3O4"), "Ti(johnson1974)")
TABLE = build_table(PAIRS, (30.0, 80.0), doubts=ODD, viewing=ViewingConditions())
ANGLES, GLARES, _ = view_nodes(ODD)


def test_shape_and_weights_of_a_table():
    views = ANGLES.size * GLARES.size
    assert TABLE.lab.shape == (len(PAIRS), 9, TABLE.scale_nm.size, views, 3)  # a wide doubt
    assert TABLE.view_weight.sum() == pytest.approx(1.0)
    assert TABLE.scale_nm[0] <= 30.0 * (1.0 - 2.5 * 0.05)
    assert TABLE.scale_nm[-1] >= 80.0 * (1.0 + 2.5 * 0.05)


def test_views_grow_with_the_doubts_and_average_over_them():
    counts = [view_nodes(doubts)[2].size for doubts in DEFAULTS.values()]
    assert counts == [6, 6, 6, 1]
    wide = replace(DEFAULTS["photo"], angle_low_deg=50.0, angle_high_deg=80.0, glare=0.5)
    angles, glares, weight = view_nodes(wide)
    assert (angles.size, glares.size) == (8, 6)
    each = np.outer(np.cos(np.radians(angles)), glares).ravel()
    # Mean of a cosine over the fan, and of the glare from zero.
    fan = np.radians(30.0)
    mean = (np.sin(np.radians(80.0)) - np.sin(np.radians(50.0))) / fan * 0.25
    assert weight @ each == pytest.approx(mean, rel=1e-9)


def log_density_of_rows(table, readings, rows):
    by_row = table.coefficients.transpose(1, 2, 0).reshape(10, -1)  # the views of a row together
    return (features(readings) @ by_row[:, rows]).astype(float)


def dense_log_density(reading, row, doubts):
    """The density as a person writes it down: diag(σ²) + g² v vᵀ, with v = (m + (16, 0, 0))/3."""
    mean = TABLE.lab.reshape(-1, 3)[row].astype(float)
    along = (mean + np.array([16.0, 0.0, 0.0])) / 3.0
    lightness = (doubts.noise_de**2 + doubts.discrepancy_de**2) / 3.0
    chroma = lightness + doubts.white_balance_de**2 / 2.0
    covariance = np.diag([lightness, chroma, chroma]) + doubts.gain**2 * np.outer(along, along)
    return multivariate_normal(mean, covariance).logpdf(reading)


@pytest.mark.parametrize("doubts", [ODD, *DEFAULTS.values()], ids=["odd", *DEFAULTS])
def test_log_density_is_that_of_a_normal_with_a_rank_one_covariance(doubts):
    rng = np.random.default_rng(11)
    table = TABLE.with_uncertainty(doubts)
    rows = rng.integers(0, table.lab.size // 3, 200)
    mean = table.lab.reshape(-1, 3)[rows]
    readings = np.vstack([mean + rng.normal(0.0, 4.0, (200, 3)), rng.uniform(-60, 90, (50, 3))])
    ours = log_density_of_rows(table, readings, rows)
    theirs = np.array([dense_log_density(readings, row, doubts) for row in rows]).T
    # The product runs in 32 bits, so its error is a few units in the seventh digit of the
    # largest of its ten terms, the square of the distances over the smallest variance.
    inverse = 1.0 / doubts.lightness_variance
    scale = inverse * (
        (np.square(readings - [50.0, 0.0, 0.0]).sum(axis=1))[:, None]
        + np.square(mean - [50.0, 0.0, 0.0]).sum(axis=1)
    )
    assert np.all(np.abs(ours - theirs) <= 4.0 * np.finfo(np.float32).eps * scale + 1e-5)
    near = theirs > -30.0  # where the evidence lies; the rest is only known to be far
    assert np.abs(ours - theirs)[near].max() < 0.003


def test_likelihood_is_the_mean_over_views():
    reading = np.array([[45.0, 12.0, -20.0], [70.0, 0.0, 30.0]])
    rows = np.arange(TABLE.lab.size // 3)
    each = log_density_of_rows(TABLE, reading, rows).reshape(2, *TABLE.lab.shape[:-1])
    expected = logsumexp(each, axis=-1, b=TABLE.view_weight)
    np.testing.assert_allclose(TABLE.log_likelihood(reading), expected, rtol=1e-5, atol=2e-4)


@pytest.mark.parametrize("how", ["card", "instrument"])
def test_unlikely_rows_keep_their_values(how):
    """A floor under them would bend the polynomial that joins the index nodes."""
    table = TABLE.with_uncertainty(DEFAULTS[how])
    reading = table.lab[0, 2, 60, 0].astype(float)[None]
    rows = np.arange(table.lab.size // 3)
    each = log_density_of_rows(table, reading, rows).reshape(1, *table.lab.shape[:-1])
    expected = logsumexp(each, axis=-1, b=table.view_weight)
    assert np.ptp(expected) > 200.0  # well past any floor that would go unnoticed
    np.testing.assert_allclose(table.log_likelihood(reading), expected, rtol=1e-5, atol=0.02)


def test_an_impossible_reading_leaves_finite_numbers():
    tight = TABLE.with_uncertainty(Uncertainty(noise_de=0.2, discrepancy_de=0.0))
    log_likelihood = tight.log_likelihood(np.array([[100.0, -120.0, 120.0]]))
    assert np.all(np.isfinite(log_likelihood))
    assert log_likelihood.max() < -1e5


@given(data=st.data())
@settings(deadline=None, max_examples=25)
def test_colours_are_those_of_the_general_engine(data):
    j = data.draw(st.integers(0, len(PAIRS) - 1))
    e = data.draw(st.integers(0, 8))
    d = data.draw(st.integers(0, TABLE.scale_nm.size - 1))
    a = data.draw(st.integers(0, ANGLES.size - 1))
    g = data.draw(st.integers(0, GLARES.size - 1))
    angle, glare = ANGLES[a], GLARES[g]
    scale = 1.0 + TABLE.index_error[e]
    layers, share = layers_of(PAIRS[j].film)
    below = PAIRS[j].substrate.nk(DEFAULT_WAVELENGTH_NM)
    index = np.array([np.ones(81, dtype=complex), *(layers * scale), below])
    thickness = TABLE.scale_nm[d] / scale * share
    response = solve_arrays(index, thickness, DEFAULT_WAVELENGTH_NM, angle)
    white = white_xyz("D65", 2)
    veiled = (1.0 - glare) * to_colour(response).xyz + VEIL * glare * white
    got = TABLE.lab[j, e, d, a * GLARES.size + g]
    # Stored in 32 bits; the first few are of a polynomial through thicknesses to one side of them.
    exact = 3e-4 if d < 8 else 2e-5
    np.testing.assert_allclose(got, xyz_to_lab(veiled, white), atol=exact)


@pytest.mark.parametrize(
    "viewing",
    [ViewingConditions("A", 10), ViewingConditions("FL11", 2), ViewingConditions("D50", 2)],
)
def test_light_and_observer_reach_the_table(viewing):
    pairs = list_film_models(("TiO2(rutile)",), "Ti(johnson1974)")[:1]
    table = build_table(
        pairs, (40.0, 50.0), doubts=Uncertainty(1.0, index_spread=0.0), viewing=viewing
    )
    layer = Layer(pairs[0].film, np.asarray(table.scale_nm[5]))
    stack = Stack((layer,), pairs[0].substrate)
    seen = to_colour(solve(stack), viewing.light, viewing.observer)
    np.testing.assert_allclose(table.lab[0, 0, 5, 0], seen.lab, atol=2e-5)


@given(
    film=st.complex_numbers(max_magnitude=6.0),
    below=st.lists(st.complex_numbers(max_magnitude=8.0), min_size=1, max_size=3),
    thickness=st.lists(st.floats(0.0, 1000.0), min_size=1, max_size=4),
    angle=st.floats(0.0, 89.0),
)
@settings(deadline=None, max_examples=80)
def test_the_quick_single_film_is_the_general_engine(film, below, thickness, angle):
    as_index = np.vectorize(lambda z: 0.2 + abs(z.real) + 1j * abs(z.imag))
    grid = np.array([380.0, 555.0, 780.0])
    one = np.repeat(as_index(film), 3)
    many = np.repeat(as_index(np.array(below))[:, None], 3, axis=1)
    d = np.array(thickness)
    ours = reflectance_scan(one, many, d, wavelength_nm=grid, angle_deg=angle)
    index = np.empty((len(below), d.size, 3, 3), dtype=complex)
    index[..., 0, :], index[..., 1, :], index[..., 2, :] = 1.0, one, many[:, None]
    theirs = solve_arrays(index, d[:, None], grid, angle).R
    np.testing.assert_allclose(ours, theirs, atol=1e-12)


@pytest.mark.parametrize(
    ("spread", "count"), [(0.0, 1), (0.025, 5), (0.03, 5), (0.05, 9), (0.1, 9)]
)
def test_a_wide_doubt_of_the_index_takes_more_nodes(spread, count):
    nodes = index_nodes(spread)
    assert nodes.size == count
    assert nodes[-1] == -nodes[0] == pytest.approx(2.5 * spread)


def test_draws_scatter_as_the_density_says():
    row = np.full(40_000, 777)
    drawn = TABLE.draw(row, np.random.default_rng(3))
    mean = TABLE.lab.reshape(-1, 3)[777].astype(float)
    along = (mean + np.array([16.0, 0.0, 0.0])) / 3.0
    expected = np.diag([5.0 / 3.0, 5.0 / 3.0 + 12.5, 5.0 / 3.0 + 12.5])
    expected += 0.3**2 * np.outer(along, along)
    # Standard errors: of a mean σ/√n, of a covariance √((σii σjj + σij²)/n); five of each.
    spread = np.sqrt(np.diag(expected))
    assert np.all(np.abs(drawn.mean(axis=0) - mean) < 5.0 * spread / 200.0)
    error = np.sqrt((np.outer(spread, spread) ** 2 + expected**2) / row.size)
    assert np.all(np.abs(np.cov(drawn.T) - expected) < 5.0 * error)


def test_the_sweep_of_the_notation_and_the_table_agree():
    pairs = list_film_models(("SiO2(malitson1965)",), "Si(green2008)")
    table = build_table(
        pairs, (0.0, 20.0), doubts=Uncertainty(1.0, index_spread=0.0), viewing=ViewingConditions()
    )
    stack = parse_stack("SiO2(malitson1965) 0..20nm step 0.5nm / Si(green2008)")
    np.testing.assert_allclose(table.lab[0, 0, :41, 0], to_colour(solve(stack)).lab, atol=2e-5)


@pytest.mark.parametrize(
    "between", [(5.0, 5.0), (9.0, 5.0), (-1.0, 5.0), (0.0, 1001.0), (np.nan, 5.0), (0.0, np.inf)]
)
def test_ranges_that_do_not_run_upwards_inside_the_limits_are_refused(between):
    with pytest.raises(OutOfRangeError, match="must run upwards within 0 to 1000 nm"):
        scale_grid(between, 0.025)


def test_a_range_too_narrow_for_the_grid_is_refused():
    with pytest.raises(OutOfRangeError, match=r"too narrow; it must span 0\.5 nm"):
        scale_grid((100.0, 100.0 + 1e-9), 0.025)


@pytest.mark.parametrize("between", [(0.0, 0.5), (499.75, 500.25), (0.0, MAX_THICKNESS_NM)])
@pytest.mark.parametrize("spread", [0.0, 0.025, 0.1])
def test_the_grid_covers_every_thickness_at_every_index(between, spread):
    grid = scale_grid(between, spread)
    for error in index_nodes(spread):
        assert grid[0] <= between[0] * (1.0 + error)
        assert between[1] * (1.0 + error) <= grid[-1]


def test_a_table_past_the_limit_is_refused():
    pairs = list_film_models(("TiO2",), "Ti") * 5
    with pytest.raises(LimitError, match="narrow the range or the doubts, or name fewer films"):
        build_table(pairs, (0.0, 1000.0), doubts=DEFAULTS["photo"], viewing=ViewingConditions())


def test_a_mixture_of_colours_is_the_mean_of_their_densities(monkeypatch):
    points = np.random.default_rng(3).uniform((20, -30, -30), (80, 30, 30), (7, 3))
    weight = np.arange(1.0, 8.0) / 28.0
    expected = logsumexp(TABLE.log_likelihood(points), axis=0, b=weight[:, None, None, None])
    for block in (1, 1000, 10**7):  # rows at a time
        monkeypatch.setattr("oxhue.optics.inference.colour_table._BLOCK_ELEMENTS", block)
        np.testing.assert_allclose(TABLE.log_mixture(points, weight), expected, rtol=1e-5)


def test_coefficients_do_not_depend_on_the_rows_at_a_time(monkeypatch):
    monkeypatch.setattr("oxhue.optics.inference.colour_table._ROWS_AT_ONCE", 777)
    again = build_table(PAIRS, (30.0, 80.0), doubts=ODD, viewing=ViewingConditions())
    np.testing.assert_array_equal(again.coefficients, TABLE.coefficients)
    assert again.nbytes == again.lab.nbytes + again.coefficients.nbytes


def test_readings_scatter_about_a_row_by_the_covariance_stated():
    """A change of exposure moves all of L* + 16, a*, b* by a third of its logarithm."""
    rows = np.full(40_000, 3)
    drawn = TABLE.draw(rows, np.random.default_rng(2))
    mean = TABLE.lab.reshape(-1, 3)[3].astype(float)
    stated = TABLE.scatter_covariance(mean)
    along = (mean + np.array([16.0, 0.0, 0.0])) / 3.0
    noise = [ODD.lightness_variance, ODD.chroma_variance, ODD.chroma_variance]
    np.testing.assert_allclose(stated, ODD.gain**2 * np.outer(along, along) + np.diag(noise))
    # Variances of 40,000 draws are known to 0.7 %.
    np.testing.assert_allclose(np.cov(drawn.T), stated, atol=0.03 * np.trace(stated))
