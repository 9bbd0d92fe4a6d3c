"""Stacks written out: the form they take, and that it reads back to the same stack."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.errors import InputError
from oxhue.optics.films.materials.catalogue import load_material
from oxhue.optics.films.materials.effective_medium import Grade, Mixture
from oxhue.optics.films.materials.medium import ConstantIndex
from oxhue.optics.films.materials.user_table import read_user_table
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.stack import Layer, Stack
from oxhue.optics.films.written import format_stack, label_stack


def assert_same_layers(one, other):
    assert len(one) == len(other)
    for a, b in zip(one, other, strict=True):
        assert a.medium.label == b.medium.label
        assert a.axis == b.axis
        np.testing.assert_array_equal(a.thickness_nm, b.thickness_nm)


def assert_round_trip(stack):
    back = parse_stack(format_stack(stack))
    assert_same_layers(stack.layers, back.layers)
    assert_same_layers(stack.back_layers, back.back_layers)
    assert (back.substrate.label, back.slab_nm) == (stack.substrate.label, stack.slab_nm)
    assert format_stack(back) == format_stack(stack)


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("n=1.5 4Å / n=2", "n=1.5 0.4nm / n=2.0"),
        ("n=1.5 0..200nm step 0.1nm / n=2", "n=1.5 0.0..200.0nm step 0.1nm / n=2.0"),
        ("n=1.5 0..2.5nm / n=2", "n=1.5 0.0..2.0nm step 1.0nm / n=2.0"),
        ("n=1.5 3,1,2nm / n=2", "n=1.5 3.0,1.0,2.0nm / n=2.0"),
        ("5x(n=1.5 1nm/n=2 2nm)/n=2", "5 x (n=1.5 1.0nm / n=2.0 2.0nm) / n=2.0"),
        ("2 x (n=1.5 1nm / 3 x (n=2 2nm)) / n=2",
         "2 x (n=1.5 1.0nm / 3 x (n=2.0 2.0nm)) / n=2.0"),
        ("n=1.5 1nm / n=1.5 1nm / n=2", "n=1.5 1.0nm / n=1.5 1.0nm / n=2.0"),
        ("n=1.5:n=2+1i 12.5% 1nm / n=2 4mm | n=1.5->n=2 9nm",
         "n=1.5:n=2.0+1.0i 12.5% 1.0nm / n=2.0 4mm | n=1.5->n=2.0 9.0nm"),
    ],
)  # fmt: skip
def test_written_form(text, written):
    assert format_stack(parse_stack(text)) == written
    assert_round_trip(parse_stack(text))


@pytest.mark.parametrize(
    "text",
    [
        "TiO2 45nm / Ti 120nm / glass",
        "5 x (SiO2 quarter@550nm / TiO2 quarter@550nm) / glass",
        "Al:air 60% 300nm / Ti(johnson1974)",
        "TiO2(rutile)->Ti 60nm / Ti",
        "Al 80nm / glass 4mm | MgF2 100nm",
        "3 x (SiO2 0..40nm step 0.7nm / TiO2 20,45,80nm) / TiO2 5..6nm / glass",
        "1000 x (TiO2 60nm / SiO2 40nm) / Ti",
    ],
)
def test_round_trip_of_named_materials(text):
    assert_round_trip(parse_stack(text))


def test_numbers_of_numpy_are_written_plainly():
    film = Layer(ConstantIndex(np.float64(1.5)), np.float64(3.0))
    stack = Stack((film,), ConstantIndex(2.0), np.float64(1e6))
    assert format_stack(stack) == "n=1.5 3.0nm / n=2.0 1mm"


MEDIA = st.one_of(
    st.builds(ConstantIndex, st.floats(0.01, 900), st.one_of(st.just(0.0), st.floats(0, 900))),
    st.sampled_from(["TiO2", "Ti", "SiO2", "Al", "glass", "TiO2(rutile)"]).map(load_material),
)
LAYER_MEDIA = st.one_of(
    MEDIA,
    st.builds(lambda a, b, p: Mixture(a, b, p / 100), MEDIA, MEDIA, st.integers(0, 100)),
    st.builds(Grade, MEDIA, MEDIA),
)
LENGTHS = st.just(0.0) | st.floats(1e-90, 1e6)  # what is next to nothing is not read
THICKNESSES = st.one_of(LENGTHS, st.lists(LENGTHS, min_size=2, max_size=4))


@st.composite
def stacks(draw):
    axes = 0
    faces = []
    for _ in range(2):
        layers = []
        for medium, d in draw(st.lists(st.tuples(LAYER_MEDIA, THICKNESSES), max_size=4)):
            swept = isinstance(d, list)
            layer = Layer(medium, np.array(d), axes if swept else None)
            axes += swept
            layers += [layer] * draw(st.integers(1, 3))
        faces.append(tuple(layers))
    slab_nm = draw(st.floats(1e4, 1e9)) if faces[1] else None
    return Stack(faces[0], draw(MEDIA.filter(lambda m: m.kind != "metal")), slab_nm, faces[1])


@settings(deadline=None, max_examples=100)
@given(stacks())
def test_round_trip(stack):
    assert_round_trip(stack)


@pytest.mark.parametrize("rule", ["maxwell-garnett", "looyenga"])
def test_what_the_notation_cannot_say_is_refused_and_not_said_otherwise(rule, tmp_path):
    below = load_material("glass")
    parts = load_material("Ti"), load_material("TiO2")
    film, grade = Mixture(*parts, 0.3, rule), Grade(*parts, rule)
    (tmp_path / "own.csv").write_text("wavelength_nm,n\n300,2\n900,2\n")
    own = read_user_table(tmp_path / "own.csv")
    named_alike = replace(parts[1], n=parts[1].n + 0.1)
    for medium in (film, grade, own, named_alike, Mixture(own, parts[0], 0.5)):
        layer = Layer(medium, 80.0)
        for stack in (Stack((layer,), below), Stack((), below, 1e6, (layer,))):
            with pytest.raises(InputError, match="has no written form that reads back as itself"):
                format_stack(stack)
            assert medium.label in label_stack(stack)


def test_a_material_that_went_through_another_process_is_the_shipped_one():
    stack = pickle.loads(pickle.dumps(parse_stack("TiO2 45nm / Ti")))
    assert parse_stack(format_stack(stack)).layers[0].medium.label == "TiO2(siefke2016)"
