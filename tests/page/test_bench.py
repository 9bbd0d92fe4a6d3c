"""The page at the bench: a mark dragged, charts read, a piece kept and found again, by night."""

import io
import re
import zipfile
from pathlib import Path

import pytest

from tests.page.chromium import (
    ROOMS,
    answered,
    clicked,
    enter,
    held_back,
    look_at_a_span,
    said,
    send_photo,
    words_of,
)
from tests.page.test_photos import as_file, rendered

PHOTO = {
    "name": "dial.jpg",
    "mimeType": "image/jpeg",
    "buffer": as_file(rendered(25.0, 75.0), "JPEG", quality=95),
}


def marked(tab):
    """A photo with its card and a spot half way along."""
    enter(tab, "thickness")
    tab.get_by_text("A photo", exact=True).click()
    send_photo(tab, PHOTO)
    clicked(tab, 150, 100)
    tab.locator("#thickness-answer .exports").wait_for()


def test_the_estimate_follows_a_mark_while_it_is_dragged(tab):
    marked(tab)
    before = said(tab, "#thickness-answer .lead")
    box = tab.get_by_role("button", name="Spot: arrow keys move it").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    tab.mouse.move(x, y)
    tab.mouse.down()
    tab.mouse.move(x - 60, y, steps=3)
    tab.locator(f"#thickness-answer .lead:not(:text-is('{before}'))").wait_for()
    assert tab.locator("#thickness-answer .exports").count() == 0  # these wait until it is let go
    assert tab.locator("#thickness-answer svg.chart").is_visible()
    tab.mouse.up()
    tab.locator("#thickness-answer .exports").wait_for()
    assert "to" in said(tab, "#thickness-answer .lead")


@pytest.mark.slow
def test_a_rectangle_round_the_piece_goes_with_its_map_and_comes_back(tab):
    marked(tab)
    tab.get_by_role("button", name="Draw round the piece").click()
    tab.locator(".photo.drawing").scroll_into_view_if_needed()
    box = tab.locator(".photo").bounding_box()
    corners = (0.1, 0.4), (0.9, 0.9)
    at = [(box["x"] + x * box["width"], box["y"] + y * box["height"]) for x, y in corners]
    tab.mouse.move(*at[0])
    tab.mouse.down()
    tab.mouse.move(*at[1], steps=4)
    tab.mouse.up()
    drawn = tab.locator(".piece-box")
    assert drawn.is_visible()
    with tab.expect_request("**/api/map") as asked:
        tab.get_by_role("button", name="Map the whole piece").click()
    x, y, width, height = map(int, asked.value.post_data_json["piece"].split(","))
    assert abs(x - 30) <= 3
    assert abs(y - 64) <= 3
    assert abs(width - 240) <= 4
    assert abs(height - 80) <= 4
    tab.locator(".map-over canvas").wait_for()
    left = drawn.bounding_box()["x"]
    drawn.press("ArrowRight")
    assert drawn.bounding_box()["x"] > left
    tab.wait_for_url("**piece**")
    answered(tab)
    tab.reload()
    tab.locator(".piece-box").wait_for()
    answered(tab)
    tab.get_by_role("button", name="Map all of the photo").click()
    assert not tab.locator(".piece-box").is_visible()
    answered(tab)


def test_charts_are_read_by_pointer_and_keys(tab):
    enter(tab, "look")
    chart = tab.locator("#look-chart svg.chart")
    chart.wait_for()
    box = chart.bounding_box()
    tab.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    reading = tab.locator("#look-chart .chart-reading")
    assert "% " not in words_of(reading)
    assert words_of(reading).endswith("%")
    chart.press("End")
    assert words_of(reading).startswith("780 nm: reflected, front ")
    chart.press("ArrowLeft")
    assert words_of(reading).startswith("775 nm")
    enter(tab, "thickness")
    tab.get_by_role("button", name="purple", exact=True).click()
    density = tab.locator("#thickness-answer svg.chart")
    density.press("Home")
    assert "outside the 90 %" in said(tab, "#thickness-answer .chart-reading")


@pytest.mark.slow
def test_an_empty_room_shows_an_example_that_goes_when_there_is_an_answer(tab):
    for room, panel in (("thickness", "thickness"), ("assay", "assay"), ("deposit", "sheet")):
        enter(tab, room)
        tab.locator(f"#{panel}-example .example-words", has_text="For example").wait_for()
        assert tab.locator(f"#{panel}-answer .empty").is_visible()
    enter(tab, "thickness")
    tab.get_by_role("button", name="blue", exact=True).click()
    tab.locator("#thickness-answer .lead").wait_for()
    assert not tab.locator("#thickness-example").is_visible()
    answered(tab)


def test_a_look_that_is_proposed_opens_where_it_is_entered(tab):
    enter(tab, "thickness")
    tab.get_by_role("button", name="purple", exact=True).click()
    looks = tab.locator("#thickness-answer .next-looks li")
    looks.first.wait_for()
    assert looks.count() >= 3
    assert "spectrum" not in words_of(looks.first)  # what needs no instrument comes first
    tab.get_by_role("button", name="Enter it: look at the same spot tilted to 60°").click()
    assert tab.locator("#thickness-tilted").evaluate("one => one === document.activeElement")
    tab.get_by_role("button", name="Enter it: photograph it square on").click()
    tab.locator("#thickness-photo .drop").wait_for()


def test_a_piece_gathers_what_is_known_and_goes_as_one_file(tab, tmp_path):
    marked(tab)
    answered(tab)
    lead = said(tab, "#thickness-answer .lead")
    tab.locator("#thickness-answer").get_by_role("button", name="Record this").click()
    assert "the photo, and" in said(tab, "#log-carried")
    for name, text in (
        ("setup", "tower kiln"),
        ("at", "470C"),
        ("time", "20min"),
        ("piece", "dial"),
    ):
        tab.locator(f"#log-{name}").fill(text)
    tab.locator("#log-form").get_by_role("button", name="Record this").click()
    tab.get_by_role("button", name="Open dial").click()
    tab.locator(".piece-photos img").wait_for()
    assert "1st order" in said(tab, ".piece-answers")
    assert "470C" in said(tab, ".piece-facts")
    tab.get_by_role("button", name="Add what came out").click()
    tab.locator("#log-ohms").fill("open")
    tab.locator("#log-form").get_by_role("button", name="Record this").click()
    tab.locator(".piece-facts", has_text="Ohmmeter").wait_for()
    tab.wait_for_url("**/#log?*piece=dial*")
    answered(tab)
    with tab.expect_download() as saved:
        tab.get_by_text("Save this piece as one file").click()
    file = tmp_path / "dial.zip"
    saved.value.save_as(file)
    names = zipfile.ZipFile(io.BytesIO(Path(file).read_bytes())).namelist()
    assert names[0] == "log.jsonl"
    assert len(names) == 2
    answered(tab)
    tab.reload()  # nothing of the answer is there any more
    tab.get_by_text("Open it as it was").click()
    tab.locator("#thickness-answer .lead", has_text=lead).wait_for()
    assert tab.locator(".place[data-kind=white]").is_visible()
    enter(tab, "log")
    tab.locator("#log-file-in").set_input_files(file)
    tab.locator("#log-status", has_text=re.compile(r"the first is run ([2-9]|\d\d)")).wait_for()
    answered(tab)


@pytest.mark.slow
def test_a_table_of_index_of_ones_own_goes_into_a_stack(tab, tmp_path):
    table = tmp_path / "my oxide.csv"
    table.write_text("wavelength_nm,n,k\n350,2.4,0\n800,2.2,0\n")
    enter(tab, "look")
    tab.get_by_text("Your own table of index").click()
    tab.locator("#look-table").set_input_files(table)
    tab.get_by_role("button", name="Put on top").click()
    assert tab.locator("#look-text").input_value() == '"my_oxide.csv" 100nm / TiO2 45nm / Ti'
    tab.locator("#look-swatches .hex:not(:text-is('#3c4fa1'))").first.wait_for()
    assert said(tab, "#look-status") == ""
    answered(tab)


@pytest.mark.slow
@pytest.mark.parametrize("room", ROOMS)
def test_by_night_the_ground_is_dark_and_neutral_and_words_can_be_read(tab, room):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not there")
    tab.emulate_media(color_scheme="dark")
    enter(tab, room)
    answered(tab)
    red, green, blue = tab.evaluate(
        "getComputedStyle(document.documentElement).backgroundColor.match(/\\d+/g).map(Number)"
    )
    assert max(red, green, blue) < 40
    assert max(red, green, blue) - min(red, green, blue) <= 2
    for width in (1400, 390):
        tab.set_viewport_size({"width": width, "height": 844})
        answered(tab)
        found = axe.Axe().run(tab).response
        assert found["violations"] == [], (width, found["violations"][0]["id"])


@pytest.mark.slow
def test_ohms_alone_tell_the_thickness_of_a_metal(tab):
    enter(tab, "thickness")
    tab.locator("#thickness-film").fill("Ti")
    tab.locator("#thickness-on").fill("glass 1mm")
    tab.get_by_text("More looks at the same spot").click()
    tab.get_by_label("Ohms per square, of a film that conducts").fill("20ohm/sq")
    tab.keyboard.press("Enter")
    lead = tab.locator("#thickness-answer .lead", has_text="nm")
    lead.wait_for()
    assert re.search(r"About [3-9]\d nm", words_of(lead))


@pytest.mark.slow
def test_a_doubtful_sheet_says_what_to_change(tab):
    enter(tab, "deposit")
    tab.locator("#sheet-stack").fill("Ti 80nm / glass 1mm")
    tab.locator("#sheet-pressure").fill("1e-4mbar")
    tab.locator("#sheet-trouble").select_option("peels")
    tab.locator("#sheet-form").get_by_role("button", name="Plan the run").click()
    told = tab.locator("#sheet-answer .remedies")
    told.wait_for()
    assert "likely to stay metal" in words_of(told)
    assert "grease" in words_of(told)


@pytest.mark.slow
def test_the_chart_of_a_form_is_read_by_pointer_and_keys(tab):
    look_at_a_span(tab)
    tab.locator("#look-every-answer summary", has_text="Chart").click()
    picture = tab.locator("#look-every-answer .picture-box")
    picture.locator("img[data-shown]").wait_for()
    reading = tab.locator("#look-every-answer .chart-reading")
    picture.press("Home")
    assert "[nm] 0" in words_of(reading)
    picture.press("End")
    assert "[nm] 200" in words_of(reading)
    box = picture.bounding_box()
    tab.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert "luminous" in words_of(reading)
    assert tab.locator("#look-every-answer .picture-line").is_visible()


@pytest.mark.slow
def test_a_candidate_whose_region_has_parts_is_told_by_them(tab):
    def in_parts(route):
        came = route.fetch()
        found = came.json()
        found["drawing"]["told_nm"][0] = [[31.2, 36.4], [41.0, 47.9]]
        route.fulfill(response=came, json=found)

    enter(tab, "thickness")
    tab.locator("#thickness-example .lead").wait_for()
    tab.route("**/api/gauge", in_parts)
    tab.get_by_role("button", name="purple", exact=True).click()
    first = tab.locator("#thickness-answer .card").first
    first.wait_for()
    assert "90 % within 31 to 36 or 41 to 48 nm" in words_of(first)
    assert "31 to 36 or 41 to 48 nm, 1st order" in said(tab, "#thickness-answer .lead")
    assert re.match(r"\d+ nm, 31 to 36 or 41 to 48", said(tab, "#answer-line"))
    answered(tab)


def _asks_with_a_spectrometer(response):
    return "/api/gauge" in response.url and "spectrometer" in (response.request.post_data or "")


@pytest.mark.slow
def test_an_instrument_that_is_at_hand_is_among_the_looks_to_take_next(tab):
    enter(tab, "thickness")
    tab.get_by_role("button", name="purple", exact=True).click()
    looks = tab.locator("#thickness-answer .next-looks")
    looks.wait_for()
    assert "spectrum" not in words_of(looks)
    tab.get_by_text("More looks at the same spot").click()
    with tab.expect_response(_asks_with_a_spectrometer) as came:  # or the room's example answers
        tab.get_by_label("a spectrometer").check()
    proposed = [one["look"] for one in came.value.json()["answer"]["next_checks"]]
    assert "measure its reflectance spectrum" in proposed
    answered(tab)


@pytest.mark.slow
def test_a_photo_put_away_while_it_is_weighed_leaves_its_room_empty(tab):
    marked(tab)
    held = held_back(tab, "**/api/gauge")
    with tab.expect_request("**/api/gauge"):
        clicked(tab, 200, 100)
    answer = tab.locator("#thickness-answer")
    assert answer.get_attribute("aria-busy") == "true"
    tab.get_by_role("button", name="Another photo").click()
    answer.get_by_text("No colour yet").wait_for()
    held[0].continue_()
    answered(tab)
    assert answer.get_attribute("aria-busy") is None
    assert "No colour yet" in words_of(answer)
    assert said(tab, "#thickness-status") == ""


@pytest.mark.slow
def test_a_photo_put_away_before_it_is_seen_is_gone(tab):
    enter(tab, "thickness")
    tab.get_by_text("A photo", exact=True).click()
    held = held_back(tab, "**/preview")
    with tab.expect_request("**/preview"):
        tab.locator("#photo-file").set_input_files(PHOTO)
    tab.get_by_role("button", name="Another photo").click()
    tab.locator("#photo-file").wait_for(state="attached")
    held[0].continue_()
    answered(tab)  # what the console says fails the test
    assert tab.locator(".photo").count() == 0


@pytest.mark.slow
def test_a_row_of_spots_is_kept_as_report_and_carried_to_the_log(tab):
    marked(tab)
    tab.get_by_label("Row starts", exact=True).check()
    clicked(tab, 60, 100)
    clicked(tab, 240, 100)
    tab.get_by_role("button", name="Gauge the row").click()
    row = tab.locator("#row-answer .exports")
    row.wait_for()
    with tab.expect_download() as saved:
        row.get_by_role("button", name="Report", exact=True).click()
    assert saved.value.suggested_filename == "oxhue-row.html"
    assert "The photo, with the places" in Path(saved.value.path()).read_text("utf-8")
    row.get_by_role("button", name="Record this").click()
    assert "a row of spots" in said(tab, "#log-carried")
