"""Limits of the stated doubts, and what an angle does to them."""

import numpy as np
import pytest

from oxhue.optics.errors import InputError, OutOfRangeError, UnknownNameError
from oxhue.optics.inference.uncertainty import (
    DEFAULTS,
    Uncertainty,
    parse_uncertainty,
    uncertainty_for,
    uniform_nodes,
)


def test_variances_share_the_total_over_the_three_axes():
    doubts = Uncertainty(noise_de=3.0, discrepancy_de=4.0, white_balance_de=2.0)
    assert doubts.lightness_variance == pytest.approx(25.0 / 3.0)
    assert doubts.chroma_variance == pytest.approx(25.0 / 3.0 + 2.0)


def test_a_better_way_of_reading_leaves_less_doubt():
    spread = [DEFAULTS[how].chroma_variance for how in ("word", "photo", "card", "instrument")]
    assert spread == sorted(spread, reverse=True)
    assert [DEFAULTS[how].gain for how in DEFAULTS] == [0.10, 0.10, 0.03, 0.0]


@pytest.mark.parametrize(
    ("change", "match"),
    [
        ({"noise_de": -1.0}, "noise_de is -1"),
        ({"noise_de": np.nan}, "noise_de is nan"),
        ({"gain": np.inf}, "gain is inf"),
        ({"index_spread": -0.01}, "index_spread is -0.01"),
        ({"noise_de": 0.0, "discrepancy_de": 0.05}, "at least 0.1 ΔE"),
        ({"glare": 0.95}, "glare goes to 0.9"),
        ({"gain": 1.5}, "gain to 1"),
        ({"index_spread": 0.11}, "index_spread to 0.1"),
        ({"angle_low_deg": 30.0, "angle_high_deg": 20.0}, "upwards"),
        ({"angle_high_deg": 86.0}, "at most 85"),
    ],
)
def test_doubts_out_of_reach_are_refused(change, match):
    with pytest.raises(OutOfRangeError, match=match):
        Uncertainty(**{"noise_de": 1.0} | change)


@pytest.mark.parametrize(
    "change",
    [
        {"noise_de": 0.0, "discrepancy_de": 0.15},
        {"glare": 0.9, "gain": 1.0, "index_spread": 0.1},
        {"angle_low_deg": 85.0, "angle_high_deg": 85.0},
    ],
)
def test_doubts_up_to_the_limits_are_taken(change):
    doubts = Uncertainty(**{"noise_de": 1.0} | change)
    assert all(getattr(doubts, name) == value for name, value in change.items())


def test_a_stated_angle_is_met_within_a_sixth_of_the_unstated_doubt():
    tilted = DEFAULTS["photo"].with_angle(60.0)
    assert (tilted.angle_low_deg, tilted.angle_high_deg) == (55.0, 65.0)
    square = DEFAULTS["photo"].with_angle(0.0)
    assert (square.angle_low_deg, square.angle_high_deg) == (0.0, 5.0)
    meter = DEFAULTS["instrument"].with_angle(45.0)
    assert (meter.angle_low_deg, meter.angle_high_deg) == (45.0, 45.0)


@pytest.mark.parametrize("angle", [-1.0, 80.5, 90.0, np.nan])
def test_angles_a_person_cannot_look_from_are_refused(angle):
    with pytest.raises(OutOfRangeError, match="viewing angle"):
        DEFAULTS["photo"].with_angle(angle)


def test_an_unknown_way_suggests_the_nearest():
    with pytest.raises(
        UnknownNameError, match=r"word, photo, card, instrument .*did you mean photo"
    ):
        uncertainty_for("foto")


@pytest.mark.parametrize("count", [1, 2, 3, 6])
def test_nodes_integrate_a_uniform_doubt(count):
    nodes, weight = uniform_nodes(10.0, 30.0, count)
    assert weight.sum() == pytest.approx(1.0)
    assert np.all((nodes > 10.0) & (nodes < 30.0))
    power = 2 * count - 1
    exact = (30.0 ** (power + 1) - 10.0 ** (power + 1)) / (20.0 * (power + 1))
    assert weight @ nodes**power == pytest.approx(exact)


def test_no_doubt_is_one_node():
    nodes, weight = uniform_nodes(7.0, 7.0, 3)
    assert (nodes.tolist(), weight.tolist()) == ([7.0], [1.0])


def test_settings_are_names_and_numbers():
    assert parse_uncertainty(["glare=0.1", " noise_de = 2 "]) == {"glare": 0.1, "noise_de": 2.0}
    assert parse_uncertainty([]) == {}


@pytest.mark.parametrize(
    ("setting", "match"),
    [
        ("glar=0.1", "unknown doubt 'glar'.*use one of noise_de"),
        ("glare", "not a name and a number"),
        ("glare=", "not a name and a number"),
        ("glare=a lot", "not a name and a number"),
        ("glare=nan", "not a name and a number"),
        ("=0.1", "unknown doubt ''"),
    ],
)
def test_settings_that_are_none_are_refused(setting, match):
    with pytest.raises(InputError, match=match):
        parse_uncertainty([setting])
