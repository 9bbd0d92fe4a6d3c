"""Laying films down against handbook tables and rules of the trade; sources stand beside each."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.deposition.gas_balance import MetalFlow, gas_balance
from oxhue.optics.deposition.gases import (
    impingement_per_cm2_s,
    mean_free_path_cm,
    metal_per_cm2_s,
    monolayer_time_s,
)
from oxhue.optics.deposition.geometry import Piece, Placement, Source, share_on
from oxhue.optics.deposition.jar import Jar
from oxhue.optics.deposition.setup import Heater, Setup, charge_mass_g
from oxhue.optics.deposition.source_plan import plan_source
from oxhue.optics.deposition.sputter import sputter_yield
from oxhue.optics.deposition.vapour import (
    MBAR_PER_TORR,
    evaporation_g_cm2_s,
    temperature_for_pressure,
    vapour_pressure_mbar,
)
from oxhue.optics.deposition.wire import melting_margin, wire_current_A, wire_power_W_cm
from oxhue.optics.films.materials.catalogue import find_entry

pytestmark = pytest.mark.source("vacuum handbooks", "from memory", "as printed")


# -- residual gas ------------------------------------------------------------------------------


@pytest.mark.source(
    "a public vacuum note: 3.83e14 per cm² s, 2.6 s a monolayer",
    "read",
    "half the last printed digit",
)
def test_impingement_of_nitrogen():
    # Z = 3.5e22 p[torr]/sqrt(M T): a public vacuum note prints 3.83e14 per cm² s for nitrogen at
    # 1e-6 torr and 300 K, and 2.6 s for a monolayer of 1e15 per cm².
    hits = impingement_per_cm2_s(1e-6 * MBAR_PER_TORR, 28.0, 300.0)
    assert hits == pytest.approx(3.83e14, rel=0.005)
    assert monolayer_time_s(1e-6 * MBAR_PER_TORR, 28.0, 300.0) == pytest.approx(2.6, abs=0.05)


@pytest.mark.source(
    "vacuum notes of a university: one langmuir is about a layer", "read", "a rule of thumb"
)
def test_a_monolayer_a_second_at_a_millionth_of_a_torr():
    # The usual rule, 1 langmuir is about a layer: read in a university's vacuum notes.
    for molar_mass in (2.016, 18.015, 28.0, 32.0, 39.95, 44.01):
        assert 0.5 < monolayer_time_s(1e-6 * MBAR_PER_TORR, molar_mass) < 3.5


@pytest.mark.source(
    "vacuum handbooks: 5 cm at 1e-3 torr", "from memory", "3 %, the spread among them"
)
def test_mean_free_path_of_air():
    # 5 cm at 1e-3 torr and 50 m at 1e-6 torr; 6.6e-3 to 6.8e-3 cm over p in mbar (vacuum
    # handbooks, from memory).
    for mbar, path_cm in ((1e-3 * MBAR_PER_TORR, 5.0), (1e-6 * MBAR_PER_TORR, 5000.0)):
        air = {"N2": 0.79 * mbar, "O2": 0.21 * mbar}
        assert mean_free_path_cm(air) == pytest.approx(path_cm, rel=0.03)


@pytest.mark.source(
    "Takamura, Abe and Sasaki: dioxide from one O2 a titanium atom on",
    "read",
    "the last digit worked out; an even bet at the border",
)
def test_one_oxygen_molecule_per_titanium_atom_makes_the_dioxide():
    # Takamura, Abe and Sasaki (reactive sputtering of titanium): TiO2 films are found from just
    # one O2 molecule per titanium atom on. At 1 nm/s that is 1.56e-5 torr of oxygen (computed).
    flux = float(metal_per_cm2_s(1.0, 4.506, 47.867))
    assert flux == pytest.approx(5.67e15, rel=0.002)
    hits = impingement_per_cm2_s(1.56e-5 * MBAR_PER_TORR, 31.998)
    assert hits / flux == pytest.approx(1.0, rel=0.005)
    # In a leak of air with that much oxygen, dioxide should be about an even bet, and far above
    # and below it nearly sure and nearly excluded.
    leak_mbar = 1.56e-5 * MBAR_PER_TORR / 0.205
    chances = [
        states_of("Ti", 1.0, (4.506, 47.867), Jar(base_mbar=mbar, residue="air"))["oxide"]
        for mbar in (0.05 * leak_mbar, leak_mbar, 20.0 * leak_mbar)
    ]
    assert chances[0] < 0.05
    assert 0.25 < chances[1] < 0.75
    assert chances[2] > 0.95


# Aluminium mirrors keep their visible reflectance when laid in a few seconds at 1e-5 torr, and
# are dull when laid slowly at 1e-4 torr (Hass and co-workers, 1950s, from memory).
@pytest.mark.source("Hass and co-workers, 1950s", "from memory", "bright or dull")
def test_aluminium_is_laid_fast():
    fast = states_of("Al", 20.0, (2.699, 26.98), Jar(base_mbar=1e-5 * MBAR_PER_TORR))
    slow = states_of("Al", 0.5, (2.699, 26.98), Jar(base_mbar=1e-4 * MBAR_PER_TORR))
    assert fast["metal"] > 0.9
    assert slow["metal"] < max(slow.values())


def states_of(metal, rate_nm_s, density_and_mass, jar):
    """States of a metal that grows at a rate in a gas that holds its pressure."""
    flux = float(metal_per_cm2_s(rate_nm_s, *density_and_mass))
    return gas_balance(jar, MetalFlow(metal, flux, 1e3 * flux)).states


# -- Holland's distributions -------------------------------------------------------------------

# Holland, Vacuum Deposition of Thin Films (1956), ch. 5: thickness over that above the source, by
# l/h, of a point and of a small plane source; four digits of his formulas (computed).
OVER_H = [0.25, 0.5, 0.75, 1.0, 1.5, 2.0]
HOLLAND = {
    "point": [0.9131, 0.7155, 0.5120, 0.3536, 0.1707, 0.0894],
    "plane": [0.8858, 0.6400, 0.4096, 0.2500, 0.0947, 0.0400],
}


@pytest.mark.source(
    "Holland, Vacuum Deposition of Thin Films (1956), ch. 5",
    "computed",
    "half the last digit worked out",
)
@pytest.mark.parametrize(("kind", "expected"), HOLLAND.items())
def test_thickness_beside_the_axis(kind, expected):
    source, place = Source(kind), Placement(300.0)
    relative = share_on(source, place, x_mm=300.0 * np.array(OVER_H)) / share_on(source, place)
    np.testing.assert_allclose(relative, expected, rtol=0.0, atol=0.5e-4)


@pytest.mark.source(
    "Holland, Vacuum Deposition of Thin Films (1956), ch. 5", "computed", "the digits worked out"
)
@pytest.mark.parametrize(
    ("metal", "mass_g", "distance_mm", "kind", "thickness_nm"),
    [  # Holland's formulas worked by hand
        ("Al", 1.0, 300.0, "point", 327.6),
        ("Al", 1.0, 300.0, "plane", 1310.0),
        ("Ti", 0.1, 250.0, "point", 28.3),
        ("Ti", 0.1, 250.0, "plane", 113.0),
    ],
)
def test_charge_for_a_thickness(metal, mass_g, distance_mm, kind, thickness_nm):
    setup = Setup(Source(kind), Placement(distance_mm), Piece(50.0, 50.0))
    density = find_entry(metal).density_g_cm3
    assert charge_mass_g(thickness_nm, density, setup) == pytest.approx(mass_g, rel=2e-3)


# -- vapour pressure ---------------------------------------------------------------------------

# Temperatures [°C] for 1e-2 torr as lists of the trade print them (common practice, no source;
# from memory), to which Alcock's formulas come within 15 K.
TRADE_LIST_C = {
    "Al": 1217, "Ag": 1030, "Au": 1400, "Cr": 1400, "Cu": 1257, "Ni": 1527, "Ti": 1737,
}  # fmt: skip


@pytest.mark.source(
    "lists of the trade, temperatures for 1e-2 torr",
    "common practice",
    "15 K, the spread of such lists",
)
@pytest.mark.parametrize(("metal", "temperature_C"), TRADE_LIST_C.items())
def test_temperature_for_a_hundredth_of_a_torr(metal, temperature_C):
    found = temperature_for_pressure(metal, 1e-2 * MBAR_PER_TORR)
    assert found.temperature_C == pytest.approx(temperature_C, abs=15.0)
    assert not found.extrapolated


@pytest.mark.source(
    "Alcock, Itkin and Horrigan 1984, as public code quotes it",
    "read",
    "5.006 is printed for log10(101325)",
)
def test_titanium_against_the_formula_in_pascal():
    # Alcock, Itkin and Horrigan 1984 as public code quotes it, log10(p/Pa), read there.
    for celsius, a, b, c in ((1400.0, 16.931, -24991.0, -1.3376), (1800.0, 11.364, -22747.0, 0.0)):
        kelvin = celsius + 273.15
        quoted_Pa = 10.0 ** (a + b / kelvin + c * np.log10(kelvin))
        found_Pa = 100.0 * vapour_pressure_mbar("Ti", celsius)
        assert found_Pa == pytest.approx(quoted_Pa, rel=2e-3)  # 5.006 printed for log10(101325)


# Normal boiling points [°C], CRC Handbook (from memory). The formulas end far below; carried to
# an atmosphere they should land near, and how near says what extrapolation is worth.
BOILING_C = {"Al": 2519, "Ag": 2162, "Cu": 2562, "Au": 2836, "Fe": 2861, "Ni": 2913, "Ti": 3287}


@pytest.mark.source(
    "normal boiling points, CRC Handbook", "from memory", "5 %: far past the end of the formulas"
)
@pytest.mark.parametrize(("metal", "boiling_C"), BOILING_C.items())
def test_carried_to_an_atmosphere_it_boils(metal, boiling_C):
    found = temperature_for_pressure(metal, 1013.25)
    assert found.extrapolated
    assert found.temperature_C == pytest.approx(boiling_C, rel=0.05)


@pytest.mark.source("Dushman: 0.0583 p sqrt(M/T)", "from memory", "the last printed digit")
def test_hertz_knudsen_in_the_units_of_the_trade():
    # G = 0.0583 α p[torr] sqrt(M/T) g/cm²s (Dushman, from memory)
    found = evaporation_g_cm2_s(MBAR_PER_TORR, 1226.85, 47.867)
    assert found == pytest.approx(0.0583 * np.sqrt(47.867 / 1500.0), rel=1e-3)


@pytest.mark.source(
    "about 1450 °C for 1e-4 torr; melting at 1668 °C (CRC Handbook)",
    "common practice",
    "as rounded",
)
def test_titanium_wire_has_a_narrow_margin():
    # About 1450 °C for 1e-4 torr (common practice, no source) against 1668 °C, CRC Handbook.
    margin = melting_margin("Ti")
    assert margin.useful_C == pytest.approx(1450.0, abs=10.0)
    assert margin.melting_C == 1668.0
    # a nanometre a second is out of its reach: the heat for it is hundreds of kelvin past melting
    heater = Heater(wire_mm=0.8, wire="W")
    setup = Setup(Source("wire"), Placement(250.0), Piece(50.0, 50.0), heater)
    hung = plan_source(find_entry("Ti"), 50.0, setup, rate_nm_s=1.0)
    assert hung.heat.temperature_C > 1668.0 + 200.0


# -- tungsten wire -----------------------------------------------------------------------------

# H. A. Jones and I. Langmuir, Gen. Electr. Rev. 30, 310 (1927), characteristics of an ideal
# tungsten filament, from memory: temperature [K], W' [W/cm², per length and diameter],
# A' [A/cm^1.5]. Our resistivity and emissivity are those of Forsythe and Worthing (1925), another
# laboratory's: the two differ by 2 to 3 % in emissivity at working heat.
JONES_LANGMUIR = [
    (1000, 1.891, 244.1), (1500, 17.33, 580.6), (2000, 75.37, 1022.0), (2500, 219.3, 1526.0),
    (3000, 503.5, 2072.0), (3500, 998.0, 2657.0),
]  # fmt: skip


@pytest.mark.source(
    "Jones and Langmuir, Gen. Electr. Rev. 30, 310 (1927)",
    "from memory",
    "another laboratory's emissivity, 2 to 3 % apart",
)
@pytest.mark.parametrize(("kelvin", "power", "current"), JONES_LANGMUIR)
def test_tungsten_filament(kelvin, power, current):
    celsius = kelvin - 273.15
    # for a diameter of 1 cm, A' is the current and W' the power of 1 cm
    assert wire_current_A("W", 10.0, celsius) == pytest.approx(current, rel=0.04)
    assert wire_power_W_cm("W", 10.0, celsius) == pytest.approx(power, rel=0.07)


# The same authors' loss of tungsten by evaporation [g/cm²s], from memory with less confidence:
# Alcock's vapour pressure, carried past its data, gives 0.5 of it at 2500 K and 1.1 at 3000 K.
@pytest.mark.source(
    "Jones and Langmuir, Gen. Electr. Rev. 30, 310 (1927), with less confidence",
    "from memory",
    "a factor of 2.5: carried past the data",
)
@pytest.mark.parametrize(("kelvin", "loss"), [(2500, 2.03e-9), (3000, 9.95e-7)])
def test_tungsten_evaporates(kelvin, loss):
    pressure = vapour_pressure_mbar("W", kelvin - 273.15, extrapolate=True)
    found = evaporation_g_cm2_s(pressure, kelvin - 273.15, 183.84)
    assert 0.4 < found / loss < 2.5


# -- sputtering --------------------------------------------------------------------------------

ECKSTEIN = (
    "W. Eckstein, Sputtering Yields, Top. Appl. Phys. 110 (2007), doi:10.1007/978-3-540-44502-9_3: "
    "argon at right angles, as the IAEA's open database tabulates the fit, between its energies"
)


@pytest.mark.source(
    ECKSTEIN,
    "read",
    "25 %: computed yields against measured ones, and both scatter between sources by 15 %",
)
@pytest.mark.parametrize(
    ("metal", "energy_eV", "atoms"),
    [("W", 202.3, 0.2732), ("W", 553.1, 0.593), ("Ta", 211.1, 0.3162), ("Ta", 573.2, 0.6424)],
)
def test_sputter_yields_of_heavy_metals(metal, energy_eV, atoms):
    assert sputter_yield(metal, energy_eV) == pytest.approx(atoms, rel=0.25)
