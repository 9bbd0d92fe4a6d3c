"""Thicknesses are rounded so that goals which leave little room are still met."""

from __future__ import annotations

import numpy as np

from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.merit import make_merit
from oxhue.optics.design.rounding import round_films, round_one_by_one
from oxhue.optics.design.starts import caps_nm
from oxhue.optics.design.state import SOLVED, Limits, SearchState
from oxhue.optics.films.notation import parse_medium, parse_stack

PALETTE = tuple(parse_medium(name) for name in ("n=1.38", "n=2.35"))


def designs_that_meet(goal, count=24):
    """Designs of six layers that meet a goal, and where they are refined."""
    merit = make_merit(parse_stack("n=1.52"), PALETTE, [parse_goal(goal)], layers=6)
    bench = SearchState(merit, Limits(6, 20.0, 300.0), caps_nm(merit), 60)
    rng = np.random.default_rng(3)
    order = [0, 1, 0, 1, 0, 1]
    drawn = [bench.make_trial("test", order, rng.uniform(20.0, 150.0, 6)) for _ in range(count)]
    return bench, [one for one in bench.refine_all(drawn, True) if one.merit <= SOLVED]


def test_rounding_one_by_one_keeps_nearer_to_the_goals_than_rounding_all_at_once():
    bench, found = designs_that_meet("R<0.1% 540..550nm")
    assert len(found) >= 12
    plain, closer = [], []
    for one in found:
        nm = round_one_by_one(bench, one, merit=bench.merit, decimals=-1)
        np.testing.assert_allclose(nm, nm.round(-1), atol=1e-9)
        assert (nm >= 20.0).all()
        closer.append(bench.merit.value(one.which, nm))
        plain.append(bench.merit.value(one.which, one.thickness_nm.round(-1)))
    met = [sum(merit <= SOLVED for merit in some) for some in (plain, closer)]
    assert met[1] > met[0]
    assert np.median(closer) < 0.5 * np.median(plain)


def test_a_target_that_can_only_be_neared_is_rounded_near_its_minimum():
    # Rounding all five films at once costs this colour 2 % of its miss.
    media = [parse_medium(name) for name in ("Al", "SiO2", "TiO2", "Cr")]
    merit = make_merit(
        parse_stack("glass"), media, [parse_goal("colour #2a50c0 0..45deg")], density=5, layers=5
    )
    bench = SearchState(merit, Limits(5), caps_nm(merit), 60)
    start = bench.make_trial("", [1, 3, 2, 0, 2], [73.7, 5.6, 60.9, 22.6, 264.0])
    exact = bench.refine(start, makeable=True)
    nm, _ = round_films(bench, merit, exact)
    np.testing.assert_allclose(nm, nm.round(1), atol=1e-9)
    assert merit.value(exact.which, nm) < 1.003 * exact.merit
    assert merit.value(exact.which, exact.thickness_nm.round(1)) > 1.01 * exact.merit
