"""The system's own Chromium, driven by Playwright, before a page served as people start it."""

import os
import shutil
import signal
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

import pytest

from oxhue.page.workers import PATIENCE
from tests.page.start import throttle

NAMES = ("chromium", "chromium-browser")
ROOMS = ("look", "heat", "thickness", "assay", "deposit", "log")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
PATIENCE_S = 240  # until a state that is waited for counts as never coming, on any machine
DESK, PHONE = {"width": 1280, "height": 900}, {"width": 390, "height": 844}


def chromium_path():
    """Where Chromium is, or a skip that says what is missing."""
    if os.name == "nt":
        pytest.skip("browser tests need a process that can be sent SIGINT")
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        pytest.skip("no Chromium on this machine; on Debian: apt-get install chromium")
    return found


@contextmanager
def page_process():
    """``oxhue page`` in a process of its own, which Ctrl-C ends whatever started the tests.

    What it inherited from them, as from a shell's background job, is put back; and where a test
    fails before it ends the page, the page is killed rather than waited for.
    """
    command = [sys.executable, str(Path(__file__).with_name("start.py")), "page", "--no-open"]
    patient = os.environ | {PATIENCE: "30"}  # a busy machine must not look like a fault
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=patient
    ) as process:
        try:
            yield process
        finally:
            process.kill()  # nothing where it has ended


@contextmanager
def served():
    """The address of a page in a process of its own, with the key at its end."""
    with page_process() as process:
        try:
            yield process.stdout.readline().strip()
        finally:
            process.send_signal(signal.SIGINT)
            _, said = process.communicate(timeout=PATIENCE_S)
    assert "Traceback" not in said, said


@contextmanager
def chromium():
    """A browser; each of its contexts has an empty profile."""
    playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    path = chromium_path()
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, headless=True, args=FLAGS)
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def profile(browser, **options):
    """An empty profile of a browser, as large as a desk unless told otherwise."""
    context = browser.new_context(**{"viewport": DESK} | options)
    context.set_default_timeout(1e3 * PATIENCE_S)
    try:
        yield context
    finally:
        context.close()


def watched(browser, troubles):
    """A new tab whose errors are collected."""
    tab = browser.new_page()
    throttle(tab)
    tab.on("console", lambda said: troubles.append(said.text) if said.type != "log" else None)
    tab.on("pageerror", lambda error: troubles.append(str(error)))
    tab.on("requestfailed", lambda request: troubles.append(f"failed: {request.url}"))
    tab.asking = set()
    tab.on("request", lambda request: tab.asking.add(request.url))
    for end in ("requestfinished", "requestfailed"):
        tab.on(end, lambda request: tab.asking.discard(request.url))
    return tab


def enter(tab, room):
    tab.locator(f"[data-room={room}]").click()
    tab.locator(f"#{room}").wait_for()


def look_at_a_span(tab):
    """Every option of a look, asked of all thicknesses of an oxide up to 200 nm."""
    enter(tab, "look")
    tab.locator("#look details.every > summary").click()
    tab.locator("#every-look > summary").click()
    tab.locator("#look-every-stack").fill("TiO2 0..200nm / Ti")
    tab.locator("#every-look form").get_by_role("button", name="Answer").click()


def held_back(tab, address):
    """What is asked of an address from now on, held until the test lets it through."""
    held = []

    def hold(route):  # Playwright keeps a mark on it, which a built-in method cannot hold
        held.append(route)

    tab.route(address, hold)
    return held


def words_of(place):
    """What stands there, whatever keeps its words on one line."""
    return place.inner_text().replace("\u00a0", " ")


def said(tab, selector):
    return words_of(tab.locator(selector))


IDLE = "() => new Promise(done => setTimeout(() => requestIdleCallback(done, {timeout: 5000}), 60))"
"""Until the page has nothing else to do: an answer that came is worked off before."""


def answered(tab):
    """Wait until nothing is being asked: a request that is left behind counts as a failure."""
    quiet = 0
    while quiet < 3:  # what is answered may lead to a further question
        tab.evaluate(IDLE)
        quiet = 0 if tab.asking else quiet + 1


def send_photo(tab, file):
    """Choose a photo, and wait until it is seen whole: what lies below it moves no more then."""
    tab.locator("#photo-file").set_input_files(file)
    tab.locator(".photo img").evaluate("one => one.decode()")


def clicked(tab, x, y):
    """Click a place of the photo, given in pixels of the rendered one."""
    box = tab.locator(".photo").bounding_box()
    tab.mouse.click(box["x"] + x / 300 * box["width"], box["y"] + y / 160 * box["height"])
