"""What does this coating look like?"""

from __future__ import annotations

from typing import Any

import numpy as np

from ...optics.errors import InputError
from ...optics.films.stack import sweep_thicknesses
from ...optics.look.look import look
from ...optics.look.result import Look
from ..fields import Fields

MOST_POINTS = 401
MOST_LAYERS = 60


def look_question(fields: Fields) -> dict[str, Any]:
    """Colour from the front, with the colour from the back and the colours of one layer's ramp.

    Fields: ``stack``, ``angle_deg``, ``light``, ``observer``, and ``ramp``: the same stack with
    one thickness swept, for the colours drawn along its slider.
    """
    text = fields.text("stack")
    angle_deg = fields.number("angle_deg", 0.0, 0.0, 90.0)
    viewing = fields.viewing()
    _check_size(text)
    seen_from: dict[str, Any] = {"angle_deg": angle_deg, "conditions": viewing, "spectrum": True}
    seen = look(text, **seen_from)
    behind = None if seen.films.slab_nm is None else look(text, side="back", **seen_from)
    ramp = fields.text_if("ramp")
    return {
        "answer": seen.to_dict(),
        "drawing": {
            "layers": _layers(seen),
            "back": None if behind is None else behind.to_dict(),
            "ramp": None if ramp is None else _ramp(ramp, angle_deg, viewing),
        },
        "trusted": True,
    }


def _ramp(text: str, angle_deg: float, viewing: Any) -> dict[str, Any]:
    _check_size(text)
    seen = look(text, angle_deg=angle_deg, conditions=viewing)
    swept = sweep_thicknesses(seen.films)
    if len(swept) != 1:
        raise InputError("a ramp of colours needs one swept thickness, such as TiO2 0..200nm / Ti")
    return {
        "thickness_nm": swept[0][1].tolist(),
        "srgb_hex": np.asarray(seen.reflected.srgb_hex).tolist(),
        "name": np.asarray(seen.reflected.name).tolist(),
    }


def _check_size(text: str) -> None:
    """Refuse before any optics what would take long."""
    from ...optics.films.notation import parse_stack

    stack = parse_stack(text)
    if len(stack.all_layers) > MOST_LAYERS:
        raise InputError(f"the page draws at most {MOST_LAYERS} layers; 'oxhue look' takes more")
    points = int(np.prod(stack.sweep_shape))
    if points > MOST_POINTS:
        raise InputError(
            f"a sweep of {points:,} points is too long for the page; it draws at most {MOST_POINTS}"
        )


def _layers(seen: Look) -> list[dict[str, Any]]:
    """The layers as drawn, from the light's side, films on the back face last."""
    stack = seen.films
    drawn: list[dict[str, Any]] = []
    for face, layers in (("front", stack.layers), ("back", stack.back_layers)):
        drawn += [
            {
                "face": face,
                "label": layer.medium.label,
                "kind": layer.medium.kind,
                "thickness_nm": layer.thickness_nm.tolist(),
            }
            for layer in layers
        ]
    ground = {"face": "substrate", "label": stack.substrate.label, "kind": stack.substrate.kind}
    return [*drawn, {**ground, "thickness_nm": stack.slab_nm}]
