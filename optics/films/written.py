"""A stack in its written form, which :mod:`~oxhue.optics.films.notation` reads back."""

from __future__ import annotations

import numpy as np

from .._typing import FloatArray
from ..errors import InputError, LimitError
from ..units import parse_quantity
from .materials.catalogue import load_material
from .materials.effective_medium import Grade, Mixture
from .materials.medium import ConstantIndex, Medium
from .materials.nk_table import Material
from .notation import MAX_TEXT
from .stack import Layer, Stack
from .sweep import range_points, range_size


def format_stack(stack: Stack) -> str:
    """The written form of a stack; ``parse_stack`` reads it back as the same films.

    Data sets are named in full, and a sweep is written as a range where its points allow. Layers
    that share a sweep axis must be repeats of one layer; no other sharing can be written.

    Raises
    ------
    InputError
        If a medium has no written form: a table or formula of one's own, or a mixture by another
        rule than Bruggeman's.
    LimitError
        If it takes more than 20,000 characters, as the many points of an uneven sweep may.
    """
    for layer in (*stack.layers, *stack.back_layers):
        _check_medium(layer.medium)
    _check_medium(stack.substrate)
    whole = label_stack(stack)
    if len(whole) > MAX_TEXT:
        raise LimitError(
            f"this stack takes {len(whole):,} characters to write; at most {MAX_TEXT:,} are read "
            f"back"
        )
    return whole


def _check_medium(medium: Medium) -> None:
    """Refuse a medium that its label does not lead back to."""
    if isinstance(medium, Mixture | Grade) and medium.rule == "bruggeman":
        _check_medium(medium.first)
        _check_medium(medium.second)
    elif not isinstance(medium, ConstantIndex) and not _is_shipped(medium):
        raise InputError(
            f"{medium.label} has no written form that reads back as itself; only shipped "
            f"materials, constant indices and mixtures of them by Bruggeman's rule have one"
        )


def _is_shipped(medium: Medium) -> bool:
    if not isinstance(medium, Material):
        return False
    try:
        known = load_material(medium.label)
    except InputError:
        return False
    if known is medium:
        return True
    pairs = ((known.wavelength_nm, medium.wavelength_nm), (known.n, medium.n), (known.k, medium.k))
    return all(np.array_equal(one, other) for one, other in pairs)


def label_stack(stack: Stack) -> str:
    """A stack as `format_stack` writes it, media that have no written form by their labels."""
    slab = "" if stack.slab_nm is None else f" {_format_slab(float(stack.slab_nm))}"
    front = " / ".join([*_format_layers(stack.layers), stack.substrate.label + slab])
    back = " / ".join(_format_layers(stack.back_layers))
    return f"{front} | {back}" if back else front


def _format_slab(slab_nm: float) -> str:
    """In millimetres, as plates are bought, wherever that reads back to the same number."""
    written = f"{slab_nm / 1e6:.12g}mm"
    same = parse_quantity(written, "length_nm", "thickness") == slab_nm
    return written if same else f"{slab_nm!r}nm"


def _format_layers(layers: tuple[Layer, ...]) -> list[str]:
    """Each layer as written, a group that was repeated as a repeat again."""
    written = []
    while layers:
        period, count = _repeat(layers)
        group = layers[:period]
        if count > 1:
            written.append(f"{count} x ({' / '.join(_format_layers(group))})")
        else:
            written.append(f"{group[0].medium.label} {_format_thickness(group[0].thickness_nm)}")
        layers = layers[period * count :]
    return written


def _repeat(layers: tuple[Layer, ...]) -> tuple[int, int]:
    """Length of the group that starts here and how often it stands in a row, or (1, 1)."""
    best = (1, 1)
    for period in range(1, len(layers) // 2 + 1):
        if layers[period] is layers[0]:
            alike = period
            while alike < len(layers) and layers[alike] is layers[alike - period]:
                alike += 1
            best = max(best, (period, alike // period), key=lambda pair: pair[0] * pair[1])
    return best if best[1] > 1 else (1, 1)


def _format_thickness(thickness_nm: FloatArray) -> str:
    points = np.atleast_1d(thickness_nm)
    if points.size > 2:
        low, step, high = (float(d) for d in (points[0], points[1] - points[0], points[-1]))
        for tidy in (float(f"{step:.12g}"), step):
            sized = tidy > 0.0 and range_size(low, high, tidy) == points.size
            if sized and np.array_equal(range_points(low, high, tidy), points):
                return f"{low!r}..{high!r}nm step {tidy!r}nm"
    return ",".join(repr(float(d)) for d in points) + "nm"
