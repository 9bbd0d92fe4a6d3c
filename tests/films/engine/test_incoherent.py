"""Slabs whose two faces add as powers, against the average of coherent ones."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.films.engine.transfer_matrix import solve_arrays
from oxhue.optics.films.materials.medium import ConstantIndex
from oxhue.optics.films.solve import solve
from oxhue.optics.films.stack import Layer, Stack

POLARIZATIONS = ("s", "p", "mean")
WAVELENGTH_NM = 550.0
ANGLES = np.array([0.0, 20.0, 55.0, 75.0])
GLASS = 1.52
SLAB_NM = 2e4

FACES = {
    "bare": ([], []),
    "clear film in front": ([(2.35, 70.0)], []),
    "metal in front": ([(1.46, 90.0), (0.96 + 6.69j, 12.0)], []),
    "films on both faces": ([(2.4 + 0.02j, 60.0), (2.5 + 3.4j, 9.0)], [(1.38, 100.0), (3 + 1j, 5)]),
}


def films(face):
    return tuple(Layer(ConstantIndex(*_parts(n)), np.asarray(d)) for n, d in face)


def _parts(n):
    return complex(n).real, complex(n).imag


def slab(front, back, k=0.0, slab_nm=SLAB_NM):
    return Stack(films(front), ConstantIndex(GLASS, k), slab_nm, films(back))


def averaged_coherent(front, back, k, polarization, points=360):
    """R and T of the same piece with a coherent slab, averaged over one fringe of its thickness.

    Written from the definition of incoherence, not from a sum of powers: the slab is one more
    coherent layer, and its thickness runs through whole fringes. The triangle of weights over
    two of them also takes out that a thicker slab absorbs more.
    """
    n = complex(GLASS, k)
    index = np.array([1.0, *(m for m, _ in front), n, *(m for m, _ in back), 1.0])[:, None]
    kz = np.sqrt(GLASS**2 - np.sin(np.radians(ANGLES)) ** 2)
    fringe_nm = WAVELENGTH_NM / (2.0 * kz[:, None])
    fringes = np.arange(-points, points + 1) / points
    weights = (1.0 - np.abs(fringes)) / points
    thickness = SLAB_NM + fringe_nm * fringes
    before, after = [d for _, d in front], [d for _, d in back]
    d = np.empty((ANGLES.size, fringes.size, index.size - 2))
    d[..., : len(before)], d[..., len(before)], d[..., len(before) + 1 :] = before, thickness, after
    response = solve_arrays(index, d, [WAVELENGTH_NM], ANGLES[:, None], polarization)
    return weights @ response.R[..., 0].T, weights @ response.T[..., 0].T


def test_grazing_light_meets_each_of_many_pieces_as_it_meets_one_alone():
    sweep = np.array([5.0, 12.0, 40.0])
    metal, clear = ConstantIndex(0.96, 6.69), ConstantIndex(2.4)
    many = Stack(
        (Layer(metal, sweep, axis=0), Layer(clear, np.array(30.0))), ConstantIndex(GLASS), SLAB_NM
    )
    angle = 90.0 - 1e-8
    whole = solve(many, [500.0, 600.0], angle)
    for i, nm in enumerate(sweep):
        layers = (Layer(metal, np.array(nm)), Layer(clear, np.array(30.0)))
        alone = solve(Stack(layers, ConstantIndex(GLASS), SLAB_NM), [500.0, 600.0], angle)
        np.testing.assert_allclose(whole.R[i], alone.R, rtol=1e-12)
        np.testing.assert_allclose(whole.T[i], alone.T, rtol=1e-9, atol=1e-300)


@pytest.mark.parametrize("polarization", POLARIZATIONS)
@pytest.mark.parametrize("k", [0.0, 1e-7, 1e-5])
@pytest.mark.parametrize("face", FACES)
def test_the_slab_is_the_average_of_coherent_slabs(face, k, polarization):
    front, back = FACES[face]
    R, T = averaged_coherent(front, back, k, polarization)
    found = solve(slab(front, back, k), [WAVELENGTH_NM], ANGLES, polarization=polarization)
    # What the triangle leaves is of second order in 4πk·fringe/λ, 4e-5 at most: measured 5e-10.
    atol = 1e-12 if k == 0.0 else 1e-9
    np.testing.assert_allclose(found.R[:, 0], R, rtol=0, atol=atol)
    np.testing.assert_allclose(found.T[:, 0], T, rtol=0, atol=atol)


@pytest.mark.parametrize("polarization", POLARIZATIONS)
@pytest.mark.parametrize("face", FACES)
@pytest.mark.parametrize("k", [0.0, 1e-6])
def test_power_is_conserved_and_every_part_absorbs(face, k, polarization):
    angle = np.array([0.0, 30.0, 70.0, 89.0, 89.999999, 90.0])
    response = solve(slab(*FACES[face], k, 4e6), [400.0, 700.0], angle, polarization=polarization)
    total = response.R + response.T + response.layer_A.sum(axis=-2)
    np.testing.assert_allclose(total, 1.0, rtol=0, atol=1e-12)
    assert min(response.R.min(), response.T.min()) >= 0.0
    assert response.layer_A.min() >= -1e-12
    if k == 0.0:
        assert np.abs(response.layer_A[:, len(FACES[face][0])]).max() < 1e-12


@pytest.mark.parametrize("polarization", POLARIZATIONS)
@pytest.mark.parametrize("face", FACES)
def test_front_and_back_transmit_the_same(face, polarization):
    stack = slab(*FACES[face], 1e-6, 4e6)
    front = solve(stack, [400.0, 700.0], ANGLES, polarization=polarization)
    back = solve(stack, [400.0, 700.0], ANGLES, polarization=polarization, side="back")
    np.testing.assert_allclose(front.T, back.T, rtol=1e-12)
    if face == "metal in front":
        assert np.abs(front.R - back.R).min() > 1e-3


def test_back_view_is_the_view_of_the_piece_turned_over():
    front, back = FACES["films on both faces"]
    seen = solve(slab(front, back, 1e-6), [500.0], 40.0, side="back")
    turned = solve(slab(back[::-1], front[::-1], 1e-6), [500.0], 40.0)
    np.testing.assert_array_equal(seen.R, turned.R)
    np.testing.assert_array_equal(seen.layer_A, turned.layer_A[::-1])


def test_mean_sums_each_polarization_by_itself():
    stack = slab(*FACES["clear film in front"])
    s, p, mean = (solve(stack, [550.0], 70.0, polarization=pol).R for pol in POLARIZATIONS)
    np.testing.assert_allclose(mean, (s + p) / 2.0, rtol=1e-15)
    assert abs(s - p)[0] > 0.2


def test_a_clear_plate_at_grazing_incidence_reflects_everything():
    angle = 90.0 - np.array([1e-2, 1e-4, 1e-6, 1e-8, 1e-10, 0.0])
    for polarization in POLARIZATIONS:
        response = solve(slab([], []), [550.0], angle, polarization=polarization)
        lost = 1.0 - response.R[:-1, 0]
        np.testing.assert_allclose(response.T[:-1, 0], lost, rtol=0, atol=1e-14)
        # T of a clear plate is half that of one face there, which falls off as cos θ.
        slope = response.T[:4, 0] / (90.0 - angle[:4])
        np.testing.assert_allclose(slope, slope[1], rtol=2e-2)
        assert response.R[-1, 0] == pytest.approx(1.0, abs=1e-15)
        assert 0.0 <= response.T[-1, 0] < 1e-15


def test_a_slab_that_swallows_everything_is_a_half_space():
    thick = solve(slab(FACES["metal in front"][0], [], 0.1, 1e6), [550.0], 40.0)
    alone = solve(
        Stack(films(FACES["metal in front"][0]), ConstantIndex(GLASS, 0.1)), [550.0], 40.0
    )
    np.testing.assert_allclose(thick.R, alone.R, rtol=1e-14)
    np.testing.assert_allclose(thick.layer_A[-1], alone.T, rtol=1e-12)
    assert thick.T[0] == 0.0


def test_a_metal_slab_may_be_met_from_either_side():
    stack = Stack((), ConstantIndex(2.5, 3.4), 1e6)
    front = solve(stack, [550.0], [0.0, 60.0, 90.0])
    back = solve(stack, [550.0], [0.0, 60.0, 90.0], side="back")
    np.testing.assert_array_equal(front.R, back.R)
    assert np.all(front.T == 0.0)


@pytest.mark.parametrize("polarization", POLARIZATIONS)
@pytest.mark.parametrize("k", [0.0, 1e-310, 1e-9])
def test_light_that_only_fades_into_the_slab_is_all_reflected(k, polarization):
    # From a prism of 1.6 onto water between: past 56.2° nothing travels in the slab.
    water = Stack((), ConstantIndex(1.33, k), 1e6, (), ConstantIndex(1.6))
    response = solve(water, [550.0], [57.0, 70.0, 89.0, 90.0], polarization=polarization)
    np.testing.assert_allclose(response.R, 1.0, rtol=0, atol=1e-6)
    assert response.T.max() == 0.0


def test_films_that_let_nothing_in_keep_the_slab_dark():
    # Fading waves in thick low films on both faces: no light in, and none could leave.
    film = [(1.2, 1e5)]
    stack = Stack(films(film), ConstantIndex(1.6), 1e6, films(film), ConstantIndex(1.6))
    response = solve(stack, [550.0], [70.0, 80.0])
    np.testing.assert_allclose(response.R, 1.0, rtol=0, atol=1e-12)
    np.testing.assert_allclose(response.layer_A, 0.0, rtol=0, atol=1e-12)
