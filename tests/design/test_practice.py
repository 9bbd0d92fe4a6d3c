"""What is proposed can be made: least and most thickness, a layer on top, light from glass."""

from itertools import pairwise

import numpy as np
import pytest

from oxhue.optics.deposition.charges import BEAM_ONLY
from oxhue.optics.design.design import design
from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.merit import make_merit
from oxhue.optics.design.practice import as_limits, limits_for, practice, remarks_of
from oxhue.optics.electrical.thin_film import film_metal
from oxhue.optics.errors import InputError
from oxhue.optics.films.materials.catalogue import list_materials
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.films.solve import solve


def found(on="glass", goals="R>50% 550nm", materials="Ag,SiO2", **more):
    more = {"max_layers": 3, "effort": 40, "count": 1} | more
    return design(on, goals, materials, **more)


def test_no_metal_is_proposed_where_its_islands_may_not_touch():
    # a half mirror of silver alone would be some 12 nm
    answer = found(goals="T>60% 450..650nm", materials="Ag", max_layers=1)
    (layer,) = answer.designs[0].piece.layers
    assert float(layer.thickness_nm) >= film_metal("Ag").percolation_nm[1]
    assert any("islands" in note for note in answer.notes)


def test_a_limit_that_is_asked_for_holds_in_place_of_good_practice():
    answer = found(goals="T>60% 450..650nm", materials="Ag", max_layers=1, limits="Ag=9..12nm")
    (layer,) = answer.designs[0].piece.layers
    assert 9.0 <= float(layer.thickness_nm) <= 12.0


def test_no_layer_is_thicker_than_its_material_allows():
    answer = found(goals="R>70% 900..1100nm", materials="MgF2,TiO2", limits=["MgF2=..120nm"])
    for one in answer.designs:
        for layer in one.piece.layers:
            if layer.medium.label.startswith("MgF2"):
                assert float(layer.thickness_nm) <= 120.0 + 1e-6


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Ag", "written as"),
        ("Ag=10", "written as"),
        ("Ag=..", "written as"),
        ("Ag=60..10nm", "must rise"),
        ("Au=10..60nm", "not among the materials"),
    ],
)
def test_limits_that_make_no_sense_are_refused(text, said):
    with pytest.raises(InputError, match=said):
        limits_for([parse_medium("Ag")], as_limits(text))


def test_every_line_of_practice_names_a_material_and_its_source():
    known = {entry.name for entry in list_materials()}
    for name, row in practice().items():
        assert name in known
        assert row["source"]
    assert {one.about for one in remarks_of(["Ag", "TiO2"])} == {
        "stress", "adhesion", "tarnish", "evaporation",
    }  # fmt: skip


def test_only_what_no_boat_holds_is_remarked_on():
    assert any(one.remark == BEAM_ONLY for one in remarks_of(["SiO2"]))
    assert "evaporation" not in {one.about for one in remarks_of(["Al", "MgF2", "ZnS"])}


def test_the_layer_asked_for_lies_on_top_and_counts():
    answer = found(goals="R>85% 450..650nm", materials="Al,TiO2", outermost="SiO2 25nm")
    best = answer.designs[0]
    top = best.piece.layers[0]
    assert top.medium.label.startswith("SiO2")
    assert float(top.thickness_nm) >= 25.0
    grid = np.linspace(450.0, 650.0, 801)
    assert best.results[0].least == pytest.approx(100 * solve(best.piece, grid).R.min(), abs=0.01)


def test_a_layer_asked_for_joins_one_of_its_own():
    answer = found(goals="R<0.5% 500..600nm", materials="MgF2,TiO2", outermost="MgF2 30nm")
    labels = [layer.medium.label for layer in answer.designs[0].piece.layers]
    assert all(a != b for a, b in pairwise(labels))


def test_covered_slopes_are_those_of_differences():
    goals = [parse_goal("R=30% 450..650nm"), parse_goal("T>90% 500nm at 30deg p")]
    palette = [parse_medium("SiO2"), parse_medium("TiO2")]
    cover = parse_stack("MgF2 40nm / n=1").layers
    for on in ("glass", "glass 2mm"):
        merit = make_merit(parse_stack(on), palette, goals, cover=cover)
        which, nm = np.array([1, 0, 1]), np.array([50.0, 80.0, 60.0])
        _, slopes = merit.with_slopes(which, nm)
        step = 1e-4
        for j in range(3):
            up, down = nm.copy(), nm.copy()
            up[j] += step
            down[j] -= step
            rise = (merit.residuals(which, up) - merit.residuals(which, down)) / (2 * step)
            np.testing.assert_allclose(slopes[:, j], rise, atol=1e-6)


def test_light_may_come_through_glass():
    # One film of index √(n₁ n₂) and a quarter wave thick lets all light from n₁ into n₂.
    answer = found("n=2.25", "R<0.1% 550nm", "n=1.83712", max_layers=1, light_from="n=1.5")
    best = answer.designs[0]
    assert best.met
    assert best.total_nm == pytest.approx(550.0 / (4.0 * 1.83712), abs=4.0)
    assert solve(best.piece, [550.0]).R[0] < 1e-3
    assert answer.to_dict()["light_from"] == "n=1.5"


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"light_from": "glass", "on": "glass 4mm"}, "one face"),
        ({"light_from": "Ag"}, "opaque"),
        ({"outermost": "SiO2 20nm / TiO2 30nm"}, "one layer"),
        ({"outermost": "SiO2 0..20nm"}, "one layer"),
        ({"outermost": "cheese"}, "outermost"),
    ],
)
def test_surroundings_that_make_no_sense_are_refused(more, said):
    with pytest.raises(InputError, match=said):
        found(**more)


def test_nothing_is_proposed_under_opaque_metal():
    answer = found(goals="R>97% 420..680nm", materials="Al,SiO2,TiO2", max_layers=6, count=3)
    for one in answer.designs:
        labels = [layer.medium.label.partition("(")[0] for layer in one.piece.layers]
        if "Al" in labels:
            assert labels[-1] == "Al"
