"""Words for the colours of simulated films: the likelihood is the chance that they are said."""

import numpy as np
import pytest

from oxhue.optics.assay.observations import ColourObservation
from oxhue.optics.assay.word_likelihood import (
    even_conditions,
    perceived_lab,
    scatter_of,
    word_log_likelihood,
)
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.colour.names import LATTICE_ORIGIN, LATTICE_SHAPE, LATTICE_STEP_DELTA_E
from oxhue.optics.colour.naming_model import word_chance
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.inference.uncertainty import DEFAULTS

VIEWING = ViewingConditions()


def test_conditions_fill_the_cube_evenly():
    points = even_conditions(2000).reshape(-1, 3)
    assert np.all((points >= 0.0) & (points < 1.0))
    eighth = (points < 0.5) @ [1, 2, 4]
    np.testing.assert_allclose(np.bincount(eighth) / len(points), 0.125, atol=0.002)


@pytest.mark.parametrize("view", ["front", "through"])
@pytest.mark.parametrize("word", ["gold", "grey", "straw"])
def test_the_likelihood_of_a_word_is_the_chance_that_it_is_said(word, view):
    """Against colours perceived of one film, drawn with all that may be off, and named one by one.
    The film is a pale golden one, which other words fit too."""
    rng = np.random.default_rng(1)
    xyz = np.tile([48.0, 50.0, 30.0], (4000, 1))
    one = ColourObservation(parse_reading(word, view=view), VIEWING)
    lab = perceived_lab(
        xyz, rng.random((4000, 25, 3)), doubts=one.doubts, viewing=VIEWING, view=view
    ).reshape(-1, 3)
    lab = lab + scatter_of(one.doubts) * rng.standard_normal(lab.shape)
    place = np.rint((lab - LATTICE_ORIGIN) / LATTICE_STEP_DELTA_E).astype(int)
    place = np.clip(place, 0, np.array(LATTICE_SHAPE) - 1)
    field = word_chance(word)
    said = field[tuple(place.T)].mean()
    density = np.exp(word_log_likelihood(one.reading, one.doubts, xyz, viewing=VIEWING)).mean()
    chance_of_draw = 3.0 * np.sqrt(said / len(lab))
    found = density * field.sum() * LATTICE_STEP_DELTA_E**3
    assert found == pytest.approx(said, rel=0.03, abs=chance_of_draw)


def test_borders_scatter_as_people_do_whatever_the_way_of_reading():
    word = ColourObservation(parse_reading("green"), VIEWING).doubts
    assert word.noise_de == pytest.approx(DEFAULTS["word"].noise_de, abs=0.05)
    card = ColourObservation(parse_reading("green", how="card"), VIEWING).doubts
    assert card.noise_de == pytest.approx(5.0 * np.sqrt(3.0))
    assert card.glare == DEFAULTS["card"].glare
