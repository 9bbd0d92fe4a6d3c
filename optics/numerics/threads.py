"""Blocks of arrays in parallel threads: NumPy releases the interpreter while it computes."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Sequence
from typing import TypeVar

Block = TypeVar("Block")


def count_cores() -> int:
    """One for each processor this process may use, or as many as the customary
    ``OMP_NUM_THREADS`` allows, which programs that run several of us set."""
    asked = os.environ.get("OMP_NUM_THREADS", "")
    if asked.isdecimal() and int(asked) > 0:
        return int(asked)
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def workers_for(blocks: int) -> int:
    """How many threads so many blocks are worth.

    One alone where the caller is itself one of several threads, and no more than there are blocks.
    """
    if threading.current_thread() is not threading.main_thread():
        return 1
    return max(1, min(blocks, count_cores()))


def run_threads(work: Callable[[Block], None], blocks: Sequence[Block], workers: int) -> None:
    """Do the work on every block; the first error is raised."""
    if workers == 1:
        for block in blocks:
            work(block)
        return
    from concurrent.futures import ThreadPoolExecutor

    pool = ThreadPoolExecutor(workers)
    try:
        for _ in pool.map(work, blocks):
            pass
    finally:  # an error or Ctrl-C leaves no queue to wait for
        pool.shutdown(cancel_futures=True)
