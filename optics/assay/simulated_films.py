"""Films of each suspect drawn at random: layers, roughness, conduction, mass."""

from __future__ import annotations

from collections.abc import Callable, Sequence
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
Span = Sequence[float]

_AIR_OXIDE_NM = (1.0, 4.0)
_SLICES = 8  # of a layer that thins out towards the air
_LOG_SD = 3.29  # between 5 and 95 % points of a normal distribution in standard deviations
_METAL_LOG_SD = 0.2  # of sheet resistance beside what the impurities do: thickness, grains
_INSULATES_OHM = 1e12  # sheet resistance of damp glass and the like
_SUBOXIDE_OHM_CM = (0.1, 10.0)  # of reduced oxides of other metals than titanium (from memory)
_DENSITY_SPREAD = 0.08


@dataclass(frozen=True, eq=False)
class FilmSample:
    """Films of one suspect, N of them.

    Attributes
    ----------
    index : ndarray of complex, shape (N, L, W)
        Layers from the air inward.
    layer_nm : ndarray, shape (N, L)
    thickness_nm : ndarray, shape (N,)
        The thickness the answer speaks of: of the skin for a skin, of metal in islands for
        islands, else of the film [nm].
    sigma_nm : ndarray, shape (N,)
        Roughness of the outer face, rms [nm].
    log_ohm, log_ohm_sd : ndarray, shape (N,)
        Logarithm of the sheet resistance in ohms per square, its mean and standard deviation.
    blind : ndarray, shape (N,)
        Chance that probes find nothing though the film conducts: a skin, cracks.
    mass_ug_cm2 : ndarray, shape (N,)
    oxidised : ndarray, shape (N,)
        Share of the metal that took up oxygen while it was laid down; NaN where none could.
    """

    index: ComplexArray
    layer_nm: FloatArray
    thickness_nm: FloatArray
    sigma_nm: FloatArray
    log_ohm: FloatArray
    log_ohm_sd: FloatArray
    blind: FloatArray
    mass_ug_cm2: FloatArray
    oxidised: FloatArray


def draw_sample(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    """Films of a suspect from its prior."""
    return _KINDS[suspect.family](suspect, count, rng)


@cache
def opaque_nm(metal: str) -> float:
    """Thickness on glass at which one part in a hundred of green light passes [nm]."""
    d = np.arange(5.0, 400.0, 1.0)
    n = load_file(find_entry(metal).file).nk(550.0)
    index = np.broadcast_to(np.array([1.0, n, 1.52])[:, None], (d.size, 3, 1))
    through = solve_arrays(index, d[:, None], [550.0], absorption=False).T[:, 0]
    return float(d[np.argmax(through < 0.01)])


def _draw_metal(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    own = facts(suspect.family)
    times = own["times_opaque"]
    d = opaque_nm(suspect.metal) * _draw_log_uniform(times, count, rng)
    touching = _draw_log_uniform(film_metal(suspect.metal).percolation_nm, count, rng)
    d = np.maximum(d, 1.05 * touching)
    skin = np.zeros(count)
    outer = draw_index(suspect.metal, count, rng)
    if oxides_of(suspect.metal):
        skin = _draw_uniform(_AIR_OXIDE_NM, count, rng)
        outer = draw_index(main_oxide(suspect.metal), count, rng)
    mean, sd = _metal_ohm(suspect.metal, d, touching)
    return FilmSample(
        np.stack([outer, draw_index(suspect.metal, count, rng)], axis=1),
        np.stack([skin, d], axis=1),
        d, _draw_log_uniform(own["sigma_nm"], count, rng), mean, sd, np.full(count, own["blind"]),
        _mass(suspect.metal, d, rng), np.zeros(count),
    )  # fmt: skip


def _draw_skin(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    own = facts(suspect.family)
    skin = _draw_skin_nm(suspect.metal, count, rng)
    d = opaque_nm(suspect.metal) * _draw_log_uniform(own["times_opaque"], count, rng)
    mean, sd = _metal_ohm(suspect.metal, d, np.zeros(count))
    layers = [draw_index(suspect.medium, count, rng), draw_index(suspect.metal, count, rng)]
    return FilmSample(
        np.stack(layers, axis=1), np.stack([skin, d], axis=1),
        skin, _draw_log_uniform(own["sigma_nm"], count, rng), mean, sd,
        own["blind"] + 0.5 / (1.0 + np.exp((own["pierced_nm"] - skin) / own["pierced_width_nm"])),
        _mass(suspect.metal, d, rng) + _mass(suspect.medium, skin, rng), np.zeros(count),
    )  # fmt: skip


def _draw_skin_nm(metal: str, count: int, rng: Rng) -> FloatArray:
    """Thickness of grown skins, (N,) [nm]: seldom thick on metals that oxidise slowly."""
    own = facts("oxide skin")
    if data()["metal"][metal].get("skins_thicken"):
        return _draw_log_uniform(own["thickness_nm"], count, rng)
    thick = rng.random(count) < own["thick_share"]
    usual = _draw_log_uniform(own["usual_nm"], count, rng)
    rest = _draw_log_uniform((own["usual_nm"][1], own["thickness_nm"][1]), count, rng)
    return np.where(thick, rest, usual)


def _draw_oxide(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    if suspect.variant == "sub-oxide":
        return _mix(suspect, _draw_uniform(facts("oxide")["suboxide_metal"], count, rng), rng)
    d = _draw_uniform(facts("oxide")["thickness_nm"], count, rng)
    return _single_layer(suspect, d, rng, oxidised=np.ones(count))


def _draw_part_oxidised(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    return _mix(suspect, _draw_uniform(facts("part oxidised")["metal_fraction"], count, rng), rng)


def _mix(suspect: FilmHypothesis, fraction: FloatArray, rng: Rng) -> FilmSample:
    """Metal and oxide mixed throughout, the metal's volume fraction being (N,)."""
    own, count = facts(suspect.family), fraction.size
    even = own.get("even", False)
    d = (_draw_uniform(own["thickness_nm"], count, rng) if even
         else _draw_log_uniform(own["thickness_nm"], count, rng))  # fmt: skip
    metal, oxide = (draw_index(name, count, rng) for name in (suspect.metal, suspect.medium))
    mixed = np.sqrt(bruggeman(oxide**2, metal**2, fraction[:, None]))
    mean, sd = _mixture_ohm(suspect, fraction, d)
    ratio, _ = expansion(suspect.metal, suspect.medium)
    bound = (1.0 - fraction) / ratio
    mass = fraction * _mass(suspect.metal, d, rng) + (1.0 - fraction) * _mass(
        suspect.medium, d, rng
    )
    return FilmSample(
        mixed[:, None], d[:, None], d, _draw_log_uniform(own["sigma_nm"], count, rng), mean, sd,
        np.full(count, own["blind"]), mass, bound / (bound + fraction),
    )  # fmt: skip


def _draw_compound(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    d = _draw_log_uniform(facts(suspect.family)["thickness_nm"], count, rng)
    return _single_layer(suspect, d, rng, oxidised=np.full(count, np.nan))


def _single_layer(
    suspect: FilmHypothesis, d: FloatArray, rng: Rng, oxidised: FloatArray
) -> FilmSample:
    """One layer of a compound."""
    mean, sd = _compound_ohm(suspect.medium, d)
    return FilmSample(
        draw_index(suspect.medium, d.size, rng)[:, None], d[:, None], d,
        _draw_log_uniform(facts(suspect.family)["sigma_nm"], d.size, rng), mean, sd,
        np.full(d.size, facts(suspect.family)["blind"]), _mass(suspect.medium, d, rng), oxidised,
    )  # fmt: skip


def _draw_islands(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    own = facts("islands")
    joins = _draw_log_uniform(film_metal(suspect.metal).percolation_nm, count, rng)
    nominal = joins * rng.uniform(0.15, 0.95, count)
    filling = _draw_uniform(own["filling"], count, rng)
    grains, bound = draw_grains(suspect.metal, (0.0, 0.7), count, rng=rng)
    eps = maxwell_garnett(1.0, grains, filling[:, None])
    d = nominal / filling
    return FilmSample(
        np.sqrt(eps)[:, None], d[:, None], nominal, _draw_log_uniform(own["sigma_nm"], count, rng),
        np.full(count, np.log(_INSULATES_OHM) - 2.0), np.full(count, 2.5),
        np.full(count, own["blind"]), _mass(suspect.metal, nominal, rng), bound,
    )  # fmt: skip


def _draw_black(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    """Metal grains in air, denser towards the ground, cut into slices."""
    d, filling = _draw_density_profile(count, rng)
    solid = filling.mean(axis=1)
    grains, bound = draw_grains(suspect.metal, facts("black metal")["oxide_share"], count, rng=rng)
    ohm = _metal_ohm(suspect.metal, d * solid, np.zeros(count))
    mass = _mass(suspect.metal, d * solid, rng)
    return _grains_in_air(d, filling, grains, ohm, mass, bound, rng)


def _draw_carbon(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    if suspect.variant != "sooty":
        return _draw_compound(suspect, count, rng)
    d, filling = _draw_density_profile(count, rng)
    solid = filling.mean(axis=1)
    grains = draw_index(suspect.medium, count, rng) ** 2
    ohm = _compound_ohm(suspect.medium, d * solid)
    mass = _mass(suspect.medium, d * solid, rng)
    return _grains_in_air(d, filling, grains, ohm, mass, np.full(count, np.nan), rng)


def _draw_density_profile(count: int, rng: Rng) -> tuple[FloatArray, FloatArray]:
    """Thickness (N,) of sooty layers, and the share of solid (N, S) in each of their slices."""
    own = facts("black metal")
    d = _draw_log_uniform(own["thickness_nm"], count, rng)
    top, bottom = (
        _draw_log_uniform(own[key], count, rng) for key in ("filling_top", "filling_base")
    )
    depth = (np.arange(_SLICES) + 0.5) / _SLICES
    return d, top[:, None] + (np.maximum(bottom, top) - top)[:, None] * depth


def _grains_in_air(
    d: FloatArray,
    filling: FloatArray,
    grains: ComplexArray,
    ohm: tuple[FloatArray, FloatArray],
    mass: FloatArray,
    bound: FloatArray,
    rng: Rng,
) -> FilmSample:
    """A sooty layer; ``ohm`` is that of its solid as a film, which grains barely touching raise."""
    own, (mean, sd) = facts("black metal"), ohm
    eps = looyenga(1.0, grains[:, None], filling[:, :, None])
    mean = mean - 2.0 * np.log(filling.mean(axis=1)) + 2.0
    return FilmSample(
        np.sqrt(eps), np.repeat(d[:, None] / _SLICES, _SLICES, axis=1), d,
        _draw_log_uniform(own["sigma_nm"], d.size, rng), mean, np.hypot(sd, 2.5),
        np.full(d.size, own["blind"]), mass, bound,
    )  # fmt: skip


def _draw_loose(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    """A film of metal or oxide over a gap of air."""
    own = facts("loose film")
    oxide = main_oxide(suspect.metal)
    is_metal = (rng.random(count) < own["metal_share"]) | (not oxide)
    metal_nm = opaque_nm(suspect.metal) * _draw_log_uniform((0.2, 4.0), count, rng)
    d = np.where(is_metal, metal_nm, rng.uniform(20.0, 250.0, count))
    film = draw_index(suspect.metal, count, rng)
    mean, sd = _metal_ohm(suspect.metal, d, np.zeros(count))
    mass = _mass(suspect.metal, d, rng)
    if oxide:
        film = np.where(is_metal[:, None], film, draw_index(oxide, count, rng))
        insulating = _compound_ohm(oxide, d)
        mean, sd = (np.where(is_metal, a, b) for a, b in zip((mean, sd), insulating, strict=True))
        mass = np.where(is_metal, mass, _mass(oxide, d, rng))
    gap = _draw_log_uniform(own["gap_nm"], count, rng)
    return FilmSample(
        np.stack([film, np.ones_like(film)], axis=1), np.stack([d, gap], axis=1), d,
        _draw_log_uniform(own["sigma_nm"], count, rng), mean + 1.0, np.hypot(sd, 1.0),
        np.full(count, own["blind"]), mass, np.where(is_metal, 0.0, 1.0),
    )  # fmt: skip


def _draw_nothing(suspect: FilmHypothesis, count: int, rng: Rng) -> FilmSample:
    zero = np.zeros(count)
    air = np.ones((count, 1, WAVELENGTH_NM.size), dtype=complex)
    return FilmSample(
        air, zero[:, None], zero, _draw_log_uniform(facts(suspect.family)["sigma_nm"], count, rng),
        np.full(count, np.log(_INSULATES_OHM)), np.full(count, 2.0), zero, zero,
        np.full(count, np.nan),
    )  # fmt: skip


_KINDS: dict[str, Callable[[FilmHypothesis, int, Rng], FilmSample]] = {
    "metal": _draw_metal,
    "thin metal": _draw_metal,
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


def _metal_ohm(metal: str, d: FloatArray, joins_nm: FloatArray) -> tuple[FloatArray, FloatArray]:
    known = film_metal(metal)
    low, high = known.impurity
    sheet = metal_sheet_ohm(known, d, np.sqrt(low * high), joins_nm)
    sd = float(np.hypot(np.log(high / low) / _LOG_SD, _METAL_LOG_SD))
    return np.log(sheet), np.full(d.size, sd)


def _compound_ohm(medium: str, d: FloatArray) -> tuple[FloatArray, FloatArray]:
    made = data()["constructed"].get(medium)
    low, high = made["ohm_cm"] if made else compound_ohm_cm(medium)
    mean = np.log(np.sqrt(low * high) * 1e7 / d)
    return mean, np.full(d.size, np.hypot(np.log(high / low) / _LOG_SD, _METAL_LOG_SD))


def _mixture_ohm(
    suspect: FilmHypothesis, fraction: FloatArray, d: FloatArray
) -> tuple[FloatArray, FloatArray]:
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


def _draw_uniform(span: Span, count: int, rng: Rng) -> FloatArray:
    low, high = span
    return rng.uniform(low, high, count)


def _draw_log_uniform(span: Span, count: int, rng: Rng) -> FloatArray:
    low, high = span
    drawn: FloatArray = np.exp(rng.uniform(np.log(low), np.log(high), count))
    return drawn


def add_substrate_roughness(
    sigma_nm: FloatArray, span_nm: tuple[float, float], rng: Rng
) -> FloatArray:
    """Roughness with that of the ground added to it."""
    if span_nm[1] <= 0.0:
        return sigma_nm
    return np.hypot(sigma_nm, _draw_log_uniform(span_nm, sigma_nm.size, rng))
