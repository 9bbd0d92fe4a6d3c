"""The colour of a rectangle of a picture, with its scatter."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .._typing import BoolArray, FloatArray
from ..colour.spaces import srgb_encode, srgb_to_lab
from ..errors import InputError, shorten
from .linear_light import Picture

MIN_PIXELS = 9
"""The fewest pixels a patch may have: below, its scatter cannot be told."""

MAX_CLIPPED, MAX_DARK, MAX_TRANSPARENT = 0.2, 0.5, 0.5
"""Shares of a patch above which it is refused: stated defaults."""

TRIM = 0.1
"""Share of the pixels dropped at each end of the order of luminance: a stated default."""

UNEVEN_DE = 5.0
"""Scatter across a patch [ΔE] above which we say so: more than a just visible step."""

_TILES = 4
_FIELD = re.compile(r"(\d+(?:\.\d+)?)\s*(%?)")
# Luminance of linear sRGB, IEC 61966-2-1; used for ordering pixels alone.
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])


@dataclass(frozen=True)
class Patch:
    """A rectangle of a picture, turned upright.

    Attributes
    ----------
    x, y : float
        Left and upper edge, from the left and upper edge of the picture.
    width, height : float
    percent : bool
        All four in percent of the picture's width and height; otherwise in pixels.
    """

    x: float
    y: float
    width: float
    height: float
    percent: bool = False

    def __str__(self) -> str:
        sign = "%" if self.percent else ""
        return ",".join(f"{v:g}{sign}" for v in (self.x, self.y, self.width, self.height))

    def box(self, shape: tuple[int, ...]) -> tuple[slice, slice]:
        """Rows and columns in a picture of shape (H, W, ...).

        Raises
        ------
        InputError
            If it leaves the picture or has fewer than nine pixels.
        """
        rows, columns = shape[:2]
        edges = np.array([self.x, self.x + self.width, self.y, self.y + self.height])
        if self.percent:
            edges = edges / 100.0 * [columns, columns, rows, rows]
        edges = np.rint(edges)
        if edges[1] > columns or edges[3] > rows:
            raise InputError(
                f"the patch {self} leaves the picture, which is {columns} pixels wide and {rows} "
                "high"
            )
        left, right, top, bottom = (int(edge) for edge in edges)
        if (right - left) * (bottom - top) < MIN_PIXELS:
            raise InputError(f"the patch {self} has fewer than {MIN_PIXELS} pixels")
        return slice(top, bottom), slice(left, right)


@dataclass(frozen=True, eq=False)
class PatchColour:
    """What a patch of a picture shows, as the camera has it.

    Attributes
    ----------
    patch : Patch
    linear : ndarray, shape (3,)
        Trimmed mean of linear sRGB.
    covariance_lab : ndarray, shape (3, 3)
        Covariance of that mean in CIELAB.
    scatter_lab : ndarray, shape (3, 3)
        Covariance of CIELAB between up to 4 × 4 tiles of the patch: how uneven it is.
    clipped, dark, crushed : float
        Share of the patch's opaque pixels with a channel at its top, too dark to tell, and with
        a channel at its bottom.
    pixels : int
        How many went into the mean.
    warnings : tuple of str
    """

    patch: Patch
    linear: FloatArray
    covariance_lab: FloatArray
    scatter_lab: FloatArray
    clipped: float
    dark: float
    crushed: float
    pixels: int
    warnings: tuple[str, ...]

    @property
    def lab(self) -> FloatArray:
        """CIELAB (D65) of the mean, shape (3,)."""
        return linear_to_lab(self.linear)


def parse_patch(text: str) -> Patch:
    """Read ``x,y,width,height`` in pixels, ``40,30,25,25``, or percent, ``40%,30%,5%,5%``.

    Raises
    ------
    InputError
        If it is not four numbers of one kind, or the rectangle has no area.
    """
    fields = [_FIELD.fullmatch(part.strip()) for part in text.split(",")]
    kinds = {match[2] for match in fields if match}
    if len(fields) != 4 or not all(fields) or len(kinds) != 1:
        raise InputError(
            f"the patch {shorten(text)!r} is not x,y,width,height in pixels such as 40,30,25,25 "
            "or all in percent such as 40%,30%,5%,5%"
        )
    x, y, width, height = (float(match[1]) for match in fields if match)
    percent = kinds == {"%"}
    if not all(map(math.isfinite, (x, y, width, height))):
        raise InputError(f"the patch {shorten(text)!r} lies beyond any picture")
    if not percent and not all(v.is_integer() for v in (x, y, width, height)):
        raise InputError(f"the patch {shorten(text)!r} must be in whole pixels")
    if width == 0 or height == 0:
        raise InputError(f"the patch {shorten(text)!r} has no area")
    return Patch(x, y, width, height, percent)


def linear_to_lab(linear: ArrayLike) -> FloatArray:
    """CIELAB (D65) of linear sRGB, shapes (..., 3)."""
    return srgb_to_lab(srgb_encode(linear))


def read_patch(picture: Picture, patch: Patch) -> PatchColour:
    """The colour of a patch.

    Parameters
    ----------
    picture : Picture
    patch : Patch

    Returns
    -------
    PatchColour

    Raises
    ------
    InputError
        If the patch leaves the picture, has fewer than nine pixels, or is for more than 20 %
        clipped, 50 % too dark or 50 % transparent.

    Notes
    -----
    Transparent and clipped pixels are left out; of the others the tenth with the highest and the
    tenth with the lowest luminance are dropped whole, and the mean of the rest is taken in linear
    light, where light adds. So a patch stands up to glints and dust on up to a tenth of it. The
    noise of neighbouring pixels hangs together (demosaicing, denoising, JPEG), so the scatter
    is taken between up to 4 × 4 tiles and not between pixels. For it the dropped pixels count as
    the last ones kept, for so much does a trimmed mean move with them (Tukey and McLaughlin,
    Sankhyā A 25 (1963) 331).
    """
    rows, columns = patch.box(picture.linear.shape)
    clipped, valid = picture.clipped[rows, columns], picture.valid[rows, columns]
    usable = valid & ~clipped
    shares = _check_shares(picture, patch, rows, columns, int(usable.sum()))
    mean, tiles, pixels = _trimmed_means(picture.linear[rows, columns].astype(np.float64), usable)
    scatter = np.cov(linear_to_lab(tiles).T)
    return PatchColour(
        patch=patch,
        linear=mean,
        covariance_lab=scatter / len(tiles),
        scatter_lab=scatter,
        clipped=shares[0],
        dark=shares[1],
        crushed=shares[2],
        pixels=pixels,
        warnings=_warnings(patch, *shares, float(np.sqrt(np.trace(scatter)))),
    )


def _check_shares(
    picture: Picture, patch: Patch, rows: slice, columns: slice, usable: int
) -> tuple[float, float, float]:
    """Shares clipped, dark and crushed of the opaque pixels; refuses what has too much of one."""
    valid = picture.valid[rows, columns]
    if valid.mean() < 1.0 - MAX_TRANSPARENT:
        raise InputError(f"the patch {patch} is for {1.0 - valid.mean():.0%} transparent")
    masks = (picture.clipped, picture.dark, picture.crushed)
    clipped, dark, crushed = (float(mask[rows, columns][valid].mean()) for mask in masks)
    if clipped > MAX_CLIPPED:
        raise InputError(
            f"the patch {patch} is for {clipped:.0%} overexposed; take the picture darker or "
            "choose a patch without glare"
        )
    if dark > MAX_DARK:
        raise InputError(
            f"the patch {patch} is for {dark:.0%} too dark to tell a colour; give it more light"
        )
    if usable < MIN_PIXELS:
        raise InputError(f"the patch {patch} has fewer than {MIN_PIXELS} pixels fit for use")
    return clipped, dark, crushed


def _trimmed_means(linear: FloatArray, usable: BoolArray) -> tuple[FloatArray, FloatArray, int]:
    """Trimmed mean (3,), means of tiles scattered as their trimmed means are (n, 3), and how many
    pixels were kept, of colours (h, w, 3)."""
    colours = linear[usable]
    order = np.argsort(colours @ _LUMINANCE, kind="stable")
    drop = int(TRIM * order.size)
    kept = order[drop : order.size - drop]
    mean = colours[kept].mean(axis=0)
    # One pixel's colour is noise; the last tenth of the kept ones tells what lies at the cut.
    near = max(1, kept.size // 10)
    levelled = colours.copy()
    levelled[order[:drop]] = colours[kept[:near]].mean(axis=0)
    levelled[order[order.size - drop :]] = colours[kept[-near:]].mean(axis=0)
    shares = _tile_means(levelled, usable)
    return mean, mean + (shares - levelled.mean(axis=0)) * (order.size / kept.size), kept.size


def _tile_means(colours: FloatArray, usable: BoolArray) -> FloatArray:
    """Means of the usable pixels' colours (m, 3) in up to 4 × 4 tiles, shape (n, 3).

    Tiles without a usable pixel are left out; if fewer than three remain each pixel is a tile.
    """
    height, width = usable.shape
    row = np.arange(height) * min(_TILES, height) // height
    column = np.arange(width) * min(_TILES, width) // width
    tile = (row[:, None] * _TILES + column)[usable]
    count = np.bincount(tile, minlength=_TILES**2)
    filled = count > 0
    if filled.sum() < 3:
        return colours
    total = [np.bincount(tile, colours[:, c], minlength=_TILES**2) for c in range(3)]
    return np.stack(total, axis=-1)[filled] / count[filled, None]


def _warnings(
    patch: Patch, clipped: float, dark: float, crushed: float, uneven_de: float
) -> tuple[str, ...]:
    said = (
        (clipped > 0.02, f"{clipped:.0%} of the patch {patch} is overexposed and left out"),
        (dark > 0.1, f"{dark:.0%} of the patch {patch} is too dark to tell a colour"),
        (
            crushed > MAX_CLIPPED,
            f"a channel of the patch {patch} is at zero: its colour is more saturated than the "
            "picture can hold",
        ),
        (
            uneven_de > UNEVEN_DE,
            f"the patch {patch} is uneven by {uneven_de:.0f} ΔE; a smaller one says more",
        ),
    )
    return tuple(text for applies, text in said if applies)
