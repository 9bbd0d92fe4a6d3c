"""Optics of thin films on metal and glass: colour from thickness, and thickness from colour.

The names below are the front door; each is loaded when first asked for, so that importing the
package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .colour.appearance import Appearance as Appearance
    from .colour.appearance import appear as appear
    from .films.materials import list_materials as list_materials
    from .films.materials import load_material as load_material
    from .films.nktable import Material as Material
    from .films.notation import format_stack as format_stack
    from .films.notation import parse_stack as parse_stack
    from .films.respond import respond as respond
    from .films.response import Response as Response
    from .films.stack import Layer as Layer
    from .films.stack import Stack as Stack
    from .films.transfer import respond_arrays as respond_arrays
    from .inference.estimate import Estimate as Estimate
    from .inference.reading import parse_reading as parse_reading
    from .jobs.gauge import gauge as gauge
    from .jobs.look import Look as Look
    from .jobs.look import look as look

_HOMES = {
    "Appearance": "colour.appearance",
    "Estimate": "inference.estimate",
    "Layer": "films.stack",
    "Look": "jobs.look",
    "Material": "films.nktable",
    "Response": "films.response",
    "Stack": "films.stack",
    "appear": "colour.appearance",
    "format_stack": "films.notation",
    "gauge": "jobs.gauge",
    "list_materials": "films.materials",
    "load_material": "films.materials",
    "look": "jobs.look",
    "parse_reading": "inference.reading",
    "parse_stack": "films.notation",
    "respond": "films.respond",
    "respond_arrays": "films.transfer",
}

__all__ = sorted(_HOMES)  # noqa: PLE0605 - a list of names, though a computed one


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f".{_HOMES[name]}", __name__), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return __all__
