"""A family of hypotheses in the figures people ask for: thickness, parts, colours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions
from ..numerics.density import find_density_modes, highest_region, quantiles
from .colours import FilmColours, FilmSet, colours_of
from .hypotheses import FilmHypothesis, facts
from .verdict import Hypothesis, Span, ThicknessShare
from .words import phrase_of

_SMOOTHING_NM = 2.0


def describe_families(
    films: FilmSet,
    log_weight: FloatArray,
    shares: Mapping[str, float],
    *,
    viewing: ViewingConditions,
) -> tuple[Hypothesis, ...]:
    """Each family with its thickness, its parts and the colours of its best film."""
    colours = colours_of(films, viewing)
    found = []
    for family, share in shares.items():
        rows = np.flatnonzero(films.family == family)
        inside = log_weight[rows] - log_weight[rows].max()
        own = np.exp(inside) / np.exp(inside).sum()
        likeliest = int(rows[np.argmax(own)])
        by_suspect = np.bincount(films.suspect[rows], own, len(films.suspects))
        parts = [(one, float(p)) for one, p in zip(films.suspects, by_suspect, strict=True)
                 if one.family == family]  # fmt: skip
        best = max(parts, key=lambda part: part[1])[0]
        variants, metals = _sum_shares(parts, "variant"), _sum_shares(parts, "metal")
        nm, interval, region, candidates = _thickness(films.thickness_nm[rows], own)
        found.append(
            Hypothesis(
                name=family, title=facts(family)["title"],
                words=phrase_of(best, films.ground.text, metals=metals, variants=variants),
                probability=share, variants=variants, metals=metals, thickness_nm=nm,
                interval90_nm=interval, region90_nm=region, candidates=candidates,
                looks=_looks(colours, likeliest, viewing),
                example_nm=float(films.thickness_nm[likeliest]),
                example_ohm=float(np.exp(films.log_ohm[likeliest])),
            )
        )  # fmt: skip
    return tuple(found)


def _sum_shares(parts: Sequence[tuple[FilmHypothesis, float]], name: str) -> dict[str, float]:
    """Share of each variant or metal that is named, the greatest first."""
    shares: dict[str, float] = {}
    for one, part in parts:
        if key := getattr(one, name):
            shares[key] = shares.get(key, 0.0) + part
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
        look = xyz_to_colour(xyz[row], viewing.light, viewing.observer, of=of)  # type: ignore[arg-type]
        seen[side] = str(look.srgb_hex), str(look.name)
    return seen


def _thickness(
    nm: FloatArray, weight: FloatArray
) -> tuple[float, tuple[float, float], list[Span], tuple[ThicknessShare, ...]]:
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
        ThicknessShare(one.thickness_nm, one.probability)
        for one in find_density_modes(grid, density)
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
