"""What comes of a heat, which heats give a colour, and what test pieces say of a kiln.

Units are in the names; ``interval90`` is where 90 % of such pieces come out, ``srgb_hex`` and
``name`` are the colour of a typical thickness, ``confidence`` and ``source`` are those of the law.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from .._typing import BoolArray, FloatArray
from ..colour.conditions import ViewingConditions
from ..oxidation.regime import Regime
from ..result import Hidden, Result
from .alike import Batch, PartsOfColour
from .bath import Bath
from .kiln import Kiln
from .kiln_causes import KilnCause
from .next_heat import NextHeat
from .shades import Palette, Shade
from .targets import Target

By = Literal["hold", "flame", "ramp", "volts"]
SolvedFor = Literal["temperature", "time", "volts", "passes"]


@dataclass(frozen=True)
class PlatePoint:
    """One place on a piece that is hotter at one end than at the other.

    ``position`` runs from 0 at the first end to 1 at the other; ``position_mm`` is known where the
    length of the piece is.
    """

    position: float
    temperature_C: float
    thickness_nm: float
    interval90_nm: tuple[float, float]
    srgb_hex: str | None
    name: str | None
    position_mm: float | None = None


@dataclass(frozen=True, eq=False, repr=False)
class OnMetal(Result):
    """An answer about one metal: its key, its name in words, its oxide, and what to know of it."""

    verb: ClassVar[str] = "tint"

    metal: str
    metal_name: str
    oxide: str
    note: str


@dataclass(frozen=True, eq=False, repr=False)
class Tint(OnMetal):
    """What a heat or a bath does to a metal.

    Attributes
    ----------
    treatment : str
        The heat or the volts in words.
    thickness_nm : float
        Median.
    interval90_nm : tuple of float
        Equal-tailed interval of the next piece: law, kiln and a single heat's scatter.
    native_nm : float
        Film before the treatment.
    metal_used_nm, mass_gain_ug_cm2, volume_ratio
        Metal turned into oxide, oxygen taken on, and oxide volume over metal volume.
    metal_left_nm : float or None
        Of a metal film of stated thickness.
    names : tuple of Shade
        Names the piece may turn out to have.
    drawn_nm : ndarray, shape (N,)
    batch : Batch or None
        How alike several parts come out, where that was asked.
    palette : Palette or None
        The colours of its oxide, where the optical data are good enough.
    """

    rows: ClassVar[str] = "names"

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
    data_sets: tuple[str, ...]
    plate: tuple[PlatePoint, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    drawn_nm: Hidden[FloatArray]
    seed: int
    batch: Batch | None = None
    palette: Hidden[Palette | None] = None


@dataclass(frozen=True)
class Sensitivity:
    """Largest shift [ΔE 1976] for ±10 °C and ±10 % of the time, or for ±1 V."""

    rating: str
    ten_degrees_de: float | None = None
    ten_percent_de: float | None = None
    one_volt_de: float | None = None


@dataclass(frozen=True)
class Recipe:
    """One heat, or one voltage, that gives the colour.

    ``delta_e`` is the distance from the colour wanted [ΔE 1976], ``chance`` the probability that a
    piece so treated shows it. Of a flame ``temperature_C`` is that of the metal, ``time_min`` the
    time of one pass; of a ramp they are its peak, and how much longer it stays there. ``alike``
    says how many of several parts come out in the colour. ``order`` is None of scale.
    """

    temperature_C: float | None
    time_min: float | None
    volts: float | None
    solved_for: SolvedFor
    thickness_nm: float
    interval90_nm: tuple[float, float]
    order: int | None
    srgb_hex: str
    name: str
    delta_e: float
    chance: float
    spread: Sensitivity | None
    passes: int | None = None
    alike: PartsOfColour | None = None

    @property
    def rank(self) -> tuple[float, float]:
        """Where it is listed: lowest order first, scale last, in each the surest first."""
        return math.inf if self.order is None else self.order, -self.chance


@dataclass(frozen=True, eq=False, repr=False)
class Recipes(OnMetal):
    """Every way found to a colour.

    Attributes
    ----------
    recipes : tuple of Recipe
        Lowest order first, in each the surest first.
    attainable : bool
        Whether the oxide shows such a colour at any thickness.
    nearest : Target
        The thickness that comes nearest.
    shown_at : tuple of Target
        Every thickness that shows it, within the law's reach or not.
    counts_as : str
        What counts as the colour wanted, here and in the chances.
    by : str
        A steady hold, passes of a flame, a ramp or volts.
    parts : int or None
        How many parts are to come out alike.
    kiln, conditions
        What they were found for, None unless they are holds.
    """

    rows: ClassVar[str] = "recipes"

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
    counts_as: str = ""
    by: By = "hold"
    parts: int | None = None
    kiln: Hidden[Kiln | None] = None
    conditions: Hidden[ViewingConditions | None] = None


@dataclass(frozen=True, eq=False, repr=False)
class HeatStrip(OnMetal):
    """Typical oxide and its colour over temperature (C,) and time (M,): arrays (C, M)."""

    temperature_C: FloatArray
    time_min: FloatArray
    thickness_nm: FloatArray
    srgb_hex: NDArray[np.str_]
    name: NDArray[np.str_]
    source: str
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    in_gamut: Hidden[BoolArray]
    kiln: Hidden[Kiln]
    conditions: Hidden[ViewingConditions]


@dataclass(frozen=True, eq=False, repr=False)
class PlateHold(OnMetal):
    """How to hold a plate so that its colour runs from one to another.

    ``first_C`` and ``last_C`` are the temperatures of its ends; between them, at the even steps of
    ``plate``, the temperature rises evenly.
    """

    rows: ClassVar[str] = "plate"

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
    """One test piece and what the fitted law makes of its heat.

    ``thickness_nm`` is what came out, read in the light of all pieces; ``predicted_nm`` the median
    of the law; ``fit_p`` the share of simulated outcomes at least as unusual; ``srgb_hex`` the
    middle of the colour seen, None where a thickness was measured.
    """

    id: str
    heat: str
    outcome: str
    thickness_nm: float
    predicted_nm: float
    interval90_nm: tuple[float, float]
    fit_p: float
    srgb_hex: Hidden[str | None] = None
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
    kiln : str
        Name of the kiln; empty where the file names none.
    fitted : Kiln
        What was learnt of it, to be saved, and given to `tint`.
    fits : bool
        False where a piece is rarer than 1 in 100 among simulated ones.
    pace : float
        How much faster this kiln oxidises than the shipped law, at the pieces' heats.
    open_scale : float
        Probability that the scale lets air through, so that the oxide grows nearly in proportion to
        time; 0 where the metal's law knows no such scale.
    width_ratio, width_heat
        90 % width of a prediction over that of the shipped law, and the heat that is said for.
    causes : tuple of KilnCause
        What may have happened to the kiln and its pieces, where the order of the heats is known.
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
    open_scale: float
    width_ratio: float
    width_heat: str
    next_piece: NextHeat
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    seed: int
    causes: tuple[KilnCause, ...] = ()

    @property
    def pieces(self) -> int:
        """Test pieces of this kiln."""
        return self.fitted.pieces


@dataclass(frozen=True)
class StripResidual:
    """One anodised strip and what the fitted bath makes of its volts, as of a `Residual`."""

    id: str
    volts: float
    outcome: str
    thickness_nm: float
    predicted_nm: float
    interval90_nm: tuple[float, float]
    fit_p: float


@dataclass(frozen=True)
class NextStrip:
    """The volts to run next; relative doubt of a thickness over the range, now and then."""

    volts: float
    spread_now: float
    spread_then: float


@dataclass(frozen=True, eq=False, repr=False)
class BathCalibration(Result):
    """What strips anodised in one bath say.

    Attributes
    ----------
    law, source : str
        The constant learnt in words, and where the shipped one comes from.
    fitted : Bath
        What was learnt of the bath, to be saved, and given to `anodise`.
    shipped : str
        The constant before the strips.
    fits : bool
        False where a strip is rarer than 1 in 100 among simulated ones.
    width_ratio, width_V
        90 % width of a prediction over that of the shipped constant, and the volts that is for.
    """

    verb: ClassVar[str] = "coupons"
    rows: ClassVar[str] = "residuals"
    also: ClassVar[tuple[str, ...]] = ("pieces",)

    metal: str
    metal_name: str
    law: str
    source: str
    fitted: Hidden[Bath]
    shipped: str
    residuals: tuple[StripResidual, ...]
    fits: bool
    width_ratio: float
    width_V: float
    next_piece: NextStrip
    warnings: tuple[str, ...]
    seed: int

    @property
    def pieces(self) -> int:
        """Strips of this bath."""
        return self.fitted.pieces


@dataclass(frozen=True, eq=False, repr=False)
class VoltChart(OnMetal):
    """Oxide and its typical colour over the volts of a bath: arrays (V,).

    ``interval90_nm`` (V, 2) is where 90 % of pieces come out.
    """

    volts: FloatArray
    thickness_nm: FloatArray
    interval90_nm: FloatArray
    srgb_hex: NDArray[np.str_]
    name: NDArray[np.str_]
    law: str
    source: str
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    in_gamut: Hidden[BoolArray]
