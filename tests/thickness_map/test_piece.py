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


def test_a_piece_that_is_no_film_in_question_is_said_to_be_none(photo):
    wrong = {**ASKED, "film": "Al", "on": "glass"}
    place = {"piece": "200,40,80,80", "white": CARD}
    found = map_photo(photo, **wrong, **place)
    assert not found.fits
    assert found.share_of_tried < 0.1
    assert "othing fits" in found.summary().splitlines()[0]
    right = map_photo(photo, **ASKED, **place)
    assert right.fits
    assert right.summary().startswith("Half of the piece")


def test_much_beside_the_piece_that_is_no_film_is_told(tmp_path, photo):
    picture = Image.open(photo)
    picture.paste((20, 120, 20), (120, 40, 250, 168))
    picture.save(tmp_path / "part.png")
    found = map_photo(tmp_path / "part.png", **ASKED, white=CARD)
    assert found.fits
    assert 0.1 < found.share_of_tried < 0.5
    assert any("neither ground nor reference" in note for note in found.notes)


def test_a_reference_is_called_by_its_place_in_the_picture(photo):
    with pytest.raises(InputError, match="80,180,16,16") as refused:
        map_photo(photo, **ASKED, white="80,180,16,16")
    assert "0,0,16,16" not in str(refused.value)


def on_ground(folder, grey, *, slope=0.0, noise=0.0, size=(320, 200), radius=80):
    """A round plate of 20 to 80 nm on a ground lit unevenly and with a grain, as a photo."""
    width, height = size
    steps = np.linspace(20.0, 80.0, width)
    seen = to_colour(parse_stack(f"TiO2(siefke2016) 20..80nm step {60 / (width - 1)}nm / "
                                 "Ti(johnson1974)"))  # fmt: skip
    assert len(seen.srgb) == len(steps)
    down, across = np.mgrid[:height, :width]
    plate = np.hypot(down - height / 2, across - width / 2) <= radius
    picture = np.full((height, width, 3), grey) + slope * (across / width - 0.5)[..., None]
    picture[plate] = seen.srgb[across[plate]]
    picture += np.random.default_rng(1).normal(0.0, noise, picture.shape)
    path = folder / "plate.png"
    Image.fromarray(np.rint(255 * np.clip(picture, 0, 1)).astype(np.uint8)).save(path)
    return path, plate, np.broadcast_to(steps, (height, width))


@pytest.mark.parametrize(("grey", "slope", "noise"), [
    (0.5, 0.0, 0.0), (0.65, 0.1, 0.01), (0.75, 0.0, 0.02), (0.4, 0.08, 0.02),
])  # fmt: skip
def test_a_grey_ground_does_not_count_as_the_piece(tmp_path, grey, slope, noise):
    path, plate, truth_nm = on_ground(tmp_path, grey, slope=slope, noise=noise)
    found = map_photo(path, **ASKED)
    mapped = np.isfinite(found.median_nm)
    assert mapped[~plate].mean() < 0.02
    assert mapped[plate].mean() > 0.9
    both = mapped & plate
    assert np.median(np.abs(found.median_nm - truth_nm)[both]) < 4.0
    assert any("grey round the edges" in note for note in found.notes)


def test_a_piece_that_fills_the_picture_is_no_ground(tmp_path):
    path, *_ = on_ground(tmp_path, 0.5, radius=400)
    found = map_photo(path, **ASKED)
    assert found.share_fitted > 0.95
    assert any("goes round the edges" in note for note in found.notes)
    said = map_photo(path, **ASKED, piece="0,0,320,200")
    assert not any("the edges" in note for note in said.notes)
