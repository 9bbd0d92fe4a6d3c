"""How soon the page is there, answers a photo, and follows a slider, in a real browser here.

    python -m benchmarks.page [moves]

Opening: from the address to a room that can be used, in a new tab of a page that runs already; the
goal is a second. A photo of 12 megapixels: from choosing it to the thickness at its spot; the goal
is four seconds. A mark on it is then dragged, and each time the estimate there waited for; the goal
is 100 ms in the median.

A move sets a slider and waits until the new colour stands in the page. Beside it stands a bare
round trip: fetching the page's smallest file through the same server. The goal is a median below
100 ms; what belongs to the machine and its load shows in the round trip, so ratios compare.
"""

from __future__ import annotations

import sys
import time
from typing import Any

import numpy as np

from tests.page.chromium import chromium, enter, served
from tests.page.test_photos import as_file, rendered

SLIDERS = (
    ("look", "#look-stack input[type=range]", "#look-swatches", (20, 200)),
    ("look", "#look-angle", "#look-swatches", (0, 80)),
    ("heat", "#heat-at", "#heat-swatch", (300, 600)),
    ("heat", "#heat-for", "#heat-swatch", (10, 90)),
)

# One move: set the slider, and wait until what it changes has been put in and painted.
MOVE = """async ([slider, shown, value]) => {
  const target = document.querySelector(shown);
  const before = performance.now();
  const put = new Promise((done) => {
    const watch = new MutationObserver(() => { watch.disconnect(); done(); });
    watch.observe(target, { childList: true, subtree: true });
  });
  const control = document.querySelector(slider);
  control.value = value;
  control.dispatchEvent(new Event("input", { bubbles: true }));
  await put;
  await new Promise((done) => requestAnimationFrame(done));
  return performance.now() - before;
}"""
# Armed before the mark moves: from the move to the answer that replaces the one shown.
DRAG = """() => {
  const answer = document.querySelector("#thickness-answer");
  const before = answer.querySelector(".lead");
  window.followed = new Promise((done) => {
    let moved;
    addEventListener("pointermove", () => { moved = performance.now(); },
      { once: true, capture: true });
    const watch = new MutationObserver(() => {
      const now = answer.querySelector(".lead");
      if (!now || now === before) return;
      watch.disconnect();
      requestAnimationFrame(() => done(performance.now() - moved));
    });
    watch.observe(answer, { childList: true, subtree: true });
  });
}"""
OPENINGS, PHOTOS, DRAGS = 7, 3, 30
BIGGER = 16  # times the rendered plate of 300 x 160 pixels: 12 megapixels
BARE = """async () => {
  const before = performance.now();
  await (await fetch("/static/mark.svg", { cache: "no-store" })).text();
  return performance.now() - before;
}"""


def main(moves: int = 60) -> None:
    """Print the table."""
    rng = np.random.default_rng(1)
    with chromium() as browser, served() as address:
        context = browser.new_context()  # whose pages share the key
        tab = context.new_page()
        tab.goto(address)
        tab.wait_for_selector("body[data-ready]")
        opened_ms = [_opened(context, address.partition("?")[0]) for _ in range(OPENINGS)]
        print(f"{'opening':<34} {_figures(np.array(opened_ms))}")
        photo_ms = [_answered(tab) for _ in range(PHOTOS)]
        print(f"{'photo, chosen to answered':<34} {_figures(np.array(photo_ms))}")
        print(f"{'mark dragged on that photo':<34} {_figures(_dragged(tab))}")
        bare = np.array([tab.evaluate(BARE) for _ in range(moves)])
        print(f"{'slider':<34} median ms   95 % ms   over a bare round trip")
        print(f"{'bare round trip':<34} {_figures(bare)}")
        for room, slider, shown, ends in SLIDERS:
            tab.locator(f"[data-room={room}]").click()
            tab.wait_for_timeout(1500)
            took = _moved(tab, slider, shown, rng.integers(*ends, moves).tolist())
            ratio = np.median(took) / np.median(bare)
            print(f"{slider:<34} {_figures(took)}   {ratio:6.1f}x")


def _opened(context: Any, address: str) -> float:
    """A room that can be used, in a new tab [ms]."""
    tab, start = context.new_page(), time.perf_counter()
    tab.goto(address)
    tab.wait_for_selector("body[data-ready]")
    took = time.perf_counter() - start
    tab.close()
    return 1e3 * took


def _answered(tab: Any) -> float:
    """From choosing a photo to the thickness at its spot, tapped as soon as it shows [ms]."""
    home = tab.url.partition("#")[0]
    tab.goto("about:blank")  # loaded again as it is, the page would take its photo up
    tab.goto(home)
    tab.wait_for_selector("body[data-ready]")
    enter(tab, "thickness")
    tab.locator("[name=way][value=photo]").check(force=True)
    large = np.kron(rendered(25.0, 75.0), np.ones((BIGGER, BIGGER, 1), dtype=np.uint8))
    body = as_file(large, "JPEG", quality=95)
    start = time.perf_counter()
    tab.locator("#photo-file").set_input_files(
        {"name": "dial.jpg", "mimeType": "image/jpeg", "buffer": body}
    )
    tab.locator(".photo img").evaluate("one => one.decode()")
    photo = tab.locator(".photo")
    box = photo.bounding_box()
    photo.click(position={"x": box["width"] / 2, "y": 0.62 * box["height"]})
    tab.locator("#thickness-answer .lead").wait_for()
    return 1e3 * (time.perf_counter() - start)


def _dragged(tab: Any) -> np.ndarray[Any, Any]:
    """From each move of a mark that is held to the estimate there [ms]."""
    tab.locator("#thickness-answer .exports").wait_for()
    box = tab.get_by_role("button", name="Spot: arrow keys move it").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    tab.mouse.move(x, y)
    tab.mouse.down()
    took = []
    for step in range(1, DRAGS + 1):
        tab.evaluate(DRAG)
        tab.mouse.move(x + 2 * step, y)
        took.append(tab.evaluate("() => window.followed"))
    tab.mouse.up()
    return np.array(took)


def _moved(tab: Any, slider: str, shown: str, values: list[int]) -> np.ndarray[Any, Any]:
    for value in values[:3]:  # the first moves make the last tables
        tab.evaluate(MOVE, [slider, shown, value + 1])
    return np.array([tab.evaluate(MOVE, [slider, shown, value]) for value in values])


def _figures(took_ms: np.ndarray[Any, Any]) -> str:
    return f"{np.median(took_ms):9.1f} {np.quantile(took_ms, 0.95):9.1f}"


if __name__ == "__main__":
    main(*(int(one) for one in sys.argv[1:2]))
