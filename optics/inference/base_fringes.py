"""What a film lies on, where a clear layer of it is too thick for the grid films are weighed on."""

from __future__ import annotations

import numpy as np

from ..colour.conditions import ViewingConditions
from ..colour.fringe_sums import sum_light
from ..colour.illuminants import tristimulus_weights, white_xyz
from ..colour.spaces import delta_e_76, xyz_to_lab
from ..films.solve import solve
from ..films.spectra import DEFAULT_WAVELENGTH_NM
from ..films.stack import Stack

_THICK_NM = 5000.0  # below it the grid follows the fringes of any clear layer to 0.1 ΔE
_TOLD_DE = 2.0  # which two looks at one piece differ by


def doubt_fringes(base: Stack, viewing: ViewingConditions) -> tuple[str, ...]:
    """What to say where the base's own colour is off on the grid; nothing where it is not."""
    thickest_nm = max((float(np.max(one.thickness_nm)) for one in base.layers), default=0.0)
    if thickest_nm < _THICK_NM:
        return ()
    grid = DEFAULT_WAVELENGTH_NM
    seen = solve(base, grid)
    coarse = seen.sums("R", tristimulus_weights(grid, viewing.light, viewing.observer))
    (exact,) = sum_light(seen, ["R"], light=viewing.light, observer=viewing.observer)
    white = white_xyz(viewing.light, viewing.observer)
    off_de = float(np.max(delta_e_76(xyz_to_lab(coarse, white), xyz_to_lab(exact, white))))
    if off_de < _TOLD_DE:
        return ()
    return (
        f"what it lies on has a clear layer of {thickest_nm / 1000.0:g} µm, whose fringes are "
        f"finer than the {grid[1] - grid[0]:g} nm at which films are compared: its colour comes "
        f"out {off_de:.0f} ΔE wrong, and the thickness may with it; take a piece without that "
        f"layer",
    )
