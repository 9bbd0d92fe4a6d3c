"""What do my own heats say? The growth law of one kiln from a few test pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions, as_conditions
from ..errors import InputError, UnknownNameError
from ..numerics.density import interval90
from ..numerics.parallel import child_rng, map_parallel, rng_root
from ..oxidation.calibration import Coupon, LawDraws
from ..oxidation.growth import grow
from ..oxidation.metals import Metal
from ..oxidation.open_scale import fit_either_law
from ..oxidation.regime import Regime
from ..oxidation.schedule import HeatSchedule, hold
from ..report.format import format_count
from ..units import format_digits
from .coupon import (
    colour_p,
    film_share,
    likelihood_at,
    piece_from_colour,
    piece_from_curve,
    piece_from_thickness,
    thickness_p,
    weighted_median,
)
from .coupon_file import CouponRow, StripRow, read_pieces
from .kiln import DRAWS, Kiln, check_seed, shipped_kiln
from .kiln_causes import find_causes
from .learn_bath import learn_bath
from .next_heat import next_heat
from .result import BathCalibration, Calibration, LawParameter, Residual

FIT_LEVEL = 0.01
UNLIKE = "some of the test pieces do not fit one law"
_COUNT = 1600
_REPEATS = 5
_OPEN = 1  # number of the stream of random draws for a scale that lets air through
_WORTH_SAYING, _LIKELY = 0.2, 0.5  # probability of such a scale


def coupons(
    path: str | Path,
    *,
    kiln: str | None = None,
    conditions: ViewingConditions | str | None = None,
    seed: int = 1,
) -> Calibration | BathCalibration:
    """Fit a file of test pieces: heated ones say what a kiln does, anodised ones what a bath does.

    Parameters
    ----------
    path : str or Path
        As `read_pieces` takes it.
    kiln : str, optional
        Which of several kilns in the file to answer for; the first by default. All of them count
        towards the law. Strips of a bath are all of one.
    conditions : ViewingConditions or str, optional
        Light and observer the colours were read for.
    seed : int

    Raises
    ------
    InputError
        If the file or a heat in it is refused, or the kiln is not in it.
    """
    if not isinstance(path, str | Path):
        raise InputError(
            f"`path` must be the path of a file of test pieces, not {path!r:.40}", parameter="path"
        )
    metal, pieces = read_pieces(path)
    strips = [piece for piece in pieces if isinstance(piece, StripRow)]
    if strips:
        if kiln is not None:
            raise InputError(
                "`kiln` goes with heated pieces, and these had volts", parameter="kiln"
            )
        return learn_bath(
            metal, strips, made_from=Path(path).name, conditions=conditions, seed=seed
        )
    heated = [piece for piece in pieces if isinstance(piece, CouponRow)]
    return learn(
        metal, heated, made_from=Path(path).name, kiln=kiln, conditions=conditions, seed=seed
    )


def learn(
    metal: Metal,
    pieces: Sequence[CouponRow],
    *,
    made_from: str,
    kiln: str | None = None,
    conditions: ViewingConditions | str | None = None,
    seed: int = 1,
    places: Sequence[int] | None = None,
) -> Calibration:
    """Fit test pieces; as `coupons`.

    ``places``, one a piece, are those of their heats in the order in which one kiln ran them: then
    its pace may change on the way, and before the next.
    """
    check_seed(seed)
    names = list(dict.fromkeys(piece.kiln for piece in pieces))
    if kiln is not None and kiln not in names:
        raise UnknownNameError(f"no kiln {kiln!r} in {made_from}; it has {', '.join(names)}")
    chosen = names.index(kiln) if kiln is not None else 0
    viewing = as_conditions(conditions)
    for piece in pieces:
        metal.check(piece.heat)
    film_names, share = film_share(metal)
    evidence = [_evidence(metal, piece, names.index(piece.kiln), viewing) for piece in pieces]
    if places is not None:
        evidence = [replace(one, place=at) for one, at in zip(evidence, places, strict=True)]
    rng = np.random.default_rng(seed)
    fit, leaky = fit_either_law(
        metal, evidence, share, count=_COUNT, rng=rng,
        open_rng=np.random.default_rng((seed, _OPEN)), in_order=places is not None,
    )  # fmt: skip
    draws = fit.draws.for_kiln(chosen)
    own = [i for i, one in enumerate(evidence) if one.kiln == chosen]
    check = partial(_residual, metal, viewing, rng_root(rng))
    found_by = [fit.draws_at(one.place).for_kiln(chosen) for one in evidence]
    residuals = tuple(map_parallel(check, [(i, pieces[i], evidence[i], found_by[i]) for i in own]))
    fits = all(one.fit_p >= FIT_LEVEL for one in residuals)
    peaks = [pieces[i].heat.peak_C for i in own]
    held = Kiln(
        metal, draws.take(np.arange(0, _COUNT, _COUNT // DRAWS)), film_names, len(own), made_from,
        (min(peaks), max(peaks)), () if fits else (UNLIKE,),
    )  # fmt: skip
    shipped = shipped_kiln(metal, seed)
    middle = _middle_heat([pieces[i].heat for i in own])
    width = _ln_width(held, middle, seed) / _ln_width(shipped, middle, seed)
    worth = next_heat(held, pieces[own[-1]].reading, viewing, rng=np.random.default_rng(seed))
    causes, told = find_causes(fit, pieces, places)
    return Calibration(
        metal.key, metal.name, metal.regimes[-1].law.name, metal.source, names[chosen], held,
        _parameters(held, shipped), residuals, fits, _pace(held, middle), leaky, width,
        middle.words, worth, (*told, *_warnings(residuals, peaks, metal, leaky)),
        metal.cautions, seed, causes,
    )  # fmt: skip


def _evidence(metal: Metal, piece: CouponRow, kiln: int, viewing: ViewingConditions) -> Coupon:
    if piece.reading is not None:
        return piece_from_colour(metal, piece.heat, piece.reading, viewing=viewing, kiln=kiln)
    if piece.curve is not None:
        return piece_from_curve(metal, piece.heat, piece.curve, kiln=kiln)
    assert piece.thickness_nm is not None
    return piece_from_thickness(metal, piece.heat, piece.thickness_nm, sd_nm=piece.sd, kiln=kiln)


def _residual(
    metal: Metal,
    viewing: ViewingConditions,
    root: np.random.SeedSequence,
    numbered: tuple[int, CouponRow, Coupon, LawDraws],
) -> Residual:
    i, piece, one, draws = numbered
    rng = child_rng(root, i)
    drawn = np.array([draws.thickness_nm(metal, piece.heat, rng) for _ in range(_REPEATS)])
    weight = np.array([_weights(one, draws, row) for row in drawn])
    came_out = weighted_median(drawn.ravel(), weight.ravel())
    if piece.reading is not None:
        p = colour_p(metal, piece.reading, drawn[0], viewing=viewing, draws=draws, rng=rng)
    else:
        p = thickness_p(piece.thickness_nm or 0.0, drawn.ravel(), sd_nm=piece.sd, rng=rng)
    typical = float(np.median(draws.typical_nm(metal, piece.heat)))
    seen = None if piece.reading is None else piece.reading.middle_hex
    return Residual(
        piece.id, piece.heat.words, piece.text, came_out, typical, interval90(drawn), p, seen
    )


def _weights(one: Coupon, draws: LawDraws, thickness_nm: FloatArray) -> FloatArray:
    """Likelihood of a piece (N,) at drawn thicknesses."""
    scale = thickness_nm * (1.0 + draws.index_error) if one.optical else thickness_nm
    picked = likelihood_at(one.scale_nm, one.likelihood, film=draws.film, at_nm=scale)
    return picked + 1e-12 * float(one.likelihood.max())


def _middle_heat(heats: Sequence[HeatSchedule]) -> HeatSchedule:
    """A steady heat among the pieces: mean of their peaks, middle of their times."""
    peaks = [heat.peak_C for heat in heats]
    minutes = round(float(np.median([heat.duration_s for heat in heats])) / 60.0)
    return hold(max(round(float(np.mean(peaks)), -1), min(peaks)), 60.0 * max(minutes, 1))


def _ln_width(held: Kiln, heat: HeatSchedule, seed: int) -> float:
    drawn = held.draws.thickness_nm(held.metal, heat, np.random.default_rng(seed))
    low, high = interval90(drawn)
    return float(np.log(high / low))


def _pace(held: Kiln, heat: HeatSchedule) -> float:
    """The factor on all times that makes the shipped law agree with the kiln's at a heat."""
    metal = held.metal
    own = float(np.median(held.draws.typical_nm(metal, heat)))
    paces = np.linspace(-4.0, 4.0, 161)
    theta, native = np.tile(metal.mean, (paces.size, 1)), np.full(paces.size, metal.native_nm)
    shipped = grow(metal.regimes, theta, heat, start_nm=native, ln_pace=paces)
    return float(np.exp(np.interp(np.log(own), np.log(shipped), paces)))


def _parameters(held: Kiln, shipped: Kiln) -> tuple[LawParameter, ...]:
    columns: list[tuple[str, Regime | None]] = [
        (name, regime) for regime in held.metal.regimes for name in regime.parameters
    ]
    columns += [(name, None) for name in ("ln_pace", "ln_scatter", "native_nm")]
    after, before = (
        np.column_stack([d.theta, d.pace[:, 0], np.log(d.scatter), d.native_nm])
        for d in (held.draws, shipped.draws)
    )
    return tuple(
        LawParameter(
            name, regime, float(np.median(after[:, i])), interval90(after[:, i]),
            float(np.median(before[:, i])), interval90(before[:, i]),
        )
        for i, (name, regime) in enumerate(columns)
        if np.ptp(before[:, i]) > 0.0
    )  # fmt: skip


def _tell_open_scale(probability: float) -> tuple[str, ...]:
    if probability < _WORTH_SAYING:
        return ()
    share = f"{100.0 * min(probability, 0.99):.0f} %"
    if probability > 0.99:
        share = f"over {share}"
    if probability > _LIKELY:
        return (
            f"the pieces grow nearly in proportion to time, as under a scale that lets air through "
            f"({share}): times much longer or hotter than the pieces' are uncertain",
        )
    return (
        f"whether the scale protects the metal or lets air through ({share}) is open: heat one "
        f"more piece at a temperature already run, for four times as long",
    )


def _warnings(
    residuals: Sequence[Residual], peaks_C: Sequence[float], metal: Metal, leaky: float
) -> tuple[str, ...]:
    said = [
        f"piece {one.id} ({one.outcome} after {one.heat}) does not fit the others: only "
        f"{format_digits(100.0 * one.fit_p)} % of simulated outcomes are as unusual"
        for one in residuals
        if one.fit_p < FIT_LEVEL
    ]
    if len(peaks_C) < 4:
        tell = "tells" if len(peaks_C) == 1 else "tell"
        few = format_count(len(peaks_C), "test piece")
        said.append(f"{few} {tell} little; run five or more at several heats")
    said += _tell_open_scale(leaky)
    low, high = metal.range_C
    cold = sum(peak_C < low for peak_C in peaks_C)
    if cold:
        said.append(f"{cold} of the heats lie below the law's range ({low:g} to {high:g} °C)")
    return (*said, *([metal.difference] if metal.difference else []))
