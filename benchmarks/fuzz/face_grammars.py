"""Grammars of what comes from elsewhere to a face: names, cookies, fields, hosts, paths.

Names of files and pieces are text on every face: never a command to a terminal, a formula of a
spreadsheet or one of a chart.
"""

from __future__ import annotations

import csv
import io
import os
import tempfile
import time
import warnings
from contextlib import suppress
from functools import partial
from pathlib import Path
from random import Random
from typing import Any
from unicodedata import category

from starlette.datastructures import Headers

from oxhue.optics.files.atomic import check_target, keep_inputs, note_input, write_atomically
from oxhue.optics.files.columns import read_bytes
from oxhue.optics.report.csv import document_csv
from oxhue.optics.report.document import Document, Items, Table
from oxhue.optics.report.html import html_of
from oxhue.optics.report.style import new_axes, save_chart
from oxhue.optics.report.terminal import text_of
from oxhue.page import access
from oxhue.page.fields import Fields

from .atoms import digits, json_value, odd_number, seldom, text
from .text_grammars import refused_or

# -- names ----------------------------------------------------------------------------------

_MARKUP = ("$", "\\frac", "<b>", "&amp;", "[bold]", "\x1b[2J", "\x1b]0;", "\u202e", "=1+1", "@SUM",
           "+", "-", "{", "}", "_", "^", "`", "https://", "\t", "%s", "\\")  # fmt: skip


def draw_name(random: Random) -> str:
    """A name of words and of signs that mean something to some program."""
    parts = [random.choice((random.choice(_MARKUP), text(random, 5))) for _ in range(4)]
    name = "".join(parts).replace("\n", " ").encode("utf-8", "replace").decode()
    return name.strip() or "dial"


def check_name(name: str) -> bool:
    """Shown in a terminal, a table, a page and a chart, as what it is."""
    whole = Document(name, [Table(["id", "nm"], [[name, "45"]]), Items([name])], sources=[name])
    shown = text_of(whole)
    assert not any(category(one) == "Cc" and one not in "\n\t" for one in shown), "a command"
    assert not any(category(one) == "Cf" for one in shown), "writing turned round"
    for row in csv.reader(io.StringIO(document_csv(whole))):
        for cell in row:
            assert not cell.startswith(("=", "+", "@", "\t")), f"a formula: {cell}"
    page = html_of(whole)
    assert "<b>" not in page or "<b>" not in name, "markup"
    return True


def check_name_in_chart(name: str) -> bool:
    """A chart that is titled by it."""
    axes = new_axes()
    axes.set_title(name)
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("error", UserWarning)
        save_chart(axes.get_figure(), Path(folder) / "chart.svg")
    return True


# -- cookies --------------------------------------------------------------------------------

_FOREIGN = ('{"a":1}', "open wide", "de, en", '"\\\\', "é", "=", "", "a/b", "1", "%7B", '"x"', ";")


def draw_cookies(random: Random) -> tuple[str, str]:
    """The header of a browser that has been elsewhere on this host, and the key within it."""
    key = "".join(random.choice("abcdef0123456789") for _ in range(12))
    name = random.choice(("theme", "sidebar", "flag", "a/b", "path", "expires", text(random, 5)))
    foreign = [name + random.choice(("=", "")) + random.choice(_FOREIGN)]
    if seldom(random, 0.1):
        foreign.append('a="' + random.choice(('\\"', "\\\\", "\\1", '"')) * 20_000)
    some = [*foreign, f"oxhue_key_8000={key}"]
    random.shuffle(some)
    header = "; ".join(one.replace(";", "") for one in some)
    return header.encode("latin-1", "replace").decode("latin-1"), key


def check_cookies(drawn: tuple[str, str]) -> bool:
    """The key is found, whatever stands around it, and soon."""
    header, key = drawn
    begun = time.process_time()
    found = access._find_cookie(Headers({"cookie": header}), "oxhue_key_8000")
    assert found == key, f"{found!r} is found"
    assert time.process_time() - begun < 0.5, f"it takes {time.process_time() - begun:.1f} s"
    return True


# -- fields and hosts of the page -----------------------------------------------------------


def draw_field(random: Random) -> Any:
    """What a browser, or somebody in its place, sends as the value of a field."""
    return json_value(random)


def check_field(value: Any) -> bool:
    """Read as every kind of field: within its limits, or refused."""
    fields = Fields({"it": value})
    number = refused_or(partial(fields.number, "it", 1.0, 0.0, 90.0))
    assert number is None or 0.0 <= number <= 90.0
    whole = refused_or(partial(fields.whole, "it", 1, 0, 9))
    assert whole is None or isinstance(whole, int)
    typed = refused_or(partial(fields.text, "it", ""))
    assert typed is None or (typed.isprintable() and len(typed) <= 2_000)
    for read in (fields.texts, fields.table, fields.on, fields.document):
        refused_or(partial(read, "it"))
    refused_or(partial(fields.numbers, "it", 0.0, 9.0))
    return number is not None


def draw_host(random: Random) -> tuple[int, str, str, bool]:
    """A port, the host served, a Host header, and whether a browser on our page sends it."""
    port = random.choice((80, 443, 8000, random.randint(1, 65_535)))
    host = random.choice(("127.0.0.1", "localhost"))
    ours = seldom(random, 0.5)
    name = random.choice(("127.0.0.1", "localhost", "[::1]"))
    if not ours:
        name = random.choice(("evil.example", "127.0.0.1.evil.example", "2130706433", text(random)))
    shown = name if port == 80 else f"{name}:{port}"  # browsers leave the usual port out
    if not ours and seldom(random, 0.3):
        shown = f"127.0.0.1:{odd_number(random)}"
        ours = shown == f"127.0.0.1:{port}" or (port == 80 and shown == "127.0.0.1")
    return port, host, shown, ours


def check_host(drawn: tuple[int, str, str, bool]) -> bool:
    """Let in when it is ours."""
    port, host, shown, ours = drawn
    let_in = access.AccessPolicy("key", port, host).names_us(shown)
    assert let_in or not ours, "the page's own browser is turned away"
    if let_in and not ours:  # then it is a way of writing an address and port of ours
        assert shown.rpartition(":")[0] in ("127.0.0.1", "localhost", "[::1]") or port == 80
    return let_in


# -- paths ----------------------------------------------------------------------------------


def draw_path(random: Random) -> str:
    """A path of a few parts of any length and letters."""
    parts = []
    for _ in range(random.randint(1, 4)):
        part = random.choice(("..", ".", "dial", text(random), "x" * int(digits(random)[:4] or 1)))
        parts.append(part)
    return "/".join(parts)


def check_path(path: str) -> bool:
    """Read, or refused, as an input and as an output; an input is never written over."""
    with tempfile.TemporaryDirectory() as folder:
        inside = os.path.join(folder, "a", "b", "c", "d", path.lstrip("/"))
        if not _lies_in(inside, folder):
            return False
        refused_or(lambda: read_bytes(Path(inside)))
        refused_or(lambda: check_target(Path(inside)))
        named = Path(folder) / "input.csv"
        named.write_bytes(b"mine")
        with suppress(OSError, ValueError):
            Path(inside).parent.mkdir(parents=True, exist_ok=True)
            Path(inside).symlink_to(named)
        with keep_inputs():
            note_input(named)
            refused_or(lambda: write_atomically(Path(inside), lambda stream: stream.write(b"x")))
        assert named.read_bytes() == b"mine", "an input is written over"
    return True


def _lies_in(inside: str, folder: str) -> bool:
    with suppress(ValueError, OSError):
        return os.path.normpath(inside).startswith(folder + os.sep)
    return True
