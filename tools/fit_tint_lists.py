"""Fit the growth of oxide on titanium, steel and stainless to published lists of colours.

Run as ``python -m tools.fit_tint_lists`` to print the fits and how far each list lies from a fit to
the others, with ``--write`` to put them into optics/oxidation/metals.toml. No rate constants are
published for these metals at tinting temperatures, so words are turned into thicknesses by the
optics and the law's parameters are learnt from them as from a user's own test pieces.
"""

from __future__ import annotations

import argparse
import re
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.oxidation.calibration import (
    Coupon,
    LawDraws,
    LawFit,
    fit_law,
    log_predictive,
)
from oxhue.optics.oxidation.growth import grow
from oxhue.optics.oxidation.metals import KilnSpread, Metal, find_metal
from oxhue.optics.oxidation.schedule import hold
from oxhue.optics.tint.coupon import film_share, piece_from_colour, piece_from_thickness

LISTS = Path(__file__).with_name("tint_lists.toml")
METALS = Path(__file__).parents[1] / "optics" / "oxidation" / "metals.toml"
COUNT, SEED = 2000, 3
AGREES = 0.3  # of the best likelihood
PER_HEAT, BETWEEN = (0.15, 0.4), (0.4, 0.5)


@dataclass(frozen=True)
class Row:
    """One row of a list as a test piece."""

    temperature_C: float
    minutes: float
    words: str
    evidence: Coupon


def main() -> None:
    """Fit every metal of the lists; print, and write where asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help="put the fits into metals.toml")
    parser.add_argument("--metal", help="only this one")
    asked = parser.parse_args()
    for key, entry in tomllib.loads(LISTS.read_text("utf-8")).items():
        if asked.metal not in (None, key):
            continue
        metal = vague(key, entry)
        lists = [rows_of(metal, one, k) for k, one in enumerate(entry["lists"])]
        doubt = tuple(float(one["time_doubt"]) for one in entry["lists"])
        found = fitted(metal, lists, doubt)
        report(metal, entry, lists, doubt, found)
        if asked.write:
            write(key, metal, found)


def vague(key: str, entry: dict[str, Any]) -> Metal:
    """The metal with a wide prior in place of its shipped parameters."""
    mean, sd = np.array(entry["prior"]).T
    metal = find_metal(key)
    regime = replace(
        metal.regimes[0],
        reference_C=entry["reference_C"],
        reference_s=60.0 * entry["reference_min"],
        mean=mean,
        covariance=np.diag(sd**2),
    )
    return replace(metal, regimes=(regime,))


def rows_of(metal: Metal, entry: dict[str, Any], kiln: int) -> list[Row]:
    """The rows of one list as test pieces of one kiln."""
    rows = []
    for temperature_C, words, *own in entry.get("rows", []):
        minutes = float(own[0]) if own else entry["time_min"]
        heat = hold(temperature_C, 60.0 * minutes)
        reading = parse_reading(words)
        piece = piece_from_colour(metal, heat, reading, viewing=ViewingConditions(), kiln=kiln)
        rows.append(Row(temperature_C, minutes, words, piece))
    for temperature_C, nm, sd in entry.get("thicknesses", []):
        heat = hold(temperature_C, 60.0 * entry["time_min"])
        piece = piece_from_thickness(metal, heat, nm, sd_nm=sd, kiln=kiln)
        rows.append(Row(temperature_C, entry["time_min"], f"{nm:g} nm", piece))
    return rows


def fitted(metal: Metal, lists: list[list[Row]], doubt: tuple[float, ...]) -> LawFit:
    """Draws from the posterior of all lists together."""
    pieces = [row.evidence for rows in lists for row in rows]
    spread = KilnSpread(PER_HEAT, BETWEEN, time_doubt=doubt)
    rng = np.random.default_rng(SEED)
    return fit_law(metal, pieces, film_share(metal)[1], count=COUNT, rng=rng, spread=spread)


def predicted_C(metal: Metal, draws: LawDraws, row: Row) -> float:
    """Temperature at which a new kiln would show the row's words after its time.

    The median over the stretch of temperatures that agree with the words; where a word comes
    back in a second order, of the stretch nearest to the printed temperature.
    """
    low, high = metal.range_C
    grid = np.arange(low - 50.0, high + 51.0, 5.0)
    heats = [hold(float(c), 60.0 * row.minutes) for c in grid]
    pieces = [replace(row.evidence, heat=heat, kiln=0) for heat in heats]
    likely = np.exp([log_predictive(metal, draws, piece) for piece in pieces])
    inside = likely > AGREES * likely.max()
    start = int(np.argmin(np.where(inside, np.abs(grid - row.temperature_C), np.inf)))
    first, last = start, start
    while first > 0 and inside[first - 1]:
        first -= 1
    while last < grid.size - 1 and inside[last + 1]:
        last += 1
    share = np.cumsum(likely[first : last + 1])
    return float(np.interp(0.5, share / share[-1], grid[first : last + 1]))


def report(
    metal: Metal,
    entry: dict[str, Any],
    lists: list[list[Row]],
    doubt: tuple[float, ...],
    found: LawFit,
) -> None:
    """Print the fit, its thicknesses, and the distance of each list from a fit to the others."""
    theta = found.draws.theta
    print(f"{metal.name}: {sum(map(len, lists))} rows of {len(lists)} lists")
    names = metal.regimes[0].parameters
    for name, mean, sd in zip(names, theta.mean(axis=0), theta.std(axis=0), strict=True):
        print(f"  {name:20} {mean:8.3f} ± {sd:.3f}")
    print(f"  scatter per heat {np.median(found.draws.scatter):.2f}, between lists "
          f"{np.median(found.between_kilns):.2f} (of ln pace)")  # fmt: skip
    low, high = metal.range_C
    minutes = float(entry["reference_min"])
    for temperature_C in np.linspace(low, high, 6):
        film = grow(metal.regimes, theta, hold(temperature_C, 60.0 * minutes),
                    start_nm=found.draws.native_nm)  # fmt: skip
        q = np.quantile(film, [0.05, 0.5, 0.95])
        print(f"  {temperature_C:5.0f} °C {minutes:g} min: {q[1]:6.1f} nm, 90 % {q[0]:.1f} to "
              f"{q[2]:.1f}")  # fmt: skip
    names, share = film_share(metal)
    for h, name in enumerate(names):
        held = np.mean(found.draws.film == h)
        print(f"  {name}: {share[h]:.2f} before, {held:.2f} after")
    print("  times that would bring each list onto the law [min]:")
    for one, pace in zip(entry["lists"], found.draws.pace.T, strict=True):
        given = one["time_min"]
        low, middle, high = given * np.exp(np.quantile(pace, [0.05, 0.5, 0.95]))
        within = f"{middle:.3g} ({low:.2g} to {high:.2g})"
        print(f"    {one['name']:28} {given:g} given, {within}")
    print("  each list predicted from the others [°C, predicted minus printed]:")
    for k, rows in enumerate(lists):
        if len(lists) == 1:
            own = without_each_row(metal, rows, doubt)
        else:
            others = [[replace(row, evidence=replace(row.evidence, kiln=i)) for row in one]
                      for i, one in enumerate(lists[:k] + lists[k + 1 :])]  # fmt: skip
            draws = fitted(metal, others, doubt[:k] + doubt[k + 1 :]).draws
            own = [predicted_C(metal, typical(draws), row) - row.temperature_C for row in rows]
        error = np.array(own)
        each = " ".join(f"{e:+.0f}" for e in error)
        name, rms = entry["lists"][k]["name"], np.sqrt((error**2).mean())
        print(f"    {name:28} mean {error.mean():+6.1f}, rms {rms:5.1f}  {each}")


def without_each_row(metal: Metal, rows: list[Row], doubt: tuple[float, ...]) -> list[float]:
    """Where there is one list only: each row predicted from its other rows."""
    errors = []
    for row in rows:
        draws = fitted(metal, [[one for one in rows if one is not row]], doubt).draws
        errors.append(predicted_C(metal, draws, row) - row.temperature_C)
    return errors


def typical(draws: LawDraws) -> LawDraws:
    """The draws for a list of the middle pace."""
    return replace(draws, pace=np.zeros((len(draws.scatter), 1)))


def write(key: str, metal: Metal, found: LawFit) -> None:
    """Replace the fitted lines of one metal in the data file."""
    theta = found.draws.theta
    covariance = np.cov(theta, rowvar=False)
    scatter, between = np.log(found.draws.scatter), np.log(found.between_kilns)
    regime = metal.regimes[0]
    rows = ",\n".join("    [" + ", ".join(number(v) for v in row) + "]" for row in covariance)
    lines = [
        f"per_heat = [{number(np.exp(np.median(scatter)))}, {number(scatter.std())}]",
        f"between_kilns = [{number(np.exp(np.median(between)))}, {number(between.std())}]",
        f"[[{key}.regimes]]",
        f'law = "{regime.law.name}"',
        f"range_C = [{regime.range_C[0]}, {regime.range_C[1]}]",
        f"reference_C = {regime.reference_C}",
        f"reference_min = {regime.reference_s / 60.0}",
        f"mean = [{', '.join(number(v) for v in theta.mean(axis=0))}]",
        f"covariance = [\n{rows},\n]",
    ]
    text = METALS.read_text("utf-8")
    mark = r"(# fitted by tools/fit_tint_lists\.py: {} " + key + r"\n)"
    pattern = re.compile(mark.format("begin") + ".*?" + mark.format("end"), re.DOTALL)
    body = "\n".join(lines)
    METALS.write_text(pattern.sub(lambda m: f"{m[1]}{body}\n{m[2]}", text), "utf-8")


def number(value: float) -> str:
    """A number TOML reads as a float, to five figures."""
    text = f"{float(value):.5g}"
    return text if re.search(r"[.e]", text) else f"{text}.0"


if __name__ == "__main__":
    main()
