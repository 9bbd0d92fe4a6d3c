"""How long does the run log take: to learn from 10 and 100 runs, to advise, to list, to open?

    python -m benchmarks.runlog_times

Runs of one jar at currents of all kinds, each slide with three looks; heats of one kiln, each plate
with its colour; then a log of 10,000 runs. Printed are seconds by the clock and of the processor,
the looks' own likelihoods included where they are not kept yet.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from oxhue.optics.log.log import Log
from oxhue.optics.look.look import look
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.oxidation.schedule import hold
from oxhue.optics.tint.kiln import shipped_kiln

_DONE = {
    "source": "wire", "metal": "Ti", "wire_diameter": "0.5mm", "wire_length": "200mm",
    "time": "12min", "distance": "5cm", "working_gas": "argon", "working_pressure": "5e-3mbar",
    "new_wire": True,
}  # fmt: skip
_LOOKS = (
    {"seen": "silver", "through": "dim", "ohms": "45ohm/sq"},
    {"seen": "silver", "through": "OD 1.6", "ohms": "17ohm/sq"},
    {"seen": "grey", "through": "clear", "ohms": "900ohm/sq"},
)


def _timed(what: str, work: Callable[[], object]) -> None:
    clock, processor = time.perf_counter(), time.process_time()
    work()
    took = time.perf_counter() - clock, time.process_time() - processor
    print(f"| {what} | {took[0]:.3g} s | {took[1]:.3g} s |", flush=True)


def _timed_command(what: str, command: list[str]) -> None:
    """From a cold start, what is loaded counted too."""
    clock, before = time.perf_counter(), os.times()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    after = os.times()
    spent = after.children_user + after.children_system
    spent -= before.children_user + before.children_system
    print(f"| {what} | {time.perf_counter() - clock:.3g} s | {spent:.3g} s |", flush=True)


def _fill(log: Log, jar: Path, runs: int) -> None:
    rng = np.random.default_rng(runs)
    log.setup("jar", jar=jar)
    for _ in range(runs):
        # what is seen goes with the current, as it would
        level = rng.uniform(-0.3, 0.3)
        looks = _LOOKS[2 if level < -0.1 else 0 if level < 0.1 else 1]
        run = log.record("jar", current=f"{6.4 + level:.2f}A", **_DONE).run
        log.saw(run, piece="slide", on="glass", **looks)


def _heat(log: Log, heats: int) -> None:
    """Heats of a kiln, with the colour that came of each by the shipped law."""
    kiln = shipped_kiln(find_metal("Ti"))
    rng = np.random.default_rng(heats)
    log.setup("kiln", kind="kiln")
    for _ in range(heats):
        at = 10.0 * float(rng.integers(38, 54))
        nm = float(np.median(kiln.draws.typical_nm(kiln.metal, hold(at, 1200.0))))
        run = log.record("kiln", metal="Ti", at=f"{at:g}C", time="20min").run
        seen = look(f"TiO2 {nm:.1f}nm / Ti").reflected.srgb_hex
        log.saw(run, piece="plate", seen=str(seen))


def main() -> None:
    """Print the table."""
    folder = Path(tempfile.mkdtemp())
    jar = folder / "jar.toml"
    jar.write_text('volume = "3 l"\npumping = "2 l/s"\nleak = "1e-3 mbar.l/s"\n')
    print("| what | clock | processor |\n|---|---|---|")
    for runs in (10, 100):
        with Log.open(folder / f"{runs}.sqlite") as log:
            _fill(log, jar, runs)
            _timed(f"learn from {runs} runs", lambda log=log: log.learn("jar"))
            _timed(f"next after {runs} runs", lambda log=log: log.next("jar", want="Ti 40nm"))
            _timed(
                f"next after {runs} runs, gauge read now",
                lambda log=log: log.next("jar", want="Ti 40nm", base_pressure="6e-4mbar"),
            )
            _heat(log, runs)
            _timed(f"learn from {runs} heats", lambda log=log: log.learn("kiln"))
            _timed(f"next after {runs} heats", lambda log=log: log.next("kiln", want="purple"))
    many = folder / "10000.sqlite"
    with Log.open(many) as log:
        log._connection.execute("PRAGMA synchronous = OFF")
        _fill(log, jar, 10_000)
    _timed("open a log of 10,000 runs", lambda: Log.open(many, write=False).close())
    with Log.open(many, write=False) as log:
        _timed("read 10,000 runs", log.runs)
        _timed("read the 40 newest of 10,000 runs", lambda: log.runs(newest=40))
    command = [sys.executable, "-m", "oxhue", "log", "list", "--log", str(many)]
    _timed_command("oxhue log list, of 10,000 runs", command)
    _timed_command("oxhue log list --json, of 10,000 runs", [*command, "--json"])
    _timed_command("oxhue --help, to compare", [*command[:3], "--help"])


if __name__ == "__main__":
    main()
