"""How well a thin film conducts: the bulk's resistivity, its faces, its grains, its gaps."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray
from ..errors import OutOfRangeError, UnknownNameError, suggest_nearest
from ..films.materials.catalogue import find_entry
from ..films.materials.medium import Medium
from ..films.materials.nk_table import Material

_NODES, _FEW_NODES = 160, 48
_THICK = 0.1  # thickness over mean free path from which the fewer nodes give 12 digits too
_CROWDING = 4  # nodes crowd towards grazing directions, where thin films are decided
_SERIES_FROM = 50.0  # above it the closed form of the grain effect loses digits to cancellation
_SERIES_TERMS = 12
_BULK_FROM = 1e15  # thickness over mean free path beyond which faces change no digit
_LEAST_NM = 1e-100  # nothing is that thin; below it the sums overflow
CONDUCTION_EXPONENT = 1.3
"""Exponent with which a sheet of touching islands starts to conduct: percolation in two
dimensions (from memory)."""


@dataclass(frozen=True)
class FilmMetal:
    """What decides how a film of a metal conducts.

    Attributes
    ----------
    name : str
    bulk_uohm_cm : float
        Resistivity of the bulk at 20 °C [µΩ cm].
    product_ohm_m2 : float
        Resistivity times mean free path [Ω m²].
    grain_reflection, specularity : float
        Chance that a grain boundary, and that a face, throws an electron back [-].
    percolation_nm, impurity : tuple of float
        5 and 95 % points of the nominal thickness at which islands touch [nm], and of the factor
        by which gas and defects raise the bulk resistivity [-].
    coefficient_per_K : float
        Temperature coefficient of the bulk at 20 °C [1/K].
    source : str
    """

    name: str
    bulk_uohm_cm: float
    product_ohm_m2: float
    grain_reflection: float
    specularity: float
    percolation_nm: tuple[float, float]
    impurity: tuple[float, float]
    coefficient_per_K: float
    source: str


def film_metal(name: str) -> FilmMetal:
    """The electrical data of a metal.

    Raises
    ------
    UnknownNameError
        If it is a metal whose conduction as a film is not known.
    """
    known = _data()["metal"]
    plain = name.partition("(")[0].strip()
    if plain not in known:
        offer = suggest_nearest(plain, list(known)) or f"it is for {', '.join(known)}"
        raise UnknownNameError(f"how a film of {name!r:.80} conducts is not known; {offer}")
    row, bulk = known[plain], find_entry(plain).resistivity_uohm_cm
    if bulk is None:
        raise UnknownNameError(f"the bulk resistivity of {plain} is not known")
    return FilmMetal(
        plain, bulk, 1e-16 * row["product_e16_ohm_m2"], row["grain_reflection"],
        row["specularity"], tuple(row["percolation_nm"]), tuple(row["impurity"]),
        row["coefficient_per_K"], row["source"],
    )  # fmt: skip


def conducting_metals() -> list[str]:
    """Metals whose films can be computed."""
    return list(_data()["metal"])


def face_factor(thickness_over_path: ArrayLike, specularity: ArrayLike = 0.0) -> FloatArray:
    """Resistivity of a film over that of its bulk, from electrons that meet its faces.

    Parameters
    ----------
    thickness_over_path : array_like, shape (...)
        Thickness over mean free path [-], above 0.
    specularity : array_like, shape (...)
        Share of electrons a face reflects as a mirror would [-], 0 to 1.

    Returns
    -------
    ndarray, shape (...)

    Raises
    ------
    OutOfRangeError
        If a ratio is not positive and finite, or a specularity leaves 0..1.

    Notes
    -----
    ``ρ0/ρ = 1 - (3/2k)(1-p) ∫_1^∞ (t⁻³ - t⁻⁵)(1 - e^{-kt})/(1 - p e^{-kt}) dt``, summed exactly
    in u = 1/t by Gauss and Legendre's rule with the nodes crowded towards u = 0.

    References
    ----------
    K. Fuchs, Proc. Camb. Phil. Soc. 34, 100 (1938); E. H. Sondheimer, Adv. Phys. 1, 1 (1952).
    """
    k, p = np.asarray(thickness_over_path, dtype=float), np.asarray(specularity, dtype=float)
    if not np.all((k > 0.0) & (k < np.inf)):
        raise OutOfRangeError("thickness over mean free path must be positive and finite")
    if not np.all((p >= 0.0) & (p <= 1.0)):
        raise OutOfRangeError("specularity must lie between 0 and 1")
    k = np.minimum(k, _BULK_FROM)
    u, weight = _grazing_nodes(_NODES if np.any(k < _THICK) else _FEW_NODES)
    # (1 - g)/(1 - p g), with 1 - g taken by expm1 and p = 1 left to the factor outside
    kept = -np.expm1(-k[..., None] / u)
    share = (1.0 - p[..., None]) * kept / (kept + (1.0 - p[..., None]) * (1.0 - kept))
    lost = (share * weight).sum(axis=-1)
    ratio: FloatArray = 1.0 / (1.0 - 1.5 / k * lost)
    return ratio


def grain_factor(strength: ArrayLike) -> FloatArray:
    """Resistivity of a film over that of its grains, from the boundaries between them.

    Parameters
    ----------
    strength : array_like, shape (...)
        ``α = (λ/D) R/(1-R)`` with mean free path λ, grain size D, reflection R [-], 0 or more.

    Raises
    ------
    OutOfRangeError
        If a strength is negative or not finite.

    Notes
    -----
    ``ρ0/ρ = 3 [1/3 - α/2 + α² - α³ ln(1 + 1/α)]``; for large α its series in 1/α.

    References
    ----------
    A. F. Mayadas and M. Shatzkes, Phys. Rev. B 1, 1382 (1970).
    """
    a = np.asarray(strength, dtype=float)
    if not np.all((a >= 0.0) & (a < np.inf)):
        raise OutOfRangeError("the strength of grain boundaries must be finite and not negative")
    low = np.clip(a, 1e-300, _SERIES_FROM)
    closed = 1.0 / 3.0 - low / 2.0 + low**2 - low**3 * np.log1p(1.0 / low)
    small = 1.0 / np.maximum(a, _SERIES_FROM)
    terms = [(-1.0) ** n * small ** (n + 1) / (n + 4) for n in range(_SERIES_TERMS)]
    ratio: FloatArray = 1.0 / (3.0 * np.where(a < _SERIES_FROM, closed, np.sum(terms, axis=0)))
    return ratio


def film_resistivity(
    metal: FilmMetal,
    thickness_nm: ArrayLike,
    impurity: ArrayLike = 1.0,
    *,
    grain_nm: ArrayLike | None = None,
    temperature_C: ArrayLike = 20.0,
) -> FloatArray:
    """Resistivity of an unbroken metal film [µΩ cm].

    Parameters
    ----------
    metal : FilmMetal
    thickness_nm : array_like, shape (...)
        Above 0 [nm].
    impurity : array_like, shape (...)
        Factor on the bulk resistivity from dissolved gas and defects [-].
    grain_nm : array_like, optional
        Grain size [nm]; by default the thickness (common practice, no source).
    temperature_C : array_like, shape (...)

    Returns
    -------
    ndarray, shape (...)

    Raises
    ------
    OutOfRangeError
        If a thickness, grain or impurity is not positive, or a size out of reach of the model.

    Notes
    -----
    ``ρ = b ρ0 (F + G - 1) + ρ0 c (T - 20 °C)``: the effects of faces F and grains G are added as
    if independent, the mean free path is the product over ``b ρ0``, and heat adds what it adds to
    the bulk (Matthiessen's rule).
    """
    d, b = np.asarray(thickness_nm, dtype=float), np.asarray(impurity, dtype=float)
    grain = d if grain_nm is None else np.asarray(grain_nm, dtype=float)
    if not (np.all(d > 0.0) and np.all(grain > 0.0) and np.all(b > 0.0)):
        raise OutOfRangeError("thickness, grain size and impurity of a film must be positive")
    if not (np.all(d > _LEAST_NM) and np.all(grain > _LEAST_NM) and np.all(d < np.inf)):
        raise OutOfRangeError(f"thickness and grain size of a film must pass {_LEAST_NM:g} nm")
    base = metal.bulk_uohm_cm * b
    path_nm = metal.product_ohm_m2 / (1e-8 * base) * 1e9
    strength = path_nm / grain * metal.grain_reflection / (1.0 - metal.grain_reflection)
    size = face_factor(d / path_nm, metal.specularity) + grain_factor(strength) - 1.0
    warm = metal.bulk_uohm_cm * metal.coefficient_per_K * (np.asarray(temperature_C) - 20.0)
    resistivity: FloatArray = base * size + warm
    return resistivity


def metal_sheet_ohm(
    metal: FilmMetal,
    thickness_nm: ArrayLike,
    impurity: ArrayLike = 1.0,
    *,
    percolation_nm: ArrayLike = 0.0,
) -> FloatArray:
    """Sheet resistance of a metal film [ohm per square]; infinite where islands do not touch.

    Notes
    -----
    ``ρ/d · (1 - d_c/d)^-1.3`` above the nominal thickness d_c at which islands touch.
    """
    d, islands = np.asarray(thickness_nm, dtype=float), np.asarray(percolation_nm, dtype=float)
    touching = d > islands
    d = np.where(touching, d, 2.0 * islands)  # of any size; what does not touch is put in below
    whole = 10.0 * film_resistivity(metal, d, impurity) / d
    bridged = (1.0 - islands / d) ** CONDUCTION_EXPONENT
    sheet: FloatArray = np.where(touching, whole / bridged, np.inf)
    return sheet


def conducting_metal(medium: Medium) -> FilmMetal | None:
    """The electrical data of a medium; None for what is no metal, or none whose films we know."""
    if not isinstance(medium, Material) or medium.kind == "user":
        return None
    name = find_entry(medium.label).name
    return film_metal(name) if name in _data()["metal"] else None


def sheet_ohm_bounds(metal: FilmMetal, thickness_nm: ArrayLike) -> FloatArray:
    """Least, middle and most ohms per square (..., 3) of a film of so much metal, between the
    bounds of its impurity and of the thickness at which islands touch."""
    bounds = np.array([metal.impurity, metal.percolation_nm])
    impurity, percolation = np.insert(bounds, 1, np.sqrt(bounds.prod(axis=1)), axis=1)
    d = np.asarray(thickness_nm, dtype=float)[..., None]
    return metal_sheet_ohm(metal, d, impurity, percolation_nm=percolation)


def compound_ohm_cm(name: str) -> tuple[float, float]:
    """Resistivity of a compound as a film [ohm cm], 5 and 95 % points.

    Parameters
    ----------
    name : str
        ``TiN``, or with a phase where that decides, ``C(dlc)``.

    Raises
    ------
    UnknownNameError
        If nothing is known of it.
    """
    known = _data()["compound"]
    plain = name if name in known else name.partition("(")[0].strip()
    if plain not in known:
        raise UnknownNameError(f"the resistivity of {name!r:.80} is not known")
    low, high = known[plain]
    return float(low), float(high)


def suboxide_ohm_cm(oxygen_per_titanium: ArrayLike) -> FloatArray:
    """Resistivity of amorphous titanium sub-oxide [ohm cm], shape of the input.

    Straight in the logarithm between the published points.

    Raises
    ------
    OutOfRangeError
        If the ratio leaves the published 1.73 to 1.97.
    """
    ratio = np.asarray(oxygen_per_titanium, dtype=float)
    points = _data()["suboxide"]
    known = np.array(points["oxygen_per_titanium"])
    if not np.all((ratio >= known[0]) & (ratio <= known[-1])):
        raise OutOfRangeError(
            f"oxygen per titanium must lie between {known[0]:g} and {known[-1]:g}, where it was "
            f"measured"
        )
    value: FloatArray = np.exp(np.interp(ratio, known, np.log(points["ohm_cm"])))
    return value


@cache
def _grazing_nodes(count: int) -> tuple[FloatArray, FloatArray]:
    """Nodes u = v⁴ in 0..1 and weights that include ``u - u³``."""
    x, w = np.polynomial.legendre.leggauss(count)
    v = 0.5 * (x + 1.0)
    u = v**_CROWDING
    return u, 0.5 * w * _CROWDING * v ** (_CROWDING - 1) * (u - u**3)


@cache
def _data() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("electrical.toml").read_text("utf-8"))
