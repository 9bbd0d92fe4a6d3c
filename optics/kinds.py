"""The kinds of arguments, checked once at the door by the annotations of a public function."""

from __future__ import annotations

import builtins
import inspect
import types
from collections.abc import Callable, Mapping, Sequence
from functools import cache, wraps
from numbers import Complex, Integral, Real
from pathlib import Path
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from .errors import InputError

Function = TypeVar("Function", bound=Callable[..., Any])

_MANY = inspect.Parameter.VAR_POSITIONAL, inspect.Parameter.VAR_KEYWORD
_MOST_LOOKED_AT = 100  # entries of a list: a wrong kind shows among the first
_NUMBERS = {float: Real, int: Integral, complex: Complex}
_WORDS: dict[Any, str] = {
    str: "text", float: "a number", int: "a whole number", complex: "a number",
    bool: "True or False", Path: "a path", type(None): "None",
}  # fmt: skip


def check_kinds(function: Function) -> Function:
    """A public function that refuses an argument of a wrong kind in one sentence.

    What the annotations leave open, such as a name of matplotlib, is left to the function.

    Raises
    ------
    InputError
        From the function returned, with the name of the parameter.
    """
    signature = inspect.signature(function)
    names = tuple(signature.parameters)
    plain = all(one.kind not in _MANY for one in signature.parameters.values())

    @wraps(function)
    def checked(*args: Any, **kwargs: Any) -> Any:
        options = _options_of(function)
        if plain and len(args) <= len(names):  # what else does not fit, the function says
            given = (*zip(names, args, strict=False), *kwargs.items())
        else:
            given = tuple(signature.bind(*args, **kwargs).arguments.items())
        for name, value in given:
            if not any(_is_one(value, one) for one in options.get(name, (Any,))):
                kind = describe_kind(_hints(function)[name])
                raise InputError(f"`{name}` must be {kind}, not {value!r:.60}", parameter=name)
        return function(*args, **kwargs)

    checked.__module__, checked.__qualname__ = __package__.partition(".")[0], function.__name__
    return checked  # type: ignore[return-value]  # its signature is the function's


def describe_kind(hint: Any) -> str:
    """A kind in words: ``text, a Stack or None``."""
    kinds = list(dict.fromkeys(_words(one) for one in _options(hint)))
    return kinds[0] if len(kinds) == 1 else f"{', '.join(kinds[:-1])} or {kinds[-1]}"


class Names(dict[str, Any]):
    """Names in the module of a function; what is imported for the type checker alone is open."""

    def __missing__(self, name: str) -> Any:
        if name.startswith("__"):
            raise KeyError(name)
        return getattr(builtins, name, Any)


@cache
def _hints(function: Callable[..., Any]) -> dict[str, Any]:
    return get_type_hints(function, localns=Names(function.__globals__))


@cache
def _options_of(function: Callable[..., Any]) -> dict[str, tuple[Any, ...]]:
    """The kinds that each argument may be of, by its name."""
    return {name: _options(hint) for name, hint in _hints(function).items()}


class _Numbers:
    """Stands for what numpy takes as an array of numbers."""


@cache
def _options(hint: Any) -> tuple[Any, ...]:
    """The parts of a union, or what is none."""
    written = str(hint)
    if "ndarray" in written or "numpy._typing" in written:
        return (_Numbers,)
    if get_origin(hint) in (Union, types.UnionType):
        return tuple(part for one in get_args(hint) for part in _options(one))
    return (hint,)


def _is_of(value: Any, hint: Any) -> bool:
    """Whether a value is of a kind; what is no plain kind takes anything."""
    return any(_is_one(value, one) for one in _options(hint))


def _is_one(value: Any, hint: Any) -> bool:
    kind = get_origin(hint) or hint
    if kind is _Numbers:
        import numpy as np

        try:
            return np.asarray(value).dtype.kind in "biufc"
        except ValueError:  # rows of unequal lengths
            return False
    if kind is Literal:
        return isinstance(value, tuple({type(one) for one in get_args(hint)}))
    if kind in _NUMBERS:
        return isinstance(value, _NUMBERS[kind]) and not isinstance(value, bool)
    if kind is Any or not isinstance(kind, type):
        return True
    if kind is bool:
        return isinstance(value, bool) or type(value).__name__ == "bool"  # also numpy's
    if issubclass(kind, Sequence) and kind is not str:
        return _is_sequence(value, kind, get_args(hint))
    if issubclass(kind, Mapping):
        return isinstance(value, Mapping)
    return isinstance(value, kind)


def _is_sequence(value: Any, kind: type, parts: tuple[Any, ...]) -> bool:
    # A single number of numpy's has a shape too, of no axes.
    is_array = hasattr(value, "__array__") and getattr(value, "shape", ()) != ()
    if isinstance(value, str) or not (isinstance(value, Sequence) or is_array):
        return False
    of_each = tuple(one for one in parts if one is not Ellipsis)
    if kind is tuple and Ellipsis not in parts and of_each:
        return len(value) == len(of_each) and all(map(_is_of, value, of_each))
    return not of_each or all(_is_of(one, of_each[0]) for one in value[:_MOST_LOOKED_AT])


def _words(hint: Any) -> str:
    """One kind in words."""
    kind = get_origin(hint) or hint
    if kind is _Numbers:
        return "numbers"
    if kind is Literal:
        return f"one of {', '.join(map(str, get_args(hint)))}"
    if kind in _WORDS:
        return _WORDS[kind]
    if isinstance(kind, type) and issubclass(kind, Sequence):
        parts = [one for one in get_args(hint) if one is not Ellipsis]
        if kind is tuple and len(parts) > 1 and Ellipsis not in get_args(hint):
            return f"{len(parts)} values: {', '.join(map(describe_kind, parts))}"
        return f"a list of {describe_kind(parts[0])}" if parts else "a list"
    if isinstance(kind, type) and issubclass(kind, Mapping):
        return "a dictionary"
    name = getattr(kind, "__name__", str(kind))
    return f"{'an' if name[:1] in 'AEIOU' else 'a'} {name}"
