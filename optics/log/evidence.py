"""What was noticed of a piece as likelihood of how much metal reached it, and in which state.

The films of ``assay`` are weighed by what was noticed, and sorted by the metal they hold and the
oxygen it took up. So a run is judged by what was seen, never by a point answer of another verb.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache

import numpy as np

from .._typing import FloatArray, IndexArray
from ..assay.colours import FilmSet, draw_film_set, keep_suspects
from ..assay.inputs import read_observations
from ..colour.conditions import ViewingConditions
from ..deposition.gases import read_data, uptake_of
from ..errors import InputError
from ..films.materials.catalogue import find_entry
from ..numerics.integrate import exp_in_place
from ..units import parse_quantity
from .derived import Kept
from .facts import parse_weight
from .records import LoggedPiece
from .spectra import colour_words

STATES = ("metal", "grey", "oxide")
LN_NM = np.linspace(np.log(0.5), np.log(3000.0), 120)
"""Logarithm of the thickness that the metal would have as metal, in nm, shape (T,)."""

_OXYGEN_G_MOL = 15.999
_WIDTH = 0.09  # of the smoothing, in the logarithm
_MEASURED = 0.08  # doubt of a thickness stated as a number, in the logarithm
_FEW = 0.05  # of the films where most are, at which they are half as usual
_ENOUGH = 40.0  # films that a mean is taken of; where they are rarer, it reaches farther
_WIDTHS = _WIDTH * 1.25 ** np.arange(23)
_WIDEST = 10.0
_SCATTERS = 0.04 * 2.0 ** np.arange(6)
"""Scatters of the logarithm of the thickness that means are kept for."""
_SEED = 1
_SILENT = ("remark", "photo", "answer", "link")  # what tells no number


@dataclass(frozen=True, eq=False)
class PieceEvidence:
    """Likelihood of what was noticed of one piece.

    Attributes
    ----------
    name : str
    likelihood : ndarray, shape (3, T)
        For each of ``STATES`` and ``LN_NM``, at most 1 at its highest.
    usual : ndarray, shape (3, T), optional
        How usual such films are, from 0 to 1, where looks alone are to say what a piece is.
    """

    name: str
    likelihood: FloatArray
    usual: FloatArray | None = None

    @property
    def alone(self) -> FloatArray:
        """Weight of each state and thickness by the looks alone, shape (3, T)."""
        return self.likelihood if self.usual is None else self.likelihood * self.usual

    def at(self, ln_nm: FloatArray) -> FloatArray:
        """Likelihood in each state at a thickness, shape (..., 3)."""
        left, part = _cell(ln_nm)
        low, high = (np.take(self.likelihood.T, one, axis=0) for one in (left, left + 1))
        return np.asarray(low + part[..., None] * (high - low))

    def mean_near(self, ln_nm: FloatArray, scatter: FloatArray) -> FloatArray:
        """Mean likelihood in each state over a normal scatter of the thickness, shape (N, 3)."""
        row = np.clip(np.log2(scatter / _SCATTERS[0]), 0.0, _SCATTERS.size - 1.001)
        low = row.astype(np.intp)
        left, part = _cell(ln_nm)
        corners = np.take(self._corners, low * (LN_NM.size - 1) + left, axis=2)  # (4, 3, N)
        lower = corners[0] + part * (corners[1] - corners[0])
        upper = corners[2] + part * (corners[3] - corners[2])
        return np.asarray((lower + (row - low) * (upper - lower)).T)

    @cached_property
    def _corners(self) -> FloatArray:
        """Means at the corners of each cell of scatter and thickness, shape (4, 3, cells)."""
        table = _scatter_shares() @ self.likelihood.T  # (S, T, 3)
        each = [table[:-1, :-1], table[:-1, 1:], table[1:, :-1], table[1:, 1:]]
        return np.stack([one.reshape(-1, len(STATES)).T for one in each])


@cache
def _scatter_shares() -> FloatArray:
    """Share of each thickness in the mean over each of ``_SCATTERS`` about another, (S, T, T)."""
    kernel = np.exp(-0.5 * ((LN_NM[:, None] - LN_NM) / _SCATTERS[:, None, None]) ** 2)
    return np.asarray(kernel / kernel.sum(axis=2, keepdims=True))


def _cell(ln_nm: FloatArray) -> tuple[IndexArray, FloatArray]:
    """Place in ``LN_NM`` below a thickness, and the share of the way to the next."""
    place = np.clip((ln_nm - LN_NM[0]) / (LN_NM[1] - LN_NM[0]), 0.0, LN_NM.size - 1.001)
    left = place.astype(np.intp)
    return left, place - left


def piece_evidence(
    piece: LoggedPiece, metal: str, *, kept: Kept | None = None, seed: int = _SEED
) -> PieceEvidence | None:
    """What was noticed of a piece, as likelihood; None where nothing was that tells.

    Parameters
    ----------
    piece : LoggedPiece
    metal : str
        What was deposited, where the piece states none of its own.
    kept : mapping, optional
        Where what was worked out before is found, and put.
    seed : int
        Of the simulated films.

    Raises
    ------
    InputError
        If a look is not possible on that base.
    """
    said = [
        colour_words(one.text) if one.what == "spectrum" else (one.what, one.text)
        for one in piece.observations
        if one.what not in _SILENT
    ]
    if not said:
        return None
    metal = find_entry(piece.facts.get("metal", metal)).name
    looks = tuple(sorted((what, text) for what, text in said if what != "thickness"))
    table, usual = np.ones((len(STATES), LN_NM.size)), None
    if looks:
        _check_film(metal)
        base = (piece.facts.get("on", "glass"), piece.facts.get("strip"))
        question = json.dumps([metal, *base, looks, seed], ensure_ascii=False)
        known = None if kept is None else kept.get(question)
        if known is None:
            known = _weigh_looks(metal, *base, looks, seed).tolist()
            if kept is not None:
                kept[question] = known
        table, usual = np.split(np.array(known), 2)
    for what, text in said:
        if what == "thickness":
            table *= _thickness_likelihood(metal, parse_quantity(text, "length_nm", "`thickness`"))
    top = table.max()
    if not top > 0.0:
        raise InputError(f"what is noted of {piece.name!r} contradicts itself")
    return PieceEvidence(piece.name, table / top, usual)


def _check_film(metal: str) -> None:
    """Refuse a metal whose films are not simulated as metal, grey and oxide."""
    from ..assay.hypotheses import CARBON, check_metal

    if check_metal(metal) == CARBON:
        raise InputError("films of carbon are neither metal nor oxide: note their thickness")


@lru_cache(maxsize=4096)
def _weigh_looks(
    metal: str, on: str, strip: str | None, looks: tuple[tuple[str, str], ...], seed: int
) -> FloatArray:
    """Likelihood of looks by state and thickness, and how usual each is, shape (6, T)."""
    viewing = ViewingConditions()
    said: dict[str, object] = dict.fromkeys(
        ("seen", "behind", "through", "finish", "how", "ohms", "strip", "four_point", "mass_gain",
         "area", "wipe", "scratch", "warmed", "guess", "pressure", "rate")
    )  # fmt: skip
    for what, text in looks:
        if what == "weight":
            said["mass_gain"] = [*_as_list(said["mass_gain"] or []), parse_weight(text)]
            continue
        held = said[what]
        said[what] = text if held is None or what == "ohms" else [*_as_list(held), text]
    said["strip"] = strip if said["ohms"] is not None else None
    films = _draw_films(metal, on, seed)
    value = np.zeros(len(films))
    for one in read_observations(said, viewing):
        value = value + one.log_likelihood(films)
    return _mean_by_thickness(metal, on, seed, value)


def _as_list(held: object) -> list[object]:
    return held if isinstance(held, list) else [held]


@lru_cache(maxsize=2)
def _draw_films(metal: str, on: str, seed: int) -> FilmSet:
    """Simulated films that hold the metal in one of ``STATES``: what else may lie on a piece, such
    as soot, tells nothing of a run. Kept, since the looks of a log are at the same films."""
    films = draw_film_set((metal,), on, seed=seed)
    held = [not np.isnan(one.oxidised).all() for one in films.drawn]
    return keep_suspects(films, np.array(held))


def _mean_by_thickness(metal: str, on: str, seed: int, log_likelihood: FloatArray) -> FloatArray:
    """Mean likelihood of the films near each thickness by state, and how usual each is, (6, T)."""
    likelihood = np.exp(log_likelihood - log_likelihood.max())
    films = _film_shares(metal, on, seed)
    means = [share @ likelihood[own] for own, share, _ in films]
    return np.array([*means, *(usual for _, _, usual in films)])


@lru_cache(maxsize=2)
def _film_shares(
    metal: str, on: str, seed: int
) -> tuple[tuple[IndexArray, FloatArray, FloatArray], ...]:
    """Films of each state (N,), their share in the mean near each thickness (T, N), how usual (T,).

    A normal kernel in the logarithm, wider where films are rare: how often the films of ``assay``
    have a thickness says nothing of a jar, and metal thicker than any of them looks as the
    thickest do. Kept, since the looks of a log are at the same films.
    """
    films = _draw_films(metal, on, seed)
    ln_nm, state = sort_films(films, metal)
    shares = []
    for row in range(len(STATES)):
        own = np.flatnonzero((state == row) & np.isfinite(ln_nm) & np.isfinite(films.log_prior))
        share, near = _kernel_shares(ln_nm[own], films.log_prior[own] - films.log_prior.max())
        usual = np.maximum(near / np.maximum(near + _FEW * near.max(), 1e-300), 1e-9)
        shares.append((own, share, usual))
    return tuple(shares)


def _kernel_shares(ln_nm: FloatArray, log_prior: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Share of each film in the mean near each of ``LN_NM``, shape (T, N), and how many films are
    near, by their prior, (T,)."""
    shares, near = np.zeros((LN_NM.size, ln_nm.size)), np.zeros(LN_NM.size)
    if not ln_nm.size:  # a metal that takes no oxide has no such film
        return shares, near
    enough, farther, prior = min(_ENOUGH, 0.5 * ln_nm.size), 1, np.exp(log_prior)
    for place, nm in enumerate(LN_NM):  # one at a time, which stays in cache
        share, square = shares[place], (nm - ln_nm) ** 2
        exp_in_place(np.multiply(square, -0.5 / _WIDTH**2, out=share))
        share *= prior
        near[place] = share.sum()
        if _count(share) < enough:
            farther = _widen(square, log_prior, share, farther=farther, enough=enough)
        share /= share.sum()
    return shares, near


def _widen(
    square: FloatArray, log_prior: FloatArray, weight: FloatArray, *, farther: int, enough: float
) -> int:
    """Fill in the weight of each film (N,) for a kernel widened so often that enough films count,
    and tell how often; sought from that of the place before, for the wider, the more count."""

    def weigh(farther: int) -> float:
        np.multiply(square, -0.5 / _WIDTHS[farther] ** 2, out=weight)
        np.add(weight, log_prior, out=weight)
        np.subtract(weight, weight.max(), out=weight)
        exp_in_place(weight)
        return _count(weight)

    while farther > 1 and weigh(farther - 1) >= enough:
        farther -= 1
    while weigh(farther) < enough and _WIDTHS[farther] < _WIDEST:
        farther += 1
    return farther


def _count(weight: FloatArray) -> float:
    """How many films count, of weights (N,)."""
    return float(weight.sum() ** 2 / max(float(weight @ weight), 1e-300))


def sort_films(films: FilmSet, metal: str) -> tuple[FloatArray, IndexArray]:
    """Thickness that the metal of each simulated film would have, and its state.

    Returns
    -------
    ln_nm : ndarray, shape (N,)
        Logarithm of the thickness [nm].
    state : ndarray of int, shape (N,)
        Place in ``STATES``; -1 for films that are not of the metal.
    """
    ln_nm, oxidised = _metal_thickness(films, metal)
    limits = read_data()["limits"]
    # share of oxide θ = r / (1 + r), of the offer r that the limits are stated for
    edges = [limits[name] / (1.0 + limits[name]) for name in ("metal", "oxide")]
    state = np.searchsorted(edges, np.nan_to_num(oxidised, nan=0.0))
    return ln_nm, np.where(np.isnan(oxidised), -1, state)


def _metal_thickness(films: FilmSet, metal: str) -> tuple[FloatArray, FloatArray]:
    """Logarithm of the thickness of the metal alone [nm], and its share of oxide, both (N,)."""
    entry = find_entry(metal)
    density, molar = entry.density_g_cm3 or np.nan, entry.molar_mass_g_mol or np.nan
    try:
        full_oxide = uptake_of(metal).full_oxide
    except InputError:
        full_oxide = 0.0
    # metal's share of the mass of a film with b θ oxygen per metal atom
    share = molar / (molar + full_oxide * np.nan_to_num(films.oxidised) * _OXYGEN_G_MOL)
    nm = 10.0 * films.mass_ug_cm2 * share / density  # ug/cm² over g/cm³ is 10 nm
    with np.errstate(divide="ignore"):
        return np.log(np.where(nm > 0.0, nm, np.nan)), films.oxidised


def _thickness_likelihood(metal: str, measured_nm: float) -> FloatArray:
    """A thickness measured otherwise, as metal or swollen by the oxygen it took up, (3, T)."""
    from ..assay.hypotheses import expansion, main_oxide

    oxide = main_oxide(metal)
    swells = expansion(metal, oxide)[0] if oxide else 1.0
    shift = np.log([1.0, 0.5 * (1.0 + swells), swells])[:, None]
    off = (LN_NM + shift - np.log(max(measured_nm, 1e-3))) / _MEASURED
    return np.asarray(np.exp(-0.5 * off**2))
