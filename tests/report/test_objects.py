"""Stacks, colours, spectra and optical constants as documents: each line, and each curve drawn."""

import matplotlib.pyplot as plt
import numpy as np
import pytest

from oxhue.optics.colour.colour import to_colour
from oxhue.optics.files.spectrum import Spectrum
from oxhue.optics.films.materials.catalogue import load_material
from oxhue.optics.films.materials.nk_table import Material
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.report.document import Swatch, Table
from oxhue.optics.report.document import document_of as present
from tests.kept_numbers import assert_as_kept, look_of


@pytest.fixture(autouse=True)
def closed():
    yield
    plt.close("all")


def tables(document):
    return [block for block in document.blocks if isinstance(block, Table)]


def words(document):
    return [block for block in document.blocks if isinstance(block, str)]


def curves(document):
    (axes,) = document.figures[0].draw().axes
    return axes, {line.get_label(): line for line in axes.get_lines()}


def test_a_stack_lists_its_faces_in_order_and_what_is_seen_of_it():
    shown = present(parse_stack("TiO2(siefke2016) 45nm / Ti(johnson1974)"))
    assert shown.headline == "TiO2(siefke2016) 45.0nm / Ti(johnson1974)"
    listed, colours = tables(shown)
    assert list(listed.head) == ["", "material", "thickness"]
    assert [list(row) for row in listed.rows] == [
        ["front", "TiO2(siefke2016)", "45 nm"],
        ["substrate", "Ti(johnson1974)", "half-space"],
    ]
    assert len(colours.rows) == 1
    assert words(shown) == ["Reflected, looked at straight on in daylight:"]


def test_a_slab_has_a_thickness_a_back_and_a_colour_through():
    shown = present(parse_stack("Ti(johnson1974) 10nm / glass 2mm | Al 20nm"))
    rows = [list(row) for row in tables(shown)[0].rows]
    assert [row[0] for row in rows] == ["front", "substrate", "back"]
    assert rows[1][2] == "2 mm"
    assert rows[2][2] == "20 nm"
    assert words(shown) == ["Reflected, looked at straight on in daylight:", "Seen through:"]
    reflected, through = (tables(shown)[at].rows[0][2] for at in (1, 2))
    stack = parse_stack("Ti(johnson1974) 10nm / glass 2mm | Al 20nm")
    for said, of in ((reflected, "reflected"), (through, "transmitted")):
        assert said == f"{to_colour(solve(stack), of=of).xyz[1]:.1f}"


def test_a_sweep_says_its_span_and_shows_a_dozen_of_its_colours():
    stack = parse_stack("TiO2(siefke2016) 0..60nm / Ti(johnson1974)")
    shown = present(stack)
    assert tables(shown)[0].rows[0][2] == "0 to 60 nm"
    swatches = tables(shown)[1].rows
    assert len(swatches) == 12
    seen = to_colour(solve(stack))
    last = len(seen.srgb_hex) - 1
    assert [row[0] for row in swatches][:2] == ["0", str(last // 11)]
    number, patch, bright, lab = swatches[-1]
    assert number == str(last)
    assert patch == Swatch(str(seen.srgb_hex[last]), str(seen.name[last]))
    assert bright == f"{seen.xyz[last, 1]:.1f}"
    assert lab == ", ".join(f"{value:.1f}" for value in seen.lab[last])


def test_colours_say_under_what_they_are_seen_and_how_many_there_are():
    one = to_colour(solve(parse_stack("TiO2(siefke2016) 45nm / Ti(johnson1974)")))
    assert present(one).headline == f"{one.of} under D65, 2° observer: {one.name}"
    assert words(present(one)) == []
    many = to_colour(solve(parse_stack("TiO2(siefke2016) 0..12nm step 1nm / Ti(johnson1974)")))
    shown = present(many)
    assert shown.headline.endswith(f"observer: 13 colours, {many.name[0]}, ...")
    assert words(shown) == ["12 of 13 colours:"]
    dozen = to_colour(solve(parse_stack("TiO2(siefke2016) 0..11nm step 1nm / Ti(johnson1974)")))
    assert words(present(dozen)) == []
    assert len(tables(present(dozen))[0].rows) == 12


def test_a_spectrum_is_drawn_in_per_cent_with_what_goes_through():
    found = solve(parse_stack("Ti(johnson1974) 10nm / glass 2mm"))
    shown = present(found)
    size = found.wavelength_nm.size
    assert shown.headline == f"R, T of shape ({size},), {size} wavelengths"
    axes, drawn = curves(shown)
    assert set(drawn) == {"R", "T, past the last layer"}
    for name, part in (("R", found.R), ("T, past the last layer", found.T)):
        np.testing.assert_allclose(drawn[name].get_xdata(), found.wavelength_nm)
        np.testing.assert_allclose(drawn[name].get_ydata(), 100.0 * part)
    assert axes.get_ylim()[0] == 0.0
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("wavelength [nm]", "share of the light [%]")
    assert axes.get_legend() is not None


@pytest.mark.parametrize(("most", "picked"), [(3, [0, 1, 2, 3]), (20, [0, 4, 8, 12, 16, 20])])
def test_of_many_spectra_six_are_drawn_and_named_by_their_place(most, picked):
    stack = parse_stack(f"TiO2(siefke2016) 0..{most}nm step 1nm / Ti(johnson1974)")
    found = solve(stack)
    axes, drawn = curves(present(found))
    assert list(drawn) == [f"[{at}]" for at in picked]
    for at in picked:
        np.testing.assert_allclose(drawn[f"[{at}]"].get_ydata(), 100.0 * found.R[at])
    assert axes.get_ylabel() == "reflectance [%]"


def test_optical_constants_are_drawn_where_they_reach():
    titania = load_material("TiO2(siefke2016)")
    shown = present(titania)
    low, high = titania.range_nm
    assert shown.headline.startswith("TiO2(siefke2016): ")
    assert shown.headline.endswith(f", {low:g} to {high:g} nm")
    assert shown.blocks == [titania.header["source"]]
    axes, drawn = curves(shown)
    nm = drawn["n"].get_xdata()
    assert (nm[0], nm[-1], nm.size) == (max(low, 300.0), min(high, 1000.0), 351)
    np.testing.assert_allclose(drawn["n"].get_ydata(), titania.nk(nm).real)
    np.testing.assert_allclose(drawn["k"].get_ydata(), titania.nk(nm).imag)
    assert (axes.get_xlabel(), axes.get_ylabel()) == (
        "wavelength [nm]",
        "index n, extinction k [-]",
    )


@pytest.mark.parametrize(("low", "high"), [(1500.0, 3000.0), (100.0, 250.0)])
def test_constants_that_do_not_reach_the_visible_are_drawn_whole(low, high):
    nm = np.linspace(low, high, 5)
    far = Material.from_arrays(nm, np.full(5, 2.0), np.zeros(5), name="far")
    shown = present(far)
    _, drawn = curves(shown)
    assert (drawn["n"].get_xdata()[0], drawn["n"].get_xdata()[-1]) == (low, high)
    assert shown.blocks in ([], [far.header.get("source")])


def test_a_measured_spectrum_is_drawn_in_per_cent_with_its_notes():
    nm = np.array([400.0, 500.0, 600.0])
    found = Spectrum(nm, np.array([0.1, 0.2, 0.3]), "transmittance", notes=("read in per cent",))
    shown = present(found)
    assert shown.headline == "measured transmittance, 3 readings"
    assert shown.blocks == ["read in per cent"]
    (axes,) = shown.figures[0].draw().axes
    (line,) = axes.get_lines()
    np.testing.assert_allclose(line.get_ydata(), [10.0, 20.0, 30.0])
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("wavelength [nm]", "transmittance [%]")


def test_their_charts_look_as_they_did():
    nm = np.array([400.0, 500.0, 600.0])
    shown = (
        solve(parse_stack("Ti(johnson1974) 10nm / glass 2mm")),
        solve(parse_stack("TiO2(siefke2016) 0..3nm step 1nm / Ti(johnson1974)")),
        load_material("TiO2(siefke2016)"),
        Spectrum(nm, np.array([0.1, 0.2, 0.3]), "transmittance"),
    )
    for one in shown:
        name = f"chart-{type(one).__name__.lower()}-{np.ndim(getattr(one, 'R', 0.0))}"
        assert_as_kept(name, look_of(present(one).figures[0].draw()))
