"""Goals in plain words, ``hot mirror`` or ``notch 532nm``, as the goals they stand for in full.

What each one asks is our own choice of what such a part is bought for; state goals of your own
where yours differs.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..errors import InputError
from ..units import NUMBER, parse_quantity

_VISIBLE = "450..650nm"
_PRESET = re.compile(
    rf"\s*(?P<words>[^\W\d_]+(?:[ -][^\W\d_]+)*?)"
    rf"(?:\s+(?P<band>{NUMBER}\s*(?:[^\W\d_]+)?\s*\.\.\s*{NUMBER}\s*(?:nm|um|µm))"
    rf"|\s+(?P<nm>{NUMBER}\s*(?:nm|um|µm)))?"
    rf"(?:\s+(?:at\s+)?(?P<angle>{NUMBER}\s*(?:deg|°)))?\s*"
)
_SHARES = re.compile(r"\[([\d.]+?)\.\.([\d.]+)\]")
_EITHER = r"\s*([RT])(?:s\s*{0}\s*\1p|p\s*{0}\s*\1s)\s*"
_BOTH = re.compile(_EITHER.format("(?:,|and|&)") + r"([<>=≥≤].*)", re.DOTALL)
_ALIKE = re.compile(_EITHER.format("(?:,|and|&|=)") + r"((?:within|±).*)", re.DOTALL)
_LESS = re.compile(r"\s*([RT])s\s*[-−–]\s*\1p\s*(.*)", re.DOTALL)


@dataclass(frozen=True)
class GoalPreset:
    """Goals by a name.

    Attributes
    ----------
    names : tuple of str
        The first is the usual one.
    needs : {"nothing", "wavelength", "band", "either"}
        What is written after the name; a band may be left out.
    what : str
        For whom it is.
    goals : tuple of str
        ``BAND`` stands for the band, ``LINE`` for the wavelength, and ``[0.9..1.1]`` for a band in
        shares of it.
    angle : str
        That of the part, where none is written.
    at_one : tuple of str
        Goals where a wavelength is written in place of a band.
    """

    names: tuple[str, ...]
    needs: str
    what: str
    goals: tuple[str, ...]
    angle: str = ""
    at_one: tuple[str, ...] = ()


PRESETS = (
    GoalPreset(("mirror", "bright mirror"), "either", "most light back", ("R>95% BAND",),
               at_one=("R>99% LINE",)),
    GoalPreset(("laser mirror", "line mirror"), "wavelength", "sends one laser's light back",
               ("R>99% LINE",)),
    GoalPreset(("solar mirror",), "nothing", "sends most of the sun's warmth and light back",
               ("R>88% solar",)),
    GoalPreset(("no glare", "anti-reflection", "antireflection"), "either", "least light back",
               ("R<0.5% BAND",), at_one=("R<0.25% LINE",)),
    GoalPreset(("half mirror", "neutral half mirror", "beam splitter"), "band",
               "half of the light at 45°, whatever its colour", ("R=50% BAND within 3%",), "45deg"),
    GoalPreset(("hot mirror",), "nothing", "lets light through, sends near infrared back",
               ("T>85% 430..670nm", "R>90% 760..1100nm")),
    GoalPreset(("cold mirror",), "nothing", "sends light back, lets near infrared through",
               ("R>90% 430..670nm", "T>80% 780..1100nm")),
    GoalPreset(("heat mirror", "low emittance"), "nothing",
               "a window that keeps a room's warmth in", ("T>70% luminous", "emittance<15%")),
    GoalPreset(("sun protection", "solar control"), "nothing",
               "more of the sun's light than of its warmth", ("T>50% luminous", "T<35% solar")),
    GoalPreset(("sunglasses",), "nothing", "dark, and no glare at the eye",
               ("T=15% luminous within 3%", "R<5% luminous from back")),
    GoalPreset(("notch",), "wavelength", "blocks one laser, lets the rest through",
               ("T<1% [0.987..1.013]", "T>85% [0.8..0.93]", "T>85% [1.07..1.3]")),
    GoalPreset(("bandpass", "band-pass", "line filter"), "wavelength", "lets one line through",
               ("T>80% [0.994..1.006]", "T<1% [0.85..0.96]", "T<1% [1.04..1.15]")),
    GoalPreset(("long-pass", "longpass", "long pass"), "wavelength", "blocks what is shorter",
               ("T<1% [0.82..0.97]", "T>90% [1.03..1.4]")),
    GoalPreset(("short-pass", "shortpass", "short pass"), "wavelength", "blocks what is longer",
               ("T>90% [0.75..0.97]", "T<1% [1.03..1.2]")),
    GoalPreset(("dichroic",), "wavelength", "splits at 45°: shorter back, longer through",
               ("R>90% [0.82..0.96]", "T>90% [1.04..1.25]"), "45deg"),
    GoalPreset(("polariser", "polarizer", "plate polariser"), "wavelength",
               "a plate at 56° that sends s back and lets p through",
               ("T>95% LINE p", "T<1% LINE s"), "56deg"),
    GoalPreset(("retarder", "quarter-wave retarder"), "wavelength",
               "a mirror at 45° that makes circular light of linear light",
               ("R>97% LINE", "delta=90deg LINE within 3deg"), "45deg"),
    GoalPreset(("dark", "black", "light trap"), "band", "swallows light", ("R<1% BAND",)),
)  # fmt: skip
"""In the order in which a face lists them."""


def expand_goals(text: str) -> list[str]:
    """The goals a text stands for: those of a preset, both of ``Rs and Rp>95%``, or itself.

    ``Rs and Rp within 1%`` of each other is the goal ``Rs-Rp=0% within 1%``.
    Several goals may stand in one text, with semicolons between.
    """
    found: list[str] = []
    for part in text.split(";") if ";" in text else [text]:
        if both := _BOTH.fullmatch(part):
            rest = both[2].strip()
            found += [f"{both[1]}{rest} s", f"{both[1]}{rest} p"]
        elif alike := _ALIKE.fullmatch(part):
            found.append(f"{alike[1]}s-{alike[1]}p=0% {alike[2].strip()}")
        elif less := _LESS.fullmatch(part):
            found.append(f"{less[1]}s-{less[1]}p{less[2]}")
        else:
            found += _expand_preset(part) or [part]
    return found


def find_preset(words: str) -> GoalPreset | None:
    """The preset of a name."""
    name = " ".join(words.lower().split())
    return next((one for one in PRESETS if name in one.names), None)


def _expand_preset(text: str) -> list[str]:
    match = _PRESET.fullmatch(text)
    preset = find_preset(match["words"]) if match else None
    if match is None or preset is None:
        return []
    nm, band = 0.0, match["band"] or _VISIBLE
    if match["nm"]:
        nm = parse_quantity(match["nm"], "length_nm", "the wavelength")
    if (preset.needs == "wavelength" and not nm) or not _takes(preset, match):
        raise InputError(f"{preset.names[0]!r} is written {_example(preset)}", parameter="goals")
    angle = match["angle"] or preset.angle
    at = f" at {angle}" if angle else ""
    goals = preset.at_one if nm and preset.at_one else preset.goals
    return [
        f"{_fill(goal, nm, band)}{'' if goal.startswith('emittance') else at}" for goal in goals
    ]


def _fill(goal: str, nm: float, band: str) -> str:
    """A goal with its wavelengths put in, bands to the nanometre."""
    text = goal.replace("BAND", band).replace("LINE", f"{nm:g}nm")
    return _SHARES.sub(
        lambda found: f"{float(found[1]) * nm:.0f}..{float(found[2]) * nm:.0f}nm", text
    )


def _example(preset: GoalPreset) -> str:
    """How a preset is written."""
    name = preset.names[0]
    after = {"wavelength": " 532nm", "band": f" {_VISIBLE}", "either": f" 532nm, or {_VISIBLE}"}
    return f"as '{name}{after.get(preset.needs, '')}', with '45deg' where it is tilted"


def _takes(preset: GoalPreset, match: re.Match[str]) -> bool:
    """Whether what is written after the name is what the preset speaks of."""
    wrong = {"nothing": ("nm", "band"), "wavelength": ("band",), "band": ("nm",)}
    return not any(match[name] for name in wrong.get(preset.needs, ()))
