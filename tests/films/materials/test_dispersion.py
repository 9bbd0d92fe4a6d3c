"""Index formulas: published and limiting values, causality, derivatives."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from oxhue.optics.films.materials.catalogue import load_material
from oxhue.optics.films.materials.dispersion import (
    EV_NM,
    cauchy,
    drude_lorentz,
    scale_table,
    tauc_lorentz,
    urbach_tail,
)

WAVELENGTH_NM = np.linspace(250.0, 900.0, 27)
# Strength, resonance, width, gap [eV], ε∞: near what amorphous TiO2 and silicon films show.
OXIDE = (180.0, 4.3, 1.8, 3.25, 1.4)
SILICON = (122.0, 3.45, 2.54, 1.20, 1.15)
TAUC_LORENTZ = ("strength_ev", "centre_ev", "width_ev", "gap_ev", "eps_inf")


def named(parameters):
    return dict(zip(TAUC_LORENTZ, parameters, strict=True))


def eps2(E, A, E0, C, Eg):
    return A * E0 * C * (E - Eg) ** 2 / (((E**2 - E0**2) ** 2 + C**2 * E**2) * E) if Eg < E else 0.0


def kramers_kronig(E, A, E0, C, Eg, eps_inf):
    """ε1 by numerical principal value: ε∞ + 2/π P∫ x ε2(x)/(x² - E²) dx."""

    def smooth(x):
        return 2.0 / np.pi * x * eps2(x, A, E0, C, Eg) / (x + E)

    top = 2.0 * E + 10.0
    principal = quad(smooth, 1e-9, top, weight="cauchy", wvar=E, limit=400, epsabs=1e-10)[0]
    far = quad(lambda x: smooth(x) / (x - E), top, np.inf, limit=400, epsabs=1e-10)[0]
    return eps_inf + principal + far


@pytest.mark.parametrize("parameters", [OXIDE, SILICON])
def test_tauc_lorentz_is_causal(parameters):
    for wavelength in (280.0, 350.0, 480.0, 700.0, 1500.0):
        E = EV_NM / wavelength
        nk, _ = tauc_lorentz([wavelength], **named(parameters))
        eps = complex(nk[0] ** 2)
        # The numerical principal value is good to some 1e-7 at the kink of ε2 at the gap.
        assert eps.real == pytest.approx(kramers_kronig(E, *parameters), rel=2e-6)
        assert eps.imag == pytest.approx(eps2(E, *parameters[:4]), rel=1e-12, abs=1e-15)


def test_tauc_lorentz_limits():
    clear, _ = tauc_lorentz(EV_NM / np.array([0.5, 1.0, 3.0]), **named(OXIDE))
    assert not clear.imag.any()
    at_gap = np.array([OXIDE[3] - 1e-9, OXIDE[3], OXIDE[3] + 1e-9])
    through, _ = tauc_lorentz(EV_NM / at_gap, **named(OXIDE))
    np.testing.assert_allclose(through.real, through.real[0], rtol=1e-7)
    nothing, _ = tauc_lorentz(WAVELENGTH_NM, **named((0.0, *OXIDE[1:])))
    np.testing.assert_allclose(nothing, np.sqrt(1.4), rtol=1e-14)


def test_cauchy_follows_malitsons_silica_across_the_visible():
    # I. H. Malitson, J. Opt. Soc. Am. 55, 1205 (1965): a three-term Cauchy series through the
    # F, d and C lines meets the tabulated index in between to the fifth decimal.
    lines = np.array([486.133, 587.562, 656.273])
    silica = load_material("SiO2(malitson1965)")
    _, rows = cauchy(lines, 0.0, 0.0)
    n, b, c = np.linalg.solve(rows.real.T, silica.nk(lines).real)
    between = np.linspace(486.0, 656.0, 30)
    fitted, _ = cauchy(between, n, b, c_um4=c)
    np.testing.assert_allclose(fitted.real, silica.nk(between).real, atol=1e-5)


def test_cauchy_counts_its_index_at_the_centre():
    nk, _ = cauchy([550.0, 1e9], 2.3, 0.02, c_um4=0.001, centre_nm=550.0)
    assert nk[0] == 2.3
    assert nk[1].real == pytest.approx(2.3 - 0.02 / 0.55**2 - 0.001 / 0.55**4)


def test_urbach_falls_by_e_over_its_width():
    ik, _ = urbach_tail(EV_NM / np.array([3.1, 2.9, 2.7]), 0.01, 0.2, at_nm=EV_NM / 3.1)
    np.testing.assert_allclose(ik.imag, 0.01 * np.exp([0.0, -1.0, -2.0]))
    assert not ik.real.any()


def test_drude_limits():
    # Without loss a free-electron metal turns clear at its plasma energy, ε = 1 - (Ep/E)².
    nk, _ = drude_lorentz(EV_NM / np.array([5.0, 20.0]), 1.0, 10.0, loss_ev=0.0)
    assert nk[0] == pytest.approx(1j * np.sqrt(3.0))
    assert nk[1] == pytest.approx(np.sqrt(0.75))
    # A resonance far above the band adds its strength to the permittivity.
    far, _ = drude_lorentz([600.0], 1.0, 0.0, loss_ev=0.1, oscillators=(1.5, 1e4, 0.1))
    assert far[0] ** 2 == pytest.approx(2.5, rel=1e-6)


TABLE = load_material("TiO2").nk(WAVELENGTH_NM)


@pytest.mark.parametrize(
    ("model", "parameters"),
    [
        (lambda *p: scale_table(TABLE, *p), [0.03]),
        (lambda *p: cauchy(WAVELENGTH_NM, *p[:2], c_um4=p[2], centre_nm=550.0), [2.3, 0.02, 0.001]),
        (lambda *p: urbach_tail(WAVELENGTH_NM, *p), [0.01, 0.25]),
        (lambda *p: tauc_lorentz(WAVELENGTH_NM, **named(p)), list(OXIDE)),
        (lambda *p: tauc_lorentz(WAVELENGTH_NM, **named(p)), list(SILICON)),
        (
            lambda *p: drude_lorentz(WAVELENGTH_NM, *p[:2], loss_ev=p[2], oscillators=p[3:]),
            [1.3, 7.0, 0.3, 1.5, 2.4, 0.9, 2.0, 5.0, 2.0],
        ),
    ],
)
def test_derivatives_match_central_differences(model, parameters):
    _, slopes = model(*parameters)
    assert slopes.shape == (len(parameters), WAVELENGTH_NM.size)
    for i, value in enumerate(parameters):
        step = 1e-5 * max(abs(value), 0.01)
        ends = []
        for sign in (1.0, -1.0):
            moved = list(parameters)
            moved[i] += sign * step
            ends.append(model(*moved)[0])
        expected = (ends[0] - ends[1]) / (2.0 * step)
        np.testing.assert_allclose(slopes[i], expected, rtol=1e-6, atol=1e-7)
