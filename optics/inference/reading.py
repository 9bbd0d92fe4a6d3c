"""A colour as somebody reports it: a word, a hex value or a CIELAB reading."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .._typing import FloatArray
from ..colour.colour import Colour, xyz_to_colour
from ..colour.illuminants import white_xyz
from ..colour.names import word_region
from ..colour.spaces import SRGB_WHITE_XYZ, lab_to_xyz, parse_hex, srgb_to_lab
from ..errors import InputError, shorten
from ..films.engine.thickness_scan import View
from ..units import NUMBER, parse_quantity
from .uncertainty import Uncertainty, uncertainty_for

_HEX = re.compile(r"#?(?:[0-9a-fA-F]{6}|[0-9a-fA-F]{3})")
_LAB = re.compile(rf"({NUMBER})\s*[,;\s]\s*({NUMBER})\s*[,;\s]\s*({NUMBER})")
_BLACK_L = 10.0  # lightness below which a look through is called black
_ANGLE = re.compile(r"\bangle\s*=\s*(\S+)")
_HOW = re.compile(r"\bhow\s*=\s*(\S+)")


@dataclass(frozen=True, eq=False)
class Reading:
    """One look at the spot.

    Attributes
    ----------
    text : str
        As reported.
    how : str
        ``word``, ``photo``, ``card`` or ``instrument``.
    points_lab : ndarray, shape (K, 3)
        CIELAB points (D65 white) that stand for the reading: one, or the region of a word.
    weight : ndarray, shape (K,)
        Shares of the points; they sum to 1.
    doubts : Uncertainty
    view : {"front", "through", "back"}
        Seen from the film's side, through the piece, or from behind a clear one.
    warnings : tuple of str
        What weakens the reading.
    word : str
        The word for the colour; empty where it was no word.
    stated : tuple of str
        Names of the doubts that are not the defaults of such a reading.
    """

    text: str
    how: str
    points_lab: FloatArray
    weight: FloatArray
    doubts: Uncertainty
    view: View = "front"
    warnings: tuple[str, ...] = ()
    word: str = ""
    stated: tuple[str, ...] = ()

    def json_fields(self) -> dict[str, Any]:
        """Its fields as plain data; the points of a word are left out."""
        read = self.colour
        return {
            "text": self.text,
            "how": self.how,
            "view": self.view,
            "srgb_hex": None if read is None else str(read.srgb_hex),
            "lab": None if read is None else read.lab.tolist(),
            "doubts": self._doubts(),
        }

    def _doubts(self) -> dict[str, float]:
        """The doubts by name; a lamp only where the piece was held to one."""
        lit = self.doubts.lamp_lift != 1.0
        return {name: v for name, v in vars(self.doubts).items() if lit or name != "lamp_lift"}

    @property
    def shows_hue(self) -> bool:
        """Whether light was seen through a film that dims it: anything but black."""
        return self.doubts.lamp_lift > 1.0 and float(self.weight @ self.points_lab[:, 0]) > _BLACK_L

    def held_to_lamp(self) -> Reading:
        """A look through a film that dims the light, where eye or phone did the looking."""
        if self.view != "through" or self.how not in ("word", "photo"):
            return self
        return replace(self, doubts=self.doubts.held_to_lamp(self.stated))

    @property
    def colour(self) -> Colour | None:
        """The colour read, under D65; None for a word, which stands for many."""
        if self.word or len(self.points_lab) != 1:
            return None
        return xyz_to_colour(lab_to_xyz(self.points_lab[0], white_xyz("D65", 2)))

    @property
    def middle_hex(self) -> str:
        """The middle of what it stands for as a colour to show."""
        middle = self.weight @ self.points_lab
        return str(xyz_to_colour(lab_to_xyz(middle, SRGB_WHITE_XYZ)).srgb_hex)


def parse_reading(
    text: str,
    how: str | None = None,
    *,
    angle: str | None = None,
    settings: Mapping[str, float] | None = None,
    view: View = "front",
) -> Reading:
    """Read a colour as people write it.

    Parameters
    ----------
    text : str
        ``purple``, ``#6a3fa0`` or ``48,20,-35`` (L*, a*, b*), each with ``angle=60`` after it
        where the piece was tilted, and ``how=card`` where it was not read in the usual way.
    how : str, optional
        How it was read where the text does not say; by default ``word`` for words, ``photo`` for
        hex values and ``instrument`` for CIELAB.
    angle : str, optional
        Viewing angle [°] where the text states none.
    settings : mapping, optional
        Doubts by name, in place of the defaults of that way of reading.
    view : {"front", "through", "back"}

    Raises
    ------
    InputError
        If it is no colour, or L*, a*, b* are out of any reach.
    """
    colour, tilt = _take_out(_ANGLE, text, "angle")
    colour, read = _take_out(_HOW, colour, "how")
    points, weight, spread, usual = _points(colour.strip())
    stated = read if read is not None else how
    way = usual if stated is None else stated
    if usual == "word" and way == "instrument":
        raise InputError(
            f"the reading {shorten(colour)!r} is a word, and an instrument shows numbers; leave "
            f"`how` out, or give L*,a*,b*",
            parameter="how",
        )
    chosen = replace(uncertainty_for(way), **(settings or {}))
    if spread:
        chosen = replace(chosen, noise_de=max(chosen.noise_de, spread * math.sqrt(3.0)))
    tilt = angle if tilt is None else tilt
    if tilt is not None:
        chosen = chosen.with_angle(parse_quantity(tilt, "angle_deg", "the angle"))
    word = colour.strip() if usual == "word" else ""
    return Reading(
        text.strip(), way, points, weight, chosen, view, word=word, stated=tuple(settings or ())
    )


def _take_out(stated: re.Pattern[str], text: str, what: str) -> tuple[str, str | None]:
    """A text without what it states of itself, and what that is; None where nothing is stated."""
    found = stated.findall(text)
    if len(found) > 1:
        raise InputError(f"the reading {shorten(text)!r} states its {what} more than once")
    return stated.sub("", text), found[0] if found else None


def complete_text(text: str, *, how: str | None = None, angle: str | None = None) -> str:
    """A reading's text that states its angle and how it was read, as far as that is known."""
    for stated, known in ((_ANGLE, angle), (_HOW, how)):
        if known is not None and not stated.search(text):
            text = f"{text.strip()} {'angle' if stated is _ANGLE else 'how'}={known.strip()}"
    return text


def write_reading(reading: Reading) -> str:
    """A reading in words that :func:`parse_reading` takes: ``48.0,20.1,-35.2 how=card``."""
    lab = reading.weight @ reading.points_lab
    return complete_text(",".join(f"{value:.1f}" for value in lab), how=reading.how)


def _points(colour: str) -> tuple[FloatArray, FloatArray, float, str]:
    """Points, weights, spread per axis [ΔE] and the usual way such a reading is made."""
    if _HEX.fullmatch(colour):
        return srgb_to_lab(parse_hex(colour))[None], np.ones(1), 0.0, "photo"
    if match := _LAB.fullmatch(colour.replace("−", "-")):  # the minus of some spreadsheets
        lab = np.array([float(number) for number in match.groups()])
        if not (0.0 <= lab[0] <= 100.0 and np.all(np.abs(lab[1:]) <= 150.0)):
            raise InputError(
                f"the reading {shorten(colour)!r} is no CIELAB colour: L* runs from 0 to 100, a* "
                f"and b* from -150 to 150"
            )
        return lab[None], np.ones(1), 0.0, "instrument"
    if not re.search(r"[^\W\d_]", colour) or colour.startswith("#"):
        raise InputError(
            f"the reading {shorten(colour)!r} is no colour; write a word such as purple, a hex "
            f"value such as #6a3fa0, or L*,a*,b* such as 48,20,-35"
        )
    region = word_region(colour)
    return region.points_lab, region.weight, region.spread_delta_e, "word"


def as_readings(
    seen: str | Reading | Sequence[str | Reading], parameter: str = "seen"
) -> tuple[Reading, ...]:
    """Readings from what a caller gave: texts such as ``purple``, readings, or several of them.

    Raises
    ------
    InputError
        If one is neither, or no colour.
    """
    several = [seen] if isinstance(seen, str | Reading) else seen
    if not isinstance(several, Sequence):
        raise InputError(
            f"`{parameter}` is a colour such as 'purple', a Reading, or several of them, "
            f"not {seen!r:.80}",
            parameter=parameter,
        )
    found = []
    for one in several:
        if not isinstance(one, str | Reading):
            raise InputError(
                f"`{parameter}` holds {one!r:.80}, which is no colour such as 'purple' or "
                f"'#6a3fa0'",
                parameter=parameter,
            )
        found.append(parse_reading(one) if isinstance(one, str) else one)
    return tuple(found)
