"""Thickness over a whole piece from one photo of it.

The posterior is worked out once for each distinct colour (6 bits a channel). Which of a colour's
candidates a pixel takes is settled by continuity: blocks of 8 × 8 pixels take the candidates
under which the thickness jumps least from block to block.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .._typing import FloatArray, IndexArray, SingleArray
from ..colour.conditions import ViewingConditions
from ..errors import InputError, LimitError, OutOfRangeError, shorten
from ..gauge.photo import bare_metal_lab
from ..images.decode import CodeArray
from ..images.image import Codes, load_codes
from ..images.patches import linear_to_lab
from ..images.white_balance import correct_whole_photo, parse_patch
from ..inference.binned import BinnedPosterior, build_binned_table, gauge_binned
from ..inference.likelihood import make_prior, table_for
from ..inference.order import interference_orders
from ..inference.question import DEFAULT_BETWEEN_NM, FilmQuestion
from ..inference.uncertainty import Uncertainty, uncertainty_for
from ..numerics.parallel import map_parallel
from ..units import parse_quantity, parse_whole_numbers
from .result import FieldMap
from .unwrap import grow, settle

Index = NDArray[np.int32]

MOST_PIXELS = 36_000_000  # what stays below a gigabyte, files and charts written
BLOCK = 8  # pixels along each side
_BITS = 6
_CELLS = 1 << (3 * _BITS)
_ROWS_AT_ONCE = 8 * BLOCK


@dataclass(frozen=True)
class KnownPlace:
    """A place whose thickness is known: pixel column and row, and thickness [nm]."""

    x: int
    y: int
    thickness_nm: float


def parse_known_place(text: str) -> KnownPlace:
    """Read a place of known thickness such as ``812,300=45nm``.

    Raises
    ------
    InputError
        If it is not column, row and a thickness with its unit.
    """
    place, _, thickness = text.partition("=")
    x, y = parse_whole_numbers(place, 2, "the place")
    return KnownPlace(x, y, parse_quantity(thickness, "length_nm", "the thickness"))


def map_photo(
    path: str | Path,
    film: str | Sequence[str],
    on: str,
    *,
    white: str | None = None,
    bare: str | None = None,
    how: str | None = None,
    doubts: Mapping[str, float] | None = None,
    between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM,
    conditions: ViewingConditions | str | None = None,
    known_places: Sequence[KnownPlace | str] = (),
) -> FieldMap:
    """Thickness of every pixel of a photo.

    Parameters
    ----------
    path : str or Path
    film : str or sequence of str
        What the film may be, several separated by commas.
    on : str
        What it lies on.
    white, bare : str, optional
        Patches ``x,y,w,h`` of a white card and of bare metal.
    how : str, optional
        ``card`` with a card or bare metal in the picture, else ``photo``, unless said otherwise.
    doubts : mapping, optional
        Single uncertainties of that way of reading.
    between_nm : tuple of float
        Range the thickness is known to lie in [nm].
    conditions : ViewingConditions or str, optional
        Light and observer, or the name of the light.
    known_places : sequence of KnownPlace or str
        Places of known thickness, such as ``812,300=45nm``.

    Raises
    ------
    InputError
        If the picture, a patch or a doubt is refused.
    """
    if not isinstance(path, (str, Path)):
        raise InputError(
            f"`path` is the name of a photo, not {shorten(repr(path))}", parameter="path"
        )
    for name, text in (("white", white), ("bare", bare), ("how", how), ("on", on)):
        if text is not None and not isinstance(text, str):
            raise InputError(f"`{name}` is a text, not {shorten(repr(text))}", parameter=name)
    codes = load_codes(Path(path))
    correction = correct_whole_photo(
        codes,
        white=parse_patch(white) if white else None,
        bare=parse_patch(bare) if bare else None,
        bare_lab=bare_metal_lab(on) if bare else None,
    )
    way = how or ("photo" if correction.adapted_by is None else "card")
    chosen = replace(uncertainty_for(way), **(doubts or {}))
    field = map_thickness(
        codes,
        film,
        on,
        doubts=chosen,
        between_nm=between_nm,
        conditions=conditions,
        matrix=correction.matrix,
        known_places=known_places,
    )
    return replace(field, notes=(*field.notes, *correction.warnings))


def map_thickness(
    codes: Codes,
    film: str | Sequence[str],
    on: str,
    *,
    doubts: Uncertainty,
    between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM,
    conditions: ViewingConditions | str | None = None,
    matrix: FloatArray | None = None,
    known_places: Sequence[KnownPlace | str] = (),
) -> FieldMap:
    """Thickness of every pixel of a photo.

    Parameters
    ----------
    codes : Codes
        The picture as read.
    film, on, between_nm, conditions
        As for `gauge`.
    doubts : Doubts
        Of a reading of one pixel's colour.
    matrix : ndarray, shape (3, 3), optional
        Corrects linear light, by a white card or bare metal in the picture.
    known_places : sequence of KnownPlace or str
        Places whose thickness is known.

    Returns
    -------
    FieldMap

    Raises
    ------
    InputError, OutOfRangeError
        If a place lies outside the picture or the range, or nothing in the picture fits.
    LimitError
        Above 36 megapixels.
    """
    question = FilmQuestion.of(film, on, between_nm=between_nm, conditions=conditions)
    places = _read_places(known_places)
    _check_places(places, codes, between_nm)
    if codes.valid.size > MOST_PIXELS:
        raise LimitError(
            f"a map has at most {MOST_PIXELS // 1_000_000} megapixels, and the picture has "
            f"{codes.valid.size / 1e6:.0f}; scale it down"
        )
    prior = make_prior(question, doubts.index_spread)
    cells = build_binned_table(table_for(question, doubts), prior)
    blocks = _block_cells(codes)
    used = _used_cells(codes, blocks)
    posterior = gauge_binned(cells, _cell_lab(used, codes, matrix))
    lookup = _Lookup.of(used, posterior)
    expected = _settle_blocks(lookup, blocks, places)
    return _fill(lookup, codes, expected, question, doubts)


@dataclass(frozen=True, eq=False)
class _Lookup:
    """Candidates by cell: middles, ends and negative log probabilities, shape (cells + 1, K)."""

    place: Index  # from cell to row; cells that do not fit share the last row
    middle: SingleArray
    low: SingleArray
    high: SingleArray
    cost: SingleArray

    @classmethod
    def of(cls, used: IndexArray, posterior: BinnedPosterior) -> _Lookup:
        """Rows for the used cells that fit, and one row without candidates for all others."""
        fitting = np.flatnonzero(posterior.fits)
        place = np.full(_CELLS, fitting.size, dtype=np.int32)
        place[used[fitting]] = np.arange(fitting.size, dtype=np.int32)
        probability = posterior.probability[fitting]
        some = probability > 0.01
        points = np.where(some[:, :, None], posterior.thickness_nm[fitting], np.nan)
        rows = [np.concatenate([points[:, :, i], _missing(points)]) for i in (0, 1, 2)]
        cost = np.where(some, -np.log(np.maximum(probability, 1e-6)), np.inf)
        return cls(
            place,
            rows[1].astype(np.float32),
            rows[0].astype(np.float32),
            rows[2].astype(np.float32),
            np.concatenate([cost, np.full((1, cost.shape[1]), np.inf)]).astype(np.float32),
        )


def _missing(points: SingleArray) -> FloatArray:
    return np.full((1, points.shape[1]), np.nan)


def _read_places(said: Sequence[KnownPlace | str]) -> list[KnownPlace]:
    """Places from what a caller gave: themselves, or their written form."""
    several = [said] if isinstance(said, (str, KnownPlace)) else said
    if not isinstance(several, Sequence) or not all(
        isinstance(one, (str, KnownPlace)) for one in several
    ):
        raise InputError(
            f"`known_places` are places such as 812,300=45nm, not {shorten(repr(said))}",
            parameter="known_places",
        )
    return [parse_known_place(one) if isinstance(one, str) else one for one in several]


def _check_places(
    places: Sequence[KnownPlace], codes: Codes, between_nm: tuple[float, float]
) -> None:
    height, width = codes.valid.shape
    for place in places:
        if not (0 <= place.x < width and 0 <= place.y < height):
            raise OutOfRangeError(
                f"the place {place.x},{place.y} lies outside the picture of {width} x {height} "
                f"pixels",
                parameter="known_places",
            )
        if not between_nm[0] <= place.thickness_nm <= between_nm[1]:
            raise OutOfRangeError(
                f"the thickness {place.thickness_nm:g} nm at {place.x},{place.y} lies outside the "
                f"range {between_nm[0]:g} to {between_nm[1]:g} nm",
                parameter="known_places",
            )


def _pack_cells(values: CodeArray) -> Index:
    """Cell number of code values (..., 3)."""
    shift = 8 * values.dtype.itemsize - _BITS
    packed = (values[..., 0] >> shift).astype(np.int32)
    for channel in (1, 2):
        packed <<= _BITS
        packed |= values[..., channel] >> shift
    return packed


def _used_cells(codes: Codes, blocks: Index) -> IndexArray:
    """Cells of all pixels and blocks, rising."""
    occupied = np.zeros(_CELLS, dtype=bool)
    occupied[blocks.ravel()] = True
    for start in range(0, len(codes.values), _ROWS_AT_ONCE):
        occupied[_pack_cells(codes.values[start : start + _ROWS_AT_ONCE]).ravel()] = True
    return np.flatnonzero(occupied)


def _block_cells(codes: Codes) -> Index:
    """Cell of each block's mean colour, from four pixels spread over it."""
    height, width = codes.valid.shape
    rows = [np.minimum(np.arange(0, height, BLOCK) + at, height - 1) for at in (2, 5)]
    columns = [np.minimum(np.arange(0, width, BLOCK) + at, width - 1) for at in (2, 5)]
    corners = [codes.values[np.ix_(r, c)].astype(np.uint32) for r in rows for c in columns]
    return _pack_cells(_to_codes(np.sum(corners, axis=0) // 4, codes))


def _cell_lab(used: IndexArray, codes: Codes, matrix: FloatArray | None) -> FloatArray:
    """CIELAB of the middle of each used cell."""
    mask, step = (1 << _BITS) - 1, 8 * codes.values.dtype.itemsize - _BITS
    parts = [(used >> (_BITS * at)) & mask for at in (2, 1, 0)]
    middle = (np.stack(parts, axis=-1) << step) + (1 << (step - 1))
    linear = codes.encoding.to_linear(_to_codes(middle, codes))
    return linear_to_lab(linear if matrix is None else linear @ matrix.T)


def _to_codes(values: NDArray[Any], codes: Codes) -> CodeArray:
    """Whole numbers as code values of the picture's own depth."""
    return values.astype(np.uint8) if codes.values.itemsize == 1 else values.astype(np.uint16)


def _settle_blocks(lookup: _Lookup, blocks: Index, places: Sequence[KnownPlace]) -> SingleArray:
    """Thickness [nm] each block settles on, NaN where nothing fits."""
    row = lookup.place[blocks]
    middle, cost = lookup.middle[row], lookup.cost[row].copy()
    starts = {}
    for place in places:
        at = place.y // BLOCK, place.x // BLOCK
        away = np.nan_to_num(np.abs(middle[at] - place.thickness_nm), nan=np.inf)
        if not np.isfinite(away).any():
            raise InputError(
                f"no film in question shows the colour at {place.x},{place.y}, so its thickness "
                f"cannot guide the map"
            )
        starts[at] = int(np.argmin(away))
    for block, k in grow(middle, starts).items():
        cost[block] = np.inf
        cost[(*block, k)] = 0.0
    return settle(middle, cost)


def _fill(
    lookup: _Lookup,
    codes: Codes,
    expected: SingleArray,
    question: FilmQuestion,
    doubts: Uncertainty,
) -> FieldMap:
    """Every pixel takes the candidate nearest to what its block expects."""
    shape = codes.valid.shape
    median, low, high = (np.empty(shape, dtype=np.float32) for _ in range(3))
    order = np.empty(shape, dtype=np.uint8)
    columns = np.arange(shape[1]) // BLOCK
    likeliest = max(question.models, key=lambda pair: pair.weight)

    def fill(rows: slice) -> None:
        place = lookup.place[_pack_cells(codes.values[rows])]
        wanted = expected[np.arange(rows.start, rows.stop) // BLOCK][:, columns]
        flat = place * lookup.middle.shape[1] + _choose_nearest(lookup.middle, place, wanted)
        median[rows] = lookup.middle.ravel()[flat]
        low[rows] = lookup.low.ravel()[flat]
        high[rows] = lookup.high.ravel()[flat]
        outside = ~codes.valid[rows] | np.isnan(wanted)
        for part in (median, low, high):
            part[rows][outside] = np.nan
        order[rows] = interference_orders(likeliest, median[rows])

    # Bands of rows are independent, and numpy's gathers run beside each other.
    starts = range(0, shape[0], _ROWS_AT_ONCE)
    for _ in map_parallel(
        fill, [slice(a, min(a + _ROWS_AT_ONCE, shape[0])) for a in starts], kind="shared"
    ):
        pass
    fitted = float(np.count_nonzero(order) / order.size)
    return FieldMap(
        median_nm=median,
        low_nm=low,
        high_nm=high,
        order=order,
        share_fitted=fitted,
        films=question.films,
        on=question.on,
        doubts=doubts,
        pairs=question.models,
        notes=(*codes.notes, *([question.usual.words] if question.usual else [])),
    )


def _choose_nearest(middle: SingleArray, place: Index, wanted: SingleArray) -> Index:
    """Which of a cell's candidates lies nearest to what is wanted, shape of ``place``."""
    nearest = np.zeros(place.shape, dtype=np.int32)
    away = np.abs(middle[:, 0][place] - wanted)
    for k in range(1, middle.shape[1]):
        other = np.abs(middle[:, k][place] - wanted)
        closer = ~(other >= away)  # also where the nearer one so far is none
        closer &= ~np.isnan(other)
        nearest[closer] = k
        np.fmin(away, other, out=away)
    return nearest
