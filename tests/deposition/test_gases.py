"""Gases: mixtures, molecules that hit, the way between collisions, oxides that cannot form."""

import numpy as np
import pytest

from oxhue.optics.deposition.gases import (
    GASES,
    MOLECULES_PER_MBAR_L,
    atoms_left,
    gas_name,
    impingement_per_cm2_s,
    mean_free_path_cm,
    metal_per_cm2_s,
    metals,
    mixture_shares,
    molar_masses,
    monolayer_time_s,
    oxide_gate,
    read_data,
    uptake_of,
    wall_speed_l_s_cm2,
)
from oxhue.optics.errors import UnknownNameError


@pytest.mark.parametrize("name", ["leak", "walls", "plastic", "water", "air"])
def test_shares_of_a_mixture_sum_to_one(name):
    shares = mixture_shares(name)
    assert shares.sum() == pytest.approx(1.0, abs=1e-12)
    assert np.all(shares >= 0.0)


def test_a_leak_is_air_and_walls_give_water():
    leak = dict(zip(GASES, mixture_shares("leak"), strict=True))
    assert leak["N2"] / leak["O2"] == pytest.approx(0.78084 / 0.20946, rel=1e-3)
    assert max(zip(GASES, mixture_shares("walls"), strict=True), key=lambda one: one[1])[0] == "H2O"


def test_arrays_that_all_share_cannot_be_written_to():
    for shared in (atoms_left("oxygen"), molar_masses(), mixture_shares("leak")):
        with pytest.raises(ValueError, match="read-only"):
            shared[0] = 1.0


def test_molecules_of_a_millibar_litre():
    assert pytest.approx(2.47e19, rel=1e-3) == MOLECULES_PER_MBAR_L


def test_a_surface_pumps_what_hits_it():
    # p in a litre times the speed is molecules that hit a square centimetre
    hits = impingement_per_cm2_s(1e-3, molar_masses())
    np.testing.assert_allclose(1e-3 * wall_speed_l_s_cm2() * MOLECULES_PER_MBAR_L, hits, rtol=1e-12)
    np.testing.assert_allclose(monolayer_time_s(1e-3, molar_masses()) * hits, 1e15, rtol=1e-12)


def test_metal_of_a_growing_film():
    # 1 nm/s of titanium, 4.506 g/cm³ and 47.867 g/mol, is 5.67e15 atoms per cm² and second
    assert metal_per_cm2_s(1.0, 4.506, 47.867) == pytest.approx(5.669e15, rel=1e-3)


def test_argon_shortens_the_way_between_collisions():
    alone = mean_free_path_cm({"N2": 1e-4})
    assert mean_free_path_cm({"N2": 1e-4, "Ar": 1e-2}) < alone / 50.0
    assert mean_free_path_cm({"N2": 2e-4}) == pytest.approx(alone / 2.0)
    assert mean_free_path_cm({"Ar": 0.0}) == np.inf
    with pytest.raises(UnknownNameError, match="use one of Ar"):
        mean_free_path_cm({"Xe": 1e-3})


def test_what_is_not_known_is_refused():
    with pytest.raises(UnknownNameError, match="use one of Ar"):
        gas_name("Xe")
    with pytest.raises(UnknownNameError, match="Ti"):
        uptake_of("Tii")
    with pytest.raises(UnknownNameError, match="leak"):
        mixture_shares("leek")


def test_each_metal_has_an_uptake_and_its_source():
    assert {"Ti", "Al", "Cr", "Cu", "Ag", "Au", "Pt", "Pd", "Ni", "Zn", "Sn"} <= set(metals())
    for metal in metals():
        uptake = uptake_of(metal)
        assert np.all((uptake.sticking >= 0.0) & (uptake.sticking <= 1.0))
        assert uptake.sticking[GASES.index("Ar")] == 0.0
        assert uptake.confidence in ("read", "from memory", "judgement")
        assert uptake.doubt > 0.0


def test_a_gate_bars_the_oxides_of_noble_metals_alone():
    assert oxide_gate("Ti") is None
    assert oxide_gate("Cu") is None
    assert oxide_gate("Au").balance_mbar > 1e10
    assert 0.0 < oxide_gate("Pd").balance_mbar < 1e-10  # it could form; it is slow
    assert oxide_gate("Pd").slow
    assert not oxide_gate("Ag").slow
    assert oxide_gate("Ag", 450.0).balance_mbar > oxide_gate("Ag").balance_mbar
    for metal in read_data()["gate"]:
        assert oxide_gate(metal).source
