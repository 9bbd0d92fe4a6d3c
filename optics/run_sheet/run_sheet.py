"""How is it deposited? The steps of a run, what each needs, and what the witness must show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ..colour.colour import to_colour
from ..colour.conditions import ViewingConditions, as_conditions
from ..colour.spaces import delta_e_2000
from ..deposition.geometry import Source, SourceKind, uniformity
from ..deposition.residual_gas import Chamber, getter_relief
from ..deposition.setup import Setup
from ..errors import InputError, LimitError, shorten, suggest_point
from ..films.materials.effective_medium import Grade, Mixture
from ..films.notation import as_stack, parse_stack
from ..films.solve import solve
from ..films.stack import Layer, Stack
from ..films.written import format_stack
from .inputs import Rates, as_chamber, as_rates, as_setup
from .needs import layer_time_s, needs_of, remarks_on, run_cautions
from .replan import MadeLayer, as_made, replan
from .result import RunSheet, Step
from .witness import find_handbook_line, moments_nm, watch, witness_substrate

MOST_FILMS = 300_000  # that looks at the witness go through in all

MOST_STEPS = 150
"""Layers in a run sheet: each step looks through all before it, so time grows as their
square."""


def run_sheet(
    stack: str | Stack,
    setup: Setup | None = None,
    chamber: Chamber | None = None,
    *,
    source: Source | SourceKind | None = None,
    distance: str | None = None,
    size: str | None = None,
    pressure: str | None = None,
    rate: Rates | str | Sequence[str] | None = None,
    made: Sequence[MadeLayer | str] = (),
    conditions: ViewingConditions | str | None = None,
    witness: str | None = None,
    every_nm: float | None = None,
    angle_deg: float = 0.0,
) -> RunSheet:
    """Plan the deposition of a stack.

    Parameters
    ----------
    stack : str or Stack
        The stack, or its notation; what touches the substrate is deposited first.
    setup : Setup, optional
        Source, distance, size of the piece, heater, tooling factor, all in one.
    chamber : Chamber, optional
        Residual gas and what is done about it. A plastic piece counts as plastic near it.
    source : Source or str, optional
        In place of ``setup``: ``"boat"`` by default, ``"point"``, ``"plane"``, ``"wire"`` or
        ``"sputter"``.
    distance : str, optional
        In place of ``setup``: from source to piece, ``"30cm"`` by default.
    size : str, optional
        In place of ``setup``: ``"50mm"`` across by default, or ``"25x75mm"``.
    pressure : str, optional
        In place of ``chamber``: of residual water, ``"1e-5mbar"`` by default.
    rate : Rates, str or sequence of str, optional
        Growth on the piece, ``"1nm/s"`` by default; ``"Al=10nm/s"`` for one material.
    made : sequence of MadeLayer or str
        Layers already deposited, as they came out, such as ``"1:Al 92nm"``; the rest is changed
        to suit.
    conditions : ViewingConditions or str, optional
    witness : str, optional
        What the witness slide is made of, such as ``glass``; by default what the piece is.
    every_nm : float, optional
        Interval between looks inside a layer [nm]; a twelfth of each layer by default.
    angle_deg : float
        Angle at which witness and piece are looked at [°].

    Raises
    ------
    InputError
        If a layer cannot be deposited from one source, or anything else given is refused.
    LimitError
        Beyond 150 layers, or where looks inside them are so many as to take minutes.

    Examples
    --------
    >>> sheet = run_sheet("Al 80nm / glass", source="boat", distance="30cm", rate="2nm/s")
    >>> [(step.material, step.needs.time_s) for step in sheet.steps]
    [('Al', 40.0)]
    """
    viewing, rates, made = as_conditions(conditions), as_rates(rate), as_made(made)
    setup = as_setup(setup, source, distance, size)
    chamber = as_chamber(chamber, pressure)
    films = as_stack(stack)
    text = stack if isinstance(stack, str) else format_stack(films)
    plan, slide = _check_plan(films, text), _bare(witness)
    _check_rates(rates, plan)
    if plan.substrate.kind == "polymer":
        chamber = replace(chamber, plastic=True)
    order = laying_order(plan)
    films, changed = replan(plan, made, order, viewing, angle_deg) if made else (plan, None)
    _check_looks(films, order, every_nm)
    even = uniformity(setup.source, setup.placement, setup.piece)
    bare = witness_substrate(films, slide)
    run = _Run(setup, chamber, rates, viewing, every_nm, angle_deg, *getter_relief(chamber))
    done = max((one.step for one in made), default=0)
    steps = run.steps(plan, films, order, done, bare)
    finished, rim = (
        to_colour(
            solve(_scale_stack(films, share), angle_deg=angle_deg), viewing.light, viewing.observer
        )
        for share in (1.0, even.lowest)
    )
    return RunSheet(
        text.strip(), films, setup, chamber, viewing, angle_deg, steps, even, finished, rim,
        float(delta_e_2000(finished.lab, rim.lab)), run.fresh_s, bare, changed,
        run_cautions([step.material for step in steps], setup, chamber),
    )  # fmt: skip


@dataclass(frozen=True)
class _Run:
    """What holds for every step of a run."""

    setup: Setup
    chamber: Chamber
    rates: Rates
    viewing: ViewingConditions
    every_nm: float | None
    angle_deg: float
    relief: dict[str, float]
    fresh_s: float

    def steps(
        self, plan: Stack, stack: Stack, order: list[int], done: int, bare: Stack
    ) -> tuple[Step, ...]:
        """All steps; ``done`` of them have been made, and ``bare`` is the witness slide."""
        steps: list[Step] = []
        laid, spent_s = bare, 0.0
        for number, position in enumerate(order, start=1):
            layer, back = stack.all_layers[position], position >= len(stack.layers)
            planned_nm = float(plan.all_layers[position].thickness_nm)
            made = number <= done
            face = "back" if back else "front"
            steps.append(self.step(number, face, layer, planned_nm, made, laid, spent_s))
            laid = steps[-1].witness.slide
            spent_s += 0.0 if made else steps[-1].needs.time_s
        return tuple(steps)

    def step(
        self, number: int, face: str, layer: Layer, planned_nm: float, made: bool, laid: Stack,
        spent_s: float,
    ) -> Step:  # fmt: skip
        """One step on what has been laid, so long after the run began."""
        entry, name = find_handbook_line(layer.medium), _material(layer)
        thickness_nm, rate = float(layer.thickness_nm), self.rates.of(name)
        relief = self.relief_during(spent_s, layer_time_s(thickness_nm, rate, self.setup))
        needs = needs_of(entry, thickness_nm, rate, self.setup, self.chamber, relief)
        moments = moments_nm(thickness_nm, self.every_nm)
        return Step(
            number, face, layer, name, planned_nm, made, needs,
            watch(laid, layer.medium, moments, face == "back", self.viewing, self.angle_deg),
            remarks_on(entry, layer.medium.label, needs, self.setup, self.chamber),
        )  # fmt: skip

    def relief_during(self, start_s: float, time_s: float) -> dict[str, float]:
        """Mean share of each gas left while a layer grows: the getter helps until it is spent."""
        left_s = max(self.fresh_s - start_s, 0.0)
        fresh = min(left_s, time_s) / time_s if time_s > 0.0 else float(left_s > 0.0)
        return {gas: fresh * left + 1.0 - fresh for gas, left in self.relief.items()}


def laying_order(stack: Stack) -> list[int]:
    """Position in ``stack.all_layers`` of each step: the substrate outward, front before back."""
    front = len(stack.layers)
    return [*reversed(range(front)), *range(front, len(stack.all_layers))]


def _check_plan(plan: Stack, text: str) -> Stack:
    if not plan.all_layers:
        raise InputError("there is no layer to deposit: write one, such as 'Al 80nm / glass'")
    if len(plan.all_layers) > MOST_STEPS:
        raise LimitError(
            f"the stack has {len(plan.all_layers)} layers to deposit; a run sheet plans at most "
            f"{MOST_STEPS}"
        )
    for layer in plan.all_layers:
        label = layer.medium.label
        if isinstance(layer.medium, Mixture | Grade):
            raise InputError(
                f"the mixed or graded layer {label} needs two sources at once, which the sheet "
                f"does not plan; write it as layers of one material each"
            )
        if layer.axis is not None:
            raise InputError(
                f"the sheet takes one thickness for {label}, such as 80nm, not a sweep"
                f"{suggest_point(text)}"
            )
        if layer.medium.kind in ("gas", "liquid"):
            raise InputError(f"{label} cannot be deposited in vacuum")
        if not layer.thickness_nm > 0.0:
            raise InputError(f"the layer {label} has no thickness; leave it out")
    return plan


def _check_looks(stack: Stack, order: Sequence[int], every_nm: float | None) -> None:
    """Refuse looks at the witness that would take minutes: each goes through all laid so far."""
    films = sum(
        step * moments_nm(float(stack.all_layers[position].thickness_nm), every_nm).size
        for step, position in enumerate(order, start=1)
    )
    if films > MOST_FILMS:
        raise LimitError(
            f"the looks at the witness go through {films:,} films in all; at most {MOST_FILMS:,} "
            f"are computed, so widen `every_nm`"
        )


def _check_rates(rates: Rates, plan: Stack) -> None:
    names = [_material(layer) for layer in plan.all_layers]
    for name, _ in rates.by_material:
        if name not in names:
            raise InputError(f"a rate is given for {name}, but no layer is of it")


def _bare(witness: str | None) -> Stack | None:
    if witness is None:
        return None
    slide = parse_stack(witness)
    if slide.all_layers:
        raise InputError(f"the witness {shorten(witness)!r} must be bare, such as glass")
    return slide


def _material(layer: Layer) -> str:
    entry = find_handbook_line(layer.medium)
    return layer.medium.label if entry is None else entry.name


def _scale_stack(stack: Stack, share: float) -> Stack:
    """The stack with every layer thinner or thicker by the same share."""
    front, back = (
        tuple(replace(layer, thickness_nm=share * layer.thickness_nm) for layer in layers)
        for layers in (stack.layers, stack.back_layers)
    )
    return replace(stack, layers=front, back_layers=back)
