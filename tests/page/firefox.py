"""The system's own Firefox, driven over its remote protocol: lengths and JSON through a socket."""

import json
import shutil
import socket
import subprocess
import time
from contextlib import contextmanager

import pytest

from tests.page.chromium import PATIENCE_S

NAMES = ("firefox-esr", "firefox")
SETTINGS = {
    "marionette.port": 0,  # any that is free; the profile then says which
    "app.update.enabled": False,
    "browser.shell.checkDefaultBrowser": False,
    "datareporting.policy.dataSubmissionEnabled": False,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "toolkit.telemetry.reportingpolicy.firstRun": False,
}


def firefox_path():
    """Where Firefox is, or a skip that says what is missing."""
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        pytest.skip("no Firefox on this machine; on Debian: apt-get install firefox-esr")
    return found


class Firefox:
    """One tab of a browser: a command in, its value out."""

    def __init__(self, port):
        self._socket = socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S)
        self._bytes = self._socket.makefile("rb")
        self._number = 0
        self._read()  # it greets
        self.send("WebDriver:NewSession", {})

    def send(self, command, fields):
        self._number += 1
        body = json.dumps([0, self._number, command, fields]).encode()
        self._socket.sendall(f"{len(body)}:".encode() + body)
        _, _, error, value = self._read()
        assert error is None, error
        return value

    def _read(self):
        length = b""
        while (one := self._bytes.read(1)) != b":":
            assert one, "the browser has gone"
            length += one
        return json.loads(self._bytes.read(int(length)))

    def open(self, address):
        self.send("WebDriver:Navigate", {"url": address})
        self.wait("document.body?.dataset.ready === 'yes'")

    def run(self, script):
        """What a script returns, run as the page's own."""
        fields = {"script": script, "args": [], "newSandbox": False}
        return self.send("WebDriver:ExecuteScript", fields)["value"]

    def wait(self, condition):
        """Until an expression holds."""
        until = time.monotonic() + PATIENCE_S
        while not self.run(f"return Boolean({condition});"):
            assert time.monotonic() < until, f"it never came: {condition}"
            time.sleep(0.1)

    def resize(self, width, height):
        self.send("WebDriver:SetWindowRect", {"width": width, "height": height})

    def close(self):
        self._bytes.close()  # or the socket stays open for it
        self._socket.close()


@contextmanager
def firefox(profile):
    """A browser with an empty profile."""
    path = firefox_path()
    lines = [f"user_pref({json.dumps(name)}, {json.dumps(on)});" for name, on in SETTINGS.items()]
    (profile / "user.js").write_text("\n".join(lines))
    command = [path, "--marionette", "--headless", "--no-remote", "--profile", str(profile)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
        try:
            tab = Firefox(_port(profile))
            yield tab
            tab.close()
        finally:
            process.terminate()
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()


def _port(profile):
    said, until = profile / "MarionetteActivePort", time.monotonic() + PATIENCE_S
    while not (said.exists() and said.read_text().strip()):
        assert time.monotonic() < until, "Firefox has not started"
        time.sleep(0.2)
    return int(said.read_text())
