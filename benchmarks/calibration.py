"""Ranks of true thicknesses among what `gauge` holds of them, over many simulated pieces.

Run as ``python -m benchmarks.calibration``; ``--only`` picks cases and ``--write`` keeps the table.
Each case draws films and looks from the model, or from a data set the model does not hold, and
asks where the truth stands in the posterior: where the model is right the ranks are uniform and
90 % intervals hold 90 % of the time.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from pathlib import Path

import numpy as np
from scipy.stats import chi2

from benchmarks.drawn import draw_films, draw_readings
from benchmarks.results import keep_row
from oxhue.cli.options import show_progress
from oxhue.optics._typing import FloatArray
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.films.engine.thickness_scan import View
from oxhue.optics.inference.colour_table import ColourTable, build_table
from oxhue.optics.inference.hypotheses import FilmModel, list_film_models
from oxhue.optics.inference.posterior import Prior
from oxhue.optics.inference.uncertainty import DEFAULTS, Uncertainty
from oxhue.optics.numerics.density import quantiles
from oxhue.optics.numerics.parallel import Report, ignore_progress, map_parallel

TABLE = Path(__file__).with_suffix(".md")
BETWEEN_NM = (0.0, 250.0)
GROWN = (
    ("Fe3O4", "steel"), ("oxide of stainless", "stainless"), ("oxide of copper", "Cu"),
    ("oxide of brass", "brass"),
)  # fmt: skip
"""What heat grows on the metals that people colour, besides titania on titanium."""

HEADER = [
    "# Films read from a colour, drawn as the model weighs them",
    "",
    "Simulated pieces with the doubts of each way of reading, 0 to 250 nm. Share of the pieces "
    "whose 90 % interval holds the truth; p of a chi-square test that the truth's ranks are "
    "uniform; median width of the interval and median distance of its middle from the truth [nm]. "
    "A world named by a data set is drawn from that one alone, which the model does not hold. "
    "`python -m benchmarks.calibration --write`",
    "",
    "| look, piece, world | pieces | in 90 % | ranks p | width | error |",
    "|---|---|---|---|---|---|",
]

_BATCH = 10
_BINS = 20
_LEVELS = np.array([0.05, 0.5, 0.95])


@dataclass(frozen=True)
class Case:
    """Looks at one kind of piece.

    Attributes
    ----------
    looks : tuple of (Doubts, View)
    outside : str or None
        Data set of the film that the world has and the model lacks.
    """

    name: str
    film: str
    on: str
    looks: tuple[tuple[Uncertainty, View], ...]
    outside: str | None = None

    @property
    def label(self) -> str:
        """What names its row."""
        return f"{self.name}, {self.film} on {self.on}, {self.outside or 'as the model'}"


@dataclass(frozen=True)
class Outcome:
    """What came of a case.

    Attributes
    ----------
    covered90 : float
    rank_p : float
        Of a chi-square test that the ranks are uniform in 20 bins.
    width_nm, error_nm : float
        Median 90 % width, and median distance of the median from the truth [nm].
    """

    case: Case
    draws: int
    covered90: float
    rank_p: float
    width_nm: float
    error_nm: float


def cases() -> Iterator[Case]:
    """The kinds of looks people take, and worlds the model does not hold."""
    card, photo = DEFAULTS["card"], DEFAULTS["photo"]
    yield Case("card", "TiO2", "Ti", ((card, "front"),))
    yield Case("photo", "TiO2", "Ti", ((photo, "front"),))
    yield Case(
        "photo, square on and at 60°", "TiO2", "Ti",
        ((photo, "front"), (photo.with_angle(60.0), "front")),
    )  # fmt: skip
    yield Case(
        "card, reflected and through", "TiO2", "glass 1mm", ((card, "front"), (card, "through"))
    )
    for film, on in GROWN:
        for how in ("card", "photo"):
            yield Case(how, film, on, ((DEFAULTS[how], "front"),))
    for outside in ("TiO2(franta2015)", "TiO2(siefke2016)", "TiO2(jolivet2023-anatase)"):
        for discrepancy_de in (0.0, 1.5, 3.0):
            doubts = replace(DEFAULTS["instrument"], discrepancy_de=discrepancy_de)
            name = f"instrument, discrepancy {discrepancy_de:g} ΔE"
            yield Case(name, "TiO2", "Ti", ((doubts, "front"),), outside)
    for how in ("card", "photo"):
        yield Case(how, "TiO2", "Ti", ((DEFAULTS[how], "front"),), "TiO2(franta2015)")


def run(case: Case, draws: int, seed: int, report: Report = ignore_progress) -> Outcome:
    """Draw pieces, look at them, and rank the truth in what is held."""
    rng = np.random.default_rng(seed)
    viewing = ViewingConditions()
    world, _ = _worlds(case)
    films = draw_films(world, BETWEEN_NM, case.looks[0][0].index_spread, count=draws, rng=rng)
    looks = [
        draw_readings(films, world, doubts=doubts, viewing=viewing, rng=rng, view=view)
        for doubts, view in case.looks
    ]
    truth = films.thickness_nm
    parts = [slice(start, start + _BATCH) for start in range(0, draws, _BATCH)]
    units = [([seen[part] for seen in looks], truth[part]) for part in parts]
    rows = list(
        map_parallel(partial(_gauged, case), units, kind="threads", report=report, what=case.name)
    )
    rank, low, middle, high = np.concatenate(rows).T
    counts = np.histogram(rank, _BINS, (0.0, 1.0))[0]
    distance = ((counts - draws / _BINS) ** 2 / (draws / _BINS)).sum()
    return Outcome(
        case,
        draws,
        covered90=float(np.mean((low <= truth) & (truth <= high))),
        rank_p=float(chi2.sf(distance, _BINS - 1)),
        width_nm=float(np.median(high - low)),
        error_nm=float(np.median(np.abs(middle - truth))),
    )


def _gauged(case: Case, unit: tuple[list[FloatArray], FloatArray]) -> FloatArray:
    """Rank of the truth, and levels of what is held, for some pieces: shape (n, 4)."""
    looks, truth = unit
    tables, prior = _held(case)
    each = [t.log_likelihood(seen) for t, seen in zip(tables, looks, strict=True)]
    density, _ = prior.film_density(np.sum(each, axis=0))
    curve = density.sum(axis=1)
    ends = quantiles(prior.thickness_nm, curve, _LEVELS)
    return np.column_stack([_ranks(prior.thickness_nm, curve, truth), ends])


@lru_cache(maxsize=2)
def _held(case: Case) -> tuple[list[ColourTable], Prior]:
    """What the model holds; every process builds it once."""
    _, model = _worlds(case)
    tables = [
        build_table(model, BETWEEN_NM, doubts=doubts, viewing=ViewingConditions(), view=view)
        for doubts, view in case.looks
    ]
    return tables, Prior.of(model, BETWEEN_NM, tables[0].doubts.index_spread)


def _worlds(case: Case) -> tuple[tuple[FilmModel, ...], tuple[FilmModel, ...]]:
    """Pairs the world is drawn from, and pairs the model holds."""
    model = list_film_models((case.film,), case.on)
    if case.outside is None:
        return model, model
    kept = [pair for pair in model if pair.film.label != case.outside]
    share = sum(pair.weight for pair in kept)
    model = tuple(replace(pair, weight=pair.weight / share) for pair in kept)
    return list_film_models((case.outside,), case.on), model


def _ranks(grid: FloatArray, density: FloatArray, truth: FloatArray) -> FloatArray:
    steps = 0.5 * (density[:, 1:] + density[:, :-1]) * np.diff(grid)
    cumulative = np.concatenate([np.zeros((len(density), 1)), np.cumsum(steps, axis=1)], axis=1)
    return np.array(
        [np.interp(d, grid, row / row[-1]) for d, row in zip(truth, cumulative, strict=True)]
    )


def line_of(found: Outcome) -> str:
    """One row of the table."""
    return (
        f"| {found.case.label} | {found.draws} | {found.covered90:.3f} | {found.rank_p:.3f} "
        f"| {found.width_nm:.1f} | {found.error_nm:.1f} |"
    )


def main() -> None:
    """Print one line for each case."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=3000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="cases whose row holds this")
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--cluster", help="work on a Dask cluster, tcp://host:port")
    options = parser.parse_args()
    print("\n".join(HEADER), flush=True)
    for case in (one for one in cases() if options.only in one.label):
        with show_progress("building tables", options.cluster) as tell:
            line = line_of(run(case, options.draws, options.seed, tell))
        print(line, flush=True)
        if options.write:
            keep_row(TABLE, HEADER, line)


if __name__ == "__main__":
    main()
