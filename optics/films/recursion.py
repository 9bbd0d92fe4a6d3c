"""The recursion of the optics: tangential fields carried from the substrate up to the surface.

Each layer's 2×2 matrix is used with its growing exponential divided out, so nothing overflows
however thick or absorbing a layer is, and no interface coefficient is formed, so nothing is
divided by zero at grazing incidence or at a critical angle.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields

import numpy as np

from .incidence import TINY_KZ, ComplexArray, FloatArray, Incidence, Polarization
from .phase import swing_of, swings

Fields = tuple[ComplexArray, ComplexArray]

RESCALE_EVERY = 8  # layers; fields grow by far less than 1e300 between two rescalings


@dataclass(frozen=True, eq=False)
class Room:
    """Working arrays of a block, used again for the next one: fresh memory costs as much as the
    arithmetic. Shapes (P, b, W) for P polarisations and b stacks; (b, W) what they share.

    Attributes
    ----------
    E, H, turned : ndarray of complex
        Fields at the boundary reached; spare.
    swing : ndarray of complex, shape (g, b, W)
        Of the g layers whose phases are worked out together.
    across, fade, spare : ndarray, shape (g, b, W)
    flux : ndarray, shape (L + 1, P, b, W), or (1, P, b, W)
        ``Re E H*`` in the substrate and, where it was asked for, on top of each layer above it.
    growth : ndarray, shape (L, P, b, W), or (1, P, b, W)
        Log of the amplitude divided out in each layer from the lowest up, or in all of them.
    """

    E: ComplexArray
    H: ComplexArray
    turned: ComplexArray
    swing: ComplexArray
    across: FloatArray
    fade: FloatArray
    spare: FloatArray
    flux: FloatArray
    growth: FloatArray

    @classmethod
    def of(cls, polarizations: int, stacks: int, points: int, layers: int, together: int) -> Room:
        """Room for blocks of that many stacks, fluxes on that many layers, phases of as many."""
        shape = polarizations, stacks, points
        E, H, turned = np.empty((3, *shape), dtype=complex)
        across, fade, spare = np.empty((3, together, *shape[1:]))
        swing = np.empty((together, *shape[1:]), dtype=complex)
        flux, growth = np.empty((layers + 1, *shape)), np.empty((max(layers, 1), *shape))
        return cls(E, H, turned, swing, across, fade, spare, flux, growth)

    def first(self, stacks: int) -> Room:
        """The part of it that fewer stacks take."""
        return Room(*(getattr(self, f.name)[..., :stacks, :] for f in fields(self)))


def rise(
    room: Room,
    index: ComplexArray,
    d: FloatArray,
    k0: FloatArray,
    incidence: Incidence,
    wanted: Sequence[str],
) -> None:
    """Carry fields to the surface: index (b or 1, L + 2, W), d (b or 1, L), directions (b or 1, W).

    What is divided out of the fields on the way goes into the room's ``growth``.
    """
    media, E, H = index.swapaxes(0, 1), room.E, room.H
    E[...], H[...] = 1.0, waves(media[-1], incidence, wanted)[1]
    room.flux[0], room.growth[...] = H.real, 0.0
    everywhere, layers = len(room.flux) > 1, d.shape[-1]
    for some in groups(layers, len(room.swing)):
        kz, q = waves(media[1:-1][some], incidence, wanted)
        across, fade, spare = (p[: len(kz)] for p in (room.across, room.fade, room.spare))
        swing = room.swing[: len(kz)]
        fades = phases(d.T[some], k0, kz, across, fade)
        if fades and everywhere:
            room.growth[layers - some.stop : layers - some.start][::-1] += fade[:, None]
        elif fades:
            room.growth[0] += fade[0] if len(kz) == 1 else fade.sum(axis=0)
        swing_of(across, fade if fades else None, spare, swing)
        for j in range(some.stop - 1, some.start - 1, -1):
            cross((E, H), (E, H), swing[j - some.start], q[:, j - some.start], room.turned)
            if everywhere:
                _flux(E, H, room.flux[layers - j])
            if j % RESCALE_EVERY == 0:
                scale = _shrunk(E, H, room.growth[layers - 1 - j if everywhere else 0])
                if everywhere:
                    room.flux[layers - j] *= scale * scale


def groups(layers: int, together: int) -> Iterator[slice]:
    """Layers some at a time, from the lowest up: few numbers are worked out in one go, for a call
    costs as much as a thousand of them."""
    for stop in range(layers, 0, -together):
        yield slice(max(0, stop - together), stop)


def phases(
    d: FloatArray, k0: FloatArray, kz: ComplexArray, across: FloatArray, fade: FloatArray
) -> bool:
    """Phases of layers d (g, b or 1) with kz (g, b or 1, W) into ``across`` and ``fade``.

    If nothing fades, ``fade`` is left as it is and False given back.
    """
    np.multiply(d[..., None], k0 * kz.real, out=across)
    if not kz.imag.any():
        return False
    np.multiply(d[..., None], k0 * kz.imag, out=fade)
    return True


def _shrunk(E: ComplexArray, H: ComplexArray, growth: FloatArray) -> FloatArray:
    """Bring fields to the size of one, and note what was divided out; the factor is given back."""
    size = np.abs(E)
    size += np.abs(H)
    growth += np.log(size)
    scale: FloatArray = np.divide(1.0, size, out=size)
    E *= scale
    H *= scale
    return scale


def gathered(
    room: Room, across: ComplexArray, layer_A: FloatArray | None
) -> tuple[FloatArray, FloatArray]:
    """R and T of shape (b, W), and into ``layer_A`` (b, L, W) what each layer absorbs.

    ``across`` is the admittance (P, b or 1, W) of the ambient.
    """
    sent, incident = across * room.E, across * room.E
    incident += room.H
    sent -= room.H
    strength = 1.0 / squared(incident)
    R = squared(sent) * strength
    strength *= 4.0 * strength_of(across)
    if layer_A is None:
        T = strength * room.flux[0] * np.exp(-2.0 * room.growth[0])
        return R.mean(axis=0), T.mean(axis=0)
    # Summed from the top, so that a thick absorber below costs the layers above no digits.
    lost = np.zeros_like(R)
    above = strength * room.flux[-1]
    for j in range(layer_A.shape[1]):
        lost += room.growth[-1 - j]
        below = strength * room.flux[-2 - j] * np.exp(-2.0 * lost)
        layer_A[:, j] = (above - below).mean(axis=0)
        above = below
    return R.mean(axis=0), above.mean(axis=0)


def _flux(E: ComplexArray, H: ComplexArray, out: FloatArray) -> None:
    np.multiply(E.real, H.real, out=out)
    out += E.imag * H.imag


def waves(
    n: ComplexArray, incidence: Incidence, wanted: Sequence[str]
) -> tuple[ComplexArray, ComplexArray]:
    """``kz`` of a medium, shape (b or 1, W), and ``kz`` (s) or ``kz/ε`` (p), one axis more."""
    kz = incidence.normal_component(n)
    if "p" not in wanted:
        return kz, kz[None]
    return kz, np.stack([kz if one == "s" else kz / (n * n) for one in wanted])


def strength_of(across: ComplexArray) -> FloatArray:
    """``|q|²/Re q`` of the ambient; a wave that fades instead of travelling brings no power."""
    travels = across.real > TINY_KZ * np.abs(across.imag)
    return np.divide(squared(across), across.real, out=np.zeros(across.shape), where=travels)


def cross(
    below: Fields, above: Fields, swing: ComplexArray, q: ComplexArray, spare: ComplexArray
) -> None:
    """Fields (E, H) at a layer's top from those at its bottom, less the factor exp(-i phase).

    ``above`` takes the answer and may be ``below`` itself; ``spare`` is overwritten. With 1/q in
    place of q this carries a row of derivatives to (E, H) from a layer's top to its bottom.
    """
    E, H = above
    if q.shape == H.shape:
        np.divide(below[1], q, out=H)
    else:  # a product costs a fifth of a division
        np.multiply(below[1], 1.0 / q, out=H)
    turned = np.subtract(H, below[0], out=spare)
    turned *= swing
    np.add(below[0], turned, out=E)
    H -= turned
    H *= q


def squared(z: ComplexArray) -> FloatArray:
    """``|z|²``."""
    squared: FloatArray = z.real**2 + z.imag**2
    return squared


def fields_at_top(
    q_below: ComplexArray,
    index: ComplexArray,
    thickness_nm: FloatArray,
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
    E, H = np.ones_like(q_below), q_below.copy()
    crossing = np.ones_like(q_below)
    for n, d in zip(index[::-1], thickness_nm[::-1], strict=True):
        kz, q = waves(n, incidence, (one,))
        phase = 2.0 * np.pi / wavelength_nm * d * kz
        crossing = crossing * np.exp(1j * phase)
        cross((E, H), (E, H), swings(phase), q[0], np.empty_like(E))
    return E, H, crossing
