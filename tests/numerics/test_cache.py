"""Results kept up to so much memory."""

import numpy as np

from oxhue.optics.numerics.cache import cache_up_to


def test_what_was_used_least_lately_is_let_go():
    made = []

    @cache_up_to(250)
    def block(size, name="a"):
        made.append((size, name))
        return np.zeros(size, dtype=np.uint8)

    first = block(100)
    assert block(100) is first
    block(100, name="b")
    block(100)  # now b is the least lately used
    block(100, name="c")
    assert block(100) is first
    assert made == [(100, "a"), (100, "b"), (100, "c")]
    block(100, name="b")
    assert made[-1] == (100, "b")


def test_the_last_one_stays_whatever_its_size():
    made = []

    @cache_up_to(10)
    def block(size):
        made.append(size)
        return np.zeros(size, dtype=np.uint8)

    assert block(1000) is block(1000)
    block(5)
    block(1000)
    assert made == [1000, 5, 1000]
