"""Files appear whole or not at all."""

import os
import stat

import pytest

from oxhue.optics.errors import InputError
from oxhue.optics.files.atomic import write_atomically


def put(text):
    return lambda stream: stream.write(text)


def test_a_new_file_gets_the_usual_rights(tmp_path):
    before = os.umask(0o027)
    try:
        write_atomically(tmp_path / "plate.txt", put(b"12 nm"))
    finally:
        os.umask(before)
    assert (tmp_path / "plate.txt").read_bytes() == b"12 nm"
    assert stat.S_IMODE((tmp_path / "plate.txt").stat().st_mode) == 0o640


def test_the_umask_is_left_as_it_was(tmp_path):
    before = os.umask(0o077)
    try:
        write_atomically(tmp_path / "plate.txt", put(b""))
        assert os.umask(0o077) == 0o077
    finally:
        os.umask(before)


def test_a_failed_write_leaves_the_old_file_and_nothing_else(tmp_path):
    target = tmp_path / "plate.txt"
    target.write_bytes(b"old")

    def half_then_fail(stream):
        stream.write(b"half")
        raise OSError(28, "No space left on device")

    with pytest.raises(InputError, match=r"cannot write .*no space left on device"):
        write_atomically(target, half_then_fail)
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize("error", [KeyboardInterrupt, RuntimeError])
def test_an_interruption_or_a_bug_leaves_nothing_either(tmp_path, error):
    def fail(stream):
        stream.write(b"half")
        raise error

    with pytest.raises(error):
        write_atomically(tmp_path / "plate.txt", fail)
    assert list(tmp_path.iterdir()) == []


def test_a_link_is_followed_and_kept(tmp_path):
    (tmp_path / "real").mkdir()
    real, link = tmp_path / "real" / "plate.txt", tmp_path / "link.txt"
    real.write_bytes(b"old")
    link.symlink_to(real)
    write_atomically(link, put(b"new"))
    assert link.is_symlink()
    assert real.read_bytes() == b"new"


def test_a_folder_or_a_missing_folder_is_refused(tmp_path):
    with pytest.raises(InputError, match="it is a folder; name a file"):
        write_atomically(tmp_path, put(b""))
    with pytest.raises(InputError, match="its folder does not exist"):
        write_atomically(tmp_path / "none" / "plate.txt", put(b""))


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere"
)
def test_a_folder_without_rights_is_refused(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(InputError, match="permission denied"):
        write_atomically(tmp_path / "plate.txt", put(b""))


def test_two_that_write_one_file_leave_the_later_one_whole(tmp_path):
    target = tmp_path / "a.txt"

    def meanwhile(stream):
        stream.write(b"first")
        write_atomically(target, put(b"second"))
        assert target.read_bytes() == b"second"

    write_atomically(target, meanwhile)
    assert target.read_bytes() == b"first"
    assert list(tmp_path.iterdir()) == [target]
