"""A map of thickness for the browser: small enough to send, with the colours of the film itself."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import replace
from typing import Any

import numpy as np

from ...optics.colour.conditions import ViewingConditions
from ...optics.films.stack import Layer
from ...optics.look.look import look
from ...optics.report.json import plain
from ...optics.thickness_map.plots import shown_ends
from ...optics.thickness_map.result import FieldMap

_ACROSS = 420
"""Longest side of what is sent; the files next to the photo keep every pixel."""
_NOTHING = 65_535
_RAMP = 64
_TENTHS = 10.0


def draw_map(field: FieldMap, conditions: ViewingConditions) -> dict[str, Any]:
    """Median and ends of 90 % in tenths of a nanometre, and the film's colour at each nanometre.

    Returns
    -------
    dict
        ``width``, ``height``; ``median``, ``low`` and ``high`` as base64 of little-endian 16-bit
        numbers row by row, 65535 where there is no thickness; ``robust_nm``, ends of the colours;
        ``srgb_hex`` and ``in_gamut`` from 0 nm on; ``ramp_hex``, even steps from thin to thick.
    """
    step = max(1, -(-max(field.median_nm.shape) // _ACROSS))
    shown = field.median_nm[::step, ::step]
    height, width = shown.shape
    return {
        "width": width,
        "height": height,
        "step": step,
        "median": _packed(shown),
        "low": _packed(field.low_nm[::step, ::step]),
        "high": _packed(field.high_nm[::step, ::step]),
        "robust_nm": list(shown_ends(shown)),
        **_colours(field, conditions),
        "ramp_hex": _ramp(),
    }


def _ramp() -> list[str]:
    """The colours of the map's own chart, from thin to thick."""
    from matplotlib import colormaps
    from matplotlib.colors import to_hex

    from ...optics.report.style import MAP_COLOURS

    return [to_hex(one) for one in colormaps[MAP_COLOURS](np.linspace(0.0, 1.0, _RAMP))]


def _packed(values_nm: Any) -> str:
    tenths = np.where(np.isfinite(values_nm), np.rint(_TENTHS * values_nm), _NOTHING)
    return b64encode(np.clip(tenths, 0, _NOTHING).astype("<u2").tobytes()).decode("ascii")


def _colours(field: FieldMap, conditions: ViewingConditions) -> dict[str, Any]:
    """The colour of the likeliest film at each whole nanometre up to the thickest found."""
    thickest = int(np.nanmax(field.high_nm, initial=1.0)) + 2
    model = field.pairs[0]
    film = Layer(model.film, np.arange(thickest, dtype=float), axis=0)
    seen = look(replace(model.base, layers=(film, *model.base.layers)), conditions=conditions)
    return {name: plain(getattr(seen.reflected, name)) for name in ("srgb_hex", "in_gamut")}
