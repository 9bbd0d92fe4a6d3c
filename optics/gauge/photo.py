"""A reading of a spot taken off a photo of the piece."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from ..colour.colour import xyz_to_colour
from ..colour.spaces import SRGB_WHITE_XYZ, xyz_to_lab
from ..images.linear_light import Picture, load_picture
from ..images.white_balance import WHITE_REFLECTANCE, Patch, read_photo
from ..inference.reading import Reading
from ..inference.uncertainty import uncertainty_for
from ..look.look import look
from ..units import parse_quantity

_STEPS = 4.0  # of the noise, for each ΔE


def reading_from_photo(
    path: Path,
    patch: Patch,
    on: str,
    *,
    white: Patch | None = None,
    bare: Patch | None = None,
    white_reflectance: float = WHITE_REFLECTANCE,
    how: str | None = None,
    angle: str | None = None,
    settings: Mapping[str, float] | None = None,
) -> Reading:
    """The colour of a patch of a photo, with the scatter found in it.

    Parameters
    ----------
    path : Path
    patch : Patch
        Where the film is.
    on : str
        What it lies on: the colour of ``bare`` follows from it.
    white, bare : Patch, optional
        A white card, and the bare metal, in the picture.
    white_reflectance : float
        Luminous reflectance of the card [-].
    how : str, optional
        Kind of reading; by default ``card`` with a reference in the picture, else ``photo``.
    angle : str, optional
        Viewing angle [°]; by default anything that a piece held up may have.
    settings : mapping, optional
        Doubts by name in place of the defaults of that kind; the patch's own scatter is added to
        their noise.

    Returns
    -------
    Reading

    Raises
    ------
    InputError
        If the picture or a patch is refused.
    """
    return reading_from_picture(
        load_picture(path),
        patch,
        on,
        name=path.name,
        white=white,
        bare=bare,
        white_reflectance=white_reflectance,
        how=how,
        angle=angle,
        settings=settings,
    )


def reading_from_picture(
    picture: Picture,
    patch: Patch,
    on: str,
    *,
    name: str,
    white: Patch | None = None,
    bare: Patch | None = None,
    white_reflectance: float = WHITE_REFLECTANCE,
    how: str | None = None,
    angle: str | None = None,
    settings: Mapping[str, float] | None = None,
) -> Reading:
    """The same of a photo that was read before; ``name`` is what it is called."""
    bare_lab = bare_metal_lab(on) if bare is not None else None
    seen = read_photo(
        picture,
        patch,
        white=white,
        bare=bare,
        white_reflectance=white_reflectance,
        bare_lab=bare_lab,
    )
    chosen = replace(uncertainty_for(how or seen.how), **(settings or {}))
    if angle is not None:
        chosen = chosen.with_angle(parse_quantity(angle, "angle_deg", "the angle"))
    # Rounded up, so that many photos share their tables.
    noise_de = float(np.ceil(_STEPS * np.hypot(chosen.noise_de, seen.noise_de)) / _STEPS)
    return Reading(
        text=f"{name} at {patch}",
        how=how or seen.how,
        points_lab=seen.lab[None],
        weight=np.ones(1),
        doubts=replace(chosen, noise_de=noise_de),
        warnings=(*picture.notes, *seen.warnings),
    )


def bare_metal_lab(on: str) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """CIELAB (D65, 2°) of what lies under the film, square on, shape (3,)."""
    seen = look(on).reflected
    return xyz_to_lab(xyz_to_colour(seen.xyz).xyz, SRGB_WHITE_XYZ)
