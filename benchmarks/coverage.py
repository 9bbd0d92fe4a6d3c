"""Do stated 90 % intervals hold 90 % of the time? Simulated films and readings, from the model.

Run as ``python -m benchmarks.coverage``; ``--draws`` sets the size of each case.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from functools import partial

import numpy as np

from benchmarks.drawn import draw_films, draw_readings
from oxhue.cli.options import show_progress
from oxhue.optics._typing import FloatArray
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.likelihood import make_prior, table_for
from oxhue.optics.inference.question import FilmQuestion
from oxhue.optics.inference.uncertainty import DEFAULTS
from oxhue.optics.numerics.density import quantiles
from oxhue.optics.numerics.parallel import Report, ignore_progress, map_parallel

SYSTEMS = (("TiO2", "Ti"), ("Fe3O4", "Fe"), ("SiO2", "Si"))
WAYS = ("photo", "card", "instrument")
BETWEEN_NM = (0.0, 250.0)
LEVELS = np.array([0.05, 0.25, 0.5, 0.75, 0.95])
_BATCH = 20


@dataclass(frozen=True)
class Coverage:
    """What came of one case.

    Attributes
    ----------
    covered90, covered50 : float
        Share of true thicknesses inside the equal-tailed intervals [-].
    below : float
        Share of truths below the interval [-]; a bias shows here.
    width_nm, error_nm : float
        Median width of the 90 % interval, median distance of the middle from the truth [nm].
    """

    film: str
    on: str
    how: str
    draws: int
    covered90: float
    covered50: float
    below: float
    width_nm: float
    error_nm: float


def simulate(
    film: str, on: str, how: str, draws: int, seed: int, report: Report = ignore_progress
) -> Coverage:
    """Draw films and readings from the model and gauge each."""
    rng = np.random.default_rng(seed)
    doubts, viewing = DEFAULTS[how], ViewingConditions()
    pairs = list_film_models((film,), on)
    films = draw_films(pairs, BETWEEN_NM, doubts.index_spread, count=draws, rng=rng)
    readings = draw_readings(films, pairs, doubts=doubts, viewing=viewing, rng=rng)
    batches = [readings[start : start + _BATCH] for start in range(0, draws, _BATCH)]
    gauged = partial(_ends, film, on, how)
    ends = list(
        map_parallel(gauged, batches, kind="threads", report=report, what=f"{film} on {on}, {how}")
    )
    low, lower, middle, upper, high = np.concatenate(ends).T
    truth = films.thickness_nm
    return Coverage(
        film,
        on,
        how,
        draws,
        covered90=float(np.mean((low <= truth) & (truth <= high))),
        covered50=float(np.mean((lower <= truth) & (truth <= upper))),
        below=float(np.mean(truth < low)),
        width_nm=float(np.median(high - low)),
        error_nm=float(np.median(np.abs(middle - truth))),
    )


def _ends(film: str, on: str, how: str, readings: FloatArray) -> FloatArray:
    """Levels of the density for some readings; every process builds its tables once."""
    question = FilmQuestion((film,), on, BETWEEN_NM)
    table = table_for(question, DEFAULTS[how])
    prior = make_prior(question, table.doubts.index_spread)
    density, _ = prior.film_density(table.log_likelihood(readings))
    return quantiles(prior.thickness_nm, density.sum(axis=1), LEVELS)


def main() -> None:
    """Print one line for each case."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--cluster", help="work on a Dask cluster, tcp://host:port")
    options = parser.parse_args()
    print(f"{options.draws} draws a case, seed {options.seed}, thickness 0 to 250 nm")
    print("film     on   reading      in 90 %   in 50 %   below   90 % width   error")
    for film, on in SYSTEMS:
        for how in WAYS:
            with show_progress("building tables", options.cluster) as tell:
                c = simulate(film, on, how, options.draws, options.seed, tell)
            print(
                f"{c.film:8} {c.on:4} {c.how:11} {c.covered90:8.3f} {c.covered50:9.3f}"
                f" {c.below:8.3f} {c.width_nm:9.1f} nm {c.error_nm:6.1f} nm",
                flush=True,
            )


if __name__ == "__main__":
    main()
