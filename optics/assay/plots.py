"""Swatches of what each hypothesis would look like: film side, from behind, through."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from ..report.format import format_percent
from ..report.style import INK, contrasting_ink, new_figure
from .expectation import Expectation, oxide_words
from .verdict import Verdict

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_SIDES = (("front", "film side"), ("back", "from behind"), ("through", "through"))
_ROW_IN, _WIDTH_IN = 0.62, 9.5
_NAMES_SHARE = 0.25  # of the width


Row = tuple[str, dict[str, tuple[str, str]]]


def chart_verdict(verdict: Verdict) -> Figure:
    """Swatches of all hypotheses, likeliest first, with their probabilities."""
    figure, ax = _figure(len(verdict.hypotheses))
    plot_verdict(verdict, ax)
    return figure


def plot_verdict(verdict: Verdict, ax: Axes | None = None) -> Axes:
    """Axes of swatches, one for each thing the film may be, likeliest first."""
    rows: list[Row] = [
        (f"{one.name}\n{format_percent(one.probability)}, {one.example_nm:.0f} nm", one.looks)
        for one in verdict.hypotheses
    ]
    ax = plot_swatches(rows, ax)
    noticed = "; ".join(one.partition(": ")[2] for one in verdict.observations)
    title = f"What each would look like, for a film that {noticed}"
    ax.set_title(textwrap.fill(title, 110), fontsize=10.5)
    return ax


def chart_expectation(expectation: Expectation) -> Figure:
    """Swatches of a good film and of what it would be with rising oxidation."""
    figure, ax = _figure(len(expectation.expected))
    plot_expectation(expectation, ax)
    return figure


def plot_expectation(expectation: Expectation, ax: Axes | None = None) -> Axes:
    """Axes of swatches, from the good film to one oxidised through."""
    rows: list[Row] = []
    for one in expectation.expected:
        sides = {"front": one.front, "back": one.back, "through": one.through}
        looks = {k: (str(a.srgb_hex), str(a.name)) for k, a in sides.items() if a is not None}
        label = "as it should be" if one.oxidised == 0.0 else f"{oxide_words(one)} oxidised"
        rows.append((f"{label}\n{one.thickness_nm:.0f} nm", looks))
    ax = plot_swatches(rows, ax)
    ax.set_title(expectation.film, fontsize=10.5)
    return ax


def plot_swatches(rows: list[Row], ax: Axes | None = None) -> Axes:
    """Axes of swatches with their hex and name on them.

    Parameters
    ----------
    rows : list of (label, looks)
        ``looks`` has hex and name by side; a missing side is left blank.
    """
    from matplotlib.colors import to_rgb
    from matplotlib.patches import Rectangle

    ax = ax or _figure(len(rows))[1]
    width = (1.0 - _NAMES_SHARE) / len(_SIDES)
    for i, (label, looks) in enumerate(rows):
        top = len(rows) - i
        ax.text(0.0, top - 0.5, label, va="center", ha="left", fontsize=8, color=INK)
        for j, (side, _) in enumerate(_SIDES):
            if side not in looks:
                continue
            hex_value, name = looks[side]
            left = _NAMES_SHARE + j * width
            place, size = (left, top - 0.95), (0.96 * width, 0.9)
            ax.add_patch(Rectangle(place, *size, facecolor=hex_value, edgecolor=INK, lw=0.5))
            ax.text(
                left + 0.48 * width, top - 0.5, f"{name}\n{hex_value}", va="center", ha="center",
                fontsize=7, color=contrasting_ink(to_rgb(hex_value)),
            )  # fmt: skip
    for j, (_, words) in enumerate(_SIDES):
        middle = _NAMES_SHARE + (j + 0.48) * width
        ax.text(middle, len(rows) + 0.12, words, ha="center", va="bottom", fontsize=9)
    ax.set_xlim(0.0, 1.0)
    ax.set_ylim(0.0, len(rows) + 0.5)
    ax.axis("off")
    return ax


def _figure(rows: int) -> tuple[Figure, Axes]:
    figure, (ax,) = new_figure(_WIDTH_IN, 1.2 + _ROW_IN * rows, [1.0])
    return figure, ax
