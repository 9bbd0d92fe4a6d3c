"""What an import costs, and which names stand at the door."""

import json
import subprocess
import sys

import numpy as np
import pytest

import oxhue as optics
from oxhue.cli.main import exit_code

HEAVY = [
    "matplotlib", "scipy", "colour", "typer", "rich", "pandas", "PIL", "numpy",
    "joblib", "threadpoolctl", "distributed",
]  # fmt: skip


def loaded_after(program: str) -> set[str]:
    """Which heavy packages a fresh process has loaded when the program ends."""
    tail = f"import sys, json; print(json.dumps([m for m in {HEAVY} if m in sys.modules]))"
    ended = subprocess.run(
        [sys.executable, "-c", f"{program}\n{tail}"], capture_output=True, text=True, check=True
    )
    return set(json.loads(ended.stdout.splitlines()[-1]))


@pytest.mark.parametrize(
    ("program", "allowed"),
    [
        ("import oxhue.optics", set()),
        ("import oxhue.optics.errors, oxhue.optics.units", set()),
        ("import oxhue.optics.films.engine.transfer_matrix", {"numpy"}),
        ("import oxhue.optics.films.notation, oxhue.optics.films.solve", {"numpy"}),
        ("import oxhue.optics.colour.colour", {"numpy"}),
        ("import oxhue.optics.gauge.gauge, oxhue.optics.look.look", {"numpy"}),
        ("import oxhue.optics.report.html, oxhue.optics.report.terminal", {"numpy"}),
        ("import oxhue.cli.main", {"typer", "rich"}),
    ],
)
def test_an_import_loads_no_more_than_it_must(program, allowed):
    assert loaded_after(program) <= allowed


@pytest.mark.parametrize("arguments", [["--help"], ["gauge", "--help"], ["--version"], ["tinge"]])
def test_help_and_refusals_need_no_numbers(arguments):
    program = f"import oxhue.cli.main as cli; cli.exit_code({arguments})"
    assert loaded_after(program) <= {"typer", "rich"}


def test_the_engine_runs_without_the_colour_and_chart_packages():
    program = (
        "from oxhue import solve_arrays\n"
        "solve_arrays([[1.0], [2.4], [2.0 + 3.0j]], [45.0], [550.0])"
    )
    assert loaded_after(program) == {"numpy"}


def test_a_small_job_starts_nobody():
    program = (
        "import oxhue.cli.main as cli, os, contextlib\n"
        "with open(os.devnull, 'w') as sink, contextlib.redirect_stdout(sink):\n"
        "    cli.exit_code(['design', '--on', 'glass', '--goal', 'R>88% 550nm', '--with', 'Al',\n"
        "                   '--max-layers', '1', '--tolerance', '3%', '--samples', '20'])"
    )
    loaded = loaded_after(program)
    assert "numpy" in loaded
    assert not loaded & {"joblib", "distributed"}


def test_every_name_at_the_door_is_there_and_listed():
    for name in optics.__all__:
        assert getattr(optics, name).__name__.lower() == name.lower()
    assert dir(optics) == sorted([*optics.__all__, "__version__"])


def test_a_name_that_is_not_there_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        _ = optics.nonsense


def test_the_door_as_promised():
    wavelength_nm = np.arange(380.0, 781.0, 5.0)
    stack = optics.parse_stack("TiO2 0..200nm step 0.1nm / Ti")
    response = optics.solve(stack, wavelength_nm)
    for share in (response.R, response.T, response.A):
        assert share.shape == (2001, 81)
    appearance = optics.to_colour(response)
    for colour in (appearance.xyz, appearance.lab, appearance.srgb):
        assert colour.shape == (2001, 3)
    index = optics.load_material("TiO2").nk(wavelength_nm)
    assert (index.dtype, index.shape) == (np.dtype(complex), (81,))


def test_objects_and_answers_have_a_short_repr_and_the_json_of_their_verb(capsys):
    shown = [
        optics.parse_stack("TiO2 0..200nm / Ti"),
        optics.load_material("TiO2"),
        optics.look("TiO2 0..200nm / Ti", spectrum=True),
        optics.gauge("TiO2", "Ti", "purple"),
    ]
    assert [len(repr(one)) for one in shown if len(repr(one)) >= 200] == []
    for arguments, result in (
        (["look", "TiO2 45nm / Ti", "--json"], optics.look("TiO2 45nm / Ti")),
        (["gauge", "--film", "TiO2", "--on", "Ti", "--seen", "purple", "--json"], shown[-1]),
    ):
        assert exit_code(arguments) == 0
        assert json.loads(capsys.readouterr().out) == json.loads(json.dumps(result.to_dict()))
