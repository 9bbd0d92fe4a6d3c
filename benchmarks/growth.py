"""How cost grows with layers, wavelengths, stacks and pixels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from oxhue.optics._typing import ComplexArray, FloatArray
from oxhue.optics.films.engine.gradient import gradient
from oxhue.optics.films.engine.transfer_matrix import solve_arrays

from .jobcases import job
from .stacks import alike_stacks
from .timing import interleaved

STRAIGHT = 0.1
"""A slope within this of 1 between the upper sizes counts as a straight line."""


@dataclass(frozen=True)
class Growth:
    """Seconds against size, everything else held."""

    what: str
    held: str
    sizes: FloatArray
    seconds: FloatArray

    @property
    def slope(self) -> float:
        """Of log cost against log size over the upper half of the sizes."""
        half = slice((self.sizes.size - 1) // 2, None)
        return float(np.polyfit(np.log(self.sizes[half]), np.log(self.seconds[half]), 1)[0])

    def __str__(self) -> str:
        verdict = "a straight line" if abs(self.slope - 1.0) <= STRAIGHT else "see below"
        return (
            f"- {self.what} ({self.held}), {self.sizes[0]:,.0f} to {self.sizes[-1]:,.0f}: in the "
            f"upper half cost grows as the power {self.slope:.2f}: {verdict}."
        )


EXPLANATION = (
    "At small sizes a line is flat: a call costs some tens of microseconds, and each layer some "
    "more, whatever its arrays hold. A map's tables cost the same for any number of pixels, so "
    "its line rises only once the pixels outweigh them. A gradient keeps the fields at all "
    "boundaries of a block, which at a hundred layers outgrow the caches. Two hundred stacks are "
    "one block up to some hundred wavelengths; from two on two threads share the memory, by which "
    "each loses a sixth of its processor time and the clock gains."
)


def measured(quick: bool) -> list[Growth]:
    """All lines of the plot."""
    few = 4 if quick else None
    layers = [1, 2, 4, 8, 16, 32, 64, 128][:few]
    wavelengths = [20, 40, 80, 160, 320, 640, 1_280, 2_560][:few]
    stacks = [50, 100, 200, 400, 800, 1_600, 3_200, 6_400, 12_800][:few]
    pixels = [100_000, 1_000_000, 3_000_000, 6_000_000, 12_000_000, 24_000_000][
        : 2 if quick else None
    ]
    seconds = 0.05 if quick else 1.0
    return [
        _lines("layers", "200 stacks x 81 wavelengths", layers,
               [_stretched(*alike_stacks(200, n), 81) for n in layers], seconds),
        _lines("layers, with all derivatives", "200 stacks x 81 wavelengths", layers,
               [_stretched(*alike_stacks(200, n), 81) for n in layers], seconds,
               with_gradient=True),
        _lines("wavelengths", "200 stacks of 21 layers", wavelengths,
               [_stretched(*alike_stacks(200, 21), n) for n in wavelengths], seconds),
        _lines("stacks", "21 layers x 81 wavelengths", stacks,
               [_stretched(*alike_stacks(n, 21), 81) for n in stacks], seconds),
        Growth("pixels of a map", "tables included", np.array(pixels, dtype=float),
               np.array([job("map", n)["cpu_s"] for n in pixels])),
    ]  # fmt: skip


def _stretched(
    index: ComplexArray, thickness_nm: FloatArray, points: int
) -> tuple[ComplexArray, FloatArray, FloatArray]:
    """The same stacks on another number of wavelengths."""
    grid = np.linspace(380.0, 780.0, points)
    at = np.linspace(0, index.shape[-1] - 1, points).round().astype(int)
    return index[:, at], thickness_nm, grid


def _lines(
    what: str,
    held: str,
    sizes: Sequence[int],
    stacks: Sequence[tuple[ComplexArray, FloatArray, FloatArray]],
    budget_s: float,
    with_gradient: bool = False,
) -> Growth:
    run = gradient if with_gradient else solve_arrays
    taken = interleaved(
        {str(n): (lambda s=s: run(*s)) for n, s in zip(sizes, stacks, strict=True)},
        budget_s * len(sizes),
        least=3,
    )
    seconds = np.array([np.median(taken[str(n)]) for n in sizes])
    return Growth(what, held, np.array(sizes, dtype=float), seconds)


def draw(lines: Sequence[Growth], path: Path) -> None:
    """Cost against size, each relative to its largest, with the straight line."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.5, 5.0), layout="constrained")
    axes = figure.subplots()
    for line in lines:
        axes.plot(
            line.sizes / line.sizes[-1], line.seconds / line.seconds[-1], "o-", label=line.what
        )
    ends = np.array([min(axes.get_xlim()[0], 1e-3), 1.0])
    axes.plot(ends, ends, "k--", lw=1.0, label="straight line")
    axes.set(
        xscale="log", yscale="log", xlabel="size, relative to the largest measured",
        ylabel="cost, relative to that of the largest",
    )  # fmt: skip
    axes.grid(True, which="major", alpha=0.3)
    axes.legend()
    figure.savefig(path, dpi=120)
