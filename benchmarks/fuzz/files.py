"""Broken copies of every kind of file that is read, and the readers they are put before."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from pathlib import Path
from random import Random

import numpy as np
from PIL import Image

from oxhue.cli.main import exit_code
from oxhue.optics.files.spectrum import read_spectrum
from oxhue.optics.films.materials.user_table import read_user_table
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.written import format_stack
from oxhue.optics.gauge.batch import read_readings
from oxhue.optics.images.linear_light import load_picture
from oxhue.optics.oxidation.log_file import read_log
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.run_sheet.replan import parse_made
from oxhue.optics.tint.coupon_file import read_pieces
from oxhue.optics.tint.kiln import format_kiln, load_kiln, shipped_kiln

from .mutate import mutated

_GAUGE = ["gauge", "--film", "TiO2(siefke2016)", "--on", "Ti(johnson1974)"]
_PATCHES = ["--patch", "2,2,8,8", "--white", "14,2,8,8"]
_BY_VERB = 0.03  # share of the files put before a whole verb and not its reader alone


@dataclass(frozen=True)
class Kind:
    """A kind of file: how often, its name, a good copy, its reader, and the verb that takes it."""

    share: float
    name: str
    original: Callable[[Random], bytes]
    read: Callable[[Path], object]
    verb: Callable[[str], list[str]]
    text: bool = True


def broken_file(random: Random, folder: Path) -> tuple[Callable[[], int | None], list[str], Path]:
    """Write one broken file; the action that reads it, its command line if it is one, its path."""
    kind = random.choices(KINDS, [kind.share for kind in KINDS])[0]
    path = folder / kind.name
    path.write_bytes(mutated(random, kind.original(random), kind.text))
    if random.random() < _BY_VERB:
        line = [*kind.verb(str(path)), *random.choice(([], ["--json"]))]
        return (lambda: exit_code(line)), line, path
    return (lambda: _read(kind, path)), [], path


def _read(kind: Kind, path: Path) -> int:
    kind.read(path)
    return 0


def _stack_text(path: Path) -> None:
    stack = parse_stack(path.read_bytes().decode("utf-8", "surrogateescape").rstrip("\n"))
    written = format_stack(stack)
    if '"' not in written and "user" not in {layer.medium.kind for layer in stack.layers}:
        assert format_stack(parse_stack(written)) == written


def _stacks(random: Random) -> bytes:
    texts = (
        "TiO2 45nm / Ti", "5 x (SiO2 quarter@550nm / TiO2 60nm) / glass 1mm | MgF2 100nm",
        "Ti:TiO2 30% 80nm / TiO2->Ti 0..60nm step 2nm / n=1.5+0.1i 20,40nm / Si",
    )  # fmt: skip
    return random.choice(texts).encode()


def _constants(random: Random) -> bytes:
    mark = random.choice(",;\t ")
    rows = [f"{nm}{mark}{1.5 + nm / 9000:.4f}{mark}{nm / 90000:.4f}" for nm in range(350, 820, 10)]
    head = f"# source: a table\nwavelength_nm{mark}n{mark}k"
    return "\n".join([head, *rows, ""]).encode()


def _spectrum(random: Random) -> bytes:
    mark = random.choice(",;\t ")
    rows = [f"{nm}{mark}{30 + 20 * np.sin(nm / 60):.3f}" for nm in range(380, 790, 5)]
    return "\n".join([f"wavelength_nm{mark}R(%)", *rows, ""]).encode()


def _readings(random: Random) -> bytes:
    forms = (
        ("id,hex", "{i},#6a{i:02x}a0"), ("id,word,angle_deg", "p{i},purple,{i}"),
        ("L,a,b,how", "4{i},20,-30,card"), ("id;L;a;b", "{i};40,5;{i};-30,1"),
    )  # fmt: skip
    head, row = random.choice(forms)
    return "\n".join([head, *(row.format(i=i) for i in range(6)), ""]).encode()


def _pieces(_: Random) -> bytes:
    return (
        b"id,metal,temperature_C,time_min,word,hex,thickness_nm,sd,how\n"
        b"a,Ti,400,20,straw,,,,\nb,Ti,450,20,,#6a3fa0,,2,photo\nc,Ti,500,30,,,55,3,\n"
    )


def _log(random: Random) -> bytes:
    head = random.choice(("time_s,temperature_C", "time [min];temp (K)", "h\tT_F"))
    mark = next(mark for mark in ",;\t" if mark in head)
    rows = [f"{i}{mark}{300 + min(i * 10, 400)}" for i in range(60)]
    return "\n".join([head, *rows, ""]).encode()


@cache
def _kiln_bytes(metal: str) -> bytes:
    return format_kiln(shipped_kiln(find_metal(metal), count=40)).encode()


def _gauged(_: Random) -> bytes:
    candidate = {"thickness_nm": 45.0, "interval90_nm": [40.0, 50.0], "probability": 0.97}
    whole = {"thickness_nm": 45.0, "interval90_nm": [40.0, 50.0], "candidates": [candidate]}
    return json.dumps(whole | {"fits": True, "film": "TiO2", "on": "Ti"}).encode()


@cache
def _picture(form: str, mode: str, options: tuple[tuple[str, object], ...]) -> bytes:
    pixels = np.zeros((16, 24, 3), np.uint8)
    pixels[..., 0], pixels[..., 1], pixels[..., 2] = 106, np.arange(24) * 3, 160
    pixels[:, 12:] = 230
    image = Image.fromarray(pixels).convert(mode)
    stream = BytesIO()
    image.save(stream, form, **dict(options))
    return stream.getvalue()


_PICTURES: tuple[tuple[str, str, tuple[tuple[str, object], ...]], ...] = (
    ("PNG", "RGB", ()), ("PNG", "RGBA", ()), ("PNG", "P", ()), ("PNG", "L", ()),
    ("JPEG", "RGB", (("quality", 90),)), ("JPEG", "CMYK", ()),
    ("JPEG", "RGB", (("progressive", True),)),
    ("TIFF", "RGB", ()), ("TIFF", "RGB", (("compression", "tiff_lzw"),)), ("TIFF", "CMYK", ()),
    ("TIFF", "RGB", (("compression", "tiff_deflate"),)),
    ("TIFF", "RGB", (("compression", "jpeg"),)),
    ("WEBP", "RGB", ()), ("GIF", "P", ()), ("BMP", "RGB", ()),
)  # fmt: skip


def _gauge_photo(path: str) -> list[str]:
    return [*_GAUGE, "--photo", path, *_PATCHES]


KINDS = (
    Kind(10, "stack.txt", _stacks, _stack_text, lambda p: ["look", Path(p).read_text("latin-1")]),
    Kind(14, "nk.csv", _constants, read_user_table, lambda p: ["look", f'"{p}" 45nm / Ti']),
    Kind(14, "spectrum.csv", _spectrum, read_spectrum, lambda p: ["spectrum", p, *_GAUGE[1:]]),
    Kind(12, "readings.csv", _readings, read_readings, lambda p: [*_GAUGE, "--readings", p]),
    Kind(10, "pieces.csv", _pieces, read_pieces, lambda p: ["coupons", p]),
    Kind(8, "log.csv", _log, read_log, lambda p: ["tint", "Ti", "--profile", p]),
    Kind(
        8, "kiln.json", lambda random: _kiln_bytes(random.choice(("Ti", "steel"))), load_kiln,
        lambda p: ["tint", "Ti", "--at", "450C", "--for", "20min", "--coupons", p],
    ),
    Kind(
        6, "gauge.json", _gauged, lambda path: parse_made(f"1:{path}"),
        lambda p: ["sheet", "Al 90nm / TiO2 45nm / glass", "--source", "boat", "--distance",
                   "30cm", "--made", f"1:{p}"],
    ),
    Kind(28, "photo", lambda random: _picture(*random.choice(_PICTURES)), load_picture,
         _gauge_photo, text=False),
)  # fmt: skip
