"""What a coating is asked to do, as written: ``R>95% 420..680nm``, ``colour #6a3fa0 at 45deg``.

A goal is a quantity with its bound or target, then in any order where and how it is counted:
a band or a wavelength, an angle or a range of angles, a polarisation, the eye's or the sun's
weights, the side looked at, how close a target must be met, and a weight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from ..errors import InputError
from ..films.engine.transfer_matrix import Polarization
from .goal_weights import EMITTANCE_BAND_NM, LUMINOUS_BAND_NM, SOLAR_BAND_NM

Quantity = Literal[
    "R", "T", "A", "emittance", "colour", "phase", "delta", "delay", "Rs-Rp", "Ts-Tp"
]
Relation = Literal[">", "<", "="]
Count = Literal["each", "mean", "luminous", "solar"]
GoalView = Literal["front", "back", "through"]

WITHIN_PERCENT = 1.0
"""How far a target of R, T, A or emittance may be missed, in percent points, if not stated."""
WITHIN_DELTA_E = 3.0
"""The same for a colour, in CIELAB units: a stated default, two to three just visible steps."""
WITHIN_DEGREES = 5.0
"""The same for a phase [°]: 1/72 of a turn, a stated default."""
WITHIN_FS = 1.0
"""The same for a group delay [fs]."""
PHASES = ("phase", "delta", "delay")
"""Quantities that the powers do not tell: they ask for complex amplitudes."""
SPLITS = ("Rs-Rp", "Ts-Tp")
"""How far s and p part: the reflectance of s less that of p, or what is let through."""
READ_WHOLE = (*PHASES, *SPLITS)
"""Quantities that a sight tells itself, at every wavelength."""
FIXED_BANDS = {"luminous": LUMINOUS_BAND_NM, "solar": SOLAR_BAND_NM}
"""Means that bring their own band [nm]."""

_UNITS = {"colour": "ΔE", "phase": "°", "delta": "°", "delay": "fs"}
_WITHIN = {"%": WITHIN_PERCENT, "ΔE": WITHIN_DELTA_E, "°": WITHIN_DEGREES, "fs": WITHIN_FS}
_WRITTEN = {"%": "%", "ΔE": "", "°": "deg", "fs": "fs"}


@dataclass(frozen=True)
class Goal:
    """One thing asked of a coating.

    Attributes
    ----------
    quantity : {"R", "T", "A", "emittance", "colour", "phase", "delta", "delay", "Rs-Rp", "Ts-Tp"}
        ``phase``, ``delta`` and ``delay`` are the phase of what is reflected, that of p less that
        of s as ellipsometers print it (Δ), and the delay of a pulse; the last two say how far s and
        p part.
    relation : {">", "<", "="}
        A bound, or a target; colours and phases are targets.
    percent : float
        The bound or target [%]; 0 for a colour or a phase.
    colour : str
        The colour as written, else empty.
    band_nm : tuple of float or None
        Both ends of the band [nm], equal for one wavelength; None where the count fixes it.
    angles_deg : tuple of float
        Both ends of the angles of incidence [°], equal for one angle.
    polarization : {"s", "p", "mean"}
    count : {"each", "mean", "luminous", "solar"}
        Whether each wavelength of the band counts, or a mean: plain, weighted as an eye in
        daylight D65 sees it (EN 410, ISO 9050), or weighted with sunlight (ASTM G173).
    view : {"front", "back", "through"}
        The side looked at; ``through`` is for colours and phases.
    within : float or None
        How far a target may be missed [percent points, ΔE of CIELAB, ° or fs]; None for the
        default.
    weight : float
    amount : float
        The target of a phase [°], or the bound or target of a delay [fs].
    """

    quantity: Quantity
    relation: Relation
    percent: float = 0.0
    colour: str = ""
    band_nm: tuple[float, float] | None = None
    angles_deg: tuple[float, float] = (0.0, 0.0)
    polarization: Polarization = "mean"
    count: Count = "each"
    view: GoalView = "front"
    within: float | None = None
    weight: float = 1.0
    amount: float = 0.0

    @property
    def wanted(self) -> float:
        """The bound or target [%, ° or fs]."""
        return self.amount if self.quantity in PHASES else self.percent

    @property
    def span_nm(self) -> tuple[float, float]:
        """Both ends of the wavelengths the goal looks at [nm]."""
        if self.band_nm is not None:
            return self.band_nm
        if self.quantity == "emittance":
            return EMITTANCE_BAND_NM
        return FIXED_BANDS.get(self.count, LUMINOUS_BAND_NM)

    @property
    def allowed_miss(self) -> float:
        """How far the goal may be missed and still be met [percent points, ΔE, ° or fs]."""
        if self.within is not None:
            return self.within
        if self.relation != "=":
            return 0.0
        return _WITHIN[self.unit]

    @property
    def unit(self) -> str:
        """What a miss is counted in."""
        return _UNITS.get(self.quantity, "%")

    def __str__(self) -> str:
        return format_goal(self)


def take_angle(goals: Sequence[Goal], angle_deg: float) -> tuple[Goal, ...]:
    """Goals that name no angle at the one the piece is used at.

    Raises
    ------
    InputError
        If an angle is given, and every goal names others.
    """
    if not angle_deg:
        return tuple(goals)
    angle = (angle_deg, angle_deg)
    found = tuple(
        replace(goal, angles_deg=angle)
        if goal.angles_deg == (0.0, 0.0) and goal.quantity != "emittance"
        else goal
        for goal in goals
    )
    if not any(low <= angle_deg <= high for low, high in (one.angles_deg for one in found)):
        raise InputError(
            f"`angle_deg` is {angle_deg:g}, but no goal looks there: {found[0]}; leave it out, or "
            f"write the goal for it",
            parameter="angle_deg",
        )
    return found


def format_goal(goal: Goal) -> str:
    """The written form of a goal; ``parse_goal`` reads it back."""
    if goal.quantity == "colour":
        parts = [f"colour {goal.colour}"]
    else:
        unit = _WRITTEN[goal.unit]
        parts = [f"{goal.quantity}{goal.relation}{_format_number(goal.wanted)}{unit}"]
    if goal.band_nm is not None:
        parts.append(_format_span(goal.band_nm, "nm"))
    if goal.count != "each":
        parts.append(goal.count)
    low, high = goal.angles_deg
    if low != high:
        parts.append(_format_span(goal.angles_deg, "deg"))
    elif low:
        parts.append(f"at {_format_number(low)}deg")
    if goal.polarization != "mean":
        parts.append(goal.polarization)
    if goal.view != "front":
        parts.append("through" if goal.view == "through" else "from back")
    if goal.within is not None:
        parts.append(f"within {_format_number(goal.within)}{_WRITTEN[goal.unit]}")
    if goal.weight != 1.0:
        parts.append(f"x{_format_number(goal.weight)}")
    return " ".join(parts)


def _format_number(number: float) -> str:
    return repr(float(number)).removesuffix(".0")


def _format_span(ends: tuple[float, float], unit: str) -> str:
    low, high = (_format_number(end) for end in ends)
    return f"{low}{unit}" if low == high else f"{low}..{high}{unit}"
