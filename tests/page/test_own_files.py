"""The page's own files: its modules are named ahead, all that it starts with and no more."""

import re
from pathlib import Path

from oxhue import look
from oxhue.page import own_files
from oxhue.page.own_files import first_modules

STATIC = Path(own_files.__file__).parent / "static"


def test_every_import_is_written_so_that_it_is_found():
    for path in STATIC.glob("*.js"):
        text = path.read_text("utf-8")
        assert len(re.findall(r"^import\b", text, re.M)) == len(own_files._IMPORT.findall(text)), (
            path
        )


def test_the_page_names_what_it_starts_with(browser):
    named = re.findall(r'rel="modulepreload" href="/static/(\w+\.js)"', browser.get("/").text)
    assert named == first_modules()
    assert {"main.js", "look.js", "dom.js"} <= set(named)
    assert "map_view.js" not in named  # fetched where a map is
    assert all(browser.get(f"/static/{name}").status_code == 200 for name in named)


def test_the_colour_beside_a_word_is_what_titanium_shows_by_that_name():
    text = (STATIC / "thickness.js").read_text("utf-8")
    said = re.search(r"by that name, at ([\d, and]+) nm of oxide", text)[1]
    pairs = re.findall(r'\["([a-z ]+)", "(#[0-9a-f]{6})"\]', text)
    thicknesses = re.findall(r"\d+", said)
    assert len(thicknesses) == len(pairs) == 7
    for thickness_nm, (word, srgb_hex) in zip(thicknesses, pairs, strict=True):
        seen = look(f"TiO2 {thickness_nm}nm / Ti").reflected
        assert (seen.name, seen.srgb_hex) == (word, srgb_hex)
