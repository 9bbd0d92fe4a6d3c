"""An assay as text for a terminal: the verdict first, then what it rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..assay.expectation import Expectation, ExpectedLook
from ..assay.verdict import Hypothesis, Verdict
from .text import format_interval, format_percent, format_swatch, new_table

if TYPE_CHECKING:
    from rich.console import Console

_SHOWN = 0.005  # less likely ones only add lines
_INSULATES_OHM = 1e8  # a sheet beyond the reach of a hand meter
_NEAREST = 3  # shown where nothing fits
_MOST_SPANS = 2
_MORE_CHECKS = 4
_SIDES = {"front": "film side", "back": "from behind", "through": "through"}


def show_verdict(verdict: Verdict, out: Console) -> None:
    """Print a verdict with its hypotheses and evidence."""
    out.print(f"{verdict.verdict}.")
    out.print()
    sides = [side for side in _SIDES if side in verdict.hypotheses[0].looks]
    table = new_table("what it may be", "prob.", "90 % within", *(_SIDES[s] for s in sides))
    shown = [one for one in verdict.hypotheses if one.probability >= _SHOWN]
    for one in shown if verdict.fits else shown[:_NEAREST]:
        looks = [format_swatch(*one.looks[side], out) for side in sides]
        table.add_row(_name_of(one), format_percent(one.probability), _interval_words(one), *looks)
    out.print(table)
    if verdict.fits:
        for found in verdict.why:
            out.print(
                f"Why: {found.name} ({found.clause}) {found.words}, {found.decibans:+.0f} dB."
            )
        for sentence in verdict.changes:
            out.print(f"The verdict would turn {sentence}.")
    for sentence in (*verdict.contradictions, *verdict.warnings):
        out.print(f"Mind: {sentence}.")
    out.print(f"Next: {verdict.next_check}.")
    others = [
        f"{one.words} ({format_percent(one.surety)})" for one in verdict.checks[1:_MORE_CHECKS]
    ]
    if others:
        out.print(f"Or: {'; '.join(others)}.")
    if verdict.fits:
        out.print(
            "dB are decibans: ten times the decimal logarithm of the factor by which a finding "
            "moves the odds, the other findings given."
        )


def _name_of(one: Hypothesis) -> str:
    best = next(iter(one.variants.items()), None)
    if best is None or len(one.variants) == 1:
        return one.name
    return f"{one.name}, {best[0]} {format_percent(best[1])}"


def _interval_words(one: Hypothesis) -> str:
    if one.family == "nothing":
        return ""
    parts = one.region90_nm if len(one.region90_nm) <= _MOST_SPANS else [one.interval90_nm]
    return " or ".join(format_interval(part) for part in parts)


def show_expectation(expectation: Expectation, out: Console) -> None:
    """Print what a good film should show, and what one would that took up oxygen."""
    good = expectation.showings[0]
    words = f"{expectation.text}: {good.front.name}, {good.front.srgb_hex}, on the film side"
    if good.optical_density is not None:
        words += f"; optical density {good.optical_density:.1f}"
    if good.ohm_sq is not None:
        words += f"; {_ohms(good)} per square"
    out.print(f"{words}.")
    out.print()
    table = new_table("oxidised", "nm", "seen", "colour", "optical density", "ohms per square")
    for one in expectation.showings:
        sides = [("film side", one.front), ("from behind", one.back), ("through", one.through)]
        for i, (label, seen) in enumerate((s, a) for s, a in sides if a is not None):
            density = "" if one.optical_density is None else f"{one.optical_density:.2f}"
            head = (oxide_words(one), f"{one.thickness_nm:.0f}") if i == 0 else ("", "")
            tail = (density, _ohms(one)) if i == 0 else ("", "")
            table.add_row(
                *head, label, format_swatch(str(seen.srgb_hex), str(seen.name), out), *tail
            )
    out.print(table)
    if expectation.oxide:
        out.print(
            "Oxidised shares are of the metal atoms, mixed throughout as bad vacuum does; a skin "
            "grown by heat on good metal looks otherwise."
        )
    out.print("Ohms run from clean to dirty metal, 5 to 95 %.")


def oxide_words(one: ExpectedLook) -> str:
    """How much of a film is oxide."""
    return "none" if one.oxidised == 0.0 else f"{100.0 * one.oxidised:.0f} %"


def _ohms(one: ExpectedLook) -> str:
    if one.ohm_sq is None:
        return "shorted by the base"
    low, high = one.ohm_sq
    if low >= _INSULATES_OHM:
        return "insulates"
    if high >= _INSULATES_OHM:
        return f"{format_ohm(low)} to nothing a meter shows"
    return f"{format_ohm(low)} to {format_ohm(high)}"


def format_ohm(ohm: float) -> str:
    """A resistance with a prefix: 12 ohm, 4.7 kohm, 30 Mohm."""
    factor, prefix = next((pair for pair in ((1e6, "M"), (1e3, "k")) if ohm >= pair[0]), (1.0, ""))
    value = ohm / factor
    return f"{value:.0f} {prefix}ohm" if value >= 10.0 else f"{value:.1f} {prefix}ohm"
