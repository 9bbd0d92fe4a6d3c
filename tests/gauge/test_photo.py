"""A spot on a photo: the angle it was taken at counts, from Python and from the command line."""

import numpy as np
import pytest

from oxhue.optics.errors import InputError
from oxhue.optics.gauge.photo import reading_from_photo
from oxhue.optics.images.white_balance import parse_patch
from tests.cli.within import answer
from tests.images.pictures import saved

PATCH, CARD = "10,10,40,40", "70,10,40,40"


@pytest.fixture
def photo(tmp_path):
    """A plate of #50a1c8 next to a white card."""
    pixels = np.full((60, 120, 3), 40, dtype=np.uint8)
    pixels[10:50, 10:50] = (80, 161, 200)
    pixels[10:50, 70:110] = 235
    saved(tmp_path, pixels, "plate.png")
    return tmp_path / "plate.png"


def test_a_stated_angle_narrows_the_doubt_about_it(photo):
    def doubts(angle):
        places = {"white": parse_patch(CARD), "angle": angle}
        return reading_from_photo(photo, parse_patch(PATCH), "Ti", **places).doubts

    assert doubts(None).angle_low_deg == 0.0
    assert 55.0 < doubts("60").angle_low_deg < 60.0 < doubts("60").angle_high_deg < 65.0
    with pytest.raises(InputError, match="viewing angle of 95°"):
        doubts("95")


@pytest.mark.parametrize("many", [False, True], ids=["a photo", "rows of a file"])
def test_an_angle_given_changes_the_thickness(photo, many, capsys):
    line = ["gauge", "--film", "TiO2(siefke2016)", "--on", "Ti(johnson1974)"]
    if many:
        rows = photo.with_name("rows.csv")
        rows.write_text("id,hex\nXII,#50a1c8\n", encoding="utf-8")
        line += ["--readings", str(rows)]
    else:
        line += ["--photo", str(photo), "--patch", PATCH, "--white", CARD]
    straight, tilted = (answer(capsys, *line, *more)[1] for more in ([], ["--angle", "60"]))
    first = [one["readings"][0] if many else one for one in (straight, tilted)]
    assert abs(first[0]["thickness_nm"] - first[1]["thickness_nm"]) > 1.0
