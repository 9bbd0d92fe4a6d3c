"""Grammars of saved files and of what a program hands over: kilns, jars, logs, tables in memory.

A field, or a cell of the draws, is replaced by a value of any kind and size; the reader takes it
or refuses it in one sentence.
"""

from __future__ import annotations

import json
import tempfile
from dataclasses import replace
from functools import cache, partial
from pathlib import Path
from random import Random
from typing import Any

import numpy as np

from oxhue.optics.deposition.jar import read_jar
from oxhue.optics.files.spectrum import Spectrum
from oxhue.optics.films.materials.catalogue import load_material
from oxhue.optics.films.materials.effective_medium import Mixture
from oxhue.optics.films.materials.medium import ConstantIndex, Medium
from oxhue.optics.films.materials.nk_table import Material
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.stack import Layer, Stack
from oxhue.optics.films.written import format_stack
from oxhue.optics.log.exchange import read_rows
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.tint.bath import format_bath, parse_bath, shipped_bath
from oxhue.optics.tint.kiln import format_kiln, parse_kiln, shipped_kiln

from .atoms import digits, json_value, odd_number, plain_number, seldom, text
from .text_grammars import refused_or

Saved = dict[str, Any]


# -- kilns and baths ------------------------------------------------------------------------


@cache
def _saved() -> tuple[Saved, Saved]:
    known: Saved = {"pieces": 5, "made_from": "pieces.csv"}
    kiln = replace(shipped_kiln(find_metal("Ti"), count=20), between_C=(400.0, 500.0), **known)
    bath = replace(shipped_bath(find_metal("Ti"), count=20), between_V=(20.0, 90.0), **known)
    return json.loads(format_kiln(kiln)), json.loads(format_bath(bath))


def draw_saved(random: Random) -> Saved:
    """A saved kiln or bath with one field replaced, or one cell of its draws."""
    data = dict(random.choice(_saved()))
    name = random.choice([*data, "hue"])
    if name == "draws" and seldom(random, 0.5):
        data["draws"] = [[*row] for row in data["draws"]]
        row = random.choice(data["draws"])
        row[random.randrange(len(row))] = json_value(random)
    elif name.startswith("between"):
        data[name] = [json_value(random, 0), json_value(random, 0)]
    else:
        data[name] = json_value(random)
    return data


def check_saved(data: Saved) -> bool:
    """As a kiln and as a bath; what is taken says its pieces and its span in numbers."""
    raw = json.dumps(data)
    kiln = refused_or(partial(parse_kiln, raw, "saved.json"))
    bath = refused_or(partial(parse_bath, raw, "saved.json"))
    for one in (kiln, bath):
        if one is not None:
            assert one.pieces >= 1, f"{one.pieces} pieces"
    if kiln is not None:
        low, high = kiln.between_C
        assert -273.15 < low <= high < 5000.0
    return kiln is not None or bath is not None


# -- jars -----------------------------------------------------------------------------------

_JAR = {"volume": ("l", 1, 50), "pumping": ("l/s", 1, 300), "leak": ("mbar.l/s", 0, 1),
        "walls": ("cm2", 100, 9000), "ultimate": ("mbar", 0, 1), "outgassing": ("mbar.l/s", 0, 1),
        "base_pressure": ("mbar", 0, 1)}  # fmt: skip
_WORDS = {"residue": ("water", "air"), "gauge": ("pirani", "ion", "absolute"),
          "tube": ("1m,8mm",), "rise": ("5e-3mbar,5e-2mbar,60s",)}  # fmt: skip


def draw_jar(random: Random) -> str:
    """Lines of a jar; each as the guide has it, or with a number or a value of another kind."""
    lines = []
    for name in random.sample([*_JAR, *_WORDS, "hue"], random.randint(1, 5)):
        unit, low, high = _JAR.get(name, ("l", 0, 9))
        plain = random.choice(_WORDS.get(name, (plain_number(random, low, high)[0] + unit,)))
        value = json.dumps(plain)
        if seldom(random, 0.15):
            value = random.choice(
                (json.dumps(odd_number(random) + unit), odd_number(random), odd_number(random),
                 "true", "[]", '["3l"]', "{}", "1979-05-27", '"""3l"""', "0x1f", "inf")
            )  # fmt: skip
        lines.append(f"{name} = {value}")
    return "\n".join(lines)


def check_jar(whole: str) -> bool:
    """Read as a file of a jar."""
    with tempfile.NamedTemporaryFile(suffix=".toml", mode="w", encoding="utf-8") as file:
        file.write(whole.encode("utf-8", "replace").decode())
        file.flush()
        return refused_or(lambda: read_jar(Path(file.name))) is not None


# -- logs of runs ---------------------------------------------------------------------------


def draw_log(random: Random) -> str:
    """Lines of an exported log, one of whose values was replaced."""
    setup: Saved = {"setup": "kiln", "setup_version": 1, "setup_kind": "kiln", "facts": {}}
    run: Saved = {
        "run": 1, "setup": "kiln", "setup_version": 1, "setup_kind": "kiln", "plan": {},
        "at": "2024-05-01T10:00:00", "planned": "", "done": {"metal": "Ti", "at": "440C"},
        "remarks": "", "pieces": [{"name": "a", "facts": {}, "observations": []}],
    }  # fmt: skip
    row = random.choice((setup, run))
    inner = random.choice((row, run["done"], run["pieces"][0]))
    inner[random.choice([*inner, text(random)])] = json_value(random)
    return "\n".join(json.dumps(one) for one in (setup, run))


def check_log(whole: str) -> bool:
    """Read as a file of runs."""
    with tempfile.NamedTemporaryFile(suffix=".jsonl", mode="w", encoding="utf-8") as file:
        file.write(whole)
        file.flush()
        return refused_or(lambda: read_rows(Path(file.name))) is not None


# -- tables in memory -----------------------------------------------------------------------


def _column(random: Random, low: float, high: float, count: int) -> list[Any]:
    """Numbers of a column; one seldom missing, endless, too many or of the other sign."""
    values: list[Any] = [random.uniform(low, high) for _ in range(count)]
    if seldom(random, 0.3):
        i = random.randrange(count)
        values[i] = random.choice((float("nan"), float("inf"), -values[i], None, "0.3",
                                   int(digits(random)[:4_000])))  # fmt: skip
    elif seldom(random, 0.1):
        values = values[:-1] if seldom(random, 0.5) else [-one for one in values]
    return values


def _medium(random: Random) -> Medium:
    """A medium as a program makes it: shipped, one's own under any name, or a mixture."""
    kind = random.randrange(5)
    if kind == 0:
        return ConstantIndex(random.uniform(1, 3), random.uniform(0, 1))
    if kind == 1:
        name = random.choice(("TiO2", "Ti", "TiO2(siefke2016)", "mine"))
        return Material.from_arrays([300.0, 1200.0], [random.uniform(1.3, 2.5)] * 2, name=name)
    first, second = (load_material(name) for name in ("TiO2", "SiO2"))
    if kind == 2:
        rule = random.choice(("bruggeman", "bruggeman", "maxwell-garnett", "looyenga"))
        return Mixture(first, second, random.uniform(0.1, 0.9), rule)
    return random.choice((first, second))


def draw_stack(random: Random) -> Stack:
    """A stack as a program makes it."""
    layers = [Layer(_medium(random), np.array(random.uniform(1, 200)))
              for _ in range(random.randint(1, 4))]  # fmt: skip
    return Stack(tuple(layers), load_material("Ti"))


def check_stack(stack: Stack) -> bool:
    """Its written form reads back as the same films, or there is none."""
    whole = refused_or(lambda: format_stack(stack))
    if whole is None:
        return False
    nm = np.array([450.0, 550.0, 650.0])
    for one, other in zip(parse_stack(whole).layers, stack.layers, strict=True):
        assert np.allclose(one.thickness_nm, other.thickness_nm, rtol=1e-12)
        assert np.allclose(one.medium.nk(nm), other.medium.nk(nm), rtol=1e-6), f"{whole}"
    return True


def draw_memory(random: Random) -> Saved:
    """Constants and a reflectance as a program has them: percent, n − ik, unsorted among them."""
    count = random.randint(2, 8)
    nm = [400.0 + 50 * i for i in range(count)]
    if seldom(random, 0.1):
        random.shuffle(nm)
    top = 100.0 if seldom(random, 0.2) else 1.0
    return {
        "nm": nm, "n": _column(random, 1.2, 2.5, count), "k": _column(random, 0.0, 1.0, count),
        "R": [one * top if isinstance(one, float) else one
              for one in _column(random, 0.05, 1.0, count)],
        "kind": random.choice(("reflectance", "transmittance", "reflection", "R", "")),
    }  # fmt: skip


def check_memory(given: Saved) -> bool:
    """What is taken absorbs and never amplifies, is a fraction, rises, and is of a kind we know."""
    made = refused_or(
        lambda: Material.from_arrays(given["nm"], given["n"], given["k"], name="mine")
    )
    if made is not None:
        nk = made.nk(np.array(given["nm"], dtype=float))
        meant = np.array(given["n"], dtype=float) + 1j * np.array(given["k"], dtype=float)
        scale = float(np.abs(meant).max())  # between rows of n = 1 and 1e16 much is rounded
        assert np.allclose(nk, meant, atol=1e-6 * scale), f"taken as {nk}"
        assert np.all(nk.imag >= 0.0), "a film that amplifies"
    read = refused_or(lambda: Spectrum(given["nm"], given["R"], given["kind"]))
    if read is not None:
        assert given["kind"] in ("reflectance", "transmittance")
        value = np.asarray(read.value, dtype=float)
        assert np.isfinite(value).all()
        assert value.max() <= 2.0, f"a fraction of {value.max()}"
        assert np.all(np.diff(np.asarray(read.wavelength_nm, dtype=float)) > 0.0)
    return made is not None or read is not None
