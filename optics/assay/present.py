"""A verdict, and what a good film shows, as documents."""

from __future__ import annotations

from ..films.materials.catalogue import find_entry, spread_sets
from ..remedies.remedies import MOST_TOLD, list_cautions, tell_remedies
from ..report.document import (
    Block,
    Document,
    Figure,
    Heading,
    Items,
    Line,
    Note,
    Swatch,
    Table,
    present,
)
from ..report.format import format_factor, format_ohm, format_percent
from ..report.provenance import COMPUTED
from ..units import format_digits
from .expectation import Expectation, ExpectedLook, oxide_words
from .hypotheses import data, list_hypotheses
from .plots import chart_expectation, chart_verdict
from .verdict import Verdict
from .words import region_words

_SHOWN = 0.005  # less likely ones only add lines
_LEAST_SHARE = 0.01  # of a hypothesis whose data are worth naming
_INSULATES_OHM = 1e8  # a sheet beyond the reach of a hand meter
_NEAREST = 3  # shown where nothing fits
_MORE_CHECKS = 4
_SIDES = {"front": "film side", "back": "from behind", "through": "through"}


@present.register
def _verdict(verdict: Verdict) -> Document:
    blocks: list[Block] = [_hypothesis_table(verdict)]
    if verdict.fits:
        shares = [f"{name} {format_percent(share)}" for name, share in verdict.groups.items()]
        blocks.append(f"In all: {', '.join(shares)}.")
    if verdict.fits:
        why = [
            f"{one.observation} ({one.found}): {one.words}, {format_factor(one.decibans)}"
            for one in verdict.why
        ]
        blocks += [Items(why)] if why else []
        blocks += [f"The verdict would turn {sentence}." for sentence in verdict.would_change]
    remarks = (*verdict.contradictions, *verdict.warnings)
    blocks += [f"Note: {sentence}." for sentence in remarks]
    blocks.append(f"Next: {verdict.next_check}.")
    others = [
        f"{one.look} ({format_percent(one.expected_surety)})"
        for one in verdict.checks[1:_MORE_CHECKS]
    ]
    if others:
        blocks.append(f"Or: {'; '.join(others)}.")
    told = verdict.remedies[:MOST_TOLD]
    if told:
        blocks += [Heading("At the next run"), Items(tell_remedies(told))]
    return Document(
        headline=f"{verdict.verdict}.",
        blocks=blocks,
        cautions=list_cautions(told),
        question="Is it metal, oxide, or something else?",
        figures=[Figure(lambda: chart_verdict(verdict), "What each would look like.")],
        confidence=[
            "Probabilities are shares of simulated films of every kind that agree with what was "
            "noticed. What is not on the list is not weighed.",
            f"Share of simulated films whose observations are at least as unusual: "
            f"{format_digits(100.0 * verdict.fit_p)} %; below 1 % nothing fits.",
        ],
        sources=_data_of(verdict),
    )


def _hypothesis_table(verdict: Verdict) -> Table:
    sides = [side for side in _SIDES if side in verdict.hypotheses[0].looks]
    shown = [one for one in verdict.hypotheses if one.probability >= _SHOWN]
    rows: list[list[Line]] = []
    for one in shown if verdict.fits else shown[:_NEAREST]:
        within = "" if one.name == "nothing" else region_words(one.region90_nm)
        name = one.title
        if len(one.variants) > 1:
            kind, share = next(iter(one.variants.items()))
            name += f", {kind} {format_percent(share)}"
        looks = [Swatch(*one.looks[side]) for side in sides]
        rows.append([name, format_percent(one.probability), within, *looks])
    names = [_SIDES[side] for side in sides]
    return Table(["what it may be", "prob.", "90 % within", *names], rows, optional=names[:0:-1])


def _data_of(verdict: Verdict) -> tuple[str, ...]:
    held = [one for one in verdict.hypotheses if one.probability >= _LEAST_SHARE]
    metals = {m for one in held for m, share in one.metals.items() if share >= _LEAST_SHARE and m}
    families = {one.name for one in held}
    weighed = [one for one in list_hypotheses(sorted(metals)) if one.family in families]
    media = dict.fromkeys(name for one in weighed for name in (one.metal, one.medium) if name)
    shipped = [name for name in media if name not in data()["constructed"]]
    labels = [entry.label for name in shipped for entry, _ in spread_sets(name)]
    built = [f"{name}, set up for assays" for name in media if name not in shipped]
    return (*labels, *built)


@present.register
def _expectation(expectation: Expectation) -> Document:
    blocks: list[Block] = [_look_table(expectation)]
    if expectation.oxide:
        blocks.append(
            Note(
                "Oxidised shares are of the metal atoms, mixed throughout as bad vacuum does; a "
                "skin grown by heat on good metal looks different."
            )
        )
    blocks += [f"Note: {sentence}." for sentence in expectation.notes]
    blocks.append(Note("Ohms run from clean to dirty metal, 5 to 95 %."))
    names = [name for name in (expectation.metal, expectation.oxide) if name]
    caption = "A good film, and the same with rising oxidation."
    return Document(
        headline=_expected_headline(expectation),
        blocks=blocks,
        question="What should a good film show?",
        figures=[Figure(lambda: chart_expectation(expectation), caption)],
        confidence=[COMPUTED, "Ohms run from clean to dirty metal, 5 to 95 %."],
        sources=tuple(find_entry(name).label for name in names),
    )


def _expected_headline(expectation: Expectation) -> str:
    good = expectation.expected[0]
    words = f"{expectation.film}: {good.front.name}, {good.front.srgb_hex}, on the film side"
    if good.optical_density is not None:
        words += f"; optical density {good.optical_density:.1f}"
    if good.ohm_sq is not None:
        words += f"; {_ohms(good)} per square"
    return f"{words}."


def _look_table(expectation: Expectation) -> Table:
    rows: list[list[Line]] = []
    for one in expectation.expected:
        sides = [("film side", one.front), ("from behind", one.back), ("through", one.through)]
        for i, (label, seen) in enumerate((s, a) for s, a in sides if a is not None):
            density = "" if one.optical_density is None else f"{one.optical_density:.2f}"
            whole = [oxide_words(one), f"{one.thickness_nm:.0f}"] if i == 0 else ["", ""]
            tail = (density, _ohms(one)) if i == 0 else ("", "")
            rows.append([*whole, label, Swatch(str(seen.srgb_hex), str(seen.name)), *tail])
    head = ["oxidised", "nm", "seen", "colour", "optical density", "per square"]
    return Table(head, rows, optional=["nm", "optical density"])


def _ohms(one: ExpectedLook) -> str:
    if one.ohm_sq is None:
        return "shorted by the base"
    low, high = one.ohm_sq
    if low >= _INSULATES_OHM:
        return "insulates"
    if high >= _INSULATES_OHM:
        return f"{format_ohm(low)} to nothing a meter shows"
    return f"{format_ohm(low)} to {format_ohm(high)}"
