"""Puts a changed source in the place of a loaded module, for everybody who holds parts of it."""

from __future__ import annotations

import functools
import gc
import sys
from types import FunctionType, ModuleType
from typing import Any


def install(module: ModuleType, source: str, constants: bool, caches: list[Any]) -> None:
    """Run ``source`` as ``module``; functions and classes stay the same objects, changed within.

    Others hold them by ``from … import``. With ``constants`` the other names of the module get
    their new values too, also where they were imported by name; without, they keep the old.
    ``caches`` are emptied.
    """
    if constants:
        gc.unfreeze()  # so that arguments that default to one of them are found
    names = vars(module)
    before = dict(names)
    exec(compile(source, module.__file__ or "", "exec"), names)
    for name, old in before.items():
        new = names[name]
        if new is old or name.startswith("__"):
            continue
        if changed_within(old, new, module.__name__) or not constants:
            names[name] = old
        else:
            passed_on(name, old, new)
    for cache in caches:
        cache.cache_clear()


def all_caches() -> list[Any]:
    """Every ``functools.cache`` there is: what was kept in one may have become wrong."""
    return [one for one in gc.get_objects() if isinstance(one, functools._lru_cache_wrapper)]


def changed_within(old: Any, new: Any, home: str) -> bool:
    if getattr(old, "__module__", None) != home or not callable(old):
        return False
    if isinstance(old, type):
        for name, part in vars(new).items():
            kept = vars(old).get(name)
            if inner(kept) is not None and inner(part) is not None:
                changed_within(inner(kept), inner(part), home)
            elif name in vars(old) and not name.startswith("__"):
                setattr(old, name, part)
        return True
    if hasattr(old, "__wrapped__"):
        return changed_within(old.__wrapped__, new.__wrapped__, home)
    if not isinstance(old, FunctionType):
        return False
    old.__code__ = new.__code__
    old.__defaults__, old.__kwdefaults__ = new.__defaults__, new.__kwdefaults__
    return True


def inner(part: Any) -> Any:
    """The function inside a method, a property or a class method; None for anything else."""
    for name in ("__func__", "fget", "func"):
        if isinstance(getattr(part, name, None), FunctionType):
            return getattr(part, name)
    return part if isinstance(part, FunctionType) else None


def passed_on(name: str, old: Any, new: Any) -> None:
    for other in list(sys.modules.values()):
        if getattr(other, "__dict__", {}).get(name) is old:
            vars(other)[name] = new
    if isinstance(old, int | float | str | None):
        return  # one object for many uses
    for one in gc.get_objects():
        if isinstance(one, FunctionType) and one.__defaults__:
            one.__defaults__ = tuple(new if value is old else value for value in one.__defaults__)
