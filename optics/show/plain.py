"""Answers as plain data for JSON: the keys are a contract, the numbers are unrounded."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..colour.colour import Colour

Plain = dict[str, Any]

MAX_LISTED = 300_000  # stacks in one JSON object: half a minute, some hundred megabytes


def appearance_plain(appearance: Colour, position: tuple[int, ...] = ()) -> Plain:
    """One colour of an appearance."""
    xyz = appearance.xyz[position]
    return {
        "Y": float(xyz[1]),
        "xyz": xyz.tolist(),
        "lab": appearance.lab[position].tolist(),
        "srgb_hex": str(np.asarray(appearance.srgb_hex)[position]),
        "in_gamut": bool(np.asarray(appearance.in_gamut)[position]),
        "name": str(np.asarray(appearance.name)[position]),
    }
