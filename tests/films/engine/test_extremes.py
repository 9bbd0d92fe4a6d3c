"""Numbers at the ends of what a number can be: no overflow, nothing invalid, sums still hold.

Underflow is let pass: light that does not come through a metre of metal is zero.
"""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from oxhue.optics.errors import InputError
from oxhue.optics.films.engine.field import field_profile
from oxhue.optics.films.engine.thickness_scan import base_of, thickness_scan
from oxhue.optics.films.engine.transfer_matrix import solve_arrays
from oxhue.optics.films.materials.dispersion import (
    cauchy,
    drude_lorentz,
    tauc_lorentz,
    urbach_tail,
)
from oxhue.optics.films.materials.effective_medium import RULES
from oxhue.optics.films.materials.medium import ConstantIndex
from oxhue.optics.films.materials.nk_table import Material
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.films.stack import Layer, Stack

LOUD = {"over": "raise", "divide": "raise", "invalid": "raise", "under": "ignore"}
NM = np.array([380.0, 555.5, 780.0])

n = st.sampled_from([0.04, 0.5, 1.0, 1.0 + 1e-15, 1.52, 4.0, 10.0]) | st.floats(0.05, 10.0)
k = st.sampled_from([0.0, 5e-324, 1e-300, 1e-16, 1e-8, 1.0, 30.0, 100.0]) | st.floats(0.0, 40.0)
index = st.builds(complex, n, k)
thickness = st.sampled_from([0.0, 5e-324, 1e-300, 1e-12, 1.0, 100.0, 1e6, 1e9]) | st.floats(0, 1e4)
angle = st.sampled_from([0.0, 5e-324, 1e-160, 1e-8, 45.0, 89.9999999, 90.0]) | st.floats(0.0, 90.0)
films = st.lists(st.tuples(index, thickness), max_size=5)


@settings(max_examples=150, deadline=None)
@given(films, index, angle, st.sampled_from(["s", "p", "mean"]))
@example([(0.05 + 100j, 1e9), (10.0 + 0j, 1e9)], 1.0 + 0j, 90.0, "p")
@example([(0.5 + 1e-8j, 1e9)], 0.04 + 0j, 0.0, "s")  # millions of turns, and light comes back
def test_light_is_shared_out_whatever_the_layers(films, below, angle_deg, polarization):
    indices = np.array([1.0, *(one for one, _ in films), below])
    with np.errstate(**LOUD):
        found = solve_arrays(
            np.broadcast_to(indices[:, None], (indices.size, 3)),
            np.array([nm for _, nm in films]),
            NM,
            angle_deg,
            polarization,
        )
    shares = np.concatenate([found.R[None], found.T[None], np.moveaxis(found.layer_A, -2, 0)])
    assert np.isfinite(shares).all()
    assert shares.min() >= -1e-12
    np.testing.assert_allclose(shares.sum(axis=0), 1.0, rtol=0, atol=1e-11)


@settings(max_examples=60, deadline=None)
@given(films, films, index, st.floats(1e4, 1e9), st.floats(0.0, 89.9), st.sampled_from("fb"))
def test_slabs_share_light_out_too(front, back, below, slab_nm, angle_deg, side):
    layers = [[Layer(ConstantIndex(i.real, i.imag), np.asarray(min(d, 1e6))) for i, d in one]
              for one in (front, back)]  # fmt: skip
    stack = Stack(
        tuple(layers[0]), ConstantIndex(below.real, below.imag), slab_nm, tuple(layers[1])
    )
    with np.errstate(**LOUD):
        found = solve(stack, NM, angle_deg, side="front" if side == "f" else "back")
    for share in (found.R, found.T):
        assert np.isfinite(share).all()
        assert share.min() >= -1e-12
        assert share.max() <= 1.0 + 1e-12


@settings(max_examples=60, deadline=None)
@given(index, index, thickness, angle)
@example(0.04 + 0j, 1.52 + 0j, 300.0, 89.9)
@example(0.5 + 0j, 4.0 + 1j, 120.0, np.rad2deg(np.arcsin(0.5)))  # its own critical angle
@example(1.0 + 0j, 0.04 + 30j, 1e4, 90.0)
def test_one_film_at_the_ends_agrees_with_the_general_way(film, below, nm, angle_deg):
    # The last digit of a phase of many turns is worth as much as the resonance is narrow.
    nm = np.array([0.25, 0.5, 0.75, 1.0]) * min(nm, 1e4)
    base = base_of(Stack((), ConstantIndex(below.real, below.imag)), NM)
    with np.errstate(**LOUD):
        share = thickness_scan(np.full(3, film), [base], nm, wavelength_nm=NM, angle_deg=angle_deg)
        whole = solve_arrays(
            np.broadcast_to(np.array([1.0, film, below])[:, None], (3, 3)),
            nm[:, None],
            NM,
            angle_deg,
        )
    np.testing.assert_allclose(share[0], whole.R, rtol=0, atol=1e-10)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(RULES)), index, index, st.sampled_from([0, 5e-324, 1e-16, 0.5, 1]))
def test_mixtures_of_anything(rule, a, b, share):
    with np.errstate(**LOUD):
        mixed = RULES[rule](a * a, b * b, share)
    assert np.isfinite(mixed)
    assert mixed.imag >= 0.0


@settings(max_examples=40, deadline=None)
@given(st.sampled_from([1e-3, 1.0, 550.0, 1e6]), st.floats(1e-6, 50), st.floats(0.1, 20))
def test_models_of_an_index_stay_numbers(nm, size, width):
    grid = np.array([nm, 2.0 * nm])
    with np.errstate(**LOUD):
        for made in (
            drude_lorentz(grid, 1.0 + size, size, loss_ev=width, oscillators=(size, width, 0.3)),
            tauc_lorentz(grid, size, 4.0 + width, width_ev=width, gap_ev=3.0, eps_inf=1.0 + size),
        ):
            assert np.isfinite(np.asarray(made[0])).all()
        if nm >= 550.0:
            assert np.isfinite(np.asarray(cauchy(grid, 1.5, 0.01 * size)[0])).all()
            assert np.isfinite(np.asarray(urbach_tail(grid, 1e-300 * size, width)[0])).all()


# -- the same thing written in another way --------------------------------------------------


@settings(max_examples=40, deadline=None)
@given(films, index, st.floats(0.0, 89.0), st.integers(0, 4), st.floats(0.0, 1.0))
def test_a_layer_in_two_parts_is_the_same_layer(films, below, angle_deg, which, part):
    films = [(i, min(d, 3e3)) for i, d in films] or [(2.0 + 0.1j, 50.0)]
    which %= len(films)
    i, d = films[which]
    split = [*films[:which], (i, part * d), (i, d - part * d), *films[which + 1 :]]
    whole, parted = (
        solve_arrays(
            np.broadcast_to(np.array([1.0, *(a for a, _ in one), below])[:, None],
                            (len(one) + 2, 3)),
            [nm for _, nm in one], NM, angle_deg,
        )
        for one in (films, split)
    )  # fmt: skip
    np.testing.assert_allclose(parted.R, whole.R, rtol=0, atol=1e-10)
    np.testing.assert_allclose(parted.T, whole.T, rtol=0, atol=1e-10)


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 99_999))
def test_units_of_length_are_the_same_length(hundredths):
    nm = hundredths / 100.0
    written = [f"TiO2 {nm!r}nm / Ti", f"TiO2 {nm * 10!r} Å / Ti", f"TiO2 {nm / 1e3!r}um / Ti",
               f"TiO2 {nm / 1e6!r}mm / Ti"]  # fmt: skip
    thicknesses = [float(parse_stack(text).layers[0].thickness_nm) for text in written]
    np.testing.assert_allclose(thicknesses, nm, rtol=1e-15)


@settings(max_examples=20, deadline=None)
@given(st.integers(1, 6), st.integers(1, 3))
def test_a_repeat_is_what_it_repeats(count, inner):
    group = " / ".join(["SiO2 31nm", "TiO2 17nm"][:inner])
    long = " / ".join([group] * count)
    repeated, written = parse_stack(f"{count} x ({group}) / Si"), parse_stack(f"{long} / Si")
    np.testing.assert_array_equal(solve(repeated).R, solve(written).R)


# -- what is no number ----------------------------------------------------------------------


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
@pytest.mark.parametrize(
    "make",
    [
        lambda bad: solve_arrays([[1.0], [bad], [1.5]], [10.0], [550.0]),
        lambda bad: solve_arrays([[1.0], [1.5 + 1j * bad], [1.5]], [10.0], [550.0]),
        lambda bad: solve_arrays([[1.0], [2.0], [1.5]], [bad], [550.0]),
        lambda bad: solve_arrays([[1.0], [2.0], [1.5]], [10.0], [bad]),
        lambda bad: solve_arrays([[1.0], [2.0], [1.5]], [10.0], [550.0], bad),
        ConstantIndex,
        lambda bad: ConstantIndex(1.5, bad),
        lambda bad: Layer(ConstantIndex(1.5), np.asarray(bad)),
        lambda bad: Stack((), ConstantIndex(1.5), bad),
        lambda bad: solve(parse_stack("TiO2 45nm / Ti"), [bad]),
        lambda bad: solve(parse_stack("TiO2 45nm / Ti"), angle_deg=bad),
        lambda bad: field_profile([1.0, 2.0, 1.5], [bad], 550.0),
        parse_stack("Ti").substrate.nk,
        *(lambda bad, rule=rule: RULES[rule](bad, 2.0, 0.5) for rule in sorted(RULES)),
        *(lambda bad, rule=rule: RULES[rule](2.0, 2.0, bad) for rule in sorted(RULES)),
    ],
)
def test_what_is_no_number_is_refused(make, bad):
    with pytest.raises(InputError):
        make(bad)


def test_an_absorption_too_small_for_its_slope_to_be_computed_is_read():
    nm = np.array([400.0, 500.0, 600.0, 700.0])
    material = Material(
        "x", "", "", "oxide", nm, np.full(4, 1.5), np.array([0.0, 1e-310, 3e-310, 1e-309])
    )
    index = material.nk([450.0, 500.0, 650.0])
    assert np.all((index.imag >= 0.0) & (index.imag <= 1e-309))
    np.testing.assert_array_equal(index.real, 1.5)
