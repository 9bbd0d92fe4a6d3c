"""What happened to a kiln between its heats, and to its pieces: hypotheses, weighed and told."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..numerics.density import interval90
from ..numerics.steps import LEAST_STEP, likely_step
from ..oxidation.calibration import LawFit
from ..report.format import format_percent
from .coupon_file import CouponRow

_LIKELY = 0.5  # probability from which something is told as what happened
_WORTH_NAMING = 0.05
_MOST_NAMED = 3
NOTHING = "nothing out of the ordinary"


@dataclass(frozen=True)
class KilnCause:
    """Something that may have happened.

    Attributes
    ----------
    what : str
        In words; the first is that nothing did.
    probability : float
        Those of several may add up to more than one: both may have happened.
    remedy : str
        What to do about it; empty where nothing needs doing.
    """

    what: str
    probability: float
    remedy: str


def find_causes(
    fit: LawFit, pieces: Sequence[CouponRow], places: Sequence[int] | None
) -> tuple[tuple[KilnCause, ...], tuple[str, ...]]:
    """What may have happened, and what of it is told; nothing where the heats have no order.

    Parameters
    ----------
    fit : LawFit
    pieces : sequence of CouponRow
    places : sequence of int or None
        Of their heats in the order.
    """
    if places is None:
        return (), ()
    causes = _weigh_causes(fit, pieces, places)
    told = (*_tell_step(fit, pieces, places), *_tell_misread(causes))
    if not told and causes[0].probability < _LIKELY:
        told = _tell_disagreement(causes, pieces)
    return causes, (*told, *_tell_drift(fit))


def _weigh_causes(
    fit: LawFit, pieces: Sequence[CouponRow], places: Sequence[int]
) -> tuple[KilnCause, ...]:
    """That nothing happened, then every change and every misread piece, likeliest first."""
    stepped = np.abs(np.diff(fit.steps[:, :-1], axis=1)) > LEAST_STEP
    ordinary = ~stepped.any(axis=1) * np.prod(1.0 - fit.misread, axis=1)
    changes = [
        KilnCause(
            f"the kiln changed before {pieces[list(places).index(k + 1)].id}", float(share),
            "look at element, thermocouple and seal",
        )
        for k, share in enumerate(stepped.mean(axis=0))
        if k + 1 in places
    ]  # fmt: skip
    misread = [
        KilnCause(
            f"{piece.id} was misread or mixed up", float(share),
            "look at it again in other light, and check which piece it is",
        )
        for piece, share in zip(pieces, fit.misread.mean(axis=0), strict=True)
    ]  # fmt: skip
    happened = sorted([*changes, *misread], key=lambda one: -one.probability)
    return (KilnCause(NOTHING, float(ordinary.mean()), ""), *happened)


def _tell_step(fit: LawFit, pieces: Sequence[CouponRow], places: Sequence[int]) -> tuple[str, ...]:
    step = likely_step(fit.steps[:, :-1])
    if step is None or step.place not in places:
        return ()
    first = pieces[list(places).index(step.place)].id
    return (
        f"something changed before {first}: the kiln goes {math.exp(abs(step.ln_factor)):.2g} "
        f"times {_way(step.ln_factor)} from there on ({step.odds:.0f} times likelier than no "
        f"change); look at element, thermocouple and seal",
    )


def _tell_misread(causes: Sequence[KilnCause]) -> tuple[str, ...]:
    return tuple(
        f"{one.what} ({format_percent(one.probability)}): {one.remedy}"
        for one in causes
        if "misread" in one.what and one.probability > _LIKELY
    )


def _tell_disagreement(causes: Sequence[KilnCause], pieces: Sequence[CouponRow]) -> tuple[str, ...]:
    named = [one for one in causes[1:] if one.probability > _WORTH_NAMING][:_MOST_NAMED]
    said = ", ".join(f"{one.what} {format_percent(one.probability)}" for one in named)
    none = format_percent(causes[0].probability)
    return (
        f"the pieces disagree, and they leave open why: {said}, {NOTHING} {none}; heat one more "
        f"piece as {pieces[-1].id} ({pieces[-1].heat.words}) to tell",
    )


def _tell_drift(fit: LawFit) -> tuple[str, ...]:
    low, high = interval90(fit.drift)
    if low <= 0.0 <= high:
        return ()
    by, *ends = (100.0 * abs(math.expm1(one)) for one in (np.median(fit.drift), low, high))
    least, most = sorted(ends)
    return (
        f"the kiln goes {by:.0f} % {_way(low)} from each heat to the next (90 % of the chance: "
        f"{least:.0f} to {most:.0f} %); element or thermocouple ages",
    )


def _way(ln_pace: float) -> str:
    return "faster" if ln_pace > 0.0 else "slower"
