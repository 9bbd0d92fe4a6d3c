"""The optical data sets shipped, or those of one material, as an answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from ..errors import UnknownNameError
from ..films.materials.catalogue import MaterialEntry, list_materials
from ..films.materials.effective_medium import Grade, Mixture, short_name
from ..films.notation import parse_medium
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
        If there is no such material, or it is a mixture of two.
    """
    if material is not None and (":" in material or "->" in material):
        mixed = parse_medium(material)
        if isinstance(mixed, Mixture | Grade):
            raise UnknownNameError(
                f"{short_name(mixed)} has no data of its own, but those of its parts: ask for "
                f"{short_name(mixed.first)}, and for {short_name(mixed.second)}"
            )
    return DataSets(tuple(list_materials(material)), material)
