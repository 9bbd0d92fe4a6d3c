"""Faults of surface, oxide, camera and lamp that all spots of a piece share."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.worlds import bend
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.colour.illuminants import tristimulus_weights
from oxhue.optics.colour.spaces import xyz_to_lab
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.films.spectra import DEFAULT_WAVELENGTH_NM
from oxhue.optics.gauge.joint.faults import WAYS, share_faults
from oxhue.optics.gauge.joint.likelihood import Spots, log_likelihood
from oxhue.optics.gauge.joint.model import build_shared_model
from oxhue.optics.gauge.joint.piece import gauge_one_piece
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.uncertainty import DEFAULTS, VEIL

PAIRS = list_film_models(("TiO2(siefke2016)",), "Ti(johnson1974)")
BETWEEN_NM = (0.0, 120.0)
SPOTS = ["#b0a070", "#8a6a50", "#5a3a78", "#3c4fa1", "#6f9ac8"]


def _model(finish="unknown", how="photo"):
    return build_shared_model(
        PAIRS, BETWEEN_NM, doubts=DEFAULTS[how], viewing=ViewingConditions(), finish=finish
    )


@pytest.fixture(scope="module")
def model():
    return _model()


def test_a_camera_and_a_lamp_are_in_no_colour_meters_way(model):
    assert {"camera", "lamp"} <= set(model.faults.names)
    assert not {"camera", "lamp"} & set(_model(how="instrument").faults.names)
    assert _model("ideal").faults.names == ()


def test_a_fault_is_past_a_half_as_often_as_it_is_likely(model):
    scores = np.random.default_rng(1).standard_normal((40_000, model.faults.scores))
    often = (model.faults.amounts(scores) > 0.5).mean(axis=0)
    due = {"lamp": 0.05}
    for name, share in zip(model.faults.names, often, strict=True):
        assert share == pytest.approx(due.get(name, 0.10), abs=0.01), name


def test_a_stated_finish_makes_its_faults_likelier(model):
    rolled = _model("rolled")
    at = rolled.faults.names.index("rough")
    assert rolled.faults.step[at] < model.faults.step[at]


def test_what_no_fault_does_leaves_the_colours(model):
    """Where every amount is 0, as far below its step as scores go."""
    scores = np.zeros((1, model.faults.scores))
    scores[:, :: 1 + WAYS] = -12.0
    moved = model.faults.shift(scores, np.zeros(1, dtype=int))
    assert np.abs(moved).max() < 1e-3


@pytest.mark.parametrize(
    ("film", "base"), [("TiO2(siefke2016)", "Ti(mash1973)"), ("TiO2(sarkar2019)", "Ti")]
)
def test_a_cameras_curve_is_that_of_each_data_sets_own_colours(film, base):
    """What it draws out is drawn out further where the film shows more of it."""
    doubts, films = DEFAULTS["photo"], parse_stack(f"{film} 5..200nm step 15nm / {base}")
    weights = tristimulus_weights(DEFAULT_WAVELENGTH_NM, "D65", 2)
    white = weights.sum(axis=0)
    share = solve(films, DEFAULT_WAVELENGTH_NM, angle_deg=15.0).R
    glare = 0.5 * doubts.glare
    seen = xyz_to_lab((1.0 - glare) * (share @ weights) + VEIL * glare * white, white)
    bent = bend(seen, np.array([1.3]), np.array([1.4]))

    pairs = list_film_models(("TiO2",), "Ti")
    label = parse_stack(base).substrate.label
    own = next(p for p in pairs if (p.film.label, p.substrate.label) == (film, label))
    scale_nm = np.arange(0.0, 216.0, 2.0)
    faults = share_faults(
        (pairs[0], own), scale_nm, finish="polished", doubts=doubts, viewing=ViewingConditions()
    )
    moves = faults.moves[1].reshape(len(faults.names), 1 + WAYS, 3, -1)
    at = np.searchsorted(scale_nm, np.arange(5.0, 201.0, 15.0) - 1.0)
    mean, *ways = moves[faults.names.index("camera")][..., at]
    left = (bent - seen).T - mean
    told = np.linalg.lstsq(np.array(ways).reshape(WAYS, -1).T, left.ravel(), rcond=None)[0]
    left -= np.tensordot(told, np.array(ways), axes=1)
    assert np.abs(bent - seen).max() > 20.0
    assert np.sqrt((left**2).sum(axis=0).mean()) < 3.0
    assert np.abs(told).max() < 2.5


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_slopes_are_those_of_the_likelihood(model, seed):
    rng = np.random.default_rng(seed)
    scores = 0.7 * rng.standard_normal((1, model.scores))
    lab = np.array([40.0, 10.0, -10.0]) + 12.0 * rng.standard_normal((3, 3))
    spots, pair = Spots(lab, False), np.zeros(1, dtype=int)
    slope = log_likelihood(model, spots, scores, pair=pair)[1][0]
    h = 0.01
    for k in rng.choice(np.arange(model.scores)[model.fault_scores], 3, replace=False):
        beyond = np.repeat(scores, 2, axis=0)
        beyond[:, k] += [h, -h]
        above, below = log_likelihood(model, spots, beyond, pair=np.zeros(2, dtype=int))[0]
        # The likelihood is in 32 bits.
        assert slope[k] == pytest.approx((above - below) / (2.0 * h), rel=0.02, abs=0.3)


def test_the_answer_says_what_all_spots_may_share():
    found = gauge_one_piece(
        "TiO2(siefke2016)", "Ti(johnson1974)", SPOTS, between_nm=BETWEEN_NM, finish="rolled"
    )
    assert found.faults["none"] < 0.9
    assert set(found.faults) >= {"none", "rough", "scattering", "camera"}
    assert all(0.0 <= p <= 1.0 for p in found.faults.values())
    assert found.to_dict()["faults"] == found.faults


def test_the_index_may_differ_along_a_piece_as_much_as_between_pieces(model):
    scores = np.zeros((2, model.scores))
    scores[1, -1] = 1.0
    assert model.index_tilt(scores).tolist() == [0.0, DEFAULTS["photo"].index_spread]
    assert not _model("ideal").index_tilt(np.ones((1, 3))).any()
