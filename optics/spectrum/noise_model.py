"""What parts a spectrum from its model: noise of two kinds, misses that hang together, and an
instrument whose scale and zero are off."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from .._typing import BoolArray, FloatArray

# Judgements about ordinary instruments.
_NOISE_GRID = np.geomspace(1e-3, 0.05, 18)
_MISFIT_GRID = np.array([0.0, 0.002, 0.004, 0.008, 0.016, 0.032])
_NO_MISFIT = 0.5  # prior probability that the model misses nothing
_DARKEST = 0.1  # of the rms: below it, noise in proportion to the reading stays as it is
_REACH_NM = 60.0  # over which a miss of the model hangs together
_NOTHING = 9.0  # nats below the likeliest setting at which one is left out

# Standard deviations of the scale [relative] of an instrument whose reference is fresh, and of the
# zero [of all light] where the dark was read and subtracted (common practice, no source).
_SCALE, _ZERO = 0.01, 0.002
# Where it was not, a share of the light that is read is not what the piece sends back at this
# wavelength: other wavelengths in a small grating, the room, the optics of the probe. Its root mean
# square, of a normal law folded at zero, for it is never negative (common practice, no source).
_STRAY = 0.03
# What the room, the dark and the probe's own faces add is in the reading of the reference too, so
# that it counts as light of a perfect white, g = 1: (R I + A)/(I + A) = (1 - s) R + s. What a
# grating scatters has met the piece, at other wavelengths: g is anywhere from 0 to 1. Half of all
# instruments are held to see the one, half the other (a judgement).
_ROOM = 0.5
_FOLDED_MEAN = np.sqrt(2.0 / np.pi)
_DARKEST_FEW = 3


@dataclass(frozen=True, eq=False)
class Instrument:
    """How far scale and zero of an instrument may be off.

    Stray light puts a share s of something grey, g, in place of the piece's light R, which makes
    it ``(1 - s) R + s g``; g is 1 for what does not come from the piece, and else from 0 to 1.

    Attributes
    ----------
    share : float
        Mean of s.
    raised : float
        Mean of s g.
    spread : ndarray, shape (2, 2)
        Covariance of scale and zero.
    """

    share: float
    raised: float
    spread: FloatArray

    @classmethod
    def of(cls, reading: FloatArray, checked: Collection[str]) -> Instrument:
        """That of a reading (W,); of one in order where ``stray light`` is checked.

        What stray light adds is no more than the darkest of the readings, for no piece returns
        less than nothing.
        """
        order = np.diag([_SCALE**2, _ZERO**2])
        darkest = float(np.mean(np.sort(reading)[:_DARKEST_FEW]))
        # Where g is uniform, E g = 1/2 and E g² = 1/3; E (s g)² = E s² E g².
        grey, square = _ROOM + (1.0 - _ROOM) / 2.0, _ROOM + (1.0 - _ROOM) / 3.0
        rms = 0.0 if "stray light" in checked else float(np.clip(darkest / grey, 0.0, _STRAY))
        share = _FOLDED_MEAN * rms
        variance = rms**2 - share**2
        of_zero = rms**2 * square - (grey * share) ** 2
        stray = np.array([[variance, -grey * variance], [-grey * variance, of_zero]])
        return cls(share, grey * share, order + stray)

    def clean(self, reading: FloatArray) -> FloatArray:
        """A reading without the stray light that is expected."""
        return np.asarray((reading - self.raised) / (1.0 - self.share))

    def soil(self, curve: FloatArray) -> FloatArray:
        """What :meth:`clean` was made from."""
        return np.asarray(curve * (1.0 - self.share) + self.raised)

    def shifts(self, reading: FloatArray) -> FloatArray:
        """What one standard deviation of each of two independent ways does, shape (W, 2)."""
        unit = np.stack([reading, np.ones(reading.size)], axis=1)
        return np.asarray(unit @ np.linalg.cholesky(self.spread))


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
    scale, from 0.1 to 5 %, and m is 0 with probability one half. Scale and zero
    are off with the covariance S of an `Instrument`; the model is linear in both, so that the sum
    over them is exact.

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
        if reading is not None:
            instrument = instrument or Instrument.of(reading, ())
            sizes.append(_relative_size(reading))
            shifts = instrument.shifts(reading)
        share = np.full(len(_MISFIT_GRID), (1.0 - _NO_MISFIT) / (len(_MISFIT_GRID) - 1))
        share[0] = _NO_MISFIT
        prior = np.tile(np.log(share / len(_NOISE_GRID)), len(_NOISE_GRID)) - np.log(len(sizes))
        kinds = (NoiseAxes.of(wavelength_nm, size, grid=grid, shifts=shifts) for size in sizes)
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
        """Those of noise whose size varies so, for pairs (C, 2) and shifts (W, 2)."""
        apart = (wavelength_nm[:, None] - wavelength_nm) / _REACH_NM
        strength, turned = np.linalg.eigh(np.exp(-0.5 * apart**2) / np.outer(size, size))
        strength, axes = np.maximum(strength, 0.0), turned / size[:, None]
        variance = grid[:, :1] ** 2 + grid[:, 1:] ** 2 * strength
        constant = -0.5 * np.log(2.0 * np.pi * variance).sum(axis=1) - np.log(size).sum()
        precision = 1.0 / variance.T
        # (D + U Uᵀ)⁻¹ = D⁻¹ - D⁻¹ U (I + Uᵀ D⁻¹ U)⁻¹ Uᵀ D⁻¹, and det(I + Uᵀ D⁻¹ U) with it.
        along = axes.T @ shifts
        products = along[:, :, None] * along[:, None]
        inner = np.eye(shifts.shape[1]) + np.einsum("wc,wij->cij", precision, products)
        root = np.linalg.cholesky(np.linalg.inv(inner))
        pulls = precision[..., None] * np.einsum("wi,cij->wcj", along, root)
        constant = constant - 0.5 * np.linalg.slogdet(inner)[1]
        return cls(
            size, axes, strength, shifts, grid, precision, constant, np.zeros(constant.size), pulls
        )

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
        return root, np.asarray(root @ self.shifts)

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
