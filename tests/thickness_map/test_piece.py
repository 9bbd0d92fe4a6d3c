"""Which part of a photo counts as the piece."""

import json

import numpy as np
import pytest
from PIL import Image

from oxhue.optics.colour.colour import to_colour
from oxhue.optics.errors import InputError
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.thickness_map.photo import map_photo

ASKED = {"film": "TiO2(siefke2016)", "on": "Ti(johnson1974)", "between_nm": (0.0, 100.0)}
CARD, STRIP = "16,16,48,48", "16,120,48,24"


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    """A plate of 45 nm from column 120 on, a white card and a bare strip on black cloth."""
    colour = to_colour(parse_stack("TiO2(siefke2016) 45nm / Ti(johnson1974)")).srgb_hex
    bare = to_colour(parse_stack("TiO2(siefke2016) 2nm / Ti(johnson1974)")).srgb_hex
    picture = Image.new("RGB", (320, 200), (6, 6, 6))
    picture.paste((236, 236, 236), (8, 8, 72, 72))
    picture.paste(str(bare), (8, 112, 72, 152))
    picture.paste(str(colour), (120, 40, 304, 168))
    path = tmp_path_factory.mktemp("piece") / "plate.png"
    picture.save(path)
    return path


def test_card_strip_and_cloth_are_left_out_of_the_figures(photo):
    for known in ({}, {"bare": STRIP}):
        found = map_photo(photo, **ASKED, **known)
        assert np.isnan(found.median_nm[112:152, 8:72]).all()
        plain = json.loads(json.dumps(found.to_dict(), allow_nan=False))
        low, high = plain["interval90_nm"]
        assert 40.0 < low <= plain["median_nm"] <= high < 50.0
        assert plain["piece"] is None
    assert found.share_fitted == pytest.approx(184 * 128 / (320 * 200), rel=0.05)


def test_a_piece_that_is_said_is_all_that_counts(photo):
    found = map_photo(photo, **ASKED, piece="200,40,80,80")
    assert np.isnan(found.median_nm[:, :200]).all()
    assert found.share_fitted == pytest.approx(1.0)
    assert found.to_dict()["piece"] == "200,40,80,80"
    assert "place of the piece" in found.summary()
    with pytest.raises(InputError, match="300,40,80,80 leaves the picture"):
        map_photo(photo, **ASKED, piece="300,40,80,80")


def test_a_reference_is_called_by_its_place_in_the_picture(photo):
    with pytest.raises(InputError, match="80,180,16,16") as refused:
        map_photo(photo, **ASKED, white="80,180,16,16")
    assert "0,0,16,16" not in str(refused.value)
