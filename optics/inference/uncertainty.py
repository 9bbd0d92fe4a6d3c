"""What may be off between the colour a film has and the colour somebody reports."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import Literal

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, OutOfRangeError, UnknownNameError, suggest_nearest
from ..units import NUMBER

_MOST = 200.0  # colours lie no further apart, and angles and shares end well before
VEIL = 0.4  # luminance of the veil against a white, what a light room throws back
How = Literal["word", "photo", "card", "instrument"]


@dataclass(frozen=True)
class Uncertainty:
    """Spread of everything that stands between film and reading; all are stated defaults.

    Attributes
    ----------
    noise_de : float
        Scatter of the reading itself [ΔE, total over L*, a*, b*], one standard deviation.
    discrepancy_de : float
        How far the model may miss the truth whatever its parameters [ΔE, total].
    gain : float
        Standard deviation of the logarithm of the exposure [-].
    white_balance_de : float
        Error of the white balance [ΔE, total over a*, b*].
    glare : float
        Largest share of the light [-] that is not the film's: a veil of 40 % white, uniform from 0.
    angle_low_deg, angle_high_deg : float
        The viewing angle is somewhere between the two [°].
    index_spread : float
        Relative standard deviation of the film's index about its data set [-].
    lamp_lift : float
        Largest factor by which an eye or a phone lifts a dim picture [-], of a piece held to a
        lamp; 1 for all other looks.
    tone : float
        Largest share [-] by which a camera may draw out contrast, and by a quarter more the
        colours; 0 for one whose curve is neutral, and for what is no camera.
    lamp : float
        Largest share [-] of the light that may be of another kind than stated, a tube or a white
        diode; 0 where the light is known.

    Notes
    -----
    The defaults are those at which simulated readings of phones, cards and colour meters were
    described well; a discrepancy of 3 ΔE is what keeps intervals honest for a film whose data set
    is not among those shipped.
    """

    noise_de: float
    discrepancy_de: float = 3.0
    gain: float = 0.0
    white_balance_de: float = 0.0
    glare: float = 0.0
    angle_low_deg: float = 0.0
    angle_high_deg: float = 0.0
    index_spread: float = 0.025
    lamp_lift: float = 1.0
    tone: float = 0.0
    lamp: float = 0.0

    def __post_init__(self) -> None:
        for item in fields(self):
            value = getattr(self, item.name)
            if not 0.0 <= value <= _MOST:
                raise OutOfRangeError(
                    f"the doubt {item.name} is {value:g}; it must be 0 to {_MOST:g}"
                )
        if self.noise_de**2 + self.discrepancy_de**2 < 0.01:
            raise OutOfRangeError("noise and discrepancy together must be at least 0.1 ΔE")
        if self.glare > 0.9 or self.gain > 1.0 or self.index_spread > 0.1:
            raise OutOfRangeError("glare goes to 0.9, gain to 1 and index_spread to 0.1 at most")
        if self.tone > 1.0 or self.lamp > 1.0:
            raise OutOfRangeError("tone and lamp go to 1 at most")
        if self.lamp_lift < 1.0:
            raise OutOfRangeError(
                f"the doubt lamp_lift is {self.lamp_lift:g}; it must be 1 or more"
            )
        if not self.angle_low_deg <= self.angle_high_deg <= 85.0:
            raise OutOfRangeError("the viewing angle must run upwards, to at most 85 degrees")

    @property
    def lightness_variance(self) -> float:
        """Variance of L* from noise and discrepancy."""
        return (self.noise_de**2 + self.discrepancy_de**2) / 3.0

    @property
    def chroma_variance(self) -> float:
        """Variance of each of a*, b*: as for L*, and half the white balance."""
        return self.lightness_variance + self.white_balance_de**2 / 2.0

    def held_to_lamp(self, stated: Collection[str] = ()) -> Uncertainty:
        """The same doubts about a look through what dims the light, save those that were stated.

        Against a lamp the room throws no veil, the eye adapts to what comes through, and there
        is no white to compare with (the figures are judgements).
        """
        lamp = {
            "glare": 0.0,
            "gain": max(self.gain, 0.3),
            "white_balance_de": max(self.white_balance_de, 12.0),
            "lamp_lift": 30.0,
        }
        return replace(self, **{name: v for name, v in lamp.items() if name not in stated})

    def with_angle(self, angle_deg: float) -> Uncertainty:
        """The same doubts about a reading taken at a stated angle.

        Unstated angles are near-normal with a doubt of their own; a stated one is met to within
        a sixth of that doubt on either side (5° by eye, nothing for an instrument).
        """
        slack = (self.angle_high_deg - self.angle_low_deg) / 6.0
        most = 85.0 - slack
        if not 0.0 <= angle_deg <= most:
            raise OutOfRangeError(
                f"a viewing angle of {angle_deg:g}° is not between 0 and {most:g}°"
            )
        return replace(
            self, angle_low_deg=max(0.0, angle_deg - slack), angle_high_deg=angle_deg + slack
        )


DEFAULTS: dict[str, Uncertainty] = {
    # Where people draw the border of a word scatters by 5 in each axis.
    "word": Uncertainty(
        noise_de=8.7, gain=0.10, white_balance_de=4.0, glare=0.20, angle_high_deg=30.0
    ),
    "photo": Uncertainty(
        noise_de=3.0,
        gain=0.10,
        white_balance_de=4.0,
        glare=0.20,
        angle_high_deg=30.0,
        tone=0.4,
        lamp=1.0,
    ),
    "card": Uncertainty(
        noise_de=2.0,
        gain=0.03,
        white_balance_de=1.0,
        glare=0.05,
        angle_high_deg=10.0,
        tone=0.4,
        lamp=1.0,
    ),
    "instrument": Uncertainty(noise_de=0.5),
}
"""Doubts by how the colour was read: named by eye, from a phone photo, from a photo with a white
card beside the piece, by a colour meter."""


def uncertainty_for(how: str) -> Uncertainty:
    """The stated defaults for a way of reading a colour.

    Raises
    ------
    UnknownNameError
        For a way not in :data:`DEFAULTS`.
    """
    if how not in DEFAULTS:
        hint = suggest_nearest(how, list(DEFAULTS))
        raise UnknownNameError(
            f"unknown kind of reading {how!r}; use one of {', '.join(DEFAULTS)}"
            + (f" ({hint})" if hint else "")
        )
    return DEFAULTS[how]


def parse_uncertainty(settings: Sequence[str]) -> dict[str, float]:
    """Read settings such as ``glare=0.1``.

    Returns
    -------
    dict
        Values by the names of the fields of `Uncertainty`, fit for ``dataclasses.replace``.

    Raises
    ------
    InputError, UnknownNameError
        If one is not a name and a number, or the name is no doubt.
    """
    known = [item.name for item in fields(Uncertainty)]
    chosen: dict[str, float] = {}
    for setting in settings:
        name, _, value = (part.strip() for part in setting.partition("="))
        if name not in known:
            raise UnknownNameError(f"unknown doubt {name!r:.80}; use one of {', '.join(known)}")
        if not re.fullmatch(NUMBER, value):
            raise InputError(f"the doubt {setting!r} is not a name and a number, as in glare=0.1")
        if name in chosen:
            raise InputError(f"the doubt {name} is given twice")
        chosen[name] = float(value)
    return chosen


@lru_cache(maxsize=16)
def _legendre(count: int) -> tuple[FloatArray, FloatArray]:
    x, w = np.polynomial.legendre.leggauss(count)
    return x, w


def uniform_nodes(low: float, high: float, count: int) -> tuple[FloatArray, ...]:
    """Gauss–Legendre nodes and weights (summing to 1) for a value uniform from low to high."""
    if high == low:
        return np.array([low]), np.array([1.0])
    x, w = _legendre(count)
    return low + (high - low) * (x + 1.0) / 2.0, w / 2.0
