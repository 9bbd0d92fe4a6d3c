"""Good files that random command lines may name, beside the folder they run in."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from oxhue.cli import demo
from oxhue.optics.log.log import Log

from .files import KINDS
from .pieces import ODD, Make, perhaps_spoilt

FOLDER = "goods"
LOG = "oxhue-log.sqlite"
_OTHER = 0.12  # share of the files named that are of another kind, or none


@cache
def _contents() -> dict[str, bytes]:
    """A good copy of every kind of file, and spots few enough to be read as one piece."""
    made = {kind.name: kind.original(Random(kind.name)) for kind in KINDS}
    spots = "\n".join(["id,hex", *(f"{i},#{100 - 4 * i:02x}{60 + 5 * i:02x}a0" for i in range(4))])
    log = Path(demo.__file__).with_name("clock-log.csv").read_bytes()
    return made | {"spots.csv": (spots + "\n").encode(), "clock-log.csv": log, LOG: _log_of(log)}


def _log_of(exported: bytes) -> bytes:
    """The log of a workshop, from what was exported of it."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / LOG
        path.with_suffix(".csv").write_bytes(exported)
        with Log.open(path) as log:
            log.import_(path.with_suffix(".csv"))
        return path.read_bytes()


def lay_out(beside: Path) -> None:
    """Write the good files into a folder beside the one that lines run in, unless they are there.

    The log that lines find where they run is new each time, since they may change it.

    Parameters
    ----------
    beside : Path
        The folder that lines run in.
    """
    folder = beside.parent / FOLDER
    if not folder.exists():
        folder.mkdir()
        for name, data in _contents().items():
            (folder / name).write_bytes(data)
    (beside / LOG).write_bytes(_contents()[LOG])


def good(name: str) -> Make:
    """Make the path of a good file; seldom of another one, or no path at all."""

    def make(random: Random) -> str:
        if random.random() < _OTHER:
            names = [f"../{FOLDER}/{other}" for other in _contents()]
            return perhaps_spoilt(random, random.choice((*names, random.choice(ODD))))
        return f"../{FOLDER}/{name}"

    return make
