"""Candidates of a density over thickness, and what can be said where it has no upper end.

Once a metal is opaque more of it looks the same: its density runs level to the end of the range
that was asked about, and any median or upper end would be that of the range.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import chain

import numpy as np

from .._typing import FloatArray
from ..colour.colour import hex_and_name
from ..colour.conditions import ViewingConditions
from ..films.materials.medium import Medium
from ..inference.hypotheses import FilmModel
from ..inference.order import interference_order
from ..inference.posterior import Prior
from ..inference.simulate import SampledFilms, normal_incidence_xyz
from ..numerics.density import cumulate, find_density_modes, highest_region, quantiles
from .result import Candidate, FilmShare

_GREEN_NM = 550.0
_DIMS_FROM_K = 0.5  # a third of green light is left after 100 nm: no interference colours
_OPAQUE_DEPTHS = 5.0  # there and back, in powers of e, from which nothing below is seen
_LEAST_SHARE = 0.1  # of a candidate: kinds of film that are rarer go untold
_HOLLOW = 0.5  # of the length of an interval: with less in the region, the region is told instead


def dims_light(film: Medium) -> bool:
    """Whether a film absorbs so much that it shows no interference orders: a metal, graphite."""
    return complex(film.nk(_GREEN_NM)).imag >= _DIMS_FROM_K


def order_of(pair: FilmModel, thickness_nm: float) -> int | None:
    """Interference order of a thickness; None for a film that has none."""
    return None if _dims_light(pair) else interference_order(pair, thickness_nm)


@lru_cache(maxsize=512)
def _dims_light(pair: FilmModel) -> bool:
    return dims_light(pair.film)


def is_open_upward(pair: FilmModel, grid_nm: FloatArray, density: FloatArray) -> bool:
    """Whether a candidate has a least thickness alone.

    Parameters
    ----------
    pair : FilmModel
    grid_nm, density : ndarray, shape (T,)
        The candidate's part of the density, up to the end of the range.

    Notes
    -----
    Its 90 % region reaches the end of the range, and there the film is opaque. The 5 % point of
    the posterior is then what it has at least; its other points are those of the range.
    """
    if not _dims_light(pair):
        return False
    depths = 4.0 * math.pi * complex(pair.film.nk(_GREEN_NM)).imag * float(grid_nm[-1]) / _GREEN_NM
    if 2.0 * depths < _OPAQUE_DEPTHS:
        return False
    return highest_region(grid_nm, density)[-1][1] >= float(grid_nm[-1])


def find_candidates(
    prior: Prior, film_density: FloatArray, viewing: ViewingConditions
) -> tuple[Candidate, ...]:
    """The modes of a density (H, T), each with order and colour of the film that is likeliest at
    its middle."""
    grid, density = prior.thickness_nm, film_density.sum(axis=0)
    found, likely, middles = find_density_modes(grid, density), [], []
    intervals: list[tuple[float, float]] = []
    regions: list[tuple[tuple[float, float], ...]] = []
    kinds: list[tuple[FilmShare, ...]] = []
    mass = cumulate(grid, film_density)
    for mode in found:
        first, end = np.searchsorted(grid, [mode.low_nm, mode.high_nm]).tolist()
        inside = slice(first, end + 1)
        regions.append(tuple(highest_region(grid[inside], density[inside])))
        kinds.append(_share_kinds(prior, grid[inside], mass[:, inside]))
        low, high = mode.interval90_nm
        commonest = _likeliest(prior, film_density[:, inside].sum(axis=1))
        opened = end == grid.size - 1 and is_open_upward(
            prior.pairs[commonest], grid[inside], density[inside]
        )
        middles.append(low if opened else mode.thickness_nm)
        middle = int(np.argmin(np.abs(grid - middles[-1])))
        likely.append(commonest if opened else _likeliest(prior, film_density[:, middle]))
        intervals.append((low, math.inf if opened else high))
    shown = SampledFilms(np.array(likely), np.array(middles), np.zeros(len(found)))
    xyz = normal_incidence_xyz(shown, prior.pairs, viewing)
    colours = zip(*hex_and_name(xyz, viewing), strict=True)
    return tuple(
        Candidate(
            thickness_nm=nm,
            interval90_nm=interval,
            probability=mode.probability,
            order=_first_order(prior, prior.pairs[j], kind, nm),
            film=prior.pairs[j].film_name,
            srgb_hex=str(hex_value),
            name=str(name),
            region90_nm=region,
            by_film=kind,
        )
        for mode, nm, interval, region, kind, j, (hex_value, name) in zip(
            found, middles, intervals, regions, kinds, likely, colours, strict=True
        )
    )


def _share_kinds(prior: Prior, grid_nm: FloatArray, mass: FloatArray) -> tuple[FilmShare, ...]:
    """What each kind of film says of a candidate's part of the range, by its mass (H, T) from the
    start to each place."""
    before, own = mass[:, 0], mass[:, -1] - mass[:, 0]
    share = own / own.sum()
    kept = np.flatnonzero(share >= _LEAST_SHARE)
    return tuple(
        FilmShare(
            prior.film_names[h],
            float(share[h]),
            float(np.interp(before[h] + 0.5 * own[h], mass[h], grid_nm)),
        )
        for h in kept[np.argsort(-share[kept])].tolist()
    )


def _first_order(
    prior: Prior, shown: FilmModel, kinds: tuple[FilmShare, ...], thickness_nm: float
) -> int | None:
    """Interference order by the film shown, or else by the likeliest kind that has one."""
    own = dict(zip(prior.film_names, prior.pairs_of_films, strict=True))
    films = chain([shown], (prior.pairs[own[kind.film].start] for kind in kinds))
    return next((n for film in films if (n := order_of(film, thickness_nm)) is not None), None)


def _likeliest(prior: Prior, weight: FloatArray) -> int:
    """Place of the first pair of the film with the largest weight, of (H,)."""
    return int(prior.pairs_of_films[int(np.argmax(weight))].start)


def interval_and_region(
    grid_nm: FloatArray, density: FloatArray, candidates: tuple[Candidate, ...]
) -> tuple[tuple[float, float], list[tuple[float, float]]]:
    """The equal-tailed 90 % interval and the shortest 90 % region, without an upper end where a
    candidate has none."""
    low, high = (float(q) for q in quantiles(grid_nm, density, np.array([0.05, 0.95])))
    region = highest_region(grid_nm, density)
    least = next((one.thickness_nm for one in candidates if one.open_upward), None)
    if least is None:
        return (low, high), region
    return (low, math.inf), [*(one for one in region if one[1] < least), (least, math.inf)]


def told_region(candidate: Candidate) -> tuple[tuple[float, float], ...]:
    """What to say of where a candidate lies: its interval, or its own shortest region where the
    interval swallows much that the region leaves out."""
    low, high = candidate.interval90_nm
    covered = sum(b - a for a, b in candidate.region90_nm)
    if candidate.open_upward or not covered or covered >= _HOLLOW * (high - low):
        return ((low, high),)
    return candidate.region90_nm
