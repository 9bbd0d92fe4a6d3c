"""Films of each suspect drawn at random: layers, roughness, conduction, mass."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from .._typing import ComplexArray, FloatArray
from ..electrical.thin_film import (
    compound_ohm_cm,
    film_metal,
    film_resistivity,
    metal_sheet_ohm,
    suboxide_ohm_cm,
)
from ..films.engine.transfer_matrix import solve_arrays
from ..films.materials.catalogue import find_entry, load_file
from ..films.materials.effective_medium import bruggeman, looyenga, maxwell_garnett
from .hypotheses import WAVELENGTH_NM, FilmHypothesis, data, expansion, facts, main_oxide, oxides_of
from .indices import draw_grains, draw_index

Rng = np.random.Generator
Ohms = tuple[FloatArray, FloatArray]
"""Logarithm of ohms per square, its mean and standard deviation, both (N,)."""

_AIR_OXIDE_NM = (1.0, 4.0)
_SLICES = 8  # of a layer that thins out towards the air
_LOG_SD = 3.29  # between 5 and 95 % points of a normal distribution in standard deviations
_METAL_LOG_SD = 0.2  # of sheet resistance beside what the impurities do: thickness, grains
_INSULATES_OHM = 1e12  # sheet resistance of damp glass and the like
_SUBOXIDE_OHM_CM = (0.1, 10.0)  # of reduced oxides of other metals than titanium (from memory)
_DENSITY_SPREAD = 0.08


@dataclass(frozen=True, eq=False)
class FilmTraits:
    """What N films are beside their layers; all arrays of shape (N,).

    Attributes
    ----------
    thickness_nm
        The thickness the answer speaks of: of the skin for a skin, of metal in islands for
        islands, else of the film [nm].
    film_nm
        The same, but of the metal where that is under a skin [nm].
    bounces
        How often light meets the film before it leaves: 1 on a smooth base.
    sigma_nm
        Roughness of the outer face, rms [nm].
    log_ohm, log_ohm_sd
        Logarithm of the sheet resistance in ohms per square, its mean and standard deviation.
    blind
        Chance that probes find nothing though the film conducts: a skin, cracks.
    mass_ug_cm2
    oxidised
        Share of the metal that took up oxygen while it was deposited; NaN where none could.
    """

    thickness_nm: FloatArray
    film_nm: FloatArray
    bounces: FloatArray
    sigma_nm: FloatArray
    log_ohm: FloatArray
    log_ohm_sd: FloatArray
    blind: FloatArray
    mass_ug_cm2: FloatArray
    oxidised: FloatArray


@dataclass(frozen=True, eq=False)
class FilmSample(FilmTraits):
    """Films of one suspect: index (N, L, W) and thickness (N, L) of layers from the air inward.

    ``lacquer`` is the index of a thick clear coat over them, 1 where there is none.
    """

    index: ComplexArray
    layer_nm: FloatArray
    lacquer: float


def draw_sample(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    """Films of a suspect from its prior."""
    return _KINDS[suspect.family](suspect, count, rng)


@cache
def opaque_nm(metal: str) -> float:
    """Thickness on glass at which one part in a hundred of green light passes [nm]."""
    d = np.arange(5.0, 400.0, 1.0)
    n = load_file(find_entry(metal).file).nk(550.0)
    index = np.broadcast_to(np.array([1.0, n, 1.52])[:, None], (d.size, 3, 1))
    through = solve_arrays(index, d[:, None], [550.0]).T[:, 0]
    return float(d[np.argmax(through < 0.01)])


def _sample(
    suspect: FilmHypothesis,
    layers: Sequence[tuple[ComplexArray, FloatArray]],
    rng: Rng,
    *,
    nm: FloatArray,
    ohm: Ohms,
    solid: Mapping[str, FloatArray],
    oxidised: FloatArray | float,
    film_nm: FloatArray | None = None,
    like: str = "",
    hidden: FloatArray | float = 0.0,
) -> FilmSample:
    """Films of a suspect from what was drawn of them; roughness and dirt are those of its family.

    ``solid`` is how much of each medium there is [nm], which gives the mass; ``hidden`` adds to the
    chance that probes find nothing.
    """
    own = facts(like or suspect.family)
    every = np.ones(nm.size)
    sigma = draw_log_uniform(own["sigma_nm"], nm.size, rng)
    bounces = draw_log_uniform(own.get("bounces", (1.0, 1.0)), nm.size, rng)
    mass = sum((_mass(medium, d, rng) for medium, d in solid.items()), np.zeros(nm.size))
    return FilmSample(
        nm, nm if film_nm is None else film_nm, bounces, sigma, *ohm,
        (own.get("blind", 0.0) + hidden) * every, mass, oxidised * every,
        np.stack([index for index, _ in layers], axis=1),
        np.stack([thickness for _, thickness in layers], axis=1),
        own.get("lacquer_index", 1.0),
    )  # fmt: skip


def _draw_metal(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    metal = suspect.metal
    d = opaque_nm(metal) * draw_log_uniform(facts(suspect.family)["times_opaque"], count, rng)
    touching = draw_log_uniform(film_metal(metal).percolation_nm, count, rng)
    d = np.maximum(d, 1.05 * touching)
    skin = np.zeros(count)
    outer = draw_index(metal, count, rng)
    if oxides_of(metal):
        skin = _draw_uniform(_AIR_OXIDE_NM, count, rng)
        outer = draw_index(main_oxide(metal), count, rng)
    layers = [(outer, skin), (draw_index(metal, count, rng), d)]
    mean, sd = _metal_ohm(metal, d, touching)
    if detour := facts(suspect.family).get("detour"):
        mean = mean + np.log(draw_log_uniform(detour, count, rng))
    return _sample(suspect, layers, rng, nm=d, ohm=(mean, sd), solid={metal: d}, oxidised=0.0)


def _draw_skin(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    own, metal, oxide = facts(suspect.family), suspect.metal, suspect.medium
    skin = _draw_skin_nm(metal, count, rng)
    d = opaque_nm(metal) * draw_log_uniform(own["times_opaque"], count, rng)
    ohm = _metal_ohm(metal, d, np.zeros(count))
    layers = [(draw_index(oxide, count, rng), skin), (draw_index(metal, count, rng), d)]
    hidden = 0.5 / (1.0 + np.exp((own["pierced_nm"] - skin) / own["pierced_width_nm"]))
    return _sample(
        suspect, layers, rng, nm=skin, film_nm=d, ohm=ohm, solid={metal: d, oxide: skin},
        oxidised=0.0, hidden=hidden,
    )  # fmt: skip


def _draw_skin_nm(metal: str, count: int, rng: Rng) -> FloatArray:
    """Thickness of grown skins, (N,) [nm]: seldom thick on metals that oxidise slowly."""
    own = facts("oxide skin")
    if bounded := data()["metal"][metal].get("skin_nm"):
        return draw_log_uniform(bounded, count, rng)
    if data()["metal"][metal].get("skins_thicken"):
        return draw_log_uniform(own["thickness_nm"], count, rng)
    thick = rng.random(count) < own["thick_share"]
    usual = draw_log_uniform(own["usual_nm"], count, rng)
    rest = draw_log_uniform((own["usual_nm"][1], own["thickness_nm"][1]), count, rng)
    return np.where(thick, rest, usual)


def _draw_oxide(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    if suspect.variant == "sub-oxide":
        return _mix(suspect, _draw_uniform(facts("oxide")["suboxide_metal"], count, rng), rng)
    d = _draw_uniform(facts("oxide")["thickness_nm"], count, rng)
    return _single_layer(suspect, d, rng, oxidised=1.0)


def _draw_part_oxidised(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    return _mix(suspect, _draw_uniform(facts("part oxidised")["metal_fraction"], count, rng), rng)


def _mix(suspect: FilmHypothesis, fraction: FloatArray, rng: Rng) -> FilmSample:
    """Metal and oxide mixed throughout, the metal's volume fraction being (N,)."""
    own, count, names = facts(suspect.family), fraction.size, (suspect.metal, suspect.medium)
    span = own["thickness_nm"]
    d = _draw_uniform(span, count, rng) if own.get("even") else draw_log_uniform(span, count, rng)
    metal, oxide = (draw_index(name, count, rng) for name in names)
    mixed = np.sqrt(bruggeman(oxide**2, metal**2, fraction[:, None]))
    ratio, _ = expansion(*names)
    bound = (1.0 - fraction) / ratio
    solid = {names[0]: fraction * d, names[1]: (1.0 - fraction) * d}
    return _sample(
        suspect, [(mixed, d)], rng, nm=d, ohm=_mixture_ohm(suspect, fraction, d), solid=solid,
        oxidised=bound / (bound + fraction),
    )  # fmt: skip


def _draw_compound(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    d = draw_log_uniform(facts(suspect.family)["thickness_nm"], count, rng)
    return _single_layer(suspect, d, rng, oxidised=np.nan)


def _single_layer(
    suspect: FilmHypothesis, d: FloatArray, rng: Rng, *, oxidised: float
) -> FilmSample:
    """One layer of a compound."""
    medium = suspect.medium
    layers = [(draw_index(medium, d.size, rng), d)]
    ohm = _compound_ohm(medium, d)
    return _sample(suspect, layers, rng, nm=d, ohm=ohm, solid={medium: d}, oxidised=oxidised)


def _draw_islands(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    own, metal = facts("islands"), suspect.metal
    joins = draw_log_uniform(film_metal(metal).percolation_nm, count, rng)
    nominal = joins * rng.uniform(0.15, 0.95, count)
    grains, bound = draw_grains(metal, (0.0, 0.7), count, rng=rng)
    if data()["metal"][metal].get("tiles"):
        filling = _draw_uniform(own["filling_tiles"], count, rng)
        eps = bruggeman(1.0, grains, filling[:, None])
    else:
        filling = _draw_uniform(own["filling"], count, rng)
        eps = maxwell_garnett(1.0, grains, filling[:, None])
    ohm = np.full(count, np.log(_INSULATES_OHM) - 2.0), np.full(count, 2.5)
    layers = [(np.sqrt(eps), nominal / filling)]
    return _sample(
        suspect, layers, rng, nm=nominal, ohm=ohm, solid={metal: nominal}, oxidised=bound
    )


def _draw_black(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    """Metal grains in air, denser towards the ground, cut into slices."""
    d, filling = _draw_density_profile(count, rng)
    solid = d * filling.mean(axis=1)
    grains, bound = draw_grains(suspect.metal, facts("black metal")["oxide_share"], count, rng=rng)
    ohm = _metal_ohm(suspect.metal, solid, np.zeros(count))
    return _grains_in_air(
        suspect, (d, filling), grains, rng=rng, ohm=ohm, grain=suspect.metal, oxidised=bound
    )


def _draw_carbon(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    if suspect.variant != "sooty":
        return _draw_compound(suspect, count, rng)
    d, filling = _draw_density_profile(count, rng)
    grains = draw_index(suspect.medium, count, rng) ** 2
    ohm = _compound_ohm(suspect.medium, d * filling.mean(axis=1))
    return _grains_in_air(
        suspect, (d, filling), grains, rng=rng, ohm=ohm, grain=suspect.medium, oxidised=np.nan
    )


def _draw_density_profile(count: int, rng: Rng) -> tuple[FloatArray, FloatArray]:
    """Thickness (N,) of sooty layers, and the share of solid (N, S) in each of their slices."""
    own = facts("black metal")
    d, top, bottom = (
        draw_log_uniform(own[key], count, rng)
        for key in ("thickness_nm", "filling_top", "filling_base")
    )
    depth = (np.arange(_SLICES) + 0.5) / _SLICES
    return d, top[:, None] + (np.maximum(bottom, top) - top)[:, None] * depth


def _grains_in_air(
    suspect: FilmHypothesis,
    profile: tuple[FloatArray, FloatArray],
    grains: ComplexArray,
    *,
    rng: Rng,
    ohm: Ohms,
    grain: str,
    oxidised: FloatArray | float,
) -> FilmSample:
    """A sooty layer; ``ohm`` is that of its solid as a film, which grains barely touching raise."""
    (d, filling), (mean, sd) = profile, ohm
    index = np.sqrt(looyenga(1.0, grains[:, None], filling[:, :, None]))
    loose = mean - 2.0 * np.log(filling.mean(axis=1)) + 2.0, np.hypot(sd, 2.5)
    layers = [(index[:, i], d / _SLICES) for i in range(_SLICES)]
    return _sample(
        suspect, layers, rng, nm=d, ohm=loose, solid={grain: d * filling.mean(axis=1)},
        oxidised=oxidised, like="black metal",
    )  # fmt: skip


def _draw_loose(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    """A film of metal or oxide over a gap of air."""
    own, metal, oxide = facts("loose film"), suspect.metal, main_oxide(suspect.metal)
    is_metal = (rng.random(count) < own["metal_share"]) | (not oxide)
    metal_nm = opaque_nm(metal) * draw_log_uniform((0.2, 4.0), count, rng)
    d = np.where(is_metal, metal_nm, rng.uniform(20.0, 250.0, count))
    film = draw_index(metal, count, rng)
    mean, sd = _metal_ohm(metal, d, np.zeros(count))
    solid = {metal: np.where(is_metal, d, 0.0)}
    if oxide:
        film = np.where(is_metal[:, None], film, draw_index(oxide, count, rng))
        insulating = _compound_ohm(oxide, d)
        mean, sd = (np.where(is_metal, a, b) for a, b in zip((mean, sd), insulating, strict=True))
        solid[oxide] = d - solid[metal]
    gap = draw_log_uniform(own["gap_nm"], count, rng)
    return _sample(
        suspect, [(film, d), (np.ones_like(film), gap)], rng, nm=d,
        ohm=(mean + 1.0, np.hypot(sd, 1.0)), solid=solid, oxidised=np.where(is_metal, 0.0, 1.0),
    )  # fmt: skip


def _draw_nothing(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    zero, air = np.zeros(count), np.ones((count, WAVELENGTH_NM.size), dtype=complex)
    ohm = np.full(count, np.log(_INSULATES_OHM)), np.full(count, 2.0)
    return _sample(suspect, [(air, zero)], rng, nm=zero, ohm=ohm, solid={}, oxidised=np.nan)


_KINDS: dict[str, Callable[[FilmHypothesis, int, Rng], FilmSample]] = {
    "metal": _draw_metal,
    "thin metal": _draw_metal,
    "rough base": _draw_metal,
    "lacquer": _draw_metal,
    "cracked metal": _draw_metal,
    "oxide skin": _draw_skin,
    "oxide": _draw_oxide,
    "part oxidised": _draw_part_oxidised,
    "nitride": _draw_compound,
    "carbon": _draw_carbon,
    "islands": _draw_islands,
    "black metal": _draw_black,
    "loose film": _draw_loose,
    "nothing": _draw_nothing,
}


def _metal_ohm(metal: str, d: FloatArray, joins_nm: FloatArray) -> Ohms:
    known = film_metal(metal)
    low, high = known.impurity
    sheet = metal_sheet_ohm(known, d, np.sqrt(low * high), percolation_nm=joins_nm)
    sd = float(np.hypot(np.log(high / low) / _LOG_SD, _METAL_LOG_SD))
    return np.log(sheet), np.full(d.size, sd)


def _compound_ohm(medium: str, d: FloatArray) -> Ohms:
    made = data()["constructed"].get(medium)
    low, high = made["ohm_cm"] if made else compound_ohm_cm(medium)
    mean = np.log(np.sqrt(low * high) * 1e7 / d)
    return mean, np.full(d.size, np.hypot(np.log(high / low) / _LOG_SD, _METAL_LOG_SD))


def _mixture_ohm(suspect: FilmHypothesis, fraction: FloatArray, d: FloatArray) -> Ohms:
    """Of metal with dissolved oxygen in reduced oxide, mixed as the optics mix them."""
    known = film_metal(suspect.metal)
    own = 1e-6 * film_resistivity(known, d, known.impurity[1])
    if suspect.metal == "Ti":
        ratio, oxygen = expansion("Ti", suspect.medium)
        bound = (1.0 - fraction) / ratio
        held = np.clip(oxygen * bound / (bound + fraction), 1.73, 1.97)
        rest = suboxide_ohm_cm(held)
    else:
        rest = np.full(d.size, np.sqrt(np.prod(_SUBOXIDE_OHM_CM)))
    conductivity = bruggeman(1.0 / rest, 1.0 / own, fraction).real
    return np.log(1e7 / (conductivity * d)), np.full(d.size, 1.5)


def _mass(medium: str, d: FloatArray, rng: Rng) -> FloatArray:
    """Mass per area [µg/cm²]: a nanometre of 1 g/cm³ is 0.1."""
    density = _density(medium)
    mass: FloatArray = 0.1 * density * d * (1.0 + _DENSITY_SPREAD * rng.standard_normal(d.size))
    return mass


@cache
def _density(medium: str) -> float:
    made = data()["constructed"].get(medium)
    if made is not None:
        return float(made["density_g_cm3"])
    entry = find_entry(medium)
    return entry.density_g_cm3 or find_entry(entry.name).density_g_cm3 or 4.0


def _draw_uniform(span: Sequence[float], count: int, rng: Rng) -> FloatArray:
    low, high = span
    return rng.uniform(low, high, count)


def draw_log_uniform(span: Sequence[float], count: int, rng: Rng) -> FloatArray:
    """Values drawn evenly in their logarithm, shape (N,)."""
    low, high = span
    drawn: FloatArray = np.exp(rng.uniform(np.log(low), np.log(high), count))
    return drawn
