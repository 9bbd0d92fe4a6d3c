"""How an estimate is shown: its JSON, its words, and what is on the axes of its chart."""

import io
import json
from dataclasses import replace

import numpy as np
import pytest

from oxhue.optics.gauge.gauge import gauge
from oxhue.optics.gauge.plots import chart_estimate
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.report.terminal import console, print_document


def round_trip(plain):
    text = json.dumps(plain, allow_nan=False)
    assert json.loads(text) == plain
    return json.loads(text)


def shown(result, stream=None):
    stream = stream or io.StringIO()
    print_document(result.document(), console(stream))
    return stream.getvalue()


@pytest.fixture(scope="module")
def estimate():
    return gauge(["TiO2(siefke2016)"], "Ti(johnson1974)", [parse_reading("purple")])


@pytest.fixture(scope="module")
def purple():
    return gauge(["TiO2"], "Ti(johnson1974)", [parse_reading("purple")])


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


def test_an_estimate_names_every_candidate(purple):
    text = shown(purple)
    for one in purple.candidates:
        row = next(line for line in text.splitlines() if one.srgb_hex in line)
        assert one.name in row
        assert f"{one.thickness_nm:.0f} nm" in row
    assert 'Consistent with "purple"' in text
    assert purple.next_check in text
    assert "TiO2(siefke2016)" in text


def test_what_does_not_fit_is_said_first():
    odd = gauge(["TiO2(siefke2016)"], "Ti(johnson1974)", [parse_reading("#00ff00")])
    assert shown(odd).startswith("Nothing fits")


def test_a_colour_read_off_a_photo_is_said():
    typed = parse_reading("#5a3a78", "card")
    for reading, said in ((replace(typed, text="dial.jpg at 1,2,3,4"), True), (typed, False)):
        text = shown(gauge(["TiO2(siefke2016)"], "Ti(johnson1974)", [reading]))
        line = "Read from dial.jpg at 1,2,3,4, as card: #5a3a78  purple"
        assert (line in text) is said


def test_an_estimate_shows_its_density_region_and_candidates(estimate):
    above, below = chart_estimate(estimate).axes
    line = above.lines[0]
    np.testing.assert_array_equal(line.get_xdata(), estimate.grid_nm)
    np.testing.assert_array_equal(line.get_ydata(), estimate.density)
    assert above.get_ylabel() == "probability per nm [1/nm]"
    assert above.get_ylim()[0] == 0.0
    assert above.get_ylim()[1] > estimate.density.max()
    notes = [text.get_text() for text in above.texts]
    assert len(notes) == len(estimate.candidates)
    assert all(
        f"{one.thickness_nm:.0f} nm" in note
        for one, note in zip(estimate.candidates, notes, strict=True)
    )
    assert "purple" in above.get_title()
    assert "thickness [nm]" in below.get_xlabel()
    assert below.get_xlim()[0] == 0.0


def test_the_chart_of_a_narrow_answer_shows_its_surroundings_alone(purple):
    near = gauge("TiO2", "Ti", parse_reading("#5b2d84", "instrument"))
    above, strip = chart_estimate(near).axes
    low, high = above.get_xlim()
    assert high - low < 125.0
    assert low < near.region90_nm[0][0]
    assert near.region90_nm[-1][1] < high
    assert strip.get_xlim() == (low, high)
    assert chart_estimate(purple).axes[0].get_xlim() == purple.between_nm


def test_what_does_not_fit_is_said_in_the_title():
    odd = gauge(["TiO2(siefke2016)"], "Ti(johnson1974)", [parse_reading("#00ff00")])
    assert "nothing fits" in chart_estimate(odd).axes[0].get_title()
