"""Colours in words: one name for each colour, and the region of colours a word may mean."""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .._typing import BoolArray, FloatArray, IndexArray
from ..errors import UnknownNameError, shorten, suggest_nearest
from .spaces import (
    SRGB_WHITE_XYZ,
    lab_to_xyz,
    oklab_to_oklch,
    srgb_linear_to_oklab,
    xyz_to_srgb_linear,
)

PEOPLE_SPREAD_DELTA_E = 5.0
"""Standard deviation, per CIELAB axis, of where people draw the border of a word: a stated
default (common practice, no source)."""

NEIGHBOUR_REACH = 8.0
"""How far, in CIELAB, a word reaches into names it covers only in part: a stated default."""

MAX_POINTS = 60
"""The most sample points a region is thinned to."""

_LONGEST_TEXT = 80  # characters; a colour takes a few words, not a page

# Kernels on a lattice add up to a plateau flat within 4 % from this ratio of spread to spacing.
_SPREAD_PER_SPACING = 0.45
LATTICE_STEP_DELTA_E = 3.0
"""Spacing of the lattice of colours that words are made of, along L*, a* and b*."""

LATTICE_ORIGIN = np.array([0.0, -129.0, -129.0])
LATTICE_SHAPE = (34, 87, 87)
# Films reach beyond sRGB. Their least linear component falls below zero by up to 0.19 of the
# luminance for TiO2 on Ti and 0.45 in the dark blues of Nb2O5 on Nb (computed, D65, 0 to 250 nm);
# wider than this and a word would be filled with colours no film shows.
_BEYOND_SRGB = 0.25
_ROUNDING = 1e-9

_SHADES = {
    **dict.fromkeys(("pale", "light", "faint", "very pale", "very light"), "pale"),
    **dict.fromkeys(("dark", "deep", "full", "very dark", "very deep"), "dark"),
    **dict.fromkeys(("bright", "vivid", "strong", "electric"), "vivid"),
    **dict.fromkeys(("dull", "greyish", "muted"), "dull"),
}


@dataclass(frozen=True, eq=False)
class WordRegion:
    """The colours a word may stand for, as weighted points with a common kernel.

    Attributes
    ----------
    points_lab : ndarray, shape (K, 3)
        CIELAB, D65 and 2 degrees, of K ≤ 60 points spread through the region.
    weight : ndarray, shape (K,)
        Share of the region each point stands for [-]; the sum is 1.
    spread_delta_e : float
        Standard deviation per CIELAB axis of an isotropic normal kernel about each point: wide
        enough to close the gaps between points, and no less than the variation between people.
    """

    word: str
    points_lab: FloatArray
    weight: FloatArray
    spread_delta_e: float


def colour_names() -> list[str]:
    """Every name `name_of_oklab` can give, each once, in the order of the data file."""
    neutral = [band["name"] for band in _data()["neutral"]]
    chromatic = [rule[2] for sector in _data()["sector"] for rule in sector["rules"]]
    return list(dict.fromkeys(neutral + chromatic))


def known_words() -> list[str]:
    """The words `word_region` takes as they stand, synonyms included, in alphabetical order.

    Any of them may also carry pale, light, dark, deep, bright or dull, and two may be joined
    (``brown-purple``, ``blue to violet``).
    """
    return sorted([*_data()["word"], *_data()["trade"], *_data()["synonym"]])


def single_words() -> list[str]:
    """The common words with a weight for each name they cover, synonyms apart."""
    return list(_data()["word"])


def name_of_oklab(oklab: ArrayLike) -> NDArray[np.str_]:
    """The name, one of `colour_names`, of each OKLab colour (..., 3), beyond sRGB too."""
    return _name_array()[place_of_name(oklab)]


def place_of_name(oklab: ArrayLike) -> IndexArray:
    """The place in `colour_names` of the name of each OKLab colour (..., 3), shape (...)."""
    lch = oklab_to_oklch(oklab)
    return _name_index(lch.reshape(-1, 3)).reshape(lch.shape[:-1])


@cache
def _name_array() -> NDArray[np.str_]:
    return np.array(colour_names())


def word_region(word: str) -> WordRegion:
    """The region of colours that a person may mean by a word.

    Parameters
    ----------
    word : str
        One of `known_words`; with pale, light, dark or deep before it for its lighter or
        darker half, with bright, vivid or dull for its stronger or weaker colours; or two words
        joined by a space, a hyphen, a slash, ``to`` or ``or``, which stands for both together.

    Raises
    ------
    UnknownNameError
        If it is none of these; the message suggests the nearest words.
    """
    region = _region(_normalise_word(word)) if len(word) <= _LONGEST_TEXT else None
    if region is None:
        raise _unknown(word)
    return WordRegion(word, *region)


def word_share(word: str) -> FloatArray:
    """Share of each of `fine_colours` in the region of a word, shape (n,); the sum is 1."""
    share = _resolve(_normalise_word(word)) if len(word) <= _LONGEST_TEXT else None
    if share is None:
        raise _unknown(word)
    return share


def names_of_word(word: str) -> tuple[str, ...]:
    """Names that a word stands for: those it covers by more than half.

    Empty where it stands for part of a name's colours, as ``dull blue`` does. Errors as in
    `word_region`.
    """
    if len(word) > _LONGEST_TEXT or _resolve(_normalise_word(word)) is None:
        raise _unknown(word)
    weight = _weights(_normalise_word(word))
    if weight is None:
        return ()
    return tuple(np.array(colour_names())[weight > 0.5].tolist())


def _weights(text: str) -> FloatArray | None:
    """Weight of a word in plain form over `colour_names`; None where it takes part of them."""
    if text in _vocabulary():
        return _vocabulary()[text]
    left, joint, right = re.sub(r" (?:or|and) ", " to ", text).partition(" to ")
    if joint:
        return _larger(left, right)
    for spoken, kind in _SHADES.items():
        if text.startswith(spoken + " "):
            return _vocabulary().get(f"{kind} {text.removeprefix(spoken + ' ')}")
    parts = text.split(" ")
    pairs = ((" ".join(parts[:cut]), " ".join(parts[cut:])) for cut in range(1, len(parts)))
    return next((both for pair in pairs if (both := _larger(*pair)) is not None), None)


def _larger(left: str, right: str) -> FloatArray | None:
    one, two = _weights(left), _weights(right)
    return None if one is None or two is None else np.maximum(one, two)


def words_over_names() -> FloatArray:
    """Sum over the common words, synonyms apart, of their weights for each of `colour_names`."""
    rows = [_vocabulary()[_normalise_word(word)] for word in single_words()]
    total: FloatArray = np.sum(rows, axis=0)
    return total


def _unknown(word: str) -> UnknownNameError:
    hint = (
        suggest_nearest(word[:_LONGEST_TEXT], known_words())
        or "try straw, purple, dark blue or silver"
    )
    return UnknownNameError(f"colour word {shorten(word)!r} is not one we know; {hint}")


@lru_cache(maxsize=256)
def _region(text: str) -> tuple[FloatArray, FloatArray, float] | None:
    share = _resolve(text)
    if share is None:
        return None
    inside = share > 0
    points, weight, spread = _thin(fine_colours().lab[inside], share[inside])
    points.flags.writeable = weight.flags.writeable = False
    return points, weight, spread


def _resolve(text: str) -> FloatArray | None:
    """Share of each fine colour in a word given in plain form; None if the word is unknown."""
    if text in _vocabulary():
        return _share(text)
    readings = (read(text) for read in (_resolve_either, _resolve_shade, _resolve_pair))
    return next((share for share in readings if share is not None), None)


@lru_cache(maxsize=64)
def _share(text: str) -> FloatArray:
    """Share of each fine colour in one word of the vocabulary.

    Names the word covers fully count throughout; names it covers in part count by their
    weight where they lie near, and less the farther they are from the full ones.
    """
    fine = fine_colours()
    weight = _vocabulary()[text][fine.name]
    full = np.zeros(LATTICE_SHAPE, dtype=bool)
    full[fine.place] = weight >= weight.max()
    reach = 3.0 * NEIGHBOUR_REACH / LATTICE_STEP_DELTA_E
    distance = LATTICE_STEP_DELTA_E * np.sqrt(_squares_to(full, reach)[fine.place])
    near = distance < 3.0 * NEIGHBOUR_REACH
    weight = weight * np.where(near, np.exp(-0.5 * (distance / NEIGHBOUR_REACH) ** 2), 0.0)
    share: FloatArray = weight / weight.sum()
    return share


def _squares_to(inside: BoolArray, reach: float) -> FloatArray:
    """Squared distance [steps²] of each place to the nearest inside; infinite from ``reach`` on.

    Axis by axis, each by the least of its neighbours along it, as far as they count, and only in
    the box that they reach.
    """
    whole = np.full(inside.shape, np.inf)
    box = tuple(
        slice(max(0, int(along.min()) - math.ceil(reach)), int(along.max()) + math.ceil(reach) + 1)
        for along in np.nonzero(inside)
    )
    squares = np.where(inside[box], 0.0, np.inf)
    for axis in range(squares.ndim):
        along = np.moveaxis(squares, axis, 0)
        nearest = along.copy()
        for step in range(1, min(math.ceil(reach), len(along))):
            np.minimum(nearest[step:], along[:-step] + step**2, out=nearest[step:])
            np.minimum(nearest[:-step], along[step:] + step**2, out=nearest[:-step])
        squares = np.moveaxis(nearest, 0, axis)
    whole[box] = np.where(squares < reach * reach, squares, np.inf)
    return whole


def _resolve_either(text: str) -> FloatArray | None:
    """``blue to violet``, ``straw or gold``: the mean of the two regions."""
    left, joint, right = re.sub(r" (?:or|and) ", " to ", text).partition(" to ")
    return _mean(left, right) if joint else None


def _resolve_shade(text: str) -> FloatArray | None:
    """A word with pale, dark, vivid or dull before it: its own region, else half the word's."""
    for spoken, kind in _SHADES.items():
        if text.startswith(spoken + " "):
            rest = text.removeprefix(spoken + " ")
            if f"{kind} {rest}" in _vocabulary():
                return _resolve(f"{kind} {rest}")
            whole = _resolve(rest)
            return None if whole is None else _half(whole, kind)
    return None


def _resolve_pair(text: str) -> FloatArray | None:
    """Two known words side by side, ``brown purple``: the mean of the two regions."""
    parts = text.split(" ")
    for cut in range(1, len(parts)):
        both = _mean(" ".join(parts[:cut]), " ".join(parts[cut:]))
        if both is not None:
            return both
    return None


def _mean(left: str, right: str) -> FloatArray | None:
    one, two = _resolve(left), _resolve(right)
    return None if one is None or two is None else 0.5 * (one + two)


def _half(weight: FloatArray, kind: str) -> FloatArray:
    """The pale or dark half of a region, cut at its median lightness; or a region weighed towards
    its vivid or dull colours by their rank in chroma, for there people draw no border."""
    lab = fine_colours().lab
    by_lightness = kind in ("pale", "dark")
    measure = lab[:, 0] if by_lightness else np.hypot(lab[:, 1], lab[:, 2])
    order = np.argsort(measure, kind="stable")
    below = np.empty_like(weight)
    below[order] = np.cumsum(weight[order])
    rank = below if kind in ("pale", "vivid") else 1.0 - below + weight
    kept = weight * (rank >= 0.5 if by_lightness else rank)
    half: FloatArray = kept / kept.sum()
    return half


def _normalise_word(word: str) -> str:
    """A word in small letters, with single spaces for hyphens, slashes and the like."""
    return " ".join(re.split(r"[\s\-_/]+", word.strip().casefold()))


def _thin(lab: FloatArray, weight: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Points, weights and spread: centres of gravity of cubes just large enough to be few."""
    step = 2.0 * LATTICE_STEP_DELTA_E
    while True:
        place = np.floor(lab / step + 100.0).astype(np.int64)  # 100 keeps them positive
        _, cube = np.unique(place @ [1_000_000, 1_000, 1], return_inverse=True)
        share = np.bincount(cube, weights=weight)
        if share.size <= MAX_POINTS:
            break
        step *= max(1.03, 0.9 * float(share.size / MAX_POINTS) ** (1.0 / 3.0))
    centre = [np.bincount(cube, weights=weight * lab[:, c]) / share for c in range(3)]
    spread = max(PEOPLE_SPREAD_DELTA_E, _SPREAD_PER_SPACING * step)
    return np.stack(centre, axis=-1), share / share.sum(), spread


@cache
def _vocabulary() -> dict[str, FloatArray]:
    """For each word in plain form, its weight over `colour_names`."""
    names = colour_names()
    words = {
        _normalise_word(word): np.array([cells.get(name, 0.0) for name in names], dtype=np.float64)
        for word, cells in (_data()["word"] | _data()["trade"]).items()
    }
    others = {_normalise_word(a): words[_normalise_word(b)] for a, b in _data()["synonym"].items()}
    return {**words, **others}


@dataclass(frozen=True, eq=False)
class FineColours:
    """A fine lattice over the colours films show.

    CIELAB (n, 3), the index of each colour's name, and its place in an array of `LATTICE_SHAPE`.
    """

    lab: FloatArray
    name: IndexArray
    place: tuple[IndexArray, ...]


@cache
def fine_colours() -> FineColours:
    """The lattice that words are made of."""
    place = np.stack(np.nonzero(_may_be_seen()), axis=-1)
    lab = LATTICE_ORIGIN + LATTICE_STEP_DELTA_E * place
    xyz = lab_to_xyz(lab, SRGB_WHITE_XYZ)
    linear = xyz_to_srgb_linear(xyz, SRGB_WHITE_XYZ)
    luminance = xyz[:, 1] / 100.0
    seen = (linear.min(axis=-1) >= -_BEYOND_SRGB * luminance) & (linear.max(axis=-1) <= 1.0)
    lch = oklab_to_oklch(srgb_linear_to_oklab(linear[seen]))
    return FineColours(lab[seen], _name_index(lch), tuple(place[seen].T))


def _may_be_seen() -> BoolArray:
    """Places of the lattice that are, or but for rounding would be, colours films show.

    X depends on L* and a* alone, Y on L*, Z on L* and b*: three planes stand for the whole.
    """
    L, a, b = (
        LATTICE_ORIGIN[axis] + LATTICE_STEP_DELTA_E * np.arange(count)
        for axis, count in enumerate(LATTICE_SHAPE)
    )
    by_a = np.stack(np.broadcast_arrays(L[:, None], a, 0.0), axis=-1)
    by_b = np.stack(np.broadcast_arrays(L[:, None], 0.0, b), axis=-1)
    xyz_a, xyz_b = lab_to_xyz(by_a, SRGB_WHITE_XYZ), lab_to_xyz(by_b, SRGB_WHITE_XYZ)
    xyz_b[..., :2] = 0.0
    xyz_a[..., 2] = 0.0
    linear_a = xyz_to_srgb_linear(xyz_a, SRGB_WHITE_XYZ)[:, :, None]
    linear_b = xyz_to_srgb_linear(xyz_b, SRGB_WHITE_XYZ)[:, None]
    luminance = xyz_a[:, :, None, 1] / 100.0
    low, high = -_BEYOND_SRGB * luminance - _ROUNDING, 1.0 + _ROUNDING
    channels = (linear_a[..., c] + linear_b[..., c] for c in range(3))
    return np.asarray(np.all([(one >= low) & (one <= high) for one in channels], axis=0))


def _name_index(lch: FloatArray) -> IndexArray:
    """Index into `colour_names` of OKLCH colours, shape (n, 3)."""
    lightness, chroma, hue = lch.T
    index = np.empty(lightness.shape, dtype=np.intp)
    begins, sectors = _sectors()
    own = np.searchsorted(begins, hue, side="right") - 1  # before the first: in the last
    for i in set(own.tolist()):
        rows = np.flatnonzero(own == i)
        light_from, strong_from, place = sectors[i]
        light, strong = lightness[rows, None], chroma[rows, None]
        index[rows] = place[((light >= light_from) & (strong >= strong_from)).argmax(axis=1)]
    light_from, dull_below, place = _neutral()
    band = (lightness[:, None] >= light_from).argmax(axis=1)
    return np.where(chroma < dull_below[band], place[band], index)


@cache
def _sectors() -> tuple[FloatArray, list[tuple[FloatArray, FloatArray, IndexArray]]]:
    """Where the sectors of hue begin [degrees], and the rules of each: least lightness and chroma,
    and place of the name."""
    sectors = sorted(_data()["sector"], key=lambda sector: float(sector["hue_deg"][0]))
    rules = [_columns(sector["rules"]) for sector in sectors]
    return np.array([sector["hue_deg"][0] for sector in sectors]), rules


@cache
def _neutral() -> tuple[FloatArray, FloatArray, IndexArray]:
    """Of the bands of grey: least lightness, chroma that is none of theirs, place of the name."""
    return _columns([[b["L_from"], b["C_below"], b["name"]] for b in _data()["neutral"]])


def _columns(rows: list[list[Any]]) -> tuple[FloatArray, FloatArray, IndexArray]:
    place = {name: i for i, name in enumerate(colour_names())}
    light, strong, names = zip(*rows, strict=True)
    return np.array(light), np.array(strong), np.array([place[name] for name in names])


@cache
def _data() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("words.toml").read_text("utf-8"))
