"""The search for designs: start, insert where the slope says, exchange, shake, start anew.

A layer is inserted where an infinitely thin one would already lower the merit: all places and
materials are tried in one pass as layers of no thickness, whose slopes the gradient tells.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from itertools import cycle, permutations

import numpy as np
from numpy.typing import NDArray

from .bench import SHORT, SOLVED, WORTH, Bench, Candidate, makeable, simplified, without
from .sights import Which
from .starts import Start

FloatArray = NDArray[np.float64]

_SPOT_NM, _MOST_SPOTS = 15.0, 8  # how far apart places in one layer are, and how many
_THIN_NM, _THICK_NM = 1.0, 40.0  # of a layer just inserted
_WHOLE_NM = np.array([30.0, 60.0, 100.0, 150.0])  # of a layer added where no thin one helps
_WIDTH = 4  # places tried in earnest
_STARTS_EACH, _STARTS_MORE, _GROWN = 2, 6, 4
_KICK = 0.6  # standard deviation of the logarithm of a thickness
_DRAWS = 4  # random thicknesses of which the best is refined: more would all lie in one valley
_GROWING, _ANEW = 0.3, 0.85  # shares of the effort after which growing, and starting anew, end
_POLISH = 400  # steps at the end, for valleys that are long and flat
_ENOUGH = 3  # designs that meet all goals

Told = Callable[[str], None]


def search(
    bench: Bench,
    begin: list[Start],
    middle_nm: float,
    rng: np.random.Generator,
    report: Told = lambda _: None,
) -> None:
    """Fill the bench with designs, the best of every order of media.

    Parameters
    ----------
    bench : Bench
        Keeps what is found, so that an interrupted search has lost nothing.
    begin : list of Start
        Designs to start from.
    middle_nm : float
        Random designs get layers of up to half a wave here.
    report : callable
        Told what is going on, for a person who waits.
    """
    _screen(bench, begin, report)
    if not bench.best:
        bench.add(_fresh(bench, middle_nm, rng))
    bench.share = _GROWING
    for one in bench.ranked()[:_GROWN]:
        _tell(bench, report)
        bench.add(exchanged(bench, grown(bench, one)))
    bench.share = _ANEW
    for way in cycle((_fresh, _kicked, _redrawn)):
        if bench.tired or sum(one.merit < SOLVED for one in bench.best.values()) >= _ENOUGH:
            break
        _tell(bench, report)
        bench.add(bench.refine(way(bench, middle_nm, rng), bench.limits.thinnest_nm))
    bench.share = 1.0
    for one in bench.ranked()[:_ENOUGH]:
        _tell(bench, report)
        bench.add(exchanged(bench, grown(bench, one)))
    for one in bench.ranked()[:_ENOUGH]:
        bench.add(bench.refine(one, bench.limits.thinnest_nm, _POLISH))
    for one in bench.ranked()[: 2 * _ENOUGH]:
        bench.add(simplified(bench, one))


def _tell(bench: Bench, report: Told) -> None:
    best = bench.ranked()[0]
    report(
        f"{bench.spent} of {bench.effort} refinements; best so far misses by {best.merit:.3g} "
        f"with {best.which.size} layers"
    )


def _screen(bench: Bench, begin: list[Start], report: Told) -> None:
    """Refine the best starts of every family, and the best of the rest."""
    made = [bench.made(s.family, s.which, s.thickness_nm) for s in begin]
    made.sort(key=lambda c: c.rank)
    families: dict[str, int] = {}
    chosen: list[Candidate] = []
    rest: list[Candidate] = []
    for one in made:
        families[one.family] = families.get(one.family, 0) + 1
        (chosen if families[one.family] <= _STARTS_EACH else rest).append(one)
    for one in chosen + rest[:_STARTS_MORE]:
        report(f"starting from {one.family}")
        bench.add(makeable(bench, one))


def grown(bench: Bench, candidate: Candidate) -> Candidate:
    """Add layers while that helps and there is room, keeping each stage."""
    while (
        candidate.merit > SOLVED
        and candidate.which.size < bench.limits.most_layers
        and not bench.tired
    ):
        best = _best_of(bench, insertions(bench, candidate), candidate)
        if best is None:
            best = _best_of(bench, _whole_layers(bench, candidate), candidate)
        if best is None and candidate.which.size + 2 <= bench.limits.most_layers:
            best = _best_of(bench, _whole_pairs(bench, candidate), candidate)
        if best is None:
            break
        candidate = bench.add(best)
    return candidate


def exchanged(bench: Bench, candidate: Candidate) -> Candidate:
    """Take out each layer in turn and let the design grow back elsewhere, while that helps."""
    while candidate.merit > SOLVED and candidate.which.size > 1 and not bench.tired:
        fewer = [
            bench.refine(without(bench, candidate, j), 0.0, SHORT)
            for j in range(candidate.which.size)
        ]
        for one in sorted(fewer, key=lambda c: c.rank)[:_WIDTH]:
            back = grown(bench, bench.add(makeable(bench, one)))
            if back.merit < WORTH * candidate.merit:
                candidate = bench.add(back)
                break
        else:
            break
    return candidate


def _best_of(bench: Bench, tried: list[Candidate], than: Candidate) -> Candidate | None:
    """The best of some designs once refined and makeable, if it is worth its layers."""
    short = [bench.refine(one, 0.0, SHORT) for one in tried]
    most = bench.limits.most_layers
    for one in sorted(short, key=lambda c: c.rank)[:2]:
        done = makeable(bench, one)
        if 0 < done.which.size <= most and done.merit < WORTH * than.merit:
            return done
    return None


def insertions(bench: Bench, candidate: Candidate, count: int = _WIDTH) -> list[Candidate]:
    """Designs with one thin layer more where that lowers the merit fastest, most promising first.

    Notes
    -----
    For a layer of no thickness with the column j of the Jacobian, the merit's square ``|r|²``
    falls fastest by ``(j·r)²/|j|²``, at the thickness ``-j·r/|j|²``, where ``j·r < 0``.
    """
    which, thickness, places = _with_empty_layers(len(bench.merit.palette), candidate)
    residuals, slopes = bench.merit.with_slopes(which, thickness)
    column = slopes[:, [place[0] for place in places]]
    pull, size = column.T @ residuals, (column**2).sum(axis=0)
    whole = float(residuals @ residuals)
    gain = np.where(pull < 0.0, pull**2 / np.maximum(size, 1e-30), 0.0)
    found: list[Candidate] = []
    taken: set[tuple[int, int]] = set()
    for i in np.argsort(-gain, kind="stable"):
        if gain[i] <= (1.0 - WORTH**2) * whole or len(found) == count:
            break
        _, layer, share, medium = places[i]
        if (layer, medium) not in taken:
            taken.add((layer, medium))
            start_nm = float(np.clip(-pull[i] / size[i], _THIN_NM, _THICK_NM))
            found.append(_inserted(bench, candidate, layer, share, medium, start_nm))
    return found


def _with_empty_layers(
    media: int, candidate: Candidate
) -> tuple[Which, FloatArray, list[tuple[int, int, float, int]]]:
    """The same design cut into parts with empty layers of every medium between.

    Also the places: position of the empty layer, the layer it is in, at what share of it, medium.
    """
    which: list[int] = []
    thickness: list[float] = []
    places: list[tuple[int, int, float, int]] = []
    own = candidate.which.tolist()

    def empties(layer: int, share: float, beside: Iterable[int]) -> None:
        for medium in set(range(media)) - set(beside):
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


def _inserted(
    bench: Bench, candidate: Candidate, layer: int, share: float, medium: int, start_nm: float
) -> Candidate:
    which, thickness = candidate.which.tolist(), candidate.thickness_nm.tolist()
    if share:
        whole = thickness[layer]
        which[layer : layer + 1] = [which[layer], medium, which[layer]]
        thickness[layer : layer + 1] = [share * whole, start_nm, (1.0 - share) * whole]
    else:
        which.insert(layer, medium)
        thickness.insert(layer, start_nm)
    return bench.made(candidate.family, which, thickness)


def _whole_layers(bench: Bench, candidate: Candidate) -> list[Candidate]:
    """The best designs with a whole layer more on top, at the base, or between two layers."""
    found = []
    own = candidate.which.tolist()
    for layer in range(len(own) + 1):
        beside = set(own[max(layer - 1, 0) : layer + 1])
        for medium in set(range(len(bench.merit.palette))) - beside:
            which = np.insert(candidate.which, layer, medium)
            nm = np.tile(candidate.thickness_nm, (_WHOLE_NM.size, 1))
            nm = np.insert(nm, layer, _WHOLE_NM, axis=1)
            miss = bench.merit.values(which, nm)
            i = int(np.argmin(miss))
            found.append(Candidate(candidate.family, which, nm[i], float(miss[i])))
    return sorted(found, key=lambda c: c.rank)[:_WIDTH]


def _whole_pairs(bench: Bench, candidate: Candidate) -> list[Candidate]:
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
            found.append(Candidate(candidate.family, which, nm[i], float(miss[i])))
    return sorted(found, key=lambda c: c.rank)[:_WIDTH]


def _fresh(bench: Bench, middle_nm: float, rng: np.random.Generator) -> Candidate:
    """The best of many random designs of one random order of media, no two alike side by side."""
    media = len(bench.merit.palette)
    which = [int(rng.integers(media))]
    while len(which) < bench.limits.most_layers and media > 1:
        which.append((which[-1] + 1 + int(rng.integers(media - 1))) % media)
    return _drawn(bench, "random start", np.array(which, dtype=np.intp), middle_nm, rng)


def _redrawn(bench: Bench, middle_nm: float, rng: np.random.Generator) -> Candidate:
    """One of the best orders of media with new thicknesses."""
    ranked = bench.ranked()[:_GROWN]
    one = ranked[int(rng.integers(len(ranked)))]
    return _drawn(bench, one.family, one.which, middle_nm, rng)


def _drawn(
    bench: Bench, family: str, which: Which, middle_nm: float, rng: np.random.Generator
) -> Candidate:
    """The best of many draws of thicknesses of up to half a wave."""
    at = np.array([middle_nm])
    index = np.array([float(np.abs(medium.nk(at)[0])) for medium in bench.merit.palette])
    half = np.minimum(middle_nm / (2.0 * index[which]), bench.upper_nm(which))
    nm = half * rng.uniform(0.02, 1.0, (_DRAWS, which.size))
    miss = bench.merit.values(which, nm)
    i = int(np.argmin(miss))
    return Candidate(family, which, nm[i], float(miss[i]))


def _kicked(bench: Bench, _: float, rng: np.random.Generator) -> Candidate:
    """One of the best designs with all thicknesses shaken."""
    ranked = bench.ranked()[:_GROWN]
    one = ranked[int(rng.integers(len(ranked)))]
    shaken = one.thickness_nm * np.exp(_KICK * rng.standard_normal(one.which.size))
    return replace(one, thickness_nm=shaken)
