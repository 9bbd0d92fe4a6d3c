"""The written form of a stack: what it reads, what it refuses and where, and the way back."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.errors import InputError, LimitError, NotationError
from oxhue.optics.films.materials.catalogue import load_material
from oxhue.optics.films.materials.effective_medium import Grade, Mixture
from oxhue.optics.films.materials.medium import ConstantIndex
from oxhue.optics.films.notation import forbid_files, parse_medium, parse_stack
from oxhue.optics.films.stack import Stack

# -- what it reads -----------------------------------------------------------------------------


def thicknesses(text):
    return [layer.thickness_nm.tolist() for layer in parse_stack(text).layers]


def test_layers_from_the_light_inward_and_the_substrate_last():
    stack = parse_stack("TiO2 45nm / Ti 120nm / glass")
    assert [layer.medium.label for layer in stack.layers] == [
        load_material("TiO2").label,
        load_material("Ti").label,
    ]
    assert stack.substrate is load_material("glass")
    assert stack.slab_nm is None
    assert thicknesses("TiO2 45nm / Ti 120nm / glass") == [45.0, 120.0]


@pytest.mark.parametrize(
    "text",
    ["TiO2 45nm/Ti", " TiO2  45 nm / Ti ", "TiO2\t45nm\n/\nTi", "TiO2 4.5e1nm / Ti",
     "TiO2 +45.nm / Ti", "TiO2 0.045um / Ti", "TiO2 0.045 µm / Ti", "TiO2 450Å / Ti",
     "TiO2 450A / Ti", "TiO2 450 A/ Ti", "tio2 45nm / ti"],
)  # fmt: skip
def test_spacing_case_and_units_do_not_matter(text):
    stack = parse_stack(text)
    assert stack.layers[0].thickness_nm == pytest.approx(45.0)
    assert stack.layers[0].medium is load_material("TiO2")
    assert stack.substrate is load_material("Ti")


@pytest.mark.parametrize("text", ["Ti", " Ti ", "n=1.5", "TiO2(rutile)"])
def test_a_bare_substrate(text):
    assert parse_stack(text).layers == ()


@pytest.mark.parametrize(
    ("text", "slab_nm"),
    [("glass 4mm", 4e6), ("glass 1 m", 1e9), ("glass 10um", 1e4), ("n=1.5 0.5cm", 5e6)],
)
def test_a_slab_has_a_thickness(text, slab_nm):
    assert parse_stack(f"Al 80nm / {text}").slab_nm == pytest.approx(slab_nm)


def test_films_on_the_back_face():
    stack = parse_stack("Al 80nm / glass 4mm | MgF2 100nm / SiO2 20nm")
    assert [layer.thickness_nm for layer in stack.back_layers] == [100.0, 20.0]
    assert stack.back_layers[1].medium is load_material("SiO2")


@pytest.mark.parametrize(
    ("written", "points"),
    [
        ("0..3nm", [0.0, 1.0, 2.0, 3.0]),
        ("0..2.5nm", [0.0, 1.0, 2.0]),
        ("0nm..3nm", [0.0, 1.0, 2.0, 3.0]),
        ("10Å .. 3 nm", [1.0, 2.0, 3.0]),
        ("0..0.3nm step 0.1nm", [0.0, 0.1, 0.2, 0.3]),
        ("0..1um step 500nm", [0.0, 500.0, 1000.0]),
        ("5..5nm", [5.0]),
        ("0..10nm step 20nm", [0.0]),
        ("20,45,80nm", [20.0, 45.0, 80.0]),
        ("20 , 45nm", [20.0, 45.0]),
        ("2,1,2 Å", [0.2, 0.1, 0.2]),
    ],
)
def test_sweeps(written, points):
    stack = parse_stack(f"TiO2 {written} / Ti")
    np.testing.assert_allclose(stack.layers[0].thickness_nm, points, rtol=1e-15, atol=0)
    assert stack.sweep_shape == (len(points),)


@pytest.mark.parametrize("step", ["0.1", "0.3", "0.7", "1.1", "0.01"])
def test_a_range_never_runs_past_its_end(step):
    points = parse_stack(f"TiO2 0..200nm step {step}nm / Ti").layers[0].thickness_nm
    assert points.size == int(200 / float(step) + 1e-9) + 1
    assert 200.0 - float(step) < points[-1] <= 200.0


def test_two_thousand_and_one_points():
    points = parse_stack("TiO2 0..200nm step 0.1nm / Ti").layers[0].thickness_nm
    assert points.size == 2001
    assert points[-1] == 200.0


def test_each_sweep_adds_an_axis_in_the_order_written():
    stack = parse_stack("TiO2 0..2nm / Ti 5nm / SiO2 1,2nm / glass 1mm | MgF2 0..4nm")
    assert stack.sweep_shape == (3, 2, 5)


def test_quarter_waves():
    stack = parse_stack("n=2.0 quarter@550nm / n=1.38+0.1i quarter @ 0.55um / Ti")
    assert [float(x.thickness_nm) for x in stack.layers] == pytest.approx([68.75, 550 / 4 / 1.38])
    n = load_material("TiO2").nk(600.0).real
    assert thicknesses("TiO2 quarter@600nm / Ti") == pytest.approx([150.0 / n])


def test_repeats():
    assert thicknesses("3 x (SiO2 1nm / TiO2 2nm) / glass") == [1.0, 2.0] * 3
    assert thicknesses("2x(SiO2 1nm)/3 × ( TiO2 2nm ) / Ti") == [1.0, 1.0, 2.0, 2.0, 2.0]
    assert thicknesses("2 x (SiO2 1nm / 2 x (TiO2 2nm)) / Ti") == [1.0, 2.0, 2.0] * 2


def test_a_repeated_sweep_is_one_axis():
    stack = parse_stack("3 x (SiO2 0..4nm / TiO2 2nm) / glass")
    assert stack.sweep_shape == (5,)


def test_mixtures():
    medium = parse_stack("Ti:TiO2 30% 80nm / glass").layers[0].medium
    assert medium == Mixture(load_material("Ti"), load_material("TiO2"), 0.3)
    porous = parse_stack("Al : air 60 % 300nm / glass").layers[0].medium
    assert porous.fraction_second == 0.6
    assert parse_stack("n=1.5:n=2.0 12.5%").substrate.fraction_second == 0.125


def test_grades():
    medium = parse_stack("TiO2->Ti 60nm / Ti").layers[0].medium
    assert medium == Grade(load_material("TiO2"), load_material("Ti"))
    assert parse_stack("TiO2(rutile) -> Ti(johnson1974) 60nm / Ti").layers[0].medium.first.label


@pytest.mark.parametrize(
    ("text", "n", "k"),
    [("n=1.46", 1.46, 0.0), ("n=2.3+0.05i", 2.3, 0.05), ("n = 2.3 + 5e-2 i", 2.3, 0.05),
     ("n=.5", 0.5, 0.0), ("n=0+3i", 0.0, 3.0), ("n=1e-3+1e2i", 1e-3, 100.0)],
)  # fmt: skip
def test_constant_indices(text, n, k):
    assert parse_stack(f"{text} 40nm / Ti").layers[0].medium == ConstantIndex(n, k)


def test_data_sets_and_phases_by_name():
    assert parse_stack("TiO2(rutile) 9nm / Ti(johnson1974)").substrate.variant == "johnson1974"


def test_a_table_of_the_user(tmp_path):
    table = tmp_path / "dial coating.csv"
    table.write_text("wavelength_nm,n,k\n300,1.9,0.2\n900,2.1,0.1\n", encoding="utf-8")
    medium = parse_stack(f'"{table}" 45nm / Ti').layers[0].medium
    assert medium.nk(900.0) == pytest.approx(2.1 + 0.1j)


def test_a_medium_alone():
    assert parse_medium(" Ti:TiO2 30% ").fraction_second == 0.3
    with pytest.raises(NotationError, match="one material without thickness"):
        parse_medium("Ti 30nm")


# -- what it refuses, and where ----------------------------------------------------------------

REFUSED = [
    # text, character position (from 0), words of the message
    ("TiO2 45in / Ti", 5, "unknown unit 'in'; use one of nm, um"),
    ("TiO2 20,45in / Ti", 5, "unknown unit 'in'"),
    ("TiO2 0..45in / Ti", 5, "unknown unit 'in'"),
    ("TiO2 quarter@550in / Ti", 5, "unknown unit 'in'"),
    ("TiO2 0..9nm step 1in / Ti", 12, "unknown unit 'in'"),
    ("TiO2 45 / Ti", 5, "45 needs a unit: nm, um"),
    ("TiO2 0..45 / Ti", 5, "0 needs a unit"),
    ("TiO2 0..9nm step 1 / Ti", 12, "1 needs a unit"),
    ("TiO2 quarter@550 / Ti", 5, "550 needs a unit"),
    ("TiO2 -4nm / Ti", 5, "the thickness '-4nm' cannot be negative; write it as 4nm"),
    ("TiO2 4,-4nm / Ti", 5, "cannot be negative; write it as 4nm"),
    ("TiO2 4,5..9nm / Ti", 5, "; if 4,5 is one number, write 4.5"),
    ("TiO2 45nm / glass 1,5mm", 12, "such as 4mm; if 1,5 is one number, write 1.5"),
    ("n=1,5 45nm / Ti", 3, "quarter@550nm; if 1,5 is one number, write 1.5"),
    ("Ti:TiO2 30,125% 9nm / Ti", 8, "if 30,125 is one number, write 30.125 or 30125"),
    ("TiO2 nan nm / Ti", 5, "expected a thickness such as 45nm"),
    ("TiO2 inf nm / Ti", 5, "expected a thickness such as 45nm"),
    ("TiO2 1e999nm / Ti", 5, "is not a number with a unit"),
    ("TiO2 2mm / Ti", 0, "a layer is 0 to 1e+06 nm thick"),
    ("TiO2 1e308m..1e308m / Ti", 5, "too large to calculate with"),
    ("TiO2 0..200nm step 1e-320nm / Ti", 14, "too small to calculate with"),
    ("TiO2 9..3nm / Ti", 5, "runs upwards, with a step above 0 nm, as in 0..200nm step 0.5nm"),
    ("TiO2 0..9nm step 0nm / Ti", 5, "a range runs upwards, with a step above 0 nm"),
    ("TiO2 quarter@0nm / Ti", 5, "wavelength_nm must lie between"),
    ("n=2 quarter@0nm / Ti", 4, "a quarter wave needs a wavelength above 0 nm"),
    ("n=0+2i quarter@9nm / Ti", 7, "a quarter wave needs a wavelength above 0 nm"),
    ("n=1e-310+1i quarter@9nm / Ti", 0, "is inf nm; a layer is 0 to"),
    ("Ti 4nm 5nm / Ti", 7, "expected '/' and another layer, or the end"),
    ("Ti 20nm,45nm / Ti", 7, "expected '/' and another layer, or the end"),
    ("TiO3 4nm / Ti", 0, "unknown material 'TiO3'; did you mean TiO2"),
    ("TiO2 4nm / Unobtainium", 11, "unknown material 'Unobtainium'"),
    ("Ti(2050) 4nm / Ti", 0, "unknown data set '2050' of Ti"),
    ("Ti(johnson1974 4nm / Ti", 2, "expected a thickness"),
    ("n=nan 4nm / Ti", 0, "expected a number after 'n='"),
    ("n= 4nm / Ti", 4, "expected a thickness"),
    ("n=1e999 4nm / Ti", 0, "must have n and k between 0 and 1000"),
    ("n=1.5-0.1i 4nm / Ti", 0, "k counts absorption and is positive"),
    ("n=1.5+0.1j 4nm / Ti", 5, "unknown unit 'j'"),
    ('"no such file.csv" 4nm / Ti', 0, "there is no file no such file.csv"),
    ('"dial.csv 4nm / Ti', 0, "expected a material such as TiO2"),
    ("Ti:TiO2 80nm / Ti", 8, "a mixture needs the volume percent of TiO2(siefke2016)"),
    ("Ti:TiO2 130% 80nm / Ti", 8, "the volume percent of TiO2(siefke2016) is 0 to 100%, as in 30%"),
    ("Ti:TiO2 -1% 80nm / Ti", 8, "the volume percent of TiO2(siefke2016) is 0 to 100%, as in 30%"),
    ("45nm TiO2 / Ti", 0, "the material is written before its thickness, as in TiO2 45nm"),
    ("quarter@550nm / Ti", 0, "the material is written before its thickness"),
    ("TiO2->Ti->Al 4nm / Ti", 8, "expected a thickness"),
    ("TiO2 45nm", 0, "45 nm is a film; add what it lies on, such as '/ glass'"),
    ("Ti 5nm / TiO2 45nm", 9, "45 nm is a film; add what it lies on"),
    ("TiO2 45nm /", 11, "every stack ends with a substrate"),
    ("", 0, "expected a material such as TiO2"),
    ("   ", 3, "expected a material"),
    ("/", 0, "expected a material"),
    ("TiO2 4nm // Ti", 10, "expected a material"),
    ("TiO2 4nm / / Ti", 11, "expected a material"),
    ("TiO2 / Ti", 0, "TiO2(siefke2016) needs a thickness, such as '45nm'"),
    ("Ti 3nm / Ti 3mm", 9, "is opaque and takes no thickness; if it is a film, add"),
    ("Ti 3nm / TiO2->Ti", 9, "a substrate cannot be a graded layer"),
    ("Ti 3nm / glass 4,5mm", 9, "the thickness of the substrate cannot be swept"),
    ("Ti 3nm / glass 2m", 9, "is no slab; it needs 0.01 mm to 1 m"),
    ("Ti 3nm / glass | MgF2 9nm", 9, "films on the back face need a slab between"),
    ("Ti 3nm / glass 4mm |", 20, "expected a material"),
    ("Ti 3nm / glass 4mm | MgF2", 21, "needs a thickness"),
    ("Ti 3nm / glass 4mm | MgF2 9nm |", 30, "expected '/' and another layer, or the end"),
    ("Ti 3nm / glass 4mm | MgF2 9nm /", 31, "expected a material"),
    ("5 x (TiO2 1nm", 13, "expected '/' and another layer, or ')'"),
    ("5 x (TiO2 1nm / Ti", 16, "needs a thickness"),
    ("5 x (TiO2 1nm)) / Ti", 14, "expected '/' and a substrate"),
    ("5 x (TiO2 1nm)", 14, "expected '/' and a substrate"),
    ("5 x () / Ti", 5, "expected a material"),
    ("0 x (Ti 1nm) / Ti", 0, "a group is repeated at least once"),
    ("(Ti 1nm) / Ti", 0, "expected a material"),
    ("Ti 1nm) / Ti", 6, "expected '/' and another layer, or the end"),
    ("Ti\0", 2, "expected a thickness"),
    ("Ti 4nm / glass 1mm\0", 18, "expected '/' and another layer, or the end"),
    ("1 x (" * 21 + "Ti 1nm" + ")" * 21 + " / Ti", 100, "nested at most 20 deep"),
]


@pytest.mark.parametrize("text", ["TiO2 1,2,5 / Ti", "TiO2 9nm / n=1 4,5nm x", "TiO2 1.5,2 / Ti"])
def test_no_decimal_comma_is_suspected_elsewhere(text):
    with pytest.raises(NotationError) as caught:
        parse_stack(text)
    assert "one number" not in str(caught.value)


def test_where_files_are_not_allowed_none_is_read(tmp_path):
    table = tmp_path / "own.csv"
    table.write_text("nm,n,k\n300,2,0\n900,2,0\n")
    text = f'"{table}" 45nm / Ti'
    with pytest.raises(NotationError, match="a file cannot be named here; write a material"):
        parse_stack(text, files=False)
    with forbid_files(), pytest.raises(NotationError, match="a file cannot be named here"):
        parse_medium(f'"{table}"')
    assert parse_stack(text).layers[0].medium.kind == "user"


@pytest.mark.parametrize(("text", "position", "words"), REFUSED)
def test_refusals_point_at_the_character(text, position, words):
    with pytest.raises(NotationError) as caught:
        parse_stack(text)
    error = caught.value
    assert error.position == position
    assert words in str(error)
    assert error.text == text
    where = f"(character {position + 1})" if text[error.position :].strip() else "at the end"
    assert where in str(error)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("TiO2 0..1e9nm / Ti", "1,000,000,001 points; at most 1,000,000"),
        ("TiO2 0..1nm step 1e-9nm / Ti", "1,000,000,001 points"),
        ("TiO2 0..200nm step 1e-90nm / Ti", "points; at most 1,000,000"),
        ("TiO2 0..1e9m / Ti", "points; at most"),
        ("TiO2 0..999nm / Ti 0..999nm / TiO2 0,1nm / Ti", "2,000,000 points"),
        ("1000000 x (TiO2 1nm) / Ti", "1000000 x 1 layers are too many"),
        ("9" * 500 + " x (TiO2 1nm) / Ti", "layers are too many; a stack has at most 2000"),
        ("100 x (100 x (Ti 1nm)) / Ti", "100 x 100 layers are too many"),
        ("2000 x (Ti 1nm) / Ti 1nm / Ti", "at most 2000 layers"),
        ("2000 x (Ti 1nm) / glass 1mm | Ti 1nm", "at most 2000 layers"),
        ("x" * 20_001, "at most 20,000 characters"),
    ],
)
def test_requests_past_the_limits_are_refused_at_once(text, words):
    with pytest.raises(LimitError, match=words):
        parse_stack(text)


def test_messages_stay_short():
    with pytest.raises(NotationError) as caught:
        parse_stack("TiO2 45nm / " + "very " * 3000)
    assert len(str(caught.value)) < 300


@settings(deadline=None, max_examples=500)
@given(
    st.lists(
        st.sampled_from(
            ["TiO2", "Ti", "glass", "n=1.5", "n=", "+0.1i", '"a.csv"', '"', "air", "(rutile)", "45",
             "nm", "um", "Å", "mm", "m", "%", "30%", "/", "|", "(", ")", "2 x (", "x", "×", "->",
             ":", "..", "step", "quarter@", "@", ",", "-", "+", ".", "e5", "1e9", "0", "7", " ",
             "\n", "\0", "é", "₂", "٣", "1e-320", "9" * 40]
        ),
        max_size=14,
    ).map("".join)
)  # fmt: skip
def test_anything_written_in_the_signs_of_the_notation_is_read_or_refused(text):
    try:
        stack = parse_stack(text)
    except InputError:
        return
    assert isinstance(stack, Stack)


@settings(deadline=None, max_examples=300)
@given(st.text(max_size=40))
def test_any_text_is_read_or_refused(text):
    try:
        parse_stack(text)
    except InputError:
        return


@pytest.mark.parametrize("space", ["", " ", "\u2009", "\xa0", "\t"])
def test_any_space_may_stand_in_an_index(space):
    medium = parse_medium(f"n{space}={space}2.1{space}+{space}0.02{space}i")
    assert medium.nk([550.0]) == pytest.approx([2.1 + 0.02j])
