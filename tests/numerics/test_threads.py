"""How many threads blocks are worth, and that every block is worked on once."""

import os
import threading

import pytest

from oxhue.optics.numerics.threads import run_threads, workers_for


def test_threads_are_as_many_as_allowed_or_as_there_are_processors(monkeypatch):
    monkeypatch.setenv("OMP_NUM_THREADS", "3")
    assert workers_for(100) == 3
    assert [workers_for(blocks) for blocks in (0, 1, 2)] == [1, 1, 2]
    for said in ("", "0", "many"):
        monkeypatch.setenv("OMP_NUM_THREADS", said)
        assert 1 <= workers_for(100) <= (os.cpu_count() or 1)
    monkeypatch.delattr(os, "sched_getaffinity", raising=False)
    assert workers_for(100) == (os.cpu_count() or 1)


def test_one_of_several_threads_starts_no_more(monkeypatch):
    monkeypatch.setenv("OMP_NUM_THREADS", "3")
    found = []
    other = threading.Thread(target=lambda: found.append(workers_for(100)))
    other.start()
    other.join()
    assert found == [1]


@pytest.mark.parametrize("workers", [1, 3])
def test_every_block_is_worked_on_once_and_errors_come_out(workers):
    done = []
    run_threads(done.append, range(20), workers)
    assert sorted(done) == list(range(20))

    def fail(block):
        if block == 7:
            raise ArithmeticError("block 7")

    with pytest.raises(ArithmeticError, match="block 7"):
        run_threads(fail, range(20), workers)
