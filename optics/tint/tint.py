"""What oxide, how thick and of which colour, after this heat or these volts?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions, as_conditions
from ..errors import OutOfRangeError
from ..numerics.density import interval90
from ..oxidation.anodic import check_volts
from ..oxidation.laws import FIXED_EXPONENTS
from ..oxidation.metals import Metal, anodic_cautions
from ..oxidation.schedule import HeatSchedule, as_schedule
from ..units import as_quantity
from .alike import Batch, DrawThickness, check_parts, describe_batch, draw_batches
from .bath import Bath, bath_of
from .kiln import Kiln, kiln_for, kiln_of
from .result import PlatePoint, Tint
from .shades import Palette, palette_for, shades_of

_BARE_NM = 5.0  # thinner metal beneath an oxide is no closed film any more


def tint(
    metal: str,
    at: str | float | HeatSchedule,
    time: str | float | None = None,
    *,
    kiln: Kiln | None = None,
    conditions: ViewingConditions | str | None = None,
    angle_deg: float = 0.0,
    film_nm: float | None = None,
    plate_C: FloatArray | None = None,
    along_mm: float | None = None,
    parts: int | None = None,
    seed: int = 1,
) -> Tint:
    """Oxide and colour after a heat.

    Parameters
    ----------
    metal : str
        Its symbol or name; silicon means dry oxygen on (100).
    at : str, float or HeatSchedule
        A temperature such as ``450C`` [°C without a unit], or a whole course of heat.
    time : str or float, optional
        How long the temperature is held, such as ``20min`` [s without a unit].
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
    parts : int, optional
        How many parts are treated alike; the answer then says how alike they come out.
    seed : int

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
    check_parts(parts)
    held = kiln_for(kiln_of(metal, kiln, seed), heat, seed)
    held.metal.check(heat)
    drawn = held.draws.thickness_nm(held.metal, heat, np.random.default_rng(seed))
    palette = palette_for(held, as_conditions(conditions), angle_deg)
    plate: tuple[PlatePoint, ...] = ()
    if plate_C is not None:
        own = kiln_of(metal, kiln, seed)
        plate = follow_plate(own, heat, plate_C, palette=palette, along_mm=along_mm, seed=seed)
    treated = _Treatment(
        heat.words, _law_words(held, heat), held.source, held.metal.confidence,
        (*_heat_warnings(held, heat), *held.warnings), held.metal.cautions,
    )  # fmt: skip
    batch = _batch(
        held, palette, lambda rng: held.draws.thickness_nm(held.metal, heat, rng),
        parts=parts, seed=seed,
    )  # fmt: skip
    return replace(_answer(held, drawn, palette, treated, film_nm, seed), plate=plate, batch=batch)


def anodise(
    metal: str,
    volts: str | float,
    *,
    bath: Bath | None = None,
    conditions: ViewingConditions | str | None = None,
    angle_deg: float = 0.0,
    film_nm: float | None = None,
    parts: int | None = None,
    seed: int = 1,
) -> Tint:
    """Oxide and colour after anodising to a voltage, such as ``25V``; parameters as in `tint`.

    ``bath`` is what own strips said; the shipped constant without.

    Raises
    ------
    InputError
        If no constant is shipped for the metal or the volts are out of its range.
    """
    held = bath_of(metal, bath, seed)
    voltage = as_quantity(volts, "voltage_V", "volts")
    check_volts(held.metal, voltage)
    check_parts(parts)
    drawn = held.draws.thickness_nm(held.law, voltage, np.random.default_rng(seed))
    palette = palette_for(held.kiln, as_conditions(conditions), angle_deg)
    words = f"{held.words}, whatever the time once the current has died down"
    treated = _Treatment(
        f"anodised to {voltage:g} V", words, held.source, held.law.confidence,
        held.warn_far(voltage), anodic_cautions(),
    )  # fmt: skip
    batch = _batch(
        held.kiln, palette, lambda rng: held.draws.thickness_nm(held.law, voltage, rng),
        parts=parts, seed=seed,
    )  # fmt: skip
    answer = _answer(held.kiln, drawn, palette, treated, film_nm, seed)
    return replace(answer, note="", batch=batch)


def _batch(
    held: Kiln, palette: Palette | None, draw: DrawThickness, *, parts: int | None, seed: int
) -> Batch | None:
    """How alike so many parts come out, where that is asked and colours are known."""
    if parts is None or palette is None:
        return None
    return describe_batch(draw_batches(held, palette, draw, parts=parts, seed=seed), seed)


@dataclass(frozen=True)
class _Treatment:
    """A heat or a voltage in words, and what its law rests on."""

    words: str
    law: str
    source: str
    confidence: str
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


def _answer(
    held: Kiln,
    drawn: FloatArray,
    palette: Palette | None,
    treated: _Treatment,
    film_nm: float | None,
    seed: int,
) -> Tint:
    metal, thickness = held.metal, float(np.median(drawn))
    used = metal.ratio.metal_used_nm(np.maximum(drawn - held.draws.native_nm, 0.0))
    left, said = _metal_left(film_nm, used, metal)
    found = Tint(
        metal=metal.key, metal_name=metal.name, oxide=metal.oxide, treatment=treated.words,
        thickness_nm=thickness, interval90_nm=interval90(drawn), native_nm=metal.native_nm,
        metal_used_nm=float(np.median(used)), metal_used90_nm=interval90(used),
        mass_gain_ug_cm2=float(
            metal.ratio.mass_gain_ug_cm2(max(thickness - metal.native_nm, 0.0))
        ),
        volume_ratio=metal.ratio.volume_ratio, stress=metal.ratio.stress, metal_left_nm=left,
        srgb_hex=None, name=None, order=None, names=(), data_sets=(), plate=(),
        law=treated.law, source=treated.source, confidence=treated.confidence, note=metal.note,
        warnings=(*treated.warnings, *said), cautions=treated.cautions, drawn_nm=drawn, seed=seed,
    )  # fmt: skip
    if palette is None:
        return found
    srgb_hex, name = palette.colour_at(thickness)
    xyz = palette.draw_xyz(held, drawn, seed)
    return replace(
        found, srgb_hex=srgb_hex, name=name, order=palette.order(thickness),
        names=shades_of(xyz, palette), data_sets=palette.data_sets, palette=palette,
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
    said = []
    low, high = held.metal.range_C
    if heat.peak_C < low:
        said.append(
            f"{heat.peak_C:g} °C is below the range the law was drawn from ({low:g} to {high:g} "
            f"°C); it is continued downwards"
        )
    first, last = held.between_C
    if held.pieces and not first - 30.0 <= heat.peak_C <= last + 30.0:
        said.append(f"the test pieces reached {first:g} to {last:g} °C; this heat is far from them")
    return [*said, *heat.notes, *held.caveats]


def _law_words(held: Kiln, heat: HeatSchedule) -> str:
    regimes = held.metal.regimes
    tops_C = [max(one.range_C[0], cooler.range_C[1]) for cooler, one in pairwise(regimes)]
    which = sum(heat.peak_C >= top_C for top_C in tops_C)
    law = regimes[which].law
    text = f"{law.name}, {law.equation}"
    exponent = FIXED_EXPONENTS.get(law.name)
    if law.shape and law.name != "linear-parabolic":
        shape = float(np.median(np.exp(held.draws.theta[:, 4 * which + 3])))
        text += f"; {law.shape} {shape:.2g}"
        exponent = shape if law.name == "power" else exponent
    if exponent is None:
        return text
    return f"{text}; twice the time makes {2.0 ** (1.0 / exponent):.2g} times as thick an oxide"


def follow_plate(
    held: Kiln,
    heat: HeatSchedule,
    plate_C: FloatArray,
    *,
    palette: Palette | None,
    along_mm: float | None,
    seed: int,
) -> tuple[PlatePoint, ...]:
    """Oxide and colour along a piece whose places see the heat at other peaks (P,) [°C]."""
    points = []
    for place, temperature_C in zip(np.linspace(0.0, 1.0, len(plate_C)), plate_C, strict=True):
        own = heat.with_peak(float(temperature_C))
        kiln = kiln_for(held, own, seed)
        kiln.metal.check(own)
        drawn = kiln.draws.thickness_nm(kiln.metal, own, np.random.default_rng(seed))
        median = float(np.median(drawn))
        srgb_hex, name = (None, None) if palette is None else palette.colour_at(median)
        at_mm = None if along_mm is None else float(place) * along_mm
        points.append(
            PlatePoint(
                float(place), float(temperature_C), median, interval90(drawn), srgb_hex, name, at_mm
            )
        )
    return tuple(points)
