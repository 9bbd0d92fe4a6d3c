"""Many readings of many pieces in one go: a file in, one estimate a row out."""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .._typing import FloatArray, SingleArray
from ..colour.colour import hex_and_name
from ..colour.conditions import ViewingConditions
from ..errors import InputError, LimitError, TableError, shorten, suggest_nearest
from ..files.columns import MAX_ROWS, find_mark, name_file, read_text
from ..inference.binned import BinnedTable, binned_densities, split_densities
from ..inference.likelihood import (
    binned_table_for,
    fit_p_value,
    make_prior,
    single_reading_density,
)
from ..inference.posterior import Prior
from ..inference.question import DEFAULT_BETWEEN_NM, FilmQuestion
from ..inference.reading import Reading, as_readings, parse_reading
from ..inference.simulate import SampledFilms, film_xyz
from ..numerics.parallel import Report, ignore_progress, map_parallel
from ..report.provenance import labels_of_pairs
from .candidates import (
    find_candidates,
    interval_and_region,
    is_open_upward,
    order_of,
)
from .gauge import FIT_LEVEL
from .result import Candidate, ManyEstimates, RowEstimate

FEW = 200
"""Up to as many readings are gauged one by one; beyond, glare and angle enter as normal
spreads, which moves a median by a fraction of a nanometre and takes a tenth of the time."""

NamedReading = tuple[str, Reading]
"""A reading with its id."""

_COLOUR_COLUMNS = ({"l", "a", "b"}, {"hex"}, {"word"})
_OTHER_COLUMNS = ("id", "how", "angle_deg")
_LEAST_PROBABILITY = 0.005
_AT_A_TIME = 256  # readings of one unit of work, where they are gauged together
_TOLD = "gauging readings"


def read_readings(
    path: Path,
    how: str | None = None,
    settings: Mapping[str, float] | None = None,
    *,
    angle: str | None = None,
    left_out: list[str] | None = None,
) -> list[NamedReading]:
    """Readings of a CSV file with their ids.

    Parameters
    ----------
    path : Path
        Columns ``L,a,b`` or ``hex`` or ``word``; optionally ``angle_deg``, ``how`` and ``id``.
        Cells separated by comma, semicolon or tab.
    how : str, optional
        Kind of reading where the file has no such column.
    settings : mapping, optional
        Doubts by name in place of the defaults.
    angle : str, optional
        Viewing angle [°] of rows that state none.
    left_out : list of str, optional
        Rows that are no readings are left out and said here, in place of the first being refused.

    Raises
    ------
    TableError, LimitError, InputError
        If the file cannot be read, its columns do not give one colour, one of them is unknown, a
        row is no reading, or none is; the message names the line.
    """
    where = name_file(path)
    # A remark starts with '#' and a space, so that hex values are none.
    kept = [line for line in read_text(path).splitlines() if not line.startswith("# ")]
    mark = find_mark(next((line for line in kept if line.strip()), ""))
    try:
        lines = [row for row in csv.reader(kept, delimiter=mark) if any(row)]
    except csv.Error as error:
        raise TableError(f"{where} is no CSV: {error}") from error
    if not lines:
        raise TableError(f"{where} is empty; it needs a header such as id,hex or id,L,a,b")
    if len(lines) - 1 > MAX_ROWS:
        raise LimitError(f"{where} has {len(lines) - 1:,} rows; at most {MAX_ROWS:,} are read")
    names = [name.strip() for name in lines[0]]
    folded = [_fold(name) for name in names]
    if fault := _fault_of_columns(names):
        raise TableError(f"{where} has the columns {shorten(', '.join(names), 120)}; {fault}")
    if len(lines) == 1:
        raise TableError(f"{where} has a header and no rows")
    rows = []
    for number, cells in enumerate(lines[1:], start=1):
        try:
            if len(cells) != len(names):
                raise TableError(f"it has {len(cells)} cells, the header has {len(names)}")
            row = dict(zip(folded, (cell.strip() for cell in cells), strict=True))
            rows.append((row.get("id") or str(number), _reading(row, how, settings, angle)))
        except InputError as error:
            said = f"{where} row {number}: {error}"
            if left_out is None:
                raise TableError(said) from error
            left_out.append(said)
    if not rows:
        raise TableError(
            f"{where} has no row that is a reading; the first: {(left_out or [''])[0]}"
        )
    return rows


def _fold(name: str) -> str:
    """The name of a column in small letters, without the star of L*."""
    return name.strip().casefold().removesuffix("*")


def _fault_of_columns(names: Sequence[str]) -> str:
    """What keeps columns from being readings, each of one colour; empty where nothing does."""
    folded = [_fold(name) for name in names]
    held = [columns for columns in _COLOUR_COLUMNS if columns <= set(folded)]
    if len(set(folded)) < len(folded) or not held:
        return "it needs L,a,b or hex or word, each once, and may have angle_deg, how and id"
    if len(held) > 1:
        return "they give the colour of a row more than once: keep L,a,b or hex or word"
    known = held[0] | set(_OTHER_COLUMNS)
    unknown = next((name for name in names if _fold(name) not in known), None)
    if unknown is None:
        return ""
    offer = suggest_nearest(unknown, list(_OTHER_COLUMNS))
    return f"{shorten(unknown)!r} is unknown: {offer or 'angle_deg, how and id are read'}"


def _reading(
    row: dict[str, str],
    how: str | None,
    settings: Mapping[str, float] | None,
    angle: str | None = None,
) -> Reading:
    if "hex" in row:
        text = row["hex"]
    elif "word" in row:
        text = row["word"]
    else:
        text = " ".join(row[name].replace(",", ".") for name in ("l", "a", "b"))
    angle = row.get("angle_deg") or angle
    return parse_reading(text, row.get("how") or how, angle=angle, settings=settings)


def gauge_many(
    film: str | Sequence[str],
    on: str,
    readings: Any,
    *,
    between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM,
    conditions: ViewingConditions | str | None = None,
    finish: str | None = None,
    clear_layer: str | None = None,
    seed: int = 1,
    report: Report = ignore_progress,
) -> ManyEstimates:
    """One estimate for each reading, each of a piece of its own.

    Parameters
    ----------
    film, on, between_nm, conditions, finish, clear_layer, seed
        As for `gauge`.
    readings : sequence of str or (id, Reading), sequence of mappings, or pandas.DataFrame
        Colours, or rows with the columns of `read_readings`.
    report : callable
        Told how far it is.

    Returns
    -------
    ManyEstimates
        In the order given.

    Examples
    --------
    >>> found = gauge_many("TiO2", "Ti", ["purple", "#3c4fa1"])
    >>> [row.candidates[0].order for row in found.readings]
    [1, 1]
    """
    question = FilmQuestion.of(
        film, on, between_nm=between_nm, conditions=conditions, finish=finish,
        clear_layer=clear_layer,
    )  # fmt: skip
    named = as_rows(readings)
    answers: dict[int, RowEstimate] = {}
    order = sorted(range(len(named)), key=lambda i: repr(named[i][1].doubts))
    for _, members in groupby(order, key=lambda i: named[i][1].doubts):
        rows = list(members)
        several = [named[i] for i in rows]
        points = all(len(reading.weight) == 1 for _, reading in several)
        way = _gauge_together if points and len(rows) > FEW else _gauge_each
        answers.update(zip(rows, way(question, several, seed, report), strict=True))
    ways = {reading.doubts: (reading.how, reading.doubts) for _, reading in named}
    return ManyEstimates(
        [answers[i] for i in range(len(named))],
        labels_of_pairs(question.models),
        tuple(ways.values()),
    )


def as_rows(readings: Any) -> list[NamedReading]:
    """Readings with their ids from what a caller gave: texts, pairs, mappings, or a data frame.

    Raises
    ------
    InputError
        If there are none, or one is no reading; the message names its place.
    """
    if hasattr(readings, "to_dict") and hasattr(readings, "columns"):  # a pandas.DataFrame
        readings = readings.to_dict("records")
    if isinstance(readings, str) or not isinstance(readings, Sequence) or not readings:
        raise InputError(
            "`readings` is a list of colours, of rows, or of (id, Reading), and not empty",
            parameter="readings",
        )
    return [_named_reading(number, one) for number, one in enumerate(readings, start=1)]


def _named_reading(number: int, one: Any) -> tuple[str, Reading]:
    if isinstance(one, tuple) and len(one) == 2 and isinstance(one[1], Reading):
        return str(one[0]), one[1]
    try:
        if isinstance(one, Mapping):
            row = {_fold(str(key)): str(value) for key, value in one.items()}
            if fault := _fault_of_columns([str(key) for key in one]):
                raise InputError(fault)
            return row.get("id") or str(number), _reading(row, None, None)
        return str(number), as_readings([one], "readings")[0]
    except InputError as error:
        raise InputError(f"`readings` row {number}: {error}", parameter="readings") from error


def _gauge_each(
    question: FilmQuestion, readings: list[NamedReading], seed: int, report: Report
) -> list[RowEstimate]:
    """Each reading by the tables themselves; the same reading is gauged once."""
    keys = [(reading.text, reading.points_lab.tobytes()) for _, reading in readings]
    each = {key: reading for key, (_, reading) in zip(keys, readings, strict=True)}
    one = partial(_gauge_one, question, seed)
    gauged = map_parallel(one, list(each.values()), report=report, what=_TOLD)
    known = dict(zip(each, gauged, strict=True))
    return [replace(known[key], id=name) for key, (name, _) in zip(keys, readings, strict=True)]


def _gauge_one(question: FilmQuestion, seed: int, reading: Reading) -> RowEstimate:
    question = question.suited_to([reading])
    prior, by_film = single_reading_density(question, reading)
    return row_estimate(
        "",
        reading.text,
        grid_nm=prior.thickness_nm,
        density=by_film.sum(axis=0),
        candidates=find_candidates(prior, by_film, question.conditions),
        fit_p=fit_p_value(question, [reading], seed),
        plain_p=fit_p_value(question, [reading], seed, faultless=True),
    )


def _gauge_together(
    question: FilmQuestion, readings: list[NamedReading], seed: int, report: Report
) -> list[RowEstimate]:
    """Readings with the same doubts at once, with glare and angle as normal spreads."""
    first = readings[0][1]
    prior = make_prior(question, first.doubts.index_spread)
    cells = binned_table_for(question, first.doubts, view=first.view, seed=seed)
    rows = _BinnedGauge.of(prior, cells, question.conditions)
    parts = [readings[a : a + _AT_A_TIME] for a in range(0, len(readings), _AT_A_TIME)]
    found = map_parallel(rows.gauge, parts, report=report, what=_TOLD)
    return [row for part in found for row in part]


@dataclass(frozen=True, eq=False)
class _BinnedGauge:
    """What it takes to gauge any number of readings with glare and angle as normal spreads.

    ``ramps`` are hex and name over thickness for the first pair of each film, by its place.
    """

    prior: Prior
    cells: BinnedTable
    ramps: dict[int, tuple[NDArray[np.str_], NDArray[np.str_]]]

    @classmethod
    def of(cls, prior: Prior, cells: BinnedTable, viewing: ViewingConditions) -> _BinnedGauge:
        nm, ramps = cells.thickness_nm, {}
        for j in (own.start for own in prior.pairs_of_films):
            films = SampledFilms(np.full(nm.size, j), nm, np.zeros(nm.size))
            xyz = film_xyz(films, prior.pairs, np.asarray(0.0), viewing=viewing)
            ramps[j] = hex_and_name(xyz, viewing)
        return cls(prior, cells, ramps)

    def gauge(self, readings: list[NamedReading]) -> list[RowEstimate]:
        lab = np.concatenate([reading.points_lab for _, reading in readings])
        found: list[RowEstimate] = []
        for density, by_pair, fit_p, plain_p in binned_densities(self.cells, lab):
            nm, probability = split_densities(self.cells, density)
            for i in range(len(density)):
                name, reading = readings[len(found)]
                row = row_estimate(
                    name,
                    reading.text,
                    grid_nm=self.cells.thickness_nm,
                    density=density[i].astype(float),
                    candidates=self._candidates(nm[i], probability[i], by_pair[i], density[i]),
                    fit_p=fit_p[i],
                    plain_p=plain_p[i],
                )
                found.append(row)
        return found

    def _candidates(
        self,
        points_nm: SingleArray,
        probability: SingleArray,
        by_pair: SingleArray,
        density: SingleArray,
    ) -> tuple[Candidate, ...]:
        """Parts of a density, likeliest first, told with the film the reading speaks for most."""
        likeliest = max(self.prior.pairs_of_films, key=lambda own: sum(by_pair[own].tolist()))
        pair, (hexes, names) = self.prior.pairs[likeliest.start], self.ramps[likeliest.start]
        grid, found = self.cells.thickness_nm, []
        for k in np.argsort(-probability):
            if probability[k] < _LEAST_PROBABILITY:
                break
            low, middle, high = (float(nm) for nm in points_nm[k])
            if k == len(probability) - 1:  # the part that runs to the end of the range
                own = grid >= (points_nm[k - 1][2] if k else 0.0)
                if is_open_upward(pair, grid[own], density[own].astype(float)):
                    middle, high = low, math.inf
            place = int(np.searchsorted(grid, middle).clip(max=len(hexes) - 1))
            found.append(
                Candidate(
                    thickness_nm=middle,
                    interval90_nm=(low, high),
                    probability=float(probability[k]),
                    order=order_of(pair, middle),
                    film=pair.film_name,
                    srgb_hex=str(hexes[place]),
                    name=str(names[place]),
                )
            )
        return tuple(found)


def row_estimate(
    name: str,
    text: str,
    *,
    grid_nm: FloatArray,
    density: FloatArray,
    candidates: tuple[Candidate, ...],
    fit_p: float,
    plain_p: float | None = None,
) -> RowEstimate:
    """The estimate of one reading from its density (T,) and candidates."""
    interval, region = interval_and_region(grid_nm, density, candidates)
    return RowEstimate(
        id=name,
        seen=text,
        thickness_nm=candidates[0].thickness_nm,
        interval90_nm=interval,
        region90_nm=region,
        candidates=candidates,
        fits=bool(fit_p >= FIT_LEVEL),
        fit_p=float(fit_p),
        plain_p=float(fit_p if plain_p is None else plain_p),
    )
