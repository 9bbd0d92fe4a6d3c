"""A kiln whose scale lets air through: the oxide grows nearly in proportion to time.

Where a scale cracks, spalls or is porous, air reaches the metal through it and the rate no longer
falls as the film thickens (N. B. Pilling and R. E. Bedworth, J. Inst. Met. 29 (1923) 529). The
shipped laws are all of scales that protect. Such a kiln is another hypothesis, fitted by itself and
weighed against the shipped law by the evidence of the test pieces.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from .._typing import FloatArray
from .calibration import Coupon, LawDraws, LawFit, fit_law
from .metals import Metal
from .regime import Regime

# Judgements, no source: how many kilns have such a scale; its exponent, from growth that quickens
# (0.8) to one on the way to parabolic (1.9), both ends of 90 %; how far it is from the shipped law
# at the reference heat.
_SHARE = 0.05
_EXPONENT, _EXPONENT_LN_SD = 1.25, 0.25
_THICKNESS_LN_SD = 0.5
_FIRST_LOOK = 400  # draws that tell whether more are worth their time
_WORTHWHILE = 0.2


def open_scale(metal: Metal) -> Metal | None:
    """The metal with a scale that lets air through; None where its laws have no free exponent."""
    if any(regime.law.name != "power" for regime in metal.regimes):
        return None
    return replace(metal, regimes=tuple(map(_open_regime, metal.regimes)))


def _open_regime(regime: Regime) -> Regime:
    """The prior of the same metal's growth without protection.

    With temperature the thickness rises somewhere between as under the shipped law, ``E / m``, and
    as its rate constant does, ``E``.
    """
    ln_nm, energy, curvature, ln_m = regime.mean
    variance = np.diag(regime.covariance)
    share = _EXPONENT / np.exp(ln_m)
    mean = np.array([ln_nm, 0.5 * (1.0 + share) * energy, share * curvature, np.log(_EXPONENT)])
    energy_variance = variance[1] + (0.5 * (1.0 - share) * energy) ** 2
    spread = [
        variance[0] + _THICKNESS_LN_SD**2, energy_variance, share**2 * variance[2],
        _EXPONENT_LN_SD**2,
    ]  # fmt: skip
    return replace(regime, mean=mean, covariance=np.diag(spread))


def fit_either_law(
    metal: Metal,
    evidence: Sequence[Coupon],
    film_share: FloatArray,
    *,
    count: int,
    rng: np.random.Generator,
    open_rng: np.random.Generator,
    in_order: bool = False,
) -> tuple[LawFit, float]:
    """Draws under the shipped law and an open scale, each as often as it is likely.

    As :func:`~oxhue.optics.oxidation.calibration.fit_law`; the second number is the probability of
    an open scale, 0 where the metal's laws know none. ``open_rng`` draws the open scale, so that a
    kiln whose scale protects comes out as by the shipped law alone.
    """
    shipped = fit_law(metal, evidence, film_share, count=count, rng=rng, in_order=in_order)
    other = open_scale(metal)
    if other is None:
        return shipped, 0.0
    looked = min(_FIRST_LOOK, count)
    opened = fit_law(other, evidence, film_share, count=looked, rng=open_rng, in_order=in_order)
    probability = _weigh(shipped, opened)
    if probability > _WORTHWHILE and count > looked:
        opened = fit_law(other, evidence, film_share, count=count, rng=open_rng, in_order=in_order)
        probability = _weigh(shipped, opened)
    taken = round(probability * count)
    if taken == 0:
        return shipped, probability
    return _mix(shipped, opened, taken, open_rng), probability


def _weigh(shipped: LawFit, opened: LawFit) -> float:
    """Probability of an open scale after the test pieces."""
    odds = np.log(_SHARE / (1.0 - _SHARE)) + opened.log_evidence - shipped.log_evidence
    return float(1.0 / (1.0 + np.exp(-np.clip(odds, -700.0, 700.0))))


def _mix(shipped: LawFit, opened: LawFit, taken: int, rng: np.random.Generator) -> LawFit:
    """So many draws of the open scale in place of as many of the shipped law."""
    count = shipped.between_kilns.size
    chosen = np.arange(count)
    places = rng.permutation(count)[:taken]  # the others stay as they are
    chosen[places] = count + np.resize(rng.permutation(opened.between_kilns.size), taken)
    names = LawDraws.__dataclass_fields__
    both = LawDraws(
        *(np.concatenate([getattr(fit.draws, name) for fit in (shipped, opened)]) for name in names)
    )
    evidence = np.logaddexp(
        np.log(1.0 - _SHARE) + shipped.log_evidence, np.log(_SHARE) + opened.log_evidence
    )
    ordered = "between_kilns", "pace_paths", "steps", "drift", "misread"
    return LawFit(
        both.take(chosen),
        log_evidence=float(evidence),
        **{
            name: np.concatenate([getattr(fit, name) for fit in (shipped, opened)])[chosen]
            for name in ordered
        },
    )
