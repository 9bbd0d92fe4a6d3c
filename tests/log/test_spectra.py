"""A spectrum noted of a piece: kept as text, and as telling as its curve is."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pytest

import oxhue
from oxhue.optics.errors import InputError
from oxhue.optics.files.spectrum import Spectrum
from oxhue.optics.inference.colour_table import STEP_NM
from oxhue.optics.log import spectra
from oxhue.optics.log.evidence import LN_NM, piece_evidence
from oxhue.optics.log.log import Log
from oxhue.optics.log.records import LoggedPiece, Noted
from oxhue.optics.log.spectra import (
    MOST_READINGS,
    colour_words,
    describe_spectrum,
    format_spectrum,
    oxide_likelihood,
    parse_spectrum,
)
from oxhue.optics.oxidation.metals import find_metal

NM = np.arange(380.0, 781.0, 5.0)


def spectrum_of(stack, kind="reflectance"):
    found = oxhue.solve(stack)
    return Spectrum(
        NM, np.interp(NM, found.wavelength_nm, found.R if kind == "reflectance" else found.T), kind
    )


def test_a_spectrum_comes_back_as_it_was_to_four_digits():
    was = spectrum_of("TiO2 45nm / Ti")
    text = format_spectrum(was)
    again = parse_spectrum(text)
    assert again.kind == "reflectance"
    np.testing.assert_allclose(again.wavelength_nm, NM, atol=0.05)
    np.testing.assert_allclose(again.value, was.value, atol=0.5e-4)
    assert format_spectrum(again) == text
    assert describe_spectrum(text) == "reflectance, 81 readings from 380 to 780 nm"


def test_no_readings_are_refused():
    with pytest.raises(InputError, match="is not readings"):
        parse_spectrum(format_spectrum(Spectrum(np.empty(0), np.empty(0), "reflectance")))


def test_fine_readings_are_averaged_in_groups():
    nm = np.arange(350.0, 1000.0, 0.5)
    text = format_spectrum(Spectrum(nm, nm / 1000.0, "transmittance"))
    again = parse_spectrum(text)
    assert again.wavelength_nm.size <= MOST_READINGS
    assert len(text) < 2_000
    np.testing.assert_allclose(again.value, again.wavelength_nm / 1000.0, atol=2e-4)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("reflection 400:0.1 700:0.2", "is not readings"), ("reflectance", "is not readings"),
        ("reflectance 400:0.1 700", "is not readings"), ("reflectance 400:x 700:1", "not readings"),
        ("reflectance 400:nan 700:0.1", "finite"), ("reflectance 700:0.1 400:0.1", "rise strictly"),
        ("reflectance 400:10 700:20", "divide percent by 100"),
        ("reflectance 420:0.1 700:0.2", "reaches from 420 to 700 nm"),
        ("reflectance 400:0.1 650:0.2", "reaches from 400 to 650 nm"),
    ],
)  # fmt: skip
def test_what_is_no_spectrum_is_refused(text, words):
    with pytest.raises(InputError, match=words):
        parse_spectrum(text)


def test_a_spectrum_looks_as_what_was_measured_does():
    what, colour = colour_words(format_spectrum(spectrum_of("TiO2 45nm / Ti")))
    assert what == "seen"
    lab = [float(number) for number in colour.removesuffix(" how=instrument").split(",")]
    np.testing.assert_allclose(lab, [36.4, 19.0, -46.7], atol=0.2)  # as `look` says
    what, colour = colour_words("transmittance 400:0.5 700:0.5")
    assert what == "through"
    assert colour.startswith("76.07,")  # L* of Y = 50


@pytest.mark.slow
def test_the_oxide_of_a_spectrum_is_found_once_and_kept():
    kept = {}
    metal, text = find_metal("Ti"), format_spectrum(spectrum_of("TiO2 45nm / Ti"))
    nm, likelihood = oxide_likelihood(metal, text, kept=kept)
    share = likelihood / likelihood.sum()
    assert abs(nm @ share - 45.0) < 3.0
    assert np.sqrt((nm - nm @ share) ** 2 @ share) < 4.0
    assert len(kept) == 1
    kept[next(iter(kept))] = [(likelihood * 0.5).tolist()]
    again = oxide_likelihood(metal, text, kept=kept)[1]
    np.testing.assert_array_equal(again, likelihood * 0.5)


@pytest.mark.slow
def test_a_jar_takes_a_spectrum_as_the_colour_that_it_is():
    text = format_spectrum(spectrum_of("Ti 30nm / glass", "transmittance"))
    what, colour = colour_words(text)
    measured, seen = (
        piece_evidence(LoggedPiece("slide", {"on": "glass"}, (Noted(*one),)), "Ti")
        for one in (("spectrum", text), (what, colour))
    )
    np.testing.assert_array_equal(measured.likelihood, seen.likelihood)
    metal = measured.likelihood[0]
    assert 20.0 < np.exp(LN_NM[np.argmax(metal)]) < 40.0


def test_a_file_is_noted_and_shown_in_few_words(tmp_path):
    text = format_spectrum(spectrum_of("TiO2 45nm / Ti"))
    with Log.open(tmp_path / "log.sqlite") as log:
        log.setup("kiln", kind="kiln")
        log.record("kiln", metal="Ti", at="450C", time="20min")
        run = log.saw(1, piece="plate", spectrum=text)
        again = log.saw(
            1, piece="other", spectrum=[spectrum_of("TiO2 45nm / Ti"), text], seen="blue"
        )
        assert [one.text for one in again.pieces[1].observations] == [text, text, "blue"]
        assert "spectrum: reflectance, 81 readings from 380 to 780 nm" in run.summary()
        assert "380:" not in run.summary() + log.runs().summary()


@pytest.mark.slow
def test_a_kiln_is_narrowed_by_a_spectrum_as_by_a_measured_thickness(tmp_path):
    text = format_spectrum(spectrum_of("TiO2 45nm / Ti"))
    widths = {}
    for what, said in (("spectrum", text), ("thickness", "45nm"), ("seen", "blue")):
        with Log.open(tmp_path / f"{what}.sqlite") as log:
            log.setup("kiln", kind="kiln")
            log.record("kiln", metal="Ti", at="450C", time="20min")
            log.saw(1, piece="plate", **{what: said})
            learnt = log.learn("kiln")
        [piece] = learnt.residuals
        widths[what] = learnt.width_ratio
        if what == "spectrum":
            assert piece.outcome.startswith("spectrum, 4")
            assert 42.0 < piece.thickness_nm < 48.0
    assert abs(widths["spectrum"] - widths["thickness"]) < 0.1
    assert widths["spectrum"] < widths["seen"] + 0.02


def test_thicknesses_of_an_oxide_run_from_none_to_the_most(monkeypatch):
    asked = []
    monkeypatch.setattr(spectra, "_fit", lambda *given: asked.append(given) or given[2])
    metal, text = find_metal("Ti"), format_spectrum(spectrum_of("TiO2 45nm / Ti"))
    kept = {}
    nm, likelihood = oxide_likelihood(metal, text, kept=kept)
    assert (nm[0], nm[-1]) == (0.0, metal.most_nm)
    np.testing.assert_allclose(np.diff(nm), STEP_NM)
    np.testing.assert_array_equal(likelihood, nm)
    oxide_likelihood(metal, text, kept=kept)
    oxide_likelihood(metal, text)
    assert len(asked) == 2


def test_draws_of_a_thickness_are_smoothed_by_silvermans_rule():
    """``0.9 s n^(-1/5)``, s of a normal law with the same 5 and 95 % points, n draws that count."""
    nm = 50.0 + 5.0 * np.array([NormalDist().inv_cdf((i + 0.5) / 400) for i in range(400)])
    grid = np.linspace(0.0, 100.0, 401)
    density = spectra._density(nm, np.full(400, 1.0 / 400), grid)
    sd = np.hypot(5.0, 0.9 * 5.0 * 400**-0.2)
    np.testing.assert_allclose(density, np.exp(-0.5 * ((grid - 50.0) / sd) ** 2), atol=0.01)
    sure = spectra._density(np.full(400, 50.0), np.full(400, 1.0 / 400), grid)
    np.testing.assert_allclose(
        sure, np.exp(-0.5 * ((grid - 50.0) / spectra._LEAST_SD_NM) ** 2), atol=1e-9
    )


def test_a_smoothed_spectrum_is_as_wide_as_its_draws_count():
    nm, weight = np.repeat([100.0, 200.0], 500), np.full(1000, 1e-3)
    sd = 0.9 * 100.0 / 3.29 * 1000.0**-0.2  # of a lone draw, by Silverman's rule
    density = spectra._density(nm, weight, np.array([100.0 - 2.0 * sd, 100.0 - sd, 100.0]))
    assert density == pytest.approx(np.exp([-2.0, -0.5, 0.0]), rel=1e-6)
