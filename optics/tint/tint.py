"""What oxide, how thick and of which colour, after this heat or these volts?"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions, as_conditions
from ..errors import OutOfRangeError
from ..oxidation.anodic import anodic_law, anodic_nm
from ..oxidation.metals import Metal, anodic_cautions, find_metal
from ..oxidation.schedule import HeatSchedule, as_schedule, hold
from .kiln import Kiln, shipped_kiln
from .result import PlatePoint, Tint
from .shades import Palette, Shade, palette_for, shades_of

_BARE_NM = 5.0  # thinner metal beneath an oxide is no closed film any more


def kiln_of(metal: str, kiln: Kiln | None, seed: int) -> Kiln:
    """The kiln to predict with: the one learnt, if it is of this metal, else the shipped law.

    Raises
    ------
    InputError
        If the metal is unknown or the kiln was learnt on another one.
    """
    found = find_metal(metal)
    if seed < 0:
        raise OutOfRangeError(f"the seed is {seed}; it must be 0 or more")
    if kiln is None:
        return shipped_kiln(found, seed)
    if kiln.metal.key != found.key:
        raise OutOfRangeError(
            f"these test pieces were of {kiln.metal.name}; they say nothing about {found.name}"
        )
    return kiln


def tint(
    metal: str,
    at: str | HeatSchedule,
    time: str | None = None,
    *,
    kiln: Kiln | None = None,
    conditions: ViewingConditions | str | None = None,
    angle_deg: float = 0.0,
    film_nm: float | None = None,
    plate_C: FloatArray | None = None,
    along_mm: float | None = None,
    seed: int = 1,
) -> Tint:
    """Oxide and colour after a heat.

    Parameters
    ----------
    metal : str
        Its symbol or name; silicon means dry oxygen on (100).
    at : str or HeatSchedule
        A temperature such as ``450C``, or a whole course of heat.
    time : str, optional
        How long the temperature is held, such as ``20min``.
    kiln : Kiln, optional
        What test pieces said; the shipped law without.
    conditions : ViewingConditions or str, optional
        Light and observer, or the name of the light.
    angle_deg : float
        Angle the colour is seen at.
    film_nm : float, optional
        Thickness of the metal where it is a film on something else [nm].
    plate_C : ndarray, shape (P,), optional
        Peak temperatures along a piece, each for the same time course as the heat.
    along_mm : float, optional
        Length of that piece [mm].
    seed : int

    Returns
    -------
    Tint

    Raises
    ------
    InputError
        If the metal is unknown, or the heat melts it or is hotter than its law was drawn from.

    Examples
    --------
    >>> print(tint("Ti", "450C", "20min").name)
    bronze
    """
    heat = as_schedule(at, time)
    held = kiln_of(metal, kiln, seed)
    held.metal.check(heat)
    rng = np.random.default_rng(seed)
    drawn = held.draws.thickness_nm(held.metal, heat, rng)
    palette = palette_for(held, as_conditions(conditions), angle_deg)
    plate = _place_along(_plate(held, heat, palette, plate_C, seed), along_mm)
    warnings = [*_heat_warnings(held, heat), *held.warnings]
    law = _law_words(held, heat)
    shown = _ShownColour(
        heat.words, law, held.source, held.metal.confidence, tuple(warnings), held.metal.cautions
    )
    return _answer(held, drawn, palette, shown, film_nm, plate, seed)


def anodise(
    metal: str,
    volts: float,
    *,
    conditions: ViewingConditions | str | None = None,
    angle_deg: float = 0.0,
    film_nm: float | None = None,
    seed: int = 1,
) -> Tint:
    """Oxide and colour after anodising to a voltage.

    Raises
    ------
    InputError
        If no constant is shipped for the metal or the volts are out of its range.
    """
    held = kiln_of(metal, None, seed)
    law = anodic_law(held.metal)
    drawn = anodic_nm(held.metal, volts, held.draws.scatter.size, np.random.default_rng(seed))
    palette = palette_for(held, as_conditions(conditions), angle_deg)
    words = f"{law.nm_per_V:g} ± {law.sd:g} nm/V, whatever the time once the current has died down"
    shown = _ShownColour(
        f"anodised to {volts:g} V", words, law.source, law.confidence, (), anodic_cautions()
    )
    return _answer(held, drawn, palette, shown, film_nm, (), seed)


@dataclass(frozen=True)
class _ShownColour:
    treatment: str
    law: str
    source: str
    confidence: str
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


def interval90(values: FloatArray) -> tuple[float, float]:
    """5 and 95 % points of draws."""
    low, high = np.quantile(values, [0.05, 0.95])
    return float(low), float(high)


def _answer(
    held: Kiln,
    drawn: FloatArray,
    palette: Palette | None,
    shown: _ShownColour,
    film_nm: float | None,
    plate: tuple[PlatePoint, ...],
    seed: int,
) -> Tint:
    metal = held.metal
    thickness = float(np.median(drawn))
    used = metal.ratio.metal_used_nm(np.maximum(drawn - held.draws.native_nm, 0.0))
    left, said = _metal_left(film_nm, used, metal)
    colour: str | None = None
    name: str | None = None
    order: int | None = None
    shades: tuple[Shade, ...] = ()
    if palette is not None:
        hexes, names = palette.name_colours(np.array([thickness]))
        colour, name, order = str(hexes[0]), str(names[0]), palette.order(thickness)
        xyz = palette.draw_xyz(held.draws, held.film_names, drawn, seed)
        shades = shades_of(xyz, palette.viewing)
    else:
        said = (*said, metal.note)
    pairs = () if palette is None else palette.pairs
    sets = [pair.film.label for pair in pairs] + [pair.substrate.label for pair in pairs]
    return Tint(
        metal.key, metal.name, metal.oxide, shown.treatment, thickness, interval90(drawn),
        metal.native_nm, float(np.median(used)), interval90(used),
        float(metal.ratio.mass_gain_ug_cm2(max(thickness - metal.native_nm, 0.0))),
        metal.ratio.volume_ratio, metal.ratio.stress, left, colour, name, order, shades,
        shown.law, shown.source, shown.confidence, metal.note, tuple(dict.fromkeys(sets)), plate,
        (*shown.warnings, *said), shown.cautions, drawn, seed,
    )  # fmt: skip


def _metal_left(
    film_nm: float | None, used_nm: FloatArray, metal: Metal
) -> tuple[float | None, tuple[str, ...]]:
    """Metal left of a film, and what to say where it may be used up."""
    if film_nm is None:
        return None, ()
    if not 0.0 < film_nm <= 1e6:
        raise OutOfRangeError(f"a metal film of {film_nm:g} nm is not from 0 up to 1 mm")
    left = film_nm - float(np.median(used_nm))
    gone = float(np.mean(used_nm > film_nm - _BARE_NM))
    if gone < 0.05:
        return left, ()
    return max(left, 0.0), (
        f"the {film_nm:g} nm of {metal.name} are used up with a probability of {100 * gone:.0f} %: "
        f"the colour then changes its character and the film stops conducting",
    )


def _heat_warnings(held: Kiln, heat: HeatSchedule) -> list[str]:
    metal, said = held.metal, []
    low, high = metal.range_C
    if heat.peak_C < low:
        said.append(
            f"{heat.peak_C:g} °C is below the range the law was drawn from ({low:g} to {high:g} "
            f"°C); it is continued downwards"
        )
    first, last = held.between_C
    if held.pieces and not first - 30.0 <= heat.peak_C <= last + 30.0:
        said.append(f"the test pieces reached {first:g} to {last:g} °C; this heat is far from them")
    if metal.confidence == "fit" and not held.pieces:
        said.append(
            "no rate constants are published for this metal at such temperatures; the law is a fit "
            "to published lists of colours"
        )
    if metal.confidence == "low" and not held.pieces:
        said.append("the law rests on figures from memory, right to a factor of two at best")
    return said


def _law_words(held: Kiln, heat: HeatSchedule) -> str:
    regimes = held.metal.regimes
    which = sum(heat.peak_C >= one.range_C[0] for one in regimes[1:])
    law = regimes[which].law
    text = f"{law.name}, {law.equation}"
    if law.shape and law.name != "linear-parabolic":
        shape = np.exp(held.draws.theta[:, 4 * which + 3])
        text += f"; {law.shape} {np.median(shape):.2g}"
    return text


def _plate(
    held: Kiln, heat: HeatSchedule, palette: Palette | None, plate_C: FloatArray | None, seed: int
) -> tuple[PlatePoint, ...]:
    if plate_C is None:
        return ()
    points = []
    for i, temperature_C in enumerate(plate_C):
        own = heat.with_peak(float(temperature_C))
        held.metal.check(own)
        drawn = held.draws.thickness_nm(held.metal, own, np.random.default_rng(seed))
        median = float(np.median(drawn))
        colour, name = (None, None)
        if palette is not None:
            hexes, names = palette.name_colours(np.array([median]))
            colour, name = str(hexes[0]), str(names[0])
        place = i / (len(plate_C) - 1)
        points.append(
            PlatePoint(place, float(temperature_C), median, interval90(drawn), colour, name)
        )
    return tuple(points)


def _place_along(points: tuple[PlatePoint, ...], along_mm: float | None) -> tuple[PlatePoint, ...]:
    """Places of a piece of a known length, from its first end."""
    if along_mm is None:
        return points
    return tuple(replace(one, position_mm=one.position * along_mm) for one in points)


def plate(
    metal: str,
    temperatures_C: FloatArray,
    time_s: float,
    *,
    kiln: Kiln | None = None,
    along_mm: float | None = None,
    seed: int = 1,
) -> tuple[PlatePoint, ...]:
    """A piece held for a time with a temperature that changes along it."""
    held = kiln_of(metal, kiln, seed)
    heat = hold(float(np.max(temperatures_C)), time_s)
    points = _plate(held, heat, palette_for(held, ViewingConditions()), temperatures_C, seed)
    return _place_along(points, along_mm)
