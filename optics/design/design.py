"""What to deposit for the reflectance, transmittance or colour wanted?"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from ..colour.colour import Colour, to_colour
from ..colour.conditions import ViewingConditions, as_conditions
from ..errors import InputError, LimitError
from ..films.materials.catalogue import as_materials
from ..films.materials.effective_medium import tell_stand_ins
from ..films.notation import as_stack, parse_medium
from ..films.solve import solve
from ..films.stack import Stack
from ..films.written import label_stack
from .data_reach import STAND_IN, reach_goals, warm_base
from .finish import (
    FINER,
    best_of_each_order,
    choose_finalists,
    finish_design,
    holds,
    list_between,
)
from .goal_reader import as_goals
from .goal_weights import SOLAR_BAND_NM, solar_weights
from .goals import Goal, take_angle
from .merit import Merit, make_merit
from .observation import make_stack
from .practice import MaterialLimit, as_limits, limits_for, remarks_of
from .restarts import search_long
from .result import Design, Designs
from .robust import improve_yield
from .rounding import round_films
from .search import search
from .starts import caps_nm, list_starts, middle_nm
from .state import SOLVED, Limits, SearchState, Trial
from .surroundings import as_cover, take_light_from, uncover
from .tolerance import FINE, DepositionErrors, as_errors, simulate

MAX_LAYERS = 60
MAX_MATERIALS = 12
EFFORT = 600
SAMPLES = 5_000
_NO_CHOICE = 2.0  # percent points: a miss beyond it, where another design meets the goals
_OTHERS = 8  # designs asked where the fewest layers do not bear a rounding
_ROUNDS_MORE = 2  # times the search goes on, on grids twice as fine each
_VISIBLE_NM = (380.0, 780.0)


def design(
    on: str | Stack,
    goals: str | Goal | Sequence[str | Goal],
    materials: str | Sequence[str],
    *,
    max_layers: int = 8,
    thinnest_nm: float = 5.0,
    thickest_nm: float = 500.0,
    total_nm: float | None = None,
    limits: Sequence[MaterialLimit | str] | str = (),
    outermost: str | None = None,
    light_from: str = "air",
    errors: DepositionErrors | str | None = None,
    make_robust: bool = False,
    count: int = 3,
    effort: int = EFFORT,
    samples: int = SAMPLES,
    seed: int = 1,
    conditions: ViewingConditions | str | None = None,
    angle_deg: float = 0.0,
    report: Callable[[str], None] = lambda _: None,
) -> Designs:
    """Find stacks that do what is asked.

    Parameters
    ----------
    on : str or Stack
        What the films are deposited on, in our notation: ``glass`` (one face only), ``glass 4mm``
        (the far face counts too), ``Ti``, or with films on it already.
    goals : str, Goal, or sequence of them
        See :func:`~oxhue.optics.design.goal_reader.parse_goal`.
    materials : str or sequence of str
        Materials you have, separated by commas.
    max_layers : int
        The most films to deposit, 1 to 60.
    thinnest_nm, thickest_nm : float
        Of any film that can be made [nm].
    total_nm : float, optional
        The most all films may measure together [nm].
    limits : str or sequence of str or MaterialLimit
        Of one material's films, such as ``"Ag=10..60nm"``, in place of what is good practice: by
        default no metal is thinner than where its islands surely touch.
    outermost : str, optional
        A layer that must lie on top at least, such as ``"SiO2 20nm"``.
    light_from : str
        What the light comes through: ``"air"``, or a glass, a cement or a bare index for a prism,
        a cube or a cemented filter. Angles are those in it.
    errors : DepositionErrors or str, optional
        Standard deviations of what will be off when they are deposited, or how they are written,
        such as ``"3%, index 1%"``. With them each design comes with its yield.
    make_robust : bool
        Accept a worse merit for a better yield.
    count : int
        How many designs are wanted.
    effort : int
        Refinements the search may spend.
    samples : int
        Pieces simulated for each yield.
    seed : int
        Of all random draws.
    conditions : ViewingConditions or str, optional
        Light and observer of the colours reported, D65 and 2° by default. Goals on colours are
        always meant for these two.
    angle_deg : float
        Angle of the colours reported [°], and of goals that name none.
    report : callable
        Called with a sentence on what is going on.

    Returns
    -------
    Designs
        Also when nothing meets the goals, or the search was interrupted (Ctrl-C).

    Raises
    ------
    InputError
        If a goal, a material or a limit is refused, or optical data do not reach.

    Examples
    --------
    >>> found = design("glass", "R>80% 550nm", materials="Al", max_layers=1, effort=3)
    >>> found.met, found.designs[0].layers
    (True, 1)
    """
    wanted, materials = as_goals(goals), as_materials(materials)
    viewing, errors = as_conditions(conditions), None if errors is None else as_errors(errors)
    wanted = take_angle(wanted, angle_deg)
    named = tuple(parse_medium(name) for name in dict.fromkeys(materials))
    kept = [*materials, on if isinstance(on, str) else ""]
    palette, ground, moved = reach_goals(named, as_stack(on), wanted, kept=kept)
    each = limits_for(palette, as_limits(limits))
    bounds = Limits(max_layers, thinnest_nm, thickest_nm, each)
    _check(bounds, materials, total_nm, count, effort)
    if make_robust and errors is None:
        raise InputError("`make_robust` needs `errors` that the design is to bear, such as 3%")
    base, cover = take_light_from(ground, light_from), as_cover(outermost)
    merit = make_merit(base, palette, wanted, total_nm=total_nm, layers=max_layers, cover=cover)
    bench = SearchState(merit, bounds, caps_nm(merit), effort)
    interrupted, chosen = False, []
    try:
        chosen = _search_until_one_holds(bench, count, errors is not None, seed, report)
    except KeyboardInterrupt:
        interrupted = True
    if interrupted:
        if not bench.best:
            raise KeyboardInterrupt
        chosen = choose_finalists(bench, count, hurry=True)
    if errors is not None and make_robust:
        chosen = [improve_yield(bench, one, errors, samples=samples, seed=seed) for one in chosen]
    bench, chosen = uncover(bench, chosen)
    look = partial(_see, viewing=viewing, angle_deg=angle_deg)
    make = partial(
        _make_design, bench, bench.merit.with_denser_grids(FINER), look=look, errors=errors,
        samples=samples, seed=seed, report=report,
    )  # fmt: skip
    designs = _list_choices(_make_all(bench, chosen, make, interrupted))
    return Designs(
        tuple(designs[:count]), wanted, base, palette, bounds, total_nm, errors, viewing,
        angle_deg, seed, round(bench.spent), interrupted,
        (*moved, *_limit_notes(bench, designs[:1]), *_notes(merit, interrupted),
         *tell_stand_ins([*named, ground.substrate])),
        light_from.strip(), remarks_of([layer.medium.label for one in designs[:1]
                                        for layer in one.piece.layers]),
    )  # fmt: skip


def _search_until_one_holds(
    bench: SearchState, count: int, rich: bool, seed: int, report: Callable[[str], None]
) -> list[Trial]:
    """The finalists of a search that goes on, on finer grids, as long as they fail between points.

    It ends too where nothing is met on the grid either, or the effort is spent.
    """
    rng, middle = np.random.default_rng(seed), middle_nm(bench.merit)
    bench.rich = rich
    begin = list_starts(bench.merit, bench.limits.most_layers)
    search_long(bench, begin, middle_nm=middle, rng=rng, report=report)
    chosen: list[Trial] = []
    for again in range(_ROUNDS_MORE + 1):
        met = any(one.merit <= SOLVED for one in bench.best.values())
        report("checking the best designs between the grid's points")
        made = choose_finalists(bench, count, hurry=False, rich=rich)
        if any(holds(bench.merit, one) for one in made):
            return made
        chosen = chosen or made
        if not met or bench.spent >= bench.effort or again == _ROUNDS_MORE:
            break
        bench.move_to(bench.merit.with_denser_grids(2))
        search(bench, [], middle_nm=middle, rng=rng, report=report)
    rated = [
        replace(one, merit=bench.merit.value(one.which, one.thickness_nm))
        for one in (made if chosen is made else [*made, *chosen])
    ]
    return best_of_each_order(rated)


def _make_all(
    bench: SearchState, chosen: list[Trial], make: Callable[[Trial], Design], interrupted: bool
) -> list[Design]:
    """The designs chosen, and others where the fewest layers bear no rounding."""
    designs = [make(one) for one in chosen]
    if interrupted or not designs:
        return designs
    fewest = min(one.layers for one in designs)
    enough = min((one.layers for one in designs if one.met), default=bench.limits.most_layers + 1)
    for other in list_between(bench, fewest, enough)[:_OTHERS] if enough > fewest else ():
        designs.append(make(finish_design(bench, other)))
        if designs[-1].met:
            break
    return designs


def _make_design(
    bench: SearchState,
    fine: Merit,
    candidate: Trial,
    look: Callable[[Stack], Colour],
    errors: DepositionErrors | None,
    samples: int,
    seed: int,
    report: Callable[[str], None],
) -> Design:
    which = candidate.which
    nm, results = round_films(bench, fine, candidate)
    stack = make_stack(bench.merit.base, bench.merit.palette, which=which, thickness_nm=nm)
    tolerance = None
    if errors is not None:
        report(f"simulating {samples:,} pieces with errors")
        counted = bench.merit.with_denser_grids(FINE)
        rng = np.random.default_rng(seed)
        tolerance = simulate(
            counted, which, nm, errors=errors, samples=samples, rng=rng, report=report
        )
    band = _band(bench.merit.goals)
    R = solve(stack, np.linspace(*band, max(2, round(band[1] - band[0]) + 1))).R
    seen = look(stack)
    least = [
        0.01 * result.least
        for goal, result in zip(bench.merit.goals, results, strict=True)
        if (goal.quantity, goal.count, goal.view) == ("R", "each", "front")
        and goal.angles_deg == (0.0, 0.0)
    ]  # at normal incidence both polarisations are alike
    total_nm = float(nm.sum())
    kept = bench.merit.total_nm is None or total_nm <= bench.merit.total_nm + 0.5
    return Design(
        label_stack(stack), candidate.family, fine.value(which, nm),
        kept and all(result.met for result in results), results, int(which.size),
        total_nm, float(R.mean()), min([float(R.min()), *least]), band, str(seen.srgb_hex),
        str(seen.name), tolerance, which, nm, stack,
    )  # fmt: skip


def _see(stack: Stack, viewing: ViewingConditions, angle_deg: float) -> Colour:
    return to_colour(solve(stack, angle_deg=angle_deg), viewing.light, viewing.observer)


def _band(goals: Sequence[Goal]) -> tuple[float, float]:
    spans = [goal.span_nm for goal in goals if goal.quantity == "R" and goal.view == "front"]
    if not spans:
        return _VISIBLE_NM
    return min(low for low, _ in spans), max(high for _, high in spans)


def _rank_key(design: Design) -> tuple[bool, float, float, int, float]:
    """Those that meet the goals first, by yield if known, then by merit, layers and room."""
    good = 0.0 if design.yield_share is None else round(design.yield_share, 2)
    used = max(result.used for result in design.results)
    return not design.met, -good, round(design.merit, 4), design.layers, used


def _list_choices(designs: list[Design]) -> list[Design]:
    """The best first, less those that miss by far where another meets the goals."""
    ranked = sorted(designs, key=_rank_key)
    if not ranked or not ranked[0].met:
        return ranked
    return [one for one in ranked if one.met or one.merit < _NO_CHOICE]


def _notes(merit: Merit, interrupted: bool) -> tuple[str, ...]:
    base, goals = merit.base, merit.goals
    notes = []
    passing = any(g.quantity in ("T", "A", "Ts-Tp") or g.view != "front" for g in goals)
    clear = base.slab_nm is None and not base.is_opaque(np.array(_VISIBLE_NM))
    if clear and passing:
        notes.append(
            f"light let through, and the look from behind, are counted inside "
            f"{base.substrate.label}; give it a thickness, such as 4mm, to count its far face too"
        )
    for i, term in merit.terms:
        if term.goal.count == "solar":
            notes.append(_sunlight_note(float(merit.sights[i].wavelength_nm[0])))
            break
    if any(g.count == "luminous" for g in goals):
        notes.append("luminous: weighted with D65 and V(λ) as EN 410 and ISO 9050 do")
    for i, term in merit.terms:
        if term.goal.quantity == "emittance":
            grid = merit.sights[i].wavelength_nm / 1000.0
            notes.append(
                f"emittance: at normal incidence, weighted as a black body at 300 K radiates from "
                f"{grid[0]:g} to {grid[-1]:g} um"
            )
            if warm_base(base)[1]:
                notes.append(f"there {STAND_IN} stands for the glass, whose data end at 4.6 um")
    if interrupted:
        notes.append("the search was interrupted; these are the best designs so far")
    return tuple(notes)


def _sunlight_note(first_nm: float) -> str:
    note = "sunlight: ASTM G173, global on a tilted surface"
    low, high = SOLAR_BAND_NM
    if first_nm <= low:
        return note
    grid = np.arange(low, high + 1.0, 5.0)
    before = 100.0 * float(solar_weights(grid)[grid < first_nm].sum())
    return f"{note}, counted from {first_nm:g} nm on, where data begin; {before:.1f} % lie before"


def _limit_notes(bench: SearchState, designs: Sequence[Design]) -> list[str]:
    """Limits of good practice that hold the design."""
    used = {int(i) for design in designs for i in design.which}
    least = bench.limits.thinnest_nm
    return [
        f"{one.material.partition('(')[0]} is not proposed thinner than {one.thinnest_nm:g} nm: "
        f"{one.why} ({one.source})"
        for i, one in enumerate(bench.limits.by_material)
        if i in used and one.why and one.thinnest_nm is not None and one.thinnest_nm > least
    ]


def _check(
    limits: Limits,
    materials: Sequence[str],
    total_nm: float | None,
    count: int,
    effort: int,
) -> None:
    if not 1 <= limits.most_layers <= MAX_LAYERS:
        raise LimitError(f"`max_layers` must be 1 to {MAX_LAYERS} layers, not {limits.most_layers}")
    if not 0.1 <= limits.thinnest_nm < limits.thickest_nm <= 100_000.0:
        raise InputError(
            f"layers of {limits.thinnest_nm:g} to {limits.thickest_nm:g} nm cannot be asked for; "
            f"the thinnest is at least 0.1 nm and below the thickest, which is at most 0.1 mm"
        )
    if not 1 <= len(materials) <= MAX_MATERIALS:
        raise LimitError(f"`materials` takes 1 to {MAX_MATERIALS} materials, not {len(materials)}")
    if total_nm is not None and not total_nm > limits.thinnest_nm:
        raise InputError("`total_nm` must be more than the thinnest layer")
    if not 1 <= count <= 20:
        raise LimitError(f"`count` must be 1 to 20 designs, not {count}")
    if not 1 <= effort <= 100_000:
        raise LimitError(f"`effort` must be 1 to 100,000 refinements, not {effort:,}")
