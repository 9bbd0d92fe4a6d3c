"""Random designs to start from: new orders of media, new thicknesses, and the best ones changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from .._typing import FloatArray, IndexArray
from .state import SearchState, Trial, remove_layer, tidy

_DRAWS = 2  # random thicknesses of which the better is taken
_LEAST_SHARE = 0.02  # of half a wave
_KICKS = (0.1, 0.3, 0.6)  # standard deviations of the logarithm of a thickness
_COMMON, _EACH = 0.15, 0.35  # the same of a whole design and of its layers, around quarter waves
_NEW, _RANDOM = 3, 0.25  # one in so many is new; the share of these of a random order
_THIN_SHARE = 0.6  # of half a wave, of a layer put in
_TAKEN_OUT = 0.5  # how often a layer makes room for another where it need not
_WITHIN = 0.8  # how often one comes to lie within another
_BEST, _FIRST = 8, 0.3  # designs that are changed; how often it is the first


def sample_designs(
    bench: SearchState,
    near: Sequence[Trial],
    count: int,
    *,
    middle_nm: float,
    rng: np.random.Generator,
    orders: Sequence[IndexArray] = (),
) -> list[Trial]:
    """A pool of random designs.

    A quarter are of random orders of media and the rest of the ``orders`` given, the first the
    likelier. With designs ``near`` these are half as many as such designs changed: counted, a run
    of layers drawn again comes to a better design four to twenty times as often as a whole new
    draw. Layers are up to half a wave at ``middle_nm``, or as thick as a metal is opaque; a third
    of the designs have mostly thin ones, a third layers around half of that, as filters and
    mirrors do.
    """
    media, most = len(bench.merit.palette), bench.limits.most_layers
    best = list(near)[:_BEST]
    new, half = count // _NEW if best else count, half_waves_nm(bench, middle_nm)
    known = orders[:_BEST]
    drawn = [
        known[min(int(rng.geometric(_FIRST)), len(known)) - 1]
        if known and rng.uniform() > _RANDOM
        else _random_order(media, most, rng)
        for _ in range(new)
    ]
    found = [_best_draw(bench, which, half, rng) for which in drawn]
    while best and len(found) < count:
        one = _choose_one(best, rng)
        change = CHANGES[int(rng.choice(len(CHANGES), p=OFTEN))]
        found.append(change(bench, one, half, rng))
    return [one for one in found if 0 < one.which.size <= most]


def _choose_one(best: list[Trial], rng: np.random.Generator) -> Trial:
    """One of the best, the better the likelier."""
    return best[min(int(rng.geometric(_FIRST)), len(best)) - 1]


def half_waves_nm(bench: SearchState, middle_nm: float) -> FloatArray:
    """Half a wave of each medium [nm], or the thickness at which it is opaque, shape (M,)."""
    at = np.array([middle_nm])
    index = np.array([float(np.abs(medium.nk(at)[0])) for medium in bench.merit.palette])
    return np.minimum(middle_nm / (2.0 * index), bench.upper_nm(np.arange(index.size)))


def _random_order(media: int, most: int, rng: np.random.Generator) -> IndexArray:
    """A random order of media, no two alike side by side."""
    which = [int(rng.integers(media))]
    while len(which) < most and media > 1:
        which.append((which[-1] + 1 + int(rng.integers(media - 1))) % media)
    return np.array(which, dtype=np.intp)


def _best_draw(
    bench: SearchState, which: IndexArray, half_nm: FloatArray, rng: np.random.Generator
) -> Trial:
    kind = int(rng.integers(3))
    if kind == 2:
        size = (_DRAWS, which.size)
        common, each = rng.normal(0.0, _COMMON, (_DRAWS, 1)), rng.normal(0.0, _EACH, size)
        share = np.clip(0.5 * np.exp(common + each), _LEAST_SHARE, 1.0)
    else:
        share = rng.uniform(_LEAST_SHARE, 1.0, (_DRAWS, which.size)) ** (1.0 + kind)
    nm = half_nm[which] * share
    miss = bench.merit.values(which, nm)
    i = int(np.argmin(miss))
    return Trial("random start", which, nm[i], float(miss[i]))


def _shake(_: SearchState, one: Trial, __: FloatArray, rng: np.random.Generator) -> Trial:
    """All thicknesses changed."""
    kick = np.exp(float(rng.choice(_KICKS)) * rng.standard_normal(one.which.size))
    return replace(one, thickness_nm=one.thickness_nm * kick)


def _redraw_run(_: SearchState, one: Trial, half_nm: FloatArray, rng: np.random.Generator) -> Trial:
    """A run of layers given new thicknesses."""
    first, last = np.sort(rng.integers(0, one.which.size, 2))
    nm = one.thickness_nm.copy()
    run = slice(int(first), int(last) + 1)
    nm[run] = half_nm[one.which[run]] * rng.uniform(_LEAST_SHARE, 1.0, nm[run].size)
    return replace(one, thickness_nm=nm)


def _replace_layer(
    bench: SearchState, one: Trial, half_nm: FloatArray, rng: np.random.Generator
) -> Trial:
    """One layer of another medium, joined to its neighbours if they are of it."""
    which, nm = one.which.copy(), one.thickness_nm.copy()
    j = int(rng.integers(which.size))
    which[j] = int(rng.integers(len(bench.merit.palette)))
    nm[j] = half_nm[which[j]] * rng.uniform(_LEAST_SHARE, 1.0)
    return tidy(bench, replace(one, which=which, thickness_nm=nm))


def _move_layer(
    bench: SearchState, one: Trial, half_nm: FloatArray, rng: np.random.Generator
) -> Trial:
    """One layer taken out, and one put in elsewhere: within a layer, or on the outside.

    Where there is room for it, none may be taken out.
    """
    most = bench.limits.most_layers
    if one.which.size > 1 and (one.which.size + 2 > most or rng.uniform() < _TAKEN_OUT):
        one = remove_layer(bench, one, int(rng.integers(one.which.size)))
    medium = int(rng.integers(len(bench.merit.palette)))
    thin = half_nm[medium] * rng.uniform(_LEAST_SHARE, _THIN_SHARE)
    j, share = int(rng.integers(one.which.size)), rng.uniform(_LEAST_SHARE, 1.0 - _LEAST_SHARE)
    whole = one.thickness_nm[j]
    if one.which.size + 2 <= most and rng.uniform() < _WITHIN:
        which = np.insert(one.which, j + 1, [medium, one.which[j]])
        nm = np.insert(one.thickness_nm, j + 1, [thin, (1.0 - share) * whole])
        nm[j] = share * whole
    else:
        which = np.insert(one.which, j, medium)
        nm = np.insert(one.thickness_nm, j, thin)
    return tidy(bench, replace(one, which=which, thickness_nm=nm))


_Change = Callable[[SearchState, Trial, FloatArray, np.random.Generator], Trial]
CHANGES: tuple[_Change, ...] = (_shake, _redraw_run, _replace_layer, _move_layer)
OFTEN = (0.15, 0.35, 0.15, 0.35)
