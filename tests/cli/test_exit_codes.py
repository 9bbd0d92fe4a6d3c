"""How each way of ending becomes an exit code, in this process and in processes of their own."""

import os
import signal
import subprocess
import sys

import pytest

from oxhue.cli.main import exit_code

LOOK = ["look", "TiO2 45nm / Ti"]
FOREIGN = ["gauge", "--film", "TiO2(siefke2016)", "--on", "Ti(johnson1974)", "--seen", "#00ff00"]


def oxhue(*arguments, **options):
    settings = {"capture_output": True, "text": True, "timeout": 60} | options
    command = [sys.executable, "-m", "oxhue", *arguments]
    return subprocess.run(command, check=False, **settings)


def test_an_answer_is_0(capsys):
    assert exit_code(LOOK) == 0
    out, err = capsys.readouterr()
    assert out.startswith("TiO2 45nm / Ti: dark blue, #3c4fa1\n")
    assert err == ""


def test_bad_input_is_2(capsys):
    assert exit_code(["look", "TiO2 45nm"]) == 2
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize("as_json", [[], ["--json"]])
def test_no_answer_to_trust_is_3_and_printed_all_the_same(as_json, capsys):
    assert exit_code([*FOREIGN, *as_json]) == 3
    out, err = capsys.readouterr()
    assert '"fits": false' in out if as_json else out.startswith("Nothing fits")
    assert err == ""


def test_a_bug_of_ours_keeps_its_traceback(monkeypatch):
    def broken(*_, **__):
        raise RuntimeError("a bug")

    monkeypatch.setattr("oxhue.optics.look.look.look", broken)
    with pytest.raises(RuntimeError, match="a bug"):
        exit_code(LOOK)


@pytest.mark.parametrize("error", [KeyError("x"), OSError(5, "Input/output error", "table.csv")])
def test_other_bugs_are_not_taken_for_bad_input(error, monkeypatch):
    def broken(*_, **__):
        raise error

    monkeypatch.setattr("oxhue.optics.look.look.look", broken)
    with pytest.raises(type(error)):
        exit_code(LOOK)


def test_a_bug_of_ours_is_1_to_the_shell():
    program = (
        "import oxhue.optics.look.look as job, oxhue.cli.main as cli\n"
        "def broken(*_, **__): raise RuntimeError('a bug')\n"
        "job.look = broken\n"
        "cli.run(['look', 'TiO2 45nm / Ti'])\n"
    )
    ended = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert ended.returncode == 1
    assert ended.stdout == ""
    assert "Traceback" in ended.stderr
    assert "RuntimeError: a bug" in ended.stderr


def test_an_interruption_is_130(monkeypatch, capsys):
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("oxhue.optics.look.look.look", interrupted)
    assert exit_code(LOOK) == 130
    out, err = capsys.readouterr()
    assert out == ""
    assert err.strip() == "oxhue: interrupted"


@pytest.mark.skipif(os.name != "posix", reason="signals as Unix has them")
def test_control_c_amid_a_chart_is_130_and_leaves_no_file(tmp_path):
    program = (
        "import matplotlib.figure, signal, time, oxhue.cli.main as cli\n"
        # A shell that starts us in the background has us ignore the signal.
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "def slow(figure, stream, **_):\n"
        "    stream.write(b'half'); print('ready', flush=True); time.sleep(60)\n"
        "matplotlib.figure.Figure.savefig = slow\n"
        f"cli.run(['look', 'TiO2 45nm / Ti', '--chart', {str(tmp_path / 'chart.png')!r}])\n"
    )
    command = [sys.executable, "-c", program]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    with subprocess.Popen(command, **pipes) as started:
        while started.stdout.readline() not in ("ready\n", ""):
            pass
        started.send_signal(signal.SIGINT)
        _, err = started.communicate(timeout=180)
    assert started.returncode == 130
    assert err.strip() == "oxhue: interrupted"
    assert list(tmp_path.iterdir()) == []


def test_the_program_by_its_module_answers_and_refuses():
    answered = oxhue(*LOOK, "--json")
    assert (answered.returncode, answered.stderr) == (0, "")
    refused = oxhue("look", "TiO2 45nm / Tx")
    assert (refused.returncode, refused.stdout) == (2, "")
    assert refused.stderr.count("\n") == 1


def test_a_reader_that_leaves_early_is_no_fault():
    read, write = os.pipe()
    with open(write, "wb") as sink:
        os.close(read)
        ended = oxhue("materials", stdout=sink, stderr=subprocess.PIPE, capture_output=False)
    assert (ended.returncode, ended.stderr) == (0, "")


@pytest.mark.parametrize("as_json", [[], ["--json"]])
def test_a_long_answer_cut_short_is_no_fault(as_json):
    command = [sys.executable, "-m", "oxhue", "look", "TiO2 0..2000nm / Ti", *as_json]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as started:
        started.stdout.read(10)
        started.stdout.close()
        assert started.stderr.read() == b""
        assert started.wait(timeout=60) == 0


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no device that is always full")
@pytest.mark.parametrize("arguments", [LOOK, [*LOOK, "--json"], ["--version"], ["--help"]])
def test_a_full_disk_is_said_in_one_sentence(arguments):
    with open("/dev/full", "wb") as full:
        ended = oxhue(*arguments, stdout=full, stderr=subprocess.PIPE, capture_output=False)
    assert ended.returncode == 2
    assert ended.stderr == "oxhue: cannot write the answer: no space left on device\n"


@pytest.mark.skipif(os.name != "posix", reason="closed with a shell's >&-")
def test_a_closed_output_is_said_in_one_sentence():
    command = f"{sys.executable} -m oxhue look 'TiO2 45nm / Ti' >&-"
    ended = subprocess.run(command, shell=True, capture_output=True, text=True, check=False)
    assert ended.returncode == 2
    assert ended.stderr.count("\n") == 1
    assert "standard output is closed" in ended.stderr


@pytest.mark.parametrize(
    "error", [MemoryError(), ImportError("a.so: failed to map segment from shared object")]
)
def test_too_little_memory_is_said(error, monkeypatch, capsys):
    def full(*_, **__):
        raise error

    monkeypatch.setattr("oxhue.optics.look.look.look", full)
    assert exit_code(LOOK) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert "more memory than there is" in err


def test_a_library_that_is_broken_is_no_refusal(monkeypatch):
    def broken(*_, **__):
        raise ImportError("no such symbol")

    monkeypatch.setattr("oxhue.optics.look.look.look", broken)
    with pytest.raises(ImportError, match="no such symbol"):
        exit_code(LOOK)
