"""Sentences of an assay in plain trade words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ..report.format import format_interval, format_percent
from .hypotheses import FilmHypothesis, facts, main_oxide, plain_name, statement_facts
from .verdict import Statement

if TYPE_CHECKING:
    from .observations import Observation

_SURE = 0.6  # of a variant or a metal before it is named outright
_RIVAL, _PART = 0.1, 0.05  # of other statements, and of parts of one, before they are told
_MOST_PARTS = 3
_STRENGTH = ((3.0, "little evidence"), (7.0, "some evidence"), (13.0, "good evidence"),
             (25.0, "strong evidence"), (1e9, "decisive evidence"))  # fmt: skip


def phrase_of(
    suspect: FilmHypothesis,
    ground: str,
    words: str,
    *,
    metals: dict[str, float],
    variants: dict[str, float],
) -> str:
    """Words of the data file with the metal and variant where they are clear."""
    metal, share = max(metals.items(), key=lambda item: item[1], default=("", 0.0))
    named = plain_name(metal) if metal and share >= _SURE else ""
    oxide = suspect.medium or (main_oxide(metal) if metal else "")
    compound = plain_name(oxide) if oxide and named else "oxide"
    best = max(variants, key=lambda kind: variants[kind], default="")
    clear = bool(best) and variants[best] >= _SURE
    if suspect.family == "carbon":
        if not clear:
            return "carbon"
        return plain_name(suspect.medium) if "carbide" in best else f"{best} carbon"
    words = words.replace("BASE", ground).replace("NITRIDE", compound)
    words = words.replace("METAL metal", f"{named} metal".strip())
    words = words.replace("METAL", named or "metal")
    if suspect.family == "oxide" and named and clear and best not in ("film", compound):
        compound += f", {best}"
    return words.replace("OXIDE", compound).removesuffix(" (oxide)")


def verdict_sentence(
    told: Sequence[Statement],
    observations: Sequence[Observation],
    ground: str,
    *,
    fits: bool,
    clashes: Sequence[str],
) -> str:
    """What it is, in one sentence."""
    *clauses, last = dict.fromkeys(one.clause for one in observations)
    seen = f"{', '.join(clauses)} and {last}" if clauses else last
    film = f"A film on {ground} that {seen}"
    best, *others = told
    if not fits:
        why = clashes[0] if clashes else "no film in question shows all of this"
        return f"{film}: none of these, {why}; the nearest, not to be trusted, is {best.words}"
    words = f"{best.words}{_thickness_words(best)}; {format_percent(best.probability)}"
    words += _parts_words(best)
    rivals = [one for one in others if one.probability >= _RIVAL][:2]
    if rivals:
        told_each = [f"{one.words} ({format_percent(_share_named(one))})" for one in rivals]
        words += f"; it could also be {' or '.join(told_each)}"
    return f"{film}: {words}"


def _share_named(one: Statement) -> float:
    """Probability of what the words name: of one part where they are that part's own."""
    part = max(one.parts, key=lambda name: one.parts[name])
    return one.parts[part] if facts(part)["title"] == one.title else one.probability


def _parts_words(one: Statement) -> str:
    """The parts of a statement that count, so that its percentage agrees with their rows."""
    parts = {name: share for name, share in one.parts.items() if share >= _PART}
    if len(parts) < 2 and format_percent(_share_named(one)) == format_percent(one.probability):
        return ""
    split = [f"{facts(name)['title']} {format_percent(share)}" for name, share in parts.items()]
    return f" ({', '.join(split)})"


def _thickness_words(one: Statement) -> str:
    if one.name == "nothing":
        return ""
    if not one.thickness_told:
        return ", of a thickness that its look does not tell"
    if one.at_least_nm is not None:
        return f", at least {one.at_least_nm:.0f} nm"
    skin = one.name == "metal" and "under a skin" in one.words
    of = "the skin " if skin else "as much as " if one.name == "islands" else ""
    return f", {of}{region_words(one.region90_nm)}"


def region_words(region: Sequence[tuple[float, float]]) -> str:
    """A set of intervals of thickness, or the ends of many."""
    parts = [part for part in region if part[1] - part[0] > 0.5] or list(region)
    if len(parts) > _MOST_PARTS:
        return f"{format_interval((parts[0][0], parts[-1][1]))}, in {len(parts)} parts"
    return " or ".join(format_interval(part) for part in parts)


def weight_in_words(decibans: float, leading: str) -> str:
    """How much an observation says for or against the leading statement."""
    words = next(words for limit, words in _STRENGTH if abs(decibans) < limit)
    if words == "little evidence":
        return words
    return f"{words} {'for' if decibans > 0 else 'against'} {statement_facts(leading)['title']}"


def clash_sentence(one: Observation, other: Observation, metals: tuple[str, ...]) -> str:
    """Two observations that do not go together."""
    made = f"of {plain_name(metals[0])}" if metals else "in question"
    return (
        f"it {one.clause} and it {other.clause}: these contradict each other, for no film {made} "
        f"does both"
    )


def check_sentence(words: str, now: float, after: float) -> str:
    """A check and what is to be expected of it."""
    then = format_percent(after)
    about = then if then.startswith("over") else f"about {then}"
    return f"{words}: it would raise the certainty from {format_percent(now)} to {about}"


def change_sentence(finding: str, statement: str, *, share: float, chance: float) -> str:
    """A finding that would turn the verdict."""
    return (
        f"if {finding} (chance {format_percent(chance)}), {statement_facts(statement)['title']} "
        f"comes first with {format_percent(share)}"
    )
