"""What a log taught of a jar or kiln, as the arguments of the verbs that use it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from .._typing import FloatArray
from ..deposition.gases import read_data
from ..deposition.jar import Jar
from ..errors import InputError, UnknownNameError
from .derived import Kept
from .facts import of_other_sources
from .heat_profile import heat_of
from .jar_posterior import JarDraws, predict_ln_nm
from .kiln_runs import kiln_of, kiln_so_far
from .learn import learn
from .records import LoggedPiece, LoggedRun, LoggedSetup
from .run_gas import is_known_by_pressure, jar_of, pressure_share
from .run_model import RunModel, model_run, place_piece, wire_of

VERBS = {"sheet": ("chamber",), "assay": ("chamber",), "tint": ("kiln", "flame"),
         "gauge": ("chamber", "kiln", "flame")}  # fmt: skip
_ALL_BUT = 1e-3  # of the chance, on either side of the range of a thickness
_SWELLS = 2.5  # most that a film is thicker for its oxygen: Ti to TiO2 is 1.9, Fe to Fe2O3 2.1


def known_for(
    verb: str,
    kind: str,
    runs: Sequence[LoggedRun],
    *,
    setups: Sequence[LoggedSetup],
    run: int | None = None,
    metal: str | None = None,
    kept: Kept | None = None,
) -> dict[str, Any]:
    """Arguments for a verb from the runs of a setup; see :meth:`~oxhue.optics.log.log.Log.known`.

    Raises
    ------
    InputError
        If the verb has no use for a setup of that kind, or there is no such run.
    """
    name = setups[-1].setup
    if verb not in VERBS:
        raise UnknownNameError(
            f"`verb` must be one of {', '.join(VERBS)}, not {verb!r:.40}", parameter="verb"
        )
    if kind not in VERBS[verb]:
        raise InputError(
            f"{name!r} is a {kind}; {verb} uses a {' or '.join(VERBS[verb])}", parameter="setup"
        )
    if verb == "tint":
        return {"kiln": kiln_of(runs, name, metal=metal, kept=kept)}
    if verb == "sheet":
        return _for_sheet(runs, setups, metal, kept)
    own = _find_run(runs, run, name)
    others = [replace(one, pieces=()) if one.run == own.run else one for one in runs]
    if kind != "chamber":
        return {"between_nm": _kiln_range(own, others, name, kept)}
    model = _bare_model(own, setups)
    draws = learn(others, setups, check=False, kept=kept).draws
    z = draws.as_found_by(own.run)
    loss = np.zeros(len(z)) if own.done.get("new_wire") == "yes" else draws.wire_loss
    ln_nm = next(iter(predict_ln_nm(model, draws.prior, z, loss=loss).values()))
    if verb == "gauge":
        return {"between_nm": _metal_range(ln_nm, draws)}
    return _for_assay(own, setups, model, draws, ln_nm)


def _find_run(runs: Sequence[LoggedRun], run: int | None, setup: str) -> LoggedRun:
    done = [one for one in runs if one.done and run in (None, one.run)]
    if not done:
        which = "no run that was done" if run is None else f"no run {run} that was done"
        raise UnknownNameError(f"{setup!r} has {which}", parameter="run")
    return done[-1]


def _bare_model(run: LoggedRun, setups: Sequence[LoggedSetup]) -> RunModel:
    """A run as numbers at the place of its first piece, whatever became of its wire."""
    facts = {one.setup_version: one.facts for one in setups}[run.setup_version]
    done = {key: text for key, text in run.done.items() if key not in ("melted", "new_wire")}
    return model_run(replace(run, done=done, pieces=run.pieces[:1]), facts)


def _for_sheet(
    runs: Sequence[LoggedRun],
    setups: Sequence[LoggedSetup],
    metal: str | None,
    kept: Kept | None,
) -> dict[str, Any]:
    """The newest run's mechanics and gas, with wire, tooling and leak as they were learnt."""
    draws = learn(runs, setups, check=False, kept=kept).draws
    done = [one for one in runs if "metal" in one.done]
    of_metal = [one for one in done if one.done["metal"] == metal]
    own = (of_metal or done)[-1]
    model = _bare_model(own, setups)
    said, facts = own.done, setups[-1].facts
    parts = {"source", "wire", "wire_length", "coil", "current"} - of_other_sources(model.source)
    setup = {name: said[name] for name in said if name in parts}
    piece = place_piece(own.pieces[0], facts) if own.pieces else LoggedPiece("piece", {})
    setup |= {name: piece.facts[name] for name in ("offset", "tilt") if name in piece.facts}
    setup["distance"] = piece.facts.get("distance", said.get("distance", "5cm"))
    if "volts" in said:
        setup["voltage"] = said["volts"]
    prior, z = draws.prior, draws.z
    if model.key in prior.sources:
        ln_more = prior.rate(z, model.key) + prior.tooling(z, next(iter(model.places.values())))
        setup["tooling"] = f"{math.exp(float(np.median(ln_more))):.4g}"
    if model.source == "wire" and "current" in said:
        setup["wire_diameter"] = f"{_acting_diameter_mm(said, model, draws):.4g}mm"
    gas: dict[str, Any] = {
        name: said[name] for name in ("working_gas", "working_pressure") if name in said
    }
    if "plastic" in said:
        gas["plastic"] = said["plastic"] == "yes"
    return {"setup": setup, "jar": learnt_jar(said, facts, draws), **gas}


def _acting_diameter_mm(said: dict[str, str], model: RunModel, draws: JarDraws) -> float:
    """Diameter of a usual wire that is as hot at the same current as this one is now."""
    scale = draws.prior.current(draws.z) - 1.5 * draws.wire_loss
    # as hot at I ~ d^(3/2): a wire that gets more heat acts as a thinner one
    shrink = math.exp(-float(np.median(scale)) / 1.5)
    return wire_of(said, model.metal).diameter_mm * shrink


def learnt_jar(
    done: Mapping[str, str], facts: Mapping[str, Any], draws: JarDraws, *, run: int | None = None
) -> Jar:
    """A jar with its leak, or the pressure held, and its outgassing as learnt, by their medians.

    Parameters
    ----------
    done : mapping
        Of the run whose gas it is.
    facts : mapping
        Of its setup.
    draws : JarDraws
    run : int, optional
        As that run found it; as the next does by default.
    """
    jar = jar_of(done, facts)
    z = draws.z if run is None else draws.as_found_by(run)
    ln_more, ln_gassing, _ = np.median(draws.prior.gas(z), axis=0).tolist()
    if is_known_by_pressure(jar) and jar.pump is not None and jar.base_mbar is not None:
        share = pressure_share(jar)
        held = jar.base_mbar * math.exp(share * ln_more)
        speed = jar.pump.speed_l_s * math.exp((1.0 - share) * ln_more)
        pump = replace(jar.pump, speed_l_s=min(max(speed, 1e-3), 1e6))
        return replace(jar, base_mbar=min(max(held, 1e-12), 10.0), pump=pump)
    data = read_data()
    walls = float(data["outgassing"]["walls_mbar_l_s_cm2"]) * jar.inner_cm2
    if jar.outgassing_mbar_l_s is not None:
        walls = jar.outgassing_mbar_l_s
    stated = jar.leak_mbar_l_s
    if (test := jar.inflow) is not None:
        stated = test.leak_mbar_l_s
        walls = test.outgassing_mbar_l_s if test.separated else walls
    if stated is None:
        stated = float(data["stated"]["unmeasured_leak_mbar_l_s"])
    return replace(
        jar, rise=None, leak_mbar_l_s=stated * math.exp(ln_more),
        outgassing_mbar_l_s=walls * math.exp(ln_gassing),
    )  # fmt: skip


def _for_assay(
    run: LoggedRun,
    setups: Sequence[LoggedSetup],
    model: RunModel,
    draws: JarDraws,
    ln_nm: FloatArray,
) -> dict[str, Any]:
    """How the run went, with the rate and the leak that the other runs make one expect."""
    rate_nm_s = math.exp(float(np.median(ln_nm))) / model.seconds
    known: dict[str, Any] = {
        "metal": model.metal, "jar": learnt_jar(run.done, setups[-1].facts, draws, run=run.run),
        "rate": f"{rate_nm_s:.4g}nm/s", "distance": run.done.get("distance", "5cm"),
    }  # fmt: skip
    names = ("working_gas", "working_pressure", "flush")
    return known | {name: run.done[name] for name in names if name in run.done}


def _metal_range(ln_nm: FloatArray, draws: JarDraws) -> tuple[float, float]:
    """What the piece can have, as metal or swollen by its oxygen [nm]."""
    rng = np.random.default_rng(5)
    spread = ln_nm + draws.prior.scatter(draws.z) * rng.standard_normal((20, len(ln_nm)))
    low, high = np.exp(np.quantile(spread, (_ALL_BUT, 1.0 - _ALL_BUT)))
    return float(low), float(high) * _SWELLS


def _kiln_range(
    run: LoggedRun, others: Sequence[LoggedRun], kiln: str, kept: Kept | None
) -> tuple[float, float]:
    """Oxide that the heat of a run can give in this kiln [nm]."""
    heat = heat_of(run.done)
    if heat is None:
        raise InputError(f"run {run.run} does not say its heat and time", parameter="run")
    fitted = kiln_so_far(others, kiln, run.done.get("metal"), kept=kept)
    rng = np.random.default_rng(5)
    drawn = [fitted.draws.thickness_nm(fitted.metal, heat, rng) for _ in range(20)]
    low, high = np.quantile(drawn, (_ALL_BUT, 1.0 - _ALL_BUT)).tolist()
    return float(low), float(high)
