"""The door for phones: what comes in over the private address passes here and nowhere else."""

from __future__ import annotations

import time
from collections.abc import Mapping
from typing import Any, Literal
from urllib.parse import parse_qs

from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.types import Scope

from .phones import QUESTIONS_OF_PHONES, Phone, Phones

_PAGE = """<!doctype html><html lang="en-GB"><head><meta charset="utf-8">{again}
<meta name="viewport" content="width=device-width, initial-scale=1"><title>oxhue</title>
<link rel="icon" href="/static/mark.svg"><link rel="stylesheet" href="/static/base.css"></head>
<body class="knock"><main><h1>{title}</h1><p>{words}</p></main></body></html>"""
_AGAIN = '<meta http-equiv="refresh" content="2; url=/phone">'
_NOT_LET_IN = (
    "This code has been used, has run out, or was never right. Ask for a new one on the "
    "computer's page, under “Phone”, and scan it again."
)
_DRESS = ("/static/base.css", "/static/mark.svg")
_PREFIXES = ("/api/photo/", "/static/")


def pass_phone(scope: Scope, token: str | None, phones: Phones) -> Response | None:
    """What a phone is told that may not come in, or waits; None where it is let through.

    Parameters
    ----------
    scope
        Of a request whose host and origin are in order already.
    token : str or None
        From the phone's cookie.
    phones : Phones
    """
    now_s, path = time.monotonic(), scope["path"]
    phone = phones.find(token, now_s)
    if path == "/phone":
        return _knock(scope, phone, phones, now_s)
    if path in _DRESS:
        return None  # the page that asks for patience is dressed, too
    if phone is None or not phone.allowed:
        return _say("No entry", _NOT_LET_IN, 403)
    phone.seen_s = now_s
    if path == "/" or (path.startswith(_PREFIXES) and "/map/" not in path):
        return None
    if path.startswith("/api/") and path.removeprefix("/api/") in QUESTIONS_OF_PHONES:
        return None
    words = "this is not for phones; ask it on the computer's own page"
    return JSONResponse({"refused": words}, 200 if scope["method"] == "POST" else 403)


def _knock(scope: Scope, phone: Phone | None, phones: Phones, now_s: float) -> Response:
    given = parse_qs(scope["query_string"].decode("latin-1")).get("key", [])
    if given and phone is None:
        phone = phones.knock(given[0], now_s)
        if phone is None:
            return _say("No entry", _NOT_LET_IN, 403)
        response = RedirectResponse("/phone", 303)  # the key leaves the address and its history
        response.set_cookie(phones.cookie, phone.token, path="/", httponly=True, samesite="strict")
        return response
    if phone is None:
        return _say("No entry", _NOT_LET_IN, 403)
    if phone.allowed:
        return RedirectResponse("/#thickness", 303)
    return _say(
        f"Code {phone.digits}",
        "Allow this code on the computer's page. Photos and questions then go to that computer "
        "over your own network, unencrypted, and no further.",
        200,
        again=_AGAIN,
    )


def _say(title: str, words: str, status: int, *, again: str = "") -> Response:
    return HTMLResponse(_PAGE.format(title=title, words=words, again=again), status)


class PhoneDesk:
    """What the computer's page asks about phones; phones themselves never reach it."""

    def __init__(self, phones: Phones | None) -> None:
        self._phones = phones

    def answer(self, given: Mapping[str, Any]) -> Response:
        """The invitation and the phones, after what was asked for has been done."""
        if self._phones is None:
            return JSONResponse({"answer": None})
        what, name = given.get("do"), str(given.get("name"))
        if what == "invite":
            self._phones.invite(time.monotonic())
        elif what in ("allow", "out"):
            self._phones.settle(name, _which(what))
        return JSONResponse({"answer": self._state(self._phones)})

    @staticmethod
    def _state(phones: Phones) -> dict[str, object]:
        now_s = time.monotonic()
        left_s = phones.left_s(now_s)
        link = phones.invitation if left_s else ""
        return {
            "link": link,
            "code": code_rows(link) if link else [],
            "left_s": round(left_s),
            "phones": phones.listed(now_s),
        }


def _which(what: str) -> Literal["allow", "out"]:
    return "allow" if what == "allow" else "out"


def code_rows(link: str) -> list[str]:
    """The QR code of a link: a row of 0 and 1 for each row of modules, with its quiet margin."""
    import segno

    made = segno.make(link, error="m", micro=False)
    return ["".join(map(str, row)) for row in made.matrix_iter(border=4)]


def code_text(link: str) -> str:
    """The QR code for a terminal: two rows of modules a line, dark on light."""
    rows = code_rows(link)
    rows += ["0" * len(rows[0])] * (len(rows) % 2)
    signs = {"00": "█", "01": "▀", "10": "▄", "11": " "}  # upper, lower; a module of 1 is dark
    return "\n".join(
        "".join(signs[a + b] for a, b in zip(upper, lower, strict=True))
        for upper, lower in zip(rows[::2], rows[1::2], strict=True)
    )
