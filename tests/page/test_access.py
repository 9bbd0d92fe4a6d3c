"""Who is let in: each rule alone, with everything else in order."""

import time

import pytest
from starlette.testclient import TestClient

from oxhue.page.access import CONTENT_POLICY, AccessPolicy
from oxhue.page.app import create_app
from tests.page.within import HOME, KEY, DeskHere

LOOK = {"stack": "TiO2 45nm / Ti"}


def test_the_first_link_gives_the_cookie_and_takes_the_key_out_of_the_address(stranger):
    response = stranger.get(f"/?key={KEY}")
    assert (response.status_code, response.headers["location"]) == (303, "/")
    cookie = response.headers["set-cookie"]
    assert f"oxhue_key_8000={KEY}" in cookie
    assert "HttpOnly" in cookie
    assert "samesite=strict" in cookie.lower()
    stranger.cookies.clear()


@pytest.mark.parametrize("address", ["/", "/?key=", "/?key=guess", "/static/main.js"])
def test_without_the_key_nothing_is_served_but_the_way_in(stranger, address):
    response = stranger.get(address)
    assert response.status_code == 403
    assert "terminal" in response.text
    assert "set-cookie" not in response.headers


def test_a_question_without_the_key_is_not_asked(stranger, desk):
    desk.asked.clear()
    response = stranger.post("/api/look", json=LOOK, headers={"Origin": HOME})
    assert response.status_code == 403
    assert desk.asked == []


def test_a_wrong_key_in_the_cookie_is_no_key(stranger):
    headers = {"Origin": HOME, "Cookie": "oxhue_key_8000=guess"}
    assert stranger.post("/api/look", json=LOOK, headers=headers).status_code == 403


def test_the_cookie_of_a_run_on_another_port_is_no_key(stranger):
    headers = {"Origin": HOME, "Cookie": f"oxhue_key_9000={KEY}"}
    assert stranger.post("/api/look", json=LOOK, headers=headers).status_code == 403


def test_with_the_key_the_page_and_its_files_are_served(browser):
    assert "<title>oxhue" in browser.get("/").text
    assert "javascript" in browser.get("/static/main.js").headers["content-type"]


@pytest.mark.parametrize(
    "host", ["evil.example:8000", "127.0.0.1", "127.0.0.1:9", "192.168.1.9:8000", "", "localhost"]
)
def test_a_host_that_is_not_ours_is_not_served(browser, host):
    response = browser.get("/", headers={"Host": host})
    assert response.status_code == 421
    assert "oxhue" not in response.text


@pytest.mark.parametrize("host", ["localhost:8000", "[::1]:8000"])
def test_other_names_of_loopback_are_ours(browser, host):
    assert browser.get("/", headers={"Host": host, "Origin": f"http://{host}"}).status_code == 200


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "https://127.0.0.1:8000", "http://127.0.0.1:9000"]
)
def test_a_question_from_another_page_is_not_asked(browser, desk, origin):
    desk.asked.clear()
    response = browser.post("/api/look", json=LOOK, headers={"Origin": origin})
    assert response.status_code == 403
    assert desk.asked == []


def test_a_question_that_does_not_say_where_it_is_from_is_not_asked(browser):
    del browser.headers["Origin"]
    try:
        assert browser.post("/api/look", json=LOOK).status_code == 403
    finally:
        browser.headers["Origin"] = HOME


def test_another_site_cannot_draw_in_our_files(browser):
    headers = {"Sec-Fetch-Site": "cross-site"}
    assert browser.get("/static/main.js", headers=headers).status_code == 403


def test_every_answer_carries_the_headers(browser):
    for response in (browser.get("/"), browser.get("/nothing"), browser.post("/api/look", json={})):
        assert response.headers["content-security-policy"] == CONTENT_POLICY
        assert response.headers["x-content-type-options"] == "nosniff"
        assert response.headers["cache-control"] == "no-store"
        assert response.headers["referrer-policy"] == "no-referrer"
        assert "server" not in response.headers


def test_the_policy_lets_in_no_inline_script_or_style_and_nothing_from_elsewhere(browser):
    assert "unsafe" not in CONTENT_POLICY
    assert "http" not in CONTENT_POLICY
    page = browser.get("/").text
    assert "<script>" not in page
    assert "style=" not in page
    assert " onclick" not in page
    assert "https://" not in page


def test_the_key_for_the_browser_we_open_works_once():
    app = create_app(AccessPolicy(KEY, 8000, key_once="just-once"), DeskHere())
    with TestClient(app, HOME, follow_redirects=False) as client:
        assert client.get("/?key=just-once").status_code == 303
        client.cookies.clear()
        assert client.get("/?key=just-once").status_code == 403
        assert client.get(f"/?key={KEY}").status_code == 303


def test_bound_to_more_than_loopback_plain_addresses_are_ours_but_no_foreign_name():
    door = AccessPolicy(KEY, 8000, "0.0.0.0")
    assert door.names_us("192.168.1.9:8000")
    assert door.names_us("[fe80::1]:8000")
    assert not door.names_us("evil.example:8000")
    assert not AccessPolicy(KEY, 8000).names_us("192.168.1.9:8000")


def test_files_beside_the_page_are_out_of_reach(browser):
    for address in (
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/app.py",
        "/static/none.css",
        "/static/",
        "/api/photo/none/preview",
        "/api/photo/none/map/map.png",
        "/api/photo/none/map/photo",
    ):
        assert browser.get(address).status_code == 404


OTHERS = (
    'theme={"a":1}', "sidebar=open wide", "flag", "lang=de, en", "a/b=1", "name=\u00e9", "path=/",
    "expires=Thu, 01 Jan 1970", 'a="x', "=", ";;", "a=b=c", "secure", "[x]=1", "oxhue_key_9=z",
)  # fmt: skip
"""Cookies of other programs on this host: they know no port, so they come here as well."""


@pytest.mark.parametrize("other", OTHERS)
@pytest.mark.parametrize("order", [1, -1])
def test_cookies_of_other_programs_lock_nobody_out(stranger, other, order):
    ours = f"oxhue_key_8000={KEY}"
    cookies = "; ".join([other, ours][::order])
    assert stranger.get("/", headers={"Cookie": cookies.encode("utf-8")}).status_code == 200


def test_a_hostile_cookie_takes_no_time(stranger):
    begun = time.process_time()
    response = stranger.get("/", headers={"Cookie": 'a="' + "\\" * 60_000})
    assert response.status_code == 403
    assert time.process_time() - begun < 1.0  # it took seven seconds


@pytest.mark.parametrize(
    ("port", "host", "ours"),
    [
        (80, "127.0.0.1", True), (80, "127.0.0.1:80", True), (80, "[::1]", True),
        (80, "localhost", True), (80, "localhost:8000", False), (80, "evil.example", False),
        (8000, "127.0.0.1", False), (8000, "[::1]:8000", True), (8000, "[::1", False),
        (8000, "127.0.0.1:8000:8000", False), (8000, "x@127.0.0.1:8000", False), (80, "", False),
    ],
)  # fmt: skip
def test_the_usual_port_is_left_out_by_browsers(port, host, ours):
    assert AccessPolicy(KEY, port).names_us(host) == ours


@pytest.mark.parametrize("address", ["/", "/static/main.js", "/nowhere"])
def test_every_answer_says_what_a_browser_may_not_do_with_it(browser, address):
    told = {name: value for name, value in browser.get(address).headers.items()
            if name not in ("content-length", "content-type", "etag", "last-modified")}  # fmt: skip
    assert told.pop("content-security-policy") == CONTENT_POLICY
    told.pop("accept-ranges", None)
    assert told == {
        "x-content-type-options": "nosniff", "x-frame-options": "DENY",
        "referrer-policy": "no-referrer", "cross-origin-opener-policy": "same-origin",
        "cross-origin-resource-policy": "same-origin",
        "permissions-policy": "camera=(), geolocation=(), microphone=()",
        "cache-control": "no-store",
    }  # fmt: skip
    rules = dict(rule.split(" ", 1) for rule in CONTENT_POLICY.split("; "))
    assert rules == {
        "default-src": "'none'", "script-src": "'self'", "style-src": "'self'",
        "img-src": "'self' blob:", "connect-src": "'self'", "manifest-src": "'none'",
        "base-uri": "'none'", "form-action": "'none'", "frame-ancestors": "'none'",
        "require-trusted-types-for": "'script'", "trusted-types": "'none'",
    }  # fmt: skip
