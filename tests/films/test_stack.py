"""Layers and stacks as plain data: what makes one, sweeps, and turning over."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.errors import InputError, LimitError, OutOfRangeError
from oxhue.optics.films.materials.effective_medium import Grade
from oxhue.optics.films.materials.medium import AIR, ConstantIndex
from oxhue.optics.films.stack import MAX_LAYERS, Layer, Stack

OXIDE, METAL, GLASS = ConstantIndex(2.35), ConstantIndex(2.5, 3.4), ConstantIndex(1.52)


def film(medium=OXIDE, thickness_nm=50.0, axis=None):
    return Layer(medium, np.asarray(thickness_nm), axis)


@pytest.mark.parametrize("thickness_nm", [-1.0, -1e-300, np.nan, np.inf, 1.1e6])
def test_layer_refuses_what_is_no_thickness(thickness_nm):
    with pytest.raises(OutOfRangeError, match=r"n=2.35 is .* nm; a layer is 0 to 1e\+06 nm thick"):
        film(OXIDE, thickness_nm)
    with pytest.raises(OutOfRangeError, match="a layer is 0 to"):
        film(OXIDE, [5.0, thickness_nm], 0)


@pytest.mark.parametrize(("thickness_nm", "axis"), [(5.0, 0), ([5.0], None), ([[5.0]], 0)])
def test_layer_refuses_points_without_axis_and_axis_without_points(thickness_nm, axis):
    with pytest.raises(InputError, match="must be one number, or a list"):
        film(OXIDE, thickness_nm, axis)


def test_layer_takes_the_ends_of_its_range():
    assert film(OXIDE, 0).thickness_nm.dtype == float
    assert film(OXIDE, 1e6).thickness_nm == 1e6


def test_default_ambient_is_air():
    assert Stack((), METAL).ambient is AIR


def test_sweep_axes_in_any_order_across_both_faces():
    front = (film(OXIDE, [1.0, 2.0, 3.0], 1), film(), film(OXIDE, [5.0, 6.0], 0))
    stack = Stack(front, GLASS, 1e6, (film(METAL, [1.0, 2.0, 3.0, 4.0], 2),))
    assert stack.sweep_shape == (2, 3, 4)
    assert [stack.thickness_of(layer).shape for layer in stack.all_layers] == [
        (3, 1), (), (2, 1, 1), (4,),
    ]  # fmt: skip


def test_sweep_axes_without_a_gap():
    with pytest.raises(InputError, match=r"numbered 0, 1, 2 ... without a gap"):
        Stack((film(OXIDE, [1.0, 2.0], 1),), GLASS)


def test_layers_on_one_axis_have_the_same_number_of_points():
    with pytest.raises(InputError, match="same number of points"):
        Stack((film(OXIDE, [1.0, 2.0], 0), film(METAL, [1.0], 0)), GLASS)


def test_too_many_sweep_points():
    points = np.zeros(1001)
    with pytest.raises(LimitError, match="1,002,001 points; at most 1,000,000"):
        Stack((film(OXIDE, points, 0), film(METAL, points, 1)), GLASS)
    assert Stack((film(OXIDE, np.zeros(1_000_000), 0),), GLASS).sweep_shape == (1_000_000,)


def test_too_many_layers():
    layers = (film(),) * MAX_LAYERS
    Stack(layers, GLASS)
    with pytest.raises(LimitError, match="at most 2000 layers"):
        Stack(layers, GLASS, 1e6, (film(),))


def test_back_films_need_a_slab():
    with pytest.raises(InputError, match="need a slab between: give the substrate a thickness"):
        Stack((), GLASS, None, (film(),))


@pytest.mark.parametrize("slab_nm", [0.0, 9999.0, 1.1e9, -1e6, np.nan, np.inf])
def test_slab_thickness_has_a_range(slab_nm):
    with pytest.raises(OutOfRangeError, match=r"is no slab; it needs 0.01 mm to 1 m"):
        Stack((), GLASS, slab_nm)


def test_substrate_is_not_graded():
    with pytest.raises(InputError, match="substrate cannot be a graded layer"):
        Stack((), Grade(OXIDE, METAL))


def test_opaque_is_an_absorbing_half_space():
    wavelength = np.array([400.0, 700.0])
    assert Stack((), METAL).is_opaque(wavelength)
    assert not Stack((), GLASS).is_opaque(wavelength)
    assert not Stack((), ConstantIndex(1.5, 1e-4)).is_opaque(wavelength)
    assert not Stack((), METAL, 1e6).is_opaque(wavelength)


def test_turning_a_slab_over_swaps_its_faces():
    front = (film(OXIDE, 1.0), film(METAL, 2.0))
    back = (film(OXIDE, 3.0), film(METAL, [4.0, 5.0], 0))
    turned = Stack(front, GLASS, 1e6, back).reverse()
    assert turned.layers == back[::-1]
    assert turned.back_layers == front[::-1]
    assert (turned.slab_nm, turned.substrate, turned.ambient) == (1e6, GLASS, AIR)
    twice = turned.reverse()
    assert (twice.layers, twice.back_layers) == (front, back)


def test_turning_a_half_space_over_puts_its_ambient_below():
    layers = (film(OXIDE, 1.0), film(METAL, 2.0))
    turned = Stack(layers, GLASS).reverse()
    assert (turned.ambient, turned.substrate, turned.slab_nm) == (GLASS, AIR, None)
    assert turned.layers == layers[::-1]


def test_turning_over_turns_grades():
    graded = film(Grade(OXIDE, METAL), [1.0, 2.0], 0)
    (turned,) = Stack((graded,), GLASS).reverse().layers
    assert turned.medium == Grade(METAL, OXIDE)
    assert turned.axis == 0
    np.testing.assert_array_equal(turned.thickness_nm, graded.thickness_nm)
