"""What a stack does to light: the plain results that pass from optics to colour and to designs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import ClassVar, Literal, Protocol

import numpy as np
from numpy.typing import ArrayLike

from .._typing import ComplexArray, FloatArray
from ..errors import InputError, OutOfRangeError
from ..result import Hidden, Result
from .engine.check import as_numbers

Asked = Literal["R", "T", "RT"]
Power = Literal["R", "T", "layer_A"]
Polarized = Literal["R_s", "R_p", "T_s", "T_p"]

DEFAULT_WAVELENGTH_NM: FloatArray = np.arange(380.0, 781.0, 5.0)
DEFAULT_WAVELENGTH_NM.setflags(write=False)
"""The grid for colour: within 0.03 ΔE of a 1 nm grid."""

LIGHT_NM_FS = 299.792458
"""Speed of light [nm/fs], exact in the SI."""
_ROUNDING = 1e-6


class Calculation(Protocol):
    """Where spectra come from: it is run when they are asked for."""

    def powers(self, wanted: Power) -> Mapping[Power, FloatArray]:
        """What is wanted, with what comes of the same work."""
        ...

    def polarized(self) -> Mapping[Polarized, FloatArray]:
        """R and T of both polarisations, whichever the light has."""
        ...

    def sums(self, wanted: Power, weights: FloatArray) -> FloatArray | None:
        """Sums over the wavelengths with weights (W, n); None where spectra cost no more."""
        ...

    def amplitudes(
        self, polarization: Literal["s", "p"] | None, /
    ) -> tuple[ComplexArray, ComplexArray]:
        """r and t; None stands for the polarisation of the light."""
        ...


@dataclass(frozen=True, eq=False, repr=False)
class Spectra(Result):
    """Light reflected, let through and absorbed by one or many stacks over wavelength.

    Everything but the wavelengths is worked out when it is first asked for: ``layer_A`` costs
    1.6 times ``R`` where stacks have media of their own, and 2.4 times where they share them.

    Attributes
    ----------
    wavelength_nm : ndarray, shape (W,)
        Vacuum wavelength [nm].
    """

    also: ClassVar[tuple[str, ...]] = ("R", "T")

    wavelength_nm: FloatArray
    calculation: Hidden[Calculation]

    @classmethod
    def from_arrays(
        cls, wavelength_nm: ArrayLike, R: ArrayLike, T: ArrayLike | None = None
    ) -> Spectra:
        """Spectra that are known already.

        Parameters
        ----------
        wavelength_nm : array_like, shape (W,)
        R, T : array_like, shape (..., W)
            Fractions, 0 to 1; no transmittance is one of 0.

        Raises
        ------
        InputError, OutOfRangeError
            If shapes do not fit, or a fraction is NaN or outside 0 to 1.

        Examples
        --------
        >>> Spectra.from_arrays([450.0, 550.0], [0.9, 0.8]).T
        array([0., 0.])
        """
        wavelength = as_numbers(wavelength_nm, "wavelength_nm")
        reflected = _check_fraction(R, "R", wavelength)
        through = np.zeros_like(reflected) if T is None else _check_fraction(T, "T", wavelength)
        return cls(wavelength, _Known(reflected, through))

    @cached_property
    def _known(self) -> dict[Power, FloatArray]:
        return {}

    def _power(self, wanted: Power) -> FloatArray:
        known = self._known
        if wanted not in known:
            for name, power in self.calculation.powers(wanted).items():
                known.setdefault(name, power)
        return known[wanted]

    def sums(self, wanted: Literal["R", "T"], weights: FloatArray) -> FloatArray:
        """R or T summed over the wavelengths with weights (W, n), shape (..., n).

        The spectra of a sweep are then never stored, which takes a fifth of the time.
        """
        known = wanted in self._known
        found = None if known else self.calculation.sums(wanted, weights)
        return self._power(wanted) @ weights if found is None else found

    @property
    def R(self) -> FloatArray:
        """Reflectance [-], shape (..., W)."""
        return self._power("R")

    @property
    def T(self) -> FloatArray:
        """Transmittance [-], shape (..., W).

        For a half-space substrate the light that enters it; for a slab, what leaves its far face.
        """
        return self._power("T")

    @cached_property
    def _polarized(self) -> Mapping[Polarized, FloatArray]:
        return self.calculation.polarized()

    @property
    def R_s(self) -> FloatArray:
        """Reflectance of s-polarised light [-], whatever the polarisation asked for.

        It comes with ``R_p``, ``T_s`` and ``T_p`` of the same work, in some 0.7 of the time that
        s and p take when each is solved by itself.
        """
        return self._polarized["R_s"]

    @property
    def R_p(self) -> FloatArray:
        """Reflectance of p-polarised light [-], shape (..., W)."""
        return self._polarized["R_p"]

    @property
    def T_s(self) -> FloatArray:
        """Transmittance of s-polarised light [-], shape (..., W)."""
        return self._polarized["T_s"]

    @property
    def T_p(self) -> FloatArray:
        """Transmittance of p-polarised light [-], shape (..., W)."""
        return self._polarized["T_p"]

    @property
    def layer_A(self) -> FloatArray:
        """Absorptance of each layer [-], shape (..., layers, W).

        Layers are listed from the side the stack is listed from, whichever side is looked at; a
        slab counts as one layer between its front and back films.
        """
        return self._power("layer_A")

    @property
    def A(self) -> FloatArray:
        """Absorptance 1 - R - T, shape (..., W)."""
        return 1.0 - self.R - self.T

    @cached_property
    def _amplitudes(self) -> tuple[ComplexArray, ComplexArray]:
        return self.calculation.amplitudes(None)

    @property
    def r(self) -> ComplexArray:
        """Complex amplitude reflected, shape (..., W), with ``R = |r|²``.

        Of E for s, of H for p, at the surface; the time factor is exp(-iωt). Light of both
        polarisations has one at normal incidence alone, where it is that of s.
        """
        return self._amplitudes[0]

    @property
    def t(self) -> ComplexArray:
        """Complex amplitude that enters the substrate, of the same field as ``r``.

        ``T = |t|² Re q_s/Re q_0``, with ``q = n cos θ`` for s and ``cos θ/n`` for p.
        """
        return self._amplitudes[1]

    @property
    def phase_deg(self) -> FloatArray:
        """Phase of the reflected light [°], -180 to 180, shape (..., W)."""
        return np.asarray(np.degrees(np.angle(self.r)))

    @cached_property
    def _ratio(self) -> ComplexArray:
        """``r_p/r_s``, where nothing of s comes back infinite."""
        (of_p, _), (of_s, _) = self.calculation.amplitudes("p"), self.calculation.amplitudes("s")
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(of_p / of_s)

    @property
    def psi_deg(self) -> FloatArray:
        """Ellipsometric Ψ [°], 0 to 90: ``tan Ψ = |r_p/r_s|``, shape (..., W)."""
        return np.asarray(np.degrees(np.arctan(np.abs(self._ratio))))

    @property
    def delta_deg(self) -> FloatArray:
        """Ellipsometric Δ [°], 0 to 360, shape (..., W).

        As ellipsometers print it, for the time factor exp(+iωt): ``Δ = -arg(r_p/r_s)``, which is
        0 to 180 for a bare surface.
        """
        return np.asarray(np.degrees(-np.angle(self._ratio)) % 360.0)

    @property
    def group_delay_fs(self) -> FloatArray:
        """Delay of a reflected pulse [fs], ``dφ/dω``, shape (..., W).

        By differences on the wavelengths given, which must follow the phase: less than half a
        turn from one to the next.

        Raises
        ------
        InputError
            If there are fewer than three wavelengths.
        """
        if self.wavelength_nm.size < 3:
            raise InputError(
                "a group delay needs three wavelengths or more", parameter="wavelength_nm"
            )
        omega = 2.0 * np.pi * LIGHT_NM_FS / self.wavelength_nm  # ω = 2πc/λ [rad/fs]
        return np.asarray(np.gradient(np.unwrap(np.angle(self.r)), omega, axis=-1))


@dataclass(frozen=True, eq=False)
class _Known:
    """Spectra given as they are."""

    R: FloatArray
    T: FloatArray

    def powers(self, wanted: Power) -> Mapping[Power, FloatArray]:
        if wanted == "layer_A":
            raise InputError("spectra given as arrays do not say what each layer absorbs")
        return {"R": self.R, "T": self.T}

    def polarized(self) -> Mapping[Polarized, FloatArray]:
        raise InputError("spectra given as arrays do not tell s from p")

    def sums(self, _wanted: Power, _weights: FloatArray) -> None:
        return None

    def amplitudes(
        self, _polarization: Literal["s", "p"] | None
    ) -> tuple[ComplexArray, ComplexArray]:
        raise InputError("spectra given as arrays have no phase")


def _check_fraction(values: ArrayLike, name: str, wavelength_nm: FloatArray) -> FloatArray:
    fraction = as_numbers(values, name)
    if wavelength_nm.ndim != 1 or fraction.shape[-1:] != wavelength_nm.shape:
        raise InputError(
            f"`{name}` has shape {fraction.shape}; it needs one value for each of the "
            f"{wavelength_nm.size} wavelengths on its last axis",
            parameter=name,
        )
    bad = ~((fraction >= -_ROUNDING) & (fraction <= 1.0 + _ROUNDING))
    if bad.any():
        raise OutOfRangeError(
            f"`{name}` must be fractions between 0 and 1 (not percent); "
            f"one is {fraction[bad].flat[0]:g}",
            parameter=name,
        )
    return fraction


@dataclass(frozen=True, eq=False)
class Gradient:
    """Powers of stacks and how they change.

    Attributes
    ----------
    R, T : ndarray, shape (..., W)
        Reflectance and transmittance [-].
    dR_dd, dT_dd : ndarray, shape (..., L, W), or (..., 0, W) if not asked for
        Derivatives to the thickness of each layer [1/nm].
    dR_dn, dT_dn : ndarray of complex, shape (..., L + 2, W), or (..., 0, W) if not asked for
        Derivatives to the index of ambient, layers and substrate, as ``g = ∂/∂n - i ∂/∂k``:
        a change ``δn + iδk`` changes the power by ``Re(g (δn + iδk))``.
    dR_du, dT_du : ndarray, shape (..., W)
        Derivatives to ``u``, a common change of ``kz²/k0²`` in all media: for a change of the
        tangential wave number ``n0 sin θ``, ``δu = -δ(n0² sin²θ)``.
    """

    R: FloatArray
    T: FloatArray
    dR_dd: FloatArray
    dT_dd: FloatArray
    dR_dn: ComplexArray
    dT_dn: ComplexArray
    dR_du: FloatArray
    dT_du: FloatArray
