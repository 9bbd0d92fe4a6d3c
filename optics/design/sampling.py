"""Random designs to start from: new orders of media, new thicknesses."""

from __future__ import annotations

import numpy as np

from .._typing import FloatArray, IndexArray
from .changes import LEAST_SHARE
from .state import SearchState, Trial

_DRAWS = 2  # random thicknesses of which the better is taken
_COMMON, _EACH = 0.15, 0.35  # the same of a whole design and of its layers, around quarter waves


def sample_designs(
    bench: SearchState,
    count: int,
    *,
    half_nm: FloatArray,
    rng: np.random.Generator,
) -> list[Trial]:
    """Random designs of as many layers as are allowed, in random orders of media.

    Layers are up to half a wave, ``half_nm`` of each medium (M,); a third of the designs have
    mostly thin ones, a third layers around half of that, as filters and mirrors do.
    """
    media, most = len(bench.merit.palette), bench.limits.most_layers
    drawn = [_random_order(media, most, rng) for _ in range(count)]
    return [_best_draw(bench, which, half_nm, rng) for which in drawn]


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
        share = np.clip(0.5 * np.exp(common + each), LEAST_SHARE, 1.0)
    else:
        share = rng.uniform(LEAST_SHARE, 1.0, (_DRAWS, which.size)) ** (1.0 + kind)
    nm = half_nm[which] * share
    miss = bench.merit.values(which, nm)
    i = int(np.argmin(miss))
    return Trial("random start", which, nm[i], float(miss[i]))
