"""Goals as bands on a chart of the design room, dragged in a real browser."""

from tests.page.chromium import enter


def drag(tab, by, *, at=None, part="whole"):
    """Drag a part of the first goal's band, or from a free place of its chart."""
    box = tab.locator(f".goal-bands .grip.{part}").first.bounding_box()
    x, y = at or (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    tab.mouse.move(x, y)
    tab.mouse.down()
    for share in (0.5, 1.0):
        tab.mouse.move(x + share * by[0], y + share * by[1])
    tab.mouse.up()
    figures = tab.locator("#design-goals .goal").first.locator("input")
    return [float(figures.nth(i).input_value()) for i in range(3)]


def test_goals_are_dragged_and_drawn_on_a_chart(tab):
    enter(tab, "deposit")
    tab.get_by_role("button", name="Bright mirror").click()
    share, low, high = drag(tab, (60, 0), part="to")
    assert (share, low) == (95.0, 450.0)
    assert 660.0 < high < 760.0
    moved = drag(tab, (-20, 30))
    assert moved[0] < 90.0
    assert moved[1] < 450.0
    assert moved[2] - moved[1] == high - low
    chart = tab.locator(".goal-bands svg").bounding_box()
    drag(tab, (40, 0), at=(chart["x"] + chart["width"] - 60, chart["y"] + 0.75 * chart["height"]))
    assert tab.locator("#design-goals .goal").count() == 2
    assert tab.locator("#design-goals select").nth(3).input_value() == "<"
    tab.locator("#design-goals .remove").nth(1).click()
    assert tab.locator(".goal-bands .bound").count() == 1
