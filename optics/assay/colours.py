"""The simulated films of all suspects together, and the colours they show from every side."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import lru_cache
from itertools import compress

import numpy as np
from numpy.typing import NDArray

from .._typing import BoolArray, FloatArray, IndexArray
from ..colour.conditions import ViewingConditions
from ..colour.illuminants import tristimulus_weights
from ..films.engine.both_sides import solve_both_sides
from .hypotheses import (
    WAVELENGTH_NM,
    FilmHypothesis,
    Substrate,
    list_hypotheses,
    prepare_substrate,
    statement_of,
)
from .simulated_films import FilmSample, FilmTraits, draw_log_uniform, draw_sample

SEEN_SCATTER = 0.3
"""Share of the light scattered by a rough face that reaches an eye at the mirror's angle beside
what is mirrored (a judgement)."""


@dataclass(frozen=True, eq=False)
class FilmSet(FilmTraits):
    """Simulated films of all suspects, N in all, with their traits.

    Attributes
    ----------
    suspects : tuple of FilmHypothesis
    ground : Substrate
    drawn : tuple of FilmSample
        The films of each suspect.
    suspect : ndarray of int, shape (N,)
        Which suspect each film belongs to.
    log_prior : ndarray, shape (N,)
    body : ndarray, shape (N,)
        Share of the light inside the ground that it throws back.
    """

    suspects: tuple[FilmHypothesis, ...]
    ground: Substrate
    drawn: tuple[FilmSample, ...]
    suspect: IndexArray
    log_prior: FloatArray
    body: FloatArray

    @property
    def statement(self) -> NDArray[np.str_]:
        """Statement of the verdict that each film is told under, shape (N,)."""
        return np.array([statement_of(one.family) for one in self.suspects])[self.suspect]

    @property
    def family(self) -> NDArray[np.str_]:
        """Family of each film, shape (N,)."""
        return np.array([one.family for one in self.suspects])[self.suspect]

    def __len__(self) -> int:
        return self.suspect.size


@dataclass(frozen=True, eq=False)
class FilmColours:
    """Tristimulus values of the films of a set, shape (N, 3); None where nothing can be seen."""

    front: FloatArray
    back: FloatArray | None
    through: FloatArray | None


@lru_cache(maxsize=8)
def draw_film_set(
    metals: tuple[str, ...],
    on: str,
    *,
    seed: int,
    times: int = 1,
    base_finish: str | None = None,
) -> FilmSet:
    """Films of everything one of these metals may have become, drawn once.

    Parameters
    ----------
    metals : tuple of str
        Empty where the metal is not known.
    on, base_finish : str
        As `prepare_substrate` takes them.
    seed : int
    times : int
        How many times the usual number of films.
    """
    ground = prepare_substrate(on, base_finish)
    suspects = list_hypotheses(metals, ground)
    drawn = tuple(
        draw_sample(one, one.films * times, np.random.default_rng([seed, times, i]))
        for i, one in enumerate(suspects)
    )
    return _join(suspects, ground, drawn, seed=seed)


def enrich(films: FilmSet, wanted: BoolArray, times: int, *, seed: int) -> FilmSet:
    """The same set with many more films of the suspects that are wanted."""
    drawn = list(films.drawn)
    for i in np.flatnonzero(wanted).tolist():
        one, rng = films.suspects[i], np.random.default_rng([seed, times, 1000 + i])
        drawn[i] = draw_sample(one, one.films * times, rng)
    return _join(films.suspects, films.ground, tuple(drawn), seed=seed)


def keep_suspects(films: FilmSet, wanted: BoolArray) -> FilmSet:
    """The films of those suspects alone that are wanted."""
    rows = wanted[films.suspect]
    names = [one.name for one in fields(FilmTraits)] + ["log_prior", "body"]
    return FilmSet(
        **{name: getattr(films, name)[rows] for name in names},
        suspects=tuple(compress(films.suspects, wanted)),
        ground=films.ground,
        drawn=tuple(compress(films.drawn, wanted)),
        suspect=(np.cumsum(wanted) - 1)[films.suspect[rows]],
    )


def _join(
    suspects: tuple[FilmHypothesis, ...],
    ground: Substrate,
    drawn: tuple[FilmSample, ...],
    *,
    seed: int,
) -> FilmSet:
    """Films of several suspects as one set, the roughness of the ground added to theirs."""
    counts = np.array([one.thickness_nm.size for one in drawn])
    suspect = np.repeat(np.arange(len(suspects)), counts)
    prior = np.array([one.prior for one in suspects])
    names = [one.name for one in fields(FilmTraits)]
    traits = {name: np.concatenate([getattr(one, name) for one in drawn]) for name in names}
    rng = np.random.default_rng([seed, 77])
    if ground.sigma_nm[1] > 0.0:
        rough = draw_log_uniform(ground.sigma_nm, suspect.size, rng)
        traits["sigma_nm"] = np.hypot(traits["sigma_nm"], rough)
        traits["bounces"] = draw_log_uniform(ground.bounces, suspect.size, rng)
    return FilmSet(
        **traits, suspects=suspects, ground=ground, drawn=drawn, suspect=suspect,
        log_prior=np.log(prior / counts)[suspect], body=rng.uniform(*ground.body, suspect.size),
    )  # fmt: skip


def colours_of(films: FilmSet, viewing: ViewingConditions, angle_deg: float = 0.0) -> FilmColours:
    """What the films of a set look like from each side, kept for the next time it is asked.

    Notes
    -----
    A face of roughness σ keeps ``exp(-(4π σ cos θ/λ)²)`` of its reflectance in the mirror's
    direction, the scalar law of total integrated scatter (H. E. Bennett and J. O. Porteus,
    J. Opt. Soc. Am. 51, 123 (1961)); of the rest a fixed share reaches the eye. What is seen
    through or from behind is taken as if smooth.
    """
    return _colours(films, viewing, angle_deg)  # one form of call, so that nothing is kept twice


@lru_cache(maxsize=8)
def _colours(films: FilmSet, viewing: ViewingConditions, angle_deg: float) -> FilmColours:
    weights = tristimulus_weights(WAVELENGTH_NM, viewing.light, viewing.observer)
    parts: list[list[FloatArray]] = [[], [], []]
    start = 0
    for one in films.drawn:
        rows = slice(start, start + one.thickness_nm.size)
        start = rows.stop
        front, back, through, entering = _solve(one, films.ground, angle_deg)
        mirrored = specular_share(films.sigma_nm[rows], angle_deg)
        front = front ** films.bounces[rows, None]  # of R each time it is met, R^m is left
        seen = front * (mirrored + SEEN_SCATTER * (1.0 - mirrored))
        seen = seen + films.body[rows, None] * entering**2
        for part, share in zip(parts, (seen, back, through), strict=True):
            if share is not None:
                part.append(share @ weights)
    front_xyz, *others = parts
    back_xyz, through_xyz = (np.concatenate(part) if part else None for part in others)
    return FilmColours(np.concatenate(front_xyz), back_xyz, through_xyz)


def _solve(
    films: FilmSample, ground: Substrate, angle_deg: float
) -> tuple[FloatArray, FloatArray | None, FloatArray | None, FloatArray]:
    """Reflected from the front and the back, let through, and let into the base, (N, W) each.

    Under lacquer, light that the film sends back meets the lacquer's face again and again:
    ``R = r + (1-r)² R_f / (1 - r R_f)`` with r of that face, met square on.
    """
    n = films.lacquer
    inside_deg = float(np.rad2deg(np.arcsin(np.sin(np.deg2rad(angle_deg)) / n)))
    found = solve_both_sides(
        films.index,
        films.layer_nm,
        ground.base,
        wavelength_nm=WAVELENGTH_NM,
        angle_deg=inside_deg,
        ambient=n,
    )
    if n == 1.0:
        return found
    front, back, through, entering = found
    r = ((n - 1.0) / (n + 1.0)) ** 2
    times = (1.0 - r) / (1.0 - r * front)
    if back is not None and through is not None:
        back, through = back + through**2 * r / (1.0 - r * front), through * times
    return r + (1.0 - r) * times * front, back, through, entering * times


def specular_share(sigma_nm: FloatArray, angle_deg: float = 0.0) -> FloatArray:
    """Share of the reflected light (N, W) that leaves in the mirror's direction."""
    cosine = np.cos(np.deg2rad(angle_deg))
    share: FloatArray = np.exp(-((4.0 * np.pi * sigma_nm[:, None] * cosine / WAVELENGTH_NM) ** 2))
    return share
