"""Random command lines: a verb with options a person might give, and some nobody should."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from random import Random
from typing import Any

from typer.main import get_command

from oxhue.cli.main import app

from .every_option import OF_A_VERB, VALUES
from .goods import good
from .nearly import nearly_good
from .pieces import (
    ODD,
    Make,
    colour,
    colour_words,
    goal,
    layers,
    material,
    material_names,
    number,
    perhaps_spoilt,
    quantity,
    span,
    spoilt,
    stack,
    thickness,
)

Options = dict[str, tuple[float, Make | None]]  # name -> chance, value (None for a switch)

NEARLY_GOOD = 0.3  # share of the lines with but one thing wrong
BROKEN_LINES = 1.0 / 12.0  # share of the lines whose order or number of parts is spoilt
_METALS = ("Ti", "steel", "stainless", "Cu", "Si", "brass", "Ni", "Cr", "Zr", "Nb", "Ta", "W", "Mo")


def _one_of(*texts: str) -> Make:
    return lambda random: perhaps_spoilt(random, random.choice(texts))


def _in(unit: str, low: float, high: float) -> Make:
    return lambda random: quantity(random, unit, low, high)


def _number(low: float, high: float) -> Make:
    return lambda random: number(random, low, high)


def _films(random: Random) -> str:
    if random.random() < 0.5:
        return "TiO2(siefke2016)"
    return ",".join(material(random) for _ in range(random.choice((1, 1, 1, 1, 2, 3))))


def _chart(random: Random) -> str:
    return perhaps_spoilt(random, random.choice(("chart.png", "chart.svg", "none/chart.png", "/")))


def _spread(random: Random, unit: str, low: float, high: float) -> str:
    return span(random, unit, low, high)


def _light(random: Random) -> str:
    return perhaps_spoilt(random, random.choice(("opaque", "dim", "clear", "OD 2.4")))


def _ohms(random: Random) -> str:
    text = random.choice(
        ("open", quantity(random, "ohm", 0, 999), quantity(random, "ohm/sq", 0, 99))
    )
    return perhaps_spoilt(random, text)


def _pressure(random: Random) -> str:
    return perhaps_spoilt(random, f"{random.uniform(1, 9):.0f}e-{random.randint(3, 8)}mbar")


def _sides(random: Random, first: float, second: float) -> str:
    return f"{number(random, 0, first)}mmx{number(random, 0, second)}mm"


def _at_hand(random: Random) -> str:
    names = ("Al", "SiO2", "TiO2", "MgF2", "Ag")
    return random.choice(names) if random.random() < 0.9 else material(random)


SHARED: Options = {
    "--light": (0.1, _one_of("D65", "D50", "A", "FL2", "LED-B3", "D66")),
    "--observer": (0.1, _one_of("2", "10", "3")),
    "--json": (0.4, None),
    "--chart": (0.015, _chart),
    "--report": (0.004, lambda random: perhaps_spoilt(random, "report.html")),
}
ANGLE: Options = {"--angle": (0.2, _number(0, 90))}
SEED: Options = {"--seed": (0.1, _one_of("0", "1", "7", "-1", "1.5", "9" * 30))}


def _path(random: Random) -> str:
    return random.choice(ODD)


def _folder(random: Random) -> str:
    """A folder to write into, none of it above the one that lines run in."""
    inside = [odd for odd in ODD if odd != "/" and ".." not in odd]
    return random.choice(("out", random.choice(inside)))


def _pixel(random: Random) -> str:
    return f"{number(random, 0, 24)},{random.randrange(16)}"


def _box(random: Random) -> str:
    left, top = random.choice(((2, 2), (14, 2), (0, 0), (20, 12)))
    sides = random.choice(((8, 8), (3, 3), (9, 13), (0, 5)))
    return perhaps_spoilt(random, f"{left},{top},{sides[0]},{sides[1]}")


def _gauge_range(random: Random) -> str:
    return perhaps_spoilt(random, random.choice(("0..250nm", "0..100nm", "50..60nm", "0..2000nm")))


def _doubt(random: Random) -> str:
    names = (
        "noise_de",
        "gain",
        "white_balance_de",
        "glare",
        "index_spread",
        "angle_low_deg",
        "mood",
    )
    return perhaps_spoilt(random, f"{random.choice(names)}={number(random, 0, 1)}")


_how = _one_of("word", "photo", "card", "instrument", "eye")
LOOK: Options = {"--from": (0.15, _one_of("front", "back", "side")), "--spectrum": (0.1, None)}
GAUGE: Options = {
    "--ohms": (0.1, _ohms),
    "--film": (0.97, _films),
    "--on": (
        0.97,
        _one_of("Ti(johnson1974)", "Ti(johnson1974)", "Si", "glass", "steel", "glass 1mm", "Al"),
    ),
    "--seen": (0.85, colour),
    "--through": (0.05, colour),
    "--behind": (0.05, colour),
    "--before": (0.05, colour),
    "--how": (0.1, _how),
    "--between": (0.2, _gauge_range),
    "--doubt": (0.1, _doubt),
    "--photo": (0.02, _path),
    "--clear-layer": (0.1, _one_of("over", "under", "either", "between")),
    "--have": (0.1, _one_of("colour meter", "spectrometer", "spectrometer, colour meter", "luck")),
    "--readings": (0.02, _path),
    "--csv": (0.02, None),
}
GAUGE_FILE: Options = {
    name: GAUGE[name] for name in ("--film", "--on", "--how", "--between", "--doubt")
} | {"--finish": (0.1, _one_of("polished", "satin", "brushed", "rolled", "sad"))}
ON_PHOTO: Options = {"--white": (0.5, _box), "--bare": (0.1, _box)}
PHOTO: Options = {
    "--photo": (0.98, good("photo")),
    "--patch": (0.95, _box),
    "--seen": (0.1, colour),
} | ON_PHOTO
SPECTRUM: Options = {
    **{name: GAUGE[name] for name in ("--film", "--on", "--between")},
    "--reference": (0.2, good("spectrum.csv")),
    "--bandwidth": (0.2, _in("nm", 0, 20)),
    "--checked": (0.2, _one_of("absorption", "scale", "bandwidth", "stray light", "mood")),
    "--smooth": (0.2, None),
    "--measured": (0.3, _one_of("reflectance", "transmittance", "absorptance")),
    "--model": (0.3, _one_of("auto", "table", "cauchy", "tauc-lorentz", "drude-lorentz", "glass")),
}
READINGS: Options = {
    "--readings": (0.98, good("readings.csv")),
    "--leave-out-bad": (0.2, None),
    "--csv": (0.2, None),
    "--lines": (0.2, None),
    "--cluster": (0.05, _path),
    "--trusted": (0.02, None),
}
ONE_PIECE: Options = {
    "--readings": (0.98, good("spots.csv")),
    "--one-piece": (0.9, None),
    "--rising": (0.4, None),
    "--in-a-row": (0.5, None),
    "--csv": (0.1, None),
    "--lines": (0.1, None),
}
MAP: Options = {
    "--piece": (0.3, _box),
    "--out": (0.3, _folder),
    "--at": (0.2, lambda random: perhaps_spoilt(random, f"{_pixel(random)}={number(random)}nm")),
    "--profile": (0.2, lambda random: perhaps_spoilt(random, f"{_pixel(random)},{_pixel(random)}")),
    "--numbers": (0.2, _one_of("tiff", "npz", "csv")),
} | ON_PHOTO
TINT: Options = {
    "--weld": (0.05, _one_of("straw", "dark straw", "blue", "grey", "sun")),
    "--at": (0.75, lambda random: random.choice((quantity, _spread))(random, "C", 100, 900)),
    "--for": (0.7, _in("min", 0, 600)),
    "--pass": (0.1, _in("s", 0, 100)),
    "--volts": (0.1, _in("V", 0, 120)),
    "--want": (0.1, lambda random: random.choice((colour(random), "straw to blue"))),
    "--anodise": (0.05, None),
    "--along": (0.1, _in("mm", 0, 300)),
    "--film": (0.15, _in("nm", 0, 300)),
    "--profile": (0.03, good("log.csv")),
    "--coupons": (0.06, good("kiln.json")),
    "--passes": (0.05, _one_of("1", "3", "0", "-2")),
    "--columns": (0.03, _one_of("time_s, temperature_C", "", "a,b")),
    "--tolerance": (0.05, _number(0, 30)),
    "--parts": (0.05, _one_of("2", "12", "0", "-1")),
    "--photo": (0.02, _path),
    "--patch": (0.02, _box),
    "--white": (0.02, _box),
    "--bare": (0.02, _box),
}
ASSAY: Options = {
    "--metal": (0.8, _one_of("Ti", "Al", "C", "Ag", "brass", "Sn", "Cu", "unknown", "Zz", "TiO2")),
    "--on": (0.5, _one_of("glass", "Si", "steel", "rough glass", "PET", "PLA", "NdFeB", "plastic")),
    "--base-finish": (0.1, _one_of("smooth", "satin", "rough", "bumpy")),
    "--seen": (0.6, colour),
    "--behind": (0.15, colour),
    "--through": (0.3, lambda random: random.choice((_light, colour))(random)),
    "--finish": (0.25, _one_of("mirror", "glossy", "satin", "dull", "sooty", "rainbow", "black")),
    "--ohms": (0.5, _ohms),
    "--strip": (0.1, lambda random: _sides(random, 60, 20)),
    "--four-point": (0.05, _one_of("wide", "4.53", "1mm")),
    "--mass-gain": (0.1, _in("mg", 0, 2)),
    "--area": (0.1, _in("cm2", 0, 30)),
    "--wipe": (0.1, _one_of("off", "smears", "stays")),
    "--scratch": (0.1, _one_of("easy", "hard")),
    "--warmed": (0.1, _one_of("changes", "same")),
    "--guess": (0.1, _in("nm", 0, 300)),
    "--how": (0.1, _how),
    "--pressure": (0.1, _pressure),
    "--rate": (0.1, _in("nm/s", 0, 5)),
    "--jar": (0.02, _one_of("jar.toml", "no-such.toml")),
    "--working-gas": (0.05, _one_of("argon", "nitrogen", "helium")),
    "--working-pressure": (0.05, _pressure),
    "--distance": (0.05, _in("cm", 0, 60)),
    "--flush": (0.05, _one_of("3,5mbar", "0,5mbar", "many")),
    "--trouble": (0.1, _one_of("peels", "pinholes", "rainbow", "sad")),
}
EXPECT: Options = {
    "--expect": (0.95, lambda random: f"{material(random)} {thickness(random)} on glass"),
    "--seen": (0.05, colour),
}
MIRROR: Options = {
    "--on": (0.97, _one_of("glass", "glass 4mm", "Si", "Al 80nm / glass")),
    "--goal": (0.97, goal),
    "--with": (
        0.97,
        lambda random: ",".join(_at_hand(random) for _ in range(random.randint(1, 3))),
    ),
    "--max-layers": (1.0, _one_of("1", "2", "3", "4", "0", "-1", "1e3")),
    "--thinnest": (0.1, _in("nm", 0, 30)),
    "--thickest": (0.1, _in("nm", 20, 600)),
    "--total": (0.1, _in("nm", 20, 900)),
    "--tolerance": (0.2, _one_of("3%", "1nm", "index 1%", "tooling 2%", "angle 1deg", "3%,1nm")),
    "--robust": (0.05, None),
    "--designs": (0.2, _one_of("1", "2", "0")),
    "--effort": (1.0, _one_of("2", "5", "9", "0")),
    "--samples": (1.0, _one_of("50", "200", "0")),
    "--limit": (0.05, _one_of("MgF2<500nm", "Ag>12nm", "Zz", "")),
    "--outermost": (0.05, _one_of("SiO2", "Zz", "")),
    "--light-from": (0.05, _one_of("glass", "n=1.5", "Zz")),
    "--cluster": (0.02, _path),  # no address of any: nothing is to be connected to
    "--trusted": (0.01, None),
}
SHEET: Options = {
    "--source": (0.97, _one_of("point", "plane", "wire", "boat", "sputter")),
    "--distance": (0.97, _in("cm", 1, 60)),
    "--rate": (0.3, lambda random: random.choice(("", "", "Al=")) + quantity(random, "nm/s", 0, 5)),
    "--pressure": (0.3, _pressure),
    "--size": (0.2, lambda random: _sides(random, 200, 200)),
    "--made": (
        0.08,
        lambda random: f"{random.choice('0123')}:{material(random)} {thickness(random)}",
    ),
    "--offset": (0.1, _in("mm", 0, 100)),
    "--tilt": (0.1, _number(0, 90)),
    "--turning": (0.1, None),
    "--focus": (0.1, _number(0, 6)),
    "--ring": (0.1, _in("mm", 0, 80)),
    "--area": (0.1, _in("cm2", 0, 9)),
    "--wire": (0.3, _one_of("W", "Mo", "Ta", "Ti", "Fe")),
    "--wire-diameter": (0.1, _in("mm", 0, 3)),
    "--wire-length": (0.1, _in("mm", 0, 100)),
    "--current": (0.2, _in("A", 0, 60)),
    "--tooling": (0.1, _one_of("1", "1.1", "99nm/90nm", "0", "1/0")),
    "--gas": (0.1, _one_of("water", "air", "oil")),
    "--plastic": (0.1, None),
    "--getter": (0.1, _in("m2", 0, 2)),
    "--witness": (0.1, _one_of("glass", "Si", "Zz")),
    "--every": (0.1, _in("nm", 0, 50)),
    "--monitor": (0.05, _one_of("", "550nm", "550nm,20nm", "eye", "crystal")),
    "--goal": (0.05, goal),
    "--tolerance": (0.05, _one_of("3%", "1nm", "index 1%", "0")),
    "--trouble": (0.05, _one_of("peels", "pinholes", "rainbow", "sad")),
}


GAS: Options = {
    "--jar": (0.02, _one_of("jar.toml", "no-such.toml")),
    "--volume": (0.2, _in("l", 0, 60)),
    "--leak": (0.3, _in("mbar.l/s", 0, 1)),
    "--working-gas": (0.3, _one_of("argon", "nitrogen", "helium", "none")),
    "--working-pressure": (0.3, _pressure),
    "--base-pressure": (0.2, _pressure),
    "--pumping": (0.5, _in("l/s", 0, 500)),
    "--plastic": (0.1, None),
}
SOURCES: Options = {
    "--coil": (0.05, _one_of("5mm,0.8mm", "5mm", "0mm,0mm")),
    "--cold-ohms": (0.05, _in("ohm", 0, 9)),
    "--melted-at": (0.05, _in("A", 0, 60)),
    "--voltage": (0.05, _in("V", 0, 2000)),
}
CHAMBER: Options = {
    "--rise": (0.3, _one_of("5e-3mbar,5e-2mbar,60s", "1e-3mbar,2e-3mbar,9s,3e-3mbar,20s", "9s")),
    "--outgassing": (0.1, _in("mbar.l/s", 0, 1)),
    "--ultimate": (0.1, _pressure),
    "--tube": (0.2, _one_of("1m,8mm", "1m", "0m,0mm")),
    "--walls": (0.1, _in("cm2", 0, 9000)),
    "--gauge": (0.2, _one_of("pirani", "ion", "absolute", "dial")),
    "--residue": (0.1, _one_of("water", "air", "oil")),
    "--flush": (0.2, _one_of("3,5mbar", "0,5mbar", "many")),
    "--pumped": (0.1, _in("min", 0, 90)),
    "--for": (0.1, _in("min", 0, 90)),
    "--metal": (0.2, _one_of("Ti", "Au", "brass", "Zz")),
    "--rate": (0.2, _in("nm/s", 0, 5)),
    "--source": (0.1, _one_of("wire", "boat", "sputter", "sun")),
    "--distance": (0.1, _in("cm", 0, 60)),
}
LOG: Options = {"--log": (0.02, lambda random: random.choice(("other.sqlite", _folder(random))))}
KNOWN: Options = LOG | {
    "--setup": (0.02, _one_of("jar", "kiln", "shop kiln", "")),
    "--record": (0.01, None),
}
OF_RUN: Options = {"--run": (0.02, _one_of("1", "0", "last")), "--piece": (0.02, _one_of("a", ""))}


COUPONS: Options = {
    "--save": (0.3, lambda random: random.choice(("kiln.json", random.choice(ODD)))),
    "--kiln": (0.1, _path),
}
# What opens a page that stays is left out: a port out of range is always among the options.
PAGE: Options = {
    "--port": (1.0, lambda random: random.choice(("65536", "-1", "1e9", "many", "", "8o80"))),
    "--host": (0.5, lambda random: random.choice(("127.0.0.1", "::1", *ODD))),
    "--no-open": (0.5, None),
    "--phone": (0.2, None),
}


def _metal(random: Random) -> str:
    return perhaps_spoilt(random, random.choice(_METALS))


VERBS: dict[str, tuple[float, Make | None, Options]] = {
    # verb: share of the lines, its argument, its options; the slow verbs are the rare ones
    "look": (42.0, stack, LOOK | ANGLE | SHARED),
    "gauge": (3.0, None, GAUGE | KNOWN | OF_RUN | ANGLE | SEED | SHARED),
    "tint": (18.0, _metal, TINT | KNOWN | ANGLE | SEED | SHARED),
    "assay": (2.0, None, ASSAY | KNOWN | OF_RUN | SEED | SHARED),
    "assay expect": (8.0, None, EXPECT | SHARED),
    "design": (1.5, None, MIRROR | ANGLE | SEED | SHARED),
    "sheet": (
        12.0,
        lambda random: f"{layers(random)} / glass",
        SHEET | GAS | SOURCES | KNOWN | ANGLE | SHARED,
    ),
    "chamber": (2.0, None, GAS | CHAMBER | SHARED),
    "schema": (0.3, _one_of("look", "log", "sheet", "sun"), {}),
    "log": (0.1, _one_of("list", "show", "sun"), LOG),
    "materials": (8.0, lambda random: random.choice((*material_names(), *ODD)), SHARED),
    "gauge photo": (1.5, None, GAUGE_FILE | PHOTO | ANGLE | SEED | SHARED),
    "spectrum": (0.4, good("spectrum.csv"), SPECTRUM | ANGLE | SEED | SHARED),
    "gauge readings": (0.7, None, GAUGE_FILE | READINGS | ANGLE | SEED | SHARED),
    "gauge one piece": (0.15, None, GAUGE_FILE | ONE_PIECE | SEED | SHARED),
    "coupons": (0.8, good("pieces.csv"), COUPONS | SEED | SHARED),
    "map": (0.8, good("photo"), GAUGE_FILE | MAP | SHARED),
    "demo": (0.05, _folder, SHARED),
    "page": (0.6, None, PAGE),
    "": (0.3, None, {"--version": (0.5, None), "--help": (0.5, None)} | SHARED),
}


@cache
def all_verbs() -> dict[str, tuple[float, Make | None, Options]]:
    """These, and any other verb of the program with the options of its own help, oddly filled."""
    commands = get_command(app).commands  # type: ignore[attr-defined]
    others = {
        name: (0.5, _path, _options_of(command))
        for name, command in commands.items()
        if name not in VERBS
    }
    of_log = {
        f"log {name}": (*_OF_LOG.get(name, (0.3, _path)), _options_of_log(command))
        for name, command in commands["log"].commands.items()
    }
    return VERBS | others | of_log


_A_SETUP = _one_of("jar", "jar", "kiln", "kiln", "bell", "no such", "")
_A_RUN = _one_of("1", "2", "9", "14", "0", "999", "-1", "one")
_OF_LOG: dict[str, tuple[float, Make | None]] = {
    "setup": (0.6, _A_SETUP), "run": (1.5, _A_SETUP), "saw": (1.5, _A_RUN), "list": (0.3, None),
    "show": (0.5, _A_RUN), "learn": (0.03, _A_SETUP), "next": (0.03, _A_SETUP),
    "undo": (0.3, None), "import": (0.3, good("clock-log.csv")),
    "export": (0.4, _one_of("out.csv", "out.jsonl", "out.txt", "none/out.csv", "")),
}  # fmt: skip
"""Share of the lines of each verb of the log, those that learn being slow, and its argument."""

_FILES = {"--photo": "photo", "--heat-log": "log.csv"}


def _options_of_log(command: Any) -> Options:
    """The options of a verb of the log with values that are often good."""
    made: Options = {}
    for option in _options_of(command):
        value = OF_A_VERB.get(("log", option)) or VALUES.get(option, "x")
        make = good(_FILES[option]) if option in _FILES else _one_of(value, value, "")
        made[option] = (0.95 if option == "--want" else 0.12, make)
    flags = {name for name, (_, make) in _options_of(command).items() if make is None}
    return made | dict.fromkeys(flags, (0.1, None)) | _given(LOG | SHARED, made)


def _given(some: Options, made: Options) -> Options:
    return {name: some[name] for name in some if name in made}


def _options_of(command: Any) -> Options:
    return {
        option: (0.2, None if getattr(parameter, "is_flag", False) else _path)
        for parameter in command.params
        for option in parameter.opts
        if option.startswith("--")
    }


def command_line(random: Random) -> list[str]:
    """One command line, without the program's name."""
    if random.random() < NEARLY_GOOD:
        return nearly_good(random)
    verbs = all_verbs()
    kind = random.choices(list(verbs), [share for share, _, _ in verbs.values()])[0]
    _, argument, options = verbs[kind]
    line = kind.split()[: 2 if kind.startswith("log ") else 1]
    if argument is not None and random.random() < 0.98:
        line.append(argument(random))
    for name, (chance, make) in options.items():
        times = 1 if random.random() < 0.95 else 2
        if random.random() < chance:
            line += ([name] if make is None else [name, make(random)]) * times
    return _shuffled(random, line)


def _shuffled(random: Random, line: list[str]) -> list[str]:
    """The line, now and then with a part lost, doubled, moved, spoilt or put in."""
    if random.random() > BROKEN_LINES:
        return line
    if not line or line[0] == "page":  # spoilt, its port might become a good one
        return line
    at = random.randrange(len(line))
    line = list(line)
    changes: tuple[Callable[[], object], ...] = (
        lambda: line.pop(at),
        lambda: line.insert(at, line[at]),
        lambda: line.insert(0, line.pop(at)),
        lambda: line.__setitem__(at, spoilt(random, line[at])),
        lambda: line.insert(at, random.choice(("--help", "--nonsense", "-", "--", *ODD))),
        lambda: line.append(random.choice((*ODD, *colour_words()))),
    )
    random.choice(changes)()
    return line
