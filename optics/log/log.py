"""The run log as an object: what was recorded, and what it says."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence, Sized
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Literal

from ..errors import InputError, UnknownNameError, shorten, suggest_nearest
from .database import log_path, open_database, told_as_input, transaction
from .derived import Derived
from .exchange import LogRows, insert_rows, read_rows, write_rows
from .facts import DONE, LONGEST_TEXT, OBSERVED, PIECE, check_facts, read_setup_facts
from .records import LoggedPiece, LoggedRun, LoggedSetup, LogList, Noted, Recorded

if TYPE_CHECKING:
    from ..tint.result import Calibration, Recipes
    from .learnt import JarLearnt, NextRun


class Log:
    """One file of setups, runs, pieces and looks.

    Made by :meth:`open`; a ``with`` statement closes it. What is recorded is on the disk, whole,
    when the call returns.

    Attributes
    ----------
    path : Path

    Examples
    --------
    >>> import tempfile, pathlib
    >>> folder = pathlib.Path(tempfile.mkdtemp())
    >>> with Log.open(folder / "clocks.sqlite") as log:
    ...     _ = log.setup("jar", kind="chamber")
    ...     made = log.record("jar", source="wire", metal="Ti", current="4.8A", time="12min")
    ...     _ = log.saw(made.run, piece="slide", on="glass", seen="gold", ohms="open")
    ...     log.show(made.run).pieces[0].observations[0].text
    'gold'
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._connection = connection

    @classmethod
    def open(cls, path: str | Path | None = None, *, write: bool = True) -> Log:
        """Open a log; where there is none, recording makes one.

        Parameters
        ----------
        path : str or Path, optional
            By default the file that ``OXHUE_LOG`` names, or ``oxhue-log.sqlite`` in this folder.
        write : bool
            False to read alone: nothing is made or changed.

        Raises
        ------
        InputError
            If the file is no log, is damaged, newer, locked, or may not be written.
        """
        place = log_path(path)
        return cls(place, open_database(place, write=write))

    def close(self) -> None:
        """Close the file."""
        self._connection.close()

    def __enter__(self) -> Log:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def setup(
        self, name: str, *, kind: str = "chamber", jar: str | Path | None = None, note: str = ""
    ) -> LoggedSetup:
        """Record a chamber, kiln or flame; where the name is held already, a new version of it.

        Parameters
        ----------
        name : str
        kind : {"chamber", "kiln", "flame"}
        jar : str or Path, optional
            The file that describes a chamber; what it says is copied into the log.
        note : str

        Raises
        ------
        InputError
            If the name is empty or of another kind already, or the file is refused.
        """
        name = _check_name(name, "name")
        facts = read_setup_facts(kind, jar, note)
        with self._writing("setup") as entry:
            held = self._newest(name)
            if held is not None and held["kind"] != kind:
                raise InputError(
                    f"{name!r} is a {held['kind']} already; give the {kind} another name",
                    parameter="kind",
                )
            version = 1 if held is None else held["version"] + 1
            self._connection.execute(
                "INSERT INTO setup (entry, name, version, kind, facts) VALUES (?, ?, ?, ?, ?)",
                (entry, name, version, kind, facts),
            )
        return LoggedSetup(name, version, kind, json.loads(facts))

    def record(
        self,
        setup: str,
        *,
        like: int | None = None,
        planned: str = "",
        remarks: str = "",
        **done: str | bool | None,
    ) -> LoggedRun:
        """Record a run of a setup.

        Parameters
        ----------
        setup : str
        like : int, optional
            A run whose settings it repeats, but for those given.
        planned, remarks : str
        **done : str or bool
            What was done, in words with units: ``current="4.8A"``, ``time="12min"``,
            ``melted=True``; see ``DONE`` of :mod:`~oxhue.optics.log.facts`.

        Raises
        ------
        InputError
            If the setup or the run it is like is not held, or a setting is refused.
        """
        held = self._held(setup)
        said = check_facts(done, DONE[held["kind"]])
        if like is not None:
            before = self.show(like)
            if before.setup_kind != held["kind"]:
                raise InputError(
                    f"run {like} was in a {before.setup_kind}, {setup!r} is a {held['kind']}",
                    parameter="like",
                )
            said = before.done | said
        if not said:
            raise InputError(
                f"nothing is said of the run; give at least one of {', '.join(DONE[held['kind']])}"
            )
        for name, text in (("planned", planned), ("remarks", remarks)):
            _check_words(text, name)
        at = datetime.now().astimezone().isoformat(timespec="seconds")
        with self._writing("run") as entry:
            done_text = json.dumps(said, ensure_ascii=False)
            made = self._connection.execute(
                "INSERT INTO run (entry, setup, at, planned, done, remarks) "
                "VALUES (?, ?, ?, ?, ?, ?)",
                (entry, held["id"], at, planned, done_text, remarks),
            )
        return self.show(int(made.lastrowid or 0))

    def saw(
        self,
        run: int,
        *,
        piece: str = "piece",
        on: str | None = None,
        metal: str | None = None,
        distance: str | None = None,
        offset: str | None = None,
        tilt: str | None = None,
        **looks: str | Sequence[str] | None,
    ) -> LoggedRun:
        """Record what was noticed of a piece of a run, in the words of ``assay`` and ``gauge``.

        Parameters
        ----------
        run : int
        piece : str
            Its name; one that the run does not hold yet is added.
        on, metal, distance, offset, tilt : str, optional
            What it is made of, what lies on it where not the metal of the run, where it lay.
        **looks : str or sequence of str
            ``seen="gold"``, ``ohms="open"``, ``thickness="45nm"``; see ``OBSERVED`` of
            :mod:`~oxhue.optics.log.facts`.

        Raises
        ------
        InputError
            If the run is not held, nothing was noticed, or something is refused.
        """
        self.show(run)
        name = _check_name(piece, "piece")
        place = {"on": on, "metal": metal, "distance": distance, "offset": offset, "tilt": tilt}
        facts = check_facts(place, PIECE)
        noted = [
            Noted(what, check_facts({what: text}, OBSERVED)[what])
            for what, texts in looks.items()
            if texts is not None
            for text in ([texts] if isinstance(texts, str) else texts)
        ]
        if not noted and not facts:
            raise InputError(f"nothing is said of the piece; give one of {', '.join(OBSERVED)}")
        with self._writing("saw") as entry:
            self._add_piece(entry, run, name, facts, noted)
        return self.show(run)

    def _add_piece(
        self, entry: int, run: int, name: str, facts: Mapping[str, str], noted: Sequence[Noted]
    ) -> None:
        cursor = self._connection
        row = cursor.execute(
            "SELECT id, facts FROM piece WHERE run = ? AND name = ?", (run, name)
        ).fetchone()
        if row is None:
            text = json.dumps(dict(facts), ensure_ascii=False)
            number = cursor.execute(
                "INSERT INTO piece (entry, run, name, facts) VALUES (?, ?, ?, ?)",
                (entry, run, name, text),
            ).lastrowid
        else:
            number, held = row[0], json.loads(row[1])
            for what, text in facts.items():
                if held.get(what, text) != text:
                    raise InputError(
                        f"`{what}` of {name!r} in run {run} is {held[what]} already, not {text}",
                        parameter=what,
                    )
            if missing := [what for what in facts if what not in held]:
                raise InputError(
                    f"{name!r} in run {run} was recorded without `{missing[0]}`; undo that, or "
                    f"give this piece another name",
                    parameter=missing[0],
                )
        cursor.executemany(
            "INSERT INTO observation (entry, piece, what, text) VALUES (?, ?, ?, ?)",
            [(entry, number, one.what, one.text) for one in noted],
        )

    def show(self, run: int) -> LoggedRun:
        """One run with its pieces and all that was noticed of them.

        Raises
        ------
        InputError
            If there is no such run.
        """
        if not isinstance(run, int) or isinstance(run, bool):
            raise InputError(f"`run` is the number of a run, not {run!r:.80}", parameter="run")
        found = self._runs("WHERE run.id = ?", (run,)) if abs(run) < 2**62 else ()
        if not found:
            (most,) = self._connection.execute("SELECT count(*) FROM run").fetchone()
            raise UnknownNameError(
                f"there is no run {run} in the log; it holds {_count(range(most))}", parameter="run"
            )
        return found[0]

    def runs(self, setup: str | None = None) -> LogList:
        """Every run, of one setup if it is named, newest last.

        Raises
        ------
        InputError
            If there is no such setup.
        """
        if setup is not None:
            self._held(setup)
        where, values = ("", ()) if setup is None else ("WHERE setup.name = ?", (setup,))
        setups = [one for one in self._setups("newest") if setup in (None, one.setup)]
        return LogList(str(self.path), tuple(setups), self._runs(where, values))

    def learn(
        self, setup: str, *, metal: str | None = None, seed: int = 1
    ) -> JarLearnt | Calibration:
        """What the runs of a setup teach: of a jar its source and gas, of a kiln its growth law.

        Parameters
        ----------
        setup : str
        metal : str, optional
            Of the pieces of a kiln; that of the newest by default.
        seed : int

        Raises
        ------
        InputError
            If there is no such setup, or its runs say too little.
        """
        held, runs, setups = self._all_of(setup)
        if held["kind"] == "chamber":
            from .learn import learn

            return learn(runs, setups, kept=Derived(self._connection), seed=seed)
        from .kiln_runs import learn_kiln

        return learn_kiln(runs, setup, metal=metal, seed=seed)

    def next(
        self,
        setup: str,
        *,
        want: str,
        within: float = 0.15,
        risk: float = 0.05,
        metal: str | None = None,
        seed: int = 1,
    ) -> NextRun | Recipes:
        """The next run for what is wanted: settings with the best odds, from what was learnt.

        Parameters
        ----------
        setup : str
        want : str
            Of a jar a film such as ``Ti 80nm``; of a kiln a colour such as ``purple``.
        within, risk : float
            Share by which the thickness may be off; most that the chance of a melted wire may be.
        metal : str, optional
            Of the pieces of a kiln; that of the newest by default.
        seed : int

        Raises
        ------
        InputError
            If there is no such setup, its runs say too little, or what is wanted is refused.
        """
        held, runs, setups = self._all_of(setup)
        if held["kind"] == "chamber":
            from .learn import learn
            from .next_run import advise

            kept = Derived(self._connection)
            learnt = learn(runs, setups, check=False, kept=kept, seed=seed)
            return advise(learnt, runs, setups, want=want, within=within, risk=risk)
        from ..tint.recipes import recipes
        from .kiln_runs import learn_kiln

        fitted = learn_kiln(runs, setup, metal=metal, seed=seed)
        return recipes(fitted.metal, want, kiln=fitted.fitted, seed=seed)

    def _all_of(
        self, setup: str
    ) -> tuple[dict[str, Any], tuple[LoggedRun, ...], list[LoggedSetup]]:
        """A setup, its runs, and all its versions, the newest last."""
        held = self._held(setup)
        versions = [one for one in self._setups("row") if one.setup == setup]
        return held, self._runs("WHERE setup.name = ?", (setup,)), versions

    def undo(self) -> Recorded:
        """Take back what was recorded last, whole.

        Raises
        ------
        InputError
            If nothing is recorded.
        """
        with told_as_input(self.path), transaction(self._connection):
            row = self._connection.execute(
                "SELECT id, what, at FROM entry ORDER BY id DESC LIMIT 1"
            ).fetchone()
            if row is None:
                raise InputError("there is nothing in the log to take back")
            number, what, at = row
            run = self._run_of(number)
            self._connection.execute("DELETE FROM entry WHERE id = ?", (number,))
        of = "" if run is None else f" of run {run}"
        words = {"saw": f"the looks{of}", "run": f"run {run}", "setup": "the setup"}
        return Recorded(
            str(self.path), "undo", run,
            f"Taken back: {words.get(what, 'the import')}, recorded {at}.",
        )  # fmt: skip

    def _run_of(self, entry: int) -> int | None:
        row = self._connection.execute(
            "SELECT run.id FROM run WHERE entry = :e UNION SELECT run FROM piece WHERE entry = :e "
            "UNION SELECT piece.run FROM observation JOIN piece ON piece.id = observation.piece "
            "WHERE observation.entry = :e LIMIT 1",
            {"e": entry},
        ).fetchone()
        return None if row is None else int(row[0])

    @contextmanager
    def _writing(self, what: str) -> Iterator[int]:
        """One entry, all or nothing; its number."""
        with told_as_input(self.path), transaction(self._connection):
            at = datetime.now().astimezone().isoformat(timespec="seconds")
            made = self._connection.execute(
                "INSERT INTO entry (at, what) VALUES (?, ?)", (at, what)
            )
            yield int(made.lastrowid or 0)

    def _newest(self, name: str) -> dict[str, Any] | None:
        row = self._connection.execute(
            "SELECT id, version, kind FROM setup WHERE name = ? ORDER BY version DESC LIMIT 1",
            (name,),
        ).fetchone()
        return None if row is None else dict(zip(("id", "version", "kind"), row, strict=True))

    def _held(self, name: str) -> dict[str, Any]:
        with told_as_input(self.path):
            held = self._newest(_check_name(name, "setup"))
            if held is None:
                rows = self._connection.execute("SELECT DISTINCT name FROM setup").fetchall()
                names = [row[0] for row in rows]
                hint = suggest_nearest(name, names) or (
                    f"it holds {', '.join(names[:9])}" if names else "record a setup first"
                )
                raise UnknownNameError(
                    f"there is no setup {shorten(name)!r} in the log; {hint}", parameter="setup"
                )
            return held

    def _setups(self, which: Literal["newest", "row"]) -> tuple[LoggedSetup, ...]:
        """The newest version of every setup, or all versions in a row."""
        newest = "WHERE version = (SELECT max(version) FROM setup t WHERE t.name = setup.name)"
        with told_as_input(self.path):
            rows = self._connection.execute(
                f"SELECT name, version, kind, facts FROM setup "
                f"{newest if which == 'newest' else ''} ORDER BY id"
            ).fetchall()
        return tuple(
            LoggedSetup(name, version, kind, json.loads(facts))
            for name, version, kind, facts in rows
        )

    def _runs(self, where: str, values: tuple[object, ...]) -> tuple[LoggedRun, ...]:
        """Runs with all that hangs on them, in three queries however many there are."""
        join = "JOIN setup ON setup.id = run.setup"
        with told_as_input(self.path):
            execute = self._connection.execute
            runs = execute(
                f"SELECT run.id, setup.name, setup.version, setup.kind, run.at, run.planned, "
                f"run.done, run.remarks FROM run {join} {where} ORDER BY run.id",
                values,
            ).fetchall()
            pieces = execute(
                f"SELECT piece.id, piece.run, piece.name, piece.facts FROM piece "
                f"JOIN run ON run.id = piece.run {join} {where} ORDER BY piece.id",
                values,
            ).fetchall()
            noted = execute(
                f"SELECT observation.piece, observation.what, observation.text FROM observation "
                f"JOIN piece ON piece.id = observation.piece JOIN run ON run.id = piece.run "
                f"{join} {where} ORDER BY observation.id",
                values,
            ).fetchall()
        return _assemble(runs, pieces, noted)

    def export(self, path: str | Path) -> Recorded:
        """Write all rows to a file, JSON lines or by its name CSV, that :meth:`import_` reads.

        Raises
        ------
        InputError
            If the file cannot be written, or its name ends in neither .jsonl nor .csv.
        """
        rows = LogRows(self._setups("row"), self._runs("", ()))
        write_rows(Path(path), rows)
        return Recorded(str(self.path), "export", None, f"{_count(rows.runs)} written to {path}.")

    def import_(self, path: str | Path) -> Recorded:
        """Add the rows of a file that :meth:`export` wrote; runs are numbered on from those held.

        Raises
        ------
        InputError
            If the file cannot be read, or a row is refused: then nothing is added.
        """
        rows = read_rows(Path(path))
        with self._writing("import") as entry:
            first = insert_rows(self._connection, entry, rows)
        words = f"; the first is run {first}" if first else ""
        return Recorded(
            str(self.path), "import", first, f"{_count(rows.runs)} added from {path}{words}."
        )


def _assemble(
    runs: Sequence[tuple[Any, ...]],
    pieces: Sequence[tuple[Any, ...]],
    noted: Sequence[tuple[Any, ...]],
) -> tuple[LoggedRun, ...]:
    looks: dict[int, list[Noted]] = {}
    for number, what, text in noted:
        looks.setdefault(number, []).append(Noted(what, text))
    of_run: dict[int, list[LoggedPiece]] = {}
    for number, run, name, facts in pieces:
        piece = LoggedPiece(name, json.loads(facts), tuple(looks.get(number, ())))
        of_run.setdefault(run, []).append(piece)
    return tuple(
        LoggedRun(
            number,
            setup,
            version,
            kind,
            at,
            planned,
            json.loads(done),
            remarks,
            tuple(of_run.get(number, ())),
        )
        for number, setup, version, kind, at, planned, done, remarks in runs
    )


def _count(runs: Sized) -> str:
    return "1 run" if len(runs) == 1 else f"{len(runs)} runs"


def _check_name(name: str, what: str) -> str:
    if not isinstance(name, str) or not name.strip():
        raise InputError(f"`{what}` is a name, not {name!r:.80}", parameter=what)
    if len(name) > 100 or not name.isprintable():
        raise InputError(f"`{what}` is a name of at most 100 printable letters", parameter=what)
    return name.strip()


def _check_words(text: str, what: str) -> None:
    if not isinstance(text, str):
        raise InputError(f"`{what}` is a text, not {text!r:.80}", parameter=what)
    if len(text) > LONGEST_TEXT:
        raise InputError(f"`{what}` is longer than {LONGEST_TEXT:,} letters", parameter=what)
