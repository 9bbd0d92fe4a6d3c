"""Clients of the page that speak HTTP by hand: many at once, slow ones, and ones that leave."""

import asyncio
import io
import json
import re
import time
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass

QUESTIONS_ASKED = {
    "choices": {},
    "look": {"stack": "TiO2 45nm / Ti", "ramp": "TiO2 0..200nm / Ti"},
    "tint": {"metal": "Ti", "at": "450C", "for": "20min"},
    "strip": {"metal": "Ti", "temperatures": 20, "times_min": [10, 20, 40]},
    "coupons": {"pieces": "metal,temperature_C,time_min,word\nTi,450,20,purple\n"},
    "recipes": {"metal": "Ti", "want": "purple"},
    "gauge": {"film": "TiO2", "on": "Ti", "seen": ["purple"]},
    "map": {"film": "TiO2", "on": "Ti"},
    "assay": {"metal": "Ti", "on": "glass", "seen": ["gold"], "ohms": "open"},
    "expect": {"film": "Ti 80nm / glass"},
    "design": {"on": "glass", "goals": ["R>95% 450..650nm"], "with": ["Al", "SiO2"],
               "max_layers": 3},
    "sheet": {"stack": "Al 90nm / glass", "source": "boat", "distance": "30cm"},
}  # fmt: skip
RAW = "application/octet-stream"
LONGEST_S = 120.0  # after which a call counts as hanging


@dataclass(frozen=True)
class Client:
    """Who knows the key of a page that runs."""

    port: int
    cookie: str

    @classmethod
    def of(cls, address):
        """From the address that the page printed."""
        port, key = re.fullmatch(r"http://127\.0\.0\.1:(\d+)/\?key=([\w-]+)", address).groups()
        return cls(int(port), f"oxhue_key_{port}={key}")

    def head(self, path, method="GET", length=0, kind="", stay="close"):
        """The head of a request, as our own page sends it."""
        home = f"127.0.0.1:{self.port}"
        lines = [f"{method} {path} HTTP/1.1", f"Host: {home}", f"Cookie: {self.cookie}"]
        if method == "POST":
            lines += [f"Origin: http://{home}", f"Content-Type: {kind}"]
            lines += [f"Content-Length: {length}"]
        return "\r\n".join([*lines, f"Connection: {stay}", "", ""]).encode()

    @asynccontextmanager
    async def opened(self, **options):
        """A connection; it is cut off in the end, whatever is still to be read."""
        reader, writer = await asyncio.open_connection("127.0.0.1", self.port, **options)
        try:
            yield reader, writer
        finally:
            writer.transport.abort()
            with suppress(ConnectionError):
                await writer.wait_closed()

    async def send(self, data):
        """Send and read until the other end closes: status and sentence."""
        async with self.opened() as (reader, writer):
            writer.write(data)
            return read_answer(await reader.read())

    async def get(self, path):
        return await self.send(self.head(path))

    async def post(self, path, body, kind=RAW):
        return await self.send(self.head(path, "POST", len(body), kind) + body)

    async def ask(self, question, **fields):
        return await self.post(f"/api/{question}", json.dumps(fields).encode(), "application/json")

    async def stops(self, path="/api/photo", kind=RAW):
        """Begin an upload and stop in the middle of it."""
        return await self.send(self.head(path, "POST", 60_000, kind) + b"x" * 1000)


def read_answer(data):
    """Status and sentence of an answer."""
    head, _, body = data.partition(b"\r\n\r\n")
    if not head:
        return 0, "closed without a word"
    status = int(head.split(b" ", 2)[1])
    try:
        return status, json.loads(body).get("refused") or "answered"
    except ValueError:
        return status, "a file"


async def timed(call):
    """What a call ended with, and how long it took [s]."""
    began = time.monotonic()
    try:
        status, said = await asyncio.wait_for(call, LONGEST_S)
    except TimeoutError:
        status, said = 0, "hangs"
    except ConnectionError as error:
        status, said = 0, type(error).__name__
    return status, said, time.monotonic() - began


def noise(width, height):
    """A PNG that does not shrink, so that its upload has a size."""
    import numpy as np
    from PIL import Image

    stream = io.BytesIO()
    pixels = np.random.default_rng(1).integers(0, 256, (height, width, 3), np.uint8)
    Image.fromarray(pixels).save(stream, "PNG")
    return stream.getvalue()
