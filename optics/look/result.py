"""Colours of a stack, or of each point of a sweep, as an answer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import prod
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from ..colour.colour import Colour
from ..colour.conditions import ViewingConditions
from ..errors import LimitError
from ..films.solve import Side
from ..films.spectra import Spectra
from ..films.stack import Stack, sweep_thicknesses, take_point
from ..films.written import format_stack
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
        """Its fields as plain data; a sweep has its points under ``steps``.

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
            return head | self._colours(())
        swept = [layer.medium.label for layer, _ in sweep_thicknesses(self.films)]
        return head | {"swept": swept, "steps": [head | step for step in self._steps()]}

    def _steps(self) -> Iterator[dict[str, Any]]:
        axes = [nm for _, nm in sweep_thicknesses(self.films)]
        for position in np.ndindex(self.films.sweep_shape):
            nm = [float(points[i]) for points, i in zip(axes, position, strict=True)]
            yield {
                "stack": format_stack(take_point(self.films, position)),
                "thickness_nm": nm[0] if len(nm) == 1 else nm,
                **self._colours(position),
            }

    def _colours(self, position: tuple[int, ...]) -> dict[str, Any]:
        through = None if self.transmitted is None else self.transmitted[position]
        seen = {"reflected": plain(self.reflected[position]), "transmitted": plain(through)}
        if self.spectra is not None:
            seen["wavelength_nm"] = self.spectra.wavelength_nm.tolist()
            seen["R"] = self.spectra.R[position].tolist()
            seen["T"] = self.spectra.T[position].tolist()
        return seen


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
