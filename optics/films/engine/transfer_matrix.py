"""Light through plane layers: power reflected, transmitted and absorbed in each.

The stacks are cut into blocks whose fields stay in cache; `recursion.py` carries these up.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from queue import SimpleQueue
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..._typing import ComplexArray, FloatArray, IndexArray
from ...errors import InputError, OutOfRangeError
from ...numerics.threads import run_threads, workers_for
from ..spectra import Polarized, Power, Spectra
from .amplitudes import MediaInLight, amplitudes
from .chebyshev import ChebyshevSeries
from .check import as_complex, as_numbers, check_ambient, check_index
from .incidence import Incidence as Incidence
from .incidence import Polarization as Polarization
from .incidence import one_polarization
from .incidence import separate as separate
from .recursion import (
    RESCALE_EVERY,
    RESCALE_OFTEN,
    Block,
    abs_squared,
    in_range,
    mean,
    powers_from_fields,
    propagate,
)
from .recursion import fields_at_top as fields_at_top
from .workspace import Workspace

Scalar = TypeVar("Scalar", bound=np.generic)
Powers = tuple[FloatArray, FloatArray, FloatArray]
_Place = tuple[slice | IndexArray, ...]

# Stacks × wavelengths at a time, half as many where fluxes are kept at every boundary: the working
# arrays stay in the caches, and threads hand the interpreter on less often than with fewer.
_BLOCK_ELEMENTS = 32_768
_GROUP_ELEMENTS = 16_384  # of several layers, when a block has fewer
# Wavelengths at a time: a block should hold many stacks, which share what is theirs; fewer stacks
# take more of them, or calls would cost more than the arithmetic.
_WIDEST, _WIDEST_ALONE = 640, 2_048
_WAVELENGTH_NM = (1e-3, 1e9)
_THICKEST_NM = 1e12


def solve_arrays(
    index: ArrayLike,
    thickness_nm: ArrayLike,
    wavelength_nm: ArrayLike,
    angle_deg: ArrayLike = 0.0,
    polarization: Polarization = "mean",
) -> Spectra:
    """What coherent stacks, given as arrays, do to light.

    Parameters
    ----------
    index : array_like of complex, shape (..., L + 2, W)
        n + ik with k >= 0 of the ambient, the L layers and the substrate.
    thickness_nm : array_like, shape (..., L)
        Layer thicknesses [nm].
    wavelength_nm : array_like, shape (W,)
        Vacuum wavelengths [nm].
    angle_deg : array_like, shape (...)
        Angle of incidence in the ambient [°], 0 to 90.
    polarization : {"s", "p", "mean"}
        ``mean`` is unpolarised light.

    Returns
    -------
    Spectra
        ``R`` and ``T`` of shape (..., W), ``layer_A`` of shape (..., L, W), amplitudes ``r`` and
        ``t``, each worked out when asked for; the leading shape is what the leading shapes of the
        inputs broadcast to. Indices of many stacks are kept, not copied: ask before changing them.

    Raises
    ------
    InputError, OutOfRangeError
        If shapes do not fit, or a value is NaN, negative or outside its range.

    Notes
    -----
    Abelès' characteristic matrix, time factor exp(-iωt): with ``δ = k0 d kz``, ``q = kz`` (s) or
    ``kz/ε`` (p) and ``kz = √(ε - ε0 sin²θ)``, the tangential fields obey
    ``(E, H)_top = [[cos δ, -i sin δ/q], [-i q sin δ, cos δ]] (E, H)_bottom``.

    References
    ----------
    F. Abelès, Ann. Phys. 12 (5), 596 (1950); M. Born and E. Wolf, Principles of Optics, 7th ed.,
    section 1.6.

    Examples
    --------
    >>> bare = solve_arrays([[1.0], [1.5]], [], [550.0])
    >>> bare.R.round(4), bare.r.round(4)
    (array([0.04]), array([-0.2+0.j]))
    """
    n, d, wavelength, angle = _check_inputs(index, thickness_nm, wavelength_nm, angle_deg)
    if math.prod(n.shape[:-2]) == 1:
        n = n.copy()
    incidence = Incidence.at(n[..., 0, :].real, angle)
    separate(polarization, incidence)
    media = MediaInLight(n, wavelength, incidence, polarization)
    return Spectra(wavelength, CoherentStacks(d.copy(), media))


@dataclass(frozen=True, eq=False)
class CoherentStacks:
    """Stacks of thicknesses (..., L) in one light, to be worked out. Inputs are trusted."""

    thickness_nm: FloatArray
    media: MediaInLight

    def powers(self, wanted: Power) -> Mapping[Power, FloatArray]:
        """R and T, and with layer_A all three; of one stack of few layers, one alone."""
        quick = None if wanted == "layer_A" else self.media.power(wanted, self.thickness_nm)
        if quick is not None:
            return {wanted: quick}
        media = self.media
        stacks = media.index, self.thickness_nm, media.wavelength_nm, media.incidence
        R, T, layer_A = _powers(*stacks, media.polarization, wanted == "layer_A")
        return {"R": R, "T": T} if layer_A is None else {"R": R, "T": T, "layer_A": layer_A}

    def polarized(self) -> Mapping[Polarized, FloatArray]:
        """R and T of both polarisations, from one pass."""
        media, d = self.media, self.thickness_nm
        light = media.wavelength_nm, media.incidence
        R, T = _fill_all(
            media.index, d, *light, separate("mean", media.incidence), None, apart=True
        )
        return {"R_s": R[0], "R_p": R[-1], "T_s": T[0], "T_p": T[-1]}

    def sums(self, _wanted: Power, _weights: FloatArray) -> None:
        """None: fields are carried at all wavelengths together."""
        return

    def amplitudes(
        self, polarization: Literal["s", "p"] | None
    ) -> tuple[ComplexArray, ComplexArray]:
        """r and t (..., W) of one polarisation."""
        media = self.media
        one = polarization or one_polarization(media.polarization, media.incidence)
        return amplitudes(
            media.index,
            self.thickness_nm,
            media.wavelength_nm,
            incidence=media.incidence,
            one=one,
        )


def coherent_powers(
    index: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    *,
    incidence: Incidence,
    polarization: Polarization,
) -> Powers:
    """R, T (..., W) and layer absorptance (..., L, W) for one direction. Inputs are trusted."""
    R, T, layer_A = _powers(index, thickness_nm, wavelength_nm, incidence, polarization, True)
    assert layer_A is not None
    return R, T, layer_A


def reflectance_transmittance(
    index: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    *,
    incidence: Incidence,
    polarization: Polarization,
) -> tuple[FloatArray, FloatArray]:
    """R and T (..., W) alone. Inputs are trusted."""
    R, T, _ = _powers(index, thickness_nm, wavelength_nm, incidence, polarization, False)
    return R, T


def _powers(
    index: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    polarization: Polarization,
    absorption: bool,
) -> tuple[FloatArray, FloatArray, FloatArray | None]:
    """R, T and, where it is asked for, layer absorptance."""
    wanted = separate(polarization, incidence)
    lead = np.broadcast_shapes(index.shape[:-2], thickness_nm.shape[:-1], incidence.lead)
    layers, points = index.shape[-2] - 2, wavelength_nm.size
    layer_A = np.empty((math.prod(lead), layers, points)) if absorption else None
    stacks = index, thickness_nm, wavelength_nm, incidence
    (R,), (T,) = _fill_all(*stacks, wanted, layer_A, apart=False)
    return R, T, None if layer_A is None else layer_A.reshape((*lead, layers, points))


def _fill_all(
    index: ComplexArray,
    thickness_nm: FloatArray,
    wavelength_nm: FloatArray,
    incidence: Incidence,
    wanted: Sequence[str],
    layer_A: FloatArray | None,
    *,
    apart: bool,
) -> FloatArray:
    """R and T (2, P or 1, ..., W), of each polarisation or their means, and ``layer_A``."""
    lead = np.broadcast_shapes(index.shape[:-2], thickness_nm.shape[:-1], incidence.lead)
    points, k0 = wavelength_nm.size, 2.0 * np.pi / wavelength_nm
    powers = np.empty((2, len(wanted) if apart else 1, math.prod(lead), points))
    wide = max(_WIDEST, _WIDEST_ALONE // max(math.prod(lead), 1))
    for start in range(0, points, wide):
        at = slice(start, start + wide)
        out = powers[..., at], None if layer_A is None else layer_A[..., at]
        lit = incidence.take(at)
        _fill(out, index[..., at], thickness_nm, k0[at], lit, wanted, lead)
    return powers.reshape((*powers.shape[:2], *lead, points))


def _fill(
    out: tuple[FloatArray, FloatArray | None],
    index: ComplexArray,
    thickness_nm: FloatArray,
    k0: FloatArray,
    incidence: Incidence,
    wanted: Sequence[str],
    lead: tuple[int, ...],
) -> None:
    """Work out all blocks, side by side where they are many."""
    powers, layer_A = out
    most = _BLOCK_ELEMENTS if layer_A is None else _BLOCK_ELEMENTS // 2
    step, workers = _split_evenly(math.prod(lead), max(1, most // max(k0.size, 1)))
    blocks = list(_blocks(lead, step))
    workspaces: SimpleQueue[Workspace] = SimpleQueue()
    each = step * k0.size * len(wanted)
    together = max(1, min(thickness_nm.shape[-1], _GROUP_ELEMENTS // max(each, 1)))
    series = make_series(index, thickness_nm, k0, incidence=incidence, lead=lead)
    for _ in range(workers):
        layers = 0 if layer_A is None else layer_A.shape[1]
        workspaces.put(Workspace.of(len(wanted), step, k0.size, layers=layers, together=together))

    def work(one: tuple[slice, _Place]) -> None:
        rows, place = one
        lit = Incidence(
            _take(incidence.ambient_n, lead, place, 1), _take(incidence.cosine, lead, place, 1)
        )
        n, d = _take(index, lead, place, 2), _take(thickness_nm, lead, place, 1)
        own_series = None if series is None else series.at(d)
        part = None if layer_A is None else layer_A[rows]
        workspace = workspaces.get()
        try:
            own = workspace.first(rows.stop - rows.start)
            stacks = Block(n, d, k0, lit, wanted, own_series)
            for whole, each in zip(powers, _one_block(own, stacks, part), strict=True):
                whole[:, rows] = each if len(whole) == len(each) else mean(each)
        finally:
            workspaces.put(workspace)

    run_threads(work, blocks, workers)


def _one_block(
    workspace: Workspace, block: Block, layer_A: FloatArray | None
) -> tuple[FloatArray, FloatArray]:
    """R and T (P, b, W) of a block, carried up again with care if fields do not keep in range."""
    across = block.admittance(0)
    for every in (RESCALE_EVERY, RESCALE_OFTEN):
        with np.errstate(all="ignore" if every == RESCALE_EVERY else None):
            E, H, scale = propagate(workspace, block, every)
            E *= across
            coming = abs_squared(np.add(E, H, out=workspace.turned))
            times = None if scale is None else abs_squared(scale)
        if in_range(coming) and in_range(times):
            break
    going = abs_squared(np.subtract(E, H, out=workspace.turned))
    return powers_from_fields(workspace, coming, going, scale=times, across=across, layer_A=layer_A)


def _split_evenly(stacks: int, most: int) -> tuple[int, int]:
    """Stacks in a block, and workers: as many blocks for each, so that none waits for the last."""
    workers = workers_for(math.ceil(stacks / most))
    turns = math.ceil(stacks / (most * workers))
    return math.ceil(stacks / max(turns * workers, 1)), workers


def make_series(
    index: ComplexArray,
    thickness_nm: FloatArray,
    k0: FloatArray,
    *,
    incidence: Incidence,
    lead: tuple[int, ...],
) -> ChebyshevSeries | None:
    """For stacks of the same media in the same light, where it pays."""
    if math.prod(index.shape[:-2]) * math.prod(incidence.lead) != 1:
        return None
    layers, points = thickness_nm.shape[-1], k0.size
    kz = incidence.normal_component(index[..., 1:-1, :].reshape(layers, points))
    d = thickness_nm.reshape(math.prod(lead), layers)
    return ChebyshevSeries.of(d, k0 * kz.reshape(layers, points))


def _blocks(lead: tuple[int, ...], step: int) -> Iterator[tuple[slice, _Place]]:
    """Slices of the flattened leading axes, with the position along each axis."""
    total = math.prod(lead)
    for start in range(0, total, max(step, 1)):
        rows = slice(start, min(start + step, total))
        if len(lead) < 2:
            yield rows, (rows,) * len(lead)
        else:
            yield rows, np.unravel_index(np.arange(rows.start, rows.stop), lead)


def _take(
    array: NDArray[Scalar], lead: tuple[int, ...], block: _Place, tail: int
) -> NDArray[Scalar]:
    """The rows of a block out of an array whose leading axes broadcast to ``lead``."""
    own = array.shape[: array.ndim - tail]
    if math.prod(own) == 1:
        return array.reshape((1, *array.shape[array.ndim - tail :]))
    missing = len(lead) - len(own)
    nowhere = np.zeros(1, dtype=np.intp)
    return array[tuple(block[missing + i] if size > 1 else nowhere for i, size in enumerate(own))]


def _check_inputs(
    index: ArrayLike,
    thickness_nm: ArrayLike,
    wavelength_nm: ArrayLike,
    angle_deg: ArrayLike,
) -> tuple[ComplexArray, FloatArray, FloatArray, FloatArray]:
    """The inputs as arrays of the shapes and ranges they must have."""
    n = as_complex(index, "index")
    d = as_numbers(thickness_nm, "thickness_nm")
    wavelength = check_wavelength(wavelength_nm)
    if n.ndim < 2 or d.ndim < 1 or n.shape[-1] != wavelength.size:
        raise InputError(
            f"index has shape {n.shape}; it needs (..., L + 2, {wavelength.size}) with one value "
            f"for each wavelength"
        )
    if n.shape[-2] != d.shape[-1] + 2:
        raise InputError(
            f"index describes {n.shape[-2]} media and thickness_nm {d.shape[-1]} layers; the "
            f"ambient and the substrate make two media more than layers"
        )
    check_ambient(n[..., 0, :])
    for chunk in _chunks(n):
        check_index(chunk)
    if not np.all((d >= 0.0) & (d <= _THICKEST_NM)):
        raise OutOfRangeError(
            f"thickness_nm must be finite, not negative and at most {_THICKEST_NM:g}"
        )
    return n, d, wavelength, check_angle(angle_deg)


def _chunks(array: NDArray[Scalar]) -> Iterator[NDArray[Scalar]]:
    """Slices along the first axis that stay in cache."""
    step = max(1, _BLOCK_ELEMENTS * len(array) // max(array.size, 1))
    return (array[start : start + step] for start in range(0, len(array), step))


def check_wavelength(wavelength_nm: ArrayLike) -> FloatArray:
    """Wavelengths as an array of shape (W,), or an error if one is not positive and finite."""
    wavelength = np.atleast_1d(as_numbers(wavelength_nm, "wavelength_nm"))
    shortest, longest = _WAVELENGTH_NM
    least, most = wavelength.min(initial=shortest), wavelength.max(initial=longest)
    if wavelength.ndim != 1 or not (least >= shortest and most <= longest):
        raise OutOfRangeError(
            f"wavelength_nm must be a list of positive, finite numbers, {shortest:g} to {longest:g}"
        )
    return wavelength


def check_angle(angle_deg: ArrayLike) -> FloatArray:
    """Angles of incidence as an array, or an error if one is outside 0 to 90 degrees."""
    angle = as_numbers(angle_deg, "angle_deg")
    bad = ~((angle >= 0.0) & (angle <= 90.0))
    if bad.any():
        raise OutOfRangeError(
            f"angle_deg must lie between 0 and 90 degrees; {angle[bad].flat[0]:g} does not"
        )
    return angle
