"""A bath learnt from strips, and the chart of volts."""

import json

import numpy as np
import pytest

from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.errors import InputError, OutOfRangeError, TableError
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.tint.bath import format_bath, is_bath, parse_bath, shipped_bath
from oxhue.optics.tint.calibrate import coupons
from oxhue.optics.tint.recipes import anodic_recipes
from oxhue.optics.tint.shades import palette_for
from oxhue.optics.tint.tint import anodise
from oxhue.optics.tint.volt_chart import volt_chart

VOLTS = (12.0, 30.0, 55.0, 80.0)


def write_strips(path, rng, scatter=0.02):
    """Strips of a bath drawn from the shipped spread, as colours read beside a card; its true
    thickness at 45 V."""
    bath = shipped_bath(find_metal("Ti"), int(rng.integers(1 << 30)))
    world = bath.draws.take(rng.integers(bath.draws.film.size, size=1))
    palette = palette_for(bath.kiln, ViewingConditions())
    pair = next(
        j for j, one in enumerate(palette.pairs)
        if one.film_name == bath.kiln.film_names[int(world.film[0])]
    )  # fmt: skip
    lines = ["metal,volts,Lab,how"]
    for volts in VOLTS:
        nm = world.typical_nm(bath.law, volts) * (1.0 + scatter * rng.standard_normal(1))
        own = type(palette)(palette.pairs, ((pair, 1.0),), palette.viewing, 0.0)
        lab = own.lab(nm * (1.0 + world.index_error))[0] + 1.5 * rng.standard_normal(3)
        lines.append(f'Ti,{volts:g},"{lab[0]:.1f},{lab[1]:.1f},{lab[2]:.1f}",card')
    path.write_text("\n".join(lines), "utf-8")
    return float(world.typical_nm(bath.law, 45.0)[0])


@pytest.mark.slow
def test_four_strips_narrow_a_bath_and_hold_its_thickness(tmp_path):
    rng, held, widths = np.random.default_rng(3), [], []
    for i in range(6):
        truth = write_strips(tmp_path / f"{i}.csv", rng)
        learned = coupons(tmp_path / f"{i}.csv")
        low, high = anodise("Ti", 45.0, bath=learned.fitted).interval90_nm
        held.append(low <= truth <= high)
        widths.append(learned.width_ratio)
    assert sum(held) >= 5
    assert max(widths) < 0.7
    assert np.median(widths) < 0.5


def test_a_strip_that_was_mixed_up_is_named(tmp_path):
    path = tmp_path / "strips.csv"
    path.write_text(
        "metal,volts,thickness_nm,id\nTi,20,45,a\nTi,40,78,b\nTi,60,60,odd\nTi,80,142,c\n",
        "utf-8",
    )
    learned = coupons(path)
    assert not learned.fits
    assert any("strip odd (60 nm at 60 V) does not fit" in said for said in learned.warnings)
    assert learned.residuals[0].interval90_nm[1] - learned.residuals[0].interval90_nm[0] < 12.0


def test_a_bath_comes_back_as_it_was_saved(tmp_path):
    write_strips(tmp_path / "strips.csv", np.random.default_rng(1))
    learned = coupons(tmp_path / "strips.csv")
    text = format_bath(learned.fitted)
    again = parse_bath(text, "bath.json")
    assert is_bath(text)
    assert again.pieces == 4
    assert again.words == learned.fitted.words
    one, other = (anodise("Ti", 25.0, bath=bath) for bath in (again, learned.fitted))
    assert one.thickness_nm == pytest.approx(other.thickness_nm, rel=1e-4)
    recipe = anodic_recipes("Ti", "blue", bath=again).recipes[0]
    assert recipe.chance > anodic_recipes("Ti", "blue").recipes[0].chance
    with pytest.raises(OutOfRangeError, match="say nothing about niobium"):
        anodise("Nb", 25.0, bath=again)
    data = json.loads(text) | {"films": ["other"]}
    with pytest.raises(TableError, match="other oxides in mind; fit the strips again"):
        parse_bath(json.dumps(data), "bath.json")
    with pytest.raises(TableError, match="not a saved bath"):
        parse_bath("[]", "bath.json")


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ("metal,volts,hex\nTi,200,#3c6fae", "1 to 140 V"),
        ("metal,volts,temperature_C,time_min,hex\nTi,20,400,5,#3c6fae", "volts, or a heat"),
        (
            "metal,volts,temperature_C,time_min,hex\nTi,20,,,#3c6fae\nTi,,400,20,#3c6fae",
            "heated and anodised",
        ),
        ("metal,volts,hex\nsteel,20,#3c6fae", "no anodising constant"),
    ],
)
def test_strips_that_make_no_sense_are_refused(tmp_path, lines, said):
    (tmp_path / "strips.csv").write_text(lines, "utf-8")
    with pytest.raises(InputError, match=said):
        coupons(tmp_path / "strips.csv")


def test_the_chart_of_volts_runs_to_140_and_agrees_with_single_volts():
    chart = volt_chart("Ti")
    assert chart.volts[0] == 5.0
    assert chart.volts[-1] == 140.0
    assert np.all(np.diff(chart.thickness_nm) > 0.0)
    one = anodise("Ti", 25.0)
    at = int(np.flatnonzero(chart.volts == 25.0)[0])
    assert chart.thickness_nm[at] == pytest.approx(one.thickness_nm)
    assert str(chart.name[at]) == one.name
    assert volt_chart("Nb", (20.0, 30.0), step_V=1.0).volts.size == 11
    with pytest.raises(OutOfRangeError, match="no chart"):
        volt_chart("Ti", (90.0, 20.0))
    with pytest.raises(OutOfRangeError, match="1 to 140 V"):
        volt_chart("Ti", (20.0, 150.0))
