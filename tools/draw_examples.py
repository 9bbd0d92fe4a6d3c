"""Make the invented files of the guide: a photo of a dial, test pieces, a log, a spectrum.

Run as ``python -m tools.draw_examples``; writes ``docs/examples``. The scenario is a workshop that
restores public clocks and sundials. Nothing in these files was measured: they are drawn from the
model with the errors a phone, a kiln and a small spectrometer have.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image

from oxhue.optics._typing import FloatArray
from oxhue.optics.colour.colour import to_colour
from oxhue.optics.colour.spaces import srgb_encode
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.oxidation.schedule import hold
from oxhue.optics.tint.tint import tint

OUT = Path(__file__).parents[1] / "docs" / "examples"
SEED = 7
WIDTH, HEIGHT = 960, 640
DIAL, RADIUS, HUB = (360, 320), 270, 60
CARD, BARE = (720, 60, 180, 180), (720, 420, 180, 140)
CLOTH = 0.035
VEIL, EXPOSURE, BALANCE = 0.03, 0.93, (1.05, 1.0, 0.93)  # what the camera does to the light
KILN_PACE = 1.25  # this kiln oxidises faster than the shipped law
PIECES = (("a", 380, 20), ("b", 420, 20), ("c", 450, 20), ("d", 480, 20), ("e", 450, 60))
SLIDE_NM, SPECTRUM_NOISE = 52.0, 0.004


def thickness_nm(x: FloatArray, y: FloatArray) -> FloatArray:
    """Oxide on the dial: it stood nearer the kiln's hot wall on its left."""
    across, up = (x - DIAL[0]) / RADIUS, (y - DIAL[1]) / RADIUS
    return 44.0 - 13.0 * across - 4.0 * up**2


def dial(rng: np.random.Generator) -> Image.Image:
    """The photo: dial with bare hour marks, a white card, a strip of bare metal, dark cloth."""
    ramp = solve(parse_stack("TiO2(siefke2016) 0..80nm / Ti(johnson1974)"))
    colours = np.asarray(to_colour(ramp).srgb_linear)
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(float)
    radius = np.hypot(x - DIAL[0], y - DIAL[1])
    hour = np.rad2deg(np.arctan2(y - DIAL[1], x - DIAL[0])) % 30.0
    mark = (np.minimum(hour, 30.0 - hour) * np.deg2rad(1.0) * radius < 6.0) & (radius > 200.0)
    on_dial = (radius < RADIUS) & (radius > HUB)
    nm = np.where(mark & (radius < 250.0), 0.0, thickness_nm(x, y))
    picture = np.full((HEIGHT, WIDTH, 3), CLOTH)
    for channel in range(3):
        film = np.interp(nm, np.arange(81.0), colours[:, channel])
        picture[..., channel] = np.where(on_dial, film, CLOTH)
    for (left, top, width, height), light in ((CARD, np.full(3, 0.9)), (BARE, colours[0])):
        picture[top : top + height, left : left + width] = light
    picture = EXPOSURE * np.array(BALANCE) * ((1.0 - VEIL) * picture + 0.4 * VEIL)
    picture += 0.006 * np.sqrt(np.maximum(picture, 0.01)) * rng.standard_normal(picture.shape)
    codes = np.rint(255.0 * srgb_encode(np.clip(picture, 0.0, 1.0)))
    return Image.fromarray(codes.astype(np.uint8))


def pieces(rng: np.random.Generator) -> str:
    """Test pieces of the workshop's kiln, each read from a photo beside a white card."""
    lines = ["# Invented: titanium test pieces of the clock workshop's kiln", "id,metal,"
             "temperature_C,time_min,hex,how"]  # fmt: skip
    for name, temperature_C, time_min in PIECES:
        usual = tint("Ti", hold(temperature_C, 60.0 * time_min)).thickness_nm
        nm = KILN_PACE * usual * np.exp(0.05 * rng.standard_normal())
        seen = to_colour(solve(parse_stack(f"TiO2 {nm:.1f}nm / Ti")))
        lines.append(f"{name},Ti,{temperature_C},{time_min},{seen.srgb_hex},card")
    return "\n".join(lines) + "\n"


def log() -> str:
    """A thermocouple's log: the kiln climbs, holds, and is switched off."""
    minutes = np.arange(0, 91, 5)
    degrees = np.interp(minutes, [0, 35, 55, 90], [20, 452, 452, 190])
    rows = "".join(f"{m},{t:.0f}\n" for m, t in zip(minutes, degrees, strict=True))
    return "# Invented: the workshop's kiln\ntime_min,temperature_C\n" + rows


def spectrum(rng: np.random.Generator) -> str:
    """Reflectance of a numeral plate as a small spectrometer gives it."""
    nm = np.arange(400.0, 801.0, 5.0)
    film = solve(parse_stack(f"TiO2(siefke2016) {SLIDE_NM}nm / Ti(johnson1974)"), nm)
    read = film.R + SPECTRUM_NOISE * rng.standard_normal(nm.size)
    rows = "".join(f"{w:g},{100.0 * r:.2f}\n" for w, r in zip(nm, read, strict=True))
    return "# Invented: a numeral plate\nwavelength_nm,reflectance_percent\n" + rows


def spots(picture: Image.Image) -> str:
    """Colours of nine spots across the dial, as a photo without a card gives them."""
    rows = ["# Invented: spots across the dial, from its right to its left", "id,hex,how"]
    pixels = np.asarray(picture, dtype=float)
    for number, x in enumerate(np.linspace(DIAL[0] + 240, DIAL[0] - 240, 9).astype(int), 1):
        y = DIAL[1] - 90 if abs(x - DIAL[0]) > HUB else DIAL[1] - 150
        mean = pixels[y - 6 : y + 7, x - 6 : x + 7].reshape(-1, 3).mean(axis=0)
        rows.append(f"{number},#{''.join(f'{round(c):02x}' for c in mean)},photo")
    return "\n".join(rows) + "\n"


def main() -> None:
    """Write all files."""
    OUT.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(SEED)
    picture = dial(rng)
    picture.save(OUT / "dial.jpg", quality=90)
    texts = {
        "pieces.csv": pieces(rng),
        "kiln-log.csv": log(),
        "plate.csv": spectrum(rng),
        "spots.csv": spots(picture),
    }
    for name, text in texts.items():
        (OUT / name).write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
