"""Which modules each verb may load: what it does not use must cost nothing at the start."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from oxhue import optics
from oxhue.optics.log.log import Log

# Each of these costs a tenth of a second or more, or brings in what does.
SLOW = {
    "PIL", "asyncio", "colour", "dask", "distributed", "joblib", "matplotlib", "multiprocessing",
    "numpy", "rich", "scipy", "ssl",
}  # fmt: skip
OPTICS = {"numpy", "scipy"}  # scipy interpolates the tables of the materials
ROOMS = {path.parent.name for path in Path(optics.__path__[0]).glob("*/present.py")}
"""Rooms of the library with a question each."""

# Libraries, and rooms: a verb's own and those whose answers it builds on.
VERBS = {
    "help": (["--help"], {"rich"}, set()),
    "look": (["look", "TiO2 45nm / Ti", "--json"], OPTICS, {"look"}),
    "look, as text": (["look", "TiO2 45nm / Ti"], OPTICS | {"rich"}, {"look"}),
    "materials": (["materials", "--json"], {"numpy"}, {"data_sets"}),
    "gauge": (
        ["gauge", "--film", "SiO2", "--on", "Si", "--seen", "blue", "--json"], OPTICS, {"gauge"},
    ),
    "tint": (
        ["tint", "Ti", "--at", "450C", "--for", "20min", "--json"], OPTICS, {"tint"},
    ),
    "sheet": (
        ["sheet", "Al 90nm / glass", "--source", "boat", "--distance", "30cm", "--rate", "2nm/s",
         "--pressure", "1e-5mbar", "--json"],
        # The library of colour, which brings the rest, tells how far two colours lie apart.
        OPTICS | {"PIL", "asyncio", "colour", "matplotlib", "multiprocessing", "ssl"},
        {"design", "run_sheet"},
    ),
}  # fmt: skip


def loaded_by(arguments):
    """The exit code of a command, and the modules that it loads."""
    program = (
        "import json, sys\n"
        "import oxhue.cli.main as cli\n"
        f"code = cli.exit_code({arguments!r})\n"
        "print('\\n' + json.dumps([code, sorted(sys.modules)]))"
    )
    ended = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", program],
        capture_output=True, check=True, encoding="utf-8",
    )  # fmt: skip
    return json.loads(ended.stdout.splitlines()[-1])


def test_a_list_of_runs_loads_nothing_that_computes(tmp_path):
    path = tmp_path / "log.sqlite"
    with Log.open(path) as log:
        log.setup("jar")
        log.record("jar", metal="Ti", current="6A", time="12min")
        log.saw(1, piece="slide", on="glass", seen="silver")
    code, modules = loaded_by(["log", "list", "--log", str(path)])
    assert code == 0
    assert SLOW & set(modules) <= {"rich"}
    assert not [name for name in modules if name.startswith("oxhue.optics.films")]


@pytest.mark.parametrize("verb", VERBS)
def test_a_verb_loads_no_more_than_it_uses(verb):
    arguments, libraries, rooms = VERBS[verb]
    code, modules = loaded_by(arguments)
    assert code == 0
    assert SLOW & set(modules) <= libraries
    assert {"look", "gauge", "log"} <= ROOMS
    parts = [one.split(".") for one in modules if one.startswith("oxhue.optics.")]
    assert {one[2] for one in parts} & ROOMS == rooms
