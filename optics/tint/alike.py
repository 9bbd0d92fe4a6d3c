"""Parts treated alike: what all of them share, and how far they scatter among themselves.

Law, kiln and oxide are one doubt that all parts of a batch share; each has its own scatter. So a
batch may miss the colour as a whole and still look alike.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .._typing import BoolArray, FloatArray
from ..colour.spaces import delta_e_76
from ..errors import OutOfRangeError
from .kiln import Kiln
from .shades import Palette

MOST_PARTS = 100_000
STEPS_DE = 2.0, 4.0, 6.0
"""Distances said of a batch [ΔE 1976]: hardly seen side by side, seen, plain (judgements)."""
_BATCHES, _SIMULATED = 200, 16  # parts of each; shares and counts are worked out from them
_LEAST_SHARE = 0.05

DrawThickness = Callable[[np.random.Generator], FloatArray]
"""Thickness [nm] of one part of each possible batch (N,), with its own scatter at each call."""


@dataclass(frozen=True)
class PartsOfColour:
    """How many parts of a batch come out in a colour.

    Attributes
    ----------
    name : str
        The colour.
    share : float
        Of all parts of all batches that may be.
    count90 : tuple of int
        Where the number of parts of one batch lies in 90 % of batches.
    next_alike : float
        Probability that a part has the colour where one other part of its batch has it.
    """

    name: str
    share: float
    count90: tuple[int, int]
    next_alike: float


@dataclass(frozen=True)
class Batch:
    """Parts treated alike, each on its own or at places of a kiln that differ as heats do.

    Attributes
    ----------
    parts : int
    apart_de : float
        Distance that nine in ten parts keep from the middle of their batch [ΔE 1976].
    within_de : dict
        Share of parts within 2, 4 and 6 ΔE 1976 of the middle of their batch.
    spread_nm : float
        Standard deviation of the thickness within a batch, in the median over batches [nm].
    names : tuple of PartsOfColour
        Colours that parts may take, the commonest first.
    """

    parts: int
    apart_de: float
    within_de: dict[str, float]
    spread_nm: float
    names: tuple[PartsOfColour, ...]


@dataclass(frozen=True, eq=False)
class DrawnBatches:
    """Possible batches (N,) of a few parts (M,): CIELAB (N, M, 3), names and thickness (N, M)."""

    parts: int
    lab: FloatArray
    names: NDArray[np.str_]
    thickness_nm: FloatArray

    def count(self, name: str, alike: BoolArray, seed: int) -> PartsOfColour:
        """How many parts have a colour, from which of those drawn (N, M) have it."""
        drawn, of = alike.sum(axis=1), alike.shape[1]
        share = float(alike.mean())
        # Two different parts of one batch: unbiased, as k/M squared would not be.
        pairs = float(np.mean(drawn * (drawn - 1.0)) / (of * (of - 1.0)))
        counts = np.random.default_rng(seed).binomial(self.parts, drawn / of)
        low, high = np.quantile(counts, [0.05, 0.95], method="nearest").astype(int).tolist()
        return PartsOfColour(name, share, (low, high), pairs / share if share else 0.0)


def check_parts(parts: int | None) -> None:
    """Refuse with `OutOfRangeError` what is no number of parts."""
    if parts is None:
        return
    if isinstance(parts, bool) or not isinstance(parts, int) or not 2 <= parts <= MOST_PARTS:
        raise OutOfRangeError(
            f"`parts` must be a whole number from 2 to {MOST_PARTS}, not {parts!r:.40}",
            parameter="parts",
        )


def draw_batches(
    held: Kiln, palette: Palette, draw: DrawThickness, *, parts: int, seed: int
) -> DrawnBatches:
    """Batches of a kiln's possible worlds, all parts of one with the same film and index."""
    rng = np.random.default_rng(seed)
    every = max(1, held.draws.scatter.size // _BATCHES)
    film = np.stack([draw(rng)[::every] for _ in range(_SIMULATED)], axis=1)
    few = replace(held, draws=held.draws.take(np.arange(0, held.draws.scatter.size, every)))
    xyz = palette.draw_parts_xyz(few, film, seed)
    names = palette.name_xyz(xyz.reshape(-1, 3))[1].reshape(film.shape)
    return DrawnBatches(parts, palette.lab_of(xyz), names, film)


def describe_batch(drawn: DrawnBatches, seed: int) -> Batch:
    """How far the parts of a batch differ, and how many have each colour."""
    middle = np.median(drawn.lab, axis=1, keepdims=True)
    apart = delta_e_76(drawn.lab, np.broadcast_to(middle, drawn.lab.shape))
    found = [
        drawn.count(str(name), drawn.names == name, seed)
        for name in np.unique(drawn.names)
        if np.mean(drawn.names == name) >= _LEAST_SHARE
    ]
    return Batch(
        drawn.parts,
        float(np.quantile(apart, 0.9)),
        {f"{step:g}": float(np.mean(apart <= step)) for step in STEPS_DE},
        float(np.median(drawn.thickness_nm.std(axis=1))),
        tuple(sorted(found, key=lambda one: -one.share)),
    )


def words_of_batch(batch: Batch) -> str:
    """How alike the parts come out, in two sentences."""
    shares = ", ".join(f"{100.0 * share:.0f} % within {step} ΔE"
                       for step, share in batch.within_de.items())  # fmt: skip
    return (
        f"Of {batch.parts} parts treated one after the other, nine in ten lie within "
        f"{batch.apart_de:.1f} ΔE of the middle of their batch ({shares}). Which colour the batch "
        f"takes is one doubt for all of them:"
    )
