"""Words against an open survey of colour names: 954 names, each with the colour most people meant.

The survey was of patches on screens, ours are words for coatings: some differ by trade, as straw
does, which a smith calls brownish. A word is as far off as the nearest of its colours; and no word
may settle on one order of interference where the survey's colour belongs to another.
"""

from functools import cache

import numpy as np
import pytest

from oxhue.optics.colour.names import known_words, word_region
from oxhue.optics.inference.likelihood import single_reading_density
from oxhue.optics.inference.question import FilmQuestion
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.numerics.density import find_density_modes
from oxhue.optics.numerics.integrate import trapezoid

SHADES = ("pale", "light", "dark", "bright", "dull")
SETTLED, ELSEWHERE = 0.9, 0.1


@cache
def survey():
    """The words both have, ours with a shade before them too, with the survey's colour."""
    from matplotlib.colors import XKCD_COLORS

    known = set(known_words())
    known |= {f"{shade} {word}" for shade in SHADES for word in known}
    named = {name.removeprefix("xkcd:"): value for name, value in XKCD_COLORS.items()}
    return {word: value for word, value in named.items() if word in known}


def distance(word, value):
    """ΔE 1976 of the survey's colour from the nearest point of the word."""
    lab = parse_reading(value, "instrument").points_lab[0]
    return float(np.linalg.norm(word_region(word).points_lab - lab, axis=-1).min())


@pytest.mark.slow
@pytest.mark.source(
    "an open survey of 954 colour names, by its colours", "read", "0.5 ΔE about the mean found"
)
def test_words_lie_near_the_colours_of_a_survey():
    far = np.array([distance(word, value) for word, value in survey().items()])
    assert len(far) > 200
    assert far.mean() == pytest.approx(7.5, abs=0.5)


@pytest.mark.slow
@pytest.mark.source("an open survey of 954 colour names", "read", "none allowed")
def test_no_word_settles_on_an_order_that_the_survey_denies():
    question = FilmQuestion.of("TiO2(siefke2016)", "Ti(johnson1974)")
    wrong = []
    for word, value in survey().items():
        prior, of_word = single_reading_density(question, parse_reading(word))
        nm = prior.thickness_nm
        first = find_density_modes(nm, of_word.sum(axis=0))[0]
        if first.probability < SETTLED:
            continue
        _, of_colour = single_reading_density(question, parse_reading(value, "photo"))
        inside = (nm >= first.low_nm) & (nm <= first.high_nm)
        share = trapezoid(of_colour.sum(axis=0) * inside, nm)
        if share < ELSEWHERE:
            wrong.append((word, value, round(first.thickness_nm), round(float(share), 3)))
    assert not wrong
