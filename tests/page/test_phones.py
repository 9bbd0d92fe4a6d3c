"""Phones at the door: what is said of threats in the guide, each tried."""

import socket
import struct
import zlib
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from oxhue.optics.errors import InputError
from oxhue.page import phones as rules
from oxhue.page import serve
from oxhue.page.access import AccessPolicy
from oxhue.page.app import create_app
from oxhue.page.phone_door import code_rows, code_text
from oxhue.page.phones import Phones
from tests.page.within import HOME, KEY, DeskHere

LAN = "http://192.168.7.20:8000"
LOOK = {"stack": "TiO2 45nm / Ti"}


@pytest.fixture
def phones():
    return Phones("192.168.7.20", 8000)


@pytest.fixture
def app(phones):
    return create_app(AccessPolicy(KEY, 8000), DeskHere(), phones=phones)


@pytest.fixture
def computer(app):
    with TestClient(app, HOME, follow_redirects=False) as client:
        client.cookies.set("oxhue_key_8000", KEY)
        client.headers["Origin"] = HOME
        yield client


def hand(app):
    """A phone that has not knocked; started after ``computer``, which runs the application."""
    client = TestClient(app, LAN, follow_redirects=False)
    client.headers["Origin"] = LAN
    return client


def asked(computer, **wish):
    return computer.post("/api/phones", json=wish).json()["answer"]


def let_in(computer, phone):
    link = asked(computer, do="invite")["link"]
    assert phone.get(link).status_code == 303
    (knock,) = [one for one in asked(computer)["phones"] if not one["allowed"]]
    assert f"Code {knock['digits']}" in phone.get("/phone").text
    return asked(computer, do="allow", name=knock["name"])["phones"]


def test_a_phone_knocks_is_allowed_asks_and_is_put_out(app, computer):
    phone = hand(app)
    link = asked(computer, do="invite")["link"]
    response = phone.get(link)
    assert (response.status_code, response.headers["location"]) == (303, "/phone")
    assert "HttpOnly" in response.headers["set-cookie"]
    assert phone.get("/").status_code == 403
    assert phone.post("/api/look", json=LOOK).status_code == 403
    (knock,) = asked(computer)["phones"]
    assert f"Code {knock['digits']}" in phone.get("/phone").text
    asked(computer, do="allow", name=knock["name"])
    assert phone.get("/phone").headers["location"] == "/#thickness"
    assert "<title>oxhue" in phone.get("/").text
    assert phone.post("/api/look", json=LOOK).json()["trusted"]
    assert asked(computer, do="out", name=knock["name"])["phones"] == []
    assert phone.post("/api/look", json=LOOK).status_code == 403


def test_a_phone_keeps_answers_of_the_few_verbs_it_may_ask(app, computer):
    phone = hand(app)
    let_in(computer, phone)
    asked_for = {"verb": "look", "given": LOOK, "files": {}}
    assert phone.post("/api/keep", json={**asked_for, "face": "chart"}).json()["chart"]
    assert "<html" in phone.post("/api/keep", json={**asked_for, "face": "report"}).json()["report"]
    sheet = {"verb": "sheet", "given": {"stack": "Al 80nm / glass"}, "files": {}}
    assert "on the computer" in phone.post("/api/keep", json=sheet).json()["refused"]
    assert "not for phones" in phone.post("/api/verb", json=asked_for).json()["refused"]
    assert phone.get("/api/log/file").status_code == 403
    assert "not for phones" in phone.post("/api/log/file", content=b"{}").json()["refused"]


def test_what_the_page_is_told_of_phones(computer):
    told = asked(computer, do="invite")
    assert set(told) == {"link", "code", "left_s", "phones"}
    assert (told["code"], told["phones"]) == (code_rows(told["link"]), [])
    assert told["left_s"] in (119, 120)
    used = asked(computer, do="nothing we know")
    assert (used["link"], used["code"]) == (told["link"], told["code"])


def test_a_code_works_once(app, computer):
    link = asked(computer, do="invite")["link"]
    assert hand(app).get(link).status_code == 303
    second = hand(app).get(link)
    assert second.status_code == 403
    assert "set-cookie" not in second.headers


def test_a_second_phone_needs_a_code_and_a_yes_of_its_own(app, computer):
    first, second = hand(app), hand(app)
    let_in(computer, first)
    second.get(asked(computer, do="invite")["link"])
    assert second.post("/api/look", json=LOOK).status_code == 403
    assert first.post("/api/look", json=LOOK).status_code == 200
    digits = [one["digits"] for one in asked(computer)["phones"]]
    assert len(set(digits)) == 2


def test_five_wrong_guesses_void_the_code(app, computer):
    link = asked(computer, do="invite")["link"]
    for _ in range(rules.MOST_GUESSES):
        assert hand(app).get("/phone?key=guess").status_code == 403
    assert hand(app).get(link).status_code == 403
    assert asked(computer)["link"] == ""
    assert hand(app).get(asked(computer, do="invite")["link"]).status_code == 303


def test_a_code_runs_out_and_a_phone_falls_out_when_idle(phones):
    key = phones.invite(0.0).partition("key=")[2]
    assert phones.knock(key, rules.INVITED_S + 1.0) is None
    key = phones.invite(1_000.0).partition("key=")[2]
    phone = phones.knock(key, 1_001.0)
    assert phones.settle(phone.name, "allow")
    assert phones.find(phone.token, 1_000.0 + rules.IDLE_S) is phone
    assert phones.find(phone.token, 1_002.0 + rules.IDLE_S) is None


def test_what_is_left_of_an_invitation(phones):
    assert (phones.left_s(5.0), phones.invitation) == (0.0, "")
    link = phones.invite(10.0)
    assert link == phones.invitation
    assert len(link.partition("key=")[2]) == 22  # 128 bits, as few as the code to scan needs
    assert [phones.left_s(now) for now in (10.0, 40.0, 130.0, 131.0)] == [120.0, 90.0, 0.0, 0.0]
    assert phones.knock(link.partition("key=")[2], 130.0)
    assert (phones.left_s(40.0), phones.invitation) == (0.0, "")


def test_all_guesses_but_the_last_leave_the_code_and_a_new_code_has_as_many(phones):
    for _ in range(2):
        key = phones.invite(0.0).partition("key=")[2]
        for _ in range(rules.MOST_GUESSES - 1):
            assert phones.knock("guess", 1.0) is None
    assert phones.knock(key, 1.0)


def test_who_is_listed_and_how_long_ago_each_asked(phones):
    waits = phones.knock(phones.invite(0.0).partition("key=")[2], 1.0)
    asks = phones.knock(phones.invite(2.0).partition("key=")[2], 3.4)
    assert [phones.settle(one, "allow") for one in (asks.name, "nobody")] == [True, False]
    assert [len(one.digits) for one in (waits, asks)] == [4, 4]
    rows = [
        {"name": waits.name, "digits": waits.digits, "allowed": False, "idle_s": 120},
        {"name": asks.name, "digits": asks.digits, "allowed": True, "idle_s": 118},
    ]
    assert phones.listed(1.0 + rules.INVITED_S) == rows
    assert [one["idle_s"] for one in phones.listed(3.4 + rules.IDLE_S)] == [rules.IDLE_S]
    assert phones.listed(4.0 + rules.IDLE_S) == []


def test_a_knock_nobody_answers_lapses(phones):
    phone = phones.knock(phones.invite(0.0).partition("key=")[2], 1.0)
    assert phones.find(phone.token, rules.INVITED_S + 2.0) is None


def test_no_more_phones_than_the_list_holds(phones):
    for i in range(rules.MOST_PHONES):
        assert phones.knock(phones.invite(float(i)).partition("key=")[2], float(i))
    assert phones.knock(phones.invite(9.0).partition("key=")[2], 9.0) is None


@pytest.mark.parametrize("question", ["design", "sheet", "map", "coupons", "phones", "kiln"])
def test_what_is_not_for_phones_is_not_done(app, computer, question):
    phone = hand(app)
    let_in(computer, phone)
    response = phone.post(f"/api/{question}", json={"do": "invite"})
    assert "not for phones" in response.json()["refused"]
    assert response.status_code == 200  # a refusal that the page shows, as any other
    assert phone.get(f"/api/{question}").status_code == 403


def test_a_wish_about_phones_that_is_none_is_refused(computer):
    wish = {"content-type": "application/json"}
    deep = b'{"name":' + b"[" * 900 + b"]" * 900 + b"}"
    for body, status in (
        (b"{", 400),
        (b"[]", 400),
        (deep, 400),
        (b" " * 2_000_001, 413),
        (b"{}", 200),
    ):
        assert computer.post("/api/phones", content=body, headers=wish).status_code == status
    assert computer.post("/api/phones", content=b"{}").status_code == 415


def test_what_browsers_heed_on_secure_addresses_alone_is_left_out_for_phones(app, computer):
    phone = hand(app)
    let_in(computer, phone)
    name = "Cross-Origin-Opener-Policy"
    assert name not in phone.get("/").headers
    assert computer.get("/").headers[name] == "same-origin"


def test_a_phone_that_waits_asks_again_by_itself_and_sees_the_pages_dress(app, computer):
    phone = hand(app)
    phone.get(asked(computer, do="invite")["link"])
    waits = phone.get("/phone")
    assert waits.status_code == 200
    assert 'content="2; url=/phone"' in waits.text
    for path in ("/static/base.css", "/static/mark.svg"):
        assert phone.get(path).status_code == 200
    for path in ("/static/main.js", "/api/photo/1"):
        assert phone.get(path).status_code == 403
    assert 'http-equiv="refresh"' not in hand(app).get("/phone").text


def test_the_key_of_the_computer_opens_nothing_over_the_network(app):
    stranger = hand(app)
    assert stranger.get(f"/?key={KEY}").status_code == 403
    stranger.cookies.set("oxhue_key_8000", KEY)
    assert stranger.post("/api/look", json=LOOK).status_code == 403
    assert stranger.post("/api/phones", json={"do": "invite"}).status_code == 403


def test_a_phone_that_says_it_is_this_machine_is_not_served(app):
    headers = {"Host": "127.0.0.1:8000", "Origin": HOME, "Cookie": f"oxhue_key_8000={KEY}"}
    assert hand(app).post("/api/look", json=LOOK, headers=headers).status_code == 421


@pytest.mark.parametrize("origin", ["http://evil.example", "null", HOME, "http://192.168.7.20:81"])
def test_other_pages_open_on_the_phone_ask_nothing(app, computer, origin):
    phone = hand(app)
    let_in(computer, phone)
    headers = {"Origin": origin}
    assert phone.post("/api/look", json=LOOK, headers=headers).status_code == 403


def test_a_name_that_leads_to_the_address_is_not_served(app):
    response = hand(app).get("/phone", headers={"Host": "evil.example:8000"})
    assert response.status_code == 421


def test_a_photo_of_a_thousand_million_pixels_is_refused_by_its_header(app, computer):
    def chunk(kind, data):
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    header = struct.pack(">IIBBBBB", 31_623, 31_623, 8, 2, 0, 0, 0)
    picture = (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")
    )
    phone = hand(app)
    let_in(computer, phone)
    assert "megapixels" in phone.post("/api/photo", content=picture).json()["refused"]


def test_without_phones_there_is_nothing_to_list(ask):
    assert ask("phones")["answer"] is None


def test_the_code_is_drawn_in_the_terminal_as_on_the_page():
    rows = code_rows("http://192.168.7.20:48210/phone?key=abc")
    assert all(len(row) == len(rows) for row in rows)
    lines = code_text("http://192.168.7.20:48210/phone?key=abc").splitlines()
    assert len(lines) == (len(rows) + 1) // 2
    assert all(line[0] == "█" for line in lines[:-1])


@pytest.mark.parametrize("address", [None, "8.8.8.8", "169.254.3.4", "127.0.0.1"])
def test_only_a_private_address_is_bound(monkeypatch, address):
    monkeypatch.setattr(serve, "_outward_address", lambda: address)
    with pytest.raises(InputError, match="no private address"):
        serve.open_for_phones(0)


def open_on_loopback(monkeypatch):
    """The page for phones at the second address of this machine's own loop, as if of a network."""
    monkeypatch.setattr(serve, "_is_private", lambda _: True)
    monkeypatch.setattr(serve, "_outward_address", lambda: "127.0.0.2")
    try:
        return serve.open_for_phones(0)
    except (InputError, OSError):
        pytest.skip("this machine has no second loopback address")


def test_phones_come_in_on_one_address_and_never_on_all(monkeypatch):
    opened = open_on_loopback(monkeypatch)
    with opened.listening, opened.lan:
        assert opened.listening.getsockname()[0] == "127.0.0.1"
        assert opened.lan.getsockname()[0] == "127.0.0.2"
        assert opened.lan.getsockname()[1] == opened.listening.getsockname()[1]


def test_phones_find_the_same_address_at_the_next_start_unless_it_is_taken(monkeypatch):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        usual = free.getsockname()[1]
    monkeypatch.setattr(serve, "USUAL_PORT", usual)
    first = open_on_loopback(monkeypatch)
    with first.listening, first.lan:
        assert first.door.port == usual
        with (other := serve.open_for_phones(0)).listening, other.lan:
            assert other.door.port != usual
    with (again := serve.open_for_phones(0)).listening, again.lan:
        assert again.door.port == usual
        assert again.door.key != first.door.key  # what opens it is new each time


THREATS = {
    "others in the network": (
        test_only_a_private_address_is_bound,
        test_phones_come_in_on_one_address_and_never_on_all,
        test_the_key_of_the_computer_opens_nothing_over_the_network,
        test_a_phone_that_says_it_is_this_machine_is_not_served,
    ),
    "someone who saw the code": (
        test_a_code_works_once,
        test_a_code_runs_out_and_a_phone_falls_out_when_idle,
        test_a_phone_knocks_is_allowed_asks_and_is_put_out,
    ),
    "someone who guesses": (test_five_wrong_guesses_void_the_code,),
    "a second phone": (
        test_a_second_phone_needs_a_code_and_a_yes_of_its_own,
        test_no_more_phones_than_the_list_holds,
    ),
    "a lost phone": (
        test_a_code_runs_out_and_a_phone_falls_out_when_idle,
        test_a_phone_knocks_is_allowed_asks_and_is_put_out,
    ),
    "other web pages on the phone": (
        test_other_pages_open_on_the_phone_ask_nothing,
        test_a_name_that_leads_to_the_address_is_not_served,
    ),
    "huge photos": (test_a_photo_of_a_thousand_million_pixels_is_refused_by_its_header,),
    "a phone let in": (
        test_what_is_not_for_phones_is_not_done,
        test_a_phone_keeps_answers_of_the_few_verbs_it_may_ask,
    ),
}
"""Who could do harm, as the guide lists them, and the tests that try it."""


def test_every_threat_of_the_guide_is_tried():
    guide = (Path(__file__).parents[2] / "docs" / "page.md").read_text("utf-8")
    table = guide.partition("| who | what stops it |")[2].partition("\n\n")[0]
    rows = [line.split("|")[1].strip() for line in table.splitlines()[2:]]
    assert rows == list(THREATS)
