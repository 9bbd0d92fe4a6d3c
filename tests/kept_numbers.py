"""Numbers that an answer rests on, kept as they were: none of them changes by accident.

A constant of a model that moves by a little fails no test of a tendency. Where a model is changed
for a reason, ``OXHUE_KEEP_NUMBERS=1 python -m pytest FILE`` keeps the new numbers, to be read as a
difference before they are committed.
"""

import json
import os
from pathlib import Path

import numpy as np
import pytest

FOLDER = Path(__file__).with_name("snapshots") / "numbers"
_CLOSE = 1e-5  # other processors and libraries differ in the last digits


def assert_as_kept(name, found):
    """Compare named numbers, or nested lists and tables of numbers and words, with those kept."""
    path, flat = FOLDER / f"{name}.json", _flat(found)
    if os.environ.get("OXHUE_KEEP_NUMBERS"):
        path.parent.mkdir(exist_ok=True)
        lines = (f"{json.dumps(key)}: {json.dumps(one)}" for key, one in flat.items())
        path.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
    kept = json.loads(path.read_text(encoding="utf-8"))
    assert flat.keys() == kept.keys()
    differ = {
        key: (one, kept[key]) for key, one in flat.items()
        if one != (kept[key] if isinstance(kept[key], str | None | bool)
                   else pytest.approx(kept[key], rel=_CLOSE, abs=1e-9))
    }  # fmt: skip
    assert differ == {}, "found, and kept"


def _flat(found, before=""):
    """Names of all numbers and words within, with seven digits."""
    if isinstance(found, np.ndarray | np.generic):
        found = found.tolist()
    if isinstance(found, dict):
        parts = {f"{before}.{key}" if before else str(key): one for key, one in found.items()}
    elif isinstance(found, list | tuple):
        if all(isinstance(one, float) for one in found):
            return {before: [float(f"{one:.7g}") for one in found]}
        parts = {f"{before}[{i}]": one for i, one in enumerate(found)}
    else:
        return {before: float(f"{found:.7g}") if isinstance(found, float) else found}
    return {key: one for name, part in parts.items() for key, one in _flat(part, name).items()}


def look_of(figure):
    """How a chart is drawn: sizes, inks, dashes, letters and their places, without its data."""
    figure.canvas.draw()
    return {"size": [*map(float, figure.get_size_inches())],
            "axes": [_look_of_axes(ax) for ax in figure.axes]}  # fmt: skip


def _look_of_axes(ax):
    from matplotlib.colors import to_hex

    lines = [
        f"{to_hex(one.get_color())} {one.get_linewidth():g} {one._unscaled_dash_pattern} "
        f"{one.get_marker()} {one.get_markersize():g} {one.get_markeredgewidth():g} "
        f"{one.get_alpha()} {one.get_clip_on()} {one.get_solid_capstyle()} {one.get_markevery()}"
        for one in ax.lines
    ]
    bars = [
        f"{to_hex(one.get_edgecolor()[0])} {one.get_linewidths()[0]:g} {one.get_alpha()}"
        for one in ax.collections
        if len(one.get_edgecolor())
    ]
    texts = [*ax.texts, ax.title, ax.xaxis.label, ax.yaxis.label]
    legend = ax.get_legend()
    marks = [*ax.get_xticklabels()[:1], *ax.get_yticklabels()[:1]]
    grid = [*ax.get_xgridlines()[:1], *ax.get_ygridlines()[:1]]
    return {
        "lines": lines, "bars": bars,
        "texts": [_letters(one) for one in texts if one.get_text()],
        "spines": [f"{side} {to_hex(one.get_edgecolor())}" for side, one in ax.spines.items()
                   if one.get_visible()],
        "ticks": [_letters(one)[1:] for one in marks],
        "tick lines": [to_hex(one.get_color()) for one in ax.get_xticklines()[:1]],
        "grid": [f"{to_hex(one.get_color())} {one.get_linewidth():g}"
                 for one in grid if one.get_visible()],
        "below": str(ax.get_axisbelow()),
        "legend": None if legend is None else [
            *(_letters(one) for one in legend.get_texts()),
            f"{legend.get_frame_on()} {legend._ncols} {legend._loc} {legend.handlelength:g}",
        ],
    }  # fmt: skip


def _letters(text):
    from matplotlib.colors import to_hex

    return [
        text.get_text(),
        f"{text.get_fontsize():g} {to_hex(text.get_color())} {text.get_rotation():g} "
        f"{text.get_ha()} {text.get_va()} {text.get_parse_math()} {getattr(text, 'xyann', '')}",
    ]
