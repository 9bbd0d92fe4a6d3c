"""Do thickness and index fitted to simulated spectra come out right, and their intervals honest?

Run as ``python -m benchmarks.spectrum_calibration``; ``--draws`` sets the size of each case.

The worlds simulated are, case by case: ``model``, everything drawn from the prior of the fit,
noise and misfit too; ``one percent``, the same with white noise of 0.01 and no misfit;
``relative``, noise of 1 % of the reading; ``table`` as ``one percent`` with the index a table off
by a factor and only such looked for; ``held out``, the film a data set that the fit does not hold.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from oxhue.optics.films.spectrumfile import Kind
from oxhue.optics.inference.hypotheses import Pair, film_pairs
from oxhue.optics.jobs.spectra.indexmodels import IndexKind
from oxhue.optics.jobs.spectra.world import Misfit, World
from oxhue.optics.jobs.spectra.worlds import worlds_for
from oxhue.optics.jobs.spectrum import SpectrumFit, fit_worlds

FloatArray = NDArray[np.float64]

BETWEEN_NM = (0.0, 2000.0)
TRUE_NM = (20.0, 800.0)
COARSE_NM = np.arange(400.0, 701.0, 10.0)
FINE_NM = np.arange(380.0, 781.0, 5.0)
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
    worlds: Sequence[World],
    wavelength_nm: FloatArray,
    noise: str,
    between_nm: tuple[float, float],
    rng: np.random.Generator,
) -> Truth:
    """Draw a world with a film, its unknowns and its readings."""
    films = [world for world in worlds if world.has_thickness]
    weight = np.array([world.weight for world in films])
    world = films[rng.choice(len(films), p=weight / weight.sum())]
    x = rng.standard_normal((1, 1 + len(world.parameters)))
    x[0, 0] = rng.uniform(*between_nm)
    low, _ = world.bounds
    x = np.where(low == 0.0, np.abs(x), x)  # half normal: roughness, haze, absorption
    curve = world.curves(x)[0]
    misfit = Misfit.over(wavelength_nm)
    sigma, miss = 0.01, 0.0
    if noise == "prior":
        grid = np.exp(misfit.log_prior)
        sigma, miss = misfit.grid[rng.choice(grid.size, p=grid / grid.sum())]
    spread = np.abs(curve) * 0.01 if noise == "relative" else np.full(curve.size, sigma)
    reading = curve + spread * rng.standard_normal(curve.size)
    reading = reading + miss * misfit.axes @ (
        np.sqrt(misfit.strength) * rng.standard_normal(curve.size)
    )
    rough = world.values(x).get("roughness", np.zeros(1))[0]
    model = world.model
    index = model.at(np.array([550.0])) if model else None
    n = world.film(x, index, False)[0][0, 0].real
    return Truth(x[0, 0] + 0.5 * rough, n, reading)


def held_out(
    variant: str, wavelength_nm: FloatArray, roughness: bool
) -> tuple[Sequence[World], Sequence[World]]:
    """Worlds of one TiO2 data set on titanium to draw from, and worlds without it to fit by."""
    pairs = film_pairs(("TiO2",), "Ti")
    true = film_pairs((f"TiO2({variant})",), "Ti")
    rest = [pair for pair in pairs if pair.film.label != f"TiO2({variant})"]
    made, _ = worlds_for(true, wavelength_nm, "reflectance", "table", TRUE_NM, roughness, 0.0)
    fitted, _ = worlds_for(rest, wavelength_nm, "reflectance", "auto", BETWEEN_NM, roughness, 0.0)
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
    """

    error_nm: FloatArray
    n_error: FloatArray
    covered: FloatArray
    n_covered: FloatArray
    width_nm: FloatArray
    side: FloatArray
    fits: FloatArray

    def line(self, name: str) -> str:
        """One row of the table that is printed."""
        error, n_error = np.abs(self.error_nm), np.abs(self.n_error)
        return (
            f"{name:42s} {error.size:5d} {np.median(error):7.2f} {np.quantile(error, 0.9):7.2f} "
            f"{np.median(n_error):8.4f} {np.quantile(n_error, 0.9):8.4f} "
            f"{self.covered.mean():6.3f} {np.mean(self.side < 0):6.3f} "
            f"{np.mean(self.side > 0):6.3f} {self.n_covered.mean():6.3f} "
            f"{np.median(self.width_nm):7.2f} {self.fits.mean():6.3f}"
        )


def tally(
    drawn: Sequence[World],
    fitted: Sequence[World],
    wavelength_nm: FloatArray,
    noise: str,
    draws: int,
    seed: int,
    between_nm: tuple[float, float] = TRUE_NM,
) -> Tally:
    """Simulate and fit a number of pieces."""
    rng = np.random.default_rng(seed)
    rows = []
    for i in range(draws):
        truth = simulate(drawn, wavelength_nm, noise, between_nm, rng)
        rows.append(_row(truth, fit_worlds(fitted, wavelength_nm, truth.reading, seed=i)))
    return Tally(*np.array(rows).T)


def _row(truth: Truth, fit: SpectrumFit) -> tuple[float, ...]:
    low, high = fit.interval90_nm
    n_low, n_high = fit.n_interval90
    return (
        fit.thickness_nm - truth.thickness_nm,
        fit.n - truth.n,
        float(low <= truth.thickness_nm <= high),
        float(n_low <= truth.n <= n_high),
        high - low,
        float(truth.thickness_nm > high) - float(truth.thickness_nm < low),
        float(fit.fits),
    )


HEADER = (
    f"{'case':42s} {'draws':>5s} {'|Δd|50':>7s} {'|Δd|90':>7s} {'|Δn|50':>8s} {'|Δn|90':>8s} "
    f"{'in d90':>6s} {'below':>6s} {'above':>6s} {'in n90':>6s} {'width':>7s} {'fits':>6s}"
)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    chosen = parser.parse_args()
    print(HEADER, flush=True)
    for film, on, kind in SYSTEMS:
        pairs: tuple[Pair, ...] = film_pairs((film,), on)
        for wavelength in (COARSE_NM, FINE_NM):
            for case in ("model", "one percent", "relative", "table"):
                name = f"{case}: {film} / {on}, {kind[0].upper()}, {wavelength.size} points"
                if chosen.only not in name:
                    continue
                model: IndexKind = "table" if case == "table" else "auto"
                between = BETWEEN_NM if case == "model" else TRUE_NM
                noise = {"model": "prior", "relative": "relative"}.get(case, "one percent")
                drawn, _ = worlds_for(pairs, wavelength, kind, model, between, True, 0.0)
                fitted, _ = worlds_for(pairs, wavelength, kind, model, BETWEEN_NM, True, 0.0)
                found = tally(drawn, fitted, wavelength, noise, chosen.draws, chosen.seed, between)
                print(found.line(name), flush=True)
    for variant in HELD_OUT:
        name = f"held out: TiO2({variant}) / Ti, 31 points"
        if chosen.only in name:
            drawn, fitted = held_out(variant, COARSE_NM, True)
            found = tally(drawn, fitted, COARSE_NM, "one percent", chosen.draws, chosen.seed)
            print(found.line(name), flush=True)


if __name__ == "__main__":
    main()
