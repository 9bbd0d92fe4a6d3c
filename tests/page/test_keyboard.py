"""Every room by keyboard alone: what the keys reach, that it is seen, and each main path."""

import pytest

from tests.page.chromium import DESK, PHONE, ROOMS, answered, said, send_photo
from tests.page.test_bench import PHOTO

pytestmark = pytest.mark.slow  # each waits for a browser and for what it draws

MOST_STOPS = 400  # of the Tab key in one room


@pytest.fixture
def tab(tab):
    yield tab
    answered(tab)


REACHABLE = """room => {
  const all = [...document.getElementById(room).querySelectorAll(
    'a[href], button, input, select, textarea, summary, [tabindex="0"]')];
  const seen = one => one.checkVisibility() && !one.disabled && one.tabIndex >= 0;
  const radios = one => one.type === 'radio' && !one.checked;
  const open = one => !one.closest('[aria-live], .example');  // what answers come and go in
  window.stops = all.filter(one => seen(one) && !radios(one) && open(one));
  return window.stops.length;
}"""

AT = """room => {
  const at = document.activeElement;
  const shown = at.closest('label, .photo') ?? at;
  const {left, top, width, height} = at.getBoundingClientRect();
  const inside = document.getElementById(room).contains(at);
  const found = document.elementFromPoint(
    Math.min(innerWidth - 1, Math.max(0, left + width / 2)), top + Math.min(height, 40) / 2);
  const styles = [at, at.closest('label'), at.closest('.choice label')].filter(Boolean)
    .map(one => getComputedStyle(one));
  return {
    inside,
    place: window.stops.indexOf(at),
    words: at.outerHTML.slice(0, 120),
    ringed: styles.some(one => one.outlineStyle !== 'none' && parseFloat(one.outlineWidth) >= 2),
    clear: !inside || shown.contains(found) || at.contains(found) || Boolean(found?.contains(at)),
  };
}"""


def go_to(tab, room):
    """Open a room by keys: Tab to its link, Enter."""
    tab.locator(f"[data-room={room}]").focus()
    tab.keyboard.press("Enter")
    tab.locator(f"#{room}").wait_for()
    answered(tab)


@pytest.mark.parametrize("viewport", [DESK, PHONE], ids=["desk", "phone"])
@pytest.mark.parametrize("room", ROOMS)
def test_tab_reaches_every_control_in_order_and_each_is_seen(tab, room, viewport):
    tab.set_viewport_size(viewport)
    go_to(tab, room)
    assert tab.evaluate("document.activeElement.id") == "room"  # keys go on within the room
    count = tab.evaluate(REACHABLE, room)
    assert count > 5
    reached = []
    for _ in range(MOST_STOPS):
        tab.keyboard.press("Tab")
        at = tab.evaluate(AT, room)
        if not at["inside"]:
            break
        assert at["ringed"], at["words"]  # WCAG 2.2, 2.4.7: the focus is seen
        assert at["clear"], at["words"]  # 2.4.11: nothing lies over it
        reached.append(at["place"])
    known = [one for one in reached if one >= 0]
    assert known == sorted(known)  # 2.4.3: in the order of the page
    assert set(known) == set(range(count))


def press(tab, name, role="button", **more):
    """Press a button by keys, and say where the focus is then."""
    tab.get_by_role(role, name=name, **more).focus()
    tab.keyboard.press("Enter")


def has_focus(tab):
    """Whether the keys still have a place to go on from."""
    return tab.evaluate("!['BODY', 'HTML'].includes(document.activeElement.tagName)")


def test_layers_are_added_moved_thinned_and_removed_by_keys(tab):
    go_to(tab, "look")
    press(tab, "Add a layer on top")
    tab.get_by_role("button", name="Move layer 1, SiO2: arrow keys").focus()
    tab.keyboard.press("ArrowDown")
    written = tab.locator("#look-text")
    assert written.input_value() == "TiO2 45nm / SiO2 100nm / Ti"
    tab.get_by_label("Thickness of layer 1 in nanometres").focus()
    slider = tab.get_by_role("slider", name="Thickness of TiO2")
    slider.focus()
    tab.keyboard.press("ArrowLeft")
    assert written.input_value() == "TiO2 44nm / SiO2 100nm / Ti"
    press(tab, "Remove layer 2, SiO2")
    assert written.input_value() == "TiO2 44nm / Ti"
    assert has_focus(tab)


def test_a_heat_is_set_and_looked_for_by_keys(tab):
    go_to(tab, "heat")
    tab.get_by_role("slider", name="Temperature", exact=True).focus()
    tab.keyboard.press("ArrowRight")
    tab.locator("#heat-swatch .heading", has_text="451 °C").wait_for()
    tab.get_by_label("Colour wanted", exact=True).focus()
    tab.keyboard.type("purple")
    tab.keyboard.press("Enter")
    recipe = tab.locator("#heat-recipes .card button").first
    recipe.focus()
    tab.keyboard.press("Enter")
    tab.locator("#heat-swatch .name", has_text="purple").wait_for()
    assert has_focus(tab)


def test_a_photo_is_marked_mapped_and_read_by_keys(tab):
    go_to(tab, "thickness")
    tab.locator("#thickness-way [value=colour]").focus()
    tab.keyboard.press("ArrowRight")
    tab.locator("#photo-file").focus()
    send_photo(tab, PHOTO)
    press(tab, "Put the mark in the middle")
    spot = tab.get_by_role("button", name="Spot: arrow keys move it")
    spot.focus()
    tab.keyboard.press("Shift+ArrowDown")
    tab.locator("#thickness-answer .exports").wait_for()
    press(tab, "Draw round the piece")
    assert tab.locator(".piece-box").evaluate("one => one === document.activeElement")
    tab.keyboard.press("Shift+ArrowLeft")
    press(tab, "Map the whole piece")
    shown = tab.locator(".map-over canvas")
    shown.focus()
    tab.keyboard.press("ArrowDown")
    assert tab.locator(".map-here").is_visible()
    assert "nm here" in said(tab, ".map-reading")
    tab.keyboard.press("Enter")
    assert "line begins here" in said(tab, ".map-reading")
    for _ in range(3):
        tab.keyboard.press("Shift+ArrowRight")
    tab.keyboard.press("Enter")
    tab.locator("#thickness-map svg.chart").wait_for()
    press(tab, "Another photo")
    assert tab.locator("#photo-file").evaluate("one => one === document.activeElement")


def test_a_film_is_assayed_by_keys(tab):
    go_to(tab, "assay")
    tab.get_by_label("Colour of the film side", exact=True).focus()
    tab.keyboard.type("gold")
    tab.keyboard.press("Tab")
    tab.locator("#assay-answer .lead").wait_for()
    tab.get_by_label("Ohmmeter, both probes on the film").focus()
    tab.keyboard.type("open")
    with tab.expect_request(lambda one: '"ohms":"open"' in (one.post_data or "")):
        tab.keyboard.press("Tab")
    answered(tab)
    assert "oxid" in said(tab, "#assay-answer .lead")
    assert has_focus(tab)


def test_goals_are_added_and_taken_away_and_a_run_is_planned_by_keys(tab):
    go_to(tab, "deposit")
    press(tab, "Add a goal")
    assert tab.locator(".goal").count() == 2
    for left in (1, 0):
        tab.get_by_role("button", name="Remove this goal").first.focus()
        tab.keyboard.press("Enter")
        assert tab.locator(".goal").count() == left
        assert has_focus(tab)
    tab.locator("#sheet-stack").focus()
    tab.keyboard.press("Enter")
    tab.locator("#sheet-answer .exports").wait_for()
    assert tab.locator("#sheet-answer .lead").bounding_box()["y"] < DESK["height"]


def test_a_run_is_recorded_its_piece_opened_and_closed_by_keys(tab):
    go_to(tab, "log")
    for name, text in (
        ("setup", "hall kiln"), ("at", "470C"), ("time", "20min"), ("piece", "hand"),
        ("seen", "purple"),
    ):  # fmt: skip
        tab.locator(f"#log-{name}").focus()
        tab.keyboard.press("ControlOrMeta+a")
        tab.keyboard.type(text)
    tab.keyboard.press("Enter")
    tab.locator("#log-runs .card", has_text="hall kiln").wait_for()
    press(tab, "Open hand")
    assert "hand" in said(tab, "#log-piece-open h2").lower()
    press(tab, "Close")
    assert has_focus(tab)
    press(tab, "Report")
    answered(tab)
