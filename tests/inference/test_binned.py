"""Many colours at once: against the full posterior, and densities parted at their valleys."""

import numpy as np
import pytest

from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.inference.binned import (
    BinnedTable,
    binned_densities,
    build_binned_table,
    fit_p_values,
    gauge_binned,
    split_densities,
)
from oxhue.optics.inference.colour_table import build_table
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.posterior import Prior
from oxhue.optics.inference.simulate import SampledFilms, film_xyz, seen_lab
from oxhue.optics.inference.uncertainty import DEFAULTS
from oxhue.optics.look.look import look

PAIRS = list_film_models(("TiO2(amorphous)",), "Ti(johnson1974)")
BETWEEN_NM = (10.0, 220.0)
VIEWING = ViewingConditions()
LEVELS = (0.05, 0.5, 0.95)


@pytest.fixture(scope="module")
def table():
    return build_table(PAIRS, BETWEEN_NM, doubts=DEFAULTS["card"], viewing=VIEWING)


@pytest.fixture(scope="module")
def prior(table):
    return Prior.of(PAIRS, BETWEEN_NM, table.doubts.index_spread)


@pytest.fixture(scope="module")
def cells(table, prior):
    return build_binned_table(table, prior)


def colours(nm):
    films = SampledFilms(np.zeros(nm.size, dtype=np.intp), nm, np.zeros(nm.size))
    xyz = film_xyz(films, PAIRS, np.asarray(0.0), viewing=VIEWING)
    return seen_lab(xyz, np.zeros(nm.size), VIEWING)


def middles(density):
    """The cumulative curve up to the middle of each step."""
    share = density / density.sum()
    return np.cumsum(share) - 0.5 * share


def test_densities_are_near_those_of_the_full_posterior(table, prior, cells):
    lab = colours(np.array([30.0, 60.0, 110.0, 150.0]))
    whole = prior.film_density(table.log_likelihood(lab))[0].sum(axis=1)
    density = next(iter(binned_densities(cells, lab)))[0].astype(float)
    for full, quick in zip(whole, density, strict=True):
        low, middle, high = np.interp(LEVELS, middles(full), prior.thickness_nm)
        near = np.interp(LEVELS, middles(quick), cells.thickness_nm)
        # One normal distribution in place of all glares and angles: measured, medians are up to
        # 2.5 nm apart and intervals alike to a tenth.
        assert near[1] == pytest.approx(middle, abs=4.0)
        assert near[2] - near[0] == pytest.approx(high - low, rel=0.25)


def test_the_thickness_put_in_is_the_likeliest_and_within_its_ends(cells):
    nm = np.array([25.0, 45.0, 90.0, 140.0])
    held = gauge_binned(cells, colours(nm))
    assert held.fits.all()
    np.testing.assert_allclose(held.probability.sum(axis=1), 1.0, atol=1e-5)
    best = held.probability.argmax(axis=1)
    low, middle, high = held.thickness_nm[np.arange(nm.size), best].T
    assert np.all((low < nm) & (nm < high))
    np.testing.assert_allclose(middle, nm, atol=8.0)


def test_answers_do_not_depend_on_the_company_a_colour_is_in(cells):
    nm = np.linspace(20.0, 200.0, 700)  # three pieces of work
    many = gauge_binned(cells, colours(nm))
    few = gauge_binned(cells, colours(nm)[[3, 500]])
    np.testing.assert_allclose(many.thickness_nm[[3, 500]], few.thickness_nm)
    np.testing.assert_allclose(many.probability[[3, 500]], few.probability, atol=1e-5)


def test_a_colour_no_film_shows_does_not_fit(cells):
    assert not gauge_binned(cells, np.array([[50.0, 80.0, -10.0], [60.0, -80.0, 60.0]])).fits.any()


def test_one_simulated_reading_in_a_hundred_is_refused(table, prior, cells):
    rng = np.random.default_rng(8)
    weight = prior.row_weights(np.zeros(table.lab.shape[:3])).ravel()
    rows = rng.choice(weight.size, size=3000, p=weight)
    seen = rng.choice(table.view_weight.size, size=rows.size, p=table.view_weight)
    drawn = table.draw(rows * table.view_weight.size + seen, rng)
    p = np.concatenate([part[2] for part in binned_densities(cells, drawn)])
    # Of 3000 draws 1 % is 30 ± 5.5, and the 2000 it is calibrated by leave as much again.
    assert 0.002 < np.mean(p < 0.01) < 0.02
    assert np.mean(p < 0.5) == pytest.approx(0.5, abs=0.05)


def bare_table(nm, cuts=(), simulated=()):
    empty = np.zeros((10, 0), dtype=np.float32), np.zeros((0, nm.size), dtype=np.float32)
    windows = np.array(cuts, dtype=np.intp).reshape(-1, 2)
    ranked = np.array(simulated, dtype=float)
    return BinnedTable(*empty, windows, nm, ranked, np.zeros(0, dtype=bool), ranked)


def test_a_density_is_parted_at_its_valley():
    nm = np.linspace(0.0, 200.0, 401)
    humps = 0.7 * np.exp(-0.5 * ((nm - 50.0) / 5.0) ** 2) / 5.0
    humps += 0.3 * np.exp(-0.5 * ((nm - 150.0) / 8.0) ** 2) / 8.0
    ends, probability = split_densities(
        bare_table(nm, [(120, 260)]), humps[None].astype(np.float32)
    )
    np.testing.assert_allclose(probability[0], [0.7, 0.3], atol=1e-3)
    for (low, middle, high), centre, sd in zip(ends[0], (50.0, 150.0), (5.0, 8.0), strict=True):
        # 5 and 95 % points of a normal distribution lie 1.645 standard deviations out.
        np.testing.assert_allclose(
            [low, middle, high], centre + sd * np.array([-1.645, 0.0, 1.645]), atol=0.6
        )
    whole, one = split_densities(bare_table(nm), humps[None].astype(np.float32))
    assert one.tolist() == [[pytest.approx(1.0)]]
    assert whole[0, 0, 0] < 50.0 < 130.0 < whole[0, 0, 2]


def test_fit_is_the_share_of_simulated_readings_no_likelier():
    ranked = bare_table(np.arange(3.0), simulated=[-4.0, -3.0, -2.0, -1.0])
    found = fit_p_values(ranked.simulated, np.array([-9.0, -3.0, -2.5, 0.0], dtype=np.float32))
    np.testing.assert_allclose(found, [0.2, 0.6, 0.6, 1.0])


def test_the_colour_of_a_look_is_gauged_back(cells):
    seen = look("TiO2(siefke2016) 70nm / Ti(johnson1974)").reflected
    held = gauge_binned(cells, seen.lab[None])
    best = held.probability[0].argmax()
    assert abs(held.thickness_nm[0, best, 1] - 70.0) < 8.0
