"""What a measured spectrum says, in words and as JSON, whatever the answer."""

import json

import numpy as np
import pytest

from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.look.look import look
from oxhue.optics.spectrum.fit import colour_candidates
from oxhue.optics.spectrum.result import SpectrumFit
from oxhue.optics.spectrum.summaries import FittedNumber, Minimum

NM = np.linspace(400.0, 700.0, 31)


def fitted(shares=(0.95, 0.05), **other):
    thickness = (45.0, 160.0, 270.0)
    minima = tuple(
        Minimum(nm, 0.01, share, "table", (nm - 2.0, nm + 2.0))
        for nm, share in zip(thickness, shares, strict=False)
    )
    fields = {
        "thickness_nm": 45.0, "interval90_nm": (43.0, 47.0), "index_at_nm": 550.0,
        "doubts": {"none": 0.9, "finish": 0.1}, "widened_by": "",
        "interval90_without_nm": (43.0, 47.0),
        "n": 2.45, "n_interval90": (2.4, 2.5), "k": 0.001, "k_interval90": (0.0, 0.004),
        "parameters": (FittedNumber("roughness", "nm", 1.0, (0.0, 3.0)),), "model": "table",
        "models": {"table": 1.0}, "candidates": minima, "fits": True, "rms_residual": 0.01,
        "noise": 0.01, "misfit": 0.0, "no_film_needed": False, "explained_by": "film",
        "alternatives": {"film": 1.0, "bare base": 0.0, "opaque film": 0.0},
        "wavelength_nm": NM, "value": 0.3 + 0.0 * NM, "curve": 0.29 + 0.0 * NM,
        "residual": 0.01 + 0.0 * NM, "film_index": 2.45 + 0j * NM, "descents": 12,
        "effective_draws": 500.0, "data_sets": ("TiO2(siefke2016)", "Ti(johnson1974)"),
        "notes": ("readings beyond 700 nm were left out",), "seed": 1, "draws": (),
    }  # fmt: skip
    return SpectrumFit(**fields | other)


def test_candidates_carry_the_colour_and_order_such_a_film_has():
    pairs = list_film_models(("TiO2(siefke2016)",), "Ti(johnson1974)")
    first, second = colour_candidates(fitted().candidates, pairs, None)
    seen = look("TiO2(siefke2016) 45nm / Ti(johnson1974)").reflected
    assert (first.srgb_hex, first.name) == (seen.srgb_hex, seen.name)
    assert (first.order, second.order) == (1, 2)


def test_json_holds_all_candidates_and_the_region_of_ninety_percent():
    fit = fitted((0.6, 0.35, 0.05))
    plain = json.loads(json.dumps(fit.to_dict(), allow_nan=False))
    assert [one["thickness_nm"] for one in plain["candidates"]] == [45.0, 160.0, 270.0]
    assert plain["region90_nm"] == [[43.0, 47.0], [158.0, 162.0]]
    assert plain["parameters"][0] == {
        "name": "roughness", "unit": "nm", "value": 1.0, "interval90": [0.0, 3.0],
    }  # fmt: skip
    assert len(fitted().to_dict()["region90_nm"]) == 1


@pytest.mark.parametrize(
    ("other", "verdict", "then"),
    [
        ({}, "45.0 nm, 90 % within 43.0–47.0 nm.", "none is needed"),
        ({"shares": (0.6, 0.4)}, "45.0 nm", "measure a wider band"),
        ({"fits": False}, "Nothing fits", "make sure of film and base"),
        (
            {"no_film_needed": True, "explained_by": "bare base"},
            "No film is needed: the bare base explains the spectrum as well.",
            "measure a bare piece next to it",
        ),
    ],
    ids=["settled", "two orders", "nothing fits", "no film"],
)
def test_the_words_follow_the_answer(other, verdict, then):
    fit = fitted(**other)
    text = fit.summary()
    assert text.startswith(verdict)
    assert fit.next_check.startswith(then)
    assert f"Next: {then}" in text
    assert "Index at 550 nm: n = 2.450 (2.400 to 2.500), k = 0.0010 (to 0.0040)." in text
    assert "Readings beyond 700 nm were left out." in text
    assert "TiO2(siefke2016), Ti(johnson1974)" in text


def test_a_notebook_shows_the_spectrum_its_candidates_and_what_is_next():
    html = fitted()._repr_html_().replace("\u00a0", " ")
    assert "<svg" in html
    assert "158.0–162.0 nm" in html
    assert "Next: none is needed" in html
