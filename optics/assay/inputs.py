"""What people type about a film, read into observations."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from ..colour.conditions import ViewingConditions
from ..deposition.history import parse_flush
from ..deposition.jar import as_jar, read_working
from ..deposition.metal_run import MetalRun
from ..deposition.pump import usual_pump
from ..electrical.sheet_resistance import INFINITE_SHEET, rectangle_factor, squares
from ..errors import InputError, shorten, suggest_nearest, suggest_point
from ..films.engine.thickness_scan import View
from ..inference.measured import parse_light_share
from ..inference.reading import parse_reading
from ..units import NUMBER, parse_quantity
from .hypotheses import CARBON, list_metals
from .measured import (
    BALANCE_MG,
    METER_LIMIT_OHM,
    NumberObservation,
    ResistanceObservation,
    two_probe_reading,
)
from .observations import CategoryObservation, ColourObservation, DepositionObservation, Observation
from .visual import FINISHES

_OHM_UNITS = {"": 1.0, "m": 1e-3, "k": 1e3, "K": 1e3, "M": 1e6, "G": 1e9}
_OHMS = re.compile(rf"({NUMBER})\s*(m|k|K|M|G)?\s*(?:[oO]hms?|OHMS?|Ω|Ω)\s*(/\s*(?:sq|square|□))?")
_MASS = re.compile(rf"({NUMBER})\s*(g|mg|ug|µg|μg)")
_MASS_MG = {"g": 1e3, "mg": 1.0, "ug": 1e-3, "µg": 1e-3, "μg": 1e-3}
_STRIP = re.compile(r"\s*(\S+?)\s*[x×]\s*(\S+)\s*")
_OPEN = ("open", "nothing", "insulates", "infinite", "none", "ol", "o.l", "o.l.")
"""With what meters show beyond their range."""
_CLEAR_WORDS = {
    "opaque": "opaque", "dim": "dim", "half-transparent": "dim", "semitransparent": "dim",
    "clear": "clear", "transparent": "clear",
}  # fmt: skip
_KINDS: dict[str, dict[str, str]] = {
    "finish": {
        **{kind: kind for kind in FINISHES}, "black": "black",
        "bright": "mirror", "gloss": "glossy", "shiny": "glossy", "matt": "dull", "matte": "dull",
        "velvety": "sooty", "velvet": "sooty", "soot": "sooty", "iridescent": "rainbow",
    },
    "wipe": {"off": "off", "comes off": "off", "smears": "smears", "stays": "stays"},
    "scratch": {"easy": "easy", "soft": "easy", "hard": "hard"},
    "warmed": {"changes": "changes", "brightens": "changes", "same": "same"},
}  # fmt: skip
"""What may be said under each keyword, and the kind it is."""
_RUN = ("jar", "pressure", "rate", "working_gas", "working_pressure", "distance", "flush")
_BELONGS = (("strip", "ohms"), ("four_point", "ohms"), ("area", "mass_gain"))
"""Details, and what they are details of."""

Said = str | Observation | Sequence[str | Observation] | None
"""One thing that was noticed or several, as text or observations."""


def parse_colour(
    text: str, how: str | None, viewing: ViewingConditions, *, view: View = "front"
) -> Observation:
    """A colour of the film side or from behind, in any form that ``parse_reading`` takes."""
    return ColourObservation(parse_reading(text, how, view=view), viewing)


def parse_light_through(text: str, how: str | None, viewing: ViewingConditions) -> Observation:
    """``opaque``, ``dim`` or ``clear``; a density such as ``OD 2.4``; a share, ``6%``; a colour.

    Raises
    ------
    InputError
        If it is none of these.
    """
    plain = text.strip().casefold()
    if plain in _CLEAR_WORDS:
        return CategoryObservation("through", _CLEAR_WORDS[plain], viewing)
    share = parse_light_share(text)
    if share is not None and share.density is not None:
        return NumberObservation("density", text.strip(), share.density, 0.1, viewing)
    try:
        return parse_colour(text, how, viewing, view="through")
    except InputError as error:
        if not plain.isalpha():
            raise
        raise InputError(f"{error}; or write opaque, dim, clear, OD 2.4 or 6%") from error


def parse_kind(what: str, text: str, viewing: ViewingConditions) -> Observation:
    """A ``finish``, or what a dry pad (``wipe``), a wooden stick (``scratch``) or warmth does.

    Raises
    ------
    InputError
        If it is a word of no kind.
    """
    kinds, plain = _KINDS[what], text.strip().casefold()
    if plain not in kinds:
        hint = suggest_nearest(plain, list(kinds))
        raise InputError(
            f"`{what}` {shorten(plain)!r} is not one of {', '.join(dict.fromkeys(kinds.values()))}"
            + (f"; {hint}" if hint else ""),
            parameter=what,
        )
    found = kinds[plain]
    return CategoryObservation("black" if found == "black" else what, found, viewing)


def parse_meter(text: str, strip: str | None = None, four_point: str | None = None) -> Observation:
    """What an ohmmeter showed.

    Parameters
    ----------
    text : str
        ``open``, ``120ohm``, ``4.7kohm`` or ``35ohm/sq``.
    strip : str, optional
        Length and width between contacts across the ends, ``30mmx5mm``.
    four_point : str, optional
        For volts per ampere of four points in a row: the factor to ohms per square, ``wide`` for
        that of a wide piece, or the spacing of the points, with the size of the piece as strip.

    Raises
    ------
    InputError
        If it is not understood, or the geometry is stated where it does not belong.
    """
    sides = _parse_sides(strip) if strip is not None else None
    between = float(squares(*sides)) if sides else None
    if text.strip().casefold() in _OPEN:
        if four_point is not None:
            raise InputError(
                "an open meter needs no `four_point`; leave it out", parameter="four_point"
            )
        return two_probe_reading("open", math.inf, between)
    match = _OHMS.fullmatch(text.strip())
    if match is None:
        raise InputError(
            f"the meter reading {shorten(text)!r} is not understood; write open, 120ohm, 4.7kohm "
            f"or 35ohm/sq{suggest_point(text)}"
        )
    ohm = float(match[1]) * _OHM_UNITS[match[2] or ""]
    if not 0.0 < ohm < math.inf:
        raise InputError(f"the meter reading {shorten(text)!r} must be above 0 ohm")
    if match[3]:
        if sides or four_point:
            raise InputError(
                "ohms per square need no `strip` and no `four_point`", parameter="ohms"
            )
        return ResistanceObservation(text.strip(), ohm)
    if four_point is not None:
        return ResistanceObservation(
            f"{text.strip()} at four points", ohm * _parse_factor(four_point, sides)
        )
    if ohm >= METER_LIMIT_OHM:
        return two_probe_reading(text, math.inf, between)
    where = f"along {strip}" if sides else "between probes"
    return two_probe_reading(f"{text.strip()} {where}", ohm, between)


def parse_gained_mass(text: str, area: str | None, viewing: ViewingConditions) -> Observation:
    """Mass gained, ``0.35mg``, on an area, ``12cm2``, weighed on a small balance.

    Raises
    ------
    InputError
        If mass or area is not understood, of no piece that is weighed, or the area is missing.
    """
    match = _MASS.fullmatch(text.strip())
    if match is None:
        raise InputError(f"the mass gained {shorten(text)!r} is not a number with g, mg or ug")
    if area is None:
        raise InputError(
            "`mass_gain` needs `area`: on how large a surface, as in 12cm2", parameter="area"
        )
    area_cm2 = parse_quantity(area, "area_cm2", "`area`")
    mass_mg = float(match[1]) * _MASS_MG[match[2]]
    if not (0.0 < mass_mg <= 1e6 and 1e-4 <= area_cm2 <= 1e6):
        raise InputError(
            "the mass gained and its area must be positive: up to 1 kg, on 0.0001 to 1e6 cm2"
        )
    per_area = 1e3 / area_cm2  # mg on it to ug/cm2
    label = f"{text.strip()} on {area.strip()}"
    return NumberObservation("mass", label, mass_mg * per_area, BALANCE_MG * per_area, viewing)


def parse_meant_thickness(text: str, viewing: ViewingConditions) -> Observation:
    """The thickness it was meant to have, ``80nm``."""
    nm = parse_quantity(text, "length_nm", "`guess`")
    if not nm > 0.0:
        raise InputError(f"`guess` {shorten(text)!r} must be above 0 nm", parameter="guess")
    return NumberObservation("guess", text.strip(), nm, 0.0, viewing)


def parse_run(metal: str, said: Mapping[str, Any]) -> MetalRun | None:
    """The run that a film comes from; None where nothing was said of it.

    Raises
    ------
    InputError
        If the metal is not stated or takes no gas that is known of, or a part is not understood.
    """
    given = {name: said[name] for name in _RUN if said[name] is not None}
    for name in given:
        if name != "jar":
            check_text(said[name], name)
    if not given:
        return None
    if "rate" not in given or not {"pressure", "jar"} & given.keys():
        missing = "rate" if "rate" not in given else "pressure"
        raise InputError(
            "`pressure` and `rate` go together, or `jar` and `rate`: both set how much gas a film "
            "takes up",
            parameter=missing,
        )
    if metal == CARBON or metal not in list_metals():
        raise InputError(
            f"`pressure` and `rate` say nothing about {metal!r}; name the metal", parameter="metal"
        )
    jar = as_jar(said["jar"])
    if "pressure" in given:
        mbar = parse_quantity(given["pressure"], "pressure_mbar", "`pressure`")
        jar = replace(jar, base_mbar=mbar)
    elif jar.pump is None and jar.base_mbar is not None:
        jar = replace(jar, pump=usual_pump(jar.base_mbar))
    working, _ = read_working(jar, said["working_gas"], said["working_pressure"])
    gas, working_mbar = working or (None, None)
    rate = parse_quantity(given["rate"], "rate_nm_s", "`rate`")
    distance = said["distance"]
    cm = 10.0 if distance is None else 0.1 * parse_quantity(distance, "length_mm", "`distance`")
    return MetalRun(
        metal, rate, jar, gas, working_mbar, distance_cm=cm, flush=parse_flush(said["flush"])
    )


def observe_run(run: MetalRun, said: Mapping[str, Any]) -> Observation:
    """A run as a circumstance: the chance that its gas left the film metal, grey or oxide."""
    balance = run.balance
    where = f"at {said['pressure'].strip()}" if said["pressure"] else "in the chamber described"
    text = f"{where} and {said['rate'].strip()}"
    if said["working_pressure"] is not None:
        text += f", in {said['working_gas'] or 'argon'} at {said['working_pressure'].strip()}"
    if run.flush is not None:
        text += ", flushed before, which leaves as it is what leaks in"
    states = balance.states
    return DepositionObservation(
        text, states["metal"], states["grey"], states["oxide"], balance.nitride
    )


def _parse_factor(text: str, sides: tuple[float, float] | None) -> float:
    if text.strip().casefold() == "wide":
        return INFINITE_SHEET
    if re.fullmatch(NUMBER, text.strip()):
        factor = float(text)
        if not 0.0 < factor < 100.0:
            raise InputError(
                f"the factor {factor:g} of `four_point` must lie between 0 and 100",
                parameter="four_point",
            )
        return factor
    spacing_mm = parse_quantity(text, "length_mm", "`four_point`")
    if sides is None:
        raise InputError(
            "`four_point` with a spacing needs the size of the piece as `strip`", parameter="strip"
        )
    return rectangle_factor(*sides, spacing_mm)


def _parse_sides(text: str) -> tuple[float, float]:
    match = _STRIP.fullmatch(text)
    if match is None:
        raise InputError(
            f"`strip` {shorten(text)!r} is not length x width, as in 30mmx5mm", parameter="strip"
        )
    unit = re.search(r"[^\d.\s]+$", match[2])
    if unit is None:
        raise InputError(
            f"`strip` {shorten(text)!r} has no unit; write {text.strip()}mm if it is in mm",
            parameter="strip",
        )
    first = match[1] + unit[0] if re.fullmatch(NUMBER, match[1]) else match[1]
    length, width = (parse_quantity(side, "length_mm", "`strip`") for side in (first, match[2]))
    if not all(1e-3 <= side <= 1e6 for side in (length, width)):
        raise InputError(
            f"the sides of `strip` {shorten(text)!r} must be 0.001 mm to 1 km long",
            parameter="strip",
        )
    return length, width


def read_observations(
    said: Mapping[str, Any], conditions: ViewingConditions
) -> Iterator[Observation]:
    """What was said under the keywords of `assay`, each as observations, in a fixed order.

    Raises
    ------
    InputError
        If something is not understood, or stated without what it belongs to.
    """
    for detail, of in _BELONGS:
        check_text(said[detail], detail)
        if said[detail] is not None and not isinstance(said[of], str):
            raise InputError(f"`{detail}` goes with `{of}` as text", parameter=of)
    check_text(said["how"], "how")
    how = said["how"]
    readers: dict[str, Callable[[str], Observation]] = {
        "seen": lambda text: parse_colour(text, how, conditions),
        "behind": lambda text: parse_colour(text, how, conditions, view="back"),
        "through": lambda text: parse_light_through(text, how, conditions),
        "finish": lambda text: parse_kind("finish", text, conditions),
        "ohms": lambda text: parse_meter(text, said["strip"], said["four_point"]),
        "mass_gain": lambda text: parse_gained_mass(text, said["area"], conditions),
        "wipe": lambda text: parse_kind("wipe", text, conditions),
        "scratch": lambda text: parse_kind("scratch", text, conditions),
        "warmed": lambda text: parse_kind("warmed", text, conditions),
        "guess": lambda text: parse_meant_thickness(text, conditions),
    }
    for name, reader in readers.items():
        for one in check_kinds(said[name], name):
            yield reader(one) if isinstance(one, str) else one


def check_kinds(said: Said, name: str) -> Sequence[str | Observation]:
    """What was said under one keyword as a sequence.

    Raises
    ------
    InputError
        If it is neither text nor an observation, nor several of these.
    """
    if said is None:
        return ()
    several = [said] if isinstance(said, (str, Observation)) else said
    if not isinstance(several, Sequence) or not all(
        isinstance(one, (str, Observation)) for one in several
    ):
        raise InputError(
            f"`{name}` is a text, an observation or a list of these, not {shorten(repr(said))}",
            parameter=name,
        )
    return several


def check_text(said: object, name: str) -> None:
    """Refuse what is stated and no text.

    Raises
    ------
    InputError
    """
    if said is not None and not isinstance(said, str):
        raise InputError(f"`{name}` is a text, not {shorten(repr(said))}", parameter=name)
