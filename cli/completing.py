"""What the shell may offer after Tab: names that are too many to remember."""

from __future__ import annotations

from collections.abc import Iterable

_WAYS = ("word", "photo", "card", "instrument")


def complete_materials(incomplete: str) -> list[str]:
    """Names of the materials shipped."""
    from ..optics.films.materials.catalogue import list_materials

    return _keep_starting(dict.fromkeys(entry.name for entry in list_materials()), incomplete)


def complete_metals(incomplete: str) -> list[str]:
    """Metals that can be tinted."""
    from ..optics.oxidation.metals import metal_names

    return _keep_starting(metal_names(), incomplete)


def complete_lights(incomplete: str) -> list[str]:
    """Lights a colour can be seen under."""
    from ..optics.colour.illuminants import illuminant_names

    return _keep_starting(illuminant_names(), incomplete)


def complete_ways(incomplete: str) -> list[str]:
    """How a colour may have been read."""
    return _keep_starting(_WAYS, incomplete)


def _keep_starting(names: Iterable[str], incomplete: str) -> list[str]:
    begun = incomplete.casefold()
    return [name for name in names if name.casefold().startswith(begun)]
