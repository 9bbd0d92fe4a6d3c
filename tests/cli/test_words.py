"""Options that need no library to be read are read without one, and all others as before."""

import subprocess
import sys

import pytest
from typer.main import get_command

from oxhue.cli.main import app
from oxhue.cli.words import PlainValue, take_plain_values
from tests.cli.within import run


def commands():
    parser = get_command(app)
    found, names = [parser], [()]
    while found:
        command, name = found.pop(), names.pop()
        below = getattr(command, "commands", {})
        found += below.values()
        names += [(*name, one) for one in below]
        if not below:
            yield pytest.param(command, id=" ".join(name))


@pytest.mark.parametrize("command", list(commands()))
def test_words_and_numbers_read_as_typer_reads_them(command):
    context = command.context_class(command)
    for parameter in command.params:
        if not hasattr(parameter, "_runtime_param"):
            pytest.skip("this version of typer loads nothing to read a word")
        theirs = parameter.get_runtime_param()
        parameter._runtime_param = None
        take_plain_values(parameter)
        ours = parameter._runtime_param
        assert isinstance(ours, PlainValue)
        many = parameter.multiple or parameter.nargs == -1
        words = (None, "purple", "10", "007", "1_0", " 7", "", "-", ".", "a\0b", __file__)
        for value in (None, ("a", "10")) if many else words:
            results = []
            for reader in (theirs, ours):
                parameter._runtime_param = reader
                try:
                    read = reader.coerce(value, param=parameter, ctx=context)
                except Exception as error:  # whatever it is, it must be the same
                    read = str(error)
                results.append((type(read), read))
            assert results[0] == results[1], (parameter.name, value)


def test_a_file_that_may_not_be_read_is_refused_as_before(tmp_path, monkeypatch, capsys):
    locked = tmp_path / "locked.csv"
    locked.touch()
    monkeypatch.setattr("os.access", lambda *_: False)
    code, out, err = run(capsys, "coupons", str(locked))
    assert (code, out) == (2, "")
    assert "not readable" in err


@pytest.mark.parametrize(
    "line",
    [
        ["look", "TiO2 45nm / Ti", "--observer", "10"],
        ["coupons", "docs/examples/pieces.csv"],
    ],
    ids=lambda line: line[0],
)
def test_a_usual_question_loads_no_library_of_schemas(line):
    code = (
        f"import sys; from oxhue.cli.main import exit_code; assert exit_code({line}) == 0;"
        "assert 'pydantic' not in sys.modules"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
