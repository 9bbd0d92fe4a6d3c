"""Designs that hop from valley to valley: never worse, within the limits, the same for a seed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.design.changes import change_films, list_shifts
from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.hopping import hop, shift_orders
from oxhue.optics.design.merit import make_merit
from oxhue.optics.design.sampling import half_waves_nm
from oxhue.optics.design.starts import caps_nm, middle_nm
from oxhue.optics.design.state import SOLVED, Limits, SearchState
from oxhue.optics.films.notation import parse_medium, parse_stack


def bench_of(goal, most=6, media=("n=1.38", "n=2.35"), effort=10_000):
    merit = make_merit(
        parse_stack("n=1.52"), [parse_medium(name) for name in media], [parse_goal(goal)]
    )
    return SearchState(merit, Limits(most, 5.0, 400.0), caps_nm(merit), effort)


def starts(bench, count, seed=1, layers=6):
    rng = np.random.default_rng(seed)
    which = np.tile([0, 1], layers)[:layers]
    return [bench.make_trial("test", which, rng.uniform(10.0, 120.0, layers)) for _ in range(count)]


def hopped(bench, begin, turns=1_000, seed=1):
    half = half_waves_nm(bench, middle_nm(bench.merit))
    return hop(bench, begin, half_nm=half, rng=np.random.default_rng(seed), turns=turns)


def test_hopping_is_never_worse_and_keeps_to_the_limits():
    bench = bench_of("R=0% 400..700nm")
    begin = starts(bench, 10)
    found = hopped(bench, begin)
    assert found[0].merit < 0.5 * min(one.merit for one in begin)
    assert [one.merit for one in found] == sorted(one.merit for one in found)
    for one in found:
        assert one.which.size <= 6
        assert one.merit == pytest.approx(bench.merit.value(one.which, one.thickness_nm))
    assert bench.rank_all()[0].merit == found[0].merit


def test_the_same_seed_hops_the_same_way():
    answers = []
    for _ in range(2):
        bench = bench_of("R=0% 400..700nm", 4)
        found = hopped(bench, starts(bench, 6, layers=4), turns=200)
        answers.append([one.thickness_nm.tolist() for one in found])
    assert answers[0] == answers[1]


def test_hopping_stops_where_all_goals_are_met_or_the_effort_is_spent():
    bench = bench_of("R<90% 500nm")
    begin = starts(bench, 3)
    assert begin[0].merit <= SOLVED
    assert hopped(bench, begin) == sorted(begin, key=lambda one: one.rank)
    assert bench.spent == 0.0
    tight = bench_of("R=0% 400..700nm", effort=0)
    hopped(tight, starts(tight, 3))
    assert tight.spent == 0.0
    assert hopped(bench, []) == []


def test_hopping_ends_where_the_best_stays_the_best():
    bench = bench_of("R=0% 500..550nm", 1)
    found = hopped(bench, starts(bench, 8, layers=1), turns=np.inf)
    assert bench.spent < 1_000
    # the one layer best for these is the low one, a quarter wave thick
    assert found[0].which.tolist() == [0]
    assert found[0].thickness_nm[0] == pytest.approx(525.0 / 4.0 / 1.38, rel=0.02)


@given(
    seed=st.integers(0, 10_000),
    layers=st.integers(1, 7),
    media=st.sampled_from([("n=1.38", "n=2.35"), ("n=1.46", "n=2.1", "n=2.35", "n=0.2+3i")]),
)
@settings(deadline=None, max_examples=100)
def test_a_change_is_a_design_of_this_palette_without_like_neighbours(seed, layers, media):
    bench = bench_of("R=0% 500..550nm", 7, media)
    (one,) = starts(bench, 1, seed, layers)
    rng = np.random.default_rng(seed)
    before = one.which.copy(), one.thickness_nm.copy()
    which, nm = change_films(
        (one.which, one.thickness_nm), half_waves_nm(bench, 525.0), most=7, rng=rng
    )
    assert 0 < which.size == nm.size <= 7
    assert ((which >= 0) & (which < len(media))).all()
    assert (np.diff(which) != 0).all()
    assert (nm > 0.0).all()
    np.testing.assert_array_equal(before[0], one.which)
    np.testing.assert_array_equal(before[1], one.thickness_nm)


def test_shifts_move_one_layer_by_half_waves_within_its_limits():
    half, films = np.array([190.0, 110.0]), (np.array([0, 1]), np.array([200.0, 90.0]))
    found = [
        nm.tolist() for _, nm in list_shifts(films, half, thickest_nm=np.array([500.0, 250.0]))
    ]
    assert found == [[10.0, 90.0], [390.0, 90.0], [200.0, 200.0]]


def test_a_layer_in_the_wrong_order_is_shifted_to_the_better_one():
    # narrow goal: many half waves do as well; wide one: the thinnest does best
    bench = bench_of("R=0% 400..700nm", 1)
    half = half_waves_nm(bench, middle_nm(bench.merit))
    thick = bench.refine(bench.make_trial("test", [0], [95.0 + half[0]]), True)
    assert thick.thickness_nm[0] > 200.0
    found = shift_orders(bench, thick, half_nm=half)
    assert found.thickness_nm[0] < 150.0
    assert found.merit < thick.merit


def test_six_layers_come_to_the_same_valley_from_other_seeds():
    # the least miss of six layers, whatever they start from, within the 2 % asked of two searches
    ends = []
    for seed in (1, 2, 3):
        bench = bench_of("R=0% 400..700nm")
        ends.append(hopped(bench, starts(bench, 24, seed), turns=6_000, seed=seed)[0].merit)
    assert max(ends) <= 1.02 * min(ends)
