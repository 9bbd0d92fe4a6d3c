"""What is held about one kiln: the shipped law for any, or draws learnt from test pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, OutOfRangeError, TableError
from ..files.columns import name_file, read_text
from ..oxidation.calibration import LawDraws, draw_prior
from ..oxidation.growth import grow
from ..oxidation.metals import Metal, find_metal
from ..oxidation.schedule import HeatSchedule, hold
from ..report.format import format_count
from .coupon import film_share
from .saved_draws import (
    SavedDraws,
    SavedForm,
    are_possible,
    check_moments,
    format_saved_draws,
    read_saved_draws,
    read_warnings,
    refuse_unknown,
    round_digits,
)

DRAWS = 400
FORMAT = 2
_FARTHEST_PACE = 10.0  # logarithm: no kiln is twenty thousand times as fast as another
_COLUMNS = ("native_nm", "pace", "scatter", "index_error", "film")


@dataclass(frozen=True, eq=False)
class Kiln:
    """Law, pace and scatter of one kiln as draws.

    Attributes
    ----------
    film_names : tuple of str
        What the film indices in the draws mean.
    pieces : int
        Test pieces it was learnt from; 0 for the shipped law.
    made_from : str
        The file of test pieces, empty for the shipped law.
    between_C : tuple of float
        Lowest and highest peak temperature of the test pieces.
    """

    metal: Metal
    draws: LawDraws
    film_names: tuple[str, ...]
    pieces: int = 0
    made_from: str = ""
    between_C: tuple[float, float] = (0.0, 0.0)
    warnings: tuple[str, ...] = ()

    @property
    def source(self) -> str:
        """Where the law comes from, its test pieces first."""
        if not self.pieces:
            return self.metal.source
        pieces = format_count(self.pieces, "test piece")
        return f"{pieces} of {self.made_from}, starting from: {self.metal.source}"

    @property
    def caveats(self) -> tuple[str, ...]:
        """What the shipped law rests on, where that should be said."""
        said = self.metal.difference, _CAVEATS.get(self.metal.confidence, "")
        return () if self.pieces else tuple(one for one in said if one)


_CAVEATS = {
    "fit": "no rate constants are published for this metal at such temperatures; the law is a fit "
    "to published lists of colours, not to measured thicknesses",
    "low": "the law rests on figures from memory, right to a factor of two at best",
}
"""What to say of a law, by its confidence, as long as no test pieces stand for it."""


def kiln_of(metal: str, kiln: Kiln | None, seed: int) -> Kiln:
    """The kiln to predict with: the one learnt, if it is of this metal, else the shipped law.

    Raises
    ------
    InputError
        If the metal is unknown, the kiln was learnt on another one, or the seed is negative.
    """
    found = find_metal(metal)
    check_seed(seed)
    if kiln is None:
        return shipped_kiln(found, seed)
    if not isinstance(kiln, Kiln):
        raise InputError(
            f"`kiln` must be a Kiln, as load_kiln reads one, not {kiln!r:.40}", parameter="kiln"
        )
    if kiln.metal.key != found.key:
        raise OutOfRangeError(
            f"these test pieces were of {kiln.metal.name}; they say nothing about {found.name}"
        )
    return kiln


def kiln_for(held: Kiln, heat: HeatSchedule, seed: int) -> Kiln:
    """The kiln itself, or the shipped law for heats above its range where there is one."""
    metal = held.metal
    if not metal.hotter or held.pieces:
        return held
    above = heat.peak_C > metal.range_C[1]
    joins_C = find_metal(metal.hotter).joins_C
    if not above and (joins_C is None or heat.peak_C <= joins_C):
        return held
    hot = _hot_kiln(metal.hotter, metal.name, metal.on, difference=metal.difference, seed=seed)
    return hot if joins_C is None else _join_kilns(held, hot, above)


def span_C(held: Kiln) -> tuple[float, float]:
    """Temperatures that the kiln's law holds in, or the one that goes on above it."""
    low, high = held.metal.range_C
    if held.metal.hotter and not held.pieces:
        high = find_metal(held.metal.hotter).range_C[1]
    return low, high


def check_peaks(held: Kiln, peaks_C: Sequence[float]) -> None:
    """Refuse temperatures beyond those the kiln's law holds in.

    Raises
    ------
    OutOfRangeError
        If there is one.
    """
    low, high = span_C(held)
    for peak_C in peaks_C:
        if not low <= peak_C <= high:
            raise OutOfRangeError(
                f"{peak_C:g} °C is outside the range the law of {held.metal.name} was drawn from "
                f"({low:g} to {high:g} °C)"
            )


@lru_cache(maxsize=8)
def _join_kilns(held: Kiln, hot: Kiln, above: bool) -> Kiln:
    """Both laws side by side; the hot one tells its source of heats above the other's range.

    In each draw they grow as much on bare metal in the hot law's time at the border of the two.
    """
    assert hot.metal.joins_C is not None
    (hottest,) = hot.metal.regimes
    border = hold(held.metal.range_C[1], hottest.reference_s)
    bare = np.zeros(len(held.draws.theta))
    wanted = grow(held.metal.regimes, held.draws.theta, border, start_nm=bare)
    grown = grow([hottest], hot.draws.theta, border, start_nm=bare)
    theta = hot.draws.theta.copy()
    theta[:, 0] += np.log(wanted / grown)
    wider = replace(hottest, range_C=(hot.metal.joins_C, hottest.range_C[1]))
    return replace(
        held,
        metal=replace(hot.metal if above else held.metal, regimes=(*held.metal.regimes, wider)),
        draws=replace(held.draws, theta=np.hstack([held.draws.theta, theta])),
    )


@lru_cache(maxsize=8)
def _hot_kiln(key: str, name: str, on: str, *, difference: str, seed: int) -> Kiln:
    return shipped_kiln(replace(find_metal(key), name=name, on=on, difference=difference), seed)


def check_seed(seed: int) -> None:
    """Refuse a negative seed."""
    if seed < 0:
        raise OutOfRangeError(f"the seed is {seed}; it must be 0 or more")


def shipped_kiln(metal: Metal, seed: int = 1, count: int = DRAWS) -> Kiln:
    """Any kiln: the shipped law with its spread from kiln to kiln."""
    names, share = film_share(metal)
    rng = np.random.default_rng(seed)
    return Kiln(metal, draw_prior(metal, share, count=count, rng=rng), names)


def _column_names(metal: Metal) -> list[str]:
    return [p for regime in metal.regimes for p in regime.parameters] + list(_COLUMNS)


_FORM = SavedForm(
    name="a saved kiln",
    of="test pieces",
    version=FORMAT,
    between="between_C",
    limits=(-273.15, 3000.0),
    columns=_column_names,
    instead="if it lists test pieces, or was saved by an earlier version, learn the kiln from its "
    "test pieces and save it again",
)


def format_kiln(kiln: Kiln) -> str:
    """A kiln as JSON, with as many digits as matter: draws from the posterior of its law."""
    draws = kiln.draws
    rows = np.column_stack([draws.theta, *_columns(draws)])
    low, high = kiln.between_C
    other = {
        "warnings": list(kiln.warnings),
        "mean": round_digits(draws.theta.mean(axis=0)[None])[0],
        "covariance": round_digits(np.atleast_2d(np.cov(draws.theta.T))),
    }
    between_C = round(low, 1), round(high, 1)
    saved = SavedDraws(
        kiln.metal, kiln.film_names, rows, kiln.pieces, kiln.made_from, between_C, other
    )
    return format_saved_draws(saved, _FORM)


def load_kiln(path: str | Path) -> Kiln:
    """Read a kiln that `format_kiln` wrote.

    Raises
    ------
    TableError
        If the file is missing, of another form, or its numbers are impossible.
    """
    return parse_kiln(read_text(Path(path)), name_file(Path(path)))


def parse_kiln(text: str, where: str) -> Kiln:
    """Read a kiln from what stood in its file, as `load_kiln`; ``where`` names it in a refusal."""
    held = read_saved_draws(text, where, _FORM)
    refuse_unknown(held.other, ("warnings", "mean", "covariance"), where)
    warnings = read_warnings(held.other.get("warnings"), where)
    metal, rows, width = held.metal, held.draws, held.metal.mean.size
    native, pace, scatter, error, film = rows[:, width:].T
    possible = metal.are_valid(rows[:, :width]) & are_possible(native, scatter, error)
    if not np.all(possible & (np.abs(pace) < _FARTHEST_PACE)):
        raise TableError(f"{where} holds draws of a kiln that no law allows")
    check_moments(held.other, rows[:, :width], where)
    draws = LawDraws(rows[:, :width], native, pace[:, None], scatter, error, film.astype(np.intp))
    return Kiln(metal, draws, held.films, held.pieces, held.made_from, held.between, warnings)


def _columns(draws: LawDraws) -> list[FloatArray]:
    return [
        draws.native_nm,
        draws.pace[:, 0],
        draws.scatter,
        draws.index_error,
        draws.film.astype(float),
    ]
