"""What light a piece returns: its film, a rough surface on it, a mixed layer under it, its base.

The engine of :mod:`~oxhue.optics.films.engine` works out every stack by itself. Here what lies
above a film and below it is worked out once for all thicknesses in question: fits take 0.62 to 0.75
of their time so, and those of thick uneven films 0.2 to 0.25.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from .._typing import ComplexArray, FloatArray, IndexArray
from ..files.spectrum import Kind
from ..films.engine.incidence import Incidence
from ..films.engine.incoherent import optical_depth
from ..films.materials.effective_medium import Grade
from ..films.stack import Layer, Stack
from .dual import Dual
from .light import Pile, SpectrumLight, Wave, meet
from .section import Boundary, Join, Section
from .seen import nearest_known
from .spot import Build, SpotFilms, even, group

Role = Literal["film", "none", "bulk"]

_SLICES = 60  # of a graded layer below the film
_BLOCK_ELEMENTS = 32_768  # of films × wavelengths at a time: working arrays stay in the caches


@dataclass(frozen=True, eq=False)
class PowerSlopes:
    """Power of N pieces and its derivatives, shapes (N, W).

    A change ``δn`` of the film's complex index changes the power by ``Re(to_index δn)``.
    """

    power: FloatArray
    to_thickness: FloatArray
    to_rough: FloatArray
    to_mixed: FloatArray
    to_spread: FloatArray
    to_index: ComplexArray


@dataclass(frozen=True, eq=False)
class Sample:
    """Everything about a piece that a fit does not change.

    Attributes
    ----------
    wavelength_nm : ndarray, shape (W,)
    lower : ndarray of complex, shape (L, W)
        Layers below the film, and ``lower_nm`` (L,) their thicknesses.
    substrate : ndarray of complex, shape (W,)
        Without a slab, this and ``lower`` may have a row for each of N pieces before.
    slab_nm : float or None
    back, back_nm : ndarray, shapes (B, W) and (B,)
        Films on the slab's far face, from the air inward.
    incidence : Incidence
    kind : {"reflectance", "transmittance"}
    role : {"film", "none", "bulk"}
        Whether there is a film, none, or one that nothing shines through.
    """

    wavelength_nm: FloatArray
    lower: ComplexArray
    lower_nm: FloatArray
    substrate: ComplexArray
    slab_nm: float | None
    back: ComplexArray
    back_nm: FloatArray
    incidence: Incidence
    kind: Kind
    role: Role

    @classmethod
    def on(
        cls, base: Stack, wavelength_nm: FloatArray, *, kind: Kind, angle_deg: float, role: Role
    ) -> Sample:
        """A piece on a base as our notation describes it."""
        lower, lower_nm = _rows(base.layers, wavelength_nm)
        back, back_nm = _rows(base.reverse().layers if base.slab_nm else (), wavelength_nm)
        air = np.ones_like(wavelength_nm)
        bulk = role == "bulk"
        substrate = base.substrate.nk(nearest_known(base.substrate, wavelength_nm))
        return cls(
            wavelength_nm, lower[: 0 if bulk else None], lower_nm[: 0 if bulk else None],
            substrate, None if bulk else base.slab_nm, back, back_nm,
            Incidence.at(air, np.asarray(angle_deg)), kind, role,
        )  # fmt: skip

    @property
    def is_dark(self) -> bool:
        """Whether nothing comes through."""
        return self.role == "bulk" and self.kind == "transmittance"

    def powers(self, film: ComplexArray, build: Build) -> FloatArray:
        """What such pieces reflect or let through, shape (N, V).

        Parameters
        ----------
        film : ndarray of complex, shape (N, V)
        build : Build
        """
        power = np.zeros(film.shape)
        for rows, spots in self._spots(film, build):
            found = self._take(rows)._power(film[rows], build.take(rows), spots)
            power[rows] = spots.mean(found.value)
        return power

    def sweep(
        self, film: ComplexArray, thickness_nm: FloatArray, mixed_nm: FloatArray | None
    ) -> FloatArray:
        """Powers of films of every index (B, V), on a mixed layer (B,) if there is one, and of
        every thickness (G,), shape (B, G, V)."""
        met = np.maximum(thickness_nm, 0.0)[None, :, None]
        power = np.empty((len(film), thickness_nm.size, film.shape[-1]))
        step = max(1, _BLOCK_ELEMENTS // film.shape[-1])
        for i in range(len(film)):
            build = Build(met[0, 0], mixed_nm=None if mixed_nm is None else mixed_nm[i : i + 1])
            for start in range(0, thickness_nm.size, step):
                own = met[:, start : start + step]
                spots = replace(even(build.thickness_nm), thickness_nm=own)
                found = self._power(film[i : i + 1], build, spots)
                power[i, start : start + step] = found.value[0]
        return power

    def gradient(self, film: ComplexArray, build: Build) -> PowerSlopes:
        """The powers, and their derivatives to all that a fit changes."""
        power, thick, rough, mixed, spread = np.zeros((5, *film.shape))
        whole = PowerSlopes(power, thick, rough, mixed, spread, np.zeros(film.shape, dtype=complex))
        for rows, spots in self._spots(film, build):
            own = self._take(rows)._gradient(film[rows], build.take(rows), spots)
            for name, part in own.items():
                getattr(whole, name)[rows] = part
        return whole

    def _spots(self, film: ComplexArray, build: Build) -> Iterator[tuple[IndexArray, SpotFilms]]:
        """Some of the films (N, V) at a time, and what stands for their spots."""
        if self.is_dark:
            return iter(())
        varies = build.spread is not None and self.role == "film"
        turn = self._light.turn_per_nm(film) if varies else None
        return group(build, max(1, _BLOCK_ELEMENTS // film.shape[-1]), turn)

    def _gradient(
        self, film: ComplexArray, build: Build, spots: SpotFilms
    ) -> dict[str, NDArray[Any]]:
        names = _unknowns(self.role, build)
        found = self._power(film, build, spots, names)
        mean = dict(zip(("power", *names), spots.mean(found.parts), strict=True))
        slopes = {name: part if name == "to_index" else part.real for name, part in mean.items()}
        if build.spread is None or self.role != "film":
            return slopes
        to_d = found.parts[1 + names.index("to_thickness")].real
        slopes["to_thickness"] = spots.mean(to_d * spots.to_mean[..., None])
        slopes["to_spread"] = spots.mean(to_d * spots.to_spread[..., None])
        if spots.to_log_phase is None:
            return slopes
        # The weights follow the spread of the phase, in proportion to spread, d and Re kz.
        fading = (found.value.real * spots.to_log_phase).sum(axis=-2)
        slopes["to_thickness"] += fading / build.thickness_nm[:, None]
        slopes["to_spread"] += fading / build.spread[:, None]
        kz = self.incidence.normal_component(film)
        slopes["to_index"] = mean["to_index"] + fading / kz.real * film / kz
        return slopes

    def _power(
        self, film: ComplexArray, build: Build, spots: SpotFilms, names: Sequence[str] = ()
    ) -> Dual:
        """Of each film that stands for a spot, parts of shape (1 + K, N, J, V)."""
        light = replace(self._light, unknowns=tuple(names))
        whole = self._section(light, film, build, spots)
        if self.slab_nm is not None and self.role != "bulk":
            power = self._of_slab(whole)
        elif self.kind == "reflectance":
            power = whole.down.square()
        else:
            power = whole.through.size() * self._base.slant
        parts = power.parts
        return Dual(parts[:, 0] if parts.shape[1] == 1 else parts.mean(axis=1))

    def _of_slab(self, front: Section) -> Dual:
        """Powers that all passes between both faces add up to, as in
        :mod:`~oxhue.optics.films.engine.two_faces`; what the front lets in times what it lets out
        is ``|t t'|²``."""
        returned, leaving = self._far
        ways = (front.up.square() * returned).one_less().inverse()
        if self.kind == "reflectance":
            return front.down.square() + front.through.square() * returned * ways
        return front.through.size() * leaving * ways

    @cached_property
    def _far(self) -> tuple[Dual, Dual]:
        """What the far face sends back through the slab, both crossings included, and what passes
        the slab and leaves."""
        assert self.slab_nm is not None
        glass = self._light.wave(self.substrate)
        far = meet(glass, self._light.pile(self.back[::-1], self.back_nm[::-1], self._air))
        depth = optical_depth(
            self.substrate, self.slab_nm, self.wavelength_nm, incidence=self.incidence
        )
        crossing = Dual(np.exp(-depth)[None, None, None, None])
        return far.down.square() * crossing * crossing, far.through.size() * crossing

    def _section(
        self, light: SpectrumLight, film: ComplexArray, build: Build, spots: SpotFilms
    ) -> Section:
        """From the air to the substrate, or to the bulk of a film that nothing shines through."""
        if self.role == "none":
            return meet(self._air, self._base)
        own = light.wave(film, np.ones_like(film))
        top: Section = Boundary(self._air.admittance, own.admittance)
        if build.rough_nm is not None:
            rough = light.wave(*_mix_halves(film, np.ones(1, dtype=complex)))
            trip = light.round_trip(rough, build.rough_nm[:, None, None], to="to_rough")
            above = Boundary(self._air.admittance, rough.admittance)
            top = Join(above, trip, Boundary(rough.admittance, own.admittance))
        if self.role == "bulk":
            return top
        foot = meet(own, self._base)
        if build.mixed_nm is not None:
            touched = self.lower[..., 0, :] if self.lower_nm.size else self.substrate
            mixed = light.wave(*_mix_halves(film, touched))
            trip = light.round_trip(mixed, build.mixed_nm[:, None, None], to="to_mixed")
            foot = Join(Boundary(own.admittance, mixed.admittance), trip, meet(mixed, self._base))
        trip = light.round_trip(own, spots.thickness_nm, to="to_thickness")
        if spots.turned.size > 1:
            trip = trip * Dual(spots.turned[None, None])
        return Join(top, trip, foot)

    @cached_property
    def _light(self) -> SpectrumLight:
        return SpectrumLight(self.wavelength_nm, self.incidence)

    @cached_property
    def _air(self) -> Wave:
        return self._light.wave(np.ones(self.wavelength_nm.size, dtype=complex))

    @cached_property
    def _base(self) -> Pile:
        """The layers below the film, on the substrate."""
        return self._light.pile(self.lower, self.lower_nm, self._light.wave(self.substrate))

    def _take(self, rows: IndexArray) -> Sample:
        """The pieces of some rows, where each has its own base."""
        if self.substrate.ndim == 1:
            return self
        return replace(self, lower=self.lower[rows], substrate=self.substrate[rows])


def _unknowns(role: Role, build: Build) -> tuple[str, ...]:
    """What the power of a piece depends on, by the names of its slopes."""
    if role == "none":
        return ()
    film = role == "film"
    asked = {
        "to_index": True,
        "to_rough": build.rough_nm is not None,
        "to_mixed": film and build.mixed_nm is not None,
        "to_thickness": film,
    }
    return tuple(name for name, wanted in asked.items() if wanted)


def _rows(layers: tuple[Layer, ...], wavelength_nm: FloatArray) -> tuple[ComplexArray, FloatArray]:
    rows, thickness = [np.empty((0, wavelength_nm.size), dtype=complex)], [np.empty(0)]
    for layer in layers:
        medium, d = layer.medium, float(layer.thickness_nm)
        if isinstance(medium, Grade):
            rows.append(medium.slices(_SLICES, nearest_known(medium, wavelength_nm)))
            thickness.append(np.full(_SLICES, d / _SLICES))
        else:
            rows.append(medium.nk(nearest_known(medium, wavelength_nm))[None])
            thickness.append(np.array([d]))
    return np.concatenate(rows), np.concatenate(thickness)


def _mix_halves(film: ComplexArray, other: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    """Index of half film, half something else, and its derivative to the film's index.

    By Bruggeman's rule ``F(ε; a, b) = (a - ε)/(a + 2ε) + (b - ε)/(b + 2ε) = 0``, which is
    ``4ε² - (a + b) ε - 2ab = 0``. With ``ρ = √a/√b`` its root of positive real part is the one
    (:func:`~oxhue.optics.films.materials.effective_medium.bruggeman`), and
    ``∂ε/∂a = ε / (a + b (a + 2ε)²/(b + 2ε)²)``.
    """
    both, a, b = film * other, film * film, other * other
    half = 0.125 * (a + b) / both
    eps = (half + np.sqrt(half * half + 0.5)) * both
    mixed, share = np.sqrt(eps), (a + 2.0 * eps) / (b + 2.0 * eps)
    # dn/dn_film = (dε/da) (2 n_film) / (2 n)
    return mixed, mixed * film / (a + b * share * share)
