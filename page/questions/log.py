"""The run log: what was done and seen, kept between starts, and the next run that follows."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from ...optics.errors import InputError
from ...optics.inference.reading import parse_reading
from ...optics.log.database import log_path
from ...optics.log.facts import DONE, KINDS, OBSERVED
from ...optics.log.log import Log
from ...optics.log.records import LoggedRun
from ...optics.report.document import words_of
from ..fields import Fields
from .deposit import lines_of
from .thickness import hex_of

MOST_RUNS = 100
MOST_LETTERS = 1_500_000
"""Of a log that is added: some 3,000 runs."""


def log_question(_: Fields) -> dict[str, Any]:
    """The newest runs, newest first, with the colours that were seen; and the setups."""
    path = log_path()
    if not path.exists():
        return {"answer": {"log": str(path), "setups": [], "runs": []}, "trusted": True}
    with Log.open(path, write=False) as log:
        held = log.runs()
    runs = [_drawn(run) for run in held.runs[: -MOST_RUNS - 1 : -1]]
    setups = [{"setup": one.setup, "kind": one.setup_kind} for one in held.setups]
    return {"answer": {"log": held.log, "setups": setups, "runs": runs}, "trusted": True}


def record_question(fields: Fields) -> dict[str, Any]:
    """Record a run with what was seen of its piece; a setup that is not held yet is made."""
    setup, kind = fields.text("setup"), fields.text("kind", "kiln")
    if kind not in KINDS:
        raise InputError(f"a setup is a {', '.join(KINDS[:-1])} or {KINDS[-1]}, not {kind!r}")
    done: dict[str, Any] = {name: text for name in DONE[kind] if (text := fields.text_if(name))}
    looks: dict[str, Any] = {name: text for name in OBSERVED if (text := fields.text_if(name))}
    with Log.open() as log:
        if setup not in {one.setup for one in log.runs().setups}:
            log.setup(setup, kind=kind)
        run = log.record(setup, **done)
        if looks:
            try:
                run = log.saw(
                    run.run, piece=fields.text("piece", "piece"), on=fields.text_if("on"), **looks
                )
            except InputError:
                log.undo()  # the run goes with what was refused, so that sending again adds one
                raise
    return {"answer": _drawn(run), "trusted": True}


def export_question(_: Fields) -> dict[str, Any]:
    """The whole log as JSON lines, to keep or to send."""
    held = log_path()
    if not held.exists():
        raise InputError("there is nothing to save yet: record a run first")
    with TemporaryDirectory(prefix="oxhue-log-") as folder, Log.open(held, write=False) as log:
        path = Path(folder) / "oxhue-log.jsonl"
        said = log.export(path)
        return {"answer": said.to_dict(), "lines": path.read_text("utf-8"), "trusted": True}


def import_question(fields: Fields) -> dict[str, Any]:
    """Add the runs of a log that was kept."""
    text = fields.document("lines", MOST_LETTERS)
    if text is None:
        raise InputError("there is no log to add: open a file that “Save the log” wrote")
    with TemporaryDirectory(prefix="oxhue-log-") as folder, Log.open() as log:
        path = Path(folder) / "the-log.jsonl"
        path.write_text(text, encoding="utf-8", newline="")
        return {"answer": log.import_(path).to_dict(), "trusted": True}


def next_question(fields: Fields) -> dict[str, Any]:
    """The next run of a setup for what is wanted, in words."""
    with Log.open() as log:
        found = log.next(fields.text("setup"), want=fields.text("want"))
    document = found.document()
    lines = [words_of(line) for block in document.blocks for line in lines_of(block)]
    words = {"headline": words_of(document.headline), "lines": lines}
    return {"answer": found.to_dict(), "words": words, "trusted": True}


def _drawn(run: LoggedRun) -> dict[str, Any]:
    """A run with a colour to show for each one that was seen."""
    drawn = asdict(run)
    for piece in drawn["pieces"]:
        for noted in piece["observations"]:
            if noted["what"] in ("seen", "behind"):
                noted["srgb_hex"] = hex_of(parse_reading(noted["text"], None))
    return drawn
