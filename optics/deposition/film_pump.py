"""A growing film as a pump: Berg's balance of gas, film and sputter target, steady states alone.

Metal that lands is fresh and takes gas until the next atoms bury it. With R the atoms of oxygen
that clean metal would take, F the metal that lands and b the oxygen per metal atom of the oxide,
the share θ of a surface that is oxide follows ``R (1 - θ) = b F θ``; the film then holds ``b θ``
oxygen per metal atom. Oxygen also takes the place of nitrogen, and never the other way round. A
target that is sputtered follows the same with what the ions remove in place of F, and then sends
less metal. So more gas makes the film take less of it, and there can be two steady states.

All numbers broadcast over draws, axis 0.

S. Berg, T. Nyberg, Thin Solid Films 476, 215 (2005), which treats one gas; the second gas is ours.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Literal

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray
from .gases import GASES, MOLECULES_PER_MBAR_L, atoms_left

Start = Literal["clean", "poisoned"]
_AR, _N2, _O2, _H2O, _H2, _CO, _CO2 = range(len(GASES))
_OXYGEN = atoms_left("oxygen") > 0.0
"""Gases that all but oxide takes; the others are taken by bare metal alone."""
_PICARD = 6  # steps before Newton's without a target
_STRIDES = 20  # and with one
_MOST_ROUNDS = 8
_CAREFUL_ROUNDS = 1  # in which Newton's steps may not leave for another state
_NEWTON_STEPS = 8
_LONGEST_MOVE = 0.5  # as a logarithm
_DIFFERENCE = 1e-6
_CLOSE = 1e-12  # relative change of a step at which a steady state is found
_TINY = 1e-30


@dataclass(frozen=True, eq=False)
class SputterTarget:
    """A target that ions wear away.

    Attributes
    ----------
    area_cm2 : float
    metal_per_cm2_s : ndarray, shape (n,)
        Metal that leaves it while clean.
    oxide_yield, nitride_yield : ndarray, shape (n,)
        Yield of the compound over that of the metal [-].
    """

    area_cm2: float
    metal_per_cm2_s: FloatArray
    oxide_yield: FloatArray
    nitride_yield: FloatArray


@dataclass(frozen=True, eq=False)
class FilmBalance:
    """Gas that comes in, the pump, and the surfaces that metal reaches.

    Attributes
    ----------
    alone_mbar : ndarray, shape (n, gases)
        Pressure of each gas without any film.
    per_speed_s_l : ndarray, shape (n, gases)
        One over the pumping speed [s/l]; 0 where the pressure is held whatever the film takes.
    wall_l_s_cm2 : ndarray, shape (n, gases)
        Speed of a square centimetre of fresh metal, its sticking in it [l/s].
    area_cm2, flux_per_cm2_s : ndarray, shape (n, m)
        Surfaces that metal reaches, and what lands on each while the target is clean.
    full_oxide, full_nitride : float
        Atoms per metal atom of the compounds.
    direct_per_cm2_s : ndarray, shape (n, m)
        Oxygen that clean metal would take of what comes to a surface by itself, not out of the gas.
    target : SputterTarget or None
    """

    alone_mbar: FloatArray
    per_speed_s_l: FloatArray
    wall_l_s_cm2: FloatArray
    area_cm2: FloatArray
    flux_per_cm2_s: FloatArray
    direct_per_cm2_s: FloatArray
    full_oxide: float
    full_nitride: float
    target: SputterTarget | None = None


@dataclass(frozen=True, eq=False)
class SteadyState:
    """A state that stays.

    Attributes
    ----------
    partial_mbar : ndarray, shape (n, gases)
    taken_mbar_l_s : ndarray, shape (n, gases)
        What film and target take of each gas, less what they give back [mbar l/s].
    oxide, nitride : ndarray, shape (n, m)
        Share of each surface; times the atoms of the full compound, what the film holds.
    offered : ndarray, shape (n, m)
        Oxygen that fresh metal would take, per metal atom, over that of the full oxide [-].
    target_oxide, target_nitride : ndarray, shape (n,)
        Share of the target.
    metal_share : ndarray, shape (n,)
        Metal that leaves the source over that of a clean one [-].
    settled : ndarray of bool, shape (n,)
    """

    partial_mbar: FloatArray
    taken_mbar_l_s: FloatArray
    oxide: FloatArray
    nitride: FloatArray
    offered: FloatArray
    target_oxide: FloatArray
    target_nitride: FloatArray
    metal_share: FloatArray
    settled: BoolArray


def solve_film(balance: FilmBalance, start: Start = "clean") -> SteadyState:
    """The steady state that a start from clean or from poisoned surfaces runs into.

    Notes
    -----
    The unknowns are the atoms of oxygen and of nitrogen that clean metal would take. From them
    follow the surfaces, from these the pressures, and again the atoms. This map rises with both
    unknowns: repeated from 0 it climbs to the lowest fixed point, from the pressures without film
    it falls to the highest. Newton's steps end it.
    """
    oxygen, nitrogen = _first_rates(balance, start)
    done = np.zeros(oxygen.size, dtype=bool)
    two_states = balance.target is not None
    for turn in range(_MOST_ROUNDS):
        at = np.flatnonzero(~done)
        if not at.size:
            break
        part, o, n = take_draws(balance, at), oxygen[at], nitrogen[at]
        if two_states:
            o, n = _stride(part, o, n, upward=start == "clean")
        else:
            for _ in range(_PICARD):
                o, n = _step(part, o, n)
        reach = 2.5 if two_states and turn < _CAREFUL_ROUNDS else np.inf
        oxygen[at], nitrogen[at], done[at] = _polish(part, o, n, reach)
    return _describe(balance, oxygen, nitrogen, done)


def _first_rates(balance: FilmBalance, start: Start) -> tuple[FloatArray, FloatArray]:
    """Rates below the lowest fixed point, or above the highest."""
    if start == "clean":
        n = balance.alone_mbar.shape[0]
        return np.full(n, _TINY), np.full(n, _TINY)
    # The most that there can be of each gas: that without film, and what others are turned into.
    most = balance.alone_mbar.copy()
    most[:, _CO] += most[:, _CO2]
    return _offered_atoms(balance, most)


def _offered_atoms(balance: FilmBalance, partial: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Atoms of oxygen and nitrogen that clean metal would take [cm⁻² s⁻¹], ``Σ a α Γ``."""
    hits = MOLECULES_PER_MBAR_L * balance.wall_l_s_cm2 * partial  # α Γ
    return hits @ atoms_left("oxygen") + _TINY, hits @ atoms_left("nitrogen") + _TINY


@dataclass(frozen=True, eq=False)
class _Surfaces:
    """Shares of walls, shape (n, m), and target, (n,), at given rates, and what they take."""

    oxide: FloatArray
    nitride: FloatArray
    target_oxide: FloatArray
    target_nitride: FloatArray
    metal_share: FloatArray
    oxygen_cm2: FloatArray  # surface that takes oxygen
    nitrogen_cm2: FloatArray  # surface that takes nitrogen
    freed: FloatArray  # nitrogen atoms a second that oxygen drives out


def _surfaces(balance: FilmBalance, oxygen: FloatArray, nitrogen: FloatArray) -> _Surfaces:
    b, bn = balance.full_oxide, balance.full_nitride
    per_oxide = oxygen / b  # metal atoms that the oxygen could turn to oxide
    per_nitride = nitrogen / bn if bn > 0.0 else np.zeros_like(nitrogen)
    clean, target_nitride, target_oxide = _target_shares(balance.target, per_oxide, per_nitride)
    yields = (1.0, 1.0) if (on := balance.target) is None else (on.nitride_yield, on.oxide_yield)
    leaves = (clean, yields[0] * target_nitride, yields[1] * target_oxide)
    # M lands as metal, N as nitride, C as oxide; o and n are taken from the gas
    M, N, C = (balance.flux_per_cm2_s * share[:, None] for share in leaves)
    o = per_oxide[:, None] + balance.direct_per_cm2_s / b
    n = per_nitride[:, None]
    # (o + C)(1 - θ) = (M + N) θ, and (o + C + M + n + N) free = M of what is neither
    oxide, not_oxide = (part / (o + C + M + N) for part in (o + C, M + N))
    free = M / (o + C + M + N + n)
    nitride = not_oxide - free
    area, target_cm2 = balance.area_cm2, 0.0 if on is None else on.area_cm2
    return _Surfaces(
        oxide, nitride, target_oxide, target_nitride, clean + leaves[1] + leaves[2],
        np.sum(area * not_oxide, axis=1) + target_cm2 * (clean + target_nitride),
        np.sum(area * free, axis=1) + target_cm2 * clean,
        bn * (np.sum(area * o * nitride, axis=1) + target_cm2 * per_oxide * target_nitride),
    )  # fmt: skip


def _target_shares(
    target: SputterTarget | None, per_oxide: FloatArray, per_nitride: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Shares of a target that are metal, nitride and oxide."""
    if target is None:
        return np.ones_like(per_oxide), np.zeros_like(per_oxide), np.zeros_like(per_oxide)
    worn_oxide = target.oxide_yield * target.metal_per_cm2_s  # (J/e) γ_c
    worn_nitride = target.nitride_yield * target.metal_per_cm2_s
    # (J/e) γ_c θ = R (1 - θ) / b; the nitride is worn by ions and driven out by oxygen
    oxide, not_oxide = (one / (per_oxide + worn_oxide) for one in (per_oxide, worn_oxide))
    gone = worn_nitride + per_oxide
    metal = not_oxide * gone / (per_nitride + gone)
    return metal, not_oxide * per_nitride / (per_nitride + gone), oxide


def _pressures(balance: FilmBalance, on: _Surfaces) -> tuple[FloatArray, FloatArray]:
    """Pressure of each gas, and what the surfaces take of it less what they give back.

    ``p = (p_alone + back / S) / (1 + film / S)`` with the speed of the film, shape (n, gases).
    """
    taking = np.where(_OXYGEN, on.oxygen_cm2[:, None], on.nitrogen_cm2[:, None])
    film = balance.wall_l_s_cm2 * taking
    below = 1.0 + balance.per_speed_s_l * film
    partial = balance.alone_mbar / below
    taken = film * partial
    back = np.zeros_like(film)
    back[:, _N2] = on.freed / (2.0 * MOLECULES_PER_MBAR_L)
    back[:, _H2] = taken[:, _H2O]  # the metal keeps the oxygen of the water
    back[:, _CO] = taken[:, _CO2]
    partial += balance.per_speed_s_l * back / below
    return partial, film * partial - back


def _step(
    balance: FilmBalance, oxygen: FloatArray, nitrogen: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Rates that follow from the surfaces that follow from rates."""
    partial, _ = _pressures(balance, _surfaces(balance, oxygen, nitrogen))
    return _offered_atoms(balance, partial)


def _stride(
    balance: FilmBalance, oxygen: FloatArray, nitrogen: FloatArray, *, upward: bool
) -> tuple[FloatArray, FloatArray]:
    """Repeat the map, several of its steps at once as long as it still leads the same way.

    Next to the gas at which a state is lost the map creeps. Where a longer stride, at most
    ``_LONGEST_MOVE``, comes to a place that the map leaves in the same direction, no state has
    been passed by more than that.
    """
    sign = 1.0 if upward else -1.0
    at = np.log(np.stack([oxygen, nitrogen]))
    ahead = _log_step(balance, at)
    strides = np.ones(oxygen.size)
    for _ in range(_STRIDES):
        move = strides * (ahead - at)
        far = np.where(strides > 1.0, np.clip(move, -_LONGEST_MOVE, _LONGEST_MOVE), move)
        tried = at + far
        beyond = _log_step(balance, tried)
        good = np.all(sign * (beyond - tried) >= 0.0, axis=0) | (strides == 1.0)
        at, ahead = np.where(good, tried, at), np.where(good, beyond, ahead)
        strides = np.where(good, 2.0 * strides, 1.0)
    oxygen, nitrogen = np.exp(ahead)
    return oxygen, nitrogen


def _polish(
    balance: FilmBalance, oxygen: FloatArray, nitrogen: FloatArray, reach: float
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Newton's steps on ``ln step(R) = ln R``.

    A draw where they do not end, or end farther away than ``reach``, goes back to its start.
    """
    at = np.log(np.stack([oxygen, nitrogen]))
    begun = at.copy()
    for _ in range(_NEWTON_STEPS):
        off = _log_step(balance, at) - at
        if np.all(np.abs(off) < _CLOSE):
            break
        jacobian = _differentiate(balance, at, off)
        move = np.linalg.solve(jacobian.transpose(2, 0, 1), -off.T[..., None])[..., 0].T
        at += np.clip(move, -_LONGEST_MOVE, _LONGEST_MOVE)
    else:
        off = _log_step(balance, at) - at
    done = np.all((np.abs(off) < _CLOSE) & (np.abs(at - begun) < reach), axis=0)
    oxygen, nitrogen = np.exp(np.where(done, at, begun))
    return oxygen, nitrogen, done


def _log_step(balance: FilmBalance, at: FloatArray) -> FloatArray:
    oxygen, nitrogen = _step(balance, *np.exp(at))
    return np.log(np.stack([oxygen, nitrogen]))


def _differentiate(balance: FilmBalance, at: FloatArray, off: FloatArray) -> FloatArray:
    """Derivatives of ``ln step(R) - ln R``, shape (2, 2, n)."""
    columns = []
    for i in (0, 1):
        moved = at.copy()
        moved[i] += _DIFFERENCE
        columns.append((_log_step(balance, moved) - moved - off) / _DIFFERENCE)
    return np.stack(columns, axis=1)


def _describe(
    balance: FilmBalance, oxygen: FloatArray, nitrogen: FloatArray, done: BoolArray
) -> SteadyState:
    on = _surfaces(balance, oxygen, nitrogen)
    partial, taken = _pressures(balance, on)
    b, landed = balance.full_oxide, balance.flux_per_cm2_s * on.metal_share[:, None]
    return SteadyState(
        partial, taken, on.oxide, on.nitride,
        (oxygen[:, None] + balance.direct_per_cm2_s) / (b * landed + _TINY),
        on.target_oxide, on.target_nitride, on.metal_share, done,
    )  # fmt: skip


def take_draws(balance: FilmBalance, at: IndexArray | list[int]) -> FilmBalance:
    """The same balance for some of the draws."""
    if len(at) == balance.alone_mbar.shape[0]:
        return balance
    target = balance.target
    if target is not None:
        target = replace(
            target,
            metal_per_cm2_s=target.metal_per_cm2_s[at],
            oxide_yield=target.oxide_yield[at],
            nitride_yield=target.nitride_yield[at],
        )
    arrays = {
        one.name: getattr(balance, one.name)[at]
        for one in fields(balance)
        if isinstance(getattr(balance, one.name), np.ndarray)
    }
    return replace(balance, **arrays, target=target)
