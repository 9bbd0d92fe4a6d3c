"""Case 9: designs refined, and laid down with errors many times."""

from __future__ import annotations

from itertools import cycle

import numpy as np
from scipy.optimize import least_squares

from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.merit import Merit, make_merit
from oxhue.optics.design.state import Trial, refine
from oxhue.optics.design.tolerance import DepositionErrors, simulate
from oxhue.optics.films.notation import parse_medium, parse_stack

from .results import CaseResult, Finding
from .timing import Spread, agree, interleaved, ratio

_LEAST_NM, _MOST_NM = 5.0, 500.0
_STEPS = 200


def designs(quick: bool) -> CaseResult:
    """Case 9: a 20-layer mirror from random starts, and the tolerance of a 10-layer one."""
    # long: a case with its rivals in view of each other
    layers, samples = (6, 500) if quick else (20, 100_000)
    budget, least = (0.1, 1) if quick else (40.0, 9)
    merit = _clear("R>99% 420..680nm")
    rng = np.random.default_rng(1)
    which = np.tile([1, 0], layers // 2)
    starts = rng.uniform(20.0, 150.0, (20, layers))
    turns = {name: cycle(starts) for name in ("ours", "scipy")}
    ends: dict[str, list[float]] = {name: [] for name in turns}

    def ours() -> None:
        start = Trial("", which, next(turns["ours"]), np.inf)
        ends["ours"].append(
            refine(merit, start, lower_nm=_LEAST_NM, upper_nm=_MOST_NM, steps=_STEPS).merit
        )

    def general() -> None:
        found = least_squares(
            lambda nm: merit.residuals(which, nm), next(turns["scipy"]),
            jac=lambda nm: merit.with_slopes(which, nm)[1], bounds=(_LEAST_NM, _MOST_NM),
            x_scale="jac", max_nfev=_STEPS,
        )  # fmt: skip
        ends["scipy"].append(float(np.sqrt(2.0 * found.cost)))

    taken = interleaved({"ours": ours, "scipy": general}, budget, least)
    lower = np.mean(np.array(ends["ours"]) <= np.array(ends["scipy"]) + 1e-3)
    wall, spent = _tolerances(samples, budget, least)
    return CaseResult(
        9,
        f"Designs: {layers} layers refined, 10 layers laid down {samples:,} times",
        (_seed_alone_counts(), f"ours ends as low or lower from {100 * lower:.0f} % of the starts"),
        (
            Finding("refinement from a random start", Spread.of(taken["ours"]), "s", most=2.0),
            Finding(
                "scipy's least squares, same derivatives, over ours",
                ratio(taken["scipy"], taken["ours"]),
            ),
            Finding("tolerance, on the wall", wall, "s", most=10.0),
            Finding("of which the processors'", spent, "s"),
        ),
        (
            "Refinement: R>99% from 420 to 680 nm on 1.52 with 1.46 and 2.35, 33 wavelengths, at "
            f"most {_STEPS} steps. Tolerance: errors of 3 % in 10 layers, the same band.",
        ),
    )


def _tolerances(samples: int, budget: float, least: int) -> tuple[Spread, Spread]:
    merit = _clear("R>80% 420..680nm")
    which, nm = np.tile([1, 0], 5), np.full(10, 70.0)

    def run() -> None:
        simulate(
            merit,
            which,
            nm,
            errors=DepositionErrors(3.0),
            samples=samples,
            rng=np.random.default_rng(1),
        )

    wall = interleaved({"it": run}, budget / 2, least, on_the_wall=True)["it"]
    return Spread.of(wall), Spread.of(interleaved({"it": run}, budget / 2, least)["it"])


def _seed_alone_counts() -> str:
    """However many threads lay the pieces down, the seed alone decides what comes out."""
    merit = _clear("R>60% 500..560nm")
    which, nm = np.tile([1, 0], 3), np.tile([57.0, 91.0], 3)
    shares = [
        simulate(
            merit,
            which,
            nm,
            errors=DepositionErrors(3.0),
            samples=5_000,
            rng=np.random.default_rng(1),
            workers=workers,
        )
        for workers in (1, 2)
    ]
    return agree("one thread and two", *(np.array([one.yield_share]) for one in shares))


def _clear(goal: str) -> Merit:
    palette = [parse_medium("n=1.46"), parse_medium("n=2.35")]
    return make_merit(parse_stack("n=1.52"), palette, [parse_goal(goal)])
