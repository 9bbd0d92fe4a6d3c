"""What parts a spectrum from its model: noise of two kinds, misses that hang together, and an
instrument whose scale and zero are off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .._typing import BoolArray, FloatArray
from .instrument import Instrument, Shifts

# Judgements about ordinary instruments.
_NOISE_GRID = np.geomspace(1e-3, 0.05, 18)
_MISFIT_GRID = np.array([0.0, 0.002, 0.004, 0.008, 0.016, 0.032])
_NO_MISFIT = 0.5  # prior probability that the model misses nothing
_DARKEST = 0.1  # of the rms: below it, noise in proportion to the reading stays as it is
_REACH_NM = 60.0  # over which a miss of the model hangs together
_NOTHING = 9.0  # nats below the likeliest setting at which one is left out


@dataclass(frozen=True)
class NoiseSetting:
    """One way readings may differ from their model.

    Attributes
    ----------
    noise, miss : float
        Rms of the noise and of the connected misses [-].
    kind : int
        Of the noise: 0 of one size, 1 in proportion to the reading.
    """

    noise: float
    miss: float
    kind: int = 0


@dataclass(frozen=True, eq=False)
class NoiseModel:
    """What parts a reading from its model.

    The covariance is ``s² diag(ρ²) + m² K + (R 1) S (R 1)ᵀ``, ``K = exp(-(Δλ/ℓ)²/2)`` with ℓ =
    60 nm. The noise is held to be as likely of one size (ρ = 1) as in proportion to the reading R
    (ρ is the reading over its rms, and no less than a tenth). s is anywhere, on a logarithmic
    scale, from 0.1 to 5 %, and m is 0 with probability one half. Scale and zero are off with the
    mean and the covariance S of each state of an `Instrument`; the model is linear in both, so that
    the sum over them is exact. A best fit is sought with the covariance of all states.

    Attributes
    ----------
    kinds : tuple of NoiseAxes
        Noise of one size and, where a reading is given, in proportion to it.
    wavelength_nm : ndarray, shape (W,)
    instrument : Instrument or None
        None without a reading.
    """

    kinds: tuple[NoiseAxes, ...]
    wavelength_nm: FloatArray
    instrument: Instrument | None

    @classmethod
    def for_readings(
        cls,
        wavelength_nm: FloatArray,
        reading: FloatArray | None = None,
        instrument: Instrument | None = None,
    ) -> NoiseModel:
        """The misfit of readings at some wavelengths, the stray light that is expected taken off;
        without them, with noise of one size and an instrument that is right."""
        grid = np.array([(s, m) for s in _NOISE_GRID for m in _MISFIT_GRID])
        sizes = [np.ones(wavelength_nm.size)]
        shifts = np.empty((wavelength_nm.size, 0))
        states = [Shifts.none(wavelength_nm.size)]
        if reading is not None:
            instrument = instrument or Instrument.of(reading, ())
            sizes.append(_relative_size(reading))
            shifts, states = instrument.shifts(reading), instrument.shifts_by_state(reading)
        share = np.full(len(_MISFIT_GRID), (1.0 - _NO_MISFIT) / (len(_MISFIT_GRID) - 1))
        share[0] = _NO_MISFIT
        prior = np.tile(np.log(share / len(_NOISE_GRID)), len(_NOISE_GRID)) - np.log(len(sizes))
        kinds = (
            NoiseAxes.of(wavelength_nm, size, grid=grid, shifts=shifts, states=states)
            for size in sizes
        )
        each = tuple(replace(kind, log_prior=prior) for kind in kinds)
        return cls(each, wavelength_nm, instrument)

    def about(self, curve: FloatArray) -> NoiseModel:
        """The same of readings that differ from a curve (W,).

        Noise in proportion to a reading that has it counts those most that it has made small.
        """
        if self.instrument is None:
            return self
        return NoiseModel.for_readings(self.wavelength_nm, curve, self.instrument)

    def each(self, residual: FloatArray) -> FloatArray:
        """Log probability of residuals (N, W) with every kind and setting, shape (N, C), prior
        included."""
        return np.concatenate([kind.log_density(residual) for kind in self.kinds], axis=1)

    def log_likelihood(self, residual: FloatArray) -> FloatArray:
        """Log probability of residuals (N, W) whatever noise and misfit, shape (N,)."""
        each = self.each(residual)
        peak = each.max(axis=1)
        return np.asarray(peak + np.log(np.exp(each - peak[:, None]).sum(axis=1)))

    def likeliest(self, residual: FloatArray) -> NoiseSetting:
        """What explains one residual (W,) best."""
        place, kind = int(np.argmax(self.each(residual[None])[0])), 0
        while place >= len(self.kinds[kind].settings):
            place, kind = place - len(self.kinds[kind].settings), kind + 1
        noise, miss = self.kinds[kind].settings[place]
        return NoiseSetting(float(noise), float(miss), kind)

    def focus(self, residual: FloatArray) -> NoiseModel:
        """Without the settings that, for none of some residuals (N, W), come near the best."""
        each = self.each(residual)
        kept = (each > each.max(axis=1, keepdims=True) - _NOTHING).any(axis=0)
        ends = np.cumsum([len(kind.settings) for kind in self.kinds])[:-1]
        parts = zip(self.kinds, np.split(kept, ends), strict=True)
        return replace(self, kinds=tuple(kind.keep(own) for kind, own in parts))

    def whitening(self, setting: NoiseSetting) -> FloatArray:
        """Matrix (W, W) that makes residuals of this noise and misfit standard normal."""
        own = self.kinds[setting.kind]
        root, shifts = own.whitened(setting)
        # (I + V Vᵀ)^(-1/2) of the whitened shifts V: along each of its axes, of length l, it
        # shrinks by 1/√(1 + l²).
        axes, length, _ = np.linalg.svd(shifts, full_matrices=False)
        shrunk = (1.0 - 1.0 / np.sqrt(1.0 + length**2))[:, None] * (axes.T @ root)
        return np.asarray(root - axes @ shrunk)

    def instrument_shift(self, residual: FloatArray, setting: NoiseSetting) -> FloatArray:
        """What scale and zero, as expected from residuals (N, W), add to their model, (N, W)."""
        own = self.kinds[setting.kind]
        root, shifts = own.whitened(setting)
        covariance = np.linalg.inv(np.eye(shifts.shape[1]) + shifts.T @ shifts)
        return np.asarray(residual @ root.T @ shifts @ covariance @ own.shifts.T)


@dataclass(frozen=True, eq=False)
class NoiseAxes:
    """Directions along which noise of one kind and connected misses are independent.

    Attributes
    ----------
    size : ndarray, shape (W,)
        Noise at each wavelength over its rms, ρ.
    axes : ndarray, shape (W, W)
        Eigenvectors of ``K / (ρ ρᵀ)`` in columns, each row over its ρ.
    strength : ndarray, shape (W,)
        Its eigenvalues.
    shifts : ndarray, shape (W, 2)
        What one standard deviation of scale and zero does.
    settings : ndarray, shape (C, 2)
        Noise and miss.
    precision : ndarray, shape (W, C)
        Inverse variance along the axes.
    log_prior : ndarray, shape (C,)
    states : tuple of AxesShifts
    """

    size: FloatArray
    axes: FloatArray
    strength: FloatArray
    shifts: FloatArray
    settings: FloatArray
    precision: FloatArray
    log_prior: FloatArray
    states: tuple[AxesShifts, ...]

    @classmethod
    def of(
        cls,
        wavelength_nm: FloatArray,
        size: FloatArray,
        *,
        grid: FloatArray,
        shifts: FloatArray,
        states: Sequence[Shifts],
    ) -> NoiseAxes:
        """Those of noise whose size varies so, for pairs (C, 2) and shifts (W, 2)."""
        apart = (wavelength_nm[:, None] - wavelength_nm) / _REACH_NM
        strength, turned = np.linalg.eigh(np.exp(-0.5 * apart**2) / np.outer(size, size))
        strength, axes = np.maximum(strength, 0.0), turned / size[:, None]
        variance = grid[:, :1] ** 2 + grid[:, 1:] ** 2 * strength
        constant = -0.5 * np.log(2.0 * np.pi * variance).sum(axis=1) - np.log(size).sum()
        precision = 1.0 / variance.T
        found = tuple(
            AxesShifts.of(own, axes.T, precision=precision, constant=constant) for own in states
        )
        return cls(size, axes, strength, shifts, grid, precision, np.zeros(constant.size), found)

    def keep(self, own: BoolArray) -> NoiseAxes:
        """Those for some of the settings."""
        return replace(
            self,
            settings=self.settings[own],
            precision=self.precision[:, own],
            log_prior=self.log_prior[own],
            states=tuple(state.keep(own) for state in self.states),
        )

    def whitened(self, setting: NoiseSetting) -> tuple[FloatArray, FloatArray]:
        """What makes residuals of noise and misfit standard normal (W, W), and the shifts (W, 2) of
        the instrument after it."""
        spread = np.sqrt(setting.noise**2 + setting.miss**2 * self.strength)
        root = np.asarray((self.axes / spread).T)
        return root, np.asarray(root @ self.shifts)

    def log_density(self, residual: FloatArray) -> FloatArray:
        """Log density of residuals (N, W) with every setting, prior included, shape (N, C)."""
        along = residual @ self.axes
        each = [state.log_density(along, self.precision) for state in self.states]
        return np.asarray(self.log_prior + np.logaddexp.reduce(each))


@dataclass(frozen=True, eq=False)
class AxesShifts:
    """One state of an instrument along the axes.

    Attributes
    ----------
    mean : ndarray, shape (W,)
    log_constant : ndarray, shape (C,)
        Of every setting, the probability of the state included.
    pulls : ndarray, shape (W, C, 2)
        Such that the squares of what they make of a residual along the axes, summed in pairs, are
        what the instrument explains of it.
    """

    mean: FloatArray
    log_constant: FloatArray
    pulls: FloatArray

    @classmethod
    def of(
        cls, state: Shifts, to_axes: FloatArray, *, precision: FloatArray, constant: FloatArray
    ) -> AxesShifts:
        """By the matrix (W, W) to the axes, and inverse variances (W, C) and constants (C,) of an
        instrument that is right.

        ``(D + U Uᵀ)⁻¹ = D⁻¹ - D⁻¹ U (I + Uᵀ D⁻¹ U)⁻¹ Uᵀ D⁻¹``, and det(I + Uᵀ D⁻¹ U) with it.
        """
        along = to_axes @ state.about
        products = along[:, :, None] * along[:, None]
        inner = np.eye(along.shape[1]) + np.einsum("wc,wij->cij", precision, products)
        root = np.linalg.cholesky(np.linalg.inv(inner))
        pulls = precision[..., None] * np.einsum("wi,cij->wcj", along, root)
        log_constant = constant - 0.5 * np.linalg.slogdet(inner)[1] + np.log(state.probability)
        return cls(to_axes @ state.mean, log_constant, pulls)

    def keep(self, own: BoolArray) -> AxesShifts:
        """That for some of the settings."""
        return AxesShifts(self.mean, self.log_constant[own], self.pulls[:, own])

    def log_density(self, along: FloatArray, precision: FloatArray) -> FloatArray:
        """Log density of residuals along the axes (N, W) with every setting, shape (N, C)."""
        off = along - self.mean
        squares = off**2 @ precision
        for i in range(self.pulls.shape[-1]):
            squares -= (off @ self.pulls[..., i]) ** 2
        return np.asarray(self.log_constant - 0.5 * squares)


def _relative_size(reading: FloatArray) -> FloatArray:
    """A reading's size over its rms, no less than the floor."""
    rms = float(np.sqrt(np.mean(reading**2)))
    if rms == 0.0:
        return np.ones(reading.size)
    share = np.maximum(np.abs(reading) / rms, _DARKEST)
    return np.asarray(share / np.sqrt(np.mean(share**2)))
