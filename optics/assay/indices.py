"""What simulated films are made of: each film has its own data set and its own error of it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from .._typing import ComplexArray, FloatArray
from ..films.materials.catalogue import load_file, spread_sets
from ..films.materials.effective_medium import bruggeman
from .hypotheses import WAVELENGTH_NM, data, main_oxide

Rng = np.random.Generator

INDEX_SPREAD = 0.025
"""Relative standard deviation of an index about its data set."""

_EV_NM = 1239.84  # photon energy times wavelength


def draw_index(medium: str, count: int, rng: Rng) -> ComplexArray:
    """Index (N, W) of a material, each film with a data set and an error of its own."""
    made = data()["constructed"].get(medium)
    if made is not None:
        return _draw_gap_index(made, count, rng)
    sets, weight = _data_sets(medium)
    which = rng.choice(len(sets), size=count, p=weight)
    scale: ComplexArray = sets[which] * (1.0 + INDEX_SPREAD * rng.standard_normal(count))[:, None]
    return scale


def _draw_gap_index(made: dict[str, Any], count: int, rng: Rng) -> ComplexArray:
    """Index (N, W) of an amorphous solid with a gap, by Tauc's law, each film with its own gap.

    J. Tauc, R. Grigorovici, A. Vancu, phys. stat. sol. 15, 627 (1966).
    """
    low, high = made["gap_eV"]
    gap = rng.uniform(low, high, count)[:, None]
    strength = made["tauc_per_cm_eV"] * np.exp(made["tauc_log_sd"] * rng.standard_normal(count))
    energy = _EV_NM / WAVELENGTH_NM
    per_cm = strength[:, None] * np.clip(energy - gap, 0.0, None) ** 2 / energy
    nm, factor = np.array(made["dispersion"]).T
    level = np.interp(gap, made["gap_eV"], made["n_550"])
    level = level * (1.0 + INDEX_SPREAD * rng.standard_normal(count))[:, None]
    k = per_cm * 1e-7 * WAVELENGTH_NM / (4.0 * np.pi)
    index: ComplexArray = level * np.interp(WAVELENGTH_NM, nm, factor) + 1j * k
    return index


@lru_cache(maxsize=64)
def _data_sets(medium: str) -> tuple[ComplexArray, FloatArray]:
    entries = spread_sets(medium)
    index = np.stack([load_file(entry.file).nk(WAVELENGTH_NM) for entry, _ in entries])
    return index, np.array([share for _, share in entries])


def draw_grains(
    metal: str, oxide_share: Sequence[float], count: int, *, rng: Rng
) -> tuple[ComplexArray, FloatArray]:
    """Permittivity (N, W) of grains that are partly oxide, and the share of oxide (N,)."""
    eps = draw_index(metal, count, rng) ** 2
    oxide = main_oxide(metal)
    if not oxide:
        return eps, np.zeros(count)
    low, high = oxide_share
    share = rng.uniform(low, high, count)
    return bruggeman(eps, draw_index(oxide, count, rng) ** 2, share[:, None]), share
