"""Spots of one photo read together: do 90 % intervals hold, and how narrow are they?

Run as ``python -m benchmarks.rainbow``; ``--draws`` sets the pieces of each case, ``--case`` picks
one, ``--log FILE`` keeps every piece so that a run cut short goes on, and ``--write`` keeps each
row. Single readings of the first pieces' spots are gauged beside.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
from scipy.stats import chi2

from oxhue.cli.options import show_progress
from oxhue.optics._typing import FloatArray
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.gauge.joint import gauge as rainbow
from oxhue.optics.gauge.joint.model import CORRELATION_NM, LEAST_WIDTH, MOST_SHARED, UNEVEN
from oxhue.optics.inference.colour_table import build_table
from oxhue.optics.inference.hypotheses import FilmModel, list_film_models
from oxhue.optics.inference.posterior import Prior
from oxhue.optics.inference.simulate import SampledFilms, film_xyz, seen_lab
from oxhue.optics.inference.uncertainty import DEFAULTS, Uncertainty
from oxhue.optics.numerics.density import quantiles
from oxhue.optics.numerics.parallel import Report, ignore_progress, map_parallel

from .results import keep_row

TABLE = Path(__file__).with_suffix(".md")
BETWEEN_NM = (0.0, 250.0)
VIEWING = ViewingConditions()
LEVELS = np.array([0.05, 0.95])


@dataclass(frozen=True)
class Case:
    """A kind of world. ``share`` is the common part of the discrepancy, None for any.

    ``shape`` is how thickness runs over the piece: ``scattered`` is what the model assumes, the
    others are gradients. ``held_out`` makes the world with a data set the model is not given.
    ``in_a_row`` says that the spots of a gradient are given as such.
    """

    film: str = "TiO2"
    on: str = "Ti"
    how: str = "photo"
    shape: str = "any"
    share: float | None = None
    held_out: bool = False
    rising: bool = False
    offset: bool = False
    in_a_row: bool = False
    spots: int = 48


ROW = Case(in_a_row=True, spots=192)
CASES = {
    "row": ROW,
    "row, as the model": replace(ROW, shape="sorted"),
    "row, amorphous": replace(ROW, film="TiO2(amorphous)"),
    "row, common": replace(ROW, share=1.0),
    "row, held out": replace(ROW, share=0.0, held_out=True),
    "model": Case(shape="scattered"),
    "gradients": Case(),
    "amorphous": Case(film="TiO2(amorphous)"),
    "own": Case(share=0.0),
    "common": Case(share=1.0),
    "offset": Case(share=1.0, offset=True),
    "held out": Case(share=0.0, held_out=True),
    "held out, amorphous": Case(film="TiO2(amorphous)", share=0.0, held_out=True),
    "rising": Case(rising=True),
    "nine in order, as the model": Case(shape="sorted", rising=True, spots=9),
    "card": Case(how="card"),
    "twelve spots": Case(spots=12),
}


@dataclass(frozen=True)
class Piece:
    """A simulated piece: readings (P, 3), true thicknesses (P,) and pair of data sets."""

    lab: FloatArray
    thickness_nm: FloatArray
    pair: int


def draw_piece(
    pairs: tuple[FilmModel, ...], doubts: Uncertainty, case: Case, rng: np.random.Generator
) -> Piece:
    """One piece in one photo: the shared unknowns once, scatter for every spot.

    Colours come from the transfer matrix and drawn values, not from the model's tables.
    """
    weight = np.array([pair.weight for pair in pairs])
    j = int(rng.choice(len(pairs), p=weight / weight.sum()))
    error = doubts.index_spread * rng.standard_normal()
    d = _thicknesses(case.shape, case.spots, rng)
    angle = rng.uniform(doubts.angle_low_deg, doubts.angle_high_deg)
    films = SampledFilms(np.full(d.size, j), d, np.full(d.size, error))
    xyz = film_xyz(films, pairs, np.full(d.size, angle), viewing=VIEWING)
    gain = float(np.exp(doubts.gain * rng.standard_normal()))
    lab = seen_lab(xyz, np.full(d.size, rng.uniform(0.0, doubts.glare)), VIEWING, exposure=gain)
    lab[:, 1:] += doubts.white_balance_de / np.sqrt(2.0) * rng.standard_normal(2)
    share = rng.uniform(0.0, MOST_SHARED) if case.share is None else case.share
    # A held-out data set is the discrepancy itself.
    total = 0.0 if case.held_out else doubts.discrepancy_de**2
    path = pairs[j].film.nk(550.0).real * d * (1.0 + error)
    lab += np.sqrt(share * total / 3.0) * _common(path, case.offset, rng)
    own = np.sqrt((doubts.noise_de**2 + (1.0 - share) * total) / 3.0)
    return Piece(lab + own * rng.standard_normal(lab.shape), d, j)


def _thicknesses(shape: str, count: int, rng: np.random.Generator) -> FloatArray:
    low, high = BETWEEN_NM
    if shape in ("scattered", "sorted"):
        width = (high - low) * (LEAST_WIDTH + (1.0 - LEAST_WIDTH) * (1.0 - np.sqrt(rng.random())))
        start = low + (high - low - width) * rng.random()
        d = start + width * _unevenly(count, rng)
        return np.sort(d) if shape == "sorted" else d
    start, end = rng.uniform(5.0, 40.0), rng.uniform(90.0, 220.0)
    x = np.linspace(0.0, 1.0, count)
    if rng.random() < 0.5:
        run = x ** np.exp(rng.uniform(-1.0, 1.0))
    else:
        run = x + rng.uniform(0.03, 0.14) * np.sin(2.0 * np.pi * (x + rng.random()))
        run = (run - run[0]) / (run[-1] - run[0])
    return np.clip(start + (end - start) * run, low, high)


def _unevenly(count: int, rng: np.random.Generator) -> FloatArray:
    """Parts from 0 to 1, as unevenly spread as the model takes them to be."""
    part = np.linspace(0.0, 1.0, 2_001)
    swing = UNEVEN * rng.standard_normal(UNEVEN.size)
    density = np.exp(np.cos(np.pi * np.outer(part, np.arange(1, UNEVEN.size + 1))) @ swing)
    below = np.concatenate([[0.0], np.cumsum(density[1:] + density[:-1])])
    return np.interp(rng.random(count) * below[-1], below, part)


def _common(path_nm: FloatArray, offset: bool, rng: np.random.Generator) -> FloatArray:
    if offset:
        return np.ones((path_nm.size, 1)) * rng.standard_normal(3)
    like = np.exp(-0.5 * ((path_nm[:, None] - path_nm) / CORRELATION_NM) ** 2)
    root = np.linalg.cholesky(like + 1e-9 * np.eye(path_nm.size))
    return root @ rng.standard_normal((path_nm.size, 3))


def single_intervals(
    pairs: tuple[FilmModel, ...], doubts: Uncertainty, lab: FloatArray
) -> FloatArray:
    """90 % intervals (P, 2) of the same spots, each read alone."""
    table = build_table(pairs, BETWEEN_NM, doubts=doubts, viewing=VIEWING)
    prior = Prior.of(pairs, BETWEEN_NM, table.doubts.index_spread)
    parts = [prior.film_density(table.log_likelihood(one[None]))[0] for one in lab]
    return quantiles(prior.thickness_nm, np.concatenate(parts).sum(axis=1), LEVELS)


def without(pairs: tuple[FilmModel, ...], j: int) -> tuple[FilmModel, ...]:
    """The pairs that share neither data set with pair j, weights of each film kept.

    A film hypothesis with a single data set loses only the substrate's.
    """
    gone = pairs[j]
    left = [p for p in pairs if p.base is not gone.base]
    kept = [p for p in left if p.film is not gone.film]
    if all(p.film_name != gone.film_name for p in kept):
        kept = left
    sums = {name: sum(p.weight for p in pairs if p.film_name == name) for name in _names(pairs)}
    mine = {name: sum(p.weight for p in kept if p.film_name == name) for name in _names(kept)}
    return tuple(replace(p, weight=p.weight * sums[p.film_name] / mine[p.film_name]) for p in kept)


def _names(pairs: tuple[FilmModel, ...] | list[FilmModel]) -> set[str]:
    return {pair.film_name for pair in pairs}


@dataclass(frozen=True)
class Outcome:
    """What came of one piece; medians over its spots, ``rank`` of one of them."""

    covered: float
    width_nm: float
    error_nm: float
    bias_nm: float
    rank: float
    converged: float
    seconds: float
    alone_covered: float
    alone_width_nm: float


def outcome(case: Case, seed: int, i: int, single: bool) -> Outcome:
    """Piece number i of a case, simulated and gauged."""
    doubts, pairs = DEFAULTS[case.how], list_film_models((case.film,), case.on)
    rng = np.random.default_rng([seed, i])
    piece = draw_piece(pairs, doubts, case, rng)
    known = without(pairs, piece.pair) if case.held_out else pairs
    begun = time.process_time()
    estimate = rainbow.gauge_pairs(
        known,
        piece.lab,
        doubts,
        between_nm=BETWEEN_NM,
        viewing=VIEWING,
        rising=case.rising,
        seed=i,
        in_a_row=case.in_a_row,
    )
    seconds = time.process_time() - begun
    covered, width = _held(estimate.interval90_nm, piece.thickness_nm)
    off = estimate.thickness_nm - piece.thickness_nm
    spot = int(rng.integers(case.spots))
    below = np.cumsum(estimate.density[spot]) * (estimate.grid_nm[1] - estimate.grid_nm[0])
    rank = float(np.interp(piece.thickness_nm[spot], estimate.grid_nm, below))
    alone = (np.nan, np.nan)
    if single:
        alone = _held(single_intervals(known, doubts, piece.lab), piece.thickness_nm)
    middle, bias = float(np.median(np.abs(off))), float(np.median(off))
    return Outcome(covered, width, middle, bias, rank, estimate.converged, seconds, *alone)


def _held(interval_nm: FloatArray, truth_nm: FloatArray) -> tuple[float, float]:
    low, high = interval_nm.T
    covered = np.mean((low <= truth_nm) & (truth_nm <= high))
    return float(covered), float(np.median(high - low))


HEADER = [
    "# Spots of one photo read together",
    "",
    "Simulated pieces, all doubts of a photo without a card (of one with a card where said). Share "
    "of spots whose 90 % interval holds the truth, with its standard error over the pieces; median "
    "width of the intervals, error and bias in nm; p of a chi-square test that ranks are uniform; "
    "the same spots each read alone; processor time; runs that did not settle. `row`: 192 spots of "
    "a gradient in their order, averaged by neighbours; the others 48 spots unless said. "
    "`python -m benchmarks.rainbow --write`",
    "",
    "| case | pieces | in 90 % | ± | width | error | bias | rank p | alone, in 90 % | width | s "
    "| unsettled |",
    "|---|---|---|---|---|---|---|---|---|---|---|---|",
]


def line(name: str, rows: FloatArray) -> str:
    """One row of the table, of outcomes (N, 9)."""
    count = len(rows)
    covered, width, error, bias, rank, converged, seconds, alone, alone_width = rows.T
    bins = int(np.clip(count // 5, 2, 20))
    counts = np.bincount((rank * bins).astype(int).clip(0, bins - 1), minlength=bins)
    p = chi2.sf(((counts - count / bins) ** 2).sum() * bins / count, bins - 1)
    single = np.isfinite(alone)
    each = (
        f"{alone[single].mean():.3f} | {np.median(alone_width[single]):.1f}"
        if single.any()
        else " | "
    )
    return (
        f"| {name} | {count} | {covered.mean():.3f} | {covered.std() / np.sqrt(count):.3f} "
        f"| {np.median(width):.1f} | {np.median(error):.1f} | {bias.mean():+.1f} | {p:.2f} "
        f"| {each} | {np.median(seconds):.1f} "
        f"| {round(count - converged.sum())} |"
    )


def run(
    name: str,
    draws: int,
    seed: int,
    singles: int,
    log: Path | None,
    report: Report = ignore_progress,
) -> FloatArray:
    """Outcomes (N, 9) of a case; those the log holds are not run again."""
    lines = log.read_text(encoding="utf-8").splitlines() if log and log.exists() else []
    own = [text.split("\t") for text in lines]
    logged = {int(i): values for case, kept, i, *values in own if (case, kept) == (name, str(seed))}
    rows = {i: [float(value) for value in values] for i, values in logged.items()}
    left = [i for i in range(draws) if i not in rows]
    values_of = partial(_values, CASES[name], seed, singles)
    for i, values in zip(
        left, map_parallel(values_of, left, report=report, what=name), strict=True
    ):
        rows[i] = values
        if log:
            with log.open("a", encoding="utf-8") as file:
                file.write("\t".join([name, str(seed), str(i), *map(str, values)]) + "\n")
    return np.array([rows[i] for i in range(draws)])


def _values(case: Case, seed: int, singles: int, i: int) -> list[float]:
    return [float(value) for value in vars(outcome(case, seed, i, i < singles)).values()]


def main() -> None:
    """Print one line for each case."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--singles", type=int, default=5, help="pieces also read spot by spot")
    parser.add_argument("--case", choices=list(CASES), action="append")
    parser.add_argument("--log", type=Path)
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--cluster", help="work on a Dask cluster, tcp://host:port")
    options = parser.parse_args()
    print("\n".join(HEADER), flush=True)
    for name in options.case or CASES:
        with show_progress("building tables", options.cluster) as tell:
            rows = run(name, options.draws, options.seed, options.singles, options.log, tell)
        print(line(name, rows), flush=True)
        if options.write:
            keep_row(TABLE, HEADER, line(name, rows))


if __name__ == "__main__":
    main()
