"""One reading by itself: what is passed over holds nothing, the rest is as in the whole table."""

from functools import cache

import numpy as np
import pytest

from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.inference.bands import Bands
from oxhue.optics.inference.colour_table import build_table
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.likelihood import single_reading_density
from oxhue.optics.inference.normal import features
from oxhue.optics.inference.posterior import Prior
from oxhue.optics.inference.question import FilmQuestion
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.inference.uncertainty import DEFAULTS, Uncertainty
from oxhue.optics.numerics.density import quantiles

BETWEEN_NM = (0.0, 150.0)
LEVELS = np.array([0.05, 0.5, 0.95])
KINDS = {**DEFAULTS, "sharp": Uncertainty(noise_de=1.0, discrepancy_de=0.0)}


@cache
def world(kind):
    pairs = list_film_models(("TiO2", "SiO2"), "Ti")
    table = build_table(pairs, BETWEEN_NM, doubts=KINDS[kind], viewing=ViewingConditions())
    prior = Prior.of(pairs, BETWEEN_NM, table.doubts.index_spread)
    return table, prior, Bands.of(table, prior)


def readings(kind):
    """Colours of the table's own rows and any others, with some that no film comes near."""
    table, _, _ = world(kind)
    rng = np.random.default_rng(5)
    own = table.draw(rng.integers(0, table.lab.size // 3, 12), rng)
    return np.concatenate([own, rng.uniform((5, -90, -90), (98, 90, 90), (12, 3))])


@pytest.mark.parametrize("kind", KINDS)
def test_bands_passed_over_hold_nothing(kind):
    _, prior, bands = world(kind)
    for lab in readings(kind):
        asked = features(lab[None])
        near = bands._near(asked, lab)
        every = [bands._log_film(film, asked, np.ones_like(own)) for film, own in enumerate(near)]
        peak = max(own.max() for own in every)
        curves = [prior.curves(own - peak) for own in every]
        lost = sum(own[~chosen].sum() for own, chosen in zip(curves, near, strict=True))
        assert lost < 1e-12 * sum(own.sum() for own in curves)
    if kind in ("card", "instrument", "sharp"):
        assert near.mean() < 0.6  # or nothing was gained


@pytest.mark.parametrize("kind", KINDS)
def test_density_is_that_of_the_whole_table(kind):
    table, prior, bands = world(kind)
    for lab in readings(kind):
        whole = prior.film_density(table.log_likelihood(lab[None]))[0][0]
        found = bands.film_density(lab)
        assert prior.mass(found) == pytest.approx(1.0)
        # Both run in 32 bits, whose rounding is larger where all rows are far from the reading.
        np.testing.assert_allclose(found, whole, rtol=0.0, atol=2e-3 * whole.max())
        ends = [quantiles(prior.thickness_nm, one.sum(axis=0), LEVELS) for one in (found, whole)]
        np.testing.assert_allclose(*ends, rtol=0.0, atol=1e-3)


def test_a_word_and_a_colour_go_their_own_ways_to_one_posterior():
    """A word is many points: its density is that of the whole table; one point goes by bands."""
    for text in ("purple", "#6a3fa0"):
        reading = parse_reading(text)
        prior, found = single_reading_density(
            FilmQuestion(("TiO2(rutile)",), "Ti", BETWEEN_NM), reading
        )
        table = build_table(
            prior.pairs, BETWEEN_NM, doubts=reading.doubts, viewing=ViewingConditions()
        )
        whole = table.log_mixture(reading.points_lab, reading.weight)
        expected = prior.film_density(whole[None])[0][0]
        np.testing.assert_allclose(found, expected, rtol=0.0, atol=1e-4 * expected.max())
