"""How long a client may keep a connection without moving on, and how many may be open at once.

The server underneath waits forever for the end of a request and for a reader of an answer. Here
each connection is looked at now and then for what it waits for.
"""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from typing import Literal

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from .work import refusal

Waits = Literal["silence", "head", "body", "reader"]


@dataclass(frozen=True)
class Timeouts:
    """What a client is granted.

    Attributes
    ----------
    head_s : float
        For the whole head of a request, however steadily it drips in [s].
    still_s : float
        For a body or the reading of an answer to move on by anything [s].
    silence_s : float
        For a connection on which nothing is asked [s].
    body_s : float
        For the whole body of a request [s]; a photo of 40 MB takes minutes on a slow network.
    linger_s : float
        For a client to read why it was sent away [s].
    look_s : float
        Between two looks at a connection [s].
    most : int
        Connections at once; a person's browser opens about six.
    """

    head_s: float = 15.0
    still_s: float = 20.0
    silence_s: float = 30.0
    body_s: float = 300.0
    linger_s: float = 2.0
    look_s: float = 1.0
    most: int = 240


class TimedConnection(H11Protocol):
    """One connection, closed when its client keeps it for nothing."""

    patience = Timeouts()

    _look: asyncio.TimerHandle | None = None
    _waits: Waits | None = None
    _began = _moved = 0.0
    _unread = 0
    _ended = False

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        if len(self.connections) > self.patience.most:
            self._end(503, "too many connections are open; close some tabs of this page")
        self._look_again()

    def connection_lost(self, exc: Exception | None) -> None:
        if self._look is not None:
            self._look.cancel()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        if not self._ended:
            self._moved = self.loop.time()
            super().data_received(data)

    def _look_again(self) -> None:
        if not self._ended:
            self._watch()
        self._look = self.loop.call_later(self.patience.look_s, self._look_again)

    def _watch(self) -> None:
        now, waits, unread = self.loop.time(), self._waiting(), self._unread
        self._unread = self.transport.get_write_buffer_size()
        if waits != self._waits:
            self._waits, self._began, self._moved = waits, now, now
        elif waits == "reader" and unread != self._unread:
            self._moved = now
        lasted_s, still_s = now - self._began, now - self._moved
        if waits == "reader" and still_s > self.patience.still_s:
            self.transport.abort()  # a plain close would wait until it is read
        elif waits == "head" and lasted_s > self.patience.head_s:
            self._end(408, "the request did not come in whole in time")
        elif waits == "silence" and lasted_s > self.patience.silence_s:
            self.transport.close()
        elif waits == "body" and (
            still_s > self.patience.still_s or lasted_s > self.patience.body_s
        ):
            self._end(408, "what was sent did not come in whole in time; send it again")

    def _waiting(self) -> Waits | None:
        """What the connection waits for; None while an answer is worked out."""
        if self.transport.get_write_buffer_size():
            return "reader"
        if self.conn.their_state is h11.SEND_BODY:
            return "body"
        if self.conn.their_state is h11.IDLE:
            return "head" if self.conn.trailing_data[0] else "silence"
        return None

    def _end(self, status: int, sentence: str) -> None:
        """Say why, unless an answer has begun, and close."""
        self._ended = True
        if self.conn.our_state in (h11.IDLE, h11.SEND_RESPONSE):
            self.transport.write(_whole(status, refusal(sentence)))
            self.transport.write_eof()
        # To close with something unread would take back what was just said.
        self.loop.call_later(self.patience.linger_s, self.transport.abort)


def make_protocol(patience: Timeouts) -> type[asyncio.Protocol]:
    """The protocol of connections, with what is granted on them."""
    return type("Patient", (TimedConnection,), {"patience": patience})


def _whole(status: int, body: bytes) -> bytes:
    """A whole answer after which the connection is closed."""
    reason = {408: "Request Timeout", 503: "Service Unavailable"}[status]
    head = (
        f"HTTP/1.1 {status} {reason}\r\nContent-Type: application/json\r\n"
        f"Content-Length: {len(body)}\r\nConnection: close\r\n\r\n"
    )
    return head.encode() + body
