"""Write ``CITATION.cff``: how to cite the package, the open database, and every paper behind it.

Run as ``python -m tools.write_citation``. Papers are those of ``nk_data/index.csv`` that have a
DOI, one reference each. The form is Citation File Format 1.2.0.
"""

from __future__ import annotations

import csv
import json
import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]
OUT = ROOT / "CITATION.cff"
DATABASE = """\
  - type: article
    authors:
      - family-names: "Polyanskiy"
        given-names: "Mikhail N."
    title: "Refractiveindex.info database of optical constants"
    journal: "Scientific Data"
    volume: "11"
    start: "94"
    year: 2024
    doi: "10.1038/s41597-023-02898-2"
    license: CC0-1.0
    notes: "The open database most tables of nk_data come from."
"""


def split_source(text: str) -> tuple[str, str, str, int | None]:
    """Authors, title, where it appeared, and year of the first paper of a source line."""
    first = re.sub(r"^1\) ", "", text).split(" 2) ")[0].replace(", Jr.. ", " Jr. ")
    year = re.search(r"\((\d{4})\)", first)
    if year is not None:
        first = first[: year.end()]
    at = _break(first)
    authors, rest = first[:at], first[at:].lstrip(". ")
    title, _, place = rest.partition(". ")
    if not place:
        title, _, place = rest.partition(", ")
    return authors, title, place, None if year is None else int(year[1])


def _break(text: str) -> int:
    """Where the authors end: after a surname, before a word that is no initial and no name."""
    for match in re.finditer(r"\. (?=[^\W_])", text):
        before = re.search(r"([^\W\d_]+)$", text[: match.start()])
        surname = before is not None and len(before[1]) > 1 and before[1] != "Yu"
        if surname and re.match(r"[^\s.,]{2,}|A (?=[a-z])", text[match.end() :]):
            return match.start()
    return text.index(", ")


def references() -> list[str]:
    """One reference for each DOI of the index, with the data sets it stands behind."""
    held: dict[str, tuple[str, list[str]]] = {}
    with (ROOT / "nk_data" / "index.csv").open(newline="", encoding="utf-8") as stream:
        for row in csv.DictReader(stream):
            if row["doi"] not in ("", "none"):
                _, sets = held.setdefault(row["doi"], (row["source"], []))
                sets.append(f"{row['name']}({row['variant']})")
    return [_reference(doi, source, sets) for doi, (source, sets) in sorted(held.items())]


def _reference(doi: str, source: str, sets: list[str]) -> str:
    authors, title, place, year = split_source(source)
    lines = ["  - type: article", "    authors:"]
    lines += [f"      - name: {_quoted(one)}" for one in _people(authors)]
    lines += [f"    title: {_quoted(title)}", f"    journal: {_quoted(place)}"]
    lines += [] if year is None else [f"    year: {year}"]
    lines += [f"    doi: {_quoted(doi)}", f"    notes: {_quoted('Data sets: ' + ', '.join(sets))}"]
    return "\n".join(lines) + "\n"


def _people(authors: str) -> list[str]:
    names = re.split(r",\s*(?:and )?| and |(?<=[^\W\d_]{3})\. ", authors)
    return [name.strip() for name in names if name.strip()]


def _quoted(text: str) -> str:
    return json.dumps(" ".join(text.split()), ensure_ascii=False)


def citation() -> str:
    """The whole file."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    head = (
        "# Written by tools/write_citation.py\n"
        "cff-version: 1.2.0\n"
        "message: >-\n"
        "  If oxhue served your work, cite it, the open database of optical constants, and the\n"
        "  paper behind each data set you used ('oxhue materials NAME' names it).\n"
        f"title: {_quoted('oxhue: ' + project['description'])}\n"
        f"version: {_quoted(project['version'])}\n"
        "type: software\n"
        "license:\n  - BSD-3-Clause\n  - CC0-1.0\n"
        'authors:\n  - name: "the oxhue authors"\n'
        "keywords:\n" + "".join(f"  - {_quoted(word)}\n" for word in project["keywords"])
    )
    return head + "references:\n" + DATABASE + "".join(references())


def main() -> None:
    """Write the file."""
    OUT.write_text(citation(), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
