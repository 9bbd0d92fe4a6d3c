"""Opening the page: a socket, its address with the key, and a server until Ctrl-C."""

from __future__ import annotations

import os
import secrets
import signal
import socket
from collections.abc import Callable
from dataclasses import dataclass

import uvicorn

from ..optics.errors import InputError
from .access import LOOPBACK, AccessPolicy

MOST_CONNECTIONS = 500  # a person's browser opens about six
_ANY = ("0.0.0.0", "::")


@dataclass(frozen=True)
class Listener:
    """A socket that listens, and where people find it.

    Attributes
    ----------
    door : AccessPolicy
    listening : socket
    addresses : tuple of str
        With the key at the end; the first is for this machine.
    first_address : str
        For the browser we open ourselves, with a key that works once: other users of this
        machine may see with what a program was started.
    """

    door: AccessPolicy
    listening: socket.socket
    addresses: tuple[str, ...]
    first_address: str


def open_listener(host: str, port: int) -> Listener:
    """Listen on an address.

    Raises
    ------
    InputError
        If the port is out of range or taken, or the host is not of this machine.
    """
    if not 0 <= port <= 65535:
        raise InputError(f"the port is {port}; it must be 1 to 65535, or 0 for any that is free")
    bare = "127.0.0.1" if host == "localhost" else host.strip("[]")
    family = socket.AF_INET6 if ":" in bare else socket.AF_INET
    try:
        listening = _listen(family, (bare, port))
    except (OSError, UnicodeError) as error:
        raise InputError(
            f"cannot listen on {host} port {port}; another program may use the port, or the host "
            f"is not an address of this machine"
        ) from error
    taken = int(listening.getsockname()[1])
    named = f"[{bare}]" if family == socket.AF_INET6 else bare
    door = AccessPolicy(secrets.token_urlsafe(24), taken, named, secrets.token_urlsafe(24))
    at = [f"http://{one}:{taken}/?key=" for one in _hosts_for(named)]
    addresses = tuple(one + door.key for one in at)
    return Listener(door, listening, addresses, at[0] + door.key_once)


def _listen(family: socket.AddressFamily, address: tuple[str, int]) -> socket.socket:
    """A socket that listens, said to be TCP outright.

    asyncio sends small answers at once only on sockets that say so; else each waits some 40 ms
    for the browser to acknowledge what came before it.
    """
    listening = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        if os.name == "posix":  # elsewhere it would let two programs share a port
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(address)
        listening.listen(128)
    except BaseException:
        listening.close()
        raise
    return listening


def _hosts_for(named: str) -> list[str]:
    """Hosts to open: for all addresses this machine's own, then the one others reach it by."""
    if named.strip("[]") not in _ANY:
        return [named]
    own = "[::1]" if ":" in named else "127.0.0.1"
    outward = _outward_address()
    return [own] if outward is None or ":" in named else [own, outward]


def _outward_address() -> str | None:
    """The address other devices of the network reach this machine by; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # RFC 5737: an address for documents, never routed
            return str(probe.getsockname()[0])
        except OSError:
            return None


def is_loopback(door: AccessPolicy) -> bool:
    """Whether only this machine can reach it."""
    return door.host in LOOPBACK


def serve(opened: Listener, started: Callable[[], None]) -> None:
    """Serve until Ctrl-C; ``started`` is called once questions are taken."""
    from .app import create_app
    from .workers import WorkerPool

    desk = WorkerPool()

    class Server(uvicorn.Server):
        """Tells when it takes questions, and stops what is being worked out when it ends."""

        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            started()

        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            desk.close()
            await super().shutdown(sockets)

    config = uvicorn.Config(
        create_app(opened.door, desk),
        http="h11",
        limit_concurrency=MOST_CONNECTIONS,
        timeout_keep_alive=30,
        log_level="warning",
        access_log=False,  # it would write the key of the first address to the terminal
        server_header=False,
        timeout_graceful_shutdown=2,
        ws="none",
    )
    _end_with_the_terminal()
    Server(config).run(sockets=[opened.listening])


def _end_with_the_terminal() -> None:
    """A terminal that is closed ends the page like Ctrl-C, so that no photo is left behind."""
    hangup = getattr(signal, "SIGHUP", None)  # Windows has none
    if hangup is not None and signal.getsignal(hangup) == signal.SIG_DFL:
        signal.signal(hangup, lambda *_: signal.raise_signal(signal.SIGINT))
