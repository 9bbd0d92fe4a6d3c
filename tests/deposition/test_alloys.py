"""Alloys in a boat come apart; under ions they do not."""

from __future__ import annotations

import tomllib
from importlib.resources import files

import pytest

from oxhue.optics.deposition.alloys import (
    alloy_parts,
    alloy_temperature_C,
    fractions_of,
    is_alloy,
    molar_mass_of,
    most_reactive,
)
from oxhue.optics.films.materials.catalogue import find_entry

ALLOYS = tomllib.loads(files("oxhue.optics.deposition").joinpath("alloys.toml").read_text("utf-8"))


@pytest.mark.parametrize("name", ALLOYS)
def test_every_alloy_is_whole_and_sourced(name):
    assert sum(ALLOYS[name]["parts"].values()) == pytest.approx(1.0)
    assert sum(alloy_parts(name).values()) == pytest.approx(1.0)
    assert most_reactive(name) in ALLOYS[name]["parts"]
    assert ALLOYS[name]["source"]
    assert all(find_entry(part).molar_mass_g_mol for part in alloy_parts(name))


def test_a_metal_is_all_itself():
    assert not is_alloy("Cu")
    assert alloy_parts("Cu") == {"Cu": 1.0}
    assert most_reactive("Cu") == "Cu"
    assert molar_mass_of("Cu") == find_entry("Cu").molar_mass_g_mol


def test_zinc_leaves_brass_first_and_copper_last():
    first, _, last = fractions_of("brass", 900.0)
    assert first.film["Zn"] > 0.99
    assert last.film["Cu"] > 0.99
    assert alloy_temperature_C("brass", 1e-5) < 400.0


@pytest.mark.parametrize("name", ["brass", "nichrome", "stainless"])
def test_fractions_hold_every_atom(name):
    for one in fractions_of(name, 1400.0):
        assert sum(one.film.values()) == pytest.approx(1.0, abs=1e-6)


def test_a_part_that_leaves_at_the_mean_speed_keeps_its_share():
    assert [one.film["Fe"] for one in fractions_of("steel", 1400.0)] == pytest.approx([1.0] * 3)
