"""Colour, thickness and identity of thin metal and oxide films, forwards and backwards.

Every public name is listed in ``__init__.pyi`` and loaded when first asked for, so that importing
the package costs nothing.
"""

from typing import Any


def __getattr__(name: str) -> Any:
    homes = _homes()
    if name == "__all__":
        return sorted(homes)
    if name == "__version__":
        from importlib.metadata import version

        return version("oxhue")
    if name not in homes:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module
    from inspect import isfunction

    from .optics.kinds import check_kinds

    value = getattr(import_module(homes[name], __name__), name)
    globals()[name] = value = check_kinds(value) if isfunction(value) else value
    return value


def __dir__() -> list[str]:
    return sorted([*_homes(), "__version__"])


def _homes() -> dict[str, str]:
    """The module of each name, as the stub beside this file lists them."""
    import re
    from importlib.resources import files

    stub = files(__name__).joinpath("__init__.pyi").read_text("utf-8")
    return {
        name: home for home, name in re.findall(r"^from (\S+) import (\w+) as \w+$", stub, re.M)
    }
