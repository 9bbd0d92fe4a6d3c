"""What lies around the program may fail; its answers and its users' files do not."""

import json
import os
import signal
import subprocess
import sys
import threading

import pytest

from oxhue.cli.main import exit_code
from oxhue.optics.errors import InputError
from oxhue.optics.files import atomic as files
from oxhue.optics.files.atomic import write_atomically

LOOK = ["look", "TiO2 45nm / Ti"]
UNIX = pytest.mark.skipif(os.name != "posix", reason="as Unix has it")


def oxhue(*arguments, env=None, **options):
    settings = {"capture_output": True, "text": True, "timeout": 120, "encoding": "utf-8"} | options
    command = [sys.executable, "-m", "oxhue", *map(str, arguments)]
    changed = os.environ | (env or {})
    kept = {name: value for name, value in changed.items() if value is not None}
    return subprocess.run(command, check=False, env=kept, **settings)


# -- streams --------------------------------------------------------------------------------


@UNIX
@pytest.mark.parametrize("closed", ["<&-", "2>&-", "<&- 2>&-"])
def test_closed_streams_that_are_not_needed(closed):
    command = f"{sys.executable} -m oxhue look 'TiO2 45nm / Ti' {closed}"
    ended = subprocess.run(command, shell=True, capture_output=True, text=True, check=False)
    assert ended.returncode == 0
    assert ended.stdout.startswith("TiO2 45nm / Ti: dark blue")


@UNIX
def test_a_refusal_that_nobody_can_hear_is_still_2():
    command = f"{sys.executable} -m oxhue look 'TiO2 45nm' >&- 2>&- <&-"
    assert subprocess.run(command, shell=True, check=False).returncode == 2


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_a_stream_that_lacks_characters_loses_only_those(encoding, capsys):
    spoken = oxhue(*LOOK, env={"PYTHONIOENCODING": encoding}, encoding=encoding)
    assert (spoken.returncode, spoken.stderr) == (0, "")
    assert spoken.stdout.startswith("TiO2 45nm / Ti: dark blue, #3c4fa1")
    # Names of authors and titles hold letters of many alphabets; JSON escapes what it must.
    ended = oxhue("materials", "TiO2", "--json", env={"PYTHONIOENCODING": encoding})
    assert exit_code(["materials", "TiO2", "--json"]) == 0
    whole = capsys.readouterr().out
    assert ended.stdout.isascii()
    assert not whole.isascii()
    assert json.loads(ended.stdout) == json.loads(whole)


@pytest.mark.skipif(sys.platform != "linux", reason="names of files that are not UTF-8")
@pytest.mark.parametrize("as_json", [[], ["--json"]])
def test_a_name_that_is_no_text_can_be_shown(as_json, tmp_path):
    name = os.fsdecode(b"d\xefal.csv")
    (tmp_path / name).write_text("wavelength_nm,n\n300,2\n900,2\n")
    ended = oxhue("look", f'"{name}" 45nm / Ti', *as_json, cwd=tmp_path)
    assert (ended.returncode, ended.stderr) == (0, "")
    if as_json:
        assert json.loads(ended.stdout)["stack"].startswith(f'"{name}"')
    else:
        assert ended.stdout.startswith('"d\\udcefal.csv" 45nm / Ti')


# -- surroundings ---------------------------------------------------------------------------


def test_no_home_no_terminal_no_folder_for_fonts(tmp_path):
    bare = {"HOME": "/nonexistent", "TERM": None, "MPLCONFIGDIR": "/proc/nothing", "COLUMNS": "0"}
    ended = oxhue(*LOOK, "--chart", tmp_path / "a.png", env=bare)
    assert ended.returncode == 0
    assert ended.stderr == f"chart written: {tmp_path / 'a.png'}\n"
    assert (tmp_path / "a.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize("name", ["de_DE.UTF-8", "POSIX"])
def test_numbers_do_not_follow_the_locale(name):
    ended = oxhue(*LOOK, "--json", env={"LC_ALL": name, "LANG": name})
    assert json.loads(ended.stdout)["reflected"]["Y"] == pytest.approx(9.2, abs=0.05)


@pytest.mark.skipif(sys.platform != "linux", reason="limits of files as Linux has them")
def test_a_file_that_finds_no_room_is_refused_and_leaves_nothing(tmp_path):
    """A limit on the size of files stands in for a full disk: the write fails half-way."""
    import resource

    old = tmp_path / "a.png"
    old.write_bytes(b"old")
    ended = oxhue(
        *LOOK,
        "--chart",
        old,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096)),
        env={"PYTHONDONTWRITEBYTECODE": "1"},
    )
    assert (ended.returncode, ended.stdout) == (2, "")
    assert ended.stderr == f"oxhue: cannot write {str(old)!r}: file too large\n"
    assert old.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [old]


@pytest.mark.parametrize("error", [PermissionError(13, "Permission denied"),
                                   OSError(30, "Read-only file system")])  # fmt: skip
def test_a_folder_that_takes_no_file_is_said(error, tmp_path, monkeypatch):
    def refused(*_, **__):
        raise error

    monkeypatch.setattr(files, "open", refused, raising=False)
    with pytest.raises(InputError, match=f"cannot write .*: {error.strerror.lower()}"):
        write_atomically(tmp_path / "a.txt", lambda stream: stream.write(b"x"))


# -- the same file --------------------------------------------------------------------------


@UNIX
@pytest.mark.parametrize("moment", ["fsync", "replace"])
def test_killed_before_the_name_is_given_the_old_file_stays(moment, tmp_path):
    target = tmp_path / "kiln.json"
    target.write_bytes(b"old")
    program = (
        "import os, signal, sys\n"
        "from pathlib import Path\n"
        "from oxhue.optics.files.atomic import write_atomically\n"
        f"os.{moment} = lambda *_: os.kill(os.getpid(), signal.SIGKILL)\n"
        "write_atomically(Path(sys.argv[1]), lambda stream: stream.write(b'new'))\n"
    )
    ended = subprocess.run([sys.executable, "-c", program, str(target)], check=False)
    assert ended.returncode == -signal.SIGKILL
    assert target.read_bytes() == b"old"
    [left] = set(tmp_path.iterdir()) - {target}
    assert left.name.startswith(".kiln.json.")
    write_atomically(target, lambda stream: stream.write(b"newer"))
    assert target.read_bytes() == b"newer"


def test_two_that_write_one_file_leave_one_of_both_whole(tmp_path):
    target, wholes = tmp_path / "a.txt", [letter * 200_000 for letter in (b"a", b"b", b"c")]
    started = threading.Barrier(len(wholes))

    def write(whole):
        started.wait()
        for _ in range(20):
            write_atomically(target, lambda stream: stream.write(whole))
            assert target.read_bytes() in wholes

    seen = [threading.Thread(target=write, args=(whole,)) for whole in wholes]
    failed = []
    hook, threading.excepthook = threading.excepthook, failed.append
    try:
        for one in seen:
            one.start()
        for one in seen:
            one.join()
    finally:
        threading.excepthook = hook
    assert not failed
    assert list(tmp_path.iterdir()) == [target]


# -- places that are no files ---------------------------------------------------------------


def test_a_folder_a_device_and_a_ring_of_links_are_no_files(tmp_path, capsys):
    (tmp_path / "dir.png").mkdir()
    (tmp_path / "one.png").symlink_to(tmp_path / "two.png")
    (tmp_path / "two.png").symlink_to(tmp_path / "one.png")
    (tmp_path / "null.png").symlink_to("/dev/null")
    before = sorted(tmp_path.iterdir())
    for name, said in (
        ("dir.png", "it is a folder; name a file"),
        ("one.png", "the link leads back to itself|too many levels of symbolic links"),
        ("null.png", "it is a device or a pipe; name a file"),
        ("long" * 100 + ".png", "file name too long"),
        ("long" * 100 + "/a.png", "its folder does not exist"),
    ):
        assert exit_code([*LOOK, "--chart", str(tmp_path / name)]) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert err.count("\n") == 1
        assert any(one in err for one in said.split("|"))
    assert sorted(tmp_path.iterdir()) == before


def test_a_link_to_a_file_yet_to_be_written(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "link.txt").symlink_to(tmp_path / "real" / "new.txt")
    write_atomically(tmp_path / "link.txt", lambda stream: stream.write(b"new"))
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "real" / "new.txt").read_bytes() == b"new"


def test_a_name_with_a_line_in_it_is_told_on_one_line(tmp_path, capsys):
    name = str(tmp_path / "two\nlines.png")
    assert exit_code(["look", "TiO2 45nm / Ti", "--chart", name]) == 0
    assert capsys.readouterr().err == f"chart written: {tmp_path}/two\\nlines.png\n"
    assert [path.name for path in tmp_path.iterdir()] == ["two\nlines.png"]
