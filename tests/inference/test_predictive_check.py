"""The fit check: ordinary for what the model gives, rare for what it does not."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.stats import kstest

from benchmarks.drawn import draw_films, draw_readings
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.colour.spaces import parse_hex, srgb_to_lab
from oxhue.optics.films.stack import sweep_thicknesses
from oxhue.optics.gauge.gauge import gauge
from oxhue.optics.inference import predictive_check
from oxhue.optics.inference.colour_table import build_table
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.likelihood import make_prior, table_for
from oxhue.optics.inference.posterior import Prior
from oxhue.optics.inference.predictive_check import simulate_fit_check
from oxhue.optics.inference.question import FilmQuestion
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.inference.uncertainty import DEFAULTS
from oxhue.optics.look.look import look

BETWEEN_NM = (0.0, 250.0)
SYSTEMS = [("TiO2", "Ti"), ("Fe3O4", "Fe"), ("SiO2", "Si")]


@cache
def world(film, on, how):
    pairs = list_film_models((film,), on)
    table = build_table(pairs, BETWEEN_NM, doubts=DEFAULTS[how], viewing=ViewingConditions())
    return pairs, table, Prior.of(pairs, BETWEEN_NM, table.doubts.index_spread)


def p_values(check, readings):
    return np.array([check.p_value([(lab[None], np.ones(1))]) for lab in readings])


@pytest.mark.parametrize(
    ("film", "on", "how"),
    [("Fe3O4", "Fe", "photo"), ("SiO2", "Si", "card"), ("Fe3O4", "Fe", "instrument")],
)
def test_p_values_are_uniform_under_the_model(film, on, how):
    pairs, table, prior = world(film, on, how)
    rng = np.random.default_rng(3)
    check = simulate_fit_check([table], prior, rng)
    films = draw_films(pairs, BETWEEN_NM, DEFAULTS[how].index_spread, count=400, rng=rng)
    p = p_values(
        check,
        draw_readings(films, pairs, doubts=DEFAULTS[how], viewing=ViewingConditions(), rng=rng),
    )
    assert kstest(p, "uniform").pvalue > 0.001
    assert np.mean(p < 0.01) < 0.03  # 1 % expected, four standard errors allowed


def test_the_points_of_a_reading_are_averaged():
    _, table, prior = world("Fe3O4", "Fe", "card")
    check = simulate_fit_check([table], prior, np.random.default_rng(1))
    near, far = np.array([40.0, 10.0, -5.0]), np.array([20.0, 90.0, 90.0])
    alone = check.p_value([(near[None], np.ones(1))])
    both = check.p_value([(np.stack([near, far]), np.array([0.5, 0.5]))])
    assert check.p_value([(np.stack([near, near]), np.array([0.5, 0.5]))]) == alone
    assert 1.0 / 2001.0 < both < alone  # half of the reading lies where no film is


def test_films_without_a_fault_are_told_from_others_by_their_rivals(monkeypatch):
    monkeypatch.setattr(predictive_check, "_COMPONENTS", 4000)
    reading = parse_reading("#5566aa", "card")
    question = FilmQuestion.of("TiO2(siefke2016)", "Ti(johnson1974)").suited_to([reading])
    prior = make_prior(question, reading.doubts.index_spread)
    table, plain = table_for(question, reading.doubts), prior.faultless
    rng = np.random.default_rng(5)
    check = simulate_fit_check([table], prior, rng, pairs=plain)
    alone = replace(check, rivals=())
    whole, p = prior.row_weights(np.zeros(table.lab.shape[:3])), {}
    for own in (True, False):
        weight = whole * (plain == own)[:, None, None]
        rows = rng.choice(weight.size, size=300, p=weight.ravel() / weight.sum())
        p[own] = [p_values(one, table.draw(rows, rng)) for one in (check, alone)]
    assert kstest(p[True][0], "uniform").pvalue > 0.001
    # The same readings of films with faults: a ratio finds more of them than density alone.
    for level in (0.02, 0.1):
        found, before = (np.mean(one < level) for one in p[False])
        assert found > before


# Rough sRGB of things that are no tint films (common practice, no source).
FOREIGN = {
    "copper": "#b87333",
    "brass": "#b5a642",
    "gold": "#ffd700",
    "black": "#101010",
    "red": "#ff0000",
    "green": "#00ff00",
    "yellow": "#ffff00",
}


BRASSY = ("Fe3O4", "Fe")
"""Tempered steel has a straw of the colour of brass, since haematite over magnetite is weighed."""


@pytest.mark.parametrize("how", ["card", "instrument"])
@pytest.mark.parametrize(("film", "on"), SYSTEMS)
def test_foreign_colours_do_not_fit(film, on, how):
    _, table, prior = world(film, on, how)
    check = simulate_fit_check([table], prior, np.random.default_rng(1))
    lab = np.array([srgb_to_lab(parse_hex(colour)) for colour in FOREIGN.values()])
    found = dict(zip(FOREIGN, p_values(check, lab), strict=True))
    assert ((film, on) == BRASSY) == (found.pop("brass") > 0.01)
    assert max(found.values()) < 0.01, found


def test_what_the_check_cannot_see():
    # A bright neutral is what bare or thinly filmed titanium looks like: silver plate passes for
    # it, where on silicon, which has no film as bright as that, it does not.
    silver = srgb_to_lab(parse_hex("#c0c0c0"))[None]
    seen = {}
    for film, on in (SYSTEMS[0], SYSTEMS[2]):
        _, table, prior = world(film, on, "card")
        seen[on] = p_values(simulate_fit_check([table], prior, np.random.default_rng(1)), silver)[0]
    assert seen["Ti"] > 0.5
    assert seen["Si"] < 0.01


def test_the_same_seed_gives_the_same_answer_and_another_nearly_so():
    def ask(seed):
        readings = [parse_reading("#5566aa")]
        return gauge(["TiO2(siefke2016)"], "Ti(johnson1974)", readings, seed=seed)

    one, again, other = ask(1), ask(1), ask(2)
    assert one.fit_p == again.fit_p
    assert one.next_checks == again.next_checks
    np.testing.assert_array_equal(one.density, other.density)  # only the simulations are random
    assert one.fit_p != other.fit_p
    # Two draws of 2,000 at p near a half, and as much again from the 20,000 components.
    assert abs(one.fit_p - other.fit_p) < 0.08


def test_a_second_look_that_contradicts_the_first_does_not_fit():
    looks = [parse_reading("36.4,19.0,-46.7"), parse_reading("81,1,3.6")]  # 45 nm, and bare metal
    estimate = gauge(["TiO2(siefke2016)"], "Ti(johnson1974)", looks)
    assert not estimate.fits
    assert estimate.fit_p < 0.01
    for one in looks:
        assert gauge(["TiO2(siefke2016)"], "Ti(johnson1974)", [one]).fits


@pytest.mark.parametrize("name", ["straw", "brown", "violet", "blue"])
def test_a_film_is_not_refused_by_its_own_name(name):
    """Asked by a name magnetite takes on its way, it fits and is among the answers.

    Values of p run low for words, 0.03 for violet and brown where 0.5 is the mean under the model:
    much of a word's region is more vivid than the film.
    """
    ramp = look("Fe3O4 0..250nm step 5nm / Fe")
    nm, names = sweep_thicknesses(ramp.films)[0][1], np.asarray(ramp.reflected.name)
    assert name in names
    estimate = gauge(["Fe3O4"], "Fe", [parse_reading(name)])
    assert estimate.fits
    found = [any(low <= d <= high for low, high in estimate.region90_nm) for d in nm[names == name]]
    assert np.mean(found) >= 0.9
