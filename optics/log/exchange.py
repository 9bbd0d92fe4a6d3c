"""A log as a text file and back: JSON lines, or one flat table as CSV."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from ..errors import InputError, TableError, shorten
from ..files.atomic import write_atomically
from ..files.columns import find_mark, read_text
from .entries import add_piece, add_run, add_setup
from .facts import (
    DONE,
    KINDS,
    LONGEST_TEXT,
    OBSERVED,
    PIECE,
    check_facts,
    check_setup_facts,
    check_words,
)
from .records import LoggedPiece, LoggedRun, LoggedSetup, Noted

_FIRST_HEAD = ("row", "run", "setup", "version", "kind", "at", "piece", "what", "text")
_HEAD = (*_FIRST_HEAD, "noted")
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "'")
"""Letters by which a spreadsheet knows a formula; such text gets an apostrophe in front."""


@dataclass(frozen=True)
class LogRows:
    """What a file holds: every version of each setup, and the runs."""

    setups: tuple[LoggedSetup, ...]
    runs: tuple[LoggedRun, ...]

    @property
    def photos(self) -> list[str]:
        """Names of the photos that the runs have."""
        noted = [one for run in self.runs for piece in run.pieces for one in piece.observations]
        return [one.text for one in noted if one.what == "photo"]


def rows_of_piece(rows: LogRows, piece: str) -> LogRows:
    """The runs in which a piece of that name lay, with nothing of other pieces, and their setups.

    Raises
    ------
    InputError
        If no run has such a piece.
    """
    runs = tuple(
        replace(run, pieces=tuple(one for one in run.pieces if one.name == piece))
        for run in rows.runs
        if any(one.name == piece for one in run.pieces)
    )
    if not runs:
        raise InputError(f"no run of the log has a piece {shorten(piece)!r}", parameter="piece")
    of = {run.setup for run in runs}
    return LogRows(tuple(one for one in rows.setups if one.setup in of), runs)


def write_rows(path: Path, rows: LogRows) -> None:
    """Write a log as JSON lines (``.jsonl``) or as a table (``.csv``).

    Raises
    ------
    InputError
        If the name ends otherwise, or the file cannot be written.
    """
    text = _as_csv(rows) if check_form(path) == ".csv" else _as_lines(rows)
    write_atomically(path, lambda stream: stream.write(text.encode("utf-8")))


def read_rows(path: Path) -> LogRows:
    """Read what :func:`write_rows` wrote, each row checked like one that is recorded.

    Raises
    ------
    InputError
        If the file cannot be read, or a row is refused; the sentence names its line.
    """
    text = read_text(path)
    tree = (
        _from_csv(text, path.name) if check_form(path) == ".csv" else _from_lines(text, path.name)
    )
    setups: list[LoggedSetup] = []
    runs: list[LoggedRun] = []
    for line, row in tree:
        try:
            if "facts" in row:
                setups.append(_read_setup(row))
            else:
                runs.append(_read_run(row))
        except (KeyError, TypeError, AttributeError, ValueError) as error:
            said = f"{error.args[0]!r} is missing" if isinstance(error, KeyError) else str(error)
            raise TableError(f"{path.name}, line {line}: {said}") from error
    if not setups and not runs:
        raise TableError(f"{path.name} holds nothing that 'log export' wrote")
    return LogRows(tuple(setups), tuple(runs))


def insert_rows(connection: sqlite3.Connection, entry: int, rows: LogRows) -> int | None:
    """Add rows to a log; the number of the first run, None where there is none.

    A setup that the log holds just so is used as it is; another of its name is a new version.

    Raises
    ------
    InputError
        If a run is of a setup that is not among the rows, or a setup's name is of another kind.
    """
    numbers = {
        (one.setup, one.setup_version): _put_setup(connection, entry, one) for one in rows.setups
    }
    first = None
    for run in rows.runs:
        key = (run.setup, run.setup_version)
        if key not in numbers:
            raise InputError(f"run {run.run} is of {run.setup!r}, which the file does not describe")
        made = add_run(
            connection, entry, numbers[key],
            done=run.done, plan=run.plan, planned=run.planned, remarks=run.remarks, at=run.at,
        )  # fmt: skip
        first = made if first is None else first
        for piece in run.pieces:
            add_piece(
                connection, entry, made,
                name=piece.name, facts=piece.facts, noted=piece.observations,
            )  # fmt: skip
    return first


def _put_setup(connection: sqlite3.Connection, entry: int, setup: LoggedSetup) -> int:
    held = connection.execute(
        "SELECT id, version, kind, facts FROM setup WHERE name = ? ORDER BY version DESC",
        (setup.setup,),
    ).fetchall()
    for number, _, kind, facts in held:
        if kind != setup.setup_kind:
            raise InputError(f"{setup.setup!r} is a {kind} in this log, a {setup.setup_kind} there")
        if json.loads(facts) == setup.facts:
            return int(number)
    version = held[0][1] + 1 if held else setup.setup_version
    return add_setup(connection, entry, replace(setup, setup_version=version))


def check_form(path: Path) -> str:
    """How rows are written, by the ending of a file's name.

    Raises
    ------
    InputError
        If it ends otherwise.
    """
    if path.suffix not in (".jsonl", ".csv"):
        raise InputError(
            f"{shorten(path.name)!r} ends in neither .jsonl (JSON lines) nor .csv", parameter="file"
        )
    return path.suffix


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


def _as_lines(rows: LogRows) -> str:
    lines = [asdict(one) for one in rows.setups] + [asdict(one) for one in rows.runs]
    return "".join(_json(line) + "\n" for line in lines)


def _from_lines(text: str, where: str) -> Iterator[tuple[int, dict[str, Any]]]:
    for number, line in enumerate(text.split("\n"), start=1):  # words may hold other ends of lines
        if not line.strip():
            continue
        try:
            row = json.loads(line, object_pairs_hook=_once_each)
        except InputError as error:
            raise TableError(f"{where}, line {number}: {error}") from error
        except (ValueError, RecursionError) as error:
            raise TableError(f"{where}, line {number} is not JSON") from error
        if not isinstance(row, dict):
            raise TableError(f"{where}, line {number} is no JSON object")
        yield number, row


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """A JSON object that says nothing twice: of two, one would go unheard."""
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            raise InputError(f"{shorten(name)!r} is said twice")
        found[name] = value
    return found


def _check_names(row: dict[str, Any], made: type) -> None:
    """Refuse what no row of that kind has."""
    known = [one.name for one in fields(made)]
    for name in row:
        if name not in known:
            raise InputError(f"{shorten(name)!r} is unknown here; there are {', '.join(known)}")


def _read_setup(row: dict[str, Any]) -> LoggedSetup:
    _check_names(row, LoggedSetup)
    if row["setup_kind"] not in KINDS:
        raise InputError(f"the kind {row['setup_kind']!r:.60} is not one of {', '.join(KINDS)}")
    if not isinstance(row["facts"], dict):
        raise InputError("the facts of a setup are a JSON object")
    check_setup_facts(row["setup_kind"], row["facts"])
    return LoggedSetup(
        _text(row["setup"]),
        _whole(row["setup_version"]),
        row["setup_kind"],
        row["facts"],
    )


def _read_run(row: dict[str, Any]) -> LoggedRun:
    _check_names(row, LoggedRun)
    kind = row["setup_kind"]
    if kind not in KINDS:
        raise InputError(f"the kind {kind!r:.60} is not one of {', '.join(KINDS)}")
    datetime.fromisoformat(_text(row["at"]))
    for piece in row["pieces"]:
        _check_names(piece, LoggedPiece)
        for one in piece["observations"]:
            _check_names(one, Noted)
    pieces = tuple(
        LoggedPiece(
            _text(piece["name"]),
            check_facts(piece["facts"], PIECE),
            tuple(_read_noted(one) for one in piece["observations"]),
        )
        for piece in row["pieces"]
    )
    if len({piece.name for piece in pieces}) < len(pieces):
        raise InputError("two pieces of one run have the same name")
    return LoggedRun(
        _whole(row["run"]), _text(row["setup"]), _whole(row["setup_version"]), kind,
        row["at"],
        _text(row["planned"], empty=True), check_facts(row["done"], DONE[kind]),
        _text(row["remarks"], empty=True), pieces,
        check_facts(row.get("plan", {}), DONE[kind]),  # logs of older forms planned in words alone
    )  # fmt: skip


def _read_noted(row: dict[str, Any]) -> Noted:
    what, at = row["what"], _text(row.get("at", ""), empty=True)  # older files do not say when
    if at:
        datetime.fromisoformat(at)
    return Noted(what, check_facts({what: row["text"]}, OBSERVED)[what], at)


def _text(value: Any, *, empty: bool = False) -> str:
    if not isinstance(value, str) or not (empty or value.strip()) or len(value) > LONGEST_TEXT:
        raise InputError(f"{value!r:.80} is not a text of at most {LONGEST_TEXT:,} letters")
    check_words(value, "text")
    return value


def _whole(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 0 < value < 2**62:
        raise InputError(f"{value!r:.80} is not a whole number from 1 on")
    return value


def _as_csv(rows: LogRows) -> str:
    stream = io.StringIO()
    plain = csv.writer(stream, lineterminator="\n")
    quoted = csv.writer(stream, lineterminator="\n", quoting=csv.QUOTE_ALL)
    for cells in (_HEAD, *_table(rows)):
        # Before Python 3.13 a bare return is left unquoted, which no reader takes.
        bare = any("\r" in str(cell) for cell in cells)
        (quoted if bare else plain).writerow(cells)
    return stream.getvalue()


def _table(rows: LogRows) -> Iterator[list[Any]]:
    """The rows of a table, each with a cell for every name of its head."""
    for setup in rows.setups:
        yield [
            "setup", "", _guard(setup.setup), setup.setup_version, setup.setup_kind, "", "",
            "facts", _guard(_json(setup.facts)), "",
        ]  # fmt: skip
    for run in rows.runs:
        head = [run.run, _guard(run.setup), run.setup_version, run.setup_kind, run.at]
        for what, text in (("planned", run.planned), ("remarks", run.remarks)):
            yield ["run", *head, "", what, _guard(text), ""]
        for row, facts in (("plan", run.plan), ("done", run.done)):
            for what, text in facts.items():
                yield [row, *head, "", what, _guard(text), ""]
        for piece in run.pieces:
            yield ["piece", *head, _guard(piece.name), "", "", ""]
            for what, text in piece.facts.items():
                yield ["place", *head, _guard(piece.name), what, _guard(text), ""]
            for one in piece.observations:
                yield ["look", *head, _guard(piece.name), one.what, _guard(one.text), one.at]


def _guard(text: str) -> str:
    return f"'{text}" if text.startswith(_FORMULA) else text


def _open(text: str) -> str:
    return text.removeprefix("'")


def _from_csv(text: str, where: str) -> Iterator[tuple[int, dict[str, Any]]]:
    """The setups, then the runs, as the JSON lines have them; each with its first line."""
    mark = find_mark(text.partition("\n")[0])
    reader = csv.reader(io.StringIO(text), strict=True, delimiter=mark)
    head: tuple[str, ...] = _HEAD
    found: list[tuple[int, dict[str, Any]]] = []
    runs: dict[str, dict[str, Any]] = {}
    try:
        for cells in reader:
            if reader.line_num == 1:
                head = tuple(cells)
                if head not in (_HEAD, _FIRST_HEAD):
                    raise TableError(f"{where} must begin with {','.join(_HEAD)}")
                continue
            if len(cells) != len(head):
                raise TableError(f"{where}, line {reader.line_num} has not {len(head)} cells")
            row = dict(zip(head, cells, strict=True))
            try:
                _take_row(row, runs, found, reader.line_num)
            except (ValueError, KeyError, RecursionError) as error:
                raise TableError(
                    f"{where}, line {reader.line_num} is not a row of a log: {error}"
                ) from error
    except csv.Error as error:
        raise TableError(f"{where}, line {reader.line_num}: {error}") from error
    return iter(found)


def _take_row(
    row: dict[str, str],
    runs: dict[str, dict[str, Any]],
    found: list[tuple[int, dict[str, Any]]],
    line: int,
) -> None:
    head = {
        "setup": _open(row["setup"]),
        "setup_version": int(row["version"]),
        "setup_kind": row["kind"],
    }
    text = _open(row["text"])
    _check_empty(row)
    if row["row"] == "setup":
        found.append((line, {**head, "facts": json.loads(text)}))
        return
    run = runs.get(row["run"])
    if run is None:
        run = {"run": int(row["run"]), **head, "at": row["at"], "planned": "", "done": {},
               "remarks": "", "pieces": [], "plan": {}}  # fmt: skip
        runs[row["run"]] = run
        found.append((line, run))
    if any(run[name] != said for name, said in {**head, "at": row["at"] or run["at"]}.items()):
        raise ValueError(f"it says another setup, version, kind or time of run {row['run']}")
    if row["row"] == "run":
        _say_once(run, {"planned": "planned", "remarks": "remarks"}[row["what"]], text)
    elif row["row"] in ("done", "plan"):
        _say_once(run[row["row"]], row["what"], text)
    else:
        _take_piece(row, run["pieces"], _open(row["piece"]), text)


_OF_NO_USE = {
    "setup": ("run", "at", "piece", "noted"), "run": ("piece", "noted"), "plan": ("piece", "noted"),
    "done": ("piece", "noted"), "piece": ("what", "text", "noted"), "place": ("noted",),
}  # fmt: skip
"""Cells that a row of each kind leaves empty."""


def _check_empty(row: dict[str, str]) -> None:
    """Refuse what stands in a cell that is not read in such a row."""
    said = [name for name in _OF_NO_USE.get(row["row"], ()) if row.get(name)]
    if row["row"] == "setup" and row["what"] != "facts":
        said.append("what")
    if said:
        raise ValueError(f"a row {row['row']} says nothing under {' and '.join(said)}")


def _say_once(said: dict[str, Any], name: str, text: str) -> None:
    if said.get(name):
        raise ValueError(f"{shorten(name)!r} is said twice")
    said[name] = text


def _take_piece(row: dict[str, str], pieces: list[dict[str, Any]], name: str, text: str) -> None:
    if row["row"] == "piece":
        pieces.append({"name": name, "facts": {}, "observations": []})
        return
    if row["row"] not in ("place", "look"):
        raise ValueError(
            f"{shorten(row['row'])!r} is none of setup, run, plan, done, piece, place, look"
        )
    piece = next((one for one in reversed(pieces) if one["name"] == name), None)
    if piece is None:
        raise ValueError(f"{shorten(name)!r} is no piece of run {shorten(row['run'])!r} above it")
    if row["row"] == "place":
        _say_once(piece["facts"], row["what"], text)
    else:
        noted = {"what": row["what"], "text": text, "at": row.get("noted", "")}
        piece["observations"].append(noted)
