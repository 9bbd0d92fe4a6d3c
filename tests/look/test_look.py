"""What does it look like? Sweeps against single stacks, sides, and limits."""

import numpy as np
import pytest

from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.electrical.thin_film import film_metal, metal_sheet_ohm
from oxhue.optics.errors import InputError, LimitError
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.stack import sweep_thicknesses, take_point
from oxhue.optics.look.look import look


def test_an_opaque_piece_has_nothing_to_see_through():
    seen = look("TiO2 45nm / Ti")
    assert seen.transmitted is None
    assert seen.spectra is None
    assert seen.reflected.name == "dark blue"


def test_glass_is_seen_through():
    seen = look("Al 5nm / glass 1mm", spectrum=True)
    assert seen.transmitted is not None
    assert seen.spectra is not None
    assert seen.spectra.R.shape == (81,)


def test_each_point_of_a_sweep_is_the_single_stack():
    seen = {"angle_deg": 30.0, "conditions": ViewingConditions("A", 10)}
    sweep = look("TiO2 20,45nm / SiO2 0..30nm step 15nm / Ti", **seen)
    assert sweep.reflected.lab.shape == (2, 3, 3)
    single = look("TiO2 45nm / SiO2 15nm / Ti", **seen)
    np.testing.assert_allclose(sweep.reflected.lab[1, 1], single.reflected.lab, atol=1e-9)
    stack = take_point(sweep.films, (1, 1))
    assert [float(layer.thickness_nm) for layer in stack.layers] == [45.0, 15.0]


def test_a_long_sweep_is_put_together_again_in_order():
    sweep = look("TiO2 0..900nm step 0.1nm / Ti")  # two pieces and a rest
    for k in (0, 3999, 4000, 8000, 9000):
        single = look(f"TiO2 {k / 10}nm / Ti")
        np.testing.assert_allclose(sweep.reflected.lab[k], single.reflected.lab, atol=1e-6)
    ((layer, nm),) = sweep_thicknesses(sweep.films)
    assert layer.medium == parse_stack("TiO2 1nm / Ti").layers[0].medium
    assert nm.size == 9001


@pytest.mark.parametrize("below", ["Ti", "Al 8nm / glass 1mm | MgF2 90nm", "glass"])
@pytest.mark.parametrize("angle_deg", [0.0, 50.0])
def test_a_sweep_of_the_top_film_alone_is_each_of_its_stacks(below, angle_deg):
    sweep = look(f"SiO2 0..90nm step 30nm / {below}", angle_deg=angle_deg, spectrum=True)
    for k, nm in enumerate((0, 30, 60, 90)):
        single = look(f"SiO2 {nm}nm / {below}", angle_deg=angle_deg, spectrum=True)
        np.testing.assert_allclose(sweep.spectra.R[k], single.spectra.R, rtol=0, atol=1e-11)
        np.testing.assert_allclose(sweep.spectra.T[k], single.spectra.T, rtol=0, atol=1e-11)


def test_the_two_sides_of_a_mirror_differ():
    front = look("Al 80nm / glass 4mm")
    back = look("Al 80nm / glass 4mm", side="back")
    assert front.reflected.xyz[1] > back.reflected.xyz[1] + 2.0  # the glass takes its part twice


def test_refusals():
    with pytest.raises(InputError, match="opaque"):
        look("TiO2 45nm / Ti", side="back")
    with pytest.raises(InputError, match="'front' or 'back'"):
        look("TiO2 45nm / Ti", side="top")
    with pytest.raises(LimitError, match=r"at most 20,000 are kept"):
        look("TiO2 0..1000nm step 0.01nm / Ti", spectrum=True)
    with pytest.raises(LimitError, match="1,000,000,001 points"):
        look("TiO2 0..1000000000nm / Ti")


def test_a_sweep_that_would_take_minutes_is_refused():
    with pytest.raises(LimitError, match=r"700,001 stacks of 3 layers .* at most 1,000,000"):
        look("2 x (SiO2 10nm) / TiO2 0..700nm step 0.001nm / Ti")


@pytest.mark.parametrize(
    ("stack", "said"),
    [
        ("Ag 5nm / glass", "is no closed film but separate islands"),
        ("Au 8nm / glass", "may be no closed film"),
        ("Cu 7nm / glass", "may be no closed film"),
        ("Ag 16nm / glass", ""),
        ("Ag 5nm / Ti 3nm / glass", ""),
        ("TiO2 5nm / glass", ""),
    ],
)
def test_thin_metal_on_what_is_none_is_warned_of_as_islands(stack, said):
    seen = look(stack)
    assert [said in one for one in seen.warnings] == ([True] if said else [])
    assert ("islands" in seen.summary()) == bool(said)
    assert ("warnings" in seen.to_dict()) == bool(said)


def test_a_sweep_of_metal_tells_light_through_and_ohms():
    """By the electrical model, between its bounds; open while islands cannot touch."""
    metal = film_metal("Ag")
    seen = look("Ag 4..44nm step 20nm / glass 1mm")
    ohms = seen.ohms_per_square()
    assert ohms.shape == (3, 3)
    assert np.isinf(ohms[0]).all()
    for i, bound in ((0, 0), (2, 1)):
        expected = metal_sheet_ohm(
            metal, 44.0, metal.impurity[bound], percolation_nm=metal.percolation_nm[bound]
        )
        assert ohms[2, i] == pytest.approx(float(expected))
    said = seen.summary()
    assert "open: islands" in said
    share = float(seen.transmitted[2].Y) / 100.0
    assert f"OD {-np.log10(share):.1f}" in said
    assert seen.to_dict()["steps"][0]["ohms"] == [None, None, None]


def test_a_sweep_of_two_films_keeps_its_shape_in_ohms():
    seen = look("Ag 20..40nm step 10nm / SiO2 50..60nm step 10nm / glass 1mm")
    ohms = seen.ohms_per_square()
    assert ohms.shape == (3, 2, 3)
    np.testing.assert_array_equal(ohms[:, 0], ohms[:, 1])
    assert look("SiO2 50nm / Ag 40nm / glass").ohms_per_square() is None


def test_a_bare_piece_has_no_islands_to_warn_of():
    bare = look("glass 1mm")
    assert bare.warnings == ()
    assert "glass 1mm" in bare.summary()
