"""A colour wanted, and the thicknesses of oxide that show it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .._typing import BoolArray, FloatArray
from ..colour.names import names_of_word, word_region
from ..errors import InputError, OutOfRangeError
from ..inference.reading import Reading, parse_reading
from ..report.format import join_either
from .shades import Palette

MET_DE = 10.0
"""A stated colour counts as met within so many ΔE 1976 unless said otherwise: a default."""
_WORD_SHARE = 0.4  # of the density a word has at its own colours
_MOST_DE = 50.0  # a wider tolerance is no colour any more
_SEEN_DE = 8.0
_STEP_NM = 0.5
_BEYOND_ORDERS = 1000
_FIRST_NM = 2.0
_SURELY = 0.98  # probability from which on nothing need be said


@dataclass(frozen=True)
class Target:
    """A thickness that shows the colour wanted, or comes nearest to it.

    ``between_nm`` are the thicknesses on either side that still show it; ``delta_e`` is the
    distance from the colour wanted [ΔE 1976], from a word that of the nearest of its colours;
    ``differs`` says how it differs from the colour wanted, from a word's middle.
    """

    thickness_nm: float
    between_nm: tuple[float, float]
    order: int | None
    srgb_hex: str
    name: str
    delta_e: float
    differs: str = ""

    @property
    def rank(self) -> int:
        """Its order, and for scale, which has none, one beyond all."""
        return _BEYOND_ORDERS if self.order is None else self.order


@dataclass(frozen=True, eq=False)
class WantedColour:
    """A colour wanted as weighted CIELAB points with a common spread, none for a single colour.

    ``names`` are those that count as the word wanted; empty where its region decides.
    ``tolerance_de`` is how far from a stated colour one may be that counts [ΔE 1976]; ``notes`` are
    what to know of the sample it was read from.
    """

    text: str
    points_lab: FloatArray
    weight: FloatArray
    spread: float
    names: tuple[str, ...] = ()
    tolerance_de: float = MET_DE
    notes: tuple[str, ...] = ()

    def distance(self, lab: FloatArray) -> FloatArray:
        """ΔE 1976 (N,) of colours (N, 3) from the nearest point."""
        return np.asarray(np.linalg.norm(lab[:, None] - self.points_lab, axis=-1).min(axis=1))

    def closeness(self, lab: FloatArray) -> FloatArray:
        """How well colours (N, 3) meet the wish: 1 and above well inside it."""
        if self.spread == 0.0:
            return np.asarray(np.exp(-0.5 * (self.distance(lab) / self.tolerance_de) ** 2))
        return self._density(lab) / self._typical

    def matches(self, lab: FloatArray, name: NDArray[np.str_]) -> BoolArray:
        """Which colours (N, 3), of these names (N,), count as the wish."""
        if self.spread == 0.0:
            return np.asarray(self.distance(lab) <= self.tolerance_de)
        if self.names:
            return np.isin(name, self.names)
        return np.asarray(self.closeness(lab) >= _WORD_SHARE)

    def _density(self, lab: FloatArray) -> FloatArray:
        square = ((lab[:, None] - self.points_lab) ** 2).sum(axis=-1)
        return np.asarray(np.exp(-0.5 * square / self.spread**2) @ self.weight)

    @cached_property
    def _typical(self) -> float:
        return float(self._density(self.points_lab) @ self.weight)

    @property
    def counts_as(self) -> str:
        """What counts as the wish, in words."""
        if self.spread == 0.0:
            return f"a colour within {self.tolerance_de:g} ΔE of the one wanted"
        return join_either(list(self.names)) if self.names else "a colour of the word's own region"

    def describe_gap(self, lab: FloatArray) -> str:
        """How a colour (3,) differs from the wish, as people see it."""
        return describe_difference(self.weight @ self.points_lab, lab)


def parse_wanted_colour(want: str | Reading, tolerance_de: float = MET_DE) -> WantedColour:
    """Read the colour wanted, and how far from one stated in numbers another may be; `InputError`
    if it is none. A reading is that of a sample to be met."""
    if not 0.0 < tolerance_de <= _MOST_DE:
        raise OutOfRangeError(
            f"`tolerance_de` must be above 0 and at most {_MOST_DE:g}, not {tolerance_de:g}",
            parameter="tolerance_de",
        )
    if not isinstance(want, str | Reading):
        raise InputError(
            f"`want` must be a word, a #hex, L,a,b or the reading of a sample, not {want!r:.40}",
            parameter="want",
        )
    reading = parse_reading(want) if isinstance(want, str) else want
    text = reading.text if isinstance(want, Reading) else want
    if reading.how != "word":
        return WantedColour(
            text, reading.points_lab, reading.weight, 0.0, tolerance_de=tolerance_de,
            notes=() if isinstance(want, str) else _notes_of_sample(want),
        )  # fmt: skip
    if tolerance_de != MET_DE:
        raise InputError(
            f"`tolerance_de` is of a colour in numbers, and {text.strip()!r} is a word; leave it "
            f"out, or give the colour as #hex or L,a,b",
            parameter="tolerance_de",
        )
    word = text.strip()
    spread = word_region(word).spread_delta_e
    return WantedColour(text, reading.points_lab, reading.weight, spread, names_of_word(word))


def _notes_of_sample(sample: Reading) -> tuple[str, ...]:
    """What its photo says of itself, and what a photo without a reference cannot tell."""
    if sample.how != "photo":
        return sample.warnings
    return (
        *sample.warnings,
        "the sample was read without a white card or bare metal in the picture, so its colour may "
        "be off by more than the tolerance",
    )


@dataclass(frozen=True, eq=False)
class Reach:
    """How a metal reaches a colour.

    Attributes
    ----------
    targets : tuple of Target
        Thicknesses from thin to thick that show it, under the likeliest oxide that shows it at all.
    nearest : Target
        The thickness that comes nearest.
    palette : Palette
        The colours of that oxide.
    share : float
        Probability of the oxides that show it.
    """

    targets: tuple[Target, ...]
    nearest: Target
    palette: Palette
    share: float

    @property
    def doubts(self) -> tuple[str, ...]:
        """What to say where not every oxide that is weighed shows the colour."""
        if not self.targets or self.share >= _SURELY:
            return ()
        film = self.palette.pairs[self.palette.likeliest].film_name
        return (
            f"{100.0 * self.share:.0f} % likely to exist at all, for it depends on the oxide; "
            f"thickness and colour here are those of {film}",
        )


def describe_nearest(want: str, nearest: Target) -> str:
    """The colour that comes nearest, and how it differs from the colour wanted."""
    said = f"{nearest.name} ({nearest.srgb_hex}) at {nearest.thickness_nm:.0f} nm"
    if any(letter.isdigit() for letter in want):
        said += f", {nearest.delta_e:.0f} ΔE away"
    return f"{said}, which is {nearest.differs}" if nearest.differs else said


def describe_difference(wanted_lab: FloatArray, lab: FloatArray) -> str:
    """How one colour (3,) differs from another in lightness, chroma and hue, the largest first.

    What few would see goes unsaid; four times as much is "much" (judgements).
    """
    (light, a, b), (own, c, d) = wanted_lab.tolist(), lab.tolist()
    chroma, other = float(np.hypot(a, b)), float(np.hypot(c, d))
    # What is left of the distance once lightness and chroma are taken off: ΔH* of CIELAB.
    hue = float(np.sqrt(max(0.0, (a - c) ** 2 + (b - d) ** 2 - (chroma - other) ** 2)))
    each = [
        (abs(own - light), "lighter" if own > light else "darker"),
        (abs(other - chroma), "more vivid" if other > chroma else "duller"),
        (hue, "of another hue"),
    ]
    seen = sorted((one for one in each if one[0] >= _SEEN_DE), reverse=True)
    words = [f"much {word}" if size >= 4.0 * _SEEN_DE and word != "of another hue" else word
             for size, word in seen]  # fmt: skip
    return " and ".join(words)


def find_targets(palette: Palette, wish: WantedColour, most_nm: float) -> Reach:
    """Where the oxide shows a colour, weighed over all that the oxide may be."""
    found = [(own, share, *_of_one_film(own, wish, most_nm)) for own, share in palette.each_film()]
    shows = [one for one in found if one[2]]
    share = min(1.0, sum(one[1] for one in shows))
    if shows:
        own, _, targets, nearest = shows[0]
        return Reach(targets, nearest, own, share)
    by_distance = wish.spread == 0.0  # from a word, distances of films do not compare
    own, _, targets, nearest = min(found, key=lambda one: one[3].delta_e if by_distance else 0.0)
    return Reach(targets, nearest, own, 0.0)


def _of_one_film(
    palette: Palette, wish: WantedColour, most_nm: float
) -> tuple[tuple[Target, ...], Target]:
    scale_nm = np.inf if palette.scale is None else palette.scale.from_nm
    grid = np.arange(_FIRST_NM, min(most_nm, scale_nm) + _STEP_NM / 2.0, _STEP_NM)
    if palette.scale is not None and most_nm > scale_nm:  # which looks alike however thick it is
        grid = np.append(grid, min(most_nm, palette.scale.surely_nm))
    lab = palette.lab(grid)
    names = palette.name_colours(grid)[1]
    distance, close, met = wish.distance(lab), wish.closeness(lab), wish.matches(lab, names)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], met, [False]]).astype(np.int8)))
    found = []
    for first, end in zip(edges[::2], edges[1::2], strict=True):
        best = int(first + np.argmax(close[first:end]))
        best = int(end) - 1 if grid[best] >= scale_nm else best
        found.append(_target(palette, grid, best, (int(first), int(end) - 1), wish))
    score = -distance if wish.spread == 0.0 else close - 1e-3 * distance
    nearest = int(np.argmax(score))
    return tuple(found), _target(palette, grid, nearest, (nearest, nearest), wish)


def target_at(palette: Palette, wish: WantedColour, thickness_nm: float) -> Target:
    """What one thickness shows of the colour wanted."""
    return _target(palette, np.array([thickness_nm]), 0, (0, 0), wish)


def _target(
    palette: Palette, grid: FloatArray, best: int, ends: tuple[int, int], wish: WantedColour
) -> Target:
    thickness_nm = float(grid[best])
    lab = palette.lab(grid[best : best + 1])
    return Target(
        thickness_nm, (float(grid[ends[0]]), float(grid[ends[1]])), palette.order(thickness_nm),
        *palette.colour_at(thickness_nm), float(wish.distance(lab)[0]), wish.describe_gap(lab[0]),
    )  # fmt: skip
