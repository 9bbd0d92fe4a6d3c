"""The film as a pump: balances of gas and atoms, closed forms, and both steady states."""

from dataclasses import replace

import numpy as np
import pytest

from oxhue.optics.deposition import film_pump
from oxhue.optics.deposition.film_pump import FilmBalance, SputterTarget, solve_film, take_draws
from oxhue.optics.deposition.gases import (
    GASES,
    MOLECULES_PER_MBAR_L,
    mixture_shares,
    uptake_of,
    wall_speed_l_s_cm2,
)

N2, O2 = GASES.index("N2"), GASES.index("O2")
OXYGEN_ATOMS = np.array([gas.count("O") + gas.endswith("O2") for gas in GASES])
NITROGEN_ATOMS = np.array([2 * (gas == "N2") for gas in GASES])
WALL_CM2, PIECE_CM2, TARGET_CM2 = 1150.0, 10.0, 20.0


def balance(flow, *, metal="Ti", speed=2.0, atoms=4e17, sputter=False, gas="leak", doubt=0.0):
    """A chamber whose inflow is an array of draws [mbar l/s]."""
    inflow = np.atleast_1d(np.asarray(flow, dtype=float))
    n, uptake = inflow.size, uptake_of(metal)
    shares = np.array([float(one == gas) for one in GASES])
    if gas not in GASES:
        shares = mixture_shares(gas)
    sticking = uptake.sticking * np.exp(
        doubt * np.random.default_rng(3).normal(size=(n, 1))
    )  # fmt: skip
    speeds = np.broadcast_to(np.asarray(speed, dtype=float), (n,))[:, None]
    atoms = np.broadcast_to(np.asarray(atoms, dtype=float), (n,))
    target = None
    if sputter:
        target = SputterTarget(TARGET_CM2, atoms / TARGET_CM2, np.full(n, 0.2), np.full(n, 0.4))
    return FilmBalance(
        inflow[:, None] * shares / speeds,
        np.tile(1.0 / speeds, len(GASES)),
        np.minimum(sticking, 1.0) * wall_speed_l_s_cm2(),
        np.tile([WALL_CM2, PIECE_CM2], (n, 1)),
        np.stack([0.95 * atoms / WALL_CM2, 0.05 * atoms / PIECE_CM2], axis=1),
        np.zeros((n, 2)),
        uptake.full_oxide,
        uptake.full_nitride,
        target,
    )


FLOWS = np.geomspace(1e-6, 10.0, 60)
CASES = [
    pytest.param(metal, sputter, gas, id=f"{metal}-{'sputter' if sputter else 'hot'}-{gas}")
    for metal in ("Ti", "Al", "Cu", "Nb")
    for sputter in (False, True)
    for gas in ("leak", "walls", "O2", "N2")
]


@pytest.mark.parametrize("start", ["clean", "poisoned"])
@pytest.mark.parametrize(("metal", "sputter", "gas"), CASES)
def test_what_comes_in_goes_out_or_into_the_film(metal, sputter, gas, start):
    """Gas by gas, and oxygen and nitrogen atom by atom, to 1e-9 of what comes in."""
    film = balance(FLOWS, metal=metal, sputter=sputter, gas=gas, doubt=0.4)
    state = solve_film(film, start)
    assert np.all(state.settled)
    inflow = film.alone_mbar / film.per_speed_s_l
    pumped = state.partial_mbar / film.per_speed_s_l
    per_flow = inflow.sum(axis=1, keepdims=True)
    np.testing.assert_allclose((pumped + state.taken_mbar_l_s) / per_flow, inflow / per_flow,
                               rtol=0, atol=1e-9)  # fmt: skip
    lands = film.flux_per_cm2_s * film.area_cm2 * state.metal_share[:, None]
    for atoms, full, share in (
        (OXYGEN_ATOMS, film.full_oxide, state.oxide),
        (NITROGEN_ATOMS, film.full_nitride, state.nitride),
    ):
        taken = MOLECULES_PER_MBAR_L * state.taken_mbar_l_s @ atoms
        came = MOLECULES_PER_MBAR_L * inflow @ atoms
        held = np.sum(full * share * lands, axis=1)
        np.testing.assert_allclose(held, taken, rtol=1e-9, atol=1e-9 * (came.max() + 1.0))


def test_water_leaves_its_hydrogen():
    film = balance([1e-3], gas="H2O", metal="Al")
    state = solve_film(film)
    hydrogen = state.partial_mbar[0, GASES.index("H2")] / film.per_speed_s_l[0, 0]
    taken = state.taken_mbar_l_s[0, GASES.index("H2O")]
    assert hydrogen == pytest.approx(taken, rel=1e-9)


def test_one_gas_and_one_wall_in_closed_form():
    """Q = S p + A k p (1 - θ) with θ = R/(R + bF) and R = 2 k p N is a quadratic in p."""
    film = balance([1e-3], gas="O2", metal="Al")
    film = replace(film, area_cm2=np.array([[WALL_CM2, 0.0]]))
    k, F, b = film.wall_l_s_cm2[0, O2], film.flux_per_cm2_s[0, 0], film.full_oxide
    Q, S = 1e-3, 2.0
    g = 2.0 * k * MOLECULES_PER_MBAR_L / (b * F)  # R/(bF) = g p
    # (S p - Q)(1 + g p) + A k p = 0
    p = max(np.roots([S * g, S + WALL_CM2 * k - Q * g, -Q]))
    state = solve_film(film)
    assert state.partial_mbar[0, O2] == pytest.approx(p, rel=1e-9)
    assert state.oxide[0, 0] == pytest.approx(g * p / (1.0 + g * p), rel=1e-9)


def test_oxygen_drives_nitrogen_out():
    dry = balance([1e-2], gas="N2")
    wet = replace(dry, alone_mbar=dry.alone_mbar.copy())
    wet.alone_mbar[0, O2] = 0.05
    assert solve_film(wet).nitride[0, 1] < 0.2 * solve_film(dry).nitride[0, 1]
    # and nitrogen never oxygen: of a metal that takes both the oxide is as without nitrogen
    oxygen = replace(dry, alone_mbar=np.where(np.arange(len(GASES)) == O2, 0.05, 0.0)[None, :])
    np.testing.assert_allclose(solve_film(wet).oxide, solve_film(oxygen).oxide, rtol=1e-9)


def test_pressure_that_is_held_is_not_pumped_by_the_film():
    film = balance([1e-3])
    held = replace(film, per_speed_s_l=np.zeros_like(film.per_speed_s_l))
    np.testing.assert_array_equal(solve_film(held).partial_mbar, film.alone_mbar)


@pytest.mark.parametrize("start", ["clean", "poisoned"])
@pytest.mark.parametrize("metal", ["Ti", "Cu", "Al"])
def test_states_are_those_that_plain_repetition_ends_in(metal, start):
    """The map repeated 3,000 times, without any Newton's step."""
    rng = np.random.default_rng(1)
    low, high = np.array([[-4.0], [-1.3], [16.0]]), np.array([[0.0], [0.7], [18.0]])
    flow, speed, atoms = 10.0 ** rng.uniform(low, high, (3, 150))
    film = balance(flow, metal=metal, speed=speed, atoms=atoms, sputter=True, doubt=0.4)
    oxygen, nitrogen = film_pump._first_rates(film, start)
    for _ in range(3000):
        oxygen, nitrogen = film_pump._step(film, oxygen, nitrogen)
    plain = film_pump._describe(film, oxygen, nitrogen, np.ones(150, dtype=bool))
    state = solve_film(film, start)
    other = np.abs(state.oxide[:, 1] - plain.oxide[:, 1]) > 1e-6
    assert np.count_nonzero(other) <= 2  # within a hair of a fold


def test_a_hot_source_has_one_state():
    film = balance(FLOWS)
    clean, poisoned = solve_film(film), solve_film(film, "poisoned")
    np.testing.assert_allclose(clean.oxide, poisoned.oxide, rtol=1e-8, atol=1e-12)


def test_draws_do_not_see_each_other():
    film = balance(FLOWS, sputter=True)
    whole = solve_film(film)
    for i in (0, 30, 45, 59):
        alone = solve_film(take_draws(film, [i]))
        np.testing.assert_allclose(alone.oxide[0], whole.oxide[i], rtol=1e-8)


def test_more_gas_is_never_less_oxide_on_either_branch():
    film = balance(np.geomspace(1e-4, 1.0, 200), metal="Al", gas="O2", sputter=True)
    for start in ("clean", "poisoned"):
        assert np.all(np.diff(solve_film(film, start).oxide[:, 1]) > -1e-9)


def test_what_comes_straight_to_the_piece_adds_to_the_gas():
    film = balance([1e-4])
    direct = replace(film, direct_per_cm2_s=np.array([[0.0, 1e16]]))
    assert solve_film(direct).oxide[0, 1] > 2.0 * solve_film(film).oxide[0, 1]
    assert solve_film(direct).oxide[0, 0] == pytest.approx(solve_film(film).oxide[0, 0], rel=0.02)
