"""What a crossing does to light, made of real functions.

numpy works a complex exponential out number by number; its real tangent and exponential run over
many numbers at once, which makes these three to five times faster.
"""

from __future__ import annotations

import math

import numpy as np

from ..._typing import ComplexArray, FloatArray

FEW_TRIPS = 256
"""Round trips up to which :func:`few_round_trips` is the faster."""


def round_trip_of(
    across: FloatArray, decay: FloatArray | None, spare: FloatArray, *, round_trip: ComplexArray
) -> None:
    """``(1 - exp(2iδ))/2`` of phases ``δ = -(across + i decay)``, each part to its last digits.

    Parameters
    ----------
    across, decay : ndarray, shape (...)
        Real and imaginary part of the phase of one crossing, times -1, ``decay`` not positive, or
        None where nothing fades. Both are overwritten.
    spare : ndarray, shape (2, ...)
        Overwritten.
    round_trip : ndarray of complex, shape (...)
        Takes the answer, ``-i sin δ exp(iδ)``; one less it is ``cos δ exp(iδ)``.

    Notes
    -----
    With ``t = tan(across)``, ``sin² = t²/(1 + t²)`` and ``sin cos = t/(1 + t²)``, so that small
    phases keep their digits, as they would not in ``1 - cos``.
    """
    t = np.tan(across, out=across)
    mixed = np.multiply(t, t, out=spare[0])
    mixed += 1.0
    real, imag = round_trip.real, round_trip.imag
    if decay is None:
        np.multiply(t, np.divide(t, mixed, out=imag), out=real)
        return
    np.divide(t, mixed, out=mixed)
    decay *= 2.0
    lost = np.expm1(decay, out=decay)
    t *= np.multiply(mixed, np.add(lost, 1.0, out=spare[1]), out=imag)
    lost *= 0.5
    np.subtract(t, lost, out=real)


def round_trips(crossing: ComplexArray, d: FloatArray | float) -> ComplexArray:
    """``(1 - exp(2iδ))/2`` of phases ``δ = crossing d`` of any shape, ``Im δ`` not negative."""
    back = np.negative(d)
    across, decay = crossing.real * back, crossing.imag * back
    round_trip = np.empty(across.shape, dtype=complex)
    round_trip_of(across, decay, np.empty((2, *across.shape)), round_trip=round_trip)
    return round_trip


def few_round_trips(both_ways: ComplexArray) -> ComplexArray:
    """The same of few numbers ``2iδ``: one function number by number costs less than many calls.

    ``-expm1(2iδ)/2`` keeps the last digits of small phases too.
    """
    trips = np.expm1(both_ways)
    trips *= -0.5
    return np.asarray(trips)


def phases(
    d: FloatArray,
    k0: FloatArray,
    kz: ComplexArray,
    *,
    across: FloatArray,
    decay: FloatArray,
    spare: FloatArray,
) -> bool:
    """Phases, times -1, of layers d (g, b or 1) with kz (g, b or 1, W): ``across`` and ``decay``.

    If nothing fades, ``decay`` is left as it is or zero and False given back. ``spare`` is
    overwritten.
    """
    travels = not np.iscomplexobj(kz)
    if kz.shape[1] > 1:
        # A product of a column and a row takes half as long as one broadcast over rows so short.
        flat_spare = spare.reshape(math.prod(spare.shape[:-1]), k0.size)[: d.size]
        flat = np.dot(d.reshape(-1, 1), -k0[None], out=flat_spare)
        depth = flat.reshape(*d.shape, k0.size)
        np.multiply(depth, kz.real, out=across)
        if travels:
            return False
        np.multiply(depth, kz.imag, out=decay)
        return bool(decay[..., :1].min(initial=0.0) < 0.0 or decay.min(initial=0.0) < 0.0)
    np.multiply(d[..., None], -k0 * kz.real, out=across)
    return decay_of(d, k0, kz, decay=decay)


def decay_of(d: FloatArray, k0: FloatArray, kz: ComplexArray, *, decay: FloatArray) -> bool:
    """The second of these phases alone, where kz (g, 1, W) is that of all stacks."""
    if not (np.iscomplexobj(kz) and kz.imag.any()):
        return False
    np.multiply(d[..., None], -k0 * kz.imag, out=decay)
    return True
