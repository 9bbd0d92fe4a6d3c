"""The colour room against published standards, tables and a reference library."""

import colour
import numpy as np
import pytest

from oxhue.optics.colour.colour import spectra_to_xyz
from oxhue.optics.colour.gamut import map_to_srgb
from oxhue.optics.colour.illuminants import (
    OBSERVER_NAMES,
    illuminant_names,
    illuminant_power,
    observer_functions,
    white_xyz,
)
from oxhue.optics.colour.spaces import (
    _FROM_XYZ,
    _TO_XYZ,
    delta_e_2000,
    oklab_to_oklch,
    oklab_to_srgb_linear,
    oklch_to_oklab,
    srgb_decode,
    srgb_encode,
    srgb_linear_to_oklab,
    srgb_to_lab,
    srgb_to_oklab,
    xyz_to_lab,
    xyz_to_srgb_linear,
)
from oxhue.optics.films.materials.catalogue import load_material

pytestmark = pytest.mark.source("colour-science library, BSD-3-Clause", "computed", "rounding")


# G. Sharma, W. Wu, E. N. Dalal, Color Res. Appl. 30 (2005) 21, Table 1, as quoted in the public
# test file of an open library; printed to four decimals. Rows 17 to 20 were recalled (from memory).
SHARMA_2005 = """
50,2.6772,-79.7751,50,0,-82.7485,2.0425
50,3.1571,-77.2803,50,0,-82.7485,2.8615
50,2.8361,-74.0200,50,0,-82.7485,3.4412
50,-1.3802,-84.2814,50,0,-82.7485,1.0000
50,-1.1848,-84.8006,50,0,-82.7485,1.0000
50,-0.9009,-85.5211,50,0,-82.7485,1.0000
50,0,0,50,-1,2,2.3669
50,-1,2,50,0,0,2.3669
50,2.49,-0.001,50,-2.49,0.0009,7.1792
50,2.49,-0.001,50,-2.49,0.0010,7.1792
50,2.49,-0.001,50,-2.49,0.0011,7.2195
50,2.49,-0.001,50,-2.49,0.0012,7.2195
50,-0.001,2.49,50,0.0009,-2.49,4.8045
50,-0.001,2.49,50,0.0010,-2.49,4.8045
50,-0.001,2.49,50,0.0011,-2.49,4.7461
50,2.5,0,50,0,-2.5,4.3065
50,2.5,0,50,3.1736,0.5854,1.0000
50,2.5,0,50,3.2972,0,1.0000
50,2.5,0,50,1.8634,0.5757,1.0000
50,2.5,0,50,3.2592,0.3350,1.0000
50,2.5,0,73,25,-18,27.1492
50,2.5,0,61,-5,29,22.8977
50,2.5,0,56,-27,-3,31.9030
50,2.5,0,58,24,15,19.4535
60.2574,-34.0099,36.2677,60.4626,-34.1751,39.4387,1.2644
63.0109,-31.0961,-5.8663,62.8187,-29.7946,-4.0864,1.2630
61.2901,3.7196,-5.3901,61.4292,2.2480,-4.9620,1.8731
35.0831,-44.1164,3.7933,35.0232,-40.0716,1.5901,1.8645
22.7233,20.0904,-46.6940,23.0331,14.9730,-42.5619,2.0373
36.4612,47.8580,18.3852,36.2715,50.5065,21.2231,1.4146
90.8027,-2.0831,1.4410,91.1528,-1.6435,0.0447,1.4441
90.9257,-0.5406,-0.9208,88.6381,-0.8985,-0.7239,1.5381
6.7747,-0.2908,-2.4247,5.8714,-0.0985,-2.2286,0.6377
2.0776,0.0795,-1.1350,0.9033,-0.0636,-0.5514,0.9082
"""


@pytest.mark.source(
    "Sharma, Wu and Dalal, Color Res. Appl. 30, 21 (2005), Table 1; rows 17 to 20 from memory",
    "read",
    "half the last printed digit",
)
def test_ciede2000_on_the_34_pairs_of_sharma_wu_and_dalal():
    rows = np.array([[float(x) for x in row.split(",")] for row in SHARMA_2005.split()])
    assert len(rows) == 34
    measured = delta_e_2000(rows[:, :3], rows[:, 3:6])
    np.testing.assert_allclose(measured, rows[:, 6], atol=0.5e-4)  # half the last printed digit


# ASTM E308 white points, 2 degrees, Y = 100, as quoted in two public libraries; and the distance
# we measure. Ours are 1 nm sums from 360 nm with light tables linear between 5 nm rows; E308's C
# and D series fold in the interpolation of its own 5 nm sums, and its F lamps are plain 5 nm sums,
# which a 1 nm sum over the same table does not repeat. Relative colours are not touched by this,
# for each colour is taken against the white of the same sum.
ASTM_E308_2 = {
    # light: X, Z, distance allowed (measured, rounded up)
    "A": (109.850, 35.585, 0.007),
    "C": (98.074, 118.232, 0.06),
    "D50": (96.422, 82.521, 0.01),
    "D55": (95.682, 92.149, 0.012),
    "D65": (95.047, 108.883, 0.001),
    "D75": (94.972, 122.638, 0.02),
    "FL2": (99.186, 67.393, 0.09),
    "FL11": (100.962, 64.350, 0.11),
}
# CIE 15, 10 degrees (from memory).
CIE_15_10 = {
    "D65": (94.811, 107.304, 0.002),
    "A": (111.146, 35.200, 0.012),
    "D50": (96.720, 81.427, 0.013),
}


@pytest.mark.source(
    "ASTM E308 white points, 2°, as two public libraries quote them",
    "read",
    "as measured, rounded up: 1 nm sums differ from its 5 nm sums",
)
@pytest.mark.parametrize("light", ASTM_E308_2)
def test_white_points_of_astm_e308(light):
    X, Z, distance = ASTM_E308_2[light]
    assert np.linalg.norm(white_xyz(light) - [X, 100.0, Z]) == pytest.approx(0.0, abs=distance)


@pytest.mark.source("CIE 15 white points, 10°", "from memory", "as measured, rounded up: 1 nm sums")
@pytest.mark.parametrize("light", CIE_15_10)
def test_white_points_for_ten_degrees(light):
    X, Z, distance = CIE_15_10[light]
    assert np.linalg.norm(white_xyz(light, 10) - [X, 100.0, Z]) == pytest.approx(0.0, abs=distance)


@pytest.mark.source(
    "ASTM E308 white points, 2°, as two public libraries quote them",
    "read",
    "as measured, rounded up, for plain 5 nm sums",
)
@pytest.mark.parametrize("light", ASTM_E308_2)
def test_white_points_of_astm_e308_from_plain_5_nm_sums(light):
    # The same tables summed at their own 5 nm rows come nearer for C, D75 and the F lamps.
    grid = np.arange(380.0, 781.0, 5.0)
    lit = illuminant_power(light, grid)[:, None] * observer_functions(2, grid)
    white = 100.0 * lit.sum(axis=0) / lit[:, 1].sum()
    X, Z, _ = ASTM_E308_2[light]
    assert np.linalg.norm(white - [X, 100.0, Z]) == pytest.approx(0.0, abs=0.025)


@pytest.mark.source("CIE 15:2004, Table T.3", "read", "the last printed digit")
def test_whites_in_chromaticity():
    # CIE 15:2004, Table T.3: D65 x = 0.31272, y = 0.32903. A 1 nm sum gives 0.312726, 0.329023,
    # which is 7e-6 off: more than half the last digit, less than one.
    X, Y, Z = white_xyz("D65")
    np.testing.assert_allclose([X, Y] / (X + Y + Z), [0.31272, 0.32903], atol=1e-5)


def one_film(film, below, thickness_nm, wavelength_nm):
    """Reflectance (D, W) of one film on an opaque base, straight down: Airy's formula.

    Written out here so that these checks stand apart from the engine (M. Born and E. Wolf,
    Principles of Optics, 7th ed., section 1.6.4).
    """
    thickness = np.asarray(thickness_nm, dtype=float)[:, None]
    top, bottom = (1.0 - film) / (1.0 + film), (film - below) / (film + below)
    round_trip = bottom * np.exp(4j * np.pi * film * thickness / wavelength_nm)
    return np.abs((top + round_trip) / (1.0 + top * round_trip)) ** 2


def tint_spectra(wavelength_nm):
    """Reflectance of titanium, iron and silicon with growing oxide, shape (n, W)."""
    systems = [("TiO2", "Ti"), ("Fe3O4", "steel"), ("Fe2O3", "steel"), ("SiO2", "Si")]
    return np.concatenate(
        [
            one_film(
                load_material(film).nk(wavelength_nm),
                load_material(base).nk(wavelength_nm),
                np.arange(0.0, 251.0, 5.0) * (2.0 if base == "Si" else 1.0),
                wavelength_nm,
            )
            for film, base in systems
        ]
    )


# Measured: 0.018 (D65), 0.014 (A), 0.017 (FL2), 0.022 (FL11), 0.016 (LED-B3) at 5 nm.
@pytest.mark.source(
    "our own sums at 1 nm", "computed", "0.03 ΔE at 5 nm and 0.2 at 10 nm are below what is seen"
)
@pytest.mark.parametrize("light", ["D65", "A", "FL2", "FL11", "LED-B3"])
@pytest.mark.parametrize(("step_nm", "distance"), [(5.0, 0.03), (10.0, 0.2)])
def test_coarse_grids_agree_with_1_nm_on_tints(light, step_nm, distance):
    fine_nm, coarse_nm = np.arange(380.0, 781.0), np.arange(380.0, 781.0, step_nm)
    fine = xyz_to_lab(spectra_to_xyz(tint_spectra(fine_nm), fine_nm, light), white_xyz(light))
    coarse = xyz_to_lab(spectra_to_xyz(tint_spectra(coarse_nm), coarse_nm, light), white_xyz(light))
    assert np.linalg.norm(fine - coarse, axis=-1).max() == pytest.approx(0.0, abs=distance)


# The whole sum against colour-science's own implementation of ASTM E308, which takes 1 nm
# spectra from 360 nm; ours starts at 380 and carries the first value down, as E308 allows. The
# library warns that it interpolates the light's 5 nm table to 1 nm, which is what is wanted.
@pytest.mark.source(
    "ASTM E308 sum of colour-science", "computed", "it starts at 360 nm, ours at 380"
)
@pytest.mark.filterwarnings("ignore:Aligning")
@pytest.mark.parametrize("light", ["D65", "A", "FL11", "LED-B3"])
def test_tints_against_the_e308_sum_of_colour_science(light):
    fine_nm = np.arange(380.0, 781.0)
    spectra = tint_spectra(fine_nm)[::17]
    functions = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    padded_nm = np.arange(360.0, 781.0)
    expected = [
        colour.sd_to_XYZ(
            colour.SpectralDistribution(np.interp(padded_nm, fine_nm, row), padded_nm),
            functions,
            colour.SDS_ILLUMINANTS[light],
            method="ASTM E308",
        )
        for row in spectra
    ]
    np.testing.assert_allclose(spectra_to_xyz(spectra, fine_nm, light), expected, atol=0.01)


@pytest.mark.source(
    "IEC 61966-2-1", "read", "the last printed digit; its inverse is that of its rounded matrix"
)
def test_srgb_matrices_round_to_those_of_iec_61966_2_1():
    to_xyz = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    np.testing.assert_array_equal((_TO_XYZ / 100.0).round(4), to_xyz)
    # The standard's inverse is the inverse of its own rounded matrix, so it differs by 5e-4.
    from_xyz = [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]
    np.testing.assert_allclose(_FROM_XYZ * 100.0, from_xyz, atol=5e-4)


def test_srgb_curve_against_colour_science():
    level = np.linspace(0.0, 1.0, 501)
    np.testing.assert_allclose(srgb_decode(level), colour.models.eotf_sRGB(level), atol=1e-12)
    np.testing.assert_allclose(
        srgb_encode(level), colour.models.eotf_inverse_sRGB(level), atol=1e-12
    )


def test_bradford_adaptation_against_colour_science():
    white = white_xyz("A")
    xyz = np.random.default_rng(5).uniform(5.0, 90.0, (50, 3))
    adapted = colour.adaptation.chromatic_adaptation_VonKries(
        xyz, white, 100.0 * colour.xy_to_XYZ([0.3127, 0.3290]), transform="Bradford"
    )
    np.testing.assert_allclose(
        xyz_to_srgb_linear(xyz, white) @ _TO_XYZ.T, adapted, rtol=1e-9, atol=1e-9
    )


@pytest.mark.source(
    "colour-science library, BSD-3-Clause",
    "computed",
    "it holds Ottosson's own matrices, ours are those of CSS Color 4",
)
def test_cielab_and_oklab_against_colour_science():
    xyz = np.random.default_rng(6).uniform(0.01, 90.0, (200, 3))
    white = white_xyz("D50")
    expected = colour.XYZ_to_Lab(xyz / 100.0, colour.XYZ_to_xy(white))
    np.testing.assert_allclose(xyz_to_lab(xyz, white), expected, atol=1e-9)
    # colour-science holds Ottosson's own matrices, CSS Color 4 the ones recomputed for its D65.
    linear = np.random.default_rng(7).uniform(0.0, 1.0, (200, 3))
    expected = colour.XYZ_to_Oklab(linear @ _TO_XYZ.T / 100.0)
    np.testing.assert_allclose(srgb_linear_to_oklab(linear), expected, atol=5e-4)


# W3C web-platform-tests, css/css-color: pairs of colours that must look the same.
@pytest.mark.source("W3C web-platform-tests, css/css-color", "read", "the last printed digit")
def test_green_of_css_in_oklab_and_oklch():
    oklab = srgb_to_oklab([0.0, 128 / 255, 0.0])
    np.testing.assert_allclose(oklab, [0.51975, -0.1403, 0.10768], atol=0.5e-5)
    np.testing.assert_allclose(oklab_to_oklch(oklab), [0.51975, 0.17686, 142.495], atol=6e-4)


@pytest.mark.source("W3C web-platform-tests, css/css-color", "read", "the last printed digit")
@pytest.mark.parametrize(
    ("oklch", "percent"),
    [([0.8, 0.15, 160.0], [32.022, 85.805, 61.147]), ([0.5, 0.2, 0.0], [70.492, 2.351, 37.073])],
)
def test_oklch_of_css_in_rgb(oklch, percent):
    srgb = srgb_encode(oklab_to_srgb_linear(oklch_to_oklab(oklch)))
    np.testing.assert_allclose(100.0 * srgb, percent, atol=0.6e-3)


# CIELAB and OKLCH of the corners of sRGB: computed elsewhere from the rounded matrix of
# IEC 61966-2-1, whence the 0.02.
@pytest.mark.source(
    "corners of sRGB from the rounded matrix of IEC 61966-2-1", "computed", "the matrix is rounded"
)
@pytest.mark.parametrize(
    ("srgb", "lab", "oklch"),
    [
        ([1, 0, 0], [53.23, 80.11, 67.22], [0.62796, 0.25768, 29.234]),
        ([0, 1, 0], [87.74, -86.19, 83.18], [0.86644, 0.29483, 142.495]),
        ([0, 0, 1], [32.30, 79.20, -107.86], [0.45201, 0.31321, 264.052]),
        ([1, 1, 0], [97.14, -21.56, 94.48], [0.96798, 0.21101, 109.769]),
        ([0, 1, 1], [91.12, -48.08, -14.14], [0.90540, 0.15455, 194.769]),
        ([1, 0, 1], [60.32, 98.25, -60.84], [0.70167, 0.32249, 328.363]),
    ],
)
def test_corners_of_srgb(srgb, lab, oklch):
    np.testing.assert_allclose(srgb_to_lab(srgb), lab, atol=0.025)
    np.testing.assert_allclose(oklab_to_oklch(srgb_to_oklab(srgb)), oklch, atol=2e-3)


@pytest.mark.source(
    "CSS Color 4, gamut mapping, written out a second time", "read", "its own step of chroma"
)
def test_mapping_follows_the_text_of_css_color_4():
    # The procedure of section "CSS gamut mapping to an RGB destination", written out once more
    # one colour at a time, with its own flag and its own exits.
    rng = np.random.default_rng(8)
    colours = rng.uniform([0.2, 0.15, 0.0], [0.95, 0.4, 360.0], (60, 3))
    mapped, _ = map_to_srgb(oklab_to_srgb_linear(oklch_to_oklab(colours)))
    expected = [css_gamut_map(lch) for lch in colours]
    np.testing.assert_allclose(srgb_to_oklab(mapped), srgb_to_oklab(expected), atol=5e-4)


def css_gamut_map(lch):
    def linear(chroma):
        return oklab_to_srgb_linear(oklch_to_oklab([lch[0], chroma, lch[2]]))

    def distance(one, two):
        return np.linalg.norm(srgb_linear_to_oklab(one) - srgb_linear_to_oklab(two))

    def inside(rgb):
        return np.all((rgb >= 0) & (rgb <= 1))

    current = linear(lch[1])
    if inside(current):
        return srgb_encode(current)
    clipped = np.clip(current, 0, 1)
    if distance(clipped, current) < 0.02:
        return srgb_encode(clipped)
    low, high, low_inside = 0.0, lch[1], True
    while high - low > 0.0001:
        chroma = (low + high) / 2
        current = linear(chroma)
        if low_inside and inside(current):
            low = chroma
            continue
        clipped = np.clip(current, 0, 1)
        if distance(clipped, current) >= 0.02:
            high = chroma
        elif 0.02 - distance(clipped, current) < 0.0001:
            break
        else:
            low_inside, low = False, chroma
    return srgb_encode(clipped)


@pytest.mark.source("tables of CIE 15 in colour-science", "read", "none: copied")
@pytest.mark.parametrize("light", illuminant_names())
def test_our_tables_of_lights_are_the_librarys(light):
    table = colour.SDS_ILLUMINANTS[light]
    np.testing.assert_array_equal(illuminant_power(light, table.wavelengths), table.values)


@pytest.mark.source("tables of CIE 15 in colour-science", "read", "none: copied")
@pytest.mark.parametrize("degrees", [2, 10])
def test_our_tables_of_observers_are_the_librarys(degrees):
    table = colour.MSDS_CMFS[OBSERVER_NAMES[degrees]]
    found = observer_functions(degrees, table.wavelengths)
    np.testing.assert_array_equal(found, table.values)
