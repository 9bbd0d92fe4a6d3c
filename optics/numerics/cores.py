"""How many processors this process may keep busy."""

from __future__ import annotations

import os


def count_cores() -> int:
    """One for each processor this process may use, or as many as the customary
    ``OMP_NUM_THREADS`` allows, which programs that run several of us set."""
    asked = os.environ.get("OMP_NUM_THREADS", "")
    if asked.isdecimal() and int(asked) > 0:
        return int(asked)
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
