"""Parts treated alike, and a customer's sample with a tolerance."""

import numpy as np
import pytest

from oxhue.optics.errors import InputError, OutOfRangeError
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.tint.recipes import anodic_recipes, recipes
from oxhue.optics.tint.targets import parse_wanted_colour
from oxhue.optics.tint.tint import anodise, tint


def test_what_parts_share_and_how_far_they_scatter_are_apart():
    batch = tint("Ti", "480C", "20min", parts=20).batch
    shares = [batch.within_de[key] for key in ("2", "4", "6")]
    assert 0.0 < shares[0] < shares[1] < shares[2] < 1.0
    commonest = batch.names[0]
    # Parts of one batch agree far more often than those of different batches.
    assert commonest.next_alike > commonest.share + 0.15
    assert commonest.count90[0] <= 20.0 * commonest.share <= commonest.count90[1]


def test_anodised_parts_are_more_alike_than_heated_ones():
    hot, wet = tint("Ti", "510C", "20min", parts=20).batch, anodise("Ti", "25V", parts=20).batch
    assert wet.spread_nm < hot.spread_nm
    assert wet.within_de["4"] > hot.within_de["4"]


def test_without_scatter_all_parts_are_one(monkeypatch):
    from oxhue.optics.oxidation.calibration import LawDraws

    monkeypatch.setattr(
        LawDraws, "thickness_nm", lambda self, metal, heat, _: self.typical_nm(metal, heat)
    )
    batch = tint("Ti", "480C", "20min", parts=7).batch
    assert batch.apart_de == 0.0
    assert all(one.next_alike == pytest.approx(1.0) for one in batch.names)
    assert {count for one in batch.names for count in one.count90} <= {0, 7}


def test_recipes_say_how_many_of_the_parts_come_out():
    first = recipes("Ti", "blue", times="20min", parts=20).recipes[0]
    assert first.alike.share == pytest.approx(first.chance, abs=0.06)
    assert recipes("Ti", "blue", times="20min").recipes[0].alike is None
    assert anodic_recipes("Ti", "blue", parts=9).recipes[0].alike.count90[1] <= 9


@pytest.mark.parametrize("parts", [1, 0, 2.5, True, 10**6])
def test_what_is_no_number_of_parts_is_refused(parts):
    with pytest.raises(OutOfRangeError, match="whole number from 2"):
        tint("Ti", "450C", "20min", parts=parts)


def test_a_wider_tolerance_counts_more_pieces():
    near, far = (
        recipes("Ti", "#3881bd", times="20min", tolerance_de=de).recipes[0] for de in (5.0, 15.0)
    )
    assert far.chance > near.chance
    assert near.delta_e < 5.0
    with pytest.raises(OutOfRangeError, match="tolerance_de"):
        recipes("Ti", "#3881bd", tolerance_de=0.0)


def test_the_reading_of_a_sample_is_a_colour_to_meet():
    sample = parse_reading("#3881bd", "card")
    by_sample, by_hex = (recipes("Ti", want, times="20min") for want in (sample, "#3881bd"))
    assert by_sample.recipes[0].chance == by_hex.recipes[0].chance
    assert not parse_wanted_colour(sample).notes
    bare = parse_wanted_colour(parse_reading("#3881bd", "photo"))
    assert "without a white card" in bare.notes[-1]
    np.testing.assert_array_equal(bare.points_lab, sample.points_lab)
    with pytest.raises(InputError, match="reading of a sample"):
        recipes("Ti", 3)
