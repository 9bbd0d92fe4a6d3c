"""Write the tables of lights and observers we read, from colour-science, without change.

Run as ``python -m tools.tabulate_lights``. The library loads a plotting package with its tables,
which takes longer than most answers; so the few tables in use are kept as files of our own, and
``tests/outside/test_colour_standards.py`` holds them to the library's.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from oxhue.optics.colour.illuminants import OBSERVER_NAMES, illuminant_names

TABLES = Path(__file__).parents[1] / "optics" / "colour" / "cie"


def main() -> None:
    """Write one file for each light and each observer."""
    from colour import MSDS_CMFS, SDS_ILLUMINANTS

    TABLES.mkdir(exist_ok=True)
    for name in illuminant_names():
        light = SDS_ILLUMINANTS[name]
        rows = [[nm, power] for nm, power in zip(light.wavelengths, light.values, strict=True)]
        _write(TABLES / f"light-{name}.csv", "wavelength_nm,power", rows)
    for degrees, name in OBSERVER_NAMES.items():
        functions = MSDS_CMFS[name]
        rows = [[nm, *row] for nm, row in zip(functions.wavelengths, functions.values, strict=True)]
        _write(TABLES / f"observer-{degrees}.csv", "wavelength_nm,x_bar,y_bar,z_bar", rows)


def _write(path: Path, head: str, rows: Sequence[Sequence[float]]) -> None:
    lines = [head, *(",".join(repr(float(value)) for value in row) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
