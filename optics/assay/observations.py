"""What was noticed of a film, each as a likelihood over simulated films and as a simulation."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Protocol, runtime_checkable

import numpy as np

from .._typing import FloatArray, IndexArray
from ..colour.conditions import ViewingConditions
from ..errors import InputError
from ..inference.colour_table import ColourTable
from ..inference.reading import Reading
from ..inference.simulate import seen_lab
from ..inference.uncertainty import Uncertainty
from .colours import FilmSet, colours_of
from .hypotheses import handling_of
from .visual import (
    BRIGHTNESS,
    FINISHES,
    THROUGH_WORDS,
    colour_uncertainty,
    dark_share,
    finish_chances,
    through_chances,
)
from .word_likelihood import (
    best_log_likelihood,
    draw_colours_called,
    word_log_likelihood,
    word_uncertainty,
)

Rng = np.random.Generator

_ANGLE = re.compile(r"\s*angle\s*=\s*([\d.]+)\s*(?:deg|°)?")
_HOW = re.compile(r"\s*\bhow\s*=\s*\S+")
_GLARE_NODES = 3
_LEAST = 1e-12
SLIP = 0.02
"""Share of kinds named that have nothing to do with the film."""

_FROM_RUN = 0.85  # of what a film becomes; the rest is decided when air comes in
_ROUGH = 0.2  # of what is found in handling, by chance
_VIEWS = {
    "front": ("the colour of the film side", "looks {}"),
    "back": ("the colour from behind, through the clear base", "looks {} from behind"),
    "through": ("the colour seen through", "looks {} when seen through"),
}
"""What each colour is called, and how it is told."""

_CATEGORIES: dict[str, tuple[str, dict[str, str]]] = {
    "finish": ("the finish", {kind: f"has a {kind} finish" for kind in FINISHES}),
    "black": ("its blackness", {"black": "looks black"}),
    "through": ("how much light comes through", {
        "opaque": "is opaque", "dim": "lets dim light through", "clear": "lets most light through",
    }),
    "wipe": ("the wipe with a dry pad", {
        "off": "wipes off", "smears": "smears when wiped", "stays": "stays when wiped",
    }),
    "scratch": ("the scratch with a wooden stick", {
        "easy": "scratches easily", "hard": "does not scratch easily",
    }),
    "warmed": ("the gentle heating", {
        "changes": "changes colour when warmed", "same": "keeps its colour when warmed",
    }),
}  # fmt: skip
"""What each kind of finding is called, and how each of its kinds is told."""


@runtime_checkable
class Observation(Protocol):
    """One thing noticed of the film."""

    @property
    def name(self) -> str:
        """What was looked at, such as ``colour of the film side``."""
        ...

    @property
    def clause(self) -> str:
        """What was found, as it follows "a film on glass that ..."."""
        ...

    @property
    def given(self) -> bool:
        """Whether it is a circumstance of the film, not something found on it."""
        ...

    def log_likelihood(self, films: FilmSet, blunders: bool = True) -> FloatArray:
        """Log likelihood in each film, shape (N,); without blunders, no slip is allowed for."""
        ...

    def simulate(
        self, films: FilmSet, truth: IndexArray, rows: IndexArray, *, rng: Rng
    ) -> FloatArray:
        """Log likelihood (K, C), in films ``rows``, of what films ``truth`` would have shown."""
        ...


@dataclass(frozen=True, eq=False)
class ColourObservation:
    """A colour seen from the film's side, through the piece, or from behind."""

    reading: Reading
    viewing: ViewingConditions
    given: bool = False

    @property
    def name(self) -> str:
        """Which colour."""
        return _VIEWS[self.reading.view][0]

    @property
    def clause(self) -> str:
        """What was seen."""
        seen = _ANGLE.sub(r" at \1°", _HOW.sub("", self.reading.text))
        return _VIEWS[self.reading.view][1].format(seen)

    @property
    def doubts(self) -> Uncertainty:
        """What is in doubt about it."""
        doubts = colour_uncertainty(self.reading)
        return word_uncertainty(self.reading, doubts) if self.reading.word else doubts

    def xyz(self, films: FilmSet) -> FloatArray:
        """Tristimulus values (N, 3) of the films from the side that was looked at.

        Raises
        ------
        InputError
            If there is nothing to see from it.
        """
        doubts = self.doubts
        angle = 0.5 * (doubts.angle_low_deg + doubts.angle_high_deg)
        seen = colours_of(films, self.viewing, angle if doubts.angle_low_deg > 0.0 else 0.0)
        xyz = {"front": seen.front, "back": seen.back, "through": seen.through}[self.reading.view]
        if xyz is None:
            raise InputError(
                f"{films.ground.text!r} cannot be seen through; leave out what was seen through it "
                f"or from behind"
            )
        return xyz

    def table(self, films: FilmSet) -> ColourTable:
        """The colours of the films as rows of a table, one a film."""
        doubts, xyz = self.doubts, self.xyz(films)
        nodes, weight = np.polynomial.legendre.leggauss(_GLARE_NODES)
        glare = doubts.glare * (nodes + 1.0) / 2.0
        share = weight / 2.0
        if doubts.glare == 0.0:
            glare, share = np.zeros(1), np.ones(1)
        bright, often = np.ones(1), np.ones(1)
        if self.reading.view == "through" and self.reading.how in ("word", "photo"):
            bright, often = BRIGHTNESS
        lit = np.minimum(bright, 100.0 / np.maximum(xyz[:, 1:2], 1e-6).clip(max=100.0))
        lab = seen_lab(
            xyz[:, None, None, :] * lit[:, :, None, None], glare[None, None, :], self.viewing
        )
        views = bright.size * glare.size
        rows = lab.reshape(len(films), 1, 1, views, 3).transpose(1, 2, 0, 3, 4)
        return ColourTable(
            np.zeros(len(films)), np.zeros(1), np.outer(often, share).ravel(),
            np.ascontiguousarray(rows, dtype=np.float32), doubts,
        )  # fmt: skip

    def log_likelihood(self, films: FilmSet, blunders: bool = True) -> FloatArray:
        """Log likelihood in each film, a word being a region of colours."""
        _ = blunders  # the doubts about a colour allow for slips already
        if self.reading.word:
            xyz = self.xyz(films)
            return word_log_likelihood(self.reading, self.doubts, xyz, viewing=self.viewing)
        density = self.table(films).log_likelihood(self.reading.points_lab)
        return np.asarray(density[0, 0, 0], dtype=float)

    @property
    def best_log_likelihood(self) -> float:
        """Log likelihood of a word in a film of the colour that it fits best."""
        return best_log_likelihood(self.reading, self.doubts)

    def meant_log_likelihood(
        self, films: FilmSet, likely: IndexArray, rows: IndexArray, *, rng: Rng
    ) -> FloatArray:
        """Log likelihood (K, C), in films ``rows``, of colours perceived of films ``likely``
        that would have been called by the word."""
        xyz = self.xyz(films)[likely]
        called = draw_colours_called(self.reading, self.doubts, xyz, viewing=self.viewing, rng=rng)
        table = self.table(films)
        part = replace(table, lab=table.lab[:, :, rows], scale_nm=table.scale_nm[rows])
        return part.log_likelihood(called)[:, 0, 0, :]

    def simulate(
        self, films: FilmSet, truth: IndexArray, rows: IndexArray, *, rng: Rng
    ) -> FloatArray:
        """Colours that other films would have shown."""
        table = self.table(films)
        views = table.view_weight.size
        seen = rng.choice(views, size=truth.size, p=table.view_weight)
        drawn = table.draw(truth * views + seen, rng)
        part = replace(table, lab=table.lab[:, :, rows], scale_nm=table.scale_nm[rows])
        return part.log_likelihood(drawn)[:, 0, 0, :]


@dataclass(frozen=True)
class CategoryObservation:
    """Something noticed that is one of a few kinds.

    Attributes
    ----------
    what : str
        ``finish``, ``black``, ``through``, ``wipe``, ``scratch`` or ``warmed``.
    found : str
    viewing : ViewingConditions
    """

    what: str
    found: str
    viewing: ViewingConditions
    given: bool = False

    @property
    def name(self) -> str:
        """What was looked at."""
        return _CATEGORIES[self.what][0]

    @property
    def clause(self) -> str:
        """What was found."""
        return _CATEGORIES[self.what][1][self.found]

    def chances(self, films: FilmSet) -> tuple[list[str], FloatArray]:
        """The kinds there are, and the chance of each in each film, shape (N, kinds)."""
        seen = colours_of(films, self.viewing)
        if self.what == "finish":
            return list(FINISHES), finish_chances(films, seen)
        if self.what == "black":
            black = dark_share(films, seen)
            return ["black", "not"], np.stack([black, 1.0 - black], axis=1)
        if self.what == "through":
            if seen.through is None:
                raise InputError(f"{films.ground.text!r} itself is opaque: nothing can be seen")
            return list(THROUGH_WORDS), through_chances(films, seen)
        return _handling_chances(films, self.what)

    def log_likelihood(self, films: FilmSet, blunders: bool = True) -> FloatArray:
        """Log of the chance of what was found, in each film."""
        kinds, chances = self.chances(films)
        slip = SLIP if blunders else _LEAST
        found = np.log((1.0 - slip) * chances[:, kinds.index(self.found)] + slip / len(kinds))
        return np.asarray(found, dtype=float)

    def simulate(
        self, films: FilmSet, truth: IndexArray, rows: IndexArray, *, rng: Rng
    ) -> FloatArray:
        """What other films would have shown."""
        kinds, chances = self.chances(films)
        steps = np.cumsum(chances[truth], axis=1)
        kind = (rng.random((truth.size, 1)) * steps[:, -1:] > steps).sum(axis=1)
        seen: FloatArray = np.log((1.0 - SLIP) * chances[rows][:, kind] + SLIP / len(kinds))
        return seen.T


@dataclass(frozen=True)
class DepositionObservation:
    """How it was deposited, as chances that the film stayed metal, greyed, or became oxide.

    ``nitride`` is the chance of a golden nitride; None where nothing is known of it.
    """

    text: str
    metal: float
    grey: float
    oxide: float
    nitride: float | None = None
    given: bool = True

    @property
    def name(self) -> str:
        """The circumstances."""
        return "how it was deposited"

    @property
    def clause(self) -> str:
        """The circumstances."""
        return f"was deposited {self.text}"

    def log_likelihood(self, films: FilmSet, blunders: bool = True) -> FloatArray:
        """Log weight of each film; some of the oxide forms only when air comes in."""
        _ = blunders
        share = films.oxidised
        kind = np.select([share < 0.15, share <= 0.85, share > 0.85], [0, 1, 2], 3)
        chance = _FROM_RUN * 3.0 * np.array([self.metal, self.grey, self.oxide])
        weight: FloatArray = np.append(chance + 1.0 - _FROM_RUN, 1.0)[kind]
        if self.nitride is not None:
            nitride = _FROM_RUN * 3.0 * self.nitride + 1.0 - _FROM_RUN
            weight = np.where(films.family == "nitride", nitride, weight)
        return np.asarray(np.log(weight), dtype=float)

    def simulate(
        self, films: FilmSet, truth: IndexArray, rows: IndexArray, *, rng: Rng
    ) -> FloatArray:
        """A circumstance is given, not found: the same for every film."""
        _ = rng
        return np.tile(self.log_likelihood(films)[rows], (truth.size, 1))


def _handling_chances(films: FilmSet, what: str) -> tuple[list[str], FloatArray]:
    """Chances of how a film takes handling, from what it is."""
    kinds = list(_CATEGORIES[what][1])
    if what == "wipe":
        rows = [handling_of(one)["wipe"] for one in films.suspects]
    else:
        key = {"scratch": "soft", "warmed": "heat"}[what]
        shares = [handling_of(one)[key] for one in films.suspects]
        rows = [[share, 1.0 - share] for share in shares]
    # A rough judgement counts for no more than it is worth.
    chances = (1.0 - _ROUGH) * np.array(rows) + _ROUGH / len(kinds)
    return kinds, chances[films.suspect]
