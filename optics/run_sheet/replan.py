"""A layer came out wrong: what the layers still to come should be instead."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from .._typing import FloatArray
from ..colour.colour import Colour, spectra_to_xyz, to_colour
from ..colour.conditions import ViewingConditions
from ..colour.illuminants import tristimulus_weights, white_xyz
from ..colour.spaces import delta_e_2000, xyz_to_lab
from ..design.goals import Goal
from ..design.merit import GoalResult
from ..errors import InputError, NotationError, shorten
from ..files.columns import read_text
from ..films.engine.gradient import coherent_gradient
from ..films.engine.incoherent_gradient import slab_gradient
from ..films.engine.transfer_matrix import Incidence
from ..films.materials.medium import Medium
from ..films.notation import parse_stack
from ..films.solve import solve
from ..films.spectra import DEFAULT_WAVELENGTH_NM
from ..films.stack import Layer, Stack
from ..films.stack_arrays import films_to_arrays
from .goal_replan import judge_goals, replan_on_goals, thinnest_nm
from .monitoring.made_reading import (
    SPECTRUM_FILES,
    WitnessReading,
    estimate_thickness,
    parse_witness_reading,
)
from .witness import add_layer, find_handbook_line

_STARTS, _FEWEST_STARTS = 12, 2
_START_LAYERS = 60  # starts times layers at most, as each start costs about its layers squared
_SEED = 1  # of the starts, which are the same for every question
_REACH_NM, _REACH = 100.0, 2.0  # a layer is sought up to twice its plan and this much more
_STAYS = 0.25  # of a layer's plan: a colour alone does not tell what else it is there for
_THINNEST_NM = 1.0  # of what a reading may leave
_SAME = 1e-3  # squared colour differences that count as equal, and the nearer to the plan wins
_SECOND_DOUBT = 0.05  # probability from which another thickness of a gauge result must be ruled out
_XYZ_STEP = 1e-3
_WITHIN = 9  # thicknesses looked at within the interval of a reading
_OPAQUE = 3.0  # "at least" is looked at up to so many times as thick: then it is opaque
_READING = re.compile(r"(?:[RTA]\s*[<>=]|colour\b)")
_MADE = re.compile(r"\s*(\d{1,6})\s*:\s*(.+?)\s*", re.DOTALL)


@dataclass(frozen=True)
class MadeLayer:
    """A layer as it came out.

    Attributes
    ----------
    step : int
        In order of deposition.
    thickness_nm : float
    medium : Medium or None
    interval90_nm : tuple of float or None
        Within which a reading holds the thickness [nm]; None for one that is stated, infinite above
        for an opaque metal that is at least so thick.
    reading : WitnessReading or None
        What the witness showed, where the thickness is still to be found from it.
    """

    step: int
    thickness_nm: float
    medium: Medium | None = None
    interval90_nm: tuple[float, float] | None = None
    reading: WitnessReading | None = None


@dataclass(frozen=True)
class DoubtfulReading:
    """A layer made, and the interval that its reading leaves [nm]; infinite above: at least."""

    step: int
    interval90_nm: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Replan:
    """What the finished piece comes to after a layer came out wrong.

    Attributes
    ----------
    planned, unchanged, finished : Colour
        Reflected from the front: as planned; with the rest as planned; with the rest changed.
    delta_e_unchanged, delta_e : float
        CIEDE2000 from the plan without and with the change.
    reflectance_rms_unchanged, reflectance_rms : float
        Root mean square distance of the reflectance from the plan over the visible [-], likewise.
    delta_e_range90 : tuple of float
        Least and greatest ``delta_e`` over the intervals of what was read.
    made_doubt : tuple of DoubtfulReading
    goals_unchanged, goals : tuple of GoalResult
        What becomes of the goals likewise; empty without goals.
    """

    planned: Colour
    unchanged: Colour
    finished: Colour
    delta_e_unchanged: float
    delta_e: float
    reflectance_rms_unchanged: float
    reflectance_rms: float
    delta_e_range90: tuple[float, float]
    made_doubt: tuple[DoubtfulReading, ...] = ()
    goals_unchanged: tuple[GoalResult, ...] = ()
    goals: tuple[GoalResult, ...] = ()


def as_made(made: Sequence[MadeLayer | str]) -> tuple[MadeLayer, ...]:
    """Layers already deposited, from objects or from how they are written.

    Raises
    ------
    InputError
        If it is no sequence of these, or a text is refused.
    """
    several = [made] if isinstance(made, str | MadeLayer) else made
    if not isinstance(several, Sequence) or not all(
        isinstance(m, str | MadeLayer) for m in several
    ):
        raise InputError(
            f"`made` is a list of layers such as '1:Al 92nm', not {made!r:.80}", parameter="made"
        )
    return tuple(parse_made(one) if isinstance(one, str) else one for one in several)


def parse_made(text: str) -> MadeLayer:
    """Read ``1:Al 92nm``, ``1:gauge.json``, ``1:R=41% 532nm`` or ``1:spectrum.csv``.

    The second is the JSON of a gauge result; the last two are what the witness shows after it.

    Raises
    ------
    InputError
        If it is not written so, or the gauge result is not one thickness to trust.
    """
    match = _MADE.fullmatch(text)
    if match is None:
        raise InputError(f"what was made is written as '1:Al 92nm', not {shorten(text)!r}")
    step, what = int(match[1]), match[2]
    if what.endswith(".json"):
        thickness_nm, interval90_nm = _read_gauge_nm(Path(what))
        return MadeLayer(step, thickness_nm, None, interval90_nm)
    if what.lower().endswith(SPECTRUM_FILES) or _READING.match(what):
        return MadeLayer(step, math.nan, reading=parse_witness_reading(what))
    try:
        layers = parse_stack(f"{what} / n=1").layers
    except NotationError as error:
        raise InputError(f"in {shorten(text)!r}: {error.problem}") from error
    if len(layers) != 1 or layers[0].axis is not None:
        raise InputError(f"{shorten(text)!r} must name one layer with one thickness, as 1:Al 92nm")
    return MadeLayer(step, float(layers[0].thickness_nm), layers[0].medium)


def read_made(
    plan: Stack, made: Sequence[MadeLayer], order: Sequence[int], *, bare: Stack
) -> tuple[MadeLayer, ...]:
    """Layers whose thickness is found from what the witness showed, the others as they are.

    What is "at least" so thick counts as planned, or as that where the plan is thinner. Steps
    before one of them count as made, or else as planned; their doubt is not added.
    """
    by_step = {one.step: one for one in made}
    laid = bare
    for step, position in enumerate(order[: max(by_step, default=0)], start=1):
        layer, back = plan.all_layers[position], position >= len(plan.layers)
        nm, one = float(layer.thickness_nm), by_step.get(step)
        if one is not None and one.reading is not None:
            middle, interval = estimate_thickness(
                laid, layer.medium, nm, reading=one.reading, back=back
            )
            one = by_step[step] = replace(one, thickness_nm=middle, interval90_nm=interval)
        elif one is not None and one.interval90_nm is not None and math.isinf(one.interval90_nm[1]):
            one = by_step[step] = replace(one, thickness_nm=max(nm, one.interval90_nm[0]))
        nm = nm if one is None else one.thickness_nm
        laid = add_layer(laid, Layer(layer.medium, np.asarray(nm)), back)
    return tuple(by_step[one.step] for one in made)


def replan(
    plan: Stack,
    made: Sequence[MadeLayer],
    order: Sequence[int],
    *,
    viewing: ViewingConditions,
    angle_deg: float = 0.0,
    goals: Sequence[Goal] = (),
) -> tuple[Stack, Replan]:
    """Put in what was made, and change the layers still to come.

    Parameters
    ----------
    plan : Stack
    made : sequence of MadeLayer
    order : sequence of int
        Position in ``plan.all_layers`` of each step.
    viewing : ViewingConditions
    angle_deg : float
        Angle of incidence [°].
    goals : sequence of Goal
        What the piece is for; the layers to come are then changed to meet them.

    Returns
    -------
    stack : Stack
        With the thicknesses made, and the best of the rest.
    replan : Replan

    Raises
    ------
    InputError
        If a step does not exist, is given twice, or is of another material.

    Notes
    -----
    Least squares over the thicknesses of the steps after the last one made, from the plan and
    from up to eleven other starts, fewer for many layers: the three differences in CIELAB and,
    with the same weight in all, the differences of the reflectance in percent over 380 to 780 nm,
    seen from the front, with exact derivatives. A quarter of every layer's plan stays, since a
    colour does not tell whether it protects what lies below. Steps before the last one made count
    as made as planned. With goals it is their misses instead (`goal_replan`).
    """
    _check_made(plan, made, order)
    with_made = _replace_thicknesses(plan, {order[one.step - 1]: one.thickness_nm for one in made})
    free = list(order[max(one.step for one in made) :])
    target = solve(plan, angle_deg=angle_deg)
    finished = with_made
    if free and goals:
        finished = replan_on_goals(plan, with_made, free, goals=goals)
    elif free:
        best_nm = _best(with_made, plan, free, target.R, viewing, angle_deg)
        finished = _replace_thicknesses(with_made, dict(zip(free, best_nm, strict=True)))
    seen = [solve(one, angle_deg=angle_deg) for one in (with_made, finished)]
    looks = [to_colour(one, viewing.light, viewing.observer) for one in seen]
    planned = to_colour(target, viewing.light, viewing.observer)
    delta_e = [float(delta_e_2000(planned.lab, one.lab)) for one in looks]
    rms = [float(np.sqrt(np.mean((one.R - target.R) ** 2))) for one in seen]
    doubtful = tuple(
        DoubtfulReading(one.step, one.interval90_nm)
        for one in made
        if one.interval90_nm is not None
    )
    off, by_step = [delta_e[1]], {one.step: one.thickness_nm for one in made}
    for one in doubtful:
        low_nm, high_nm = one.interval90_nm
        most_nm = _OPAQUE * by_step[one.step] if math.isinf(high_nm) else high_nm
        for end_nm in np.linspace(low_nm, most_nm, _WITHIN).tolist():
            other = _replace_thicknesses(finished, {order[one.step - 1]: end_nm})
            look = to_colour(solve(other, angle_deg=angle_deg), viewing.light, viewing.observer)
            off.append(float(delta_e_2000(planned.lab, look.lab)))
    return finished, Replan(
        planned, looks[0], looks[1], delta_e[0], delta_e[1], rms[0], rms[1],
        (min(off), max(off)), doubtful,
        *(judge_goals(one, goals) for one in (with_made, finished)),
    )  # fmt: skip


def _check_made(plan: Stack, made: Sequence[MadeLayer], order: Sequence[int]) -> None:
    steps = [one.step for one in made]
    for one in made:
        if not 1 <= one.step <= len(order):
            raise InputError(
                f"step {one.step} was said to be made, but the steps are 1 to {len(order)}"
            )
        if not one.thickness_nm > 0.0:
            raise InputError(
                f"step {one.step} was said to be made, but {one.thickness_nm:g} nm is no layer; "
                f"leave it among those to come"
            )
        if steps.count(one.step) > 1:
            raise InputError(f"step {one.step} was said to be made twice")
        planned = plan.all_layers[order[one.step - 1]].medium
        if one.medium is not None and not _are_alike(one.medium, planned):
            raise InputError(
                f"step {one.step} is {planned.label}, not {one.medium.label}; steps are "
                f"numbered from the substrate outward"
            )


def _are_alike(one: Medium, other: Medium) -> bool:
    first, second = find_handbook_line(one), find_handbook_line(other)
    if first is None or second is None:
        return one.label == other.label
    return first.name == second.name


def _best(
    start: Stack,
    plan: Stack,
    free: list[int],
    target: FloatArray,
    viewing: ViewingConditions,
    angle_deg: float,
) -> FloatArray:
    """Thicknesses [nm] of the free layers that bring the piece nearest to the plan."""
    from scipy.optimize import least_squares

    wanted = np.array([float(plan.all_layers[i].thickness_nm) for i in free])
    white = white_xyz(viewing.light, viewing.observer)
    weights = tristimulus_weights(DEFAULT_WAVELENGTH_NM, viewing.light, observer=viewing.observer)
    target_lab = xyz_to_lab(target @ weights, white)
    share = 100.0 / np.sqrt(target.size)

    def misfit(thickness_nm: FloatArray) -> FloatArray:
        stack = _replace_thicknesses(start, dict(zip(free, thickness_nm, strict=True)))
        R = solve(stack, angle_deg=angle_deg).R
        xyz = spectra_to_xyz(R, DEFAULT_WAVELENGTH_NM, viewing.light, observer=viewing.observer)
        return np.concatenate([xyz_to_lab(xyz, white) - target_lab, share * (R - target)])

    def slopes(thickness_nm: FloatArray) -> FloatArray:
        stack = _replace_thicknesses(start, dict(zip(free, thickness_nm, strict=True)))
        R, dR = reflectance_slopes(stack, angle_deg)
        to_lab = _lab_slopes(R @ weights, white) @ weights.T
        return np.concatenate([to_lab, share * np.eye(R.size)]) @ dR[free].T

    media = [plan.all_layers[i].medium for i in free]
    least_nm = thinnest_nm(media, wanted, share=_STAYS)
    most_nm = _REACH * wanted + _REACH_NM
    starts = min(_STARTS, max(_FEWEST_STARTS, _START_LAYERS // wanted.size))
    draw = np.random.default_rng(_SEED).random((starts - 1, wanted.size))
    found = [
        least_squares(misfit, x, slopes, bounds=(least_nm, most_nm), x_scale=wanted)
        for x in (wanted, *(least_nm + draw * (most_nm - least_nm)))
    ]
    least = min(one.cost for one in found)
    level = [one.x for one in found if one.cost <= least + _SAME]
    nearest: FloatArray = min(level, key=lambda x: float(np.abs(x - wanted).sum()))
    return nearest


def reflectance_slopes(stack: Stack, angle_deg: float = 0.0) -> tuple[FloatArray, FloatArray]:
    """Reflectance (W,) of the front, and its derivatives to the thicknesses (layers, W) [1/nm].

    The layers are those of ``stack.all_layers``, none of them graded or swept.
    """
    wavelength = DEFAULT_WAVELENGTH_NM
    front = films_to_arrays(stack, stack.layers, wavelength)
    incidence = Incidence.at(stack.ambient.nk(wavelength).real, np.asarray(angle_deg))
    if stack.slab_nm is None:
        whole = coherent_gradient(
            front.index,
            front.thickness_nm,
            wavelength,
            incidence=incidence,
            polarization="mean",
            to_index=False,
            of="R",
        )
        return whole.R, whole.dR_dd
    back = films_to_arrays(stack, stack.reverse().layers, wavelength)
    near, far = ((side.index, side.thickness_nm) for side in (front, back))
    slab = slab_gradient(
        near,
        far,
        stack.slab_nm,
        wavelength_nm=wavelength,
        incidence=incidence,
        polarization="mean",
        to_index=False,
        of="R",
    )
    return slab.R, np.concatenate([slab.front_dR_dd, slab.back_dR_dd[::-1]])


def _lab_slopes(xyz: FloatArray, white: FloatArray) -> FloatArray:
    """Derivatives of L*, a*, b* (rows) to X, Y, Z (columns)."""
    shifted = _XYZ_STEP * np.eye(3)
    change = xyz_to_lab(xyz + shifted, white) - xyz_to_lab(xyz - shifted, white)
    slopes: FloatArray = change.T / (2.0 * _XYZ_STEP)
    return slopes


def _replace_thicknesses(stack: Stack, thickness_nm: dict[int, float]) -> Stack:
    """The stack with other thicknesses at some positions of ``all_layers``."""
    layers = [
        Layer(layer.medium, np.asarray(thickness_nm[i])) if i in thickness_nm else layer
        for i, layer in enumerate(stack.all_layers)
    ]
    count = len(stack.layers)
    return replace(stack, layers=tuple(layers[:count]), back_layers=tuple(layers[count:]))


def _read_gauge_nm(path: Path) -> tuple[float, tuple[float, float] | None]:
    """The one thickness a gauge result holds, and its interval where that is told [nm]."""
    try:
        result = json.loads(read_text(path))
        kept = [one for one in result["candidates"] if one["probability"] >= _SECOND_DOUBT]
        likely = [float(one["thickness_nm"]) for one in kept]
        thickness_nm, fits = likely[0], bool(result["fits"])
        said = kept[0].get("interval90_nm") or ()
        ends = [math.inf if end is None else float(end) for end in said]
    except (ValueError, KeyError, TypeError, IndexError, OverflowError, RecursionError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"{path.name} is not the JSON of a gauge result") from error
    if not fits:
        raise InputError(f"nothing fitted the reading in {path.name}; it gives no thickness")
    if len(likely) > 1:
        several = ", ".join(f"{one:.0f} nm" for one in likely)
        raise InputError(
            f"{path.name} holds several thicknesses ({several}); write the one it is, as 1:Al 92nm"
        )
    if not 0.0 <= thickness_nm < np.inf:
        raise InputError(f"{path.name} holds {thickness_nm:g} nm, which is no thickness")
    if len(ends) != 2 or not 0.0 <= ends[0] <= ends[1] or math.isinf(ends[0]):
        return thickness_nm, None
    return thickness_nm, (max(ends[0], _THINNEST_NM), max(ends[1], _THINNEST_NM))
