"""Designs that hop from valley to valley: never worse, within the limits, the same for a seed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.hopping import hop
from oxhue.optics.design.merit import make_merit
from oxhue.optics.design.sampling import CHANGES, OFTEN, half_waves_nm
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


def hopped(bench, begin, rounds=6, seed=1):
    rng = np.random.default_rng(seed)
    middle = middle_nm(bench.merit)
    return hop(bench, begin, middle_nm=middle, rng=rng, rounds=rounds, tell=lambda: None)


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
        found = hopped(bench, starts(bench, 6, layers=4), rounds=3)
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


@given(
    seed=st.integers(0, 10_000),
    layers=st.integers(1, 7),
    way=st.sampled_from(CHANGES),
    media=st.sampled_from([("n=1.38", "n=2.35"), ("n=1.46", "n=2.1", "n=2.35", "n=0.2+3i")]),
)
@settings(deadline=None, max_examples=60)
def test_a_change_is_a_design_of_this_palette_without_like_neighbours(seed, layers, way, media):
    bench = bench_of("R=0% 500..550nm", 6, media)
    (one,) = starts(bench, 1, seed, layers)
    rng = np.random.default_rng(seed)
    made = way(bench, one, half_waves_nm(bench, 525.0), rng)
    assert made.which.size == made.thickness_nm.size
    assert made.which.size <= layers + 2
    assert ((made.which >= 0) & (made.which < len(media))).all()
    assert (np.diff(made.which) != 0).all()
    assert (made.thickness_nm > 0.0).all()


def test_ways_to_change_are_drawn_with_shares_that_add_up():
    assert len(OFTEN) == len(CHANGES)
    assert sum(OFTEN) == pytest.approx(1.0)


def test_six_layers_come_to_the_same_valley_from_other_seeds():
    # the least miss of six layers, whatever they start from, within the 2 % asked of two searches
    ends = []
    for seed in (1, 2, 3):
        bench = bench_of("R=0% 400..700nm")
        ends.append(hopped(bench, starts(bench, 24, seed), rounds=25, seed=seed)[0].merit)
    assert max(ends) <= 1.02 * min(ends)
