"""What a unit of each large job costs, and what it costs to send work about.

Run as ``python -m benchmarks.scale``; ``--job NAME`` runs one, ``--quick`` takes toy sizes. Every
job runs in a process of its own. Times are of the processor, on one core, unless it is said
otherwise, so that they may be added up over machines; memory is the most a process held.
"""

from __future__ import annotations

import argparse
import json
import os
import pickle
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from typing import Any

import numpy as np

import oxhue.optics.numerics.parallel as room
from oxhue.optics._typing import FloatArray
from oxhue.optics.numerics.cluster import on_cluster
from oxhue.optics.numerics.parallel import limit_to_one_thread, map_parallel

from .jobruns import peak_mb
from .stacks import WAVELENGTH_NM, alike_stacks

Figures = dict[str, tuple[float, str]]

_SPOTS = 48  # of one piece, read together


def stacks(quick: bool) -> Figures:
    """XYZ of 21-layer stacks of the same media, on 81 wavelengths."""
    from oxhue.optics.colour.colour import spectra_to_xyz
    from oxhue.optics.films.engine.transfer_matrix import solve_arrays

    count, unit = (400, 200) if quick else (40_000, 1_000)
    index, thickness_nm = alike_stacks(count, 21)

    def colours(part: FloatArray) -> FloatArray:
        found = solve_arrays(index, part, WAVELENGTH_NM)
        return spectra_to_xyz(found.R, WAVELENGTH_NM)

    colours(thickness_nm[:2])
    begin = time.process_time()
    seen = [colours(thickness_nm[a : a + unit]) for a in range(0, count, unit)]
    cpu_s = time.process_time() - begin
    sent = len(pickle.dumps(seen[0])) / unit
    return {
        "one stack": (1e6 * cpu_s / count, "us"),
        "sent back for one": (sent, "bytes"),
        "memory": (peak_mb(), "MB"),
    }


def samples(quick: bool) -> Figures:
    """A tolerance: an eight-layer anti-reflection coating laid down with errors."""
    from oxhue.optics.design.goal_reader import parse_goal
    from oxhue.optics.design.merit import make_merit
    from oxhue.optics.design.tolerance import DepositionErrors, simulate
    from oxhue.optics.films.notation import parse_medium, parse_stack

    palette = [parse_medium("SiO2"), parse_medium("TiO2")]
    merit = make_merit(parse_stack("glass"), palette, [parse_goal("R<1% 420..680nm")])
    design = np.array([0, 1] * 4), np.array([95.0, 110.0, 35.0, 15.0] * 2)
    count = 4_000 if quick else 400_000

    def run(pieces: int) -> float:
        begin = time.process_time()
        simulate(
            merit,
            *design,
            errors=DepositionErrors(2.0),
            samples=pieces,
            rng=np.random.default_rng(1),
            workers=1,
        )
        return time.process_time() - begin

    run(2_000)
    return {
        "one sample": (1e6 * run(count) / count, "us"),
        "sent with a chunk": (len(pickle.dumps((merit, design))) / 1e3, "kB"),
        "memory": (peak_mb(), "MB"),
    }


def readings(quick: bool) -> Figures:
    """Single readings of TiO2 on Ti with all doubts, thousands in one go."""
    from oxhue.optics.gauge import batch
    from oxhue.optics.inference.reading import parse_reading

    count = 1_000 if quick else 20_000
    rng = np.random.default_rng(1)
    colours = rng.uniform([30, -20, -40], [70, 30, 40], (count, 3))
    rows = [
        (str(i), parse_reading(f"{L:.2f} {a:.2f} {b:.2f}", "card"))
        for i, (L, a, b) in enumerate(colours)
    ]
    sizes: dict[str, float] = {}

    def weighed(work: Any, units: Any, **_: Any) -> Iterator[Any]:
        sizes["sent"] = len(pickle.dumps(work)) / 1e3
        return map(work, units)

    batch.map_parallel = weighed  # type: ignore[assignment]
    cpu_s = []
    for part in (rows[:300], rows[:300], rows):
        begin = time.process_time()
        found = batch.gauge_many(["TiO2"], "Ti", part)
        cpu_s.append(time.process_time() - begin)
    return {
        "tables, once a worker": (cpu_s[0] - cpu_s[1], "s"),
        "one reading": (1e6 * (cpu_s[2] - cpu_s[1]) / (count - 300), "us"),
        "sent with a chunk": (sizes["sent"], "kB"),
        "sent back for one": (len(pickle.dumps(found)) / count, "bytes"),
        "memory": (peak_mb(), "MB"),
    }


def lines(quick: bool) -> Figures:
    """Lines of a camera of 4,096 pixels across a web: TiO2 on Ti, every pixel its thickness."""
    from oxhue.optics.images.icc import SRGB
    from oxhue.optics.images.image import Codes
    from oxhue.optics.inference.uncertainty import DEFAULTS
    from oxhue.optics.look.look import look
    from oxhue.optics.thickness_map.thickness_map import map_thickness

    width, few, many = 4_096, 64, 128 if quick else 2_048
    ramp = 255.0 * look("TiO2 0..120nm step 0.1nm / Ti").reflected.srgb
    across = np.rint(10.0 * np.linspace(20.0, 110.0, width)).astype(int)
    noise = np.random.default_rng(1).normal(0.0, 2.0, (many, width, 3))
    picture = np.clip(np.rint(ramp[across] + noise), 0, 255).astype(np.uint8)

    def run(rows: int) -> float:
        codes = Codes(picture[:rows], np.ones((rows, width), dtype=bool), SRGB, ())
        begin = time.process_time()
        with limit_to_one_thread():
            map_thickness(codes, ["TiO2"], "Ti", doubts=DEFAULTS["card"])
        return time.process_time() - begin

    run(few)
    block, blocks = run(few), run(many)
    return {
        f"a block of {few} lines by itself": (block, "s"),
        "one line more in a block": (1e3 * (blocks - block) / (many - few), "ms"),
        "pixels in": (3.0 * width / 1e3, "kB a line"),
        "thickness, interval and order out": (13.0 * width / 1e3, "kB a line"),
        "memory": (peak_mb(), "MB"),
    }


def spots(quick: bool) -> Figures:
    """Spots of one piece in one photo, read together."""
    from oxhue.optics.gauge.joint.piece import gauge_one_piece
    from oxhue.optics.inference.reading import parse_reading
    from oxhue.optics.look.look import look

    count = 6 if quick else _SPOTS
    rng = np.random.default_rng(1)
    lab = look("TiO2 20..110nm step 1nm / Ti").reflected.lab
    some = lab[np.linspace(0, len(lab) - 1, count).astype(int)] + rng.normal(0.0, 1.5, (count, 3))
    rows = [(str(i), parse_reading(f"{L:.2f} {a:.2f} {b:.2f}", "photo")) for i, (L, a, b) in
            enumerate(some)]  # fmt: skip
    gauge_one_piece(["TiO2"], "Ti", rows)
    begin = time.process_time()
    gauge_one_piece(["TiO2"], "Ti", rows, seed=2)
    return {
        f"one piece of {count} spots": (time.process_time() - begin, "s"),
        "memory": (peak_mb(), "MB"),
    }


def travel(quick: bool) -> Figures:
    """Sending chunks about: what each costs the process that gives them away, and starting."""
    count = 60 if quick else 1_500
    room.TRIAL_S, room._LEAST_S, room.CHUNK_S = 1e-9, 1e-9, 1e-9
    room.START_S = dict.fromkeys(room.START_S, 0.0)
    found: Figures = {}
    for name, kind in (("a thread", "threads"), ("a process", "processes")):
        run = partial(map_parallel, abs, range(count), kind=kind, workers=2)
        first, (clock_s, cpu_s) = _timed(run)[0], _timed(run)
        found[f"to {name}, clock"] = (1e3 * clock_s / count, "ms")
        found[f"to {name}, processor of the giver"] = (1e3 * cpu_s / count, "ms")
        if kind == "processes":
            found["starting two processes, clock"] = (first - clock_s, "s")
    with _two_dask_workers() as address, on_cluster(address, 30.0):
        run = partial(map_parallel, abs, range(count))
        _timed(run)
        clock_s, cpu_s = _timed(run)
    found["to a Dask worker, clock"] = (1e3 * clock_s / count, "ms")
    found["to a Dask worker, giver and scheduler"] = (1e3 * cpu_s / count, "ms")
    return found


def _timed(run: Callable[[], Iterator[Any]]) -> tuple[float, float]:
    clock, cpu = time.perf_counter(), time.process_time()
    assert sum(1 for _ in run()) > 0
    return time.perf_counter() - clock, time.process_time() - cpu


@contextmanager
def _two_dask_workers() -> Iterator[str]:
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None
    ) as cluster:
        yield cluster.scheduler_address


def shared(quick: bool) -> Figures:
    """A tolerance by one worker and by two processes: what sharing the work adds to it."""
    from oxhue.optics.design import tolerance
    from oxhue.optics.design.goal_reader import parse_goal
    from oxhue.optics.design.merit import make_merit
    from oxhue.optics.films.notation import parse_medium, parse_stack

    palette = [parse_medium("SiO2"), parse_medium("TiO2")]
    merit = make_merit(parse_stack("glass"), palette, [parse_goal("R<1% 420..680nm")])
    design = np.array([0, 1] * 4), np.array([95.0, 110.0, 35.0, 15.0] * 2)
    errors, count = tolerance.DepositionErrors(2.0), 20_000 if quick else 600_000
    root = room.rng_root(np.random.default_rng(1))
    work = partial(_costing, partial(tolerance._meet_goals, merit, *design, errors, count, root))
    units = range(count // 2_000)
    list(map_parallel(work, units[:8], kind="processes", workers=2))  # the processes are started
    begin = time.perf_counter()
    alone = list(map_parallel(work, units, workers=1))
    middle = time.perf_counter()
    together = list(map_parallel(work, units, kind="processes", workers=2))
    end = time.perf_counter()
    assert all(np.array_equal(one[0], other[0]) for one, other in zip(alone, together, strict=True))
    cost = [sum(took for _, took in results) for results in (alone, together)]
    return {
        "processor, two processes over one worker": (cost[1] / cost[0], "x"),
        "clock, one worker over two processes": ((middle - begin) / (end - middle), "x"),
    }


def _costing(work: Callable[[int], Any], unit: int) -> tuple[Any, float]:
    begin = time.process_time()
    return work(unit), time.process_time() - begin


JOBS = {
    "stacks": stacks, "samples": samples, "readings": readings, "lines": lines, "spots": spots,
    "travel": travel, "shared": shared,
}  # fmt: skip


def main(arguments: list[str] | None = None) -> None:
    """Print one table of all figures."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.scale", description=__doc__)
    parser.add_argument("--job", choices=JOBS, action="append")
    parser.add_argument("--quick", action="store_true", help="toy sizes, to see that it runs")
    parser.add_argument("--bare", choices=JOBS, help=argparse.SUPPRESS)
    asked = parser.parse_args(arguments)
    if asked.bare:
        print(json.dumps(JOBS[asked.bare](asked.quick)))
        return
    alone = os.environ | {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}  # as workers are
    print("| job | figure | measured |\n|---|---|---|")
    for name in asked.job or JOBS:
        size = ["--quick"] if asked.quick else []
        command = [sys.executable, "-m", "benchmarks.scale", "--bare", name, *size]
        done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True, env=alone)
        for figure, (value, unit) in json.loads(done.stdout).items():
            print(f"| {name} | {figure} | {value:.3g} {unit} |", flush=True)


if __name__ == "__main__":
    main()
