"""``oxhue page`` as a program: its address, its end, and what it refuses."""

import os
import re
import signal
import socket
import urllib.error
import urllib.request

import pytest

from oxhue.cli.main import exit_code
from oxhue.page.serve import open_listener
from tests.page.chromium import PATIENCE_S, page_process

ADDRESS = re.compile(r"http://127\.0\.0\.1:(\d+)/\?key=([\w-]{32})\n")


def opened(address):
    try:
        jar = urllib.request.HTTPCookieProcessor()
        with urllib.request.build_opener(jar).open(address, timeout=PATIENCE_S) as response:
            return response.status, response.read().decode()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.read().decode()


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such signals for one process")
@pytest.mark.parametrize("end", ["SIGINT", "SIGHUP"])
def test_it_prints_its_address_serves_and_ends_with_ctrl_c_or_its_terminal(end):
    with page_process() as page:
        try:
            address = page.stdout.readline()
            assert ADDRESS.fullmatch(address)
            assert "<title>oxhue" in opened(address.strip())[1]
            assert opened(address.partition("?")[0])[0] == 403
        finally:
            page.send_signal(getattr(signal, end))
            out, err = page.communicate(timeout=PATIENCE_S)
    assert page.returncode == 0
    assert out == ""
    assert err == "oxhue: Ctrl-C ends the page\noxhue: page closed\n"


def test_a_port_that_is_taken_is_refused(capsys):
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        assert exit_code(["page", "--no-open", "--port", str(port)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert f"cannot listen on 127.0.0.1 port {port}" in err


@pytest.mark.parametrize(
    "arguments",
    [
        ["--port", "70000"], ["--port", "-1"], ["--host", "192.0.2.7"], ["--host", "a b"],
        ["--host", ""], ["--host", " "], ["--host", "[]"],
    ],
)  # fmt: skip
def test_what_cannot_be_listened_on_is_refused(arguments, capsys):
    assert exit_code(["page", "--no-open", *arguments]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)


def test_two_runs_have_two_keys_and_loopback_is_the_default():
    doors = [open_listener("127.0.0.1", 0) for _ in range(2)]
    try:
        assert doors[0].door.key != doors[1].door.key
        assert doors[0].door.key not in doors[0].first_address
        assert all(one.listening.getsockname()[0] == "127.0.0.1" for one in doors)
    finally:
        for one in doors:
            one.listening.close()


def test_answers_are_sent_at_once():
    """What asyncio asks of a socket before it turns off the wait for acknowledgements."""
    one = open_listener("127.0.0.1", 0)
    one.listening.close()
    assert one.listening.proto == socket.IPPROTO_TCP


def test_all_addresses_are_shown_by_those_one_can_open():
    opened_door = open_listener("0.0.0.0", 0)
    opened_door.listening.close()
    assert opened_door.addresses[0].startswith("http://127.0.0.1:")
    assert not any("0.0.0.0" in one for one in opened_door.addresses)
