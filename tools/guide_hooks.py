"""What the guide's build does to its pages: equations become MathML, marks for tools vanish,
codes of colours get a swatch, and tables in blocks say how wide they are, to be seen whole.

MathML is drawn by browsers themselves, so a page with equations fetches nothing.
"""

from __future__ import annotations

import re
from html import unescape
from itertools import groupby
from typing import Any

from latex2mathml.converter import convert

_DISPLAY = re.compile(r"^\$\$\n(.+?)\n\$\$$", re.DOTALL | re.MULTILINE)
_INLINE = re.compile(r"(?<![\\$`])\$(?!\s|\$)([^$\n`]+?)(?<!\s)\$(?![\d$])")
_MARK = re.compile(r"^<!-- run[^>]*-->\n", re.MULTILINE)
_HEX = re.compile(r"(?P<spaces> {0,2})(?<![&\w/])(?P<hex>#[0-9a-fA-F]{6})\b(?![^<>]*>)")
_BLOCK = re.compile(r"(?P<head><pre[^>]*>(?:<span></span>)?)<code>(?P<text>.*?)</code>", re.DOTALL)
_TAG = re.compile(r"<[^>]+>")
_ROW = re.compile(r"─{9}|\S {3,}\S.* {3,}\S")  # the rule of a table, or three cells and more
_FITTING = 60  # columns that fit any screen but a phone's as they are
_FENCE = re.compile(r"(^```.*?^```$)", re.DOTALL | re.MULTILINE)


def on_page_markdown(markdown: str, **_: Any) -> str:
    """The page as Markdown without formulas in TeX; what stands in fences is left alone."""
    plain = _MARK.sub("", markdown)
    parts = _FENCE.split(plain)
    return "".join(part if i % 2 else with_mathml(part) for i, part in enumerate(parts))


def with_mathml(text: str) -> str:
    """Text with ``$$`` blocks and ``$`` formulas as MathML."""
    text = _DISPLAY.sub(lambda found: f"<div>{convert(found[1], display='block')}</div>", text)
    # A line that begins with MathML would be taken for a block of its own.
    return _INLINE.sub(lambda found: f"<span>{convert(found[1])}</span>", text)


def on_page_content(html: str, **_: Any) -> str:
    """The page's HTML with a swatch before each code of a colour, and the widths of tables."""
    return with_swatches(with_widths(html))


def with_widths(html: str) -> str:
    """HTML whose blocks name the columns of the widest line of a table in them, if it is wide.

    Sentences may fold anywhere, rows of a table may not: letters are made to fit those, and on a
    phone the rows, which stand in a part of their own, are moved sideways.
    """

    def widened(found: re.Match[str]) -> str:
        lines = found["text"].splitlines(keepends=True)
        plain = [unescape(_TAG.sub("", line)).rstrip() for line in lines]
        columns = max((len(line) for line in plain if _ROW.search(line)), default=0)
        if columns <= _FITTING:
            return found[0]
        parts = []
        for is_row, group in groupby(zip(plain, lines, strict=True), lambda one: _is_row(one[0])):
            text = "".join(line for _, line in group)
            parts.append(f'<span class="rows" tabindex="0">{text}</span>' if is_row else text)
        return f'{found["head"]}<code style="--columns: {columns}">{"".join(parts)}</code>'

    return _BLOCK.sub(widened, html)


def _is_row(line: str) -> bool:
    return _ROW.search(line) is not None


def with_swatches(html: str) -> str:
    """HTML whose text has a swatch before each ``#rrggbb``; what stands in tags is left alone.

    Where spaces are before the code the swatch stands in them, so that columns stay in line.
    """

    def swatch(found: re.Match[str]) -> str:
        spaces, code = found["spaces"], found["hex"]
        kind = ("swatch", "swatch in-one", "swatch in-two")[len(spaces)]
        return f'{spaces}<span class="{kind}" style="background: {code}"></span>{code}'

    return _HEX.sub(swatch, html)
