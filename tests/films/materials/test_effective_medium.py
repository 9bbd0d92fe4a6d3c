"""Effective-medium rules: their defining equations, bounds, limits and branches."""

from __future__ import annotations

import hypothesis.extra.numpy as hnp
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.errors import OutOfRangeError, UnknownNameError
from oxhue.optics.films.materials.catalogue import load_material
from oxhue.optics.films.materials.effective_medium import (
    RULES,
    Grade,
    Mixture,
    bruggeman,
    looyenga,
    maxwell_garnett,
)
from oxhue.optics.films.materials.medium import ConstantIndex, Medium

FRACTIONS = st.floats(0.0, 1.0)
LOSSES = st.one_of(st.just(0.0), st.floats(1e-6, 30.0))
PASSIVE = st.builds(complex, st.floats(-60.0, 20.0).filter(lambda x: abs(x) > 0.05), LOSSES)
LOSSY = st.builds(complex, st.floats(-60.0, 20.0), st.floats(1e-3, 30.0))
CLEAR = st.floats(1.0, 20.0)


def balance(a, b, f, mixed):
    """Left side of Bruggeman's equation, without its denominators."""
    return (1 - f) * (a - mixed) * (b + 2 * mixed) + f * (b - mixed) * (a + 2 * mixed)


@settings(deadline=None, max_examples=400)
@given(PASSIVE, PASSIVE, FRACTIONS)
def test_bruggeman_solves_its_equation_and_never_gains(a, b, f):
    mixed = complex(bruggeman(a, b, f))
    size = max(abs(a), abs(b), abs(mixed)) ** 2
    assert abs(balance(a, b, f, mixed)) <= 1e-12 * size
    assert mixed.imag >= 0.0


def cross(origin, end, point):
    return ((end - origin).conjugate() * (point - origin)).imag


def within_wiener_lens(a, b, mixed, slack):
    """Whether a mixture lies between the straight line and the circle through a, b and 0.

    The complex bounds of two passive parts in unknown proportion: the line is layers along the
    field, the circle layers across it. D. J. Bergman, Phys. Rep. 43, 377 (1978); G. W. Milton,
    J. Appl. Phys. 52, 5286 (1981) (from memory).
    """
    # The mixture lies past the line as seen from 0; 1/ε makes a line of the circle, likewise.
    straight = cross(a, b, mixed) / (abs(b - a) * max(abs(a), abs(b)))
    inverse = cross(1 / a, 1 / b, 1 / mixed) / (abs(1 / b - 1 / a) * max(abs(1 / a), abs(1 / b)))
    turn = np.sign((b / a).imag)
    return straight * turn <= slack and -inverse * turn <= slack


@pytest.mark.parametrize("rule", ["bruggeman", "maxwell-garnett"])
@settings(deadline=None, max_examples=300)
@given(LOSSY, LOSSY, FRACTIONS)
def test_mixtures_of_lossy_parts_lie_within_the_bounds_for_any_microstructure(rule, a, b, f):
    if abs(a - b) < 1e-3 * abs(a) or abs(a) < 0.05 or abs(b) < 0.05:
        return
    mixed = complex(RULES[rule](a, b, f))
    assert within_wiener_lens(a, b, mixed, 1e-9)


@pytest.mark.parametrize("rule", RULES)
@settings(deadline=None, max_examples=200)
@given(CLEAR, CLEAR, FRACTIONS)
def test_mixtures_of_clear_parts_lie_within_wiener(rule, a, b, f):
    mixed = complex(RULES[rule](a, b, f))
    across, along = 1 / ((1 - f) / a + f / b), (1 - f) * a + f * b
    assert mixed.imag == 0.0
    assert across * (1 - 1e-12) <= mixed.real <= along * (1 + 1e-12)


@pytest.mark.parametrize("rule", RULES)
@settings(deadline=None, max_examples=200)
@given(CLEAR, CLEAR, FRACTIONS)
def test_mixtures_of_clear_parts_lie_within_hashin_and_shtrikman(rule, a, b, f):
    # Z. Hashin and S. Shtrikman, J. Appl. Phys. 33, 3125 (1962): the two coated-sphere mixtures,
    # bounds of every isotropic two-phase material.
    def coated(host, core, share):
        return host + share / (1 / (core - host) + (1 - share) / (3 * host))

    if abs(a - b) < 1e-6 or not 1e-9 < f < 1 - 1e-9:
        return
    low, high = sorted([coated(a, b, f), coated(b, a, 1 - f)])
    mixed = float(RULES[rule](a, b, f).real)
    assert low * (1 - 1e-9) <= mixed <= high * (1 + 1e-9)


@pytest.mark.parametrize("rule", RULES)
@settings(deadline=None, max_examples=200)
@given(PASSIVE, PASSIVE)
def test_nothing_of_one_part_leaves_the_other(rule, a, b):
    for f, expected in ((0.0, a), (1.0, b)):
        if rule == "maxwell-garnett" and abs(b + 2 * a) < 0.1:
            continue  # the resonance of a loss-free sphere, where the rule has no value
        np.testing.assert_allclose(RULES[rule](a, b, f), expected, rtol=1e-12, atol=1e-12 * abs(a))


def test_nothing_of_a_metal_leaves_its_host_where_both_roots_meet():
    for b in (-2.0, -2.0 + 1e-9j, -2.0 + 1e-12, -2.0000001 + 1e-10j):
        np.testing.assert_allclose(RULES["bruggeman"](1.0, b, 0.0), 1.0, rtol=1e-12)


@pytest.mark.parametrize("rule", ["bruggeman", "looyenga"])
@settings(deadline=None, max_examples=200)
@given(PASSIVE, PASSIVE, st.integers(0, 64))
def test_symmetric_rules_do_not_mind_the_order(rule, a, b, sixty_fourths):
    f = sixty_fourths / 64.0
    one, other = RULES[rule](a, b, f), RULES[rule](b, a, 1.0 - f)
    np.testing.assert_allclose(one, other, rtol=1e-7, atol=1e-7 * max(abs(a), abs(b)))


@pytest.mark.parametrize("rule", RULES)
@settings(deadline=None, max_examples=200)
@given(PASSIVE, PASSIVE, FRACTIONS)
def test_no_rule_makes_gain_or_a_negative_zero(rule, a, b, f):
    if rule == "maxwell-garnett" and min(abs((b + 2 * a) - f * (b - a)), abs(b + 2 * a)) < 0.1:
        return
    imaginary = RULES[rule](a, b, f).imag
    assert imaginary >= 0.0
    assert not np.signbit(imaginary)


# -- branches without loss ---------------------------------------------------------------------


@pytest.mark.parametrize("f", [0.0, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 1.0])
@pytest.mark.parametrize(("a", "b"), [(-10.0, 2.0), (2.0, -10.0), (-0.5, 3.0), (-30.0, 1.0)])
def test_loss_free_metal_is_the_limit_of_a_lossy_one(a, b, f):
    lossy = bruggeman(*(x + 1e-10j * (x < 0.0) for x in (a, b)), f)
    np.testing.assert_allclose(bruggeman(a, b, f), lossy, rtol=0, atol=1e-8)


def test_metal_spheres_conduct_past_one_third():
    # Bruggeman's percolation threshold for spheres is 1/3.
    metal, host = -1e6 + 1e6j, 2.0
    f = np.array([0.30, 0.32, 0.35, 0.40])
    conducts = np.abs(bruggeman(host, metal, f)) > 1e4
    np.testing.assert_array_equal(conducts, [False, False, True, True])
    dilute = bruggeman(host, metal, 0.2)
    np.testing.assert_allclose(dilute, host / (1 - 3 * 0.2), rtol=1e-4)


# -- values ------------------------------------------------------------------------------------


@pytest.mark.parametrize("rule", ["bruggeman", "maxwell-garnett"])
@pytest.mark.parametrize(("a", "b"), [(2.25, 5.5 + 0.1j), (1.0, -10 + 1.5j), (-8 + 2j, 2.1)])
def test_few_spheres_add_their_polarisability(rule, a, b):
    # ε = a (1 + 3 f (b - a)/(b + 2a)) to first order in f: Clausius and Mossotti.
    f = 1e-6
    slope = (RULES[rule](a, b, f) - a) / f
    np.testing.assert_allclose(slope, 3 * a * (b - a) / (b + 2 * a), rtol=1e-4)


def test_few_grains_by_looyenga():
    slope = (looyenga(2.0, 9.0, 1e-7) - 2.0) / 1e-7
    expected = 3 * 2.0 ** (2 / 3) * (9.0 ** (1 / 3) - 2.0 ** (1 / 3))
    np.testing.assert_allclose(slope, expected, rtol=1e-5)


def test_bruggeman_by_hand():
    # f = 1/2, ε = 1 and 4: 2ε² - 2.5 ε - 4 = 0 up to scale has the root (2.5 + √38.25)/4.
    np.testing.assert_allclose(bruggeman(1.0, 4.0, 0.5), (2.5 + np.sqrt(38.25)) / 4, rtol=1e-15)


def test_maxwell_garnett_by_hand():
    # β = 3/6, f = 0.2: (1 + 0.2)/(1 - 0.1) = 4/3.
    np.testing.assert_allclose(maxwell_garnett(1.0, 4.0, 0.2), 4 / 3, rtol=1e-15)


def test_looyenga_by_hand():
    np.testing.assert_allclose(looyenga(1.0, 8.0, 0.5), 1.5**3, rtol=1e-15)


# -- shapes and media --------------------------------------------------------------------------


@pytest.mark.parametrize("rule", RULES)
@settings(deadline=None, max_examples=30)
@given(hnp.mutually_broadcastable_shapes(num_shapes=3, max_dims=3, max_side=4))
def test_rules_broadcast(rule, shapes):
    rng = np.random.default_rng(1)
    a, b, f = (rng.random(shape) for shape in shapes.input_shapes)
    mixed = RULES[rule](1 + a, 2 + b + 1j, f)
    assert mixed.shape == shapes.result_shape
    assert mixed.dtype == complex


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("fraction", [-0.01, 1.01, np.nan, np.inf])
def test_refuses_what_is_no_fraction(rule, fraction):
    with pytest.raises(OutOfRangeError, match="must lie between 0 and 1"):
        RULES[rule](2.0, 3.0, [0.5, fraction])
    with pytest.raises(OutOfRangeError, match="must lie between 0 and 1"):
        Mixture(ConstantIndex(1.5), ConstantIndex(2.0), fraction, rule)


def test_refuses_an_unknown_rule():
    with pytest.raises(UnknownNameError, match="'average'; use one of bruggeman, maxwell-garnett"):
        Mixture(ConstantIndex(1.5), ConstantIndex(2.0), 0.5, "average")


@pytest.mark.parametrize("rule", RULES)
def test_mixture_of_media(rule):
    mixture = Mixture(ConstantIndex(2.5, 3.4), ConstantIndex(1.0), 0.6, rule)
    assert isinstance(mixture, Medium)
    assert mixture.label == "n=2.5+3.4i:n=1.0 60%"
    assert mixture.kind == "constant"
    eps = RULES[rule]((2.5 + 3.4j) ** 2, 1.0, 0.6)
    nk = mixture.nk(np.array([[400.0, 500.0]]))
    assert nk.shape == (1, 2)
    np.testing.assert_allclose(nk, np.sqrt(eps), rtol=1e-15)


def test_grade_slices_run_from_first_to_second():
    grade = Grade(ConstantIndex(1.5), ConstantIndex(2.5, 0.1))
    slices = grade.slices(4, [400.0, 500.0])
    assert slices.shape == (4, 2)
    for row, share in zip(slices, [0.125, 0.375, 0.625, 0.875], strict=True):
        np.testing.assert_array_equal(row, Mixture(grade.first, grade.second, share).nk([4.0, 5.0]))
    assert np.all(np.diff(slices.real, axis=0) > 0.0)
    assert grade.label == "n=1.5->n=2.5+0.1i"
    assert grade.reverse().label == "n=2.5+0.1i->n=1.5"
    assert grade.nk(500.0) == Mixture(grade.first, grade.second, 0.5).nk(500.0)
    real = Grade(load_material("TiO2"), load_material("Ti"))
    nm = np.array([450.0, 650.0])
    np.testing.assert_array_equal(real.nk(nm), Mixture(real.first, real.second, 0.5).nk(nm))


# -- constant indices --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("n", "k"), [(-1.5, 0), (1.5, -0.1), (0, 0), (np.nan, 0), (1, np.nan), (1001, 0), (1e-7, 0)]
)
def test_constant_index_refuses_what_is_no_index(n, k):
    with pytest.raises(OutOfRangeError, match="must have n and k between 0 and 1000"):
        ConstantIndex(n, k)


def test_constant_index_at_any_wavelengths():
    assert ConstantIndex(1.5, 0.2).nk(np.ones((2, 3))).tolist() == [[1.5 + 0.2j] * 3] * 2
    assert ConstantIndex(1.5).nk([]).shape == (0,)


def test_labels_hold_plain_numbers():
    assert ConstantIndex(np.float64(1.46)).label == "n=1.46"
    assert ConstantIndex(2, 1e-7).label == "n=2.0+1e-07i"
