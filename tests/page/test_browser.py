"""The page in a real browser: each room's main path, two tabs, a phone, and a quiet console.

With ``OXHUE_PICTURES=docs/pictures`` the rooms are kept there as pictures for the guide.
"""

import os
import re
from pathlib import Path

import pytest

from tests.page.chromium import (
    DESK,
    PHONE,
    ROOMS,
    answered,
    clicked,
    enter,
    look_at_a_span,
    profile,
    said,
    send_photo,
    watched,
    words_of,
)
from tests.page.test_photos import as_file, rendered

FRONT_HEX = "#look-swatches .swatch:first-child .hex"
TALLEST = 1_400  # pixels of a picture in the guide
HEX = re.compile(r"#[0-9a-f]{6}")


def keep(tab, name):
    """A picture of the room for the guide, where it is asked for."""
    folder = os.environ.get("OXHUE_PICTURES")
    if folder:
        tab.evaluate("() => { document.activeElement.blur(); scrollTo(0, 0); }")
        path, size = Path(folder) / f"page-{name}.png", tab.viewport_size
        if name == "phone":
            tab.screenshot(path=path)
            return
        height = min(TALLEST, tab.evaluate("document.documentElement.scrollHeight"))
        clip = {"x": 0, "y": 0, "width": size["width"], "height": height}
        tab.screenshot(path=path, full_page=True, clip=clip)


def front(tab):
    return said(tab, "#look-swatches .swatch >> nth=0")


def changed(tab, selector, before):
    """The text of an element once it is another than it was."""
    tab.locator(f"{selector}:not(:text-is('{before}'))").wait_for()
    return said(tab, selector)


def test_the_key_leaves_the_address(tab):
    assert "key" not in tab.url


def test_what_it_looks_like_follows_slider_angle_light_and_text(tab):
    enter(tab, "look")
    tab.get_by_role("button", name="Tinted titanium").click()
    tab.locator("#look-swatches .hex", has_text="#3c4fa1").wait_for()
    assert "dark blue" in front(tab)
    assert "9.2\u00a0% of" in tab.locator("#look-swatches .remark").first.text_content()
    keep(tab, "look")
    slider = tab.get_by_role("slider", name="Thickness of TiO2")
    slider.fill("20")
    tab.locator("#look-swatches .swatch >> nth=0", has_text="gold").wait_for()
    assert tab.locator("#look-text").input_value() == "TiO2 20nm / Ti"
    square_on = said(tab, FRONT_HEX)
    tab.get_by_role("slider", name="Angle of looking").fill("70")
    tilted = changed(tab, FRONT_HEX, square_on)
    tab.get_by_role("combobox", name="Light").select_option("A")
    changed(tab, FRONT_HEX, tilted)
    tab.get_by_role("combobox", name="Light").select_option("D65")
    tab.get_by_role("slider", name="Angle of looking").fill("0")


def test_layers_are_moved_with_keys_and_by_dragging(tab):
    enter(tab, "look")
    written = tab.locator("#look-text")
    written.fill("MgF2 100nm / Al 80nm / glass 4mm")
    written.press("Enter")
    tab.get_by_role("button", name="Move layer 1, MgF2: arrow keys").press("ArrowDown")
    assert written.input_value() == "Al 80nm / MgF2 100nm / glass 4mm"
    grip = tab.get_by_role("button", name="Move layer 1, Al: arrow keys")
    start, target = grip.bounding_box(), tab.locator(".layer >> nth=1").bounding_box()
    tab.mouse.move(start["x"] + 10, start["y"] + 10)
    tab.mouse.down()
    tab.mouse.move(start["x"] + 10, target["y"] + target["height"], steps=4)
    tab.mouse.up()
    assert written.input_value() == "MgF2 100nm / Al 80nm / glass 4mm"
    tab.get_by_role("button", name="Add a layer on top").click()
    assert written.input_value().startswith("SiO2 100nm / MgF2")
    tab.get_by_role("button", name="Remove layer 1, SiO2").click()
    tab.locator("#look-swatches .hex").nth(2).wait_for()
    answered(tab)
    assert tab.locator("#look-swatches .hex").count() == 3


def test_a_stack_that_cannot_be_read_is_told_in_a_sentence(tab):
    enter(tab, "look")
    written = tab.locator("#look-text")
    written.fill("TiOO 45nm / Ti")
    written.press("Enter")
    tab.locator("#look-status.refused", has_text="unknown material 'TiOO'").wait_for()
    written.fill("2 x (SiO2 90nm / TiO2 60nm) / glass")
    written.press("Enter")
    tab.locator(".layer-fixed").nth(4).wait_for()
    assert said(tab, "#look-status") == ""


def test_from_heat_to_colour_and_back(tab):
    enter(tab, "heat")
    tab.locator("#heat-swatch .name", has_text="bronze").wait_for()
    tab.get_by_role("slider", name="Temperature", exact=True).fill("480")
    tab.locator("#heat-swatch .heading", has_text="480 °C for 20 min").wait_for()
    tab.get_by_label("Colour wanted", exact=True).fill("purple")
    tab.get_by_role("button", name="Find heats").click()
    recipe = tab.locator("#heat-recipes .card")
    recipe.first.wait_for()
    assert re.search(r"47\d °C for 20 min", words_of(recipe.first))
    keep(tab, "heat")
    recipe.first.get_by_role("button").click()
    tab.locator("#heat-swatch .name", has_text="purple").wait_for()
    tab.get_by_text("In an anodising bath").click()
    tab.locator("#heat-recipes .card strong", has_text=" V").first.wait_for()
    tab.get_by_role("slider", name="Voltage").fill("25")
    tab.locator("#heat-swatch .heading", has_text="anodised to 25 V").wait_for()
    tab.get_by_role("combobox", name="Metal").select_option("steel")
    tab.locator("#heat-swatch .heading", has_text="carbon steel").wait_for()


@pytest.mark.slow
def test_a_kiln_is_learnt_from_pieces_saved_forgotten_and_opened_again(tab, tmp_path):
    enter(tab, "heat")
    tab.get_by_role("combobox", name="Metal").select_option("Ti")
    tab.get_by_text("By heat, in air").click()
    tab.get_by_role("button", name="Learn from these").click()
    tab.locator("#kiln-status", has_text="Write down at least one piece").wait_for()
    pieces = (("380", "20", "#b59c68"), ("420", "20", "27.5 nm"), ("450", "20", "purple"))
    for i, piece in enumerate(pieces):
        for field, text in zip(tab.locator(".kiln-row").nth(i + 1).locator("[type=text]").all(),
                               piece, strict=True):  # fmt: skip
            field.fill(text)
    tab.get_by_role("button", name="Another piece").click()
    tab.get_by_role("button", name="Learn from these").click()
    tab.locator("#kiln-held .next", has_text="times as fast").wait_for()
    assert tab.locator("#kiln-held tbody tr").count() == 3
    tab.get_by_text("What this rests on").click()
    tab.locator("#heat-answer", has_text="3 test pieces of this page").wait_for()
    keep(tab, "kiln")
    with tab.expect_download() as saved:
        tab.get_by_role("link", name="Save this kiln").click()
    kiln = tmp_path / "kiln.json"
    saved.value.save_as(kiln)
    tab.get_by_role("button", name="Forget it").click()
    tab.locator("#heat-answer").get_by_text("test pieces of this page").wait_for(state="detached")
    tab.locator("#kiln-file").set_input_files(kiln)
    tab.locator("#kiln-held", has_text="learnt from 3 test pieces").wait_for()
    tab.get_by_role("combobox", name="Metal").select_option("steel")
    tab.locator("#kiln-other", has_text="This kiln is for titanium").wait_for()


def test_from_a_word_to_its_thicknesses(tab):
    enter(tab, "thickness")
    tab.get_by_label("Colour seen, straight on", exact=True).fill("purple")
    tab.keyboard.press("Enter")
    lead = tab.locator("#thickness-answer .lead", has_text="1st order")
    lead.wait_for()
    assert re.search(r"About 3\d nm", words_of(lead))
    assert tab.locator("#thickness-answer .card").count() >= 2
    assert "Look next" in said(tab, "#thickness-answer")
    keep(tab, "thickness")


@pytest.mark.slow
def test_an_answer_is_kept_as_report_chart_table_and_command_and_carried_to_the_log(tab):
    enter(tab, "heat")
    keep_row = tab.locator("#heat-answer .exports")
    keep_row.wait_for()
    kept = {"Report": ".html", "Chart": ".svg", "Tables (CSV)": ".csv", "JSON": ".json"}
    for name, end in kept.items():
        with tab.expect_download() as saved:
            keep_row.get_by_role("button", name=name, exact=True).click()
        assert saved.value.suggested_filename == f"oxhue-tint{end}"
        assert Path(saved.value.path()).stat().st_size > 100
    keep_row.get_by_role("button", name="As a command").click()
    tab.locator("#heat-answer .typed", has_text="oxhue tint --at=450C --for=20min -- Ti").wait_for()
    keep_row.get_by_role("button", name="Record this").click()
    tab.locator("#log").wait_for()
    assert tab.locator("#log-at").input_value() == "450C"
    assert tab.locator("#log-time").input_value() == "20min"


@pytest.mark.slow
def test_runs_are_recorded_with_photos_and_teach(tab, tmp_path):
    photo = tmp_path / "plate.jpg"
    photo.write_bytes(as_file(rendered(), "JPEG"))
    enter(tab, "log")
    for at, seen in (("400C", "gold"), ("430C", "purple")):
        for name, text in (("setup", "shop kiln"), ("at", at), ("time", "20min"), ("seen", seen)):
            tab.locator(f"#log-{name}").fill(text)
        tab.locator("#log-photo").set_input_files(photo)
        tab.get_by_role("button", name="Record this").last.click()
        tab.locator("#log-runs .card", has_text=at).wait_for()
    own = tab.locator("#log-runs .card", has_text="400C")
    own.get_by_alt_text("Photo of run").wait_for()
    tab.locator("#log-pieces button").first.click()
    tab.get_by_alt_text("Photo of the piece").first.wait_for()
    keep(tab, "log")
    tab.locator("#log-of").fill("shop kiln")
    tab.get_by_role("button", name="Odds before and after").click()
    tab.locator("#log-learnt .lead", has_text="2 test pieces").wait_for()
    tab.locator(".chart-image[data-shown]").first.wait_for()


def test_a_run_with_every_option_is_recorded_once(tab):
    enter(tab, "log")
    answered(tab)
    before = tab.locator("#log-runs .card:not(.example)").count()
    tab.locator("#log details.every > summary").click()
    for verb, fields in (
        ("setup", {"name": "lamp kiln", "kind": "kiln"}),
        ("run", {"name": "lamp kiln", "metal": "Ti", "at": "451C", "time": "9min"}),
    ):
        tab.locator(f"#every-log-{verb} > summary").click()
        for name, text in fields.items():
            field = tab.locator(f"#log-{verb}-every-{name}")
            if not field.is_visible():
                field.locator("xpath=ancestor::details[1]/summary").click()
            field.fill(text)
        tab.locator(f"#every-log-{verb} form").get_by_role("button", name="Record").click()
        tab.locator(f"#log-{verb}-every-answer .exports").wait_for()
    keep_row = tab.locator("#log-run-every-answer .exports")
    assert keep_row.get_by_role("button", name="Report").count() == 0
    keep_row.get_by_role("button", name="As a command").click()
    tab.locator("#log-run-every-answer .typed", has_text="oxhue log run --metal=Ti").wait_for()
    tab.locator("#log-runs .card", has_text="451C").wait_for()
    answered(tab)
    tab.reload()
    tab.wait_for_selector("body[data-ready]")
    tab.locator("#log-runs .card", has_text="451C").wait_for()
    answered(tab)
    assert tab.locator("#log-runs .card:not(.example)").count() == before + 1


def test_every_option_of_a_verb_can_be_asked(tab):
    look_at_a_span(tab)
    tab.locator("#look-every-answer table tbody tr").nth(10).wait_for()
    tab.locator("#look-every-answer summary", has_text="Chart").click()
    picture = tab.locator("#look-every-answer img")
    picture.wait_for()
    assert picture.evaluate("image => image.decode().then(() => image.naturalWidth)") > 100
    tab.locator("#look-every-stack").fill("TiOO 5nm / Ti")
    tab.locator("#every-look form").get_by_role("button", name="Answer").click()
    tab.locator("#every-look .status.refused", has_text="unknown material").wait_for()
    assert said(tab, "#look-every-answer") == ""


def test_from_a_photo_to_a_thickness_and_a_map(tab):
    enter(tab, "thickness")
    tab.get_by_text("A photo", exact=True).click()
    file = {"name": "bad.jpg", "mimeType": "image/jpeg", "buffer": b"no picture"}
    tab.locator("#photo-file").set_input_files(file)
    tab.locator("#thickness-status.refused", has_text="is not a JPEG").wait_for()
    picture = as_file(rendered(25.0, 75.0), "JPEG", quality=95)
    send_photo(tab, file | {"name": "dial.jpg", "buffer": picture})
    clicked(tab, 150, 100)  # half way from 25 to 75 nm; the card was found in the picture
    tab.locator("#thickness-answer .lead").wait_for()
    found = re.search(r"About (\d+) nm", said(tab, "#thickness-answer .lead"))
    assert 45 <= int(found[1]) <= 55
    seen = said(tab, "#thickness-answer .card .hex >> nth=0")
    tab.get_by_role("button", name="Spot: arrow keys move it").press("Shift+ArrowLeft")
    changed(tab, "#thickness-answer .card:first-child .hex:nth-child(1)", seen)
    tab.get_by_role("button", name="Map the whole piece").click()
    shown = tab.locator(".map-over canvas")
    shown.wait_for()
    answered(tab)  # or what comes moves the map away from under the pointer
    shown.scroll_into_view_if_needed()
    box = shown.bounding_box()
    at = [box["x"] + box["width"] * 0.3, box["y"] + box["height"] * 0.6]
    tab.mouse.move(*at)
    tab.mouse.down()
    assert re.fullmatch(r"\d+ nm here, \d+ to \d+", said(tab, ".map-reading"))
    tab.mouse.move(at[0] + box["width"] * 0.4, at[1], steps=4)
    tab.mouse.up()
    tab.locator("#thickness-map svg.chart path.curve").wait_for()
    tab.get_by_label("Colours of the map", exact=True).select_option("film")
    tab.get_by_label("Photo or map").fill("20")
    assert shown.evaluate("one => one.style.opacity") == "0.2"
    keep(tab, "photo")


@pytest.mark.slow
def test_a_card_is_proposed_a_row_of_spots_gauged_and_the_photo_seen_closer(tab):
    enter(tab, "thickness")
    tab.get_by_text("A photo", exact=True).click()
    picture = as_file(rendered(25.0, 75.0), "JPEG", quality=95)
    file = {"name": "dial.jpg", "mimeType": "image/jpeg", "buffer": picture}
    send_photo(tab, file)
    tab.locator("#thickness-photo .hint", has_text="seems to lie at its mark").wait_for()
    tab.locator("[data-kind=white]").wait_for()
    tab.get_by_label("Row starts", exact=True).check()
    clicked(tab, 60, 100)
    clicked(tab, 240, 100)
    tab.locator(".row-line").wait_for(state="attached")
    tab.get_by_role("button", name="Gauge the row").click()
    tab.locator(".row-panel .lead", has_text="along the row").wait_for()
    assert tab.locator(".row-panel .card").count() == 7
    tab.get_by_label("White card", exact=True).check()
    clicked(tab, 12, 100)
    tab.locator("#thickness-photo .status.refused", has_text="much darker than a white").wait_for()
    width = tab.locator(".photo").bounding_box()["width"]
    tab.get_by_role("button", name="See the photo closer").click()
    assert tab.locator(".photo").bounding_box()["width"] > 1.4 * width


def test_what_is_it(tab):
    enter(tab, "assay")
    assert "Nothing told yet" in said(tab, "#assay-answer")
    tab.get_by_role("button", name="A golden slide").click()
    tab.locator("#assay-answer .lead", has_text="oxidised titanium").wait_for()
    assert tab.locator("#assay-answer .suspect").count() >= 2
    keep(tab, "assay")


def test_what_to_lay_down_and_how(tab):
    enter(tab, "deposit")
    tab.get_by_role("button", name="Bright mirror").click()
    tab.get_by_role("button", name="Look for designs").click()
    design = tab.locator("#design-answer .design").first
    design.wait_for()
    assert "silver" in words_of(design)
    lead = said(tab, "#design-answer .lead")
    assert re.match(
        r"TiO2 [\d.]+ nm / SiO2 [\d.]+ nm / Al [\d.]+ nm / glass: meets every goal", lead
    )
    design.get_by_role("button", name="Plan the run").click()
    tab.locator("#sheet-answer .steps-table tbody tr").first.wait_for()
    assert "Before you pump down" in said(tab, "#sheet-answer")
    keep(tab, "deposit")
    design.get_by_role("button", name="See it").click()
    tab.locator("#look-swatches .name", has_text="silver").first.wait_for()


@pytest.mark.slow
def test_a_run_is_followed_by_light_and_replanned_for_its_goals(tab):
    enter(tab, "deposit")
    tab.locator("#sheet-stack").fill("TiO2 57nm / SiO2 91nm / TiO2 57nm / glass 1mm")
    tab.locator("#sheet-goals").fill("R>50% 520..545nm; R>40% 600nm")
    tab.locator("#sheet-monitor").fill("405nm")
    tab.locator("#sheet-made").fill("1:TiO2 60nm")
    tab.locator("#sheet-form").get_by_role("button", name="Plan the run").click()
    tab.get_by_role("heading", name="How to follow it").wait_for()
    text = said(tab, "#sheet-answer")
    assert "R at 405 nm" in text
    assert "turning point" in text
    assert "R>40% 600nm" in text
    assert tab.locator("#sheet-answer svg[role=img] path.curve").count() == 2  # the steps to come


@pytest.mark.slow
def test_the_gas_in_a_jar(tab):
    enter(tab, "deposit")
    assert "No jar yet" in said(tab, "#chamber-answer")
    tab.get_by_label("Rise, valve shut").fill("5e-3mbar,5e-2mbar,60s")
    tab.locator("#chamber-working-gas").select_option("argon")
    tab.get_by_role("button", name="Weigh the gas").click()
    tab.locator("#chamber-status", has_text="Gauge shows with it").wait_for()
    tab.get_by_label("Gauge shows with it").fill("1e-2mbar")
    tab.get_by_role("button", name="Weigh the gas").click()
    tab.locator("#chamber-answer .lead", has_text="Argon at").wait_for()
    assert tab.locator("#chamber-answer tbody tr").count() == 6
    assert tab.locator("#chamber-answer svg.chart path").count() >= 4


def test_two_tabs_do_not_disturb_each_other(tab, chrome, address, troubles):
    other = watched(chrome, troubles)
    other.goto(address.partition("?")[0])
    other.wait_for_selector("body[data-ready]")
    enter(tab, "look")
    tab.get_by_role("button", name="Tinted titanium").click()
    other.get_by_role("button", name="Golden slide").click()
    other.locator("#look-swatches .name", has_text="gold").first.wait_for()
    tab.get_by_role("slider", name="Thickness of TiO2").fill("20")
    tab.locator("#look-swatches .swatch >> nth=0", has_text="gold").wait_for()
    assert tab.locator("#look-text").input_value() == "TiO2 20nm / Ti"
    assert other.locator("#look-text").input_value() == "TiO2 80nm / glass 1mm"
    other.close()


def test_on_a_phone_nothing_is_wider_than_the_screen(tab):
    tab.set_viewport_size(PHONE)
    for room in ROOMS:
        enter(tab, room)
        answered(tab)
        assert tab.evaluate("document.documentElement.scrollWidth") == PHONE["width"], room
        # Marks on a photo are small, but take touches from well around them.
        small = tab.locator(f"#{room} button:visible").evaluate_all(
            "all => all.filter(one => one.offsetHeight < 24 && !one.classList.contains('place'))"
            ".map(one => one.textContent)"
        )
        assert small == [], room  # WCAG 2.2, success criterion 2.5.8: targets of 24 pixels at least


def inside(page, selector):
    """Where an element lies, which must be on the screen without scrolling."""
    box = page.locator(selector).bounding_box()
    assert box["y"] >= 0
    assert box["y"] + box["height"] <= page.viewport_size["height"]
    return box


def test_on_a_phone_the_answer_is_read_without_scrolling_and_opens_whole(held):
    held.locator("[data-room=thickness]").tap()
    held.get_by_role("button", name="purple", exact=True).tap()
    line = held.locator("#answer-line", has_text="1st order")
    line.wait_for()
    assert re.match(r"3\d nm, \d+ to \d+ · 1st order", words_of(line))
    bar, said_at = inside(held, ".rooms"), inside(held, "#answer-line")
    assert said_at["y"] + said_at["height"] <= bar["y"] + 1
    assert not 0 <= held.locator("#thickness-answer").bounding_box()["y"] < said_at["y"] - 40
    line.tap()
    held.wait_for_function(
        "Math.abs(document.getElementById('thickness-answer').getBoundingClientRect().top) < 60"
    )
    keep(held, "phone")
    held.get_by_label("Colour seen, straight on", exact=True).fill("octarine")
    held.keyboard.press("Enter")
    held.locator("#answer-line", has_text="No answer").wait_for()


def test_marks_are_held_by_a_finger_with_a_loupe_and_their_colour_beside(held):
    held.locator("[data-room=thickness]").tap()
    held.get_by_text("A photo", exact=True).tap()
    assert "Take or choose a photo" in said(held, "#thickness-photo")
    picture = as_file(rendered(25.0, 75.0), "JPEG", quality=95)
    file = {"name": "dial.jpg", "mimeType": "image/jpeg", "buffer": picture}
    send_photo(held, file)
    held.get_by_role("button", name="Put the mark in the middle").click()
    mark = held.locator(".place[data-kind=white]").bounding_box()
    assert min(mark["width"], mark["height"]) >= 44
    assert re.search(r"White card #[0-9a-f]{6}", said(held, ".mark-chips"))
    held.mouse.move(mark["x"] + 22, mark["y"] + 22)
    held.mouse.down()
    held.mouse.move(mark["x"] + 40, mark["y"] + 30, steps=3)
    assert held.locator("canvas.loupe").is_visible()
    held.mouse.up()
    assert not held.locator("canvas.loupe").is_visible()
    assert "Click" not in said(held, "#thickness")


def test_the_tab_bar_takes_at_most_15_percent_of_the_height(tab):
    for width, height in ((360, 640), (430, 932), (640, 450), (320, 225)):
        tab.set_viewport_size({"width": width, "height": height})  # the last: 1280 × 900 at 400 %
        assert tab.locator(".rooms").bounding_box()["height"] <= 0.15 * height, width
    for room in ("log", "look"):  # where the tabs scroll sideways, the open one is in sight
        enter(tab, room)
        box = tab.locator(".rooms [aria-current]").bounding_box()
        assert box["x"] >= -1
        assert box["x"] + box["width"] <= 321


def test_an_error_takes_the_colours_of_the_stack_before_it_away(tab):
    enter(tab, "look")
    written = tab.locator("#look-text")
    written.fill("TiO2 0..200nm / Ti")
    written.press("Enter")
    tab.locator("#look-swatches svg.chart").wait_for()
    tab.get_by_text("Line at the top of the strip: more vivid than a screen can show.").wait_for()
    assert tab.locator("#look-swatches svg.chart .bound").count() == 1
    written.fill("TiO2 45nm / Unobtainium")
    written.press("Enter")
    tab.locator("#look-status.refused").wait_for()
    assert HEX.search(said(tab, "#look-swatches")) is None


@pytest.mark.slow
def test_every_control_has_a_name_and_every_patch_its_words(tab):
    for room in ROOMS:
        enter(tab, room)
        answered(tab)
        nameless = tab.locator(f"#{room} :is(input, select, button):visible").evaluate_all(
            "all => all.filter(one => !(one.ariaLabel || one.labels?.[0]?.textContent.trim()"
            " || one.textContent.trim())).map(one => one.outerHTML)"
        )
        assert nameless == [], room
        for words in tab.locator(
            f"#{room} :is(.named:has(.patch), .swatch:not(.none)):visible"
        ).all_inner_texts():
            assert HEX.search(words), room
            assert re.search(r"[a-z]{3}", words), room
        assert tab.locator(f"#{room} h1").count() == 1
        assert tab.title().endswith("oxhue")


ZOOMED = [(1400, 900), (768, 1024), (640, 450), (390, 844), (320, 256)]  # 640 and 320: 200, 400 %
ENDS = [ZOOMED[0], ZOOMED[-1]]


def open_every(tab, room):
    """Every form of a room, drawn and open."""
    part = tab.locator(f"#{room} details.every > summary")
    if part.count():
        part.click()
        tab.locator(f"#{room} details.verb").first.wait_for()
        for form in tab.locator(f"#{room} details.verb > summary").all():
            form.click()


@pytest.mark.parametrize(
    ("room", "sizes"),
    [
        pytest.param("look", ENDS, id="quick"),
        *(pytest.param(room, ZOOMED, id=room, marks=pytest.mark.slow) for room in ROOMS),
    ],
)
def test_a_room_keeps_the_rules_of_access_at_every_width_and_zoom(tab, room, sizes):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not there")
    enter(tab, room)
    open_every(tab, room)
    answered(tab)
    for width, height in sizes:
        tab.set_viewport_size({"width": width, "height": height})
        answered(tab)  # charts are drawn again for the width
        found = axe.Axe().run(tab).response
        assert found["violations"] == [], (width, found["violations"][0]["id"])
        assert len(found["passes"]) > 20  # it has looked at something
        assert tab.evaluate("document.documentElement.scrollWidth") == width
        if width < 820:
            bar = tab.locator(".rooms").bounding_box()
            assert bar["height"] <= 0.15 * height + 1
    tab.set_viewport_size(DESK)


def test_with_colours_forced_by_the_system_swatches_keep_theirs(chrome, address):
    with profile(chrome.browser, forced_colors="active") as context:
        page = context.new_page()
        page.goto(address)
        page.locator("#look-swatches .field").first.wait_for()
        seen = page.locator("#look-swatches .field").first.evaluate(
            "one => getComputedStyle(one).backgroundColor"
        )
        assert seen == "rgb(60, 79, 161)"


def test_the_first_page_is_small(chrome, address):
    sizes = []
    page = chrome.new_page()
    page.on("response", lambda one: sizes.append(len(one.body())) if one.ok else None)
    page.goto(address)
    page.wait_for_selector("body[data-ready]")
    assert 20_000 < sum(sizes) <= 300_000
    page.close()
