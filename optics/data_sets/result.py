"""The optical data sets shipped, or those of one material, as an answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from ..films.materials.catalogue import MaterialEntry, list_materials
from ..report.json import plain
from ..result import Result


@dataclass(frozen=True, repr=False)
class DataSets(Result):
    """Data sets with their sources.

    Attributes
    ----------
    materials : sequence of MaterialEntry
    material : str or None
        The one asked for.
    """

    verb: ClassVar[str] = "materials"
    rows: ClassVar[str] = "materials"

    materials: Sequence[MaterialEntry]
    material: str | None

    def json_fields(self) -> dict[str, Any]:
        """The data sets as plain data."""
        return {"materials": [_entry_fields(entry) for entry in self.materials]}


def describe_materials(material: str | None = None) -> DataSets:
    """The data sets shipped, or those of one material.

    Raises
    ------
    UnknownNameError
        If there is no such material.
    """
    return DataSets(list_materials(material), material)


def _entry_fields(entry: MaterialEntry) -> dict[str, Any]:
    """One data set; one averaged over directions has a page for each."""
    pages = [page.strip() for page in (entry.database_page or "").split(";") if page]
    fields = (
        "name", "variant", "phase", "default", "kind", "formula_name", "source", "doi", "licence",
        "range_nm", "measured_range_nm", "extension", "confidence",
    )  # fmt: skip
    listed = {name: plain(getattr(entry, name)) for name in fields}
    return listed | {"database_page": pages[0] if pages else None, "database_pages": pages}
