"""Stacks out of a palette, against the general gradient, which has references of its own."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.films.engine.gradient import coherent_gradient
from oxhue.optics.films.engine.incidence import Incidence
from oxhue.optics.films.engine.palette import (
    MOST_SINGLE,
    make_palette_waves,
    solve_palette,
    turn_by,
)

GRID = np.linspace(400.0, 700.0, 41)
# Palette, ambient, substrate, angles [°].
CASES = {
    "clear": ((1.38, 2.35), 1.0, 1.52, (0.0,)),
    "clear, oblique": ((1.38, 2.35, 1.9), 1.0, 1.52, (0.0, 45.0)),
    "a little absorbing": ((1.38, 2.35 + 0.01j), 1.0, 1.52, (30.0,)),
    "metals on metal": ((1.38, 0.2 + 3.0j, 3.1 + 3.3j), 1.0, 1.5 + 6.0j, (0.0, 60.0)),
    "totally reflected": ((1.38, 2.35), 1.52, 1.52, (50.0, 75.0)),
}


def both_ways(case, polarization, layers=9, stacks=5, shared=False):
    palette, ambient, substrate, angles = CASES[case]
    rng = np.random.default_rng(layers)
    rows, (first, last) = (
        np.array([np.full(GRID.size, complex(n)) for n in some])
        for some in (palette, (ambient, substrate))
    )
    which = rng.integers(0, len(palette), (1 if shared else stacks, layers))
    which = np.broadcast_to(which, (stacks, layers))
    nm = rng.uniform(0.0, 150.0, (stacks, layers))
    lit = Incidence.at(first.real[None], np.array(angles))
    ready = make_palette_waves(rows, (first, last), GRID, incidence=lit, polarization=polarization)
    index = np.empty((stacks, layers + 2, GRID.size), dtype=complex)
    index[:, 0], index[:, 1:-1], index[:, -1] = first, rows[which], last
    general = coherent_gradient(
        index[:, None], nm[:, None], GRID, incidence=lit, polarization=polarization,
        to_index=False,
    )  # fmt: skip
    return ready, which, nm, general


def flat(array):
    """Angles and wavelengths as one axis, the last."""
    if array.ndim == 4:
        array = array.swapaxes(1, 2)
    return array.reshape(*array.shape[:-2], -1)


@pytest.mark.parametrize("polarization", ["s", "p", "mean"])
@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("shared", [True, False])
def test_powers_and_slopes_are_those_of_the_general_way(case, polarization, shared):
    ready, which, nm, general = both_ways(case, polarization, shared=shared)
    got = solve_palette(ready, which, nm, own=slice(2, 7), slopes="RT")
    wanted = general.R, general.T, general.dR_dd[:, :, 2:7], general.dT_dd[:, :, 2:7]
    for own, other in zip((got.R, got.T, got.dR, got.dT), wanted, strict=True):
        np.testing.assert_allclose(own, flat(other), rtol=0.0, atol=1e-12)


@pytest.mark.parametrize(
    ("layers", "case"), [(9, "metals on metal"), (MOST_SINGLE, "clear, oblique")]
)
def test_single_precision_holds_to_a_millionth(layers, case):
    ready, which, nm, _ = both_ways(case, "mean", layers=layers)
    whole, single = (
        solve_palette(lit, which, nm, own=slice(0, layers), slopes="RT")
        for lit in (ready, ready.in_single)
    )
    assert single.R.dtype == np.float32
    np.testing.assert_allclose(single.R, whole.R, rtol=0.0, atol=2e-5)
    np.testing.assert_allclose(single.T, whole.T, rtol=1e-3, atol=2e-5)
    np.testing.assert_allclose(single.dR, whole.dR, rtol=0.0, atol=1e-3 * abs(whole.dR).max())


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("power", ["R", "T"])
def test_slopes_of_one_power_alone_are_the_same(case, power):
    ready, which, nm, _ = both_ways(case, "mean")
    both = solve_palette(ready, which, nm, own=slice(0, 9), slopes="RT")
    one = solve_palette(ready, which, nm, own=slice(0, 9), slopes=power)
    np.testing.assert_allclose(getattr(one, f"d{power}"), getattr(both, f"d{power}"), atol=1e-15)
    assert getattr(one, "dT" if power == "R" else "dR") is None


def test_blocks_do_not_show(monkeypatch):
    ready, which, nm, _ = both_ways("a little absorbing", "mean", stacks=11)
    whole = solve_palette(ready, which, nm, own=slice(0, 9), slopes="RT")
    monkeypatch.setattr("oxhue.optics.films.engine.palette._BLOCK", 200)
    parts = solve_palette(ready, which, nm, own=slice(0, 9), slopes="RT")
    for name in ("R", "T", "dR", "dT"):
        np.testing.assert_array_equal(getattr(parts, name), getattr(whole, name))


def test_sixty_layers_keep_their_digits():
    ready, which, nm, general = both_ways("clear", "s", layers=60)
    got = solve_palette(ready, which, nm, own=slice(0, 60), slopes="T")
    np.testing.assert_allclose(got.R, flat(general.R), rtol=0.0, atol=1e-11)
    np.testing.assert_allclose(got.dT, flat(general.dT_dd), rtol=0.0, atol=1e-11)


def test_no_layers_are_a_bare_face():
    ready, _, _, _ = both_ways("clear", "s")
    bare = solve_palette(
        ready, np.zeros((1, 0), dtype=int), np.zeros((3, 0)), own=slice(0, 0), slopes="R"
    )
    np.testing.assert_allclose(bare.R, (0.52 / 2.52) ** 2)


def test_a_wave_along_the_surface_is_left_to_the_general_way():
    rows = np.full((1, GRID.size), 1.0 + 0j)
    glass = np.full(GRID.size, 1.52 + 0j)
    critical = np.rad2deg(np.arcsin(1.0 / 1.52))
    lit = Incidence.at(glass.real[None], np.array([critical]))
    assert make_palette_waves(
        rows, (glass, glass), GRID, incidence=lit, polarization="s"
    ) is None  # fmt: skip


def test_the_exponential_holds_for_many_turns():
    angle = np.linspace(-60.0, 60.0, 10_001)
    np.testing.assert_allclose(turn_by(angle.copy()), np.exp(1j * angle), rtol=0.0, atol=2e-14)
