"""How the light from a stack changes with its layers, and where in the stack it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .._typing import ComplexArray, FloatArray
from ..errors import InputError
from .engine.field import FieldProfile
from .engine.field import field_profile as field_in_arrays
from .engine.gradient import coherent_gradient
from .engine.incoherent_gradient import slab_gradient
from .engine.transfer_matrix import Polarization, check_wavelength
from .notation import as_stack
from .solve import prepare
from .spectra import DEFAULT_WAVELENGTH_NM
from .stack import Stack
from .stack_arrays import FilmArrays, films_to_arrays


@dataclass(frozen=True, eq=False)
class StackGradient:
    """Powers of a stack and how they change with each of its layers, front then back.

    Attributes
    ----------
    wavelength_nm : ndarray, shape (W,)
    R, T : ndarray, shape (..., W)
    dR_dd, dT_dd : ndarray, shape (..., layers, W)
        Derivatives to the layers' thicknesses [1/nm].
    dR_dn, dT_dn : ndarray of complex, shape (..., layers, W)
        Derivatives to their indices, ``g = ∂/∂n - i ∂/∂k``: a change ``δn + iδk`` changes the power
        by ``Re(g (δn + iδk))``; in a graded layer, of all its slices alike.
    """

    wavelength_nm: FloatArray
    R: FloatArray
    T: FloatArray
    dR_dd: FloatArray
    dT_dd: FloatArray
    dR_dn: ComplexArray
    dT_dn: ComplexArray

    def __repr__(self) -> str:
        """One line."""
        return f"<StackGradient: {self.dR_dd.shape[-2]} layers, R of shape {self.R.shape}>"


def gradient(
    stack: str | Stack,
    wavelength_nm: ArrayLike = DEFAULT_WAVELENGTH_NM,
    angle_deg: ArrayLike = 0.0,
    *,
    polarization: Polarization = "mean",
) -> StackGradient:
    """R and T of a stack with their derivatives to thickness and index of every layer.

    Parameters
    ----------
    stack : str or Stack
    wavelength_nm : array_like, shape (W,)
        Vacuum wavelengths [nm].
    angle_deg : array_like, shape broadcasting with the sweep
        Angle of incidence [°].
    polarization : {"s", "p", "mean"}

    Raises
    ------
    InputError, OutOfRangeError
        As :func:`~oxhue.optics.films.solve.solve`.

    Examples
    --------
    >>> gradient("TiO2 45nm / Ti", [550.0]).dR_dd.shape
    (1, 1)
    """
    made = prepare(stack, wavelength_nm, angle_deg=angle_deg, polarization=polarization)
    grid, incidence = made.wavelength_nm, made.incidence
    if made.back is None or made.slab_nm is None:
        one = coherent_gradient(
            *made.front.face, grid, incidence=incidence, polarization=polarization
        )
        rows = slice(1, -1)
        front = one.dR_dd, one.dT_dd, one.dR_dn[..., rows, :], one.dT_dn[..., rows, :]
        return StackGradient(grid, one.R, one.T, *_merge(made.front, *front))
    both = slab_gradient(
        made.front.face,
        made.back.face,
        made.slab_nm,
        wavelength_nm=grid,
        incidence=incidence,
        polarization=polarization,
    )
    front = both.front_dR_dd, both.front_dT_dd, both.front_dR_dn, both.front_dT_dn
    back = both.back_dR_dd, both.back_dT_dd, both.back_dR_dn, both.back_dT_dn
    pairs = zip(_merge(made.front, *front), _merge(made.back, *back), strict=True)
    joined = [np.concatenate([near, far[..., ::-1, :]], axis=-2) for near, far in pairs]
    return StackGradient(grid, both.R, both.T, *joined)


def _merge(face: FilmArrays, *slopes: NDArray[Any]) -> list[Any]:
    """Derivatives of listed layers from those of their slices, which share a thickness."""
    to_R, to_T, *to_index = (face.merge_slices(part) for part in slopes)
    share = 1.0 / np.array(face.slices, dtype=float)[:, None]
    return [to_R * share, to_T * share, *to_index]


def field_profile(
    stack: str | Stack, wavelength_nm: float = 550.0, *, step_nm: float = 1.0
) -> FieldProfile:
    """The field and the absorption at every depth of a stack's front films, at normal incidence.

    Parameters
    ----------
    stack : str or Stack
        Without a sweep.
    wavelength_nm, step_nm : float
        The light, and how far apart depths are at most [nm].

    Raises
    ------
    InputError
        If the stack is swept, or there would be too many depths.

    Examples
    --------
    >>> field_profile("TiO2 45nm / Ti", 550.0).boundaries_nm
    array([ 0., 45.])
    """
    films = as_stack(stack)
    if films.sweep_shape:
        raise InputError("`stack` must have fixed thicknesses, not a sweep", parameter="stack")
    front = films_to_arrays(films, films.layers, check_wavelength(wavelength_nm))
    return field_in_arrays(front.index[:, 0], front.thickness_nm, wavelength_nm, step_nm=step_nm)
