"""What a saved kiln and a saved bath have in common: draws, checked field by field.

Such a file is read long after it was written, and may have been cut off, merged or edited since.
Each field that it holds is what belongs there, or the file is refused by that field's name.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from .._typing import BoolArray, FloatArray
from ..errors import TableError, shorten
from ..oxidation.metals import Metal, find_metal
from ..units import is_finite
from .coupon import film_share

MOST_DRAWS = 100_000
_LEAST_DRAWS = 20
_MOST_PIECES = 100_000
_LONGEST_NAME = 1_000
_MOST_WARNINGS = 100


@dataclass(frozen=True)
class SavedForm:
    """What kind of file is expected.

    Attributes
    ----------
    name : str
        As a refusal calls it: "a saved kiln".
    of : str
        What the draws were learnt from.
    version : int or str
        Under ``format``.
    between : str
        The key of the lowest and highest of what the pieces went through, and its limits.
    limits : tuple of float
    columns : callable
        Of the metal: the names of the columns of draws, the last that of the film's index.
    instead : str
        What to do with a file of another kind.
    """

    name: str
    of: str
    version: int | str
    between: str
    limits: tuple[float, float]
    columns: Callable[[Metal], Sequence[str]]
    instead: str


@dataclass(frozen=True, eq=False)
class SavedDraws:
    """What stood in the file: ``draws`` is (N, columns), ``other`` what its own reader checks."""

    metal: Metal
    films: tuple[str, ...]
    draws: FloatArray
    pieces: int
    made_from: str
    between: tuple[float, float]
    other: Mapping[str, Any]


def format_saved_draws(saved: SavedDraws, form: SavedForm) -> str:
    """A file of draws, with as many digits as matter."""
    return json.dumps(
        {
            "format": form.version,
            "metal": saved.metal.key,
            "made_from": saved.made_from,
            "pieces": saved.pieces,
            form.between: list(saved.between),
            **saved.other,
            "films": list(saved.films),
            "columns": list(form.columns(saved.metal)),
            "draws": round_digits(saved.draws),
        },
        ensure_ascii=False,
    )


def round_digits(rows: FloatArray) -> list[list[float]]:
    """Rows of numbers to the six digits that matter."""
    return [[float(f"{value:.6g}") for value in row] for row in rows.tolist()]


def read_saved_draws(text: str, where: str, form: SavedForm) -> SavedDraws:
    """Read and check a file of draws.

    Raises
    ------
    TableError
        If it is no such file, or one of its fields is not what belongs there.
    """
    try:
        data = json.loads(text)
        version = data["format"]
    except (KeyError, TypeError, ValueError, IndexError, RecursionError) as error:
        raise TableError(f"{where} is not {form.name}; {form.instead}") from error
    if isinstance(version, bool) or version != form.version:
        raise TableError(
            f"{where} has format {shorten(str(version), 20)}; this version reads {form.version}"
        )
    needed = {"format", "metal", "films", "columns", "draws", "pieces", "made_from", form.between}
    if lacking := sorted(needed - set(data)):
        raise TableError(f"{where} is not {form.name}, for it lacks {lacking[0]}; {form.instead}")
    return _check_fields(data, where, form, needed)


def _check_fields(
    data: Mapping[str, Any], where: str, form: SavedForm, needed: set[str]
) -> SavedDraws:
    metal = find_metal(_read_text(data, "metal", where))
    films = film_share(metal)[0]
    if data["films"] != list(films):
        raise TableError(f"{where} was made with other oxides in mind; fit the {form.of} again")
    columns = list(form.columns(metal))
    if data["columns"] != columns:
        raise TableError(f"{where}: columns must be {', '.join(columns)}, in this order")
    draws = _read_rows(data["draws"], len(columns), where, form)
    film = draws[:, -1]
    if not np.all((film == np.round(film)) & (film >= 0) & (film < len(films))):
        raise TableError(f"{where} holds draws of films that are not among {', '.join(films)}")
    low, high = _read_numbers(data, form.between, 2, where)
    if not form.limits[0] <= low <= high <= form.limits[1]:
        raise TableError(
            f"{where}: {form.between} is {low:g} to {high:g}, which no pieces can have seen"
        )
    pieces = data["pieces"]
    if isinstance(pieces, bool) or not isinstance(pieces, int) or not 1 <= pieces <= _MOST_PIECES:
        raise TableError(
            f"{where}: pieces is {shorten(str(pieces), 20)}; it must be a whole number from 1 on"
        )
    made_from = _read_text(data, "made_from", where)
    other = {name: value for name, value in data.items() if name not in needed}
    return SavedDraws(metal, films, draws, pieces, made_from, (low, high), other)


def _read_rows(value: object, width: int, where: str, form: SavedForm) -> FloatArray:
    what = form.name.removeprefix("a saved ")
    if not isinstance(value, list) or not _LEAST_DRAWS <= len(value) <= MOST_DRAWS:
        raise TableError(
            f"{where} must hold {_LEAST_DRAWS} to {MOST_DRAWS:,} draws of a {what}, one a row"
        )
    for number, row in enumerate(value, start=1):
        if not isinstance(row, list) or len(row) != width or not all(map(_is_finite, row)):
            raise TableError(f"{where}: draw {number} of a {what} must be {width} finite numbers")
    return np.array(value, dtype=float)


def _read_text(data: Mapping[str, Any], name: str, where: str) -> str:
    value = data[name]
    if not isinstance(value, str) or not value.strip() or len(value) > _LONGEST_NAME:
        raise TableError(f"{where}: {name} must be a text, not {shorten(repr(value), 40)}")
    return value


def _read_numbers(data: Mapping[str, Any], name: str, count: int, where: str) -> list[float]:
    value = data[name]
    fair = isinstance(value, list) and len(value) == count
    if not fair or not all(_is_finite(one) for one in value):
        raise TableError(f"{where}: {name} must be {count} finite numbers")
    return [float(one) for one in value]


def _is_finite(value: object) -> bool:
    return not isinstance(value, bool) and isinstance(value, int | float) and is_finite(value)


def are_possible(native_nm: FloatArray, scatter: FloatArray, index_error: FloatArray) -> BoolArray:
    """Which draws hold a film before the heat, a scatter and an error of the index that can be.

    The limits keep damage out; they lie far beyond any draw.
    """
    film = (native_nm > 0.0) & (native_nm < 1000.0)
    return film & (scatter > 0.0) & (scatter < 10.0) & (np.abs(index_error) < 1.0)


def read_warnings(value: object, where: str) -> tuple[str, ...]:
    """The list of warnings of a saved file.

    Raises
    ------
    TableError
        If it is no list of texts.
    """
    if not isinstance(value, list) or len(value) > _MOST_WARNINGS:
        raise TableError(f"{where}: warnings must be a list of sentences")
    for one in value:
        if not isinstance(one, str) or len(one) > _LONGEST_NAME:
            raise TableError(f"{where}: warnings must be a list of sentences")
    return tuple(value)


def check_moments(other: Mapping[str, Any], draws: FloatArray, where: str) -> None:
    """Refuse a mean or covariance that is not that of the draws.

    They are written for other programs; who changes them must learn that nothing follows.

    Raises
    ------
    TableError
        If one is there and is another.
    """
    spread = np.std(draws, axis=0) + 1e-3 * np.abs(np.mean(draws, axis=0)) + 1e-9
    wanted = {
        "mean": (np.mean(draws, axis=0), spread),
        "covariance": (np.atleast_2d(np.cov(draws.T)), np.outer(spread, spread)),
    }
    for name, (right, scale) in wanted.items():
        try:
            given = np.array(other[name], dtype=float)
        except (KeyError, TypeError, ValueError, OverflowError) as error:
            raise TableError(f"{where}: {name} must be that of the draws, as numbers") from error
        if given.shape != right.shape or not np.all(np.abs(given - right) <= 1e-2 * scale):
            raise TableError(
                f"{where}: {name} is not that of the draws, which count; learn the kiln again"
            )


def refuse_unknown(other: Mapping[str, Any], known: Sequence[str], where: str) -> None:
    """Refuse fields that nobody reads.

    Raises
    ------
    TableError
        If there is one.
    """
    unknown = sorted(set(other) - set(known))
    if unknown:
        raise TableError(f"{where} has the unknown field {shorten(unknown[0])!r}; take it out")
