"""Photos of whole pieces on real surfaces, mapped: how many pixels hold within their 90 % interval?

Run as ``python -m benchmarks.map_worlds``; ``--draws`` sets the photos of each world and way,
``--only`` picks worlds, and ``--write`` keeps the rows in ``map_worlds.md``. The worlds are those
of ``benchmarks.worlds``, met once by a whole piece of titanium dioxide on titanium whose thickness
runs along it and changes a little across; pixels have noise of their own, and codes of eight bits.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from benchmarks.results import keep_row
from benchmarks.worlds import (
    WORLDS,
    Films,
    World,
    draw_media,
    draw_run,
    light_of_piece,
    take_picture,
)
from oxhue.cli.options import show_progress
from oxhue.optics._typing import FloatArray
from oxhue.optics.colour.spaces import (
    SRGB_WHITE_XYZ,
    lab_to_xyz,
    srgb_encode,
    xyz_to_srgb_linear,
)
from oxhue.optics.images.icc import SRGB
from oxhue.optics.images.image import Codes
from oxhue.optics.inference.uncertainty import DEFAULTS
from oxhue.optics.numerics.parallel import map_parallel
from oxhue.optics.thickness_map.thickness_map import map_thickness

TABLE = Path(__file__).with_suffix(".md")
WIDTH, HEIGHT = 192, 96
FAR_NM = 40.0
_ALONG = 96  # thicknesses that are computed; pixels lie between
_NOISE = 0.01  # of a pixel's code


@dataclass(frozen=True)
class Outcome:
    """Of one photo: pixels held, further off than 40 nm, and shown; median half width [nm]."""

    held: float
    far: float
    shown: float
    half_width_nm: float
    seconds: float


def photograph(world: World, how: str, rng: np.random.Generator) -> tuple[FloatArray, Codes]:
    """True thickness (H, W) [nm] and the picture as a camera stores it."""
    along = draw_run(WIDTH, rng)
    across = rng.uniform(0.0, 0.08) * np.linspace(-1.0, 1.0, HEIGHT)[:, None]
    truth = along * (1.0 + across)
    nm = np.linspace(truth.min(), truth.max(), _ALONG)
    lab = _seen(world, how, nm, rng)
    linear = xyz_to_srgb_linear(lab_to_xyz(lab, SRGB_WHITE_XYZ), SRGB_WHITE_XYZ)
    code = srgb_encode(np.clip(linear, 0.0, 1.0))
    flat = np.stack([np.interp(truth, nm, channel) for channel in code.T], axis=-1)
    flat += _NOISE * rng.standard_normal(flat.shape)
    values = np.clip(np.rint(255.0 * flat), 0, 255).astype(np.uint8)
    return truth, Codes(values, np.ones(truth.shape, dtype=bool), SRGB, ())


def _seen(world: World, how: str, nm: FloatArray, rng: np.random.Generator) -> FloatArray:
    """CIELAB (K, 3) of thicknesses (K,) of one piece in one picture."""
    doubts = DEFAULTS[how]
    own = int(rng.integers(1 << 32))
    films = Films.alike(*draw_media("TiO2", rng), nm)
    angle = rng.uniform(doubts.angle_low_deg, doubts.angle_high_deg)
    return take_picture(world, light_of_piece(world, films, angle, own), doubts, rng)


def map_one(world: World, how: str, seed: int, i: int) -> Outcome:
    """Photo number i of a world, taken and mapped."""
    rng = np.random.default_rng([seed, WORLDS.index(world), i])
    truth, codes = photograph(world, how, rng)
    begun = time.process_time()
    field = map_thickness(codes, "TiO2", "Ti", doubts=DEFAULTS[how])
    spent = time.process_time() - begun
    shown = field.order > 0
    held = (field.low_nm <= truth) & (truth <= field.high_nm)
    far = np.abs(field.median_nm - truth) > FAR_NM
    width = field.high_nm - field.low_nm
    return Outcome(
        float(held[shown].mean()), float(far[shown].mean()), float(shown.mean()),
        0.5 * float(np.median(width[shown])), spent,
    )  # fmt: skip


HEADER = [
    "# Maps of pieces on real surfaces",
    "",
    f"TiO2 on Ti, {WIDTH} × {HEIGHT} pixels, seed 1. Of the pixels with a thickness: held in their "
    "90 % interval, with the standard error over the photos; further off than 40 nm. Photos with "
    "under half held; pixels with a thickness; half width in nm; processor time. "
    "`python -m benchmarks.map_worlds --write`",
    "",
    "| world and reading | photos | held | ± | under half | far off | shown | half width | s |",
    "|---|---|---|---|---|---|---|---|---|",
]


def line_of(name: str, rows: list[Outcome]) -> str:
    """One row of the table."""
    held = np.array([row.held for row in rows])
    far, shown = (np.mean([getattr(row, key) for row in rows]) for key in ("far", "shown"))
    return (
        f"| {name} | {len(rows)} | {held.mean():.2f} | {held.std() / np.sqrt(len(rows)):.2f} "
        f"| {np.mean(held < 0.5):.2f} | {far:.2f} | {shown:.2f} "
        f"| {np.median([row.half_width_nm for row in rows]):.1f} "
        f"| {np.median([row.seconds for row in rows]):.2f} |"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="worlds whose name holds this")
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    print("\n".join(HEADER), flush=True)
    for world in (one for one in WORLDS if asked.only in one.name):
        for how in ("card", "photo"):
            with show_progress(world.name, None) as tell:
                one = partial(map_one, world, how, asked.seed)
                rows = list(map_parallel(one, list(range(asked.draws)), report=tell))
            line = line_of(f"{world.name}, {how}", rows)
            print(line, flush=True)
            if asked.write:
                keep_row(TABLE, HEADER, line)


if __name__ == "__main__":
    main()
