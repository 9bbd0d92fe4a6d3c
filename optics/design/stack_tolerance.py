"""How much does a stack of one's own vary when its films come out with errors?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, ClassVar

import numpy as np

from .._typing import FloatArray, IndexArray
from ..colour.colour import spectra_to_xyz, xyz_to_colour
from ..colour.conditions import ViewingConditions, as_conditions
from ..colour.fringe_sums import wavelengths_to_show
from ..colour.spaces import delta_e_2000
from ..errors import InputError, LimitError
from ..films.materials.effective_medium import Grade
from ..films.materials.medium import Medium
from ..films.materials.nk_table import Material
from ..films.notation import as_stack
from ..films.solve import solve
from ..films.stack import Stack
from ..films.written import label_stack
from ..report.json import plain
from ..result import Hidden, Result
from .goal_reader import as_goals
from .goals import Goal
from .merit import make_merit
from .observation import make_observation
from .tolerance import (
    FINE,
    MAX_SAMPLES,
    DepositionErrors,
    Tolerance,
    as_errors,
    draw_errors,
    simulate,
)

_SPECTRA = 500  # pieces whose spectra are kept for the bands
_BAND = (0.05, 0.95)


@dataclass(frozen=True, eq=False, repr=False)
class StackTolerance(Result):
    """What errors of deposition do to a stack.

    Attributes
    ----------
    stack : str
        In our notation.
    errors : str
        Standard deviations, as they are written.
    samples, seed : int
    wavelength_nm : ndarray, shape (W,)
    R, R_low, R_high : ndarray, shape (W,)
        Reflectance [-] without errors, and where 90 % of the pieces lie.
    T, T_low, T_high : ndarray, shape (W,)
        Likewise the transmittance [-]; 0 for an opaque base.
    srgb_hex, name : str
        Reflected colour without errors.
    delta_e_median, delta_e_most : float
        CIEDE2000 from that colour: the median, and what 95 % of the pieces stay below.
    goals : Tolerance or None
        Yield and weakest layer, where goals were given.
    films : Stack
    """

    verb: ClassVar[str] = "tolerance"

    stack: str
    errors: str
    samples: int
    seed: int
    wavelength_nm: FloatArray
    R: FloatArray
    R_low: FloatArray
    R_high: FloatArray
    T: FloatArray
    T_low: FloatArray
    T_high: FloatArray
    srgb_hex: str
    name: str
    delta_e_median: float
    delta_e_most: float
    goals: Hidden[Tolerance | None]
    films: Hidden[Stack]

    @property
    def yield_share(self) -> float | None:
        """Share of pieces that meet every goal [-]; None without goals."""
        return None if self.goals is None else self.goals.yield_share

    def json_fields(self) -> dict[str, Any]:
        """The spreads, and with goals the yield."""
        names = [one.name for one in fields(self) if one.name not in ("goals", "films")]
        found = {name: plain(getattr(self, name)) for name in names} | {"yield": self.yield_share}
        return found | ({} if self.goals is None else self.goals.json_fields())


def tolerance(
    stack: str | Stack,
    errors: DepositionErrors | str,
    goals: str | Goal | Sequence[str | Goal] | None = None,
    *,
    samples: int = 5_000,
    seed: int = 1,
    conditions: ViewingConditions | str | None = None,
    angle_deg: float = 0.0,
) -> StackTolerance:
    """How a stack varies when its films are deposited with errors.

    Parameters
    ----------
    stack : str or Stack
        The stack, or its notation; the films of its front are the ones that err.
    errors : DepositionErrors or str
        Standard deviations, such as ``"3%"`` or ``"1nm, index 1%, tooling 2%, angle 1deg"``.
    goals : str, Goal or sequence of them, optional
        What a good piece must do, such as ``"R>85% 450..650nm"``; with them the yield is given.
    samples : int
        Pieces simulated for the yield, 100 to ten million; the spectra take the first 500.
    seed : int
        Of all random draws, 0 or more.
    conditions : ViewingConditions or str, optional
        Light and observer of the colour, D65 and 2° by default.
    angle_deg : float
        Angle of incidence of spectra and colour [°]; goals have their own.

    Raises
    ------
    InputError
        If the stack has no film, a sweep or a graded film, or anything given is refused.
    LimitError
        If there are too few or too many samples.

    Examples
    --------
    >>> found = tolerance("SiO2 90nm / Al 80nm / glass", "5%", "R>80% 550nm", samples=500)
    >>> found.yield_share
    1.0
    """
    films, viewing, errors = as_stack(stack), as_conditions(conditions), as_errors(errors)
    _check(films, errors, samples, seed)
    base = replace(films, layers=())
    palette, which = list_media(films)
    nm = np.array([float(layer.thickness_nm) for layer in films.layers])
    grid = wavelengths_to_show(solve(films, angle_deg=angle_deg))
    sight = make_observation(base, palette, grid, angle_deg=angle_deg)
    drawn, index, tilt = draw_errors(
        which, nm, errors, samples=min(samples, _SPECTRA), rng=np.random.default_rng([seed, 1])
    )
    exact = sight.powers(sight.index(which), nm)
    powers = sight.powers(sight.index(which, index), drawn, tilt)
    R, T = exact.R[0], exact.T[0]
    (R_low, R_high), (T_low, T_high) = (
        np.quantile(values[:, 0], _BAND, axis=0) for values in (powers.R, powers.T)
    )
    light, observer = viewing.light, viewing.observer
    seen = xyz_to_colour(spectra_to_xyz(R, grid, light, observer=observer), light, observer)
    pieces = xyz_to_colour(
        spectra_to_xyz(powers.R[:, 0], grid, light, observer=observer), light, observer
    )
    median, most = np.quantile(delta_e_2000(seen.lab, pieces.lab), (0.5, _BAND[1]))
    made = None
    if goals is not None:
        merit = make_merit(base, palette, as_goals(goals), density=FINE, layers=nm.size)
        made = simulate(
            merit, which, nm, errors=errors, samples=samples, rng=np.random.default_rng(seed)
        )
    return StackTolerance(
        label_stack(films), str(errors), samples, seed, grid, R, R_low, R_high, T, T_low, T_high,
        str(seen.srgb_hex), str(seen.name), float(median), float(most), made, films,
    )  # fmt: skip


def list_media(films: Stack) -> tuple[tuple[Medium, ...], IndexArray]:
    """The media of the front films, each once, and which of them each film is of.

    The same constant index or mixture in two places is one medium, though each was read by itself.
    """
    media: list[Medium] = []
    which = []
    for medium in (layer.medium for layer in films.layers):
        same = (i for i, one in enumerate(media) if _is_same(one, medium))
        which.append(next(same, len(media)))
        if which[-1] == len(media):
            media.append(medium)
    return tuple(media), np.array(which, dtype=np.intp)


def _is_same(one: Medium, other: Medium) -> bool:
    """Whether two are of one material; tables by their name, as each is read again."""
    tables = isinstance(one, Material) and isinstance(other, Material)
    return one == other or (tables and one.label == other.label)


def _check(films: Stack, errors: DepositionErrors, samples: int, seed: int) -> None:
    if not films.layers or films.sweep_shape:
        raise InputError("`stack` must have at least one film, and no sweep", parameter="stack")
    for layer in films.layers:
        if isinstance(layer.medium, Grade):
            raise InputError(
                f"`stack` has the graded film {layer.medium.label}; write it as several films",
                parameter="stack",
            )
    if errors == DepositionErrors():
        raise InputError("`errors` must have at least one error, such as 3%", parameter="errors")
    if not 100 <= samples <= MAX_SAMPLES:
        raise LimitError(f"`samples` must be 100 to {MAX_SAMPLES:,}, not {samples:,}")
    if seed < 0:
        raise InputError(f"`seed` must be 0 or more, not {seed}", parameter="seed")
