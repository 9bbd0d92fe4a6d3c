"""From stacks of named layers to powers: sweeps, sides, grades and refusals."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.errors import InputError, LimitError, OutOfRangeError
from oxhue.optics.films.engine.transfer_matrix import solve_arrays
from oxhue.optics.films.materials.effective_medium import Grade, Mixture
from oxhue.optics.films.materials.medium import ConstantIndex
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.films.spectra import DEFAULT_WAVELENGTH_NM
from oxhue.optics.films.stack import Layer, Stack

OXIDE, METAL, GLASS = ConstantIndex(2.35, 0.01), ConstantIndex(2.5, 3.4), ConstantIndex(1.52)
AIR = ConstantIndex(1.0)
WAVELENGTHS = np.array([450.0, 550.0, 650.0])


def film(medium, thickness_nm, axis=None):
    return Layer(medium, np.asarray(thickness_nm, dtype=float), axis)


def test_by_default_light_is_taken_over_the_visible_in_steps_of_five():
    response = solve(parse_stack("TiO2 45nm / Ti"))
    np.testing.assert_array_equal(response.wavelength_nm, 380.0 + 5.0 * np.arange(81))


def test_a_stack_is_the_arrays_it_stands_for():
    stack = Stack((film(OXIDE, 60.0), film(METAL, 15.0)), GLASS)
    index = np.array([1.0, 2.35 + 0.01j, 2.5 + 3.4j, 1.52])[:, None] * np.ones(3)
    found = solve(stack, WAVELENGTHS, 35.0, polarization="p")
    expected = solve_arrays(index, [60.0, 15.0], WAVELENGTHS, 35.0, "p")
    np.testing.assert_array_equal(found.R, expected.R)
    np.testing.assert_array_equal(found.T, expected.T)
    np.testing.assert_array_equal(found.layer_A, expected.layer_A)
    np.testing.assert_array_equal(found.A, 1.0 - expected.R - expected.T)


def test_the_grid_of_colour_is_the_default():
    response = solve(Stack((), METAL))
    assert response.wavelength_nm is DEFAULT_WAVELENGTH_NM or np.array_equal(
        response.wavelength_nm, np.arange(380.0, 781.0, 5.0)
    )
    assert response.R.shape == (81,)


@pytest.mark.parametrize("slab_nm", [None, 1e6])
def test_two_sweeps_are_two_leading_axes_in_the_order_of_their_numbers(slab_nm):
    thin, thick = np.array([0.0, 20.0, 45.0]), np.array([5.0, 10.0])
    back = () if slab_nm is None else (film(OXIDE, thick, 1),)
    front = (film(OXIDE, thin, 0), film(METAL, 4.0)) + (
        (film(OXIDE, thick, 1),) if slab_nm is None else ()
    )
    found = solve(Stack(front, GLASS, slab_nm, back), WAVELENGTHS, 20.0)
    assert found.R.shape == (3, 2, 3)
    assert found.layer_A.shape == (3, 2, 3 if slab_nm is None else 4, 3)
    for i, a in enumerate(thin):
        for j, b in enumerate(thick):
            single = (film(OXIDE, a), film(METAL, 4.0), film(OXIDE, b))
            cut = 3 if slab_nm is None else 2
            alone = solve(Stack(single[:cut], GLASS, slab_nm, single[cut:]), WAVELENGTHS, 20.0)
            np.testing.assert_allclose(found.R[i, j], alone.R, rtol=0, atol=1e-15)
            np.testing.assert_allclose(found.T[i, j], alone.T, rtol=0, atol=1e-15)
            np.testing.assert_allclose(found.layer_A[i, j], alone.layer_A, rtol=0, atol=1e-15)


def test_layers_on_one_axis_move_together():
    points = np.array([10.0, 20.0, 30.0])
    pair = (film(OXIDE, points, 0), film(METAL, 5.0)) * 2
    found = solve(Stack(pair, GLASS), WAVELENGTHS)
    assert found.R.shape == (3, 3)
    alone = solve(Stack((film(OXIDE, 20.0), film(METAL, 5.0)) * 2, GLASS), WAVELENGTHS)
    np.testing.assert_allclose(found.R[1], alone.R, rtol=0, atol=1e-15)


@pytest.mark.parametrize("slab_nm", [None, 1e6])
def test_angles_broadcast_with_the_sweep(slab_nm):
    stack = Stack((film(OXIDE, [0.0, 30.0, 60.0], 0),), GLASS, slab_nm)
    angles = np.array([0.0, 45.0, 70.0, 90.0])
    found = solve(stack, WAVELENGTHS, angles[:, None])
    assert found.R.shape == found.T.shape == (4, 3, 3)
    for i, angle in enumerate(angles):
        alone = solve(stack, WAVELENGTHS, angle)
        np.testing.assert_allclose(found.R[i], alone.R, rtol=0, atol=1e-15)
        np.testing.assert_allclose(found.layer_A[i], alone.layer_A, rtol=0, atol=1e-15)
    pairs = solve(stack, WAVELENGTHS, angles[:3])
    np.testing.assert_allclose(pairs.R, found.R[[0, 1, 2], [0, 1, 2]], rtol=0, atol=1e-15)


@pytest.mark.parametrize("medium", [OXIDE, Grade(OXIDE, METAL)])
@pytest.mark.parametrize("slab_nm", [None, 1e6])
def test_an_empty_sweep_gives_an_empty_answer(medium, slab_nm):
    found = solve(Stack((film(medium, [], 0), film(METAL, 5.0)), GLASS, slab_nm), WAVELENGTHS)
    assert found.R.shape == (0, 3)
    assert found.layer_A.shape == (0, 2 if slab_nm is None else 3, 3)


def test_bare_pieces_have_no_layers_and_a_bare_slab_has_one():
    assert solve(Stack((), METAL), WAVELENGTHS).layer_A.shape == (0, 3)
    assert solve(Stack((), GLASS, 1e6), WAVELENGTHS, [0.0, 10.0]).layer_A.shape == (2, 1, 3)


def test_layers_are_listed_front_slab_back_from_both_sides():
    absorbing = film(METAL, 8.0)
    clear = film(ConstantIndex(1.38), 90.0)
    stack = Stack((clear, absorbing), GLASS, 1e6, (clear, film(METAL, 3.0)))
    for side in ("front", "back"):
        A = solve(stack, WAVELENGTHS, 30.0, side=side).layer_A
        assert A.shape == (5, 3)
        np.testing.assert_allclose(A[[0, 2, 3]], 0.0, rtol=0, atol=1e-12)
        assert A[[1, 4]].min() > 0.01


def test_the_back_of_a_clear_half_space_is_met_from_inside_it():
    stack = Stack((film(OXIDE, 60.0), film(METAL, 15.0)), GLASS)
    seen = solve(stack, WAVELENGTHS, 20.0, side="back")
    index = np.array([1.52, 2.5 + 3.4j, 2.35 + 0.01j, 1.0])[:, None] * np.ones(3)
    expected = solve_arrays(index, [15.0, 60.0], WAVELENGTHS, 20.0)
    np.testing.assert_array_equal(seen.R, expected.R)
    np.testing.assert_array_equal(seen.layer_A, expected.layer_A[::-1])


# -- graded layers -----------------------------------------------------------------------------


def test_a_grade_between_one_medium_and_itself_is_that_medium():
    graded = solve(Stack((film(Grade(OXIDE, OXIDE), 70.0),), METAL), WAVELENGTHS, 50.0)
    plain = solve(Stack((film(OXIDE, 70.0),), METAL), WAVELENGTHS, 50.0)
    np.testing.assert_allclose(graded.R, plain.R, rtol=0, atol=1e-13)
    np.testing.assert_allclose(graded.layer_A, plain.layer_A, rtol=0, atol=1e-13)


def test_a_grade_counts_as_one_layer_and_may_be_swept():
    layers = (film(OXIDE, 20.0), film(Grade(OXIDE, METAL), [0.0, 30.0, 90.0], 0), film(METAL, 9.0))
    found = solve(Stack(layers, GLASS), WAVELENGTHS, 30.0)
    assert found.layer_A.shape == (3, 3, 3)
    total = found.R + found.T + found.layer_A.sum(axis=-2)
    np.testing.assert_allclose(total, 1.0, rtol=0, atol=1e-12)
    np.testing.assert_allclose(found.layer_A[0, 1], 0.0, rtol=0, atol=1e-13)
    without = solve(Stack((layers[0], layers[2]), GLASS), WAVELENGTHS, 30.0)
    np.testing.assert_allclose(found.R[0], without.R, rtol=0, atol=1e-13)


def test_a_grade_begins_with_its_first_medium():
    # A deep grade is slow enough to reflect like the medium it begins with.
    clear, dense = ConstantIndex(1.3), ConstantIndex(3.0, 0.3)
    deep = film(Grade(clear, dense), 5000.0)
    found = solve(Stack((deep,), dense), WAVELENGTHS).R
    np.testing.assert_allclose(found, solve(Stack((), clear), WAVELENGTHS).R, rtol=0.2)
    turned = solve(Stack((film(Grade(dense, clear), 5000.0),), clear), WAVELENGTHS).R
    np.testing.assert_allclose(turned, solve(Stack((), dense), WAVELENGTHS).R, rtol=0.2)


def test_grades_on_both_faces_turn_over_with_the_piece():
    grade = Grade(ConstantIndex(1.46), OXIDE)
    front, back = film(grade, 80.0), film(Grade(METAL, ConstantIndex(1.46)), 12.0)
    stack = Stack((front,), GLASS, 1e6, (back, film(OXIDE, 30.0)))
    by_hand = Stack(
        (film(OXIDE, 30.0), film(Grade(ConstantIndex(1.46), METAL), 12.0)),
        GLASS,
        1e6,
        (film(Grade(OXIDE, ConstantIndex(1.46)), 80.0),),
    )
    seen = solve(stack, WAVELENGTHS, 40.0, side="back")
    expected = solve(by_hand, WAVELENGTHS, 40.0)
    np.testing.assert_allclose(seen.R, expected.R, rtol=0, atol=1e-15)
    np.testing.assert_allclose(seen.layer_A, expected.layer_A[::-1], rtol=0, atol=1e-15)


def test_a_loss_free_metal_mixture_is_passive():
    # Rounding must not leave -0 as its loss, which would turn fading waves into growing ones.
    mixed = Mixture(ConstantIndex(0.0, 3.0), ConstantIndex(0.0, 2.0), 0.5)
    found = solve(Stack((film(mixed, 400.0),), GLASS), WAVELENGTHS, 30.0)
    np.testing.assert_allclose(found.R, 1.0, rtol=0, atol=1e-5)
    assert found.T.max() < 1e-5


# -- refusals ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("how", "error", "words"),
    [
        ({"side": "top"}, InputError, "side 'top' must be 'front' or 'back'"),
        ({"side": "back"}, InputError, r"back .* cannot be seen: .*n=2.5\+3.4i is opaque"),
        ({"angle_deg": 91.0}, OutOfRangeError, "between 0 and 90 degrees; 91 does not"),
        ({"angle_deg": [0.0, np.nan]}, OutOfRangeError, "between 0 and 90 degrees"),
        ({"wavelength_nm": [500.0, np.nan]}, OutOfRangeError, "wavelength_nm must be"),
        ({"wavelength_nm": -5.0}, OutOfRangeError, "wavelength_nm must be"),
        ({"polarization": "r"}, InputError, "polarization 'r' must be 's', 'p' or 'mean'"),
    ],
)
def test_refusals(how, error, words):
    with pytest.raises(error, match=words):
        solve(Stack((film(OXIDE, 40.0),), METAL), **how)


def test_light_cannot_come_through_an_absorbing_medium():
    with pytest.raises(OutOfRangeError, match=r"come through n=1.5\+0.1i: it absorbs"):
        solve(Stack((), GLASS, None, (), ConstantIndex(1.5, 0.1)), WAVELENGTHS)


@pytest.mark.parametrize("text", ["TiO2 0..90nm step 30nm / Ti", "Al 20nm / glass 4mm | MgF2 90nm"])
@pytest.mark.parametrize("angle_deg", [0.0, 55.0, 90.0])
@pytest.mark.parametrize("side", ["front", "back"])
def test_without_absorption_the_rest_is_the_same(text, angle_deg, side):
    stack = parse_stack(text)
    if side == "back" and stack.slab_nm is None:
        pytest.skip("an opaque piece has no back to look at")
    whole = solve(stack, [450.0, 620.0], angle_deg, side=side)
    assert whole.layer_A is not None  # asked for first: R and T come of the same work
    plain = solve(stack, [450.0, 620.0], angle_deg, side=side)
    np.testing.assert_allclose(plain.R, whole.R, rtol=0, atol=1e-14)
    np.testing.assert_allclose(plain.T, whole.T, rtol=0, atol=1e-14)


def test_graded_layers_beyond_measure_are_refused():
    with pytest.raises(LimitError, match=r"make 21,060 films, graded .* at most 20,000"):
        solve(parse_stack("33 x (TiO2->Ti 60nm / Si->Ag 300nm) / 65 x (Al->Ag 10nm) / Ti"))


class Turned:
    """A medium as half of optics writes it: n - ik."""

    label, kind = "turned", "oxide"

    def nk(self, wavelength_nm):
        return np.full(np.shape(wavelength_nm), 2.0 - 0.5j)


@pytest.mark.parametrize("place", ["layer", "substrate", "grade"])
def test_a_medium_that_would_give_light_is_refused(place):
    media = {"layer": OXIDE, "substrate": GLASS} | {place: Turned()}
    top = Grade(Turned(), GLASS) if place == "grade" else media["layer"]
    with pytest.raises(OutOfRangeError, match=r"turned: .* n \+ ik"):
        solve(Stack((film(top, 200.0),), media["substrate"]))


def test_no_answer_can_change_the_next_one():
    before = solve("TiO2 45nm / Ti").R.copy()
    found = solve("TiO2 45nm / Ti")
    with pytest.raises(ValueError, match="read-only"):
        found.wavelength_nm[...] /= 1000.0
    with pytest.raises(ValueError, match="read-only"):
        DEFAULT_WAVELENGTH_NM[0] = 1.0
    own = np.arange(400.0, 700.0, 5.0)
    other = solve("TiO2 45nm / Ti", own)
    own += 20.0  # one's own array stays one's own
    np.testing.assert_array_equal(other.R, solve("TiO2 45nm / Ti", own - 20.0).R)
    np.testing.assert_array_equal(solve("TiO2 45nm / Ti").R, before)
