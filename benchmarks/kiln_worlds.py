"""Do predictions of a kiln learnt from five test pieces hold where its oxide grows by another law?

Run as ``python -m benchmarks.kiln_worlds``; ``--draws`` sets the number of kilns of each world,
``--only`` picks some, and ``--write`` puts the rows into the table kept beside.

Each kiln of titanium heats five pieces at 350 to 550 °C for 10 minutes to an hour, set to half a
minute and off by 3 °C; each is read with a card, kind of oxide open. Then six new heats of the
same ranges are foretold, and how many of 20 parts treated alike take each colour.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from oxhue.cli.options import show_progress
from oxhue.optics._typing import FloatArray
from oxhue.optics.colour.colour import hex_and_name
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.inference.simulate import SampledFilms, film_xyz
from oxhue.optics.inference.uncertainty import DEFAULTS
from oxhue.optics.numerics.density import interval90
from oxhue.optics.numerics.parallel import Report, ignore_progress, map_parallel
from oxhue.optics.oxidation.calibration import draw_prior
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.oxidation.schedule import hold
from oxhue.optics.tint.calibrate import learn
from oxhue.optics.tint.coupon import film_share
from oxhue.optics.tint.coupon_file import CouponRow
from oxhue.optics.tint.tint import tint

from .drawn import draw_readings
from .results import keep_row

TABLE = Path(__file__).with_suffix(".md")
METAL = find_metal("Ti")
PIECES, NEW, PARTS = 5, 6, 20
FROM_C, FROM_MIN = (350.0, 550.0), (10.0, 60.0)
SEEN_NM = (5.0, 220.0)
OFF_C = 3.0
_R = 8.314e-3  # kJ/(mol K)
_REFERENCE_K = 673.15

Law = Callable[[float, float], float]
"""Thickness [nm] after a temperature [°C] for a time [min]."""


def _arrhenius(energy_kJ_mol: float, degrees_C: float) -> float:
    return float(np.exp(-energy_kJ_mol / _R * (1.0 / (degrees_C + 273.15) - 1.0 / _REFERENCE_K)))


def draw_shipped(rng: np.random.Generator) -> Law:
    """A kiln as the shipped law supposes it."""
    world = draw_prior(METAL, film_share(METAL)[1], count=1, rng=rng)

    def after(degrees_C: float, minutes: float) -> float:
        return float(world.thickness_nm(METAL, hold(degrees_C, 60.0 * minutes), rng)[0])

    return after


def draw_linear(rng: np.random.Generator) -> Law:
    """A scale that lets air through: the same rate however thick the film."""
    at_reference = 20.0 * np.exp(0.4 * rng.standard_normal())
    energy = rng.uniform(40.0, 110.0)

    def after(degrees_C: float, minutes: float) -> float:
        scatter = np.exp(0.15 * rng.standard_normal())
        grown = at_reference * _arrhenius(energy, degrees_C) * minutes / 30.0
        return float(2.5 + grown * scatter)

    return after


def draw_breakaway(rng: np.random.Generator) -> Law:
    """A scale that protects up to a thickness, and grows on at the rate it had there."""
    at_reference = 20.0 * np.exp(0.4 * rng.standard_normal())
    energy, breaks_nm = rng.uniform(80.0, 140.0), rng.uniform(8.0, 40.0)

    def after(degrees_C: float, minutes: float) -> float:
        scatter = np.exp(0.15 * rng.standard_normal())
        squared = at_reference**2 * _arrhenius(energy, degrees_C) * minutes / 30.0 * scatter
        if squared <= breaks_nm**2:
            return float(np.sqrt(squared + 2.5**2))
        return float(breaks_nm + (squared - breaks_nm**2) / (2.0 * breaks_nm))

    return after


def draw_logarithmic(rng: np.random.Generator) -> Law:
    """A film that all but stops."""
    length, energy = rng.uniform(8.0, 15.0), rng.uniform(80.0, 140.0)
    at_reference = 20.0 * np.exp(0.4 * rng.standard_normal())

    def after(degrees_C: float, minutes: float) -> float:
        scatter = np.exp(0.15 * rng.standard_normal())
        exposure = np.expm1(at_reference / length) * minutes / 30.0 * scatter
        return float(length * np.log1p(exposure * _arrhenius(energy, degrees_C)))

    return after


WORLDS: dict[str, Callable[[np.random.Generator], Law]] = {
    "as the shipped law": draw_shipped,
    "linear": draw_linear,
    "protects up to 8 to 40 nm, then linear": draw_breakaway,
    "logarithmic": draw_logarithmic,
}


@dataclass(frozen=True)
class Row:
    """What came of one kiln: share of new heats held, and of numbers of parts of a colour; what it
    said, width, and time."""

    held: float
    parts_held: float
    open_scale: float
    flagged: bool
    width: float
    seconds: float


def draw_heat(law: Law, rng: np.random.Generator) -> tuple[float, float, float]:
    """Degrees and minutes as set, and the film, such that it has a colour of its own."""
    while True:
        degrees = float(rng.uniform(*FROM_C))
        minutes = 0.5 * round(2.0 * float(np.exp(rng.uniform(*np.log(FROM_MIN)))))
        film = law(degrees + OFF_C * rng.standard_normal(), minutes)
        if SEEN_NM[0] <= film <= SEEN_NM[1]:
            return degrees, minutes, film


def read_film(thickness_nm: float, error: float, j: int, rng: np.random.Generator) -> str:
    """The card's Lab of a film of a data set, with an index error that all pieces share."""
    pairs = list_film_models(METAL.films, METAL.on)
    doubts = replace(DEFAULTS["card"], index_spread=0.0)
    films = SampledFilms(np.array([j]), np.array([thickness_nm]), np.array([error]))
    lab = draw_readings(films, pairs, doubts=doubts, viewing=ViewingConditions(), rng=rng)[0]
    return f"{min(max(lab[0], 0.0), 100.0):.2f},{lab[1]:.2f},{lab[2]:.2f}"


def names_of_parts(film_nm: FloatArray, error: float, j: int) -> NDArray[np.str_]:
    """Names of the colours of films of a data set, all with one index error."""
    films = SampledFilms(np.full(film_nm.size, j), film_nm, np.full(film_nm.size, error))
    pairs, viewing = list_film_models(METAL.films, METAL.on), ViewingConditions()
    return hex_and_name(film_xyz(films, pairs, np.zeros(film_nm.size), viewing=viewing), viewing)[1]


def run_kiln(name: str, seed: int, i: int) -> Row:
    """Draw one kiln, learn it and foretell new heats."""
    rng = np.random.default_rng([seed, list(WORLDS).index(name), i])
    law = WORLDS[name](rng)
    pairs = list_film_models(METAL.films, METAL.on)
    weight = np.array([pair.weight for pair in pairs])
    j, error = int(rng.choice(len(pairs), p=weight / weight.sum())), 0.025 * rng.standard_normal()
    rows = []
    for k in range(PIECES):
        degrees, minutes, film = draw_heat(law, rng)
        text = read_film(film, error, j, rng)
        heat = hold(round(degrees), 60.0 * minutes)
        rows.append(CouponRow(f"{k}", "", heat, text, parse_reading(text, "card"), None, None))
    begun = time.process_time()
    found = learn(METAL, rows, made_from="a table", seed=i)
    spent = time.process_time() - begun
    held, width, counted = [], [], []
    for k in range(NEW):
        degrees, minutes, film = draw_heat(law, rng)
        drawn = found.fitted.draws.thickness_nm(METAL, hold(degrees, 60.0 * minutes), rng)
        low, high = interval90(drawn)
        held.append(low <= film <= high)
        width.append(np.log(high / low))
        parts = [law(degrees + OFF_C * rng.standard_normal(), minutes) for _ in range(PARTS)]
        names = names_of_parts(np.array(parts), error, j)
        heat = hold(degrees, 60.0 * minutes)
        said = tint("Ti", heat, kiln=found.fitted, parts=PARTS, seed=k).batch
        assert said is not None
        few, many = np.array([one.count90 for one in said.names]).T
        of = np.array([np.count_nonzero(names == one.name) for one in said.names])
        counted.append(np.mean((few <= of) & (of <= many)))
    flagged = found.open_scale > 0.5 or not found.fits
    return Row(
        float(np.mean(held)),
        float(np.mean(counted)),
        found.open_scale,
        flagged,
        float(np.mean(width)),
        spent,
    )


HEADER = [
    "# Kilns that grow by another law",
    "",
    "Five pieces of titanium read with a card teach a kiln, six new heats are foretold. Share of "
    "new heats within their 90 % interval, with its standard error over the kilns; of kilns "
    "flagged (an open scale likelier than not, or a piece that does not fit), and share held of "
    "those not flagged; mean probability of an open scale; half width of an interval in percent of "
    "the thickness; processor time to learn a kiln; of 20 parts of each new heat, share of the "
    "colours whose number lies in its 90 % interval, which reaches to none of most colours.",
    "`python -m benchmarks.kiln_worlds --write`",
    "",
    "| the kiln's oxide grows | kilns | held | ± | flagged | held, not flagged | open scale "
    "| half width | s | of 20 parts |",
    "|---|---|---|---|---|---|---|---|---|---|",
]


def line_of(name: str, rows: list[Row]) -> str:
    """One row of the table."""
    held = np.array([row.held for row in rows])
    flagged = np.array([row.flagged for row in rows])
    half = 100.0 * np.expm1(0.5 * np.median([row.width for row in rows]))
    passed = f"{held[~flagged].mean():.2f}" if (~flagged).any() else "–"
    return (
        f"| {name} | {len(rows)} | {held.mean():.2f} | {held.std() / np.sqrt(len(rows)):.2f} "
        f"| {flagged.mean():.2f} | {passed} | {np.mean([row.open_scale for row in rows]):.2f} "
        f"| {half:.0f} % | {np.median([row.seconds for row in rows]):.1f} "
        f"| {np.mean([row.parts_held for row in rows]):.2f} |"
    )


def run_world(name: str, draws: int, seed: int, report: Report = ignore_progress) -> list[Row]:
    """Every kiln of a world."""
    return list(map_parallel(partial(run_kiln, name, seed), list(range(draws)), report=report))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    parser.add_argument("--write", action="store_true")
    chosen = parser.parse_args()
    print("\n".join(HEADER), flush=True)
    for name in (one for one in WORLDS if chosen.only in one):
        with show_progress(name, None) as tell:
            line = line_of(name, run_world(name, chosen.draws, chosen.seed, report=tell))
        print(line, flush=True)
        if chosen.write:
            keep_row(TABLE, HEADER, line)


if __name__ == "__main__":
    main()
