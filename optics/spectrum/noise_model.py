"""What parts a spectrum from its model: noise of two kinds, and misses that hang together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray

# Judgements about ordinary instruments.
_NOISE_GRID = np.geomspace(1e-3, 0.05, 18)
_MISFIT_GRID = np.array([0.0, 0.002, 0.004, 0.008, 0.016, 0.032])
_NO_MISFIT = 0.5  # prior probability that the model misses nothing
_DARKEST = 0.1  # of the rms: below it, noise in proportion to the reading stays as it is
_REACH_NM = 60.0  # over which a miss of the model hangs together


@dataclass(frozen=True, eq=False)
class NoiseModel:
    """What parts a reading from its model: noise, and misses that hang together.

    The covariance is ``s² diag(ρ²) + m² K``, ``K = exp(-(Δλ/ℓ)²/2)`` with ℓ = 60 nm. The noise is
    held to be as likely of one size (ρ = 1) as in proportion to the reading (ρ is the reading
    over its rms, and no less than a tenth). s is anywhere, on a logarithmic scale, from 0.1
    to 5 %, and m is 0 with probability one half.

    Attributes
    ----------
    kinds : tuple of NoiseAxes
        Noise of one size and, where a reading is given, in proportion to it.
    grid : ndarray, shape (H, 2)
        Every pair (s, m).
    log_prior : ndarray, shape (H,)
        Of these, in each of the kinds.
    """

    kinds: tuple[NoiseAxes, ...]
    grid: FloatArray
    log_prior: FloatArray

    @classmethod
    def for_readings(
        cls, wavelength_nm: FloatArray, reading: FloatArray | None = None
    ) -> NoiseModel:
        """The misfit of readings at some wavelengths; without them, with noise of one size."""
        grid = np.array([(s, m) for s in _NOISE_GRID for m in _MISFIT_GRID])
        sizes = [np.ones(wavelength_nm.size)]
        if reading is not None:
            sizes.append(_relative_size(reading))
        kinds = tuple(NoiseAxes.of(wavelength_nm, size, grid) for size in sizes)
        share = np.full(len(_MISFIT_GRID), (1.0 - _NO_MISFIT) / (len(_MISFIT_GRID) - 1))
        share[0] = _NO_MISFIT
        prior = np.tile(np.log(share / len(_NOISE_GRID) / len(kinds)), len(_NOISE_GRID))
        return cls(kinds, grid, prior)

    def each(self, residual: FloatArray) -> FloatArray:
        """Log probability of residuals (N, W) with every kind and pair, shape (N, kinds H), prior
        included."""
        return np.concatenate(
            [kind.log_density(residual) + self.log_prior for kind in self.kinds], axis=1
        )

    def log_likelihood(self, residual: FloatArray) -> FloatArray:
        """Log probability of residuals (N, W) whatever noise and misfit, shape (N,)."""
        each = self.each(residual)
        peak = each.max(axis=1)
        return np.asarray(peak + np.log(np.exp(each - peak[:, None]).sum(axis=1)))

    def likeliest(self, residual: FloatArray) -> tuple[float, float, int]:
        """Noise and misfit [-] that explain one residual (W,) best, and the kind of the noise."""
        kind, pair = divmod(int(np.argmax(self.each(residual[None])[0])), len(self.grid))
        noise, miss = self.grid[pair]
        return float(noise), float(miss), kind

    def whitening(self, noise: float, miss: float, kind: int = 0) -> FloatArray:
        """Matrix (W, W) that makes residuals of this noise and misfit standard normal."""
        own = self.kinds[kind]
        return np.asarray(own.axes / np.sqrt(noise**2 + miss**2 * own.strength)).T


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
    precision : ndarray, shape (W, H)
        Inverse variance along the axes for every pair (s, m).
    log_constant : ndarray, shape (H,)
    """

    size: FloatArray
    axes: FloatArray
    strength: FloatArray
    precision: FloatArray
    log_constant: FloatArray

    @classmethod
    def of(cls, wavelength_nm: FloatArray, size: FloatArray, grid: FloatArray) -> NoiseAxes:
        """Those of noise whose size varies so, for pairs (H, 2)."""
        apart = (wavelength_nm[:, None] - wavelength_nm) / _REACH_NM
        together = np.exp(-0.5 * apart**2) / np.outer(size, size)
        strength, axes = np.linalg.eigh(together)
        strength = np.maximum(strength, 0.0)
        variance = grid[:, :1] ** 2 + grid[:, 1:] ** 2 * strength
        constant = -0.5 * np.log(2.0 * np.pi * variance).sum(axis=1) - np.log(size).sum()
        return cls(size, axes / size[:, None], strength, 1.0 / variance.T, constant)

    def log_density(self, residual: FloatArray) -> FloatArray:
        """Log density of residuals (N, W) with every pair, shape (N, H)."""
        squares = (residual @ self.axes) ** 2
        return np.asarray(self.log_constant - 0.5 * (squares @ self.precision))


def _relative_size(reading: FloatArray) -> FloatArray:
    """A reading's size over its rms, no less than the floor."""
    rms = float(np.sqrt(np.mean(reading**2)))
    if rms == 0.0:
        return np.ones(reading.size)
    share = np.maximum(np.abs(reading) / rms, _DARKEST)
    return np.asarray(share / np.sqrt(np.mean(share**2)))
