"""What do my own heats say? The growth law of one kiln from a few test pieces."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions, as_conditions
from ..errors import OutOfRangeError, UnknownNameError
from ..numerics.parallel import child_rng, map_parallel, rng_root
from ..oxidation.calibration import Coupon, LawDraws, fit_law
from ..oxidation.metals import Metal
from ..oxidation.regime import Regime, grow
from ..oxidation.schedule import HeatSchedule, hold
from .coupon import film_share, piece_from_colour, piece_from_thickness
from .coupon_file import CouponRow, read_pieces
from .kiln import DRAWS, Kiln, shipped_kiln
from .next_heat import next_heat
from .piece_check import colour_p, thickness_p
from .result import Calibration, LawParameter, Residual
from .tint import interval90

FIT_LEVEL = 0.01
_COUNT = 1600
_REPEATS = 5


def coupons(
    path: str | Path,
    *,
    kiln: str | None = None,
    conditions: ViewingConditions | str | None = None,
    seed: int = 1,
) -> Calibration:
    """Fit a file of test pieces.

    Parameters
    ----------
    path : str or Path
        As `couponfile.read_pieces` takes it.
    kiln : str, optional
        Which of several kilns in the file to answer for; the first by default. All of them count
        towards the law.
    conditions : ViewingConditions or str, optional
        Light and observer the colours were read for.
    seed : int

    Raises
    ------
    InputError
        If the file or a heat in it is refused, or the kiln is not in it.
    """
    metal, pieces = read_pieces(path)
    return learn(metal, pieces, Path(path).name, kiln=kiln, conditions=conditions, seed=seed)


def learn(
    metal: Metal,
    pieces: Sequence[CouponRow],
    made_from: str,
    *,
    kiln: str | None = None,
    conditions: ViewingConditions | str | None = None,
    seed: int = 1,
) -> Calibration:
    """Fit test pieces; as `coupons`."""
    if seed < 0:
        raise OutOfRangeError(f"the seed is {seed}; it must be 0 or more")
    names = list(dict.fromkeys(piece.kiln for piece in pieces))
    if kiln is not None and kiln not in names:
        raise UnknownNameError(f"no kiln {kiln!r} in {made_from}; it has {', '.join(names)}")
    chosen = names.index(kiln) if kiln is not None else 0
    viewing = as_conditions(conditions)
    for piece in pieces:
        metal.check(piece.heat)
    film_names, share = film_share(metal)
    evidence = [_evidence(metal, piece, names, viewing) for piece in pieces]
    rng = np.random.default_rng(seed)
    found = fit_law(metal, evidence, share, _COUNT, rng)
    own = [i for i, piece in enumerate(pieces) if names.index(piece.kiln) == chosen]
    beside = partial(_residual, metal, found.draws, viewing, rng_root(rng))
    residuals = tuple(map_parallel(beside, [(i, pieces[i], evidence[i]) for i in own]))
    fits = all(one.fit_p >= FIT_LEVEL for one in residuals)
    peaks = [pieces[i].heat.peak_C for i in own]
    rows = np.arange(0, _COUNT, _COUNT // DRAWS)
    one_kiln = _kiln_draws(found.draws, chosen).take(rows)
    held = Kiln(
        metal, one_kiln, film_names, len(own), made_from, (min(peaks), max(peaks)),
        () if fits else ("some of the test pieces do not fit one law",),
    )  # fmt: skip
    return _make_calibration(
        held, names[chosen], residuals, fits, [pieces[i] for i in own], viewing, seed
    )


def _make_calibration(
    held: Kiln,
    name: str,
    residuals: tuple[Residual, ...],
    fits: bool,
    pieces: Sequence[CouponRow],
    viewing: ViewingConditions,
    seed: int,
) -> Calibration:
    metal = held.metal
    shipped = shipped_kiln(metal, seed)
    middle = _middle_heat([piece.heat for piece in pieces])
    width = _ln_width(held, middle, seed) / _ln_width(shipped, middle, seed)
    rng = np.random.default_rng(seed)
    return Calibration(
        metal.key, metal.name, metal.regimes[-1].law.name, metal.source, name, held,
        _parameters(held, shipped), residuals, fits, _pace(held, middle), width, middle.words,
        next_heat(held, pieces[-1].reading, viewing, rng),
        _warnings(residuals, pieces, metal), metal.cautions, seed,
    )  # fmt: skip


def _evidence(
    metal: Metal, piece: CouponRow, names: list[str], viewing: ViewingConditions
) -> Coupon:
    kiln = names.index(piece.kiln)
    if piece.reading is not None:
        return piece_from_colour(metal, piece.heat, piece.reading, viewing, kiln)
    assert piece.thickness_nm is not None
    return piece_from_thickness(metal, piece.heat, piece.thickness_nm, piece.sd, kiln)


def _residual(
    metal: Metal,
    draws: LawDraws,
    viewing: ViewingConditions,
    root: np.random.SeedSequence,
    numbered: tuple[int, CouponRow, Coupon],
) -> Residual:
    i, piece, one = numbered
    rng = child_rng(root, i)
    own = _kiln_draws(draws, one.kiln)
    drawn = np.array([own.thickness_nm(metal, piece.heat, rng) for _ in range(_REPEATS)])
    weight = np.array([_weights(one, own, row) for row in drawn])
    came_out = _weighted_median(drawn.ravel(), weight.ravel())
    typical = grow(metal.regimes, own.theta, piece.heat, own.native_nm, own.pace[:, 0])
    if piece.reading is not None:
        p = colour_p(metal, piece.reading, viewing, own, drawn[0], rng)
    else:
        p = thickness_p(float(piece.thickness_nm or 0.0), piece.sd, drawn.ravel(), rng)
    return Residual(
        piece.id, piece.heat.words, piece.text, came_out, float(np.median(typical)),
        interval90(drawn), p,
    )  # fmt: skip


def _weights(one: Coupon, draws: LawDraws, thickness_nm: FloatArray) -> FloatArray:
    """Likelihood of a piece (N,) at drawn thicknesses."""
    scale = thickness_nm * (1.0 + draws.index_error) if one.optical else thickness_nm
    each = np.array([np.interp(scale, one.scale_nm, row, right=0.0) for row in one.likelihood])
    picked: FloatArray = each[draws.film, np.arange(scale.size)]
    return picked + 1e-12 * float(one.likelihood.max())


def _weighted_median(values: FloatArray, weight: FloatArray) -> float:
    order = np.argsort(values)
    share = np.cumsum(weight[order])
    return float(np.interp(0.5 * share[-1], share, values[order]))


def _kiln_draws(draws: LawDraws, kiln: int) -> LawDraws:
    return LawDraws(
        draws.theta, draws.native_nm, draws.pace[:, kiln : kiln + 1], draws.scatter,
        draws.index_error, draws.film,
    )  # fmt: skip


def _middle_heat(heats: Sequence[HeatSchedule]) -> HeatSchedule:
    """A steady heat amid the pieces: mean of their peaks, middle of their times."""
    peak = round(float(np.mean([heat.peak_C for heat in heats])), -1)
    low = min(heat.peak_C for heat in heats)
    time_s = float(np.median([heat.duration_s for heat in heats]))
    return hold(max(peak, low), max(60.0, round(time_s / 60.0) * 60.0))


def _ln_width(held: Kiln, heat: HeatSchedule, seed: int) -> float:
    drawn = held.draws.thickness_nm(held.metal, heat, np.random.default_rng(seed))
    low, high = interval90(drawn)
    return float(np.log(high / low))


def _pace(held: Kiln, heat: HeatSchedule) -> float:
    """The factor on all times that makes the shipped law agree with the kiln's at a heat."""
    metal, draws = held.metal, held.draws
    own = float(
        np.median(grow(metal.regimes, draws.theta, heat, draws.native_nm, draws.pace[:, 0]))
    )
    paces = np.linspace(-4.0, 4.0, 161)
    shipped = [
        float(grow(metal.regimes, metal.mean[None], heat, np.array([metal.native_nm]), pace)[0])
        for pace in paces
    ]
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


def _warnings(
    residuals: Sequence[Residual], pieces: Sequence[CouponRow], metal: Metal
) -> tuple[str, ...]:
    said = [
        f"piece {one.id} ({one.outcome} after {one.heat}) does not fit the others: only "
        f"{100.0 * one.fit_p:.2g} % of simulated outcomes are as unusual"
        for one in residuals
        if one.fit_p < FIT_LEVEL
    ]
    if len(pieces) < 4:
        said.append(f"{len(pieces)} test pieces tell little; run five or more at several heats")
    low, high = metal.range_C
    cold = sum(piece.heat.peak_C < low for piece in pieces)
    if cold:
        said.append(f"{cold} of the heats lie below the law's range ({low:g} to {high:g} °C)")
    return tuple(said)
