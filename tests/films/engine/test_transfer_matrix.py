"""The coherent engine: conservation, symmetry, limits, shapes, extremes and refusals."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.errors import InputError, OutOfRangeError
from oxhue.optics.films.engine import transfer_matrix as transfer
from oxhue.optics.films.engine.gradient import gradient
from oxhue.optics.films.engine.transfer_matrix import solve_arrays

POLARIZATIONS = ("s", "p", "mean")


def random_stacks(rng, count, layers, substrate_k=True, clear=0.4):
    """Index (count, layers + 2, 1) and thickness (count, layers), 0 to 100 µm."""
    n = rng.uniform(0.05, 5.0, (count, layers + 2))
    n[:, 0] = rng.uniform(1.0, 2.0, count)
    k = np.where(rng.random(n.shape) < clear, 0.0, 10.0 ** rng.uniform(-8, 1, n.shape))
    k[:, 0] = 0.0
    if not substrate_k:
        k[:, -1] = 0.0
    d = 10.0 ** rng.uniform(-1, 5, (count, layers))
    return (n + 1j * k)[..., None], np.where(rng.random(d.shape) < 0.1, 0.0, d)


def random_angles(rng, count):
    return rng.choice([0.0, 89.9, *rng.uniform(0.0, 89.9, 8)], count)


def powers(*stack):
    response = solve_arrays(*stack)
    return response.R, response.T, response.layer_A


def assert_same(one, other, atol=1e-12):
    for a, b in zip(one, other, strict=True):
        np.testing.assert_allclose(a, b, rtol=0, atol=atol)


# -- conservation ------------------------------------------------------------------------------


@pytest.mark.parametrize("polarization", POLARIZATIONS)
def test_power_is_conserved_and_no_layer_gives_any_on_ten_thousand_stacks(polarization):
    rng = np.random.default_rng(20)
    for layers in (0, 1, 2, 3, 5, 8, 12, 20, 40, 80):
        index, d = random_stacks(rng, 1000, layers)
        R, T, A = powers(index, d, [rng.uniform(200, 3000)], random_angles(rng, 1000), polarization)
        np.testing.assert_allclose(R + T + A.sum(axis=-2), 1.0, rtol=0, atol=1e-12)
        assert min(R.min(), T.min()) >= 0.0
        assert max(R.max(), T.max()) <= 1.0 + 1e-12
        assert A.min(initial=0.0) >= -1e-12
        clear = index[:, 1:-1].imag == 0.0
        assert np.abs(A[clear]).max(initial=0.0) <= 1e-12


def test_a_clear_resonator_absorbs_nothing_although_its_fields_are_large():
    pair = np.tile([2.35, 1.38], 10)
    index = np.array([1.0, *pair, *pair[::-1], 1.52])[:, None]
    d = 550.0 / 4.0 / index[1:-1, 0]
    index = np.repeat(index, 3, axis=1)
    response = solve_arrays(index, d, [549.9999, 550.0, 550.0001], 0.0, "s")
    assert response.T.max() > 0.9
    assert (
        np.abs(response.layer_A).max() < 1e-10
    )  # measured 3e-12; the light inside is 1e4 times the incident
    np.testing.assert_allclose(response.A, response.layer_A.sum(axis=-2), rtol=0, atol=1e-12)


def test_a_thick_absorber_below_costs_the_layers_above_no_digits():
    index = np.array([1.0, 2.0 + 0.01j, 1.5 + 0.02j, 3.0 + 1000j, 1.5])[:, None]
    deep = solve_arrays(index, [80.0, 120.0, 1e6], [550.0], 30.0).layer_A
    shallow = solve_arrays(index, [80.0, 120.0, 1e3], [550.0], 30.0).layer_A
    np.testing.assert_allclose(deep[:2], shallow[:2], rtol=1e-13)


# -- symmetry and limits -----------------------------------------------------------------------


@pytest.mark.parametrize("polarization", POLARIZATIONS)
def test_transmittance_is_the_same_both_ways_and_reflectance_is_not(polarization):
    rng = np.random.default_rng(3)
    index, d = random_stacks(rng, 500, 5, substrate_k=False)
    index[:, -1] = rng.uniform(1.0, 2.0, (500, 1))
    d = np.minimum(d, 300.0)
    sine = 0.999 * rng.random(500) * np.minimum(1.0, (index[:, -1] / index[:, 0]).real[:, 0])
    there, back = np.arcsin(sine), np.arcsin(sine * (index[:, 0] / index[:, -1]).real[:, 0])
    forth = solve_arrays(index, d, [600.0], np.degrees(there), polarization)
    turned = solve_arrays(index[:, ::-1], d[:, ::-1], [600.0], np.degrees(back), polarization)
    np.testing.assert_allclose(forth.T, turned.T, rtol=1e-9, atol=1e-12)
    assert np.median(np.abs(forth.R - turned.R)) > 1e-3


@pytest.mark.parametrize("polarization", POLARIZATIONS)
def test_a_clear_stack_reflects_the_same_from_both_sides(polarization):
    index = np.array([1.0, 2.3, 1.38, 1.9, 1.52])[:, None]
    d = np.array([60.0, 95.0, 130.0])
    inside = np.degrees(np.arcsin(np.sin(np.radians(55.0)) / 1.52))
    forth = solve_arrays(index, d, [520.0], 55.0, polarization)
    turned = solve_arrays(index[::-1], d[::-1], [520.0], inside, polarization)
    np.testing.assert_allclose(forth.R, turned.R, rtol=0, atol=1e-13)


@pytest.mark.parametrize("polarization", POLARIZATIONS)
@pytest.mark.parametrize("angle_deg", [0.0, 33.0, 75.0, 89.9])
def test_splitting_a_layer_changes_nothing(polarization, angle_deg):
    rng = np.random.default_rng(4)
    index, d = random_stacks(rng, 300, 4)
    d = np.minimum(d, 5000.0)
    share = rng.random(300)
    halves = np.insert(d, 2, d[:, 2] * share, axis=1)
    halves[:, 3] -= halves[:, 2]
    whole = powers(index, d, [600.0], angle_deg, polarization)
    R, T, A = powers(
        np.insert(index, 3, index[:, 3], axis=1), halves, [600.0], angle_deg, polarization
    )
    assert_same(whole, (R, T, np.delete(A, 3, axis=1) + np.eye(4)[2][:, None] * A[:, [3]]), 1e-11)


@pytest.mark.parametrize("polarization", POLARIZATIONS)
@pytest.mark.parametrize("angle_deg", [0.0, 60.0, 90.0])
def test_a_layer_of_no_thickness_is_not_there(polarization, angle_deg):
    index = np.array([1.0, 2.3 + 0.1j, 4.0 + 900j, 1e-3, 1.38, 1.52])[:, None]
    without = solve_arrays(index[[0, 1, 4, 5]], [50.0, 90.0], [550.0], angle_deg, polarization)
    R, T, A = powers(index, [50.0, 0.0, 0.0, 90.0], [550.0], angle_deg, polarization)
    assert_same((R, T, A[[0, 3]]), (without.R, without.T, without.layer_A), 1e-14)
    assert np.abs(A[1:3]).max() <= 1e-14


@pytest.mark.parametrize("polarization", POLARIZATIONS)
@pytest.mark.parametrize("angle_deg", [0.0, 12.3, 45.0, 89.0, 89.999999, 90.0])
@pytest.mark.parametrize("n", [1.0, 1.52, 2.7])
def test_layers_that_match_both_sides_reflect_nothing(polarization, angle_deg, n):
    response = solve_arrays(
        np.full((5, 2), n), [0.0, 90.0, 1e5], [400, 700], angle_deg, polarization
    )
    assert response.R.max() <= 1e-24
    np.testing.assert_allclose(response.T, 1.0, rtol=0, atol=1e-14)


def test_s_and_p_are_the_same_at_normal_incidence_and_mean_is_their_mean_elsewhere():
    index, d = random_stacks(np.random.default_rng(6), 200, 4)
    s, p, mean = (powers(index, d, [550.0], 0.0, pol) for pol in POLARIZATIONS)
    assert_same(s, p)
    assert_same(s, mean, 0.0)
    s, p, mean = (powers(index, d, [550.0], 50.0, pol) for pol in POLARIZATIONS)
    assert np.abs(s[0] - p[0]).max() > 0.1
    assert_same(mean, [(a + b) / 2.0 for a, b in zip(s, p, strict=True)], 1e-15)


def test_scaling_wavelength_and_thickness_together_changes_nothing():
    index, d = random_stacks(np.random.default_rng(7), 200, 4)
    d = np.minimum(d, 2000.0)
    assert_same(powers(index, d, [500.0], 40.0), powers(index, 2.0 * d, [1000.0], 40.0), 1e-13)


@pytest.mark.parametrize("polarization", POLARIZATIONS)
def test_grazing_light_is_all_reflected(polarization):
    index, d = random_stacks(np.random.default_rng(8), 500, 3)
    response = solve_arrays(index, d, [550.0], 90.0, polarization)
    np.testing.assert_allclose(response.R, 1.0, rtol=0, atol=1e-11)
    assert response.T.max() < 1e-11


@pytest.mark.parametrize("polarization", POLARIZATIONS)
def test_the_way_to_grazing_incidence_is_smooth(polarization):
    index = np.array([1.0, 1.38, 2.3 + 0.1j, 1.52])[:, None]
    angle = 90.0 - np.array([1e-3, 1e-5, 1e-7, 1e-9, 0.0])
    R = solve_arrays(index, [90.0, 50.0], [550.0], angle, polarization).R[:, 0]
    slope = (1.0 - R[:-1]) / (90.0 - angle[:-1])
    np.testing.assert_allclose(slope, slope[1], rtol=1e-3)
    assert R[-1] == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("polarization", POLARIZATIONS)
def test_a_layer_exactly_at_its_critical_angle_is_the_limit_from_both_sides(polarization):
    # sin 30° squared is not exactly 1/4 in binary, so the layer's index is made to fit.
    sine = np.sqrt(1.0 - np.cos(np.deg2rad(30.0)) ** 2)
    angle = np.array([30.0 - 1e-9, 30.0, 30.0 + 1e-9])
    index = np.array([2.0, 2.0 * sine, 2.0])[:, None]
    response = solve_arrays(index, [700.0], [550.0], angle, polarization)
    np.testing.assert_allclose(response.R[0], response.R[2], rtol=0, atol=1e-7)
    np.testing.assert_allclose(response.R[1], response.R[::2].mean(), rtol=0, atol=1e-7)
    np.testing.assert_allclose(response.R + response.T, 1.0, rtol=0, atol=1e-12)


def test_no_normal_wave_number_at_all_is_finite():
    # At 0° a layer's own kz cannot vanish, so the exact zero is made of an ambient of its index.
    incidence = transfer.Incidence(np.array([1.0]), np.array([0.0]))
    index = np.array([1.0, 1.0, 1.5], dtype=complex)[:, None]
    R, T, A = transfer.coherent_powers(
        index, np.array([100.0]), np.array([550.0]), incidence=incidence, polarization="p"
    )
    assert R[0] == pytest.approx(1.0, abs=1e-12)
    assert abs(T[0]) + abs(A[0, 0]) < 1e-12


# -- extremes ----------------------------------------------------------------------------------


def assert_physical(response):
    for part in (response.R, response.T):
        assert np.all((part >= 0.0) & (part <= 1.0 + 1e-12))
    assert np.all(response.layer_A >= -1e-12)
    total = response.R + response.T + response.layer_A.sum(axis=-2)
    np.testing.assert_allclose(total, 1.0, rtol=0, atol=1e-12)


@pytest.mark.parametrize("polarization", POLARIZATIONS)
@pytest.mark.parametrize("angle_deg", [0.0, 60.0, 89.9, 90.0])
@pytest.mark.parametrize(
    ("layer", "thickness_nm"),
    [
        pytest.param(2.0 + 1000j, 1e6, id="k of 1000, 1 mm thick"),
        pytest.param(1000.0, 1e6, id="n of 1000"),
        pytest.param(1e-3, 1e6, id="n of 0.001"),
        pytest.param(1e-3 + 1000j, 1e-3, id="nearly a perfect conductor"),
        pytest.param(1e-6, 1e6, id="the smallest n"),
        pytest.param(7e5 + 7e5j, 1e12, id="the largest n + ik, the thickest"),
        pytest.param(1.5 + 5e-324j, 1e6, id="k of the smallest number there is"),
        pytest.param(1e-3 + 1e-310j, 1e6, id="denormal k in a thin medium"),
        pytest.param(0.0 + 3.0j, 50.0, id="no n at all"),
        pytest.param(2.0 + 1j, 5e-324, id="the smallest thickness there is"),
    ],
)
def test_extreme_layers_stay_physical(layer, thickness_nm, angle_deg, polarization):
    for below in (1.52, 0.9 + 6j, 1e-3, 1000j):
        index = np.array([1.0, layer, 1.38, layer, below])[:, None]
        d = [thickness_nm, 100.0, thickness_nm]
        assert_physical(solve_arrays(index, d, [550.0], angle_deg, polarization))


@pytest.mark.parametrize("polarization", POLARIZATIONS)
@pytest.mark.parametrize("angle_deg", [0.0, 70.0, 90.0])
@pytest.mark.parametrize("k", [0.0, 1e-310, 1e-3, 1000.0])
def test_two_thousand_layers_stay_physical(k, angle_deg, polarization):
    index = np.array([1.0, *np.tile([1e-3, 2.3 + 1j * k], 1000), 1.52])[:, None]
    d = np.tile([95.0, 60.0], 1000)
    assert_physical(solve_arrays(index, d, [550.0], angle_deg, polarization))


# -- shapes ------------------------------------------------------------------------------------


def test_one_stack_has_no_leading_axis():
    response = solve_arrays(np.ones((4, 7)), [10.0, 20.0], np.linspace(400, 700, 7))
    assert response.R.shape == response.T.shape == response.A.shape == (7,)
    assert response.layer_A.shape == (2, 7)


def test_bare_substrate_has_no_layers():
    response = solve_arrays(np.array([[1.0], [1.5]]), [], [550.0])
    assert response.layer_A.shape == (0, 1)
    assert response.R[0] == pytest.approx(0.04, abs=1e-15)


@pytest.mark.parametrize(
    ("index_lead", "d_lead", "angle_lead", "lead"),
    [
        ((), (5,), (), (5,)),
        ((), (4, 1), (3,), (4, 3)),
        ((3, 1, 1), (4, 1), (2,), (3, 4, 2)),
        ((6,), (), (6,), (6,)),
        ((), (0,), (), (0,)),
        ((0,), (1,), (), (0,)),
        ((2, 1), (0,), (), (2, 0)),
        ((1,), (1, 1), (), (1, 1)),
        ((), (), (2, 2), (2, 2)),
    ],
)
@pytest.mark.parametrize("block", [1, 7, 8192])
def test_leading_shapes_broadcast_and_blocks_are_equal_to_one_at_a_time(
    index_lead, d_lead, angle_lead, lead, block, monkeypatch
):
    monkeypatch.setattr(transfer, "_BLOCK_ELEMENTS", block)
    rng = np.random.default_rng(9)
    wavelength = np.array([450.0, 550.0, 650.0])
    index = rng.uniform(1, 3, (*index_lead, 4, 3)) + 1j * rng.random((*index_lead, 4, 3))
    index[..., 0, :] = index[..., 0, :].real
    d, angle = rng.uniform(0, 200, (*d_lead, 2)), rng.uniform(0, 89, angle_lead)
    response = solve_arrays(index, d, wavelength, angle)
    assert response.R.shape == response.T.shape == (*lead, 3)
    assert response.layer_A.shape == (*lead, 2, 3)
    index, d = np.broadcast_to(index, (*lead, 4, 3)), np.broadcast_to(d, (*lead, 2))
    angle = np.broadcast_to(angle, lead)
    for at in np.ndindex(lead):
        alone = powers(index[at], d[at], wavelength, angle[at])
        assert_same((response.R[at], response.T[at], response.layer_A[at]), alone, 1e-15)


def test_a_sweep_longer_than_one_block_is_equal_to_one_at_a_time():
    wavelength = np.linspace(400, 700, 81)
    index = np.array([1.0, 2.4 + 0.01j, 2.5 + 3.4j])[:, None] * np.ones(81)
    d = np.linspace(0, 300, 1700)[:, None]
    assert d.size * 81 > 2 * transfer._BLOCK_ELEMENTS
    R = solve_arrays(index, d, wavelength, 40.0).R
    for row in (0, 100, 424, 425, 566, 567, 849, 850, 1134, 1275, 1699):
        alone = solve_arrays(index, d[row], wavelength, 40.0).R
        # Numbers at the end of a block are rounded otherwise than those within: a few units of 1.
        np.testing.assert_allclose(R[row], alone, rtol=0, atol=4e-15)


@pytest.mark.parametrize("angle_deg", [0.0, 40.0])
@pytest.mark.parametrize("block", [12, 16_384])
@pytest.mark.parametrize("span", [(1.3, 3.0), (1e-5, 1e-4), (1e5, 1e6), (1e-6, 1e6)])
def test_R_and_T_alone_are_those_beside_absorption(span, block, angle_deg, monkeypatch):
    monkeypatch.setattr(transfer, "_BLOCK_ELEMENTS", block)
    rng = np.random.default_rng(14)
    index, d = random_stacks(rng, 12, 90)
    # Of such layers fields leave the range of numbers unless they are brought back in between.
    size = np.exp(rng.uniform(*np.log(span), d.shape))
    index[:, 1:-1, 0] = size * np.exp(1j * rng.uniform(0.0, 0.1, d.shape))
    d = rng.uniform(0.0, 300.0, d.shape) / size
    whole = dict(solve_arrays(index, d, [550.0], angle_deg).calculation.powers("layer_A"))
    alone = solve_arrays(index, d, [550.0], angle_deg)
    np.testing.assert_allclose(alone.R, whole["R"], rtol=1e-11, atol=1e-13)
    np.testing.assert_allclose(alone.T, whole["T"], rtol=1e-11, atol=1e-300)
    found = gradient(index, d, [550.0], angle_deg=angle_deg)
    np.testing.assert_allclose(found.R, whole["R"], rtol=1e-11, atol=1e-13)
    np.testing.assert_allclose(found.T, whole["T"], rtol=1e-11, atol=1e-300)


def test_threads_change_nothing(monkeypatch):
    rng = np.random.default_rng(12)
    index, d = random_stacks(rng, 40, 5)
    monkeypatch.setattr(transfer, "_BLOCK_ELEMENTS", 3)
    found = []
    for threads in ("1", "3"):
        monkeypatch.setenv("OMP_NUM_THREADS", threads)
        found.append(powers(index, d, [550.0], 40.0))
    for alone, together in zip(*found, strict=True):
        np.testing.assert_array_equal(alone, together)


def test_no_wavelengths_give_empty_answers():
    response = solve_arrays(np.ones((3, 0)), np.ones((4, 1)), [])
    assert response.R.shape == (4, 0)


def test_lists_and_integers_are_taken_as_numbers():
    whole = solve_arrays([[1], [2], [3]], [100], [500], 30, "s")
    assert_same(
        (whole.R,), (solve_arrays([[1.0], [2.0], [3.0]], [100.0], [500.0], 30.0, "s").R,), 0.0
    )


# -- refusals ----------------------------------------------------------------------------------

GOOD = {"index": [[1.0], [2.0], [1.5]], "thickness_nm": [50.0], "wavelength_nm": [550.0]}


@pytest.mark.parametrize(
    ("change", "error", "words"),
    [
        ({"thickness_nm": [-1.0]}, OutOfRangeError, "thickness_nm must be finite, not negative"),
        ({"thickness_nm": [np.nan]}, OutOfRangeError, "thickness_nm must be finite"),
        ({"thickness_nm": [np.inf]}, OutOfRangeError, "thickness_nm must be finite"),
        ({"wavelength_nm": [0.0]}, OutOfRangeError, "wavelength_nm must be .* positive, finite"),
        ({"wavelength_nm": [np.nan]}, OutOfRangeError, "wavelength_nm must be"),
        ({"wavelength_nm": [np.inf]}, OutOfRangeError, "wavelength_nm must be"),
        ({"wavelength_nm": [1e-320]}, OutOfRangeError, "wavelength_nm must be"),
        ({"wavelength_nm": [[550.0]]}, OutOfRangeError, "wavelength_nm must be a list"),
        ({"index": [[1.0], [2.0 - 0.1j], [1.5]]}, OutOfRangeError, "index .*not negative"),
        ({"index": [[1.0], [-2.0], [1.5]]}, OutOfRangeError, "index .*not negative"),
        ({"index": [[1.0], [0.0], [1.5]]}, OutOfRangeError, r"\|n \+ ik\| between 1e-06"),
        ({"index": [[1.0], [1e-200], [1.5]]}, OutOfRangeError, r"\|n \+ ik\| between 1e-06"),
        ({"index": [[1.0], [np.nan], [1.5]]}, OutOfRangeError, "index must have n and k finite"),
        ({"index": [[1.0], [1j * np.inf], [1.5]]}, OutOfRangeError, "index must have n and k"),
        ({"index": [[2j], [2.0], [1.5]]}, OutOfRangeError, "ambient must have n above 0"),
        ({"index": [[1.0], [1.5]]}, InputError, "describes 2 media and thickness_nm 1 layers"),
        ({"index": [1.0, 2.0, 1.5]}, InputError, r"shape \(3,\); it needs \(..., L \+ 2, 1\)"),
        ({"index": np.ones((3, 2))}, InputError, r"shape \(3, 2\); it needs"),
        ({"thickness_nm": 50.0}, InputError, "index has shape|describes"),
        ({"angle_deg": -0.1}, OutOfRangeError, "between 0 and 90 degrees; -0.1 does not"),
        ({"angle_deg": 90.1}, OutOfRangeError, "between 0 and 90 degrees; 90.1 does not"),
        ({"angle_deg": np.nan}, OutOfRangeError, "between 0 and 90 degrees; nan does not"),
        ({"polarization": "te"}, InputError, "polarization 'te' must be 's', 'p' or 'mean'"),
    ],
)
def test_refusals_name_the_input(change, error, words):
    with pytest.raises(error, match=words):
        solve_arrays(**{**GOOD, **change})


@pytest.mark.parametrize("work", [solve_arrays, gradient])
@pytest.mark.parametrize("lead", [(), (5,)])
def test_no_wavelengths_give_no_numbers(work, lead):
    assert work(np.full((*lead, 4, 0), 1.5), [10.0, 20.0], []).R.shape == (*lead, 0)


@pytest.mark.parametrize("own", [True, False])
def test_more_wavelengths_than_go_at_once_are_the_same_one_by_one(own):
    wide = max(transfer._WIDEST, transfer._WIDEST_ALONE // 3)  # for three stacks
    rng, points = np.random.default_rng(8), 2 * wide + 10
    wavelength, lead = np.linspace(400.0, 700.0, points), (3,) if own else ()
    index = rng.uniform(1.2, 3.0, (*lead, 5, points)) + 0.1j * rng.random((*lead, 5, points))
    d = rng.uniform(10.0, 200.0, (3, 3))
    whole = powers(index, d, wavelength, 40.0)
    for at in (0, wide - 1, wide, points - 1):
        one = powers(index[..., [at]], d, wavelength[[at]], 40.0)
        assert_same([part[..., [at]] for part in whole], one, 1e-15)
