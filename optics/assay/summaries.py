"""A family of hypotheses in the figures people ask for: thickness, parts, colours."""

from __future__ import annotations

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions
from ..numerics.density import find_density_modes, highest_region, quantiles
from .colours import FilmColours, FilmSet
from .verdict import Hypothesis, Span
from .words import FAMILY_WORDS, phrase_of

_SMOOTHING_NM = 2.0


def hypothesis_of(
    films: FilmSet,
    colours: FilmColours,
    log_weight: FloatArray,
    *,
    family: str,
    share: float,
    viewing: ViewingConditions,
) -> Hypothesis:
    """One family with its thickness, its parts and the colours of its best film."""
    rows = np.flatnonzero(films.family == family)
    inside = log_weight[rows] - log_weight[rows].max()
    own = np.exp(inside) / np.exp(inside).sum()
    likeliest = int(rows[np.argmax(own)])
    by_suspect = np.bincount(films.suspect[rows], own, len(films.suspects))
    parts = {i: float(p) for i, p in enumerate(by_suspect) if films.suspects[i].family == family}
    best = films.suspects[max(parts, key=lambda i: parts[i])]
    nm, interval, region, candidates = _thickness(films.thickness_nm[rows], own)
    variants: dict[str, float] = {}
    metals: dict[str, float] = {}
    for i, part in parts.items():
        one = films.suspects[i]
        if one.variant:
            variants[one.variant] = variants.get(one.variant, 0.0) + part
        metals[one.metal] = metals.get(one.metal, 0.0) + part
    return Hypothesis(
        name=family, title=FAMILY_WORDS[family],
        words=phrase_of(best, films.ground.text, metals=metals, variants=variants),
        probability=share,
        variants=_sort_shares(variants),
        metals=_sort_shares({m: p for m, p in metals.items() if m}),
        thickness_nm=nm, interval90_nm=interval, region90_nm=region, candidates=candidates,
        looks=_looks(colours, likeliest, viewing),
        example_nm=float(films.thickness_nm[likeliest]),
        example_ohm=float(np.exp(films.log_ohm[likeliest])),
    )  # fmt: skip


def _sort_shares(shares: dict[str, float]) -> dict[str, float]:
    return dict(sorted(shares.items(), key=lambda item: -item[1]))


def _looks(
    colours: FilmColours, row: int, viewing: ViewingConditions
) -> dict[str, tuple[str, str]]:
    """Hex and name of one film's colours by side."""
    from ..colour.colour import xyz_to_colour

    seen = {}
    sides = {"front": colours.front, "back": colours.back, "through": colours.through}
    for side, xyz in sides.items():
        if xyz is None:
            continue
        of = "transmitted" if side == "through" else "reflected"
        look = xyz_to_colour(xyz[row], viewing.light, viewing.observer, of)  # type: ignore[arg-type]
        seen[side] = str(look.srgb_hex), str(look.name)
    return seen


def _thickness(
    nm: FloatArray, weight: FloatArray
) -> tuple[float, tuple[float, float], list[Span], tuple[Span, ...]]:
    """Median, 90 % interval, 90 % region, and the middles and shares of separate candidates."""
    top = float(nm.max())
    if top == 0.0:
        return 0.0, (0.0, 0.0), [(0.0, 0.0)], ()
    step = max(0.5, top / 1500.0)
    grid = np.arange(0.0, top + 8.0 * (_SMOOTHING_NM + step), step)
    place = np.clip(np.rint(nm / step).astype(int), 0, grid.size - 1)
    counts = np.bincount(place, weight, grid.size)
    reach = int(np.ceil(4.0 * _SMOOTHING_NM / step)) + 1
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) * step / _SMOOTHING_NM) ** 2)
    density = np.convolve(counts, kernel / kernel.sum(), mode="same") / step
    low, middle, high = quantiles(grid, density, np.array([0.05, 0.5, 0.95]))
    candidates = tuple(
        (one.thickness_nm, one.probability) for one in find_density_modes(grid, density)
    )
    # Thickness is often known but to a factor: the set that is shortest in ratio says more.
    region = _merge_regions(highest_region(grid, density, rank=density * grid))
    return float(middle), (float(low), float(high)), region, candidates


def _merge_regions(regions: list[Span]) -> list[Span]:
    """Intervals with the slits between neighbours closed that are too narrow to mean anything."""
    whole = [regions[0]]
    for low, high in regions[1:]:
        if low - whole[-1][1] < max(5.0, 0.08 * low):
            whole[-1] = whole[-1][0], high
        else:
            whole.append((low, high))
    return whole
