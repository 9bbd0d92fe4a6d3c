"""A family of hypotheses in the figures people ask for: thickness, parts, colours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray
from ..colour.conditions import ViewingConditions
from ..numerics.density import find_density_modes, highest_region, quantiles
from .colours import FilmColours, FilmSet, colours_of
from .hypotheses import FilmHypothesis, facts, statement_facts, statement_of
from .simulated_films import opaque_nm
from .verdict import Hypothesis, Span, Statement, ThicknessShare
from .words import phrase_of

_SMOOTHING_NM = 2.0
_LEADS = 0.6  # of a statement, from which its likeliest family is told by itself
_TIMES_OPAQUE, _MOSTLY_THICK = 2.0, 0.3  # from which "at least" says all that is known
_HIDDEN_RATIO = 3.0  # of the ends of a thickness, from which texture hides it


def describe_families(
    films: FilmSet,
    log_weight: FloatArray,
    shares: Mapping[str, float],
    *,
    viewing: ViewingConditions,
) -> tuple[Hypothesis, ...]:
    """Each family with its thickness, its parts and the colours of its best film."""
    colours = colours_of(films, viewing)
    found = []
    for family, share in shares.items():
        rows, own = _weigh(films.family == family, log_weight)
        likeliest = int(rows[np.argmax(own)])
        words, variants, metals = _name(films, rows, own)
        nm, interval, region, candidates = _thickness(films.thickness_nm[rows], own)
        found.append(
            Hypothesis(
                name=family, title=facts(family)["title"], words=words, probability=share,
                variants=variants, metals=metals, thickness_nm=nm, interval90_nm=interval,
                region90_nm=region, candidates=candidates,
                looks=_looks(colours, likeliest, viewing),
                example_nm=float(films.thickness_nm[likeliest]),
                example_ohm=float(np.exp(films.log_ohm[likeliest])),
            )
        )  # fmt: skip
    return tuple(found)


def describe_statements(
    films: FilmSet, log_weight: FloatArray, found: Sequence[Hypothesis]
) -> tuple[Statement, ...]:
    """What may be said of the film, likeliest first: families, some of them told as one."""
    members: dict[str, list[Hypothesis]] = {}
    for one in found:
        members.setdefault(statement_of(one.name), []).append(one)
    told = [_state(films, log_weight, name, own) for name, own in members.items()]
    return tuple(sorted(told, key=lambda one: -one.probability))


def _state(
    films: FilmSet, log_weight: FloatArray, name: str, members: Sequence[Hypothesis]
) -> Statement:
    """Families told as one, or the likeliest of them where it has words of its own and leads."""
    probability = sum(one.probability for one in members)
    best = max(members, key=lambda one: one.probability)
    parts = {one.name: one.probability for one in members}
    rows, own = _weigh(films.statement == name, log_weight)
    words, _, metals = _name(films, rows, own, name)
    most = bool(facts(best.name).get("leads")) and best.probability >= _LEADS * probability
    if len(members) == 1 or most:
        title, words = best.title, best.words
        thickness, region = (best.thickness_nm, best.interval90_nm), best.region90_nm
    else:
        title = statement_facts(name)["title"]
        *thickness, region, _ = _thickness(films.film_nm[rows], own)  # type: ignore[assignment]
    least, metal = None, next(iter(metals), "")
    if name == "metal" and metal and best.name != "oxide skin":
        thick = own[films.film_nm[rows] > _TIMES_OPAQUE * opaque_nm(metal)].sum()
        least = region[0][0] if thick > _MOSTLY_THICK and len(region) == 1 else None
    textured = films.ground.finish == "rough" or name == "black metal"
    return Statement(
        name, title, words, probability, parts, *thickness, region, least,
        not (textured and region[-1][1] > _HIDDEN_RATIO * max(region[0][0], 1.0)),
    )  # fmt: skip


def group_shares(films: FilmSet, weight: FloatArray) -> dict[str, float]:
    """Probability that the film is made of metal, of oxide, or of something else."""
    own = np.array([facts(one.family)["group"] for one in films.suspects])[films.suspect]
    by_film = np.where(films.oxidised < 0.5, "metal", "oxide")
    group = np.where(own == "film", by_film, own)
    return {name: float(weight[group == name].sum()) for name in ("metal", "oxide", "other")}


def _weigh(inside: BoolArray, log_weight: FloatArray) -> tuple[IndexArray, FloatArray]:
    """Rows of the films inside, and their weights, summing to 1."""
    rows = np.flatnonzero(inside)
    own = np.exp(log_weight[rows] - log_weight[rows].max())
    return rows, own / own.sum()


def _name(
    films: FilmSet, rows: IndexArray, own: FloatArray, statement: str = ""
) -> tuple[str, dict[str, float], dict[str, float]]:
    """Words for films, and the shares of their variants and metals."""
    by_suspect = np.bincount(films.suspect[rows], own, len(films.suspects))
    parts = [
        (films.suspects[i], float(by_suspect[i])) for i in sorted(set(films.suspect[rows].tolist()))
    ]
    best = max(parts, key=lambda part: part[1])[0]
    variants, metals = _sum_shares(parts, "variant"), _sum_shares(parts, "metal")
    text = (statement_facts(statement) if statement else facts(best.family))["words"]
    words = phrase_of(best, films.ground.text, text, metals=metals, variants=variants)
    return words, variants, metals


def _sum_shares(parts: Sequence[tuple[FilmHypothesis, float]], name: str) -> dict[str, float]:
    """Share of each variant or metal that is named, the greatest first."""
    shares: dict[str, float] = {}
    for one, part in parts:
        if key := getattr(one, name):
            shares[key] = shares.get(key, 0.0) + part
    return dict(sorted(shares.items(), key=lambda item: -item[1]))


def _looks(
    colours: FilmColours, row: int, viewing: ViewingConditions
) -> dict[str, tuple[str, str]]:
    """Hex and name of one film's colours by side."""
    from ..colour.colour import xyz_to_colour

    seen = {}
    sides = {"front": colours.front, "back": colours.back, "through": colours.through}
    for side, xyz in sides.items():
        if xyz is None:
            continue
        of = "transmitted" if side == "through" else "reflected"
        look = xyz_to_colour(xyz[row], viewing.light, viewing.observer, of=of)  # type: ignore[arg-type]
        seen[side] = str(look.srgb_hex), str(look.name)
    return seen


def _thickness(
    nm: FloatArray, weight: FloatArray
) -> tuple[float, tuple[float, float], list[Span], tuple[ThicknessShare, ...]]:
    """Median, 90 % interval, 90 % region, and the middles and shares of separate candidates."""
    top = float(nm.max())
    if top == 0.0:
        return 0.0, (0.0, 0.0), [(0.0, 0.0)], ()
    step = max(0.5, top / 1500.0)
    grid = np.arange(0.0, top + 8.0 * (_SMOOTHING_NM + step), step)
    place = np.clip(np.rint(nm / step).astype(int), 0, grid.size - 1)
    counts = np.bincount(place, weight, grid.size)
    reach = int(np.ceil(4.0 * _SMOOTHING_NM / step)) + 1
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) * step / _SMOOTHING_NM) ** 2)
    density = np.convolve(counts, kernel / kernel.sum(), mode="same") / step
    low, middle, high = quantiles(grid, density, np.array([0.05, 0.5, 0.95]))
    candidates = tuple(
        ThicknessShare(one.thickness_nm, one.probability)
        for one in find_density_modes(grid, density, clear_valley=0.0)
    )
    # Thickness is often known but to a factor: the set that is shortest in ratio says more.
    region = _merge_regions(highest_region(grid, density, rank=density * grid))
    return float(middle), (float(low), float(high)), region, candidates


def _merge_regions(regions: list[Span]) -> list[Span]:
    """Intervals with the slits between neighbours closed that are too narrow to mean anything."""
    whole = [regions[0]]
    for low, high in regions[1:]:
        if low - whole[-1][1] < max(5.0, 0.08 * low):
            whole[-1] = whole[-1][0], high
        else:
            whole.append((low, high))
    return whole
