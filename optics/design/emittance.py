"""How much warmth a stack radiates."""

from __future__ import annotations

from ..errors import InputError
from ..films.notation import as_stack
from ..films.solve import solve
from ..films.stack import Stack
from .goal_terms import grid_of
from .goal_weights import emittance_weights
from .goals import Goal


def emittance(stack: str | Stack) -> float:
    """Share of a black body's radiation at 300 K that a stack gives off, straight on.

    By Kirchhoff's law what it absorbs, ``1 - R - T`` and of a half-space ``1 - R``, weighted as a
    black body radiates from 5 to 25 µm, or as far of it as data reach: the share that the goal
    ``emittance<5%`` of a design counts in percent.

    Parameters
    ----------
    stack : str or Stack
        Without a sweep, of media whose data reach from 8 to 13 µm.

    Returns
    -------
    float
        0 to 1.

    Raises
    ------
    InputError, OutOfRangeError
        If the stack is swept, or data do not reach.

    References
    ----------
    G. Kirchhoff, Ann. Phys. 185, 275 (1860) (from memory).

    Examples
    --------
    >>> emittance("Al(rakic1998-bb) 100nm / SiO2(franta2016-fused)") < 0.05
    True
    """
    films = as_stack(stack)
    if films.sweep_shape:
        raise InputError("`stack` must have fixed thicknesses, not a sweep", parameter="stack")
    media = [films.substrate, *(layer.medium for layer in films.all_layers)]
    grid = grid_of(Goal("emittance", "<", 5.0), media)
    spectra = solve(films, grid)
    kept = spectra.A if films.slab_nm is not None else 1.0 - spectra.R
    return float(kept @ emittance_weights(grid))
