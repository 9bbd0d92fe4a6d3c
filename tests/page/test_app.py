"""Requests that are no questions, and the desk of worker processes."""

import asyncio
import json
import multiprocessing
import threading
import time
from pathlib import Path

import pytest

from oxhue.page import work
from oxhue.page import workers as desks
from oxhue.page.app import MAX_QUESTION_BYTES
from oxhue.page.work import BEGUN, QUESTIONS, Question, answer
from oxhue.page.workers import Worker, WorkerPool

LONG = {"goals": ["R<0.01% 380..780nm"], "with": ["SiO2", "TiO2", "MgF2"], "max_layers": 16,
        "effort": 1000}  # fmt: skip
SHORT = {"stack": "TiO2 45nm / Ti"}


async def here():
    return False


async def away():
    return True


def leaves_after_a_look():
    """Here when the question is begun, gone when next looked up."""
    looks = iter([False])

    async def gone():
        return next(looks, True)

    return gone


@pytest.mark.parametrize("name", ["nothing", "__init__", "work"])
def test_what_is_no_question_is_not_found(browser, name):
    response = browser.post(f"/api/{name}", json={})
    assert response.status_code == 404
    assert "no such question" in response.json()["refused"]


def test_a_question_is_one_json_object_and_not_too_long(browser):
    def status(body, kind="application/json"):
        headers = {"Content-Type": kind}
        return browser.post("/api/look", content=body, headers=headers).status_code

    assert status(b"[]") == 400
    assert status(b"{nonsense") == 400
    assert status(b"[" * 50_000) == 400
    assert status(b"{}", "text/plain") == 415
    assert status(b" " * (MAX_QUESTION_BYTES + 1)) == 413


@pytest.mark.parametrize(
    "field", ["[" * 500 + "]" * 500, '{"a":' * 900 + "1" + "}" * 900, "[" * 16 + "]" * 16,
              r'"\ud800"', r'{"mine.csv": "nm,n,k\n500,\udfff,0"}', r'{"\ud83d": 1}'],
)  # fmt: skip
def test_what_no_process_is_handed_is_refused_at_the_door(browser, field):
    """Nested deeper than is pickled, or holding what no file can: each was a fault of ours."""
    body = f'{{"stack": "TiO2 45nm / Ti", "tables": {field}}}'
    headers = {"Content-Type": "application/json"}
    response = browser.post("/api/look", content=body, headers=headers)
    assert response.status_code == 400
    assert response.json() == {
        "refused": "the question is not one JSON object of whole letters, nested at most 16 deep"
    }


def test_whole_letter_pairs_and_what_is_nested_as_questions_are_come_in():
    body = r'{"a": {"b": [["\ud83d\ude00"]]}, "c": ' + "[" * 15 + "]" * 15 + "}"
    assert desks.read_json(body.encode()) == json.loads(body)
    assert desks.read_json(body.replace("[]", "[[]]").encode()) is None


def test_a_question_is_posted(browser):
    assert browser.get("/api/look").status_code == 405


def asked(desk, name, fields, gone=here):
    return desk.ask(name, fields, None, gone)


async def stopped(desk):
    """A search that is stopped once it says how far it is: status, what it said, answer."""
    search = asyncio.create_task(
        desk.ask("design", {**LONG, "effort": 1000}, None, here, ticket="7")
    )
    said = ""
    while not search.done() and "refinements" not in said:
        await asyncio.sleep(0.05)
        said = desk.told("7") or ""
    await asyncio.sleep(0.5)
    desk.stop("7")
    status, body = await search
    return status, said, body


def test_workers_answer_are_ended_when_they_take_too_long_and_start_again(monkeypatch):
    """One desk for all of it, since its processes take a while to start."""

    async def whole():
        desk = WorkerPool(slow=1, warm=False)
        try:
            status, body = await asked(desk, "look", SHORT)
            assert (status, "answer" in json.loads(body)) == (200, True)

            usual = QUESTIONS["design"]
            short = Question(usual.module, usual.function, "slow", 0.3, True, usual.takes)
            monkeypatch.setitem(QUESTIONS, "design", short)
            status, body = await asked(desk, "design", LONG)
            assert status == 503
            assert "longer than 0.3 s" in json.loads(body)["refused"]

            monkeypatch.setitem(QUESTIONS, "design", usual)
            status, body = await asked(desk, "design", LONG, leaves_after_a_look())
            assert (status, "interrupted" in json.loads(body)["refused"]) == (503, True)

            status, body = await asked(desk, "expect", {"film": "Ti 80nm on glass"})
            assert status == 200

            status, said, body = await stopped(desk)
            assert status == 200
            assert "refinements" in said
            assert json.loads(body)["answer"]["designs"]
            assert any("interrupted" in one for one in json.loads(body)["answer"]["notes"])
            assert desk.told("of nobody") is None
        finally:
            desk.close()
        status, body = await asked(desk, "look", SHORT)
        assert (status, "being closed" in json.loads(body)["refused"]) == (503, True)

    asyncio.run(whole())


def test_a_worker_that_is_slow_to_start_does_not_use_up_the_time_of_a_question():
    ours, theirs = multiprocessing.Pipe()
    worker = Worker("quick")
    worker.start, worker._pipe = lambda: None, ours

    def begin_late():
        theirs.recv()
        time.sleep(0.3)
        theirs.send(BEGUN)
        theirs.send((200, b"{}"))

    late = threading.Thread(target=begin_late)
    late.start()
    assert worker.exchange(("look", SHORT, None), 0.1) == (200, b"{}")
    late.join()


class RecordingWorker(Worker):
    """Answers nothing; keeps which photos it was asked about."""

    def exchange(self, _message, _limit_s):
        time.sleep(0.05)
        return 200, b"{}"


def test_a_photo_is_asked_about_where_it_lies_decoded():
    first, second = Path("a") / "photo", Path("b") / "photo"

    async def whole():
        desk = WorkerPool(warm=False)
        workers = desk._lanes["slow"] = [RecordingWorker("slow") for _ in range(3)]
        await asyncio.gather(*(desk.ask("gauge", {}, one, here) for one in (first, second)))
        assert [one.photo for one in workers] == [first, second, None]
        await asyncio.gather(*(desk.ask("card", {}, second, here) for _ in range(3)))
        assert [one.photo for one in workers] == [first, second, None]
        # Long work on it is not waited for.
        await asyncio.gather(desk.ask("map", {}, second, here), desk.ask("card", {}, second, here))
        return [one.photo for one in workers]

    assert asyncio.run(whole()) == [second, second, None]


class RunningWorker(RecordingWorker):
    """One whose process is there."""

    runs = True


def test_a_photo_waits_for_a_worker_that_is_warm_and_nearly_done():
    async def taken(first, photos):
        desk = WorkerPool(warm=False)
        workers = [RunningWorker("slow"), RecordingWorker("slow"), RecordingWorker("slow")]
        desk._lanes["slow"] = workers
        begun = asyncio.create_task(asked(desk, first, {}))
        await asyncio.sleep(0)
        await asyncio.gather(
            begun, *(desk.ask("photo", {}, Path(f"{i}"), here) for i in range(photos))
        )
        return [one.photo is not None for one in workers]

    assert asyncio.run(taken("gauge", 1)) == [True, False, False]
    assert asyncio.run(taken("gauge", 2)) == [True, True, False]  # one waits, the next does not
    assert asyncio.run(taken("learn", 1)) == [False, True, False]  # that may take long


@pytest.mark.slow
def test_a_warm_worker_has_read_a_photo(monkeypatch):
    asked_for = {}

    def noted(name, fields, photo):
        status, body = answer(name, fields, photo)
        asked_for[name] = (status, "refused" in json.loads(body))

    monkeypatch.setattr(work, "answer", noted)
    work._warm_to_photos()
    assert asked_for == dict.fromkeys(("photo", "card", "gauge", "glance"), (200, False))


def test_a_question_nobody_waits_for_is_not_begun():
    async def whole():
        desk = WorkerPool(warm=False)
        return await asked(desk, "look", SHORT, away)

    status, body = asyncio.run(whole())
    assert (status, "nobody waits" in json.loads(body)["refused"]) == (503, True)


class CountingWorker(Worker):
    """Says how many questions it was asked."""

    count = 0

    def exchange(self, message, _limit_s):
        self.count += 1
        name, given, _ = message
        if given.get("stopped"):
            self.stop()
        body = {"refused" if given.get("refused") else "answer": [name, self.count]}
        return 200, json.dumps(body).encode()


@pytest.mark.parametrize(
    ("name", "fields", "asked_again"),
    [
        ("look", SHORT, False),
        ("design", LONG, False),
        ("look", {"refused": "yes"}, True),
        ("design", {"stopped": "yes"}, True),
        ("log", {}, True),
        ("verb", {"verb": "look"}, True),
    ],
)
def test_what_hangs_on_its_fields_alone_is_answered_once(name, fields, asked_again):
    async def whole():
        desk = WorkerPool(warm=False)
        for lane in desk._lanes:
            desk._lanes[lane] = [CountingWorker(lane)]
        first = await asked(desk, name, fields)
        again = await asked(desk, name, dict(reversed(fields.items())))
        other = await asked(desk, name, fields | {"another": "field"})
        of_a_photo = await desk.ask(name, fields, Path("photo"), here)
        return first == again, other == first, of_a_photo == first

    same, other, of_a_photo = asyncio.run(whole())
    assert (same, other, of_a_photo) == (not asked_again, False, False)


def test_answers_at_hand_are_few_and_the_oldest_goes(monkeypatch):
    monkeypatch.setattr(desks, "MOST_KEPT", 2)

    async def whole():
        desk = WorkerPool(warm=False)
        desk._lanes["quick"] = [worker] = [CountingWorker("quick")]
        for stack in ("a", "b", "c", "c", "b", "a"):
            await asked(desk, "look", {"stack": stack})
        monkeypatch.setattr(desks, "MOST_KEPT_BYTES", 5)
        for _ in range(2):
            await asked(desk, "look", SHORT)
        return worker.count

    assert asyncio.run(whole()) == 3 + 1 + 2


def test_no_more_questions_wait_than_the_desk_takes(monkeypatch):
    monkeypatch.setattr(desks, "MOST_WAITING", 0)
    status, body = asyncio.run(asked(WorkerPool(), "look", SHORT))
    assert (status, "too many" in json.loads(body)["refused"]) == (503, True)
