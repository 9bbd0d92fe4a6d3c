"""Files appear whole or not at all."""

import os
import stat

import pytest

from oxhue.optics.errors import InputError
from oxhue.optics.files.atomic import check_target, claim_target, keep_inputs, write_atomically


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


UNIX = pytest.mark.skipif(os.name != "posix", reason="rights of files as Unix has them")


@UNIX
@pytest.mark.parametrize("rights", [0o600, 0o640, 0o664, 0o755])
def test_a_file_written_again_keeps_its_rights(tmp_path, rights):
    target = tmp_path / "plate.txt"
    target.write_bytes(b"old")
    target.chmod(rights)
    seen = []

    def write(stream):
        stream.write(b"new")
        seen.extend(stat.S_IMODE(one.stat().st_mode) for one in tmp_path.iterdir())

    write_atomically(target, write)
    assert target.read_bytes() == b"new"
    assert stat.S_IMODE(target.stat().st_mode) == rights
    assert all(one & ~rights == 0 for one in seen)  # no moment in which others may read it


@UNIX
def test_a_write_protected_file_is_left_alone(tmp_path):
    target = tmp_path / "plate.txt"
    target.write_bytes(b"old")
    target.chmod(0o444)
    for refuse in (lambda: write_atomically(target, put(b"new")), lambda: check_target(target)):
        with pytest.raises(InputError, match="it is write-protected; name another file"):
            refuse()
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


@UNIX
@pytest.mark.parametrize("new", [b"new", b"much longer than before", b""])
def test_all_names_of_a_file_show_what_was_written(tmp_path, new):
    target, other = tmp_path / "plate.txt", tmp_path / "also.txt"
    target.write_bytes(b"old content")
    other.hardlink_to(target)
    write_atomically(target, put(new))
    assert target.read_bytes() == other.read_bytes() == new
    assert target.samefile(other)
    assert sorted(tmp_path.iterdir()) == [other, target]


@UNIX
def test_a_failed_write_keeps_what_all_names_show(tmp_path):
    target, other = tmp_path / "plate.txt", tmp_path / "also.txt"
    target.write_bytes(b"old")
    other.hardlink_to(target)

    def fail(stream):
        stream.write(b"half")
        raise OSError(28, "No space left on device")

    with pytest.raises(InputError):
        write_atomically(target, fail)
    assert other.read_bytes() == b"old"
    assert target.samefile(other)


@pytest.mark.parametrize("already", [False, True])
def test_two_parts_of_an_answer_do_not_go_to_one_file(tmp_path, already):
    """A kiln saved under the chart's name was lost under it, unsaid."""
    whole, link, other = (tmp_path / name for name in ("a.svg", "a.html", "b.html"))
    link.symlink_to(whole)
    if already:
        whole.write_text("older")
        (tmp_path / "hard.svg").hardlink_to(whole)
    with keep_inputs():
        claim_target(whole)
        claim_target(other)
        for name in ("a.svg", "a.html", f"../{tmp_path.name}/a.svg", *["hard.svg"] * already):
            with pytest.raises(InputError, match="another part of the answer goes there"):
                claim_target(tmp_path / name)
    with keep_inputs():
        claim_target(link)
    claim_target(whole)
