"""Rendered photos of tinted plates, gauged: how far off, and do the intervals hold?

Run as ``python -m benchmarks.photos``. Each plate lies on a bench beside a white card; the picture
gets exposure and white-balance errors, glare, a viewing angle, vignetting, noise, JPEG at quality
75 and a turned sensor (EXIF), none of which the gauge is told. Overexposed ones, which are refused,
are counted.
"""

from __future__ import annotations

import argparse
import tempfile
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
from PIL import Image

from benchmarks.drawn import draw_films
from oxhue.cli.options import show_progress
from oxhue.optics._typing import FloatArray
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.colour.spaces import SRGB_WHITE_XYZ, srgb_encode, xyz_to_srgb_linear
from oxhue.optics.errors import InputError
from oxhue.optics.gauge.batch import gauge_many
from oxhue.optics.gauge.photo import reading_from_photo
from oxhue.optics.images.white_balance import parse_patch
from oxhue.optics.inference.colour_table import VEIL
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.reading import Reading
from oxhue.optics.inference.simulate import film_xyz
from oxhue.optics.inference.uncertainty import DEFAULTS
from oxhue.optics.numerics.parallel import (
    Report,
    child_rng,
    ignore_progress,
    map_parallel,
    rng_root,
)

WIDTH, HEIGHT = 360, 240
PLATE, CARD = "60,70,80,80", "220,70,80,80"
BETWEEN_NM = (0.0, 250.0)
_ORIENTATION = 274  # the EXIF tag
_TURNED = {1: 0, 3: 2, 6: 1, 8: 3}  # EXIF orientation -> quarter turns that undo it


@dataclass(frozen=True)
class Scene:
    """What a camera gets wrong; standard deviations or largest values."""

    exposure: float = 0.10
    darker: float = 0.0  # how far the exposure is set below that of a perfect white
    balance: float = 0.05
    glare: float = 0.20
    angle_deg: float = 30.0
    vignetting: float = 0.10
    noise: float = 0.01


def photograph(xyz: FloatArray, scene: Scene, path: Path, rng: np.random.Generator) -> None:
    """Write a JPEG of a plate of one colour beside a card of 90 % white."""
    plate = xyz_to_srgb_linear(xyz, SRGB_WHITE_XYZ)
    glare = rng.uniform(0.0, scene.glare)
    plate = (1.0 - glare) * plate + glare * VEIL
    picture = np.full((HEIGHT, WIDTH, 3), 0.25)
    picture[60:160, 50:150] = plate
    picture[60:160, 210:310] = 0.9
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH]
    radius = np.hypot(x / WIDTH - 0.5, y / HEIGHT - 0.5) / np.hypot(0.5, 0.5)
    gain = np.exp(scene.exposure * rng.standard_normal() - scene.darker)
    picture *= gain * np.exp(scene.balance * rng.standard_normal(3))
    picture *= (1.0 - scene.vignetting * radius**2)[..., None]
    picture += scene.noise * np.sqrt(np.maximum(picture, 0.01)) * rng.standard_normal(picture.shape)
    codes = np.clip(np.rint(255.0 * srgb_encode(np.clip(picture, 0.0, 1.0))), 0, 255)
    orientation = int(rng.choice(list(_TURNED)))
    turned = Image.fromarray(np.rot90(codes.astype(np.uint8), _TURNED[orientation]).copy())
    exif = Image.Exif()
    exif[_ORIENTATION] = orientation
    turned.save(path, quality=75, exif=exif)


def run(
    count: int, seed: int, with_card: bool, report: Report = ignore_progress
) -> tuple[float, float, float, int]:
    """Share inside 90 %, median error and median width [nm] over plates drawn from the model, and
    how many photos were refused."""
    rng = np.random.default_rng(seed)
    how = "card" if with_card else "photo"
    pairs, viewing = list_film_models(("TiO2",), "Ti"), ViewingConditions()
    films = draw_films(pairs, BETWEEN_NM, DEFAULTS[how].index_spread, count=count, rng=rng)
    # A card must not be overexposed, so the camera is set darker; the card puts that right.
    scene = Scene(darker=0.4, glare=0.05, angle_deg=10.0) if with_card else Scene()
    angles = rng.uniform(0.0, scene.angle_deg, count)
    xyz = film_xyz(films, pairs, angles, viewing=viewing)
    taken = partial(_read, scene, with_card, rng_root(rng))
    plates = map_parallel(
        taken, list(enumerate(xyz)), report=report, what="taking and reading photos"
    )
    readings = [(str(i), reading) for i, reading in enumerate(plates) if reading is not None]
    rows = gauge_many(
        "TiO2", "Ti", readings, between_nm=BETWEEN_NM, conditions=viewing, seed=seed, report=report
    ).readings
    truth = films.thickness_nm[[int(name) for name, _ in readings]]
    ends = np.array([row.interval90_nm for row in rows])
    middle = np.array([row.thickness_nm for row in rows])
    inside = (ends[:, 0] <= truth) & (truth <= ends[:, 1])
    return (
        float(inside.mean()),
        float(np.median(np.abs(middle - truth))),
        float(np.median(ends[:, 1] - ends[:, 0])),
        count - len(readings),
    )


def _read(
    scene: Scene,
    with_card: bool,
    root: np.random.SeedSequence,
    plate: tuple[int, FloatArray],
) -> Reading | None:
    """Take a photo of a numbered plate, and read it; None where it is refused as overexposed."""
    i, xyz = plate
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plate.jpg"
        photograph(xyz, scene, path, child_rng(root, i))
        card = parse_patch(CARD) if with_card else None
        try:
            return reading_from_photo(path, parse_patch(PLATE), "Ti", white=card)
        except InputError as error:
            if "overexposed" in str(error):
                return None
            raise


def main() -> None:
    """Print both kinds of photo."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--cluster", help="work on a Dask cluster, tcp://host:port")
    options = parser.parse_args()
    print(f"{options.count} rendered photos each, seed {options.seed}, TiO2 on Ti, 0 to 250 nm")
    for with_card in (True, False):
        with show_progress("taking photos", options.cluster) as tell:
            inside, error, width, refused = run(options.count, options.seed, with_card, tell)
        name = "white card" if with_card else "no reference"
        print(
            f"{name:14} in 90 %: {inside:.3f}   error {error:.1f} nm   width {width:.1f} nm   "
            f"refused {refused}"
        )


if __name__ == "__main__":
    main()
