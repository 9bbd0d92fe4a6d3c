"""Charts of a design: spectrum with its goals, colour against angle, field and absorption."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from itertools import cycle
from typing import TYPE_CHECKING, Any

import numpy as np

from .._typing import FloatArray
from ..colour.colour import to_colour
from ..films.engine.field import field_profile
from ..films.engine.transfer_matrix import Polarization
from ..films.materials.effective_medium import short_name
from ..films.solve import Side, solve
from ..films.stack_arrays import films_to_arrays
from ..report.strips import plot_ramp
from ..report.style import INK, QUIET, SHADE, new_axes, new_figure, style_axes
from .goal_terms import make_term
from .goals import READ_WHOLE, Goal
from .phase_observation import observe_goal
from .result import Design, Designs, format_short_stack
from .stack_tolerance import StackTolerance

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_STYLES = {"R": "-", "T": "--", "A": ":"}
_BOUNDS = {">": "^", "<": "v", "=": "o"}
_JUMP_DEG = 180.0  # between neighbours, where a phase comes round again
_AROUND_NM = 40.0  # shown on either side of the goals' bands
_STEEPEST_DEG = 70.0
_WIDE_NM = (350.0, 1000.0)
_Way = tuple[float, Polarization, Side]
_MARKS = "sDxP*"  # of curves that are not square on
_SEEN_PER_NM = 1e-6  # of the light; less absorption than this is not drawn
_SQUARE: _Way = (0.0, "mean", "front")


def chart_designs(found: Designs) -> Figure:
    """The best design: R, T and A with the goals, its colour from 0 to 70°, and its inside; phases,
    delays and how far s and p part, where goals ask for them."""
    asked = [goal for goal in found.goals if goal.quantity in READ_WHOLE]
    more = [1.2] * len({goal.unit for goal in asked})
    figure, (above, *phases, strip, below) = new_figure(
        8.0, 9.8 + 2.2 * len(more), [2.4, *more, 0.6, 1.6]
    )
    plot_design(found, above)
    for unit, ax in zip(sorted({goal.unit for goal in asked}), phases, strict=True):
        plot_phases(found, [goal for goal in asked if goal.unit == unit], ax=ax)
    plot_tilt(found, strip)
    plot_depth(found, below)
    return figure


def chart_tolerance(found: StackTolerance) -> Figure:
    """R and T without errors, and where 90 % of the pieces lie."""
    figure, (ax,) = new_figure(8.0, 4.5, [1.0])
    for name, low, high in (("R", found.R_low, found.R_high), ("T", found.T_low, found.T_high)):
        exact = 100.0 * getattr(found, name)
        ax.fill_between(found.wavelength_nm, 100.0 * low, 100.0 * high, color=SHADE)
        ax.plot(found.wavelength_nm, exact, _STYLES[name], color=INK, label=name)
    ax.set_xlabel("wavelength [nm]")
    ax.set_ylabel("share of the light [%]")
    ax.legend()
    return figure


def plot_design(found: Designs, ax: Axes | None = None, which: int = 0) -> Axes:
    """R, T and A over wavelength, where the pieces lie, and what the goals ask.

    Square on, and for every angle, polarisation and side that a goal names.

    Parameters
    ----------
    found : Designs
    ax : Axes, optional
    which : int
        Which of the designs; the best is 0.
    """
    ax = ax or new_axes()
    design = found.designs[which]
    grid = np.linspace(*_shown_nm(found), 401)
    tolerance = design.tolerance
    if tolerance is not None and tolerance.wavelength_nm.size > 1:
        ax.fill_between(
            tolerance.wavelength_nm, 100 * tolerance.low_R, 100 * tolerance.high_R,
            color=SHADE, label=f"R of 90 % of pieces, errors {tolerance.errors}",
        )  # fmt: skip
    marks = cycle(_MARKS)
    for name, way in _ways(found):
        angle, polarization, side = way
        seen = solve(design.piece, grid, angle, polarization=polarization, side=side)
        fraction = {"R": seen.R, "T": seen.T, "A": seen.A}[name]
        own: dict[str, Any] = {"color": INK, "lw": 1.8}
        if way != _SQUARE:
            own = {"color": QUIET, "lw": 1.0, "marker": next(marks), "ms": 4, "markevery": (20, 40)}
        ax.plot(grid, 100.0 * fraction, _STYLES[name], label=f"{name}{_name_curve(way)}", **own)
    for goal in found.goals:
        _plot_bound(goal, ax)
    ax.set_xlabel("wavelength [nm]")
    ax.set_ylabel("share of the light [%]")
    ax.set_xlim(grid[0], grid[-1])
    ax.set_title(textwrap.fill(format_short_stack(design.piece), 90))
    style_axes(ax)
    ax.legend(
        loc="upper center", bbox_to_anchor=(0.5, -0.13), ncols=2, frameon=False, fontsize=8.5,
        labelcolor=INK, handlelength=2.6,
    )  # fmt: skip
    return ax


def plot_phases(
    found: Designs, goals: Sequence[Goal], *, ax: Axes | None = None, which: int = 0
) -> Axes:
    """Phases [°], delays [fs] or s less p [%] over wavelength of a design, and what goals ask."""
    ax = ax or new_axes()
    piece, grid = found.designs[which].piece, np.linspace(*_shown_nm(found), 201)
    medium = found.palette[:1]  # an observation needs one; the films are those of the piece
    none = np.empty(0, dtype=np.intp)
    for goal, style in zip(goals, cycle(("-", "--", ":", "-."))):
        seen = observe_goal(goal, piece, medium, wavelength_nm=grid, angle_deg=goal.angles_deg[0])
        term = make_term(goal, grid, opaque=False)
        read = term.readings(seen.powers(seen.index(none), np.empty(0)))
        jumps = np.abs(np.diff(read, prepend=read[0])) > _JUMP_DEG
        line = np.where(jumps & (goal.unit == "°"), np.nan, read)
        ax.plot(grid, line, style, color=INK, lw=1.6, label=str(goal))
        ends = list(dict.fromkeys(goal.span_nm))
        ax.plot(ends, [goal.wanted] * len(ends), color=QUIET, lw=1.0, ls=(0, (1, 1)),
                marker=_BOUNDS[goal.relation], ms=7, mfc="white", mec=INK)  # fmt: skip
    ax.set_xlabel("wavelength [nm]")
    ax.set_ylabel({"°": "phase [°]", "fs": "group delay [fs]", "%": "s less p [%]"}[goals[0].unit])
    ax.set_xlim(grid[0], grid[-1])
    ax.legend(fontsize=8.5, frameon=False, labelcolor=INK)
    return style_axes(ax)


def _ways(found: Designs) -> list[tuple[str, _Way]]:
    """The curves the goals speak of, first R square on."""
    ways: list[tuple[str, _Way]] = [("R", _SQUARE)]
    for goal in found.goals:
        if goal.quantity in _STYLES:
            side: Side = "back" if goal.view == "back" else "front"
            for angle in goal.angles_deg:
                turned = goal.polarization if angle else "mean"  # square on, both are the same
                ways.append((goal.quantity, (angle, turned, side)))
    return list(dict.fromkeys(ways))


def _name_curve(way: _Way) -> str:
    angle, polarization, side = way
    parts = ["" if not angle else f" at {angle:g}°", "" if side == "front" else " from the back"]
    return "".join([parts[0], "" if polarization == "mean" else f" {polarization}", parts[1]])


def _plot_bound(goal: Goal, ax: Axes) -> None:
    if goal.quantity not in _STYLES:
        return
    low, high = goal.span_nm
    mark = _BOUNDS[goal.relation]
    ends = [low] if low == high else [low, high]
    ax.plot(ends, [goal.percent] * len(ends), color=QUIET, lw=1.0, ls=(0, (1, 1)),
            marker=mark, ms=7, mfc="white", mec=INK, label=str(goal))  # fmt: skip


def plot_tilt(found: Designs, ax: Axes | None = None, which: int = 0) -> Axes:
    """Colours of a design as it is tilted from 0 to 70°, as a strip."""
    design = found.designs[which]
    angles = np.arange(0.0, _STEEPEST_DEG + 0.1, 2.0)
    viewing = found.viewing
    seen = [
        to_colour(solve(design.piece, angle_deg=angle), viewing.light, viewing.observer)
        for angle in angles
    ]
    hexes, names = [str(one.srgb_hex) for one in seen], [str(one.name) for one in seen]
    ax = plot_ramp(angles, hexes, names, in_gamut=[bool(one.in_gamut) for one in seen], ax=ax)
    ax.set_xlabel("angle from square on [°]")
    return ax


def plot_depth(found: Designs, ax: Axes | None = None, which: int = 0) -> Axes:
    """The field and the absorption through the films, in the middle of the design's band."""
    ax = ax or new_axes()
    design = found.designs[which]
    middle = 2.0 / (1.0 / design.band_nm[0] + 1.0 / design.band_nm[1])
    films = films_to_arrays(design.piece, design.piece.layers, np.array([middle]))
    inside = field_profile(films.index[:, 0], films.thickness_nm, middle)
    ax.plot(inside.depth_nm, inside.field, color=INK, lw=1.8, label="|E|², incident wave 1")
    for x in inside.boundaries_nm:
        ax.axvline(x, color=SHADE, lw=0.8, zorder=0)
    if inside.absorption_per_nm.max(initial=0.0) > _SEEN_PER_NM:
        share = 100.0 * inside.absorption_per_nm
        twin = ax.twinx()
        twin.plot(inside.depth_nm, share, "--", color=QUIET, label="absorbed")
        twin.set_ylabel("absorbed, dashed [%/nm]", color=QUIET)
        twin.set_ylim(bottom=0.0)
        twin.tick_params(labelsize=9, colors=QUIET)
        twin.spines["top"].set_visible(False)
    _name_layers(design, inside.boundaries_nm, ax)
    ax.set_xlim(0.0, inside.boundaries_nm[-1])
    ax.set_ylim(bottom=0.0)
    ax.set_xlabel(f"depth from the surface [nm], at {middle:.0f} nm square on")
    ax.set_ylabel("|E|² over the incident [-]")
    return style_axes(ax, grid="")


def _name_layers(design: Design, boundaries_nm: FloatArray, ax: Axes) -> None:
    whole = boundaries_nm[-1]
    for layer, top, bottom in zip(
        design.piece.layers, boundaries_nm[:-1], boundaries_nm[1:], strict=False
    ):
        if bottom - top > 0.04 * whole:
            name = short_name(layer.medium)
            ax.text(
                0.5 * (top + bottom), 0.97, name, transform=ax.get_xaxis_transform(), ha="center",
                va="top", fontsize=8,
            )  # fmt: skip


def _shown_nm(found: Designs) -> tuple[float, float]:
    """The goals' bands and a little around them, as far as all data reach."""
    spans = [goal.span_nm for goal in found.goals if goal.quantity != "emittance"]
    low = max(min((s[0] for s in spans), default=380.0) - _AROUND_NM, _WIDE_NM[0])
    high = max((s[1] for s in spans), default=780.0) + _AROUND_NM
    media = (*found.palette, found.base.substrate)
    for medium in media:
        reach = getattr(medium, "range_nm", None)
        if reach is not None:
            low, high = max(low, reach[0]), min(high, reach[1])
    return low, high
