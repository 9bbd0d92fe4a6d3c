"""Designs to start from: the families the trade knows, in closed form for the materials given."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np

from .._typing import FloatArray
from .forms import (
    antinode_nm,
    matched_sheet_nm,
    most_potential_transmittance,
    opaque_nm,
    quarter_nm,
    two_layer_zero,
)
from .merit import Merit

Films = Sequence[tuple[int, float]]
"""From the light inward: which medium of the palette, and thickness [nm]."""

_METAL_K, _CLEAR_K = 0.5, 0.1
_MOST_PAIRS = 6  # pairs of clear materials tried, widest contrast first
_SCAN_NM = np.concatenate([np.arange(2.0, 40.0, 2.0), np.arange(40.0, 500.0, 6.0)])
_SCANS_KEPT = 3
_CHIRPS = (0.0, 0.15, 0.3)  # how much thicker the innermost pair is than the middle one


@dataclass(frozen=True)
class Start:
    """A design to start from, and the family it belongs to."""

    family: str
    which: tuple[int, ...]
    thickness_nm: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class _StartContext:
    """What the families need to know: the middle wavelength, and indices there."""

    merit: Merit
    wavelength_nm: float
    index: tuple[complex, ...]
    substrate: complex
    metals: tuple[int, ...]
    clear: tuple[int, ...]  # by rising index
    most: int

    def quarter(self, i: int, share: float = 1.0) -> float:
        return share * quarter_nm(self.index[i].real, self.wavelength_nm)

    def opaque(self, m: int) -> float:
        return opaque_nm(self.index[m], self.wavelength_nm)

    def crest(self, c: int, below: complex) -> float:
        return antinode_nm(self.index[c].real, below, self.wavelength_nm)

    @property
    def pairs(self) -> list[tuple[int, int]]:
        """Pairs (low, high) of clear materials, widest contrast first."""
        found = [(a, b) for a, b in combinations(self.clear, 2)]
        found.sort(key=lambda ab: self.index[ab[0]].real / self.index[ab[1]].real)
        return found[:_MOST_PAIRS]


def list_starts(merit: Merit, most_layers: int) -> list[Start]:
    """Designs of every family the palette allows, in the order of the families.

    Parameters
    ----------
    merit : Merit
        Used for the middle of its bands, and to pick thicknesses where a family leaves one open.
    most_layers : int
    """
    bench = _make_context(merit, most_layers)
    families = (
        _bare_metal, _protected_metal, _enhanced_metal, _quarter_wave, _partial_mirror,
        _antireflection, _induced_transmission, _dark_absorber,
        _colour_film,
    )  # fmt: skip
    found: dict[tuple[tuple[int, ...], tuple[float, ...]], Start] = {}
    for family in families:
        for name, films in family(bench):
            if 0 < len(films) <= most_layers and all(d > 0.0 for _, d in films):
                start = Start(name, tuple(i for i, _ in films), tuple(d for _, d in films))
                found.setdefault((start.which, start.thickness_nm), start)
    return list(found.values())


def middle_nm(merit: Merit) -> float:
    """The wavelength in the middle of what is looked at, as waves count: the harmonic mean [nm].

    Warmth is left out where there are other goals.
    """
    seen = [i for i, term in merit.terms if term.goal.quantity != "emittance"]
    grids = [merit.sights[i].wavelength_nm for i in seen or range(len(merit.sights))]
    low, high = min(grid[0] for grid in grids), max(grid[-1] for grid in grids)
    return float(2.0 / (1.0 / low + 1.0 / high))


def _make_context(merit: Merit, most: int) -> _StartContext:
    middle = middle_nm(merit)
    at = np.array([middle])
    index = tuple(complex(medium.nk(at)[0]) for medium in merit.palette)
    clear = [i for i, n in enumerate(index) if n.imag < _CLEAR_K]
    return _StartContext(
        merit, middle, index, complex(merit.base.substrate.nk(at)[0]),
        tuple(i for i, n in enumerate(index) if n.imag > _METAL_K),
        tuple(sorted(clear, key=lambda i: index[i].real)), most,
    )  # fmt: skip


Family = Iterator[tuple[str, Films]]


def _bare_metal(bench: _StartContext) -> Family:
    for m in bench.metals:
        yield "bare metal", [(m, bench.opaque(m))]


def _protected_metal(bench: _StartContext) -> Family:
    """A half wave, which leaves the metal's reflectance at the middle as it is; and a thin coat."""
    for m in bench.metals:
        for c in bench.clear:
            yield "protected metal", [(c, bench.quarter(c, 2.0)), (m, bench.opaque(m))]
            yield "protected metal", [(c, bench.quarter(c, 0.2)), (m, bench.opaque(m))]


def _enhanced_metal(bench: _StartContext) -> Family:
    """Metal with pairs, the first low layer matched to it; evenly thick, or thinner outward."""
    for m in bench.metals:
        for low, high in bench.pairs:
            for count in range(1, (bench.most - 1) // 2 + 1):
                for chirp in _CHIRPS if count > 1 else (0.0,):
                    films = _pair_layers(bench, low, high, count, chirp)
                    first = bench.crest(low, bench.index[m]) * (1.0 + chirp)
                    films[-1] = (low, first)
                    yield "metal with pairs", [*films, (m, bench.opaque(m))]


def _quarter_wave(bench: _StartContext) -> Family:
    for low, high in bench.pairs:
        for count in range(1, bench.most // 2 + 1):
            for chirp in _CHIRPS if count > 2 else (0.0,):
                name = "broadband mirror" if chirp else "quarter-wave mirror"
                films = _pair_layers(bench, low, high, count, chirp)
                yield name, films
                yield name, [*films, (high, bench.quarter(high, 1.0 + chirp))]


def _pair_layers(
    bench: _StartContext, low: int, high: int, count: int, chirp: float
) -> list[tuple[int, float]]:
    """``(HL)^p`` from the light inward, its quarter waves growing by a constant ratio."""
    spread = np.linspace(-chirp, chirp, count) if count > 1 else np.zeros(1)
    return [(i, bench.quarter(i, float(math.exp(grown)))) for grown in spread for i in (high, low)]


def _partial_mirror(bench: _StartContext) -> Family:
    """One thin metal film of the thickness that meets the goals best, bare or between layers."""
    for m in bench.metals:
        for films in _scan_thickness(bench, [(m, 0.0)], 0, keep=1):
            yield "partial mirror", films
            for c in bench.clear:
                coat = (c, bench.quarter(c))
                yield "partial mirror", [coat, *films]
                yield "partial mirror", [coat, *films, coat]


def _antireflection(bench: _StartContext) -> Family:
    name = "anti-reflection"
    for c in bench.clear:
        yield name, [(c, bench.quarter(c))]
    wave = bench.wavelength_nm / (2.0 * math.pi)
    for low, high in bench.pairs:
        n_low, n_high = bench.index[low].real, bench.index[high].real
        for outer, inner in two_layer_zero(n_low, n_high, bench.substrate.real):
            yield name, [(low, wave * outer / n_low), (high, wave * inner / n_high)]
        yield name, [(low, bench.quarter(low)), (high, bench.quarter(high, 2.0))]
        # The middle layer of a quarter-half-quarter made of a thin pair.
        yield name, [
            (low, bench.quarter(low)), (high, bench.quarter(high, 2.0)),
            (low, bench.quarter(low, 0.35)), (high, bench.quarter(high, 0.25)),
        ]  # fmt: skip
    for low, middle, high in combinations(bench.clear, 3):
        yield name, [
            (low, bench.quarter(low)), (high, bench.quarter(high, 2.0)),
            (middle, bench.quarter(middle)),
        ]  # fmt: skip


def _induced_transmission(bench: _StartContext) -> Family:
    """A metal film between layers that offer it the admittance it lets most light through to."""
    name = "induced transmission"
    for m in bench.metals:
        metal = bench.index[m]
        for thickness in (10.0, 20.0, 35.0, 50.0):
            _, wanted = most_potential_transmittance(metal, thickness, bench.wavelength_nm)
            for c in bench.clear:
                # Seen from the film, the layer behind must turn the phase to that of the wanted
                # admittance; in front, by symmetry, the same.
                n = bench.index[c].real
                turn = _phase((n - wanted) / (n + wanted)) - _phase(
                    (n - bench.substrate) / (n + bench.substrate)
                )
                match = (turn % (2 * math.pi)) * bench.wavelength_nm / (4 * math.pi * n)
                yield name, [(c, match), (m, thickness), (c, match)]
                for low, high in bench.pairs:
                    if c in (low, high):
                        other = high if c == low else low
                        side = (other, bench.quarter(other))
                        yield name, [side, (c, match), (m, thickness), (c, match), side]


def _phase(z: complex) -> float:
    return math.atan2(z.imag, z.real)


def _dark_absorber(bench: _StartContext) -> Family:
    """An opaque metal, a spacer, and on the crest of the standing wave a sheet that swallows it."""
    name = "dark absorber"
    for back in bench.metals:
        for sheet in bench.metals:
            thin = min(30.0, max(4.0, matched_sheet_nm(bench.index[sheet], bench.wavelength_nm)))
            for c in bench.clear:
                spacer = bench.crest(c, bench.index[back])
                core = [(sheet, thin), (c, spacer), (back, bench.opaque(back))]
                yield name, core
                for top in bench.clear:
                    yield name, [(top, bench.quarter(top, 0.8)), *core]
                yield name, [(c, spacer), (sheet, thin), *core]
                yield name, [
                    (bench.clear[0], bench.quarter(bench.clear[0], 0.8)), (sheet, 0.6 * thin),
                    (c, spacer), (sheet, 1.5 * thin), *core[1:],
                ]  # fmt: skip


def _colour_film(bench: _StartContext) -> Family:
    """One clear layer of the thickness that meets the goals best, on a metal or the base."""
    name = "coloured mirror"
    for c in bench.clear:
        for films in _scan_thickness(bench, [(c, 0.0)], 0, _SCANS_KEPT):
            yield name, films
        for m in bench.metals:
            coat = (m, bench.opaque(m))
            for films in _scan_thickness(bench, [(c, 0.0), coat], 0, _SCANS_KEPT):
                yield name, films
            for thin in (5.0, 12.0, 25.0):
                for films in _scan_thickness(bench, [(m, thin), (c, 0.0), coat], 1, _SCANS_KEPT):
                    yield name, films


def _scan_thickness(
    bench: _StartContext, films: Films, at: int, keep: int
) -> Iterator[list[tuple[int, float]]]:
    """The films with the best local choices of one thickness."""
    if len(films) > bench.most:
        return
    which = np.array([i for i, _ in films])
    thickness = np.tile([d for _, d in films], (_SCAN_NM.size, 1))
    thickness[:, at] = _SCAN_NM
    miss = bench.merit.values(which, thickness)
    padded = np.concatenate([[np.inf], miss, [np.inf]])
    low = [
        i for i, (a, b) in enumerate(pairwise(range(padded.size - 1)))
        if padded[b] <= padded[a] and padded[b] <= padded[b + 1]
    ]  # fmt: skip
    for i in sorted(low, key=lambda i: miss[i])[:keep]:
        yield [(k, float(_SCAN_NM[i]) if j == at else d) for j, (k, d) in enumerate(films)]


def caps_nm(merit: Merit) -> FloatArray:
    """Thickness [nm] of each medium beyond which more changes nothing: opaque for metals, (M,)."""
    ends = [sight.wavelength_nm[i] for sight in merit.sights for i in (0, -1)]
    at = np.array([middle_nm(merit), *ends])
    caps = np.full(len(merit.palette), np.inf)
    for i, medium in enumerate(merit.palette):
        reach = [(complex(medium.nk(at[:1])[0]), float(at[0]))]
        if reach[0][0].imag > _METAL_K:
            reach += [(complex(medium.nk(np.array([nm]))[0]), float(nm)) for nm in at[1:]]
            caps[i] = max(opaque_nm(n, nm) for n, nm in reach)
    return caps
