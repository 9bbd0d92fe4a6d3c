"""Libraries in C that write to stderr past Python, kept quiet."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

_STDERR = 2
_ONE_AT_A_TIME = threading.Lock()


@contextmanager
def silence_libraries() -> Iterator[None]:
    """Send what is written to the process's second stream nowhere.

    libtiff reports damage there in its own words, ahead of the one sentence that a refusal is.
    The stream belongs to the whole process: other threads are silenced for as long, and wait
    here for their own turn.
    """
    with _ONE_AT_A_TIME:
        if sys.stderr is not None:
            sys.stderr.flush()
        try:
            kept = os.dup(_STDERR)
        except OSError:  # it is closed, so nothing can be said
            yield
            return
        try:
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, _STDERR)
            os.close(nowhere)
            yield
        finally:
            os.dup2(kept, _STDERR)
            os.close(kept)
