"""The stacks that are timed: drawn at random, of no material in particular."""

from __future__ import annotations

import numpy as np

from oxhue.optics._typing import ComplexArray, FloatArray

WAVELENGTH_NM: FloatArray = np.linspace(380.0, 780.0, 81)


def materials(count: int, rng: np.random.Generator, lead: tuple[int, ...] = ()) -> ComplexArray:
    """Dispersive media, half of them absorbing, shape (*lead, count, 81)."""
    shape = (*lead, count, 1)
    n = rng.uniform(1.3, 2.6, shape) * (1.0 + 0.05 * (550.0 / WAVELENGTH_NM) ** 2)
    k = rng.uniform(0.0, 0.5, shape) * (rng.random(shape) < 0.5) * WAVELENGTH_NM / 780.0
    return n + 1j * k


def random_stacks(count: int, layers: int, seed: int = 1) -> tuple[ComplexArray, FloatArray]:
    """Stacks each of media of its own on clear substrates: index and thickness."""
    rng = np.random.default_rng(seed)
    index = materials(layers + 2, rng, (count,))
    index[:, 0] = 1.0
    index[:, -1] = rng.uniform(1.4, 1.8, (count, 1))
    return index, rng.uniform(0.0, 150.0, (count, layers))


def alike_stacks(count: int, layers: int, seed: int = 2) -> tuple[ComplexArray, FloatArray]:
    """Stacks of the same media, only their thicknesses differ: index (layers + 2, 81)."""
    index, thickness_nm = random_stacks(1, layers, seed)
    thickness_nm = thickness_nm * np.random.default_rng(seed).uniform(0.9, 1.1, (count, layers))
    return index[0], thickness_nm
