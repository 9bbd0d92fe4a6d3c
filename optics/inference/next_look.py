"""Which further look at the piece would settle most, by simulating it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions
from ..colour.illuminants import white_xyz
from ..errors import InputError, shorten
from ..films.engine.thickness_scan import View
from ..films.spectra import DEFAULT_WAVELENGTH_NM
from .colour_table import ColourTable, lab_of_views, view_nodes
from .hypotheses import FilmModel
from .simulate import SampledFilms, film_spectra, film_xyz
from .uncertainty import DEFAULTS, Uncertainty

Look = tuple[str, View, Uncertainty]
"""How a colour was read, from which side, with which doubts."""

_TILT_DEG = 60.0
_GROWN_NM = np.linspace(8.0, 40.0, 4)  # what a little more heat may add
_SPECTRUM_EVERY = 4  # of the default wavelengths: 20 nm apart
_SPECTRUM_SD = 0.02  # of a reflectance: noise of a cheap instrument, and what the model may miss
_NINETY = 3.29  # width of the middle 90 % of a normal distribution in standard deviations
METER, SPECTROMETER = "colour meter", "spectrometer"
OWNED = METER, SPECTROMETER
"""What is offered only to who says that it is at hand; eyes, a white card, a multimeter and a way
to heat the piece are taken to be."""
_CONDUCTORS = ("metal", "alloy", "nitride", "carbide")


@dataclass(frozen=True)
class NextLook:
    """A look that could be taken next.

    Attributes
    ----------
    look : str
        What to do.
    expected_width_nm : float
        Width of the 90 % interval to expect after it [nm], the mean over simulated outcomes.
    """

    look: str
    expected_width_nm: float


@dataclass(frozen=True, eq=False)
class _HeldFilms:
    """What is held now: films in rising thickness, and how to see them."""

    films: SampledFilms
    pairs: tuple[FilmModel, ...]
    viewing: ViewingConditions
    index_spread: float
    rng: np.random.Generator


def read_owned(have: str | Sequence[str]) -> tuple[str, ...]:
    """The instruments at hand, from their names or a text with commas between them.

    Raises
    ------
    InputError
        If one is none of `OWNED`.
    """
    named = have.split(",") if isinstance(have, str) else have
    several = [one.strip().casefold() if isinstance(one, str) else one for one in named]
    for one in several:
        if one not in (*OWNED, ""):
            raise InputError(
                f"`have` names what else is at hand, {' or '.join(OWNED)}, not "
                f"{shorten(repr(one))}; eyes, a white card and a multimeter need not be named",
                parameter="have",
            )
    return tuple(dict.fromkeys(one for one in several if one))


def rank_next_looks(
    films: SampledFilms,
    pairs: tuple[FilmModel, ...],
    *,
    viewing: ViewingConditions,
    now: list[Look],
    rng: np.random.Generator,
    have: Sequence[str] = (),
) -> list[NextLook]:
    """Further looks, the most telling first.

    Parameters
    ----------
    films : SampledFilms
        A few hundred draws from what is held now.
    pairs : tuple of FilmModel
    viewing : ViewingConditions
    now : list of Look
        The looks already taken.
    rng : numpy.random.Generator
    have : sequence of str
        Which of `OWNED` are at hand.
    """
    order = np.argsort(films.thickness_nm)
    sorted_films = SampledFilms(
        films.pair[order], films.thickness_nm[order], films.index_error[order]
    )
    held = _HeldFilms(sorted_films, pairs, viewing, now[-1][2].index_spread, rng)
    checks = [
        NextLook(words, _width(held, simulate(held)))
        for words, simulate in _options(held, now, have)
    ]
    return sorted(checks, key=lambda check: check.expected_width_nm)


def _options(
    held: _HeldFilms, now: list[Look], have: Sequence[str]
) -> list[tuple[str, Callable[[_HeldFilms], FloatArray]]]:
    """Looks not yet taken, each with the log likelihoods of its simulated outcomes."""
    how, view, doubts = now[-1]
    options: list[tuple[str, Callable[[_HeldFilms], FloatArray]]] = []
    if not any(one.angle_high_deg > 45.0 for _, _, one in now):
        tilted = replace(doubts, angle_low_deg=0.0).with_angle(_TILT_DEG)
        options.append((f"look at the same spot tilted to {_TILT_DEG:g}°", _colour(view, tilted)))
    if how in ("word", "photo"):
        card = _colour(view, DEFAULTS["card"])
        options.append(("photograph it square on beside a white card or bare metal", card))
    if METER in have and not any(way == "instrument" for way, _, _ in now):
        options.append(("read the spot with a colour meter", _colour(view, DEFAULTS["instrument"])))
    clear = all(not pair.base.is_opaque(DEFAULT_WAVELENGTH_NM) for pair in held.pairs)
    if clear and not any(side == "through" for _, side, _ in now):
        options.append(("read the colour seen through the piece", _colour("through", doubts)))
    if SPECTROMETER in have:
        options.append(("measure its reflectance spectrum", _spectrum))
    options.append(("heat it a little further and see which colour comes next", _grown(doubts)))
    if len({pair.film.kind in _CONDUCTORS for pair in held.pairs}) > 1:
        options.append(("see with a meter whether the film conducts", _conducts))
    return options


def _colour(view: View, doubts: Uncertainty) -> Callable[[_HeldFilms], FloatArray]:
    def simulate(held: _HeldFilms) -> FloatArray:
        return _outcomes(_film_table(held, [held.films], doubts, view), held.rng)

    return simulate


def _grown(doubts: Uncertainty) -> Callable[[_HeldFilms], FloatArray]:
    def simulate(held: _HeldFilms) -> FloatArray:
        films = held.films
        grown = [replace(films, thickness_nm=films.thickness_nm + more) for more in _GROWN_NM]
        return _outcomes(_film_table(held, grown, doubts, "front"), held.rng)

    return simulate


def _spectrum(held: _HeldFilms) -> FloatArray:
    spectra = film_spectra(held.films, held.pairs, np.asarray(0.0))[:, ::_SPECTRUM_EVERY]
    seen = spectra + _SPECTRUM_SD * held.rng.standard_normal(spectra.shape)
    scaled, own = seen / _SPECTRUM_SD, spectra / _SPECTRUM_SD
    squares = (scaled**2).sum(axis=1)[:, None] + (own**2).sum(axis=1) - 2.0 * scaled @ own.T
    log_likelihood: FloatArray = -0.5 * squares
    return log_likelihood


def _conducts(held: _HeldFilms) -> FloatArray:
    kinds = np.array([pair.film.kind in _CONDUCTORS for pair in held.pairs])[held.films.pair]
    return np.where(kinds[:, None] == kinds, 0.0, -np.inf)


def _film_table(
    held: _HeldFilms, states: list[SampledFilms], doubts: Uncertainty, view: View
) -> ColourTable:
    """Rows for single films, K of them; each state a film may be in is one more set of views."""
    angles, _, view_weight = view_nodes(doubts)
    each = [(films, angle) for films in states for angle in angles]
    count = held.films.pair.size
    together = SampledFilms(
        *(
            np.concatenate([getattr(films, part) for films, _ in each])
            for part in ("pair", "thickness_nm", "index_error")
        )
    )
    angle = np.repeat([angle for _, angle in each], count)
    xyz = film_xyz(together, held.pairs, angle, viewing=held.viewing, view=view, every=2)
    white = white_xyz(held.viewing.light, held.viewing.observer)
    lab = lab_of_views(xyz.reshape(len(each), count, 3).swapaxes(0, 1), doubts, white)
    weight = np.tile(view_weight / len(states), len(states))
    shape = (count, 1, 1, weight.size, 3)
    return ColourTable(
        np.zeros(1), np.zeros(1), weight, lab.reshape(shape).astype(np.float32), doubts
    )


def _outcomes(table: ColourTable, rng: np.random.Generator) -> FloatArray:
    """Log likelihood (outcomes, films) of one simulated look at each film."""
    count, views = len(table.lab), table.view_weight.size
    seen = rng.choice(views, size=count, p=table.view_weight)
    looks = table.draw(np.arange(count) * views + seen, rng)
    return table.log_likelihood(looks)[:, :, 0, 0]


def _width(held: _HeldFilms, log_likelihood: FloatArray) -> float:
    """Mean 90 % width [nm] of what is held after each outcome.

    A few hundred films are too sparse for the sharpest looks, so no width goes below what the
    doubt of the index alone leaves.
    """
    weight = np.exp(log_likelihood - log_likelihood.max(axis=1, keepdims=True))
    cumulative = np.cumsum(weight, axis=1) / weight.sum(axis=1, keepdims=True)
    ends = [held.films.thickness_nm[(cumulative < level).sum(axis=1)] for level in (0.05, 0.9499)]
    floor = _NINETY * held.index_spread * held.films.thickness_nm
    return float(np.mean(np.maximum(ends[1] - ends[0], floor)))
