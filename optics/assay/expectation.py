"""What a good film should show, and what it would show if part of it were oxide."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from ..colour.colour import Colour, to_colour
from ..colour.conditions import ViewingConditions, as_conditions
from ..electrical.thin_film import compound_ohm_cm, film_metal, metal_sheet_ohm
from ..errors import InputError, shorten
from ..films.materials.catalogue import find_entry
from ..films.materials.effective_medium import Mixture, bruggeman
from ..films.materials.medium import Medium
from ..films.notation import parse_medium
from ..films.solve import solve
from ..films.stack import Layer, Stack
from ..result import Result
from ..units import parse_quantity
from .hypotheses import (
    CARBON,
    CONDUCTORS,
    base_stack,
    check_metal,
    describe_stand_in,
    expansion,
    main_oxide,
)

SHARES = (0.0, 0.1, 0.5, 1.0)
"""Shares of the metal taken as oxidised."""

_FILM = re.compile(r"\s*([^/]+?)\s+([-+.\d][^\s/]*(?:\s*[^\W\d_]+)?)(?:\s+on\s+|\s*/\s*)(\S.*?)\s*")
THINNEST_NM = 0.01  # a tenth of an atom on average: less is no film
_REDUCED_OHM_CM = 1.0  # of oxide that holds too little oxygen: the middle of what was measured


@dataclass(frozen=True, eq=False)
class ExpectedLook:
    """What a film shows when a share of its metal is oxide.

    Attributes
    ----------
    oxidised : float
        Share of the metal atoms in oxide [-].
    thickness_nm : float
        Oxide takes more room than the metal in it [nm].
    front : Colour
    back, through : Colour or None
        None where nothing can be seen through the base.
    optical_density : float or None
    ohm_sq : tuple of float or None
        5 and 95 % points [ohm per square]; None where the base conducts.
    mass_ug_cm2 : float
    """

    oxidised: float
    thickness_nm: float
    front: Colour
    back: Colour | None
    through: Colour | None
    optical_density: float | None
    ohm_sq: tuple[float, float] | None
    mass_ug_cm2: float


@dataclass(frozen=True, eq=False, repr=False)
class Expectation(Result):
    """A film as it should be, and as it may turn out.

    Attributes
    ----------
    film, metal, on : str
    oxide : str or None
        None for a noble metal.
    thickness_nm : float
        Of metal deposited [nm].
    expected : tuple of ExpectedLook
        The good film first, then with rising oxidation.
    light, observer
        Under which it is seen; the observer's field of view is 2 or 10 [°].
    notes : tuple of str
        What to mind where another metal stands for this one.
    """

    verb: ClassVar[str] = "assay"
    rows: ClassVar[str] = "expected"

    film: str
    metal: str
    oxide: str | None
    on: str
    thickness_nm: float
    expected: tuple[ExpectedLook, ...]
    light: str
    observer: int
    notes: tuple[str, ...] = ()


def expect(film: str, *, conditions: ViewingConditions | str | None = None) -> Expectation:
    """What a film should show.

    Parameters
    ----------
    film : str
        Metal, thickness and base, such as ``Ti 80nm / glass`` or ``Ti 80nm on glass``.
    conditions : ViewingConditions or str, optional

    Raises
    ------
    InputError
        If it is not written so, or the metal is not known.

    Notes
    -----
    A share x of oxidised metal, mixed throughout, makes the film ``1 - x + x r`` times as thick,
    with r the volume of oxide for one of metal; its index and its conductivity follow from the
    symmetric effective medium. A skin on top, as heating gives, looks otherwise.
    """
    match = _FILM.fullmatch(film)
    if match is None:
        raise InputError(
            f"the film {shorten(film)!r} is not written as metal, thickness and base, such as "
            f"'Ti 80nm / glass' or 'Ti 80nm on glass'"
        )
    metal, on = check_metal(match[1]), match[3]
    if metal == CARBON or ":" in match[1]:
        kind = "carbon" if metal == CARBON else "mixtures"
        raise InputError(
            f"what to expect of a film is told for metals and alloys, not for {kind}; its colour "
            f"is that of the stack {shorten(film.replace(' on ', ' / '))!r}"
        )
    nm = parse_quantity(match[2], "length_nm", "the thickness")
    if not THINNEST_NM <= nm <= 1e4:
        raise InputError(
            f"the thickness {shorten(match[2])!r} must be at least {THINNEST_NM:g} nm, a "
            f"scattering of atoms, and at most 10 um"
        )
    oxide = main_oxide(metal)
    base, viewing = base_stack(on), as_conditions(conditions)
    shares = SHARES if oxide else SHARES[:1]
    showings = tuple(_expected_look(metal, oxide, nm, share, base, viewing) for share in shares)
    return Expectation(film.strip(), metal, oxide or None, on, nm, showings, viewing.light,
                       viewing.observer, describe_stand_in(match[1], metal))  # fmt: skip


def _expected_look(
    metal: str, oxide: str, nm: float, share: float, base: Stack, viewing: ViewingConditions
) -> ExpectedLook:
    medium, thickness_nm, volume = _film(metal, oxide, nm, share)
    layers = (Layer(medium, np.asarray(thickness_nm)), *base.layers)
    stack = replace(base, layers=layers)
    seen = solve(stack)
    front = to_colour(seen, viewing.light, viewing.observer)
    back = through = density = None
    if base.slab_nm is not None:
        back = to_colour(solve(stack, side="back"), viewing.light, viewing.observer)
        through = to_colour(seen, viewing.light, viewing.observer, of="transmitted")
        density = float(-np.log10(max(through.xyz[1] / 100.0, 1e-12)))
    media: list[Medium] = [layer.medium for layer in base.layers] + [base.substrate]
    shorted = any(one.kind in CONDUCTORS for one in media)
    mass = 0.1 * sum(
        (find_entry(name).density_g_cm3 or 0.0) * part * thickness_nm
        for name, part in ((metal, 1.0 - volume), (oxide, volume))
        if part > 0.0
    )
    ohm = None if shorted else _ohms(metal, oxide, nm, thickness_nm, volume)
    return ExpectedLook(share, thickness_nm, front, back, through, density, ohm, mass)


def _film(metal: str, oxide: str, nm: float, share: float) -> tuple[Medium, float, float]:
    """Medium, thickness [nm] and volume fraction of oxide of a film, ``share`` of it oxidised."""
    if share == 0.0:
        return parse_medium(metal), nm, 0.0
    ratio, _ = expansion(metal, oxide)
    grown = 1.0 - share + share * ratio
    if share == 1.0:
        return parse_medium(oxide), nm * grown, 1.0
    volume = share * ratio / grown
    mixed = Mixture(parse_medium(metal), parse_medium(oxide), volume)
    return mixed, nm * grown, volume


def _ohms(
    metal: str, oxide: str, nm: float, thickness_nm: float, volume: float
) -> tuple[float, float]:
    """Ohms per square, 5 and 95 % points, of a film with a volume fraction of oxide."""
    if volume == 1.0:
        low, high = compound_ohm_cm(oxide)
        return 1e7 * low / thickness_nm, 1e7 * high / thickness_nm
    known = film_metal(metal)
    sheet = metal_sheet_ohm(
        known, nm, np.array(known.impurity), percolation_nm=known.percolation_nm
    )
    if volume > 0.0:
        own = 1e-7 * np.minimum(sheet, 1e12) * nm  # ohm cm of the metal in it
        rest = _REDUCED_OHM_CM * np.array([0.1, 10.0])
        conductivity = bruggeman(1.0 / rest, 1.0 / own, 1.0 - volume).real
        sheet = np.sort(1e7 / (conductivity * thickness_nm))
    return float(sheet[0]), float(sheet[1])


def oxide_words(one: ExpectedLook) -> str:
    """How much of a film is oxide."""
    return "none" if one.oxidised == 0.0 else f"{100.0 * one.oxidised:.0f} %"
