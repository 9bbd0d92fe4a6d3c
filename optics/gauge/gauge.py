"""How thick is this film, from the colours somebody saw?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

from ..colour.conditions import ViewingConditions
from ..errors import InputError, OutOfRangeError
from ..films.spectra import DEFAULT_WAVELENGTH_NM
from ..inference.faults import NONE, OVER, UNDER, find_fault
from ..inference.hypotheses import describe_stand_ins
from ..inference.likelihood import fit_p_value
from ..inference.measured import LightThrough, Measurement, parse_light_share, parse_sheet_ohms
from ..inference.next_look import read_owned
from ..inference.posterior import Prior
from ..inference.question import DEFAULT_BETWEEN_NM, FilmQuestion, doubt_fringes
from ..inference.reading import Reading, as_readings, parse_reading
from ..numerics.integrate import trapezoid
from .candidates import dims_light, find_candidates, interval_and_region
from .held import UNASKED, HeldRows
from .result import Estimate

FIT_LEVEL = 0.01
"""Readings rarer than this among those the model gives are said not to fit."""


PLAIN_LEVEL = 0.02
"""Readings rarer than this among those of flat clear films are said to speak for a fault."""


def gauge(
    film: str | Sequence[str],
    on: str,
    seen: str | Reading | Sequence[str | Reading] = (),
    *,
    through: str | Reading | Sequence[str | Reading] = (),
    ohms: str | None = None,
    before: str | Reading | Sequence[str | Reading] = (),
    between_nm: tuple[float, float] = DEFAULT_BETWEEN_NM,
    conditions: ViewingConditions | str | None = None,
    finish: str | None = None,
    have: str | Sequence[str] = (),
    clear_layer: str | None = None,
    seed: int = 1,
) -> Estimate:
    """Thickness of a film from the colours seen at one spot.

    Parameters
    ----------
    film : str or sequence of str
        What the film may be, several separated by commas; each stands for its variants and data
        sets. ``oxide`` is what heat grows on the metal.
    on : str
        What it lies on.
    seen : str, Reading, or sequence of them
        Looks at the same spot, independent given the film.
    through : str, Reading, or sequence of them
        What is seen through the piece: a colour, an optical density such as ``OD 1.5``, a share
        of the light such as ``6%``, or ``opaque``, ``dim`` or ``clear``.
    ohms : str, optional
        Sheet resistance of a film that conducts, such as ``0.6ohm/sq``, or ``open``.
    before : str, Reading, or sequence of them
        Colours the spot had when its film was thinner, or that lie between the thin edge of the
        piece and the spot, from thin to thick.
    between_nm : tuple of float
        Range the thickness is known to lie in [nm]; uniform before the readings, but for the oxide
        of tempered steel and stainless, which is likelier thin.
    conditions : ViewingConditions or str, optional
        Light and observer, or the name of the light; D65 and 2° by default.
    finish : str, optional
        Finish of the piece, if known: ``polished``, ``satin``, ``brushed`` or ``rolled``.
    have : str or sequence of str
        What is at hand for a further look beyond eyes, a white card and a multimeter: ``colour
        meter``, ``spectrometer``.
    clear_layer : str, optional
        Where a clear layer that nobody knows of may lie, such as lacquer, wax or an oxide:
        ``over`` the film, ``under`` it, or ``either``.
    seed : int
        Of the simulations for the fit check and the next look.

    Returns
    -------
    Estimate

    Raises
    ------
    InputError
        If nothing was read, or a name, range or uncertainty is refused.

    Examples
    --------
    >>> found = gauge("TiO2", on="Ti", seen="purple")
    >>> round(found.thickness_nm), found.candidates[0].order
    (37, 1)
    """
    question = FilmQuestion.of(
        film, on, between_nm=between_nm, conditions=conditions, finish=finish,
        clear_layer=clear_layer,
    )  # fmt: skip
    colours, light = read_through(through)
    measured: list[Measurement] = [*light]
    if ohms is not None:
        measured.append(parse_sheet_ohms(ohms))
    readings, earlier = (*as_readings(seen), *colours), as_readings(before, "before")
    if not readings and not measured:
        raise InputError("give at least one colour seen, such as purple or #6a3fa0")
    if seed < 0:
        raise OutOfRangeError(f"the seed is {seed}; it must be 0 or more")
    if _dims_light(question):
        readings = tuple(reading.held_to_lamp() for reading in readings)
    asked = question.suited_to((*readings, *earlier))
    return _estimate(asked, readings, earlier, tuple(measured), (seed, read_owned(have)))


@lru_cache(maxsize=64)
def _dims_light(question: FilmQuestion) -> bool:
    """Whether one of the films in question shows no interference orders."""
    return any(dims_light(pair.film) for pair in question.models)


def read_through(
    through: str | Reading | Sequence[str | Reading],
) -> tuple[tuple[Reading, ...], list[LightThrough]]:
    """Colours seen through the piece, and how much light comes through it."""
    several = [through] if isinstance(through, str | Reading) else list(through)
    shares = [parse_light_share(one) if isinstance(one, str) else None for one in several]
    colours = [one for one, share in zip(several, shares, strict=True) if share is None]
    looks = as_readings(
        [parse_reading(one, view="through") if isinstance(one, str) else one for one in colours],
        "through",
    )
    return looks, [share for share in shares if share is not None]


def _estimate(
    question: FilmQuestion,
    readings: tuple[Reading, ...],
    earlier: tuple[Reading, ...],
    measured: tuple[Measurement, ...],
    further: tuple[int, tuple[str, ...]],
) -> Estimate:
    seed, have = further
    rows = HeldRows.of(question, readings=readings, earlier=earlier, measured=measured, seed=seed)
    held, prior = replace(rows, have=have), rows.prior
    together = [readings, *([one] for one in earlier)]
    fit_ps = [fit_p_value(question, looked, seed) for looked in together if looked]
    film_density = prior.density_of(held.rows)[0]
    grid, density = prior.thickness_nm, film_density.sum(axis=0)
    candidates = find_candidates(prior, film_density, question.conditions)
    interval, region = interval_and_region(grid, density, candidates)
    # The rarest of several looks is rarer than one: counted so often, it keeps its meaning.
    fit_p = min(1.0, max(1, len(fit_ps)) * min(fit_ps, default=1.0), held.shared_fit)
    fits = fit_p >= FIT_LEVEL and held.agreement >= FIT_LEVEL
    plain_p = fit_p_value(question, readings, seed, faultless=True) if readings else fit_p
    warnings = _warnings((*readings, *earlier), prior, held.agreement, held.shared_fit)
    warnings += describe_stand_ins(question.films, question.on)
    warnings += doubt_fringes(question.models[0], question.conditions)
    warnings += _blemish(held.faults, plain_p, fits)
    return Estimate(
        thickness_nm=candidates[0].thickness_nm,
        interval90_nm=interval,
        region90_nm=region,
        candidates=candidates,
        films=dict(zip(prior.film_names, trapezoid(film_density, grid).tolist(), strict=True)),
        fits=fits,
        fit_p=min(fit_p, held.agreement) if earlier else fit_p,
        plain_p=plain_p,
        faults=held.faults,
        grid_nm=grid,
        density=density,
        seen=readings,
        before=earlier,
        measured=tuple(one.measured for one in measured),
        warnings=warnings + _find_foreign(earlier, fit_ps[bool(readings) :]),
        pairs=question.models,
        between_nm=prior.between_nm,
        conditions=question.conditions,
        seed=seed,
        held=held,
    )


def _warnings(
    readings: tuple[Reading, ...], prior: Prior, agreement: float, shared_fit: float
) -> tuple[str, ...]:
    said = [warning for reading in readings for warning in reading.warnings]
    base = prior.pairs[0].base
    if base.slab_nm is None and not base.is_opaque(DEFAULT_WAVELENGTH_NM):
        said.append(
            f"{base.substrate.label} is taken without a back face; for a plate write its "
            f"thickness, as in 'glass 4mm'"
        )
    if prior.usual is not None:
        said.append(prior.usual.words)
    if agreement < FIT_LEVEL:
        said.append("the colours named as earlier are not those of a thinner film")
    if shared_fit < FIT_LEVEL:
        said.append("no thickness fits both what was measured and the rest")
    return tuple(dict.fromkeys(said))


def _blemish(faults: Mapping[str, float], plain_p: float, fits: bool) -> tuple[str, ...]:
    """What to say of a colour that a flat clear film in the stated light hardly has."""
    name = next((one for one in faults if one != NONE), None)
    if not fits or plain_p >= PLAIN_LEVEL or name is None:
        return ()
    return (
        f"a flat clear film in the stated light hardly has this colour; most likely "
        f"{find_fault(name).said} ({100.0 * faults[name]:.0f} %)"
        + ("" if {OVER, UNDER} & faults.keys() else UNASKED),
    )


def _find_foreign(earlier: tuple[Reading, ...], fit_ps: Sequence[float]) -> tuple[str, ...]:
    """Earlier colours that no film in question shows."""
    level = FIT_LEVEL / (1 + len(earlier))
    return tuple(
        f"no film in question shows the colour named as earlier, {reading.text}"
        for reading, p in zip(earlier, fit_ps, strict=True)
        if p < level
    )
