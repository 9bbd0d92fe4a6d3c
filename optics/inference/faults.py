"""What real surfaces, oxides, cameras and lamps do that a flat clear film in stated light does not.

Each fault is a hypothesis of its own, one at a time, with a prior weight: a piece may be flat and
clear, or rolled, or uneven. What a fault does within its range is averaged into a mean colour and a
covariance (`fault_colours.py`), so that a reading is weighed against all of them at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..errors import InputError, suggest_nearest
from ..films.stack import Stack
from .hypotheses import FilmModel

IDEAL = "ideal"
"""In place of a finish: films are what their data sets say, and nothing else is in doubt."""
UNKNOWN = "unknown"
FINISHES = ("polished", "satin", "brushed", "rolled")
"""Finishes a piece may be said to have."""

NONE = "none"
OVER, UNDER = "clear layer over", "clear layer under"
CLEAR_LAYERS = {"over": (OVER,), "under": (UNDER,), "either": (OVER, UNDER)}
"""Where a clear layer that nobody stated may be asked about."""
_METALLIC_K = 0.5
_GREEN_NM = 550.0
_LEFT_DE = 0.5  # share of the stated discrepancy that the faults do not account for (a judgement)


@dataclass(frozen=True)
class Fault:
    """One thing that may be off, in the words an answer uses.

    Attributes
    ----------
    name : str
    weight : float
        Prior probability where no finish is stated.
    said : str
        What it is, after "if".
    check : str
        What would settle whether it is so.
    """

    name: str
    weight: float
    said: str
    check: str


FAULTS = (
    Fault(
        "scattering", 0.10, "the surface scatters light",
        "look at a lamp mirrored in the film: a sharp edge means polished, then state the finish",
    ),
    Fault(
        "rough", 0.10, "the finish is rolled or rough",
        "look at a lamp mirrored in the film: a sharp edge means polished, then state the finish",
    ),
    Fault(
        "uneven", 0.10, "the thickness varies within the spot",
        "read a smaller spot where the colour is even",
    ),
    Fault(
        "absorbing", 0.10, "the oxide absorbs",
        "heat a trial piece once more in plenty of air: a clear oxide keeps its colours as bright",
    ),
    Fault(
        "mixed layer", 0.10, "a layer of metal and oxide lies under the film",
        "measure its reflectance spectrum",
    ),
    Fault(
        "camera", 0.10, "the camera draws out contrast and colour",
        "photograph it with the camera's neutral profile, or read it with a colour meter",
    ),
    Fault(
        "lamp", 0.05, "the light is of another kind",
        "look again in daylight by a window",
    ),
)  # fmt: skip
"""All faults. The weights are judgements, as those of the film's variants are: one piece in three
is flat, clear and well photographed, and nothing makes one fault likelier than another. They
matter little where a reading speaks clearly."""

_LAYERS = (
    Fault(
        OVER, 0.5, "a clear layer such as lacquer or wax lies over the film",
        "wipe a hidden corner with white spirit, then acetone: wax and lacquer come off, and the "
        "colour with them changes",
    ),
    Fault(
        UNDER, 0.5, "a clear layer such as an oxide lies under the film",
        "look at bare metal next to the film: if it is tinted, write its layer into what the film "
        "lies on, as in 'SiO2 40nm / Si'",
    ),
)  # fmt: skip
"""Weighed only where they are asked about: then as likely as not, all together (a judgement)."""

# Thickness [nm] of clear layers, as likely each: native and thermal oxides, wax, thin lacquer; what
# is thicker than light keeps step over shows its mean (judgements).
_CLEAR_NM = {
    OVER: (10.0, 25.0, 45.0, 70.0, 100.0, 140.0, float("inf")),
    UNDER: (5.0, 12.0, 25.0, 40.0, 60.0, 90.0, 130.0),
}

_BY_FINISH = {
    "polished": {"scattering": 0.02, "rough": 0.02},
    "satin": {"scattering": 0.50, "rough": 0.10},
    "brushed": {"scattering": 0.35, "rough": 0.30},
    "rolled": {"scattering": 0.15, "rough": 0.55},
}  # judgements


@dataclass(frozen=True)
class FaultyModel(FilmModel):
    """A film model with one fault on all data sets of what it lies on, or without one on one.

    Attributes
    ----------
    fault : str
        Name of the fault, or ``none``.
    layer_nm : float
        Of a clear layer, its thickness [nm].
    bases : tuple of (Stack, float)
        What may lie under the film, with shares that sum to 1; ``base`` is the likeliest.
    """

    fault: str = NONE
    layer_nm: float = 0.0
    bases: tuple[tuple[Stack, float], ...] = ()


def check_finish(finish: str | None) -> str:
    """A finish by its name; unknown where none is stated.

    Raises
    ------
    InputError
        If there is no such finish.
    """
    if finish is None:
        return UNKNOWN
    plain = finish.strip().casefold() if isinstance(finish, str) else ""
    if plain in (*FINISHES, UNKNOWN):
        return plain
    hint = suggest_nearest(plain, list(FINISHES))
    raise InputError(
        f"`finish` must be {', '.join(FINISHES[:-1])} or {FINISHES[-1]}, not {finish!r:.40}"
        + (f" ({hint})" if hint else ""),
        parameter="finish",
    )


def check_clear_layer(place: str | None) -> str:
    """Where a clear layer may lie; nowhere where none is stated.

    Raises
    ------
    InputError
        If there is no such place.
    """
    plain = place.strip().casefold() if isinstance(place, str) else "" if place is None else "?"
    if plain in CLEAR_LAYERS or place is None:
        return plain
    raise InputError(
        f"`clear_layer` must be over, under or either, not {place!r:.40}", parameter="clear_layer"
    )


def add_faults(
    models: Sequence[FilmModel], finish: str, clear_layer: str = ""
) -> tuple[FilmModel, ...]:
    """Each film with each fault it may have.

    Data sets of what lies below are taken together under a fault, whose own spread of colours is
    wider than theirs; a film without one is weighed on each of them, the likeliest first. A film
    that dims the light, as a metal does, has no fault: its orders tell nothing.
    """
    found: list[FilmModel] = []
    for own in _by_film(models):
        weight = sum(model.weight for model in own)
        ranked = sorted(own, key=lambda model: -model.weight)
        name, film, base = ranked[0].film_name, ranked[0].film, ranked[0].base
        bases = tuple((model.base, model.weight / weight) for model in own)
        for fault, layer_nm, share in _with_layers(prior_shares(ranked[0], finish), clear_layer):
            if fault == NONE:
                found += [
                    FaultyModel(name, film, one.base, one.weight * share, bases=((one.base, 1.0),))
                    for one in ranked
                ]
            else:
                each = weight * share
                found.append(FaultyModel(name, film, base, each, fault, layer_nm, bases))
    return tuple(found)


def discrepancy_share(model: FilmModel) -> float:
    """Share of the stated discrepancy that is left where faults are accounted for."""
    return _LEFT_DE if isinstance(model, FaultyModel) and not _is_metallic(model) else 1.0


def fault_of(model: FilmModel) -> str:
    """The name of a model's fault, or ``none``."""
    return model.fault if isinstance(model, FaultyModel) else NONE


def find_fault(name: str) -> Fault:
    """The fault of that name."""
    return next(fault for fault in (*FAULTS, *_LAYERS) if fault.name == name)


def _by_film(models: Sequence[FilmModel]) -> list[list[FilmModel]]:
    """Models of one data set of one film hypothesis, in the order first met."""
    groups: dict[tuple[str, int], list[FilmModel]] = {}
    for model in models:
        groups.setdefault((model.film_name, id(model.film)), []).append(model)
    return list(groups.values())


def _with_layers(
    shares: list[tuple[str, float]], clear_layer: str
) -> list[tuple[str, float, float]]:
    """Fault, thickness of its layer and share, with the clear layers asked about among them."""
    asked = [fault for fault in _LAYERS if fault.name in CLEAR_LAYERS.get(clear_layer, ())]
    if not asked or len(shares) == 1:
        return [(name, 0.0, share) for name, share in shares]
    found = [(name, 0.0, 0.5 * share) for name, share in shares]
    for fault in asked:
        each = fault.weight / len(asked) / len(_CLEAR_NM[fault.name])
        found += [(fault.name, nm, each) for nm in _CLEAR_NM[fault.name]]
    return found


def _is_metallic(model: FilmModel) -> bool:
    return complex(model.film.nk(_GREEN_NM)).imag >= _METALLIC_K


def prior_shares(model: FilmModel, finish: str) -> list[tuple[str, float]]:
    """Faults a film may have and their prior shares, flat and clear first."""
    if finish == IDEAL or _is_metallic(model):
        return [(NONE, 1.0)]
    on_metal = complex(model.substrate.nk(_GREEN_NM)).imag >= _METALLIC_K
    stated = _BY_FINISH.get(finish, {})
    weights = {
        fault.name: stated.get(fault.name, fault.weight)
        for fault in FAULTS
        if on_metal or fault.name != "mixed layer"
    }
    # What a stated finish makes likely, it takes from what is flat and clear, but not all of it.
    clean = max(1.0 - sum(weights.values()), 0.05)
    scale = (1.0 - clean) / sum(weights.values())
    return [(NONE, clean), *((name, weight * scale) for name, weight in weights.items())]
