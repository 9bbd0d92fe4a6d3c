"""Is it metal, oxide, or something else? Everything noticed of a film weighed together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions, as_conditions
from ..deposition.history import Flush
from ..deposition.jar import Jar
from ..deposition.metal_run import MetalRun
from ..errors import InputError, OutOfRangeError, shorten
from ..films.materials.catalogue import find_entry
from ..remedies.remedies import find_remedies, name_troubles
from .checks import find_changes, find_contradictions, fit_p_value, rank_checks
from .colours import FilmSet, draw_film_set, enrich
from .hypotheses import CARBON, check_metal, describe_stand_in, families, plain_name
from .inputs import Said, check_text, observe_run, parse_run, read_observations
from .observations import Observation
from .summaries import describe_families, describe_statements, group_shares
from .troubles import find_troubles
from .verdict import Evidence, NextCheck, Verdict
from .words import verdict_sentence, weight_in_words

FIT_LEVEL = 0.01
UNKNOWN = "unknown"

_ENOUGH_FILMS = 60.0  # effective films of the leading suspect below which more are drawn
_THIN_SAMPLE = 12.0  # and below which the answer says so
_KEPT_SHARE = 0.01
_ROUGH_DATA = {"theory": "computed, not measured", "low": "an estimate, not measured"}
_MORE_TIMES, _MOST_MORE = 8, 30_000  # films drawn again, as a multiple and in all


def assay(
    *,
    seen: Said = None,
    behind: Said = None,
    through: Said = None,
    finish: Said = None,
    ohms: str | Observation | None = None,
    strip: str | None = None,
    four_point: str | None = None,
    mass_gain: str | Observation | None = None,
    area: str | None = None,
    wipe: str | Observation | None = None,
    scratch: str | Observation | None = None,
    warmed: str | Observation | None = None,
    guess: str | Observation | None = None,
    trouble: str | Sequence[str] | None = None,
    pressure: str | None = None,
    rate: str | None = None,
    jar: Jar | Mapping[str, Any] | str | Path | None = None,
    working_gas: str | None = None,
    working_pressure: str | None = None,
    distance: str | None = None,
    flush: str | Flush | None = None,
    how: str | None = None,
    metal: str = UNKNOWN,
    on: str = "glass",
    base_finish: str | None = None,
    observations: Sequence[Observation] = (),
    conditions: ViewingConditions | str | None = None,
    seed: int = 1,
) -> Verdict:
    """What a film is, from all that was noticed of it.

    Parameters
    ----------
    seen, behind, through, finish : str, Observation or sequence of these
        Colours of the film side, from behind through the base; light through it (``opaque``,
        ``dim``, ``clear``, ``OD 2.4`` or a colour); finish (``mirror``, ``dull``, ``sooty`` ...).
    ohms : str or Observation
        ``open``, ``120ohm`` or ``35ohm/sq``; with the film between the contacts as ``strip``, as
        in ``30mmx5mm``, or the factor of a four-point probe as ``four_point``.
    mass_gain : str or Observation
        Mass gained, as in ``0.35mg``, on an ``area`` such as ``12cm2``.
    wipe, scratch, warmed, guess : str or Observation
        What a dry pad, a wooden stick and gentle heat do; the thickness that was meant.
    trouble : str or sequence of str
        What else is wrong with it, such as ``peels`` or ``pinholes``: for the remedies.
    pressure, rate : str
        Residual gas and rate while it grew, as in ``3e-5mbar`` and ``0.5nm/s``.
    jar : Jar, mapping, str or Path
        The chamber or the file that describes it, in place of the pressure or with it.
    working_gas, working_pressure, distance, flush : str
        Gas that was let in, as in ``argon`` and ``5e-3mbar``; from source to piece, as in ``10cm``;
        puffs before the run, as in ``3,5mbar``. With these the remedies are computed.
    how : str
        Kind of colour reading: ``word``, ``photo``, ``card`` or ``instrument``.
    metal, on : str
        What was deposited, such as ``Ti``, or ``unknown``; what it lies on, such as ``glass 1mm``,
        ``PET`` or ``steel``.
    base_finish : str
        ``smooth``, ``satin`` or ``rough``: how the base looked before it was coated.
    observations : sequence of Observation
        Further observations, made by hand.
    conditions : ViewingConditions or str, optional
        Light and observer, or the name of the light; D65 and 2° by default.
    seed : int
        Of the simulated films.

    Returns
    -------
    Verdict

    Raises
    ------
    InputError
        If nothing was noticed, a name or reading is not known, or something was noticed that the
        substrate does not allow.

    Examples
    --------
    >>> verdict = assay(seen="gold", ohms="open", metal="Ti", on="glass")
    >>> verdict.hypotheses[0].name
    'oxide'
    """
    viewing = as_conditions(conditions)
    said = {
        "seen": seen, "behind": behind, "through": through, "finish": finish, "how": how,
        "ohms": ohms, "strip": strip, "four_point": four_point, "mass_gain": mass_gain,
        "area": area, "wipe": wipe, "scratch": scratch, "warmed": warmed, "guess": guess,
        "pressure": pressure, "rate": rate, "jar": jar, "working_gas": working_gas,
        "working_pressure": working_pressure, "distance": distance, "flush": flush,
    }  # fmt: skip
    check_text(metal, "metal")
    noticed = [*read_observations(said, viewing)]
    known = metal if metal.strip().casefold() == UNKNOWN else check_metal(metal)
    if (run := parse_run(known, said)) is not None:
        noticed.append(observe_run(run, said))
    return weigh_observations(
        [*noticed, *observations], metal, on, base_finish=base_finish, run=run, trouble=trouble,
        seed=seed, conditions=viewing,
    )  # fmt: skip


def weigh_observations(
    observations: Sequence[Observation],
    metal: str = UNKNOWN,
    on: str = "glass",
    *,
    base_finish: str | None = None,
    run: MetalRun | None = None,
    trouble: str | Sequence[str] | None = None,
    seed: int = 1,
    conditions: ViewingConditions | str | None = None,
) -> Verdict:
    """What a film is, from observations that were made one by one; as `assay`.

    ``run`` is what the remedies are computed for; what it says of the film is an observation.

    Notes
    -----
    Every hypothesis is a set of simulated films, drawn with all that is in doubt about them. The
    evidence for it is the mean likelihood of the observations over its films, its thickness the
    thickness of the films weighted by likelihood. Where few films are left, more are drawn of the
    hypotheses still in question.
    """
    _check_question(observations, metal, on, seed)
    check_text(base_finish, "base_finish")
    metals = () if metal.strip().casefold() == UNKNOWN else (check_metal(metal),)
    viewing = as_conditions(conditions)
    usual = draw_film_set(metals, on, seed=seed, base_finish=base_finish)
    _check_meter(usual, observations)
    films, each = _sample_films(usual, observations, seed)
    weight = weigh_films(films, each.sum(axis=0))
    shares = family_shares(films, weight)
    rng = np.random.default_rng([seed, 5])
    fit_p = fit_p_value(usual, observations, shares, rng=rng)
    clashes = find_contradictions(usual, observations, metals)
    fits = fit_p >= FIT_LEVEL and not clashes
    log_weight = films.log_prior + each.sum(axis=0)
    found = describe_families(films, log_weight, shares, viewing=viewing)
    told = describe_statements(films, log_weight, found)
    troubles = find_troubles(
        shares if fits else {}, observations, name_troubles(trouble),
        carbon_wanted=CARBON in metals,
    )  # fmt: skip
    checks = rank_checks(films, weight, observations, viewing=viewing, rng=rng) if fits else ()
    effective = _effective_count(films, weight)
    return Verdict(
        verdict=verdict_sentence(told, observations, on.strip(), fits=fits, clashes=clashes),
        groups=group_shares(films, weight), statements=told,
        probabilities=shares, hypotheses=found, thickness_nm=told[0].thickness_nm,
        interval90_nm=told[0].interval90_nm, fits=fits, fit_p=fit_p,
        why=_evidence(films, observations, each, told[0].name),
        would_change=find_changes(films, weight, observations, viewing=viewing),
        next_check=_next_check(checks, fits), checks=checks,
        remedies=find_remedies(troubles, metal="".join(metals), on=films.ground.text, run=run),
        contradictions=clashes,
        warnings=(*_warnings(effective, films, metals),
                  *(said for one in metals for said in describe_stand_in(metal, one))),
        effective_films=effective,
        metal=metal if metals else UNKNOWN, on=films.ground.text,
        observations=tuple(f"{one.name}: {one.clause}" for one in observations),
        seed=seed, light=viewing.light, observer=viewing.observer,
    )  # fmt: skip


def _check_question(
    observations: Sequence[Observation], metal: object, on: object, seed: object
) -> None:
    check_text(metal, "metal")
    if not isinstance(observations, Sequence) or not all(
        isinstance(one, Observation) for one in observations
    ):
        raise InputError(
            f"`observations` are a list of observations, not {shorten(repr(observations))}",
            parameter="observations",
        )
    if not observations:
        raise InputError(
            "say at least one thing about the film, such as its colour", parameter="observations"
        )
    check_text(on, "on")
    if not isinstance(seed, int):
        raise InputError(f"`seed` is a whole number, not {seed!r:.40}", parameter="seed")
    if seed < 0:
        raise OutOfRangeError(f"`seed` is {seed}; it must be 0 or more", parameter="seed")


def _check_meter(films: FilmSet, observations: Sequence[Observation]) -> None:
    if films.ground.conducts and any(one.name == "the ohmmeter" for one in observations):
        raise InputError(
            f"{films.ground.text!r} conducts by itself, so a meter says nothing about the film; "
            f"leave out `ohms`",
            parameter="ohms",
        )


def _sample_films(
    films: FilmSet, observations: Sequence[Observation], seed: int
) -> tuple[FilmSet, FloatArray]:
    """Films and the log likelihood of each observation in them, more films where few fit."""
    each = np.array([one.log_likelihood(films) for one in observations])
    weight = weigh_films(films, each.sum(axis=0))
    if _effective_count(films, weight) >= _ENOUGH_FILMS:
        return films, each
    shares = np.bincount(films.suspect, weight, len(films.suspects))
    wanted = shares > _KEPT_SHARE
    usual = sum(one.films for one, chosen in zip(films.suspects, wanted, strict=True) if chosen)
    times = int(np.clip(_MOST_MORE // max(usual, 1), 2, _MORE_TIMES))
    films = enrich(films, wanted, times, seed=seed)
    return films, np.array([one.log_likelihood(films) for one in observations])


def weigh_films(films: FilmSet, log_likelihood: FloatArray) -> FloatArray:
    """Probability of each film, shape (N,), summing to 1."""
    log_weight = films.log_prior + log_likelihood
    weight = np.exp(log_weight - log_weight.max())
    share: FloatArray = weight / weight.sum()
    return share


def family_shares(films: FilmSet, weight: FloatArray) -> dict[str, float]:
    """Probability of each family, likeliest first."""
    family = films.family
    present = [name for name in families() if any(one.family == name for one in films.suspects)]
    shares = {name: float(weight[family == name].sum()) for name in present}
    return dict(sorted(shares.items(), key=lambda item: -item[1]))


def _effective_count(films: FilmSet, weight: FloatArray) -> float:
    """How many equally weighted films the leading family is worth."""
    leading = next(iter(family_shares(films, weight)))
    own = weight[films.family == leading]
    return float(own.sum() ** 2 / np.square(own).sum())


def _evidence(
    films: FilmSet, observations: Sequence[Observation], each: FloatArray, leading: str
) -> tuple[Evidence, ...]:
    """What each observation adds to the odds of the leading statement, the others given."""
    total = each.sum(axis=0)
    ours = films.statement == leading

    def log_odds(log_likelihood: FloatArray) -> float:
        log_weight = films.log_prior + log_likelihood
        peak = log_weight.max()
        weight = np.exp(log_weight - peak)
        return float(np.log10(max(weight[ours].sum(), 1e-300) / max(weight[~ours].sum(), 1e-300)))

    found = []
    for one, own in zip(observations, each, strict=True):
        # 10 log10 of odds with it / odds without it
        decibans = 10.0 * (log_odds(total) - log_odds(total - own))
        decibans = float(np.clip(decibans, -99.0, 99.0))
        found.append(Evidence(one.name, one.clause, decibans, weight_in_words(decibans, leading)))
    return tuple(sorted(found, key=lambda item: -abs(item.decibans)))


def _next_check(checks: tuple[NextCheck, ...], fits: bool) -> str:
    if not fits:
        return "first repeat the readings: together they fit no film in question"
    if not checks:
        return "no simple check would tell much more"
    return checks[0].sentence


def _warnings(effective: float, films: FilmSet, metals: Sequence[str]) -> tuple[str, ...]:
    said = [
        f"the optical data of {plain_name(metal)} are {_ROUGH_DATA[kind]}: colours of its films "
        f"are rough"
        for metal in metals
        if metal != CARBON and (kind := find_entry(metal).confidence) in _ROUGH_DATA
    ]
    if effective < _THIN_SAMPLE:
        said.append(
            f"only about {effective:.0f} of {len(films):,} simulated films agree with the "
            f"readings, so probabilities and thicknesses are rough"
        )
    return tuple(said)
