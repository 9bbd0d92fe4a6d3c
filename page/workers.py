"""The desk where questions are taken in and handed to worker processes, each with its time."""

from __future__ import annotations

import asyncio
import hashlib
import json
import multiprocessing
import os
import sys
import time
from collections.abc import Awaitable, Callable, Mapping
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..optics.errors import InputError
from .work import BEGUN, BUG, QUESTIONS, STOP_SIGNAL, Lane, is_refusal, refusal, run_worker

if TYPE_CHECKING:
    from collections.abc import AsyncIterator
    from multiprocessing.connection import Connection
    from multiprocessing.context import SpawnProcess

    from .questions.verb import Verbs

MOST_WAITING = 24
MOST_KEPT, MOST_KEPT_BYTES = 64, 200_000  # answers at hand for whoever asks again; bytes of each
MOST_LEVELS = 16  # of tables and lists in each other; a question has three or four
_LOOK_UP_S = 0.2  # between looks at whether somebody still waits
_START_S = 120.0  # longest that a worker may take to start, or to end what it does ahead

PATIENCE = "OXHUE_PATIENCE"
"""Environment variable by which every limit of time is multiplied, for a slow or busy machine."""

Reply = tuple[int, bytes]
Gone = Callable[[], Awaitable[bool]]

# Spawned, not forked: a copy of a process with threads may hang, and Windows has no other way.
_SPAWN = multiprocessing.get_context("spawn")


def read_patience() -> float:
    """How many times the usual time each question may take.

    Raises
    ------
    InputError
        If the variable holds anything but a number from 1 to 1000.
    """
    text = os.environ.get(PATIENCE, "").strip() or "1"
    try:
        times = float(text)
    except ValueError:
        times = 0.0
    if not 1.0 <= times <= 1_000.0:
        raise InputError(f"{PATIENCE} is {text!r:.40}; it must be a number from 1 to 1000")
    return times


SWIFT = frozenset(("gauge", "glance", "card", "photo"))
"""Questions answered in about a second once a worker has its tables: a process that has to be
started, and to make them first, takes longer."""


@dataclass(eq=False)
class Worker:
    """One process that answers one question at a time, started again when it had to be ended.

    Attributes
    ----------
    patience : float
        How many times the usual time a question may take.
    ticket : str
        By which its asker speaks of the question at hand; empty where none was given.
    said : str
        How far it is with that question, in its own words.
    photo : Path, optional
        The photo it was asked about last, which it holds decoded.
    brief : bool
        Whether the question at hand is one that is not waited for by way of Stop.
    stopped : bool
        Whether the question at hand was told to end with what was found so far.
    at : str
        The name of the question it was handed last.
    queued : int
        How many questions are its own, the one at hand among them.
    """

    lane: Lane
    warm: bool = True
    verbs: Verbs | None = None
    patience: float = 1.0
    closed: bool = False
    ticket: str = ""
    said: str = ""
    photo: Path | None = None
    brief: bool = True
    stopped: bool = False
    at: str = ""
    queued: int = 0
    free: asyncio.Lock = field(default_factory=asyncio.Lock)
    _process: SpawnProcess | None = None
    _pipe: Connection | None = None

    @property
    def runs(self) -> bool:
        """Whether its process is there."""
        return self._process is not None and self._process.is_alive()

    @property
    def is_soon_free(self) -> bool:
        """Whether one more question is begun sooner here than in a process yet to be started."""
        return self.runs and self.at in SWIFT and self.queued == 1

    def start(self) -> None:
        """Start the process unless it runs."""
        if self.runs:
            return
        ours, theirs = _SPAWN.Pipe()
        self._process = _SPAWN.Process(
            target=run_worker,
            args=(theirs, self.lane, self.warm, self.verbs),
            name=f"oxhue {self.lane}",
            daemon=True,
        )
        self._process.start()
        theirs.close()
        self._pipe = ours

    def end(self) -> None:
        """End the process, whatever it is at."""
        process, self._process = self._process, None  # two threads may come here at once
        if process is not None:
            process.kill()
            process.join()

    def stop(self) -> None:
        """End the question at hand, keeping what was found so far where that can be told."""
        self.stopped = True
        process = self._process
        if process is None or process.pid is None:
            return
        if STOP_SIGNAL is None:
            self.end()
        else:
            os.kill(process.pid, STOP_SIGNAL)

    def exchange(self, message: tuple[Any, ...], limit_s: float) -> Reply:
        """Hand over a question and wait for the answer; blocks."""
        if self.closed:
            return 503, refusal("the page is being closed")
        self.start()
        limit_s *= self.patience
        pipe = self._pipe
        assert pipe is not None
        try:
            pipe.send(message)
            if not pipe.poll(self.patience * _START_S):
                self.end()
                return 503, refusal("this machine is too busy to begin; ask again in a moment")
            heard, until_s = pipe.recv(), time.monotonic() + limit_s
            while isinstance(heard, str):  # that it has begun, then how far it is
                self.said = "" if heard == BEGUN else heard
                if not pipe.poll(max(0.0, until_s - time.monotonic())):
                    self.end()
                    return 503, refusal(
                        f"this took longer than {limit_s:g} s and was given up; ask for less"
                    )
                heard = pipe.recv()
            status, body = heard
            return status, body
        except (EOFError, OSError):  # ended from outside, or it ran out of memory
            self.end()
            return 503, refusal("the calculation was interrupted; ask again")


class WorkerPool:
    """Hands each question to a worker of its lane.

    Parameters
    ----------
    slow : int
        Most workers for questions that take long, so that tabs need not wait for each other.
    warm : bool
        Whether the first worker of each lane makes its usual tables before anyone asks.
    verbs : Verbs, optional
        The verbs of the command line; without them their forms are not answered.
    """

    def __init__(self, slow: int = 3, warm: bool = True, verbs: Verbs | None = None) -> None:
        patience = read_patience()
        self._lanes: dict[Lane, list[Worker]] = {
            "quick": [Worker("quick", warm, verbs, patience)],
            "slow": [Worker("slow", warm and i == 0, verbs, patience) for i in range(slow)],
        }
        self._waiting = dict.fromkeys(self._lanes, 0)
        self._kept: dict[str, Reply] = {}

    def open(self) -> None:
        """Start the first worker of each lane; others start when they are needed."""
        for workers in self._lanes.values():
            workers[0].start()

    def close(self) -> None:
        """End all workers for good; whoever waits is told."""
        self._kept.clear()
        for workers in self._lanes.values():
            for worker in workers:
                worker.closed = True
                worker.end()

    def told(self, ticket: str) -> str | None:
        """How far the question of a ticket is; None where it is not being worked on."""
        worker = self._find(ticket)
        return None if worker is None else worker.said

    def stop(self, ticket: str) -> None:
        """End the question of a ticket; what it found so far is its answer."""
        worker = self._find(ticket)
        if worker is not None:
            worker.stop()

    def _find(self, ticket: str) -> Worker | None:
        workers = [one for lane in self._lanes.values() for one in lane]
        return next((one for one in workers if ticket and one.ticket == ticket), None)

    async def ask(
        self,
        name: str,
        given: Mapping[str, Any],
        photo: Path | None,
        gone: Gone,
        *,
        ticket: str = "",
    ) -> Reply:
        """Answer one question; ``gone`` tells whether nobody waits for it any more.

        A room that is opened again asks for its example again: what was answered is at hand.
        """
        question = QUESTIONS[name]
        key = _key_of(name, given) if question.is_lasting and photo is None else ""
        if key in self._kept:
            return self._kept[key]
        if self._waiting[question.lane] >= MOST_WAITING:
            return 503, refusal("too many questions wait already; ask again in a moment")
        async with self._worker(name, photo) as worker:
            worker.photo, worker.brief = photo or worker.photo, not question.stoppable
            if await gone():
                return 503, refusal("nobody waits for this answer any more")
            worker.ticket, worker.said, worker.stopped = ticket, "", False
            task = asyncio.create_task(
                asyncio.to_thread(worker.exchange, (name, dict(given), photo), question.limit_s)
            )
            while question.stoppable and not task.done():
                await asyncio.wait({task}, timeout=_LOOK_UP_S)
                if not task.done() and await gone():
                    worker.end()
            reply = await task
            worker.ticket = ""
            if key and not worker.stopped:
                self._keep(key, reply)
            return reply

    def _keep(self, key: str, reply: Reply) -> None:
        """Have an answer at hand, and let the oldest go; a refusal may be one of this moment."""
        status, body = reply
        if status == 200 and not is_refusal(body) and len(body) <= MOST_KEPT_BYTES:
            self._kept[key] = reply
            if len(self._kept) > MOST_KEPT:
                del self._kept[next(iter(self._kept))]

    @asynccontextmanager
    async def _worker(self, name: str, photo: Path | None = None) -> AsyncIterator[Worker]:
        """A worker for one question: one that holds its photo, unless that is at long work; else
        the first that is free, or will be soon, else the first."""
        lane = QUESTIONS[name].lane
        workers = self._lanes[lane]
        free = [one for one in workers if not one.free.locked()]
        holding = [one for one in workers if one.photo == photo and (one.brief or one in free)]
        ready = [one for one in free if one.runs]
        soon = [one for one in workers if one.is_soon_free and name in SWIFT]
        worker = [*(holding if photo else []), *ready, *soon, *free, *workers][0]
        self._waiting[lane] += 1
        worker.queued += 1
        try:
            async with worker.free:
                worker.at = name
                yield worker
        finally:
            worker.queued -= 1
            self._waiting[lane] -= 1


def _key_of(name: str, given: Mapping[str, Any]) -> str:
    """What stands for a question and all its fields."""
    return hashlib.sha256(json.dumps([name, given], sort_keys=True).encode()).hexdigest()


def refuse(status: int, sentence: str) -> Reply:
    """A refusal before any worker is asked."""
    return status, refusal(sentence)


def read_json(body: bytes | bytearray) -> dict[str, Any] | None:
    """The fields of a request, or None if it is not one JSON object that can be passed on.

    Half a letter pair can be escaped in JSON but stands in no file, and what lies deeper than any
    question is handed to no process: Python follows it only so far.
    """
    try:
        given = json.loads(body)
        json.dumps(given, ensure_ascii=False).encode()
    except (ValueError, RecursionError):
        return None
    return given if isinstance(given, dict) and not _is_deeper(given, MOST_LEVELS) else None


def _is_deeper(given: object, levels: int) -> bool:
    """Whether tables and lists lie in each other more levels deep."""
    layer: list[object] = [given]
    for _ in range(levels):
        inner = [one for one in layer if isinstance(one, dict | list)]
        layer = [one for of in inner for one in (of.values() if isinstance(of, dict) else of)]
    return any(isinstance(one, dict | list) for one in layer)


def report_bug() -> Reply:
    """What to say after an error of ours, told in full on stderr alone."""
    import traceback

    traceback.print_exc(file=sys.stderr)
    return 500, refusal(BUG)
