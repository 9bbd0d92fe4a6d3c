"""Single jobs timed in a process of their own, so that nothing is warm and memory is theirs.

    python -m benchmarks.jobruns gauge|map|sweep SIZE

prints one JSON object: seconds by the clock on the wall (``_s``) or of the processor (``cpu_s``,
single readings, sweeps), and megabytes.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

import numpy as np


def gauge(count: int) -> dict[str, float]:
    """Tables of TiO2 on Ti with all doubts; one reading after them; many readings."""
    from oxhue.optics.gauge.batch import gauge_many
    from oxhue.optics.gauge.gauge import gauge as gauge_job
    from oxhue.optics.inference.likelihood import tables_for
    from oxhue.optics.inference.question import FilmQuestion
    from oxhue.optics.inference.reading import parse_reading

    rng = np.random.default_rng(1)
    readings = [
        (str(i), parse_reading(f"{L:.2f} {a:.2f} {b:.2f}", "card"))
        for i, (L, a, b) in enumerate(rng.uniform([30, -20, -40], [70, 30, 40], (count, 3)))
    ]
    warm = parse_reading("#6a3fa0", "card")
    gauge_job(["SiO2"], "Si", [warm])  # imports and caches that are no part of the table
    begin, busy = time.perf_counter(), time.process_time()
    tables_for(FilmQuestion(("TiO2",), "Ti"), [warm])
    table_s, table_cpu_s = time.perf_counter() - begin, time.process_time() - busy
    gauge_job(["TiO2"], "Ti", [warm])
    # One reading alone, candidates and fit included, without the advice on the next look.
    singles = []
    for _, reading in readings[:50]:
        begin = time.process_time()
        gauge_many(["TiO2"], "Ti", [("", reading)])
        singles.append(time.process_time() - begin)
    alone = []
    for _, reading in readings[:50]:
        begin = time.process_time()
        gauge_job(["TiO2"], "Ti", [reading])
        alone.append(time.process_time() - begin)
    begin = time.perf_counter()
    gauge_many(["TiO2"], "Ti", readings)
    many_s = time.perf_counter() - begin
    return {
        "table_s": table_s, "table_cpu_s": table_cpu_s, "one_s": float(np.median(singles)),
        "alone_s": float(np.median(alone)), "many_s": many_s,
    }  # fmt: skip


def map_(pixels: int) -> dict[str, float]:
    """A map of a rendered plate; the worst error of its middle tells that it was mapped."""
    from oxhue.optics.images.icc import SRGB
    from oxhue.optics.images.image import Codes
    from oxhue.optics.inference.uncertainty import DEFAULTS
    from oxhue.optics.look.look import look
    from oxhue.optics.thickness_map.thickness_map import map_thickness

    height = round((pixels * 0.75) ** 0.5)
    width = pixels // height
    ramp = np.rint(255.0 * look("TiO2 0..120nm step 0.1nm / Ti").reflected.srgb).astype(np.uint8)
    nm = np.linspace(20.0, 110.0, width)
    values = np.repeat(ramp[np.rint(10.0 * nm).astype(int)][None], height, axis=0)
    codes = Codes(values, np.ones((height, width), dtype=bool), SRGB, ())
    small = Codes(values[:16, :16], codes.valid[:16, :16], SRGB, ())
    map_thickness(small, ["SiO2"], "Si", doubts=DEFAULTS["card"])  # imports, and the light's tables
    before = peak_mb()
    begin, busy = time.perf_counter(), time.process_time()
    field = map_thickness(codes, ["TiO2"], "Ti", doubts=DEFAULTS["card"])
    seconds, cpu_s = time.perf_counter() - begin, time.process_time() - busy
    error = float(np.nanmedian(np.abs(field.median_nm[0] - nm)))
    peak = peak_mb()
    read, written = values.reshape(-1), np.empty(13 * height * width, dtype=np.uint8)
    copies = [_copy_s(read, written) for _ in range(7)]
    return {
        "seconds": seconds, "cpu_s": cpu_s, "peak_mb": peak, "before_mb": before, "error_nm": error,
        "copy_s": float(np.median(copies[2:])), "pixels": float(height * width),
    }  # fmt: skip


def _copy_s(read: np.ndarray, written: np.ndarray) -> float:
    """Time to move as many bytes as a map reads (3 a pixel) and writes (13)."""
    begin = time.perf_counter()
    for start in range(0, written.size, read.size):
        part = written[start : start + read.size]
        np.copyto(part, read[: part.size])
    return time.perf_counter() - begin


def sweep(points: int) -> dict[str, float]:
    """Colours of a long sweep."""
    from oxhue.optics.look.look import look

    look("TiO2 0..1nm / Ti")
    before = peak_mb()
    begin = time.process_time()
    seen = look(f"TiO2 0..{0.001 * (points - 1):.3f}nm step 0.001nm / Ti")
    seconds = time.process_time() - begin
    assert seen.reflected.lab.shape == (points, 3)
    return {"seconds": seconds, "peak_mb": peak_mb(), "before_mb": before}


def peak_mb() -> float:
    """The most memory this process has held [MB]; none where the system does not say."""
    status = Path("/proc/self/status")
    if status.exists():  # the other way counts what the parent held when it started us
        line = next(x for x in status.read_text().splitlines() if x.startswith("VmHWM"))
        return int(line.split()[1]) * 1024 / 1e6
    try:
        import resource
    except ImportError:  # no such figure on Windows
        return float("nan")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / 1e6 if sys.platform == "darwin" else peak * 1024 / 1e6


if __name__ == "__main__":
    JOBS = {"gauge": gauge, "map": map_, "sweep": sweep}
    print(json.dumps(JOBS[sys.argv[1]](int(sys.argv[2]))))
