"""What can be watched while a film grows: light at one wavelength, lux, the eye, ohms."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..._typing import FloatArray
from ...colour.illuminants import tristimulus_weights
from ...errors import InputError, shorten, suggest_nearest
from ...units import NUMBER, parse_quantity

CueKind = Literal["light", "lux", "eye", "ohms"]

_WORDS: tuple[CueKind, ...] = ("lux", "eye", "ohms")
# Standard deviations of one reading against another of the same run: common practice, no source.
_NOISE: dict[CueKind, float] = {"light": 1.0, "lux": 2.0, "eye": 2.0, "ohms": 2.0}
DARK_SHARE = 5e-4
"""Of the full beam: what darkness, stray light and digits leave in doubt (common practice)."""
_LED_NM = 20.0  # full width at half maximum of a coloured LED (from memory)
_LED_WIDTHS = (-1.0, -0.5, 0.0, 0.5, 1.0)  # of that width, where its light is sampled
_LUX_NM = np.linspace(380.0, 780.0, 21)
_COMMON_NM = (405.0, 450.0, 520.0, 532.0, 635.0, 650.0, 850.0)
"""Wavelengths of laser pointers and infrared LEDs that are sold everywhere (from memory)."""
_REACH_NM = (200.0, 20_000.0)
_CUE = re.compile(
    rf"\s*(?:(led)\s+)?({NUMBER}\s*[^\W\d_]+|lux|eye|ohms)(?:\s+within\s+({NUMBER})\s*(%)?)?\s*"
)


@dataclass(frozen=True)
class Cue:
    """One thing that is watched.

    Attributes
    ----------
    kind : {"light", "lux", "eye", "ohms"}
    noise : float
        Standard deviation of a reading [%], of the eye [ΔE of CIELAB].
    wavelength_nm : float or None
        Of the light, for ``light``.
    width_nm : float
        Full width of that light at half its maximum [nm]; 0 for a laser.
    """

    kind: CueKind
    noise: float
    wavelength_nm: float | None = None
    width_nm: float = 0.0

    @property
    def name(self) -> str:
        """As it is written."""
        if self.wavelength_nm is None:
            return self.kind
        return f"{'led ' if self.width_nm else ''}{self.wavelength_nm:g} nm"

    def light(self) -> tuple[FloatArray, FloatArray]:
        """Wavelengths [nm] and their shares of a detector's reading, both of shape (W,)."""
        if self.wavelength_nm is None:
            weights = tristimulus_weights(_LUX_NM)[:, 1]
            return _LUX_NM, weights / weights.sum()
        if not self.width_nm:
            return np.array([self.wavelength_nm]), np.ones(1)
        grid = self.wavelength_nm + self.width_nm * np.array(_LED_WIDTHS)
        # a bell curve that is down to half at half its width: exp(-ln 2 (2 Δλ / width)²)
        weights = np.exp(-np.log(2.0) * (2.0 * np.array(_LED_WIDTHS)) ** 2)
        return grid, weights / weights.sum()

    def doubt(self, reading: FloatArray, reference: FloatArray | float) -> FloatArray:
        """Standard deviation of a reading as compared with an earlier one, shape (...).

        Both err by the same share, and by what darkness leaves:
        ``σ² = 2 (share·S)² + dark² (1 + (S/S_ref)²)``.
        """
        share = 0.01 * self.noise * reading
        ratio = reading / np.maximum(reference, DARK_SHARE)
        return np.asarray(np.sqrt(2.0 * share**2 + DARK_SHARE**2 * (1.0 + ratio**2)))


def as_cues(monitor: str | Sequence[str]) -> tuple[Cue, ...]:
    """Read what is watched: ``532nm``, ``led 630nm``, ``lux``, ``eye``, ``ohms``, or ``any``.

    Several are separated by commas; ``within 0.5%`` after one states how well it is read, and
    ``any`` stands for everything that is cheap.

    Raises
    ------
    InputError
        If a text is none of these, or is written twice.
    """
    texts = monitor.split(",") if isinstance(monitor, str) else list(monitor)
    found: list[Cue] = []
    for text in texts:
        some = _everything() if text.strip() == "any" else [_parse_cue(text)]
        for cue in some:
            if cue.name in [one.name for one in found]:
                raise InputError(f"`monitor` names {cue.name} twice", parameter="monitor")
            found.append(cue)
    if not found:
        raise InputError("`monitor` must name what is watched, such as 532nm", parameter="monitor")
    return tuple(found)


def _everything() -> list[Cue]:
    lights = [Cue("light", _NOISE["light"], nm) for nm in _COMMON_NM]
    return [*lights, *(Cue(kind, _NOISE[kind]) for kind in _WORDS)]


def _parse_cue(text: str) -> Cue:
    match = _CUE.fullmatch(text)
    if match is None:
        near = suggest_nearest(text.strip(), ["lux", "eye", "ohms", "any"])
        raise InputError(
            f"`monitor` must be a wavelength such as 532nm, 'led 630nm', lux, eye, ohms or any, "
            f"not {shorten(text)!r}{'; ' + near if near else ''}",
            parameter="monitor",
        )
    led, what, noise, percent = match.groups()
    kind: CueKind = next((one for one in _WORDS if one == what), "light")
    if led and kind != "light":
        raise InputError(f"`monitor` {shorten(text)!r}: an LED needs its wavelength",
                         parameter="monitor")  # fmt: skip
    if noise is not None and (kind == "eye") == bool(percent):
        unit = "a colour difference without %" if kind == "eye" else "a share in %"
        raise InputError(f"`monitor` {shorten(text)!r}: its 'within' is {unit}",
                         parameter="monitor")  # fmt: skip
    error = _NOISE[kind] if noise is None else float(noise)
    if not 0.01 <= error <= 50.0:
        raise InputError(f"`monitor` {shorten(text)!r}: its 'within' must be 0.01 to 50",
                         parameter="monitor")  # fmt: skip
    if kind != "light":
        return Cue(kind, error)
    nm = parse_quantity(what, "length_nm", "`monitor`")
    if not _REACH_NM[0] <= nm <= _REACH_NM[1]:
        raise InputError(
            f"`monitor` must be a wavelength of 200 nm to 20 um, not {nm:g} nm",
            parameter="monitor",
        )
    return Cue("light", error, nm, _LED_NM if led else 0.0)
