"""How thick is this film, and what is its index, from a measured spectrum?"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from .._typing import FloatArray
from ..colour.colour import hex_and_name
from ..colour.conditions import ViewingConditions, as_conditions
from ..errors import InputError, OutOfRangeError, UnknownNameError, shorten, suggest_nearest
from ..files.spectrum import Spectrum, read_spectrum
from ..inference.hypotheses import FilmModel, describe_stand_ins, list_film_models
from ..inference.order import interference_order
from ..inference.simulate import SampledFilms, film_xyz
from .forward_model import ForwardModel
from .forward_models import list_forward_models, prepare_readings
from .index_models import IndexKind
from .instrument import Instrument
from .modes import find_modes
from .noise_model import NoiseModel
from .posterior import FitDraws, draw_posterior
from .result import SpectrumFit
from .search import Mode
from .summaries import (
    Interval,
    Minimum,
    add_intervals,
    alternatives_of,
    data_sets_of,
    doubts_of,
    film_thickness,
    find_minima,
    half_gap,
    index_at,
    models_of,
    outer_interval,
    parameters_of,
    quantiles_of,
    systematic_rms,
)
from .widening import CHECKS, find_widening, interval_without_stray

DEFAULT_BETWEEN_NM = (0.0, 2000.0)
WIDEST_SLIT_NM = 50.0
AS_WELL = 3.0
"""A film is not needed where something simpler explains the spectrum to within this factor."""

_WORST_MISFIT = 0.02  # of the reading: beyond it nothing in question describes the spectrum


def fit_spectrum(
    film: str,
    on: str,
    spectrum: Spectrum | str | Path,
    *,
    model: IndexKind = "auto",
    between_nm: Interval = DEFAULT_BETWEEN_NM,
    roughness: bool = True,
    bandwidth_nm: float | None = None,
    checked: Sequence[str] = (),
    angle_deg: float = 0.0,
    conditions: ViewingConditions | str | None = None,
    seed: int = 1,
) -> SpectrumFit:
    """Thickness and index of one film from its reflectance or transmittance.

    Parameters
    ----------
    film : str
        Material as our notation writes it, without thickness; its variants and data sets are
        weighed.
    on : str
        What it lies on: a material, or layers and a substrate, a slab as ``glass 1mm``.
    spectrum : Spectrum, str or Path
        The measured spectrum, or the file that holds it.
    model : {"auto", "table", "cauchy", "tauc-lorentz", "drude-lorentz"}
        What is fitted for the index; ``auto`` weighs the tables, each off by a factor, against
        the formula that suits the material.
    between_nm : tuple of float
        Range the thickness is known to lie in [nm].
    roughness : bool
        Whether a rough surface (half air, a few nm deep) and haze are allowed for.
    bandwidth_nm : float, optional
        Full width at half height of the instrument's slit [nm]. Unless it is stated, readings of
        every 8 nm and more are held to be as wide as their steps, finer ones 2 nm, and a wide slit
        to be one of the doubts.
    checked : sequence of str
        Doubts that you have ruled out: ``absorption``, ``thickness spread``, ``mixed layer``,
        ``finish``, ``bandwidth``, ``scale``, ``stray light``.
    angle_deg : float
        Angle of incidence [°], unpolarised light.
    conditions : ViewingConditions or str, optional
        Light and observer for the colours of the candidates.
    seed : int

    Returns
    -------
    SpectrumFit

    Raises
    ------
    InputError
        If a name, range or angle is refused, or the data leave fewer than 8 readings.

    Notes
    -----
    Unknown are the thickness, the index model's parameters, roughness, haze, scale (1 %) and zero
    (0.2 %) of the instrument, stray light (3 % in half of all instruments, unless it is checked),
    noise (of one size, or in proportion to the light) and a miss of the model that hangs together
    over 60 nm. To these comes at most one doubt, each as likely as none: the film absorbs, varies
    over the spot or lies on a mixed layer, the finish scatters, the slit is wide, the scale is off.
    Modes are sought by a survey of the whole range with each doubt and damped least squares, and
    weighed by importance sampling about each, so that intervals hold whatever the shape of the
    posterior. Curves are worked out in steps finer than the fringes, whatever the steps of the
    readings.
    """
    if seed < 0:
        raise OutOfRangeError(f"the seed is {seed}; it must be 0 or more")
    _check_range(between_nm)
    if bandwidth_nm is not None and not 0.0 <= bandwidth_nm <= WIDEST_SLIT_NM:
        raise OutOfRangeError(
            f"a bandwidth of {bandwidth_nm:g} nm is not from 0 to {WIDEST_SLIT_NM:g} nm"
        )
    spectrum = spectrum if isinstance(spectrum, Spectrum) else read_spectrum(Path(spectrum))
    pairs = list_film_models((film,), on)
    wavelength, value, notes = prepare_readings(spectrum, pairs)
    worlds, more = list_forward_models(
        pairs,
        wavelength,
        kind=spectrum.kind,
        model=model,
        between_nm=between_nm,
        roughness=roughness,
        angle_deg=angle_deg,
        bandwidth_nm=bandwidth_nm,
        checked=_check_doubts(checked),
    )
    smooth = () if roughness else ("the surface is taken as smooth, without haze",)
    said = (*spectrum.notes, *notes, *more, *smooth, *describe_stand_ins((film,), on))
    fit = fit_models(worlds, wavelength, value, checked=checked, notes=said, seed=seed)
    return replace(fit, candidates=colour_candidates(fit.candidates, pairs, conditions))


def colour_candidates(
    candidates: tuple[Minimum, ...],
    pairs: tuple[FilmModel, ...],
    conditions: ViewingConditions | str | None,
) -> tuple[Minimum, ...]:
    """The candidates with order and colour, by the first data set of the film."""
    nm = np.array([one.thickness_nm for one in candidates])
    films = SampledFilms(np.zeros(nm.size, dtype=np.intp), nm, np.zeros(nm.size))
    viewing = as_conditions(conditions)
    hexes, names = hex_and_name(film_xyz(films, pairs, np.asarray(0.0), viewing=viewing), viewing)
    return tuple(
        replace(
            one,
            order=interference_order(pairs[0], one.thickness_nm),
            srgb_hex=str(hex_value),
            name=str(name),
        )
        for one, hex_value, name in zip(candidates, hexes, names, strict=True)
    )


def fit_models(
    worlds: Sequence[ForwardModel],
    wavelength_nm: FloatArray,
    value: FloatArray,
    *,
    checked: Collection[str] = (),
    notes: tuple[str, ...] = (),
    seed: int = 1,
) -> SpectrumFit:
    """The fit among given ways the readings may have come about, at least one with a film.

    Parameters
    ----------
    worlds : sequence of ForwardModel
        As :func:`~oxhue.optics.spectrum.forward_models.list_forward_models` makes them.
    wavelength_nm, value : ndarray, shape (W,)
    checked : collection of str
        Where ``stray light`` is among it, there is none.
    """
    instrument = Instrument.of(value, checked)
    reading, value = value, instrument.clean(value)
    misfit = NoiseModel.for_readings(wavelength_nm, value, instrument)
    rng = np.random.default_rng(seed)
    modes, misfit, descents = find_modes(worlds, value, misfit)
    misfit = misfit.focus(value - np.array([mode.world.curves(mode.x[None])[0] for mode in modes]))
    draws = draw_posterior(modes, value, misfit, rng=rng)
    with_film = [mode for mode in modes if mode.world.has_thickness]
    if not with_film:
        with_film, _, _ = find_modes([w for w in worlds if w.has_thickness], value, misfit)
        draws += draw_posterior(with_film, value, misfit, rng=rng)
    fit = _summarise(with_film, draws, wavelength_nm, value, misfit, descents, notes, seed)
    curve = instrument.soil(fit.curve)
    sure = interval_without_stray(fit.draws, wavelength_nm, reading, curve=curve, checked=checked)
    widened_by, narrower = find_widening(
        fit.draws, fit.doubts, fit.interval90_nm, without_stray=sure
    )
    return replace(
        fit,
        value=reading,
        curve=curve,
        residual=reading - curve,
        widened_by=widened_by,
        interval90_without_nm=narrower,
    )


def _check_doubts(checked: Sequence[str]) -> tuple[str, ...]:
    if isinstance(checked, str):
        raise InputError(
            "`checked` must be a list of doubts, such as ['finish']", parameter="checked"
        )
    for name in checked:
        if name not in CHECKS:
            hint = suggest_nearest(name, list(CHECKS))
            raise UnknownNameError(
                f"unknown doubt {shorten(name)!r}; what can be checked is {', '.join(CHECKS)}"
                + (f" ({hint})" if hint else "")
            )
    return tuple(checked)


def _check_range(between_nm: Interval) -> None:
    low, high = between_nm
    if not 0.0 <= low < high <= 20_000.0:
        raise OutOfRangeError(
            f"the thickness range {low:g} to {high:g} nm must run upwards between 0 and 20000 nm"
        )


def _summarise(
    modes: Sequence[Mode],
    draws: Sequence[FitDraws],
    wavelength: FloatArray,
    value: FloatArray,
    misfit: NoiseModel,
    descents: int,
    notes: tuple[str, ...],
    seed: int,
) -> SpectrumFit:
    # long: one result with many fields, each stated once
    film_draws = [part for part in draws if part.world.has_thickness]
    thickness, weight = film_thickness(film_draws)
    candidates = find_minima(modes)
    near = np.abs(thickness - candidates[0].thickness_nm) <= half_gap(candidates)
    best = max(modes, key=lambda mode: mode.log_evidence)
    curve = best.world.curves(best.x[None])[0]
    setting = misfit.likeliest(value - curve)
    curve = curve + misfit.instrument_shift((value - curve)[None], setting)[0]
    model = best.world.model
    index, _ = best.world.film(best.x[None], model.at(wavelength) if model else None, False)
    at_nm, n, k = index_at(film_draws, weight, wavelength)
    alternatives = alternatives_of(draws)
    simpler = max(("bare base", "opaque film"), key=lambda what: alternatives[what])
    # Evidence is probability over prior, and a film has twice the prior of either.
    needed = alternatives["film"] / 2.0 > AS_WELL * alternatives[simpler]
    interval = outer_interval(quantiles_of(thickness, weight))
    return SpectrumFit(
        thickness_nm=quantiles_of(thickness[near], weight[near])[1],
        interval90_nm=interval,
        doubts=doubts_of(film_draws),
        widened_by="",
        interval90_without_nm=interval,
        index_at_nm=at_nm,
        n=n[1],
        n_interval90=outer_interval(n),
        k=k[1],
        k_interval90=outer_interval(k),
        parameters=parameters_of(film_draws),
        model=model.name if model else "",
        models=models_of(film_draws),
        candidates=add_intervals(candidates, thickness, weight),
        fits=systematic_rms(value - curve, value) <= _WORST_MISFIT,
        rms_residual=float(np.sqrt(np.mean((value - curve) ** 2))),
        noise=setting.noise,
        misfit=setting.miss,
        no_film_needed=not needed,
        explained_by="film" if needed else simpler,
        alternatives=alternatives,
        wavelength_nm=wavelength,
        value=value,
        curve=curve,
        residual=value - curve,
        film_index=index[0],
        descents=descents,
        effective_draws=float(1.0 / np.sum(weight**2)),
        data_sets=data_sets_of(modes),
        notes=notes + _remarks(needed, simpler, film_draws),
        seed=seed,
        draws=tuple(film_draws),
    )


def _remarks(needed: bool, simpler: str, film_draws: Sequence[FitDraws]) -> tuple[str, ...]:
    """What to make of the thickness where a film is not needed."""
    if needed:
        return ()
    thickness, weight = film_thickness(film_draws)
    low, _, high = quantiles_of(thickness, weight)
    if simpler == "bare base":
        return (f"the bare base explains the spectrum as well; a film is below {high:.1f} nm",)
    return (
        f"a film too thick to see through explains the spectrum as well; it is above {low:.0f} nm, "
        f"and how much above cannot be seen",
    )
