"""What real surfaces and instruments add to a spectrum: each doubt as physics has it, and found."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.spectrum_worlds import FINE_NM, READ_NM, WORLDS, Piece
from oxhue.optics.errors import InputError, OutOfRangeError, UnknownNameError
from oxhue.optics.files.spectrum import Spectrum
from oxhue.optics.films.materials.effective_medium import bruggeman
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.spectrum.fit import fit_spectrum
from oxhue.optics.spectrum.sample import Sample, _mix_halves
from oxhue.optics.spectrum.spot import Build
from oxhue.optics.spectrum.widening import CHECKS, WORDS

FILM, BASE = "TiO2(siefke2016)", "Ti(johnson1974)"


def seen_through(world, thickness_nm, seed=3):
    """A spectrum of a film of one data set in a world of the benchmark."""
    piece = Piece(thickness_nm, parse_medium(FILM).nk(FINE_NM), parse_medium(BASE).nk(FINE_NM))
    rng = np.random.default_rng(seed)
    curve = np.interp(READ_NM, FINE_NM, WORLDS[world](piece, rng))
    reading = curve + 0.003 * rng.standard_normal(curve.size)
    return Spectrum(READ_NM, reading, "reflectance")


def test_an_uneven_film_and_a_mixed_layer_read_as_their_stacks():
    piece = Sample.on(parse_stack(BASE), READ_NM, kind="reflectance", angle_deg=0.0, role="film")
    film, metal = parse_medium(FILM).nk(READ_NM), parse_medium(BASE).nk(READ_NM)
    spots = 120.0 * (1.0 + 0.05 * np.linspace(-4.0, 4.0, 81))
    weight = np.exp(-0.5 * np.linspace(-4.0, 4.0, 81) ** 2)
    each = piece.powers(np.broadcast_to(film, (81, film.size)), Build(spots))
    uneven = piece.powers(film[None], Build(np.array([120.0]), spread=np.array([0.05])))[0]
    np.testing.assert_allclose(uneven, weight @ each / weight.sum(), atol=1e-4)

    mixed, _ = _mix_halves(film, metal)
    np.testing.assert_allclose(mixed**2, bruggeman(film**2, metal**2, 0.5), rtol=1e-12)
    read = piece.powers(film[None], Build(np.array([120.0]), mixed_nm=np.array([15.0])))[0]
    shown = solve(parse_stack(f"{FILM} 120nm / {FILM}:{BASE} 50% 15nm / {BASE}"), READ_NM).R
    np.testing.assert_allclose(read, shown, atol=1e-12)


@pytest.mark.parametrize(
    ("world", "doubt"),
    [
        ("bandwidth 10 nm", "bandwidth"),
        ("absorbing oxide, k 0.02 to 0.15", "absorption"),
        ("thickness ±5 % over the spot", "thickness spread"),
        ("metal and oxide mixed under the film, 5 to 30 nm", "mixed layer"),
    ],
)
def test_a_doubt_that_is_true_is_found_and_the_thickness_holds(world, doubt):
    fit = fit_spectrum(FILM, BASE, seen_through(world, 205.0), model="table")
    assert next(iter(fit.doubts)) == doubt
    assert fit.doubts[doubt] > 0.8
    low, high = fit.interval90_nm
    assert low < 205.0 < high
    assert fit.widened_by == doubt
    assert fit.next_check == f"{CHECKS[doubt]}: the spectrum shows {WORDS[doubt]}"


@pytest.mark.parametrize(("mixed_nm", "rough_nm"), [(20.0, 0.0), (0.0, 28.0)])
def test_a_strong_doubt_is_found_where_a_plain_film_of_another_thickness_looks_likelier(
    mixed_nm, rough_nm
):
    piece = Piece(120.0, parse_medium(FILM).nk(FINE_NM), parse_medium(BASE).nk(FINE_NM))
    curve = np.interp(READ_NM, FINE_NM, piece.reflectance(120.0, mixed_nm))
    curve *= np.exp(-((4.0 * np.pi * rough_nm / READ_NM) ** 2))
    reading = curve + 0.004 * np.random.default_rng(5).standard_normal(curve.size)
    fit = fit_spectrum(FILM, "Ti", Spectrum(READ_NM, reading, "reflectance"), model="table")
    low, high = fit.interval90_nm
    assert low < 120.0 < high < low + 20.0
    assert next(iter(fit.doubts)) == ("mixed layer" if mixed_nm else "finish")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("world", "thickness_nm", "doubt"),
    [
        ("bandwidth 10 nm", 1600.0, "bandwidth"),
        ("absorbing oxide, k 0.02 to 0.15", 1300.0, "absorption"),
        ("thickness ±5 % over the spot", 1200.0, "thickness spread"),
        ("metal and oxide mixed under the film, 5 to 30 nm", 1500.0, "mixed layer"),
    ],
)
def test_a_thick_film_is_met_whatever_hides_its_fringes(world, thickness_nm, doubt):
    fit = fit_spectrum(FILM, "Ti", seen_through(world, thickness_nm, seed=4))
    low, high = fit.interval90_nm
    assert low < thickness_nm < high < low + 100.0
    assert fit.doubts[doubt] > 0.8
    assert fit.fits


def test_what_is_stated_or_checked_is_no_doubt():
    spectrum = seen_through("bandwidth 10 nm", 205.0)
    stated = fit_spectrum(
        FILM, BASE, spectrum, model="table", bandwidth_nm=10.0, checked=["finish", "stray light"]
    )
    assert not {"bandwidth", "finish", "stray light"} & set(stated.doubts)
    low, high = stated.interval90_nm
    assert low < 205.0 < high
    sharp = fit_spectrum(FILM, BASE, spectrum, model="table", bandwidth_nm=0.0)
    assert stated.rms_residual < sharp.rms_residual


@pytest.mark.slow
def test_the_doubt_that_widens_is_named_with_the_interval_without_it():
    spectrum = seen_through("as modelled", 40.0)
    fit = fit_spectrum(FILM, BASE, spectrum)
    assert fit.widened_by
    low, high = fit.interval90_without_nm
    assert high - low < 0.9 * (fit.interval90_nm[1] - fit.interval90_nm[0])
    assert fit.next_check.startswith(CHECKS[fit.widened_by])
    assert f"{low:.1f}" in fit.next_check
    sure = fit_spectrum(FILM, BASE, spectrum, checked=[fit.widened_by])
    assert sure.interval90_nm == pytest.approx((low, high), abs=0.3 * (high - low))


@pytest.mark.parametrize(
    ("change", "error", "message"),
    [
        ({"bandwidth_nm": -1.0}, OutOfRangeError, "a bandwidth of -1 nm is not from 0 to 50"),
        ({"bandwidth_nm": float("nan")}, OutOfRangeError, "bandwidth of nan nm"),
        ({"checked": ["finnish"]}, UnknownNameError, "did you mean finish"),
        ({"checked": "finish"}, InputError, "must be a list of doubts"),
    ],
)
def test_doubts_that_make_no_sense_are_refused(change, error, message):
    with pytest.raises(error, match=message):
        fit_spectrum(FILM, BASE, seen_through("as modelled", 40.0), **change)
