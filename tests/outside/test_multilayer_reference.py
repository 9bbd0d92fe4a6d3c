"""The coherent engine against references that share nothing with it.

Fifty-digit arithmetic with whole characteristic matrices, the fields from one set of linear
equations, Maxwell's equations as a differential equation through graded layers, and the
multilayer function of the colour-science library (BSD-3-Clause, https://www.colour-science.org).
"""

from __future__ import annotations

import cmath
import warnings
from itertools import pairwise

import mpmath
import numpy as np
import pytest

from oxhue.optics.films.engine.transfer_matrix import solve_arrays
from oxhue.optics.films.materials.effective_medium import Grade
from oxhue.optics.films.materials.medium import ConstantIndex
from oxhue.optics.films.solve import solve
from oxhue.optics.films.stack import Layer, Stack

pytestmark = pytest.mark.source(
    "whole characteristic matrices in fifty digits (mpmath)",
    "computed",
    "rounding of phases of a thousand turns",
)


# -- fifty digits ------------------------------------------------------------------------------


def fifty_digits(index, d_nm, wavelength_nm, angle_deg, polarization):
    """R, T and layer absorptances by multiplying full characteristic matrices.

    F. Abelès, Ann. Phys. 12 (5), 596 (1950); M. Born and E. Wolf, Principles of Optics, 7th ed.,
    section 1.6. Growing exponentials and all: fifty digits and unbounded exponents bear them.
    """
    with mpmath.workdps(50):
        n = [mpmath.mpc(complex(x)) for x in index]
        along = (n[0].real * mpmath.sin(mpmath.radians(mpmath.mpf(float(angle_deg))))) ** 2
        kz = [mpmath.sqrt(x * x - along) for x in n]
        q = kz if polarization == "s" else [a / (x * x) for a, x in zip(kz, n, strict=True)]
        matrices = []
        for j, d in enumerate(d_nm, start=1):
            delta = 2 * mpmath.pi * mpmath.mpf(float(d)) * kz[j] / mpmath.mpf(float(wavelength_nm))
            c, s = mpmath.cos(delta), mpmath.sin(delta)
            matrices.append((c, -1j * s / q[j], -1j * q[j] * s))
        E, H = mpmath.mpc(1), q[-1]
        power = [mpmath.re(E * mpmath.conj(H))]
        for c, right, left in reversed(matrices):  # [[c, right], [left, c]], from below
            E, H = c * E + right * H, left * E + c * H
            power.insert(0, mpmath.re(E * mpmath.conj(H)))
        incident = abs(q[0] * E + H) ** 2
        R = abs(q[0] * E - H) ** 2 / incident
        flux = [each * 4 * q[0].real / incident for each in power]
        A = [float(a - b) for a, b in pairwise(flux)]
        return float(R), float(flux[-1]), A


def random_stack(rng):
    layers = rng.integers(0, 9)
    n = rng.uniform(0.05, 5.0, layers + 2)
    k = np.where(rng.random(layers + 2) < 0.4, 0.0, 10.0 ** rng.uniform(-6, 1, layers + 2))
    n[0], k[0] = rng.uniform(1.0, 2.0), 0.0
    d = np.where(rng.random(layers) < 0.1, 0.0, 10.0 ** rng.uniform(-1, 5, layers))
    angle = rng.choice([0.0, 89.9, 89.9999, *rng.uniform(0.0, 89.9, 5)])
    return n + 1j * k, d, rng.uniform(300.0, 2500.0), angle


@pytest.mark.parametrize("polarization", ["s", "p"])
def test_three_hundred_random_stacks_in_fifty_digits(polarization):
    # 0 to 8 layers of 0 to 100 µm, k to 10. Worst measured: 2.3e-13, the rounding of phases that
    # run to a thousand turns.
    rng = np.random.default_rng(1)
    worst = 0.0
    for _ in range(300):
        index, d, wavelength, angle = random_stack(rng)
        R, T, A = fifty_digits(index, d, wavelength, angle, polarization)
        found = solve_arrays(index[:, None], d, [wavelength], angle, polarization)
        errors = [found.R[0] - R, found.T[0] - T, *(found.layer_A[:, 0] - A)]
        worst = max(worst, *np.abs(errors))
    assert worst < 1e-12


@pytest.mark.parametrize("polarization", ["s", "p"])
@pytest.mark.parametrize("angle_deg", [0.0, 60.0, 89.9])
@pytest.mark.parametrize(
    ("index", "d"),
    [
        pytest.param([1, 1.5 + 1000j, 2.0, 1.5], [1.0, 80.0], id="k of 1000"),
        pytest.param([1, 2.0 + 0.1j, 3 + 1000j, 1.5], [80.0, 1e6], id="on 1 mm of k 1000"),
        pytest.param([1, 1e-3, 2.3, 1e-3, 1.5], [300.0, 60.0, 9.0], id="n of 0.001"),
        pytest.param([1, 1e-3 + 1e-310j, 1.5], [500.0], id="denormal k"),
        pytest.param([1.5, 1.0, 1.5], [1e5], id="a gap past its critical angle"),
        pytest.param([1, *[2.35, 1.38] * 30, 0.8 + 6j], [58.5, 99.6] * 30, id="60 layers"),
    ],
)
def test_extreme_stacks_in_fifty_digits(index, d, angle_deg, polarization):
    R, T, A = fifty_digits(index, d, 550.0, angle_deg, polarization)
    found = solve_arrays(np.array(index)[:, None], d, [550.0], angle_deg, polarization)
    # kz² = (ε - ε0) + (n0 cos θ)² knows a layer of ε = 1e-6 to 1e-16/1e-6 only.
    atol = 1e-12 if np.abs(index).min() > 0.01 else 1e-11
    np.testing.assert_allclose(found.R[0], R, rtol=0, atol=atol)
    np.testing.assert_allclose(found.T[0], T, rtol=1e-9, atol=1e-300)
    np.testing.assert_allclose(found.layer_A[:, 0], A, rtol=0, atol=atol)


# -- the fields, all boundaries at once --------------------------------------------------------


def fields_by_linear_system(index, d_nm, wavelength_nm, angle_deg, polarization):
    """Amplitudes of the down- and up-going waves of each layer from one set of equations.

    Written independently of the engine: all boundary conditions at once, each wave counted from
    the boundary it decays away from. The field is E (s) or n0 E measured as H (p).
    """
    eps = np.asarray(index, dtype=complex) ** 2
    k0 = 2.0 * np.pi / wavelength_nm
    kz = np.sqrt(eps - eps[0] * np.sin(np.radians(angle_deg)) ** 2)
    q = kz if polarization == "s" else kz / eps
    decay = np.exp(1j * k0 * kz[1:-1] * d_nm)
    layers = len(d_nm)
    matrix = np.zeros((2 * layers + 2, 2 * layers + 2), dtype=complex)
    right = np.zeros(2 * layers + 2, dtype=complex)
    # Unknowns: reflected, then (down, up) of each layer, then transmitted.
    for boundary in range(layers + 1):
        rows = slice(2 * boundary, 2 * boundary + 2)
        above, below = 2 * boundary - 1, 2 * boundary + 1
        if boundary == 0:
            matrix[rows, 0] = 1.0, -q[0]
            right[rows] = -1.0, -q[0]
        else:
            fade = decay[boundary - 1]
            matrix[rows, above] = fade, q[boundary] * fade
            matrix[rows, above + 1] = 1.0, -q[boundary]
        fade = decay[boundary] if boundary < layers else 0.0
        matrix[rows, below] = -1.0, -q[boundary + 1]
        if boundary < layers:
            matrix[rows, below + 1] = -fade, q[boundary + 1] * fade
    solved = np.linalg.solve(matrix, right)
    return eps, k0, kz, solved[1:-1].reshape(-1, 2)


def absorptance_by_quadrature(index, d_nm, wavelength_nm, angle_deg, polarization):
    """∫ 2 k0 n k |E|² dz over each layer, per incident power n0 cos θ |E0|²."""
    eps, k0, kz, waves = fields_by_linear_system(
        index, d_nm, wavelength_nm, angle_deg, polarization
    )
    sine = np.sin(np.radians(angle_deg))
    incident = index[0].real * np.cos(np.radians(angle_deg))
    if polarization == "p":
        incident /= eps[0].real  # |H0|² = n0² |E0|²
    nodes, weights = np.polynomial.legendre.leggauss(60)
    absorbed = []
    for j, thickness in enumerate(d_nm, start=1):
        edges = np.linspace(0.0, thickness, 21)
        half = np.diff(edges)[:, None] / 2.0
        z = edges[:-1, None] + half * (1.0 + nodes)
        down = waves[j - 1, 0] * np.exp(1j * k0 * kz[j] * z)
        up = waves[j - 1, 1] * np.exp(1j * k0 * kz[j] * (thickness - z))
        if polarization == "s":
            density = np.abs(down + up) ** 2
        else:
            along = kz[j] / eps[j] * (down - up)
            across = index[0].real * sine / eps[j] * (down + up)
            density = np.abs(along) ** 2 + np.abs(across) ** 2
        absorbed.append(k0 * eps[j].imag * np.sum(half * weights * density) / incident)
    return np.array(absorbed)


@pytest.mark.source("the fields from one set of linear equations", "computed", "rounding")
@pytest.mark.parametrize("polarization", ["s", "p"])
@pytest.mark.parametrize("angle_deg", [0.0, 45.0, 80.0, 89.0])
@pytest.mark.parametrize(
    ("index", "d_nm"),
    [
        ([1.0, 2.5 + 3.4j, 1.52], [20.0]),
        ([1.0, 2.4 + 0.01j, 0.05 + 3.6j, 1.46, 0.9 + 6.5j, 1.52], [55.0, 12.0, 180.0, 30.0]),
        ([1.5, 1.2, 0.1 + 4.0j, 1.0 + 1e-3j, 2.0 + 0.3j], [300.0, 45.0, 2000.0]),
    ],
)
def test_layer_absorptance_is_the_integral_of_the_field(index, d_nm, angle_deg, polarization):
    index = np.array(index, dtype=complex)
    expected = absorptance_by_quadrature(index, d_nm, 550.0, angle_deg, polarization)
    found = solve_arrays(index[:, None], d_nm, [550.0], angle_deg, polarization).layer_A[:, 0]
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-12)


# -- graded layers as a differential equation --------------------------------------------------


def bruggeman_by_quadratic(a, b, f):
    """Root of 2ε² - ((3(1-f) - 1) a + (3f - 1) b) ε - ab = 0 with the larger imaginary part."""
    linear = (2.0 - 3.0 * f) * a + (3.0 * f - 1.0) * b
    root = cmath.sqrt(linear * linear + 8.0 * a * b)
    return max((linear + root) / 4.0, (linear - root) / 4.0, key=lambda e: (e.imag, e.real))


def graded_by_integration(first, second, below, d_nm, wavelength_nm, angle_deg, polarization):
    """R and T of one graded layer in air by integrating Maxwell's equations through it.

    ``dE/dz = i k0 H``, ``dH/dz = i k0 kz² E`` for s; for p ``dH/dz = i k0 ε E`` and
    ``dE/dz = i k0 (kz²/ε) H``; upwards from the substrate, eighth-order Runge-Kutta.
    """
    from scipy.integrate import solve_ivp

    sine = np.sin(np.radians(angle_deg))
    k0 = 2.0 * np.pi / wavelength_nm

    def slope(height, fields):
        eps = bruggeman_by_quadratic(first**2, second**2, min(max(1 - height / d_nm, 0.0), 1.0))
        kz2 = eps - sine**2
        if polarization == "s":
            return -1j * k0 * np.array([fields[1], kz2 * fields[0]])
        return -1j * k0 * np.array([eps * fields[1], kz2 / eps * fields[0]])

    kz = np.sqrt(complex(below**2 - sine**2))
    q = kz if polarization == "s" else kz / below**2
    start = np.array([1.0, q], dtype=complex)
    E, H = solve_ivp(slope, (0.0, d_nm), start, "DOP853", rtol=1e-11, atol=1e-13).y[:, -1]
    incident = np.cos(np.radians(angle_deg))
    power = abs(incident * E + H) ** 2
    return abs(incident * E - H) ** 2 / power, 4.0 * incident * q.real / power


GRADES = {
    # first, second, below
    "oxide into its metal": (2.4 + 0.01j, 2.5 + 3.4j, 2.5 + 3.4j),
    "aluminium into oxide": (0.96 + 6.69j, 1.77, 1.52),
    "porous aluminium": (1.0, 0.96 + 6.69j, 0.96 + 6.69j),
    "clear": (1.46, 2.35, 1.52),
}


def medium(n):
    return ConstantIndex(complex(n).real, complex(n).imag)


@pytest.mark.source(
    "Maxwell's equations as a differential equation", "computed", "far below what colour shows"
)
@pytest.mark.parametrize("d_nm", [20.0, 60.0, 400.0, 1000.0])
@pytest.mark.parametrize("grade", GRADES)
def test_slices_of_a_graded_layer_are_fine_enough(grade, d_nm):
    # Worst measured over these: 3.1e-5 (20 nm of 60 slices at 60°, p), far below what colour
    # shows; the bound leaves room for other indices.
    first, second, below = GRADES[grade]
    layer = Layer(Grade(medium(first), medium(second)), np.array(d_nm))
    for angle, polarization in ((0.0, "s"), (60.0, "s"), (60.0, "p"), (85.0, "p")):
        R, T = graded_by_integration(first, second, below, d_nm, 450.0, angle, polarization)
        found = solve(Stack((layer,), medium(below)), [450.0], angle, polarization=polarization)
        assert found.R[0] == pytest.approx(R, abs=5e-5)
        assert found.T[0] == pytest.approx(T, abs=5e-5)


@pytest.mark.source(
    "Maxwell's equations as a differential equation", "computed", "second order, within 10 %"
)
@pytest.mark.parametrize("polarization", ["s", "p"])
@pytest.mark.parametrize("grade", GRADES)
def test_slicing_converges_with_the_square_of_the_slices(grade, polarization):
    first, second, below = GRADES[grade]
    expected = np.array(graded_by_integration(first, second, below, 80.0, 550.0, 50, polarization))
    errors = []
    for count in (200, 400, 800):
        inside = Grade(medium(first), medium(second)).slices(count, [550.0])
        index = np.concatenate([[[1.0]], inside, [[below]]])
        found = solve_arrays(index, np.full(count, 80.0 / count), [550.0], 50.0, polarization)
        errors.append(np.hypot(*(np.array([found.R[0], found.T[0]]) - expected)))
    assert errors[0] < 2e-5
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.1)
    assert errors[1] / errors[2] == pytest.approx(4.0, rel=0.1)


# -- a general-purpose library -----------------------------------------------------------------


@pytest.fixture(scope="module")
def library():
    """``multilayer_tmm`` of colour-science, which has it since 0.4.7."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of its optional parts when imported
        phenomena = pytest.importorskip("colour.phenomena")
    if not hasattr(phenomena, "multilayer_tmm"):
        pytest.skip("this colour-science has no multilayer function yet")
    return phenomena.multilayer_tmm


def dispersive_stack(rng, layers, absorbing):
    wavelength = np.linspace(380.0, 780.0, 21)
    n = rng.uniform(1.2, 3.0, (layers + 2, 1)) * (1.0 + 0.1 * (550.0 / wavelength) ** 2)
    n[0] = 1.0
    k = rng.uniform(0.0, 3.0, (layers + 2, 1)) * wavelength / 780.0 if absorbing else 0.0 * n
    k[0] = k[-1] = 0.0
    return n + 1j * k, rng.uniform(0.0, 150.0, layers), wavelength


@pytest.mark.source("multilayer function of colour-science, BSD-3-Clause", "computed", "rounding")
@pytest.mark.parametrize("layers", [1, 2, 5, 12])
@pytest.mark.parametrize("absorbing", [False, True])
def test_agrees_with_the_library_at_normal_incidence(library, layers, absorbing):
    # Its T uses the substrate's index at the first wavelength for all, so T is compared with a
    # substrate without dispersion. Worst measured: 2e-15.
    index, d, wavelength = dispersive_stack(np.random.default_rng(layers), layers, absorbing)
    index[-1] = 1.52
    R, T = library(index, d, wavelength)
    found = solve_arrays(index, d, wavelength)
    for which in (0, 1):
        np.testing.assert_allclose(found.R, R[:, 0, 0, which], rtol=0, atol=1e-12)
        np.testing.assert_allclose(found.T, T[:, 0, 0, which], rtol=0, atol=1e-12)


@pytest.mark.source("multilayer function of colour-science, BSD-3-Clause", "computed", "rounding")
@pytest.mark.parametrize("angle_deg", [30.0, 75.0])
def test_agrees_with_the_library_on_clear_stacks_at_a_slant(library, angle_deg):
    # One wavelength at a time: it takes all refraction angles from the first one given.
    index, d, wavelength = dispersive_stack(np.random.default_rng(2), 4, absorbing=False)
    for at, nm in enumerate(wavelength):
        R, T = library(index[:, [at]], d, [nm], angle_deg)
        for which, polarization in enumerate("sp"):
            found = solve_arrays(index[:, [at]], d, [nm], angle_deg, polarization)
            np.testing.assert_allclose(found.R[0], R[0, 0, 0, which], rtol=0, atol=1e-12)
            np.testing.assert_allclose(found.T[0], T[0, 0, 0, which], rtol=0, atol=1e-12)


@pytest.mark.source("fifty digits against colour-science at a slant", "computed", "rounding")
def test_the_library_is_no_reference_at_a_slant_on_absorbing_stacks(library):
    # It refracts by the real part of the index alone, which is right only without absorption;
    # fifty digits decide which of the two is off.
    index = np.array([1.0, 2.4 + 0.3j, 2.5 + 3.4j])
    R, _ = library(index[:, None], [60.0], [550.0], 60.0)
    for which, polarization in enumerate("sp"):
        decided = fifty_digits(index, [60.0], 550.0, 60.0, polarization)[0]
        found = solve_arrays(index[:, None], [60.0], [550.0], 60.0, polarization).R[0]
        assert found == pytest.approx(decided, abs=1e-13)
        assert abs(R[0, 0, 0, which] - decided) > 1e-3
