"""Results kept for the next question, up to so much memory."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from functools import wraps
from typing import ParamSpec, Protocol, TypeVar


class HasBytes(Protocol):
    """Anything that knows the memory it takes."""

    @property
    def nbytes(self) -> int:
        """Memory [bytes]."""


Asked = ParamSpec("Asked")
Made = TypeVar("Made", bound=HasBytes)


def cache_up_to(
    most_bytes: int,
) -> Callable[[Callable[Asked, Made]], Callable[Asked, Made]]:
    """Decorate a function of hashable arguments to keep its latest results.

    The results used least lately are let go until the rest take no more than ``most_bytes``;
    the last one stays whatever its size. ``functools.lru_cache`` counts results, and those here
    differ in size by a hundred times.
    """

    def decorate(make: Callable[Asked, Made]) -> Callable[Asked, Made]:
        kept: OrderedDict[Hashable, Made] = OrderedDict()
        lock = threading.RLock()

        @wraps(make)
        def found(*given: Asked.args, **named: Asked.kwargs) -> Made:
            key = (given, tuple(sorted(named.items())))
            with lock:
                if key in kept:
                    kept.move_to_end(key)
                    return kept[key]
            made = make(*given, **named)
            with lock:
                kept[key] = made
                while len(kept) > 1 and sum(one.nbytes for one in kept.values()) > most_bytes:
                    kept.popitem(last=False)
            return made

        return found

    return decorate
