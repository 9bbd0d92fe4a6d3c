"""Colours of oxide on a metal: of one thickness, of a ramp, and of many possible worlds."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .._typing import BoolArray, FloatArray
from ..colour.colour import hex_and_name, xyz_to_colour
from ..colour.conditions import ViewingConditions
from ..colour.illuminants import white_xyz
from ..colour.spaces import lab_to_xyz, xyz_to_lab
from ..errors import InputError
from ..inference.hypotheses import FilmModel, list_film_models
from ..inference.order import interference_order
from ..inference.simulate import SampledFilms, film_xyz
from ..oxidation.metals import Scale
from .kiln import Kiln

_LEAST_SHARE = 0.02


@dataclass(frozen=True)
class Shade:
    """A colour name with its chance and a typical colour of that name."""

    name: str
    probability: float
    srgb_hex: str


@dataclass(frozen=True, eq=False)
class Palette:
    """The optical side of a kiln's metal.

    ``films`` holds, for each hypothesis of the film, the pair of ``pairs`` that stands for it and
    its probability, the likeliest first; single colours are of that one.
    """

    pairs: tuple[FilmModel, ...]
    films: tuple[tuple[int, float], ...]
    viewing: ViewingConditions
    angle_deg: float
    scale: Scale | None = None

    @property
    def likeliest(self) -> int:
        """The pair single colours are shown for."""
        return self.films[0][0]

    def each_film(self) -> list[tuple[Palette, float]]:
        """The palettes of all hypotheses, each with its own as the likeliest, and their shares."""
        return [(replace(self, films=((pair, 1.0),)), share) for pair, share in self.films]

    def xyz(self, thickness_nm: FloatArray) -> FloatArray:
        """Tristimulus values (K, 3) of thicknesses of the likeliest film."""
        films = SampledFilms(
            np.full(thickness_nm.size, self.likeliest), thickness_nm, np.zeros(thickness_nm.size)
        )
        return self._seen(films)

    def _seen(self, films: SampledFilms, every: int = 1) -> FloatArray:
        """Tristimulus values (K, 3) of films, or of scale where they are too thick to be clear."""
        angle = np.asarray(self.angle_deg)
        xyz = film_xyz(films, self.pairs, angle, viewing=self.viewing, every=every)
        if self.scale is not None:
            xyz[films.thickness_nm >= self.scale.from_nm] = self._scale_xyz(self.scale)
        return xyz

    def _scale_xyz(self, scale: Scale) -> FloatArray:
        white = white_xyz(self.viewing.light, self.viewing.observer)
        return lab_to_xyz(np.array(scale.lab), white)

    def lab(self, thickness_nm: FloatArray) -> FloatArray:
        """CIELAB (K, 3) of thicknesses of the likeliest film."""
        return self.lab_of(self.xyz(thickness_nm))

    def lab_of(self, xyz: FloatArray) -> FloatArray:
        """CIELAB against the white of the light."""
        return xyz_to_lab(xyz, white_xyz(self.viewing.light, self.viewing.observer))

    def shows_as_is(self, thickness_nm: FloatArray) -> BoolArray:
        """Whether a screen can show thicknesses of the likeliest film as they are."""
        seen = xyz_to_colour(self.xyz(thickness_nm), self.viewing.light, self.viewing.observer)
        return np.asarray(seen.in_gamut)

    def name_colours(self, thickness_nm: FloatArray) -> tuple[NDArray[np.str_], NDArray[np.str_]]:
        """Hex and name of thicknesses of the likeliest film."""
        return self.name_xyz(self.xyz(thickness_nm))

    def name_xyz(self, xyz: FloatArray) -> tuple[NDArray[np.str_], NDArray[np.str_]]:
        """Hex and name of colours (N, 3) of this metal, scale by what people call it."""
        hexes, names = hex_and_name(xyz, self.viewing)
        if self.scale is None or not self.scale.called:
            return hexes, names
        scale = (xyz == self._scale_xyz(self.scale)).all(axis=-1)
        return hexes, np.where(scale, self.scale.called, names)

    def colour_at(self, thickness_nm: float) -> tuple[str, str]:
        """Hex and name of one thickness."""
        hexes, names = self.name_colours(np.array([thickness_nm]))
        return str(hexes[0]), str(names[0])

    @property
    def data_sets(self) -> tuple[str, ...]:
        """Labels of the optical data of films and metal, each once."""
        films = [pair.film.label for pair in self.pairs]
        return tuple(dict.fromkeys([*films, *(pair.substrate.label for pair in self.pairs)]))

    def order(self, thickness_nm: float) -> int | None:
        """Interference order of a thickness of the likeliest film; None of scale."""
        if self.scale is not None and thickness_nm >= self.scale.from_nm:
            return None
        return interference_order(self.pairs[self.likeliest], thickness_nm)

    def draw_xyz(
        self, kiln: Kiln, thickness_nm: FloatArray, seed: int, *, every: int = 1
    ) -> FloatArray:
        """Tristimulus values (N, 3) of one film in each draw, each with its own data sets, by
        ``every`` so many wavelengths as `film_xyz`."""
        return self.draw_parts_xyz(kiln, thickness_nm[:, None], seed, every=every)[:, 0]

    def draw_parts_xyz(
        self, kiln: Kiln, thickness_nm: FloatArray, seed: int, *, every: int = 1
    ) -> FloatArray:
        """Tristimulus values (N, M, 3) of several films in each draw, all with its data sets."""
        count, parts = thickness_nm.shape
        rng = np.random.default_rng(seed)
        pair = np.zeros(count, dtype=np.intp)
        for h, name in enumerate(kiln.film_names):
            own = [j for j, one in enumerate(self.pairs) if one.film_name == name]
            share = np.array([self.pairs[j].weight for j in own])
            rows = kiln.draws.film == h
            pair[rows] = rng.choice(own, size=int(rows.sum()), p=share / share.sum())
        error = np.repeat(kiln.draws.index_error, parts)
        films = SampledFilms(np.repeat(pair, parts), thickness_nm.ravel(), error)
        return self._seen(films, every).reshape(count, parts, 3)


def palette_for(kiln: Kiln, viewing: ViewingConditions, angle_deg: float = 0.0) -> Palette | None:
    """The colours of a kiln's metal, or None where its optical data are too poor."""
    if not kiln.metal.colour:
        return None
    pairs = list_film_models(kiln.metal.films, kiln.metal.on)
    names = [pair.film_name for pair in pairs]
    often = np.bincount(kiln.draws.film, minlength=len(kiln.film_names)) / kiln.draws.film.size
    films = [(names.index(name), float(often[h])) for h, name in enumerate(kiln.film_names)]
    films.sort(key=lambda one: -one[1])
    films = [one for one in films if one[1] > 0.0]
    return Palette(pairs, tuple(films), viewing, angle_deg, kiln.metal.scale)


def require_palette(kiln: Kiln, viewing: ViewingConditions) -> Palette:
    """The colours of a kiln's metal; `InputError` where its optical data are too poor."""
    palette = palette_for(kiln, viewing)
    if palette is None:
        raise InputError(
            f"no colour of oxide on {kiln.metal.name} can be computed: {kiln.metal.note}"
        )
    return palette


def shades_of(xyz: FloatArray, palette: Palette) -> tuple[Shade, ...]:
    """Names of colours (N, 3) with their shares, the commonest first."""
    hexes, names = palette.name_xyz(xyz)
    found = []
    for name, count in Counter(names.tolist()).most_common():
        share = count / len(names)
        if share < _LEAST_SHARE:
            break
        rows = np.flatnonzero(names == name)
        # One of them, by its place: two are as near to the median of an even number.
        middle = rows[np.argsort(xyz[rows, 1])[(rows.size - 1) // 2]]
        found.append(Shade(str(name), share, str(hexes[middle])))
    return tuple(found)
