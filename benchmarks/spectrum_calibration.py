"""Do thickness and index fitted to simulated spectra come out right, and their intervals honest?

Run as ``python -m benchmarks.spectrum_calibration``; ``--draws`` sets the size of each case,
``--only`` picks some, ``--minutes`` ends each early, and ``--write`` puts the rows into the table
kept beside.

The worlds simulated are, case by case: ``model``, everything drawn from the prior of the fit,
doubts, stray light, noise of either kind and misfit too; ``one percent``, plain films with noise of
0.01 throughout and no misfit; ``relative``, noise of 1 % of the reading; ``table`` as ``one
percent`` with the index a table off by a factor and only such looked for; ``held out``, the film a
data set that the fit does not hold.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
from scipy.stats import chi2

from oxhue.cli.options import show_progress
from oxhue.optics._typing import FloatArray
from oxhue.optics.files.spectrum import Kind, Spectrum
from oxhue.optics.inference.hypotheses import FilmModel, list_film_models
from oxhue.optics.numerics.parallel import Report, ignore_progress, map_parallel
from oxhue.optics.spectrum.fit import fit_models, fit_spectrum
from oxhue.optics.spectrum.forward_model import ForwardModel
from oxhue.optics.spectrum.forward_models import list_forward_models
from oxhue.optics.spectrum.index_models import IndexKind
from oxhue.optics.spectrum.instrument import Instrument
from oxhue.optics.spectrum.noise_model import NoiseModel
from oxhue.optics.spectrum.result import SpectrumFit
from oxhue.optics.spectrum.summaries import film_thickness

from .results import keep_row

TABLE = Path(__file__).with_suffix(".md")
NOISE = "one percent"
_BINS = 20
BETWEEN_NM = (0.0, 2000.0)
TRUE_NM = (20.0, 800.0)
COARSE_NM = np.arange(400.0, 701.0, 10.0)
FINE_NM = np.arange(380.0, 781.0, 5.0)
FINEST_NM = np.arange(400.0, 781.0, 1.0)
SYSTEMS: tuple[tuple[str, str, Kind], ...] = (
    ("TiO2", "Ti", "reflectance"),
    ("SiO2", "Si", "reflectance"),
    ("Ta2O5", "glass 1mm", "reflectance"),
    ("Ta2O5", "glass 1mm", "transmittance"),
)
HELD_OUT = (
    "siefke2016", "franta2015", "jolivet2023-amorphous", "zhukovsky2015", "sarkar2019",
    "jolivet2023-anatase", "devore1951",
)  # fmt: skip


@dataclass(frozen=True)
class Truth:
    """A simulated piece: thickness with half its roughness [nm], index at 550 nm, and readings."""

    thickness_nm: float
    n: float
    reading: FloatArray


def simulate(
    worlds: Sequence[ForwardModel],
    wavelength_nm: FloatArray,
    noise: str,
    between_nm: tuple[float, float],
    rng: np.random.Generator,
) -> Truth:
    """Draw a world with a film, its unknowns and its readings."""
    films = [world for world in worlds if world.has_thickness]
    ranges = [np.clip(between_nm, *world.between_nm) for world in films]
    weight = np.array(
        [w.weight * np.ptp(r) / np.ptp(w.between_nm) for w, r in zip(films, ranges, strict=True)]
    )
    which = rng.choice(len(films), p=weight / weight.sum())
    world = films[which]
    if noise == "prior":
        each = [world, *(world.with_doubt(doubt) for doubt in world.doubts)]
        weight = np.array([one.weight for one in each])
        world = each[rng.choice(len(each), p=weight / weight.sum())]
    x = rng.standard_normal((1, 1 + len(world.parameters)))
    x[0, 0] = rng.uniform(*ranges[which])
    low, _ = world.bounds
    x = np.where(low == 0.0, np.abs(x), x)  # half normal: roughness, haze
    curve = world.curves(x)[0]
    states = Instrument.of(curve, ()).states
    state = states[rng.choice(len(states), p=[one.probability for one in states])]
    instrument = Instrument((replace(state, probability=1.0),))
    kinds = NoiseModel.for_readings(wavelength_nm, curve, instrument).kinds
    size, miss = np.full(curve.size, 0.01), 0.0
    if noise == "relative":
        size = 0.01 * np.abs(curve)
    if noise == "prior":
        kind = kinds[rng.integers(len(kinds))]
        share = np.exp(kind.log_prior)
        sigma, miss = kind.settings[rng.choice(share.size, p=share / share.sum())]
        size = sigma * kind.size
        off = instrument.shifts(curve) @ rng.standard_normal(2)
        curve = instrument.soil(curve + off)
    reading = curve + size * rng.standard_normal(curve.size)
    together = kinds[0]
    reading = reading + miss * together.axes @ (
        np.sqrt(together.strength) * rng.standard_normal(curve.size)
    )
    rough = world.values(x).get("roughness", np.zeros(1))[0]
    model = world.model
    index = model.at(np.array([550.0])) if model else None
    n = world.film(x, index, False)[0][0, 0].real
    return Truth(x[0, 0] + 0.5 * rough, n, reading)


def held_out(
    variant: str, wavelength_nm: FloatArray, roughness: bool
) -> tuple[Sequence[ForwardModel], Sequence[ForwardModel]]:
    """Worlds of one TiO2 data set on titanium to draw from, and worlds without it to fit by."""
    pairs = list_film_models(("TiO2",), "Ti")
    true = list_film_models((f"TiO2({variant})",), "Ti")
    rest = [pair for pair in pairs if pair.film.label != f"TiO2({variant})"]
    made, _ = list_forward_models(
        true,
        wavelength_nm,
        kind="reflectance",
        model="table",
        between_nm=TRUE_NM,
        roughness=roughness,
        angle_deg=0.0,
    )
    fitted, _ = list_forward_models(
        rest,
        wavelength_nm,
        kind="reflectance",
        model="auto",
        between_nm=BETWEEN_NM,
        roughness=roughness,
        angle_deg=0.0,
    )
    return made, fitted


@dataclass(frozen=True, eq=False)
class Tally:
    """What came of one case.

    Attributes
    ----------
    error_nm, n_error : ndarray, shape (N,)
        Fitted less true thickness [nm] and index at 550 nm [-].
    covered, n_covered : ndarray, shape (N,)
        1 where the 90 % interval holds the truth.
    width_nm : ndarray, shape (N,)
        Of the interval [nm].
    side : ndarray, shape (N,)
        -1 where the true thickness lies below the interval, 1 above; 5 % each are due.
    fits : ndarray, shape (N,)
    rank : ndarray, shape (N,)
        Share of what is held of the thickness that lies below the truth.
    """

    error_nm: FloatArray
    n_error: FloatArray
    covered: FloatArray
    n_covered: FloatArray
    width_nm: FloatArray
    side: FloatArray
    fits: FloatArray
    rank: FloatArray

    def line(self, name: str) -> str:
        """One row of the table."""
        error, n_error = np.abs(self.error_nm), np.abs(self.n_error)
        return (
            f"| {name} | {error.size} | {np.median(error):.2f} | {np.quantile(error, 0.9):.2f} "
            f"| {np.median(n_error):.4f} | {np.quantile(n_error, 0.9):.4f} "
            f"| {self.covered.mean():.3f} | {np.mean(self.side < 0):.3f} "
            f"| {np.mean(self.side > 0):.3f} | {self.n_covered.mean():.3f} "
            f"| {np.median(self.width_nm):.2f} | {self.fits.mean():.3f} | {self.rank_p:.2f} |"
        )

    @property
    def rank_p(self) -> float:
        """Of a chi-square test that the ranks are uniform, in 20 bins or as many as hold 5."""
        bins = int(np.clip(self.rank.size // 5, 2, _BINS))
        counts = np.bincount((self.rank * bins).astype(int).clip(0, bins - 1), minlength=bins)
        due = self.rank.size / bins
        return float(chi2.sf(((counts - due) ** 2 / due).sum(), bins - 1))


def tally(
    drawn: Sequence[ForwardModel],
    fitted: Sequence[ForwardModel],
    wavelength_nm: FloatArray,
    noise: str,
    draws: int,
    seed: int,
    between_nm: tuple[float, float] = TRUE_NM,
    minutes: float = np.inf,
    report: Report = ignore_progress,
) -> Tally:
    """Simulate and fit a number of pieces, or as many as some minutes allow."""
    rng = np.random.default_rng(seed)
    truths = [simulate(drawn, wavelength_nm, noise, between_nm, rng) for _ in range(draws)]
    return _gathered(partial(_fitted, fitted, wavelength_nm), truths, minutes, report)


def _gathered(
    row_of: Callable[[tuple[int, Truth]], tuple[float, ...]],
    truths: Sequence[Truth],
    minutes: float,
    report: Report,
) -> Tally:
    """What the fits to some pieces give, or to as many as some minutes allow."""
    rows: list[tuple[float, ...]] = []
    begun = time.monotonic()
    fits = map_parallel(row_of, list(enumerate(truths)), report=report)
    for row in fits:
        rows.append(row)
        if time.monotonic() - begun > 60.0 * minutes:
            break
    fits.close()
    return Tally(*np.array(rows).T)


def _fitted(
    worlds: Sequence[ForwardModel], wavelength_nm: FloatArray, numbered: tuple[int, Truth]
) -> tuple[float, ...]:
    i, truth = numbered
    return _row(truth, fit_models(worlds, wavelength_nm, truth.reading, seed=i))


def _row(truth: Truth, fit: SpectrumFit) -> tuple[float, ...]:
    low, high = fit.interval90_nm
    n_low, n_high = fit.n_interval90
    held_nm, weight = film_thickness(fit.draws)
    return (
        fit.thickness_nm - truth.thickness_nm,
        fit.n - truth.n,
        float(low <= truth.thickness_nm <= high),
        float(n_low <= truth.n <= n_high),
        high - low,
        float(truth.thickness_nm > high) - float(truth.thickness_nm < low),
        float(fit.fits),
        float(weight[held_nm < truth.thickness_nm].sum()),
    )


HEADER = [
    "# Thickness and index from simulated spectra",
    "",
    "Errors in nm and in the index at 550 nm: median and 90 % of their size; share of 90 % "
    "intervals of the thickness that hold the truth, of truths below and above them (5 % each are "
    "due), of intervals of the index; their median width in nm; share called a fit; p of a "
    "chi-square test that ranks are uniform, due where the worlds are the model's (`model`).",
    "`python -m benchmarks.spectrum_calibration --write`",
    "",
    "| case | draws | Δd 50 % | Δd 90 % | Δn 50 % | Δn 90 % | in d | below | above | in n | width "
    "| fits | rank p |",
    "|---|---|---|---|---|---|---|---|---|---|---|---|---|",
]


def polished(
    film: str,
    on: str,
    kind: Kind,
    draws: int,
    seed: int,
    minutes: float,
    report: Report = ignore_progress,
) -> Tally:
    """Smooth pieces, read finely and given to the job as a person would."""
    pairs = list_film_models((film,), on)
    drawn, _ = list_forward_models(
        pairs,
        FINEST_NM,
        kind=kind,
        model="auto",
        between_nm=TRUE_NM,
        roughness=False,
        angle_deg=0.0,
    )
    rng = np.random.default_rng(seed)
    truths = [simulate(drawn, FINEST_NM, "relative", TRUE_NM, rng) for _ in range(draws)]
    return _gathered(partial(_asked, film, on, kind), truths, minutes, report)


def _asked(film: str, on: str, kind: Kind, numbered: tuple[int, Truth]) -> tuple[float, ...]:
    i, truth = numbered
    spectrum = Spectrum(FINEST_NM, truth.reading, kind)
    return _row(truth, fit_spectrum(film, on, spectrum, roughness=False, seed=i))


def cases(only: str) -> Iterator[tuple[str, Callable[..., Tally]]]:
    """Name of each case, and what runs it for draws, seed and minutes."""
    for film, on, kind in SYSTEMS:
        for wavelength in (COARSE_NM, FINE_NM):
            for case in ("model", "one percent", "relative", "table"):
                name = f"{case}: {film} / {on}, {kind[0].upper()}, {wavelength.size} points"
                if only in name:
                    yield (
                        name,
                        partial(_known, list_film_models((film,), on), kind, wavelength, case),
                    )
        name = f"polished: {film} / {on}, {kind[0].upper()}, {FINEST_NM.size} points"
        if only in name:
            yield name, partial(polished, film, on, kind)
    for variant in HELD_OUT:
        name = f"held out: TiO2({variant}) / Ti, 31 points"
        if only in name:
            yield name, partial(tally, *held_out(variant, COARSE_NM, True), COARSE_NM, NOISE)


def _known(
    pairs: tuple[FilmModel, ...],
    kind: Kind,
    wavelength_nm: FloatArray,
    case: str,
    draws: int,
    seed: int,
    minutes: float,
    report: Report,
) -> Tally:
    model: IndexKind = "table" if case == "table" else "auto"
    between = BETWEEN_NM if case == "model" else TRUE_NM
    noise = {"model": "prior", "relative": "relative"}.get(case, NOISE)
    drawn, _ = list_forward_models(
        pairs,
        wavelength_nm,
        kind=kind,
        model=model,
        between_nm=between,
        roughness=True,
        angle_deg=0.0,
    )
    fitted, _ = list_forward_models(
        pairs,
        wavelength_nm,
        kind=kind,
        model=model,
        between_nm=BETWEEN_NM,
        roughness=True,
        angle_deg=0.0,
    )
    return tally(drawn, fitted, wavelength_nm, noise, draws, seed, between, minutes, report)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    parser.add_argument("--minutes", type=float, default=np.inf)
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--cluster", help="work on a Dask cluster, tcp://host:port")
    chosen = parser.parse_args()
    print("\n".join(HEADER), flush=True)
    for name, case in cases(chosen.only):
        with show_progress(name, chosen.cluster) as tell:
            found = case(chosen.draws, chosen.seed, minutes=chosen.minutes, report=tell)
        line = found.line(name)
        print(line, flush=True)
        if chosen.write:
            keep_row(TABLE, HEADER, line)


if __name__ == "__main__":
    main()
