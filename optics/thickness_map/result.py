"""Thickness of every pixel of a photo, as an answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from .._typing import SingleArray
from ..inference.hypotheses import FilmModel
from ..inference.uncertainty import Uncertainty
from ..result import Result

Line = tuple[int, int, int, int]
"""Column and row of both ends."""


@dataclass(frozen=True, eq=False, repr=False)
class FieldMap(Result):
    """Thickness of every pixel.

    Attributes
    ----------
    median_nm, low_nm, high_nm : ndarray of float32, shape (H, W)
        Middle and ends of the 90 % interval of the candidate taken [nm]; NaN where the piece
        is not, or nothing fits.
    order : ndarray of uint8, shape (H, W)
        Interference order; 0 where there is no thickness.
    share_fitted : float
        Share of the pixels with a thickness.
    share_of_tried : float
        Of the pixels that were tried, which are neither ground nor reference, the share that fits
        a film in question.
    films : tuple of str
    on : str
    doubts : Uncertainty
    pairs : tuple of FilmModel
    notes : tuple of str
    files : tuple of str
        Names of the files it was written to; empty before.
    folder : str
        Where they are.
    line : tuple of int or None
        Ends of the profile that was asked for.
    piece : str
        The place it was said to be in; empty where it was found.
    photo : str
        Name of the photo; empty where it is none that was read from a file.
    """

    verb: ClassVar[str] = "map"

    median_nm: SingleArray
    low_nm: SingleArray
    high_nm: SingleArray
    order: NDArray[np.uint8]
    share_fitted: float
    films: tuple[str, ...]
    on: str
    doubts: Uncertainty
    pairs: tuple[FilmModel, ...]
    notes: tuple[str, ...]
    files: tuple[str, ...] = ()
    folder: str = ""
    line: Line | None = None
    piece: str = ""
    share_of_tried: float = 1.0
    photo: str = ""

    @property
    def fits(self) -> bool:
        """Whether enough of what was tried shows a colour of the films: half of a stated place, a
        tenth of a picture, which may hold more than the piece (judgements)."""
        return self.share_of_tried >= (0.5 if self.piece else 0.1)

    def json_fields(self) -> dict[str, Any]:
        """The map in a few numbers; None where nothing fits."""
        fitted = self.order > 0
        quantiles, width = [None] * 3, None
        if fitted.any():  # what is copied out of the picture is let go at once
            quantiles = np.quantile(self.median_nm[fitted], [0.05, 0.5, 0.95]).tolist()
            width = float(np.median((self.high_nm - self.low_nm)[fitted], overwrite_input=True))
        return {
            "median_nm": quantiles[1],
            "interval90_nm": [quantiles[0], quantiles[2]],
            "pixel_interval90_width_nm": width,
            "share_fitted": self.share_fitted,
            "share_of_tried": self.share_of_tried,
            "orders": {
                str(order): float(np.mean(self.order == order))
                for order in range(1, int(self.order.max(initial=0)) + 1)
            },
            "photo": self.photo or None,
            "size": list(self.median_nm.shape[::-1]),
            "films": list(self.films),
            "on": self.on,
            "piece": self.piece or None,
            "notes": list(self.notes),
            "files": list(self.files),
        }
