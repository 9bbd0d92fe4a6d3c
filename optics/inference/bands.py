"""The density of one reading by itself: only those parts of a table are read that can matter.

The colours of a film over a few neighbouring scales, a band, lie in a box. Where a reading is so
far from the boxes of all its data sets that the band can hold nothing of the posterior, the band
is passed over: for a card or a colour meter that is most of the table.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray, SingleArray
from .colour_table import ColourTable, gain_direction
from .normal import FEATURES, features
from .posterior import Prior

_BAND = 8  # scales of a band: 4 nm, over which a colour moves by some 10 ΔE
# Nats below what is surely reached. A film is left out at a scale with all its index errors, so
# that the polynomial between them is not bent.
_HOPELESS = 40.0
_BLOCK_ELEMENTS = 100_000  # at a time: the working array stays in cache
_LOWEST = np.float32(-80.0)  # less ends in slow denormal numbers


@dataclass(frozen=True, eq=False)
class Bands:
    """A table laid out for single readings, B bands along its scale.

    Attributes
    ----------
    prior : Prior
    coefficients : tuple of ndarray, shape (B, 10, V P S)
        For each film: log densities as `ColourTable.coefficients`, band by band, by view, by pair
        and by the S scales and index errors of a band.
    view_weight : ndarray, shape (V,)
    share : tuple of ndarray, shape (P,)
        Weights of the pairs of each film.
    low, high : ndarray, shape (3, J, B)
        Least and most CIELAB in each band of each pair.
    precision : ndarray, shape (3, J, B)
        No covariance in the band is wider than the inverse of these.
    log_highest : float
        No density is higher.
    surely : ndarray, shape (10, J B)
        Coefficients of a row in each band of each pair: what it gives is reached.
    reach : ndarray of bool, shape (B, T)
        Which thicknesses have to do with a band.
    """

    prior: Prior
    coefficients: tuple[SingleArray, ...]
    view_weight: SingleArray
    share: tuple[SingleArray, ...]
    low: SingleArray
    high: SingleArray
    precision: SingleArray
    log_highest: float
    surely: SingleArray
    reach: BoolArray

    @property
    def nbytes(self) -> int:
        """Memory this takes [bytes]."""
        whole = [*self.coefficients, self.low, self.high, self.precision, self.surely, self.reach]
        return sum(part.nbytes for part in whole)

    @classmethod
    def of(cls, table: ColourTable, prior: Prior) -> Bands:
        """Lay out a table whose pairs of one film stand side by side."""
        by_scale = table.lab.swapaxes(1, 2)  # (J, D, E, V, 3)
        starts = np.arange(0, table.scale_nm.size, _BAND)
        low = np.minimum.reduceat(by_scale.min(axis=(2, 3)), starts, axis=1)
        high = np.maximum.reduceat(by_scale.max(axis=(2, 3)), starts, axis=1)
        farthest = np.maximum(np.abs(gain_direction(low)), np.abs(gain_direction(high)))
        variances = table.variances
        stretch = 1.0 + table.doubts.gain**2 * (farthest**2 / variances).sum(axis=-1)
        precision = 1.0 / (variances * stretch[..., None])
        middle = by_scale[:, starts, table.index_error.size // 2, :1].reshape(-1, 1, 3)
        surely = table.coefficients_of(middle)[0]
        surely[0] += np.log(table.view_weight[0] * np.repeat(prior.pair_weight, starts.size))
        return cls(
            prior=prior,
            coefficients=tuple(_by_band(table, by_scale[own]) for own in prior.pairs_of_films),
            view_weight=table.view_weight.astype(np.float32),
            share=tuple(prior.pair_weight[own].astype(np.float32) for own in prior.pairs_of_films),
            low=_component_first(low),
            high=_component_first(high),
            precision=_component_first(precision),
            log_highest=float(-0.5 * np.log(2.0 * np.pi * variances).sum()),
            surely=surely,
            reach=prior.reach(_BAND),
        )

    def film_density(self, lab: FloatArray) -> FloatArray:
        """Posterior over thickness of each film, shape (H, T), after one reading (3,).

        It is what :meth:`Prior.film_density` gives, to the digits that 32 bits hold.
        """
        asked = features(lab[None])
        near = self._near(asked, lab)
        log_films = [self._log_film(film, asked, own) for film, own in enumerate(near)]
        peak = max(own.max(initial=-np.inf) for own in log_films)
        curves = [self.prior.curves(own - peak) for own in log_films]
        fine = curves[0].shape[-1]
        whole = np.zeros((*near.shape, _BAND * fine))
        for place, bands, own in zip(whole, near, curves, strict=True):
            place[bands] = own.reshape(-1, _BAND * fine)
        film, at = np.nonzero([self.reach[bands].any(axis=0) for bands in near])
        begin = film * (near.shape[1] * _BAND)
        density = np.zeros((len(near), self.reach.shape[1]))
        density[film, at] = self.prior.over_index(whole.reshape(-1, fine), at, begin)
        density *= self.prior.thickness_weight
        return density / self.prior.mass(density)

    def _near(self, asked: SingleArray, lab: FloatArray) -> BoolArray:
        """Which bands (H, B) can hold something of the posterior."""
        least = float((asked @ self.surely).max()) - _HOPELESS
        y = lab[:, None, None].astype(np.float32)
        gap = np.maximum(self.low - y, y - self.high)
        np.maximum(gap, 0.0, out=gap)
        gap *= gap
        gap *= self.precision
        first = [own.start for own in self.prior.pairs_of_films]
        nearest = np.minimum.reduceat(gap.sum(axis=0), first, axis=0)
        near: BoolArray = nearest < 2.0 * (self.log_highest - least)
        return near

    def _log_film(self, film: int, asked: SingleArray, bands: BoolArray) -> FloatArray:
        """Log of the mean density over views and pairs, shape (bands chosen, scales, E)."""
        most = max(1, _BLOCK_ELEMENTS // self.coefficients[film].shape[-1])
        places = np.flatnonzero(bands)
        each = [
            self._over_pairs(film, asked, places[i : i + most]) for i in range(0, places.size, most)
        ]
        shape = (-1, _BAND, self.prior.index_error.size)
        return np.concatenate([np.empty(0), *each], axis=None).reshape(shape)

    def _over_pairs(self, film: int, asked: SingleArray, bands: IndexArray) -> SingleArray:
        """Log mean densities (bands, S) of a reading in some bands of a film."""
        coefficients, share = self.coefficients[film], self.share[film]
        block = np.empty((bands.size, 1, coefficients.shape[-1]), dtype=np.float32)
        breaks = np.flatnonzero(np.diff(bands) > 1) + 1
        for a, b in pairwise([0, *breaks.tolist(), bands.size]):
            np.matmul(asked, coefficients[bands[a] : bands[b - 1] + 1], out=block[a:b])
        by_view = _log_mean(block.reshape(bands.size, self.view_weight.size, -1), self.view_weight)
        return _log_mean(by_view.reshape(bands.size, share.size, -1), share)


def _log_mean(log_density: SingleArray, weight: SingleArray) -> SingleArray:
    """Log of the weighted mean over the middle axis of (N, K, S), each from its own peak."""
    size, count, inner = log_density.shape
    # Long rows of one weight each are several times as fast as short ones.
    rows = log_density.swapaxes(0, 1).reshape(count, -1)
    peak: SingleArray = rows.max(axis=0)
    if count > 1:
        rows -= peak
        np.maximum(rows, np.full_like(peak, _LOWEST), out=rows)
        mean: SingleArray = weight @ np.exp(rows, out=rows)
        peak += np.log(mean, out=mean)
    return peak.reshape(size, inner)


def _by_band(table: ColourTable, lab: SingleArray) -> SingleArray:
    """Coefficients (B, 10, V P S) of the colours (P, D, E, V, 3) of one film.

    The last band is filled up with its last scale, which nothing reads.
    """
    pairs, scales, errors, views = lab.shape[:4]
    flat = table.coefficients_of(lab.reshape(-1, views, 3))
    filled = np.minimum(np.arange(-(-scales // _BAND) * _BAND), scales - 1)
    parts = flat.reshape(views, FEATURES, pairs, scales, errors)[:, :, :, filled]
    parts = parts.reshape(views, FEATURES, pairs, -1, _BAND * errors)
    by_band = np.ascontiguousarray(parts.transpose(3, 1, 0, 2, 4))
    return by_band.reshape(len(by_band), FEATURES, -1)


def _component_first(box: SingleArray | FloatArray) -> SingleArray:
    return np.ascontiguousarray(np.moveaxis(box, -1, 0), dtype=np.float32)
