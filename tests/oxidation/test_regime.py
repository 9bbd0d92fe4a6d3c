"""Growth through any heat against a stiff solver, and its order in time and temperature."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from oxhue.optics.errors import InputError, OutOfRangeError, UnknownNameError
from oxhue.optics.oxidation.anodic import anodic_law, check_volts, draw_baths
from oxhue.optics.oxidation.growth import grow, grow_again, grow_each
from oxhue.optics.oxidation.handover import find_root, split_heat
from oxhue.optics.oxidation.metals import anodic_cautions, find_metal, metal_names
from oxhue.optics.oxidation.schedule import HeatSchedule, hold, pass_spot, ramp


def mean_film(metal, heat):
    start = np.array([metal.native_nm])
    return float(grow(metal.regimes, metal.mean[None], heat, start_nm=start)[0])


def solved_film(metal, heat, close=1e-12):
    """The rate equation by implicit multistep methods where it is stiff, piece by piece."""
    borders = [regime.range_C[0] for regime in metal.regimes[1:]]
    film = np.array([metal.native_nm])
    for (a, b), dt in split_heat(heat, borders):
        which = sum(0.5 * (a + b) >= border for border in borders)

        def rate(t, x, a=a, b=b, dt=dt, which=which):
            now = a + (b - a) * t / dt
            own = [(regime, min(now, regime.range_C[1])) for regime in metal.regimes[:which]]
            each = []
            for i, (regime, at) in enumerate([*own, (metal.regimes[which], now)]):
                theta = metal.mean[None, 4 * i : 4 * i + 4]
                k, shape = regime.coefficients(theta, np.array([at]))
                each.append(k[0] * regime.law.rate(np.asarray(x), shape[0]))
            return np.max(each, axis=0)

        solved = solve_ivp(rate, (0.0, dt), film, method="LSODA", rtol=close, atol=0.1 * close)
        film = solved.y[:, -1]
    return float(film[0])


# Power (with an energy that changes), linear-parabolic, a limiting film that becomes parabolic at
# 300 °C, cubic, parabolic.
@pytest.mark.parametrize(
    "key", ["Ti", "Si", "Al", *(pytest.param(key, marks=pytest.mark.slow) for key in ("Zr", "Ni"))]
)
def test_growth_through_ramp_hold_and_cooling_agrees_with_a_stiff_solver(key):
    metal = find_metal(key)
    low, high = metal.range_C
    top = 0.9 * high + 0.1 * low
    heat = ramp(20.0, top, 900.0).then(hold(top, 1200.0)).then(ramp(top, 20.0, 1800.0))
    # Where one law hands over to another, rates are taken to change evenly over a few degrees.
    close = 1e-8 if len(metal.regimes) == 1 else 1e-6
    assert mean_film(metal, heat) == pytest.approx(
        solved_film(metal, heat, 1e-3 * close), rel=close
    )


@pytest.mark.parametrize("heat", [hold(640.0, 7200.0), ramp(500.0, 700.0, 3600.0)])
def test_laws_whose_ranges_overlap_grow_by_the_faster_of_both(heat):
    cooler, hotter = find_metal("Ti"), find_metal("Ti-hot")
    (over,) = hotter.regimes
    both = replace(cooler, regimes=(*cooler.regimes, replace(over, range_C=(550.0, 900.0))))
    grown = mean_film(both, heat)
    assert grown == pytest.approx(solved_film(both, heat, 1e-8), rel=1e-5)
    alone = grow([over], over.mean[None], heat, start_nm=np.array([cooler.native_nm]))[0]
    assert grown > max(mean_film(cooler, heat), alone)


@pytest.mark.parametrize("key", ["steel", "Si", "Al"])
def test_equal_heats_one_after_the_other_are_one_heat_of_them_all(key):
    metal = find_metal(key)
    low, high = metal.range_C
    one = pass_spot(0.2 * low + 0.8 * high, 20.0, 30.0)
    start = np.array([metal.native_nm])
    each = grow_again(metal.regimes, metal.mean[None], one, times=3, start_nm=start)
    assert each.shape == (3, 1)
    whole = [mean_film(metal, heat) for heat in (one, one.then(one), one.then(one).then(one))]
    # Of a long heat nodes are joined, which moves no rate by more than 1e-5.
    assert each[:, 0] == pytest.approx(whole, rel=1e-5)


@pytest.mark.parametrize("key", metal_names())
def test_heats_asked_together_are_those_asked_alone(key):
    metal, rng = find_metal(key), np.random.default_rng(2)
    theta = metal.mean + 0.01 * rng.standard_normal((3, metal.mean.size))
    low, high = metal.range_C
    heats = [hold(float(at), 60.0 * k) for k, at in enumerate(np.linspace(low, high, 7))]
    heats.insert(3, ramp(low, high, 1200.0))
    asked = {"start_nm": np.full(3, metal.native_nm), "ln_pace": np.array([0.0, -0.3, 0.5])}
    together = grow_each(metal.regimes, theta, heats, **asked)
    alone = [grow(metal.regimes, theta, heat, **asked) for heat in heats]
    assert together == pytest.approx(np.array(alone), rel=1e-10)


def test_laws_that_lead_in_turns_are_followed_through_each():
    # Parabolic while it is thin, then as a film that stops, then parabolic again beyond that film.
    metal = find_metal("Al")
    theta = np.array([[1.3, 20.0, 0.0, np.log(4.75), 3.0, 95.0, 0.0, 0.0]])
    whole, film = hold(304.0, 3600.0), np.array([1.8])
    grown = grow(metal.regimes, theta, whole, start_nm=film)
    for _ in range(500):
        film = grow(metal.regimes, theta, whole.stretch(1.0 / 500.0), start_nm=film)
    assert grown == pytest.approx(film, rel=1e-9)


def test_roots_of_falling_functions_are_found_wherever_they_are():
    at = np.array([0.0, 1e-6, 0.03, 0.5, 0.999, 1.0])
    for steep in (0.1, 1.0, 300.0):
        found = find_root(
            lambda x, steep=steep: np.clip(np.expm1(steep * (at - x)), -50, 50), at.shape
        )
        np.testing.assert_allclose(found, at, atol=1e-5)


@pytest.mark.parametrize("key", metal_names())
@given(share=st.floats(0.0, 0.97), minutes=st.floats(1.0, 300.0))
@example(share=0.5625, minutes=1.0)  # aluminium just below and above the border of its laws
@settings(deadline=None, max_examples=12)
def test_hotter_and_longer_never_gives_less(key, share, minutes):
    metal = find_metal(key)
    low, high = metal.range_C
    at = low + share * (high - low)
    now = mean_film(metal, hold(at, 60.0 * minutes))
    assert mean_film(metal, hold(at + 0.03 * (high - low), 60.0 * minutes)) >= now
    assert mean_film(metal, hold(at, 66.0 * minutes)) >= now
    assert now >= metal.native_nm


@pytest.mark.parametrize("minutes", [20.0, 210.0])
@pytest.mark.parametrize(("key", "at_C"), [("Ti", 450.0), ("Al", 304.0), ("Al", 315.0)])
def test_a_heat_cut_in_two_gives_the_same_film(key, at_C, minutes):
    metal = find_metal(key)
    whole = hold(at_C, 60.0 * minutes)
    halves = hold(at_C, 25.0 * minutes).then(hold(at_C, 35.0 * minutes))
    assert mean_film(metal, halves) == pytest.approx(mean_film(metal, whole), rel=1e-12)


@pytest.mark.parametrize("key", ["Ti", "Al", "Si"])
def test_a_heat_without_time_leaves_the_film_as_it_is(key):
    metal = find_metal(key)
    at_C = 0.5 * sum(metal.range_C)
    assert mean_film(metal, hold(at_C, 0.0)) == pytest.approx(metal.native_nm, rel=1e-12)


def test_pace_multiplies_time():
    metal = find_metal("steel")
    theta, start = metal.mean[None], np.array([metal.native_nm])
    twice = grow(metal.regimes, theta, hold(270.0, 600.0), start_nm=start, ln_pace=np.log(2.0))
    assert twice[0] == pytest.approx(mean_film(metal, hold(270.0, 1200.0)), rel=1e-12)
    silicon = find_metal("Si")
    theta, start = silicon.mean[None], np.array([silicon.native_nm])
    twice = grow(silicon.regimes, theta, hold(1000.0, 3600.0), start_nm=start, ln_pace=np.log(2.0))
    assert twice[0] == pytest.approx(mean_film(silicon, hold(1000.0, 7200.0)), rel=1e-12)


def test_thickness_at_the_reference_is_the_parameter():
    metal = find_metal("Ni")
    regime = metal.regimes[0]
    heat = hold(regime.reference_C, regime.reference_s)
    bare = grow(metal.regimes, metal.mean[None], heat, start_nm=np.array([1e-9]))
    assert np.log(bare[0]) == pytest.approx(metal.mean[0], rel=1e-9)


@pytest.mark.parametrize("key", metal_names())
def test_data_of_every_metal_are_whole(key):
    metal = find_metal(key)
    low, high = metal.range_C
    assert low < high
    for regime in metal.regimes:
        np.testing.assert_allclose(regime.covariance, regime.covariance.T, rtol=1e-3, atol=1e-9)
        assert np.linalg.eigvalsh(regime.covariance).min() > -1e-3
    assert metal.are_valid(metal.mean[None]).all()
    assert metal.confidence in ("fit", "medium", "low")
    assert metal.source
    assert metal.exposure_min
    assert metal.cautions
    for alias in (metal.key.lower(), metal.name.split(",")[0]):
        if alias in ("silicon", "copper", "nickel", "titanium", metal.key.lower()):
            assert find_metal(alias).oxide == metal.oxide


def test_borders_between_laws_meet():
    for key in metal_names():
        regimes = find_metal(key).regimes
        for first, second in itertools.pairwise(regimes):
            assert first.range_C[1] == second.range_C[0]


@pytest.mark.parametrize(
    ("key", "degrees", "words"),
    [
        ("Ti", 1700.0, "above the melting point of titanium"),
        ("Ti", 800.0, "above the range the law of titanium"),
        ("Al", 660.5, "melting point of aluminium"),
        ("Si", 1350.0, "above the range"),
    ],
)
def test_heats_beyond_the_metal_are_refused(key, degrees, words):
    with pytest.raises(OutOfRangeError, match=words):
        find_metal(key).check(hold(degrees, 60.0))


def test_unknown_metals_are_named():
    with pytest.raises(UnknownNameError, match="did you mean titanium"):
        find_metal("titanum")
    with pytest.raises(UnknownNameError, match="there are Ti, steel"):
        find_metal("kryptonite")


def test_grow_takes_many_worlds_at_once():
    metal = find_metal("Al")
    heat = HeatSchedule(np.array([0.0, 60.0, 120.0]), np.array([20.0, 450.0, 20.0]), "")
    theta = np.repeat(metal.mean[None], 3, axis=0)
    theta[:, 4] += [0.0, 0.1, 0.2]
    films = grow(metal.regimes, theta, heat, start_nm=np.full(3, 2.5))
    assert films.shape == (3,)
    assert np.all(np.diff(films) > 0.0)


def test_anodic_films():
    metal = find_metal("Ti")
    rng, law = np.random.default_rng(1), anodic_law(metal)
    baths = draw_baths(metal, np.array([0.6, 0.4]), count=8000, rng=rng)
    drawn = baths.thickness_nm(law, 60.0, rng)
    assert drawn.std() == pytest.approx(60.0 * np.hypot(law.sd, 1.8 * 0.0226), rel=0.05)
    assert np.mean(baths.film) == pytest.approx(0.4, abs=0.03)
    # Halfway between the volts its constants were found at, a bath is a little surer.
    assert baths.nm_per_V(law, 35.0).std() == pytest.approx(law.sd * np.sqrt(1.0 - 0.16), rel=0.05)
    drawn = baths.thickness_nm(law, 25.0, rng)
    assert np.median(drawn) == pytest.approx(25.0 * (2.5 - 0.7 * 15.0 / 50.0), rel=0.02)
    assert law.volts_for(float(law.typical_nm(25.0))) == pytest.approx(25.0)
    assert np.all(np.diff(law.typical_nm(np.arange(1.0, 141.0))) > 0.0)
    assert any("acid" in text for text in anodic_cautions())
    assert any("current" in text for text in anodic_cautions())


def test_volts_out_of_range_and_metals_without_a_constant_are_refused():
    with pytest.raises(OutOfRangeError, match="1 to 140 V"):
        check_volts(find_metal("Ti"), 500.0)
    with pytest.raises(InputError, match="no anodising constant"):
        anodic_law(find_metal("steel"))
