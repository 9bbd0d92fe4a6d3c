"""Who may ask: every request passes here first.

Any web page a person has open may send requests to this machine. So a request must name the
address we serve (a name that merely leads here is how such pages get in), must come from our own
page, and must carry the key of this run, which only the terminal has shown.
"""

from __future__ import annotations

import hmac
import ipaddress
import re
from dataclasses import dataclass
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from .phone_door import pass_phone
from .phones import Phones

_HOST = re.compile(r"(\[[^\]]*\]|[^:\[\]]+)(?::(\d{1,5}))?")
_USUAL_PORT = 80  # browsers leave it out
LOOPBACK = ("127.0.0.1", "localhost", "[::1]")

# Nothing from elsewhere, no script or style in the markup, no text turned into markup.
CONTENT_POLICY = "; ".join(
    (
        "default-src 'none'", "script-src 'self'", "style-src 'self'", "img-src 'self' blob:",
        "connect-src 'self'", "manifest-src 'none'", "base-uri 'none'", "form-action 'none'",
        "frame-ancestors 'none'", "require-trusted-types-for 'script'", "trusted-types 'none'",
    )
)  # fmt: skip
HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Cache-Control": "no-store",
}
KEY_NEEDED = (
    "This page opens with the address that 'oxhue page' printed in the terminal, "
    "with the key at its end."
)


@dataclass(frozen=True)
class AccessPolicy:
    """What is let in.

    Attributes
    ----------
    key : str
        Secret of this run.
    port : int
    host : str
        What the server was bound to; loopback admits loopback names alone, anything else also
        that name and plain addresses, which no foreign name can lead to.
    key_once : str
        A second key that opens the page one time; none where it is empty.
    """

    key: str
    port: int
    host: str = "127.0.0.1"
    key_once: str = ""

    @property
    def cookie(self) -> str:
        """Cookies are not kept apart by port, so two runs need two names."""
        return f"oxhue_key_{self.port}"

    def names_us(self, host: str) -> bool:
        """Whether a Host header is an address of ours."""
        found = _HOST.fullmatch(host)
        if found is None or int(found[2] or _USUAL_PORT) != self.port:
            return False
        name = found[1]
        if name in LOOPBACK:
            return True
        if self.host in LOOPBACK:
            return False
        return name == self.host or _is_address(name.strip("[]"))

    def admits(self, key: str | None) -> bool:
        """Whether a key is the one of this run, in a time that does not tell how nearly."""
        return key is not None and hmac.compare_digest(key.encode(), self.key.encode())


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


class AccessCheck:
    """Wraps the application; lets through what the door admits and adds the headers."""

    def __init__(self, app: ASGIApp, door: AccessPolicy, phones: Phones | None = None) -> None:
        self._app, self._door, self._phones = app, door, phones
        self._once = door.key_once

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                if self._is_phones(scope):  # browsers heed it on secure addresses alone
                    del headers["Cross-Origin-Opener-Policy"]
            await send(message)

        if scope["type"] != "http":
            return  # no web sockets here
        refused = self._refuse(scope)
        await (refused or self._app)(scope, receive, send_with_headers)

    def _is_phones(self, scope: Scope) -> bool:
        """By the address a request came in on, which its sender cannot choose."""
        return self._phones is not None and scope["server"][0] == self._phones.address

    def _refuse(self, scope: Scope) -> Response | None:
        """The answer to what is not let in, or that hands out the cookie; None for the rest."""
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        phones = self._phones
        if phones is not None and self._is_phones(scope):
            if host != phones.host:
                return PlainTextResponse("This address is not served here.", 421)
            if not _is_from_our_page(headers, scope, host):
                return PlainTextResponse("Only the page itself may ask.", 403)
            return pass_phone(scope, _find_cookie(headers, phones.cookie), phones)
        if not self._door.names_us(host):
            return PlainTextResponse("This address is not served here.", 421)
        if not _is_from_our_page(headers, scope, host):
            return PlainTextResponse("Only the page itself may ask.", 403)
        if scope["path"] == "/":
            given = parse_qs(scope["query_string"].decode("latin-1")).get("key", [])
            if given and (self._door.admits(given[0]) or self._use_first_key(given[0])):
                return self._welcome()
        if not self._door.admits(_find_cookie(headers, self._door.cookie)):
            return PlainTextResponse(KEY_NEEDED, 403)
        return None

    def _use_first_key(self, key: str) -> bool:
        """Whether it is the key that works once; then it has worked."""
        first = self._once != "" and hmac.compare_digest(key.encode(), self._once.encode())
        if first:
            self._once = ""
        return first

    def _welcome(self) -> Response:
        """Keep the key in a cookie and take it out of the address and its history."""
        response = RedirectResponse("/", 303)
        response.set_cookie(
            self._door.cookie, self._door.key, path="/", httponly=True, samesite="strict"
        )
        return response


def _is_from_our_page(headers: Headers, scope: Scope, host: str) -> bool:
    """Whether a request is our own page's, or a person's own opening of it."""
    origin = headers.get("origin")
    if origin is not None and origin != f"{scope['scheme']}://{host}":
        return False
    if scope["method"] not in ("GET", "HEAD"):
        return origin is not None
    opened = scope["path"] in ("/", "/phone")
    return opened or headers.get("sec-fetch-site", "same-origin") in ("same-origin", "none")


def _find_cookie(headers: Headers, name: str) -> str | None:
    """A cookie among those of every program that was ever opened on this host, in whatever form.

    Ours is plain, so nothing is unquoted: that takes a time that grows with the square of the
    length, and whoever reaches the door could send the longest.
    """
    parts = (part.strip().partition("=") for part in headers.get("cookie", "").split(";"))
    return next((value for own, _, value in parts if own == name), None)
