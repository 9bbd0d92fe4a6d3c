"""Spots of one piece read together, on real surfaces and by real cameras: do 90 % intervals hold?

Run as ``python -m benchmarks.piece_worlds``; ``--draws`` sets the pieces of each world, ``--only``
picks worlds, ``--keep FILE`` keeps every piece so that a run cut short goes on (pieces kept are not
read again, so each state of the program needs a file of its own), and ``--write`` renews
``piece_worlds.md``. The worlds are those of ``benchmarks.worlds``, met once by a whole piece: nine
spots of a gradient of titanium dioxide on titanium, in one photo without a card, given from thin to
thick. A share of spots is of all spots of all pieces, its doubt that of the pieces.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path

import numpy as np

from benchmarks.results import keep_result, keep_row, read_kept
from benchmarks.worlds import (
    WORLDS,
    Films,
    World,
    as_readings,
    draw_media,
    draw_run,
    light_of_piece,
    take_picture,
)
from oxhue.cli.options import show_progress
from oxhue.optics._typing import FloatArray
from oxhue.optics.gauge.joint.piece import gauge_one_piece
from oxhue.optics.inference.uncertainty import DEFAULTS
from oxhue.optics.numerics.parallel import Report, ignore_progress, map_parallel

TABLE = Path(__file__).with_suffix(".md")
SPOTS = 9
RISE = 0.06


RISING = World("index rising 6 % along the piece")
PIECE_WORLDS = (*WORLDS, RISING)


@dataclass(frozen=True)
class Outcome:
    """What came of one piece: spots held, median half width [nm], whether the runs agreed."""

    held: float
    half_width_nm: float
    converged: float
    fits: float
    seconds: float


def draw_row(
    world: World, film: str, how: str, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """True thicknesses (P,) and CIELAB (P, 3) of the spots of one piece in one picture."""
    doubts = DEFAULTS[how]
    media = draw_media(film, rng)
    films = Films.alike(*media, draw_run(SPOTS, rng))
    own = int(rng.integers(1 << 32))
    if world is RISING:
        _raise_index(films)
    angle = rng.uniform(doubts.angle_low_deg, doubts.angle_high_deg)
    lab = take_picture(world, light_of_piece(world, films, angle, own), doubts, rng)
    noise = doubts.noise_de / np.sqrt(3.0)
    return films.thickness_nm, lab + noise * rng.standard_normal(lab.shape)


def _raise_index(films: Films) -> None:
    """An index that rises by 6 % from the thin end to the thick, as where one end was hotter."""
    part = np.linspace(-0.5, 0.5, len(films.film))
    films.film = films.film * (1.0 + RISE * part[:, None])


def gauge_piece(world: World, film: str, how: str, seed: int, i: int) -> list[float]:
    """Piece number i of a world, drawn and read; the fields of `Outcome`."""
    rng = np.random.default_rng([seed, PIECE_WORLDS.index(world), i])
    truth, lab = draw_row(world, film, how, rng)
    readings = as_readings(lab, how)
    begun = time.process_time()
    found = gauge_one_piece(film, "Ti", readings, rising=True, seed=i)
    spent = time.process_time() - begun
    low, high = found.joint.interval90_nm.T
    fits = float(np.mean([row.fits for row in found.readings]))
    held = float(np.mean((low <= truth) & (truth <= high)))
    return [held, 0.5 * float(np.median(high - low)), float(found.converged), fits, spent]


HEADER = [
    "# Spots of one piece read together, on real surfaces",
    "",
    "Nine spots of a gradient of TiO2 on Ti, one photo without a card, given from thin to thick. "
    "Share of spots whose 90 % interval holds the truth, with its standard error over the pieces; "
    "pieces with under half of their spots held; median half width in nm; spots that fit; pieces "
    "whose two runs agreed; processor time; the day of the count, for rows may be of different "
    "states of the program. `python -m benchmarks.piece_worlds --write`",
    "",
    "| world and film | pieces | held | ± | under half | half width | fit | agreed | s | counted |",
    "|---|---|---|---|---|---|---|---|---|---|",
]


def line_of(name: str, rows: list[Outcome]) -> str:
    """One row of the table."""
    held = np.array([row.held for row in rows])
    half = np.median([row.half_width_nm for row in rows])
    fits, agreed = (np.mean([getattr(row, key) for row in rows]) for key in ("fits", "converged"))
    return (
        f"| {name} | {len(rows)} | {held.mean():.2f} | {held.std() / np.sqrt(len(rows)):.2f} "
        f"| {np.mean(held < 0.5):.2f} | {half:.1f} | {fits:.2f} | {agreed:.2f} "
        f"| {np.median([row.seconds for row in rows]):.1f} | {date.today().isoformat()} |"
    )


def run_world(
    world: World,
    film: str,
    draws: int,
    *,
    how: str = "photo",
    seed: int = 1,
    keep: Path | None = None,
    report: Report = ignore_progress,
) -> list[Outcome]:
    """Every piece of a world; those kept are not run again."""
    own = {"world": world.name, "film": film, "how": how, "seed": seed}
    rows = {
        one["piece"]: Outcome(*one["found"])
        for one in (read_kept(keep) if keep else [])
        if own.items() <= one.items()
    }
    left = [i for i in range(draws) if i not in rows]
    one = partial(gauge_piece, world, film, how, seed)
    for i, found in zip(left, map_parallel(one, left, report=report), strict=True):
        rows[i] = Outcome(*found)
        if keep:
            keep_result(keep, own | {"piece": i, "found": found})
    return [rows[i] for i in range(draws)]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--film", default="TiO2")
    parser.add_argument("--how", choices=("photo", "card", "instrument"), default="photo")
    parser.add_argument("--only", nargs="+", default=[""], help="worlds whose name holds one of")
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    print("\n".join(HEADER), flush=True)
    for world in (one for one in PIECE_WORLDS if any(part in one.name for part in asked.only)):
        with show_progress(world.name, None) as tell:
            rows = run_world(
                world, asked.film, asked.draws,
                how=asked.how, seed=asked.seed, keep=asked.keep, report=tell,
            )  # fmt: skip
        line = line_of(f"{world.name}, {asked.film}, {asked.how}", rows)
        print(line, flush=True)
        if asked.write:
            keep_row(TABLE, HEADER, line)


if __name__ == "__main__":
    main()
