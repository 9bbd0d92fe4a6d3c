"""``--report``: an answer as one page for paper or browser."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ..optics.report.document import Block, Document, Figure

SUFFIXES = (".html", ".htm")
_APART = {"as_json", "as_csv", "chart", "report"}  # how the answer leaves is no part of it


@dataclass(frozen=True)
class ReportTo:
    """Where a report goes, and the question as it was typed."""

    path: Path
    context: typer.Context


def report_to(context: typer.Context, path: Path | None) -> ReportTo | None:
    """Refuse a report that cannot be written before any work is done."""
    from ..optics.errors import InputError
    from ..optics.files.atomic import claim_target

    if path is None:
        return None
    if path.suffix.lower() not in SUFFIXES:
        raise InputError(f"a report is written as .html, not as {path.name!r}")
    claim_target(path)
    return ReportTo(path, context)


def write_document(report: ReportTo, document: Document, pictures: Sequence[Figure] = ()) -> None:
    """Write an answer with its question, how sure it is and the usual cautions as one page."""
    from ..optics.files.atomic import write_atomically
    from ..optics.report.html import report_html

    shown = replace(document, figures=(*pictures, *document.figures))
    page = report_html(shown, question_blocks(report.context), format_command(report.context))
    write_atomically(report.path, lambda stream: stream.write(page.encode("utf-8")))


def question_blocks(context: typer.Context) -> list[Block]:
    """What was typed in one line, and what was taken where nothing was typed."""
    from ..optics.report.document import Note

    typed, silent = _typed(context)
    blocks: list[Block] = []
    if typed:
        blocks.append(f"Asked: {'; '.join(typed)}.")
    if silent:
        blocks.append(Note(f"Taken where nothing was said: {', '.join(silent)}."))
    return blocks


def _typed(context: typer.Context) -> tuple[list[str], list[str]]:
    """What was typed and the defaults that were taken, each with its name."""
    typed, silent = [], []
    for param in context.command.params:
        name, value = param.name or "", context.params.get(param.name or "")
        if name in _APART or value is None or value is False:
            continue
        if param.param_type_name == "option":
            label = max(param.opts, key=len).lstrip("-").replace("-", " ")
        else:
            label = str(param.metavar).lower()
        words = f"{label} {_format_value(value)}".strip()
        source = context.get_parameter_source(name)
        if source is not None and source.name != "DEFAULT":
            typed.append(words)
        elif _format_value(value):
            silent.append(words)
    return typed, silent


def format_command(context: typer.Context) -> list[str]:
    """The version, and the command as it was typed."""
    import shlex
    import subprocess
    from importlib.metadata import version

    typed = ["oxhue", *(context.find_root().obj or [])]
    quoted = subprocess.list2cmdline(typed) if sys.platform == "win32" else shlex.join(typed)
    return [f"Made by oxhue {version('oxhue')} with", quoted]


def _format_value(value: object) -> str:
    if value is True:
        return ""
    if isinstance(value, Path):
        return value.name
    return "; ".join(map(str, value)) if isinstance(value, list | tuple) else str(value)
