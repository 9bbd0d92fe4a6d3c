"""What real surfaces, oxides, cameras and lamps do to a colour, against sums made by hand."""

import numpy as np
import pytest

from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.colour.illuminants import tristimulus_weights
from oxhue.optics.colour.spaces import xyz_to_lab
from oxhue.optics.errors import InputError
from oxhue.optics.films.engine.thickness_scan import base_of
from oxhue.optics.films.engine.transfer_matrix import solve_arrays
from oxhue.optics.films.materials.catalogue import load_material
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.films.spectra import DEFAULT_WAVELENGTH_NM
from oxhue.optics.gauge.gauge import gauge
from oxhue.optics.inference.fault_colours import FaultView, fault_moments
from oxhue.optics.inference.faults import FAULTS, FINISHES, NONE, add_faults, check_finish, fault_of
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.question import FilmQuestion
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.inference.uncertainty import DEFAULTS, Uncertainty

STRAIGHT = Uncertainty(noise_de=1.0)  # no glare, no tilt
SCALE_NM = np.arange(0.0, 200.5, 0.5)
WEIGHTS = tristimulus_weights(DEFAULT_WAVELENGTH_NM, "D65", 2)


def reflectance(stack):
    return solve(parse_stack(stack), DEFAULT_WAVELENGTH_NM).R


def lab_of(share):
    return xyz_to_lab(share @ WEIGHTS, WEIGHTS.sum(axis=0))


def moments(name, doubts=STRAIGHT, view="front", film="TiO2(siefke2016)"):
    medium = list_film_models((film,), "Ti")[0].film
    base = base_of(parse_stack("Ti"), DEFAULT_WAVELENGTH_NM)
    seen = FaultView(SCALE_NM, 0.0, doubts, ViewingConditions(), view)
    return fault_moments(medium, base, seen=seen, names=[(name, 0.0)]).get((name, 0.0))


@pytest.mark.parametrize("finish", [None, *FINISHES])
def test_shares_of_faults_sum_to_those_of_the_films(finish):
    models = list_film_models(("TiO2",), "Ti")
    found = add_faults(models, check_finish(finish))
    assert sum(one.weight for one in found) == pytest.approx(1.0)
    for name in {one.film_name for one in models}:
        before = sum(one.weight for one in models if one.film_name == name)
        assert sum(one.weight for one in found if one.film_name == name) == pytest.approx(before)


def test_a_stated_finish_moves_its_own_faults():
    share = {}
    for finish in (None, *FINISHES):
        found = add_faults(list_film_models(("TiO2",), "Ti"), check_finish(finish))
        share[finish] = sum(one.weight for one in found if fault_of(one) == "rough")
    assert share["polished"] < share[None] < share["brushed"] < share["rolled"]


def test_a_film_that_dims_light_has_no_faults_and_glass_no_mixed_layer():
    assert {fault_of(one) for one in add_faults(list_film_models(("Ag",), "glass"), "unknown")} == {
        NONE
    }
    on_glass = {
        fault_of(one) for one in add_faults(list_film_models(("TiO2",), "glass"), "unknown")
    }
    assert on_glass == {NONE, *(fault.name for fault in FAULTS)} - {"mixed layer"}


@pytest.mark.parametrize("wrong", ["polish", "matt", "", 3])
def test_an_unknown_finish_is_refused_by_name(wrong):
    with pytest.raises(InputError, match="`finish` must be polished, satin, brushed or rolled"):
        gauge("TiO2", on="Ti", seen="purple", finish=wrong)


def test_scattered_light_is_that_of_the_mirror_and_of_grey():
    film = reflectance("TiO2(siefke2016) 40nm / Ti")
    by_hand = np.array(
        [
            lab_of((1.0 - s) * film + s * g) - lab_of(film)
            for s in (0.08, 0.18, 0.30, 0.45)
            for g in (0.2, 0.33, 0.47)
        ]
    )
    mean, covariance = moments("scattering")
    # Every second thickness is computed and the others lie on straight lines between.
    np.testing.assert_allclose(mean[80], by_hand.mean(axis=0), atol=0.1)
    np.testing.assert_allclose(covariance[80], np.cov(by_hand.T, bias=True), rtol=0.02)


def test_an_absorbing_oxide_has_its_own_extinction_added():
    clean = lab_of(reflectance("TiO2(siefke2016) 120nm / Ti"))
    medium = load_material("TiO2(siefke2016)")
    n = medium.nk(DEFAULT_WAVELENGTH_NM)
    metal = load_material("Ti").nk(DEFAULT_WAVELENGTH_NM)
    nodes = []
    for k in (0.015, 0.035, 0.06, 0.085, 0.115, 0.145):
        index = np.stack([np.ones_like(n), n + 1j * k, metal])
        share = solve_arrays(index, np.array([120.0]), DEFAULT_WAVELENGTH_NM, 0.0).R
        nodes.append(lab_of(share) - clean)
    mean, _ = moments("absorbing")
    np.testing.assert_allclose(mean[240], np.mean(nodes, axis=0), atol=0.02)


def test_an_uneven_spot_is_the_mean_light_of_many_films():
    nm = np.linspace(2.5, -2.5, 801)
    share = np.exp(-0.5 * nm**2)
    share /= share.sum()
    films = np.array(
        [
            (share @ reflectance_of(150.0 * (1.0 + spread * nm)))
            for spread in (0.04, 0.07, 0.10, 0.13, 0.16, 0.20)
        ]
    )
    by_hand = np.array([lab_of(one) for one in films]) - lab_of(reflectance_of([150.0])[0])
    mean, _ = moments("uneven")
    np.testing.assert_allclose(mean[300], by_hand.mean(axis=0), atol=0.5)


def reflectance_of(thickness_nm):
    written = ",".join(f"{nm:.6f}" for nm in thickness_nm)
    return np.atleast_2d(reflectance(f"TiO2(siefke2016) {written}nm / Ti"))


@pytest.mark.parametrize("name", ["camera", "lamp"])
def test_what_no_camera_and_no_stranger_light_can_do_is_left_out(name):
    assert moments(name, STRAIGHT) is None
    assert moments(name, DEFAULTS["photo"]) is not None


@pytest.mark.parametrize("name", ["scattering", "rough"])
def test_a_rough_surface_does_not_show_in_a_look_through(name):
    assert moments(name, view="through") is None


@pytest.mark.parametrize("fault", [fault.name for fault in FAULTS])
def test_every_fault_spreads_colours_and_none_of_them_backwards(fault):
    mean, covariance = moments(fault, DEFAULTS["photo"])
    assert np.isfinite(mean).all()
    assert np.linalg.eigvalsh(covariance).min() > -1e-9
    assert np.linalg.norm(mean, axis=1).max() > 1.0


def test_words_alone_are_weighed_without_faults_until_a_finish_is_stated():
    purple, colour = parse_reading("purple"), parse_reading("#6a3fa0")
    unknown, rolled = (FilmQuestion.of("TiO2", "Ti", finish=one) for one in (None, "rolled"))
    assert unknown.suited_to([purple]).hypotheses == unknown.models
    assert unknown.suited_to([purple, colour]) is unknown
    assert rolled.suited_to([purple]) is rolled


def test_an_answer_says_how_likely_each_fault_is_and_which_widens_it():
    found = gauge("TiO2", on="Ti", seen="38,28,-46", finish="rolled")
    assert sum(found.faults.values()) == pytest.approx(1.0)
    assert list(found.faults.values()) == sorted(found.faults.values(), reverse=True)
    polished = gauge("TiO2", on="Ti", seen="38,28,-46", finish="polished")
    assert polished.faults["rough"] < found.faults["rough"]
    doubt = found.widened_by
    if doubt is not None:
        assert doubt.width_nm > 1.1 * doubt.width_without_nm
        assert f"{doubt.width_without_nm:.0f} nm without it" in found.summary()


def clear_layer_reading(stack):
    lab = ",".join(f"{value:.2f}" for value in lab_of(reflectance(stack)))
    return parse_reading(lab, "instrument")


def test_a_hidden_clear_layer_is_found_where_it_is_asked_about():
    seen = clear_layer_reading("TiO2(siefke2016) 80nm / n=1.5 40nm / Si")
    unasked = gauge("TiO2(siefke2016)", on="Si", seen=seen)
    assert not unasked.fits
    assert "a clear layer over or under it" in unasked.next_check
    found = gauge("TiO2(siefke2016)", on="Si", seen=seen, clear_layer="under")
    assert found.fits
    assert found.faults["clear layer under"] > 0.9
    assert any(low <= 80.0 <= high for low, high in found.region90_nm)


def test_lacquer_over_a_film_is_a_doubt_that_the_answer_names():
    seen = clear_layer_reading("n=1.5 60nm / TiO2(siefke2016) 80nm / Ti")
    found = gauge("TiO2(siefke2016)", on="Ti", seen=seen, clear_layer="over")
    assert found.faults["clear layer over"] > 0.5
    assert found.widened_by.name == "clear layer over"
    assert "wipe a hidden corner" in found.summary()


def test_where_a_clear_layer_lies_is_over_under_or_either():
    with pytest.raises(InputError, match="`clear_layer` must be over, under or either"):
        gauge("TiO2", on="Ti", seen="purple", clear_layer="inside")
    asked = FilmQuestion.of("TiO2", "Ti", clear_layer="over")
    assert asked.suited_to([parse_reading("purple")]) is asked
    assert sum(one.weight for one in asked.hypotheses) == pytest.approx(1.0)
    layered = sum(one.weight for one in asked.hypotheses if fault_of(one) == "clear layer over")
    assert layered == pytest.approx(0.5)
