"""Films on real surfaces, read with real cameras and lights: how often do stated 90 % ranges hold?

Run as ``python -m benchmarks.worlds``; ``--write`` renews ``worlds.md``. Every world has titanium
dioxide on titanium, 5 to 245 nm, and something that the plain model of a flat clear film leaves
out, but for one whose films come from the prior of the question, faults and all, where 90 % are
due; the readings go through the door for many readings. A reading *holds* where the true thickness
lies in its 90 % region, and *fits* where the answer says that a film in question does. Of those
that do not hold, *flagged* is the share whose fit to films without a fault is rarer than that of
2 % of the readings of the first world. ``--only`` picks worlds, the first always among them.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np

from benchmarks.drawn import draw_films
from oxhue.optics._typing import ComplexArray, FloatArray
from oxhue.optics.colour.illuminants import tristimulus_weights
from oxhue.optics.colour.spaces import (
    SRGB_WHITE_XYZ,
    lab_to_xyz,
    srgb_encode,
    srgb_to_lab,
    xyz_to_lab,
    xyz_to_srgb_linear,
)
from oxhue.optics.films.engine.transfer_matrix import solve_arrays
from oxhue.optics.films.materials.effective_medium import bruggeman
from oxhue.optics.films.spectra import DEFAULT_WAVELENGTH_NM
from oxhue.optics.gauge.batch import FEW, NamedReading, gauge_many
from oxhue.optics.gauge.result import RowEstimate
from oxhue.optics.inference.colour_table import VEIL
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.likelihood import make_prior, table_for
from oxhue.optics.inference.question import FilmQuestion
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.inference.uncertainty import DEFAULTS, Uncertainty

BETWEEN_NM = (5.0, 245.0)
WAYS = ("instrument", "card", "photo")
FALSE_ALARMS = 0.02
INDEX_SPREAD = 0.025
MOST_WIDTHS = 400
"""Readings, one by one, for the table of half widths."""
THICKNESSES = ((5.0, 60.0), (60.0, 120.0), (120.0, 245.0))
_W = DEFAULT_WAVELENGTH_NM
_UNEVEN_NODES = np.linspace(-2.5, 2.5, 11)
WIDTHS = (
    "Half of the first candidate's 90 % interval in the first world, middle of the readings, by "
    "true\nthickness and by whether the kind of oxide is left open:\n\n"
)
_HERE = Path(__file__).with_name("worlds.md")
_LUMA = np.array([0.2126, 0.7152, 0.0722])


@dataclass(eq=False)
class Films:
    """Films as they are: index (K, W) of film and metal, thickness (K,), a layer between them."""

    film: ComplexArray
    metal: ComplexArray
    thickness_nm: FloatArray
    between_nm: FloatArray
    spread: FloatArray

    @classmethod
    def alike(cls, film: ComplexArray, metal: ComplexArray, thickness_nm: FloatArray) -> Films:
        """Places (K,) of one piece, of the same media (W,)."""
        zero = np.zeros(thickness_nm.size)
        media = (np.tile(one, (thickness_nm.size, 1)) for one in (film, metal))
        return cls(*media, thickness_nm, zero, zero)

    def take(self, row: int) -> Films:
        """One of them alone."""
        one = slice(row, row + 1)
        return Films(*(getattr(self, part.name)[one] for part in fields(self)))

    def reflectance(self, angle_deg: FloatArray) -> FloatArray:
        """Share of the light (K, W) sent back, averaged over the spread of thickness."""
        if not self.spread.any():
            return self._even(self.thickness_nm, angle_deg)
        weight = np.exp(-0.5 * _UNEVEN_NODES**2)
        each = [
            w * self._even(np.maximum(self.thickness_nm * (1.0 + z * self.spread), 0.0), angle_deg)
            for z, w in zip(_UNEVEN_NODES, weight / weight.sum(), strict=True)
        ]
        return np.asarray(sum(each))

    def _even(self, thickness_nm: FloatArray, angle_deg: FloatArray) -> FloatArray:
        mixed = np.sqrt(bruggeman(self.film**2, self.metal**2, 0.5))
        index = np.stack([np.ones_like(self.film), self.film, mixed, self.metal], axis=1)
        layers = np.stack([thickness_nm, self.between_nm], axis=1)
        return np.asarray(solve_arrays(index, layers, _W, angle_deg).R)


@dataclass(frozen=True)
class World:
    """What a world does to films, to the light that they send back, and to the picture.

    Attributes
    ----------
    light : str
        What truly shone; readers take it for D65.
    ways : tuple of str
        Ways of reading it that make sense: no camera or lamp is in a colour meter's way.
    """

    name: str
    change: Callable[[Films, np.random.Generator], None] | None = None
    surface: Callable[[FloatArray, np.random.Generator], FloatArray] | None = None
    camera: tuple[tuple[float, float], tuple[float, float]] | None = None
    light: str = "D65"
    ways: tuple[str, ...] = WAYS


def own_oxide(films: Films, rng: np.random.Generator) -> None:
    """An oxide of no list: ``n = a + b / λ²``, 2.15 to 2.50 at 550 nm."""
    count = len(films.film)
    at_550, bend = rng.uniform(2.15, 2.50, count), rng.uniform(0.02, 0.06, count)
    films.film = (at_550[:, None] + bend[:, None] * ((1e3 / _W) ** 2 - (1e3 / 550.0) ** 2)) + 0j


def absorb(films: Films, rng: np.random.Generator) -> None:
    """An oxide short of oxygen: k of 0.02 to 0.15."""
    films.film = films.film + 1j * rng.uniform(0.02, 0.15, len(films.film))[:, None]


def lay_between(films: Films, rng: np.random.Generator) -> None:
    """A layer half metal and half oxide under the film, 5 to 30 nm."""
    films.between_nm = rng.uniform(5.0, 30.0, len(films.film))


def vary(films: Films, rng: np.random.Generator) -> None:
    """Thickness that varies over the patch by 5 to 20 % (standard deviation)."""
    films.spread = rng.uniform(0.05, 0.20, len(films.film))


def scatter(share: FloatArray, rng: np.random.Generator) -> FloatArray:
    """10 to 40 % of the light scattered, a grey third of it back to the eye."""
    lost = rng.uniform(0.10, 0.40, (len(share), 1))
    return (1.0 - lost) * share + lost / 3.0


def roll(share: FloatArray, rng: np.random.Generator) -> FloatArray:
    """A rolled finish: ``exp(-(4πσ/λ)²)`` of the mirror's light is left, and 3 % grey."""
    sigma_nm = rng.uniform(15.0, 35.0, (len(share), 1))
    return share * np.exp(-((4.0 * np.pi * sigma_nm / _W) ** 2)) + 0.03


WORLDS = (
    World("as modelled"),
    World("unlisted index", own_oxide),
    World("absorbing oxide, k 0.02-0.15", absorb),
    World("metal-oxide layer under the film", lay_between),
    World("thickness varies 5-20 %", vary),
    World("10-40 % scattered", surface=scatter),
    World("rolled finish", surface=roll),
    World("office tube (FL2) as daylight", light="FL2", ways=("card", "photo")),
    World("office tube (FL11) as daylight", light="FL11", ways=("card", "photo")),
    World("white LED (LED-B3) as daylight", light="LED-B3", ways=("card", "photo")),
    World("mild phone curve", camera=((1.05, 1.20), (1.05, 1.25)), ways=("card", "photo")),
    World("hard phone curve", camera=((1.20, 1.40), (1.20, 1.50)), ways=("card", "photo")),
)
WEIGHED = World("as weighed: faults as often as their prior, and the model's misses")
"""Not a flat clear film of a listed kind every time, but what the question takes readings for."""


def draw(
    world: World, how: str, count: int, *, seed: int, film: str = "TiO2"
) -> tuple[FloatArray, FloatArray]:
    """True thicknesses (K,) and CIELAB readings (K, 3) of a world."""
    if world is WEIGHED:
        return draw_weighed(how, count, seed=seed, film=film)
    rng = np.random.default_rng([seed, WORLDS.index(world), WAYS.index(how)])
    films = draw_world_films(world, count, rng, film=film)
    return films.thickness_nm, read(world, films, DEFAULTS[how], rng)


def draw_weighed(
    how: str, count: int, *, seed: int, film: str = "TiO2"
) -> tuple[FloatArray, FloatArray]:
    """True thicknesses (K,) and readings (K, 3) out of the prior of the question itself."""
    rng = np.random.default_rng([seed, len(WORLDS), WAYS.index(how)])
    reading = parse_reading("50,0,0", how)
    question = FilmQuestion.of(film, "Ti").suited_to([reading])
    prior = make_prior(question, INDEX_SPREAD)
    table = table_for(question, reading.doubts)
    weight = prior.row_weights(np.zeros(table.lab.shape[:3]))
    rows = rng.choice(weight.size, size=count, p=weight.ravel())
    seen = rng.choice(table.view_weight.size, size=count, p=table.view_weight)
    _, e, d = np.unravel_index(rows, weight.shape)
    truth = prior.scale_nm[d] / (1.0 + prior.index_error[e])
    return truth, table.draw(rows * table.view_weight.size + seen, rng)


def draw_world_films(
    world: World, count: int, rng: np.random.Generator, *, film: str = "TiO2"
) -> Films:
    """Films of a world, of the data sets shipped."""
    pairs = list_film_models((film,), "Ti")
    drawn = draw_films(pairs, BETWEEN_NM, INDEX_SPREAD, count=count, rng=rng)
    own = [pairs[j] for j in drawn.pair]
    films = Films(
        np.array([pair.film.nk(_W) for pair in own]) * (1.0 + drawn.index_error[:, None]),
        np.array([pair.substrate.nk(_W) for pair in own]),
        drawn.thickness_nm,
        np.zeros(count),
        np.zeros(count),
    )
    if world.change:
        world.change(films, rng)
    return films


def read(world: World, films: Films, doubts: Uncertainty, rng: np.random.Generator) -> FloatArray:
    """CIELAB as read: angle, glare, exposure, the camera's curve, white balance and noise."""
    count = len(films.film)
    angle = rng.uniform(doubts.angle_low_deg, doubts.angle_high_deg, count)
    share = films.reflectance(angle)
    if world.surface:
        share = world.surface(share, rng)
    return take_readings(world, share, doubts, rng)


def take_readings(
    world: World, share: FloatArray, doubts: Uncertainty, rng: np.random.Generator
) -> FloatArray:
    """CIELAB (K, 3) of light (K, W) that is sent back, each in a picture of its own."""
    lab = see(world, share, doubts, rng, pictures=len(share))
    sd = np.full(3, doubts.noise_de / np.sqrt(3.0))
    sd[1:] = np.hypot(sd[1:], doubts.white_balance_de / np.sqrt(2.0))
    return lab + sd * rng.standard_normal(lab.shape)


def take_picture(
    world: World, share: FloatArray, doubts: Uncertainty, rng: np.random.Generator
) -> FloatArray:
    """CIELAB (K, 3) of light (K, W) from places in one picture, without the noise of each."""
    lab = see(world, share, doubts, rng, pictures=1)
    lab[:, 1:] += doubts.white_balance_de / np.sqrt(2.0) * rng.standard_normal(2)
    return lab


def see(
    world: World,
    share: FloatArray,
    doubts: Uncertainty,
    rng: np.random.Generator,
    *,
    pictures: int,
) -> FloatArray:
    """CIELAB (K, 3) of light (K, W), in as many pictures or in one: glare, exposure, the camera."""
    weights = tristimulus_weights(_W, world.light, 2)
    white = weights.sum(axis=0)
    glare = rng.uniform(0.0, doubts.glare, (pictures, 1))
    xyz = (1.0 - glare) * (share @ weights) + VEIL * glare * white
    lab = xyz_to_lab(xyz * np.exp(doubts.gain * rng.standard_normal((pictures, 1))), white)
    if world.camera:
        lab = bend(lab, *(rng.uniform(*ends, (pictures, 1)) for ends in world.camera))
    return lab


def draw_run(places: int, rng: np.random.Generator) -> FloatArray:
    """Thickness (K,) along a piece, rising more or less evenly [nm]."""
    start, end = rng.uniform(5.0, 40.0), rng.uniform(90.0, 220.0)
    share = np.linspace(0.0, 1.0, places) ** np.exp(rng.uniform(-1.0, 1.0))
    return np.asarray(start + (end - start) * share)


def draw_media(film: str, rng: np.random.Generator) -> tuple[ComplexArray, ComplexArray]:
    """Index (W,) of the film of one piece and of its metal, of the data sets shipped."""
    pairs = list_film_models((film,), "Ti")
    drawn = draw_films(pairs, BETWEEN_NM, INDEX_SPREAD, count=1, rng=rng)
    pair = pairs[int(drawn.pair[0])]
    return pair.film.nk(_W) * (1.0 + drawn.index_error[0]), pair.substrate.nk(_W)


def light_of_piece(world: World, films: Films, angle_deg: float, seed: int) -> FloatArray:
    """Share of the light (K, W) from the places of one piece, which the world changes as one."""
    shares = []
    for row in range(len(films.film)):
        place = films.take(row)
        if world.change:
            world.change(place, np.random.default_rng(seed))
        share = place.reflectance(np.array([angle_deg]))
        shares.append(world.surface(share, np.random.default_rng(seed)) if world.surface else share)
    return np.concatenate(shares)


def bend(lab: FloatArray, contrast: FloatArray, saturation: FloatArray) -> FloatArray:
    """What a phone makes of a colour: code values drawn out about the middle, and from grey."""
    xyz = lab_to_xyz(lab, SRGB_WHITE_XYZ)
    code = srgb_encode(np.clip(xyz_to_srgb_linear(xyz, SRGB_WHITE_XYZ), 0.0, 1.0))
    code = 0.5 + (code - 0.5) * contrast
    grey = (code @ _LUMA)[:, None]
    code = np.clip(grey + (code - grey) * saturation, 0.0, 1.0)
    return srgb_to_lab(code)


@dataclass(frozen=True)
class Outcome:
    """What came of a world read in one way; widths are half of the first candidate's interval."""

    held: float
    passed: float
    flagged: float
    half_width_nm: float


def gauge_world(
    world: World, how: str, count: int, *, seed: int, film: str = "TiO2", batch: int = FEW
) -> tuple[FloatArray, list[RowEstimate]]:
    """True thicknesses and the estimates of their readings, drawn and read a batch at a time, each
    with a seed of its own: as people read them, one by one, or in larger batches as a table of
    thousands, in a tenth of the time."""
    truth, rows = [], []
    for done in range(0, count, batch):
        nm, lab = draw(world, how, min(batch, count - done), seed=seed + done // batch, film=film)
        truth.append(nm)
        rows += gauge_many(film, "Ti", as_readings(lab, how)).readings
    return np.concatenate(truth), rows


def as_readings(lab: FloatArray, how: str) -> list[NamedReading]:
    """CIELAB (K, 3) as people type it in, numbered."""
    lab = np.stack([np.clip(lab[:, 0], 0.0, 100.0), lab[:, 1], lab[:, 2]], axis=1)  # none is whiter
    texts = [",".join(f"{value:.3f}" for value in one) for one in lab]
    return [(str(i), parse_reading(text, how)) for i, text in enumerate(texts)]


def holds(row: RowEstimate, truth_nm: float) -> bool:
    """Whether the 90 % region has the truth."""
    return any(low <= truth_nm <= high for low, high in row.region90_nm)


def judge(truth: FloatArray, rows: list[RowEstimate], alarm_below: float) -> Outcome:
    """Counts of one world and way."""
    held = np.array([holds(row, nm) for row, nm in zip(rows, truth, strict=True)])
    p = np.array([row.plain_p for row in rows])
    ends = np.array([row.candidates[0].interval90_nm for row in rows])
    missed = ~held
    return Outcome(
        float(held.mean()),
        float(np.mean([row.fits for row in rows])),
        float((p[missed] <= alarm_below).mean()) if missed.any() else float("nan"),
        float(np.median(np.diff(ends, axis=1)) / 2.0),
    )


def run(
    count: int, seed: int, tell: Callable[[str], None], *, only: str = "", batch: int = FEW
) -> list[str]:
    """Rows of the table, one a world."""
    alarm: dict[str, float] = {}
    missed, caught = dict.fromkeys(WAYS, 0.0), dict.fromkeys(WAYS, 0.0)
    lines = ["| world | " + " | ".join(WAYS) + " |", "|---" * (1 + len(WAYS)) + "|"]
    for world in (WORLDS[0], WEIGHED, *WORLDS[1:]):
        if world is not WORLDS[0] and only not in world.name:
            continue
        cells = []
        for how in WAYS:
            if how not in world.ways:
                cells.append("–")
                continue
            truth, rows = gauge_world(world, how, count, seed=seed, batch=batch)
            p = np.array([row.plain_p for row in rows])
            alarm.setdefault(how, float(np.quantile(p, FALSE_ALARMS)))
            found = judge(truth, rows, alarm[how])
            if world not in (WORLDS[0], WEIGHED) and found.held < 1.0:
                missed[how] += 1.0 - found.held
                caught[how] += (1.0 - found.held) * found.flagged
            cells.append(
                f"{found.held:.2f} / {found.passed:.2f} / {found.flagged:.2f} / "
                f"±{found.half_width_nm:.1f} nm"
            )
        lines.append(f"| {world.name} | " + " | ".join(cells) + " |")
        tell(lines[-1])
    shares = [f"{caught[how] / max(missed[how], 1e-9):.2f}" for how in WAYS]
    lines.append("| flagged of all that do not hold | " + " | ".join(shares) + " |")
    tell(lines[-1])
    return lines


def half_widths(count: int, seed: int, tell: Callable[[str], None]) -> list[str]:
    """Rows of the table of half widths as modelled: by way, thickness and kind of film."""
    heads = [f"{low:g}-{high:g} nm" for low, high in THICKNESSES]
    lines = ["| reading | film | " + " | ".join(heads) + " |", "|---" * (2 + len(heads)) + "|"]
    for film in ("TiO2", "TiO2(amorphous)"):
        for how in WAYS:
            truth, rows = gauge_world(WORLDS[0], how, count, seed=seed, film=film)
            ends = np.array([row.candidates[0].interval90_nm for row in rows])
            half = np.diff(ends, axis=1)[:, 0] / 2.0
            found = [np.median(half[(truth >= low) & (truth < high)]) for low, high in THICKNESSES]
            lines.append(
                f"| {how} | `{film}` | " + " | ".join(f"±{nm:.1f} nm" for nm in found) + " |"
            )
            tell(lines[-1])
    return lines


def main() -> None:
    """Print the table, or write it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--only", default="", help="worlds whose name holds this")
    parser.add_argument("--together", action="store_true", help="worlds read as a file each")
    parser.add_argument("--widths", action="store_true", help="only the table of half widths")
    options = parser.parse_args()
    start = time.perf_counter()
    batch = options.draws if options.together else FEW
    widths = half_widths(min(options.draws, MOST_WIDTHS), options.seed, print)
    lines = []
    if not options.widths:
        lines = run(options.draws, options.seed, print, only=options.only, batch=batch)
    print(f"{time.perf_counter() - start:.0f} s")
    if options.write:
        head = (
            "# Real surfaces, cameras and lights\n\n"
            f"`python -m benchmarks.worlds{' --together' * options.together} --write`: TiO2 on Ti, "
            f"{options.draws} readings each, "
            f"seed {options.seed}. Held / said to fit / flagged of those that do not hold, at 2 % "
            "false alarms / half of the first candidate's 90 % interval.\n\n"
        )
        parts = [head + "\n".join(lines), WIDTHS + "\n".join(widths)]
        _HERE.write_text("\n\n".join(parts) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
