"""What does this coating look like?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from .._typing import FloatArray
from ..colour.colour import spectra_to_xyz, xyz_to_colour
from ..colour.conditions import ViewingConditions, as_conditions
from ..errors import LimitError
from ..films.notation import as_stack
from ..films.solve import Side, solve
from ..films.spectra import DEFAULT_WAVELENGTH_NM, Spectra
from ..films.stack import Layer, Stack
from ..films.stack_arrays import count_films
from ..films.written import label_stack
from .result import Look

MAX_SPECTRUM_POINTS = 20_000
MAX_SWEPT_LAYERS = 1_000_000  # layers times points: what takes up to ten seconds
_CHUNK = 4_000  # stacks at a time, so that a long sweep needs little memory


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
    grid = DEFAULT_WAVELENGTH_NM
    opaque = films.is_opaque(grid)
    reflected, transmitted, spectra = [], [], []
    for part in _split_stack(films):
        response = solve(part, grid, angle_deg, side=side)
        reflected.append(spectra_to_xyz(response.R, grid, light, observer=observer))
        if not opaque:
            transmitted.append(spectra_to_xyz(response.T, grid, light, observer=observer))
        if spectrum:
            spectra.append(response)
    return Look(
        stack=stack.strip() if isinstance(stack, str) else label_stack(films),
        films=films,
        angle_deg=angle_deg,
        side=side,
        conditions=seen_under,
        reflected=xyz_to_colour(_join_colours(reflected), light, observer),
        transmitted=None
        if opaque
        else xyz_to_colour(_join_colours(transmitted), light, observer, of="transmitted"),
        spectra=_join_spectra(spectra) if spectrum else None,
    )


def _split_stack(stack: Stack) -> Iterator[Stack]:
    """The stack in pieces along its first sweep axis."""
    shape = stack.sweep_shape
    if not shape:
        yield stack
        return
    step = max(1, _CHUNK // int(np.prod(shape[1:])))
    for start in range(0, shape[0], step):
        rows = slice(start, start + step)
        yield replace(
            stack,
            layers=_cut_layers(stack.layers, rows),
            back_layers=_cut_layers(stack.back_layers, rows),
        )


def _cut_layers(layers: tuple[Layer, ...], rows: slice) -> tuple[Layer, ...]:
    return tuple(
        replace(layer, thickness_nm=layer.thickness_nm[rows]) if layer.axis == 0 else layer
        for layer in layers
    )


def _join_colours(parts: list[FloatArray]) -> FloatArray:
    return parts[0] if len(parts) == 1 else np.concatenate(parts)


def _join_spectra(parts: list[Spectra]) -> Spectra:
    return Spectra.from_arrays(
        parts[0].wavelength_nm,
        _join_colours([part.R for part in parts]),
        _join_colours([part.T for part in parts]),
    )
