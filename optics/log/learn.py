"""Runs of a jar read from a log and learnt from: numbers, checks, change, causes."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Sequence
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np

from .._typing import FloatArray
from ..deposition.jar import as_jar
from ..errors import InputError
from ..numerics.steps import likely_step
from ..units import format_digits
from .derived import Kept
from .evidence import LN_NM, STATES, PieceEvidence, piece_evidence
from .jar.learnt import Cause, JarChange, JarLearnt, JarThen, LearntNumber, RunCheck
from .jar_posterior import (
    JarDraws,
    RunEvidence,
    learn_jar,
    log_likelihood,
    looks_likelihood,
    predict_run,
    run_log_likelihood,
    seen_states,
    typical_likelihood,
)
from .jar_prior import MOST_PLACES, RENEWED_CHANCE, STEP_CHANCE, JarPrior
from .records import LoggedRun, LoggedSetup
from .run_gas import jar_of, leak_doubt
from .run_model import RunModel, model_run

MISFIT = 0.1
"""Odds of the same jar below which a run does not fit."""
ASTRAY = 0.5
"""Probability that something else spoilt a run above which it does not fit."""
_CAUSES: tuple[tuple[str, float, dict[str, float], str], ...] = (
    ("mask, tape or plastic gave off gas", 0.25, {"outgassing": 3.0},
     "take plastic, tape and vinyl out, or bake them in the jar first without the source"),
    ("a leak", 0.25, {"leak": math.log(5.0)},
     "test the rise of pressure with the valve shut; clean and grease the seal, flush twice more"),
    ("the source gave too little", 0.2, {"rate": -math.log(3.0)},
     "check current and contacts; a wire that has thinned carries less"),
    ("the source gave too much", 0.15, {"rate": math.log(3.0)},
     "shorten the run; a wire that has thinned gets hotter at the same current"),
    ("something else: a finger, a flake, a look misread", 0.15, {},
     "look again in other light, and repeat the run before changing anything"),
)  # fmt: skip
"""Name, prior weight (judgement), what it changes as a logarithm, remedy (common practice)."""


def read_runs(
    runs: Sequence[LoggedRun], setups: Sequence[LoggedSetup], kept: Kept | None = None
) -> tuple[list[RunEvidence], list[LoggedRun], list[str]]:
    """Runs as evidence; the runs that gave it, and why the others did not."""
    facts = {(one.setup, one.setup_version): one.facts for one in setups}
    found, told_of, skipped = [], [], []
    for run in runs:
        if not run.done:  # a plan: nothing was done yet
            continue
        try:
            model = model_run(run, facts[run.setup, run.setup_version])
            pieces = [piece_evidence(one, model.metal, kept=kept) for one in run.pieces]
        except InputError as error:
            skipped.append(str(error))
            continue
        told = tuple(one for one in pieces if one is not None)
        if not told and model.melted is None and not model.tells_of_gas:
            skipped.append(f"run {run.run}: nothing was noted of what came out")
            continue
        found.append(RunEvidence(model, told))
        told_of.append(run)
    return found, told_of, skipped


def prior_of(
    found: Sequence[RunEvidence], runs: Sequence[LoggedRun], setup: LoggedSetup
) -> JarPrior:
    """Doubts of a jar before its runs."""
    known = all("wire_diameter" in run.done for run in runs if run.done.get("source") == "wire")
    told = as_jar(setup.facts.get("jar")).base_mbar is not None or any(
        "base_pressure" in run.done for run in runs
    )
    jar = jar_of(runs[-1].done, setup.facts)
    sources = dict.fromkeys(one.model.key for one in reversed(found))
    places = dict.fromkeys(
        place
        for one in found
        for name, place in one.model.places.items()
        if name in {piece.name for piece in one.pieces}
    )
    versions = [*(run.setup_version for run in runs), setup.setup_version]
    chances = [RENEWED_CHANCE if a != b else STEP_CHANCE for a, b in pairwise(versions)]
    return JarPrior(
        tuple(sources), known, leak_doubt(jar, told=told), tuple(places)[: MOST_PLACES + 1],
        tuple(chances), any(one.model.tells_of_gas for one in found),
    )  # fmt: skip


def learn(
    runs: Sequence[LoggedRun],
    setups: Sequence[LoggedSetup],
    *,
    check: bool = True,
    kept: Kept | None = None,
    seed: int = 1,
) -> JarLearnt:
    """What runs of one jar teach.

    Parameters
    ----------
    runs : sequence of LoggedRun
        Of one setup, in their order.
    setups : sequence of LoggedSetup
        Every version of it, the newest last.
    check : bool
        Whether each run is set against the others, and a change looked for.
    kept : mapping, optional
        Where likelihoods that were worked out before are found, and put.
    seed : int

    Raises
    ------
    InputError
        If no run says enough.
    """
    found, told_of, skipped = read_runs(runs, setups, kept)
    if not found:
        why = f": {skipped[0]}" if skipped else ""
        raise InputError(f"the log teaches nothing yet of {setups[-1].setup!r}{why}")
    prior = prior_of(found, told_of, setups[-1])
    draws = _draw_or_find(found, prior, kept, [told_of, setups], seed=seed)
    before = learn_jar([], prior, draws=2000, seed=seed)
    skipped = [why.replace("`", "") for why in skipped]
    name, kind, facts = setups[-1].setup, setups[-1].setup_kind, setups[-1].facts
    coiled = any(one.model.coiled for one in found)
    numbers = _numbers(draws, before, facts, coiled=coiled)
    if not check:
        return JarLearnt(name, kind, len(found), tuple(skipped), numbers, (), None, {}, draws)
    each, losses = log_likelihood(found, prior, draws.drawn)
    odds = _odds_same_jar(found, prior, each, before)
    jars = list(prior.each_run(draws.drawn))
    checks = tuple(
        _check(one, prior, z, value, loss, fits)
        for one, z, value, loss, fits in zip(found, jars, each, losses[:-1], odds, strict=True)
    )
    return JarLearnt(
        name, kind, len(found), tuple(skipped), numbers, checks,
        find_change(draws),
        {
            one.model.run: _find_causes(one, prior, z, loss)
            for one, z, check, loss in zip(found, jars, checks, losses[:-1], strict=True)
            if not check.fits
        },
        draws, tuple(_jar_then(one.model, prior, z) for one, z in zip(found, jars, strict=True)),
    )  # fmt: skip


def _draw_or_find(
    found: Sequence[RunEvidence], prior: JarPrior, kept: Kept | None, said: object, *, seed: int
) -> JarDraws:
    """The draws of the jar, those that were kept if the same was said before."""
    if kept is None:
        return learn_jar(found, prior, seed=seed)
    asked = [said, prior.unknowns, prior.step_chances, seed]
    text = json.dumps(asked, default=vars, ensure_ascii=False)
    question = f"draws {hashlib.sha256(text.encode('utf-8')).hexdigest()}"
    held = kept.get(question)
    if held is not None:
        rows = np.array(held[1:])
        numbers = tuple(one.model.run for one in found)
        return JarDraws(prior, rows[:-1].T, held[0][0], rows[-1], numbers)
    draws = learn_jar(found, prior, seed=seed)
    kept[question] = [[draws.log_evidence], *draws.drawn.T.tolist(), draws.wire_loss.tolist()]
    return draws


def _odds_same_jar(
    found: Sequence[RunEvidence], prior: JarPrior, each: FloatArray, before: JarDraws
) -> list[float]:
    """How many times likelier each run is in the jar of the others than in a new one."""
    odds = []
    for run, value in zip(found, each, strict=True):
        fresh = run_log_likelihood(run, prior, before.z, loss=np.zeros(len(before.z)))
        # p(run | others) = 1 / mean(1 / L), by weights 1/L on draws that hold the run too
        left_out = -_log_mean(-value)
        odds.append(math.exp(min(max(left_out - _log_mean(fresh), -50.0), 50.0)))
    return odds


def _check(
    run: RunEvidence,
    prior: JarPrior,
    z: FloatArray,
    value: FloatArray,
    loss: FloatArray,
    odds: float,
) -> RunCheck:
    """One run as the others make one expect it."""
    weight = np.exp(value.min() - value)  # the run itself taken out
    expected = predict_run(run.model, prior, z, loss=loss)
    rng = np.random.default_rng([run.model.run, 7])
    ln_nm = expected.ln_middle
    spread = ln_nm + prior.scatter(z) * rng.standard_normal(len(ln_nm))
    low, middle, high = np.exp(_weighted_quantiles(spread, weight, (0.05, 0.5, 0.95)))
    before = np.average(expected.states, axis=1, weights=weight)
    after = seen_states(run, prior, z, made=expected).mean(axis=1)
    made = _made(run.pieces) if run.pieces else None
    astray = 0.0
    if run.pieces:  # the draws hold the run: the mean share is the odds with the run counted
        whole, spoilt = looks_likelihood(run, prior, z, made=expected)
        astray = float(np.mean(spoilt / whole))
    return RunCheck(
        run.model.run, float(middle), (float(low), float(high)),
        None if made is None else made[1], None if made is None else (made[0], made[2]),
        dict(zip(STATES, after.tolist(), strict=True)), odds, astray,
        odds >= MISFIT and astray < ASTRAY,
        dict(zip(STATES, before.tolist(), strict=True)),
    )  # fmt: skip


def _made(pieces: Sequence[PieceEvidence]) -> tuple[float, float, float]:
    """5 %, 50 % and 95 % points of what the pieces say of the thickness by themselves [nm]."""
    product = np.prod([piece.alone for piece in pieces], axis=0).sum(axis=0)
    return tuple(np.exp(_weighted_quantiles(LN_NM, product, (0.05, 0.5, 0.95))).tolist())


def _weighted_quantiles(
    values: FloatArray, weight: FloatArray, at: tuple[float, ...]
) -> FloatArray:
    order = np.argsort(values)
    total = np.cumsum(weight[order])
    places = np.searchsorted(total / total[-1], at)
    return np.asarray(values[order][np.minimum(places, len(values) - 1)])


def _log_mean(values: FloatArray) -> float:
    top = float(values.max())
    return top + math.log(float(np.mean(np.exp(values - top))))


def _numbers(
    draws: JarDraws, before: JarDraws, facts: dict[str, Any], *, coiled: bool
) -> tuple[LearntNumber, ...]:
    """The unknowns in units that people use, as the last run found them."""
    prior = draws.prior
    last = draws.as_found_by(draws.runs[-1])
    jar = as_jar(facts.get("jar"))
    leak = jar.leak_mbar_l_s
    read: dict[str, tuple[str, float, Callable[[FloatArray], FloatArray]]] = {
        **{
            f"rate of {source} over computed": ("", 1.0, partial(prior.rate, source=source))
            for source in prior.sources
        },
        "leak" if leak else "leak over assumed": (
            "mbar l/s" if leak else "", leak or 1.0, lambda z: prior.gas(z)[:, 0],
        ),
        "outgassing over usual": ("", 1.0, lambda z: prior.gas(z)[:, 1]),
        "scatter from run to run": ("", 1.0, lambda z: np.asarray(np.log(prior.scatter(z)))),
        "pieces misread": ("", 1.0, lambda z: np.asarray(np.log(prior.misread(z)))),
        **{
            f"tooling at {place} against {prior.places[0]}": (
                "", 1.0, partial(prior.tooling, place=place),
            )
            for place in prior.places[1:]
        },
    }  # fmt: skip
    if any(source.startswith("wire") for source in prior.sources):
        read["heat of the wire, as current"] = ("", 1.0, prior.current)
    if coiled:
        read["heat that leaves the coil over computed"] = ("", 1.0, prior.coil)
    numbers = []
    for name, (unit, scale, of) in read.items():
        now, then = (
            scale * np.exp(np.quantile(of(z), (0.05, 0.5, 0.95))) for z in (last, before.z)
        )
        numbers.append(
            LearntNumber(
                name, float(now[1]), (float(now[0]), float(now[2])),
                (float(then[0]), float(then[2])), unit,
            )
        )  # fmt: skip
    return tuple(numbers)


def _jar_then(model: RunModel, prior: JarPrior, z: FloatArray) -> JarThen:
    """Leak and rate as a run found them."""
    (leak_low, leak, leak_high), (rate_low, rate, rate_high) = (
        np.exp(np.quantile(ln_factor, (0.05, 0.5, 0.95))).tolist()
        for ln_factor in (prior.gas(z)[:, 0], prior.rate(z, model.key))
    )
    return JarThen(model.run, leak, (leak_low, leak_high), rate, (rate_low, rate_high))


def find_change(draws: JarDraws) -> JarChange | None:
    """The likeliest change of the jar between two runs, where the odds say that there was one."""
    best: JarChange | None = None
    for what in ("leak", "rate"):
        step = likely_step(draws.prior.steps(draws.drawn, what)[:, : len(draws.runs)])
        if step is not None and (best is None or step.odds > best.odds):
            way = "higher" if step.ln_factor > 0.0 else "lower"
            words = f"{what} {format_digits(math.exp(abs(step.ln_factor)))} times {way}"
            best = JarChange(draws.runs[step.place], step.odds, words)
    return best


def _find_causes(
    run: RunEvidence, prior: JarPrior, z: FloatArray, loss: FloatArray
) -> tuple[Cause, ...]:
    """Causes of a run that does not fit, by how likely they make what came out."""
    unit, key = np.eye(len(prior.unknowns)), run.model.key
    column = prior.rate_column(key)
    sizes = {
        "rate": (column, float(prior.rate(unit[[column]], key)[0])),
        "leak": (2, prior.leak_doubt),
        "outgassing": (3, float(prior.gas(unit[[3]])[0, 1])),
    }
    weights = []
    for _, weight, changes, _ in _CAUSES:
        changed = z.copy()
        for name, by in changes.items():
            column, size = sizes[name]
            changed[:, column] += by / size
        value = run_log_likelihood(run, prior, changed, loss=loss)
        if not changes:  # nothing that the jar explains
            value = np.full(len(z), math.log(max(typical_likelihood(run.pieces), 1e-12)))
        weights.append(math.log(weight) + _log_mean(value))
    shares = np.exp(np.array(weights) - max(weights))
    shares /= shares.sum()
    causes = [
        Cause(name, float(share), remedy)
        for (name, _, _, remedy), share in zip(_CAUSES, shares, strict=True)
    ]
    return tuple(sorted(causes, key=lambda one: -one.probability))
