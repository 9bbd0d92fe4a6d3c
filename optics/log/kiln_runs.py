"""Runs of a kiln or flame as test pieces: the same learner as for a file of them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..errors import InputError
from ..inference.reading import parse_reading
from ..oxidation.calibration import LawDraws
from ..oxidation.metals import Metal, find_metal
from ..tint.calibrate import UNLIKE, learn
from ..tint.coupon import film_share
from ..tint.coupon_file import CouponRow
from ..tint.kiln import Kiln, shipped_kiln
from ..tint.result import Calibration
from ..units import parse_quantity
from .derived import Kept
from .heat_profile import heat_of
from .records import LoggedRun
from .spectra import oxide_likelihood


def learn_kiln(
    runs: Sequence[LoggedRun],
    name: str,
    *,
    metal: str | None = None,
    kept: Kept | None = None,
    seed: int = 1,
) -> Calibration:
    """The growth law of a kiln from its runs in a log.

    Parameters
    ----------
    runs : sequence of LoggedRun
        Of one kiln.
    name : str
    metal : str, optional
        Which metal's pieces, where they are of several.
    kept : mapping, optional
        Where the draws are put for :func:`kiln_of`.
    seed : int

    Raises
    ------
    InputError
        If no piece says its heat, its metal and what came out, or they are of several metals.
    """
    chosen, own = pieces_of(runs, name, metal)
    heats = list(dict.fromkeys(run.run for _, run in own))
    learnt = learn(
        chosen, [_read_curve(chosen, row, kept) for row, _ in own], made_from=_made_from(name),
        seed=seed,
        places=[heats.index(run.run) for _, run in own],
    )  # fmt: skip
    if kept is not None:
        kept[_question(chosen, own, name, seed)] = _as_table(learnt.fitted)
    return learnt


def kiln_of(
    runs: Sequence[LoggedRun],
    name: str,
    *,
    metal: str | None = None,
    kept: Kept | None = None,
    seed: int = 1,
) -> Kiln:
    """A kiln as its runs teach it, as it was learnt before if nothing was recorded since.

    Raises
    ------
    InputError
        As :func:`learn_kiln`.
    """
    if kept is not None:
        chosen, own = pieces_of(runs, name, metal)
        held = kept.get(_question(chosen, own, name, seed))
        if held is not None:
            return _from_table(chosen, held, name)
    return learn_kiln(runs, name, metal=metal, kept=kept, seed=seed).fitted


def kiln_so_far(
    runs: Sequence[LoggedRun], name: str, metal: str | None, *, kept: Kept | None = None
) -> Kiln:
    """As :func:`kiln_of`, but the shipped one where they hold no piece of the metal yet."""
    if metal is not None:
        rows = [(key, row, run) for run in runs for key, row in _rows(run, name)]
        if not _of_metal(rows, find_metal(metal).key):
            return shipped_kiln(find_metal(metal))
    return kiln_of(runs, name, metal=metal, kept=kept)


def pieces_of(
    runs: Sequence[LoggedRun], name: str, metal: str | None
) -> tuple[Metal, list[tuple[CouponRow, LoggedRun]]]:
    """The metal that is meant, and every look at its pieces.

    A piece of which nobody says the metal is of the one that all others are of.

    Raises
    ------
    InputError
        If there is no such piece, or they are of several metals and none is named.
    """
    rows = [(key, row, run) for run in runs for key, row in _rows(run, name)]
    keys = list(dict.fromkeys(key for key, _, _ in rows if key is not None))
    if metal is None and len(keys) > 1:
        *several, last = [find_metal(key).name for key in keys]
        raise InputError(
            f"the pieces of {name!r} are of {', '.join(several)} and {last}; say with `metal` "
            f"which are meant",
            parameter="metal",
        )
    chosen = find_metal(metal).key if metal is not None else next(iter(keys), "")
    own = _of_metal(rows, chosen)
    if not chosen and rows:
        raise InputError(
            f"no run of {name!r} says which metal was heated; name it with `metal`",
            parameter="metal",
        )
    if not own:
        of = f" of {metal}" if metal is not None else ""
        raise InputError(
            f"the log holds no piece{of} from {name!r} with its heat, its time and a colour or "
            f"thickness"
        )
    return find_metal(chosen), own


def _of_metal(
    rows: Sequence[tuple[str | None, CouponRow, LoggedRun]], chosen: str
) -> list[tuple[CouponRow, LoggedRun]]:
    """The looks at pieces of one metal; those of which nobody says it if there is no other."""
    alone = bool(chosen) and {key for key, _, _ in rows} <= {chosen, None}
    return [(row, run) for key, row, run in rows if key == chosen or (key is None and alone)]


def _made_from(name: str) -> str:
    return f"the log of {name}"


def _question(
    metal: Metal, own: Sequence[tuple[CouponRow, LoggedRun]], name: str, seed: int
) -> str:
    """All that the draws rest on, as one short text."""
    said = [(run.run, run.done, row.id, row.text) for row, run in own]
    text = json.dumps([metal.key, name, seed, said], ensure_ascii=False)
    return f"kiln {hashlib.sha256(text.encode('utf-8')).hexdigest()}"


def _as_table(kiln: Kiln) -> list[list[float]]:
    """A kiln as rows of numbers: what it was learnt from, then each column of its draws."""
    draws = kiln.draws
    columns = [draws.native_nm, draws.pace[:, 0], draws.scatter, draws.index_error, draws.film]
    head = [float(kiln.pieces), *kiln.between_C, float(bool(kiln.warnings))]
    return [head, *draws.theta.T.tolist(), *(one.astype(float).tolist() for one in columns)]


def _from_table(metal: Metal, table: list[list[float]], name: str) -> Kiln:
    pieces, low_C, high_C, unlike = table[0]
    rows = np.array(table[1:])
    native, pace, scatter, error, film = rows[-5:]
    draws = LawDraws(rows[:-5].T, native, pace[:, None], scatter, error, film.astype(np.intp))
    return Kiln(
        metal, draws, film_share(metal)[0], int(pieces), _made_from(name), (low_C, high_C),
        (UNLIKE,) if unlike else (),
    )  # fmt: skip


def _read_curve(metal: Metal, row: CouponRow, kept: Kept | None) -> CouponRow:
    """A piece with what its spectrum says, where that is what was read of it."""
    if row.reading is not None or row.thickness_nm is not None:
        return row
    nm, likelihood = oxide_likelihood(metal, row.text, kept=kept)
    share = likelihood / likelihood.sum()
    middle = float(nm @ share)
    sd = max(float(np.sqrt((nm - middle) ** 2 @ share)), float(nm[1] - nm[0]))
    words = f"spectrum, {middle:.3g} nm"
    return replace(row, text=words, thickness_nm=middle, sd=sd, curve=(nm, likelihood))


def _rows(run: LoggedRun, kiln: str) -> list[tuple[str | None, CouponRow]]:
    """Every look at a piece of a run that tells a colour or a thickness, with the metal's key; None
    where nobody says it."""
    found: list[tuple[str | None, CouponRow]] = []
    heat = heat_of(run.done)
    if heat is None:
        return []
    for piece in run.pieces:
        metal = piece.facts.get("metal", run.done.get("metal", piece.facts.get("on")))
        key = None if metal is None else find_metal(metal).key
        for one in piece.observations:
            name = f"run {run.run}, {piece.name}"
            if one.what == "seen":
                row = CouponRow(name, kiln, heat, one.text, parse_reading(one.text), None, None)
            elif one.what == "thickness":
                nm = parse_quantity(one.text, "length_nm", "`thickness`")
                row = CouponRow(name, kiln, heat, one.text, None, nm, None)
            elif one.what == "spectrum":
                row = CouponRow(name, kiln, heat, one.text, None, None, None)
            else:
                continue
            found.append((key, row))
    return found
