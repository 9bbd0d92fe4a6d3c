"""Results as HTML for a notebook: what the terminal says, with swatches and a small chart."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import singledispatch
from typing import TYPE_CHECKING, Any

import numpy as np

from ..assay.expectation import Expectation
from ..assay.verdict import Verdict
from ..design.design import Design, Designs
from ..run_sheet.run_sheet import RunSheet
from ..thickness_map.thickness_map import FieldMap
from ..tint.calibrate import Calibration
from ..tint.heat_strip import HeatStrip, PlateHold
from ..tint.recipes import Recipes
from ..tint.tint import Tint
from . import charts_assay, charts_growth, charts_map, charts_mirror, charts_sheet
from .old_html import block_html
from .old_paper import Block, Drawing, Paper, PaperItems

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_STYLE = """<style>
.oxhue { max-width: 46rem; background: #fff; color: #1b1b1b; padding: .4rem .8rem; }
.oxhue table { border-collapse: collapse; } .oxhue figure { margin: .4rem 0; }
.oxhue th, .oxhue td { text-align: left; padding: .15rem .8rem .15rem 0; background: #fff;
  color: #1b1b1b; border-bottom: 1px solid #ccc; } .oxhue .short { white-space: nowrap; }
.oxhue svg { width: 100%; height: auto; max-height: 26rem; } .oxhue .wide { overflow-x: auto; }
.oxhue .patch { display: inline-block; width: 2.2em; height: .95em; border: 1px solid #555;
  vertical-align: -.1em; margin-right: .45em; }
</style>"""
_MOST_SWATCHES = 12
_MOST_CURVES = 6


def html_of(result: object) -> str:
    """A result as one ``<div>``; everything in it is escaped.

    Raises
    ------
    TypeError
        For what is no result of ours.
    """
    return _page(blocks_of(result))


@singledispatch
def blocks_of(result: object) -> list[Block]:
    """What a notebook shows of a result."""
    raise TypeError(f"{type(result).__name__} is no result that is drawn")


def _page(blocks: Sequence[Block]) -> str:
    return f'{_STYLE}<div class="oxhue">' + "\n".join(map(block_html, blocks)) + "</div>"


def _print_blocks(
    show: Callable[[Any], None], figure: Figure | None = None, text: str = ""
) -> list[Block]:
    """What is printed about a result, its chart after the first line, its cautions last."""
    paper = Paper()
    show(paper)
    drawn: list[Block] = [] if figure is None else [Drawing(figure, text)]
    cautions: list[Block] = [PaperItems(paper.cautions)] if paper.cautions else []
    return [*paper.blocks[:1], *drawn, *paper.blocks[1:], *cautions]


# -- answers --------------------------------------------------------------------------------


@blocks_of.register
def _(field: FieldMap) -> list[Block]:
    known = field.median_nm[field.order > 0]
    middle = f"{np.median(known):.0f} nm in the middle" if known.size else "nothing fits"
    words = f"{middle}; {100.0 * field.share_fitted:.0f} % of the picture has a thickness"
    return [words, Drawing(charts_map.chart_map(field), "Thickness in false colours"),
            *field.notes]  # fmt: skip


@blocks_of.register
def _(tint: Tint) -> list[Block]:
    from .text_growth import show_tint

    figure = charts_growth.chart_tint(tint)
    return _print_blocks(lambda out: show_tint(tint, out), figure, "Where pieces come out")


@blocks_of.register
def _(found: Recipes) -> list[Block]:
    from .text_growth import show_recipes

    return _print_blocks(lambda out: show_recipes(found, out))


@blocks_of.register
def _(strip: HeatStrip) -> list[Block]:
    from .text_growth import show_strip

    figure = charts_growth.chart_strip(strip)
    return _print_blocks(
        lambda out: show_strip(strip, out), figure, "Colours over time and temperature"
    )


@blocks_of.register
def _(held: PlateHold) -> list[Block]:
    from .text_growth import show_plate

    return _print_blocks(lambda out: show_plate(held, out, None))


@blocks_of.register
def _(learned: Calibration) -> list[Block]:
    from .text_growth import show_learned

    figure = charts_growth.chart_learned(learned)
    return _print_blocks(
        lambda out: show_learned(learned, out), figure, "Test pieces beside the law"
    )


@blocks_of.register
def _(verdict: Verdict) -> list[Block]:
    from .text_assay import show_verdict

    figure = charts_assay.chart_verdict(verdict)
    return _print_blocks(
        lambda out: show_verdict(verdict, out), figure, "What each would look like"
    )


@blocks_of.register
def _(expectation: Expectation) -> list[Block]:
    from .text_assay import show_expectation

    return _print_blocks(lambda out: show_expectation(expectation, out))


@blocks_of.register
def _(design: Design) -> list[Block]:
    met = "meets every goal" if design.met else f"misses its goals by {design.merit:.2g} points"
    return [f"{design.stack}: {met}"]


@blocks_of.register
def _(found: Designs) -> list[Block]:
    from .text_mirror import show_designs

    figure = charts_mirror.chart_designs(found)
    return _print_blocks(lambda out: show_designs(found, out), figure, "The best design")


@blocks_of.register
def _(sheet: RunSheet) -> list[Block]:
    from .text_sheet import show_sheet

    figure = charts_sheet.chart_sheet(sheet)
    return _print_blocks(
        lambda out: show_sheet(sheet, out), figure, "Evenness, and the witness slide"
    )
