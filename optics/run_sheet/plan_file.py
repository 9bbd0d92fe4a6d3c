"""The plan of a run: a stack, or a design that was found, which brings its goals along."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from ..design.goal_reader import as_goals
from ..design.goals import Goal
from ..design.result import Design
from ..errors import InputError, shorten
from ..files.columns import read_text
from ..films.materials.medium import AIR
from ..films.notation import as_stack
from ..films.stack import Stack
from ..films.written import label_stack

Goals = str | Goal | Sequence[str | Goal] | None


def as_plan(stack: str | Stack | Design, goals: Goals) -> tuple[Stack, str, tuple[Goal, ...]]:
    """Films to deposit, how they are written, and what the piece is for.

    A design, or a text that ends in ``.json`` and names the file of one, gives its goals where
    none are stated.

    Raises
    ------
    InputError
        If the file is not the JSON of designs lit from air, or a stack or goal is refused.
    """
    wanted = () if goals is None else as_goals(goals)
    if isinstance(stack, Design):
        own = tuple(as_goals([result.goal for result in stack.results]))
        _check_lit_from_air(_lit_from(stack.piece), "`stack`")
        return stack.piece, stack.stack, wanted or own
    if isinstance(stack, str) and stack.strip().lower().endswith(".json"):
        text, own = _read_design(Path(stack.strip()))
        return as_stack(text), text, wanted or own
    films = as_stack(stack)
    _check_lit_from_air(_lit_from(films), "`stack`")
    return films, stack if isinstance(stack, str) else label_stack(films), wanted


def _read_design(path: Path) -> tuple[str, tuple[Goal, ...]]:
    """The first design of a file, and its goals."""
    try:
        found = json.loads(read_text(path))
        text, goals = found["designs"][0]["stack"], found["goals"]
        if not isinstance(text, str) or not all(isinstance(goal, str) for goal in goals):
            raise TypeError
    except (ValueError, KeyError, TypeError, IndexError, RecursionError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(
            f"`stack` {shorten(path.name)} is not the JSON of a design; write one with the "
            f"answer of the question what to deposit, as JSON",
            parameter="stack",
        ) from error
    _check_lit_from_air(str(found.get("light_from", "air")), f"`stack` {shorten(path.name)}")
    return text, as_goals(goals)


def _lit_from(films: Stack) -> str:
    return "air" if films.ambient == AIR else films.ambient.label


def _check_lit_from_air(lit_from: str, name: str) -> None:
    if lit_from != "air":
        raise InputError(
            f"{name} is lit from {shorten(lit_from)}; a run sheet tells what a witness "
            f"shows in air: give it the layers as a stack",
            parameter="stack",
        )
