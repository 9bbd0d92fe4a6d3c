"""A kiln learnt from test pieces is asked for the heat that is surest, by whoever asks."""

from dataclasses import replace

import numpy as np
import pytest

from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.oxidation.schedule import hold
from oxhue.optics.tint.colour_search import ColourSearch, Wish
from oxhue.optics.tint.kiln import shipped_kiln
from oxhue.optics.tint.recipes import recipes
from oxhue.optics.tint.surest import surest


@pytest.fixture(scope="module")
def found():
    """Recipes of any kiln, before they are moved."""
    return recipes("Ti", "purple", times=("20min",)).recipes


@pytest.fixture(scope="module")
def search():
    kiln = shipped_kiln(find_metal("Ti"))
    return ColourSearch.of(kiln, Wish("purple"), viewing=ViewingConditions(), seed=1)


def test_a_heat_is_moved_to_where_most_pieces_come_out(found, search):
    moved = surest(search, found)
    assert len(moved) == len(found)
    assert moved[0].chance > found[0].chance + 0.01
    assert all(one.time_min == 20.0 for one in moved)
    assert search.wish.matches(np.zeros((1, 3)), np.array([moved[0].name])).all()
    assert [one.rank for one in moved] == sorted(one.rank for one in moved)
    for shift in (-20.0, 20.0):
        heat = hold(moved[0].temperature_C + shift, 1200.0)
        drawn_nm = search.draw_heat(heat)(np.random.default_rng(1))
        assert search.chance(search.kiln_for(heat), drawn_nm) < moved[0].chance + 0.03


def test_a_learnt_kiln_is_asked_for_it_and_any_other_for_the_best_shade(found, search):
    learnt = replace(search.kiln, pieces=3, made_from="pieces.csv", between_C=(380.0, 450.0))
    own = recipes("Ti", "purple", times=("20min",), kiln=learnt).recipes
    assert own[0].chance > found[0].chance
    assert own[0].temperature_C != found[0].temperature_C
