"""Which readings of a spectrum can be used, and every way they may have come about."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from .._typing import BoolArray, FloatArray
from ..errors import OutOfRangeError
from ..files.spectrum import Kind, Spectrum
from ..films.materials.medium import Medium
from ..films.stack import Stack
from ..inference.hypotheses import FilmModel
from ..numerics.integrate import values_at_middles
from .forward_model import ForwardModel
from .index_models import IndexKind, IndexModel, list_index_models
from .sample import Role, Sample
from .seen import Grid, list_grids, path_nm, reaches
from .slit import Slit

FEWEST_READINGS = 8
MOST_READINGS = 160
"""More readings than this are averaged in groups, for speed."""

_FILM, _BARE, _BULK = 0.5, 0.25, 0.25  # prior probabilities; a judgement
_OPAQUE = 1e-3  # of the light comes back through the thickest film in question


def prepare_readings(
    spectrum: Spectrum, pairs: Sequence[FilmModel]
) -> tuple[FloatArray, FloatArray, tuple[str, ...]]:
    """Readings where the optical data reach, thinned, with notes on what was left out.

    Parameters
    ----------
    spectrum : Spectrum
    pairs : sequence of FilmModel
        What the film and what lies below may be, the default data sets first.

    Returns
    -------
    wavelength_nm, value : ndarray, shape (W,)
    notes : tuple of str

    Raises
    ------
    OutOfRangeError
        If fewer than 8 readings are left.
    """
    wavelength, value = spectrum.wavelength_nm, spectrum.value
    known = _find_covered([pairs[0].film], wavelength) & _find_covered(
        _media(pairs[0].base), wavelength
    )
    if known.sum() < FEWEST_READINGS:
        raise OutOfRangeError(
            f"{known.sum()} of {known.size} readings lie where the optical data of "
            f"{pairs[0].film.label} on {pairs[0].substrate.label} reach; a fit needs at least "
            f"{FEWEST_READINGS}"
        )
    notes = []
    if not known.all():
        wavelength, value = wavelength[known], value[known]
        notes.append(
            f"{(~known).sum()} readings outside {wavelength[0]:g} to {wavelength[-1]:g} nm are "
            f"left out: the optical data end there"
        )
    group = int(np.ceil(wavelength.size / MOST_READINGS))
    if group > 1:
        notes.append(f"{wavelength.size} readings are averaged in groups of {group}")
        wavelength, value = _average_groups(wavelength, value, group)
    return wavelength, value, tuple(notes)


def _average_groups(
    wavelength_nm: FloatArray, value: FloatArray, group: int
) -> tuple[FloatArray, FloatArray]:
    """Means of groups of readings, less what the bend of the curve adds to a mean.

    Without that, fringes look shallower the narrower they are, and thick films too thick.
    """
    whole = value.size // group * group
    rows = wavelength_nm[:whole].reshape(-1, group)
    middle, mean = rows.mean(axis=1), value[:whole].reshape(-1, group).mean(axis=1)
    return middle, values_at_middles(middle, rows.var(axis=1), mean)


def _find_covered(media: Iterable[Medium], wavelength_nm: FloatArray) -> BoolArray:
    """At which wavelengths all of some media have data."""
    covered = np.ones(wavelength_nm.size, dtype=bool)
    for medium in media:
        if not reaches(medium, wavelength_nm):
            covered &= [reaches(medium, one) for one in wavelength_nm]
    return covered


def _media(base: Stack) -> list[Medium]:
    return [layer.medium for layer in base.all_layers] + [base.substrate]


def list_forward_models(
    pairs: Sequence[FilmModel],
    wavelength_nm: FloatArray,
    *,
    kind: Kind,
    model: IndexKind,
    between_nm: tuple[float, float],
    roughness: bool,
    angle_deg: float,
    bandwidth_nm: float | None = None,
    checked: tuple[str, ...] = (),
) -> tuple[tuple[ForwardModel, ...], tuple[str, ...]]:
    """Every way the readings may have come about, and notes.

    Every index model of the film on every data set of what it touches; the bare base; and the
    film too thick to see through, where the thickest film in question is.

    Raises
    ------
    InputError
        If a name, the angle or the index model is refused.
    """
    if not 0.0 <= angle_deg < 90.0:
        raise OutOfRangeError(f"an angle of incidence of {angle_deg:g}° is not from 0 to 90°")
    reach = [
        pair
        for pair in pairs
        if reaches(pair.film, wavelength_nm)
        and all(reaches(medium, wavelength_nm) for medium in _media(pair.base))
    ]
    films, bases = _shares(reach)
    left_out = {p.film.label for p in pairs} | {p.substrate.label for p in pairs}
    left_out -= {p.film.label for p in reach} | {p.substrate.label for p in reach}
    notes = [f"{label} does not span the readings and is left out" for label in sorted(left_out)]
    models = list_index_models(films, wavelength_nm, model)
    below_nm = max(path_nm(base.layers, wavelength_nm) for base, _, _ in bases)
    grids = list_grids(
        wavelength_nm, [film for film, _ in films], below_nm=below_nm, between_nm=between_nm
    )
    maker = _Maker(wavelength_nm, kind, angle_deg, roughness, bandwidth_nm, checked)
    made = [
        world
        for grid in grids
        for world in maker.coated(grid, bases, models, _FILM * grid.share_of(between_nm))
    ]
    opaque = [one for one in models if _is_opaque(one, wavelength_nm, between_nm[1])]
    made += maker.others(grids[0], bases, opaque)
    return tuple(made), tuple(notes)


_Base = tuple[Stack, str, float]


@dataclass(frozen=True, eq=False)
class _Maker:
    """What all worlds of one measurement have in common."""

    read_nm: FloatArray
    kind: Kind
    angle_deg: float
    roughness: bool
    bandwidth_nm: float | None
    checked: tuple[str, ...]

    def coated(
        self, grid: Grid, bases: Sequence[_Base], models: Sequence[IndexModel], weight: float
    ) -> Iterator[ForwardModel]:
        """Films of a grid's thicknesses."""
        world = self._worlds_of(grid)
        for base, label, share in bases:
            piece = self._piece_on(base, grid, "film")
            for one in models:
                yield world(label, one, piece, weight=weight * share * one.weight)

    def others(
        self, grid: Grid, bases: Sequence[_Base], opaque: Sequence[IndexModel]
    ) -> Iterator[ForwardModel]:
        """Bases without a film, and films that nothing shines through."""
        world = self._worlds_of(grid)
        for base, label, share in bases:
            yield world(label, None, self._piece_on(base, grid, "none"), weight=_BARE * share)
        base, label, _ = bases[0]
        bulk = self._piece_on(base, grid, "bulk")
        for one in opaque:
            yield world(label, one, bulk, weight=_BULK * one.weight)

    def _worlds_of(self, grid: Grid) -> Callable[..., ForwardModel]:
        return partial(
            ForwardModel.of,
            between_nm=grid.between_nm,
            slit=Slit.of(grid.wavelength_nm, self.read_nm, self.bandwidth_nm),
            roughness=self.roughness,
            checked=self.checked,
        )

    def _piece_on(self, base: Stack, grid: Grid, role: Role) -> Sample:
        at_nm = grid.wavelength_nm
        return Sample.on(base, at_nm, kind=self.kind, angle_deg=self.angle_deg, role=role)


def _shares(pairs: Sequence[FilmModel]) -> tuple[list[tuple[Medium, float]], list[_Base]]:
    """Films and bases by themselves, with weights that sum to 1 each."""
    total = sum(pair.weight for pair in pairs)
    films: dict[str, tuple[Medium, float]] = {}
    bases: dict[str, tuple[Stack, float]] = {}
    for pair in pairs:
        _, weight = films.get(pair.film.label, (pair.film, 0.0))
        films[pair.film.label] = (pair.film, weight + pair.weight / total)
        _, weight = bases.get(pair.substrate.label, (pair.base, 0.0))
        bases[pair.substrate.label] = (pair.base, weight + pair.weight / total)
    return list(films.values()), [(base, label, w) for label, (base, w) in bases.items()]


def _is_opaque(model: IndexModel, wavelength_nm: FloatArray, thickest_nm: float) -> bool:
    """Whether nothing comes back through the thickest film in question."""
    middle = np.array([[p.value(np.zeros(1))] for p in model.parameters])
    nk, _ = model.at(wavelength_nm)(middle, False)
    back = np.exp(-8.0 * np.pi * nk.imag * thickest_nm / wavelength_nm)
    return bool(np.all(back < _OPAQUE))
