"""Cases 1 to 5: the optics by itself, against a library's loop and a bare exponential."""

from __future__ import annotations

import tracemalloc
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np

from oxhue.optics._typing import ComplexArray, FloatArray
from oxhue.optics.colour.colour import spectra_to_xyz
from oxhue.optics.colour.illuminants import tristimulus_weights
from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.merit import make_merit
from oxhue.optics.films.engine.gradient import coherent_gradient, gradient
from oxhue.optics.films.engine.thickness_scan import reflectance_scan
from oxhue.optics.films.engine.transfer_matrix import (
    Incidence,
    reflectance_transmittance,
    solve_arrays,
)
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.films.solve import solve

from .results import CaseResult, Finding
from .stacks import WAVELENGTH_NM, alike_stacks, random_stacks
from .timing import agree, exponentials, interleaved, ratio

LAYERS = 21
_IN_A_ROW = 10  # calls


def library() -> Any:
    """The library's multilayer optics, without what it says of its optional parts."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour.phenomena

    return colour.phenomena


def library_loop(
    index: ComplexArray, thickness_nm: FloatArray, count: int
) -> Callable[[], FloatArray]:
    """Reflectance (count, W) of the first stacks by one call of the library for each."""
    multilayer = library().multilayer_tmm

    def run() -> FloatArray:
        return np.array(
            [
                multilayer(index[i] if index.ndim == 3 else index, thickness_nm[i], WAVELENGTH_NM)[
                    0
                ][:, 0, 0, 0]
                for i in range(count)
            ]
        )

    return run


def one_layer_sweep(quick: bool) -> CaseResult:
    """Case 1: a sweep of one oxide layer on its metal, to XYZ."""
    # long: a case with its rivals in view of each other
    count, looped = (60, 3) if quick else (2_000, 40)
    text = f"TiO2 0..{(count - 1) * 0.1:.1f}nm step 0.1nm / Ti"
    stack = parse_stack(text)
    thickness_nm = stack.layers[0].thickness_nm
    film, metal = (medium.nk(WAVELENGTH_NM) for medium in (stack.layers[0].medium, stack.substrate))
    index = np.stack([np.ones_like(film), film, metal])
    weights = tristimulus_weights(WAVELENGTH_NM, "D65", 2)
    chosen = thickness_nm[np.linspace(0, count - 1, looped).astype(int)]
    loop, single = library_loop(index, chosen[:, None], looped), library().thin_film_tmm

    def ours() -> FloatArray:
        return reflectance_scan(
            film, metal[None], thickness_nm, wavelength_nm=WAVELENGTH_NM, weights=weights
        )[0]

    def front_door() -> FloatArray:
        return spectra_to_xyz(solve(stack, WAVELENGTH_NM).R, WAVELENGTH_NM)

    def at_once() -> FloatArray:
        found: FloatArray = single(index, thickness_nm, WAVELENGTH_NM)[0][:, 0, :, 0].T @ weights
        return found

    checks = (
        agree(
            "XYZ of the sweep and of the library's loop",
            ours()[np.linspace(0, count - 1, looped).astype(int)],
            loop() @ weights,
        ),
        agree("and of the library in one call", ours(), at_once()),
        agree("and of the front door", ours(), front_door()),
    )
    taken = interleaved(
        {
            "loop": lambda: loop() @ weights,
            "once": at_once,
            "ours": ours,
            "row": lambda: [ours() for _ in range(_IN_A_ROW)],
            "door": front_door,
            "exp": exponentials(thickness_nm.size * WAVELENGTH_NM.size),
        },
        1.0 if quick else 15.0,
    )
    share = count / looped
    return CaseResult(
        1,
        f"One-layer sweep, {count:,} thicknesses x {WAVELENGTH_NM.size} wavelengths to XYZ",
        checks,
        (
            Finding(
                "library's loop over ours", ratio(taken["loop"], taken["ours"], share), least=500.0
            ),
            Finding(
                f"the same, ours called {_IN_A_ROW} times in a row",
                ratio(taken["loop"], taken["row"], _IN_A_ROW * share),
                least=500.0,
            ),
            Finding("library in one call over ours", ratio(taken["once"], taken["ours"])),
            Finding(
                "library's loop over the front door (`solve`, `spectra_to_xyz`)",
                ratio(taken["loop"], taken["door"], share),
            ),
            Finding(
                "ours over a bare exponential of all phases", ratio(taken["ours"], taken["exp"])
            ),
        ),
        (
            f"The loop was timed on {looped} of the thicknesses, one after another, and scaled to "
            "all. Ours, called once between the others, finds its code and data out of the caches.",
        ),
    )


def random_multilayers(quick: bool) -> CaseResult:
    """Case 2: stacks that share nothing."""
    # long: a case with its rivals in view of each other
    count, looped = (40, 2) if quick else (10_000, 25)
    index, thickness_nm = random_stacks(count, LAYERS)
    loop, stacks = library_loop(index, thickness_nm, looped), (index, thickness_nm, WAVELENGTH_NM)

    def ours() -> FloatArray:
        return solve_arrays(*stacks).R

    whole = solve_arrays(*(part[:looped] for part in stacks[:2]), WAVELENGTH_NM)
    checks = (
        agree("R of ours and of the library", ours()[:looped], loop()),
        agree("and of ours with what each layer absorbs", ours()[:looped], whole.R),
    )
    bare = exponentials(thickness_nm.size * WAVELENGTH_NM.size)
    contenders = {"ours": ours, "exp": bare, "loop": loop}
    wall = interleaved(contenders, 1.0 if quick else 15.0, on_the_wall=True)
    contenders |= {"whole": lambda: solve_arrays(*stacks).layer_A}  # type: ignore[dict-item]
    taken = interleaved(contenders, 1.0 if quick else 25.0)
    share = count / looped
    return CaseResult(
        2,
        f"Random {LAYERS}-layer stacks, {count:,} x {WAVELENGTH_NM.size}, each of its own media",
        checks,
        (
            Finding(
                "library's loop over ours, by the clock on the wall",
                ratio(wall["loop"], wall["ours"], share),
                least=40.0,
            ),
            Finding("the same in processors' time", ratio(taken["loop"], taken["ours"], share)),
            Finding(
                "ours over a bare exponential of all phases, by the clock on the wall",
                ratio(wall["ours"], wall["exp"]),
                most=1.0,
            ),
            Finding("the same in processors' time", ratio(taken["ours"], taken["exp"]), most=1.0),
            Finding(
                "with what each layer absorbs, over a bare exponential, in processors' time",
                ratio(taken["whole"], taken["exp"]),
            ),
        ),
        (
            f"The loop was timed on {looped} of the stacks and scaled to all. Reading and "
            "checking the indices, 16 bytes a phase, is part of the time. Ours takes a thread for "
            "each core, loop and exponential one; processors' time is that of all threads.",
        ),
    )


def alike_multilayers(quick: bool) -> CaseResult:
    """Case 3: stacks of the same media, as in a tolerance or a search."""
    # long: a case with its rivals in view of each other
    count, looped = (40, 2) if quick else (10_000, 25)
    random, alike = random_stacks(count, LAYERS), alike_stacks(count, LAYERS)
    loop = library_loop(*alike, looped)
    batched = library().matrix_transfer_tmm

    def ours() -> FloatArray:
        return solve_arrays(*alike, WAVELENGTH_NM).R

    def in_one_call() -> FloatArray:
        found = batched(n=alike[0], t=alike[1][:looped], theta=0.0, wavelength=WAVELENGTH_NM).M_s
        return np.abs(found[:, 0, :, 1, 0] / found[:, 0, :, 0, 0]).T ** 2

    checks = (
        agree("R of ours and of the library", ours()[:looped], loop()),
        agree("and of the library in one call", ours()[:looped], in_one_call()),
    )
    taken = interleaved(
        {
            "loop": loop,
            "once": in_one_call,
            "random": lambda: solve_arrays(*random, WAVELENGTH_NM).R,
            "ours": ours,
            "exp": exponentials(alike[1].size * WAVELENGTH_NM.size),
        },
        1.0 if quick else 30.0,
    )
    share = count / looped
    return CaseResult(
        3,
        f"{LAYERS}-layer stacks of the same media, {count:,} x {WAVELENGTH_NM.size}",
        checks,
        (
            Finding(
                "random stacks over these, per stack",
                ratio(taken["random"], taken["ours"]),
                least=2.0,
            ),
            Finding("library's loop over ours", ratio(taken["loop"], taken["ours"], share)),
            Finding(
                "library, all thicknesses in one call, over ours",
                ratio(taken["once"], taken["ours"], share),
            ),
            Finding(
                "ours over a bare exponential of all phases", ratio(taken["ours"], taken["exp"])
            ),
        ),
    )


def gradients(quick: bool) -> CaseResult:
    """Case 4: derivatives against one forward pass."""
    # long: a case with its rivals in view of each other
    findings, checks, peaks = [], [], []
    numbers = (4, 8) if quick else (5, 10, 20, 40, 80)
    lit = Incidence.at(np.ones_like(WAVELENGTH_NM), np.zeros(()))
    for layers in numbers:
        stacks = *alike_stacks(8 if quick else 400, layers), WAVELENGTH_NM
        light = {"incidence": lit, "polarization": "mean"}
        whole, plain = gradient(*stacks), solve_arrays(*stacks)
        checks.append(agree(f"R at {layers} layers", whole.R, plain.R))
        taken = interleaved(
            {
                "forward": lambda stacks=stacks, light=light: reflectance_transmittance(
                    *stacks, **light
                ),
                "R": lambda stacks=stacks, light=light: coherent_gradient(
                    *stacks, **light, to_index=False, of="R"
                ),
                "both": lambda stacks=stacks, light=light: coherent_gradient(
                    *stacks, **light, to_index=False
                ),
                "all": lambda stacks=stacks, light=light: coherent_gradient(*stacks, **light),
            },
            0.5 if quick else 6.0,
        )
        findings += [
            Finding(
                f"{layers} layers: {what}, over R and T",
                ratio(taken[name], taken["forward"]),
                most=most,
            )
            for name, what, most in (
                ("R", "R to all thicknesses", 4.0),
                ("both", "R and T, each to all thicknesses", None),
                ("all", "R and T, each to all thicknesses and indices", None),
            )
        ]
        tracemalloc.start()
        coherent_gradient(*stacks, **light, to_index=False)
        peaks.append(tracemalloc.get_traced_memory()[1] / (layers + 1) / 1e6)
        tracemalloc.stop()
    designs = 8 if quick else 400
    findings += [_merit(layers, count, quick) for count in (1, designs) for layers in numbers]
    per_layer = ", ".join(f"{p:.2f} at {n}" for n, p in zip(numbers, peaks, strict=True))
    return CaseResult(
        4,
        "Gradient to all layers",
        tuple(checks),
        tuple(findings),
        (
            "The goal is that of one function of the stacks, as a merit is; R and T are two.",
            f"Peak memory of a gradient to the thicknesses of {len(stacks[1])} stacks, megabytes "
            f"per boundary: {per_layer} layers.",
        ),
    )


def _merit(layers: int, designs: int, quick: bool) -> Finding:
    """The merit of designs with its slopes against the merit alone."""
    goals = [parse_goal("R>95% 450..650nm"), parse_goal("R<5% 700..780nm")]
    media = [parse_medium("SiO2"), parse_medium("TiO2")]
    merit = make_merit(parse_stack("n=1.52"), media, goals, density=1 if quick else 3)
    which = np.arange(layers) % 2
    shape = (layers,) if designs == 1 else (designs, layers)
    thickness_nm = np.random.default_rng(layers).uniform(40.0, 120.0, shape)
    taken = interleaved(
        {
            "forward": lambda: merit.residuals(which, thickness_nm),
            "slopes": lambda: merit.with_slopes(which, thickness_nm),
        },
        0.3 if quick else 2.0,
    )
    return Finding(
        f"{layers} layers, {designs} at a time: merit with its slopes over the merit alone",
        ratio(taken["slopes"], taken["forward"]),
        most=4.0,
    )


def oblique(quick: bool) -> CaseResult:
    """Case 5: both polarisations at a slant against normal incidence."""
    count = 20 if quick else 2_000
    findings, checks = [], []
    for what, stacks in (
        ("random media", random_stacks(count, LAYERS)),
        ("the same media", alike_stacks(count, LAYERS)),
    ):
        s, p, mean = (
            solve_arrays(*stacks, WAVELENGTH_NM, 50.0, one).R for one in ("s", "p", "mean")
        )  # type: ignore[arg-type]
        checks.append(agree(f"mean of s and p, {what}", 0.5 * (s + p), mean))
        taken = interleaved(
            {
                "normal": lambda stacks=stacks: solve_arrays(*stacks, WAVELENGTH_NM).R,
                "oblique": lambda stacks=stacks: solve_arrays(*stacks, WAVELENGTH_NM, 50.0).R,
            },
            0.5 if quick else 15.0,
        )
        findings.append(
            Finding(
                f"{what}: 50°, both polarisations, over square on",
                ratio(taken["oblique"], taken["normal"]),
                most=2.2,
            )
        )
    return CaseResult(
        5, f"Oblique incidence, {LAYERS} layers, {count:,} stacks", tuple(checks), tuple(findings)
    )
