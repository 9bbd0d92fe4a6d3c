"""Which candidate each place and each pixel takes, so that the whole jumps least.

Every place of a grid has a few candidate values with a cost each. Along each row and column, both
ways, the cheapest path to a place with a given candidate is summed up (dynamic programming);
the sums of the four directions, fed back a few times, settle the candidate.
"""

from __future__ import annotations

from collections.abc import Sequence
from heapq import heapify, heappop, heappush

import numpy as np

from .._typing import BoolArray, SingleArray
from ..errors import InputError
from ..images.image import Codes
from ..inference.hypotheses import describe_stand_ins
from ..inference.order import interference_orders
from ..inference.question import FilmQuestion, doubt_fringes
from ..inference.uncertainty import Uncertainty
from ..numerics.parallel import map_parallel
from .candidates import Candidates
from .cells import BLOCK, ROWS_AT_ONCE, Index, pack_colours
from .places import KnownPlace
from .result import FieldMap

_PER_NM = np.float32(0.5)  # cost of a jump between neighbours
_MOST = np.float32(30.0)  # beyond 60 nm a jump costs no more: an edge of the piece
_ROUNDS = 3
_LONGEST_STEP_NM = 15.0
_FAR = np.float32(1e9)


def settle_blocks(
    candidates: Candidates, blocks: Index, places: Sequence[KnownPlace]
) -> SingleArray:
    """Thickness [nm] each block settles on, NaN where nothing fits."""
    points = candidates.points[candidates.place[blocks]]
    middle, cost = points[..., 0].copy(), points[..., 3].copy()
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


def fill_pixels(
    candidates: Candidates,
    codes: Codes,
    expected: SingleArray,
    *,
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
        wanted = expected[np.arange(rows.start, rows.stop) // BLOCK][:, columns]
        points = candidates.nearest(pack_colours(codes.values[rows]), wanted)
        for i, part in enumerate((median, low, high)):
            part[rows] = points[..., i]
        outside = ~codes.valid[rows] | np.isnan(wanted)
        for part in (median, low, high):
            part[rows][outside] = np.nan
        order[rows] = interference_orders(likeliest, median[rows])

    # Bands of rows are independent, and numpy's gathers run beside each other.
    starts = range(0, shape[0], ROWS_AT_ONCE)
    for _ in map_parallel(
        fill, [slice(a, min(a + ROWS_AT_ONCE, shape[0])) for a in starts], kind="shared"
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
        notes=(*codes.notes, *_notes(question)),
    )


def _notes(question: FilmQuestion) -> tuple[str, ...]:
    """What the answer rests on that was not stated."""
    usual = (question.usual.words,) if question.usual else ()
    fringes = doubt_fringes(question.models[0], question.conditions)
    return (*usual, *describe_stand_ins(question.films, question.on), *fringes)


def settle(values: SingleArray, cost: SingleArray) -> SingleArray:
    """The candidate value of each place that fits its neighbours.

    Parameters
    ----------
    values : ndarray, shape (H, W, K)
        Candidate values [nm]; NaN where there are fewer than K.
    cost : ndarray, shape (H, W, K)
        Cost of each, inf where there is none.

    Returns
    -------
    ndarray, shape (H, W)
        NaN where a place has no candidate.
    """
    own = np.minimum(np.nan_to_num(cost, posinf=float(_FAR)), _FAR).astype(np.float32)
    known = np.nan_to_num(values, nan=0.0)
    empty = np.all(own >= _FAR, axis=2)
    belief = own
    for _ in range(_ROUNDS):
        messages = _pass_messages(known, belief, empty)
        turned = known.swapaxes(0, 1), belief.swapaxes(0, 1), empty.T
        messages = messages + _pass_messages(*turned).swapaxes(0, 1)
        belief = np.minimum(own + 0.5 * messages, _FAR)
    chosen = np.argmin(belief, axis=2)
    taken = np.take_along_axis(known, chosen[:, :, None], axis=2)[:, :, 0]
    return np.where(empty, np.float32(np.nan), taken)


def grow(values: SingleArray, starts: dict[tuple[int, int], int]) -> dict[tuple[int, int], int]:
    """The candidates that follow from known places without a jump.

    Parameters
    ----------
    values : ndarray, shape (H, W, K)
        Candidate values [nm]; NaN where there are fewer than K.
    starts : dict
        Row and column of known places, and which candidate each takes.

    Returns
    -------
    dict
        The same for every place reached; the smallest jumps are taken first, none above 15 nm.
    """
    taken: dict[tuple[int, int], int] = {}
    waiting = [(0.0, place, k) for place, k in starts.items()]
    heapify(waiting)
    height, width = values.shape[:2]
    while waiting:
        _, (y, x), k = heappop(waiting)
        if (y, x) in taken:
            continue
        taken[y, x] = k
        for near in ((y - 1, x), (y + 1, x), (y, x - 1), (y, x + 1)):
            if near in taken or not (0 <= near[0] < height and 0 <= near[1] < width):
                continue
            jumps = np.nan_to_num(np.abs(values[near] - values[y, x, k]), nan=np.inf)
            best = int(np.argmin(jumps))
            if jumps[best] <= _LONGEST_STEP_NM:
                heappush(waiting, (float(jumps[best]), near, best))
    return taken


def _pass_messages(values: SingleArray, cost: SingleArray, empty: BoolArray) -> SingleArray:
    """Messages into each place from the left and from the right, shape (H, W, K)."""
    back = _least_costs(values[:, ::-1], cost[:, ::-1], empty[:, ::-1])[:, ::-1]
    return _least_costs(values, cost, empty) + back


def _least_costs(values: SingleArray, cost: SingleArray, empty: BoolArray) -> SingleArray:
    """Least cost of the path from the left up to each candidate, its own cost left out."""
    # Column by column, (W, K, H): all pairs of candidates at once, places last, where it is fast.
    known, own = (np.ascontiguousarray(one.transpose(1, 2, 0)) for one in (values, cost))
    messages = np.zeros_like(own)
    path = own[0]
    for x in range(1, len(known)):
        jumps = np.abs(known[x][:, None] - known[x - 1])
        jumps *= _PER_NM
        np.minimum(jumps, _MOST, out=jumps)
        jumps += path
        message = jumps.min(axis=1)
        message -= message.min(axis=0)
        message[:, empty[:, x - 1]] = 0.0
        messages[x] = message
        path = own[x] + message
    return messages.transpose(2, 0, 1)
