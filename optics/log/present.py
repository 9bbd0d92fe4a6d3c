"""The log as a document: a list of runs, one run, a setup, what was just recorded."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby

from ..report.document import Block, Document, Heading, Items, Line, Note, Table, present
from .facts import usual_of
from .records import LoggedPiece, LoggedRun, LoggedSetup, LogList, Noted, Recorded

_QUESTION = "What have I done?"
MOST_ROWS = 40
_NO_LOOKS = ("photo", "link")  # kept for the page; a hash and an address tell nobody anything
_WORDS = {
    "time": "for", "gauge_reading": "gauge", "working_pressure": "at", "working_gas": "in",
    "base_pressure": "base",
}  # fmt: skip


@present.register
def show_recorded(done: Recorded) -> Document:
    """One sentence."""
    return Document(headline=done.sentence, blocks=[Note(f"Log: {done.log}.")], question=_QUESTION)


@present.register
def show_setup(setup: LoggedSetup) -> Document:
    """A setup, with what is known of it."""
    version = "" if setup.setup_version == 1 else f", version {setup.setup_version}"
    facts = {k: v for k, v in setup.facts.items() if k not in ("jar", "usual")}
    facts |= dict(setup.facts.get("jar", {})) | usual_of(setup.facts)
    lines = [f"{name.replace('_', ' ')}: {value}" for name, value in facts.items()]
    return Document(
        headline=f"Recorded: {setup.setup}, a {setup.setup_kind}{version}",
        blocks=[Items(lines)] if lines else [],
        question=_QUESTION,
    )


@present.register
def show_run(run: LoggedRun) -> Document:
    """What was done, then each piece."""
    blocks: list[Block] = [Note(f"Recorded {run.at.replace('T', ' ')}.")]
    if run.planned:
        blocks.insert(0, f"Planned: {run.planned}.")
    if run.remarks:
        blocks.insert(0, f"Remarks: {run.remarks}")
    for piece in run.pieces:
        blocks.append(Heading(_piece_title(piece, run)))
        for at, looks in groupby(piece.observations, key=lambda one: one.at):
            blocks.extend([Note(f"Noted {at.replace('T', ' ')}.")] if at else [])
            blocks.append(Items([f"{one.what}: {_say(one)}" for one in looks]))
    if not run.pieces:
        blocks.append("Nothing is recorded yet of what came out.")
    return Document(
        headline=f"Run {run.run}, {run.setup}: {_did(run)}", blocks=blocks, question=_QUESTION
    )


@present.register
def show_list(log: LogList) -> Document:
    """One row a run."""
    if not log.runs:
        setups = ", ".join(one.setup for one in log.setups) or "none"
        return Document(
            headline="No run is recorded yet", blocks=[f"Setups: {setups}."], question=_QUESTION
        )
    rows: list[list[Line]] = [
        [str(run.run), run.at[:10], run.setup, _did(run), _looks(run)]
        for run in log.runs[-MOST_ROWS:]
    ]
    blocks: list[Block] = [
        Table(["run", "day", "setup", "what was done", "what came out"], rows, optional=["day"])
    ]
    if log.total > len(rows):
        blocks.append(Note(f"The last {len(rows)} of {log.total} runs; JSON lists all."))
    many = "1 run" if log.total == 1 else f"{log.total} runs"
    return Document(
        headline=f"{many}; the last on {log.runs[-1].at[:10]}", blocks=blocks, question=_QUESTION
    )


def _piece_title(piece: LoggedPiece, run: LoggedRun) -> str:
    metal = piece.facts.get("metal", run.done.get("metal", ""))
    base = piece.facts.get("on", "")
    of = f": {metal} on {base}" if metal and base else f": {metal or base}" if metal or base else ""
    return f"{piece.name}{of}"


def done_words(done: Mapping[str, str]) -> str:
    """What was done in one line, as ``Ti by wire, 4.8A for 12min``."""
    words = [
        _profile_words(text)
        if name == "profile"
        else name.replace("_", " ")
        if text == "yes"
        else f"{_WORDS.get(name, name)} {text}"
        for name, text in done.items()
        if text != "no"
    ]
    return ", ".join(words).replace("_", " ")


def _profile_words(text: str) -> str:
    from .heat_profile import parse_profile

    return parse_profile(text).words


def _did(run: LoggedRun) -> str:
    return done_words(run.done) if run.done else f"planned: {done_words(run.plan) or run.planned}"


def _looks(run: LoggedRun) -> str:
    return "; ".join(
        f"{piece.name}: {', '.join(looks)}"
        for piece in run.pieces
        if (looks := [_say(one) for one in piece.observations if one.what not in _NO_LOOKS])
    )


def _say(one: Noted) -> str:
    if one.what != "spectrum":
        return one.text
    from .spectra import describe_spectrum

    return describe_spectrum(one.text)
