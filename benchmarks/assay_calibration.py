"""Are the stated probabilities of `assay` right? Films drawn from its hypotheses, looked at anew.

Run as ``python -m benchmarks.assay_calibration``; ``--chart FILE`` draws the reliability. Films are
drawn afresh; their colours are taken at angles up to 30°, under glare and wrong exposure, and are
named in words as a person would; the meter, the finish and the lamp have their own doubts.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from oxhue.optics.colour.appearance import appear_xyz
from oxhue.optics.colour.lights import white_xyz
from oxhue.optics.colour.spaces import lab_to_xyz
from oxhue.optics.colour.viewing import Viewing
from oxhue.optics.films.onefilm import View
from oxhue.optics.inference.doubts import DEFAULTS
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.inference.simulate import seen_lab
from oxhue.optics.jobs.assay import family_shares, weights
from oxhue.optics.jobs.suspicion.colours import FilmSet, colours_of, film_set
from oxhue.optics.jobs.suspicion.looks import BRIGHTNESS
from oxhue.optics.jobs.suspicion.measured import METER_LIMIT_OHM, probed
from oxhue.optics.jobs.suspicion.observations import Category, Colour, Observation
from oxhue.optics.jobs.suspicion.suspects import families

FloatArray = NDArray[np.float64]

VIEWING = Viewing()
ANGLES_DEG = (0.0, 12.0, 20.0, 28.0)
WAYS = ("eyes", "eyes, ohmmeter", "eyes, ohmmeter, look-through")
BINS = np.array([0.0, 0.5, 0.7, 0.85, 0.95, 1.0001])


@dataclass(frozen=True, eq=False)
class Outcome:
    """What came of one way of looking.

    Attributes
    ----------
    truth, guess : ndarray of str, shape (K,)
        Family the film was drawn from, and family put first.
    stated : ndarray, shape (K,)
        Probability stated for the guess.
    of_truth : ndarray, shape (K,)
        Probability stated for the truth.
    """

    way: str
    truth: NDArray[np.str_]
    guess: NDArray[np.str_]
    stated: FloatArray
    of_truth: FloatArray

    @property
    def right(self) -> NDArray[np.bool_]:
        """Whether the guess is the truth."""
        return self.truth == self.guess


def looked_at(
    world: FilmSet, rows: NDArray[np.intp], rng: np.random.Generator
) -> list[list[Observation]]:
    """What eyes, a meter and a lamp find on films of the world: a list for each film."""
    front, through = _words(world, rows, "front", rng), _words(world, rows, "through", rng)
    finish = _kinds(world, rows, "finish", rng)
    lamp = _kinds(world, rows, "through", rng)
    meter = probed("", math.inf)
    mean, sd = meter.spread(world)
    shown = mean[rows] + sd[rows] * rng.standard_normal(rows.size)
    silent = (rng.random(rows.size) < world.blind[rows]) | (shown > math.log(METER_LIMIT_OHM))
    found = []
    for i in range(rows.size):
        ohm = math.inf if silent[i] else math.exp(shown[i])
        seen = [front[i], Category("finish", finish[i], VIEWING), replace(meter, ohm=ohm)]
        colour = through[i] if lamp[i] == "dim" else Category("through", lamp[i], VIEWING)
        found.append([*seen, colour])
    return found


def _words(
    world: FilmSet, rows: NDArray[np.intp], view: View, rng: np.random.Generator
) -> list[Observation]:
    """Names people give to the colours of films, with all that may be off."""
    angle = rng.choice(len(ANGLES_DEG), rows.size)
    each = [getattr(colours_of(world, VIEWING, a), view) for a in ANGLES_DEG]
    xyz = np.stack(each)[angle, rows]
    doubts = DEFAULTS["word"]
    gain = np.exp(doubts.gain * rng.standard_normal(rows.size))
    if view == "through":
        lifted = gain * rng.choice(BRIGHTNESS[0], rows.size, p=BRIGHTNESS[1])
        gain = np.minimum(lifted, 100.0 / np.maximum(xyz[:, 1], 1e-3))
    glare = rng.uniform(0.0, doubts.glare, rows.size)
    lab = seen_lab(xyz, glare, VIEWING, gain)
    balance = 12.0 if view == "through" else doubts.white_balance_de
    spread = np.array([5.0, *2 * [math.hypot(5.0, balance / math.sqrt(2.0))]])
    lab = lab + spread * rng.standard_normal(lab.shape)
    lab[:, 0] = np.clip(lab[:, 0], 1.0, 99.0)
    white = white_xyz()
    names = np.asarray(appear_xyz(lab_to_xyz(lab, white)).name)
    return [Colour(parse_reading(str(name), view=view), VIEWING) for name in names]


def _kinds(
    world: FilmSet, rows: NDArray[np.intp], what: str, rng: np.random.Generator
) -> list[str]:
    kinds, chances = Category(what, "", VIEWING).chances(world)
    return [str(rng.choice(kinds, p=chances[row] / chances[row].sum())) for row in rows]


def run(metal: str, on: str, count: int, seed: int) -> list[Outcome]:
    """Draw films, look at them in three ways, and weigh what is seen."""
    rng = np.random.default_rng(seed)
    metals = () if metal == "unknown" else (metal,)
    world, films = film_set(metals, on, seed + 1000), film_set(metals, on, 1)
    prior = np.exp(world.log_prior)
    rows = rng.choice(len(world), size=count, p=prior / prior.sum())
    found = looked_at(world, rows, rng)
    truth = world.family[rows]
    known: dict[tuple[object, ...], FloatArray] = {}
    tally: list[list[tuple[str, float, float]]] = [[], [], []]
    for one, family in zip(found, truth, strict=True):
        each = [_log_likelihood(observation, films, known) for observation in one]
        for way, used in enumerate((2, 3, 4)):
            shares = family_shares(films, weights(films, np.sum(each[:used], axis=0)))
            best = next(iter(shares))
            tally[way].append((best, shares[best], shares[str(family)]))
    return [
        Outcome(
            name, truth, np.array([row[0] for row in rows_]),
            np.array([row[1] for row in rows_]), np.array([row[2] for row in rows_]),
        )
        for name, rows_ in zip(WAYS, tally, strict=True)
    ]  # fmt: skip


def _log_likelihood(
    one: Observation, films: FilmSet, known: dict[tuple[object, ...], FloatArray]
) -> FloatArray:
    """Words and kinds come again and again; each is weighed once."""
    if isinstance(one, Colour):
        key: tuple[object, ...] = ("colour", one.reading.view, one.reading.text)
    elif isinstance(one, Category):
        key = (one.what, one.found)
    else:
        return one.log_likelihood(films)
    if key not in known:
        known[key] = one.log_likelihood(films)
    return known[key]


def reliability(outcome: Outcome) -> list[tuple[float, float, int]]:
    """Mean stated probability, share that is right, and number, in each bin that holds any."""
    place = np.digitize(outcome.stated, BINS) - 1
    rows = []
    for i in range(BINS.size - 1):
        inside = place == i
        if inside.any():
            rows.append((
                float(outcome.stated[inside].mean()), float(outcome.right[inside].mean()),
                int(inside.sum()),
            ))  # fmt: skip
    return rows


def about_ninety(outcome: Outcome) -> tuple[float, float, int]:
    """Mean stated probability, share right and number of verdicts given at 85 to 95 %."""
    inside = (outcome.stated >= 0.85) & (outcome.stated < 0.95)
    if not inside.any():
        return math.nan, math.nan, 0
    return (float(outcome.stated[inside].mean()), float(outcome.right[inside].mean()),
            int(inside.sum()))  # fmt: skip


def draw_reliability(outcomes: Sequence[Outcome], path: Path) -> None:
    """Stated probability against the share that is right, with two standard errors."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(5.5, 5.0), layout="constrained")
    ax = figure.subplots()
    ax.plot([0, 1], [0, 1], color="#999999", lw=1.0)
    for outcome, marker in zip(outcomes, "osD", strict=False):
        rows = np.array(reliability(outcome))
        error = 2.0 * np.sqrt(rows[:, 1] * (1.0 - rows[:, 1]) / rows[:, 2])
        ax.errorbar(rows[:, 0], rows[:, 1], error, marker=marker, capsize=3, label=outcome.way)
    ax.set_xlabel("stated probability of the verdict")
    ax.set_ylabel("share that is right")
    ax.set_title("Stated and true: films drawn from the hypotheses")
    ax.legend(frameon=False)
    figure.savefig(path)


def print_confusion(outcome: Outcome) -> None:
    """Rows: what it was; columns: what it was called, in percent of the row."""
    names = [name for name in families() if name in outcome.truth]
    print(f"{'':16}" + "".join(f"{name[:8]:>9}" for name in names) + "   films")
    for name in names:
        own = outcome.truth == name
        row = [100.0 * np.mean(outcome.guess[own] == other) for other in names]
        print(f"{name:16}" + "".join(f"{share:9.0f}" for share in row) + f"{own.sum():8d}")


def main() -> None:
    """Print accuracy, reliability and confusion for each way of looking."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--metal", default="Ti")
    parser.add_argument("--on", default="glass")
    parser.add_argument("--films", type=int, default=1500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--chart", type=Path)
    options = parser.parse_args()
    outcomes = run(options.metal, options.on, options.films, options.seed)
    print(f"{options.metal} on {options.on}, {options.films} films, seed {options.seed}")
    for outcome in outcomes:
        stated, right, count = about_ninety(outcome)
        print(
            f"\n{outcome.way}: right {100 * outcome.right.mean():.0f} %, stated on average "
            f"{100 * outcome.stated.mean():.0f} %; of {count} verdicts at 85 to 95 % (mean "
            f"{100 * stated:.0f} %) {100 * right:.0f} % are right"
        )
        for mean, share, inside in reliability(outcome):
            print(f"  stated {100 * mean:3.0f} %: right {100 * share:3.0f} % of {inside}")
        print_confusion(outcome)
    if options.chart:
        draw_reliability(outcomes, options.chart)


if __name__ == "__main__":
    main()
