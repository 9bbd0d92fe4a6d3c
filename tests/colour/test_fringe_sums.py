"""Colours of layers of any thickness, against plain sums over very fine grids."""

import numpy as np
import pytest

from oxhue import look, parse_stack, solve, to_colour
from oxhue.optics.colour.fringe_sums import spectra_to_show
from oxhue.optics.colour.illuminants import illuminant_power, observer_functions, white_xyz
from oxhue.optics.colour.spaces import delta_e_76, xyz_to_lab
from oxhue.optics.errors import LimitError
from oxhue.optics.films.spectra import DEFAULT_WAVELENGTH_NM, Spectra
from oxhue.optics.numerics.integrate import trapezoid

AS_GOOD = 0.05  # ΔE


def plain_sum(stack, of="R", *, light="D65", **seen):
    """CIELAB by a sum over a fine grid; the first value stands for what is below.

    0.02 nm are thirteen points a fringe of 200 µm of index 1.5, and 0.004 nm as many of 1 mm.
    """
    films = parse_stack(stack) if isinstance(stack, str) else stack
    step_nm = 0.02 if sum(layer.thickness_nm for layer in films.all_layers) < 2e5 else 0.004
    first_nm = 360.0 if light == "D65" else 380.0
    nm = np.minimum(first_nm + step_nm * np.arange(round((780.0 - first_nm) / step_nm) + 1), 780.0)
    visible = nm[nm >= 380.0]
    share = getattr(solve(stack, visible, **seen), of)
    share = np.concatenate([np.full(nm.size - visible.size, share[0]), share])
    lit = illuminant_power(light, nm)[:, None] * observer_functions(2, nm)
    return xyz_to_lab(100.0 * share @ lit / lit[:, 1].sum(), white_xyz(light, 2))


@pytest.mark.parametrize(
    "stack",
    [
        "SiO2 20um / Si", "n=1.5 21um / TiO2 45nm / Ti", "n=1.5 22um / TiO2 45nm / Ti",
        "n=1.5 60um / TiO2 45nm / Ti", "n=1.5 130um / TiO2 45nm / Ti", "n=1.5 40um / Cu",
        "PMMA 33um / TiO2 45nm / Ti", "TiO2 2.3um / Ti", "TiO2 10um / Ti", "Al2O3 25um / Al",
        "n=1.5 1mm / Cu", "n=2.4 1mm / Ag", "SiO2 300um / Ag 12nm / SiO2 170um / Si",
        "Ag 40nm / SiO2 2um / Ag 40nm / glass", "30 x (SiO2 94nm / TiO2 60nm) / glass",
        "8 x (SiO2 5um / TiO2 60nm) / Si", "n=1.5+0.0005i 100um / Ti", "Cu 20um / glass",
    ],
)  # fmt: skip
def test_the_colour_of_a_thick_layer_is_the_true_sum_of_its_fringes(stack):
    assert delta_e_76(to_colour(stack).lab, plain_sum(stack)) < AS_GOOD


def test_thick_silica_on_silicon_is_grey():
    assert look("SiO2 20um / Si").reflected.name == "grey"


@pytest.mark.parametrize("draw", range(16))
def test_any_stack_at_any_angle_is_summed_truly(draw):
    rng = np.random.default_rng([7, draw])
    films = [
        f"{rng.choice(['SiO2', 'TiO2', 'n=1.5', 'PMMA', 'Ag', 'MgF2'])} {nm:.6g}nm"
        for nm in 10.0 ** rng.uniform(0.0, 6.0, rng.integers(1, 4))
    ]
    below = rng.choice(["Si", "Ti", "Cu", "glass", "glass 1mm"])
    stack = parse_stack(" / ".join([*films, str(below)]))
    seen = {"angle_deg": float(rng.uniform(0.0, 75.0))}
    if below == "glass 1mm" and rng.random() < 0.5:
        seen["side"] = "back"
    light = str(rng.choice(["D65", "A", "FL2", "LED-B3"]))
    ways = {"R": "reflected"} if stack.is_opaque(DEFAULT_WAVELENGTH_NM) else {
        "R": "reflected", "T": "transmitted"
    }  # fmt: skip
    for of, way in ways.items():
        found = to_colour(solve(stack, **seen), light, of=way)
        gap = delta_e_76(found.lab, plain_sum(stack, of, light=light, **seen))
        assert gap < AS_GOOD, (stack, seen, light, of)


def test_a_sweep_says_of_each_stack_what_that_stack_says_alone():
    nm = [40.0, 900.0, 3_000.0, 17_000.0, 61_000.0, 420_000.0]
    swept = to_colour(f"SiO2 {','.join(f'{d:g}' for d in nm)}nm / TiO2 45nm / Ti")
    alone = [to_colour(f"SiO2 {d:g}nm / TiO2 45nm / Ti").lab for d in nm]
    np.testing.assert_allclose(swept.lab, alone, rtol=0, atol=1e-9)


@pytest.mark.parametrize("back", ["", " | SiO2 9um"])
def test_two_swept_layers_each_follow_their_fringes(back):
    text = f"SiO2 0.1,30um / TiO2 20,60,7000nm / glass 1mm{back}"
    swept = to_colour(text).lab
    for i, above in enumerate(("0.1um", "30um")):
        for j, below in enumerate(("20nm", "60nm", "7000nm")):
            single = f"SiO2 {above} / TiO2 {below} / glass 1mm{back}"
            assert delta_e_76(swept[i, j], plain_sum(single)) < AS_GOOD


def test_many_angles_at_once_follow_the_fringes_of_each():
    angles = np.array([0.0, 40.0, 70.0])
    found = to_colour(solve("PMMA 33um / TiO2 45nm / Ti", angle_deg=angles))
    each = [plain_sum("PMMA 33um / TiO2 45nm / Ti", angle_deg=angle) for angle in angles]
    assert delta_e_76(found.lab, np.array(each)).max() < AS_GOOD


def test_thin_films_keep_the_sum_over_their_own_wavelengths():
    for stack in ("TiO2 45nm / Ti", "SiO2 1.4um / Si", "TiO2 57nm / SiO2 91nm / glass 4mm", "Ti"):
        spectra = solve(stack)
        plain = to_colour(Spectra.from_arrays(spectra.wavelength_nm, spectra.R))
        np.testing.assert_allclose(to_colour(spectra).xyz, plain.xyz, rtol=0, atol=1e-11)


def test_wavelengths_that_are_too_few_are_not_what_a_colour_rests_on():
    coarse = solve("SiO2 1.2um / Si", np.arange(380.0, 781.0, 20.0))
    assert delta_e_76(to_colour(coarse).lab, plain_sum("SiO2 1.2um / Si")) < AS_GOOD


def test_an_empty_sweep_has_no_colours():
    stack = parse_stack("SiO2 10,20nm / Si")
    none = type(stack)(
        (type(stack.layers[0])(stack.layers[0].medium, np.empty(0), 0),), stack.substrate
    )
    assert to_colour(solve(none)).lab.shape == (0, 3)


def test_a_sweep_of_thick_layers_that_would_take_minutes_is_refused():
    with pytest.raises(LimitError, match="widen its step"):
        look("SiO2 0.5mm..1mm step 1nm / Si")


def test_a_spectrum_is_shown_by_nanometres_where_its_fringes_are_finer():
    thin = solve("TiO2 45nm / Ti")
    assert spectra_to_show(thin) is thin
    seen = look("SiO2 300um / Si", spectrum=True)
    np.testing.assert_array_equal(seen.spectra.wavelength_nm, np.arange(380.0, 781.0))
    again = to_colour(seen.spectra)
    assert delta_e_76(again.lab, seen.reflected.lab) < AS_GOOD
    nm = np.linspace(549.5, 550.5, 20_001)
    mean = trapezoid(solve("SiO2 300um / Si", nm).R, nm)
    assert seen.spectra.R[170] == pytest.approx(mean, abs=2e-4)
