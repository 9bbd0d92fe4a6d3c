"""Each law: closed form against a stiff solver of its rate, inverse, limits and order."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from oxhue.optics.oxidation.laws import FIXED_EXPONENTS, LAWS

SHAPES = {
    "linear": 1.0,
    "parabolic": 2.0,
    "cubic": 3.0,
    "power": 2.6,
    "linear-parabolic": 90.0,
    "logarithmic": 6.0,
    "inverse logarithmic": 40.0,
    "limiting film": 55.0,
}
# An exposure that takes each law from 3 nm to some tens of nanometres.
EXPOSURES = {name: float(LAWS[name].exposure(3.0, 30.0, s)) for name, s in SHAPES.items()}


@pytest.mark.parametrize("name", LAWS)
def test_closed_form_agrees_with_a_stiff_solver(name):
    law, shape = LAWS[name], SHAPES[name]
    start, exposure = np.array([3.0]), EXPOSURES[name]
    solved = solve_ivp(
        lambda _, x: exposure * law.rate(x, shape), (0.0, 1.0), start, method="LSODA",
        rtol=1e-12, atol=1e-13,
    )  # fmt: skip
    # 1e-8 is what the closed forms are asked for; the solver runs four decades finer.
    assert law.after(start, exposure, shape)[0] == pytest.approx(solved.y[0, -1], rel=1e-8)


@pytest.mark.parametrize("name", LAWS)
@given(start=st.floats(2.0, 25.0), more=st.floats(0.1, 20.0))
@settings(deadline=None, max_examples=40)
def test_exposure_is_the_inverse_of_growth(name, start, more):
    law, shape = LAWS[name], SHAPES[name]
    start_nm, end_nm = np.array([start]), np.array([start + more])
    exposure = law.exposure(start_nm, end_nm, shape)
    assert law.after(start_nm, exposure, shape)[0] == pytest.approx(start + more, rel=1e-9)


@pytest.mark.parametrize("name", LAWS)
@given(parts=st.lists(st.floats(0.01, 1.0), min_size=2, max_size=5))
@settings(deadline=None, max_examples=30)
def test_exposures_add_up_in_any_pieces(name, parts):
    law, shape = LAWS[name], SHAPES[name]
    film = np.array([2.5])
    for part in parts:
        film = law.after(film, part * EXPOSURES[name], shape)
    whole = law.after(np.array([2.5]), sum(parts) * EXPOSURES[name], shape)
    assert film[0] == pytest.approx(whole[0], rel=1e-9)


@pytest.mark.parametrize("name", LAWS)
@pytest.mark.parametrize("shape", [(), (4,), (2, 3), (0,)])
def test_laws_broadcast(name, shape):
    start = np.full(shape, 3.0)
    after = LAWS[name].after(start, np.full(shape, EXPOSURES[name]), np.full(shape, SHAPES[name]))
    assert after.shape == shape
    assert np.all(after > start)


@pytest.mark.parametrize("name", LAWS)
def test_no_exposure_no_growth(name):
    start = np.array([3.0])
    assert LAWS[name].after(start, np.array([0.0]), SHAPES[name])[0] == pytest.approx(3.0, abs=1e-9)


@pytest.mark.parametrize("name", [n for n in LAWS if n != "logarithmic"])
def test_growth_starts_from_bare_metal(name):
    # The logarithmic law starts too, at its full rate; its own test is the closed form above.
    bare = LAWS[name].after(np.array([0.0]), np.array([EXPOSURES[name]]), SHAPES[name])
    assert 0.0 < bare[0] < 31.0


def test_a_limiting_film_stops_and_does_not_shrink():
    law = LAWS["limiting film"]
    assert law.after(np.array([2.0]), np.array([1e6]), 4.0)[0] == pytest.approx(4.0)
    assert law.after(np.array([9.0]), np.array([1e6]), 4.0)[0] == 9.0
    assert law.exposure(np.array([2.0]), np.array([4.0]), 4.0)[0] == np.inf


def test_linear_parabolic_law_has_both_limits():
    law = LAWS["linear-parabolic"]
    thin = law.after(np.array([0.0]), np.array([0.01]), 100.0)[0]
    thick = law.after(np.array([0.0]), np.array([1e10]), 100.0)[0]
    assert thin == pytest.approx(0.01 / 100.0, rel=1e-3)
    assert thick == pytest.approx(1e5, rel=1e-3)


def test_inverse_logarithm_is_nearly_linear_in_the_logarithm_of_time():
    # 1/x = a - b ln t, N. Cabrera and N. F. Mott, Rep. Prog. Phys. 12 (1949) 163, for x << x1.
    law = LAWS["inverse logarithmic"]
    times = np.geomspace(1e-13, 1e-9, 5)
    inverse = 1.0 / law.after(np.full(5, 1.0), times, np.full(5, 60.0))
    steps = np.diff(inverse)
    assert np.all(steps < 0.0)
    np.testing.assert_allclose(steps, steps.mean(), rtol=0.15)


def test_every_law_states_equation_range_and_source():
    for law in LAWS.values():
        assert law.equation
        assert law.holds
        assert law.source
    assert set(FIXED_EXPONENTS) < set(LAWS)
