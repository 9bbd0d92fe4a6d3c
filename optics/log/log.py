"""The run log as an object: what was recorded, and what it says."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence, Sized
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

from ..errors import InputError, UnknownNameError, shorten
from .database import (
    is_made,
    log_path,
    open_database,
    open_unmade,
    told_as_input,
    transaction,
)
from .derived import Derived
from .entries import add_entry, add_piece, add_run, add_setup, now_words, take_back
from .facts import (
    DONE,
    OBSERVED,
    PIECE,
    check_facts,
    check_name,
    check_source,
    check_words,
    complete_done,
    in_words,
    read_setup_facts,
    repeat_done,
    repeat_source,
    settle_heat,
    source_of,
    usual_of,
)
from .photos import copy_photos, keep_photo, say_missing
from .queries import Which, count_runs, find_setup, newest_version, read_runs, read_setups
from .records import LoggedRun, LoggedSetup, LogList, Noted, Recorded

if TYPE_CHECKING:
    from ..files.spectrum import Spectrum
    from ..tint.result import Calibration
    from .jar.learnt import JarLearnt, NextRun
    from .kiln.advice import NextHeats


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

    def __init__(self, path: Path, connection: sqlite3.Connection, *, made: bool = True) -> None:
        self.path = path
        self._connection = connection
        self._made = made

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
        if write and not is_made(place):
            return cls(place, open_unmade(), made=False)
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
        self,
        name: str,
        *,
        kind: str = "chamber",
        jar: str | Path | None = None,
        places: Mapping[str, str] | None = None,
        usual: Mapping[str, str | None] | None = None,
        note: str = "",
    ) -> LoggedSetup:
        """Record a chamber, kiln or flame; where the name is held already, a new version of it.

        Parameters
        ----------
        name : str
        kind : {"chamber", "kiln", "flame"}
        jar : str or Path, optional
            The file that describes a chamber; what it says is copied into the log.
        places : mapping, optional
            Where pieces lie in it, by name: ``{"rim": "7cm,2cm,30"}``, distance, offset, tilt.
        usual : mapping, optional
            Its source, which holds for every run that does not say otherwise: ``{"source": "wire",
            "metal": "Ti", "wire_diameter": "0.5mm"}``.
        note : str

        Raises
        ------
        InputError
            If the name is empty or of another kind already, or the file is refused.
        """
        name = check_name(name, "name")
        facts = read_setup_facts(kind, jar, note, places=places, usual=usual)
        with self._writing("setup") as entry:
            held = newest_version(self._connection, name)
            if held is not None and held["kind"] != kind:
                raise InputError(
                    f"{name!r} is a {held['kind']} already; give the {kind} another name",
                    parameter="kind",
                )
            version = 1 if held is None else held["version"] + 1
            made = LoggedSetup(name, version, kind, json.loads(facts))
            add_setup(self._connection, entry, made)
        return made

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
            A run whose settings, not readings, it repeats but for those given.
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
        setup, said = held["name"], settle_heat({}, check_facts(done, DONE[held["kind"]]))
        if like is not None:
            before = self._like(like, held["kind"], setup)
            said = self._repeat(before, said, setup)
            planned = planned or ("" if before.done else before.planned)
        if not said:
            raise InputError(
                f"nothing is said of the run; give at least one of {', '.join(DONE[held['kind']])}"
            )
        check_source(said, self._usual(setup))
        return self._add_run(held["id"], planned, said, {}, remarks)

    def plan(
        self, setup: str, planned: str, *, remarks: str = "", **settings: str | bool | None
    ) -> LoggedRun:
        """Record a run that is planned; what is done is recorded as one like it.

        Parameters
        ----------
        setup, planned : str
            The setup, and the plan as given, such as ``"Ti 80nm / glass"``.
        remarks : str
        **settings : str or bool
            As :meth:`record` takes them.

        Raises
        ------
        InputError
            If the setup is not held, nothing is planned, or a setting is refused.
        """
        held = self._held(setup)
        said = settle_heat({}, check_facts(settings, DONE[held["kind"]]))
        if not isinstance(planned, str) or not (planned.strip() or said):
            raise InputError("`planned` says what the run is for", parameter="planned")
        check_source(said, self._usual(held["name"]))
        return self._add_run(held["id"], planned, {}, said, remarks)

    def _like(self, like: int, kind: str, setup: str) -> LoggedRun:
        before = self.show(like)
        if before.setup_kind != kind:
            raise InputError(
                f"run {like} was in a {before.setup_kind}, {setup!r} is a {kind}", parameter="like"
            )
        return before

    def _usual(self, setup: str) -> dict[str, str]:
        """The usual source of the newest version of a setup."""
        (newest,) = [one for one in self._setups("newest") if one.setup == setup]
        return usual_of(newest.facts)

    def _repeat(self, before: LoggedRun, said: dict[str, str], setup: str) -> dict[str, str]:
        """What a run that is like another does, but for what is said of it."""
        whole = before.plan | repeat_done(before.done)
        was = source_of(whole, self._usual(before.setup))
        now = source_of(said, whole if "source" in whole else self._usual(setup))
        return settle_heat(repeat_source(whole, was, now), said)

    def _add_run(
        self, setup: int, planned: str, done: dict[str, str], plan: dict[str, str], remarks: str
    ) -> LoggedRun:
        for name, text in (("planned", planned), ("remarks", remarks)):
            check_words(text, name)
        with self._writing("run") as entry:
            made = add_run(
                self._connection, entry, setup,
                done=done, plan=plan, planned=planned, remarks=remarks, at=now_words(),
            )  # fmt: skip
        return self.show(made)

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
        place: str | None = None,
        photo: str | Path | None = None,
        **looks: str | Spectrum | Sequence[str | Spectrum] | None,
    ) -> LoggedRun:
        """Record what was noticed of a piece of a run, in the words of ``assay`` and ``gauge``.

        Parameters
        ----------
        run : int
        piece : str
            Its name; one that the run does not hold yet is added.
        on, metal, distance, offset, tilt : str, optional
            What it is made of, what lies on it where not the metal of the run, where it lay.
        place : str, optional
            Where it lay, as the setup names it.
        photo : str or Path, optional
            A photo of it; it is copied next to the log and named by its content.
        **looks : str, Spectrum or a sequence of them
            ``seen="gold"``, ``ohms="open"``, ``spectrum=read_spectrum("plate.csv")``; see
            ``OBSERVED`` of :mod:`~oxhue.optics.log.facts`.

        Raises
        ------
        InputError
            If the run is not held, nothing was noticed, or something is refused.
        """
        held = self.show(run)
        name = check_name(piece, "piece")
        where = {"distance": distance, "offset": offset, "tilt": tilt, "place": place}
        facts = check_facts({"on": on, "metal": metal, **where}, PIECE)
        if place is not None:
            self._check_place(held, place)
        now = now_words()
        noted = [
            Noted(what, check_facts({what: text}, OBSERVED)[what], now)
            for what, one in looks.items()
            if one is not None
            for text in in_words(one)
        ]
        if photo is not None:
            noted.append(Noted("photo", keep_photo(Path(photo), self.path), now))
        if not noted and not facts:
            raise InputError(f"nothing is said of the piece; give one of {', '.join(OBSERVED)}")
        with self._writing("saw") as entry:
            add_piece(self._connection, entry, run, name=name, facts=facts, noted=noted)
        return self.show(run)

    def _check_place(self, run: LoggedRun, place: str) -> None:
        versions = self._setups("row")
        facts = next(
            one.facts
            for one in versions
            if (one.setup, one.setup_version) == (run.setup, run.setup_version)
        )
        if place not in facts.get("places", {}):
            there = ", ".join(facts.get("places", {})) or "none"
            raise UnknownNameError(
                f"{run.setup!r} has no place {shorten(place)!r}; it has {there}", parameter="place"
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

    def newest(self, setup: str) -> LoggedRun:
        """The newest run of a setup that was done.

        Raises
        ------
        InputError
            If there is no such setup, or nothing was done in it.
        """
        setup = self._held(setup)["name"]
        last = "WHERE run.id = (SELECT max(r.id) FROM run r JOIN setup s ON s.id = r.setup " \
               "WHERE s.name = ? AND r.done <> '{}')"  # fmt: skip
        found = self._runs(last, (setup,))
        if not found:
            raise InputError(f"nothing is recorded as done in {setup!r}", parameter="setup")
        return found[0]

    def runs(self, setup: str | None = None, *, newest: int | None = None) -> LogList:
        """Every run, of one setup if it is named, newest last.

        Parameters
        ----------
        setup : str, optional
        newest : int, optional
            Only so many of the newest; how many there are in all is told with them.

        Raises
        ------
        InputError
            If there is no such setup.
        """
        if setup is not None:
            setup = self._held(setup)["name"]
        where, values = ("", ()) if setup is None else ("WHERE setup.name = ?", (setup,))
        setups = [one for one in self._setups("newest") if setup in (None, one.setup)]
        if newest is None:
            runs = self._runs(where, values)
            return LogList(str(self.path), tuple(setups), runs, len(runs))
        with told_as_input(self.path):
            total, first = count_runs(self._connection, where, values, newest=newest)
        later = f"{where} AND" if where else "WHERE"
        runs = self._runs(f"{later} run.id >= ?", (*values, first))
        return LogList(str(self.path), tuple(setups), runs, total)

    def learn(
        self, setup: str, *, metal: str | None = None, seed: int = 1
    ) -> JarLearnt | Calibration:
        """What the runs of a setup teach: of a jar its source and gas, of a kiln its growth law.

        Parameters
        ----------
        setup : str
        metal : str, optional
            Of the pieces of a kiln, where they are of several; of a jar what those runs deposited
            that do not say it.
        seed : int

        Raises
        ------
        InputError
            If there is no such setup, or its runs say too little.
        """
        held, runs, setups = self._all_of(setup, metal, asked=True)
        if held["kind"] == "chamber":
            from .learn import learn

            return learn(runs, setups, kept=Derived(self._connection), seed=seed)
        from .kiln_runs import learn_kiln

        kept = Derived(self._connection)
        return learn_kiln(runs, held["name"], metal=metal, kept=kept, seed=seed)

    def next(
        self,
        setup: str,
        *,
        want: str,
        within: float | None = None,
        risk: float | None = None,
        metal: str | None = None,
        base_pressure: str | None = None,
        seed: int = 1,
    ) -> NextRun | NextHeats:
        """The next run for what is wanted: settings with the best odds, from what was learnt.

        Parameters
        ----------
        setup : str
        want : str
            Of a jar a film such as ``Ti 80nm``; of a kiln a colour such as ``purple``.
        within, risk : float, optional
            Of a jar: share by which the thickness may be off, 0.15 by default; most that the chance
            of a melted wire may be, 0.05 by default.
        metal : str, optional
            Of the pieces of a kiln, where they are of several; of a jar what those runs deposited
            that do not say it.
        base_pressure : str, optional
            Of a jar: what the gauge reads now, before the run, such as ``6e-4mbar``.
        seed : int

        Raises
        ------
        InputError
            If there is no such setup, its runs say too little, or what is wanted is refused.
        """
        held, runs, setups = self._all_of(setup, metal, asked=True)
        shares = {
            name: share for name, share in (("within", within), ("risk", risk)) if share is not None
        }
        if held["kind"] == "chamber":
            from .next_run import RISK, WITHIN, advise

            return advise(
                runs, setups, want=want, base_pressure=base_pressure,
                within=shares.get("within", WITHIN), risk=shares.get("risk", RISK),
                kept=Derived(self._connection), seed=seed,
            )  # fmt: skip
        if base_pressure is not None or shares:
            name = next(iter(shares), "base_pressure")
            raise InputError(
                f"`{name}` is of a jar, and {setup!r} is a {held['kind']}", parameter=name
            )
        from .kiln.advice import advise_heat

        kept = Derived(self._connection)
        return advise_heat(runs, held["name"], want=want, metal=metal, kept=kept, seed=seed)

    def known(
        self, setup: str, verb: str, *, run: int | None = None, metal: str | None = None
    ) -> dict[str, Any]:
        """What a setup and its runs teach, as the arguments of a function that uses it.

        Parameters
        ----------
        setup : str
        verb : {"sheet", "tint", "assay", "gauge"}
            For ``run_sheet(stack, **known)``, ``tint(metal, heat, **known)``, ``assay(**known)``
            or ``gauge(film, on, seen, **known)``.
        run : int, optional
            For ``assay`` and ``gauge``: the run of the piece, the newest by default. What was
            noticed of it is left out.
        metal : str, optional
            For ``sheet`` and ``tint``: the newest run with this metal is meant.

        Raises
        ------
        InputError
            If there is no such setup or run, or it is of a kind that the verb has no use for.
        """
        from .known import known_for

        held, runs, setups = self._all_of(setup, metal)
        kept = Derived(self._connection)
        return known_for(verb, held["kind"], runs, setups=setups, run=run, metal=metal, kept=kept)

    def _all_of(
        self, setup: str, metal: str | None, *, asked: bool = False
    ) -> tuple[dict[str, Any], tuple[LoggedRun, ...], list[LoggedSetup]]:
        """A setup, its runs with their usual source, and all its versions, the newest last; runs of
        a jar that are told of no metal are of the one named, and where that is ``asked`` for by
        itself, there must be some."""
        held = self._held(setup)
        setup = held["name"]
        versions = [one for one in self._setups("row") if one.setup == setup]
        facts = {one.setup_version: one.facts for one in versions}
        runs: list[LoggedRun] = []
        before: dict[str, str] = {}
        for run in self._runs("WHERE setup.name = ?", (setup,)):
            if run.done:
                before = complete_done(run.done, facts[run.setup_version], before)
            runs.append(replace(run, done=before) if run.done else run)
        if held["kind"] == "chamber":
            from .named_metal import check_asked, name_metals

            if asked:
                check_asked(runs, setup, metal)
            return held, name_metals(runs, metal), versions
        return held, tuple(runs), versions

    def undo(self) -> Recorded:
        """Take back what was recorded last, whole.

        Raises
        ------
        InputError
            If nothing is recorded.
        """
        with told_as_input(self.path), transaction(self._connection):
            run, sentence = take_back(self._connection)
        return Recorded(str(self.path), "undo", run, sentence)

    @contextmanager
    def _writing(self, what: str) -> Iterator[int]:
        """One entry, all or nothing; its number. The first makes the file."""
        if not self._made:
            self._connection.close()
            self._connection = open_database(self.path, write=True)
            self._made = True
        with told_as_input(self.path), transaction(self._connection):
            yield add_entry(self._connection, what)

    def _held(self, name: str) -> dict[str, Any]:
        with told_as_input(self.path):
            return find_setup(self._connection, check_name(name, "setup"))

    def _setups(self, which: Which) -> tuple[LoggedSetup, ...]:
        with told_as_input(self.path):
            return read_setups(self._connection, which)

    def _runs(self, where: str, values: tuple[object, ...]) -> tuple[LoggedRun, ...]:
        with told_as_input(self.path):
            return read_runs(self._connection, where, values)

    def export(self, path: str | Path, *, piece: str | None = None) -> Recorded:
        """Write all rows to a file, JSON lines or by its name CSV, that :meth:`import_` reads.

        Photos are copied into a folder next to it; with ``piece``, only what is of that piece.

        Raises
        ------
        InputError
            If the file cannot be written, or its name ends in neither .jsonl nor .csv; or no run
            has such a piece.
        """
        from .exchange import LogRows, check_form, rows_of_piece, write_rows

        rows = LogRows(self._setups("row"), self._runs("", ()))
        if piece is not None:
            rows = rows_of_piece(rows, piece)
        check_form(Path(path))
        missing = copy_photos(rows.photos, self.path, Path(path))  # where it fails, nothing is left
        write_rows(Path(path), rows)
        sentence = f"{_count(rows.runs)} written to {path}.{say_missing(missing)}"
        return Recorded(str(self.path), "export", None, sentence)

    def import_(self, path: str | Path) -> Recorded:
        """Add the rows of a file that :meth:`export` wrote; runs are numbered on from those held.

        Raises
        ------
        InputError
            If the file cannot be read, or a row is refused: then nothing is added.
        """
        from .exchange import insert_rows, read_rows

        rows = read_rows(Path(path))
        missing = copy_photos(rows.photos, Path(path), self.path)  # it fails before a row is added
        with self._writing("import") as entry:
            first = insert_rows(self._connection, entry, rows)
        words = f"; the first is run {first}" if first else ""
        sentence = f"{_count(rows.runs)} added from {path}{words}.{say_missing(missing)}"
        return Recorded(str(self.path), "import", first, sentence)


def _count(runs: Sized) -> str:
    return "1 run" if len(runs) == 1 else f"{len(runs)} runs"
