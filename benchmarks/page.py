"""How soon the page answers when a slider moves, in a real browser on this machine.

    python -m benchmarks.page [moves]

A move sets a slider and waits until the new colour stands in the page. Beside it stands a bare
round trip: fetching the page's smallest file through the same server. The goal is a median below
100 ms; what belongs to the machine and its load shows in the round trip, so ratios compare.
"""

from __future__ import annotations

import sys
from typing import Any

import numpy as np

from tests.page.chromium import chromium, served

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
BARE = """async () => {
  const before = performance.now();
  await (await fetch("/static/mark.svg", { cache: "no-store" })).text();
  return performance.now() - before;
}"""


def main(moves: int = 60) -> None:
    """Print the table."""
    rng = np.random.default_rng(1)
    with chromium() as browser, served() as address:
        tab = browser.new_page()
        tab.goto(address)
        tab.wait_for_selector("body[data-ready]")
        bare = np.array([tab.evaluate(BARE) for _ in range(moves)])
        print(f"{'slider':<34} median ms   95 % ms   over a bare round trip")
        print(f"{'bare round trip':<34} {_figures(bare)}")
        for room, slider, shown, ends in SLIDERS:
            tab.locator(f"[data-room={room}]").click()
            tab.wait_for_timeout(1500)
            took = _moved(tab, slider, shown, rng.integers(*ends, moves).tolist())
            ratio = np.median(took) / np.median(bare)
            print(f"{slider:<34} {_figures(took)}   {ratio:6.1f}x")


def _moved(tab: Any, slider: str, shown: str, values: list[int]) -> np.ndarray[Any, Any]:
    for value in values[:3]:  # the first moves make the last tables
        tab.evaluate(MOVE, [slider, shown, value + 1])
    return np.array([tab.evaluate(MOVE, [slider, shown, value]) for value in values])


def _figures(took_ms: np.ndarray[Any, Any]) -> str:
    return f"{np.median(took_ms):9.1f} {np.quantile(took_ms, 0.95):9.1f}"


if __name__ == "__main__":
    main(*(int(one) for one in sys.argv[1:2]))
