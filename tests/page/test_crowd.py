"""The page under more than it can do, and before clients that are slow or leave."""

import asyncio
import threading
from collections import Counter
from contextlib import contextmanager

import pytest
import uvicorn

from oxhue.optics.errors import InputError
from oxhue.page import uploads
from oxhue.page.app import create_app
from oxhue.page.serve import open_listener
from oxhue.page.uploads import MOST_COMING
from oxhue.page.workers import PATIENCE, WorkerPool, read_patience
from tests.page.chromium import PATIENCE_S
from tests.page.crowd import QUESTIONS_ASKED, Client, noise, read_answer
from tests.page.within import DeskHere


@contextmanager
def served(most=500):
    """A page in a thread of this process; who knows its key."""
    opened = open_listener("127.0.0.1", 0)
    config = uvicorn.Config(
        create_app(opened.door, DeskHere()),
        http="h11",
        limit_concurrency=most,
        log_level="critical",
        ws="none",
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [opened.listening]})
    thread.start()
    try:
        yield Client.of(opened.addresses[0])
    finally:
        server.should_exit = True
        thread.join()
        opened.listening.close()


@pytest.fixture(scope="module")
def hasty():
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(uploads, "STILL_S", 0.4)
        patch.setattr(uploads, "BODY_S", 1.5)
        with served() as client:
            yield client


def all_of(*calls):
    async def together():
        return await asyncio.wait_for(asyncio.gather(*calls), PATIENCE_S)

    return asyncio.run(together())


@pytest.mark.parametrize(
    ("path", "kind"), [("/api/photo", "image/png"), ("/api/look", "application/json")]
)
def test_an_upload_that_stops_is_given_up(hasty, path, kind):
    [(status, said)] = all_of(hasty.stops(path, kind))
    assert (status, said) == (408, "what was sent did not come in whole in time; send it again")


def test_an_upload_that_goes_on_slowly_is_not(hasty, monkeypatch):
    monkeypatch.setattr(uploads, "STILL_S", 2.0)  # less than the whole takes, more than any part
    monkeypatch.setattr(uploads, "BODY_S", 60.0)

    async def slowly():
        body = b'{"stack": "TiO2 45nm / Ti"}'
        async with hasty.opened() as (reader, writer):
            writer.write(hasty.head("/api/look", "POST", len(body), "application/json"))
            for at in range(0, len(body), 9):
                await asyncio.sleep(0.75)
                writer.write(body[at : at + 9])
            return read_answer(await reader.read())

    assert all_of(slowly()) == [(200, "answered")]


def test_an_upload_that_drags_on_is_given_up(hasty):
    async def dripping():
        async with hasty.opened() as (reader, writer):
            writer.write(hasty.head("/api/photo", "POST", 60_000, "image/png"))
            answer = asyncio.create_task(reader.read())
            while not answer.done():
                writer.write(b"x")
                await asyncio.sleep(0.1)
            try:
                return read_answer(await answer)
            except ConnectionError:  # what was still sent may take back what was just said
                return 0, "cut off"

    [(status, _)] = all_of(dripping())
    assert status in (408, 0)


async def until(status, ask):
    """The first answer with a status: what was begun before it comes in at a moment of its own."""
    while (answer := await ask())[0] != status:
        pass
    return answer


def test_photos_beyond_those_that_may_come_at_once_are_refused(hasty, monkeypatch):
    monkeypatch.setattr(uploads, "STILL_S", 60.0)
    monkeypatch.setattr(uploads, "BODY_S", 60.0)

    def photo():
        return hasty.post("/api/photo", noise(8, 8))

    async def crowded():
        stopped = []

        async def one_more():
            stopped.append(asyncio.create_task(hasty.stops()))
            return await photo()

        refused = await until(503, one_more)
        assert len(stopped) >= MOST_COMING
        for one in stopped:
            one.cancel()
        return refused, await until(200, photo)

    [(refused, later)] = all_of(crowded())
    assert refused == (503, "too many photos come in at once; send it again soon")
    assert later == (200, "answered")


def test_who_stops_while_others_stop_is_given_up_too(hasty, monkeypatch):
    monkeypatch.setattr(uploads.Uploads, "is_full", True)
    [(status, said)] = all_of(hasty.stops())
    assert (status, said) == (503, "too many photos come in at once; send it again soon")


def test_who_leaves_while_others_come_in_is_no_fault(monkeypatch):
    monkeypatch.setattr(uploads.Uploads, "is_full", True)
    opened = open_listener("127.0.0.1", 0)
    opened.listening.close()
    home = f"127.0.0.1:{opened.door.port}"
    said = {"host": home, "origin": f"http://{home}", "content-type": "image/png"}
    said["cookie"] = f"{opened.door.cookie}={opened.door.key}"
    scope = {
        "type": "http", "method": "POST", "path": "/api/photo", "query_string": b"",
        "scheme": "http", "server": ("127.0.0.1", opened.door.port), "root_path": "",
        "headers": [(name.encode(), text.encode()) for name, text in said.items()],
    }  # fmt: skip
    heard = []

    async def receive():
        return {"type": "http.disconnect"}

    async def send(message):
        heard.append(message)

    asyncio.run(create_app(opened.door, DeskHere())(scope, receive, send))
    assert heard[0]["status"] == 503


def test_more_connections_than_are_served_are_told_so():
    with served(4) as few:  # the one that asks counts too

        async def crowded():
            async with few.opened(), few.opened(), few.opened():
                await until(503, lambda: few.get("/"))
            return await until(200, lambda: few.get("/"))

        [later] = all_of(crowded())
    assert later == (200, "a file")


def test_many_at_once_are_all_answered(hasty):
    """With a pool that answers here; the one with processes is in benchmarks/page_crowd.py."""
    quick = [name for name in QUESTIONS_ASKED if name in ("choices", "look", "tint", "sheet")]
    asked = [hasty.ask(quick[i % 4], **QUESTIONS_ASKED[quick[i % 4]]) for i in range(40)]
    ends = Counter(all_of(*asked, *(hasty.get("/") for _ in range(40))))
    assert ends == {(200, "answered"): 40, (200, "a file"): 40}


@pytest.mark.parametrize(("said", "times"), [("", 1.0), ("5", 5.0), ("2.5", 2.5)])
def test_every_limit_of_time_is_stretched_by_patience(monkeypatch, said, times):
    monkeypatch.setenv(PATIENCE, said)
    assert read_patience() == times


@pytest.mark.parametrize("said", ["0.5", "much", "nan", "-3", "1e9"])
def test_a_patience_that_is_none_is_refused(monkeypatch, said):
    monkeypatch.setenv(PATIENCE, said)
    with pytest.raises(InputError, match="from 1 to 1000"):
        WorkerPool(warm=False)
