"""One layer of a run with what to watch, on a chip of glass that carries some layers before it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from ...colour.conditions import ViewingConditions
from ...films.materials.effective_medium import short_name
from ...films.stack import Layer, Stack
from ...result import Hidden
from ..witness import add_layer
from .cues import Cue
from .curves import LayerCue, list_layer_cues
from .words import describe_stop

_SHOWN = 41  # points of the curve that a face may draw


@dataclass(frozen=True, eq=False)
class Chip:
    """A slide and the steps it carries, in order of deposition."""

    slide: Stack
    steps: tuple[int, ...] = ()


@dataclass(frozen=True, eq=False)
class LayerWatch:
    """What to watch while one layer grows.

    Attributes
    ----------
    step : int
        In order of deposition.
    material : str
    thickness_nm : float
    fresh_chip : bool
        Whether a fresh chip should stand in for the coated one before this layer.
    chosen : LayerCue or None
        The reading by which the layer is ended; None for time.
    timed_after_turning : bool
        Whether the layer is timed from the last turning point of that reading.
    sd_nm : float or None
        Standard deviation of its thickness in simulated runs [nm].
    cues : tuple of LayerCue
        All readings, the sharpest first.
    timed_sd_nm : float
        Standard deviation of the thickness where time alone is kept [nm].
    chip : Chip
        Before this layer.
    position : int
        Of the layer in the stack, front layers first.
    """

    also: ClassVar[tuple[str, ...]] = ("stop_at", "curve_nm", "curve")

    step: int
    material: str
    thickness_nm: float
    fresh_chip: bool
    chosen: LayerCue | None
    timed_after_turning: bool
    sd_nm: float | None
    cues: tuple[LayerCue, ...]
    timed_sd_nm: float
    chip: Hidden[Chip]
    position: Hidden[int]

    @property
    def stop_at(self) -> str:
        """Where the layer ends, in words; of the eye the colour."""
        return describe_stop(self.chosen, self.thickness_nm, timed=self.timed_after_turning)

    @property
    def drawn(self) -> LayerCue | None:
        """The light to draw: the one that ends the layer, else the sharpest."""
        light = [cue for cue in self.cues if cue.is_light]
        if self.chosen is not None and self.chosen.is_light:
            return self.chosen
        return light[0] if light else None

    @property
    def curve_nm(self) -> tuple[float, ...]:
        """Thicknesses of the curve to draw, to the end of the layer [nm]."""
        if self.drawn is None:
            return ()
        return tuple(np.linspace(0.0, self.thickness_nm, _SHOWN).tolist())

    @property
    def curve(self) -> tuple[float, ...]:
        """Its readings."""
        if self.drawn is None:
            return ()
        read = np.interp(self.curve_nm, self.drawn.thickness_nm, self.drawn.reading)
        return tuple(read.tolist())


@dataclass(frozen=True, eq=False)
class RunPlan:
    """A run whose layers are to be watched.

    Attributes
    ----------
    films : Stack
        To be deposited.
    order : tuple of int
        Position in ``films.all_layers`` of each step.
    cues : tuple of Cue
    bare : Stack
        A chip before the first step.
    viewing : ViewingConditions
    timed_percent : float
        Standard deviation of a thickness by time alone [%].
    """

    films: Stack
    order: tuple[int, ...]
    cues: tuple[Cue, ...]
    bare: Stack
    viewing: ViewingConditions
    timed_percent: float

    def watch_step(self, step: int, chip: Chip, *, fresh: bool = False) -> LayerWatch:
        """One step on a chip, the readings that end it listed, none of them chosen yet."""
        position = self.order[step - 1]
        layer = self.films.all_layers[position]
        nm = float(layer.thickness_nm)
        seen = list_layer_cues(
            chip.slide, layer.medium, nm, cues=self.cues, back=self.is_back(position),
            viewing=self.viewing,
        )  # fmt: skip
        material = short_name(layer.medium)
        timed = 0.01 * self.timed_percent * nm
        return LayerWatch(
            step, material, nm, fresh, None, False, None, tuple(seen), timed, chip, position
        )

    def carry(self, step: int, chip: Chip) -> Chip:
        """The chip with a step's layer on it as planned."""
        position = self.order[step - 1]
        layer = self.films.all_layers[position]
        planned = Layer(layer.medium, layer.thickness_nm)
        return Chip(add_layer(chip.slide, planned, self.is_back(position)), (*chip.steps, step))

    def is_back(self, position: int) -> bool:
        """Whether a layer lies on the far face."""
        return position >= len(self.films.layers)
