"""The shipped materials: index, names, provenance, interpolation and what is refused."""

from __future__ import annotations

import subprocess
import sys
from importlib import resources

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue import nk_data
from oxhue.optics.errors import InputError, OutOfRangeError, TableError, UnknownNameError
from oxhue.optics.films.materials.catalogue import (
    VISIBLE_NM,
    find_entry,
    list_materials,
    load_file,
    load_material,
    spread_sets,
)
from oxhue.optics.films.materials.nk_table import Material, parse_table

ENTRIES = list_materials()
KINDS = {
    "metal", "alloy", "oxide", "nitride", "carbide", "carbon", "semiconductor", "fluoride",
    "sulfide", "glass", "polymer", "liquid", "gas",
}  # fmt: skip
HEADER_KEYS = [
    "material", "phase", "variant", "kind", "source", "doi", "database_page", "licence", "sample",
    "temperature", "unit", "range_nm", "measured_range_nm", "extension", "confidence",
    "tabulated", "notes",
]  # fmt: skip
NOT_FOR_COLOUR = {
    "TiO2(bond1965-o)", "TiO2(bond1965-e)", "VO2(beaini2020-25c)", "VO2(beaini2020-100c)",
    "Sn(golovashkin1964-293k)", "ZnS(bond1965)", "ZnSe(marple1964)", "ZnSe(querry1987)",
    "Rh(coulter1973-40c)", "Rh(coulter1973-300c)",
}  # fmt: skip

GOOD = """\
# material: Xx
# phase: none
# variant: nobody2001
# kind: metal
# source: nobody, nowhere
# licence: CC0-1.0
# unit: nm
# range_nm: 400-700
# measured_range_nm: 400-700
# extension: none
# confidence: low
wavelength_nm,n,k
400,1.5,0.1
500,1.6,0
700,1.4,2
"""


def test_every_data_set_loads_and_its_header_is_complete():
    for entry in ENTRIES:
        header = load_file(entry.file).header
        assert list(header) == HEADER_KEYS, entry.label
        assert all(header.values()), entry.label
        assert header["kind"] in KINDS, entry.label
        assert entry.confidence in {"high", "medium", "low", "theory", "doubtful"}, entry.label


def test_the_index_repeats_the_header():
    for entry in ENTRIES:
        material = load_file(entry.file)
        own = {
            "kind": entry.kind, "confidence": entry.confidence, "source": entry.source,
            "licence": entry.licence, "doi": entry.doi or "none",
            "database_page": "; ".join(entry.database_pages) or "none",
            "extension": entry.extension or "none",
        }  # fmt: skip
        assert {name: material.header[name] for name in own} == own, entry.label
        named = entry.name, entry.phase, entry.variant
        assert (material.name, material.phase, material.variant) == named
        assert material.range_nm == pytest.approx(entry.range_nm), entry.label


def test_rows_past_the_published_span_are_declared():
    for entry in ENTRIES:
        low, high = entry.measured_range_nm
        beyond = entry.range_nm[0] < low or entry.range_nm[1] > high
        says = entry.extension is not None and (
            "held constant" in entry.extension or "formula continued" in entry.extension
        )
        assert beyond <= says, entry.label


def test_the_folder_describes_itself():
    text = resources.files(nk_data).joinpath("README.md").read_text(encoding="utf-8")
    names, phases = {e.name for e in ENTRIES}, {(e.name, e.phase) for e in ENTRIES}
    from_pages = sum(entry.database_page is not None for entry in ENTRIES)
    assert f"{len(ENTRIES)} data sets of {len(names)} materials ({len(phases)} with" in text
    assert f"{from_pages} come from" in text
    tables = {
        f"tables/{path.name}" for path in resources.files(nk_data).joinpath("tables").iterdir()
    }
    assert tables == {entry.file for entry in ENTRIES}


def test_only_the_listed_data_sets_fall_short_of_the_visible():
    assert {entry.label for entry in ENTRIES if not entry.covers_visible} == NOT_FOR_COLOUR


def test_what_counts_in_a_spread_covers_the_visible_and_is_trusted():
    for entry in ENTRIES:
        if entry.spread:
            assert entry.covers_visible, entry.label
            load_file(entry.file).nk(VISIBLE_NM)
            assert entry.confidence in {"high", "medium", "low"}, entry.label


def test_each_name_and_each_phase_has_one_default():
    for name in {entry.name for entry in ENTRIES}:
        family = [entry for entry in ENTRIES if entry.name == name]
        assert [entry.default for entry in family].count(True) == 1
        for phase in {entry.phase for entry in family}:
            same = [entry.phase_default for entry in family if entry.phase == phase]
            assert same.count(True) == 1
        assert all(entry.phase_default for entry in family if entry.default)
        variants = [entry.variant for entry in family]
        assert len(set(variants)) == len(variants)
        assert not set(variants) & {entry.phase for entry in family}


def test_no_name_or_alias_is_taken_twice_in_any_case_but_one():
    aliases = {(a, e.name, e.phase) for e in ENTRIES for a in e.aliases}
    names = [a for a, _, _ in aliases] + list({entry.name for entry in ENTRIES})
    folded = [name.casefold() for name in names]
    assert {name for name in folded if folded.count(name) > 1} == {"tin"}


def test_tin_and_titanium_nitride_are_told_apart_by_case_alone():
    assert load_material("tin").name == "Sn"
    assert load_material("TiN").name == "TiN"
    with pytest.raises(UnknownNameError, match="'Tin' may mean TiN or tin; write one of these"):
        load_material("Tin")


def test_metals_carry_the_handbook_numbers_an_assay_needs():
    for entry in ENTRIES:
        if entry.kind == "metal":
            assert entry.density_g_cm3 is not None
            assert entry.molar_mass_g_mol is not None
            assert entry.resistivity_uohm_cm is not None
            assert entry.melting_C is not None


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("TiO2", "TiO2(siefke2016)"),
        (" TiO2 ( anatase ) ", "TiO2(jolivet2023-anatase)"),
        ("TiO2(rutile)", "TiO2(devore1951)"),
        ("TiO2(Franta2015)", "TiO2(franta2015)"),
        ("rutile", "TiO2(devore1951)"),
        ("rutile(devore1951-o)", "TiO2(devore1951-o)"),
        ("Ti(johnson1974)", "Ti(johnson1974)"),
        ("tio2", "TiO2(siefke2016)"),
        ("glass", "glass(rubin1985-clear)"),
        ("soda-lime", "glass(rubin1985-clear)"),
        ("H2O", "water(hale1973)"),
        ("silica", "SiO2(malitson1965)"),
        ("graphite", "C(djurisic1999-o)"),
        ("Fe3O4", "Fe3O4(estimate)"),
        ("Fe2O3", "Fe2O3(querry1985)"),
        ("stainless(ferritic)", "stainless(karlsson1982-ferritic)"),
    ],
)
def test_names_mean(written, meant):
    assert load_material(written).label == meant
    assert find_entry(written).label == meant


def test_labels_load_what_they_label():
    for entry in ENTRIES:
        assert find_entry(entry.label) is entry


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ("TiO3", r"unknown material 'TiO3'; did you mean TiO2"),
        ("qqqq", r"unknown material 'qqqq'; `list_materials` lists them all"),
        ("Ti(smith1900)", r"unknown data set 'smith1900' of Ti; it has data sets johnson1974, "),
        ("TiO2(brookite)", r"it has phases amorphous, low-density, anatase, rutile and data sets"),
        ("", r"not written as NAME"),
        ("Ti(", r"not written as NAME"),
    ],
)
@pytest.mark.parametrize("ask", [load_material, list_materials, spread_sets])
def test_unknown_names_are_refused_with_an_offer(ask, written, message):
    with pytest.raises(UnknownNameError, match=message):
        ask(written)


def test_lists_by_name_phase_and_set():
    assert len(list_materials("TiO2")) > len(list_materials("TiO2(rutile)")) > 1
    assert list_materials("rutile") == list_materials("TiO2(rutile)")
    assert [entry.label for entry in list_materials("Ti(mash1973)")] == ["Ti(mash1973)"]


def test_spread_weights_are_shared_within_a_group():
    weights = {entry.variant: weight for entry, weight in spread_sets("Ti")}
    assert weights == pytest.approx(
        {"johnson1974": 1 / 3, "rakic1998-bb": 1 / 6, "rakic1998-ld": 1 / 6, "mash1973": 1 / 3}
    )


def test_spreads_sum_to_one_and_start_with_the_default():
    for entry in ENTRIES:
        if entry.phase_default:
            name = f"{entry.name}({entry.phase})" if entry.phase else entry.name
            sets = spread_sets(name)
            assert sum(weight for _, weight in sets) == pytest.approx(1.0), name
            assert sets[0][0] is entry
            assert {other.phase for other, _ in sets} == {entry.phase}, name


def test_a_data_set_named_outright_has_no_spread():
    assert [(e.label, w) for e, w in spread_sets("Ti(rakic1998-bb)")] == [("Ti(rakic1998-bb)", 1.0)]


def test_air_is_one_over_its_whole_span():
    np.testing.assert_array_equal(load_material("air").nk([100.0, 550.0, 1e6]), 1.0 + 0j)


def test_reading_the_index_needs_no_scipy():
    code = (
        "import sys; from oxhue.optics.films.materials.catalogue import list_materials;"
        "list_materials(); sys.exit('scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize("shape", [(), (4,), (2, 3), (0,)])
def test_nk_has_the_shape_of_the_wavelengths(shape):
    index = load_material("Ti").nk(np.full(shape, 550.0))
    assert index.shape == shape
    assert index.dtype == np.complex128


@pytest.mark.parametrize("bad", [202.0, 1938.0, np.nan, np.inf, -550.0])
def test_nothing_is_extrapolated(bad):
    with pytest.raises(OutOfRangeError, match=r"between 203 and 1937 nm for Ti.*1 of 2"):
        load_material("Ti").nk([550.0, bad])


def test_the_last_tabulated_wavelengths_are_inside():
    material = load_material("Ti")
    index = material.nk(material.range_nm)
    np.testing.assert_array_equal(index.real, material.n[[0, -1]])


def test_tables_cannot_be_written_to():
    with pytest.raises(ValueError, match="read-only"):
        load_material("Ti").n[0] = 1.0


@st.composite
def materials(draw):
    size = draw(st.integers(2, 30))
    steps = draw(st.lists(st.floats(0.1, 50), min_size=size, max_size=size))
    n = draw(st.lists(st.floats(0.02, 6), min_size=size, max_size=size))
    k = draw(st.lists(st.floats(0, 10), min_size=size, max_size=size))
    columns = (300.0 + np.cumsum(steps), np.array(n), np.array(k))
    return Material("Xx", "made-up", "", "metal", *columns)


@settings(deadline=None, max_examples=60)
@given(materials())
def test_interpolation_passes_through_the_points(material):
    index = material.nk(material.wavelength_nm)
    np.testing.assert_allclose(index.real, material.n, rtol=1e-12)
    np.testing.assert_allclose(index.imag, material.k, rtol=1e-12, atol=1e-12)


@settings(deadline=None, max_examples=60)
@given(materials(), st.floats(0, 1), st.floats(0, 1))
def test_interpolation_is_monotone_between_neighbours(material, first, second):
    low, high = material.wavelength_nm[:-1], material.wavelength_nm[1:]
    near, far = sorted((first, second))
    steps = [
        material.nk(np.clip(low + share * (high - low), low, high)) for share in (0, near, far, 1)
    ]
    for part in (np.real, np.imag):
        change = np.diff([part(step) for step in steps], axis=0)
        way = np.sign(part(steps[-1]) - part(steps[0]))
        assert (change * way >= -1e-9).all()
        assert (part(steps[1]) >= -0.0).all()


def test_a_good_table_is_read():
    material = parse_table(GOOD.splitlines(), "xx.csv")
    assert (material.label, material.phase) == ("Xx(nobody2001)", "")
    np.testing.assert_array_equal(material.k, [0.1, 0, 2])


@pytest.mark.parametrize(
    "key",
    ["material", "variant", "kind", "source", "licence", "unit", "range_nm", "confidence",
     "measured_range_nm", "extension"],
)  # fmt: skip
@pytest.mark.parametrize("how", ["absent", "empty"])
def test_a_table_without_provenance_is_refused(key, how):
    lines = [
        line if not line.startswith(f"# {key}:") else f"# {key}:"
        for line in GOOD.splitlines()
        if how == "empty" or not line.startswith(f"# {key}:")
    ]
    with pytest.raises(TableError, match=rf"xx\.csv does not say.*{key} missing"):
        parse_table(lines, "xx.csv")


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("500,1.6,0", "300,1.6,0", "rise strictly, but row 2"),
        ("500,1.6,0", "400,1.6,0", "rise strictly, but row 2"),
        ("500,1.6,0", "500,nan,0", "finite, but row 2"),
        ("500,1.6,0", "500,1.6,inf", "finite, but row 2"),
        ("500,1.6,0", "500,1.6,-0.1", "k must not be negative"),
        ("500,1.6,0", "500,0,0", "n must be above 0"),
        ("500,1.6,0", "500,1.6", "line 14: expected three numbers, got '500,1.6'"),
        ("500,1.6,0", "500,x,0", "line 14: expected three numbers"),
        ("400,1.5", "-400,1.5", "wavelengths must be positive"),
        ("range_nm: 400-700", "range_nm: 400-800", "says 400-800, but the rows run from 400"),
        ("range_nm: 400-700", "range_nm: wide", "written low-high"),
        ("unit: nm", "unit: um", "unit must be nm"),
        ("wavelength_nm,n,k", "nm,n,k", "expected the column row"),
        ("500,1.6,0\n700,1.4,2\n", "", "has 1 rows"),
    ],
)
def test_a_broken_table_is_refused(old, new, message):
    text = GOOD.replace(old, new, 1)
    assert text != GOOD
    with pytest.raises(TableError, match=message):
        parse_table(text.splitlines(), "xx.csv")


@pytest.mark.parametrize(
    ("written", "meant", "n_550"),
    [
        ("quartz", "SiO2(malitson1965)", 1.460),
        ("crystal-quartz", "SiO2(ghosh1999-o)", 1.546),
        ("NdFeB", "Ni(johnson1974)", None),
        ("PLA", "PLA(hutchinson2006)", 1.461),
        ("ABS", "ABS(estimate)", 1.54),
        ("Teflon", "PTFE(estimate)", 1.352),
        ("acrylic", "PMMA(zhang2020-mitsubishi)", 1.49),
        ("indium", "In(mathewson1971-298k)", None),
        ("tin", "Sn(estimate)", None),
        ("C(amorphous)", "C(arakawa1977)", None),
        ("C(Diamond-Like)", "C(larruquert2013)", None),
        ("C(graphitic)", "C(djurisic1999-o)", None),
        ("C(hydrogenated)", "C(gap-1.55eV)", None),
    ],
)
def test_what_people_coat_has_an_index_for_a_colour(written, meant, n_550):
    entry = find_entry(written)
    assert entry.label == meant
    assert entry.covers_visible
    assert entry.source
    if n_550 is not None:
        assert load_material(written).nk(550.0).real == pytest.approx(n_550, abs=0.005)


def test_two_measurements_of_polylactide_agree():
    """Bodurov and others (2016) print n² - 1 = 0.9809 λ²/(λ² - 0.2123719²), λ in µm."""
    um = 0.589
    other = np.sqrt(1.0 + 0.9809 * um**2 / (um**2 - 0.2123719**2))
    assert load_material("PLA").nk(589.0).real == pytest.approx(other, abs=0.001)


def test_a_word_for_a_kind_of_material_lists_what_there_is():
    with pytest.raises(UnknownNameError, match=r"PET \(polyester\).*PLA.*PTFE \(Teflon\)"):
        find_entry("plastic")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"k": np.full(3, -0.5)}, "k must not be negative"),
        ({"n": np.array([2.0, np.nan, 2.0])}, "every number must be finite"),
        ({"wavelength_nm": np.array([400.0, 600.0, 500.0])}, "wavelengths must rise strictly"),
        ({"n": np.full(2, 2.0)}, r"have the shapes \(3,\), \(2,\), \(3,\)"),
    ],
)
def test_constants_in_memory_are_checked_as_those_of_a_file(change, words):
    right = {
        "wavelength_nm": np.array([400.0, 500.0, 600.0]), "n": np.full(3, 2.0), "k": np.zeros(3),
    }  # fmt: skip
    Material("mine", "", "", "user", **right)
    with pytest.raises(InputError, match=words):
        Material("mine", "", "", "user", **right | change)
