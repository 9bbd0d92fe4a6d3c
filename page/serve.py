"""Opening the page: a socket, its address with the key, and a server until Ctrl-C."""

from __future__ import annotations

import ipaddress
import os
import secrets
import signal
import socket
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import uvicorn

from ..optics.errors import InputError
from .access import LOOPBACK, AccessPolicy
from .phones import Phones
from .questions.verb import Verbs

MOST_CONNECTIONS = 500  # a person's browser opens about six
_ANY = ("0.0.0.0", "::")
USUAL_PORT = 48_210
"""Taken for phones where it is free, so that their bookmark holds; of the private ones' lower end
(RFC 6335 leaves 1024 to 49151 to be registered; this one is not)."""


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
    phones : Phones, optional
    lan : socket, optional
        Where phones come in: the one private address, same port.
    """

    door: AccessPolicy
    listening: socket.socket
    addresses: tuple[str, ...]
    first_address: str
    phones: Phones | None = None
    lan: socket.socket | None = None


def open_listener(host: str, port: int) -> Listener:
    """Listen on an address.

    Raises
    ------
    InputError
        If the port is out of range or taken, or the host is not of this machine.
    """
    if not 0 <= port <= 65535:
        raise InputError(f"the port is {port}; it must be 1 to 65535, or 0 for any that is free")
    bare = "127.0.0.1" if host == "localhost" else host.strip().strip("[]")
    if not bare:
        raise InputError(
            "`host` is empty; name an address of this machine, such as 127.0.0.1, or 0.0.0.0 for "
            "all of them",
            parameter="host",
        )
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


def open_for_phones(port: int) -> Listener:
    """Listen on loopback for this machine and on its one private address for phones.

    Raises
    ------
    InputError
        If the machine has no private address, or the port is taken.
    """
    address = _outward_address()
    if address is None or not _is_private(address):
        raise InputError(
            "this machine has no private address that a phone could reach; join the phone's own "
            "network first, such as your Wi-Fi"
        )
    try:
        opened = open_listener("127.0.0.1", port or USUAL_PORT)
        lan = _listen(socket.AF_INET, (address, opened.door.port))
    except (InputError, OSError) as error:
        if port:
            raise InputError(f"cannot listen on port {port}; another program may use it") from error
        opened = open_listener("127.0.0.1", 0)
        lan = _listen(socket.AF_INET, (address, opened.door.port))
    phones = Phones(address, opened.door.port)
    phones.invite(time.monotonic())
    return replace(opened, phones=phones, lan=lan)


def _is_private(address: str) -> bool:
    """Whether only its own network reaches it (RFC 1918), and it is no loopback or makeshift."""
    found = ipaddress.ip_address(address)
    return found.is_private and not (
        found.is_loopback or found.is_link_local or found.is_unspecified
    )


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


def serve(opened: Listener, started: Callable[[], None], *, verbs: Verbs | None = None) -> None:
    """Serve until Ctrl-C; ``started`` is called once questions are taken."""
    from .app import create_app
    from .workers import WorkerPool

    desk = WorkerPool(verbs=verbs)

    class Server(uvicorn.Server):
        """Tells when it takes questions, and stops what is being worked out when it ends."""

        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            started()

        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            desk.close()
            await super().shutdown(sockets)

    config = uvicorn.Config(
        create_app(opened.door, desk, phones=opened.phones),
        http="h11",
        limit_concurrency=MOST_CONNECTIONS,
        timeout_keep_alive=30,
        log_level="error",  # any program of this machine could fill the terminal with warnings
        access_log=False,  # it would write the key of the first address to the terminal
        server_header=False,
        timeout_graceful_shutdown=2,
        ws="none",
    )
    _end_with_the_terminal()
    lan = [] if opened.lan is None else [opened.lan]
    Server(config).run(sockets=[opened.listening, *lan])


def _end_with_the_terminal() -> None:
    """A terminal that is closed ends the page like Ctrl-C, so that no photo is left behind."""
    hangup = getattr(signal, "SIGHUP", None)  # Windows has none
    if hangup is not None and signal.getsignal(hangup) == signal.SIG_DFL:
        signal.signal(hangup, lambda *_: signal.raise_signal(signal.SIGINT))
