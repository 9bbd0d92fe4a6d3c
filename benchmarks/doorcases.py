"""Case 10: what a user calls, with its default arguments, against a library's loop and plain numpy.

Only names of the front door are timed. The library's loop is timed on some of the stacks and
scaled to all.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

import oxhue
from oxhue.optics._typing import ComplexArray, FloatArray
from oxhue.optics.colour.illuminants import tristimulus_weights
from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.merit import make_merit
from oxhue.optics.films.notation import parse_medium, parse_stack

from .enginecases import LAYERS, library, library_loop
from .results import CaseResult, Finding
from .stacks import WAVELENGTH_NM, alike_stacks, materials, random_stacks
from .timing import agree, exponentials, interleaved, ratio


def door(quick: bool) -> CaseResult:
    """Case 10: the table of the guide's page on speed."""
    rows = (
        _sweep("TiO2 0..{} / Ti", "one film swept", 400.0, quick),
        _sweep("MgF2 80nm / TiO2 0..{} / Ti", "the second film swept", None, quick),
        _grid(quick),
        _many(quick),
        _own(quick),
        *(_angles(layers, quick) for layers in (1, 11)),
        _wavelengths(1, 3.0, quick),
        _wavelengths(LAYERS, 6.0, quick),
        _single(quick),
        *(_gradient(layers, quick) for layers in (5, 20, 80)),
    )
    return CaseResult(
        10,
        "The door: public names with default arguments",
        tuple(check for checks, _ in rows for check in checks),
        tuple(finding for _, findings in rows for finding in findings),
        (
            "The library is colour-science, called once for each stack; processors' time unless "
            "said otherwise.",
        ),
    )


_Row = tuple[tuple[str, ...], tuple[Finding, ...]]


def _lab_loop(text: str, chosen: FloatArray) -> Callable[[], FloatArray]:
    """CIELAB of stacks of these thicknesses (n, L), by the library, one after another."""
    stack = oxhue.parse_stack(text)
    media = [stack.ambient, *(layer.medium for layer in stack.layers), stack.substrate]
    grid = oxhue.solve(stack).wavelength_nm
    index = np.array([medium.nk(grid) for medium in media])
    multilayer, weights = library().multilayer_tmm, tristimulus_weights(grid, "D65", 2)
    white = weights.sum(axis=0)
    import colour

    xy = colour.XYZ_to_xy(white)

    def run() -> FloatArray:
        spectra = np.array([multilayer(index, d, grid)[0][:, 0, 0, 0] for d in chosen])
        return np.asarray(colour.XYZ_to_Lab(spectra @ weights / white[1], xy))

    return run


def _sweep(pattern: str, what: str, least: float | None, quick: bool) -> _Row:
    count, looped = (60, 3) if quick else (2_000, 25)
    text = pattern.format(f"{(count - 1) * 0.1:.1f}nm step 0.1nm")
    stack, some = oxhue.parse_stack(text), np.linspace(0, count - 1, looped).astype(int)
    thickness = np.array(
        [np.broadcast_to(layer.thickness_nm, count)[some] for layer in stack.layers]
    ).T
    loop = _lab_loop(text, thickness)
    checks = (agree(f"Lab, {what}", oxhue.to_colour(text).lab[some], loop()),)
    taken = interleaved(
        {
            "loop": loop,
            "text": lambda: oxhue.to_colour(text),
            "stack": lambda: oxhue.to_colour(stack),
        },
        0.5 if quick else 8.0,
    )
    share = count / looped
    title = f"{count:,} thicknesses to Lab, {what}"
    return checks, (
        Finding(f"{title}: library's loop over `to_colour(stack)`",
                ratio(taken["loop"], taken["stack"], share), least=least),
        Finding(f"{title}: over `to_colour(text)`", ratio(taken["loop"], taken["text"], share)),
    )  # fmt: skip


def _grid(quick: bool) -> _Row:
    side, looped = (10, 3) if quick else (200, 25)
    text = f"MgF2 0..{side - 1}nm step 1nm / TiO2 0..{side - 1}nm step 1nm / Ti"
    some = np.linspace(0, side - 1, looped).astype(int)
    loop = _lab_loop(text, np.array([some, some]).T.astype(float))
    checks = (agree("Lab of a grid", oxhue.to_colour(text).lab[some, some], loop()),)
    taken = interleaved(
        {"loop": loop, "door": lambda: oxhue.to_colour(text)}, 0.5 if quick else 8.0
    )
    found = ratio(taken["loop"], taken["door"], side * side / looped)
    what = f"{side} x {side} thicknesses to Lab: library's loop over `to_colour(text)`"
    return checks, (Finding(what, found, least=150.0),)


def _many(quick: bool) -> _Row:
    count, looped = (40, 2) if quick else (10_000, 25)
    index, nm = alike_stacks(count, LAYERS)
    loop = library_loop(index, nm, looped)
    ambient, *films, substrate = (Tabulated(row) for row in index)
    layers = [oxhue.Layer(m, d, 0) for m, d in zip(films, nm.T, strict=True)]
    stack = oxhue.Stack(tuple(layers), substrate, ambient=ambient)

    def ours() -> FloatArray:
        found = oxhue.solve(stack, WAVELENGTH_NM)
        return found.R + found.T

    checks = (agree("R of alike stacks", oxhue.solve(stack, WAVELENGTH_NM).R[:looped], loop()),)
    taken = interleaved({"loop": loop, "door": ours}, 0.5 if quick else 10.0)
    what = f"{count:,} stacks of {LAYERS} layers, same media: library's loop over `solve`"
    return checks, (Finding(what, ratio(taken["loop"], taken["door"], count / looped), least=45.0),)


def _own(quick: bool) -> _Row:
    count, looped = (40, 2) if quick else (10_000, 25)
    stacks = random_stacks(count, LAYERS)
    loop = library_loop(*stacks, looped)
    contenders: dict[str, Callable[[], Any]] = {
        "loop": loop,
        "door": lambda: oxhue.solve_arrays(*stacks, WAVELENGTH_NM).R,
        "exp": exponentials(stacks[1].size * WAVELENGTH_NM.size),
    }
    checks = (agree("R, own media", contenders["door"]()[:looped], loop()),)
    wall = interleaved(contenders, 0.5 if quick else 8.0, on_the_wall=True)
    taken = interleaved(contenders, 0.5 if quick else 8.0)
    what = f"{count:,} stacks of {LAYERS} layers, own media"
    return checks, (
        Finding(f"{what}: library's loop over `solve_arrays`, by the clock on the wall",
                ratio(wall["loop"], wall["door"], count / looped), least=40.0),
        Finding(f"{what}: `solve_arrays` over the bare exponential",
                ratio(taken["door"], taken["exp"]), most=0.9),
    )  # fmt: skip


def _constant(layers: int, count: int) -> tuple[ComplexArray, FloatArray, FloatArray]:
    """One stack whose media do not depend on the wavelength, as the library takes for granted at an
    angle, and are clear, as its cosines are right for clear media alone."""
    rng = np.random.default_rng(layers)
    n = rng.uniform(1.3, 2.4, layers + 2)
    n[0] = 1.0
    grid = np.linspace(380.0, 780.0, count)
    return np.tile(n[:, None] + 0j, count), rng.uniform(20.0, 120.0, layers), grid


def _angles(layers: int, quick: bool) -> _Row:
    index, nm, grid = _constant(layers, 81)
    angles = np.arange(0.0, 86.0, 1.0)
    multilayer = library().multilayer_tmm

    def loop() -> FloatArray:
        return np.array([multilayer(index, nm, grid, float(a))[0][:, 0, 0, :].T for a in angles])

    def ours() -> FloatArray:
        found = oxhue.solve_arrays(index, nm, grid, angles)
        return np.stack([found.R_s, found.R_p], axis=1)

    checks = (agree(f"R at 86 angles, {layers} layers", ours(), loop()),)
    taken = interleaved({"loop": loop, "door": ours}, 0.3 if quick else 5.0)
    what = f"86 angles, s and p, {layers} layers: library's loop over `solve_arrays`"
    return checks, (Finding(what, ratio(taken["loop"], taken["door"]), least=12.0),)


def _wavelengths(layers: int, least: float, quick: bool) -> _Row:
    rng = np.random.default_rng(layers)
    grid = np.linspace(380.0, 780.0, 2_000)
    coarse = materials(layers + 2, rng)
    coarse[0], coarse[-1] = 1.0, 1.5
    index = np.array([np.interp(grid, WAVELENGTH_NM, row) for row in coarse])
    nm = rng.uniform(20.0, 120.0, layers)
    multilayer = library().multilayer_tmm

    def loop() -> FloatArray:
        return np.asarray(multilayer(index, nm, grid)[0][:, 0, 0, 0])

    def ours() -> FloatArray:
        return oxhue.solve_arrays(index, nm, grid).R

    checks = (agree(f"R at 2,000 wavelengths, {layers} layers", ours(), loop()),)
    taken = interleaved({"loop": loop, "door": ours}, 0.3 if quick else 3.0)
    what = f"2,000 wavelengths, {layers} layers: library over `solve_arrays`"
    return checks, (Finding(what, ratio(taken["loop"], taken["door"]), least=least),)


def eight_lines(index: ComplexArray, nm: FloatArray, grid: FloatArray) -> FloatArray:
    """Reflectance of one stack as anybody would write it."""
    Y = index[-1]
    for n, d in zip(index[-2:0:-1], nm[::-1], strict=True):
        phase = 2.0 * np.pi * n * d / grid
        t = np.tan(phase)
        Y = (Y - 1j * n * t) / (1.0 - 1j * Y * t / n)
    r = (index[0] - Y) / (index[0] + Y)
    return np.asarray(np.abs(r) ** 2)


def _single(quick: bool) -> _Row:
    stack = oxhue.parse_stack("TiO2 45nm / Ti")
    index = np.array(
        [m.nk(WAVELENGTH_NM) for m in (stack.ambient, stack.layers[0].medium, stack.substrate)]
    )
    ready, nm = stack.prepare(WAVELENGTH_NM), np.array([45.0])
    checks = (agree("R of one stack", ready.solve(nm).R, eight_lines(index, nm, WAVELENGTH_NM)),)
    taken = interleaved(
        {
            "numpy": lambda: [eight_lines(index, nm, WAVELENGTH_NM) for _ in range(200)],
            "door": lambda: [ready.solve(nm).R for _ in range(200)],
        },
        0.3 if quick else 4.0,
    )
    what = "one stack in a loop: `prepared.solve(nm).R` over eight lines of numpy"
    return checks, (Finding(what, ratio(taken["door"], taken["numpy"]), most=1.3),)


def _gradient(layers: int, quick: bool) -> _Row:
    """A merit with its slopes, against itself alone and the exponential of its phases."""
    goals = [parse_goal("R>95% 450..650nm"), parse_goal("R<5% 700..780nm")]
    media = [parse_medium("SiO2"), parse_medium("TiO2")]
    merit = make_merit(parse_stack("n=1.52"), media, goals, density=1 if quick else 3)
    which, designs = np.arange(layers) % 2, 8 if quick else 400
    nm = np.random.default_rng(layers).uniform(40.0, 120.0, (designs, layers))
    slopes = merit.with_slopes(which, nm)
    checks = (agree(f"merit of {layers} layers", slopes[0], merit.residuals(which, nm)),)
    points = sum(sight.wavelength_nm.size for sight in merit.sights)
    taken = interleaved(
        {
            "forward": lambda: merit.residuals(which, nm),
            "slopes": lambda: merit.with_slopes(which, nm),
            "exp": exponentials(nm.size * points),
        },
        0.3 if quick else 3.0,
    )
    what = f"merit of {designs} designs of {layers} layers with its slopes"
    return checks, (
        Finding(
            f"{what}, over the merit alone", ratio(taken["slopes"], taken["forward"]), most=3.0
        ),
        Finding(f"{what}, over the bare exponential", ratio(taken["slopes"], taken["exp"])),
    )  # fmt: skip


class Tabulated:
    """A medium of which the index at the benchmark's wavelengths is known, and no more."""

    kind = "oxide"

    def __init__(self, row: ComplexArray) -> None:
        self.row, self.label = row, "tabulated"

    def nk(self, _wavelength_nm: Any) -> ComplexArray:
        """The row, whatever is asked."""
        return self.row

    def reverse(self) -> Tabulated:
        """Itself."""
        return self
