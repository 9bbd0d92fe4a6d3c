"""Runs of a kiln or flame as test pieces: the same learner as for a file of them."""

from __future__ import annotations

from collections.abc import Sequence

from ..errors import InputError
from ..inference.reading import parse_reading
from ..oxidation.metals import find_metal
from ..oxidation.schedule import as_schedule
from ..tint.calibrate import learn
from ..tint.coupon_file import CouponRow
from ..tint.kiln import Kiln, shipped_kiln
from ..tint.result import Calibration
from ..units import parse_quantity
from .records import LoggedRun


def learn_kiln(
    runs: Sequence[LoggedRun], name: str, *, metal: str | None = None, seed: int = 1
) -> Calibration:
    """The growth law of a kiln from its runs in a log.

    Parameters
    ----------
    runs : sequence of LoggedRun
        Of one kiln.
    name : str
    metal : str, optional
        Which metal's pieces; that of the newest by default.
    seed : int

    Raises
    ------
    InputError
        If no piece says its heat, its metal and what came out.
    """
    rows = [(key, row, run.run) for run in runs for key, row in _rows(run, name)]
    chosen = find_metal(metal).key if metal is not None else (rows[-1][0] if rows else "")
    own = [(row, run) for key, row, run in rows if key == chosen]
    if not own:
        of = f" of {metal}" if metal is not None else ""
        raise InputError(
            f"the log holds no piece{of} from {name!r} with its heat, its time and a colour or "
            f"thickness"
        )
    heats = list(dict.fromkeys(run for _, run in own))
    return learn(
        find_metal(chosen), [row for row, _ in own], made_from=f"the log of {name}", seed=seed,
        places=[heats.index(run) for _, run in own],
    )  # fmt: skip


def kiln_of(runs: Sequence[LoggedRun], name: str, metal: str | None) -> Kiln:
    """A kiln as its runs teach it; the shipped one where they hold no piece of the metal yet."""
    key = None if metal is None else find_metal(metal).key
    if key is not None and not any(of == key for run in runs for of, _ in _rows(run, name)):
        return shipped_kiln(find_metal(key))
    return learn_kiln(runs, name, metal=metal).fitted


def _rows(run: LoggedRun, kiln: str) -> list[tuple[str, CouponRow]]:
    """Every look at a piece of a run that tells a colour or a thickness."""
    found = []
    if not {"at", "time"} <= set(run.done):
        return []
    heat = as_schedule(run.done["at"], run.done["time"])
    for piece in run.pieces:
        metal = piece.facts.get("metal", run.done.get("metal", piece.facts.get("on")))
        if metal is None:
            continue
        for one in piece.observations:
            name = f"run {run.run}, {piece.name}"
            if one.what == "seen":
                row = CouponRow(name, kiln, heat, one.text, parse_reading(one.text), None, None)
            elif one.what == "thickness":
                nm = parse_quantity(one.text, "length_nm", "`thickness`")
                row = CouponRow(name, kiln, heat, one.text, None, nm, None)
            else:
                continue
            found.append((find_metal(metal).key, row))
    return found
