"""The optics against formulas of the textbooks, each evaluated here on its own.

Formulas: M. Born and E. Wolf, Principles of Optics, 7th ed. (BW) and H. A. Macleod, Thin-Film
Optical Filters, 4th ed. (M); section numbers from memory.
"""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.films.engine.transfer_matrix import solve_arrays
from oxhue.optics.films.materials.medium import ConstantIndex
from oxhue.optics.films.solve import solve
from oxhue.optics.films.stack import Stack

pytestmark = pytest.mark.source(
    "Born and Wolf, Principles of Optics; Macleod, Thin-Film Optical Filters",
    "computed",
    "rounding",
)


DESIGN_NM = 550.0


def reflectance(index, thickness_nm, angle_deg=0.0, polarization="s", wavelength_nm=DESIGN_NM):
    index = np.asarray(index)[:, None]
    return solve_arrays(index, thickness_nm, [wavelength_nm], angle_deg, polarization).R[..., 0]


# -- one surface -------------------------------------------------------------------------------

ANGLES = np.array([0.0, 1e-6, 10.0, 30.0, 45.0, 60.0, 75.0, 89.0, 89.99])


def fresnel(n0, n1, angle_deg):
    """Amplitudes r_s, r_p and t_s, t_p of BW section 1.5.2, from angles and Snell's law."""
    here = np.asarray(angle_deg, dtype=complex) * np.pi / 180.0
    there = np.arcsin(n0 * np.sin(here) / n1)
    a, b = np.cos(here), np.cos(there)
    r_s = (n0 * a - n1 * b) / (n0 * a + n1 * b)
    r_p = (n1 * a - n0 * b) / (n1 * a + n0 * b)
    t_s = 2.0 * n0 * a / (n0 * a + n1 * b)
    t_p = 2.0 * n0 * a / (n1 * a + n0 * b)
    return (r_s, t_s), (r_p, t_p), (n1 * b).real / (n0 * a).real


@pytest.mark.parametrize(("n0", "n1"), [(1.0, 1.52), (1.0, 4.0), (1.33, 2.4), (1.52, 1.6)])
@pytest.mark.parametrize("polarization", ["s", "p"])
def test_clear_surface_follows_fresnel(n0, n1, polarization):
    s, p, beam = fresnel(n0, n1, ANGLES)
    r, t = s if polarization == "s" else p
    response = solve_arrays([[n0], [n1]], [], [DESIGN_NM], ANGLES, polarization)
    np.testing.assert_allclose(response.R[:, 0], np.abs(r) ** 2, rtol=1e-10, atol=1e-15)
    np.testing.assert_allclose(response.T[:, 0], beam * np.abs(t) ** 2, rtol=1e-10, atol=1e-15)


@pytest.mark.parametrize("metal", [0.96 + 6.69j, 0.06 + 3.59j, 2.54 + 3.34j])
@pytest.mark.parametrize("polarization", ["s", "p"])
def test_metal_surface_follows_fresnel_with_a_complex_angle(metal, polarization):
    s, p, _ = fresnel(1.0, metal, ANGLES)
    r = (s if polarization == "s" else p)[0]
    np.testing.assert_allclose(
        reflectance([1.0, metal], [], ANGLES, polarization), np.abs(r) ** 2, rtol=1e-11
    )


def test_metal_at_normal_incidence():
    # R = ((n - 1)² + k²)/((n + 1)² + k²), BW section 14.2.
    n, k = 0.96, 6.69
    assert reflectance([1.0, n + 1j * k], []) == pytest.approx(
        ((n - 1) ** 2 + k**2) / ((n + 1) ** 2 + k**2), abs=1e-15
    )


@pytest.mark.parametrize(("n0", "n1"), [(1.0, 1.52), (1.52, 1.0), (1.0, 2.4), (1.33, 1.0)])
def test_brewster_angle_reflects_no_p(n0, n1):
    # tan θ = n1/n0, BW section 1.5.3.
    brewster = np.degrees(np.arctan2(n1, n0))
    assert reflectance([n0, n1], [], brewster, "p") < 1e-30
    assert reflectance([n0, n1], [], brewster, "s") > 0.01


def test_brewster_s_reflectance():
    # R_s = ((n² - 1)/(n² + 1))² there, from the Fresnel formula with θ + θ' = 90°.
    brewster = np.degrees(np.arctan(1.52))
    expected = ((1.52**2 - 1) / (1.52**2 + 1)) ** 2
    assert reflectance([1.0, 1.52], [], brewster, "s") == pytest.approx(expected, abs=1e-14)


@pytest.mark.parametrize("polarization", ["s", "p", "mean"])
@pytest.mark.parametrize(("n0", "n1"), [(1.52, 1.0), (2.4, 1.46), (1.5, 1.499)])
def test_light_past_the_critical_angle_is_all_reflected(n0, n1, polarization):
    critical = np.degrees(np.arcsin(n1 / n0))
    beyond = critical + (90.0 - critical) * np.array([1e-6, 1e-3, 0.1, 0.5, 0.9, 1.0])
    response = solve_arrays([[n0], [n1]], [], [DESIGN_NM], beyond, polarization)
    np.testing.assert_allclose(response.R, 1.0, rtol=0, atol=1e-12)
    np.testing.assert_allclose(response.T, 0.0, rtol=0, atol=1e-12)
    just_before = solve_arrays([[n0], [n1]], [], [DESIGN_NM], critical - 1e-3, polarization)
    assert just_before.T[0] > 1e-3


@pytest.mark.parametrize("polarization", ["s", "p"])
def test_at_the_critical_angle_itself_everything_is_reflected(polarization):
    # The sine is only as exact as the angle's last bit: R falls off as the square root of it.
    critical = np.degrees(np.arcsin(1.0 / 1.5))
    found = reflectance([1.5, 1.0], [], critical, polarization)
    assert found == pytest.approx(1.0, abs=1e-6)


@pytest.mark.source("Zhu et al., Am. J. Phys. 54, 601 (1986)", "from memory", "rounding")
def test_light_tunnels_through_a_thin_gap_as_the_closed_form_says():
    # Frustrated total reflection between two prisms, s light: T = 1/(1 + a sinh² κd),
    # a = ((k1² + κ²)/(2 k1 κ))²; S. Zhu et al., Am. J. Phys. 54, 601 (1986) (from memory).
    n, angle, gap = 1.52, np.radians(60.0), np.array([0.0, 20.0, 100.0, 500.0, 3000.0])
    k0 = 2.0 * np.pi / DESIGN_NM
    k1, fade = k0 * n * np.cos(angle), k0 * np.sqrt((n * np.sin(angle)) ** 2 - 1.0)
    expected = 1 / (1 + ((k1**2 + fade**2) / (2 * k1 * fade) * np.sinh(fade * gap)) ** 2)
    found = solve_arrays([[n], [1.0], [n]], gap[:, None], [DESIGN_NM], 60.0, "s").T[:, 0]
    np.testing.assert_allclose(found, expected, rtol=1e-11)


# -- one film ----------------------------------------------------------------------------------


@pytest.mark.parametrize("n", [1.38, 1.9, 2.35])
@pytest.mark.parametrize("below", [1.52, 0.82 + 5.99j])
def test_quarter_wave_turns_the_admittance_over(n, below):
    # Y = n²/y_substrate, M section 2.6.
    Y = n * n / below
    found = reflectance([1.0, n, below], [DESIGN_NM / 4.0 / n])
    assert found == pytest.approx(abs((1 - Y) / (1 + Y)) ** 2, abs=1e-14)


@pytest.mark.parametrize("n", [1.38, 1.9, 2.35])
@pytest.mark.parametrize("below", [1.52, 0.82 + 5.99j])
@pytest.mark.parametrize("waves", [1, 2, 7])
def test_half_wave_is_absent(n, below, waves):
    found = reflectance([1.0, n, below], [waves * DESIGN_NM / 2.0 / n])
    assert found == pytest.approx(reflectance([1.0, below], []), abs=1e-13)


def test_quarter_wave_of_the_root_index_reflects_nothing():
    # n² = n0 ns (M section 3.1).
    n = np.sqrt(1.52)
    assert reflectance([1.0, n, 1.52], [DESIGN_NM / 4.0 / n]) < 1e-30


@pytest.mark.source(
    "1.26 % for 4.26 %, every handbook", "common practice", "half the last printed digit"
)
def test_magnesium_fluoride_on_glass_leaves_the_handbook_1_26_percent():
    # 4.26 % bare, 1.26 % coated at the design wavelength: common practice, no source.
    assert reflectance([1.0, 1.52], []) == pytest.approx(0.0426, abs=5e-5)
    assert reflectance([1.0, 1.38, 1.52], [DESIGN_NM / 4 / 1.38]) == pytest.approx(0.0126, abs=5e-5)


@pytest.mark.parametrize("angle_deg", [0.0, 25.0, 60.0, 85.0])
@pytest.mark.parametrize("polarization", ["s", "p"])
@pytest.mark.parametrize("film", [2.3, 2.3 + 0.05j, 0.2 + 3.0j])
def test_one_film_follows_airy(film, polarization, angle_deg):
    # r = (r1 + r2 z)/(1 + r1 r2 z), z = exp(2iδ), BW section 7.6 and 14.4.
    d = np.array([0.0, 3.0, 40.0, 250.0, 1000.0])
    refracted = np.arcsin(np.sin(np.radians(angle_deg)) / complex(film))
    top = fresnel(1.0, film, angle_deg)
    bottom = fresnel(film, 1.52, refracted * 180.0 / np.pi)
    which = 0 if polarization == "s" else 1
    (r1, t1), (r2, t2) = top[which], bottom[which]
    z = np.exp(4j * np.pi * film * np.cos(refracted) * d / DESIGN_NM)
    r = (r1 + r2 * z) / (1.0 + r1 * r2 * z)
    t = t1 * t2 * np.sqrt(z) / (1.0 + r1 * r2 * z)
    beam = fresnel(1.0, 1.52, angle_deg)[2]
    response = solve_arrays(
        [[1.0], [film], [1.52]], d[:, None], [DESIGN_NM], angle_deg, polarization
    )
    np.testing.assert_allclose(response.R[:, 0], np.abs(r) ** 2, rtol=0, atol=1e-13)
    np.testing.assert_allclose(response.T[:, 0], beam * np.abs(t) ** 2, rtol=0, atol=1e-13)


# -- quarter-wave mirrors ----------------------------------------------------------------------


def quarter_wave_mirror(high, low, below, layers):
    media = [high if i % 2 == 0 else low for i in range(layers)]
    return reflectance([1.0, *media, below], [DESIGN_NM / 4.0 / n for n in media])


@pytest.mark.parametrize("layers", range(1, 22, 2))
@pytest.mark.parametrize(("high", "low"), [(2.35, 1.38), (2.35, 1.46), (4.0, 1.35)])
def test_quarter_wave_mirror_has_the_admittance_of_its_formula(high, low, layers):
    # (HL)^p H on glass: Y = (nH/nL)^(2p) nH²/ns, M section 6.1.
    Y = (high / low) ** (layers - 1) * high**2 / 1.52
    assert quarter_wave_mirror(high, low, 1.52, layers) == pytest.approx(
        ((1 - Y) / (1 + Y)) ** 2, abs=1e-12
    )


@pytest.mark.parametrize("layers", range(2, 21, 2))
def test_even_quarter_wave_mirror_too(layers):
    Y = (2.35 / 1.38) ** layers * 1.52
    assert quarter_wave_mirror(2.35, 1.38, 1.52, layers) == pytest.approx(
        ((1 - Y) / (1 + Y)) ** 2, abs=1e-12
    )


# The formula above worked out to four decimals for glass of 1.52 and 1, 3 ... 11 layers
# (computed; kept as plain numbers so that a slip in the formula itself shows).
MIRROR_TABLE = {
    (2.35, 1.38): [0.3230, 0.6833, 0.8772, 0.9559, 0.9846, 0.9946],
    (2.35, 1.46): [0.3230, 0.6528, 0.8486, 0.9386, 0.9759, 0.9906],
}


@pytest.mark.source(
    "quarter-wave mirrors worked out by the formula", "computed", "half the last digit worked out"
)
@pytest.mark.parametrize(("pair", "expected"), MIRROR_TABLE.items())
def test_quarter_wave_mirrors_of_one_to_eleven_layers(pair, expected):
    found = [quarter_wave_mirror(*pair, 1.52, layers) for layers in range(1, 12, 2)]
    np.testing.assert_allclose(found, expected, rtol=0, atol=5.1e-5)


@pytest.mark.source(
    "Hass, J. Opt. Soc. Am. 45, 945 (1955), plain pairs on the metal",
    "from memory",
    "half the last digit worked out",
)
@pytest.mark.parametrize(
    ("pairs", "expected"), [(0, 0.9163), (1, 0.9696), (2, 0.9894), (3, 0.9963)]
)
def test_aluminium_enhanced_by_quarter_waves(pairs, expected):
    # Y = (nH/nL)^(2p) (n + ik) when a first layer brings the admittance of 0.82 + 5.99i to the
    # real axis; the handbook's 91.6, ~97, ~99 % (G. Hass, J. Opt. Soc. Am. 45, 945 (1955), from
    # memory). Here the plain pairs on the metal, whose formula needs no matching layer.
    metal, low, high = 0.82 + 5.99j, 1.38, 2.35
    index = [1.0, *[high, low] * pairs, metal]
    found = reflectance(index, [DESIGN_NM / 4.0 / n for n in index[1:-1]])
    Y = (high / low) ** (2 * pairs) * metal
    assert found == pytest.approx(abs((1 - Y) / (1 + Y)) ** 2, abs=1e-13)
    assert found == pytest.approx(expected, abs=5.1e-5)


def test_mirror_band_edges():
    # Edges of the band of an endless mirror: sin(πΔg/2) = (nH - nL)/(nH + nL), M section 6.1.1.
    # Inside them R climbs to 1 with the number of pairs; outside it swings and comes down low.
    high, low = 2.35, 1.38
    half_width = 2.0 / np.pi * np.arcsin((high - low) / (high + low))
    for side in (-1.0, 1.0):
        inside = [
            mirror_at(high, low, pairs, 1 + side * 0.98 * half_width) for pairs in (5, 20, 80)
        ]
        assert inside[0] < inside[1] < inside[2]
        assert inside[2] > 1 - 1e-6
        outside = [mirror_at(high, low, pairs, 1 + side * 1.02 * half_width) for pairs in range(99)]
        assert min(outside[40:]) < 0.3


def mirror_at(high, low, pairs, g):
    index = [1.0, *[high, low] * pairs, 1.52]
    thickness = [DESIGN_NM / 4.0 / n for n in index[1:-1]]
    return reflectance(index, thickness, wavelength_nm=DESIGN_NM / g)


# -- thick slabs -------------------------------------------------------------------------------


def plate(slab, wavelength_nm=DESIGN_NM, **how):
    return solve(Stack((), slab, 1e6), [wavelength_nm], **how)


@pytest.mark.parametrize("n", [1.3, 1.52, 2.4])
@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 60.0, 85.0])
@pytest.mark.parametrize("polarization", ["s", "p"])
def test_clear_plate_reflects_2r_over_1_plus_r(n, angle_deg, polarization):
    # BW section 1.5 and the sum of a geometric series of powers.
    s, p, _ = fresnel(1.0, n, angle_deg)
    r = abs((s if polarization == "s" else p)[0]) ** 2
    response = plate(ConstantIndex(n), angle_deg=angle_deg, polarization=polarization)
    assert response.R[0] == pytest.approx(2 * r / (1 + r), abs=1e-14)
    assert response.T[0] == pytest.approx((1 - r) / (1 + r), abs=1e-14)
    assert response.layer_A[0, 0] == pytest.approx(0.0, abs=1e-14)


@pytest.mark.source(
    "8.2 % and 91.8 % of clear glass", "common practice", "half the last printed digit"
)
def test_window_glass_reflects_8_and_passes_92_percent():
    # Clear glass of 1.52: 8.2 % and 91.8 % (common practice, no source).
    response = plate(ConstantIndex(1.52))
    assert response.R[0] == pytest.approx(0.082, abs=5e-4)
    assert response.T[0] == pytest.approx(0.918, abs=5e-4)


@pytest.mark.source(
    "Macleod, section 2.14", "from memory", "terms of the size of k, which powers do not carry"
)
@pytest.mark.parametrize("k", [1e-8, 1e-6, 1e-5, 1e-4])
def test_absorbing_plate(k):
    # R = r (1 + (1-r)² τ²/(1 - r² τ²)), T = (1-r)² τ/(1 - r² τ²), τ = exp(-4πkd/λ) (M section
    # 2.14, from memory), up to terms of the size of k that powers alone do not carry.
    n, d = 1.52, 1e6
    r = ((n - 1) ** 2 + k * k) / ((n + 1) ** 2 + k * k)
    tau = np.exp(-4 * np.pi * k * d / DESIGN_NM)
    response = plate(ConstantIndex(n, k))
    assert response.T[0] == pytest.approx((1 - r) ** 2 * tau / (1 - (r * tau) ** 2), abs=2 * k)
    assert response.R[0] == pytest.approx(
        r * (1 + (1 - r) ** 2 * tau**2 / (1 - (r * tau) ** 2)), abs=2 * k
    )
