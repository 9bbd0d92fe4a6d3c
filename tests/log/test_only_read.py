"""A log that is only read: nothing is left beside it, and nothing it holds is passed over."""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
from contextlib import closing
from pathlib import Path

import pytest

from oxhue.optics.errors import InputError
from oxhue.optics.log.log import Log

NOBODY = 65534


@pytest.fixture
def folder():
    """A folder that anybody may enter, as pytest's own are not."""
    made = Path(tempfile.mkdtemp(prefix="oxhue-test-"))
    made.chmod(0o777)
    yield made
    made.chmod(0o777)
    shutil.rmtree(made)


@pytest.fixture
def held(folder):
    """A log with one run."""
    place = folder / "clocks.sqlite"
    with Log.open(place) as log:
        log.setup("jar")
        log.record("jar", current="4.8A")
    place.chmod(0o666)
    return place


def runs(place):
    with Log.open(place, write=False) as log:
        return [one.run for one in log.runs().runs]


def without_rights(work):
    """What a person who is not root is told: 0 if the work is done, else its exit code."""
    pid = os.fork()
    if pid == 0:
        code = 70
        try:
            if os.getuid() == 0:
                os.setgroups([])
                os.setgid(NOBODY)
                os.setuid(NOBODY)
            code = work() or 0
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])


def test_a_reader_leaves_nothing_beside_a_log(held):
    assert runs(held) == [1]
    assert os.listdir(held.parent) == [held.name]
    with Log.open(held) as writer, Log.open(held, write=False) as reader:
        writer.record("jar", current="4.9A")
        assert len(reader.runs().runs) == 2  # what is written meanwhile is seen
        with pytest.raises(InputError, match="may not be written"):
            reader.record("jar", current="5A")
    assert os.listdir(held.parent) == [held.name]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
@pytest.mark.parametrize(("of_file", "of_folder"), [(0o444, 0o555), (0o666, 0o555), (0o444, 0o777)])
def test_nor_where_it_may_not_write(of_file, of_folder, held):
    assert runs(held) == [1]  # all that it needs is loaded while it may be
    held.chmod(of_file)
    held.parent.chmod(of_folder)
    assert without_rights(lambda: runs(held) != [1]) == 0
    assert os.listdir(held.parent) == [held.name]
    assert stat.S_IMODE(held.stat().st_mode) == of_file


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_entries_of_a_writer_that_was_killed_are_read_or_said_to_wait(held):
    def write_and_die():
        log = Log.open(held)
        log.record("jar", current="4.9A")
        os._exit(0)

    assert without_rights(write_and_die) == 0
    waiting = held.with_name(f"{held.name}-wal")
    assert waiting.stat().st_size > 0
    held.with_name(f"{held.name}-shm").unlink()
    waiting.chmod(0o444)
    held.parent.chmod(0o555)

    def read():
        with pytest.raises(InputError, match="wait beside it"):
            runs(held)

    assert without_rights(read) == 0
    held.parent.chmod(0o777)
    waiting.chmod(0o666)
    assert runs(held) == [1, 2]
    assert os.listdir(held.parent) == [held.name]


def test_a_log_is_read_while_another_writes(held):
    with closing(Log.open(held)) as writer:
        writer.record("jar", current="4.9A")
        assert runs(held) == [1, 2]
        writer.record("jar", current="5A")
    assert runs(held) == [1, 2, 3]
