"""The door to a Dask cluster: what is spread meanwhile runs there."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Iterator
from concurrent.futures import CancelledError, ThreadPoolExecutor
from contextlib import contextmanager
from importlib.metadata import version
from typing import Any

from ..errors import InputError, shorten

CONNECT_S = 5.0
"""How long a cluster may take to answer [s]."""

_ADDRESS = re.compile(r"(tcp|tls)://([^\s/:]+|\[[0-9a-fA-F:]+\]):\d{1,5}")
_LOOPBACK = re.compile(r"localhost|127(?:\.\d{1,3}){3}|\[::1\]")


@contextmanager
def on_cluster(
    address: str | None, seconds: float = CONNECT_S, *, trusted: bool = False
) -> Iterator[None]:
    """Let everything that is spread meanwhile run on a Dask cluster; on this machine if None.

    Parameters
    ----------
    address : str or None
        Of its scheduler, ``tcp://host:port``.
    seconds : float
        How long it may take to answer.
    trusted : bool
        Whether to connect in the open to another machine: whoever answers there can run any
        program on this one.

    Raises
    ------
    InputError
        If the address is none; if it is another machine's and neither trusted nor ``tls``; if
        nobody answers there in time, no worker is there, or a worker has no ``oxhue`` or one of
        another version; if the cluster is lost during the work.

    Notes
    -----
    What a lost worker had not sent back is done again by another, and counts once. Who can reach
    the scheduler can run anything on its workers, and who answers in its place anything here:
    keep it inside one's own network, or use ``tls://`` with the certificates named in Dask's
    configuration.
    """
    if address is None:
        yield
        return
    client = _connect(address, seconds, trusted)
    import joblib
    from distributed import KilledWorker

    try:
        with joblib.parallel_config(backend="dask", client=client):
            yield
    except (CancelledError, ConnectionError) as error:
        raise InputError(
            f"the cluster at {address} was lost during the work; start over"
        ) from error
    except KilledWorker as error:
        raise InputError(
            f"one piece of the work ended worker after worker at {address}; they may need more "
            f"memory"
        ) from error
    finally:
        client.close(timeout=seconds)


def is_open(address: str) -> bool:
    """Whether whoever answers at an address is neither of this machine nor shows a certificate."""
    found = _ADDRESS.fullmatch(address)
    return found is not None and found[1] == "tcp" and _LOOPBACK.fullmatch(found[2]) is None


def _connect(address: str, seconds: float, trusted: bool) -> Any:
    """A client of the cluster, once it is sure that its workers can do our work."""
    if not _ADDRESS.fullmatch(address):
        raise InputError(
            f"the cluster {shorten(address)!r} is no address; write tcp:// and then host:port of "
            f"its scheduler, as in tcp://127.0.0.1:8786"
        )
    if is_open(address) and not trusted:
        raise InputError(
            f"whoever answers at {address} can run any program on this machine; use tls:// with "
            f"the certificates named in Dask's own configuration, or state `trusted`",
            parameter="trusted",
        )
    try:
        from distributed import Client
        from distributed.security import Security
    except ImportError as error:
        raise InputError(
            "a cluster needs Dask's distributed engine: pip install 'oxhue[cluster]'"
        ) from error
    security = Security()
    credentials = security.get_connection_args("client")
    if address.startswith("tls") and credentials["ssl_context"] is None:
        raise InputError(f"{address} needs the certificates named in Dask's own configuration")
    try:
        with ThreadPoolExecutor(1) as other:  # a notebook has a loop of its own in this thread
            found = other.submit(asyncio.run, _identity(address, credentials, seconds)).result()
    except (OSError, TimeoutError, ValueError, MemoryError):  # also what is no Dask answers
        found = {}
    if found.get("type") != "Scheduler":
        raise InputError(
            f"no Dask scheduler answers at {address} within {seconds:g} s; start one there, or do "
            f"without a cluster"
        )
    client = Client(address, timeout=seconds, security=security, set_as_default=False)
    try:
        _check_workers(client, address, seconds)
    except BaseException:
        client.close(timeout=seconds)
        raise
    return client


async def _identity(address: str, credentials: dict[str, Any], seconds: float) -> dict[str, Any]:
    """What is at an address, by its own account."""
    from distributed import rpc

    async with rpc(address, connection_args=credentials) as there:
        said: dict[str, Any] = await asyncio.wait_for(there.identity(), seconds)
    return said


def _check_workers(client: Any, address: str, seconds: float) -> None:
    """Make sure that there are workers, and that they are of our kind."""
    try:
        client.wait_for_workers(1, timeout=seconds)
    except TimeoutError as error:
        raise InputError(f"the cluster at {address} has no workers; start some there") from error
    ours = version("oxhue")
    for place, theirs in client.run(version, "oxhue", on_error="return").items():
        if theirs != ours:
            has = f"oxhue {theirs}" if isinstance(theirs, str) else "no oxhue"
            raise InputError(
                f"the worker {place} of the cluster has {has}; install oxhue {ours} on every worker"
            )
