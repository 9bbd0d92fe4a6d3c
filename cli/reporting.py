"""``--report``: an answer as one page for paper or browser."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from ..optics.report.document import Block as DocumentBlock
    from ..optics.report.document import Document
    from ..optics.show.grounds import Provenance
    from ..optics.show.old_html import Section
    from ..optics.show.old_paper import Block, Paper

SUFFIXES = (".html", ".htm")
_APART = {"as_json", "as_csv", "chart", "report"}  # how the answer leaves is no part of it


@dataclass(frozen=True)
class ReportTo:
    """Where a report goes, and the question as it was typed."""

    path: Path
    context: typer.Context


def _report_to(context: typer.Context, path: Path | None) -> ReportTo | None:
    """Refuse a report that cannot be written before any work is done."""
    from ..optics.errors import InputError

    if path is None:
        return None
    if path.suffix.lower() not in SUFFIXES:
        raise InputError(f"a report is written as .html, not as {path.name!r}")
    if path.is_dir():
        raise InputError(f"cannot write {str(path)!r}: it is a folder; name a file")
    if not path.parent.is_dir():
        raise InputError(f"cannot write {str(path)!r}: its folder does not exist")
    return ReportTo(path, context)


Report = Annotated[
    ReportTo | None,
    typer.Option(
        "--report",
        metavar="FILE",
        parser=Path,
        callback=_report_to,
        help="Write the answer as a page to print, .html.",
    ),
]


# What answers rest on is known of all jobs in one place; it is loaded for a report alone.


def provenance_of(result: object) -> Provenance:
    """What an answer rests on."""
    from ..optics.show import grounds

    return grounds.provenance_of(result)


def write_document(report: ReportTo, document: Document) -> None:
    """Write an answer with its question, how sure it is and the usual cautions as one page."""
    from ..optics.files.atomic import write_atomically
    from ..optics.report.html import report_html

    page = report_html(document, asked_blocks(report.context), format_command(report.context))
    write_atomically(report.path, lambda stream: stream.write(page.encode("utf-8")))


def asked_blocks(context: typer.Context) -> list[DocumentBlock]:
    """What was typed as a table, and what was taken where nothing was typed."""
    from ..optics.report.document import Table

    rows, silent = _typed(context)
    blocks: list[DocumentBlock] = []
    if rows:
        blocks.append(Table(["asked", "as", "meaning"], rows))
    if silent:
        blocks.append(f"Taken where nothing was said: {', '.join(silent)}.")
    return blocks


def _typed(context: typer.Context) -> tuple[list[list[str]], list[str]]:
    """Rows of what was typed, and the defaults that were taken."""
    rows, silent = [], []
    for param in context.command.params:
        name, value = param.name or "", context.params.get(param.name or "")
        if name in _APART or value is None or value is False:
            continue
        label = max(param.opts, key=len) if param.param_type_name == "option" else param.metavar
        words = _format_value(value)
        source = context.get_parameter_source(name)
        if source is not None and source.name != "DEFAULT":
            rows.append([str(label), words, str(getattr(param, "help", None) or "")])
        elif words:
            silent.append(f"{label} {words}")
    return rows, silent


def write_report(
    report: ReportTo,
    text: Callable[[Any], object],
    grounds: Provenance,
    figures: Sequence[Figure],
) -> None:
    """Write the answer with its question, its grounds and the usual cautions as one page."""
    from ..optics.files.atomic import write_atomically
    from ..optics.show.old_html import CAUTIONS, Section, report_html
    from ..optics.show.old_paper import Drawing, Paper

    paper = Paper()
    text(paper)
    lead, *answer = (one for one in paper.blocks if not _names_data(one))
    drawn: list[Block] = [
        Drawing(figure, grounds.picture if i == 0 else "") for i, figure in enumerate(figures)
    ]
    sections = [
        Section("The answer", [*drawn, *answer]),
        Section("What was asked", question_table(report.context)),
        *provenance_sections(grounds, [*paper.cautions, *_missing_cautions(paper, CAUTIONS)]),
    ]
    page = report_html(
        grounds.question, _block_words(lead), sections, format_command(report.context)
    )
    write_atomically(report.path, lambda stream: stream.write(page.encode("utf-8")))


def provenance_sections(grounds: Provenance, cautions: Sequence[str]) -> list[Section]:
    """How sure an answer is, what to mind at work, and the data it rests on, as sections."""
    from ..optics.show.grounds import source_table
    from ..optics.show.old_html import Section
    from ..optics.show.old_paper import PaperItems

    doubts = [] if grounds.doubts is None else [grounds.doubts]
    sections = [
        Section("How sure this is", [*grounds.sure, *doubts]),
        Section("Cautions", [PaperItems(list(dict.fromkeys(cautions)))]),
    ]
    if grounds.data:
        sections.append(Section("Optical data", [source_table(grounds.data)]))
    return sections


def format_command(context: typer.Context) -> list[str]:
    """The version, and the command as it was typed."""
    import shlex
    import subprocess
    from importlib.metadata import version

    typed = ["oxhue", *(context.find_root().obj or [])]
    quoted = subprocess.list2cmdline(typed) if sys.platform == "win32" else shlex.join(typed)
    return [f"Made by oxhue {version('oxhue')} with", quoted]


def question_table(context: typer.Context) -> list[Block]:
    """What was typed as a table, and what was taken where nothing was typed."""
    from ..optics.show.old_paper import PaperTable

    rows, silent = _typed(context)
    blocks: list[Block] = []
    if rows:
        blocks.append(PaperTable(["asked", "as", "meaning"], rows))
    if silent:
        blocks.append(f"Taken where nothing was said: {', '.join(silent)}.")
    return blocks


def _format_value(value: object) -> str:
    if value is True:
        return "yes"
    return "; ".join(map(str, value)) if isinstance(value, list | tuple) else str(value)


def _block_words(block: Block) -> str:
    if isinstance(block, str):
        return block
    parts = block if isinstance(block, tuple) else ()
    return "".join(part for part in parts if isinstance(part, str))


def _names_data(block: Block) -> bool:
    """The line that names the data sets: a report has a table of them."""
    return isinstance(block, str) and block.startswith("Optical data: ")


def _missing_cautions(paper: Paper, usual: Sequence[str]) -> Sequence[str]:
    """The usual cautions where the answer brings none of its own; the last of them always."""
    return usual[-1:] if paper.cautions else usual
