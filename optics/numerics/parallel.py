"""Independent units of work over the cores of this machine, or over a cluster, through joblib.

Who does the work never shows in the answer: results come in the order of the units, each unit has
a random stream of its own (`child_rng`), and a chunk only says how many units travel together.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
import warnings
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass
from functools import cache
from math import ceil
from typing import Any, Generic, Literal, TypeVar

import numpy as np

from .threads import count_cores

Unit = TypeVar("Unit")
Result = TypeVar("Result")
Report = Callable[[str], None]
Kind = Literal["processes", "threads", "shared"]

TRIAL_S = 0.1
"""Work timed in this process before any is given away [s]."""
CHUNK_S = 1.0
"""Work that travels together [s]: long enough for its journey not to count."""
START_S = {"processes": 2.0, "threads": 0.2, "shared": 0.2}
"""Work below which starting helpers of a kind is not worth its time [s]."""

_LOAD_S = 0.3  # to load what starts helpers, once
_LEAST_S = 0.05  # of work in a chunk, however many workers there are
_EACH = 3  # chunks a worker gets at least, so that all end at about the same time
_TELL_S = 0.25
_here = threading.local()


def ignore_progress(_: str) -> None:
    """Where progress goes when nobody asks for it."""


def rng_root(rng: np.random.Generator) -> np.random.SeedSequence:
    """A root of random streams drawn from a generator; the next call gives another."""
    root = rng.spawn(1)[0].bit_generator.seed_seq
    assert isinstance(root, np.random.SeedSequence)
    return root


def child_rng(root: np.random.SeedSequence, i: int) -> np.random.Generator:
    """The random stream of unit ``i``: that of ``root.spawn(i + 1)[i]``, without the others."""
    own = np.random.SeedSequence(
        root.entropy, spawn_key=(*root.spawn_key, i), pool_size=root.pool_size
    )
    return np.random.default_rng(own)


def map_parallel(
    work: Callable[[Unit], Result],
    units: Sequence[Unit],
    *,
    kind: Kind = "processes",
    workers: int | None = None,
    report: Report = ignore_progress,
    what: str = "",
    unit_s: float = 0.0,
) -> Generator[Result, None, None]:
    """Results of ``work`` on each unit, in the order of the units, as they come.

    Parameters
    ----------
    work : callable
        Of one unit. Where it may leave the process it must pickle: a function of a module, or
        `functools.partial` of one.
    units : sequence
        Small and fixed: they, not the chunks, are what random streams and sums hang on.
    kind : {"processes", "threads", "shared"}
        ``threads`` where numpy does most of the work and lets go of the interpreter; ``shared``
        where it must stay in this process, because it writes into arrays all units share.
    workers : int, optional
        How many, whatever the work is worth. By default what `joblib.parallel_config` says, else
        every core of this machine, and none but this process where the work left after a
        first timed chunk is not worth starting them.
    report : callable
        Told how far it is, a few times a second, once that has taken a second.
    what : str
        What is being done, for the report.
    unit_s : float
        What a unit costs [s], where that is known; else the first units are timed.

    Notes
    -----
    Linear algebra runs on one thread throughout, so that neither its sums nor the load depend on
    the number of workers. An interrupt ends the workers before it is passed on. Where a helper
    process is ended from outside, what had not come is done in this one.
    """
    if getattr(_here, "inside", False) or len(units) < 2:
        yield from map(work, units)
        return
    with limit_to_one_thread():
        pace = _Pace(len(units), report, what, unit_s, began=time.monotonic())
        while not pace.is_known:
            yield pace.time_unit(work, units[pace.done])
        count = _count_helpers(pace, kind, workers)
        if count > 1:
            yield from _run_together(work, units, pace, kind, count)
        while pace.done < len(units):
            yield pace.time_unit(work, units[pace.done])


def limit_to_one_thread() -> AbstractContextManager[Any]:
    """Linear algebra on one thread, for as long as this is held."""
    from threadpoolctl import threadpool_limits

    limit: AbstractContextManager[Any] = threadpool_limits(limits=1)
    return limit


@dataclass
class _Pace:
    """How far the work is, and what a unit of it costs: by the clock or the processor's time,
    whichever is less, for on a busy machine helpers wait for their turn too."""

    total: int
    report: Report
    what: str
    told_s: float = 0.0
    done: int = 0
    first_s: float = 0.0
    rest_s: float = 0.0  # by the clock: how long was timed
    worked_s: float = 0.0
    began: float = 0.0
    told: float = 0.0

    @property
    def unit_s(self) -> float:
        """Cost of a unit [s], less what only the first one pays: imports and tables."""
        return self.worked_s / (self.done - 1) if self.done > 1 else self.first_s or self.told_s

    @property
    def left_s(self) -> float:
        return self.unit_s * (self.total - self.done)

    @property
    def is_known(self) -> bool:
        """Whether enough was timed; a long first unit is not followed by a second."""
        long = self.first_s >= 5.0 * CHUNK_S
        return self.done == self.total or self.told_s > 0.0 or self.rest_s >= TRIAL_S or long

    def time_unit(self, work: Callable[[Unit], Result], unit: Unit) -> Result:
        begin, busy = time.perf_counter(), time.process_time()
        result = work(unit)
        took, worked = time.perf_counter() - begin, time.process_time() - busy
        if self.done:
            self.rest_s += took
            self.worked_s += min(took, worked)
        else:
            self.first_s = min(took, worked)
        self.advance(1)
        return result

    def advance(self, units: int) -> None:
        """Count units done, and tell of it now and then."""
        self.done += units
        now = time.monotonic()
        elapsed = now - self.began
        if elapsed < 1.0 or now - self.told < _TELL_S or self.done == self.total:
            return
        self.told = now
        left = elapsed * (self.total - self.done) / self.done
        self.report(
            f"{self.what}: {100 * self.done // self.total} %, {_format_seconds(left)} to go".lstrip(
                ": "
            )
        )


@dataclass(frozen=True, eq=False, repr=False)
class _Chunk(Generic[Unit, Result]):
    """Units that travel together. A call, not arguments: Dask would scatter those to one worker,
    and what is scattered dies with it."""

    work: Callable[[Unit], Result]
    start: int
    units: Sequence[Unit]
    home: int  # the process that gave it away

    def __call__(self) -> tuple[int, list[Result]]:
        away = os.getpid() != self.home
        if away:
            _end_with(self.home)
        _here.inside = True
        try:
            with limit_to_one_thread() if away else nullcontext():
                return self.start, [self.work(unit) for unit in self.units]
        finally:
            _here.inside = False


@cache
def _end_with(home: int) -> None:
    """In a process started by that one: end when it does, however it does."""
    if os.getppid() != home:
        return  # a machine of a cluster, whose processes belong to it

    def watch() -> None:
        while os.getppid() == home:
            time.sleep(_TELL_S)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


@contextmanager
def _ignore_interrupts() -> Iterator[None]:
    """What is started meanwhile never hears Ctrl-C; this process hears it a little later."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    from multiprocessing import resource_tracker

    from joblib.externals.loky.backend import resource_tracker as of_joblib

    for tracker in (resource_tracker, of_joblib):
        tracker.ensure_running()  # which lets signals in again where it is started later
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _hints(kind: Kind) -> dict[str, str | None]:
    return {
        "prefer": "processes" if kind == "processes" else "threads",
        "require": "sharedmem" if kind == "shared" else None,
    }


def _count_helpers(pace: _Pace, kind: Kind, workers: int | None) -> int:
    """How many workers the rest of the work is worth."""
    if pace.done == pace.total or workers == 1:
        return 1
    untold = "joblib" not in sys.modules
    least_s = START_S[kind] + (_LOAD_S if untold and kind == "processes" else 0.0)
    if workers is None and pace.left_s < least_s:
        return 1
    if untold and kind != "processes":
        return workers or count_cores()
    from joblib.parallel import get_active_backend

    # Asked for threads where processes are the rule, joblib says 1, whatever it was told.
    _, asked = get_active_backend()
    backend, _ = get_active_backend(**_hints(kind))
    away = not getattr(backend, "uses_threads", False)
    if workers is None and away and pace.left_s < START_S["processes"]:
        return 1
    return int(backend.effective_n_jobs(workers or asked or -1))


def _run_together(
    work: Callable[[Unit], Result], units: Sequence[Unit], pace: _Pace, kind: Kind, count: int
) -> Iterator[Result]:
    """The rest of the units in chunks, several at a time; as far as they come, if a helper dies."""
    unit_s = max(pace.unit_s, 1e-9)
    even = ceil((pace.total - pace.done) / (_EACH * count))
    size = max(1, ceil(_LEAST_S / unit_s), min(round(CHUNK_S / unit_s), even))
    chunks = (
        _Chunk(work, start, units[start : start + size], os.getpid())
        for start in range(pace.done, pace.total, size)
    )
    # Without joblib nobody can have told it of other workers, and loading it takes longer than
    # threads take to start.
    alone = kind != "processes" and "joblib" not in sys.modules
    coming = _run_threads(chunks, count) if alone else _run_joblib(chunks, kind, count)
    try:
        for came in coming:
            if not (isinstance(came, tuple) and came[0] == pace.done):
                raise ConnectionError("the cluster was lost during the work")
            yield from came[1]
            pace.advance(len(came[1]))
    finally:
        coming.close()


def _run_threads(
    chunks: Iterator[_Chunk[Unit, Result]], count: int
) -> Generator[tuple[int, list[Result]], None, None]:
    """What chunks give, in their order, from threads of this process."""
    from concurrent.futures import ThreadPoolExecutor

    pool = ThreadPoolExecutor(count)
    try:
        yield from pool.map(_Chunk.__call__, chunks)
    finally:  # an error or Ctrl-C leaves no queue to wait for
        pool.shutdown(cancel_futures=True)


def _run_joblib(
    chunks: Iterator[_Chunk[Unit, Result]], kind: Kind, count: int
) -> Generator[tuple[int, list[Result]], None, None]:
    """The same from the workers that joblib has been told of; as far as they come, if one dies."""
    from concurrent.futures.process import BrokenProcessPool

    import joblib

    parallel = joblib.Parallel(
        n_jobs=count,
        return_as="generator",
        batch_size=1,
        max_nbytes=None,
        **_hints(kind),
    )
    none: dict[str, Any] = {}
    with _ignore_interrupts():
        coming = parallel((chunk, (), none) for chunk in chunks)
    try:
        # `yield from` would close it before warnings are held back.
        for came in coming:  # noqa: UP028
            yield came
    except BrokenProcessPool:
        return  # ended from outside, mostly for want of memory: what is left is done here
    finally:
        with warnings.catch_warnings():
            warnings.simplefilter(
                "ignore", UserWarning
            )  # that work was left undone: so it was meant
            coming.close()


def _format_seconds(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 100.0 else f"{seconds / 60.0:.0f} min"
