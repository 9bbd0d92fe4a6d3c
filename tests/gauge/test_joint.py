"""Spots read together: likelihood, slopes, sampler and intervals against independent ways."""

from dataclasses import replace

import numpy as np
import pytest

from benchmarks.rainbow import BETWEEN_NM, VIEWING, Case, draw_piece, single_intervals
from oxhue.optics.colour.illuminants import tristimulus_weights
from oxhue.optics.errors import InputError, LimitError, OutOfRangeError
from oxhue.optics.films.engine.thickness_scan import base_of
from oxhue.optics.films.spectra import DEFAULT_WAVELENGTH_NM
from oxhue.optics.gauge.joint import likelihood
from oxhue.optics.gauge.joint.gauge import gauge_pairs
from oxhue.optics.gauge.joint.likelihood import Spots, log_likelihood, thickness_density
from oxhue.optics.gauge.joint.model import (
    SCORES,
    UNEVEN,
    SharedUnknowns,
    _index_nodes,
    _sine_nodes,
    build_shared_model,
)
from oxhue.optics.gauge.joint.prior import EDGE_NM, thickness_prior
from oxhue.optics.gauge.joint.result import summarise_draws
from oxhue.optics.gauge.joint.sampler import sample_joint
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.layered import scan_scales
from oxhue.optics.inference.simulate import SampledFilms, film_xyz, seen_lab
from oxhue.optics.inference.uncertainty import DEFAULTS
from oxhue.optics.numerics.integrate import trapezoid

PHOTO = DEFAULTS["photo"]
FILM, ON = "TiO2(amorphous)", "Ti(johnson1974)"
PAIRS = list_film_models((FILM,), ON)


@pytest.fixture(scope="module")
def model():
    return build_shared_model(PAIRS, BETWEEN_NM, doubts=PHOTO, viewing=VIEWING)


@pytest.fixture(scope="module")
def piece():
    return draw_piece(PAIRS, PHOTO, Case(spots=16), np.random.default_rng(4))


def _scores(model, count, seed):
    return 0.7 * np.random.default_rng(seed).standard_normal((count, model.scores))


def _density_of_readings(model, scores, j, lab, each=1):
    """Density of each reading (P,) over fine thickness steps times their prior, plainly."""
    shared = model.shared(scores[None])
    d = np.linspace(0.0, 280.0, 1401)
    films = SampledFilms(np.full(d.size, j), d, np.full(d.size, shared.index_error[0]))
    xyz = film_xyz(films, PAIRS, np.full(d.size, shared.angle_deg[0]), viewing=VIEWING)
    gain = float(np.exp(shared.log_gain[0]))
    mean = seen_lab(xyz, np.full(d.size, shared.glare[0]), VIEWING, exposure=gain)
    mean += [0.0, shared.wb_a[0], shared.wb_b[0]]
    ways = scores[len(SCORES) :].reshape(3, -1) @ model.smooth
    amplitude = np.sqrt(shared.share[0] / 3.0) * PHOTO.discrepancy_de
    scale = d * (1.0 + shared.index_error[0])
    for axis in range(3):
        mean[:, axis] += amplitude * np.interp(scale, model.scale_nm, ways[axis] @ model.between)
    own = (PHOTO.noise_de**2 + (1.0 - shared.share[0]) * PHOTO.discrepancy_de**2) / each
    square = ((lab[:, None] - mean) ** 2).sum(axis=-1) / (own / 3.0)
    prior = 1.0 / (1.0 + np.exp((shared.low_nm[0] - d) / EDGE_NM))
    prior /= 1.0 + np.exp((d - shared.high_nm[0]) / EDGE_NM)
    part = np.clip((d - shared.low_nm[0]) / (shared.high_nm[0] - shared.low_nm[0]), 0.0, 1.0)
    for k, swing in enumerate(shared.uneven[0], 1):
        prior *= np.exp(swing * np.cos(k * np.pi * part))
    return np.exp(-0.5 * square) * (2.0 * np.pi * own / 3.0) ** -1.5 * prior / prior.sum()


def test_what_the_model_may_miss_hangs_together_along_the_scale(model):
    """Of unit variance, and alike by a Gaussian of 90 nm of optical thickness."""
    covariance = model.smooth.T @ model.smooth
    index = np.mean([pair.film.nk(550.0).real for pair in PAIRS])
    apart = (model.knots_nm[:, None] - model.knots_nm) * index / 90.0
    # The ways kept leave out a few parts in a hundred.
    np.testing.assert_allclose(covariance, np.exp(-0.5 * apart**2), atol=0.05)


def test_colours_between_the_knots_are_those_of_a_finer_scale(model):
    """Against the ratios themselves at the steps between, of each pair and at each node."""
    at = model.scale_nm < BETWEEN_NM[1]
    index, sine = _index_nodes(PHOTO), _sine_nodes(PHOTO)
    angle = np.degrees(np.arcsin(np.sqrt(sine)))
    weights = tristimulus_weights(DEFAULT_WAVELENGTH_NM, VIEWING.light, VIEWING.observer)
    for j, pair in enumerate(PAIRS):
        found = model.ratio[j].reshape(index.size, angle.size, 3, -1) @ model.between
        base = base_of(pair.base, DEFAULT_WAVELENGTH_NM)
        plain = scan_scales(
            pair.film, [base], model.scale_nm,
            index_error=index, angle_deg=angle, weights=weights / weights.sum(axis=0),
        )[:, :, 0]  # fmt: skip
        seen = 116.0 * np.cbrt(np.maximum(np.stack([found, plain.swapaxes(2, 3)]), 0.01))
        assert np.abs(seen[0] - seen[1])[..., at].max() < 0.1


@pytest.mark.parametrize("j", [0, 2])
def test_likelihood_is_the_integral_over_each_thickness(model, piece, j):
    scores = _scores(model, 1, 5)
    lab = piece.lab[[1, 8, 14]]
    found, _ = log_likelihood(model, Spots(lab, False), scores, pair=np.array([j]))
    plain = np.log(_density_of_readings(model, scores[0], j, lab).sum(axis=1)).sum()
    # The tables meet the transfer matrix to 0.03 ΔE; residuals of 10 ΔE feel that as 0.1.
    assert found[0] == pytest.approx(plain, abs=0.1)


def test_means_of_several_spots_scatter_less(model, piece):
    """Up to a factor: by how much two worlds differ about the same means of five spots."""
    scores = 0.5 * _scores(model, 2, 11)
    scores[:, 6] = 2.5  # past the ends of a narrow spread the scale is cut off
    lab = piece.lab[[2, 9]]
    found, _ = log_likelihood(model, Spots(lab, False, 5), scores, pair=np.array([1, 1]))
    first, second = (
        np.log(_density_of_readings(model, one, 1, lab, 5).sum(axis=1)).sum() for one in scores
    )
    one_each, _ = log_likelihood(model, Spots(lab, False), scores, pair=np.array([1, 1]))
    assert found[0] - found[1] == pytest.approx(first - second, abs=0.5)
    assert abs(one_each[0] - one_each[1] - (first - second)) > 1.0


def test_ordered_likelihood_is_the_integral_over_ordered_thicknesses(model, piece):
    scores = 0.3 * _scores(model, 1, 6)
    scores[:, 6] = 2.5
    lab = piece.lab[[5, 7]]
    found, _ = log_likelihood(model, Spots(lab, True), scores, pair=np.array([1]))
    first, second = _density_of_readings(model, scores[0], 1, lab)
    ahead = np.cumsum(first) - 0.5 * first
    assert found[0] == pytest.approx(np.log(2.0 * (ahead * second).sum()), abs=0.1)


@pytest.mark.parametrize(
    ("ordered", "each"), [(False, 1), (True, 1), (False, np.array([3, 1, 8, 2]))]
)
def test_slopes_are_those_of_the_likelihood(model, piece, ordered, each):
    # Where no ordered thicknesses suit, the floor under the weights bends the likelihood: hence
    # few spots, modest scores and a wide spread.
    spots, pair = Spots(piece.lab[::5], ordered, each), np.arange(6) % len(PAIRS)
    scores = 0.3 * _scores(model, 6, 7)
    scores[:, 6] = 2.5
    _, slope = log_likelihood(model, spots, scores, pair=pair)
    step = 3e-3
    for k in range(model.scores):
        moved = scores.copy()
        moved[:, k] += step
        ahead, _ = log_likelihood(model, spots, moved, pair=pair)
        moved[:, k] -= 2.0 * step
        behind, _ = log_likelihood(model, spots, moved, pair=pair)
        # 32-bit sums leave 1e-3 in the value, hence 0.3 in a difference over 6e-3.
        np.testing.assert_allclose(
            (ahead - behind) / (2.0 * step), slope[:, k], rtol=0.02, atol=0.3
        )


@pytest.mark.parametrize(("ordered", "each"), [(False, 1), (True, 1), (False, 8)])
def test_steps_left_out_leave_likelihood_and_slopes(model, piece, monkeypatch, ordered, each):
    """At scores that were drawn and at such as suit the spots, which leave the most out."""
    lab = np.sort(piece.lab, axis=0)[:4]
    pair = np.arange(40) % len(PAIRS)
    scores = 0.6 * np.random.default_rng(12).standard_normal((40, model.scores))
    scores[20:, 6] = 2.0
    spots, whole = Spots(lab, ordered, each), model.scale_nm.size
    found = log_likelihood(model, spots, scores, pair=pair)
    near = likelihood._near
    asked = likelihood.ScoreRows.of(model, scores, pair)
    first, beyond = near(model, spots, asked, likelihood._colours(model, spots, asked))
    assert (beyond - first).min() < 0.6 * whole
    monkeypatch.setattr(
        likelihood,
        "_near",
        lambda *_: (np.zeros((4, 40), dtype=int), np.full((4, 40), whole)),
    )
    plain = log_likelihood(model, spots, scores, pair=pair)
    good = plain[0] > plain[0].max() - 60.0  # further off the floor under the weights counts
    np.testing.assert_allclose(found[0][good], plain[0][good], atol=0.02)
    np.testing.assert_allclose(found[1][good], plain[1][good], rtol=0.01, atol=0.05)


def test_ends_far_beyond_the_scale_leave_the_point_nearest_to_them():
    even = SharedUnknowns(*np.zeros((9, 1)), uneven=np.zeros((1, UNEVEN.size)))
    far = even._replace(low_nm=np.array([2e3]), high_nm=np.array([2.1e3]))
    share = np.exp(thickness_prior(np.arange(20.0), far).log[:, 0])
    assert share.argmax() == share.size - 1
    assert share.sum() == pytest.approx(1.0, abs=1e-5)


@pytest.mark.parametrize("keeps_the_fit", [False, True])
def test_sampler_finds_evidence_and_posterior_of_a_normal_problem(keeps_the_fit):
    """Closed form: z ~ N(0, 1) in 5 axes, y = z + centre of the pair + N(0, s²).

    The other pair is offered with z as it was, or with z moved so that it fits as well.
    """
    s, y, centre = 0.2, np.array([1.0, -2.0, 0.5, 0.0, 1.5]), np.array([0.0, 0.4])

    def likelihood(scores, pair):
        off = y - scores - centre[pair][:, None]
        value = -0.5 * (off**2).sum(axis=1) / s**2 - 2.5 * np.log(2.0 * np.pi * s**2)
        return value, off / s**2

    def jump(scores, pair, rng):
        offered = rng.integers(0, 2, len(pair))
        moved = scores + (centre[pair] - centre[offered])[:, None] * keeps_the_fit
        return moved, offered, np.zeros(len(pair))

    rng = np.random.default_rng(3)
    count = 1000
    pair, group = rng.integers(0, 2, count), np.arange(count) % 2
    draws = sample_joint(
        likelihood,
        jump,
        rng.standard_normal((count, 5)),
        pair=pair,
        group=group,
        wanted=count,
        rng=rng,
    )
    off = y - centre[:, None]
    each = -0.5 * (off**2).sum(axis=1) / (1.0 + s**2) - 2.5 * np.log(2.0 * np.pi * (1.0 + s**2))
    chance = np.exp(each[1]) / np.exp(each).sum()
    evidence = np.logaddexp(*each) - np.log(2.0)
    np.testing.assert_allclose(draws.log_evidence, evidence, atol=0.4)
    assert draws.pair.mean() == pytest.approx(chance, abs=0.1)
    mean = (y - chance * centre[1]) / (1.0 + s**2)
    np.testing.assert_allclose(draws.scores.mean(axis=0), mean, atol=0.06)
    variance = s**2 / (1.0 + s**2) + chance * (1.0 - chance) * (centre[1] / (1.0 + s**2)) ** 2
    assert draws.scores.var(axis=0).mean() == pytest.approx(variance, rel=0.2)


@pytest.mark.slow
def test_few_spots_agree_with_weighted_draws_from_the_prior(piece):
    """Three spots with much scatter leave the prior wide enough to be weighed directly."""
    doubts = replace(PHOTO, noise_de=12.0)
    model = build_shared_model(PAIRS, BETWEEN_NM, doubts=doubts, viewing=VIEWING)
    lab = piece.lab[[2, 8, 13]]
    spots, rng = Spots(lab, False), np.random.default_rng(8)
    scores = rng.standard_normal((20_000, model.scores))
    pair = rng.integers(0, len(PAIRS), len(scores))
    weights = np.array([p.weight for p in PAIRS])
    value, _ = log_likelihood(model, spots, scores, pair=pair)
    weight = np.exp(value - value.max()) * weights[pair] / weights.mean()
    assert weight.sum() ** 2 / (weight @ weight) > 1000.0
    chosen = rng.choice(len(scores), size=1500, p=weight / weight.sum())
    grid, equal = np.linspace(*BETWEEN_NM, 501), np.ones(chosen.size)
    plain = thickness_density(
        model, spots, scores=scores[chosen], pair=pair[chosen], weight=equal, grid_nm=grid
    )
    found = gauge_pairs(PAIRS, lab, doubts, between_nm=BETWEEN_NM, viewing=VIEWING)
    apart = 0.5 * np.abs(np.cumsum(plain - found.density, axis=1)).max(axis=1)
    assert found.converged
    # 320 draws leave 0.03 or so in a cumulative curve.
    assert (apart < 0.1).all()
    assert found.log_evidence == pytest.approx(value.max() + np.log(weight.mean()), abs=0.4)


@pytest.mark.slow
def test_spots_together_are_known_better_than_each_alone():
    inside, ratio = [], []
    for seed in range(5):
        case = Case(film=FILM, on=ON, spots=24)
        one = draw_piece(PAIRS, PHOTO, case, np.random.default_rng([9, seed]))
        found = gauge_pairs(PAIRS, one.lab, PHOTO, between_nm=BETWEEN_NM, seed=seed, particles=120)
        low, high = found.interval90_nm.T
        inside.append(np.mean((low <= one.thickness_nm) & (one.thickness_nm <= high)))
        alone = single_intervals(PAIRS, PHOTO, one.lab)
        ratio.append(np.median(high - low) / np.median(alone[:, 1] - alone[:, 0]))
    # All spots of a piece miss together: five pieces settle the coverage to 0.1 only.
    assert np.mean(inside) > 0.65
    assert np.mean(ratio) < 0.85


@pytest.mark.slow
def test_neighbours_in_a_row_put_each_other_right():
    # Of 100 draws the ratios of widths would depend on the seed: 0.79 to 1.06.
    narrower, smoother, some = [], [], {"seed": 2}
    for seed in range(4):
        case = Case(film=FILM, on=ON, spots=72)
        one = draw_piece(PAIRS, PHOTO, case, np.random.default_rng([11, seed]))
        row = gauge_pairs(PAIRS, one.lab, PHOTO, between_nm=BETWEEN_NM, in_a_row=True, **some)
        alone = gauge_pairs(PAIRS, one.lab[1::3], PHOTO, between_nm=BETWEEN_NM, **some)
        assert row.converged
        assert row.density.shape == (72, row.grid_nm.size)
        width, wide = (np.diff(found.interval90_nm, axis=1) for found in (row, alone))
        narrower.append(np.median(width) / np.median(wide))
        error = row.thickness_nm - one.thickness_nm
        # What is off together stays; what is each spot's own is averaged out.
        own = alone.thickness_nm - one.thickness_nm[1::3]
        smoother.append(np.diff(error[1::3]).std() / np.diff(own).std())
        assert np.abs(error).max() < 15.0
    # One piece says little: its shared doubts make either run the wider one.
    assert np.mean(narrower) < 0.95
    assert np.mean(smoother) < 0.85


def test_known_order_is_kept_to_and_answers_are_reproducible(piece):
    lab = piece.lab[np.argsort(piece.thickness_nm)][::4]
    options = {"rising": True, "seed": 3, "particles": 100}
    first = gauge_pairs(PAIRS, lab, PHOTO, between_nm=BETWEEN_NM, **options)
    again = gauge_pairs(PAIRS, lab, PHOTO, between_nm=BETWEEN_NM, **options)
    assert (np.diff(first.thickness_nm) > 0.0).all()
    np.testing.assert_array_equal(first.density, again.density)
    np.testing.assert_allclose(trapezoid(first.density, first.grid_nm), 1.0)
    assert sum(first.films.values()) == pytest.approx(1.0)
    assert first.pair_probability.sum() == pytest.approx(1.0)
    assert first.glare.interval90[0] < first.glare.value < first.glare.interval90[1] <= PHOTO.glare


def test_runs_that_disagree_are_not_to_be_trusted(piece):
    """Draws of a run that ended well, made to disagree in one way after another."""
    lab = piece.lab[::4]
    good = gauge_pairs(PAIRS, lab, PHOTO, between_nm=BETWEEN_NM, viewing=VIEWING, particles=100)
    spots = Spots(lab, False)

    def again(draws):
        return summarise_draws(good.model, pairs=PAIRS, spots=spots, draws=draws, row=None)

    assert good.converged
    assert again(good.draws)["converged"]
    second = good.draws.group >= good.draws.log_evidence.size // 2

    def with_second_run_better_by(nats):
        evidence = good.draws.log_evidence.copy()
        evidence[evidence.size // 2 :] += nats
        return again(replace(good.draws, log_evidence=evidence))

    apart = with_second_run_better_by(5.0)
    assert not apart["converged"]
    assert "differ by" in apart["why"]
    alone = with_second_run_better_by(1e4)  # the first weighs nothing at all
    np.testing.assert_allclose(trapezoid(alone["density"], alone["grid_nm"]), 1.0)
    stuck = again(replace(good.draws, acceptance=0.1))
    assert "hardly moved" in stuck["why"]
    # The index taken to be a fifth higher, and so the film to be thinner, in one run alone.
    scores = good.draws.scores.copy()
    scores[second, 5] += 8.0
    moved = again(replace(good.draws, scores=scores))
    assert "different thicknesses" in moved["why"]


@pytest.mark.parametrize(
    "bad", [np.zeros((0, 3)), np.zeros(3), np.zeros((4, 2)), [[50, np.nan, 0]]]
)
def test_refuses_spots_that_are_no_colours(bad):
    with pytest.raises(InputError, match="spots_lab must hold a finite"):
        gauge_pairs(PAIRS, bad, PHOTO, between_nm=BETWEEN_NM)


def test_refuses_what_it_cannot_do():
    lab = np.tile([50.0, 10.0, -20.0], (3, 1))
    with pytest.raises(LimitError, match="300 spots are too many"):
        gauge_pairs(PAIRS, np.tile(lab, (100, 1)), PHOTO, between_nm=BETWEEN_NM)
    with pytest.raises(OutOfRangeError, match="20 particles are too few"):
        gauge_pairs(PAIRS, lab, PHOTO, between_nm=BETWEEN_NM, particles=20)
    with pytest.raises(OutOfRangeError, match="the seed is -1"):
        gauge_pairs(PAIRS, lab, PHOTO, between_nm=BETWEEN_NM, seed=-1)
    with pytest.raises(OutOfRangeError, match="must run upwards by 10 nm"):
        gauge_pairs(PAIRS, lab, PHOTO, between_nm=(50.0, 55.0))
