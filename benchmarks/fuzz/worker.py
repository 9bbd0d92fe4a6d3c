"""Runs in a child process with limits; a child that hangs or dies is replaced by the next."""

from __future__ import annotations

import faulthandler
import json
import os
import resource
import select
import shutil
import signal
import tempfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from random import Random
from typing import IO

from oxhue.cli.main import exit_code

from .files import broken_file
from .goods import lay_out
from .judge import LIMIT_MB, LIMIT_S, LONG_S, Ending, run
from .lines import command_line

_HANGS_S = 400.0  # of a clock on the wall, with the machine busy
_SPARE_BYTES = 3_000_000_000  # beyond this a run is stopped, so that the machine lives
_PEAK, _ANEW = Path("/proc/self/clear_refs"), "5"  # the peak of memory is counted from here
_GRACE_S = 3  # processor seconds beyond the longest limit, after which a run is stopped


@dataclass(frozen=True)
class Result:
    """What came of one run; ``megabytes`` is the most memory the process held during it."""

    kind: str
    item: int
    line: list[str]
    code: int | None
    wrong: str
    seconds: float
    megabytes: float


def one(kind: str, seed: int, item: int, folder: Path) -> tuple[list[str], Ending]:
    """Make one run from its seed and number: the same ones give the same run."""
    random = _random(kind, seed, item)
    if kind == "lines":
        line = command_line(random)
        lay_out(folder)
        _PEAK.write_text(_ANEW)
        return line, run(lambda: exit_code(line), folder, line)
    action, line, path = broken_file(random, folder)
    _PEAK.write_text(_ANEW)
    return line or [path.name], run(action, folder, line)


def _random(kind: str, seed: int, item: int) -> Random:
    return Random(f"{seed} {kind} {item}")


def results(kind: str, seed: int, first: int, count: int) -> Iterator[Result]:
    """Runs ``first`` to ``first + count`` of a seed, in one child after another."""
    item = first
    while item < first + count:
        for result in _child(kind, seed, item, first + count):
            item = result.item + 1
            yield result


def _child(kind: str, seed: int, item: int, end: int) -> Iterator[Result]:
    read, write = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(read)
        _work(kind, seed, item, end, write)
    os.close(write)
    dump = _dump_of(pid)
    try:
        with os.fdopen(read, "rb") as stream:
            while select.select([stream], [], [], _HANGS_S)[0]:
                text = stream.readline()
                if not text:
                    break
                result = Result(**json.loads(text))
                item = result.item + 1
                yield result
            else:
                os.kill(pid, signal.SIGABRT)
        _, status = os.waitpid(pid, 0)
        if item < end and status:
            where = dump.read_text() if dump.exists() else ""
            line = command_line(_random(kind, seed, item)) if kind == "lines" else []
            yield Result(
                kind, item, line, None, f"ended by {status}\n{where[-3000:]}", LIMIT_S, 0.0
            )
    finally:
        dump.unlink(missing_ok=True)


def _dump_of(pid: int) -> Path:
    return Path(tempfile.gettempdir()) / f"fuzz-{pid}.txt"


def _work(kind: str, seed: int, item: int, end: int, write: int) -> None:
    """The child: run after run, a line of JSON for each, until one went over its limits."""
    whole = Path(tempfile.mkdtemp(prefix="fuzz-"))
    folder = whole / "here"
    folder.mkdir()
    os.chdir(folder)
    # Libraries in C write to the second stream past Python; here that lands in a file.
    said = tempfile.TemporaryFile()  # noqa: SIM115 -- as long as the process lives
    os.dup2(said.fileno(), 2)
    dump = _dump_of(os.getpid()).open("w")
    faulthandler.enable(dump)
    faulthandler.register(signal.SIGXCPU, dump, chain=True)
    resource.setrlimit(resource.RLIMIT_AS, (_memory("VmSize") + _SPARE_BYTES, -1))
    status = 1
    try:
        with os.fdopen(write, "w") as stream:
            for at in range(item, end):
                result = _limited(kind, seed, at, folder, said)
                stream.write(json.dumps(asdict(result)) + "\n")
                stream.flush()
                if result.megabytes > LIMIT_MB:
                    break
        status = 0
    finally:
        shutil.rmtree(whole, ignore_errors=True)
        os._exit(status)


def _limited(kind: str, seed: int, item: int, folder: Path, said: IO[bytes]) -> Result:
    used = resource.getrusage(resource.RUSAGE_SELF)
    most = int(used.ru_utime + used.ru_stime + LONG_S) + _GRACE_S
    resource.setrlimit(resource.RLIMIT_CPU, (most, -1))
    line, ending = one(kind, seed, item, folder)
    megabytes = _memory("VmHWM") / 1e6
    wrong = ending.wrong
    said.seek(0)
    if stray := said.read():
        wrong = wrong or f"a library said on stderr: {stray[:300]!r}"
        said.seek(0)
        said.truncate()
    if not wrong and megabytes > LIMIT_MB:
        wrong = f"held {megabytes:.0f} MB"
    for left in folder.iterdir():
        shutil.rmtree(left) if left.is_dir() else left.unlink()
    return Result(kind, item, line, ending.code, wrong, ending.seconds, megabytes)


def _memory(name: str) -> int:
    """A line of the process's status [bytes]."""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith(name + ":"):
            return int(line.split()[1]) * 1024
    raise LookupError(name)
