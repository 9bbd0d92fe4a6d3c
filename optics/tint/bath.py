"""What is held about one anodising bath: the shipped constant, or draws learnt from strips."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from ..errors import InputError, OutOfRangeError, TableError
from ..files.columns import name_file, read_text
from ..numerics.density import interval90
from ..oxidation.anodic import BathDraws, anodic_law, draw_baths
from ..oxidation.metals import AnodicLaw, Metal
from .coupon import film_share
from .kiln import DRAWS, Kiln, kiln_of, shipped_kiln
from .saved_draws import (
    SavedDraws,
    SavedForm,
    are_possible,
    format_saved_draws,
    read_saved_draws,
    refuse_unknown,
)

_FORMAT = "bath 1"
_FARTHEST_SD = 20.0  # of the shipped constant


@dataclass(frozen=True, eq=False)
class Bath:
    """A bath: its draws, and those of film and index that go with them as a kiln's.

    Attributes
    ----------
    kiln : Kiln
        Of the metal, so that its colours are looked up in one way; its heats say nothing.
    draws : BathDraws
    pieces : int
        Strips it was learnt from; 0 for the shipped constant.
    made_from : str
    between_V : tuple of float
        Lowest and highest volts of the strips.
    """

    kiln: Kiln
    draws: BathDraws
    pieces: int = 0
    made_from: str = ""
    between_V: tuple[float, float] = (0.0, 0.0)

    @property
    def metal(self) -> Metal:
        """The metal that is anodised."""
        return self.kiln.metal

    @property
    def law(self) -> AnodicLaw:
        """The shipped constant."""
        return anodic_law(self.metal)

    @property
    def source(self) -> str:
        """Where the constant comes from, its strips first."""
        if not self.pieces:
            return self.law.source
        return f"{self.pieces} strips of {self.made_from}, starting from: {self.law.source}"

    @property
    def words(self) -> str:
        """The constant in words."""
        if not self.pieces:
            return self.law.words
        each = []
        for volts in self.between_V:
            value = self.draws.nm_per_V(self.law, volts)
            low, high = interval90(value)
            each.append(f"{np.median(value):.2f} nm/V at {volts:g} V ({low:.2f} to {high:.2f})")
        return ", ".join(dict.fromkeys(each))

    def warn_far(self, volts: float) -> tuple[str, ...]:
        """What to say of volts far from those of the strips."""
        low, high = self.between_V
        if not self.pieces or 0.8 * low <= volts <= 1.25 * high:
            return ()
        return (f"the strips had {low:g} to {high:g} V; {volts:g} V is far from them",)


def bath_of(metal: str, bath: Bath | None, seed: int) -> Bath:
    """The bath to predict with: the one learnt, if it is of this metal, else the shipped constant.

    Raises
    ------
    InputError
        If the metal is unknown or has no constant, or the bath was learnt on another one.
    """
    kiln = kiln_of(metal, None, seed)
    anodic_law(kiln.metal)
    if bath is None:
        return shipped_bath(kiln.metal, seed)
    if not isinstance(bath, Bath):
        raise InputError(
            f"`bath` must be a Bath, as load_bath reads one, not {bath!r:.40}", parameter="bath"
        )
    if bath.metal.key != kiln.metal.key:
        raise OutOfRangeError(
            f"these strips were of {bath.metal.name}; they say nothing about {kiln.metal.name}"
        )
    return bath


def shipped_bath(metal: Metal, seed: int = 1, count: int = DRAWS) -> Bath:
    """Any bath: the shipped constant with its spread."""
    draws = draw_baths(metal, film_share(metal)[1], count=count, rng=np.random.default_rng(seed))
    return bath_from(metal, draws)


def bath_from(metal: Metal, draws: BathDraws, **known: Any) -> Bath:
    """The bath of these draws; ``known`` are the further fields of `Bath`."""
    kiln = shipped_kiln(metal, 1, draws.film.size)
    held = replace(kiln.draws, film=draws.film, index_error=draws.index_error)
    return Bath(replace(kiln, draws=held), draws, **known)


_FORM = SavedForm(
    name="a saved bath",
    of="strips",
    version=_FORMAT,
    between="between_V",
    limits=(0.0, 1000.0),
    columns=lambda _: list(BathDraws.__dataclass_fields__),
    instead="if it lists strips, learn the bath from them and save it",
)


def format_bath(bath: Bath) -> str:
    """A bath as JSON: draws from the posterior of its constant."""
    rows = np.column_stack([getattr(bath.draws, name) for name in _FORM.columns(bath.metal)])
    saved = SavedDraws(
        bath.metal, bath.kiln.film_names, rows, bath.pieces, bath.made_from, bath.between_V, {}
    )
    return format_saved_draws(saved, _FORM)


def load_bath(path: str | Path) -> Bath:
    """Read a bath that `format_bath` wrote.

    Raises
    ------
    TableError
        If the file is missing, of another form, or its numbers are impossible.
    """
    return parse_bath(read_text(Path(path)), name_file(Path(path)))


def parse_bath(text: str, where: str) -> Bath:
    """Read a bath from what stood in its file, as `load_bath`; ``where`` names it in a refusal."""
    held = read_saved_draws(text, where, _FORM)
    refuse_unknown(held.other, (), where)
    anodic_law(held.metal)
    common, tilt, scatter, native, error, film = held.draws.T
    draws = BathDraws(common, tilt, scatter, native, error, film.astype(np.intp))
    near = np.maximum(np.abs(common), np.abs(tilt)) < _FARTHEST_SD
    if not np.all(near & are_possible(native, scatter, error)):
        raise TableError(f"{where} holds draws of a bath that no law allows")
    return bath_from(
        held.metal, draws, pieces=held.pieces, made_from=held.made_from, between_V=held.between
    )


def is_bath(text: str) -> bool:
    """Whether a saved file is of a bath and not of a kiln."""
    return f'"format": "{_FORMAT}"' in text[:200]
