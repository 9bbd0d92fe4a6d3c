"""Colours of a stack, or of each point of a sweep, as an answer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import prod
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from .._typing import FloatArray
from ..colour.colour import Colour
from ..colour.conditions import ViewingConditions
from ..electrical.thin_film import FilmMetal, conducting_metal, sheet_ohm_bounds
from ..errors import LimitError, suggest_point
from ..films.materials.effective_medium import tell_stand_ins
from ..films.materials.medium import Medium
from ..films.solve import Side
from ..films.spectra import Spectra
from ..films.stack import Layer, Stack, sweep_thicknesses, take_point
from ..films.written import label_stack
from ..report.json import plain
from ..result import Hidden, Result

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MAX_LISTED = 300_000  # stacks in one JSON object: half a minute, some hundred megabytes


@dataclass(frozen=True, eq=False, repr=False)
class Look(Result):
    """Colours of one stack or of each point of a sweep.

    Attributes
    ----------
    stack : str
        The stack as written.
    films : Stack
    angle_deg : float
    side : {"front", "back"}
    conditions : ViewingConditions
    reflected : Colour
        Colours of shape (sweep..., 3).
    transmitted : Colour or None
        None where nothing can be seen through.
    spectra : Spectra or None
        Reflectance and transmittance over wavelength, where they were asked for.
    """

    verb: ClassVar[str] = "look"
    rows: ClassVar[str] = "steps"

    stack: str
    films: Hidden[Stack]
    angle_deg: float
    side: Side
    conditions: ViewingConditions
    reflected: Colour
    transmitted: Colour | None
    spectra: Hidden[Spectra | None]

    @property
    def _outer_metal(self) -> FilmMetal | None:
        """The metal of the outermost film; None where it is none."""
        layers = self.films.layers
        return conducting_metal(layers[0].medium) if layers else None

    def ohms_per_square(self) -> FloatArray | None:
        """Least, middle and most sheet resistance (sweep..., 3) of the outermost film alone
        [ohm]; infinite while islands do not touch, None where it is no metal."""
        metal = self._outer_metal
        if metal is None:
            return None
        shape = self.films.sweep_shape
        layer = self.films.layers[0]
        if layer.axis is None:
            nm = np.full(shape, float(layer.thickness_nm))
        else:
            along = [1] * len(shape)
            along[layer.axis] = -1
            nm = np.broadcast_to(np.reshape(layer.thickness_nm, along), shape)
        return sheet_ohm_bounds(metal, np.maximum(nm, 1e-3))

    @property
    def warnings(self) -> tuple[str, ...]:
        """Two thicknesses that may be meant as one, metal films so thin that they are islands,
        which the colours leave out, and materials that others stand for."""
        layers = self.films.layers
        media = [*(layer.medium for layer in layers), self.films.substrate]
        below = media[1:]
        said = (_warn_of_islands(layer, under) for layer, under in zip(layers, below, strict=True))
        kin = tell_stand_ins([*(layer.medium for layer in self.films.all_layers), media[-1]])
        return tuple(one for one in (self._warn_of_comma(), *said, *kin) if one)

    def _warn_of_comma(self) -> str:
        """What to say where a decimal comma has made two thicknesses of one."""
        hint = suggest_point(self.stack) if self.films.sweep_shape == (2,) else ""
        return f"two thicknesses{hint}" if hint else ""

    def plot(self) -> Figure:
        """The spectrum of one stack, or colours and reflectance of one swept thickness.

        Raises
        ------
        InputError
            If more than one thickness is swept, or a single stack was looked at without spectra.
        """
        from .plots import chart_look

        return chart_look(self)

    def json_fields(self) -> dict[str, Any]:
        """Its fields as plain data; a sweep has its points under ``steps``, each with ``ohms`` per
        square, least, middle and most, where a metal is outermost.

        Raises
        ------
        LimitError
            If a sweep has more stacks than one JSON object should list: 300,000.
        """
        check_listed(self)
        head = {
            "stack": self.stack,
            "angle_deg": self.angle_deg,
            "side": self.side,
            "light": self.conditions.light,
            "observer": self.conditions.observer,
        }
        if not self.films.sweep_shape:
            return head | self._colours(()) | self._cautions()
        swept = [layer.medium.label for layer, _ in sweep_thicknesses(self.films)]
        steps = [head | step for step in self._steps()]
        return head | {"swept": swept, "steps": steps} | self._cautions()

    def _cautions(self) -> dict[str, Any]:
        return {"warnings": list(self.warnings)} if self.warnings else {}

    def _steps(self) -> Iterator[dict[str, Any]]:
        axes = [nm for _, nm in sweep_thicknesses(self.films)]
        ohms = self.ohms_per_square()
        for position in np.ndindex(self.films.sweep_shape):
            nm = [float(points[i]) for points, i in zip(axes, position, strict=True)]
            yield {
                "stack": label_stack(take_point(self.films, position)),
                "thickness_nm": nm[0] if len(nm) == 1 else nm,
                **self._colours(position),
                **({} if ohms is None else {"ohms": plain(ohms[position].tolist())}),
            }

    def _colours(self, position: tuple[int, ...]) -> dict[str, Any]:
        through = None if self.transmitted is None else self.transmitted[position]
        seen = {"reflected": plain(self.reflected[position]), "transmitted": plain(through)}
        if self.spectra is not None:
            seen["wavelength_nm"] = self.spectra.wavelength_nm.tolist()
            seen["R"] = self.spectra.R[position].tolist()
            seen["T"] = self.spectra.T[position].tolist()
        return seen


def _warn_of_islands(layer: Layer, under: Medium) -> str:
    """What to say of a film of metal on what is none, while its islands may not touch."""
    metal = conducting_metal(layer.medium)
    thin = np.asarray(layer.thickness_nm)[np.asarray(layer.thickness_nm) > 0.0]
    if metal is None or conducting_metal(under) is not None or not thin.size:
        return ""
    low, high = metal.percolation_nm
    if thin.min() >= high:
        return ""
    how = "is" if thin.min() < low else "may be"
    return (
        f"{metal.name} of {thin.min():g} nm {how} no closed film but separate islands, which touch "
        f"from {low:g} to {high:g} nm on (on glass at room temperature; common practice, no "
        f"source): they have other colours, above all seen through, and do not conduct"
    )


def check_listed(look: Look) -> None:
    """Refuse a sweep with more stacks than one JSON object should list.

    Raises
    ------
    LimitError
        If there are more than 300,000.
    """
    stacks = prod(look.films.sweep_shape)
    if stacks > MAX_LISTED:
        raise LimitError(
            f"{stacks:,} stacks are too many to list as JSON; at most {MAX_LISTED:,} are listed, "
            f"so widen the step of the sweep"
        )
