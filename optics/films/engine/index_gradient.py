"""How a layer's matrix, and a medium's admittance, change with the index at a fixed direction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..._typing import ComplexArray, FloatArray

_SHORT_PHASE = 0.05  # below it the difference of two terms is taken from its series


@dataclass(frozen=True, eq=False)
class BlockLayer:
    """One layer of a block of stacks.

    Attributes
    ----------
    eps, kz : ndarray of complex, shape (b or 1, W)
    depth : ndarray, shape (b or 1, W)
        ``k0 d``.
    round_trip : ndarray of complex, shape (b, W)
        ``-i sin δ exp(iδ)``.
    """

    eps: ComplexArray
    kz: ComplexArray
    depth: FloatArray
    round_trip: ComplexArray


def layer_slopes(
    layer: BlockLayer,
    p: bool,
    row: tuple[ComplexArray, ComplexArray],
    *,
    fields: tuple[ComplexArray, ComplexArray],
) -> tuple[ComplexArray, ComplexArray]:
    """``λ δM v`` for a change of ε, and of ``u``, a common change of ``kz²/k0²`` in all media.

    Parameters
    ----------
    p : bool
        Whether the polarisation is p.
    row : tuple of ndarray of complex, shape (b, W)
        The adjoint row on top of the layer.
    fields : tuple of ndarray of complex, shape (b, W)
        E and H at its bottom.

    Returns
    -------
    to_eps, to_u : ndarray of complex, shape (b, W)

    Notes
    -----
    ``∂M/∂ε`` goes through ``cos δ``, ``sin δ/kz`` and ``kz sin δ`` as functions of ``kz²``, which
    have no pole at a critical angle.
    """
    even = row[0] * fields[0] + row[1] * fields[1]
    up, down = row[0] * fields[1], row[1] * fields[0]
    if p:
        up, down = up * layer.eps, down / layer.eps
    bend, sharp, flat = _slopes(layer)
    to_u = even * bend + up * sharp + down * flat
    if not p:
        return to_u, to_u
    along = up * (layer.round_trip / layer.kz) - down * (layer.round_trip * layer.kz)
    return to_u + along / layer.eps, to_u


def _slopes(layer: BlockLayer) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """d/du of cos δ, -i sin δ/kz and -i kz sin δ, each times exp(iδ), shape (b, W)."""
    kz, s = layer.kz, layer.round_trip
    phase = layer.depth * kz
    level = 1.0 - s
    half = 0.5 / kz
    bend = -1j * half * layer.depth * s
    flat = half * (s - 1j * phase * level)
    sharp = -half / (kz * kz) * (1j * phase * level + s)
    short = np.abs(phase) < _SHORT_PHASE
    if short.any():
        depth, phase = np.broadcast_to(layer.depth, short.shape)[short], phase[short]
        square = phase * phase
        series = -1.0 / 3.0 + square * (1.0 / 30.0 - square * (1.0 / 840.0 - square / 45360.0))
        sharp[short] = -0.5j * depth**3 * series * np.exp(1j * phase)
    return bend, sharp, flat


def admittance_slopes(
    eps: ComplexArray, kz: ComplexArray, p: bool
) -> tuple[ComplexArray, ComplexArray]:
    """dq/dε of a medium at a fixed direction, and dq/du."""
    if p:
        slope_u = 0.5 / (kz * eps)
        return slope_u - kz / eps**2, slope_u
    return 0.5 / kz, 0.5 / kz
