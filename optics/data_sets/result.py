"""The optical data sets shipped, or those of one material, as an answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from ..films.materials.catalogue import MaterialEntry, list_materials
from ..result import Hidden, Result


@dataclass(frozen=True, repr=False)
class DataSets(Result):
    """Data sets with their sources.

    Attributes
    ----------
    materials : tuple of MaterialEntry
    material : str or None
        The one asked for.
    """

    verb: ClassVar[str] = "materials"
    rows: ClassVar[str] = "materials"

    materials: tuple[MaterialEntry, ...]
    material: Hidden[str | None]


def describe_materials(material: str | None = None) -> DataSets:
    """The data sets shipped, or those of one material.

    Raises
    ------
    UnknownNameError
        If there is no such material.
    """
    return DataSets(tuple(list_materials(material)), material)
