"""What do my own volts say? The constant of one anodising bath from a few strips."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions, as_conditions
from ..numerics.density import interval90
from ..numerics.integrate import trapezoid
from ..oxidation.anodic import BathDraws, anodic_law, check_volts, draw_baths
from ..oxidation.calibration import SLIP
from ..oxidation.metals import Metal
from ..report.format import format_interval
from ..units import format_digits
from .bath import Bath, bath_from, shipped_bath
from .coupon import (
    colour_likelihood,
    colour_p,
    film_share,
    likelihood_at,
    thickness_likelihood,
    thickness_p,
    weighted_median,
)
from .coupon_file import StripRow
from .kiln import DRAWS, check_seed
from .result import BathCalibration, NextStrip, StripResidual

FIT_LEVEL = 0.01
_COUNT = 40_000
_TRIED_V = (0.1, 0.25, 0.4, 0.55, 0.7, 0.85)  # of the range: volts a next strip may have
_WORLDS = 200
_READ_SD = 0.05  # of a thickness read off the next strip's colour: a judgement


def learn_bath(
    metal: Metal,
    strips: Sequence[StripRow],
    *,
    made_from: str,
    conditions: ViewingConditions | str | None = None,
    seed: int = 1,
) -> BathCalibration:
    """Fit strips anodised in one bath.

    Parameters
    ----------
    metal : Metal
    strips : sequence of StripRow
        The volts each stopped at, and the colour or thickness that came out.
    made_from : str
        The file they stood in.
    conditions : ViewingConditions or str, optional
        Light and observer the colours were read for.
    seed : int

    Notes
    -----
    Draws from the shipped spread are weighed by the likelihood of all strips, each with a scatter
    of its own, and drawn again by their weight. A strip that fits none of them counts as mixed up.
    """
    check_seed(seed)
    law, viewing = anodic_law(metal), as_conditions(conditions)
    for strip in strips:
        check_volts(metal, strip.volts)
    rng = np.random.default_rng(seed)
    prior = draw_baths(metal, film_share(metal)[1], count=_COUNT, rng=rng)
    seen = [_evidence(metal, strip, viewing) for strip in strips]
    log_weight = np.zeros(_COUNT)
    for strip, one in zip(strips, seen, strict=True):
        log_weight += one.log_likelihood(prior, prior.thickness_nm(law, strip.volts, rng))
    weight = np.exp(log_weight - log_weight.max())
    rows = rng.choice(_COUNT, size=DRAWS, p=weight / weight.sum())
    volts = [strip.volts for strip in strips]
    bath = bath_from(
        metal, prior.take(rows), pieces=len(strips), made_from=made_from,
        between_V=(min(volts), max(volts)),
    )  # fmt: skip
    residuals = tuple(
        _residual(bath, strip, one, viewing, rng) for strip, one in zip(strips, seen, strict=True)
    )
    middle_V = float(np.median(volts))
    return BathCalibration(
        metal.key, metal.name, bath.words, law.source, bath, law.words, residuals,
        all(one.fit_p >= FIT_LEVEL for one in residuals),
        _relative_width(bath, middle_V) / _relative_width(shipped_bath(metal, seed), middle_V),
        middle_V, _next_strip(bath), _remarks(residuals), seed,
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class _StripLikelihood:
    """Likelihood (H, D) of what came out over its scale (D,), of mean 1."""

    scale_nm: FloatArray
    likelihood: FloatArray
    optical: bool

    def at(self, draws: BathDraws, thickness_nm: FloatArray) -> FloatArray:
        scale = thickness_nm * (1.0 + draws.index_error) if self.optical else thickness_nm
        return likelihood_at(self.scale_nm, self.likelihood, film=draws.film, at_nm=scale)

    def log_likelihood(self, draws: BathDraws, thickness_nm: FloatArray) -> FloatArray:
        return np.asarray(np.log((1.0 - SLIP) * self.at(draws, thickness_nm) + SLIP))


def _evidence(metal: Metal, strip: StripRow, viewing: ViewingConditions) -> _StripLikelihood:
    law = anodic_law(metal)
    most_nm = max(metal.most_nm, float(law.typical_nm(law.range_V[1])) * 1.3)
    if strip.reading is not None:
        scale, each = colour_likelihood(metal, strip.reading, viewing=viewing, most_nm=most_nm)
    else:
        assert strip.thickness_nm is not None
        scale, each = thickness_likelihood(
            metal, strip.thickness_nm, sd_nm=strip.sd, most_nm=most_nm
        )
    mean = np.mean([trapezoid(row, scale) for row in each]) / (scale[-1] - scale[0])
    return _StripLikelihood(scale, each / max(float(mean), 1e-300), strip.reading is not None)


def _residual(
    bath: Bath,
    strip: StripRow,
    one: _StripLikelihood,
    viewing: ViewingConditions,
    rng: np.random.Generator,
) -> StripResidual:
    drawn = bath.draws.thickness_nm(bath.law, strip.volts, rng)
    each = one.at(bath.draws, drawn)
    came_out = weighted_median(drawn, each + 1e-12 * float(one.likelihood.max()))
    if strip.reading is not None:
        p = colour_p(
            bath.metal, strip.reading, drawn, viewing=viewing, draws=bath.kiln.draws, rng=rng
        )
    else:
        p = thickness_p(strip.thickness_nm or 0.0, drawn, sd_nm=strip.sd, rng=rng)
    typical = float(np.median(bath.draws.typical_nm(bath.law, strip.volts)))
    return StripResidual(strip.id, strip.volts, strip.text, came_out, typical, interval90(drawn), p)


def _relative_width(bath: Bath, volts: float) -> float:
    low, high = interval90(bath.draws.thickness_nm(bath.law, volts, np.random.default_rng(1)))
    return float(np.log(high / low))


def _next_strip(bath: Bath) -> NextStrip:
    """The volts whose strip would narrow the constant most over the whole range.

    Each of a number of worlds is taken as the truth in turn, its strip read to a twentieth, and the
    others weighed by it; the variance left in the logarithm of the thickness is averaged over the
    range.
    """
    low, high = bath.law.range_V
    tried = [round(low + share * (high - low)) for share in _TRIED_V]
    rows = np.arange(min(_WORLDS, bath.draws.film.size))
    worlds = bath.draws.take(rows)
    values = np.log([worlds.typical_nm(bath.law, float(volts)) for volts in tried])
    now = float(np.sqrt(values.var(axis=1).mean()))
    left = []
    for own in values:
        noise = np.hypot(_READ_SD, float(np.median(worlds.scatter)))
        weight = np.exp(-0.5 * ((own[:, None] - own) / noise) ** 2)
        weight /= weight.sum(axis=1, keepdims=True)
        mean, square = weight @ values.T, weight @ (values**2).T
        left.append(float(np.sqrt(np.maximum(square - mean**2, 0.0).mean())))
    best = int(np.argmin(left))
    return NextStrip(float(tried[best]), now, min(left[best], now))


def _remarks(residuals: Sequence[StripResidual]) -> tuple[str, ...]:
    said = [
        f"strip {one.id} ({one.outcome} at {one.volts:g} V) does not fit the others: only "
        f"{format_digits(100.0 * one.fit_p)} % of simulated outcomes are as unusual"
        for one in residuals
        if one.fit_p < FIT_LEVEL
    ]
    if len(residuals) < 3:
        said.append(
            f"{len(residuals)} strips tell little; run three or more, at low and high volts"
        )
    for one in residuals:
        low, high = one.interval90_nm
        if one.fit_p >= FIT_LEVEL and not low <= one.thickness_nm <= high:
            said.append(
                f"strip {one.id} came out as {one.thickness_nm:.0f} nm, outside the "
                f"{format_interval((low, high))} of such strips"
            )
    return tuple(said)
