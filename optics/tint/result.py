"""What comes of a heat, which heats give a colour, and what test pieces say of a kiln."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions
from ..oxidation.regime import Regime
from ..result import Hidden, Result
from .kiln import Kiln
from .next_heat import NextHeat
from .shades import Shade
from .targets import Target


@dataclass(frozen=True)
class PlatePoint:
    """One place on a piece that is hotter at one end than at the other.

    Attributes
    ----------
    position : float
        From 0 at the first end to 1 at the other.
    temperature_C, thickness_nm : float
    interval90_nm : tuple of float
    srgb_hex, name : str
    position_mm : float or None
        From the first end, where the length of the piece is known [mm].
    """

    position: float
    temperature_C: float
    thickness_nm: float
    interval90_nm: tuple[float, float]
    srgb_hex: str | None
    name: str | None
    position_mm: float | None = None


@dataclass(frozen=True, eq=False, repr=False)
class Tint(Result):
    """What a heat or a bath does to a metal.

    Attributes
    ----------
    metal, metal_name, oxide, treatment : str
        Key and name of the metal, its oxide, and the heat or the volts in words.
    thickness_nm : float
        Median [nm].
    interval90_nm : tuple of float
        Equal-tailed 90 % interval of the next piece [nm]: law, kiln and a single heat's scatter.
    native_nm : float
        Film before the treatment [nm].
    metal_used_nm, metal_used90_nm
        Metal turned into oxide [nm], and its 90 % interval.
    mass_gain_ug_cm2, volume_ratio : float
        Oxygen taken on [µg/cm²]; oxide volume over metal volume.
    stress : str
    metal_left_nm : float or None
        Of a metal film of stated thickness [nm].
    srgb_hex, name : str or None
        Colour of the median thickness.
    order : int or None
    names : tuple of Shade
        Names the piece may turn out to have.
    law, source, confidence, note : str
    data_sets : tuple of str
    plate : tuple of PlatePoint
    warnings, cautions : tuple of str
    drawn_nm : ndarray, shape (N,)
    seed : int
    """

    verb: ClassVar[str] = "tint"
    rows: ClassVar[str] = "names"

    metal: str
    metal_name: str
    oxide: str
    treatment: str
    thickness_nm: float
    interval90_nm: tuple[float, float]
    native_nm: float
    metal_used_nm: float
    metal_used90_nm: tuple[float, float]
    mass_gain_ug_cm2: float
    volume_ratio: float
    stress: str
    metal_left_nm: float | None
    srgb_hex: str | None
    name: str | None
    order: int | None
    names: tuple[Shade, ...]
    law: str
    source: str
    confidence: str
    note: str
    data_sets: tuple[str, ...]
    plate: tuple[PlatePoint, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    drawn_nm: Hidden[FloatArray]
    seed: int


@dataclass(frozen=True)
class Sensitivity:
    """How far the colour moves when the heat is not quite as meant.

    Attributes
    ----------
    ten_degrees_de, ten_percent_de : float
        Largest shift [ΔE 1976] for ±10 °C, and for ±10 % of the time.
    rating : str
        ``easy``, ``fair`` or ``touchy``.
    """

    ten_degrees_de: float
    ten_percent_de: float
    rating: str


@dataclass(frozen=True)
class Recipe:
    """One heat, or one voltage, that gives the colour.

    Attributes
    ----------
    temperature_C, time_min : float or None
    volts : float or None
    solved_for : {"temperature", "time", "volts"}
    thickness_nm : float
    interval90_nm : tuple of float
        Where 90 % of pieces so treated come out [nm].
    order : int
    srgb_hex, name : str
    delta_e : float
        Distance from the colour wanted [ΔE 1976].
    chance : float
        Probability that a piece so treated shows the colour wanted.
    spread : Sensitivity or None
    """

    temperature_C: float | None
    time_min: float | None
    volts: float | None
    solved_for: Literal["temperature", "time", "volts"]
    thickness_nm: float
    interval90_nm: tuple[float, float]
    order: int
    srgb_hex: str
    name: str
    delta_e: float
    chance: float
    spread: Sensitivity | None


@dataclass(frozen=True, eq=False, repr=False)
class Recipes(Result):
    """Every way found to a colour.

    Attributes
    ----------
    metal, metal_name, oxide, want : str
    recipes : tuple of Recipe
        Lowest order first, in each the surest first.
    attainable : bool
        Whether the oxide shows such a colour at any thickness.
    nearest : Target
        The thickness that comes nearest.
    shown_at : tuple of Target
        Every thickness that shows it, within the law's reach or not.
    law, source, confidence : str
    warnings, cautions : tuple of str
    seed : int
    kiln : Kiln or None
        What they were found for; None of volts.
    conditions : ViewingConditions or None
    """

    verb: ClassVar[str] = "tint"
    rows: ClassVar[str] = "recipes"

    metal: str
    metal_name: str
    oxide: str
    want: str
    recipes: tuple[Recipe, ...]
    attainable: bool
    nearest: Target
    shown_at: tuple[Target, ...]
    law: str
    source: str
    confidence: str
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    seed: int
    kiln: Hidden[Kiln | None] = None
    conditions: Hidden[ViewingConditions | None] = None


@dataclass(frozen=True, eq=False, repr=False)
class HeatStrip(Result):
    """Typical oxide and its colour for steady heats.

    Attributes
    ----------
    metal, metal_name, oxide : str
    temperature_C : ndarray, shape (C,)
    time_min : ndarray, shape (M,)
    thickness_nm : ndarray, shape (C, M)
    srgb_hex, name : ndarray of str, shape (C, M)
    source : str
    warnings, cautions : tuple of str
    kiln : Kiln or None
    conditions : ViewingConditions or None
    """

    verb: ClassVar[str] = "tint"

    metal: str
    metal_name: str
    oxide: str
    temperature_C: FloatArray
    time_min: FloatArray
    thickness_nm: FloatArray
    srgb_hex: NDArray[np.str_]
    name: NDArray[np.str_]
    source: str
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    kiln: Hidden[Kiln | None] = None
    conditions: Hidden[ViewingConditions | None] = None


@dataclass(frozen=True, eq=False, repr=False)
class PlateHold(Result):
    """How to hold a plate so that its colour runs from one to another.

    Attributes
    ----------
    metal, metal_name, oxide, want : str
    first_C, last_C : float
        Temperatures of the two ends.
    time_min : float
    plate : tuple of PlatePoint
        At even steps along the plate, the temperature rising evenly.
    warnings, cautions : tuple of str
    """

    verb: ClassVar[str] = "tint"
    rows: ClassVar[str] = "plate"

    metal: str
    metal_name: str
    oxide: str
    want: str
    first_C: float
    last_C: float
    time_min: float
    plate: tuple[PlatePoint, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class LawParameter:
    """One parameter before and after: median and 90 % interval.

    ``regime`` is the part of the law it belongs to, None for what the whole kiln has.
    """

    name: str
    regime: Hidden[Regime | None]
    value: float
    interval90: tuple[float, float]
    shipped: float
    shipped90: tuple[float, float]


@dataclass(frozen=True)
class Residual:
    """One test piece beside what the fitted law makes of its heat.

    Attributes
    ----------
    id, heat, outcome : str
    thickness_nm : float
        What came out, read in the light of all pieces [nm].
    predicted_nm : float
        Median of the fitted law [nm].
    interval90_nm : tuple of float
        Where 90 % of such pieces come out [nm].
    fit_p : float
        Share of simulated outcomes at least as unusual.
    """

    id: str
    heat: str
    outcome: str
    thickness_nm: float
    predicted_nm: float
    interval90_nm: tuple[float, float]
    fit_p: float
    also: ClassVar[tuple[str, ...]] = ("residual_nm",)

    @property
    def residual_nm(self) -> float:
        """What came out less what the law says [nm]."""
        return self.thickness_nm - self.predicted_nm


@dataclass(frozen=True, eq=False, repr=False)
class Calibration(Result):
    """What the test pieces say.

    Attributes
    ----------
    metal, metal_name, law, source : str
    kiln : str
        Name of the kiln; empty where the file names none.
    fitted : Kiln
        What was learnt of it, to be saved, and given to `tint`.
    parameters : tuple of LawParameter
    residuals : tuple of Residual
    fits : bool
        False where a piece is rarer than 1 in 100 among simulated ones.
    pace : float
        How much faster this kiln oxidises than the shipped law, at the pieces' heats.
    width_ratio : float
        90 % width of a prediction among the pieces, over that of the shipped law.
    width_heat : str
        The heat that is said for.
    next_piece : NextHeat
    warnings, cautions : tuple of str
    seed : int
    """

    verb: ClassVar[str] = "coupons"
    rows: ClassVar[str] = "residuals"
    also: ClassVar[tuple[str, ...]] = ("pieces",)

    metal: str
    metal_name: str
    law: str
    source: str
    kiln: str
    fitted: Hidden[Kiln]
    parameters: tuple[LawParameter, ...]
    residuals: tuple[Residual, ...]
    fits: bool
    pace: float
    width_ratio: float
    width_heat: str
    next_piece: NextHeat
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    seed: int

    @property
    def pieces(self) -> int:
        """Test pieces of this kiln."""
        return self.fitted.pieces
