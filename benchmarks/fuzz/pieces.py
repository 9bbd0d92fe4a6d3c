"""Random pieces of a command line: numbers, quantities, materials, stacks, colours, goals.

Most are what a person might mean; about one in twelve is broken on purpose.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from random import Random

from oxhue.optics.colour.names import known_words
from oxhue.optics.films.materials.catalogue import list_materials

Make = Callable[[Random], str]

BROKEN = 0.08  # share of the pieces that are spoilt after they were made
NUMBERS = (
    *("0", "-0", "1", "-1", "0.5", "2", "10", "45", "80", "100", "120", "450", "550", "1000"),
    *("1e-300", "5e-324", "1e-12", "1e12", "1e300", "1.8e308", "1e999", "-1e999", "1e-999"),
    *("nan", "inf", "-inf", "0x10", "1_000", "١٢", "４５", "1,5", "1.", ".5", ".", "", "1e", "--1"),
    *("999999999999999999999999999999", "0." + "0" * 400 + "1", "9" * 5000),
)  # fmt: skip
UNITS = (
    *("nm", "um", "µm", "Å", "A", "mm", "cm", "m", "C", "K", "F", "s", "min", "h", "d", "deg", "°"),
    *("", "%", "nm/s", "A/s", "mbar", "Pa", "Torr", "ohm", "kohm", "ohm/sq", "V", "parsec", "Nm"),
)  # fmt: skip
ODD = (
    *("", " ", "\0", "\n", "\t", "\x1b[31m", "…", "💥", "\ud800", "é", "ﬁ", "\u202e", "'", '"'),
    *("\\", "/", "|", "(", ")", "->", ":", "%", "=", ",", "..", "#", "@", "-", "--", "x", "*"),
    *("[", "{", "[]", "../../etc", "/dev/null", "/dev/zero", "/", ".", "~", "$HOME", "None"),
    *("True", "a" * 3000),
)  # fmt: skip


@cache
def material_names() -> tuple[str, ...]:
    """All materials shipped, with and without their data set."""
    entries = list_materials(None)
    names = dict.fromkeys(entry.name for entry in entries)
    return (*names, *(f"{entry.name}({entry.variant})" for entry in entries))


@cache
def colour_words() -> tuple[str, ...]:
    """All words for colours."""
    return tuple(known_words())


def spoilt(random: Random, text: str) -> str:
    """A text with something wrong in it."""
    at = random.randrange(len(text) + 1)
    end = min(len(text), at + random.randint(1, 4))
    return random.choice(
        (
            text[:at] + random.choice(ODD) + text[at:],
            text[:at] + text[end:],
            text[:at] + text[at:end] * random.choice((2, 5, 300)) + text[end:],
            text[:at] + random.choice(NUMBERS) + text[end:],
            text[end:] + text[:end],
            text.swapcase(),
            random.choice(ODD),
        )
    )


def perhaps_spoilt(random: Random, text: str) -> str:
    """The text, or seldom a broken one."""
    return spoilt(random, text) if random.random() < BROKEN else text


def number(random: Random, low: float = 0.0, high: float = 300.0) -> str:
    """A number as a person writes it; seldom one that no one should."""
    if random.random() < BROKEN:
        return random.choice(NUMBERS)
    return f"{random.uniform(low, high):.{random.choice((0, 0, 1, 2, 6))}f}"


def quantity(random: Random, unit: str, low: float = 0.0, high: float = 300.0) -> str:
    """A number with its unit; seldom with another."""
    unit = random.choice(UNITS) if random.random() < BROKEN / 2 else unit
    return number(random, low, high) + random.choice(("", "", " ")) + unit


def span(random: Random, unit: str, low: float, high: float) -> str:
    """A range that mostly runs upwards."""
    ends = sorted((random.uniform(low, high), random.uniform(low, high)))
    text = f"{ends[0]:.0f}..{ends[1]:.0f}{unit}"
    return perhaps_spoilt(random, text)


def material(random: Random) -> str:
    """A material by name, an index, a mixture or a graded one."""
    kind = random.random()
    common = ("TiO2", "SiO2", "Ti", "Al", "glass", "Si", "Ag", "Cr", "WO3", "air")
    if kind < 0.5:
        return random.choice(common)
    if kind < 0.75:
        return random.choice(material_names())
    if kind < 0.85:
        extinction = f"+{number(random, 0, 3)}i" if random.random() < 0.5 else ""
        return f"n={number(random, 1, 3)}{extinction}"
    if kind < 0.93:
        return f"{random.choice(common)}:{random.choice(common)} {number(random, 0, 100)}%"
    if kind < 0.98:
        return f"{random.choice(common)}->{random.choice(common)}"
    return f'"{random.choice(ODD)}"'


def thickness(random: Random) -> str:
    """One thickness, a short sweep, a list or a quarter wave."""
    kind = random.random()
    if kind < 0.7:
        return quantity(random, random.choice(("nm", "nm", "nm", "A", "um")), 0, 200)
    if kind < 0.8:
        step = f" step {quantity(random, 'nm', 1, 50)}" if random.random() < 0.5 else ""
        return span(random, "nm", 0, 60) + step
    if kind < 0.9:
        return ",".join(number(random) for _ in range(random.randint(1, 4))) + "nm"
    return f"quarter@{quantity(random, 'nm', 400, 700)}"


def layers(random: Random, depth: int = 0) -> str:
    """Some layers, perhaps with repeats in them."""
    parts = []
    for _ in range(random.choice((0, 1, 1, 1, 2, 3))):
        if random.random() < 0.12 and depth < 3:
            count = random.choice(("1", "2", "5", "0", "30", "1999", "9" * 30))
            parts.append(f"{count} x ({layers(random, depth + 1)})")
        else:
            parts.append(f"{material(random)} {thickness(random)}")
    return " / ".join(parts)


def stack(random: Random) -> str:
    """A stack on a substrate, perhaps with films on its back."""
    substrate = random.choice(("Ti", "glass", "glass 1mm", "Si", "steel", material(random)))
    text = " / ".join(part for part in (layers(random), substrate) if part)
    if random.random() < 0.1:
        text += " | " + layers(random)
    return perhaps_spoilt(random, text)


def colour(random: Random) -> str:
    """A word, a hex value or a CIELAB reading, perhaps at an angle."""
    kind = random.random()
    if kind < 0.4:
        text = random.choice(colour_words())
    elif kind < 0.7:
        text = f"#{random.randrange(1 << 24):06x}"
    else:
        lab = (random.uniform(0, 100), random.uniform(-60, 60), random.uniform(-60, 60))
        text = ",".join(f"{value:.0f}" for value in lab)
    if random.random() < 0.15:
        text += f" angle={number(random, 0, 80)}"
    return perhaps_spoilt(random, text)


def goal(random: Random) -> str:
    """A goal of a design."""
    if random.random() < 0.15:
        return perhaps_spoilt(
            random, f"colour {colour(random)} from {random.choice(('front', 'back'))}"
        )
    phases = (f"phase={number(random, -180, 180)}deg", f"delta={number(random, 0, 360)}deg",
              f"delay{random.choice('<>=')}{number(random, 0, 60)}fs")  # fmt: skip
    text = f"{random.choice('RTA')}{random.choice('<>=')}{number(random, 0, 100)}%"
    if random.random() < 0.15:
        text = random.choice(phases)
    where = (span(random, "nm", 400, 800), "luminous", "solar", quantity(random, "nm", 400, 800))
    text += f" {random.choice(where)}"
    more = ("at 45deg", "s", "p", "within 2%", "x2", "0..30deg", "mean", "through", "from back")
    for extra in random.sample(more, random.choice((0, 0, 0, 1, 2))):
        text += f" {extra}"
    return perhaps_spoilt(random, text)
