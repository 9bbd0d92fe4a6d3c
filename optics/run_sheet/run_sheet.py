"""How is it deposited? The steps of a run, what each needs, and what the witness must show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from .._typing import FloatArray
from ..colour.colour import Colour, to_colour
from ..colour.conditions import ViewingConditions, as_conditions
from ..colour.spaces import delta_e_2000
from ..deposition.alloys import alloy_parts
from ..deposition.gas_balance import GasBalance
from ..deposition.geometry import Source, SourceKind, Uniformity, uniformity
from ..deposition.jar import Jar
from ..deposition.metal_run import MetalRun
from ..deposition.setup import Setup
from ..deposition.source_plan import FASTEST_NM_S, SourcePlan, plan_source
from ..design.goals import Goal
from ..design.result import Design
from ..design.tolerance import DepositionErrors
from ..errors import InputError, LimitError, shorten, suggest_point
from ..films.materials.catalogue import MaterialEntry
from ..films.materials.effective_medium import Grade, Mixture, short_name, tell_stand_ins
from ..films.materials.medium import Medium
from ..films.notation import parse_stack
from ..films.solve import solve
from ..films.stack import Layer, Stack
from ..films.stack_arrays import count_films
from ..films.written import label_stack
from ..oxidation.oxidised_film import OxidisedFilm, nitride_film, oxidise_film
from ..remedies.remedies import Remedy, name_troubles
from .gas import (
    SURE,
    MetalLimits,
    RunGas,
    as_run_gas,
    find_plan_remedies,
    limits_of,
    plan_metal_run,
    settle_on_way,
)
from .inputs import Rates, as_rates, as_setup
from .mixed_layer import MixedPlan, plan_mixed
from .monitoring.cues import Cue, as_cues
from .monitoring.monitor import monitor_run
from .plan_file import as_plan
from .remarks import remarks_on, run_cautions
from .replan import MadeLayer, as_made, read_made, replan
from .result import PossibleLayer, PossibleRun, RunSheet, Step
from .witness import (
    Witness,
    WitnessLook,
    add_layer,
    find_handbook_line,
    moments_nm,
    watch,
    witness_substrate,
)

MOST_FILMS = 300_000  # that looks at the witness go through in all

MOST_STEPS = 150
"""Layers in a run sheet: each step looks through all before it, so time grows as their
square."""
_GREY_SHARE = 0.5  # of the metal in oxide, for what grey looks like: between the two limits
_WORTH_A_LOOK = 0.05  # probability of a nitride from which its look is shown


def run_sheet(
    stack: str | Stack | Design,
    setup: Setup | Mapping[str, Any] | None = None,
    jar: Jar | Mapping[str, Any] | str | Path | None = None,
    *,
    source: Source | SourceKind | None = None,
    distance: str | None = None,
    size: str | None = None,
    rate: Rates | str | Sequence[str] | None = None,
    gas: RunGas | str | None = None,
    pressure: str | None = None,
    working_gas: str | None = None,
    working_pressure: str | None = None,
    base_pressure: str | None = None,
    leak: str | None = None,
    pumping: str | None = None,
    volume: str | None = None,
    plastic: bool = False,
    getter: str | None = None,
    trouble: str | Sequence[str] | None = None,
    made: Sequence[MadeLayer | str] = (),
    conditions: ViewingConditions | str | None = None,
    witness: str | None = None,
    every_nm: float | None = None,
    angle_deg: float = 0.0,
    goals: str | Goal | Sequence[str | Goal] | None = None,
    monitor: str | Sequence[str] | None = None,
    errors: DepositionErrors | str | None = None,
) -> RunSheet:
    """Plan the deposition of a stack.

    Parameters
    ----------
    stack : str, Stack or Design
        The stack, or its notation; what touches the substrate is deposited first. A design that
        was found, or the file of its JSON, brings its goals along.
    setup : Setup or mapping, optional
        Source, distance, size of the piece, heater, tooling factor, all in one, or its parts as
        :func:`~oxhue.optics.run_sheet.inputs.make_setup` takes them.
    jar : Jar, mapping, str or Path, optional
        The chamber, its parts as written, or the file that describes it.
    source : Source or str, optional
        In place of ``setup``: ``"boat"`` by default, ``"point"``, ``"plane"``, ``"wire"`` or
        ``"sputter"``.
    distance, size : str, optional
        In place of ``setup``: from source to piece, ``"30cm"`` by default; ``"50mm"`` across by
        default, or ``"25x75mm"``.
    rate : Rates, str or sequence of str, optional
        Growth on the piece, ``"1nm/s"``; ``"Al=10nm/s"`` for one material. By default what the
        source gives at the current or discharge stated, or the most a wire can; else 1 nm/s.
    gas : RunGas or str, optional
        All of the gas in one; or what a ``pressure`` is of, ``"water"`` or ``"air"``.
    pressure : str, optional
        Of the residual gas alone, ``"1e-5mbar"`` by default.
    working_gas, working_pressure : str, optional
        ``"argon"`` and ``"1e-2mbar"``.
    base_pressure, leak, pumping, volume : str, optional
        Of the jar for this run: ``"1e-5mbar"``, ``"1e-3mbar.l/s"``, ``"2l/s"``, ``"3l"``.
    plastic : bool
        Whether plastic masks, tape or parts are near the piece.
    getter : str, optional
        Wall that a titanium run behind the shutter coated before, ``"0.3m2"``.
    trouble : str or sequence of str
        What went wrong when this was deposited before, such as ``"peels"``: for the remedies.
    made : sequence of MadeLayer or str
        Layers already deposited, as they came out, such as ``"1:Al 92nm"``, or what the witness
        showed after them, such as ``"1:R=41% 532nm within 2%"``; the rest is changed to suit.
    conditions : ViewingConditions or str, optional
    witness : str, optional
        What the witness slide is made of, such as ``glass``; by default what the piece is.
    every_nm : float, optional
        Interval between looks inside a layer [nm]; a twelfth of each layer by default.
    angle_deg : float
        Angle at which witness and piece are looked at [°].
    goals : str, Goal or sequence of them, optional
        What the piece is for, as ``design`` takes them: layers made change the rest to meet them.
    monitor : str or sequence of str, optional
        What is watched to end each layer: ``"532nm"``, ``"led 630nm"``, ``"lux"``, ``"eye"``,
        ``"ohms"``, or ``"any"``.
    errors : DepositionErrors or str, optional
        Standard deviations of time and of the rest for the ways to monitor, ``"5%"`` by default.

    Raises
    ------
    InputError
        If a layer cannot be deposited from one source, or anything else given is refused.
    LimitError
        Beyond 150 layers, or where looks inside them are so many as to take minutes.

    Examples
    --------
    >>> sheet = run_sheet("Al 80nm / glass", source="boat", distance="30cm", rate="2nm/s")
    >>> [(step.material, step.time_s) for step in sheet.layers]
    [('Al', 40.0)]
    """
    viewing, rates, made = as_conditions(conditions), as_rates(rate), as_made(made)
    setup = as_setup(setup, source=source, distance=distance, size=size)
    films, text, wanted = as_plan(stack, goals)
    plan, slide = _check_plan(films, text), _bare(witness)
    _check_graded(plan, made, monitor)
    _check_rates(rates, plan)
    if not isinstance(gas, RunGas):
        gas = as_run_gas(
            jar, distance_mm=setup.placement.distance_mm, pressure=pressure, gas=gas,
            working_gas=working_gas, working_pressure=working_pressure, getter=getter,
            base_pressure=base_pressure, leak=leak, pumping=pumping, volume=volume, plastic=plastic,
        )  # fmt: skip
    if plan.substrate.kind == "polymer":
        gas = replace(gas, jar=replace(gas.jar, plastic=True))
    order = laying_order(plan)
    seen: dict[str, Any] = {"viewing": viewing, "angle_deg": angle_deg, "goals": wanted}
    made = read_made(plan, made, order, bare=witness_substrate(plan, slide)) if made else ()
    films, changed = replan(plan, made, order, **seen) if made else (plan, None)
    _check_looks(films, order, every_nm)
    even = uniformity(setup.source, setup.placement, setup.piece)
    bare = witness_substrate(films, slide)
    done = max((one.step for one in made), default=0)
    run = _Run(
        setup, gas, rates, viewing, every_nm, angle_deg, even, gas.free_path_cm, plan.substrate,
        name_troubles(trouble), done,
    )  # fmt: skip
    steps, shown = run.steps(plan, films, order, bare=bare)
    finished, rim = run.finished(shown)
    return RunSheet(
        text.strip(), label_stack(films), angle_deg, viewing.light, viewing.observer,
        setup.source, setup.placement, setup.piece, setup.heater, setup.tooling, gas,
        label_stack(bare), even, finished, rim,
        None if finished is None or rim is None else float(delta_e_2000(finished.lab, rim.lab)),
        _possible(steps), steps, changed, _cautions(steps),
        setup, films, bare, tuple(str(goal) for goal in wanted),
        None if (cues := _cues(monitor, errors)) is None else monitor_run(
            films, order, cues, bare=bare, viewing=viewing, goals=wanted, errors=errors,
            done=done,
        ),
    )  # fmt: skip


def _cues(monitor: str | Sequence[str] | None, errors: object) -> tuple[Cue, ...] | None:
    """The ways to monitor; without any, nothing may be said of their errors."""
    if monitor is not None:
        return as_cues(monitor)
    if errors is not None:
        raise InputError(
            "`errors` are of the ways to monitor: state `monitor` with them", parameter="errors"
        )
    return None


def _cautions(steps: Sequence[Step]) -> tuple[str, ...]:
    arrivals = [step.arrival for step in steps if step.arrival is not None]
    least = min(arrivals, key=lambda one: one.directed, default=None)
    materials = [part.material for step in steps for part in step.parts or [step]]
    return run_cautions(materials, least)


def _possible(steps: Sequence[Step]) -> PossibleRun:
    left = [step for step in steps if not step.made]
    layers = tuple(
        PossibleLayer(
            step.step,
            step.material,
            step.rate_nm_s,
            step.time_s,
            step.source_temperature_C,
            None if step.wire is None else step.wire.current_A,
        )
        for step in left
    )
    why_not = tuple(dict.fromkeys(step.plan.why_not for step in left if not step.possible))
    return PossibleRun(not why_not, why_not, sum(step.time_s for step in left), layers)


@dataclass(frozen=True)
class _Run:
    """What holds for every step of a run."""

    setup: Setup
    gas: RunGas
    rates: Rates
    viewing: ViewingConditions
    every_nm: float | None
    angle_deg: float
    even: Uniformity
    free_path_cm: float
    base: Medium
    troubles: Sequence[str]
    done: int  # steps that have been made

    def steps(
        self, plan: Stack, stack: Stack, order: list[int], *, bare: Stack
    ) -> tuple[tuple[Step, ...], Stack | None]:
        """All steps, and the piece with each layer in its likeliest state.

        ``bare`` is the witness slide. The piece is None where
        the index of such a state is not held.
        """
        steps: list[Step] = []
        laid, spent_s = bare, 0.0
        shown: Stack | None = replace(stack, layers=(), back_layers=())
        for number, position in enumerate(order, start=1):
            layer, back = stack.all_layers[position], position >= len(stack.layers)
            planned_nm = float(plan.all_layers[position].thickness_nm)
            step, film = self.step(
                number, layer, laid, back=back, planned_nm=planned_nm, made=number <= self.done,
                spent_s=spent_s,
            )  # fmt: skip
            if not step.made and step.material not in [one.material for one in steps]:
                step = replace(step, remedies=self.remedies(step, layer))
            steps.append(step)
            laid = step.seen.slide
            shown = None if film is None or shown is None else add_layer(shown, film, back)
            spent_s += 0.0 if step.made else step.time_s
        return tuple(steps), shown

    def step(
        self, number: int, layer: Layer, laid: Stack, *, back: bool, planned_nm: float, made: bool,
        spent_s: float,
    ) -> tuple[Step, Layer | None]:  # fmt: skip
        """One step on what has been deposited, and its layer in the likeliest state."""
        entry, name = find_handbook_line(layer.medium), _material(layer)
        nm, even = float(layer.thickness_nm), self.even
        mixed = self.plan_parts(layer, nm, spent_s, back)
        source = mixed.source if mixed else plan_source(
            entry, nm, self.setup, rate_nm_s=self.rates.of(name), free_path_cm=self.free_path_cm
        )  # fmt: skip
        time_s = nm / source.rate_nm_s
        metal = limits = None
        if entry is not None and not made and time_s > 0.0:
            metal, limits = self.judge(entry, source, nm, spent_s)
        balance = None if metal is None else metal.balance
        films = _films_by_state(layer, name, balance)
        state = next(iter(films))
        film = films[state] or OxidisedFilm(layer.medium, nm, None)
        moments = moments_nm(nm, self.every_nm) * (film.thickness_nm / nm if nm else 1.0)
        seen = self.see(laid, film, moments, back)
        witness: dict[str, WitnessLook | None] = {}
        for other, one in films.items():
            if one is None or one is film:
                witness[other] = None if one is None else seen.look(moments.size - 1, time_s)
            else:
                alone = self.see(laid, one, np.array([one.thickness_nm]), back)
                witness[other] = alone.look(0, time_s)
        known = films[state] is not None
        remarks = mixed.remarks if mixed else remarks_on(
            entry, layer.medium.label, source, setup=self.setup, balance=balance, limits=limits,
            time_s=time_s,
        )  # fmt: skip
        return Step(
            number, "back" if back else "front", name, layer.medium.label, nm, planned_nm, made,
            even.lowest * nm, even.highest * nm, source.rate_nm_s, time_s,
            made or source.possible, source, metal,
            None if balance is None else {one: balance.states[one] for one in _by_chance(balance)},
            limits, witness, seen.looks(time_s) if known else (),
            (*tell_stand_ins([layer.medium, *([self.base] if number == 1 else [])]), *remarks),
            seen, parts=mixed.parts if mixed else (),
        ), Layer(film.medium, np.asarray(film.thickness_nm)) if known else None  # fmt: skip

    def plan_parts(
        self, layer: Layer, thickness_nm: float, spent_s: float, back: bool
    ) -> MixedPlan | None:
        """The two sources of a mixed or graded layer; None for a layer of one material."""
        medium = layer.medium
        if not isinstance(medium, Mixture | Grade):
            return None
        if back and isinstance(medium, Grade):
            medium = medium.reverse()

        def judge(entry: MaterialEntry, source: SourcePlan, nm: float) -> MetalRun | None:
            return plan_metal_run(
                entry, source, self.setup, even=self.even, gas=self.gas, thickness_nm=nm,
                spent_s=spent_s,
            )  # fmt: skip

        return plan_mixed(
            medium, thickness_nm, self.setup, rate_nm_s=self.rates.of(_material(layer)),
            free_path_cm=self.free_path_cm, judge=judge,
        )  # fmt: skip

    def judge(
        self, entry: MaterialEntry, source: SourcePlan, thickness_nm: float, spent_s: float
    ) -> tuple[MetalRun | None, MetalLimits | None]:
        """A metal in its gas, and what would keep it one where that is in doubt."""
        metal = plan_metal_run(
            entry, source, self.setup, even=self.even, gas=self.gas, thickness_nm=thickness_nm,
            spent_s=spent_s,
        )  # fmt: skip
        if metal is None or metal.balance.states["metal"] >= SURE:
            return metal, None
        limits = limits_of(metal)
        fast = limits.above_nm_s
        if fast is not None and not self.can_give(entry, thickness_nm, fast, source):
            limits = replace(limits, above_nm_s=None)
        return metal, limits

    def remedies(self, step: Step, layer: Layer) -> tuple[Remedy, ...]:
        """What to change at the next run of a layer, as far as source and piece allow it."""
        entry, planned = find_handbook_line(layer.medium), step.run

        def settle(run: MetalRun) -> MetalRun | None:
            assert planned is not None and planned.spread_cm2  # noqa: PT018
            if planned.jar.plastic and not run.jar.plastic and self.base.kind == "polymer":
                return None
            run = settle_on_way(run, self.setup, rate_holds=step.rate_factor == 1.0)
            rate = run.rate_nm_s * (run.spread_cm2 or 0.0) / planned.spread_cm2
            given = self.can_give(entry, step.thickness_nm, rate, step.plan)
            return run if given and run.rate_nm_s <= FASTEST_NM_S else None

        return find_plan_remedies(
            planned, step.material, on=self.base.label, troubles=self.troubles, settle=settle
        )

    def can_give(
        self, entry: MaterialEntry | None, thickness_nm: float, rate_nm_s: float, plan: SourcePlan
    ) -> bool:
        """Whether the source gives another rate than planned; a discharge does, with more power."""
        if self.setup.source.kind == "sputter" or rate_nm_s <= plan.rate_nm_s * (1.0 + 1e-9):
            return True
        other = plan_source(
            entry, thickness_nm, self.setup, rate_nm_s=rate_nm_s, free_path_cm=self.free_path_cm
        )
        carried = [one.wire is not None and one.wire.carries for one in (plan, other)]
        return other.possible and carried[0] == carried[1]

    def see(self, laid: Stack, film: OxidisedFilm, at_nm: FloatArray, back: bool) -> Witness:
        """Looks at a film growing on what has been deposited."""
        return watch(
            laid, film.medium, at_nm, back=back, viewing=self.viewing, angle_deg=self.angle_deg,
            ohm_sq=film.ohm_sq,
        )  # fmt: skip

    def finished(self, shown: Stack | None) -> tuple[Colour | None, Colour | None]:
        """The finished piece in its middle, and where it is coated least."""
        if shown is None:
            return None, None
        middle, rim = (
            to_colour(
                solve(_scale_stack(shown, share), angle_deg=self.angle_deg),
                self.viewing.light,
                self.viewing.observer,
            )
            for share in (1.0, self.even.lowest)
        )
        return middle, rim


def _by_chance(balance: GasBalance) -> list[Any]:
    return sorted(balance.states, key=lambda state: -balance.states[state])


def _films_by_state(
    layer: Layer, name: str, balance: GasBalance | None
) -> dict[str, OxidisedFilm | None]:
    """What the layer is in each state, the likeliest first; None where no index is held."""
    nm = float(layer.thickness_nm)
    if balance is None:
        return {"film": OxidisedFilm(layer.medium, nm, None)}
    parts = alloy_parts(name)
    films = {
        "metal": OxidisedFilm(layer.medium, nm, None),
        "grey": oxidise_film(layer.medium, name, nm, share=_GREY_SHARE, parts=parts),
        "oxide": oxidise_film(layer.medium, name, nm, share=1.0, parts=parts),
    }
    ordered = {state: films[state] for state in _by_chance(balance)}
    if balance.nitride >= _WORTH_A_LOOK:
        ordered["nitride"] = nitride_film(name, nm)
    return ordered


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
        if layer.axis is not None:
            raise InputError(
                f"the sheet takes one thickness for {label}, such as 80nm, not a sweep"
                f"{suggest_point(text)}"
            )
        _check_solid(layer.medium)
        if not layer.thickness_nm > 0.0:
            raise InputError(f"the layer {label} has no thickness; leave it out")
    return plan


def _check_solid(medium: Medium) -> None:
    parts = (medium.first, medium.second) if isinstance(medium, Mixture | Grade) else (medium,)
    for part in parts:
        if part.kind in ("gas", "liquid"):
            pores = "" if part is medium else f"; plan {short_name(medium)} by its solid part alone"
            raise InputError(f"{short_name(part)} cannot be deposited in vacuum{pores}")


def _check_graded(plan: Stack, made: Sequence[MadeLayer], monitor: object) -> None:
    """Refuse what would follow or change a layer whose index is not the same all through."""
    graded = [one.medium.label for one in plan.all_layers if isinstance(one.medium, Grade)]
    for given, name in ((made, "made"), (monitor, "monitor")):
        if graded and given:
            raise InputError(
                f"the graded layer {graded[0]} is laid by time and rate and neither followed nor "
                f"changed: leave out `{name}`, or write it as layers of mixtures, such as "
                f"'Ti:TiO2 25% 20nm / Ti:TiO2 75% 20nm'",
                parameter=name,
            )


def _check_looks(stack: Stack, order: Sequence[int], every_nm: float | None) -> None:
    """Refuse looks at the witness that would take minutes: each goes through all laid so far."""
    films = laid = 0
    for layer in (stack.all_layers[position] for position in order):
        laid += count_films((layer,))
        films += laid * moments_nm(float(layer.thickness_nm), every_nm).size
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
    if isinstance(layer.medium, Mixture | Grade):
        return short_name(layer.medium)
    entry = find_handbook_line(layer.medium)
    return layer.medium.label if entry is None else entry.name


def _scale_stack(stack: Stack, share: float) -> Stack:
    """The stack with every layer thinner or thicker by the same share."""
    front, back = (
        tuple(replace(layer, thickness_nm=share * layer.thickness_nm) for layer in layers)
        for layers in (stack.layers, stack.back_layers)
    )
    return replace(stack, layers=front, back_layers=back)
