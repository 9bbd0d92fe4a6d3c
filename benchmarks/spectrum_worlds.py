"""Do the intervals of a spectrum hold on real surfaces and instruments, not only in the fit's own
world?

Run as ``python -m benchmarks.spectrum_worlds``; ``--draws`` sets the size of each world, ``--only``
picks some, ``--keep FILE`` keeps every spectrum so that a run can go on or be added to, and
``--write`` puts the rows into the table kept beside.

Titania on titanium, 5 to 245 nm, read from 400 to 750 nm by 5 with white noise of 0.005. Half of
the films are a data set of the library off by a factor of 2.5 % spread, half a Cauchy oxide of our
own with an index of 2.15 to 2.50 at 550 nm. To each, a world adds one thing that a plain film and
an instrument in order lack. The readings come from the engine by the nanometre, not from the fit's
own model of a spectrum.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import astuple, dataclass
from functools import partial
from pathlib import Path

import numpy as np

from oxhue.cli.options import show_progress
from oxhue.optics._typing import ComplexArray, FloatArray
from oxhue.optics.files.spectrum import Spectrum
from oxhue.optics.films.engine.transfer_matrix import solve_arrays
from oxhue.optics.films.materials.effective_medium import bruggeman
from oxhue.optics.films.notation import parse_medium
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.numerics.parallel import Report, ignore_progress, map_parallel
from oxhue.optics.spectrum.fit import fit_spectrum

from .results import keep_result, keep_row, read_kept

TABLE = Path(__file__).with_suffix(".md")
READ_NM = np.arange(400.0, 751.0, 5.0)
FINE_NM = np.arange(380.0, 771.0, 1.0)
NOISE = 0.005
_INDEX_SPREAD = 0.025


@dataclass(frozen=True, eq=False)
class Piece:
    """A drawn film on titanium: thickness [nm], and indices at the fine wavelengths."""

    thickness_nm: float
    film: ComplexArray
    metal: ComplexArray

    def reflectance(self, thickness_nm: FloatArray | float, between_nm: float = 0.0) -> FloatArray:
        """Of films of some thicknesses (...), shape (..., W); under them, ``between_nm`` of a
        mixture of film and metal."""
        thickness = np.asarray(thickness_nm, dtype=float)
        mixed = np.sqrt(bruggeman(self.film**2, self.metal**2, 0.5))
        index = np.array([np.ones_like(self.film), self.film, mixed, self.metal])
        layers = np.stack([thickness, np.full_like(thickness, between_nm)], axis=-1)
        return np.asarray(solve_arrays(index, layers, FINE_NM).R)


def draw_piece(i: int, rng: np.random.Generator) -> Piece:
    """A film of a data set for even numbers, of an own oxide for odd ones."""
    metal = parse_medium("Ti").nk(FINE_NM)
    if i % 2:
        n550, bend = rng.uniform(2.15, 2.50), rng.uniform(0.02, 0.05)
        film = n550 + bend * ((1000.0 / FINE_NM) ** 2 - (1000.0 / 550.0) ** 2) + 0j
    else:
        pairs = list_film_models(("TiO2",), "Ti")
        weight = np.array([pair.weight for pair in pairs])
        pair = pairs[rng.choice(len(pairs), p=weight / weight.sum())]
        film = pair.film.nk(FINE_NM) * (1.0 + _INDEX_SPREAD * rng.standard_normal())
    return Piece(float(rng.uniform(5.0, 245.0)), film, metal)


def blurred(curve: FloatArray, fwhm_nm: float) -> FloatArray:
    """A fine curve as an instrument of that bandwidth reads it (a triangular slit)."""
    reach = np.arange(-20.0, 21.0)
    slit = np.maximum(1.0 - np.abs(reach) / fwhm_nm, 0.0)
    padded = np.pad(curve, 20, mode="reflect", reflect_type="odd")
    return np.convolve(padded, slit / slit.sum(), mode="valid")


World = Callable[[Piece, np.random.Generator], FloatArray]


def _plain(piece: Piece, _rng: np.random.Generator) -> FloatArray:
    return piece.reflectance(piece.thickness_nm)


def _wide_slit(piece: Piece, _rng: np.random.Generator, fwhm_nm: float = 10.0) -> FloatArray:
    return blurred(piece.reflectance(piece.thickness_nm), fwhm_nm)


def _stray(piece: Piece, rng: np.random.Generator) -> FloatArray:
    return 0.97 * piece.reflectance(piece.thickness_nm) + rng.uniform(0.0, 0.04)


def _scale(piece: Piece, rng: np.random.Generator) -> FloatArray:
    return (1.0 + 0.05 * rng.standard_normal()) * piece.reflectance(piece.thickness_nm)


def _wavelength(piece: Piece, rng: np.random.Generator) -> FloatArray:
    off_nm = 2.0 * rng.standard_normal()
    return np.interp(FINE_NM + off_nm, FINE_NM, piece.reflectance(piece.thickness_nm))


def _absorbing(piece: Piece, rng: np.random.Generator) -> FloatArray:
    dark = Piece(piece.thickness_nm, piece.film + 1j * rng.uniform(0.02, 0.15), piece.metal)
    return dark.reflectance(piece.thickness_nm)


def _uneven(piece: Piece, _rng: np.random.Generator) -> FloatArray:
    spot = piece.thickness_nm * (1.0 + 0.05 * np.linspace(-3.0, 3.0, 41))
    weight = np.exp(-0.5 * np.linspace(-3.0, 3.0, 41) ** 2)
    return np.asarray(weight @ piece.reflectance(spot) / weight.sum())


def _interlayer(piece: Piece, rng: np.random.Generator) -> FloatArray:
    return piece.reflectance(piece.thickness_nm, rng.uniform(5.0, 30.0))


def _rolled(piece: Piece, rng: np.random.Generator) -> FloatArray:
    lost = rng.uniform(0.05, 0.3) * (550.0 / FINE_NM) ** 2
    return piece.reflectance(piece.thickness_nm) * np.exp(-lost) + 0.03


def _scattered(piece: Piece, rng: np.random.Generator) -> FloatArray:
    share = rng.uniform(0.1, 0.4)
    curve = piece.reflectance(piece.thickness_nm)
    return np.asarray((1.0 - share) * curve + share / 3.0 * curve.mean())


WORLDS: dict[str, World] = {
    "as modelled": _plain,
    "bandwidth 5 nm": partial(_wide_slit, fwhm_nm=5.0),
    "bandwidth 10 nm": _wide_slit,
    "stray light: 0.97 R + 0 to 4 %": _stray,
    "scale off 5 %": _scale,
    "wavelength off 2 nm": _wavelength,
    "absorbing oxide, k 0.02 to 0.15": _absorbing,
    "thickness ±5 % over the spot": _uneven,
    "metal and oxide mixed under the film, 5 to 30 nm": _interlayer,
    "rolled finish: loss as 1/λ², and 3 % grey": _rolled,
    "10 to 40 % scattered, a grey third of it back": _scattered,
}


@dataclass(frozen=True)
class Row:
    """What came of one spectrum: truth and interval [nm], and the fit check."""

    true_nm: float
    low_nm: float
    high_nm: float
    fits: bool
    seconds: float

    @property
    def held(self) -> bool:
        """Whether the interval holds the truth."""
        return self.low_nm <= self.true_nm <= self.high_nm


def read_piece(name: str, seed: int, i: int) -> Row:
    """Draw piece number ``i`` of a world, read its spectrum and fit it."""
    rng = np.random.default_rng([seed, list(WORLDS).index(name), i])
    piece = draw_piece(i, rng)
    curve = np.interp(READ_NM, FINE_NM, WORLDS[name](piece, rng))
    reading = np.clip(curve + NOISE * rng.standard_normal(curve.size), -0.04, 1.1)
    begun = time.process_time()
    fit = fit_spectrum("TiO2", "Ti", Spectrum(READ_NM, reading, "reflectance"), seed=i)
    spent = time.process_time() - begun
    return Row(piece.thickness_nm, *fit.interval90_nm, fit.fits, spent)


HEADER = [
    "# Do the intervals of a spectrum hold on real surfaces and instruments?",
    "",
    "Titania on titanium, 5 to 245 nm, 400 to 750 nm by 5, noise 0.005. Held: share of 90 % "
    "intervals with the truth, and of those that pass the fit check; flagged: share that the check "
    "refuses, of all and of those that do not hold; half widths in nm, median for films below 60, "
    "of 60 to 120 and above 120 nm, and of all; processor time for one fit.",
    "`python -m benchmarks.spectrum_worlds --write`",
    "",
    "| world | spectra | held | held, passed | flagged | flagged, not held | < 60 nm | 60–120 "
    "| > 120 | all | s |",
    "|---|---|---|---|---|---|---|---|---|---|---|",
]


def line_of(name: str, rows: list[Row]) -> str:
    """One row of the table."""
    true = np.array([row.true_nm for row in rows])
    held = np.array([row.held for row in rows])
    fits = np.array([row.fits for row in rows])
    half = np.array([0.5 * (row.high_nm - row.low_nm) for row in rows])
    parts = [half[true < 60.0], half[(true >= 60.0) & (true <= 120.0)], half[true > 120.0], half]
    widths = " | ".join(f"{np.median(part):.1f}" if part.size else "–" for part in parts)
    missed = f"{np.mean(~fits[~held]):.2f} of {(~held).sum()}" if (~held).any() else "–"
    passed = f"{held[fits].mean():.2f}" if fits.any() else "–"
    spent = np.median([row.seconds for row in rows])
    return (
        f"| {name} | {len(rows)} | {held.mean():.2f} | {passed} | {np.mean(~fits):.2f} | {missed} "
        f"| {widths} | {spent:.2f} |"
    )


def run_world(
    name: str,
    draws: int,
    *,
    seed: int = 1,
    keep: Path | None = None,
    report: Report = ignore_progress,
) -> list[Row]:
    """Every spectrum of a world; those kept are not fitted again."""
    own = {"world": name, "seed": seed}
    rows = {
        one["piece"]: Row(*one["found"])
        for one in (read_kept(keep) if keep else [])
        if own.items() <= one.items()
    }
    left = [i for i in range(draws) if i not in rows]
    found = map_parallel(partial(read_piece, name, seed), left, report=report)
    for i, row in zip(left, found, strict=True):
        rows[i] = row
        if keep:
            keep_result(keep, own | {"piece": i, "found": astuple(row)})
    return [rows[i] for i in sorted(rows)]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--cluster", help="work on a Dask cluster, tcp://host:port")
    chosen = parser.parse_args()
    print("\n".join(HEADER), flush=True)
    for name in WORLDS:
        if chosen.only in name:
            with show_progress(name, chosen.cluster) as tell:
                rows = run_world(
                    name, chosen.draws, seed=chosen.seed, keep=chosen.keep, report=tell
                )
            line = line_of(name, rows)
            print(line, flush=True)
            if chosen.write:
                keep_row(TABLE, HEADER, line)


if __name__ == "__main__":
    main()
