"""Places of a picture whose thickness is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..errors import InputError, OutOfRangeError, shorten
from ..images.image import Codes
from ..units import parse_quantity, parse_whole_numbers


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


def read_places(said: Sequence[KnownPlace | str]) -> list[KnownPlace]:
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


def check_places(
    places: Sequence[KnownPlace], codes: Codes, between_nm: tuple[float, float]
) -> None:
    """Refuse places outside the picture or of a thickness outside the range.

    Raises
    ------
    OutOfRangeError
        If one is.
    """
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
