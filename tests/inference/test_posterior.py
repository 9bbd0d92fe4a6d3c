"""The density over thickness against a brute sum, and how readings combine."""

from dataclasses import replace

import numpy as np
import pytest

from benchmarks.drawn import draw_films, draw_readings
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.colour.illuminants import tristimulus_weights
from oxhue.optics.errors import InputError
from oxhue.optics.inference.colour_table import build_table
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.layered import Bilayer
from oxhue.optics.inference.likelihood import tables_for
from oxhue.optics.inference.posterior import Prior
from oxhue.optics.inference.question import FilmQuestion
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.inference.uncertainty import DEFAULTS, Uncertainty
from oxhue.optics.numerics.density import find_density_modes, quantiles
from oxhue.optics.numerics.integrate import trapezoid

BETWEEN_NM = (0.0, 250.0)
COARSE_NM = np.arange(0.0, 251.0)
NM = np.arange(380.0, 781.0, 5.0)
WEIGHTS = tristimulus_weights(NM, "D65", 2)
WHITE = WEIGHTS.sum(axis=0)


def reflectance(layers, below, angle_deg):
    """Airy's formula for both polarisations (M. Born and E. Wolf, Principles of Optics, 1.6.4).

    Each layer is (index, thickness_nm), the upper one first; from the base upwards, what lies
    below a layer reflects as one surface.
    """
    sine, cosine = np.sin(np.radians(angle_deg)), np.cos(np.radians(angle_deg))
    slant = [np.sqrt(1 - (sine / index) ** 2) for index, _ in layers]
    in_base = np.sqrt(1 - (sine / below) ** 2)
    total = 0.0
    for power, air, base in ((1, cosine, below * in_base), (-1, 1.0 / cosine, below / in_base)):
        index_here = [index * one**power for (index, _), one in zip(layers, slant, strict=True)]
        r = (index_here[-1] - base) / (index_here[-1] + base)
        above = [air, *index_here[:-1]]
        for top, here, (index, nm), one in reversed(
            list(zip(above, index_here, layers, slant, strict=True))
        ):
            turn = np.exp(4j * np.pi * index * one * nm[:, None] / NM)
            face = (top - here) / (top + here)
            r = (face + r * turn) / (1.0 + face * r * turn)
        total = total + np.abs(r) ** 2
    return total / 2.0


def parts_of(film):
    """Index and share of the thickness of each layer of a film, the upper one first."""
    if isinstance(film, Bilayer):
        share = film.share_first
        return [(film.first.nk(NM), share), (film.second.nk(NM), 1.0 - share)]
    return [(film.nk(NM), 1.0)]


def lab_of(xyz):
    """CIELAB as CIE 15 writes it."""
    t = xyz / WHITE
    f = np.where(t > 216 / 24389, np.cbrt(t), (24389 / 27 * t + 16.0) / 116.0)
    x, y, z = np.moveaxis(f, -1, 0)
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def nodes(low, high, count):
    if low == high:
        return [(low, 1.0)]
    x, w = np.polynomial.legendre.leggauss(count)
    return list(zip(low + (high - low) * (x + 1.0) / 2.0, w / 2.0, strict=True))


def dense_densities(pairs, readings, doubts, index_steps=21, views=6):
    """Density (readings, films, 251) by brute sum: 21 index errors, 6 angles, 8 shares of glare."""
    z = np.linspace(-2.5, 2.5, index_steps)
    chance = np.exp(-0.5 * z * z) / np.exp(-0.5 * z * z).sum()
    found = {}
    for pair in pairs:
        parts, below = parts_of(pair.film), pair.substrate.nk(NM)
        total = np.zeros((len(readings), COARSE_NM.size))
        for step, share in zip(z, chance, strict=True):
            error = 1.0 + doubts.index_spread * step
            layers = [(index * error, share_nm * COARSE_NM) for index, share_nm in parts]
            for angle, of_angle in nodes(doubts.angle_low_deg, doubts.angle_high_deg, views):
                xyz = reflectance(layers, below, angle) @ WEIGHTS
                for glare, of_glare in nodes(0.0, doubts.glare, views + 2):
                    mean = lab_of((1.0 - glare) * xyz + 0.4 * glare * WHITE)
                    total += share * of_angle * of_glare * density_at(readings, mean, doubts)
        found[pair.film_name] = found.get(pair.film_name, 0.0) + pair.weight * total
    density = np.stack(list(found.values()), axis=1)
    return density / trapezoid(density.sum(axis=1), COARSE_NM)[:, None, None]


def density_at(readings, mean, doubts):
    along = (mean + np.array([16.0, 0.0, 0.0])) / 3.0
    lightness = (doubts.noise_de**2 + doubts.discrepancy_de**2) / 3.0
    chroma = lightness + doubts.white_balance_de**2 / 2.0
    covariance = np.diag([lightness, chroma, chroma]) + doubts.gain**2 * (
        along[:, :, None] * along[:, None, :]
    )
    gap = np.asarray(readings)[:, None] - mean
    square = (gap[..., None, :] @ np.linalg.inv(covariance) @ gap[..., None])[..., 0, 0]
    return np.exp(-0.5 * square) / np.sqrt(np.linalg.det(covariance))


def total_variation(ours, theirs):
    ours = ours / trapezoid(ours.sum(axis=0), COARSE_NM)
    return 0.5 * np.abs(ours - theirs).sum()


def world(film, on, doubts, count, seed):
    """A table, its prior, and readings drawn from it."""
    pairs = list_film_models((film,), on)
    table = build_table(pairs, BETWEEN_NM, doubts=doubts, viewing=ViewingConditions())
    prior = Prior.of(pairs, BETWEEN_NM, table.doubts.index_spread)
    rng = np.random.default_rng(seed)
    films = draw_films(pairs, BETWEEN_NM, doubts.index_spread, count=count, rng=rng)
    return (
        pairs,
        table,
        prior,
        draw_readings(films, pairs, doubts=doubts, viewing=ViewingConditions(), rng=rng),
    )


# As found in three readings each: at most 0.2 % for photo and word, 0.5 % for card and 0.8 % for
# instrument, where the posterior is narrowest against the 0.5 nm grid. In 40 readings each of
# TiO2 on Ti the median is 0.3 % or less; the worst, of films near 35 to 45 nm where the colour
# turns fastest, are 6 % for photo and 14 % for instrument, by half a step of the grid.
@pytest.mark.parametrize("how", DEFAULTS)
@pytest.mark.parametrize(
    ("film", "on"),
    [
        ("TiO2(siefke2016)", "Ti(johnson1974)"),
        pytest.param("SiO2(malitson1965)", "Si(green2008)", marks=pytest.mark.slow),
    ],
)
def test_density_is_within_a_percent_of_the_brute_sum(film, on, how):
    pairs, table, prior, readings = world(film, on, DEFAULTS[how], 3, seed=5)
    density, _ = prior.film_density(table.log_likelihood(readings))
    each = dense_densities(pairs, readings, DEFAULTS[how])
    for ours, theirs in zip(density, each, strict=True):
        assert total_variation(ours[:, ::2], theirs) < 0.01


# Wide doubts of the index and a steep view are where five nodes in the index, or a floor under
# the unlikely ones, would fail: by 0.7 to 0.96 when they did.
@pytest.mark.parametrize(
    ("how", "index_spread", "angle", "median", "worst"),
    [
        ("instrument", 0.05, None, 0.02, 0.10),
        ("instrument", 0.05, 60.0, 0.02, 0.10),
        pytest.param("card", 0.05, None, 0.02, 0.10, marks=pytest.mark.slow),
        ("instrument", 0.10, None, 0.05, 0.25),
    ],
)
def test_wide_doubts_of_the_index_stay_near_the_brute_sum(how, index_spread, angle, median, worst):
    doubts = replace(DEFAULTS[how], index_spread=index_spread)
    doubts = doubts if angle is None else doubts.with_angle(angle)
    film, on = "TiO2(siefke2016)", "Ti(johnson1974)"
    pairs, table, prior, readings = world(film, on, doubts, 6, seed=8)
    density, _ = prior.film_density(table.log_likelihood(readings))
    each = dense_densities(pairs, readings, doubts, 41)
    off = [
        total_variation(ours[:, ::2], theirs) for ours, theirs in zip(density, each, strict=True)
    ]
    assert np.median(off) < median
    assert max(off) < worst


# With the nodes that suffice for a photo these were off by up to 0.6 and 0.11.
@pytest.mark.parametrize(
    ("doubts", "worst"),
    [
        (replace(DEFAULTS["photo"], angle_low_deg=50.0, angle_high_deg=80.0, glare=0.0), 0.05),
        (replace(DEFAULTS["photo"], angle_high_deg=0.0, glare=0.5), 0.03),
    ],
)
def test_wide_doubts_of_the_view_stay_near_the_brute_sum(doubts, worst):
    pairs, table, prior, readings = world("TiO2(siefke2016)", "Ti(johnson1974)", doubts, 3, seed=8)
    density, _ = prior.film_density(table.log_likelihood(readings))
    each = dense_densities(pairs, readings, doubts, 21, 14)
    off = [
        total_variation(ours[:, ::2], theirs) for ours, theirs in zip(density, each, strict=True)
    ]
    assert max(off) < worst


def test_films_and_data_sets_are_weighed_as_in_the_brute_sum():
    doubts = DEFAULTS["instrument"]
    pairs, table, prior, readings = world("Fe3O4", "Fe", doubts, 3, seed=2)
    density, _ = prior.film_density(table.log_likelihood(readings))
    for ours, theirs in zip(density, dense_densities(pairs, readings, doubts), strict=True):
        assert total_variation(ours[:, ::2], theirs) < 0.01
        np.testing.assert_allclose(
            trapezoid(ours, prior.thickness_nm),
            trapezoid(theirs, COARSE_NM),
            atol=0.005,
        )


PAIRS = list_film_models(("TiO2(siefke2016)", "SiO2(malitson1965)"), "Ti(johnson1974)")


def prior_of(doubts, between=BETWEEN_NM):
    table = build_table(PAIRS, between, doubts=doubts, viewing=ViewingConditions())
    return table, Prior.of(PAIRS, between, table.doubts.index_spread)


def test_density_sums_to_one_and_no_evidence_gives_the_prior_back():
    _, prior = prior_of(DEFAULTS["photo"], (20.0, 60.0))
    flat = np.zeros((1, len(PAIRS), prior.index_error.size, prior.scale_nm.size))
    density, log_evidence = prior.film_density(flat)
    np.testing.assert_allclose(density.sum(axis=1), 1.0 / 40.0, rtol=1e-12)
    np.testing.assert_allclose(trapezoid(density[0], prior.thickness_nm), 0.5, rtol=1e-12)
    assert log_evidence[0] == pytest.approx(0.0, abs=1e-12)


def test_index_weights_integrate_low_powers_against_the_prior():
    _, prior = prior_of(DEFAULTS["photo"])
    z = prior.index_error / 0.025
    cut = np.linspace(-2.5, 2.5, 41)
    chance = np.exp(-0.5 * cut * cut) / np.exp(-0.5 * cut * cut).sum()
    for power in range(5):
        assert prior.index_weight @ z**power == pytest.approx(chance @ cut**power, abs=1e-12)
    assert prior.index_weight @ z**2 == pytest.approx(0.93, abs=0.03)  # cut at 2.5 σ, not 1


def test_row_weights_are_a_share_and_agree_with_the_density():
    table, prior = prior_of(DEFAULTS["card"])
    log_likelihood = table.log_likelihood(np.array([[45.0, 20.0, -30.0]]))
    weight = prior.row_weights(log_likelihood[0])
    assert weight.sum() == pytest.approx(1.0)
    assert weight.min() >= 0.0
    density, _ = prior.film_density(log_likelihood)
    of_film = trapezoid(density[0], prior.thickness_nm)
    np.testing.assert_allclose(weight.sum(axis=(1, 2)), of_film, atol=0.01)
    thickness = prior.scale_nm / (1.0 + prior.index_error[:, None])
    mean = trapezoid(density[0].sum(axis=0) * prior.thickness_nm, prior.thickness_nm)
    assert (weight * thickness).sum() == pytest.approx(mean, rel=0.02)


def test_row_weights_keep_inside_the_range():
    table, prior = prior_of(DEFAULTS["card"], (40.0, 60.0))
    weight = prior.row_weights(np.zeros(table.lab.shape[:3]))
    thickness = prior.scale_nm / (1.0 + prior.index_error[:, None])
    outside = (thickness < 40.0) | (thickness > 60.0)
    assert weight[:, outside].sum() == 0.0


def looks(*texts, **options):
    return [parse_reading(text, **options) for text in texts]


def held(readings, between=BETWEEN_NM):
    """Grid and density of titania after the readings, without the simulations of an estimate."""
    film, on = ("TiO2(siefke2016)",), "Ti(johnson1974)"
    tables = tables_for(FilmQuestion(film, on, between), readings)
    prior = Prior.of(list_film_models(film, on), between, tables[0].doubts.index_spread)
    each = [
        table.log_mixture(one.points_lab, one.weight)
        for table, one in zip(tables, readings, strict=True)
    ]
    density, _ = prior.film_density(np.sum(each, axis=0)[None])
    return prior.thickness_nm, density[0].sum(axis=0)


def interval(readings, between=BETWEEN_NM):
    return quantiles(*held(readings, between), np.array([0.05, 0.5, 0.95]))


def test_the_order_of_readings_does_not_matter():
    _, there = held(looks("purple", "#3c4fa1", "40,20,-45 angle=30"))
    _, back = held(looks("40,20,-45 angle=30", "#3c4fa1", "purple"))
    np.testing.assert_allclose(there, back, atol=1e-9)


def test_two_readings_multiply():
    """Without doubt of the index the density of both is the product of the densities of each."""
    grid, one = held(looks("#3c4fa1", settings={"index_spread": 0.0}))
    _, other = held(looks("#5566aa angle=50", settings={"index_spread": 0.0}))
    _, both = held(looks("#3c4fa1", "#5566aa angle=50", settings={"index_spread": 0.0}))
    product = one * other
    product /= trapezoid(product, grid)
    np.testing.assert_allclose(both, product, atol=1e-4 * product.max())


def test_the_same_look_twice_narrows_the_answer():
    assert np.ptp(interval(looks("#3c4fa1", "#3c4fa1"))) < np.ptp(interval(looks("#3c4fa1")))


def test_readings_that_assume_different_index_doubts_are_refused():
    with pytest.raises(InputError, match="same index_spread"):
        held([parse_reading("#3c4fa1"), parse_reading("#3c4fa1", settings={"index_spread": 0.05})])


def test_without_index_doubt_the_answer_is_narrower_and_in_place():
    sure = interval(looks("36.4,19.0,-46.7", settings={"index_spread": 0.0}))
    unsure = interval(looks("36.4,19.0,-46.7"))
    assert np.ptp(sure) < np.ptp(unsure)
    assert sure[1] == pytest.approx(45.0, abs=0.5)  # the colour of 45 nm on the spot
    assert unsure[1] == pytest.approx(45.0, abs=1.0)


@pytest.mark.parametrize("between", [(44.0, 46.0), (44.9, 45.4), (0.0, 0.5), (999.0, 1000.0)])
def test_narrow_ranges_stay_inside_themselves(between):
    grid, density = held(looks("#3c4fa1"), between)
    low, high = between
    assert (grid[0], grid[-1]) == between
    assert trapezoid(density, grid) == pytest.approx(1.0)
    five, _, ninety_five = quantiles(grid, density, np.array([0.05, 0.5, 0.95]))
    assert low <= five < ninety_five <= high
    assert sum(hump.probability for hump in find_density_modes(grid, density)) == pytest.approx(
        1.0, abs=0.01
    )


def test_a_narrower_range_is_the_wider_one_cut():
    _, wide = held(looks("#3c4fa1"))
    grid, narrow = held(looks("#3c4fa1"), (30.0, 60.0))
    cut = wide[60:121] / trapezoid(wide[60:121], grid)
    np.testing.assert_allclose(narrow, cut, atol=0.002 * cut.max())


def test_hopeless_readings_leave_finite_numbers():
    table, prior = prior_of(replace(DEFAULTS["instrument"], discrepancy_de=0.0))
    density, log_evidence = prior.film_density(table.log_likelihood(np.array([[0, 150, -150.0]])))
    assert np.all(np.isfinite(density))
    assert np.isfinite(log_evidence[0])
    assert log_evidence[0] < -1e4


def test_no_doubts_but_noise_still_works():
    table, prior = prior_of(Uncertainty(noise_de=0.5, discrepancy_de=0.0, index_spread=0.0))
    mean = table.lab[0, 0, 90, 0].astype(float)
    density, _ = prior.film_density(table.log_likelihood(mean[None]))
    assert prior.thickness_nm[np.argmax(density[0].sum(axis=0))] == table.scale_nm[90]
