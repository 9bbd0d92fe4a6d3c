"""What goes out: every file the program reads is packed, licences and citations are in place."""

import fnmatch
import re
import tomllib
from pathlib import Path

import pytest
import yaml
from packaging.requirements import Requirement

from tools.write_citation import OUT, citation, split_source
from tools.write_lock import LOCKS

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
SETUP = PROJECT["tool"]["setuptools"]
ROOMS = {name: ROOT / name.rpartition(".")[2] for name in SETUP["package-data"]}


@pytest.mark.parametrize("name", ROOMS)
def test_every_folder_of_modules_is_a_package(name):
    """A folder without ``__init__.py`` is missing from the wheel, though not here."""
    folders = {path.parent for path in ROOMS[name].rglob("*.py")}
    assert [folder for folder in folders if not (folder / "__init__.py").exists()] == []


@pytest.mark.parametrize("name", ROOMS)
def test_every_file_the_program_reads_is_packed(name):
    patterns = SETUP["package-data"][name]
    others = [
        path.relative_to(ROOMS[name]).as_posix()
        for path in ROOMS[name].rglob("*")
        if path.is_file() and path.suffix not in (".py", ".pyc")
    ]
    assert "py.typed" in others
    left = [one for one in others if not any(_matches(one, pattern) for pattern in patterns)]
    assert left == []


def _matches(name: str, pattern: str) -> bool:
    return fnmatch.fnmatch(name, pattern) or fnmatch.fnmatch(name, pattern.replace("**/", ""))


def test_licences_of_code_and_data_are_there_and_named():
    project = PROJECT["project"]
    assert project["license"] == "BSD-3-Clause AND CC0-1.0"
    texts = [(ROOT / name).read_text(encoding="utf-8") for name in project["license-files"]]
    assert texts[0].startswith("BSD 3-Clause License")
    assert "CC0 1.0 Universal" in texts[1]
    assert "Colour Developers" in texts[2]


def test_every_table_of_the_cie_has_a_source():
    folder = ROOT / "optics" / "colour" / "cie"
    tables = tomllib.loads((folder / "sources.toml").read_text(encoding="utf-8"))["table"]
    patterns = [pattern for table in tables for pattern in table["files"]]
    owners = {
        path.name: [pattern for pattern in patterns if fnmatch.fnmatch(path.name, pattern)]
        for path in folder.glob("*.csv")
    }
    assert {name for name, found in owners.items() if len(found) != 1} == set()
    assert all(table["published"] and table["what"] for table in tables)


@pytest.mark.parametrize(("name", "extra"), LOCKS.items())
def test_locked_versions_are_those_the_project_allows(name, extra):
    """Run ``python -m tools.write_lock`` where this fails."""
    pinned = _pinned(ROOT / name)
    asked = [*PROJECT["project"]["dependencies"], *_extra(extra)]
    wrong = [
        text
        for one in map(Requirement, asked)
        for text in [str(one)]
        if not all(one.specifier.contains(version) for version in pinned.get(one.name, ["none"]))
    ]
    assert wrong == []


def test_each_locked_version_has_hashes_and_names_no_registry():
    for name in LOCKS:
        text = (ROOT / name).read_text(encoding="utf-8")
        entries = text.replace("\\\n", " ").splitlines()
        bare = [line for line in entries if "==" in line and "--hash=sha256:" not in line]
        assert bare == []
        assert "://" not in text


def _pinned(path: Path) -> dict[str, list[str]]:
    """Versions by name; a package may have one for each Python."""
    found: dict[str, list[str]] = {}
    for line in path.read_text(encoding="utf-8").splitlines():
        match = re.match(r"([\w.-]+)(?:\[[\w,]+\])?==(\S+)", line)
        if match:
            found.setdefault(match[1], []).append(match[2])
    return found


def _extra(name: str) -> list[str]:
    """Requirements of an extra, with those of the project's own extras that it names."""
    found = []
    for text in PROJECT["project"]["optional-dependencies"][name]:
        one = Requirement(text)
        if one.name == "oxhue":
            found += [inner for extra in sorted(one.extras) for inner in _extra(extra)]
        else:
            found.append(text)
    return found


def test_the_sources_hold_guide_data_and_tests():
    manifest = (ROOT / "MANIFEST.in").read_text(encoding="utf-8")
    assert {f"graft {name}" for name in ("docs", "nk_data", "tests", "tools", "benchmarks")} <= set(
        manifest.splitlines()
    )


def test_the_citation_is_fresh_and_credits_database_and_papers():
    """Run ``python -m tools.write_citation`` where this fails."""
    text = OUT.read_text(encoding="utf-8")
    assert text == citation()
    cited = yaml.safe_load(text)
    # Citation File Format 1.2.0: what every file must have.
    assert {"cff-version", "message", "authors", "title"} <= set(cited)
    assert cited["cff-version"] == "1.2.0"
    assert all({"type", "authors", "title"} <= set(one) for one in cited["references"])
    dois = {one["doi"] for one in cited["references"]}
    assert {"10.1038/s41597-023-02898-2", "10.1103/PhysRevB.9.5056"} <= dois
    assert len(dois) == len(cited["references"]) > 90


@pytest.mark.parametrize(
    ("source", "authors", "title", "place", "year"),
    [
        (
            "P. B. Johnson and R. W. Christy. Optical constants of the noble metals. Phys. Rev. B "
            "6, 4370-4379 (1972)",
            "P. B. Johnson and R. W. Christy", "Optical constants of the noble metals",
            "Phys. Rev. B 6, 4370-4379 (1972)", 1972,
        ),
        (
            "1) D. Yu. Li. A look. Opt. Lett. 1, 2 (1999) (kindly given) 2) Another (2001)",
            "D. Yu. Li", "A look", "Opt. Lett. 1, 2 (1999)", 1999,
        ),
    ],
)  # fmt: skip
def test_a_source_is_parted_into_authors_title_and_place(source, authors, title, place, year):
    assert split_source(source) == (authors, title, place, year)
