"""The page behind Starlette's test client, its questions answered in this process."""

import pytest
from starlette.testclient import TestClient

from oxhue.page.access import AccessPolicy
from oxhue.page.app import create_app
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
def browser(stranger):
    """A browser that has opened the first link."""
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
