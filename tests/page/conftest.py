"""The page behind Starlette's test client, answered in this process, and before real browsers."""

import shutil
from contextlib import ExitStack

import pytest
from starlette.testclient import TestClient

from oxhue.page.access import AccessPolicy
from oxhue.page.app import create_app
from tests.page.chromium import DESK, PHONE, chromium, profile, served, watched
from tests.page.chromium import NAMES as CHROMIUM
from tests.page.firefox import NAMES as FIREFOX
from tests.page.start import throttle
from tests.page.within import HOME, KEY, DeskHere


@pytest.fixture(scope="session")
def desk():
    return DeskHere()


@pytest.fixture(scope="session")
def stranger(desk):
    """A browser without the key."""
    with TestClient(
        create_app(AccessPolicy(KEY, 8000), desk),
        HOME,
        follow_redirects=False,
        client=("127.0.0.1", 5000),
    ) as client:
        yield client


@pytest.fixture
def browser(stranger, monkeypatch, tmp_path):
    """A browser that has opened the first link of a page with an empty log."""
    monkeypatch.setenv("OXHUE_LOG", str(tmp_path / "clocks.sqlite"))
    stranger.cookies.set("oxhue_key_8000", KEY)
    stranger.headers["Origin"] = HOME
    yield stranger
    stranger.cookies.clear()
    del stranger.headers["Origin"]


@pytest.fixture
def ask(browser):
    """Ask a question; the JSON that came."""

    def asked(question, **fields):
        response = browser.post(f"/api/{question}", json=fields)
        assert response.status_code == 200, response.text
        return response.json()

    return asked


@pytest.fixture(scope="session")
def address(tmp_path_factory):
    """Where a page is served as people start it, with a log of its own."""
    if not any(map(shutil.which, (*CHROMIUM, *FIREFOX))):
        pytest.skip("no browser on this machine; on Debian: apt-get install chromium firefox-esr")
    with ExitStack() as stack:
        with pytest.MonkeyPatch.context() as patched:  # no longer than it takes to start
            patched.setenv("OXHUE_LOG", str(tmp_path_factory.mktemp("log") / "clocks.sqlite"))
            found = stack.enter_context(served())
        yield found


@pytest.fixture(scope="module")
def one_chromium():
    """Not for longer than a module: while it runs, this thread can run no loop of its own."""
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def chrome(one_chromium):
    """A profile of its own for each file."""
    with profile(one_chromium) as found:
        yield found


@pytest.fixture
def troubles():
    return []


@pytest.fixture
def tab(chrome, address, troubles):
    """A tab at a desk's width in which nothing was set yet; it must leave the console quiet."""
    tab = watched(chrome, troubles)
    tab.set_viewport_size(DESK)
    tab.goto(address)
    tab.wait_for_selector("body[data-ready]")
    yield tab
    assert troubles == []
    tab.close()


@pytest.fixture
def held(chrome, address):
    """A page on a phone: narrow, with fingers."""
    with profile(chrome.browser, viewport=PHONE, has_touch=True, is_mobile=True) as context:
        page = context.new_page()
        throttle(page)
        page.goto(address)
        page.wait_for_selector("body[data-ready]")
        yield page
