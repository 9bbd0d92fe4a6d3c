"""Which metal a run of a jar deposited, where it does not say so itself but the log does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ..deposition.source_plan import FILAMENT
from ..errors import InputError
from ..films.materials.catalogue import find_entry
from .records import LoggedRun


def name_metals(runs: Sequence[LoggedRun], metal: str | None = None) -> tuple[LoggedRun, ...]:
    """Runs of one jar, those that do not say their metal with the one that is told of it.

    That is the one their pieces have, else that of a wire which carries nothing, else the one that
    is named here, else that of all other runs, where these agree. A run that is told of no metal
    stays without.
    """
    own = [_metal_of(run) for run in runs]
    named = {name for name in own if name is not None}
    usual = metal or (named.pop() if len(named) == 1 else None)
    return tuple(
        replace(run, done=run.done | {"metal": found})
        if run.done and "metal" not in run.done and (found := name or usual) is not None
        else run
        for run, name in zip(runs, own, strict=True)
    )


def check_asked(runs: Sequence[LoggedRun], setup: str, metal: str | None) -> None:
    """Whether there is a run of a jar that a metal named beside the log is for.

    Raises
    ------
    InputError
        If every run says what it deposited, and it is not that alone.
    """
    own = [_metal_of(run) for run in runs if run.done]
    if metal is None or not own or None in own:
        return
    said = sorted({name for name in own if name is not None})
    if said != [find_entry(metal).name]:
        raise InputError(
            f"`metal` {metal!r:.40} is for runs that do not say what was deposited, and every run "
            f"of {setup!r} says it: {', '.join(said)}",
            parameter="metal",
        )


def _metal_of(run: LoggedRun) -> str | None:
    """What a run and its pieces say of the metal, by its usual name; None for nothing."""
    done = run.done
    said = {done["metal"]} if "metal" in done else {
        piece.facts["metal"] for piece in run.pieces if "metal" in piece.facts
    }  # fmt: skip
    bare = done.get("source", "wire") == "wire" and "charge" not in done
    if not said and bare and "wire" in done:
        said = {done["wire"]}
    try:
        named = {find_entry(name).name for name in said}
    except InputError:  # told where the run is computed
        return None
    named -= set() if "metal" in done else {FILAMENT}
    return named.pop() if len(named) == 1 else None
