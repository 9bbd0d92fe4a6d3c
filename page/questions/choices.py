"""What there is to choose from: materials, metals, lights, words."""

from __future__ import annotations

from typing import Any

from ...optics.assay.hypotheses import list_metals
from ...optics.assay.visual import FINISHES
from ...optics.colour.illuminants import illuminant_names
from ...optics.colour.names import known_words
from ...optics.films.materials.catalogue import list_materials
from ...optics.oxidation.metals import find_metal, metal_names
from ...optics.remedies.remedies import list_troubles
from ...optics.report.kept import forms_kept
from ..fields import Fields


def choices_question(_: Fields) -> dict[str, Any]:
    """Every list the page offers."""
    return {
        "answer": {
            "materials": _materials(),
            "metals": [_metal(name) for name in metal_names()],
            "lights": illuminant_names(),
            "words": known_words(),
            "finishes": [*FINISHES, "black"],
            "assayed": list(list_metals()),
            "troubles": list_troubles(),
            "kept": forms_kept(),
        },
        "trusted": True,
    }


def _materials() -> list[dict[str, Any]]:
    """One line for each material a colour can be computed of, by its default data set."""
    return [
        {
            "name": entry.name,
            "aliases": list(entry.aliases),
            "kind": entry.kind,
            "words": entry.formula_name,
        }
        for entry in list_materials()
        if entry.default and entry.covers_visible
    ]


def _metal(name: str) -> dict[str, Any]:
    metal = find_metal(name)
    return {
        "key": metal.key,
        "name": metal.name,
        "oxide": metal.oxide,
        "on": metal.on,
        "films": list(metal.films),
        "range_C": list(metal.range_C),
        "colour": metal.colour,
        "exposure_min": list(metal.exposure_min),
        "note": metal.note,
        "anodic_V": None if metal.anodic is None else list(metal.anodic.range_V),
    }
