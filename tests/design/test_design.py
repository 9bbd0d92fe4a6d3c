"""Designs: closed forms, families, each step of the search, and the whole job."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.design import design as mirror_module
from oxhue.optics.design.centring import _log_used, centre_design
from oxhue.optics.design.design import design
from oxhue.optics.design.finish import choose_finalists
from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.merit import make_merit
from oxhue.optics.design.needle import grow_by_needles, insert_needles
from oxhue.optics.design.search import search
from oxhue.optics.design.starts import caps_nm, list_starts, middle_nm
from oxhue.optics.design.state import (
    Limits,
    SearchState,
    Trial,
    enforce_limits,
    prune,
    refine,
    tidy,
)
from oxhue.optics.design.tolerance import DepositionErrors
from oxhue.optics.errors import InputError, LimitError, NotationError
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.look.look import look


def bench_of(on, goals, materials, limits=None, effort=60):
    one = make_merit(
        parse_stack(on), [parse_medium(name) for name in materials],
        [parse_goal(text) for text in goals],
    )  # fmt: skip
    return SearchState(one, limits or Limits(), caps_nm(one), effort)


def reach(bench, which, thickness):
    return bench.make_trial("test", which, thickness)


AR = ("n=1.52", ["R=0% 400..700nm"], ["n=1.38", "n=2.35"])


def test_every_family_has_a_start_where_materials_allow():
    bench = bench_of("glass", ["R>95% 420..680nm"], ["Al", "Cr", "MgF2", "SiO2", "TiO2"])
    found = list_starts(bench.merit, 8)
    assert {start.family for start in found} == {
        "bare metal", "protected metal", "metal with pairs", "quarter-wave mirror",
        "broadband mirror", "partial mirror", "anti-reflection", "induced transmission",
        "dark absorber", "coloured mirror",
    }  # fmt: skip
    assert all(1 <= len(start.which) <= 8 for start in found)
    assert all(min(start.thickness_nm) > 0.0 for start in found)
    assert all(len(start.which) <= 2 for start in list_starts(bench.merit, 2))


def test_without_metals_or_without_clear_media_there_are_starts_too():
    assert list_starts(bench_of("glass", ["R>60% 500nm"], ["Al"]).merit, 4)
    assert list_starts(bench_of("glass", ["R<1% 500nm"], ["MgF2"]).merit, 4)


def test_metals_are_capped_where_they_are_opaque():
    caps = caps_nm(bench_of("glass", ["R>90% 420..680nm"], ["Al", "Ag", "SiO2"]).merit)
    # Practice: aluminium 60 to 100 nm, silver 100 and more (common practice, no source).
    assert 50.0 < caps[0] < 100.0
    assert 90.0 < caps[1] < 200.0
    assert np.isinf(caps[2])


def test_refining_finds_the_quarter_wave():
    bench = bench_of("n=1.52", ["R=0% 550nm"], ["n=1.38"])
    found = refine(bench.merit, reach(bench, [0], [70.0]))
    assert found.thickness_nm[0] == pytest.approx(550.0 / 4.0 / 1.38, abs=0.01)


def test_refining_keeps_to_its_bounds():
    bench = bench_of("n=1.52", ["R=0% 550nm"], ["n=1.38"])
    found = refine(bench.merit, reach(bench, [0], [70.0]), lower_nm=20.0, upper_nm=80.0)
    assert found.thickness_nm[0] == pytest.approx(80.0, abs=1e-3)


def test_an_inserted_layer_lowers_the_merit_as_its_slope_says():
    bench = bench_of(*AR)
    start = bench.refine(reach(bench, [0], [90.0]))
    for one in insert_needles(bench, start):
        assert one.which.size in (2, 3)
        assert one.merit < start.merit
        assert np.all(np.diff(one.which) != 0)


def test_no_layer_helps_a_solved_design():
    bench = bench_of("n=1.52", ["R<2% 550nm"], ["n=1.38", "n=2.35"])
    start = reach(bench, [0], [550.0 / 4.0 / 1.38])
    assert start.merit == 0.0
    assert insert_needles(bench, start) == []
    assert grow_by_needles(bench, [start]) == [start]


def test_growing_never_makes_it_worse_nor_breaks_the_limits():
    bench = bench_of(*AR, limits=Limits(4, 8.0, 150.0))
    start = enforce_limits(bench, reach(bench, [0, 1, 0], [95.0, 110.0, 30.0]))
    (found,) = grow_by_needles(bench, [start])
    assert found.merit < 0.9 * start.merit
    assert 3 < found.which.size <= 4
    assert found.thickness_nm.min() >= 8.0
    assert found.thickness_nm.max() <= 150.0


def test_tidying_drops_empty_layers_and_joins_equal_ones():
    bench = bench_of(*AR)
    found = tidy(bench, reach(bench, [0, 1, 0, 1], [40.0, 0.0, 30.0, 20.0]))
    assert found.which.tolist() == [0, 1]
    assert found.thickness_nm.tolist() == [70.0, 20.0]
    assert found.merit == pytest.approx(
        reach(bench, [0, 1, 0, 1], [40.0, 0.0, 30.0, 20.0]).merit, rel=1e-9
    )


def test_layers_too_thin_to_make_go_or_grow():
    bench = bench_of(*AR, limits=Limits(8, 10.0))
    found = enforce_limits(bench, reach(bench, [0, 1, 0], [95.0, 3.0, 20.0]))
    assert found.thickness_nm.min() >= 10.0 - 1e-9


def test_what_an_opaque_metal_hides_is_left_out():
    bench = bench_of("glass", ["R>80% 500..600nm"], ["Al", "SiO2"])
    found = prune(bench, reach(bench, [1, 0, 1, 0], [90.0, 70.0, 90.0, 70.0]))
    assert found.which.size <= 2
    assert found.merit < 1e-6


def test_a_goal_met_by_one_layer_is_brought_down_to_one():
    found = design("glass", "R>75% 450..650nm", "Al,SiO2,TiO2", count=1)
    assert found.designs[0].layers == 1
    assert found.designs[0].stack.startswith("Al(")


def test_the_same_seed_finds_the_same_designs():
    found = []
    for _ in range(2):
        bench = bench_of(*AR, limits=Limits(4), effort=30)
        begin = list_starts(bench.merit, 4)
        search(bench, begin, middle_nm=middle_nm(bench.merit), rng=np.random.default_rng(5))
        found.append([(tuple(c.which), tuple(c.thickness_nm)) for c in bench.rank_all()])
    assert found[0] == found[1]


def test_more_layers_allowed_than_it_takes_change_nothing():
    # the first rung that meets the goals is the last, whatever more is allowed
    films = [
        design("n=1.52", "R>75% 530..570nm", "n=1.46,n=2.35", max_layers=most, count=1, effort=60)
        .designs[0]
        .stack
        for most in (7, 40)
    ]
    assert films[0] == films[1]


def test_four_layers_against_reflection_reach_half_a_percent():
    # With 1.38 and 2.35 on 1.52 the best four layers average about 0.3 % over 400 to 700 nm
    # (common practice, no source); one layer averages above 1.3 %.
    bench = bench_of(*AR, limits=Limits(4), effort=80)
    search(
        bench,
        list_starts(bench.merit, 4),
        middle_nm=middle_nm(bench.merit),
        rng=np.random.default_rng(1),
    )
    assert bench.rank_all()[0].merit < 0.6


def test_a_spike_between_the_points_does_not_pass_for_a_design():
    # A thick layer rings faster than the grid of the goals: on it the goal is met, between not.
    bench = bench_of("n=1.52", ["R<12% 420..680nm"], ["n=1.38", "n=2.35"], Limits(2, 5.0, 9000.0))
    fine = bench.merit.with_denser_grids(5)
    blind = bench.add(bench.refine(reach(bench, [0, 1], [95.0, 5000.0]), 5.0))
    assert bench.merit.worst(blind.which, blind.thickness_nm)[0] < 1e-6
    assert fine.worst(blind.which, blind.thickness_nm)[0] > 1.0
    (found, *_) = choose_finalists(bench, 1, hurry=False)
    assert fine.worst(found.which, found.thickness_nm)[0] < 1e-6


def test_where_goals_leave_a_choice_it_does_not_depend_on_where_the_search_stopped():
    bench = bench_of("glass", ["R>90% 450..650nm"], ["Al", "SiO2", "TiO2"])
    ends = [
        centre_design(bench, reach(bench, [2, 1, 0], nm)) for nm in ([60, 60, 70], [55, 80, 45])
    ]
    near = reach(bench, [2, 1, 0], [60, 60, 70])
    # Steps end below a ten-thousandth of a nanometre; a tenth is printed.
    np.testing.assert_allclose(ends[0].thickness_nm, ends[1].thickness_nm, atol=1e-2)
    margins = [bench.merit.margins(d.which, d.thickness_nm)[0] for d in (near, *ends)]
    assert margins[0] > 0.0
    assert margins[1] > margins[0] + 0.5
    assert margins[2] == pytest.approx(margins[1], abs=1e-3)


def test_a_design_that_misses_a_goal_is_not_moved():
    bench = bench_of("glass", ["R>99% 450..650nm"], ["Al"])
    one = reach(bench, [0], [60.0])
    assert centre_design(bench, one) is one


def test_the_job_gives_what_look_takes_and_says_the_same():
    found = design(
        "glass", ["R>90% 450..650nm"], ["Al", "SiO2"], max_layers=3,
        errors=DepositionErrors(3.0), effort=40, samples=400,
    )  # fmt: skip
    assert found.met
    best = found.designs[0]
    seen = look(best.stack, spectrum=True)
    assert str(seen.reflected.srgb_hex) == best.srgb_hex
    inside = (seen.spectra.wavelength_nm >= 450.0) & (seen.spectra.wavelength_nm <= 650.0)
    R = seen.spectra.R[inside]
    assert best.min_R == pytest.approx(R.min(), abs=2e-4)
    assert best.mean_R == pytest.approx(R.mean(), abs=2e-3)
    assert 0.0 <= best.yield_share <= 1.0
    assert best.total_nm == pytest.approx(best.thickness_nm.sum())
    assert np.allclose(best.thickness_nm, best.thickness_nm.round(1))
    assert [d.met for d in found.designs] == sorted([d.met for d in found.designs], reverse=True)


def test_where_errors_are_stated_more_layers_may_come_first_for_their_yield():
    found = design(
        "n=1.52", ["R>65% 500..560nm"], ["n=1.46", "n=2.35"], max_layers=6,
        errors=DepositionErrors(3.0), effort=40, samples=400,
    )  # fmt: skip
    assert found.met
    shares = [round(d.yield_share, 2) for d in found.designs]
    assert shares == sorted(shares, reverse=True)
    fewest = min((d for d in found.designs if d.met), key=lambda d: d.layers)
    assert found.designs[0].layers > fewest.layers
    assert found.designs[0].yield_share > fewest.yield_share


def test_warmth_and_light_can_be_asked_of_one_mirror():
    found = design(
        "SiO2(franta2016-fused)", ["emittance<2%", "R>85% 450..650nm"],
        ["Al(rakic1998-bb)", "SiO2(franta2016-25c)"], max_layers=2, effort=4,
    )  # fmt: skip
    assert found.met
    assert "Al" in found.designs[0].stack
    assert any("black body at 300 K" in note for note in found.notes)


def test_goals_out_of_reach_still_give_the_nearest():
    found = design("glass", ["R>99.9% 420..680nm"], ["Al"], max_layers=1, effort=20)
    assert not found.met
    assert found.designs[0].merit > 1.0
    assert found.designs[0].results[0].miss > 1.0


def test_the_total_thickness_is_kept():
    wish = {"on": "n=1.52", "goals": ["R>60% 550nm"], "materials": ["n=1.46", "n=2.35"]}
    free = design(**wish, max_layers=6, effort=15)
    tight = design(**wish, max_layers=6, total_nm=200.0, effort=15)
    assert free.met
    assert free.designs[0].total_nm > 200.5
    assert tight.designs[0].total_nm <= 200.5


def test_an_interrupted_search_gives_the_best_so_far(monkeypatch):
    real = mirror_module.search_long

    def stopped(bench, *rest, **named):
        real(bench, *rest, **named)
        raise KeyboardInterrupt

    monkeypatch.setattr(mirror_module, "search_long", stopped)
    found = design("glass", ["R>99% 450..650nm"], ["Al", "SiO2"], max_layers=2, effort=5)
    assert found.interrupted
    assert found.designs
    assert "interrupted" in found.notes[-1]


def test_an_interruption_before_any_design_is_passed_on(monkeypatch):
    def stopped(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(mirror_module, "search_long", stopped)
    with pytest.raises(KeyboardInterrupt):
        design("glass", ["R>99% 450..650nm"], ["Al"], max_layers=1)


@pytest.mark.parametrize(
    ("change", "kind", "problem"),
    [
        ({"max_layers": 0}, LimitError, "1 to 60 layers"),
        ({"thinnest_nm": 50.0, "thickest_nm": 20.0}, InputError, "below the thickest"),
        ({"materials": []}, LimitError, "takes 1 to 12 materials"),
        ({"total_nm": 1.0}, InputError, "more than the thinnest"),
        ({"count": 0}, LimitError, "1 to 20 designs"),
        ({"effort": 0}, LimitError, "effort"),
        ({"make_robust": True}, InputError, "needs `errors`"),
        ({"goals": ["R>95%"]}, NotationError, "needs a band"),
        ({"goals": []}, InputError, "at least one goal"),
        ({"on": "Ti", "goals": ["T>1% 500nm"]}, InputError, "no light leaves"),
    ],
)
def test_senseless_wishes_are_refused(change, kind, problem):
    wish = {"on": "glass", "goals": ["R>90% 500nm"], "materials": ["Al"]} | change
    with pytest.raises(kind, match=problem):
        design(**wish)


def test_notes_say_what_the_figures_count():
    found = design("glass", ["T>40% luminous", "R>20% luminous"], ["Al"], max_layers=1, effort=3)
    assert any("far face" in note for note in found.notes)
    assert any("EN 410" in note for note in found.notes)
    whole = design("glass 4mm", ["T>40% luminous"], ["Al"], max_layers=1, effort=3)
    assert not any("far face" in note for note in whole.notes)


def test_candidates_rank_by_merit_then_fewer_layers():
    few = Trial("a", np.array([0]), np.array([90.0]), 1e-9)
    many = Trial("a", np.array([0, 1]), np.array([40.0, 40.0]), 0.0)
    worse = Trial("a", np.array([0]), np.array([10.0]), 0.5)
    assert sorted([worse, many, few], key=lambda c: c.rank) == [few, many, worse]


@pytest.mark.parametrize("share", [0.0, 1e-14])
def test_where_goals_are_met_to_the_last_digit_there_is_no_way_to_more_room(share):
    class Met:
        total_nm = 100.0

        def used_with_slopes(self, _which, nm):
            return np.full(3, share), np.ones((3, nm.size)), np.full(3, 1.0 / 3.0)

    value, slope = _log_used(Met(), np.array([0, 1]), np.array([60.0, 41.0]), 64)
    assert value == pytest.approx(np.log(1e-12) + 1.0)
    assert slope == pytest.approx([2.0, 2.0])


def test_the_search_goes_on_when_its_designs_fail_between_the_points(monkeypatch):
    bench = bench_of("n=1.52", ["R<12% 420..680nm"], ["n=1.38", "n=2.35"], Limits(2, 5.0, 9000.0))
    blind = bench.refine(reach(bench, [0, 1], [95.0, 5000.0]), 5.0)
    asked = []

    def sees_one_only(own, *_, **__):
        own.add(blind)

    def goes_on(own, _, **named):
        asked.append(own.merit.density)
        search(own, list_starts(own.merit, 2), **named)

    monkeypatch.setattr(mirror_module, "search_long", sees_one_only)
    monkeypatch.setattr(mirror_module, "search", goes_on)
    monkeypatch.setattr(mirror_module, "choose_finalists", lambda own, *_, **__: own.rank_all()[:3])
    found = design(
        "n=1.52", "R<12% 420..680nm", ["n=1.38", "n=2.35"], max_layers=2, thickest_nm=9000.0,
        effort=60,
    )  # fmt: skip
    assert asked[0] == 2
    assert found.met


def test_the_least_reflectance_is_the_same_wherever_it_is_said():
    found = design("glass", "R>99% 430..670nm", ["SiO2", "TiO2"], max_layers=6, effort=9)
    for one in found.designs:
        assert one.min_R == pytest.approx(0.01 * one.results[0].least, abs=1e-9)
