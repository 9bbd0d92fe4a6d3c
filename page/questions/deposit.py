"""What to deposit for a reflectance or a colour, and how to deposit it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from ...optics.chamber.chamber import USUAL_METALS, chamber
from ...optics.design.design import design
from ...optics.design.goals import Goal
from ...optics.design.result import Designs
from ...optics.errors import InputError
from ...optics.films.solve import solve
from ...optics.films.spectra import DEFAULT_WAVELENGTH_NM
from ...optics.report.document import Block, Items, Line, words_of
from ...optics.run_sheet.run_sheet import run_sheet
from ...optics.units import parse_quantity
from ..fields import Fields, name_fields

MOST_LAYERS = 16
MOST_EFFORT = 1_000
MOST_SAMPLES = 5_000
_DRAWN = 401  # wavelengths of a chart that reaches beyond the visible
_SETUP = (
    "source", "distance", "offset", "size", "tooling", "wire", "wire_diameter", "wire_length",
    "coil", "current", "voltage", "melted_at", "cold_ohms",
)  # fmt: skip
_GAS = (
    "pressure", "gas", "working_gas", "working_pressure", "base_pressure", "leak", "pumping",
    "volume", "getter",
)  # fmt: skip


def design_question(fields: Fields, tell: Callable[[str], None]) -> dict[str, Any]:
    """Designs for the ``goals``, and the spectrum of each for the chart."""
    total, robust = fields.text_if("total"), fields.on("robust")
    if robust and fields.text_if("tolerance") is None:
        raise InputError("a design that bears errors needs `tolerance`, how large they are: 3%")
    found = design(
        fields.text("on", "glass"),
        fields.texts("goals"),
        fields.texts("with"),
        max_layers=fields.whole("max_layers", 8, 1, MOST_LAYERS),
        thinnest_nm=parse_quantity(
            fields.text("thinnest", "5nm"), "length_nm", "the thinnest layer"
        ),
        thickest_nm=parse_quantity(
            fields.text("thickest", "500nm"), "length_nm", "the thickest layer"
        ),
        total_nm=None if total is None else parse_quantity(total, "length_nm", "the total"),
        errors=fields.text_if("tolerance"),
        make_robust=robust,
        count=fields.whole("designs", 3, 1, 6),
        effort=fields.whole("effort", 300, 1, MOST_EFFORT),
        samples=fields.whole("samples", 2_000, 1, MOST_SAMPLES),
        conditions=fields.viewing(),
        angle_deg=fields.number("angle_deg", 0.0, 0.0, 90.0),
        report=tell,
    )
    return {
        "answer": found.to_dict(),
        "drawing": _draw_designs(found) if found.designs else None,
        "trusted": found.met,
    }


def _draw_designs(found: Designs) -> dict[str, Any]:
    """Spectra of the designs as the first goal on light looks at them, over all such goals.

    Their bands go with them, as [relation, percent, from, to].
    """
    goals = [one for one in found.goals if one.quantity in "RT" and one.view == "front"]
    first = goals[0] if goals else Goal("R", "=")
    angle, way, shown = first.angles_deg[0], first.polarization, first.quantity
    ends = [nm for one in goals for nm in one.span_nm]
    grid = DEFAULT_WAVELENGTH_NM
    if ends and (min(ends) < grid[0] or max(ends) > grid[-1]):
        seen = () if min(ends) > grid[-1] else (grid[0], grid[-1])
        grid = np.linspace(min(*ends, *seen), max(*ends, *seen), _DRAWN)
    solved = [solve(one.piece, grid, angle, polarization=way) for one in found.designs]
    alike = [one for one in goals if (one.angles_deg[0], one.polarization) == (angle, way)]
    return {
        "wavelength_nm": grid.tolist(),
        "shown": shown,
        "angle_deg": angle,
        "polarization": way,
        "values": [np.asarray(one.R if shown == "R" else one.T).tolist() for one in solved],
        "bands": [
            [one.relation, one.percent, *one.span_nm] for one in alike if one.quantity == shown
        ],
    }


def sheet_question(fields: Fields) -> dict[str, Any]:
    """A run sheet; the fields are named as the verb's options."""

    gas: dict[str, Any] = {name: fields.text_if(name) for name in _GAS}
    planned = run_sheet(
        fields.text("stack"),
        {name: fields.text_if(name) for name in _SETUP},
        rate=fields.texts("rate"),
        conditions=fields.viewing(),
        witness=fields.text_if("witness"),
        goals=fields.texts("goals") or None,
        monitor=fields.text_if("monitor"),
        trouble=fields.texts("trouble"),
        made=fields.texts("made"),
        plastic=fields.on("plastic"),
        **gas,
    )
    return {"answer": planned.to_dict(), "trusted": planned.trusted}


def chamber_question(fields: Fields) -> dict[str, Any]:
    """The gas in a jar; the fields are named as the verb's options, with the answer in words."""
    names = ("volume", "pumping", "tube", "rise", "leak", "flush", "working_gas")
    texts: dict[str, Any] = {name: fields.text_if(name) for name in (*names, "working_pressure")}
    for name, otherwise in (("rate", "0.2nm/s"), ("distance", "5cm"), ("source", "wire")):
        texts[name] = fields.text(name, otherwise)
    found = chamber(
        **texts,
        gauge=fields.text("gauge", "absolute"),  # type: ignore[arg-type]  # it names its kinds
        metal=fields.text("metal", ",".join(USUAL_METALS)),
        plastic=fields.on("plastic"),
    )
    document = found.document()
    lines = [words_of(one) for block in document.blocks for one in lines_of(block)]
    words = {
        "headline": words_of(document.headline),
        "lines": [name_fields(one, "chamber") for one in lines],
    }
    return {"answer": found.to_dict(), "words": words, "trusted": True}


def lines_of(block: Block) -> Sequence[Line]:
    """Paragraphs and entries of lists, without tables and remarks."""
    if isinstance(block, Items):
        return block.lines
    return [block] if isinstance(block, str) else []
