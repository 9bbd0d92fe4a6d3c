"""Are the stated probabilities of `assay` right? Films drawn from its hypotheses, looked at again.

    python -m benchmarks.assay_calibration [--films 40000] [--chart FILE] [--write]

What is noticed of the films is drawn by :mod:`benchmarks.onlooker`. Where the onlooker has the
doubts the program states, its probabilities must be right to within the chance of the draw, for
each kind of finding alone and for all together. ``--write`` keeps the tables in
``benchmarks/assay_calibration.md``.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchmarks.onlooker import NO_WORD, VIEWING, Noticed, noticed
from oxhue.optics._typing import BoolArray, FloatArray
from oxhue.optics.assay.colours import FilmSet, draw_film_set
from oxhue.optics.assay.hypotheses import families
from oxhue.optics.assay.measured import two_probe_reading
from oxhue.optics.assay.observations import CategoryObservation, ColourObservation
from oxhue.optics.inference.reading import parse_reading

Found = tuple[str, str | float]

TABLE = Path(__file__).with_suffix(".md")
WAYS = {
    "eyes": ("front", "finish"),
    "eyes, ohmmeter": ("front", "finish", "ohm"),
    "eyes, ohmmeter, look-through": ("front", "finish", "ohm", "lamp", "through"),
}
SINGLE = {
    "its colour alone": ("front",),
    "its finish alone": ("finish",),
    "the ohmmeter alone": ("ohm",),
    "the lamp behind alone": ("lamp",),
    "the colour seen through alone": ("through",),
}
BINS = np.array([0.0, 0.5, 0.7, 0.85, 0.95, 1.0001])
_WORLD_SEED = 1000  # the films looked at are other ones than those the program uses


@dataclass(frozen=True, eq=False)
class Outcome:
    """What came of one way of looking.

    Attributes
    ----------
    way : str
    truth, guess : ndarray of str, shape (K,)
        Family the film was drawn from, and family put first.
    stated : ndarray, shape (K,)
        Probability stated for the guess.
    of_each : ndarray, shape (K, F)
        Probability stated for each of `families`.
    """

    way: str
    truth: NDArray[np.str_]
    guess: NDArray[np.str_]
    stated: FloatArray
    of_each: FloatArray

    @property
    def right(self) -> BoolArray:
        """Whether the guess is the truth."""
        return self.truth == self.guess


def run(
    metal: str,
    on: str,
    count: int,
    seed: int,
    ways: dict[str, tuple[str, ...]] = WAYS,
    choice: str = "any",
    times: int = 2,
) -> list[Outcome]:
    """Draw films, look at them, and weigh what is noticed in several ways.

    The world has ``times`` as many films as the program uses; films are drawn from it.
    """
    rng = np.random.default_rng(seed)
    metals = () if metal == "unknown" else (metal,)
    world = draw_film_set(metals, on, seed=seed + _WORLD_SEED, times=times)
    prior = np.exp(world.log_prior)
    rows = rng.choice(len(world), size=count, p=prior / prior.sum())
    seen, shares_of = noticed(world, rows, rng, choice), _judge(draw_film_set(metals, on, seed=1))
    truth, names = world.family[rows], np.array(families())
    found = []
    for way, parts in ways.items():
        each = [_found(seen, parts, i) for i in range(count)]
        kept = np.array([one is not None for one in each])
        of_each = np.array([shares_of(one) for one in each if one is not None])
        best = of_each.argmax(axis=1)
        found.append(Outcome(way, truth[kept], names[best], of_each.max(axis=1), of_each))
    return found


def _found(seen: Noticed, parts: Iterable[str], i: int) -> tuple[Found, ...] | None:
    """What was found of a film; nothing where no word was found for a colour that was to be told.

    Beside a lamp the colour seen through is told only where the lamp is dim.
    """
    told: list[Found] = []
    for part in parts:
        value = getattr(seen, part)[i]
        if part == "through" and "lamp" in parts and seen.lamp[i] != "dim":
            continue
        if value == NO_WORD:
            return None
        told.append((part, float(value) if part == "ohm" else str(value)))
    return tuple(told)


def _judge(films: FilmSet) -> Callable[[tuple[Found, ...]], FloatArray]:
    """Probability of each family given what was found; what comes again is not weighed again."""
    starts = np.flatnonzero(np.diff(films.suspect, prepend=-1))
    names = families()
    family = np.array([names.index(one.family) for one in films.suspects])
    weighed: dict[Found, FloatArray] = {}
    judged: dict[tuple[Found, ...], FloatArray] = {}

    def log_likelihood(found: Found) -> FloatArray:
        if found not in weighed:
            part, value = found
            log_values = _log_likelihood(films, part, value)
            if part == "ohm" and value < math.inf:  # type: ignore[operator]
                return log_values
            weighed[found] = log_values
        return weighed[found]

    def shares_of(told: tuple[Found, ...]) -> FloatArray:
        if told not in judged:
            log_weight = films.log_prior + sum(log_likelihood(one) for one in told)
            by_suspect = np.add.reduceat(np.exp(log_weight - log_weight.max()), starts)
            share = np.bincount(family, by_suspect, len(names))
            judged[told] = share / share.sum()
        return judged[told]

    return shares_of


def _log_likelihood(films: FilmSet, part: str, value: str | float) -> FloatArray:
    if isinstance(value, float):
        return two_probe_reading("", value).log_likelihood(films)
    if part in ("finish", "lamp"):
        what = "through" if part == "lamp" else part
        return CategoryObservation(what, value, VIEWING).log_likelihood(films)
    reading = parse_reading(value, view="through" if part == "through" else "front")
    return ColourObservation(reading, VIEWING).log_likelihood(films)


def reliability(outcome: Outcome) -> list[tuple[float, float, int]]:
    """Mean stated probability, share that is right, and number, in each bin that holds any."""
    place = np.digitize(outcome.stated, BINS) - 1
    rows = []
    for i in range(BINS.size - 1):
        inside = place == i
        if inside.any():
            stated, right = outcome.stated[inside].mean(), outcome.right[inside].mean()
            rows.append((float(stated), float(right), int(inside.sum())))
    return rows


def about_ninety(outcome: Outcome) -> tuple[float, float, int]:
    """Mean stated probability, share right and number of verdicts given at 85 to 95 %."""
    inside = (outcome.stated >= 0.85) & (outcome.stated < 0.95)
    if not inside.any():
        return math.nan, math.nan, 0
    return (float(outcome.stated[inside].mean()), float(outcome.right[inside].mean()),
            int(inside.sum()))  # fmt: skip


def excess(outcome: Outcome) -> float:
    """Mean square of (times it was true - sum of its stated probability) over its variance.

    Over every family and tenth of probability with 20 films expected or more: 1 where
    all stated probabilities are right.
    """
    squares = []
    for f, name in enumerate(families()):
        share, true = outcome.of_each[:, f], outcome.truth == name
        place = np.minimum((10.0 * share).astype(int), 9)
        expected = np.bincount(place, share, 10)
        got = np.bincount(place, true, 10)
        variance = np.bincount(place, share * (1.0 - share), 10)
        enough = (expected >= 20.0) & (variance >= 5.0)
        squares += list((got - expected)[enough] ** 2 / variance[enough])
    return float(np.mean(squares))


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


def accuracy_table(outcomes: Sequence[Outcome]) -> str:
    """How often the verdict is right, and how often near 90 %."""
    lines = [
        "| looked at with | films | right | stated | at 85-95 %: verdicts | stated | right "
        "| excess |",
        "|---" * 8 + "|",
    ]
    for one in outcomes:
        stated, right, count = about_ninety(one)
        near = "0 | | "
        if count:
            error = math.sqrt(right * (1.0 - right) / count)
            near = f"{count} | {100 * stated:.1f} % | {100 * right:.1f} ± {100 * error:.1f} %"
        lines.append(
            f"| {one.way} | {one.truth.size} | {100 * one.right.mean():.1f} % | "
            f"{100 * one.stated.mean():.1f} % | {near} | {excess(one):.2f} |"
        )
    return "\n".join(lines)


def reliability_table(outcomes: Sequence[Outcome]) -> str:
    """What the chart shows: stated and true in each bin."""
    lines = [
        "| looked at with | stated | right | standard error | verdicts |",
        "|---|---|---|---|---|",
    ]
    for one in outcomes:
        for stated, right, count in reliability(one):
            error = math.sqrt(max(right * (1.0 - right), 0.25 / count) / count)
            lines.append(
                f"| {one.way} | {100 * stated:.1f} % | {100 * right:.1f} % | {100 * error:.1f} | "
                f"{count} |"
            )
    return "\n".join(lines)


def confusion_table(outcome: Outcome) -> str:
    """Rows: what it was; columns: what it was called, in percent of the row."""
    names = [name for name in families() if name in outcome.truth]
    lines = ["| it was | films | " + " | ".join(names) + " |", "|---" * (len(names) + 2) + "|"]
    for name in names:
        own = outcome.truth == name
        row = [f"{100.0 * np.mean(outcome.guess[own] == other):.0f}" for other in names]
        lines.append(f"| {name} | {own.sum()} | " + " | ".join(row) + " |")
    return "\n".join(lines)


def report(metal: str, on: str, count: int, seed: int, outcomes: Sequence[Outcome]) -> str:
    """All tables, in Markdown."""
    single = run(metal, on, count, seed, SINGLE)
    named = run(metal, on, count // 4, seed, choice="name")
    parts = [
        "# Are the probabilities of `assay` right?\n",
        f"{metal} on {on}, {count} films drawn from the hypotheses, seed {seed}. Films for whose "
        "colour the onlooker had no word are left out. *Excess* is the mean square of the gap "
        "between times true and times stated, over its variance: 1 where every probability is "
        "right but for the chance of the draw; the finite number of simulated films adds to it.\n"
        "`python -m benchmarks.assay_calibration --write`\n",
        accuracy_table(outcomes),
        "\nEach kind of finding by itself:\n",
        accuracy_table(single),
        "\nReliability, the data of the chart:\n",
        reliability_table(outcomes),
        "\nAn onlooker the program does not expect, who always gives a colour its one name in "
        "our list:\n",
        accuracy_table(named),
    ]
    for one in outcomes:
        parts += [f"\nWith {one.way}, in percent of the row:\n", confusion_table(one)]
    return "\n".join(parts) + "\n"


def main() -> None:
    """Print accuracy, reliability and confusion for each way of looking."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--metal", default="Ti")
    parser.add_argument("--on", default="glass")
    parser.add_argument("--films", type=int, default=40_000)
    parser.add_argument("--seed", type=int, default=2)
    parser.add_argument("--chart", type=Path)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    outcomes = run(options.metal, options.on, options.films, options.seed)
    text = report(options.metal, options.on, options.films, options.seed, outcomes)
    print(text)
    if options.write:
        TABLE.write_text(text, encoding="utf-8")
    if options.chart:
        draw_reliability(outcomes, options.chart)


if __name__ == "__main__":
    main()
