"""What the index of a film may be when a spectrum is fitted: tables, and formulas about them.

Every model is a function of standard normal numbers z (of their positive half where a quantity
cannot be negative), so that the prior of any fit is the same round bell: a table may be off by a
factor; a formula starts where it meets the tables of the material, and roams about as far as they
differ from each other.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np

from .._typing import ComplexArray, FloatArray
from ..errors import OutOfRangeError, UnknownNameError, suggest_nearest
from ..films.materials.dispersion import cauchy, drude_lorentz, tauc_lorentz, urbach_tail
from ..films.materials.medium import Medium
from .seen import nearest_known

Shape = Literal["normal", "logarithmic", "half-normal"]
Index = Callable[[FloatArray, bool], tuple[ComplexArray, ComplexArray]]
IndexKind = Literal["auto", "table", "cauchy", "tauc-lorentz", "drude-lorentz"]

INDEX_SPREAD = 0.025
"""Relative standard deviation of a film's index about its data set [-]."""

FURTHEST_Z = 6.0
"""Standard deviations beyond which no parameter is sought."""

_CONDUCTORS = ("metal", "alloy", "nitride", "carbide")
_FORMULA_SHARE = 0.5  # prior weight of a formula against the tables; a judgement
# How far Cauchy's parameters roam beyond the spread between tables; judgements.
_LEAST_N_SPREAD, _LEAST_B_SPREAD, _C_SPREAD = 0.03, 0.3, 0.02  # of n, of B and C, of B in µm²
_TAIL_WIDTH_EV, _LEAST_TAIL_K = 0.3, 0.003
_CLEAR_K = 0.1  # a film that absorbs more somewhere in the band needs more than a tail
_WIDEST = 1.4  # width over energy of a Tauc–Lorentz resonance; at 2 the formula ends
_WORST_FIT = 0.15  # rms of n and k by which a formula may miss its table


@dataclass(frozen=True)
class IndexParameter:
    """One number to be fitted and what is held about it before.

    Attributes
    ----------
    name, unit : str
    centre, spread : float
        Mean and standard deviation (``normal``); median and standard deviation of the logarithm
        (``logarithmic``); for ``half-normal`` the spread from 0.
    shape : str
    proportional_from : float or None
        What must be added for a sum to which the index is proportional, or a part of it;
        None where it is to no such sum.
    """

    name: str
    unit: str
    centre: float
    spread: float
    shape: Shape = "normal"
    proportional_from: float | None = None

    def value(self, z: FloatArray) -> FloatArray:
        """The number that stands for a standard normal one."""
        if self.shape == "logarithmic":
            return np.asarray(self.centre * np.exp(self.spread * z))
        return self.centre + self.spread * z

    def slope(self, z: FloatArray) -> FloatArray:
        """Derivative of :meth:`value`."""
        if self.shape == "logarithmic":
            return self.spread * self.value(z)
        return np.full(np.shape(z), self.spread)

    @property
    def floor(self) -> float:
        """The least z there can be."""
        return 0.0 if self.shape == "half-normal" else -FURTHEST_Z


@dataclass(frozen=True, eq=False)
class IndexModel:
    """A film's index as a function of few parameters.

    Attributes
    ----------
    name : str
        For instance ``TiO2(siefke2016), scaled`` or ``Cauchy with Urbach tail``.
    parameters : tuple of IndexParameter
    at : function
        ``at(wavelength_nm)`` prepares a function of parameter values (P, ..., 1), and of whether
        slopes are wanted, to index (..., W) and derivatives to the values (P, ..., W).
    weight : float
        Prior probability among the models of the film.
    data_sets : tuple of str
        The tables it rests on.
    table : Medium or None
        The table that is off by a factor; None for a formula.
    is_clear : bool
        Whether the film may absorb light that the model lets pass.
    """

    name: str
    parameters: tuple[IndexParameter, ...]
    at: Callable[[FloatArray], Index]
    weight: float
    data_sets: tuple[str, ...]
    table: Medium | None = None
    is_clear: bool = True


def list_index_models(
    films: Sequence[tuple[Medium, float]], wavelength_nm: FloatArray, kind: IndexKind = "auto"
) -> tuple[IndexModel, ...]:
    """The models to be weighed for a film.

    Parameters
    ----------
    films : sequence of (Medium, float)
        Data sets of the film and their weights; all cover the wavelengths.
    wavelength_nm : ndarray, shape (W,)
        The band of the spectrum [nm].
    kind : str
        ``auto`` weighs the tables against the formula that suits them.

    Returns
    -------
    tuple of IndexModel
        Weights sum to 1.

    Raises
    ------
    UnknownNameError, OutOfRangeError
        If the kind is unknown, or its formula cannot follow the material's tables.
    """
    known = get_args(IndexKind)
    if kind not in known:
        hint = suggest_nearest(kind, list(known))
        raise UnknownNameError(
            f"unknown index model {kind!r}; use one of {', '.join(known)}"
            + (f" ({hint})" if hint else "")
        )
    tables = [_table_model(medium, weight) for medium, weight in films]
    if kind == "table":
        return tuple(tables)
    formula = _choose_models(films, wavelength_nm) if kind == "auto" else kind
    made = (
        _cauchy_model(films, wavelength_nm)
        if formula == "cauchy"
        else _resonance_model(films, wavelength_nm, formula)
    )
    if made is None and kind == "auto":  # an absorber without a clear edge
        made = _resonance_model(films, wavelength_nm, "drude-lorentz")
    if kind != "auto":
        if made is None:
            raise OutOfRangeError(
                f"a {kind} formula cannot follow the data of {films[0][0].label} from "
                f"{wavelength_nm[0]:g} to {wavelength_nm[-1]:g} nm; use another index model"
            )
        return (_reweight(made, 1.0),)
    if made is None:
        return tuple(tables)
    shared = [_reweight(table, table.weight * (1.0 - _FORMULA_SHARE)) for table in tables]
    return (*shared, _reweight(made, _FORMULA_SHARE))


def _reweight(model: IndexModel, weight: float) -> IndexModel:
    return replace(model, weight=weight)


def _choose_models(films: Sequence[tuple[Medium, float]], wavelength_nm: FloatArray) -> str:
    if films[0][0].kind in _CONDUCTORS:
        return "drude-lorentz"
    most = max(float(medium.nk(wavelength_nm).imag.max()) for medium, _ in films)
    return "cauchy" if most < _CLEAR_K else "tauc-lorentz"


def scale_index(nk: ComplexArray) -> Index:
    """Index (W,), or a row for each of N unknowns (N, W), off by a factor."""

    def index(values: FloatArray, _slopes: bool) -> tuple[ComplexArray, ComplexArray]:
        (scale,) = values
        return nk * (1.0 + scale), np.broadcast_to(nk, (1, *np.broadcast(scale, nk).shape))

    return index


def _table_model(medium: Medium, weight: float) -> IndexModel:
    return IndexModel(
        f"{medium.label}, scaled",
        (IndexParameter("index scale", "", 0.0, INDEX_SPREAD, proportional_from=1.0),),
        lambda wavelength_nm: scale_index(medium.nk(nearest_known(medium, wavelength_nm))),
        weight,
        (medium.label,),
        medium,
        medium.kind not in _CONDUCTORS,
    )


def _cauchy_model(films: Sequence[tuple[Medium, float]], wavelength_nm: FloatArray) -> IndexModel:
    centre_nm = float(np.sqrt(wavelength_nm[0] * wavelength_nm[-1]))
    fits, tails = [], []
    for medium, _ in films:
        nk = medium.nk(wavelength_nm)
        _, basis = cauchy(wavelength_nm, 0.0, 0.0, centre_nm=centre_nm)
        fits.append(np.linalg.lstsq(basis.real.T, nk.real, rcond=None)[0])
        tails.append(float(nk.imag.max()))
    weights = np.array([weight for _, weight in films])
    n, b, c = weights @ np.array(fits) / weights.sum()
    spread = np.sqrt(weights @ (np.array(fits) - [n, b, c]) ** 2 / weights.sum())
    b = max(b, 1e-4)
    least = np.array([_LEAST_N_SPREAD * n, _LEAST_B_SPREAD * b, _C_SPREAD * b])
    least[2] = np.hypot(least[2], _LEAST_B_SPREAD * c)
    roams = np.hypot(least, spread)
    parameters = (
        IndexParameter(f"n at {centre_nm:.0f} nm", "", n, float(roams[0]), "normal", 0.0),
        IndexParameter("B", "µm²", b, float(roams[1]), "normal", 0.0),
        IndexParameter("C", "µm⁴", float(c), float(roams[2]), "normal", 0.0),
        IndexParameter("k at the edge", "", 0.0, max(_LEAST_TAIL_K, *tails), "half-normal", 0.0),
        IndexParameter("Urbach width", "eV", _TAIL_WIDTH_EV, 0.4, "logarithmic"),
    )
    edge_nm = float(wavelength_nm[0])

    def at(wavelength_nm: FloatArray) -> Index:
        def index(values: FloatArray, _slopes: bool) -> tuple[ComplexArray, ComplexArray]:
            n, b, c, k, width = values
            clear, steep = cauchy(wavelength_nm, n, b, c_um4=c, centre_nm=centre_nm)
            tail, fade = urbach_tail(wavelength_nm, k, width, at_nm=edge_nm)
            shape = np.broadcast_shapes(clear.shape, tail.shape)
            lead = (1,) * (len(shape) - 1)
            steep = np.broadcast_to(steep.reshape((3, *lead, -1)), (3, *shape))
            return clear + tail, np.concatenate([steep, np.broadcast_to(fade, (2, *shape))])

        return index

    labels = tuple(medium.label for medium, _ in films)
    return IndexModel("Cauchy with Urbach tail", parameters, at, 1.0, labels)


def _resonance_model(
    films: Sequence[tuple[Medium, float]], wavelength_nm: FloatArray, formula: str
) -> IndexModel | None:
    """A formula with resonances, fitted to the likeliest table; None where it cannot follow."""
    medium = max(films, key=lambda pair: pair[1])[0]
    parts = _TAUC_LORENTZ if formula == "tauc-lorentz" else _DRUDE_LORENTZ
    fitted, miss = _fit_formula(parts, medium.nk(wavelength_nm), wavelength_nm)
    if miss > _WORST_FIT or (parts is _TAUC_LORENTZ and fitted[2] > _WIDEST * fitted[1]):
        return None
    parameters = tuple(
        IndexParameter(name, unit, value, spread, "logarithmic")
        for (name, unit), value, spread in zip(parts.names, fitted, parts.spreads, strict=True)
    )

    def at(wavelength_nm: FloatArray) -> Index:
        return lambda values, slopes: parts.function(wavelength_nm, values, slopes)

    return IndexModel(parts.label, parameters, at, 1.0, (medium.label,), is_clear=False)


def _tauc_lorentz_index(
    wavelength_nm: FloatArray, values: FloatArray, slopes: bool
) -> tuple[ComplexArray, ComplexArray]:
    A, E0, C, Eg, eps_inf = values
    with np.errstate(invalid="ignore"):  # a width that no resonance has gives NaN, never likely
        return tauc_lorentz(
            wavelength_nm, A, E0, width_ev=C, gap_ev=Eg, eps_inf=eps_inf, slopes=slopes
        )


def _drude_lorentz_index(
    wavelength_nm: FloatArray, values: FloatArray, _slopes: bool
) -> tuple[ComplexArray, ComplexArray]:
    eps_inf, plasma, loss, *oscillators = values
    return drude_lorentz(wavelength_nm, eps_inf, plasma, loss_ev=loss, oscillators=oscillators)


@dataclass(frozen=True)
class _Formula:
    label: str
    names: tuple[tuple[str, str], ...]
    spreads: tuple[float, ...]  # of the logarithms: some 5 % in the index
    starts: tuple[tuple[float, ...], ...]
    function: Callable[[FloatArray, FloatArray, bool], tuple[ComplexArray, ComplexArray]]


_TAUC_LORENTZ = _Formula(
    "Tauc-Lorentz",
    (("A", "eV"), ("E0", "eV"), ("C", "eV"), ("Eg", "eV"), ("eps_inf", "")),
    (0.10, 0.03, 0.15, 0.03, 0.03),
    (
        (100.0, 4.5, 2.0, 3.0, 2.0), (60.0, 3.2, 2.0, 1.8, 2.0),
        (100.0, 3.5, 2.0, 1.2, 2.0), (20.0, 3.0, 2.0, 0.5, 2.0),
    ),
    _tauc_lorentz_index,
)  # fmt: skip
_DRUDE_LORENTZ = _Formula(
    "Drude-Lorentz",
    (
        ("eps_inf", ""), ("plasma energy", "eV"), ("loss", "eV"),
        ("f1", ""), ("E1", "eV"), ("width 1", "eV"), ("f2", ""), ("E2", "eV"), ("width 2", "eV"),
    ),
    (0.05,) * 9,
    (
        (1.5, 8.0, 0.3, 5.0, 1.7, 1.0, 2.0, 4.0, 2.0),
        (1.5, 4.0, 0.5, 3.0, 2.5, 1.5, 2.0, 5.0, 2.0),
        (1.5, 13.0, 0.1, 5.0, 1.55, 0.4, 1.0, 5.0, 3.0),
    ),
    _drude_lorentz_index,
)  # fmt: skip


def _fit_formula(
    formula: _Formula, nk: ComplexArray, wavelength_nm: FloatArray
) -> tuple[FloatArray, float]:
    """Parameters (all positive) by which a formula meets a table, and the rms it misses by."""
    from scipy.optimize import least_squares

    def residual(logs: FloatArray) -> FloatArray:
        index, _ = formula.function(wavelength_nm, np.exp(logs), False)
        missed: FloatArray = np.concatenate([(index - nk).real, (index - nk).imag])
        return np.nan_to_num(missed, nan=10.0)

    def jacobian(logs: FloatArray) -> FloatArray:
        _, slopes = formula.function(wavelength_nm, np.exp(logs), True)
        slopes = np.nan_to_num(slopes * np.exp(logs)[:, None])
        return np.asarray(np.concatenate([slopes.real, slopes.imag], axis=1).T)

    best: FloatArray = np.asarray(formula.starts[0])
    miss = np.inf
    for start in formula.starts:
        logs = np.log(start)
        found = least_squares(
            residual, logs, jacobian, bounds=(logs - 2.5, logs + 2.5), max_nfev=60
        )
        rms = float(np.sqrt(2.0 * found.cost / nk.size))
        if rms < miss:
            best, miss = np.exp(np.asarray(found.x, dtype=float)), rms
    return best, miss
