"""The keys and kinds of the JSON answers, which programs rely on."""

import json

import pytest

from oxhue.optics.data_sets.result import describe_materials
from oxhue.optics.gauge.gauge import gauge
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.look.look import look

COLOUR = {"Y", "xyz", "lab", "srgb_hex", "in_gamut", "name"}
HEAD = {"stack", "angle_deg", "light", "observer", "reflected", "transmitted"}


def round_trip(plain):
    text = json.dumps(plain, allow_nan=False)
    assert json.loads(text) == plain
    return json.loads(text)


def test_one_look():
    plain = round_trip(look("TiO2 45nm / Ti", angle_deg=30.0).to_dict())
    assert plain.keys() >= HEAD
    assert plain["reflected"].keys() == COLOUR
    assert plain["transmitted"] is None
    assert "R" not in plain
    assert (plain["angle_deg"], plain["light"], plain["observer"]) == (30.0, "D65", 2)
    colour = plain["reflected"]
    assert colour["Y"] == colour["xyz"][1]
    assert colour["srgb_hex"].startswith("#")
    assert len(colour["srgb_hex"]) == 7
    assert colour["in_gamut"] is True


def test_a_clear_piece_is_seen_through():
    plain = round_trip(look("Al 5nm / glass 1mm", spectrum=True).to_dict())
    assert plain["transmitted"].keys() == COLOUR
    lengths = {len(plain[key]) for key in ("wavelength_nm", "R", "T")}
    assert lengths == {81}
    assert all(0.0 <= r + t <= 1.0 for r, t in zip(plain["R"], plain["T"], strict=True))


def test_a_sweep_has_steps_like_single_looks():
    plain = round_trip(look("TiO2 0..20nm step 10nm / Ti", spectrum=True).to_dict())
    assert [step["thickness_nm"] for step in plain["steps"]] == [0.0, 10.0, 20.0]
    assert all(step.keys() >= HEAD | {"wavelength_nm", "R", "T"} for step in plain["steps"])
    single = look(plain["steps"][2]["stack"]).to_dict()  # what a step is called parses again
    assert single["reflected"]["lab"] == pytest.approx(plain["steps"][2]["reflected"]["lab"])


def test_two_sweeps_are_listed_in_the_order_of_the_layers():
    plain = look("TiO2 10,20nm / SiO2 30,40nm / Ti").to_dict()
    points = [step["thickness_nm"] for step in plain["steps"]]
    assert points == [[10.0, 30.0], [10.0, 40.0], [20.0, 30.0], [20.0, 40.0]]


def test_an_estimate():
    readings = [parse_reading("purple"), parse_reading("#3c4fa1 angle=60", "card")]
    estimate = gauge(["TiO2(siefke2016)"], "Ti(johnson1974)", readings)
    plain = round_trip(estimate.to_dict())
    assert plain.keys() >= {
        "candidates", "thickness_nm", "interval90_nm", "region90_nm", "fits", "fit_p",
        "next_check", "seed",
    }  # fmt: skip
    assert plain["candidates"][0].keys() >= {
        "thickness_nm", "interval90_nm", "probability", "order", "srgb_hex",
    }  # fmt: skip
    assert isinstance(plain["fits"], bool)
    assert isinstance(plain["candidates"][0]["order"], int)
    assert all(len(part) == 2 for part in [plain["interval90_nm"], *plain["region90_nm"]])
    assert [seen["how"] for seen in plain["seen"]] == ["word", "card"]
    assert (plain["seen"][0]["srgb_hex"], plain["seen"][0]["lab"]) == (None, None)
    assert plain["seen"][1]["text"].startswith(plain["seen"][1]["srgb_hex"])
    assert len(plain["seen"][1]["lab"]) == 3
    assert plain["seen"][1]["doubts"]["angle_high_deg"] == pytest.approx(60.0 + 10.0 / 6.0)
    assert plain["data_sets"] == ["TiO2(siefke2016)", "Ti(johnson1974)"]


def test_materials():
    for plain in round_trip(describe_materials().to_dict())["materials"]:
        assert plain.keys() >= {
            "name", "variant", "kind", "source", "doi", "database_page", "range_nm", "confidence",
        }  # fmt: skip
        assert plain["range_nm"][0] < plain["range_nm"][1]
        pages = (plain["database_page"] or "a/b/c").split("; ")  # two rays of a crystal, two pages
        assert all(len(page.split("/")) == 3 for page in pages), plain
