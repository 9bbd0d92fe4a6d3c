"""What parts a spectrum from its model: noise of two kinds, misses that hang together, and an
instrument whose scale and zero are off."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .._typing import BoolArray, FloatArray

# Judgements about ordinary instruments.
_NOISE_GRID = np.geomspace(1e-3, 0.05, 18)
_MISFIT_GRID = np.array([0.0, 0.002, 0.004, 0.008, 0.016, 0.032])
_NO_MISFIT = 0.5  # prior probability that the model misses nothing
_DARKEST = 0.1  # of the rms: below it, noise in proportion to the reading stays as it is
_REACH_NM = 60.0  # over which a miss of the model hangs together
_NOTHING = 9.0  # nats below the likeliest setting at which one is left out

INSTRUMENTS = ("", "scale", "stray light")
# Standard deviations of the scale [relative] and of the zero [of all light]: of an instrument whose
# reference and dark are fresh; of a probe held by hand, with a worn reference or one of another
# gloss; with stray light of a small grating or of the room, which lowers the scale as well (all
# common practice, no source).
_INSTRUMENTS = np.array([[0.01, 0.002], [0.05, 0.002], [0.03, 0.02]])


@dataclass(frozen=True)
class NoiseSetting:
    """One way readings may differ from their model.

    Attributes
    ----------
    noise, miss : float
        Rms of the noise and of the connected misses [-].
    kind : int
        Of the noise: 0 of one size, 1 in proportion to the reading.
    instrument : int
        Place in ``INSTRUMENTS``; 0 also where no reading is known.
    """

    noise: float
    miss: float
    kind: int = 0
    instrument: int = 0


@dataclass(frozen=True, eq=False)
class NoiseModel:
    """What parts a reading from its model.

    The covariance is ``s² diag(ρ²) + m² K + a² R Rᵀ + b² 1 1ᵀ``, ``K = exp(-(Δλ/ℓ)²/2)`` with ℓ =
    60 nm. The noise is held to be as likely of one size (ρ = 1) as in proportion to the reading R
    (ρ is the reading over its rms, and no less than a tenth). s is anywhere, on a logarithmic
    scale, from 0.1 to 5 %, and m is 0 with probability one half. The scale is off by a, the zero
    by b, whose standard deviations are those of each of the ``INSTRUMENTS``; the model is linear in
    both, so that the sum over them is exact.

    Attributes
    ----------
    kinds : tuple of NoiseAxes
        Noise of one size and, where a reading is given, in proportion to it.
    """

    kinds: tuple[NoiseAxes, ...]

    @classmethod
    def for_readings(
        cls, wavelength_nm: FloatArray, reading: FloatArray | None = None
    ) -> NoiseModel:
        """The misfit of readings at some wavelengths; without them, with noise of one size and an
        instrument that is right."""
        grid = np.array([(s, m) for s in _NOISE_GRID for m in _MISFIT_GRID])
        sizes = [np.ones(wavelength_nm.size)]
        shifts = np.empty((1, wavelength_nm.size, 0))
        if reading is not None:
            sizes.append(_relative_size(reading))
            unit = np.stack([reading, np.ones(reading.size)], axis=1)
            shifts = unit * _INSTRUMENTS[:, None, :]
        share = np.full(len(_MISFIT_GRID), (1.0 - _NO_MISFIT) / (len(_MISFIT_GRID) - 1))
        share[0] = _NO_MISFIT
        prior = np.tile(np.log(share / len(_NOISE_GRID)), len(_NOISE_GRID))
        prior -= np.log(len(sizes) * len(shifts))
        kinds = (NoiseAxes.of(wavelength_nm, size, grid=grid, shifts=shifts) for size in sizes)
        return cls(tuple(replace(k, log_prior=np.tile(prior, len(shifts))) for k in kinds))

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
        noise, miss, instrument = self.kinds[kind].settings[place]
        return NoiseSetting(float(noise), float(miss), kind, int(instrument))

    @property
    def instrument(self) -> int:
        """Place in ``INSTRUMENTS`` of the first that is in question."""
        return int(self.kinds[0].settings[0, 2])

    def for_instrument(self, name: str) -> NoiseModel:
        """With an instrument that is known to be one of ``INSTRUMENTS``."""
        if name not in self._for_instrument:
            at = min(INSTRUMENTS.index(name), len(self.kinds[0].shifts) - 1)
            more = np.log(len(self.kinds[0].shifts))
            own = (kind.keep(kind.settings[:, 2] == at) for kind in self.kinds)
            parts = tuple(replace(one, log_prior=one.log_prior + more) for one in own)
            self._for_instrument[name] = NoiseModel(parts)
        return self._for_instrument[name]

    @cached_property
    def _for_instrument(self) -> dict[str, NoiseModel]:
        return {}

    def focus(self, residual: FloatArray) -> NoiseModel:
        """Without the settings that, for none of some residuals (N, W), come near the best with
        the same instrument."""
        each = self.each(residual)
        instrument = np.concatenate([kind.settings[:, 2] for kind in self.kinds])
        kept = np.zeros(instrument.size, dtype=bool)
        for own in (instrument == one for one in np.unique(instrument)):
            peak = each[:, own].max(axis=1, keepdims=True)
            kept[own] |= (each[:, own] > peak - _NOTHING).any(axis=0)
        ends = np.cumsum([len(kind.settings) for kind in self.kinds])[:-1]
        parts = zip(self.kinds, np.split(kept, ends), strict=True)
        return NoiseModel(tuple(kind.keep(own) for kind, own in parts))

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
        return np.asarray(residual @ root.T @ shifts @ covariance @ own.shifts_of(setting).T)


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
    shifts : ndarray, shape (G, W, 2)
        What one standard deviation of scale and zero does with each instrument.
    settings : ndarray, shape (C, 3)
        Noise, miss and number of the instrument.
    precision : ndarray, shape (W, C)
        Inverse variance along the axes.
    log_constant, log_prior : ndarray, shape (C,)
    pulls : ndarray, shape (W, C, 2)
        Such that the squares of what they make of a residual along the axes, summed in pairs, are
        what the instrument explains of it.
    """

    size: FloatArray
    axes: FloatArray
    strength: FloatArray
    shifts: FloatArray
    settings: FloatArray
    precision: FloatArray
    log_constant: FloatArray
    log_prior: FloatArray
    pulls: FloatArray

    @classmethod
    def of(
        cls, wavelength_nm: FloatArray, size: FloatArray, *, grid: FloatArray, shifts: FloatArray
    ) -> NoiseAxes:
        """Those of noise whose size varies so, for pairs (H, 2) and shifts (G, W, 2)."""
        apart = (wavelength_nm[:, None] - wavelength_nm) / _REACH_NM
        strength, turned = np.linalg.eigh(np.exp(-0.5 * apart**2) / np.outer(size, size))
        strength, axes = np.maximum(strength, 0.0), turned / size[:, None]
        variance = grid[:, :1] ** 2 + grid[:, 1:] ** 2 * strength
        constant = -0.5 * np.log(2.0 * np.pi * variance).sum(axis=1) - np.log(size).sum()
        precision = 1.0 / variance.T
        # (D + U Uᵀ)⁻¹ = D⁻¹ - D⁻¹ U (I + Uᵀ D⁻¹ U)⁻¹ Uᵀ D⁻¹, and det(I + Uᵀ D⁻¹ U) with it.
        along = axes.T @ shifts
        products = (along[..., None] * along[:, :, None]).swapaxes(1, 3).swapaxes(1, 2)
        inner = np.eye(shifts.shape[-1]) + np.moveaxis(products @ precision, -1, 1)
        root = np.linalg.cholesky(np.linalg.inv(inner))
        pulls = np.einsum("wh,gwhj->wghj", precision, np.einsum("gwi,ghij->gwhj", along, root))
        constant = constant - 0.5 * np.linalg.slogdet(inner)[1]
        each = [np.column_stack([grid, np.full(len(grid), g)]) for g in range(len(shifts))]
        return cls(
            size, axes, strength, shifts, np.concatenate(each),
            np.tile(precision, len(shifts)), constant.ravel(), np.zeros(constant.size),
            pulls.reshape(size.size, constant.size, -1),
        )  # fmt: skip

    def keep(self, own: BoolArray) -> NoiseAxes:
        """Those for some of the settings."""
        return replace(
            self,
            settings=self.settings[own],
            precision=self.precision[:, own],
            log_constant=self.log_constant[own],
            log_prior=self.log_prior[own],
            pulls=self.pulls[:, own],
        )

    def whitened(self, setting: NoiseSetting) -> tuple[FloatArray, FloatArray]:
        """What makes residuals of noise and misfit standard normal (W, W), and the shifts (W, 2) of
        the instrument after it."""
        spread = np.sqrt(setting.noise**2 + setting.miss**2 * self.strength)
        root = np.asarray((self.axes / spread).T)
        return root, np.asarray(root @ self.shifts_of(setting))

    def shifts_of(self, setting: NoiseSetting) -> FloatArray:
        """What scale and zero of one instrument do, shape (W, 2)."""
        return np.asarray(self.shifts[min(setting.instrument, len(self.shifts) - 1)])

    def log_density(self, residual: FloatArray) -> FloatArray:
        """Log density of residuals (N, W) with every setting, prior included, shape (N, C)."""
        along = residual @ self.axes
        squares = along**2 @ self.precision
        for i in range(self.pulls.shape[-1]):
            squares -= (along @ self.pulls[..., i]) ** 2
        return np.asarray(self.log_constant + self.log_prior - 0.5 * squares)


def _relative_size(reading: FloatArray) -> FloatArray:
    """A reading's size over its rms, no less than the floor."""
    rms = float(np.sqrt(np.mean(reading**2)))
    if rms == 0.0:
        return np.ones(reading.size)
    share = np.maximum(np.abs(reading) / rms, _DARKEST)
    return np.asarray(share / np.sqrt(np.mean(share**2)))
