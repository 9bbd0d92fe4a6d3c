"""The recursion of the optics: tangential fields carried from the substrate up to the surface.

Each layer's 2×2 matrix is used with its growing exponential divided out, so nothing overflows
however thick or absorbing a layer is, and no interface coefficient is formed, so nothing is
divided by zero at grazing incidence or at a critical angle.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..._typing import ComplexArray, FloatArray
from .chebyshev import SeriesAtThickness
from .incidence import TINY_KZ, Incidence, Polarization, Spare
from .phase import round_trips
from .workspace import Workspace

Fields = tuple[ComplexArray, ComplexArray]
TopFields = tuple[ComplexArray, ComplexArray, ComplexArray | None]

# Layers between two rescalings: fields of coatings stay within the range of numbers for hundreds of
# layers, so that a look at the top tells whether they did; fields of anything do for eight.
RESCALE_EVERY, RESCALE_OFTEN = 64, 8
_RESCALE_SCALED = 32  # as many as RESCALE_EVERY, where each multiplies fields by its admittance
_SQUARE = (1e-140, 1e140)  # of fields at the top, so that products of four can be formed


@dataclass(frozen=True, eq=False)
class Block:
    """Stacks that are worked on together, in their light.

    Attributes
    ----------
    index : ndarray of complex, shape (b or 1, L + 2, W)
    d : ndarray, shape (b or 1, L)
        Thicknesses [nm].
    k0 : ndarray, shape (W,)
        Wave number in vacuum [1/nm].
    incidence : Incidence
        Directions (b or 1, W).
    wanted : sequence of str
        The P polarisations.
    series : SeriesAtThickness or None
        Series of the round trips, where all stacks are of the same media.
    """

    index: ComplexArray
    d: FloatArray
    k0: FloatArray
    incidence: Incidence
    wanted: Sequence[str]
    series: SeriesAtThickness | None

    @property
    def media(self) -> ComplexArray:
        """Index from the ambient down, shape (L + 2, b or 1, W)."""
        return self.index.swapaxes(0, 1)

    def waves(self, n: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """``kz`` of a medium and its admittances, as :func:`waves`."""
        return waves(n, self.incidence, self.wanted)

    def admittance(self, at: int) -> ComplexArray:
        """Of a medium counted from the ambient, shape (P, b or 1, W)."""
        return self.waves(self.index[:, at])[1]


def propagate(workspace: Workspace, block: Block, every: int = RESCALE_EVERY) -> TopFields:
    """Carry fields to the surface.

    What is divided out of the fields on the way goes into ``growth`` of the workspace. E and H on
    top, shape (P, b, W), are given back with what they were multiplied by, if by anything.
    """
    media, d, k0, series = block.media, block.d, block.k0, block.series
    everywhere, layers, bottom = len(workspace.flux) > 1, d.shape[-1], block.admittance(-1)
    workspace.flux[0], workspace.growth[...] = bottom.real, 0.0
    E, H_over_q = workspace.E, workspace.H_over_q
    E[...], H_over_q[...] = 1.0, 1.0
    own = max(media.shape[1], *block.incidence.lead) > 1
    scaled = own and every == RESCALE_EVERY and len(workspace.round_trip) == 1 and not everywhere
    # Where nothing absorbs, admittances are real and their quotients cost no more than products.
    if scaled and (block.incidence.is_normal or media.imag.any()):
        return _propagate_scaled(workspace, block)
    if series is not None and not everywhere:
        workspace.growth[0] = series.losses(workspace.decay[0])
    for turn, some in enumerate(groups(layers, len(workspace.round_trip))):
        kz, q = block.waves(workspace.read(media[1:-1][some], turn))
        round_trip = workspace.round_trips(some, d, k0, kz=kz, series=series)
        steps = ratios(q, bottom)
        for j in range(some.stop - 1, some.start - 1, -1):
            i = j - some.start
            H_over_q *= steps[:, i]
            cross_layer((E, H_over_q), (E, H_over_q), round_trip[i], spare=workspace.turned)
            if everywhere:
                H = np.multiply(H_over_q, q[:, i], out=workspace.turned)
                _flux(E, H, workspace.flux[layers - j])
            if j % every == 0 and j > 0:
                workspace.rescale(layers - j)
        bottom = q[:, 0]
    H_over_q *= bottom
    return E, H_over_q, None


def _propagate_scaled(workspace: Workspace, block: Block) -> TopFields:
    """Carry fields of one up through media of their own without a quotient.

    What one field would be divided by, the other is multiplied by: on top of a layer ``ε`` of both
    (p), and in it ``kz``, so that no layer asks for the medium of another.
    """
    media, incidence, wanted = block.media, block.incidence, block.wanted
    E, H_over_q, scale, layers = workspace.E, workspace.H_over_q, workspace.scale, len(media) - 2
    along, has_p = (E, scale), "p" in wanted
    for i, one in enumerate(wanted):
        kz, eps = normals(media[-1], incidence, (one,))
        E[i] = scale[i] = eps if one == "p" else 1.0
        H_over_q[i] = kz
    trips = workspace.own_trips(block.d, block.k0)
    for j in range(layers - 1, -1, -1):
        (own,) = workspace.read(media[j + 1 : j + 2], 0)
        kz, eps = normals(own, incidence, wanted, spare=trips.phases)
        round_trip = trips.of(j, kz)
        for field in along:
            np.multiply(field, kz, out=field)
        if has_p:
            H_over_q[-1] *= eps
        cross_layer((E, H_over_q), (E, H_over_q), round_trip, spare=workspace.turned)
        np.multiply(H_over_q, kz, out=H_over_q)
        if has_p:
            for field in along:
                field[-1] *= eps
        if j % _RESCALE_SCALED == 0 and j > 0:
            workspace.rescale(layers - j, scale)
    return E, H_over_q, scale


def groups(layers: int, together: int) -> Iterator[slice]:
    """Layers some at a time, from the lowest up: few numbers are worked out in one go, for a call
    costs as much as a thousand of them."""
    for stop in range(layers, 0, -together):
        yield slice(max(0, stop - together), stop)


def ratios(q: ComplexArray, below: ComplexArray) -> ComplexArray:
    """Admittances under layers over their own: q (P, g, b or 1, W), below (P, b or 1, W) under the
    last."""
    if q.shape[1] == 1:
        return (below / q[:, 0])[:, None]
    lead = np.broadcast_shapes(q[:, 0].shape, below.shape)
    steps = np.empty((*q.shape[:2], *lead[1:]), dtype=np.result_type(q, below))
    np.divide(q[:, 1:], q[:, :-1], out=steps[:, :-1])
    np.divide(below, q[:, -1], out=steps[:, -1])
    return steps


def in_range(square: FloatArray | None) -> bool:
    """Whether fields of that square are so far from overflow that products of four can be made."""
    if square is None:
        return True
    least, most = _SQUARE
    return bool(square.min(initial=1.0) > least and square.max(initial=1.0) < most)


def powers_from_fields(
    workspace: Workspace,
    coming: FloatArray,
    going: FloatArray,
    *,
    scale: FloatArray | None,
    across: ComplexArray,
    layer_A: FloatArray | None,
) -> tuple[FloatArray, FloatArray]:
    """R and T of shape (P, b, W), and into ``layer_A`` (b, L, W) what each layer absorbs.

    ``coming`` and ``going`` are the squares of twice the waves in the ambient, times its
    admittance ``across`` (P, b or 1, W), ``scale`` of what fields were multiplied by. The first
    two are overwritten.
    """
    strength, R = np.divide(1.0, coming, out=coming), going
    R *= strength
    strength *= 4.0 * strength_of(across)
    if scale is not None:
        strength *= scale
    if layer_A is None:
        lost = np.multiply(workspace.growth[0], -2.0, out=workspace.growth[0])
        strength *= np.exp(lost, out=lost)
        strength *= workspace.flux[0]
        return R, strength
    # Summed from the top, so that a thick absorber below costs the layers above no digits.
    lost = np.zeros_like(R)
    above = strength * workspace.flux[-1]
    for j in range(layer_A.shape[1]):
        lost += workspace.growth[-1 - j]
        below = strength * workspace.flux[-2 - j] * np.exp(-2.0 * lost)
        layer_A[:, j] = mean(above - below)
        above = below
    return R, above


def mean(power: FloatArray) -> FloatArray:
    """Of s and p along the first axis, or of one of them."""
    both: FloatArray = power[0] if len(power) == 1 else 0.5 * (power[0] + power[1])
    return both


def _flux(E: ComplexArray, H: ComplexArray, out: FloatArray) -> None:
    np.multiply(E.real, H.real, out=out)
    out += E.imag * H.imag


def normals(
    n: ComplexArray, incidence: Incidence, wanted: Sequence[str], *, spare: Spare | None = None
) -> tuple[ComplexArray, ComplexArray]:
    """``kz`` of a medium, shape (b or 1, W), and ε; the latter is n where p is not asked for."""
    if "p" not in wanted:
        return incidence.normal_component(n), n
    eps = n * n
    return (n if incidence.is_normal else incidence.normal_component_of(eps, spare)), eps


def waves(
    n: ComplexArray, incidence: Incidence, wanted: Sequence[str]
) -> tuple[ComplexArray, ComplexArray]:
    """``kz`` of a medium, shape (b or 1, W), and ``kz`` (s) or ``kz/ε`` (p), one axis more."""
    kz, eps = normals(n, incidence, wanted)
    if "p" not in wanted:
        return kz, kz[None]
    q = np.empty((len(wanted), *kz.shape), dtype=kz.dtype)
    np.divide(kz, eps if np.iscomplexobj(kz) else eps.real, out=q[-1])
    if len(wanted) > 1:
        q[0] = kz
    return kz, q


def strength_of(across: ComplexArray) -> FloatArray:
    """``|q|²/Re q`` of the ambient; a wave that fades instead of travelling brings no power."""
    if not across.imag.any() and (across.real > 0.0).all():
        return np.asarray(across.real)
    travels = across.real > TINY_KZ * np.abs(across.imag)
    return np.divide(abs_squared(across), across.real, out=np.zeros(across.shape), where=travels)


def strength_slope(across: ComplexArray) -> ComplexArray:
    """d ln(|q|²/Re q) as a derivative to complex q."""
    travels = across.real > TINY_KZ * np.abs(across.imag)
    one = np.ones_like(across)
    return 2.0 / across - np.divide(one, across.real, out=np.zeros_like(one), where=travels)


def cross_layer(
    below: Fields, above: Fields, round_trip: ComplexArray, *, spare: ComplexArray
) -> None:
    """Fields (E, H/q) at a layer's top from those at its bottom, less the factor exp(-i phase).

    ``above`` takes the answer and may be ``below`` itself; ``spare`` is overwritten. The same
    carries a row of derivatives to (E, H/q) from a layer's top to its bottom.
    """
    turned = np.subtract(below[1], below[0], out=spare)
    turned *= round_trip
    np.add(below[0], turned, out=above[0])
    np.subtract(below[1], turned, out=above[1])


def abs_squared(z: ComplexArray) -> FloatArray:
    """``|z|²``."""
    squared: FloatArray = np.square(z.real)
    squared += np.square(z.imag)
    return squared


def fields_at_top(
    q_below: ComplexArray,
    index: ComplexArray,
    thickness_nm: FloatArray,
    *,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    one: Polarization,
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Tangential fields on top of one set of layers, for a wave going down beneath them.

    Parameters
    ----------
    q_below : ndarray of complex, shape (W,)
        ``kz`` (s) or ``kz/ε`` (p) of what lies beneath.
    index, thickness_nm : ndarray, shapes (L, W) and (L,)
        The layers from the top down.

    Returns
    -------
    E, H : ndarray of complex, shape (W,)
        Less the factor ``exp(-i Σδ)`` of the layers.
    crossing : ndarray of complex, shape (W,)
        ``exp(i Σδ)``, by which a wave that crosses them is multiplied.
    """
    E, H_over_q = np.ones((2, *q_below.shape), dtype=complex)
    crossing, q, spare = np.ones_like(E), q_below, np.empty_like(E)
    for n, d in zip(index[::-1], thickness_nm[::-1], strict=True):
        kz, own = waves(n, incidence, (one,))
        phase = 2.0 * np.pi / wavelength_nm * d * kz
        crossing = crossing * np.exp(1j * phase)
        H_over_q *= q / own[0]
        cross_layer((E, H_over_q), (E, H_over_q), round_trips(phase, 1.0), spare=spare)
        q = own[0]
    return E, H_over_q * q, crossing
