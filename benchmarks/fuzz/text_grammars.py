"""Grammars of what is typed: stacks, goals, quantities, meters and colours, with what they mean.

A draw is a text and, where it is written as the guide says, its meaning: then the reader must give
that meaning. The rest is spoilt somewhere, and may be refused.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from random import Random
from typing import Any

import numpy as np

from oxhue.optics import units
from oxhue.optics.assay.inputs import parse_meter
from oxhue.optics.assay.measured import ResistanceObservation
from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.errors import InputError
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.written import format_stack
from oxhue.optics.inference.reading import parse_reading

from .atoms import digits, odd_number, plain_number, seldom, spoilt, text

_SPOILT = 0.5


@dataclass(frozen=True)
class Written:
    """A text, and what it means where that is known."""

    text: str
    means: Any = None


def refused_or(read: Callable[[], Any]) -> Any:
    """What a reader gives, None where it refuses in one sentence."""
    try:
        return read()
    except InputError as error:
        sentence = str(error)
        assert 8 < len(sentence) < 2_000, f"no one sentence: {sentence[:200]!r}"
        return None


def read_written(written: Written, read: Callable[[str], Any], what: str) -> Any:
    """What a reader gives of a text, None where it rightly refuses it."""
    found = refused_or(lambda: read(written.text))
    assert found is not None or written.means is None, f"a plain {what} is refused"
    return found


def _close(found: Any, meant: Any) -> bool:
    if np.shape(found) == () == np.shape(meant):
        return math.isclose(found, meant, rel_tol=1e-9, abs_tol=1e-12)
    found, meant = np.asarray(found), np.asarray(meant)
    if found.shape == meant.shape and (found == meant).all():
        return True  # most often, and far quicker
    return bool(np.allclose(found, meant, rtol=1e-9, atol=1e-12))


# -- stacks ---------------------------------------------------------------------------------

# Metres of a nanometre by the definition of the units; an ångström is 0.1 nm.
_NM = {"nm": 1, "um": 1000, "µm": 1000, "Å": Fraction(1, 10), "A": Fraction(1, 10)}
_MEDIA = ("TiO2", "SiO2", "Ti", "Al", "TiO2(siefke2016)", "n=1.5", "n=2.1+0.02i", "n = 1.45",
          "Ti:TiO2 30%", "TiO2->Ti", "SiO2->TiO2")  # fmt: skip
_UNDER = ("Ti", "glass", "glass 1mm", "Si", "n=1.52")
_WORDS = ("/", "|", "x (", "nm", "step ", "quarter@", "->", ":", "n=", "..", '"own.csv"', "%", "Zz")


def _extent(random: Random) -> tuple[str, list[float]]:
    """A thickness, a list or a range, and its points [nm]."""
    unit = random.choice(list(_NM))
    factor = float(_NM[unit])
    kind = random.randrange(8)
    space = random.choice(("", "", " "))
    if kind == 0:
        some = [plain_number(random, 1, 300) for _ in range(random.randint(2, 4))]
        return ", ".join(one for one, _ in some) + space + unit, [v * factor for _, v in some]
    if kind == 1:
        low, count, step = random.randint(0, 50), random.randint(2, 9), random.randint(1, 9)
        high = low + count * step
        points = [low + i * step for i in range(count + 1)]
        return f"{low}..{high}{space}{unit} step {step}{unit}", [p * factor for p in points]
    one, value = plain_number(random, 1, 300)
    return f"{one}{space}{unit}", [value * factor]


def draw_notation(random: Random) -> Written:
    """A stack with the thicknesses of its layers, or a spoilt one."""
    parts, means, swept = [], [], 0
    for _ in range(random.randint(0, 4)):
        extent, points = _extent(random)
        if len(points) > 1:
            swept += 1
            if swept > 2:
                continue
        parts.append(f"{random.choice(_MEDIA)} {extent}")
        means.append(points)
    if parts and seldom(random, 0.2):
        count = random.randint(1, 4)
        parts, means = [f"{count} {random.choice('x×')} ({' / '.join(parts)})"], means * count
    under = random.choice(_UNDER)
    whole = random.choice((" / ", "/", "  /\t")).join([*parts, under])
    if under == "glass 1mm" and seldom(random, 0.5):  # a back to put films on
        extent, points = _extent(random)
        if len(points) == 1:
            whole, means = f"{whole} | MgF2 {extent}", [*means, points]
    if seldom(random, _SPOILT):
        return Written(spoilt(random, whole, _WORDS))
    return Written(whole, means)


def read_notation(written: Written) -> bool:
    """Read it as it is meant, and once more from the form that is written of it."""
    stack = read_written(written, parse_stack, "stack")
    if stack is None:
        return False
    if written.means is not None:
        found = [np.atleast_1d(layer.thickness_nm) for layer in stack.all_layers]
        assert len(found) == len(written.means), f"{len(found)} layers"
        assert all(_close(one, meant) for one, meant in zip(found, written.means, strict=True))
    again = refused_or(lambda: format_stack(stack))
    if again is not None:
        back = parse_stack(again)
        assert format_stack(back) == again, f"{again!r} reads back otherwise"
        for one, other in zip(back.all_layers, stack.all_layers, strict=True):
            same = one.medium is other.medium or _close(
                one.medium.nk([550.0]), other.medium.nk([550.0])
            )
            assert same, f"{other.medium.label} reads back as another medium"
    return True


# -- goals ----------------------------------------------------------------------------------

_GOAL_WORDS = ("R", "T", "OD", "colour ", ">", "%", "..", "nm", " at ", "deg", "from back", " s ",
               " luminous", " within ", " x")  # fmt: skip


def draw_goal(random: Random) -> Written:
    """A goal and the fields it means, or a spoilt one."""
    quantity = random.choice("RTA")
    mark, relation = random.choice(
        ((">", ">"), ("<", "<"), ("=", "="), (">=", ">"), ("<=", "<"), ("≥", ">"), ("≤", "<"))
    )
    percent, value = plain_number(random, 1, 99)
    low, high = random.randint(380, 500), random.randint(510, 780)
    band, nm = random.choice(
        ((f"{low}..{high}nm", (low, high)), (f"{low}nm", (low, low)),
         (f"{low / 1000}..{high / 1000}um", (low, high)), (f"{low}nm..{high} nm", (low, high)))
    )  # fmt: skip
    parts, means = [band], {"quantity": quantity, "relation": relation, "percent": value, "nm": nm}
    if seldom(random, 0.3):
        angle = random.randint(1, 80)
        parts.append(random.choice((f"at {angle}deg", f"{angle}°", f"at {angle} deg")))
        means["angles_deg"] = (angle, angle)
    if seldom(random, 0.3):
        parts.append(means.setdefault("polarization", random.choice("sp")))
    if seldom(random, 0.2):
        weight, factor = plain_number(random, 1, 9)
        parts.append(f"x{weight.lstrip('+')}")
        means["weight"] = factor
    random.shuffle(parts)
    space = random.choice(("", " "))
    whole = f"{quantity}{space}{mark}{space}{percent}{space}% {' '.join(parts)}"
    if seldom(random, 0.15):
        unit, own = random.choice((("deg", "phase"), ("°", "delta"), ("fs", "delay")))
        sign = mark if own == "delay" else "="
        whole = f"{own}{space}{sign}{space}{percent}{space}{unit} {' '.join(parts)}"
        means |= {"quantity": own, "relation": relation if own == "delay" else "=", "amount": value}
        means.pop("percent")
        if own == "delta" and "polarization" in means:
            return Written(whole)
    if seldom(random, 0.1):
        whole, means = f"colour #{random.randrange(1 << 24):06x} at 40deg", {"quantity": "colour"}
    if seldom(random, _SPOILT):
        return Written(spoilt(random, whole, _GOAL_WORDS))
    return Written(whole, means)


def read_goal(written: Written) -> bool:
    """Read it as it is meant, and once more from its own written form."""
    goal = read_written(written, parse_goal, "goal")
    if goal is None:
        return False
    assert parse_goal(str(goal)) == goal, f"{goal} reads back otherwise"
    for name, meant in (written.means or {}).items():
        found = goal.band_nm if name == "nm" else getattr(goal, name)
        numeric = not isinstance(meant, str)
        assert _close(found, meant) if numeric else found == meant, f"{name} is {found}"
    return True


# -- quantities -----------------------------------------------------------------------------

# By definition: foot and inch of 1959, the torr, the litre, the degree Fahrenheit.
_KNOWN: dict[str, dict[str, tuple[float, float]]] = {
    "length_nm": {"nm": (1, 0), "um": (1e3, 0), "µm": (1e3, 0), "Å": (0.1, 0), "mm": (1e6, 0),
                  "cm": (1e7, 0), "m": (1e9, 0)},
    "length_mm": {"mm": (1, 0), "cm": (10, 0), "m": (1e3, 0), "in": (25.4, 0)},
    "temperature_C": {"C": (1, 0), "°C": (1, 0), "K": (1, -273.15), "F": (5 / 9, -160 / 9)},
    "time_s": {"s": (1, 0), "min": (60, 0), "h": (3600, 0)},
    "pressure_mbar": {"mbar": (1, 0), "Pa": (0.01, 0), "Torr": (1013.25 / 760, 0)},
    "voltage_V": {"V": (1, 0), "kV": (1e3, 0)},
    "volume_l": {"l": (1, 0), "ml": (1e-3, 0), "cm3": (1e-3, 0), "m3": (1e3, 0)},
    "pumping_l_s": {"l/s": (1, 0), "m3/h": (1 / 3.6, 0), "l/min": (1 / 60, 0)},
    "area_cm2": {"cm2": (1, 0), "mm2": (0.01, 0), "m2": (1e4, 0)},
    "rate_nm_s": {"nm/s": (1, 0), "Å/s": (0.1, 0), "nm/min": (1 / 60, 0)},
}  # fmt: skip


def draw_quantity(random: Random) -> Written:
    """A number with a unit and what it is, with a comma of thousands or decimals, or spoilt."""
    dimension = random.choice(list(_KNOWN))
    unit, (factor, offset) = random.choice(list(_KNOWN[dimension].items()))
    kind = random.randrange(6)
    if kind == 0:  # as a ledger or a German keyboard has it: refused, or read as nothing else
        value = random.randint(1000, 9_999_999) / random.choice((1, 10, 100))
        form = f"{value:,.2f}" if value != int(value) else f"{int(value):,}"
        if seldom(random, 0.5):
            form = form.translate(str.maketrans(",.", ".,"))
        grouped = form.count(".") == 1 and "," not in form  # 1.500 is one and a half here
        means = None if grouped else (dimension, value * factor + offset, False)
        return Written(form + unit, means)
    if kind == 1:
        return Written(odd_number(random) + random.choice((unit, text(random))))
    number, value = plain_number(random, 0, 999)
    space = random.choice(("", " "))
    return Written(f"{number}{space}{unit}", (dimension, value * factor + offset, True))


def read_quantity(written: Written) -> bool:
    """Read it in its dimension; what means nothing known, in every one and as a range too."""
    if written.means is None:
        for dimension in units._UNITS:
            asked = (written.text, dimension, "it")
            value = refused_or(partial(units.parse_quantity, *asked))
            assert value is None or math.isfinite(value)
            ends = refused_or(partial(units.parse_range, *asked))
            assert ends is None or (np.isfinite(ends).all() and ends[0] < ends[1])
        return False
    dimension, meant, plain = written.means
    value = refused_or(lambda: units.parse_quantity(written.text, dimension, "it"))
    if value is None:
        assert not plain, "a plain quantity is refused"
        return False
    assert _close(value, meant), f"read as {value}"
    return True


# -- meters and colours ---------------------------------------------------------------------

_OHMS = {"ohm": 1.0, "Ohm": 1.0, "Ω": 1.0, "kohm": 1e3, "KΩ": 1e3, "kΩ": 1e3, "Mohm": 1e6,
         "MΩ": 1e6}  # fmt: skip


def draw_meter(random: Random) -> Written:
    """Ohms per square as a meter or a person writes them, and what they are."""
    number, value = plain_number(random, 1, 900)
    unit = random.choice(list(_OHMS))
    if seldom(random, 0.1):
        return Written(random.choice(("OL", "open", "O.L", "0L", "Open", "ol", "∞", "inf")), "open")
    if seldom(random, 0.3):
        return Written(spoilt(random, f"{number}{unit}/sq", ("ohm", "/sq", "k", "m", ",")))
    space = random.choice(("", " "))
    return Written(f"{number}{space}{unit}{random.choice(('/sq', '/□'))}", value * _OHMS[unit])


def read_meter(written: Written) -> bool:
    """Read it as it is meant."""
    found = refused_or(lambda: parse_meter(written.text))
    if found is None:
        return False
    if written.means == "open":
        assert isinstance(found, ResistanceObservation)
        assert math.isinf(found.ohm)
    elif written.means is not None:
        assert isinstance(found, ResistanceObservation)
        assert _close(found.ohm, written.means), f"read as {found.ohm}"
    return True


def draw_colour(random: Random) -> Written:
    """CIELAB numbers, a hex value or a word, at an angle or not, or a spoilt one."""
    kind = random.randrange(4)
    means: Any = None
    if kind == 0:
        some = [plain_number(random, *span) for span in ((0, 100), (-90, 90), (-90, 90))]
        mark = random.choice((",", " ", ", ", ";", "; "))
        whole, means = mark.join(one for one, _ in some), [value for _, value in some]
    elif kind == 1:
        whole = "#" + "".join(random.choice("0123456789abcdefABCDEF") for _ in range(6))
    else:
        whole = random.choice(("purple", "blue", "dark straw", "gold", "Gold", "light blue"))
    if seldom(random, 0.3):
        whole += f" angle={plain_number(random, 0, 80)[0]}"
    if seldom(random, 0.4):
        return Written(spoilt(random, whole, (",", "angle=", "#", " ", "blue", digits(random))))
    return Written(whole, means)


def read_colour(written: Written) -> bool:
    """Read it as it is meant."""
    found = read_written(written, parse_reading, "colour")
    if found is None:
        return False
    if written.means is not None:
        assert _close(found.points_lab[0], written.means), f"read as {found.points_lab[0]}"
    return True
