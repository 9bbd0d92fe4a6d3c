"""Spectra are worked out when asked for, with phases and what ellipsometers print."""

import numpy as np
import pytest

from oxhue import Layer, Spectra, Stack, parse_stack, solve, solve_arrays, to_colour
from oxhue.optics.errors import InputError, OutOfRangeError
from oxhue.optics.films.engine.reference import solve_by_fresnel
from oxhue.optics.films.engine.transfer_matrix import solve_arrays as solve_inside
from oxhue.optics.films.materials.medium import ConstantIndex
from oxhue.optics.films.solve import ThicknessSweep, prepare
from oxhue.optics.films.stack import take_point

GRID = np.linspace(400.0, 700.0, 7)
STACK = "TiO2 45nm / Al 8nm / SiO2 90nm / glass"


def random_stacks(rng, count, layers):
    index = rng.uniform(0.3, 3.0, (count, layers + 2, 7)) + 1j * rng.uniform(
        0.0, 2.0, (count, layers + 2, 7)
    )
    index[:, 0] = 1.0
    return index, rng.uniform(0.0, 150.0, (count, layers))


@pytest.mark.parametrize("polarization", ["s", "p"])
@pytest.mark.parametrize("angle_deg", [0.0, 50.0, 89.0])
@pytest.mark.parametrize("layers", [0, 1, 40])
def test_amplitudes_are_those_of_fresnel(layers, angle_deg, polarization):
    index, d = random_stacks(np.random.default_rng(5), 4, layers)
    found = solve_arrays(index, d, GRID, angle_deg, polarization)
    r, t, R, T = solve_by_fresnel(index, d, GRID, angle_deg=angle_deg, polarization=polarization)
    np.testing.assert_allclose(found.r, r, rtol=0, atol=1e-12)
    np.testing.assert_allclose(found.t, t, rtol=1e-10, atol=1e-300)
    np.testing.assert_allclose(found.R, R, rtol=0, atol=1e-12)
    np.testing.assert_allclose(found.T, T, rtol=1e-10, atol=1e-300)


def test_hundreds_of_layers_keep_their_amplitude_in_range():
    index = np.concatenate([[1.0], np.tile([2.4, 0.05 + 3.0j], 400), [1.5]])[:, None]
    found = solve_arrays(index, np.full(800, 60.0), [550.0])
    np.testing.assert_allclose(np.abs(found.r) ** 2, found.R, rtol=0, atol=1e-12)
    assert np.isfinite(found.t).all()


def test_a_sweep_has_the_amplitudes_of_its_points():
    found = solve("TiO2 20..60nm step 20nm / Ti", GRID, 40.0, polarization="p")
    alone = solve("TiO2 40nm / Ti", GRID, 40.0, polarization="p")
    np.testing.assert_allclose(found.r[1], alone.r, rtol=0, atol=1e-14)
    assert found.r.shape == found.t.shape == (3, 7)


def test_psi_and_delta_of_a_bare_surface():
    metal = solve(Stack((), ConstantIndex(2.0, 3.0)), GRID, 70.0)
    assert np.all((metal.delta_deg > 90.0) & (metal.delta_deg < 180.0))
    brewster = solve(Stack((), ConstantIndex(1.5)), GRID, np.degrees(np.arctan(1.5)))
    np.testing.assert_allclose(brewster.psi_deg, 0.0, atol=1e-12)
    straight = solve("TiO2 45nm / Ti", GRID)
    np.testing.assert_allclose(straight.psi_deg, 45.0, atol=1e-10)
    np.testing.assert_allclose(straight.delta_deg, 180.0, atol=1e-10)


def test_a_mirror_under_a_layer_of_air_delays_by_the_way_there_and_back():
    mirror = Stack((Layer(ConstantIndex(1.0), 3000.0),), ConstantIndex(0.1, 1000.0))
    grid = np.linspace(500.0, 520.0, 41)
    delay = solve(mirror, grid).group_delay_fs
    np.testing.assert_allclose(delay, 2.0 * 3000.0 / 299.792458, rtol=1e-3)  # 2 d/c


def test_phase_is_what_the_amplitude_says():
    found = solve(STACK, GRID)
    np.testing.assert_allclose(
        found.r, np.sqrt(found.R) * np.exp(1j * np.radians(found.phase_deg)), atol=1e-12
    )


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: solve("TiO2 45nm / glass 4mm", GRID).r, "add as powers"),
        (lambda: solve("TiO2 45nm / Ti", GRID, 30.0).r, "must be 's' or 'p'"),
        (lambda: solve("TiO2 45nm / Ti", GRID[:2]).group_delay_fs, "three wavelengths or more"),
        (lambda: Spectra.from_arrays(GRID, np.ones(7)).layer_A, "do not say"),
        (lambda: Spectra.from_arrays(GRID, np.ones(7)).r, "no phase"),
        (lambda: Spectra.from_arrays(GRID, np.full(7, 45.0)), r"not percent\); one is 45"),
        (lambda: Spectra.from_arrays(GRID, np.full(7, np.nan)), "between 0 and 1"),
        (lambda: Spectra.from_arrays(GRID, np.ones(6)), "each of the 7 wavelengths"),
        (lambda: solve(45), "`stack` must be text or a Stack|`stack` must be a Stack or text"),
        (lambda: solve("Ti", "green"), "`wavelength_nm` must be numbers"),
        (lambda: solve("Ti", GRID, "steep"), "`angle_deg` must be numbers"),
        (lambda: solve("Ti", GRID, polarization="x"), "'s', 'p' or 'mean'"),
        (lambda: solve("Ti", GRID, side="top"), "'front' or 'back'"),
        (lambda: solve_arrays("Ti", [], [550.0]), "`index` must be"),
        (lambda: solve_arrays([[1.0], [2.0, 3.0]], [], [550.0]), "`index` must be"),
        (lambda: to_colour(7), "`spectra` must be a Spectra"),
    ],
)
def test_what_cannot_be_answered_is_refused_in_a_sentence(ask, words):
    with pytest.raises(InputError, match=words):
        ask()


@pytest.mark.parametrize("text", [STACK, "TiO2 45nm / Al 9nm / glass 3mm | SiO2 70nm / MgF2 9nm"])
@pytest.mark.parametrize("side", ["front", "back"])
def test_a_prepared_stack_takes_other_thicknesses(text, side):
    stack = parse_stack(text)
    ready = stack.prepare(GRID, angle_deg=20.0, side=side)
    nm = [float(layer.thickness_nm) for layer in stack.all_layers]
    other = parse_stack(text.replace("TiO2 45nm", "TiO2 61nm"))
    moved = np.array([nm, [61.0, *nm[1:]]])
    for found, expected in ((ready.solve(nm), stack), (ready.solve(), stack)):
        wanted = solve(expected, GRID, 20.0, side=side)
        np.testing.assert_allclose(found.R, wanted.R, rtol=0, atol=1e-14)
    both, wanted = ready.solve(moved), solve(other, GRID, 20.0, side=side)
    for name in ("R", "T", "layer_A"):
        np.testing.assert_allclose(getattr(both, name)[1], getattr(wanted, name), atol=1e-14)


def test_a_prepared_grade_keeps_its_slices():
    ready = parse_stack("TiO2->Ti 60nm / glass").prepare(GRID)
    np.testing.assert_allclose(ready.solve([60.0]).R, ready.solve().R, rtol=0, atol=1e-14)
    assert ready.solve([[50.0], [60.0]]).layer_A.shape == (2, 1, 7)


@pytest.mark.parametrize(("nm", "kind"), [([-1.0], OutOfRangeError), ([1.0, 2.0], InputError)])
def test_a_prepared_stack_refuses_other_layers(nm, kind):
    with pytest.raises(kind, match="`thickness_nm`"):
        parse_stack("TiO2 45nm / Ti").prepare(GRID).solve(nm)


SLAB = "glass 2mm | SiO2 10nm / MgF2 90nm"


@pytest.mark.parametrize(
    "text",
    [
        "TiO2 0..90nm step 30nm / Ti",
        "TiO2 0..90nm step 30nm / Al 10nm / " + SLAB,
        "MgF2 80nm / Al 5nm / TiO2 0..90nm step 30nm / SiO2 20nm / Ti",
        "TiO2 40nm / glass 2mm | SiO2 10nm / Al 0..40nm step 10nm / TiO2 10nm",
        "MgF2 0..80nm step 5nm / SiO2 33nm / TiO2 5,70,3nm / Ti",
        "TiO2 40nm / MgF2 0..80nm step 5nm / TiO2 0..90nm step 10nm / " + SLAB,
    ],
)
@pytest.mark.parametrize("angle_deg", [0.0, 65.0, 90.0])
def test_a_sweep_of_one_or_two_layers_goes_by_the_scan_and_agrees(text, angle_deg, monkeypatch):
    asked, share = [], ThicknessSweep.share
    monkeypatch.setattr(ThicknessSweep, "share", lambda *a: asked.append(a[1]) or share(*a))
    stack = parse_stack(text)
    for side in ("front", "back") if "|" in text else ("front",):
        asked.clear()
        swept = solve(stack, GRID, angle_deg, side=side)
        R, T = swept.R, swept.T
        assert asked == ["R", "T"]
        points = list(np.ndindex(*stack.sweep_shape))
        for point in points[:: max(1, len(points) // 20)]:
            alone = solve(take_point(stack, point), GRID, angle_deg, side=side)
            np.testing.assert_allclose(R[point], alone.R, rtol=0, atol=1e-12)
            np.testing.assert_allclose(T[point], alone.T, rtol=0, atol=1e-12)
        assert asked == ["R", "T"]
        assert np.abs(R + T + swept.layer_A.sum(axis=-2) - 1.0).max() < 1e-12


def test_sums_over_the_wavelengths_are_those_of_the_spectra():
    weights = np.linspace(-1.0, 2.0, 14).reshape(7, 2)
    for text in ("TiO2 0..90nm step 30nm / Ti", "TiO2 45nm / glass 1mm", STACK):
        for one in ("R", "T"):
            spectra, known = solve(text, GRID), getattr(solve(text, GRID), one)
            np.testing.assert_allclose(spectra.sums(one, weights), known @ weights, atol=1e-13)
            np.testing.assert_allclose(getattr(spectra, one), known, rtol=0, atol=1e-14)


@pytest.mark.parametrize("layers", [0, 1, 5, 70])
@pytest.mark.parametrize("polarization", ["s", "p", "mean"])
@pytest.mark.parametrize("angle_deg", [0.0, 60.0, 90.0])
def test_one_stack_after_another_agrees_with_all_at_once(layers, polarization, angle_deg):
    media = ["TiO2", "MgF2", "Al", "SiO2", "Ti"]
    text = " / ".join([f"{media[j % 5]} 10nm" for j in range(layers)] + ["glass"])
    ready = prepare(text, GRID, angle_deg=angle_deg, polarization=polarization)
    nm = np.random.default_rng(layers).uniform(0.0, 60.0, (3, layers))
    whole = ready.solve(nm)
    for i, one in enumerate(nm):
        np.testing.assert_allclose(ready.solve(one).R, whole.R[i], rtol=0, atol=1e-13)
        np.testing.assert_allclose(ready.solve(one).T, whole.T[i], rtol=0, atol=1e-13)


@pytest.mark.parametrize("text", ["TiO2 45nm / Ti", "Al 20nm / Si", "SiO2 9nm / glass"])
@pytest.mark.parametrize("nm", [0.0, 1e-6, 45.0, 1e6])
def test_one_layer_after_another_is_plain_airy(text, nm):
    stack = parse_stack(text)
    top, film, base = (
        medium.nk(GRID) for medium in (stack.ambient, stack.layers[0].medium, stack.substrate)
    )
    first, second = (top - film) / (top + film), (film - base) / (film + base)
    turn = second * np.exp(4j * np.pi * film * nm / GRID)
    expected = np.abs((first + turn) / (1.0 + first * turn)) ** 2
    found = stack.prepare(GRID).solve([nm])
    # of 5,000 turns there and back the last digits of the phase count
    np.testing.assert_allclose(found.R, expected, rtol=0, atol=1e-15 if nm < 1e3 else 1e-10)
    whole = found.R + found.T + found.layer_A.sum(axis=-2)
    np.testing.assert_allclose(whole, 1.0, rtol=0, atol=1e-14)


@pytest.mark.parametrize(
    "how",
    [
        {"stack": "TiO2 0..90nm / SiO2 0..9nm / MgF2 0..9nm / Ti"},
        {"stack": "TiO2 0..9nm / SiO2 0..90nm / Ti"},
        {"stack": "TiO2 0..90nm / glass 4mm | SiO2 0..9nm"},
        {"stack": "TiO2->Ti 0..90nm / glass"},
        {"stack": "2 x (TiO2 0..90nm / SiO2 9nm) / Ti"},
        {"stack": "TiO2 0..90nm / 65 x (SiO2 9nm) / Ti"},
        {"stack": "TiO2 0..90nm / Ti", "polarization": "s", "angle_deg": 45.0},
    ],
)
def test_other_sweeps_do_not(how):
    how = dict(how)
    stack = parse_stack(how.pop("stack"))
    assert stack.prepare(GRID, **how).scan is None


def test_what_was_given_may_change_afterwards():
    index, d = np.array([[1.0], [2.4], [2.0 + 3.0j]]), np.array([45.0])
    expected = solve_arrays(index, d, [550.0]).R
    late = solve_arrays(index, d, [550.0])
    index[1], d[0] = 1.0, 500.0
    np.testing.assert_array_equal(late.R, expected)


@pytest.mark.parametrize("bad", ["Ti", [[1.0], [2.0, 3.0]], [None, 1.0]])
def test_the_engine_itself_refuses_what_is_no_array_of_numbers(bad):
    with pytest.raises(InputError, match=r"`index` must be complex numbers in one regular array"):
        solve_inside(bad, [], [550.0])


@pytest.mark.parametrize("text", ["TiO2 45nm / Ti", "MgF2 90nm / glass 1mm"])
@pytest.mark.parametrize("angle_deg", [0.0, 55.0])
def test_either_polarisation_comes_of_light_that_has_both(text, angle_deg):
    both = solve(text, [450.0, 600.0], angle_deg)
    s, p = (solve(text, [450.0, 600.0], angle_deg, polarization=one) for one in ("s", "p"))
    np.testing.assert_allclose(both.R_s, s.R, rtol=1e-12)
    np.testing.assert_allclose(both.R_p, p.R, rtol=1e-12)
    np.testing.assert_allclose(both.T_s, s.T, rtol=1e-12, atol=1e-15)
    np.testing.assert_allclose(both.T_p, p.T, rtol=1e-12, atol=1e-15)
    np.testing.assert_allclose(both.R, 0.5 * (both.R_s + both.R_p), rtol=1e-12)
    np.testing.assert_array_equal(p.R_s, both.R_s)


def test_spectra_given_as_arrays_do_not_tell_s_from_p():
    with pytest.raises(InputError, match="do not tell s from p"):
        _ = Spectra.from_arrays([500.0], [0.5]).R_s
