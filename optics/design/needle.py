"""Designs made better by layers inserted where that helps.

A layer is inserted where an infinitely thin one would already lower the merit: all places and
materials are tried in one pass as layers of no thickness, whose slopes the gradient tells.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import permutations

import numpy as np

from .._typing import FloatArray, IndexArray
from .state import SHORT, SOLVED, WORTH, SearchState, Trial, enforce_limits_all

_SPOT_NM, _MOST_SPOTS = 15.0, 8  # how far apart places in one layer are, and how many
_THIN_NM, _THICK_NM = 1.0, 40.0  # of a layer just inserted
_WHOLE_NM = np.array([30.0, 60.0, 100.0, 150.0])  # of a layer added where no thin one helps
_WIDTH, _FINISHED = 4, 2  # places tried, and of these refined to the end


def grow_by_needles(bench: SearchState, candidates: Sequence[Trial]) -> list[Trial]:
    """Add layers to each design while that helps and there is room, keeping each stage."""
    best = list(candidates)
    open_ = [i for i, one in enumerate(best) if one.merit > SOLVED]
    while open_ and not bench.out_of_budget:
        tried = {i: _add_layers(bench, best[i]) for i in open_}
        found = _best_of_each(bench, tried, best)
        for i, one in found.items():
            best[i] = bench.add(one)
        open_ = [i for i in found if best[i].merit > SOLVED]
    return best


def _add_layers(bench: SearchState, candidate: Trial) -> list[Trial]:
    """Designs with a layer more where the slope says, or with a whole one or two elsewhere."""
    room = bench.limits.most_layers - candidate.which.size
    if room < 1:
        return []
    found = [*insert_needles(bench, candidate), *_add_whole_layers(bench, candidate)]
    return [*found, *_add_whole_pairs(bench, candidate)] if room > 1 else found


def _shortlist(
    bench: SearchState, tried: dict[int, list[Trial]], width: int
) -> list[tuple[int, Trial]]:
    """The most promising few of each set after a few steps, with the set they are of."""
    flat = [(i, one) for i, some in tried.items() for one in some if one.which.size]
    short = bench.refine_all([one for _, one in flat], False, SHORT)
    kept = []
    for i in tried:
        own = [one for (k, _), one in zip(flat, short, strict=True) if k == i]
        kept += [(i, one) for one in sorted(own, key=lambda c: c.rank)[:width]]
    return kept


def _best_of_each(
    bench: SearchState, tried: dict[int, list[Trial]], than: Sequence[Trial]
) -> dict[int, Trial]:
    """The best of each set once refined and makeable, where it is worth its layers."""
    short = _shortlist(bench, tried, _FINISHED)
    done = enforce_limits_all(bench, [one for _, one in short])
    most = bench.limits.most_layers
    found: dict[int, Trial] = {}
    for (i, _), one in sorted(zip(short, done, strict=True), key=lambda pair: pair[1].rank):
        if 0 < one.which.size <= most and one.merit < WORTH * than[i].merit:
            found.setdefault(i, one)
    return found


def insert_needles(bench: SearchState, candidate: Trial, count: int = _WIDTH) -> list[Trial]:
    """Designs with one thin layer more where that lowers the merit fastest, most promising first.

    Notes
    -----
    For a layer of no thickness with the column j of the Jacobian, the merit's square ``|r|²``
    falls fastest by ``(j·r)²/|j|²``, at the thickness ``-j·r/|j|²``, where ``j·r < 0``.
    """
    which, thickness, places = _insert_empty_layers(len(bench.merit.palette), candidate)
    residuals, slopes = bench.merit.with_slopes(which, thickness)
    column = slopes[:, [place[0] for place in places]]
    pull, size = column.T @ residuals, (column**2).sum(axis=0)
    whole = float(residuals @ residuals)
    gain = np.where(pull < 0.0, pull**2 / np.maximum(size, 1e-30), 0.0)
    found: list[Trial] = []
    taken: set[tuple[int, int]] = set()
    for i in np.argsort(-gain, kind="stable"):
        if gain[i] <= (1.0 - WORTH**2) * whole or len(found) == count:
            break
        _, layer, share, medium = places[i]
        if (layer, medium) not in taken:
            taken.add((layer, medium))
            start_nm = float(np.clip(-pull[i] / size[i], _THIN_NM, _THICK_NM))
            found.append(_insert(bench, candidate, layer, share, medium, start_nm))
    return found


def _insert_empty_layers(
    media: int, candidate: Trial
) -> tuple[IndexArray, FloatArray, list[tuple[int, int, float, int]]]:
    """The same design cut into parts with empty layers of every medium between.

    Also the places: position of the empty layer, the layer it is in, at what share of it, medium.
    """
    which: list[int] = []
    thickness: list[float] = []
    places: list[tuple[int, int, float, int]] = []
    own = candidate.which.tolist()

    def empties(layer: int, share: float, neighbours: Iterable[int]) -> None:
        for medium in set(range(media)) - set(neighbours):
            places.append((len(which), layer, share, medium))
            which.append(medium)
            thickness.append(0.0)

    for j, (medium, d) in enumerate(zip(own, candidate.thickness_nm.tolist(), strict=True)):
        empties(j, 0.0, own[max(j - 1, 0) : j + 1])
        parts = int(np.clip(d / _SPOT_NM, 1, _MOST_SPOTS))
        for part in range(parts):
            if part:
                empties(j, part / parts, [medium])
            which.append(medium)
            thickness.append(d / parts)
    empties(len(own), 0.0, own[-1:])
    return np.array(which, dtype=np.intp), np.array(thickness), places


def _insert(
    bench: SearchState, candidate: Trial, layer: int, share: float, medium: int, start_nm: float
) -> Trial:
    which, thickness = candidate.which.tolist(), candidate.thickness_nm.tolist()
    if share:
        whole = thickness[layer]
        which[layer : layer + 1] = [which[layer], medium, which[layer]]
        thickness[layer : layer + 1] = [share * whole, start_nm, (1.0 - share) * whole]
    else:
        which.insert(layer, medium)
        thickness.insert(layer, start_nm)
    return bench.make_trial(candidate.family, which, thickness)


def _add_whole_layers(bench: SearchState, candidate: Trial) -> list[Trial]:
    """The best designs with a whole layer more on top, at the base, or between two layers."""
    found = []
    own = candidate.which.tolist()
    for layer in range(len(own) + 1):
        neighbours = set(own[max(layer - 1, 0) : layer + 1])
        for medium in set(range(len(bench.merit.palette))) - neighbours:
            which = np.insert(candidate.which, layer, medium)
            nm = np.tile(candidate.thickness_nm, (_WHOLE_NM.size, 1))
            nm = np.insert(nm, layer, _WHOLE_NM, axis=1)
            miss = bench.merit.values(which, nm)
            i = int(np.argmin(miss))
            found.append(Trial(candidate.family, which, nm[i], float(miss[i])))
    return sorted(found, key=lambda c: c.rank)[:_WIDTH]


def _add_whole_pairs(bench: SearchState, candidate: Trial) -> list[Trial]:
    """The best designs with two whole layers more side by side: where one alone is no step."""
    first, second = (part.ravel() for part in np.meshgrid(_WHOLE_NM, _WHOLE_NM))
    found = []
    own = candidate.which.tolist()
    for layer in range(len(own) + 1):
        for a, b in permutations(range(len(bench.merit.palette)), 2):
            if (layer and own[layer - 1] == a) or (layer < len(own) and own[layer] == b):
                continue
            which = np.insert(candidate.which, layer, [a, b])
            nm = np.tile(candidate.thickness_nm, (first.size, 1))
            nm = np.insert(nm, [layer, layer], np.stack([first, second], axis=-1), axis=1)
            miss = bench.merit.values(which, nm)
            i = int(np.argmin(miss))
            found.append(Trial(candidate.family, which, nm[i], float(miss[i])))
    return sorted(found, key=lambda c: c.rank)[:_WIDTH]
