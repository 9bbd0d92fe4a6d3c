"""How a stack of one's own varies with errors."""

import numpy as np
import pytest

import oxhue
from oxhue.optics.errors import InputError, LimitError
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.solve import solve

STACK = "SiO2 90nm / Al 80nm / glass"


def test_without_errors_it_is_the_stack_and_the_band_holds_it():
    found = oxhue.tolerance("MgF2 100nm / glass 4mm", "3%, index 1%")
    exact = solve(parse_stack("MgF2 100nm / glass 4mm"), found.wavelength_nm)
    np.testing.assert_allclose(found.R, exact.R, atol=1e-12)
    np.testing.assert_allclose(found.T, exact.T, atol=1e-12)
    assert np.all(found.R_low <= found.R_high)
    assert np.all(found.T_low <= found.T_high)
    assert 0.0 < found.delta_e_median < found.delta_e_most
    assert found.yield_share is None


def test_layers_of_one_medium_share_its_index_error_however_it_is_written(tmp_path):
    table = tmp_path / "slide.csv"
    table.write_text("wavelength_nm,n,k\n300,2.2,0\n900,2.0,0\n")
    for medium in ("n=2.1", "TiO2:SiO2 30%", f'"{table}"'):
        # Parts of a film whose errors were their own would spread by less.
        whole = oxhue.tolerance(f"{medium} 100nm / glass", "index 2%")
        parts = oxhue.tolerance(f"{medium} 60nm / {medium} 40nm / glass", "index 2%")
        np.testing.assert_allclose(parts.R_high, whole.R_high, atol=1e-12)
        np.testing.assert_allclose(parts.R_low, whole.R_low, atol=1e-12)


def test_small_errors_spread_reflectance_as_its_slope_says():
    # 1.645 standard deviations on each side hold 90 % of a normal distribution.
    found = oxhue.tolerance("TiO2 45nm / Ti", "0.5nm")
    grid = found.wavelength_nm
    thick, thin = (solve(parse_stack(f"TiO2 {nm}nm / Ti"), grid).R for nm in (45.1, 44.9))
    slope = (thick - thin) / 0.2
    expected = 2.0 * 1.645 * 0.5 * np.abs(slope)
    steep = expected > 0.3 * expected.max()
    np.testing.assert_allclose((found.R_high - found.R_low)[steep], expected[steep], rtol=0.15)


def test_goals_give_the_yield_and_the_layer_that_matters():
    found = oxhue.tolerance(STACK, "5%", ["R>80% 550nm"], samples=500)
    assert found.yield_share == 1.0
    data = found.to_dict()
    assert (data["kind"], data["yield"], data["errors"]) == ("tolerance", 1.0, "5%")
    assert "verb" not in data
    assert "CIEDE2000" in str(found)
    assert found.plot().axes


@pytest.mark.parametrize(
    ("given", "kind", "parameter"),
    [
        ((3, "3%"), InputError, "stack"),
        (("glass", "3%"), InputError, "stack"),
        (("SiO2 0..90nm / glass", "3%"), InputError, "stack"),
        ((STACK, 3), InputError, "errors"),
        ((STACK, "3%", 5), InputError, "goals"),
    ],
)
def test_a_wrong_kind_is_refused_by_its_parameter(given, kind, parameter):
    with pytest.raises(kind) as refused:
        oxhue.tolerance(*given)
    assert refused.value.parameter == parameter


def test_too_few_samples_are_refused():
    with pytest.raises(LimitError, match="`samples` must be 100"):
        oxhue.tolerance(STACK, "3%", samples=1)


def test_a_thick_clear_layer_shows_the_colour_that_a_look_at_it_shows():
    found = oxhue.tolerance("SiO2 9um / Si", "1%", samples=200)
    assert found.wavelength_nm.size == 401
    assert found.srgb_hex == oxhue.look("SiO2 9um / Si").reflected.srgb_hex
