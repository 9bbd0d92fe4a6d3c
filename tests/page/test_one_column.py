"""One column wide the answer stands above its form; no table is cut; what a finger is at stays."""

import pytest

from tests.page.chromium import PHONE, answered, enter, words_of
from tests.page.test_browser import inside

pytestmark = pytest.mark.slow  # each waits for a browser and for what it draws


def test_on_a_phone_the_answer_stands_above_the_form_and_the_form_stays_put(held):
    held.locator("[data-room=thickness]").tap()
    chip = held.get_by_role("button", name="purple", exact=True)
    chip.scroll_into_view_if_needed()
    held.locator("#thickness-example .lead").wait_for()
    before = chip.bounding_box()["y"]
    chip.tap()
    held.locator("#thickness-answer .exports").wait_for()
    held.locator("#answer-line", has_text="1st order").wait_for()
    answer, form = (
        held.locator(one).bounding_box()["y"] for one in ("#thickness-answer", "#thickness-film")
    )
    assert answer < form
    held.evaluate(
        "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"
    )
    assert abs(chip.bounding_box()["y"] - before) <= 2
    held.wait_for_url("**seen=purple**")
    held.reload()
    held.wait_for_selector("body[data-ready]")
    held.locator("#thickness-answer .exports").wait_for()
    inside(held, "#thickness-answer .lead")  # what is seen first


def test_the_line_above_the_tabs_names_what_the_film_is(held):
    held.locator("[data-room=assay]").tap()
    held.get_by_role("button", name="A golden slide").tap()
    line = held.locator("#answer-line .line-words", has_text="%")
    line.wait_for()
    assert words_of(line).startswith("Oxidised titanium")
    assert line.evaluate("one => one.scrollHeight <= one.clientHeight + 1")  # none of it is cut


def test_an_answer_that_was_asked_for_by_a_button_comes_into_sight(held):
    held.locator("[data-room=deposit]").tap()
    held.locator("#chamber-form").get_by_role("button", name="Weigh the gas").tap()
    held.locator("#chamber-answer .exports").wait_for()
    assert held.locator("#chamber-answer .lead").bounding_box()["y"] < PHONE["height"] / 2
    box, form = (held.locator(one).bounding_box() for one in ("#chamber-answer", "#chamber-form"))
    assert box["y"] < form["y"]


@pytest.mark.parametrize("width", [1280, pytest.param(1920), 390])
def test_no_cell_of_a_table_is_cut(tab, width):
    tab.set_viewport_size({"width": width, "height": 900})
    enter(tab, "deposit")
    tab.locator("#sheet-stack").fill("TiO2 57nm / SiO2 91nm / Ti 80nm / glass 1mm")
    tab.locator("#sheet-form").get_by_role("button", name="Plan the run").click()
    tab.locator("#sheet-answer .exports").wait_for()
    wider = tab.locator("#sheet-answer .scroll").evaluate_all(
        "all => all.filter(one => one.scrollWidth > one.clientWidth + 1).length"
    )
    assert wider == 0
    assert tab.locator("#sheet-answer .stacked").count() == (width == 390)


def test_a_chart_is_drawn_again_where_the_window_is_narrower(tab):
    enter(tab, "look")
    tab.locator("#look-chart svg.chart[viewBox='0 0 720 300']").wait_for()
    tab.set_viewport_size(PHONE)
    tab.locator("#look-chart svg.chart[viewBox='0 0 340 300']").wait_for()
    answered(tab)
    assert tab.locator("#look-chart svg.chart").count() == 1


def test_a_printed_run_sheet_begins_with_its_conditions_and_has_no_buttons(tab):
    enter(tab, "deposit")
    tab.locator("#sheet-stack").fill("Ti 80nm / glass 1mm")
    tab.locator("#sheet-form").get_by_role("button", name="Plan the run").click()
    tab.locator("#sheet-answer .exports").wait_for()
    tab.evaluate("window.print = () => { window.dress = document.body.className; }")
    tab.locator("#sheet-print").click()
    tab.wait_for_function("window.dress !== undefined")
    tab.evaluate("document.body.className = window.dress")
    tab.emulate_media(media="print")
    conditions, lead = (
        tab.locator(f"#sheet-answer .{one}").first.bounding_box()["y"]
        for one in ("conditions", "lead")
    )
    assert conditions < lead
    assert not tab.locator("#sheet-answer .exports").is_visible()
    assert not tab.locator("#sheet-form").is_visible()
    # Where a page ends, browsers lay rows of a grid over one another: a caution was lost by it.
    laid = tab.locator("#sheet-answer").evaluate("one => getComputedStyle(one).display")
    assert laid == "flex"
    tab.emulate_media(media="screen")
