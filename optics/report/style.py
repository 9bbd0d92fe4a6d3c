"""The one look of all charts, and figures drawn without any window or global state.

Everything but a swatch is drawn in inks that differ in lightness, with a line style of its own, so
that it reads in grey print and with any colour vision.
"""

from __future__ import annotations

import os
import re
import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from html import escape
from importlib import import_module
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray
from ..colour.spaces import srgb_to_xyz
from ..errors import InputError, shorten, show_path
from ..files.atomic import has_folder, write_atomically

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.backend_bases import RendererBase
    from matplotlib.figure import Figure

SUFFIXES = (".png", ".svg", ".pdf")

INK, QUIET, SHADE, RULE = "#222222", "#6b6b6b", "#c9c9c9", "#e4e4e4"
"""Ink of what matters, of what stands beside it, of a filled band, and of the grid."""

MAP_COLOURS = "viridis"
"""Colours of a map: even in lightness and for all colour vision, and of more hues than the inks of
lines, which beside a grey piece look grey themselves (S. van der Walt and N. Smith, 2015; as it is
shipped with matplotlib)."""

_INKS = "cividis"
"""Where the inks of lines are taken from: even in lightness, made for all colour vision (Nuñez,
Anderton and Renslow, PLoS ONE 13, e0199239 (2018), doi:10.1371/journal.pone.0199239)."""

_STYLES = ("-", "--", ":", "-.", (0, (7, 1.5, 1, 1.5, 1, 1.5)))
_MARKERS = ("o", "s", "^", "D", "v", "P", "X")
_DPI = 150
# Where matplotlib lists the properties of a class as what its `set` takes, which takes them anyhow.
_SIGNING = "_update_set_signature_and_docstring"
# Text as outlines in SVG and as an embedded TrueType face in PDF: no reader needs the font.
# Names of files and pieces are text: a "$" in one begins no formula.
_OUTPUT: dict[Any, Any] = {
    "svg.hashsalt": "oxhue", "svg.fonttype": "path", "pdf.fonttype": 42, "text.parse_math": False,
}  # fmt: skip
_OWN = ("backend", "text.parse_math")  # settings that are ours in programs of ours
# No dates; of zlib's ways that which looks for runs, which takes two thirds of the time.
_FILES: dict[str, dict[str, Any]] = {
    "png": {"pil_kwargs": {"compress_type": 3}},
    "svg": {"metadata": {"Date": None}},
    "pdf": {"metadata": {"CreationDate": None}},
}


def check_chart_name(path: Path) -> None:
    """Refuse a chart file whose kind we cannot write, before any work is done.

    Raises
    ------
    InputError
        If the name does not end in .png, .svg or .pdf, or its folder does not exist.
    """
    if path.suffix.lower() not in SUFFIXES:
        raise InputError(
            f"a chart is written as {', '.join(SUFFIXES)}, not as {shorten(path.name)!r}"
        )
    if not has_folder(path):
        raise InputError(f"cannot write {show_path(path)!r}: its folder does not exist")


def use_own_style() -> None:
    """Draw as shipped, whatever backend or settings of matplotlib this machine has.

    For programs that are ours alone: a notebook keeps its own.
    """
    os.environ["MPLBACKEND"] = "agg"  # a notebook's may not be installed here
    os.environ.pop("SOURCE_DATE_EPOCH", None)  # read even for charts that bear no date
    try:
        from matplotlib import rcdefaults, rcParams, rcParamsDefault
    except UnicodeDecodeError as error:  # it reads a person's settings before ours can count
        raise InputError(
            "the settings of matplotlib, a file 'matplotlibrc' in this folder or among your own, "
            "are no text; mend or remove it"
        ) from error
    _load_figures()
    if any(rcParams[one] != kept for one, kept in rcParamsDefault.items() if one not in _OWN):
        rcdefaults()  # which loads every style there is
    rcParams["text.parse_math"] = False


@cache
def _load_figures() -> None:
    """Load what charts are drawn with, without figures in space and without the lists of
    properties in its documentation and signatures: together half of the time."""
    from matplotlib import artist

    in_space = "mpl_toolkits.mplot3d"
    hide = in_space not in sys.modules
    list_properties, sign = artist.kwdoc, vars(artist.Artist).get(_SIGNING)
    artist.kwdoc = "".format  # of whatever it is asked, nothing
    if sign is not None:
        setattr(artist.Artist, _SIGNING, classmethod(lambda _: None))
    if hide:
        sys.modules[in_space] = None  # type: ignore[assignment]  # the import system's word for none
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # that there are no figures in space
            import_module("matplotlib.figure")
    except ModuleNotFoundError:  # up to 3.8 it does not do without them
        del sys.modules[in_space]
        import_module("matplotlib.figure")
    finally:
        artist.kwdoc = list_properties
        if sign is not None:
            setattr(artist.Artist, _SIGNING, sign)
        if hide and sys.modules.get(in_space, 0) is None:
            del sys.modules[in_space]


def save_chart(figure: Figure, path: Path) -> None:
    """Write a figure as PNG, SVG or PDF by the name's ending, whole or not at all.

    Raises
    ------
    InputError
        If the name's ending is none of these, or the file cannot be written.
    """
    from matplotlib import rc_context

    check_chart_name(path)
    take_words_as_words(figure)
    kind = path.suffix.lower()[1:]
    # The same answer gives the same file: no dates, no random names inside.
    with rc_context(_OUTPUT), _boxes_for_letters(), _drawn_once(figure):
        write_atomically(
            path,
            lambda stream: figure.savefig(
                stream, format=kind, dpi=_DPI, facecolor="white", **_FILES[kind]
            ),
        )


def draw_svg(figure: Figure) -> str:
    """A figure as the text of an SVG file."""
    from matplotlib import rc_context

    stream = BytesIO()
    take_words_as_words(figure)
    with rc_context(_OUTPUT), _boxes_for_letters(), _drawn_once(figure):
        figure.savefig(stream, format="svg", dpi=_DPI, facecolor="white", **_FILES["svg"])
    return stream.getvalue().decode("utf-8")


def svg_of(figure: Figure, text: str) -> str:
    """A figure as an ``<svg>`` element for a page, with ``text`` for those who do not see it."""
    return svg_element(draw_svg(figure), text)


def svg_element(svg: str, text: str) -> str:
    """The text of an SVG file as an element of a page."""
    # Groups are named figure_1, axes_1 in every drawing; several may stand on one page.
    drawing = re.sub(r'<g id="[^"]*"', "<g", svg[svg.index("<svg") :])
    drawing = re.sub(r"<metadata>.*?</metadata>\s*", "", drawing, flags=re.DOTALL)
    return drawing.replace("<svg", f'<svg role="img" aria-label="{escape(text)}"', 1)


@contextmanager
def _boxes_for_letters() -> Iterator[None]:
    """Within this letters that the chart's font lacks are drawn as boxes without a warning.

    A name of a file may be in any script; what is drawn shows where a letter is missing.
    """
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", r"Glyph \d+ ", UserWarning)
        yield


@contextmanager
def _drawn_once(figure: Figure) -> Iterator[None]:
    """Within this a figure is laid out, not drawn, where it is drawn first to be laid out."""
    draw, engine = figure.draw, figure.get_layout_engine()

    def lay_out_or_draw(renderer: RendererBase) -> None:
        # `savefig` takes the engine away once all is laid out, and draws again.
        if engine is not None and figure.get_layout_engine() is engine:
            engine.execute(figure)
        else:
            draw(renderer)

    vars(figure)["draw"] = lay_out_or_draw
    try:
        yield
    finally:
        del vars(figure)["draw"]


def take_words_as_words(drawn: Artist) -> None:
    """Let no text of a figure or axes be read as a formula: names of files may hold dollars."""
    from matplotlib import rcParams
    from matplotlib.text import Text

    if not rcParams["text.parse_math"]:  # then none is from the start
        return
    for text in drawn.findobj(Text):
        text.set_parse_math(False)


def new_figure(
    width_in: float, height_in: float, heights: list[float], *, share: bool = False
) -> tuple[Figure, list[Axes]]:
    """A figure of panels stacked with the given relative heights."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width_in, height_in), layout="constrained", facecolor="white")
    axes = figure.subplots(len(heights), 1, sharex=share, squeeze=False, height_ratios=heights)[
        :, 0
    ]
    return figure, list(axes)


def new_axes(width_in: float = 7.0, height_in: float = 4.2) -> Axes:
    """Axes on a figure of their own."""
    return new_figure(width_in, height_in, [1.0])[1][0]


def style_axes(ax: Axes, grid: str = "both", legend: bool = False) -> Axes:
    """Give axes the common look: two spines, a faint grid, labels and title of one size.

    Parameters
    ----------
    ax : Axes
    grid : {"both", "x", "y", ""}
        Which grid lines are drawn.
    legend : bool
        Whether the labelled lines are named beside the plot's own room, in one frame-less list.
    """
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        ax.spines[side].set_color(QUIET)
    ax.tick_params(labelsize=9, color=QUIET, labelcolor=INK)
    for label in (ax.xaxis.label, ax.yaxis.label):
        label.set(size=10, color=INK)
    ax.title.set(size=10.5, color=INK)
    ax.set_axisbelow(True)
    if grid:
        ax.grid(True, axis=grid, color=RULE, lw=0.7)  # type: ignore[arg-type]
    if legend:
        ax.legend(frameon=False, fontsize=8.5, labelcolor=INK, handlelength=2.6)
    take_words_as_words(ax)
    return ax


def line_styles(count: int) -> list[dict[str, Any]]:
    """Line options that tell ``count`` curves apart by lightness, dashes and marks."""
    from matplotlib import colormaps
    from matplotlib.colors import to_hex

    inks = [to_hex(one) for one in colormaps[_INKS](np.linspace(0.0, 0.78, max(count, 2)))]
    return [
        {
            "color": inks[i],
            "ls": _STYLES[i % len(_STYLES)],
            "marker": _MARKERS[(i // len(_STYLES)) % len(_MARKERS)] if i >= len(_STYLES) else "",
            "markevery": 0.12,
            "ms": 4.0,
            "lw": 1.5,
        }
        for i in range(count)
    ]


def contrasting_ink(rgb: ArrayLike) -> str:
    """Black or white, whichever stands out more from a colour.

    Parameters
    ----------
    rgb : array_like, shape (3,)
        Encoded sRGB, 0 to 1.

    Notes
    -----
    The contrast ratio is ``(Y1 + 0.05)/(Y2 + 0.05)`` with the relative luminance Y of WCAG 2.2;
    black and white stand out alike at ``Y = sqrt(1.05 · 0.05) - 0.05``.
    """
    luminance = float(srgb_to_xyz(np.asarray(rgb, dtype=float))[1]) / 100.0
    return "white" if luminance < np.sqrt(1.05 * 0.05) - 0.05 else "black"


def edges_of(points: FloatArray) -> FloatArray:
    """Borders of the cells around points of a sweep, shape (n + 1,)."""
    if points.size == 1:
        return np.array([points[0] - 0.5, points[0] + 0.5])
    middles = 0.5 * (points[1:] + points[:-1])
    return np.concatenate([points[:1], middles, points[-1:]])
