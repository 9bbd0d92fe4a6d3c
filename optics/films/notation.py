"""The written form of a stack: ``TiO2 45nm / Ti 120nm / glass 1mm | MgF2 100nm``."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from typing import Any, TypeVar

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, LimitError, NotationError, shorten
from ..units import NUMBER, parse_quantity, units_of
from .materials.catalogue import load_material, optical_stand_in
from .materials.effective_medium import Grade, Mixture
from .materials.medium import ConstantIndex, Medium
from .materials.nk_table import Material
from .materials.stand_ins import names_of_words
from .materials.user_table import read_user_table
from .stack import MAX_LAYERS, MAX_SWEEP_POINTS, MIN_SLAB_NM, Layer, Stack
from .sweep import range_points, range_size

Made = TypeVar("Made")

MAX_TEXT = 20_000
"""The longest text of a stack that is read."""

_MAX_DEPTH = 20
_UNSIGNED = NUMBER.removeprefix("[+-]?")
_NAME = r"[^\W\d][\w.]*(?:-(?!>)[\w.]+)*(?:\([^()]*\))?"
_UNIT = r"(?!step\b)[^\W\d_]+"  # any word: parse_quantity knows the units and names the others
_NUMBER_FIRST = re.compile(rf"{NUMBER}|quarter\s*@")
_DIGITS_FIRST = re.compile(r"\d[\w.]*")  # steels are called 304 and 1.4301
_TOKENS = {
    "repeat": re.compile(r"(\d+)\s*[x×]\s*\("),
    "path": re.compile(r'"([^"]*)"'),
    "index": re.compile(rf"n\s*=\s*({NUMBER})(?:\s*([+-]\s*{_UNSIGNED})\s*i)?"),
    "index start": re.compile(r"n\s*="),
    "name": re.compile(_NAME),
    "percent": re.compile(rf"({NUMBER})\s*%"),
    "quarter": re.compile(rf"quarter\s*@\s*({NUMBER})\s*({_UNIT})?"),
    "range": re.compile(rf"({NUMBER})\s*({_UNIT})?\s*\.\.\s*({NUMBER})\s*({_UNIT})?"),
    "step": re.compile(rf"step\s+({NUMBER})\s*({_UNIT})?"),
    "list": re.compile(rf"({NUMBER}(?:\s*,\s*{NUMBER})+)\s*({_UNIT})?"),
    "one": re.compile(rf"({NUMBER})\s*({_UNIT})?"),
}


_files: ContextVar[bool] = ContextVar("files may be named", default=True)
_NONE_SENT: Mapping[str, Material] = {}
_sent: ContextVar[Mapping[str, Material]] = ContextVar("tables that were sent", default=_NONE_SENT)


@contextmanager
def forbid_files(sent: Mapping[str, Material] = _NONE_SENT) -> Iterator[None]:
    """Within this no text names a file, whoever parses it: for texts that came from elsewhere.

    What is named as a file can only be one of the tables that were ``sent`` with the text.
    """
    before, others = _files.set(False), _sent.set(sent)
    try:
        yield
    finally:
        _files.reset(before)
        _sent.reset(others)


def as_stack(stack: str | Stack) -> Stack:
    """A stack from what a caller gave: itself, or its notation.

    Raises
    ------
    InputError
        If it is neither, or the notation is refused.
    """
    if isinstance(stack, Stack):
        return stack
    if isinstance(stack, str):
        return parse_stack(stack)
    raise InputError(
        f"a stack is a Stack or its notation such as 'TiO2 45nm / Ti', not {stack!r:.80}",
        parameter="stack",
    )


def parse_stack(text: str, files: bool = True) -> Stack:
    """Read a stack from its written form.

    Parameters
    ----------
    text : str
        Layers from the light's side inward, separated by ``/``; the last item is the substrate;
        after ``|`` the films on the back face.
    files : bool
        Whether a table of one's own may be named; within ``forbid_files`` none may.

    Returns
    -------
    Stack
        Each swept layer adds a sweep axis, in the order written; a repeated group shares its own.

    Raises
    ------
    NotationError
        If the text does not parse; it carries the position of the offending character.
    UnknownNameError, OutOfRangeError, LimitError, TableError, InputError
        If a part is understood but not possible.
    """
    if len(text) > MAX_TEXT:
        raise LimitError(f"a stack is written in at most {MAX_TEXT:,} characters")
    return _StackParser(text, files).read_stack()


def parse_medium(text: str, files: bool = True) -> Medium:
    """Read one medium without thickness, such as ``TiO2(rutile)`` or ``Ti:TiO2 30%``.

    Raises
    ------
    NotationError
        If the text is not one medium, or names an unknown material or, without ``files``, a file.
    """
    reader = _StackParser(text, files)
    medium = reader.read_medium()
    if reader.skip() < len(text):
        raise reader.error_at("expected one material without thickness, such as TiO2 or Ti")
    return medium


@cache
def _names_of_words() -> re.Pattern[str]:
    """Alloys whose names are more than one word, such as nickel silver."""
    each = (r"\s+".join(map(re.escape, name.split())) for name in names_of_words())
    return re.compile(rf"(?:{'|'.join(each)})(?![\w.])", re.IGNORECASE)


@dataclass(frozen=True)
class _Item:
    """A medium as written, with its thickness (one number or the points of a sweep) if given."""

    medium: Medium
    start: int
    thickness_nm: FloatArray | None


class _StackParser:
    """Reads one text from left to right; ``at`` is the next character."""

    def __init__(self, text: str, files: bool) -> None:
        self.text = text
        self.files = files and _files.get()
        self.at = 0
        self.axes = 0
        self.points = 1
        self.depth = 0

    # -- lists of layers -------------------------------------------------------------------

    def read_stack(self) -> Stack:
        layers: tuple[Layer, ...] = ()
        while True:
            group = self.read_repeat()
            if group is None:
                item = self.read_item()
                if not self.accept("/"):
                    self.expect_end("|")
                    break
                group = (self.make_layer(item),)
            elif not self.accept("/"):
                raise self.error_at("expected '/' and a substrate, such as '/ glass' or '/ Ti'")
            layers = self.join_layers(layers, group)
        slab_nm = self.slab_nm(item)
        back = self.read_films(closing="") if self.accept("|") else ()
        self.expect_end()
        return self.make_at(item.start, Stack, layers, item.medium, slab_nm, back)

    def expect_end(self, unless: str | None = None) -> None:
        """Refuse what follows, unless it is the mark given."""
        if self.skip() < len(self.text) and self.text[self.at] != unless:
            raise self.error_at("expected '/' and another layer, or the end")

    def read_films(self, closing: str) -> tuple[Layer, ...]:
        """Layers separated by '/', up to the closing character (taken too) or as far as they go."""
        layers: tuple[Layer, ...] = ()
        while True:
            layers = self.join_layers(
                layers, self.read_repeat() or (self.make_layer(self.read_item()),)
            )
            if self.accept("/"):
                continue
            if not closing or self.accept(closing):
                return layers
            raise self.error_at(f"expected '/' and another layer, or {closing!r}")

    def read_repeat(self) -> tuple[Layer, ...] | None:
        """A group such as ``5 x (A 10nm / B 20nm)``, or None if none starts here."""
        start = self.skip()
        match = self.match("repeat")
        if match is None:
            return None
        count = int(match[1][:12])
        if count < 1:
            what = "a group is repeated at least once, as in 3 x (SiO2 90nm / TiO2 60nm)"
            raise self.error_at(what, start)
        self.depth += 1
        if self.depth > _MAX_DEPTH:
            raise self.error_at(f"groups are nested at most {_MAX_DEPTH} deep", start)
        group = self.read_films(closing=")")
        self.depth -= 1
        if count * len(group) > MAX_LAYERS:
            raise LimitError(
                f"{shorten(match[1], 12)} x {len(group)} layers are too many; a stack has at "
                f"most {MAX_LAYERS}"
            )
        return group * count

    def join_layers(self, layers: tuple[Layer, ...], more: tuple[Layer, ...]) -> tuple[Layer, ...]:
        if len(layers) + len(more) > MAX_LAYERS:
            raise LimitError(f"a stack has at most {MAX_LAYERS} layers")
        return layers + more

    # -- one item --------------------------------------------------------------------------

    def read_item(self) -> _Item:
        start = self.skip()
        medium = self.read_medium()
        return _Item(medium, start, self.read_thickness(medium))

    def make_layer(self, item: _Item) -> Layer:
        if item.thickness_nm is None:
            raise self.error_at(
                f"{item.medium.label} needs a thickness, such as '45nm'", item.start
            )
        axis = None
        if item.thickness_nm.ndim:
            axis, self.axes = self.axes, self.axes + 1
        return self.make_at(item.start, Layer, item.medium, item.thickness_nm, axis)

    def slab_nm(self, item: _Item) -> float | None:
        """Thickness [nm] of the substrate, or None for a half-space."""
        if item.thickness_nm is None:
            return None
        if item.thickness_nm.ndim:
            what = "the thickness of the substrate cannot be swept; give it one, such as 4mm"
            raise self.error_at(what, item.start)
        if item.medium.kind in ("metal", "alloy"):
            raise self.error_at(
                f"the substrate {item.medium.label} is opaque and takes no thickness; if it is a "
                f"film, add what it lies on, such as '/ glass'",
                item.start,
            )
        if item.thickness_nm < MIN_SLAB_NM:
            raise self.error_at(
                f"the last item is the substrate, and {item.thickness_nm:g} nm is a film; add "
                f"what it lies on, such as '/ glass' or '/ Ti'",
                item.start,
            )
        return float(item.thickness_nm)

    def read_medium(self) -> Medium:
        first = self.read_simple_medium()
        if self.accept(":"):
            second = self.read_simple_medium()
            self.skip()
            percent = self.match("percent")
            if percent is None:
                raise self.error_at(
                    f"a mixture needs the volume percent of {second.label}, such as '30%'"
                )
            share = float(percent[1]) / 100.0
            if not 0.0 <= share <= 1.0:
                what = f"the volume percent of {second.label} is 0 to 100%, as in 30%"
                raise self.error_at(what, percent.start())
            return self.make_at(percent.start(), Mixture, first, second, share)
        if self.accept("->"):
            return Grade(first, self.read_simple_medium())
        return first

    def read_simple_medium(self) -> Medium:
        start = self.skip()
        if match := self.match("path"):
            if (sent := _sent.get().get(match[1])) is not None:
                return sent
            if not self.files:
                raise self.error_at("a file cannot be named here; write a material", start)
            return self.make_at(start, read_user_table, match[1])
        if match := self.match("index"):
            k = float("".join((match[2] or "0").split()))
            return self.make_at(start, ConstantIndex, float(match[1]), k)
        if self.match("index start"):
            raise self.error_at(
                "expected a number after 'n=', such as n=1.46 or n=2.3+0.05i", start
            )
        if match := _names_of_words().match(self.text, self.at):
            self.at = match.end()
            return self.make_at(start, load_material, " ".join(match[0].split()))
        digits = _DIGITS_FIRST.match(self.text, self.at)
        if digits and optical_stand_in(digits[0]) is not None:
            self.at = digits.end()
            return load_material(digits[0])
        if _NUMBER_FIRST.match(self.text, self.at):
            raise self.error_at("the material is written before its thickness, as in TiO2 45nm")
        if match := self.match("name"):
            return self.make_at(start, load_material, match[0])
        raise self.error_at(
            'expected a material such as TiO2, n=1.46 or "table.csv"; every stack ends with a '
            "substrate, such as '/ glass' or '/ Ti'"
        )

    # -- thickness -------------------------------------------------------------------------

    def read_thickness(self, medium: Medium) -> FloatArray | None:
        """One thickness [nm], the points of a sweep, or None where none is written."""
        start = self.skip()
        if self.at == len(self.text) or self.text[self.at] in "/|)":
            return None
        if match := self.match("quarter"):
            wavelength_nm = self.parse_length(match[1], match[2], start)
            index = self.make_at(start, medium.nk, wavelength_nm)
            if wavelength_nm <= 0.0 or not index.real > 0.0:
                what = "a quarter wave needs a wavelength above 0 nm, as in quarter@550nm"
                raise self.error_at(what, start)
            return np.asarray(wavelength_nm / (4.0 * float(index.real)))
        if match := self.match("range"):
            low = self.parse_length(match[1], match[2] or match[4], start)
            high = self.parse_length(match[3], match[4], start)
            return self.read_sweep(low, high, start)
        if match := self.match("list"):
            values = [self.parse_length(number, match[2], start) for number in match[1].split(",")]
            self.count_points(len(values))
            return np.array(values)
        if match := self.match("one"):
            return np.asarray(self.parse_length(match[1], match[2], start))
        raise self.error_at("expected a thickness such as 45nm, 0..200nm, 20,45nm or quarter@550nm")

    def read_sweep(self, low: float, high: float, start: int) -> FloatArray:
        """Points from ``low`` to ``high`` [nm], 1 nm apart unless a step follows."""
        self.skip()
        match = self.match("step")
        step = self.parse_length(match[1], match[2], match.start()) if match else 1.0
        if not (low <= high < math.inf and step > 0.0):
            what = "a range runs upwards, with a step above 0 nm, as in 0..200nm step 0.5nm"
            raise self.error_at(what, start)
        self.count_points(range_size(low, high, step))
        return range_points(low, high, step)

    def count_points(self, points: int) -> None:
        self.points *= points
        if self.points > MAX_SWEEP_POINTS:
            raise LimitError(
                f"the sweep has {self.points:,} points; at most {MAX_SWEEP_POINTS:,} are taken, "
                f"so widen its step"
            )

    def parse_length(self, number: str, unit: str | None, start: int) -> float:
        if not unit:
            raise self.error_at(
                f"{shorten(number.strip())} needs a unit: {', '.join(units_of('length_nm'))}", start
            )
        return self.make_at(start, parse_quantity, number + unit, "length_nm", "the thickness")

    # -- characters ------------------------------------------------------------------------

    def skip(self) -> int:
        """Pass over white space; the position after it."""
        while self.at < len(self.text) and self.text[self.at].isspace():
            self.at += 1
        return self.at

    def match(self, token: str) -> re.Match[str] | None:
        match = _TOKENS[token].match(self.text, self.at)
        if match:
            self.at = match.end()
        return match

    def accept(self, mark: str) -> bool:
        self.skip()
        if not self.text.startswith(mark, self.at):
            return False
        self.at += len(mark)
        return True

    def error_at(self, what: str, at: int | None = None) -> NotationError:
        return NotationError(self.text, self.at if at is None else at, what)

    def make_at(self, start: int, make: Callable[..., Made], *parts: Any) -> Made:
        """``make(*parts)``, its complaints pointed at the character where the part is written."""
        try:
            return make(*parts)
        except (NotationError, LimitError):
            raise
        except InputError as error:
            raise NotationError(self.text, start, str(error)) from error
