"""What the shell may offer after Tab: names that are too many to remember."""

from __future__ import annotations

from collections.abc import Iterable

_WAYS = ("word", "photo", "card", "instrument")


def materials(incomplete: str) -> list[str]:
    """Names of the materials shipped."""
    from ..optics.films.materials.catalogue import list_materials

    return _starting(dict.fromkeys(entry.name for entry in list_materials()), incomplete)


def metals(incomplete: str) -> list[str]:
    """Metals that can be tinted."""
    from ..optics.oxidation.metals import metal_names

    return _starting(metal_names(), incomplete)


def lights(incomplete: str) -> list[str]:
    """Lights a colour can be seen under."""
    from ..optics.colour.illuminants import light_names

    return _starting(light_names(), incomplete)


def ways(incomplete: str) -> list[str]:
    """How a colour may have been read."""
    return _starting(_WAYS, incomplete)


def _starting(names: Iterable[str], incomplete: str) -> list[str]:
    begun = incomplete.casefold()
    return [name for name in names if name.casefold().startswith(begun)]
