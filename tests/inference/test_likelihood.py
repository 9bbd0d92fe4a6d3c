"""Colours seen while the film was thinner: a mean over lesser thicknesses, and their agreement."""

import numpy as np
import pytest

from oxhue.optics.inference.likelihood import earlier_likelihood, make_prior, table_for
from oxhue.optics.inference.question import FilmQuestion
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.inference.uncertainty import Uncertainty

BETWEEN_NM = (20.0, 80.0)
FILMS, ON = ("TiO2(siefke2016)",), "Ti(johnson1974)"


@pytest.fixture(scope="module")
def prior():
    return make_prior(FilmQuestion(FILMS, ON, BETWEEN_NM), 0.0)


def bump(prior, centre_nm, sd_nm):
    """A log likelihood over the scale, which without a doubt of the index is the thickness."""
    return (-0.5 * ((prior.scale_nm - centre_nm) / sd_nm) ** 2)[None, None, :]


def test_the_earlier_thickness_is_anywhere_up_to_the_present(prior):
    earlier, spot = bump(prior, 45.0, 6.0), bump(prior, 60.0, 20.0)
    found, _ = earlier_likelihood(
        prior, spot, earlier + 7.0
    )  # a likelihood is known up to a factor
    d = prior.scale_nm
    for nm in (30.0, 45.0, 60.0, 75.0):
        lesser = (d >= BETWEEN_NM[0]) & (d <= nm)
        at = np.argmin(np.abs(d - nm))
        plain = spot[0, 0, at] + np.log(np.exp(earlier[0, 0, lesser]).mean()) + 7.0
        assert found[0, 0, at] == pytest.approx(plain, abs=0.02)


@pytest.mark.parametrize(
    ("earlier_nm", "now_nm", "agreement"), [(30.0, 60.0, 1.0), (60.0, 30.0, 0.0), (50.0, 50.0, 0.5)]
)
def test_agreement_is_the_chance_of_the_order_stated(prior, earlier_nm, now_nm, agreement):
    _, found = earlier_likelihood(prior, bump(prior, now_nm, 3.0), bump(prior, earlier_nm, 3.0))
    # An earlier thickness equal to the present one counts as in order: half a step too much.
    assert found == pytest.approx(agreement, abs=0.03)


def test_looks_that_differ_in_scatter_share_their_colours_and_those_at_an_angle_do_not():
    def table(**doubts):
        return table_for(FilmQuestion(FILMS, ON, BETWEEN_NM), Uncertainty(**doubts))

    one, other = table(noise_de=1.0, gain=0.1), table(noise_de=3.0)
    assert one.lab is other.lab
    assert one.doubts.gain == 0.1
    tilted = table(noise_de=1.0, angle_low_deg=55.0, angle_high_deg=65.0)
    low = table(noise_de=1.0, angle_high_deg=65.0)
    assert np.abs(tilted.lab.mean(axis=3) - low.lab.mean(axis=3)).max() > 1.0


def test_rows_are_weighed_by_the_prior_of_the_index_and_the_range():
    prior = make_prior(FilmQuestion(("TiO2(siefke2016)",), "Ti(johnson1974)", (40.0, 120.0)), 0.025)
    weight = prior.row_weights(np.zeros((1, prior.index_error.size, prior.scale_nm.size)))[0]
    assert weight.sum() == pytest.approx(1.0)
    error = prior.index_error[:, None]
    spread = np.sqrt((weight * error**2).sum() - (weight * error).sum() ** 2)
    assert spread == pytest.approx(0.025, rel=0.05)
    nm = prior.scale_nm / (1.0 + error)
    assert np.all(weight[(nm < 40.0) | (nm > 120.0)] == 0.0)
    assert (weight * nm).sum() == pytest.approx(80.0, abs=0.2)


@pytest.mark.parametrize("word", ["gold", "purple"])
def test_a_word_joined_between_scales_moves_next_to_nothing(word):
    question, said = FilmQuestion(FILMS, ON), parse_reading(word)
    table = table_for(question, said.doubts)
    exact = table.log_mixture(said.points_lab, said.weight)
    joined = table.log_word(said.points_lab, said.weight)
    weigh = make_prior(question, said.doubts.index_spread).row_weights
    assert 0.5 * np.abs(weigh(joined) - weigh(exact)).sum() < 1e-3
    np.testing.assert_array_equal(joined[..., -1], exact[..., -1])


def test_a_word_said_without_scatter_is_worked_out_at_every_scale():
    question, said = FilmQuestion(FILMS, ON), parse_reading("purple")
    table = table_for(question, Uncertainty(noise_de=1.0, discrepancy_de=1.0))
    mixture = table.log_mixture(said.points_lab, said.weight)
    np.testing.assert_array_equal(table.log_word(said.points_lab, said.weight), mixture)
