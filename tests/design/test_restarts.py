"""Long searches as several side by side: none lost, none depending on who does them."""

from __future__ import annotations

from dataclasses import replace

import joblib
import numpy as np
import pytest

import oxhue.optics.numerics.parallel as room
from oxhue.optics.design import restarts as islands
from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.merit import make_merit
from oxhue.optics.design.restarts import search_long
from oxhue.optics.design.search import search
from oxhue.optics.design.starts import caps_nm, list_starts, middle_nm
from oxhue.optics.design.state import Limits, SearchState
from oxhue.optics.films.notation import parse_medium, parse_stack

EFFORT = 90


def bench_for(goal, effort=EFFORT):
    palette = [parse_medium("n=1.38"), parse_medium("n=2.35")]
    merit = make_merit(parse_stack("n=1.52"), palette, [parse_goal(goal)])
    return SearchState(merit, Limits(3), caps_nm(merit), effort)


def found(bench, seed=3, way=search_long):
    begin = list_starts(bench.merit, bench.limits.most_layers)
    way(bench, begin, middle_nm=middle_nm(bench.merit), rng=np.random.default_rng(seed))
    return [(one.which.tolist(), one.thickness_nm.tolist(), one.merit) for one in bench.rank_all()]


@pytest.fixture
def several(monkeypatch):
    monkeypatch.setattr(islands, "EACH", EFFORT // 3)
    monkeypatch.setattr(room, "START_S", dict.fromkeys(room.START_S, 0.0))


@pytest.mark.usefixtures("several")
def test_who_searches_does_not_show_in_what_is_found():
    answers = []
    for workers in (1, 2):
        with joblib.parallel_config(n_jobs=workers, backend="threading"):
            bench = bench_for("R<0.01% 420..680nm")
            answers.append((found(bench), bench.spent))
            assert bench.effort == EFFORT
    assert answers[0] == answers[1]


@pytest.mark.slow
@pytest.mark.usefixtures("several")
def test_more_searches_are_never_worse_than_the_first_of_them():
    first = found(replace(bench_for("R<0.01% 420..680nm"), effort=EFFORT // 3), way=search)
    together = found(bench_for("R<0.01% 420..680nm"))
    assert together[0][2] <= first[0][2]


@pytest.mark.usefixtures("several")
def test_what_is_found_already_is_not_searched_for_again(monkeypatch):
    def refused(*_, **__):
        raise AssertionError("searched again")

    monkeypatch.setattr(islands, "map_parallel", refused)
    assert found(bench_for("R<3% 500..600nm"))[0][2] < 1e-6


@pytest.mark.usefixtures("several")
def test_an_interrupt_keeps_what_the_first_search_found(monkeypatch):
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(islands, "map_parallel", interrupted)
    bench = bench_for("R<0.01% 420..680nm")
    with pytest.raises(KeyboardInterrupt):
        found(bench)
    assert bench.best


def test_a_usual_effort_is_one_search():
    assert found(bench_for("R<0.01% 420..680nm", 30)) == found(
        bench_for("R<0.01% 420..680nm", 30), way=search
    )
