"""Stacks that were found for a goal, as an answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from .._typing import FloatArray, IndexArray
from ..colour.conditions import ViewingConditions
from ..films.materials.effective_medium import short_name
from ..films.materials.medium import Medium
from ..films.stack import Stack
from ..films.written import label_stack
from ..report.json import plain
from ..result import Result
from .goals import Goal
from .merit import GoalResult
from .practice import PracticeRemark
from .state import Limits
from .tolerance import DepositionErrors, Tolerance


@dataclass(frozen=True, eq=False, repr=False)
class Design(Result):
    """One stack that was found.

    Attributes
    ----------
    stack : str
        In our notation, as ``look`` takes it.
    family : str
        What kind of design the search started from.
    merit : float
        Root mean square miss of the goals [percent points; 1 ΔE counts as one].
    met : bool
        Whether every goal is met between all points of any grid (`check_goals`).
    results : tuple of GoalResult
    layers : int
        Films to deposit.
    total_nm : float
    mean_R, min_R : float
        Reflectance [-] at normal incidence over the band of the goals on R, or 380 to 780 nm.
    band_nm : tuple of float
        That band.
    srgb_hex, name : str
        Its colour as looked at, from the front.
    tolerance : Tolerance or None
        How it fares with errors, if some were stated.
    which, thickness_nm : ndarray, shape (L,)
        The films as media of the palette and thicknesses [nm].
    piece : Stack
        The films on their base.
    """

    stack: str
    family: str
    merit: float
    met: bool
    results: tuple[GoalResult, ...]
    layers: int
    total_nm: float
    mean_R: float
    min_R: float
    band_nm: tuple[float, float]
    srgb_hex: str
    name: str
    tolerance: Tolerance | None
    which: IndexArray
    thickness_nm: FloatArray
    piece: Stack

    @property
    def yield_share(self) -> float | None:
        """Share of pieces deposited with errors that meet all goals [-]."""
        return None if self.tolerance is None else self.tolerance.yield_share

    def json_fields(self) -> dict[str, Any]:
        """Its fields as plain data, films as material and thickness."""
        found = {
            "stack": self.stack,
            "merit": self.merit,
            "met": self.met,
            "mean_R": self.mean_R,
            "min_R": self.min_R,
            "band_nm": list(self.band_nm),
            "srgb_hex": self.srgb_hex,
            "name": self.name,
            "yield": self.yield_share,
            "family": self.family,
            "layers": [
                {"material": layer.medium.label, "thickness_nm": float(layer.thickness_nm)}
                for layer in self.piece.layers[: self.layers]
            ],
            "total_nm": self.total_nm,
            "goals": plain(self.results),
        }
        return found | ({} if self.tolerance is None else self.tolerance.json_fields())


@dataclass(frozen=True, eq=False, repr=False)
class Designs(Result):
    """What the search found, the best first.

    Attributes
    ----------
    designs : tuple of Design
    goals : tuple of Goal
    base : Stack
        What the films are deposited on.
    palette : tuple of Medium
    limits : Limits
    total_nm : float or None
    errors : DepositionErrors or None
    viewing : ViewingConditions
    angle_deg : float
        Light, observer and angle [°] for which the designs' colours are given.
    seed : int
    refinements : int
        Done by the search.
    interrupted : bool
    notes : tuple of str
        What to mind about the figures.
    light_from : str
        What the light comes through.
    remarks : tuple of PracticeRemark
        On stress, adhesion and tarnish of the best design's materials.
    """

    verb: ClassVar[str] = "design"
    rows: ClassVar[str] = "designs"

    designs: tuple[Design, ...]
    goals: tuple[Goal, ...]
    base: Stack
    palette: tuple[Medium, ...]
    limits: Limits
    total_nm: float | None
    errors: DepositionErrors | None
    viewing: ViewingConditions
    angle_deg: float
    seed: int
    refinements: int
    interrupted: bool
    notes: tuple[str, ...]
    light_from: str = "air"
    remarks: tuple[PracticeRemark, ...] = ()

    @property
    def met(self) -> bool:
        """Whether any design meets all goals."""
        return any(design.met for design in self.designs)

    def json_fields(self) -> dict[str, Any]:
        """All designs, the best first, with what was asked."""
        return {
            "met": self.met,
            "designs": plain(self.designs),
            "goals": [str(goal) for goal in self.goals],
            "on": label_stack(self.base),
            "light_from": self.light_from,
            "with": [medium.label for medium in self.palette],
            "max_layers": self.limits.most_layers,
            "thinnest_nm": self.limits.thinnest_nm,
            "thickest_nm": self.limits.thickest_nm,
            "limits": plain([one for one in self.limits.by_material if one.holds]),
            "total_nm": self.total_nm,
            "tolerance": None if self.errors is None else str(self.errors),
            "angle_deg": self.angle_deg,
            "light": self.viewing.light,
            "observer": self.viewing.observer,
            "seed": self.seed,
            "refinements": self.refinements,
            "interrupted": self.interrupted,
            "notes": list(self.notes),
            "remarks": plain(self.remarks),
        }


def format_short_stack(stack: Stack) -> str:
    """A stack by plain names and tenths of a nanometre, for reading rather than for typing."""
    films = [
        f"{short_name(layer.medium)} {float(layer.thickness_nm):.1f} nm" for layer in stack.layers
    ]
    return " / ".join([*films, short_name(stack.substrate)])
