"""From heat to colour: what a heat gives, all colours of a metal, and heats for a colour."""

from __future__ import annotations

from typing import Any

from ...optics.errors import InputError
from ...optics.oxidation.schedule import hold
from ...optics.tint.calibrate import learn
from ...optics.tint.coupon_file import CouponRow, parse_pieces
from ...optics.tint.heat_strip import heat_strip
from ...optics.tint.kiln import Kiln, format_kiln, parse_kiln
from ...optics.tint.recipes import anodic_recipes, recipes
from ...optics.tint.tint import anodise, tint
from ...optics.units import parse_quantity
from ..fields import Fields

MOST_CELLS = 4_000


def coupons_question(fields: Fields) -> dict[str, Any]:
    """What test pieces say about a kiln, from a list of them as CSV; and the kiln to keep."""
    pieces = fields.document("pieces")
    if pieces is None:
        raise InputError("there are no test pieces: write down at least one")
    metal, rows = parse_pieces(pieces, "the list of test pieces", None)
    read = [row for row in rows if isinstance(row, CouponRow)]
    if len(read) < len(rows):
        raise InputError("these are strips of a bath; a kiln is learnt from heated pieces")
    learned = learn(metal, read, made_from="this page", conditions=fields.viewing())
    return {
        "answer": learned.to_dict(),
        "kiln": format_kiln(learned.fitted),
        "trusted": learned.fits,
    }


def kiln_question(fields: Fields) -> dict[str, Any]:
    """What a saved kiln is of."""
    kiln = _kiln(fields)
    if kiln is None:
        raise InputError("there is no kiln: open one that was saved")
    return {
        "answer": {
            "metal": kiln.metal.key,
            "metal_name": kiln.metal.name,
            "pieces": kiln.pieces,
            "source": kiln.source,
            "between_C": list(kiln.between_C),
            "warnings": list(kiln.warnings),
        },
        "trusted": True,
    }


def _kiln(fields: Fields) -> Kiln | None:
    text = fields.document("kiln")
    return None if text is None else parse_kiln(text, "the saved kiln")


def _degrees(text: str) -> float:
    return parse_quantity(text, "temperature_C", "the temperature")


def _seconds(text: str) -> float:
    return parse_quantity(text, "time_s", "the time")


def tint_question(fields: Fields) -> dict[str, Any]:
    """Oxide and colour after a heat (``at``, ``for``) or at a voltage (``volts``)."""
    metal, viewing = fields.text("metal"), fields.viewing()
    angle_deg = fields.number("angle_deg", 0.0, 0.0, 90.0)
    if "volts" in fields:
        volts = fields.number("volts", 0.0, 0.0, 1e4)
        found = anodise(metal, volts, conditions=viewing, angle_deg=angle_deg)
    else:
        heat = hold(_degrees(fields.text("at")), _seconds(fields.text("for")))
        found = tint(metal, heat, kiln=_kiln(fields), conditions=viewing, angle_deg=angle_deg)
    return {"answer": found.to_dict(), "trusted": True}


def strip_question(fields: Fields) -> dict[str, Any]:
    """Colours of a metal over temperatures and times."""
    rows = fields.whole("temperatures", 60, 2, 200)
    times_s = [60.0 * minutes for minutes in fields.numbers("times_min", 1e-2, 1e5)] or [1200.0]
    if rows * len(times_s) > MOST_CELLS:
        raise InputError(f"a field of colours has at most {MOST_CELLS:,} places")
    metal, viewing = fields.text("metal"), fields.viewing()
    found = heat_strip(metal, kiln=_kiln(fields), conditions=viewing, rows=rows, times=times_s)
    drawing = {"in_gamut": found.in_gamut.tolist()}
    return {"answer": found.to_dict(), "drawing": drawing, "trusted": True}


def recipes_question(fields: Fields) -> dict[str, Any]:
    """Heats, or volts, that give a colour."""
    metal, want, viewing = fields.text("metal"), fields.text("want"), fields.viewing()
    if fields.on("anodise"):
        found = anodic_recipes(metal, want, conditions=viewing)
    else:
        times = [_seconds(text) for text in fields.texts("for")]
        degrees = [_degrees(text) for text in fields.texts("at")]
        found = recipes(
            metal, want, times=times, temperatures=degrees, kiln=_kiln(fields), conditions=viewing
        )
    return {"answer": found.to_dict(), "trusted": bool(found.recipes)}
