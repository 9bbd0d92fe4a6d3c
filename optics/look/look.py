"""What does this coating look like?"""

from __future__ import annotations

import numpy as np

from ..colour.colour import xyz_to_colour
from ..colour.conditions import ViewingConditions, as_conditions
from ..colour.fringe_sums import Wanted, spectra_to_show, sum_light
from ..errors import LimitError
from ..films.notation import as_stack
from ..films.solve import Side, solve
from ..films.spectra import DEFAULT_WAVELENGTH_NM
from ..films.stack import Stack
from ..films.stack_arrays import count_films
from ..films.written import label_stack
from .result import Look

MAX_SPECTRUM_POINTS = 20_000
MAX_SWEPT_LAYERS = 1_000_000  # layers times points: what takes up to ten seconds


def look(
    stack: str | Stack,
    *,
    angle_deg: float = 0.0,
    side: Side = "front",
    conditions: ViewingConditions | str | None = None,
    spectrum: bool = False,
) -> Look:
    """Colour of a stack, reflected and seen through.

    Parameters
    ----------
    stack : str or Stack
        The stack, or its notation.
    angle_deg : float
        Angle of incidence [°].
    side : {"front", "back"}
    conditions : ViewingConditions or str, optional
        Light and observer, or the name of the light; D65 and 2° by default.
    spectrum : bool
        Keep reflectance and transmittance over wavelength.

    Raises
    ------
    InputError
        If anything in the stack, the angle, the light or the observer is refused.
    LimitError
        If spectra are wanted for more than 20,000 points, or the stacks of a sweep have more
        than a million layers in all.
    """
    seen_under = as_conditions(conditions)
    light, observer = seen_under.light, seen_under.observer
    films = as_stack(stack)
    points = int(np.prod(films.sweep_shape))
    if spectrum and points > MAX_SPECTRUM_POINTS:
        raise LimitError(
            f"spectra of {points:,} stacks are too many; at most {MAX_SPECTRUM_POINTS:,} are kept"
        )
    layers = max(1, count_films(films.all_layers))
    if points * layers > MAX_SWEPT_LAYERS:
        raise LimitError(
            f"a sweep of {points:,} stacks of {layers:,} layers is too much at once; at most "
            f"{MAX_SWEPT_LAYERS:,} layers, slices of graded ones counted, are looked at in all, "
            f"so widen its step"
        )
    opaque = films.is_opaque(DEFAULT_WAVELENGTH_NM)
    wanted: tuple[Wanted, ...] = ("R",) if opaque else ("R", "T")
    response = solve(films, angle_deg=angle_deg, side=side)
    reflected, *transmitted = sum_light(response, wanted, light=light, observer=observer)
    return Look(
        stack=stack.strip() if isinstance(stack, str) else label_stack(films),
        films=films,
        angle_deg=angle_deg,
        side=side,
        conditions=seen_under,
        reflected=xyz_to_colour(reflected, light, observer),
        transmitted=None
        if opaque
        else xyz_to_colour(transmitted[0], light, observer, of="transmitted"),
        spectra=spectra_to_show(response) if spectrum else None,
    )
