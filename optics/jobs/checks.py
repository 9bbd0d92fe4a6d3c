"""Which further look at the piece would settle most, by simulating it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..colour.lights import tristimulus_weights, white_xyz
from ..colour.spaces import xyz_to_lab
from ..films.onefilm import View, base_of
from ..films.response import DEFAULT_WAVELENGTH_NM
from ..films.slab import slab_powers
from ..films.transfer import Incidence, respond_arrays
from .doubts import DEFAULTS, Doubts, uniform_nodes
from .hypotheses import Pair
from .table import ANGLE_NODES, GLARE_NODES, VEIL, ColourTable, Viewing

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Films:
    """Films drawn at random, each with its pair of data sets, thickness and index error.

    Attributes
    ----------
    pair : ndarray of int, shape (K,)
    thickness_nm, index_error : ndarray, shape (K,)
    """

    pair: NDArray[np.intp]
    thickness_nm: FloatArray
    index_error: FloatArray


@dataclass(frozen=True)
class Check:
    """A look that could be taken next.

    Attributes
    ----------
    words : str
        What to do.
    width_nm : float
        Width of the 90 % interval to expect after it [nm], the mean over simulated outcomes.
    """

    words: str
    width_nm: float


def film_xyz(
    films: Films,
    pairs: tuple[Pair, ...],
    angle_deg: FloatArray,
    viewing: Viewing,
    view: View = "front",
) -> FloatArray:
    """Tristimulus values of drawn films, shape (K, 3), each at its own angle (K,)."""
    share = np.empty((films.pair.size, DEFAULT_WAVELENGTH_NM.size))
    angle = np.broadcast_to(angle_deg, films.pair.shape)
    for j in np.unique(films.pair):
        rows = films.pair == j
        own = Films(films.pair[rows], films.thickness_nm[rows], films.index_error[rows])
        share[rows] = _film_shares(own, pairs[j], angle[rows], view)
    weights = tristimulus_weights(DEFAULT_WAVELENGTH_NM, viewing.light, viewing.observer)
    return share @ weights


def _film_shares(films: Films, pair: Pair, angle_deg: FloatArray, view: View) -> FloatArray:
    """Share of the light (K, W) of films that have one pair of data sets in common."""
    grid = DEFAULT_WAVELENGTH_NM
    base = base_of(pair.base, grid)
    count = films.pair.size
    film = pair.film.nk(grid) * (1.0 + films.index_error[:, None])
    below = np.broadcast_to(base.index, (count, *base.index.shape))
    index = np.concatenate([np.ones_like(film)[:, None], film[:, None], below], axis=1)
    layers = np.broadcast_to(base.thickness_nm, (count, base.thickness_nm.size))
    thickness_nm = np.concatenate([films.thickness_nm[:, None], layers], axis=1)
    if base.slab_nm is None or base.back is None:
        response = respond_arrays(index, thickness_nm, grid, angle_deg)
        return response.T if view == "through" else response.R
    incidence = Incidence.at(np.ones(grid.size), angle_deg)
    faces = [(index, thickness_nm), base.back]
    if view == "back":
        faces.reverse()
    R, T, *_ = slab_powers(faces[0], faces[1], base.slab_nm, grid, incidence, "mean")
    return T if view == "through" else R


def seen_lab(
    xyz: FloatArray, glare: FloatArray, viewing: Viewing, exposure: FloatArray | float = 1.0
) -> FloatArray:
    """CIELAB of colours (..., 3) under a veil of glare (...), the light multiplied by exposure."""
    white = white_xyz(viewing.light, viewing.observer)
    share = np.asarray(glare)[..., None]
    veiled = (1.0 - share) * xyz + VEIL * share * white
    return xyz_to_lab(veiled * np.asarray(exposure)[..., None], white)


def next_looks(
    films: Films,
    pairs: tuple[Pair, ...],
    viewing: Viewing,
    now: list[tuple[str, Doubts]],
    rng: np.random.Generator,
) -> list[Check]:
    """Further looks, the most telling first.

    Parameters
    ----------
    films : Films
        A few hundred draws from what is held now.
    pairs : tuple of Pair
    viewing : Viewing
    now : list of (how, Doubts)
        The looks already taken.
    rng : numpy.random.Generator
    """
    order = np.argsort(films.thickness_nm)
    films = Films(films.pair[order], films.thickness_nm[order], films.index_error[order])
    return sorted(
        (
            Check(
                words, _expected_width(films, _particle_table(films, pairs, doubts, viewing), rng)
            )
            for words, doubts in _options(now)
        ),
        key=lambda check: check.width_nm,
    )


def _options(now: list[tuple[str, Doubts]]) -> list[tuple[str, Doubts]]:
    how, doubts = now[-1]
    options = []
    if not any(one.angle_high_deg > 45.0 for _, one in now):
        tilted = replace(doubts, angle_low_deg=0.0).at_angle(60.0)
        options.append(("look at the same spot tilted to 60°", tilted))
    if how in ("word", "photo"):
        options.append(("photograph it square on beside a white card", DEFAULTS["card"]))
    if not any(one == "instrument" for one, _ in now):
        options.append(("read the spot with a colour meter", DEFAULTS["instrument"]))
    return options


def _particle_table(
    films: Films, pairs: tuple[Pair, ...], doubts: Doubts, viewing: Viewing
) -> ColourTable:
    """Rows for single films: pairs axis K, no further axes but the views."""
    angles, angle_weight = uniform_nodes(doubts.angle_low_deg, doubts.angle_high_deg, ANGLE_NODES)
    glare, glare_weight = uniform_nodes(0.0, doubts.glare, GLARE_NODES)
    each = [film_xyz(films, pairs, np.asarray(angle), viewing) for angle in angles]
    xyz = np.stack(each, axis=1)[:, :, None, :]
    lab = seen_lab(xyz, np.broadcast_to(glare, (1, 1, glare.size)), viewing)
    shape = (films.pair.size, 1, 1, angles.size * glare.size, 3)
    return ColourTable(
        np.zeros(1),
        np.zeros(1),
        np.outer(angle_weight, glare_weight).ravel(),
        lab.reshape(shape).astype(np.float32),
        doubts,
    )


def _expected_width(films: Films, table: ColourTable, rng: np.random.Generator) -> float:
    """Mean 90 % width [nm] after a look, over looks drawn from the films themselves."""
    count = films.pair.size
    views = rng.choice(table.view_weight.size, size=count, p=table.view_weight)
    looks = table.draw(np.arange(count) * table.view_weight.size + views, rng)
    log_weight = table.log_likelihood(looks)[:, :, 0, 0]
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    cumulative = np.cumsum(weight, axis=1) / weight.sum(axis=1, keepdims=True)
    ends = [films.thickness_nm[(cumulative < level).sum(axis=1)] for level in (0.05, 0.9499)]
    return float(np.mean(ends[1] - ends[0]))
