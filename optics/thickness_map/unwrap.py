"""Which candidate each place takes, so that the whole jumps least: costs along paths.

Every place of a grid has a few candidate values with a cost each. Along each row and column, both
ways, the cheapest path to a place with a given candidate is summed up (dynamic programming);
the sums of the four directions, fed back a few times, settle the candidate.
"""

from __future__ import annotations

from functools import reduce
from heapq import heapify, heappop, heappush

import numpy as np

from .._typing import BoolArray, SingleArray

_PER_NM = np.float32(0.5)  # cost of a jump between neighbours
_MOST = np.float32(30.0)  # beyond 60 nm a jump costs no more: an edge of the piece
_ROUNDS = 3
_LONGEST_STEP_NM = 15.0
_FAR = np.float32(1e9)


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
    messages = np.zeros_like(cost)
    path = cost[:, 0]
    count = cost.shape[2]
    for x in range(1, values.shape[1]):
        message = np.empty_like(path)
        for k in range(count):
            # One candidate at a time: reductions over an axis of three would cost far more.
            jumps = [_jump(values[:, x, k], values[:, x - 1, j]) + path[:, j] for j in range(count)]
            message[:, k] = reduce(np.minimum, jumps)
        message -= message.min(axis=1, keepdims=True)
        message[empty[:, x - 1]] = 0.0
        messages[:, x] = message
        path = cost[:, x] + message
    return messages


def _jump(one: SingleArray, other: SingleArray) -> SingleArray:
    cost: SingleArray = np.minimum(np.abs(one - other) * _PER_NM, _MOST)
    return cost
