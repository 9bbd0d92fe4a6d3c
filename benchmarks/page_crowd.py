"""The page with more asked of it than it can do: ``python -m benchmarks.page_crowd``.

Two hundred requests at once over all questions and files, photos sent from all sides, and uploads
that stop halfway. Printed for each: what came back and how soon, the most memory that server and
workers held, and whether the page answers meanwhile and afterwards. The record is in
``benchmarks/faults.md``. Needs Linux.
"""

from __future__ import annotations

import asyncio
import itertools
import signal
import time
from collections import Counter
from collections.abc import Awaitable
from pathlib import Path

from tests.page.chromium import page_process
from tests.page.crowd import QUESTIONS_ASKED, Client, noise, timed

AT_ONCE = 200
Call = Awaitable[tuple[int, str]]


def main() -> None:
    """Start the page and print what it does under each load."""
    with page_process() as page:
        assert page.stdout is not None
        try:
            asyncio.run(_all(Client.of(page.stdout.readline().strip()), page.pid))
        finally:
            page.send_signal(signal.SIGINT)
            print("\nsaid on its terminal:", page.communicate(timeout=20)[1])


async def _all(client: Client, pid: int) -> None:
    for _ in range(2):  # the first of a lane waits for its process to start
        await _look(client)
    names = list(QUESTIONS_ASKED)
    photo = noise(700, 500)
    files = ("/", "/static/main.js", "/static/base.css", "/static/mark.svg")
    loads: dict[str, list[Call]] = {
        "questions at once": [_ask(client, names[i % len(names)]) for i in range(AT_ONCE)],
        "files at once": [client.get(files[i % len(files)]) for i in range(AT_ONCE)],
        f"photos of {len(photo) / 1e6:.0f} MB at once": [
            client.post("/api/photo", photo) for _ in range(AT_ONCE)
        ],
        "photos that stop halfway": [client.stops() for _ in range(AT_ONCE)],
        "questions that stop halfway": [
            client.stops("/api/look", "application/json") for _ in range(AT_ONCE)
        ],
    }
    for name, calls in loads.items():
        await _under(f"{len(calls)} {name}", calls, client, pid)


_number = itertools.count()


def _ask(client: Client, name: str) -> Call:
    """A question that was not asked before, or what is at hand would answer it."""
    return client.ask(name, **QUESTIONS_ASKED[name], number=next(_number))


async def _look(client: Client) -> str:
    status, said, seconds = await timed(_ask(client, "look"))
    return f"{status} in {seconds:.2f} s" if status == 200 else f"{status} ({said})"


async def _under(name: str, calls: list[Call], client: Client, pid: int) -> None:
    began, most = time.monotonic(), [_held_mb(pid)]
    before = most[0]
    watch = asyncio.create_task(_watched(pid, most))
    running = [asyncio.create_task(timed(call)) for call in calls]
    await asyncio.sleep(1.0)
    meanwhile = await _look(client)
    ends = await asyncio.gather(*running)
    took = time.monotonic() - began
    watch.cancel()
    print(f"\n{name}: all ended after {took:.1f} s, {before:.0f} to {max(most):.0f} MB")
    for (status, said), count in Counter(end[:2] for end in ends).most_common():
        seconds = max(end[2] for end in ends if end[:2] == (status, said))
        print(f"  {count:3d} x {status} {said}; the last after {seconds:.1f} s")
    print(f"  a look meanwhile: {meanwhile}; afterwards: {await _look(client)}", flush=True)


async def _watched(pid: int, most: list[float]) -> None:
    while True:
        most.append(_held_mb(pid))
        await asyncio.sleep(0.2)


def _held_mb(pid: int) -> float:
    """Memory of a process and its children [MB], what they share counted once."""
    kilobytes = 0
    for one in (pid, *_children(pid)):
        try:
            lines = Path(f"/proc/{one}/smaps_rollup").read_text().splitlines()
        except OSError:  # it has ended
            continue
        kilobytes += sum(int(line.split()[1]) for line in lines if line.startswith("Pss:"))
    return kilobytes / 1000.0


def _children(pid: int) -> list[int]:
    threads = Path(f"/proc/{pid}/task").glob("*/children")
    return [int(child) for one in threads for child in one.read_text().split()]


if __name__ == "__main__":
    main()
