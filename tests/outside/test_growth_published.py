"""Growth of oxide against published tables, worked values and rules, with the distances found."""

import numpy as np
import pytest

from oxhue.optics.oxidation.growth import grow
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.oxidation.oxide import oxide_ratio
from oxhue.optics.oxidation.schedule import hold
from oxhue.optics.tint.heat_strip import heat_strip
from oxhue.optics.tint.tint import tint

STRAWS = {"pale straw", "straw", "pale yellow"}
BLUES = {"dark blue", "blue", "light blue", "pale blue"}


def film_nm(key, degrees, hours, start=None, linear_factor=1.0):
    """Thickness by the shipped mean parameters [nm]; the factor multiplies B/A of silicon."""
    metal = find_metal(key)
    theta = metal.mean[None].copy()
    if linear_factor != 1.0:
        theta[:, 2] += np.log(linear_factor)
    first = np.array([metal.native_nm if start is None else start])
    return float(grow(metal.regimes, theta, hold(degrees, 3600.0 * hours), start_nm=first)[0])


# B. E. Deal and A. S. Grove, J. Appl. Phys. 36 (1965) 3770, their fitted constants for (111)
# silicon: A [um], B [um²/h], tau [h]. 1000 and 1200 °C dry as quoted in a homework sheet, the rest
# from memory. Our constants are Arrhenius lines for (100); (111) has 1.68 times the linear rate.
DRY_111 = [(920, 0.235, 0.0049, 1.40), (1000, 0.165, 0.0117, 0.37), (1100, 0.090, 0.027, 0.076),
           (1200, 0.040, 0.045, 0.027)]  # fmt: skip
WET_111 = [(920, 0.50, 0.203, 0.0), (1000, 0.226, 0.287, 0.0), (1100, 0.11, 0.510, 0.0),
           (1200, 0.05, 0.720, 0.0)]  # fmt: skip


@pytest.mark.source(
    "Deal and Grove, J. Appl. Phys. 36, 3770 (1965), A, B and tau",
    "from memory",
    "15 %: how far their A and B lie from their own lines",
)
@pytest.mark.parametrize("hours", [1.0, 2.0, 4.0, 10.0])
@pytest.mark.parametrize(
    ("key", "start_nm", "row"),
    [("Si", 25.0, row) for row in DRY_111] + [("Si-steam", 1e-9, row) for row in WET_111],
)
def test_silicon_within_fifteen_per_cent_of_deal_and_grove(key, start_nm, row, hours):
    degrees, A, B, tau = row
    worked = 500.0 * A * (np.sqrt(1.0 + 4.0 * B * (hours + tau) / A**2) - 1.0)
    # 15 % is how far their fitted A and B lie from the Arrhenius lines; found: 0.1 to 8.4 %.
    assert film_nm(key, degrees, hours, start_nm, 1.68) == pytest.approx(worked, rel=0.15)


@pytest.mark.source(
    "0.29 µm after 30 min at 1000 °C, a comment in public code", "read", "15 %, as above"
)
def test_half_an_hour_in_steam():
    # "Wet, 1000 °C, 30 min gives some 0.29 um" (comment in a public code's test), for (111).
    assert film_nm("Si-steam", 1000.0, 0.5, 1e-9, 1.68) == pytest.approx(290.0, rel=0.15)


# W. A. Pliskin and E. E. Conrad, IBM J. Res. Dev. 8 (1964) 43: SiO2 on Si [nm] "dark violet to red
# violet" 100, "royal blue" 120, "light blue to metallic blue" 150, "gold with slight
# yellow-orange" 220 and "orange to melon" 250, "green-yellow" 370 and "yellow" 390, "carnation
# pink" 420 and "violet-red" 440; at the thicknesses of these heats.
@pytest.mark.source(
    "Pliskin and Conrad, IBM J. Res. Dev. 8, 43 (1964)", "read", "the rows next to it, and 5 nm"
)
@pytest.mark.parametrize(
    ("key", "degrees", "hours", "between_nm", "names"),
    [
        ("Si", 1100.0, 1.0, (100, 120), {"violet", "dark blue", "blue"}),
        ("Si-steam", 900.0, 1.0, (120, 150), {"blue", "light blue"}),
        ("Si-steam", 1000.0, 0.5, (220, 250), {"gold", "orange", "copper", "salmon"}),
        ("Si-steam", 1000.0, 1.0, (370, 390), {"yellow", "pale yellow", "yellow-green"}),
        ("Si-steam", 1100.0, 0.5, (420, 440), {"pink", "rose", "red-violet"}),
    ],
)
def test_colours_of_silica_at_worked_thicknesses(key, degrees, hours, between_nm, names):
    found = tint(key, hold(degrees, 3600.0 * hours))
    low, high = between_nm
    assert low - 5.0 < found.thickness_nm < high + 5.0
    assert found.name in names


@pytest.mark.source(
    "abstract of Oxidation of thin titanium films in ambient conditions", "read", "its own ± 0.3 nm"
)
def test_native_film_on_titanium():
    # Abstract of "Oxidation of thin titanium films in ambient conditions": 2.6 ± 0.3 nm after a day
    # whatever the thickness of the metal.
    found = tint("Ti", hold(20.0, 86400.0))
    assert found.thickness_nm == pytest.approx(2.6, abs=0.3)


# Pilling-Bedworth ratios as lists print them (Kofstad, Kubaschewski and others, from memory).
# They depend on the oxide's density; 5 % is the spread among the lists themselves.
RATIOS = [
    ("Al", "Al2O3(sapphire)", 2, 1.28), ("Ti", "TiO2(rutile)", 1, 1.76), ("Cr", "Cr2O3", 2, 2.05),
    ("Fe", "FeO", 1, 1.72), ("Fe", "Fe3O4", 3, 2.10), ("Fe", "Fe2O3", 2, 2.14),
    ("Ni", "NiO", 1, 1.65), ("Cu", "Cu2O", 2, 1.66), ("Cu", "CuO", 1, 1.72),
    ("Zr", "ZrO2(crystal)", 1, 1.56), ("Nb", "Nb2O5", 2, 2.69), ("Ta", "Ta2O5", 2, 2.50),
    ("W", "WO3", 1, 3.35), ("Mo", "MoO3(amorphous)", 1, 3.27), ("Si", "SiO2", 1, 2.21),
    ("Mg", "MgO", 1, 0.81), ("Zn", "ZnO", 1, 1.57),
]  # fmt: skip


@pytest.mark.source(
    "Pilling-Bedworth ratios of Kofstad, Kubaschewski and others",
    "from memory",
    "5 %, the spread among lists",
)
@pytest.mark.parametrize(("metal", "oxide", "atoms", "printed"), RATIOS)
def test_volume_ratios(metal, oxide, atoms, printed):
    assert oxide_ratio(metal, oxide, atoms).volume_ratio == pytest.approx(printed, rel=0.05)


@pytest.mark.source("Horio et al., abstract: 1.77", "read", "0.02, its last digit and a density")
def test_oxidised_titanium_films_swell_as_computed():
    # Horio et al. (abstract): volume expansion 1.77 measured on films fully turned to rutile.
    assert oxide_ratio("Ti", "TiO2(rutile)", 1).volume_ratio == pytest.approx(1.77, abs=0.02)


@pytest.mark.source(
    "MATPRO's correlation in public code; E. Hillner 1977 from memory",
    "read",
    "15 %; 1 % where ours is Hillner's",
)
def test_zirconium_grows_by_the_cube_root():
    # MATPRO's correlation (quoted in public code) gives 0.45 um after 1 day and 0.97 um after 10 at
    # 350 °C in water; E. Hillner 1977 (from memory) 6.56 mg/dm² after 1 day at 360 °C. Ours is
    # Hillner's, so the latter checks units alone; it lies 12 % below the other.
    one, ten = film_nm("Zr", 350.0, 24.0, 1e-9), film_nm("Zr", 350.0, 240.0, 1e-9)
    assert ten / one == pytest.approx(970.0 / 450.0, rel=0.01)
    assert one == pytest.approx(450.0, rel=0.15)
    gain = find_metal("Zr").ratio.mass_gain_ug_cm2(film_nm("Zr", 360.0, 24.0, 1e-9))
    assert float(gain) / 10.0 == pytest.approx(6.56, rel=0.01)


def first_C(key, minutes, wanted, after=0.0):
    """Lowest temperature above another at which the typical colour has one of the names [°C]."""
    low, high = find_metal(key).range_C
    strip = heat_strip(key, rows=round((high - low) / 2.5) + 1, times=60.0 * minutes)
    names = strip.name[:, 0]
    reached = [
        float(c) for c, name in zip(strip.temperature_C, names, strict=True)
        if name in wanted and c > after
    ]  # fmt: skip
    assert reached, f"no {sorted(wanted)} above {after:g} °C"
    return reached[0]


# Colour against temperature as lists print it; the laws of these three metals are fits to the
# lists, so this shows how well a fit can be, not that it predicts. Printed temperatures, then by
# how much the first temperature with that name differs; tolerance 8 °C about what was found.
# Titanium half an hour in air (titanium-piping.com); its purple is of the second order.
TITANIUM = [(300, STRAWS, 10), (400, {"gold"}, -10), (500, BLUES, -25),
            (600, {"magenta", "rose", "violet"}, 25)]  # fmt: skip
# 304, an hour in air (British Stainless Steel Association; istech-mf.com). Its "dark blue" of
# 600 °C comes after "blue" in the list and before it in the optics, so it is left out here.
STAINLESS_304 = [(340, {"straw"}, -20), (370, {"gold"}, -25), (390, {"bronze", "brown"}, -3),
                 (450, {"purple"}, 0), (540, BLUES, -43)]  # fmt: skip
# Carbon steel, mean of the lists whose rows are quoted in tools/tint_lists.toml, ±10 to 15 °C.
# Taken as held for 20 min, for they state no time.
STEEL = [(217, {"straw"}, -5), (257, {"brown"}, 3), (277, {"purple"}, 3), (300, {"dark blue"}, -10),
         (325, {"blue"}, -18)]  # fmt: skip


@pytest.mark.source(
    "titanium-piping.com; British Stainless Steel Association; tools/tint_lists.toml",
    "read",
    "8 °C about what was found: the laws are fits to these lists",
)
@pytest.mark.parametrize(
    ("key", "minutes", "rows"),
    [("Ti", 30.0, TITANIUM), ("stainless", 60.0, STAINLESS_304), ("steel", 20.0, STEEL)],
)
def test_names_come_in_the_order_of_the_lists(key, minutes, rows):
    at_C, found = 0.0, []
    for _, names, _ in rows:
        at_C = first_C(key, minutes, names, after=at_C)
        found.append(at_C)
    assert found == sorted(found)
    apart = [at - printed for at, (printed, _, _) in zip(found, rows, strict=True)]
    np.testing.assert_allclose(apart, [off for _, _, off in rows], atol=8.0)


# Distance of each list from a fit to the others [°C], printed by `python -m tools.fit_tint_lists`:
# titanium -54 (rms 76), -17, -35 and, for 6 nm at 100 °C and 40 nm at 450 °C, +77 (rms 96); 304
# has one list, each row from the others: mean -12, rms 45.


@pytest.mark.source(
    "handbook figure for 0.45 % carbon steel",
    "from memory",
    "3 °C about what was found, at the lower end of the figure and 2 °C below it",
)
def test_time_and_temperature_on_steel():
    # From memory (handbook figure for a 0.45 % carbon steel): ten times longer, 40 to 70 °C lower;
    # six times longer, 20 to 30 °C lower. Not used in the fit.
    grid = np.arange(100.0, 400.0, 1.0)
    long = np.array([film_nm("steel", c, 100.0 / 60.0) for c in grid])
    lower = [c - np.interp(film_nm("steel", c, 10.0 / 60.0), long, grid) for c in (240.0, 270.0)]
    np.testing.assert_allclose(lower, [37.7, 44.6], atol=3.0)


@pytest.mark.source(
    "Rev. Materia; Mehrotra et al., Vacuum (2024) 112682", "read", "20 kJ/mol apart at least"
)
def test_titanium_is_not_one_arrhenius_line():
    # Apparent energies rise over 300 to 600 °C: inverse logarithmic growth at 300 to 400 °C and
    # parabolic at 650 to 750 °C (thermogravimetry, Rev. Materia); 53 to 155 kJ/mol from the linear
    # to the parabolic stage above 600 °C (Mehrotra et al., Vacuum (2024) 112682).
    (regime,) = find_metal("Ti").regimes
    cold, hot = (
        float(np.log(rate[0, 1] / rate[0, 0]) / (1 / (c + 273.15) - 1 / (c + 283.15)) * 8.314e-3)
        for c in (300.0, 590.0)
        for rate in [regime.coefficients(regime.mean[None], np.array([c, c + 10.0]))[0]]
    )
    assert hot > cold + 20.0
