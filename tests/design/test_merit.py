"""Misses of goals, their slopes, and the ways of looking behind them."""

from __future__ import annotations

import numpy as np
import pytest

import oxhue
from oxhue.optics.colour.colour import to_colour
from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.goal_terms import colour_target
from oxhue.optics.design.merit import make_merit
from oxhue.optics.design.observation import make_observation, make_stack
from oxhue.optics.errors import InputError, LimitError, OutOfRangeError
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.films.solve import solve

PALETTE = tuple(map(parse_medium, ("Al", "SiO2", "TiO2")))
WHICH, THICKNESS = np.array([2, 1, 2, 0]), np.array([60.0, 80.0, 55.0, 14.0])
BASES = ("glass", "glass 4mm", "Cr 5nm / glass 4mm | MgF2 100nm", "SiO2 20nm / Ti")


def merit(on, *goals, palette=PALETTE, **more):
    return make_merit(parse_stack(on), palette, [parse_goal(text) for text in goals], **more)


@pytest.mark.parametrize("polarization", ["mean", "s", "p"])
@pytest.mark.parametrize("back", [False, True])
@pytest.mark.parametrize("on", BASES)
def test_observations_see_what_solve_says(on, back, polarization):
    base, grid = parse_stack(on), np.linspace(420.0, 680.0, 9)
    if back and base.is_opaque(grid):
        with pytest.raises(InputError, match="opaque"):
            make_observation(
                base, PALETTE, grid, angle_deg=[0.0], polarization=polarization, back=back
            )
        return
    sight = make_observation(
        base, PALETTE, grid, angle_deg=[0.0, 40.0], polarization=polarization, back=back
    )
    found = sight.powers(sight.index(WHICH), THICKNESS)
    stack = make_stack(base, PALETTE, which=WHICH, thickness_nm=THICKNESS)
    for i, angle in enumerate((0.0, 40.0)):
        side = "back" if back else "front"
        said = solve(stack, grid, angle, polarization=polarization, side=side)
        np.testing.assert_allclose(found.R[i], said.R, atol=1e-13)
        np.testing.assert_allclose(found.T[i], said.T, atol=1e-13)
    lead = sight.powers(
        sight.index(WHICH, np.zeros((2, 4))), np.tile(THICKNESS, (2, 1)), np.zeros(2)
    )
    np.testing.assert_allclose(lead.R[1], found.R, atol=1e-13)


GOALS = (
    "R>97% 420..680nm 0..60deg", "T=50% 500nm p at 30deg", "R<80% luminous from back",
    "colour purple at 20deg", "colour #6a3fa0 x2", "colour 60,10,10 through",
    "A<1% 500..600nm mean", "R=50% 450..600nm s",
)  # fmt: skip


@pytest.mark.parametrize("goal", [*GOALS, "all"])
@pytest.mark.parametrize("on", ["glass", "glass 4mm"])
def test_slopes_match_differences(on, goal):
    one = merit(on, *(GOALS if goal == "all" else (goal,)), total_nm=200.0)
    residuals, slopes = one.with_slopes(WHICH, THICKNESS)
    np.testing.assert_allclose(residuals, one.residuals(WHICH, THICKNESS), atol=1e-11)
    step = 1e-4 * np.eye(4)
    up, down = (one.residuals(WHICH, THICKNESS + sign * step) for sign in (1.0, -1.0))
    # Central differences at 1e-4 nm are good to some 1e-8 of the misses, tens of points.
    np.testing.assert_allclose(slopes, (up - down).T / 2e-4, rtol=1e-6, atol=2e-7)


def test_many_designs_at_once_are_each_as_alone():
    one = merit("glass 4mm", *GOALS)
    many = THICKNESS + np.linspace(-3.0, 3.0, 5)[:, None]
    values = one.values(WHICH, many)
    assert values.shape == (5,)
    np.testing.assert_allclose(values, [one.value(WHICH, nm) for nm in many], rtol=1e-12)
    residuals, slopes = one.with_slopes(WHICH, many)
    alone = one.with_slopes(WHICH, many[3])
    np.testing.assert_allclose(residuals[3], alone[0], atol=1e-11)
    np.testing.assert_allclose(slopes[3], alone[1], atol=1e-9)


def test_misses_are_what_the_engine_says():
    stack = make_stack(parse_stack("glass 4mm"), PALETTE, which=WHICH, thickness_nm=THICKNESS)
    one = merit(
        "glass 4mm", "R>97% 500nm", "T=50% 500nm at 30deg p", "A<20% 500nm", "colour #6a3fa0"
    )
    red, through, absorbed, colour = one.results(WHICH, THICKNESS)
    flat = solve(stack, [500.0])
    tilted = solve(stack, [500.0], 30.0, polarization="p")
    assert red.mean == pytest.approx(100.0 * flat.R[0])
    assert red.miss == pytest.approx(max(0.0, 97.0 - 100.0 * flat.R[0]))
    assert through.miss == pytest.approx(abs(100.0 * tilted.T[0] - 50.0))
    assert absorbed.mean == pytest.approx(100.0 * flat.A[0])
    target, slack = colour_target("#6a3fa0")
    gap = to_colour(solve(stack)).lab - target
    assert slack == 0.0
    assert colour.miss == pytest.approx(np.sqrt((gap**2).sum()))


def test_the_merit_is_the_weighted_root_mean_square():
    alone = [
        merit("glass", goal).value(WHICH, THICKNESS) for goal in ("R=80% 420..680nm", "T=1% 550nm")
    ]
    both = merit("glass", "R=80% 420..680nm", "T=1% 550nm x3").value(WHICH, THICKNESS)
    assert both == pytest.approx(np.sqrt((alone[0] ** 2 + 3.0 * alone[1] ** 2) / 4.0))


def test_bounds_that_are_met_cost_nothing_and_pull_nowhere():
    one = merit("glass", "R<99% 420..680nm")
    residuals, slopes = one.with_slopes(WHICH, THICKNESS)
    assert not residuals.any()
    assert not slopes.any()
    assert one.results(WHICH, THICKNESS)[0].met
    assert one.margins(WHICH, THICKNESS)[0] > 0.0
    assert merit("glass", "R>99% 420..680nm").margins(WHICH, THICKNESS)[0] < 0.0


def test_a_word_costs_nothing_inside_its_region():
    target, slack = colour_target("purple")
    assert slack > 1.0
    assert colour_target("48,20,-35") == (pytest.approx(np.array([48.0, 20.0, -35.0])), 0.0)
    # A stack whose colour is the middle of the word meets it without a pull.
    lab = ",".join(f"{x:.3f}" for x in target)
    near = merit("glass", f"colour {lab} within 100").results(WHICH, THICKNESS)[0]
    far = merit("glass", "colour purple within 100").results(WHICH, THICKNESS)[0]
    assert far.miss == pytest.approx(max(0.0, near.miss - slack), abs=1e-3)


def test_finer_grids_keep_the_goals_and_see_more():
    one = merit("glass", "R>97% 420..680nm 0..60deg")
    finer = one.with_denser_grids(5)
    assert finer.sights[0].wavelength_nm.size > 4 * one.sights[0].wavelength_nm.size
    assert finer.worst(WHICH, THICKNESS)[0] >= one.worst(WHICH, THICKNESS)[0] - 1e-9


def test_a_goal_uses_up_all_it_allows_just_where_it_is_missed():
    R = merit("glass", "R>1% 550nm").results(WHICH, THICKNESS)[0].mean
    for goals in (f"R>{R:.6f}% 550nm", f"R<{R:.6f}% 550nm", f"R={R - 2.0:.6f}% 550nm within 2%"):
        used, _, weights = merit("glass", goals).used_with_slopes(WHICH, THICKNESS)
        assert used[0] == pytest.approx(1.0, abs=1e-6)
        assert weights.sum() == pytest.approx(1.0)
    _, slack = colour_target("purple")
    result = merit("glass", "colour purple within 100").results(WHICH, THICKNESS)[0]
    assert result.used == pytest.approx(result.mean / (slack + 100.0))
    assert result.spare == pytest.approx(100.0 - result.miss)


def test_slopes_of_what_is_used_up_are_those_of_finite_differences():
    one = merit("glass 4mm", *GOALS)
    _, slopes, _ = one.used_with_slopes(WHICH, THICKNESS)
    up, down = (
        np.array([one.used_with_slopes(WHICH, THICKNESS + step)[0] for step in sign * np.eye(4)])
        for sign in (1e-4, -1e-4)
    )
    # Central differences at 1e-4 nm, of shares that reach some hundreds.
    np.testing.assert_allclose(slopes, (up - down).T / 2e-4, rtol=1e-6, atol=1e-6)


def test_what_cannot_be_seen_is_refused():
    with pytest.raises(InputError, match=r"no light leaves .*, it is opaque$"):
        merit("Ti", "T>1% 500nm")
    with pytest.raises(InputError, match=r"opaque; give its thickness, .n=1.5\+0.2i 0.1mm."):
        merit("n=1.5+0.2i", "T>1% 500nm")
    with pytest.raises(InputError, match="at least one goal"):
        merit("glass")
    with pytest.raises(LimitError, match="too many"):
        merit("glass", *["R>1% 500nm"] * 41)
    with pytest.raises(LimitError, match="narrow a band"):
        make_merit(
            parse_stack("glass"), PALETTE, [parse_goal("R>1% 420..680nm 0..80deg")], density=500
        )
    with pytest.raises(OutOfRangeError, match="from 8 to 13 um"):
        merit("glass", "emittance<5%")
    with pytest.raises(InputError, match="not a sweep"):
        merit("SiO2 10..20nm / glass", "R>1% 500nm")


def test_emittance_of_bare_metal_is_small_and_of_oxide_large():
    warm = tuple(map(parse_medium, ("Al(rakic1998-bb)", "SiO2(franta2016-25c)")))
    one = merit("Si(franta2017-25c)", "emittance<5%", palette=warm)
    metal = one.results(np.array([0]), np.array([100.0]))[0]
    coated = one.results(np.array([1, 0]), np.array([1000.0, 100.0]))[0]
    # Evaporated aluminium 2 to 5 % (common practice, no source).
    assert metal.met
    assert coated.mean > 3.0 * metal.mean


def test_emittance_of_a_stack_is_the_one_its_goal_counts():
    warm = tuple(map(parse_medium, ("Al(rakic1998-bb)", "SiO2(franta2016-25c)")))
    counted = merit("Si(franta2017-25c)", "emittance<5%", palette=warm)
    for oxide in (0.0, 1000.0):  # a goal counts percent
        found = counted.results(np.array([1, 0]), np.array([oxide, 100.0]))[0]
        text = f"SiO2(franta2016-25c) {oxide}nm / Al(rakic1998-bb) 100nm / Si(franta2017-25c)"
        assert oxhue.emittance(text) == pytest.approx(found.mean / 100.0, abs=1e-9)


def test_emittance_of_bare_pieces_lies_where_handbooks_say():
    text = "Al(rakic1998-bb) 100nm / SiO2(franta2016-fused)"
    assert 0.005 < oxhue.emittance(text) < 0.05  # bare aluminium: handbooks say 0.02 to 0.05
    glass = oxhue.emittance("SiO2(franta2016-fused)")
    assert glass == pytest.approx(oxhue.emittance("SiO2(franta2016-fused) 4mm"), abs=2e-3)
    assert 0.7 < glass < 0.9
    with pytest.raises(InputError, match="not a sweep"):
        oxhue.emittance("Al(rakic1998-bb) 0..9nm / SiO2(franta2016-fused)")
    with pytest.raises(OutOfRangeError, match="8 to 13 um"):
        oxhue.emittance("Al(mcpeak2015) 90nm / SiO2(franta2016-fused)")
