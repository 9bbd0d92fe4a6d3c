"""Ways in which a design is changed at random, to start a refinement from in another valley."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .._typing import FloatArray, IndexArray
from .state import join_layers

Films = tuple[IndexArray, FloatArray]
"""Media of the films from the light inward, and their thicknesses [nm]."""

LEAST_SHARE = 0.02
"""Of half a wave, the thinnest a layer is drawn."""
_KICKS = (0.1, 0.3, 0.6)  # standard deviations of the logarithm of a thickness
_THIN_SHARE = 0.6  # of half a wave, of a layer put in
_TAKEN_OUT = 0.5  # how often a layer makes room for another where it need not
_WITHIN = 0.8  # how often one comes to lie within another
_ORDERS = (-2, -1, 1, 2)  # half waves a layer is shifted by
_TRIES = 4  # changes drawn until one keeps to the number of layers


def change_films(
    films: Films, half_nm: FloatArray, *, most: int, rng: np.random.Generator
) -> Films:
    """Films changed in one of the ways, at most so many; as they are where none will do.

    Parameters
    ----------
    half_nm : ndarray, shape (M,)
        Half a wave of each medium [nm].
    """
    for _ in range(_TRIES):
        way = _CHANGES[int(np.searchsorted(_OFTEN, rng.uniform(), side="right"))]
        made = way(films, half_nm, most, rng)
        if 0 < made[0].size <= most:
            return made
    return films


def _shake(films: Films, _: FloatArray, __: int, rng: np.random.Generator) -> Films:
    """All thicknesses changed."""
    which, nm = films
    kick = _KICKS[int(rng.integers(len(_KICKS)))]
    return which, nm * np.exp(kick * rng.standard_normal(which.size))


def _redraw_run(films: Films, half_nm: FloatArray, _: int, rng: np.random.Generator) -> Films:
    """A run of layers given new thicknesses."""
    which, nm = films
    first, last = np.sort(rng.integers(0, which.size, 2))
    run = slice(int(first), int(last) + 1)
    nm = nm.copy()
    nm[run] = half_nm[which[run]] * rng.uniform(LEAST_SHARE, 1.0, nm[run].size)
    return which, nm


def _replace_layer(films: Films, half_nm: FloatArray, _: int, rng: np.random.Generator) -> Films:
    """One layer of another medium, joined to its neighbours if they are of it."""
    which, nm = films[0].copy(), films[1].copy()
    j = int(rng.integers(which.size))
    which[j] = int(rng.integers(half_nm.size))
    nm[j] = half_nm[which[j]] * rng.uniform(LEAST_SHARE, 1.0)
    return join_layers(which, nm)


def _shift_order(films: Films, half_nm: FloatArray, _: int, rng: np.random.Generator) -> Films:
    """One layer thicker or thinner by half a wave, which turns the middle of the band by none."""
    which, nm = films[0], films[1].copy()
    j = int(rng.integers(which.size))
    by = half_nm[which[j]]
    nm[j] += by if nm[j] <= by or rng.uniform() < 0.5 else -by
    return which, nm


def list_shifts(films: Films, half_nm: FloatArray, *, thickest_nm: FloatArray) -> list[Films]:
    """The films with each layer in turn thicker or thinner by one or two half waves.

    ``thickest_nm`` is the most of each medium, shape (M,).
    """
    which, nm = films
    shifted = [(j, nm[j] + k * half_nm[which[j]]) for j in range(which.size) for k in _ORDERS]
    return [
        (which, np.concatenate([nm[:j], [d], nm[j + 1 :]]))
        for j, d in shifted
        if 0.0 < d < thickest_nm[which[j]]
    ]


def _move_layer(films: Films, half_nm: FloatArray, most: int, rng: np.random.Generator) -> Films:
    """One layer taken out, and one put in elsewhere: within a layer, or on the outside.

    Where there is room for it, none may be taken out.
    """
    which, nm = films
    if which.size > 1 and (which.size + 2 > most or rng.uniform() < _TAKEN_OUT):
        keep = np.arange(which.size) != int(rng.integers(which.size))
        which, nm = join_layers(which[keep], nm[keep])
    medium = int(rng.integers(half_nm.size))
    thin = half_nm[medium] * rng.uniform(LEAST_SHARE, _THIN_SHARE)
    j, share = int(rng.integers(which.size)), rng.uniform(LEAST_SHARE, 1.0 - LEAST_SHARE)
    if which.size + 2 <= most and rng.uniform() < _WITHIN:
        whole = nm[j]
        which = np.insert(which, j + 1, [medium, which[j]])
        nm = np.insert(nm, j + 1, [thin, (1.0 - share) * whole])
        nm[j] = share * whole
    else:
        which, nm = np.insert(which, j, medium), np.insert(nm, j, thin)
    return join_layers(which, nm)


_Change = Callable[[Films, FloatArray, int, np.random.Generator], Films]
_CHANGES: tuple[_Change, ...] = (
    _shake, _redraw_run, _replace_layer, _shift_order, _move_layer,
)  # fmt: skip
_OFTEN = np.cumsum((0.12, 0.3, 0.13, 0.12))  # how often each is drawn, up to the last
