"""Derivatives of R and T against central differences of the engine and of a 50-digit reference."""

from __future__ import annotations

import mpmath as mp
import numpy as np
import pytest

from oxhue.optics.errors import InputError
from oxhue.optics.films.engine import adjoint
from oxhue.optics.films.engine.gradient import coherent_gradient, gradient
from oxhue.optics.films.engine.incoherent import slab_powers
from oxhue.optics.films.engine.incoherent_gradient import slab_gradient
from oxhue.optics.films.engine.transfer_matrix import Incidence, solve_arrays

# Index of ambient, layers and substrate; thickness [nm]; angle [°].
CASES = {
    "oxide on metal": ([1.0, 2.4 + 0.01j, 2.1 + 3.0j], [55.0], 0.0),
    "oblique": ([1.0, 2.4 + 0.01j, 1.46, 1.52], [55.0, 210.0], 55.0),
    "opaque layer": ([1.0, 2.4, 0.8 + 6.0j, 1.52], [40.0, 400.0], 40.0),
    "nothing laid down": ([1.0, 2.4, 1.38, 1.52], [0.0, 0.0], 30.0),
    "total reflection": ([1.52, 1.38 + 0.001j, 2.3, 1.0], [90.0, 60.0], 60.0),
    "total reflection, clear": ([1.52, 1.38, 1.0], [90.0], 70.0),
    "near a critical angle": ([1.52, 1.0, 1.52], [150.0], 41.1395),
    "absorbing ambient": ([1.3 + 0.0005j, 2.0, 1.5], [80.0], 20.0),
    "many layers": ([1.0, *[2.3, 1.46] * 10, 1.52], [60.0, 94.0] * 10, 25.0),
}


def reference(index, thickness, wavelength, angle_deg, polarization):
    """R, T by products of characteristic matrices in 50 digits; the angle meets Re(n0)."""
    n0 = mp.re(index[0])
    sine = mp.sin(mp.radians(angle_deg))
    k0 = 2 * mp.pi / wavelength
    kz, q = [], []
    for n in index:
        root = mp.sqrt(n * n - (n0 * sine) ** 2)
        root = root if mp.im(root) > 0 or mp.re(root) >= 0 else -root
        kz.append(root)
        q.append(root if polarization == "s" else root / (n * n))
    E, H = mp.mpc(1), q[-1]
    for d, k, admittance in reversed(list(zip(thickness, kz[1:-1], q[1:-1], strict=True))):
        c, s = mp.cos(k0 * d * k), mp.sin(k0 * d * k)
        E, H = c * E - 1j * s / admittance * H, -1j * admittance * s * E + c * H
    incident = q[0] * E + H
    R = abs((q[0] * E - H) / incident) ** 2
    T = 4 * abs(q[0]) ** 2 / mp.re(q[0]) * mp.re(q[-1]) / abs(incident) ** 2
    return R, T


def differences(index, thickness, angle, polarization):
    """Central differences in 50 digits: to thicknesses, to n and to k of every medium."""
    step = mp.mpf(10) ** -15

    def both(change):
        powers = []
        for sign in (1, -1):
            n = [mp.mpc(complex(z)) for z in index]
            d = [mp.mpf(x) for x in thickness]
            change(n, d, sign * step)
            powers.append(reference(n, d, mp.mpf(550), mp.mpf(angle), polarization))
        return [float((a - b) / (2 * step)) for a, b in zip(*powers, strict=True)]

    def thicken(j):
        def change(_n, d, h):
            d[j] += h

        return change

    def turn(j, unit):
        def change(n, _d, h):
            n[j] += h * unit

        return change

    with mp.workdps(50):
        to_d = [both(thicken(j)) for j in range(len(thickness))]
        to_n = [both(turn(j, 1)) for j in range(len(index))]
        to_k = [both(turn(j, 1j)) for j in range(len(index))]
    return np.array(to_d), np.array(to_n) - 1j * np.array(to_k)


@pytest.mark.parametrize("polarization", ["s", "p"])
@pytest.mark.parametrize("case", CASES)
def test_derivatives_match_differences_in_50_digits(case, polarization):
    index, thickness, angle = CASES[case]
    found = gradient(
        np.array(index, dtype=complex)[:, None],
        thickness,
        [550.0],
        angle_deg=angle,
        polarization=polarization,
    )
    to_d, to_n = differences(index, thickness, angle, polarization)
    for column, (dd, dn) in enumerate(((found.dR_dd, found.dR_dn), (found.dT_dd, found.dT_dn))):
        np.testing.assert_allclose(dd[:, 0], to_d[:, column], rtol=1e-8, atol=1e-10)
        expected, got = to_n[:, column].copy(), dn[:, 0].copy()
        if index[0].imag == 0 and case.startswith("total"):
            # A clear last medium beyond the critical angle: T is 0 and, to k, has only one side.
            expected[-1], got[-1] = expected[-1].real, got[-1].real
        np.testing.assert_allclose(got, expected, rtol=1e-8, atol=1e-9)


def random_stacks(rng, lead, layers, points):
    n = rng.uniform(1.3, 3.0, (*lead, layers + 2, points))
    k = rng.uniform(0.0, 1.0, n.shape) * (rng.random(n.shape) < 0.5)
    k[..., 0, :] = 0.0
    return n + 1j * k, rng.uniform(0.0, 300.0, (*lead, layers))


@pytest.mark.parametrize("polarization", ["s", "p", "mean"])
@pytest.mark.parametrize("angle", [0.0, 65.0])
def test_powers_are_those_of_the_engine(angle, polarization):
    index, thickness = random_stacks(np.random.default_rng(3), (2, 3), 12, 7)
    wavelength = np.linspace(400.0, 700.0, 7)
    found = gradient(index, thickness, wavelength, angle_deg=angle, polarization=polarization)
    expected = solve_arrays(index, thickness, wavelength, angle, polarization)
    np.testing.assert_allclose(found.R, expected.R, rtol=1e-12, atol=1e-15)
    np.testing.assert_allclose(found.T, expected.T, rtol=1e-12, atol=1e-15)


def test_leading_axes_broadcast_as_in_the_engine():
    rng = np.random.default_rng(4)
    index, _ = random_stacks(rng, (), 3, 5)
    thickness = rng.uniform(0.0, 200.0, (4, 1, 3))
    angle = np.array([0.0, 40.0])
    wavelength = np.linspace(400.0, 700.0, 5)
    whole = gradient(index, thickness, wavelength, angle_deg=angle)
    assert whole.R.shape == (4, 2, 5)
    assert whole.dR_dd.shape == (4, 2, 3, 5)
    assert whole.dT_dn.shape == (4, 2, 5, 5)
    single = gradient(index, thickness[2, 0], wavelength, angle_deg=40.0)
    np.testing.assert_allclose(whole.dR_dn[2, 1], single.dR_dn, rtol=1e-12, atol=1e-15)
    np.testing.assert_allclose(whole.dT_dd[2, 1], single.dT_dd, rtol=1e-12, atol=1e-15)


def lit_at(angle_deg, polarization):
    """Four wavelengths of light from air."""
    return {
        "wavelength_nm": np.linspace(400.0, 700.0, 4),
        "incidence": Incidence.at(np.ones(4), np.asarray(angle_deg)),
        "polarization": polarization,
    }


def thickness_part(slab):
    return slab.front_dR_dd, slab.front_dT_dd, slab.back_dR_dd, slab.back_dT_dd


@pytest.mark.parametrize("polarization", ["s", "mean"])
def test_thicknesses_alone_have_the_same_derivatives(polarization):
    index, thickness = random_stacks(np.random.default_rng(5), (3,), 20, 4)
    light = lit_at(40.0, polarization)
    whole = coherent_gradient(index, thickness, **light)
    alone = coherent_gradient(index, thickness, **light, to_index=False)
    np.testing.assert_array_equal(alone.dR_dd, whole.dR_dd)
    np.testing.assert_array_equal(alone.dT_dd, whole.dT_dd)
    assert alone.dR_dn.shape == (3, 0, 4)
    front, back = (index[0], thickness[0]), (index[0, [0, 2, -1]], thickness[0, :1])
    for one, other in zip(
        thickness_part(slab_gradient(front, back, 1e6, **light)),
        thickness_part(slab_gradient(front, back, 1e6, **light, to_index=False)),
        strict=True,
    ):
        np.testing.assert_array_equal(one, other)


@pytest.mark.parametrize("of", ["R", "T"])
@pytest.mark.parametrize("to_index", [True, False])
@pytest.mark.parametrize("angle_deg", [0.0, 40.0])
@pytest.mark.parametrize("layers", [0, 1, 20])
def test_derivatives_of_one_power_are_those_of_both(layers, angle_deg, to_index, of):
    rng = np.random.default_rng(6)
    index, thickness = random_stacks(rng, (3,), layers, 4)
    light = lit_at(angle_deg, "mean") | {"to_index": to_index}
    front, back = (index[0], thickness[0]), (index[0, [0, 1, -1]], np.array([90.0]))
    for work, asked in (
        (coherent_gradient, (index, thickness)),
        (slab_gradient, (front, back, 1e6)),
    ):
        whole, alone = work(*asked, **light), work(*asked, **light, of=of)
        for name, value in vars(alone).items():
            if f"d{'RT'.replace(of, '')}_" not in name:
                np.testing.assert_array_equal(value, getattr(whole, name))
            else:
                assert value.size == 0 or not value.any()


@pytest.mark.parametrize("polarization", ["s", "p", "mean"])
def test_bringing_fields_back_to_size_changes_no_derivative(polarization, monkeypatch):
    index, thickness = random_stacks(np.random.default_rng(7), (3,), 20, 4)
    light = lit_at(40.0, polarization)
    whole = coherent_gradient(index, thickness, **light)
    monkeypatch.setattr(adjoint, "RESCALE_EVERY", 3)
    for name, value in vars(coherent_gradient(index, thickness, **light)).items():
        np.testing.assert_allclose(value, getattr(whole, name), rtol=1e-11, atol=1e-14)


def test_very_thick_absorbers_and_no_layers_stay_finite():
    deep = gradient(np.array([[1.0], [2.0 + 4.0j], [1.5]]), [1e7], [550.0])
    assert deep.T == 0.0
    np.testing.assert_allclose([deep.dR_dd[0, 0], deep.dT_dd[0, 0]], 0.0, atol=1e-15)
    bare = gradient(np.array([[1.0], [1.5 + 0.0j]]), np.empty(0), [550.0])
    # R = ((n - 1)/(n + 1))², so dR/dn = 4 (n - 1)/(n + 1)³, and T = 1 - R.
    np.testing.assert_allclose(bare.dR_dn[1, 0].real, 4.0 * 0.5 / 2.5**3, rtol=1e-13)
    np.testing.assert_allclose(bare.dT_dn[1, 0].real, -4.0 * 0.5 / 2.5**3, rtol=1e-13)


def test_shapes_that_do_not_fit_are_refused():
    with pytest.raises(InputError, match="media and thickness_nm 2 layers"):
        gradient(np.ones((3, 1)), [1.0, 2.0], [550.0])


@pytest.mark.parametrize("polarization", ["s", "p", "mean"])
@pytest.mark.parametrize("angle", [0.0, 50.0])
def test_slab_derivatives_match_differences_of_the_slab(angle, polarization):
    # long: one slab, every derivative of it
    wavelength = np.array([450.0, 620.0])
    glass, air = np.full(2, 1.52 + 2e-7j), np.ones(2, dtype=complex)
    front = np.stack([air, np.full(2, 2.3 + 0.02j), np.full(2, 0.9 + 2.0j), glass])
    back = np.stack([air, np.full(2, 1.38 + 0.001j), glass])
    d_front, d_back = np.array([60.0, 12.0]), np.array([95.0])
    incidence = Incidence.at(np.ones(2), np.asarray(angle))

    def powers(front, d_front, back, d_back):
        return slab_powers(
            (front, d_front),
            (back, d_back),
            1e6,
            wavelength_nm=wavelength,
            incidence=incidence,
            polarization=polarization,
        )[:2]

    found = slab_gradient(
        (front, d_front),
        (back, d_back),
        1e6,
        wavelength_nm=wavelength,
        incidence=incidence,
        polarization=polarization,
    )
    plain = powers(front, d_front, back, d_back)
    np.testing.assert_allclose([found.R, found.T], plain, rtol=1e-12)

    def slope(change, step):
        up, down = (powers(*change(sign * step)) for sign in (1.0, -1.0))
        return [(a - b) / (2.0 * step) for a, b in zip(up, down, strict=True)]

    def moved(array, row, step):
        copy = array.copy()
        copy[row] += step
        return copy

    films = found.front_dR_dn, found.front_dT_dn
    slab = found.slab_dR_dn, found.slab_dT_dn
    checks = [
        (
            lambda h: (front, moved(d_front, 1, h), back, d_back),
            1e-3,
            (found.front_dR_dd[1], found.front_dT_dd[1]),
        ),
        (
            lambda h: (front, d_front, back, moved(d_back, 0, h)),
            1e-3,
            (found.back_dR_dd[0], found.back_dT_dd[0]),
        ),
        (
            lambda h: (moved(front, 1, h), d_front, back, d_back),
            1e-5,
            [g[0].real for g in films],
        ),
        (
            lambda h: (moved(front, 2, 1j * h), d_front, back, d_back),
            1e-5,
            [-g[1].imag for g in films],
        ),
        (
            lambda h: (front, d_front, moved(back, 1, h), d_back),
            1e-5,
            (found.back_dR_dn[0].real, found.back_dT_dn[0].real),
        ),
        (
            lambda h: (moved(front, -1, h), d_front, moved(back, -1, h), d_back),
            1e-5,
            [g.real for g in slab],
        ),
        (
            lambda h: (moved(front, -1, 1j * h), d_front, moved(back, -1, 1j * h), d_back),
            1e-9,
            [-g.imag for g in slab],
        ),
    ]
    # Central differences in double precision are good to some 1e-7 at these steps.
    for change, step, expected in checks:
        np.testing.assert_allclose(expected, slope(change, step), rtol=2e-6, atol=1e-9)
