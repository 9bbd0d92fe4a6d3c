"""Odd surroundings of the program: a right answer, or one sentence and exit code 2."""

import json
import os
import subprocess
import sys

import pytest

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="limits of processes as Linux has")

NOWHERE = "/proc/nowhere"  # a folder that nobody can make, not even the owner of the machine
LOOK = ("look", "TiO2 45nm / Ti")
GAUGE = ("gauge", "--film", "TiO2(siefke2016)", "--on", "Ti(johnson1974)", "--seen", "#6a3fa0")
NO_TEMPORARY = """
import tempfile
def none(): raise FileNotFoundError(2, "No usable temporary directory found")
tempfile._get_default_tempdir, tempfile.tempdir = none, None
"""


def longer(*case):
    """A case between those that are tried each time."""
    return pytest.param(*case, marks=pytest.mark.slow)


def run(*line, cwd, env=None, limits=(), before="", stdout=subprocess.PIPE):
    """The program in a process of its own: exit code, what it answered, and what it said."""
    import resource

    def limit():
        for name, most in limits:
            resource.setrlimit(getattr(resource, name), (most, most))

    program = f"{before}\nimport sys\nfrom oxhue.cli.main import exit_code\nsys.exit(exit_code())"
    # What a full disk cuts off must not be compiled code that later programs load.
    given = os.environ | {"PYTHONDONTWRITEBYTECODE": "1"} | (env or {})
    changed = {k: v for k, v in given.items() if v is not None}
    ended = subprocess.run(
        [sys.executable, "-c", program, *map(str, line)], check=False, cwd=cwd, env=changed,
        stdout=stdout, stderr=subprocess.PIPE, preexec_fn=limit, timeout=300,
    )  # fmt: skip
    return ended.returncode, (ended.stdout or b"").decode(), ended.stderr.decode()


def is_refused(ended):
    """Whether it ended in one sentence."""
    code, out, err = ended
    return code == 2 and out == "" and err.startswith("oxhue: ") and err.count("\n") == 1


@pytest.mark.parametrize(
    "env",
    [
        {"TMPDIR": NOWHERE, "TEMP": NOWHERE, "TMP": NOWHERE},
        {"HOME": NOWHERE, "XDG_CACHE_HOME": NOWHERE, "XDG_CONFIG_HOME": NOWHERE},
        {"HOME": None, "LANG": None, "LC_ALL": None, "PATH": None, "USER": None, "TERM": None},
        longer({"LC_ALL": "xx_YY.nonsense", "LANG": "xx", "LANGUAGE": "", "PYTHONUTF8": "0"}),
        longer({"MPLBACKEND": "module://nowhere", "MATPLOTLIBRC": "/proc/cpuinfo"}),
        longer({"COLUMNS": "none", "LINES": "-3", "TERM": "nonsense", "NO_COLOR": "1"}),
    ],
    ids=["no TMPDIR", "no home or cache", "bare", "no locale", "matplotlib's own", "terminal"],
)
def test_variables_that_lead_nowhere(env, tmp_path):
    code, out, err = run(*LOOK, "--chart", "a.svg", cwd=tmp_path, env=env)
    assert (code, err) == (0, "chart written: a.svg\n")
    assert out.startswith("TiO2 45nm / Ti: dark blue, #3c4fa1")
    assert (tmp_path / "a.svg").read_bytes().startswith(b"<?xml")


def test_settings_of_charts_that_are_no_text_are_named(tmp_path):
    (tmp_path / "matplotlibrc").write_bytes(b"\xff\xfe\0 broken: [")
    ended = run(*LOOK, "--chart", "a.svg", cwd=tmp_path)
    assert is_refused(ended)
    assert "'matplotlibrc'" in ended[2]
    assert not (tmp_path / "a.svg").exists()


def test_a_machine_without_a_place_for_temporary_files(tmp_path):
    code, out, err = run(*LOOK, "--chart", "a.png", cwd=tmp_path, before=NO_TEMPORARY)
    assert (code, err) == (0, "chart written: a.png\n")
    assert out.startswith("TiO2 45nm / Ti: dark blue")


@pytest.mark.slow
def test_a_tour_needs_a_place_for_temporary_files(tmp_path):
    assert is_refused(run("demo", "tour", cwd=tmp_path, before=NO_TEMPORARY))


@pytest.mark.parametrize("most", [longer(6), 8, longer(12), 20])  # fewer: no Python starts
def test_few_file_handles(most, tmp_path):
    ended = run(*LOOK, "--json", "--chart", "a.png", cwd=tmp_path, limits=[("RLIMIT_NOFILE", most)])
    code, out, _ = ended
    assert code == 0 or most < 12
    if code == 0:
        assert json.loads(out)["reflected"]["srgb_hex"] == "#3c4fa1"
    else:
        assert is_refused(ended), ended


@pytest.mark.parametrize("megabytes", [longer(60), 150, longer(220), longer(300), 450])
def test_little_memory(megabytes, tmp_path):
    ended = run(*GAUGE, "--json", cwd=tmp_path, limits=[("RLIMIT_AS", megabytes * 1_000_000)])
    code, out, err = ended
    if code == 0:
        assert err == ""
        assert json.loads(out)["fits"] is True
    else:
        assert is_refused(ended), ended


def test_no_memory_for_one_more_thread(tmp_path):
    starts_none = """
import oxhue.optics.look.look as of_look
def none(*_, **__): raise RuntimeError("can't start new thread")
of_look.look = none
"""
    ended = run(*LOOK, cwd=tmp_path, before=starts_none)
    assert is_refused(ended), ended
    assert "takes more memory than there is" in ended[2]


@pytest.mark.parametrize("line", [LOOK, (*LOOK, "--json"), ("materials",), ("schema", "look")])
def test_no_standard_output(line, tmp_path):
    closed = "import os; os.close(1); import sys; sys.stdout = None"
    ended = run(*line, cwd=tmp_path, before=closed)
    assert is_refused(ended)
    assert "standard output is closed" in ended[2]


@pytest.mark.parametrize("line", [LOOK, (*LOOK, "--json")])
def test_a_full_disk_behind_standard_output(line, tmp_path):
    with open("/dev/full", "wb") as full:
        code, _, err = run(*line, cwd=tmp_path, stdout=full)
    assert (code, err) == (2, "oxhue: cannot write the answer: no space left on device\n")


SETUP = ("log", "setup", "jar", "--kind", "chamber", "--log", "log.sqlite")


@pytest.mark.parametrize("most", [0, 512, 8192])
def test_a_full_disk_under_the_log(most, tmp_path):
    assert is_refused(run(*SETUP, cwd=tmp_path, limits=[("RLIMIT_FSIZE", most)]))


@pytest.mark.slow
def test_a_log_that_was_there_outlives_a_full_disk(tmp_path):
    assert run(*SETUP, cwd=tmp_path)[0] == 0
    before = run("log", "export", "--log", "log.sqlite", cwd=tmp_path)[1]
    full = [("RLIMIT_FSIZE", 2048)]
    another = (*SETUP[:2], "other jar", *SETUP[3:])
    assert is_refused(run(*another, cwd=tmp_path, limits=full))
    assert run("log", "export", "--log", "log.sqlite", cwd=tmp_path)[1] == before


@pytest.mark.slow
def test_names_that_are_no_text(tmp_path):
    name = os.fsdecode(b"d\xefal")
    chart = f"{name}.svg"
    code, _, err = run(*LOOK, "--chart", chart, cwd=tmp_path)
    assert (code, err) == (0, "chart written: d\\udcefal.svg\n")
    assert [os.fsencode(one.name) for one in tmp_path.iterdir()] == [b"d\xefal.svg"]
    (tmp_path / f"{name}.csv").write_text("id,hex\na,#6a3fa0\n")
    line = (*GAUGE[:5], "--readings", f"{name}.csv", "--csv")
    code, out, err = run(*line, cwd=tmp_path)
    assert (code, err) == (0, "")
    assert out.splitlines()[1].startswith("a,")
    assert is_refused(run(*GAUGE[:5], "--readings", f"{name}.txt", cwd=tmp_path))
