"""The same numbers from two environments, compared: ``python -m tools.compare_numpy``.

``write FILE`` puts a set of results of all rooms into an archive; run it in an environment with
the oldest versions that ``pyproject.toml`` allows and in one with the newest. ``compare OLD NEW``
prints the largest difference of each result, relative to its own size, and leaves with 1 where
one is above 1e-12.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np

from oxhue.optics._typing import FloatArray

ALLOWED = 1e-12
Arrays = dict[str, FloatArray]

STACKS = (
    "TiO2 0..300nm step 1.5nm / Ti",
    "5 x (SiO2 quarter@550nm / TiO2 quarter@550nm) / glass 1mm | MgF2 100nm",
    "Ti:TiO2 30% 80nm / TiO2->Ti 60nm / n=2.3+0.05i 40nm / Si",
    "Ag 12nm / ZnS 40,60nm / PMMA 2mm",
    "Al 3000nm / n=0.05+25i 2nm / glass",
)


def _optics() -> Arrays:
    from oxhue import parse_stack, solve, to_colour

    found: Arrays = {}
    for number, text in enumerate(STACKS):
        for angle in (0.0, 37.0, 89.9):
            response = solve(parse_stack(text), angle_deg=angle)
            looked = to_colour(response)
            key = f"stack {number} at {angle:g}"
            found |= {
                f"{key}: R": response.R, f"{key}: T": response.T, f"{key}: A": response.layer_A,
                f"{key}: xyz": looked.xyz, f"{key}: Lab": looked.lab,
            }  # fmt: skip
    return found


def _materials() -> Arrays:
    from oxhue.optics.films.materials.catalogue import list_materials, load_file

    found: Arrays = {}
    for entry in list_materials(None):
        low, high = entry.range_nm
        nk = load_file(entry.file).nk(np.linspace(low, high, 301))
        found[f"{entry.label}: n"], found[f"{entry.label}: k"] = nk.real, nk.imag
    return found


def _colour() -> Arrays:
    from oxhue.optics.colour.gamut import map_to_srgb
    from oxhue.optics.colour.illuminants import illuminant_names, white_xyz
    from oxhue.optics.colour.spaces import delta_e_2000, xyz_to_lab

    xyz = np.random.default_rng(1).uniform(0.0, 100.0, (500, 3))
    lab = xyz_to_lab(xyz, white_xyz("D65", 2))
    return {
        "whites": np.array([white_xyz(name, 2) for name in illuminant_names()]),
        "Lab": lab,
        "CIEDE2000": delta_e_2000(lab[:250], lab[250:]),
        "mapped": map_to_srgb(np.linspace(-0.3, 1.4, 300).reshape(-1, 3))[0],
    }


def _inference() -> Arrays:
    from oxhue.optics.gauge.gauge import gauge
    from oxhue.optics.inference.reading import parse_reading

    found: Arrays = {}
    for seen in ("purple", "#8a6f3c", "45,12,-30"):
        estimate = gauge(["TiO2"], "Ti", [parse_reading(seen)])
        found[f"gauge {seen}: density"] = estimate.density
        found[f"gauge {seen}: interval"] = np.array(estimate.interval90_nm)
    return found


def _growth() -> Arrays:
    from oxhue.optics.oxidation.growth import grow
    from oxhue.optics.oxidation.metals import find_metal, metal_names
    from oxhue.optics.oxidation.schedule import hold

    found: Arrays = {}
    for name in metal_names():
        metal = find_metal(name)
        heat, native = hold("400C", "30min"), np.array([metal.native_nm])
        film = grow(metal.regimes, metal.mean[None, :], heat, start_nm=native)
        found[f"{name} after 30 min at 400 °C"] = film
    return found


PARTS: tuple[Callable[[], Arrays], ...] = (_optics, _materials, _colour, _inference, _growth)


def write(path: Path) -> None:
    """Write all results of this environment."""
    found: Arrays = {}
    for part in PARTS:
        found |= {f"{part.__name__[1:]}, {key}": np.asarray(one) for key, one in part().items()}
    with path.open("wb") as stream:
        np.savez_compressed(stream, **{key.replace("/", "|"): one for key, one in found.items()})
    print(f"numpy {np.__version__}: {len(found)} results written to {path}")


def compare(old: Path, new: Path) -> float:
    """Print the differences; the largest, relative to the largest number of its result."""
    with np.load(old) as first, np.load(new) as second:
        if sorted(first.files) != sorted(second.files):
            raise SystemExit("the two archives hold different results")
        found = {name: _difference(first[name], second[name]) for name in first.files}
    parts: dict[str, list[float]] = {}
    for name, difference in found.items():
        parts.setdefault(name.partition(",")[0], []).append(difference)
        if difference > ALLOWED:
            print(f"{difference:.1e}  {name}")
    for part, each in parts.items():
        print(f"{part}: {len(each)} results, largest relative difference {max(each):.1e}")
    return max(found.values())


def _difference(one: FloatArray, other: FloatArray) -> float:
    if one.shape != other.shape or not np.array_equal(np.isfinite(one), np.isfinite(other)):
        return np.inf
    finite = np.isfinite(one)
    size = max(float(np.abs(one[finite]).max(initial=0.0)), 1e-300)
    return float(np.abs(one[finite] - other[finite]).max(initial=0.0)) / size


def main(arguments: list[str]) -> None:
    """Read the command line."""
    match arguments:
        case ["write", path]:
            write(Path(path))
        case ["compare", old, new]:
            raise SystemExit(int(compare(Path(old), Path(new)) > ALLOWED))
        case _:
            raise SystemExit(__doc__)


if __name__ == "__main__":
    main(sys.argv[1:])
