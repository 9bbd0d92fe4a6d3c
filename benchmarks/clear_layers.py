"""Films with a clear layer over or under them that nobody stated: how often do 90 % ranges hold?

Run as ``python -m benchmarks.clear_layers``; ``--draws`` sets the films of each place and way, and
``--write`` keeps the rows in ``clear_layers.md``. Titanium dioxide on titanium, 5 to 245 nm, with a
layer of constant index 1.43 to 1.60 and 10 to 120 nm; each film is read twice by the same colour:
as if there were no such layer, and with the question asked. The alarm is that of
``benchmarks.worlds``.
"""

from __future__ import annotations

import argparse
from functools import partial
from pathlib import Path

import numpy as np

from benchmarks.drawn import draw_films
from benchmarks.results import keep_row
from benchmarks.worlds import (
    BETWEEN_NM,
    FALSE_ALARMS,
    INDEX_SPREAD,
    WORLDS,
    as_readings,
    gauge_world,
    holds,
    take_readings,
)
from oxhue.optics._typing import FloatArray
from oxhue.optics.films.engine.transfer_matrix import solve_arrays
from oxhue.optics.films.spectra import DEFAULT_WAVELENGTH_NM
from oxhue.optics.gauge.batch import gauge_many
from oxhue.optics.gauge.result import RowEstimate
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.uncertainty import DEFAULTS

TABLE = Path(__file__).with_suffix(".md")
PLACES = ("over", "under")
_CLEAR_INDEX, _CLEAR_NM = (1.43, 1.60), (10.0, 120.0)
_W = DEFAULT_WAVELENGTH_NM


def draw(place: str, how: str, count: int, seed: int) -> tuple[FloatArray, FloatArray]:
    """True thicknesses (K,) of the films and CIELAB (K, 3) as read."""
    rng = np.random.default_rng([seed, PLACES.index(place), list(DEFAULTS).index(how)])
    doubts, pairs = DEFAULTS[how], list_film_models(("TiO2",), "Ti")
    drawn = draw_films(pairs, BETWEEN_NM, INDEX_SPREAD, count=count, rng=rng)
    film = np.array([pairs[j].film.nk(_W) for j in drawn.pair])
    film *= 1.0 + drawn.index_error[:, None]
    metal = np.array([pairs[j].substrate.nk(_W) for j in drawn.pair])
    clear = np.ones_like(film) * rng.uniform(*_CLEAR_INDEX, (count, 1))
    layers = [(film, drawn.thickness_nm), (clear, rng.uniform(*_CLEAR_NM, count))]
    if place == "over":
        layers.reverse()
    index = np.stack([np.ones_like(film), *(own for own, _ in layers), metal], axis=1)
    thickness = np.stack([nm for _, nm in layers], axis=1)
    angle = rng.uniform(doubts.angle_low_deg, doubts.angle_high_deg, count)
    share = solve_arrays(index, thickness, _W, angle).R
    return drawn.thickness_nm, take_readings(WORLDS[0], share, doubts, rng)


def gauge_layered(how: str, lab: FloatArray, clear_layer: str | None) -> list[RowEstimate]:
    """Estimates of readings, with the question of a clear layer or without."""
    readings = as_readings(lab, how)
    return list(gauge_many("TiO2", "Ti", readings, clear_layer=clear_layer).readings)


HEADER = [
    "# Clear layers that nobody stated",
    "",
    "TiO2 on Ti, a layer of index 1.43 to 1.60 and 10 to 120 nm. Held within the 90 % region "
    "without and with the question asked; of those that do not hold without it, flagged at 2 % "
    "false alarms. `python -m benchmarks.clear_layers --write`",
    "",
    "| layer and reading | films | held, not asked | held, asked | flagged |",
    "|---|---|---|---|---|",
]


def line_of(place: str, how: str, count: int, seed: int) -> str:
    """One row of the table."""
    truth, lab = draw(place, how, count, seed)
    plain, asked = (gauge_layered(how, lab, layer) for layer in (None, place))
    usual = [row.plain_p for row in gauge_world(WORLDS[0], how, count, seed=seed)[1]]
    alarm = float(np.quantile(usual, FALSE_ALARMS))
    held = np.array([holds(row, nm) for row, nm in zip(plain, truth, strict=True)])
    known = np.array([holds(row, nm) for row, nm in zip(asked, truth, strict=True)])
    p = np.array([row.plain_p for row in plain])
    flagged = f"{np.mean(p[~held] <= alarm):.2f}" if not held.all() else "–"
    return (
        f"| {place} the film, {how} | {count} | {held.mean():.2f} | {known.mean():.2f} "
        f"| {flagged} |"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    print("\n".join(HEADER), flush=True)
    row = partial(line_of, count=asked.draws, seed=asked.seed)
    for place in PLACES:
        for how in ("instrument", "card"):
            line = row(place, how)
            print(line, flush=True)
            if asked.write:
                keep_row(TABLE, HEADER, line)


if __name__ == "__main__":
    main()
