"""The colours a film can show, tabulated over thickness and everything in doubt.

Thickness and index scale nearly trade against each other, so rows run over the optical scale
``D = d (1 + e)`` at a few values of the relative index error ``e``; at fixed D the likelihood
changes slowly with e.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .._typing import FloatArray, IndexArray, RealArray, SingleArray
from ..colour.conditions import ViewingConditions
from ..colour.illuminants import tristimulus_weights
from ..colour.spaces import xyz_to_lab
from ..errors import InputError, LimitError, OutOfRangeError
from ..films.engine.thickness_scan import View, base_of
from ..films.spectra import DEFAULT_WAVELENGTH_NM
from ..numerics.interpolate import refine_even
from .fault_colours import FaultView, fault_moments
from .faults import NONE, FaultyModel, discrepancy_share
from .hypotheses import FilmModel, group_by_film
from .layered import scan_scales
from .normal import (
    FEATURES,
    PRODUCT_ELEMENTS,
    coefficients_along,
    coefficients_of,
    features,
    log_mean,
    multiply,
)
from .uncertainty import VEIL as VEIL
from .uncertainty import Uncertainty, uniform_nodes

INDEX_NODES, WIDE_INDEX_NODES = 5, 9
WIDE_INDEX_SPREAD = 0.03  # above it five nodes lie too far apart for the polynomial between them
INDEX_SPAN = 2.5  # standard deviations of the index error covered
GLARE_NODES, ANGLE_NODES = 3, 2  # for doubts no wider than those of a photo
_USUAL_GLARE, _GLARE_APART = 0.2, 0.1
_USUAL_FAN, _FAN_APART, _MOST_ANGLES = 0.55, 0.15, 16  # fan: integral of the secant, 30° wide
STEP_NM = 0.5
MAX_THICKNESS_NM = 1000.0
_MAX_ROWS = 6_000_000
_ROWS_AT_ONCE = 8_000  # of the coefficients: what is computed on the way stays in cache
_BLOCK_ELEMENTS = 100_000  # rows × readings at a time: the working array stays in cache
_WORD_EVERY, _WORD_AROUND = 4, 6  # scales: one worked out in so many, nodes of a polynomial
_FEWEST_SCALES = 64  # for which that is worth its while
_SMOOTH_DE = 5.0  # standard deviation of a reading, in each of L*, a*, b*, from which on it serves
_LIFTED = np.array([0.50, 0.25, 0.15, 0.10])  # how often a dim look is lifted so far (a judgement)
_TO_BLACK = np.array([16.0, 0.0, 0.0])  # Lab from the black that lightness counts from


@dataclass(frozen=True, eq=False)
class ColourTable:
    """Mean colour and its covariance for every row.

    Attributes
    ----------
    scale_nm : ndarray, shape (D,)
        Optical scale ``d (1 + e)`` [nm].
    index_error : ndarray, shape (E,)
        Relative index errors e of the nodes.
    view_weight : ndarray, shape (V,)
        Prior weight of each combination of viewing angle and glare.
    lab : ndarray, shape (J, E, D, V, 3)
        Mean colour; J pairs of data sets.
    doubts : Uncertainty
    spread : ndarray, shape (J, E, D, V, 3, 3), optional
        Covariance of the colour itself, where data sets and views are taken together.
    left : ndarray, shape (J,), optional
        Share of the stated discrepancy that is left of each pair; all of it by default.
    """

    scale_nm: FloatArray
    index_error: FloatArray
    view_weight: FloatArray
    lab: SingleArray
    doubts: Uncertainty
    spread: SingleArray | None = None
    left: FloatArray | None = None

    @property
    def nbytes(self) -> int:
        """Memory this takes once it has been asked [bytes]."""
        spread = 0 if self.spread is None else self.spread.nbytes
        return self.lab.nbytes * (3 + FEATURES) // 3 + spread

    def with_uncertainty(self, doubts: Uncertainty) -> ColourTable:
        """The same colours with another scatter; the views must be the same."""
        return replace(self, doubts=doubts)

    @cached_property
    def variances(self) -> FloatArray:
        """Of L*, a*, b* about the mean, exposure apart, shape (3,)."""
        ab = self.doubts.chroma_variance
        return np.array([self.doubts.lightness_variance, ab, ab])

    @cached_property
    def coefficients(self) -> SingleArray:
        """Log density of a reading as a product of its ten features with these, (V, 10, rows).

        The covariance of a reading is ``diag(σ²) + g² v vᵀ`` with v the gain direction, and what
        the colour itself spreads.
        """
        views = self.view_weight.size
        if self.spread is None:
            return self.coefficients_of(self.lab.reshape(-1, views, 3))
        rows = np.arange(self.lab.size // (3 * views))
        each = [
            np.concatenate(
                [self.coefficients_at(part, view) for part in np.array_split(rows, self._parts)],
                axis=1,
            )
            for view in range(views)
        ]
        return np.stack(each)

    @property
    def _parts(self) -> int:
        return 1 + self.lab.size // (3 * self.view_weight.size * _ROWS_AT_ONCE)

    def coefficients_at(self, rows: IndexArray, view: IndexArray | int = 0) -> SingleArray:
        """Coefficients (10, rows) of some rows, each in one view."""
        if "coefficients" in vars(self):
            at = np.broadcast_to(view, rows.shape)
            return np.ascontiguousarray(self.coefficients[at, :, rows].T)
        views = self.view_weight.size
        mean = self.lab.reshape(-1, views, 3)[rows, view].astype(float)
        if self.spread is None:
            alone: SingleArray = self.coefficients_of(mean[:, None].astype(np.float32))[0]
            return alone
        covariance = self.covariances(rows * views + view)
        found: SingleArray = coefficients_of(mean, covariance, np.zeros(len(mean)))
        return found

    def covariances(self, rows: IndexArray) -> FloatArray:
        """Covariance (rows, 3, 3) of a reading from rows of pair, index error, scale and view."""
        whole = self.scatter_covariance(self.lab.reshape(-1, 3)[rows].astype(float))
        if self.spread is not None:
            whole = whole + self.spread.reshape(-1, 3, 3)[rows]
        if self.left is not None:
            each = self.lab.size // (3 * len(self.left))
            missing = 1.0 - self.left[rows // each] ** 2
            whole -= (missing * self.doubts.discrepancy_de**2 / 3.0)[:, None, None] * np.eye(3)
        return whole

    def coefficients_of(self, lab: SingleArray) -> SingleArray:
        """Coefficients (V, 10, rows) of mean colours (rows, V, 3) under the doubts of the table."""
        whole = np.empty((lab.shape[1], FEATURES, len(lab)), dtype=np.float32)
        for start in range(0, len(lab), _ROWS_AT_ONCE):
            rows = slice(start, start + _ROWS_AT_ONCE)
            for view, out in enumerate(whole):
                mean = lab[rows, view].astype(float)
                out[:, rows] = coefficients_along(
                    mean, self.variances, direction=gain_direction(mean), size=self.doubts.gain
                )
        return whole

    def log_likelihood(self, readings: FloatArray) -> FloatArray:
        """Log density of each reading in each row, glare and angle averaged out.

        Parameters
        ----------
        readings : ndarray, shape (N, 3)
            CIELAB.

        Returns
        -------
        ndarray, shape (N, J, E, D)

        Notes
        -----
        No floor is set under unlikely rows: the index nodes are interpolated in the logarithm,
        and a floor at one of them bends the likely values between the others.
        """
        total = np.empty((len(readings), self.coefficients.shape[-1]), dtype=np.float32)
        for rows, block in self._blocks(readings):
            total[:, rows] = block
        return total.reshape(len(readings), *self.lab.shape[:3]).astype(float)

    def log_mixture(self, points: FloatArray, weight: FloatArray) -> RealArray:
        """Log of the weighted mean density of colours (K, 3) in each row, shape (J, E, D); of one
        colour in one view in the 32 bits of the table."""
        if len(points) == self.view_weight.size == 1:
            alone: SingleArray = multiply(features(points), self.coefficients[0])
            return alone.reshape(self.lab.shape[:3])
        total = np.empty(self.coefficients.shape[-1])
        for rows, block in self._blocks(points):
            total[rows] = log_mean(block, weight)
        return total.reshape(self.lab.shape[:3])

    def log_word(self, points: FloatArray, weight: FloatArray) -> RealArray:
        """As `log_mixture`, of the many points of a word.

        Where people scatter as they do about words it is smooth: worked out at every fourth scale
        and joined by a polynomial, it moves less than a thousandth of the posterior.
        """
        scales = self.scale_nm.size
        if scales < _FEWEST_SCALES or self.variances.min() < _SMOOTH_DE**2:
            return self.log_mixture(points, weight)
        last = scales - (scales - 1) % _WORD_EVERY
        nodes = list(range(0, last, _WORD_EVERY))
        found = self.at_scales(np.array([*nodes, *range(last, scales)])).log_mixture(points, weight)
        between = refine_even(last, _WORD_EVERY, around=_WORD_AROUND)
        joined = found[..., : len(nodes)] @ between.T
        return np.concatenate([joined, found[..., len(nodes) :]], axis=-1)

    def at_scales(self, at: IndexArray) -> ColourTable:
        """The table of some of the scales."""
        spread = None if self.spread is None else self.spread[:, :, at]
        return replace(self, scale_nm=self.scale_nm[at], lab=self.lab[:, :, at], spread=spread)

    def _blocks(self, readings: FloatArray) -> Iterator[tuple[slice, SingleArray]]:
        """Log of the mean density over the views, (N, rows), of so many rows as stay in cache."""
        asked, views = features(readings), self.view_weight.size
        each = min(_BLOCK_ELEMENTS // views, PRODUCT_ELEMENTS)
        step = max(1, each // max(len(asked), 1))
        for start in range(0, self.coefficients.shape[-1], step):
            rows = slice(start, start + step)
            yield rows, log_mean(asked @ self.coefficients[:, :, rows], self.view_weight)

    def scatter_covariance(self, mean: FloatArray) -> FloatArray:
        """Covariance (..., 3, 3) of readings about mean colours (..., 3), views apart."""
        direction = self.doubts.gain * gain_direction(mean)
        spread: FloatArray = direction[..., :, None] * direction[..., None, :]
        return spread + np.diag(self.variances)

    def draw(self, rows: IndexArray, rng: np.random.Generator) -> FloatArray:
        """One reading with its scatter from each of the given rows, shape (rows, 3)."""
        mean = self.lab.reshape(-1, 3)[rows].astype(float)
        if self.spread is not None:
            root = np.linalg.cholesky(self.covariances(rows))
            apart = np.einsum("kij,kj->ki", root, rng.standard_normal((rows.size, 3)))
            return np.asarray(mean + apart)
        along = gain_direction(mean)
        scatter = rng.standard_normal((rows.size, 3)) * np.sqrt(self.variances)
        gain: FloatArray = self.doubts.gain * rng.standard_normal((rows.size, 1))
        return mean + scatter + gain * along


def gain_direction(mean: FloatArray) -> FloatArray:
    """Lab (..., 3) moves along this per unit of log exposure."""
    direction: FloatArray = (mean + _TO_BLACK) / 3.0
    return direction


def build_table(
    pairs: Sequence[FilmModel],
    between_nm: tuple[float, float],
    *,
    doubts: Uncertainty,
    viewing: ViewingConditions,
    view: View = "front",
) -> ColourTable:
    """Tabulate the colours of all pairs over a range of thickness.

    Raises
    ------
    OutOfRangeError
        If the range does not run upwards within 0 to 1000 nm by half a nanometre or more, or a
        data set ends inside the visible.
    InputError
        If the piece is looked through and opaque, or from behind and has no back.
    LimitError
        If the table would pass six million rows.
    """
    if view == "through" and pairs[0].base.is_opaque(DEFAULT_WAVELENGTH_NM):
        raise InputError(
            f"nothing is seen through a film on {pairs[0].base.substrate.label}: it is opaque"
        )
    scale_nm = scale_grid(between_nm, doubts.index_spread)
    errors = index_nodes(doubts.index_spread)
    angles, _, view_weight = view_nodes(doubts)
    shape = (len(pairs), errors.size, scale_nm.size, view_weight.size, 3)
    rows = np.prod(shape[:-1]) / (view_weight.size if _merges(pairs, doubts) else 1)
    if rows > _MAX_ROWS:
        raise LimitError(
            f"{len(pairs)} pairs of data sets over {between_nm[0]:g} to {between_nm[1]:g} nm are "
            f"too much for one table with these doubts; narrow the range or the doubts, or name "
            f"fewer films"
        )
    if isinstance(pairs[0], FaultyModel):
        return _build_with_faults(pairs, scale_nm, doubts, viewing, view)
    lab = np.empty(shape, dtype=np.float32)
    weights = tristimulus_weights(DEFAULT_WAVELENGTH_NM, viewing.light, viewing.observer)
    white = weights.sum(axis=0)
    tabulated = {id(pair.base): base_of(pair.base, DEFAULT_WAVELENGTH_NM) for pair in pairs}
    for members in group_by_film(pairs):
        bases = [tabulated[id(pairs[j].base)] for j in members]
        xyz = scan_scales(
            pairs[members[0]].film, bases, scale_nm,
            index_error=errors, angle_deg=angles, view=view, weights=weights,
        )  # fmt: skip
        for e, looks in enumerate(xyz):
            lab[members, e] = lab_of_views(np.moveaxis(looks, 0, -2), doubts, white)
    return ColourTable(scale_nm, errors, view_weight, lab, doubts)


def _merges(pairs: Sequence[FilmModel], doubts: Uncertainty) -> bool:
    """Whether all views of a film are near enough to one normal distribution, and may be taken so:
    of films with faults, which spread their colours further."""
    usual = view_nodes(doubts)[2].size <= ANGLE_NODES * GLARE_NODES and doubts.lamp_lift == 1.0
    return usual and isinstance(pairs[0], FaultyModel)


def _build_with_faults(
    pairs: Sequence[FilmModel],
    scale_nm: FloatArray,
    doubts: Uncertainty,
    viewing: ViewingConditions,
    view: View,
) -> ColourTable:
    """One view: angles and glare are taken together, and under a fault the data sets of what lies
    below, unless doubts are so wide that they are no one normal distribution."""
    errors, (angles, _, view_weight) = index_nodes(doubts.index_spread), view_nodes(doubts)
    merged = _merges(pairs, doubts)
    views = 1 if merged else view_weight.size
    lab = np.empty((len(pairs), errors.size, scale_nm.size, views, 3), dtype=np.float32)
    spread = np.empty((*lab.shape, 3), dtype=np.float32)
    weights = tristimulus_weights(DEFAULT_WAVELENGTH_NM, viewing.light, viewing.observer)
    seen = FaultView(scale_nm, float(angles.mean()), doubts, viewing, view)
    for members in group_by_film(pairs):
        faults = [pair for j in members if isinstance(pair := pairs[j], FaultyModel)]
        one = faults[0]
        below = {id(base): base for pair in faults for base, _ in pair.bases}
        bases = [base_of(base, DEFAULT_WAVELENGTH_NM) for base in below.values()]
        place = {key: at for at, key in enumerate(below)}
        moves = fault_moments(
            one.film,
            base_of(one.base, DEFAULT_WAVELENGTH_NM),
            seen=seen,
            names=[(pair.fault, pair.layer_nm) for pair in faults if pair.fault != NONE],
        )
        xyz = scan_scales(
            one.film, bases, scale_nm,
            index_error=errors, angle_deg=angles, view=view, weights=weights,
        )  # fmt: skip
        nodes = lab_of_views(np.moveaxis(xyz, 1, -2), doubts, weights.sum(axis=0))
        known: dict[tuple[int, ...], tuple[FloatArray, FloatArray]] = {}
        for j, pair in zip(members, faults, strict=True):
            own = tuple(place[id(base)] for base, _ in pair.bases)
            if own not in known:
                share = np.array([share for _, share in pair.bases])
                known[own] = _moments(nodes[:, own], share, view_weight if merged else None)
            (mean, covariance), move = known[own], moves.get((pair.fault, pair.layer_nm))
            lab[j] = mean if move is None else mean + move[0][:, None]
            spread[j] = covariance if move is None else covariance + move[1][:, None]
    view_weight = np.ones(1) if merged else view_weight
    left = np.array([discrepancy_share(pair) for pair in pairs])
    return ColourTable(scale_nm, errors, view_weight, lab, doubts, spread, left)


def _moments(
    lab: FloatArray, share: FloatArray, view_weight: FloatArray | None
) -> tuple[FloatArray, FloatArray]:
    """Mean (E, D, V, 3) and covariance (E, D, V, 3, 3) of colours (E, S, D, V, 3) over bases of
    those shares, and over the views if they have weights: then V is one."""
    if view_weight is not None:
        share = np.outer(share, view_weight).ravel()
        lab = np.moveaxis(lab, 3, 2).reshape(len(lab), share.size, -1, 1, 3)
    mean = (share @ lab.reshape(*lab.shape[:2], -1)).reshape(len(lab), *lab.shape[2:])
    off = np.moveaxis(lab - mean[:, None], -1, 0) * np.sqrt(share)[:, None, None]
    covariance = np.empty((*mean.shape, 3))
    for a in range(3):
        for b in range(a + 1):
            both = np.einsum("esdv,esdv->edv", off[a], off[b])
            covariance[..., a, b] = covariance[..., b, a] = both
    return mean, covariance


def lab_of_views(xyz: FloatArray, doubts: Uncertainty, white: FloatArray) -> FloatArray:
    """CIELAB (..., V, 3) of all views of colours (..., A, 3) at the angles tabulated: lifted,
    but not beyond white, then under a veil of glare."""
    _, glare, _ = view_nodes(doubts)
    lift = lamp_nodes(doubts)[0]
    room = white[1] / np.maximum(xyz[..., 1:2], 1e-6)
    lit = xyz[..., None, :] * np.minimum(lift, np.maximum(room, 1.0))[..., None]
    veiled = (1.0 - glare[:, None]) * lit[..., None, :] + VEIL * glare[:, None] * white
    return xyz_to_lab(veiled, white).reshape(*xyz.shape[:-2], -1, 3)


def lamp_nodes(doubts: Uncertainty) -> tuple[FloatArray, FloatArray]:
    """Factors by which a dim look is lifted, evenly in the logarithm, and how often each is met."""
    if doubts.lamp_lift == 1.0:
        return np.ones(1), np.ones(1)
    return np.geomspace(1.0, doubts.lamp_lift, _LIFTED.size), _LIFTED


def scale_grid(between_nm: tuple[float, float], index_spread: float) -> FloatArray:
    """Optical scale [nm] that covers a range of thickness for every index error."""
    low, high = between_nm
    if not 0.0 <= low < high <= MAX_THICKNESS_NM:
        raise OutOfRangeError(
            f"the range {low:g} to {high:g} nm must run upwards within 0 to {MAX_THICKNESS_NM:g} nm"
        )
    if high - low < STEP_NM:
        raise OutOfRangeError(
            f"the range {low:g} to {high:g} nm is too narrow; it must span {STEP_NM:g} nm or more"
        )
    reach = INDEX_SPAN * index_spread
    first = max(0.0, low * (1.0 - reach) - STEP_NM)
    count = int(np.ceil((high * (1.0 + reach) + STEP_NM - first) / STEP_NM)) + 1
    steps: FloatArray = STEP_NM * np.arange(count, dtype=float)
    return first + steps


def view_nodes(doubts: Uncertainty) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Angles (A,) [°] and shares of glare (G,) to tabulate, and the weights (V,) of all views:
    each with each, and with each lift of the lamp.

    More of them where doubts are wider than those of a photo: one for every further tenth of
    glare, and for angles by the integral of the secant, about as fast as which colours change
    towards grazing angles.
    """
    tilt = np.radians([doubts.angle_low_deg, doubts.angle_high_deg])
    fan = float(np.diff(np.log(np.tan(0.25 * np.pi + 0.5 * tilt)))[0])
    more = [(fan - _USUAL_FAN) / _FAN_APART, (doubts.glare - _USUAL_GLARE) / _GLARE_APART]
    angle_more, glare_more = (max(0, int(np.ceil(steps - 1e-9))) for steps in more)
    angles, angle_weight = uniform_nodes(
        doubts.angle_low_deg,
        doubts.angle_high_deg,
        min(ANGLE_NODES + angle_more, _MOST_ANGLES),
    )
    glare, glare_weight = uniform_nodes(0.0, doubts.glare, GLARE_NODES + glare_more)
    by_lift = np.outer(angle_weight, lamp_nodes(doubts)[1])
    return angles, glare, np.outer(by_lift, glare_weight).ravel()


def index_nodes(index_spread: float) -> FloatArray:
    """Relative index errors of the table's nodes."""
    if index_spread == 0.0:
        return np.zeros(1)
    count = INDEX_NODES if index_spread <= WIDE_INDEX_SPREAD else WIDE_INDEX_NODES
    return index_spread * np.linspace(-INDEX_SPAN, INDEX_SPAN, count)
