"""What the tests of the verbs share: a run in this process, and its answer as JSON."""

import json

from oxhue.cli.main import exit_code


def run(capsys, *arguments):
    """Exit code, standard output and standard error."""
    code = exit_code([*arguments])
    out, err = capsys.readouterr()
    return code, out, err


def answer(capsys, *arguments):
    """Exit code and the one JSON object."""
    code, out, err = run(capsys, *arguments, "--json")
    assert err == ""
    assert out.count("\n") == 1
    return code, json.loads(out)


def instead(line, options):
    """A line with an option more, or given otherwise than it has it."""
    if options[0] not in line:
        return [*line, *options]
    at = line.index(options[0])
    return [*line[:at], *options, *line[at + 2 :]]
