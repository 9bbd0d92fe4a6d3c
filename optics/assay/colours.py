"""The simulated films of all suspects together, and the colours they show from every side."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from .._typing import BoolArray, FloatArray, IndexArray
from ..colour.conditions import ViewingConditions
from ..colour.illuminants import tristimulus_weights
from ..films.engine.both_sides import solve_both_sides
from .hypotheses import WAVELENGTH_NM, FilmHypothesis, Substrate, list_hypotheses, prepare_substrate
from .simulated_films import FilmSample, add_substrate_roughness, draw_sample

SEEN_SCATTER = 0.3
"""Share of the light scattered by a rough face that reaches an eye at the mirror's angle beside
what is mirrored (a judgement)."""


@dataclass(frozen=True, eq=False)
class FilmSet:
    """Simulated films of all suspects, N in all.

    Attributes
    ----------
    suspects : tuple of FilmHypothesis
    ground : Substrate
    drawn : tuple of FilmSample
        The films of each suspect.
    suspect : ndarray of int, shape (N,)
        Which suspect each film belongs to.
    log_prior : ndarray, shape (N,)
    thickness_nm, sigma_nm, log_ohm, log_ohm_sd, blind, mass_ug_cm2, oxidised : ndarray, shape (N,)
        As in `FilmSample`.
    body : ndarray, shape (N,)
        Share of the light inside the ground that it throws back.
    """

    suspects: tuple[FilmHypothesis, ...]
    ground: Substrate
    drawn: tuple[FilmSample, ...]
    suspect: IndexArray
    log_prior: FloatArray
    thickness_nm: FloatArray
    sigma_nm: FloatArray
    log_ohm: FloatArray
    log_ohm_sd: FloatArray
    blind: FloatArray
    mass_ug_cm2: FloatArray
    oxidised: FloatArray
    body: FloatArray

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
def draw_film_set(metals: tuple[str, ...], on: str, *, seed: int, times: int = 1) -> FilmSet:
    """Films of everything one of these metals may have become, drawn once.

    Parameters
    ----------
    metals : tuple of str
        Empty where the metal is not known.
    on : str
    seed : int
    times : int
        How many times the usual number of films.
    """
    suspects, ground = list_hypotheses(metals), prepare_substrate(on)
    drawn = []
    for i, suspect in enumerate(suspects):
        rng = np.random.default_rng([seed, times, i])
        drawn.append(draw_sample(suspect, suspect.films * times, rng))
    return join_films(suspects, ground, tuple(drawn), seed=seed)


def join_films(
    suspects: tuple[FilmHypothesis, ...],
    ground: Substrate,
    drawn: tuple[FilmSample, ...],
    *,
    seed: int,
) -> FilmSet:
    """Films of several suspects as one set."""
    counts = np.array([one.thickness_nm.size for one in drawn])
    suspect = np.repeat(np.arange(len(suspects)), counts)
    prior = np.array([one.prior for one in suspects])

    def of(name: str) -> FloatArray:
        return np.concatenate([getattr(one, name) for one in drawn])

    rng = np.random.default_rng([seed, 77])
    sigma = add_substrate_roughness(of("sigma_nm"), ground.sigma_nm, rng)
    body = rng.uniform(*ground.body, suspect.size)
    return FilmSet(
        suspects, ground, drawn, suspect, np.log(prior / counts)[suspect], of("thickness_nm"),
        sigma, of("log_ohm"), of("log_ohm_sd"), of("blind"), of("mass_ug_cm2"), of("oxidised"),
        body,
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
        front, back, through, entering = solve_both_sides(
            one.index, one.layer_nm, films.ground.base, WAVELENGTH_NM, angle_deg
        )
        mirrored = specular_share(films.sigma_nm[rows], angle_deg)
        seen = front * (mirrored + SEEN_SCATTER * (1.0 - mirrored))
        seen = seen + films.body[rows, None] * entering**2
        for part, share in zip(parts, (seen, back, through), strict=True):
            if share is not None:
                part.append(share @ weights)
    front_xyz, *others = parts
    back_xyz, through_xyz = (np.concatenate(part) if part else None for part in others)
    return FilmColours(np.concatenate(front_xyz), back_xyz, through_xyz)


def specular_share(sigma_nm: FloatArray, angle_deg: float = 0.0) -> FloatArray:
    """Share of the reflected light (N, W) that leaves in the mirror's direction."""
    cosine = np.cos(np.deg2rad(angle_deg))
    share: FloatArray = np.exp(-((4.0 * np.pi * sigma_nm[:, None] * cosine / WAVELENGTH_NM) ** 2))
    return share


def enrich(films: FilmSet, wanted: BoolArray, times: int, *, seed: int) -> FilmSet:
    """The same set with many more films of the suspects that are wanted."""
    drawn = [
        draw_sample(suspect, suspect.films * times, np.random.default_rng([seed, times, 1000 + i]))
        if chosen
        else old
        for i, (suspect, old, chosen) in enumerate(
            zip(films.suspects, films.drawn, wanted, strict=True)
        )
    ]
    return join_films(films.suspects, films.ground, tuple(drawn), seed=seed)
