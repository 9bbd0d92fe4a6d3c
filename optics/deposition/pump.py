"""A pump behind a tube: how fast gas really leaves the chamber."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray
from ..errors import InputError, OutOfRangeError
from ..units import parse_quantity
from .gases import molar_masses, read_data

_AIR_MOLAR_MASS = 28.96  # g/mol


@dataclass(frozen=True)
class Tube:
    """A round tube between chamber and pump.

    Attributes
    ----------
    length_cm, bore_cm : float
        Length and inner diameter [cm].
    """

    length_cm: float
    bore_cm: float

    def __post_init__(self) -> None:
        if not 0.1 <= self.length_cm <= 1e5:
            raise OutOfRangeError(
                f"the tube is {self.length_cm:g} cm long; it must be 0.1 cm to 1000 m",
                parameter="tube",
            )
        if not 0.01 <= self.bore_cm <= 200.0:
            raise OutOfRangeError(
                f"the tube is {self.bore_cm:g} cm wide inside; it must be 0.01 to 200 cm",
                parameter="tube",
            )

    def conductance_l_s(self, pressure_mbar: ArrayLike) -> FloatArray:
        """Conductance for each gas [l/s].

        Parameters
        ----------
        pressure_mbar : array_like, shape (...)
            Mean pressure in the tube [mbar].

        Returns
        -------
        ndarray, shape (..., gases)

        Notes
        -----
        Viscous ``C_v = 135 d⁴ p / l`` and molecular ``C_m = 12.1 d³ / l √(29/M)`` [l/s, cm, mbar],
        bridged by Knudsen's ``C = C_v + C_m (1 + 192 d p) / (1 + 237 d p)``: air at 20 °C, from
        memory; argon, a fifth more viscous, is taken as air. The opening of a short tube is in
        series with C_m, a hole of its bore, ``11.6 π d²/4``.
        """
        p = np.asarray(pressure_mbar, dtype=float)[..., None]
        d, length = self.bore_cm, self.length_cm
        lighter = np.sqrt(_AIR_MOLAR_MASS / molar_masses())
        viscous = 135.0 * d**4 * p / length
        molecular = 12.1 * d**3 / length * lighter
        opening = 11.6 * 0.25 * np.pi * d**2 * lighter
        slip = (1.0 + 192.0 * d * p) / (1.0 + 237.0 * d * p)
        total: FloatArray = viscous + slip * molecular * opening / (molecular + opening)
        return total


@dataclass(frozen=True)
class Pump:
    """A pump, with its tube if it has one.

    Attributes
    ----------
    speed_l_s : float
        Nominal pumping speed [l/s].
    ultimate_mbar : float
        Pressure it reaches alone [mbar]; 0 where it is not known.
    tube : Tube or None
    doubt : float or None
        Standard deviation of the speed's logarithm where it was not stated but taken; None where it
        was stated.

    Raises
    ------
    OutOfRangeError
        If a number is not possible.
    """

    speed_l_s: float
    ultimate_mbar: float = 0.0
    tube: Tube | None = None
    doubt: float | None = None

    def __post_init__(self) -> None:
        if not 1e-3 <= self.speed_l_s <= 1e6:
            raise OutOfRangeError(
                f"the pumping speed is {self.speed_l_s:g} l/s; it must be 0.001 to 1e6 l/s",
                parameter="pumping",
            )
        if not 0.0 <= self.ultimate_mbar <= 10.0:
            raise OutOfRangeError(
                f"the pump's lowest pressure is {self.ultimate_mbar:g} mbar; it must be 0 to 10 "
                f"mbar",
                parameter="ultimate",
            )

    @property
    def is_stated(self) -> bool:
        """Whether the speed was stated, and not taken as usual."""
        return self.doubt is None

    @property
    def is_even(self) -> bool:
        """Whether the speed is the same at any pressure."""
        return self.tube is None and self.ultimate_mbar == 0.0

    def speed_at_l_s(self, pressure_mbar: ArrayLike, scale: ArrayLike = 1.0) -> FloatArray:
        """Speed at the chamber for each gas [l/s].

        Parameters
        ----------
        pressure_mbar : array_like, shape (...)
            Pressure of all gases in the chamber [mbar].
        scale : array_like, shape (...)
            Speed of the pump over the nominal one [-].

        Returns
        -------
        ndarray, shape (..., gases)
            ``S0 (1 - p_ult/p)`` in series with the tube, ``S C / (S + C)``.
        """
        p = np.maximum(np.asarray(pressure_mbar, dtype=float), 1e-15)
        left = np.maximum(1.0 - self.ultimate_mbar / p, 0.0)
        own = np.asarray(self.speed_l_s * np.asarray(scale, dtype=float) * left)[..., None]
        if self.tube is None:
            every: FloatArray = own * np.ones(molar_masses().size)
            return every
        # The far end is at the pump's pressure; half the chamber's is the mean where it is low.
        through = self.tube.conductance_l_s(0.5 * p)
        series: FloatArray = own * through / (own + through)
        return series


def usual_pump(base_mbar: float) -> Pump:
    """A pump of which nothing is known but the pressure that it holds in a small chamber.

    High vacuum needs more than a rotary pump, which is slow. What comes in, ``p S(p)``, rises with
    the pressure over the whole of the doubt.
    """
    kinds = read_data()["unstated_pump"]
    rotary, high = kinds["rotary"], kinds["high_vacuum"]
    span = math.log(rotary["from_mbar"]), math.log(high["to_mbar"])
    share = min(max((span[0] - math.log(base_mbar)) / (span[0] - span[1]), 0.0), 1.0)
    speed = rotary["speed_l_s"] * (high["speed_l_s"] / rotary["speed_l_s"]) ** share
    return Pump(speed, doubt=rotary["doubt"] + share * (high["doubt"] - rotary["doubt"]))


def as_tube(tube: str | Tube | None) -> Tube | None:
    """A tube from its length and bore as written, ``"1m,8mm"``.

    Raises
    ------
    InputError
        If it is written otherwise.
    """
    if tube is None or isinstance(tube, Tube):
        return tube
    parts = tube.split(",") if isinstance(tube, str) else []
    if len(parts) != 2:
        raise InputError(
            f"`tube` must be a length and a bore such as '1m,8mm', not {tube!r:.80}",
            parameter="tube",
        )
    length, bore = (parse_quantity(part, "length_mm", "`tube`") / 10.0 for part in parts)
    return Tube(length, bore)
