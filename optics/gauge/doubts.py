"""Which doubt about surface, oxide, camera or light widens an answer, and what would settle it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray, RealArray
from ..inference.faults import NONE, find_fault
from ..inference.posterior import Prior
from ..numerics.density import highest_region

_LEAST_PROBABILITY = 0.05  # of a fault that is asked about
_WIDENS = 1.1  # times the width without it, from which a doubt is named


@dataclass(frozen=True)
class WideningDoubt:
    """The doubt whose end would narrow an answer most.

    Attributes
    ----------
    name : str
        Of the fault, as in ``faults`` of the answer.
    said : str
        What it is, after "if".
    probability : float
    width_nm, width_without_nm : float
        Length of the 90 % region now, and if it were known that there is no such fault [nm].
    check : str
        What would settle it.
    """

    name: str
    said: str
    probability: float
    width_nm: float
    width_without_nm: float
    check: str


def fault_shares(prior: Prior, pair_share: FloatArray) -> dict[str, float]:
    """Posterior probability of each fault, the likeliest first, from those of the pairs (J,)."""
    names, own = prior.faults
    shares = np.bincount(own, pair_share).tolist()
    return dict(sorted(zip(names, shares, strict=True), key=lambda item: -item[1]))


def find_widening(
    prior: Prior, log_likelihood: RealArray, faults: Mapping[str, float]
) -> WideningDoubt | None:
    """The fault without which the 90 % region of rows (J, E, D) is shortest, if it widens it."""
    names, own = prior.faults
    likely = [name for name, p in faults.items() if name != NONE and p >= _LEAST_PROBABILITY]
    if not likely:
        return None
    groups = [np.flatnonzero(own == names.index(name)) for name in faults]
    rows = prior.weigh_rows(log_likelihood, groups)
    density = dict(zip(faults, prior.density_of(rows)[0], strict=True))
    every = sum(density.values(), np.zeros_like(prior.thickness_nm))
    now = _width(prior, every)
    without = {name: _width(prior, every - density[name]) for name in likely}
    name = min(without, key=without.__getitem__)
    if now < _WIDENS * without[name]:
        return None
    fault = find_fault(name)
    return WideningDoubt(name, fault.said, faults[name], now, without[name], fault.check)


def _width(prior: Prior, density: FloatArray) -> float:
    return float(sum(high - low for low, high in highest_region(prior.thickness_nm, density)))
