"""The heat that a log advises for a colour: its odds, what limits them, a notch of each knob, and
the piece that would teach most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import ClassVar

import numpy as np

from ...colour.conditions import ViewingConditions
from ...oxidation.schedule import HeatSchedule
from ...tint.colour_search import DEGREES, SHARE, ColourSearch, Wish
from ...tint.kiln import Kiln, kiln_for, shipped_kiln
from ...tint.next_heat import next_heat
from ...tint.recipes import recipes
from ...tint.result import Recipes
from ...tint.surest import draw_nm, setting_of, steady_heat
from ..derived import Kept
from ..jar.learnt import Notch
from ..kiln_runs import kiln_of, pieces_of
from ..records import LoggedRun

_TELLS = 0.03  # of the chance: what would raise it by less limits nothing (a judgement)


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class NextHeats(Recipes):
    """The heats that a log advises for a colour.

    Attributes
    ----------
    setup : str
    done : dict
        The first of the recipes in the words of a log; empty where no heat gives the colour.
    chance : float
        Share of pieces that come out in the colour.
    chance_before : float
        The same of a kiln that no run is known of.
    limited_by : str
        What keeps the chance from being better.
    notches : tuple of Notch
    teaches : dict
        The heat whose piece would narrow the law most.
    teaches_words : str
        What that piece would bring.
    runs : int
        How many pieces it rests on.
    """

    verb: ClassVar[str] = "log"

    setup: str
    done: dict[str, str]
    chance: float
    chance_before: float
    limited_by: str
    notches: tuple[Notch, ...]
    teaches: dict[str, str]
    teaches_words: str
    runs: int


def advise_heat(
    runs: Sequence[LoggedRun],
    setup: str,
    *,
    want: str,
    metal: str | None = None,
    kept: Kept | None = None,
    seed: int = 1,
) -> NextHeats:
    """The next heat of a kiln or flame for a colour.

    Parameters
    ----------
    runs : sequence of LoggedRun
        Of one kiln.
    setup, want : str
    metal : str, optional
        Of its pieces, where they are of several.
    kept : mapping, optional
        Where what was learnt before is found, and put.
    seed : int

    Raises
    ------
    InputError
        If the runs say too little, or no colour is wanted.
    """
    kiln = kiln_of(runs, setup, metal=metal, kept=kept, seed=seed)
    viewing = ViewingConditions()
    search = ColourSearch.of(kiln, Wish(want), viewing=viewing, seed=seed)
    found = recipes(kiln.metal.key, want, kiln=kiln, seed=seed)
    _, own = pieces_of(runs, setup, metal)
    worth = next_heat(kiln, own[-1][0].reading, viewing, rng=np.random.default_rng(seed))
    best = found.recipes[0] if found.recipes else None
    return NextHeats(
        **{one.name: getattr(found, one.name) for one in fields(found)},
        setup=setup, done={} if best is None else _words(kiln, *setting_of(best)),
        chance=0.0 if best is None else best.chance,
        chance_before=0.0 if best is None else _chance_before(search, steady_heat(best)),
        limited_by="" if best is None else _limit(search, steady_heat(best), kiln.pieces),
        notches=() if best is None else _turn_knobs(search, steady_heat(best)),
        teaches=_words(kiln, worth.temperature_C, 60.0 * worth.time_min),
        teaches_words=worth.words, runs=kiln.pieces,
    )  # fmt: skip


def _words(kiln: Kiln, temperature_C: float, time_s: float) -> dict[str, str]:
    """A heat in the words of a log."""
    return {
        "metal": kiln.metal.key,
        "at": f"{round(temperature_C)}C",
        "time": f"{round(time_s)}s" if time_s % 60.0 else f"{round(time_s / 60.0)}min",
    }


def _chance(search: ColourSearch, heat: HeatSchedule) -> float:
    return search.chance(search.kiln_for(heat), draw_nm(search, heat))


def _chance_before(search: ColourSearch, heat: HeatSchedule) -> float:
    """Of a kiln that no piece is known of."""
    metal, rng = search.kiln.metal, np.random.default_rng(search.seed)
    held = kiln_for(shipped_kiln(metal, search.seed), heat, search.seed)
    return search.chance(held, held.draws.thickness_nm(metal, heat, rng))


def _turn_knobs(search: ColourSearch, heat: HeatSchedule) -> tuple[Notch, ...]:
    """The chance with temperature or time turned a little."""
    return tuple(
        Notch(words, _chance(search, other))
        for words, other in (
            (f"{DEGREES:.0f} °C hotter", heat.shift(DEGREES)),
            (f"{DEGREES:.0f} °C cooler", heat.shift(-DEGREES)),
            (f"time +{100 * SHARE:.0f} %", heat.stretch(1.0 + SHARE)),
            (f"time −{100 * SHARE:.0f} %", heat.stretch(1.0 - SHARE)),
        )
    )


def _limit(search: ColourSearch, heat: HeatSchedule, pieces: int) -> str:
    """What keeps the chance from being better: that which would raise it most if it were gone."""
    held, rng = search.kiln_for(heat), np.random.default_rng(search.seed)
    drawn_nm = held.draws.thickness_nm(held.metal, heat, rng)
    chance = search.chance(held, drawn_nm)
    typical_nm = held.draws.typical_nm(held.metal, heat)
    likeliest = int(np.argmax(np.bincount(held.draws.film)))
    film = np.full_like(held.draws.film, likeliest)
    same = replace(held, draws=replace(held.draws, film=film))
    many = "1 piece leaves" if pieces == 1 else f"{pieces} pieces leave"
    without = {
        f"what {many} open about the kiln; the piece that teaches most narrows it": search.chance(
            held, np.median(typical_nm) * drawn_nm / typical_nm
        ),
        "the scatter from heat to heat; the same place in the kiln, the same way up to heat and "
        "pieces cleaned alike help most": search.chance(held, typical_nm),
        "which kind of oxide grows, for kinds differ in colour; a spectrum of a piece tells "
        "them apart": search.chance(same, drawn_nm),
    }
    most = max(without, key=lambda words: without[words])
    if without[most] - chance < _TELLS:
        return "no one thing: kiln, scatter from heat to heat and kind of oxide together"
    return most
