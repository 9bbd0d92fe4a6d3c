"""Does anything in question fit, what contradicts what, and what to look at next."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray
from ..colour.conditions import ViewingConditions
from ..films.engine.thickness_scan import View
from ..inference.reading import Reading
from ..inference.uncertainty import DEFAULTS
from .colours import FilmSet
from .measured import BALANCE_MG, METER_LIMIT_OHM, NumberObservation, two_probe_reading
from .observations import CategoryObservation, ColourObservation, Observation
from .verdict import NextCheck
from .words import change_sentence, check_sentence, clash_sentence

CONTRADICTION = 0.01
"""Ratio of what two observations are likely together over what they are apart, below which they
contradict each other. For films of the model it falls below a level with at most that chance."""

_TRUTHS, _WITNESSES = 150, 400  # simulated sets of observations, and films they are met with
_MEANT = 40  # colours that a word may have meant
_FIT_SHARE, _FIT_FAMILIES = 0.01, 4  # families asked whether they would show this
_CHECK_TRUTHS, _CHECK_FILMS = 150, 1200
_LEAST_BITS = 0.02
# From which a smooth witness is asked for: share of black films, and of these from their base.
_BLACK_SHARE, _ROUGH_SHARE = 0.2, 0.1
_LEAST_CHANCE = 0.01
_MOST_CHANGES = 3
_CONDUCTS_OHM = 1e3
_BALANCE_AREA_CM2 = 20.0


def fit_p_value(
    films: FilmSet,
    observations: Sequence[Observation],
    shares: Mapping[str, float],
    *,
    rng: np.random.Generator,
) -> float:
    """How ordinary the observations are for films of one of the likeliest families.

    Parameters
    ----------
    shares : mapping
        Probability of each family, likeliest first.

    Returns
    -------
    float
        Share of simulated sets of observations that are no likelier, between 1/151 and 1, in the
        family for which it is greatest; or less, where a word is hardly ever said of such films.

    Notes
    -----
    Taken within a family, so that what a rare kind of film shows is not odd because it is rare. A
    word stands for colours that no film shows, too. So those are asked that the likeliest films
    show and that are called so; and how often, the rest given, the word is said of films of the
    family, over how often it is said of the colour it fits best.
    """
    found = [one for one in observations if not one.given]
    if not found:
        return 1.0
    kept = [name for name, share in shares.items() if share > _FIT_SHARE][:_FIT_FAMILIES]
    each = np.array([one.log_likelihood(films) for one in found])
    members = [np.exp(films.log_prior) * (films.family == name) for name in kept]
    truth, rows = (
        np.concatenate([rng.choice(len(films), size=size, p=own / own.sum()) for own in members])
        for size in (_TRUTHS, _WITNESSES)
    )
    simulated = np.sum([one.simulate(films, truth, rows, rng=rng) for one in found], axis=0)
    observed = _log_likelihood_of(films, found, each, rows, rng)
    fits = []
    for i, name in enumerate(kept):
        own = slice(i * _WITNESSES, (i + 1) * _WITNESSES)
        usual = _log_sum(simulated[i * _TRUTHS : (i + 1) * _TRUTHS, own])
        share = float(np.mean(usual[:, None] <= _log_sum(observed[:, own])))
        ordinary = (1.0 + _TRUTHS * share) / (_TRUTHS + 1.0)
        fits.append(min(ordinary, _word_share(films, found, each, films.family == name)))
    return max(fits)


def _log_likelihood_of(
    films: FilmSet,
    found: Sequence[Observation],
    each: FloatArray,
    rows: IndexArray,
    rng: np.random.Generator,
) -> FloatArray:
    """Log likelihood (K, C) in films of what was found, for K colours that words may mean."""
    log_weight = films.log_prior + each.sum(axis=0)
    weight = np.exp(log_weight - log_weight.max())
    likely = rng.choice(len(films), size=_MEANT, p=weight / weight.sum())
    total = np.zeros((_MEANT, rows.size))
    for one, own in zip(found, each, strict=True):
        said = isinstance(one, ColourObservation) and bool(one.reading.word)
        total += one.meant_log_likelihood(films, likely, rows, rng=rng) if said else own[rows]  # type: ignore[attr-defined]
    return total


def _word_share(
    films: FilmSet, found: Sequence[Observation], each: FloatArray, ours: BoolArray
) -> float:
    """How often words are said of films of a family, over how often of the colours they fit best;
    of several words the least; 1 without words."""
    least = 1.0
    for one, own in zip(found, each, strict=True):
        if isinstance(one, ColourObservation) and one.reading.word:
            rest = (films.log_prior + each.sum(axis=0) - own)[ours]
            log_share = _log_sum((rest + own[ours])[None])[0] - _log_sum(rest[None])[0]
            least = min(least, float(np.exp(log_share - one.best_log_likelihood)))
    return least


def find_contradictions(
    films: FilmSet, observations: Sequence[Observation], metals: tuple[str, ...]
) -> tuple[str, ...]:
    """Pairs of observations that no film in question shows together, the worst first."""
    found = [one for one in observations if not one.given]
    each = [films.log_prior + one.log_likelihood(films, blunders=False) for one in found]
    alone = [_log_sum(row[None])[0] for row in each]
    pairs = list(combinations(range(len(found)), 2))
    worst = []
    for i, j in pairs:
        together = _log_sum((each[i] + each[j] - films.log_prior)[None])[0]
        ratio = float(together - alone[i] - alone[j])
        if ratio < math.log(CONTRADICTION / len(pairs)):
            worst.append((ratio, clash_sentence(found[i], found[j], metals)))
    return tuple(sentence for _, sentence in sorted(worst))


def rank_checks(
    films: FilmSet,
    weight: FloatArray,
    observations: Sequence[Observation],
    *,
    viewing: ViewingConditions,
    rng: np.random.Generator,
) -> tuple[NextCheck, ...]:
    """Further checks, the most telling first, by simulating their outcomes."""
    truth = rng.choice(len(films), size=_CHECK_TRUTHS, p=weight)
    rows = rng.choice(len(films), size=_CHECK_FILMS, p=weight)
    own = films.statement[rows]
    drawn = sorted(set(own.tolist()))  # numpy's unique would load masked arrays
    member = (own[:, None] == drawn).astype(float)
    now = member.mean(axis=0)
    certain = max(float(weight[films.statement == name].sum()) for name in drawn)
    found = []
    for words, one in _options(films, observations, viewing):
        log_likelihood = one.simulate(films, truth, rows, rng=rng)
        after = np.exp(log_likelihood - log_likelihood.max(axis=1, keepdims=True)) @ member
        after /= after.sum(axis=1, keepdims=True)
        bits = max(0.0, float(_entropy(now) - _entropy(after).mean()))
        surety = float(after.max(axis=1).mean())
        if bits >= _LEAST_BITS:
            sentence = check_sentence(words, certain, surety)
            found.append(NextCheck(words, bits, surety, sentence))
    found.sort(key=lambda check: -check.expected_bits)
    return (*_witness(films, weight, certain), *found)


def _witness(films: FilmSet, weight: FloatArray, surety: float) -> tuple[NextCheck, ...]:
    """A smooth piece next to it, where texture may be the film's own or that of its base."""
    if films.ground.finish == "smooth":
        return ()
    rough = float(weight[films.family == "rough base"].sum())
    black = float(weight[films.family == "black metal"].sum())
    stated = films.ground.finish == "rough"
    if not stated and (rough + black < _BLACK_SHARE or rough < _ROUGH_SHARE * black):
        return ()
    words = "at the next run coat a smooth witness, such as a microscope slide, next to it"
    shares = np.array([rough, black]) / max(rough + black, 1e-12)
    told = float((rough + black) * _entropy(shares))
    sentence = f"{words}: what is seen on it is the film, without the texture of the base"
    return (NextCheck(words, told, surety, sentence),)


def find_changes(
    films: FilmSet,
    weight: FloatArray,
    observations: Sequence[Observation],
    *,
    viewing: ViewingConditions,
) -> tuple[str, ...]:
    """Outcomes of checks not yet made that would put another statement first."""
    names = np.array(sorted(set(films.statement.tolist())))
    member = (films.statement[:, None] == names).astype(float)
    leading = int(np.argmax(weight @ member))
    turns = []
    for finding, chance in _findings(films, observations, viewing):
        likely = float(weight @ chance)
        if likely < _LEAST_CHANCE:
            continue
        after = (weight * chance) @ member / likely
        then = int(np.argmax(after))
        if then != leading:
            share = float(after[then])
            words = change_sentence(finding, str(names[then]), share=share, chance=likely)
            turns.append((likely, words))
    return tuple(sentence for _, sentence in sorted(turns, reverse=True)[:_MOST_CHANGES])


def _options(
    films: FilmSet, observations: Sequence[Observation], viewing: ViewingConditions
) -> list[tuple[str, Observation]]:
    """Checks not yet made, each as an observation that can be rehearsed."""
    done = {one.name for one in observations}
    colours = [one.reading for one in observations if isinstance(one, ColourObservation)]
    seen = {reading.view for reading in colours}
    measured = {reading.view for reading in colours if reading.how in ("card", "instrument")}
    clear = films.ground.clear
    dark = not done & {"how much light comes through", "the optical density"}
    balance_sd = 1e3 * BALANCE_MG / _BALANCE_AREA_CM2
    options: list[tuple[bool, str, Observation]] = [
        (not films.ground.conducts and "the ohmmeter" not in done,
         "put an ohmmeter's probes on the film", two_probe_reading("", math.inf)),
        (clear and dark and "through" not in seen,
         "look through it at a lamp", CategoryObservation("through", "dim", viewing)),
        (clear and "through" not in seen,
         "read the colour seen through it next to a white card", _card("through", viewing)),
        (clear and "back" not in seen,
         "read its colour from behind, through the clear base, next to a white card",
         _card("back", viewing)),
        ("front" not in measured,
         "read the colour of the film side next to a white card", _card("front", viewing)),
        ("the finish" not in done,
         "look at its finish: mirror, satin, dull or sooty",
         CategoryObservation("finish", "dull", viewing)),
        ("the wipe with a dry pad" not in done,
         "wipe a corner with a dry cotton pad", CategoryObservation("wipe", "off", viewing)),
        ("the gentle heating" not in done,
         "warm a corner gently in air and see whether its colour changes",
         CategoryObservation("warmed", "same", viewing)),
        ("the mass gained" not in done,
         f"weigh a witness piece of {_BALANCE_AREA_CM2:g} cm² before and after, to "
         f"{BALANCE_MG:g} mg",
         NumberObservation("mass", "", 1.0, balance_sd, viewing)),
    ]  # fmt: skip
    return [(words, one) for open_still, words, one in options if open_still]


def _findings(
    films: FilmSet, observations: Sequence[Observation], viewing: ViewingConditions
) -> Iterator[tuple[str, FloatArray]]:
    """What could be found by checks not yet made, and its chance in each film."""
    done = {one.name for one in observations}
    if "the ohmmeter" not in done and not films.ground.conducts:
        meter = two_probe_reading("", math.inf)
        low = meter.below_chance(films, _CONDUCTS_OHM)
        high = meter.below_chance(films, METER_LIMIT_OHM)
        yield "a meter shows less than a kiloohm", low
        yield "a meter shows more than a kiloohm", high - low
        yield "a meter shows nothing", 1.0 - high
    wanted = [("finish", "its finish is"), ("wipe", "a dry pad finds that it")]
    if films.ground.clear:
        wanted.insert(0, ("through", "held to a lamp it is"))
    for what, words in wanted:
        option = CategoryObservation(what, "", viewing)
        if option.name in done or (what == "through" and "the colour seen through" in done):
            continue
        kinds, chances = option.chances(films)
        for kind, chance in zip(kinds, chances.T, strict=True):
            found = CategoryObservation(what, kind, viewing).clause if what == "wipe" else kind
            yield f"{words} {found}", chance


def _card(view: View, viewing: ViewingConditions) -> ColourObservation:
    """A reading next to a card, of which only the doubts are used."""
    reading = Reading("", "card", np.zeros((1, 3)), np.ones(1), DEFAULTS["card"], view)
    return ColourObservation(reading, viewing)


def _entropy(shares: FloatArray) -> FloatArray:
    """Entropy [bit] over the last axis."""
    entropy: FloatArray = -(shares * np.log2(np.maximum(shares, 1e-300))).sum(axis=-1)
    return entropy


def _log_sum(log_values: FloatArray) -> FloatArray:
    peak = log_values.max(axis=-1, keepdims=True)
    total: FloatArray = np.log(np.exp(log_values - peak).sum(axis=-1)) + peak[..., 0]
    return total
