"""Grammars of tables: known numbers written in the forms of spreadsheets, loggers, instruments.

Each draw holds what is in the table, so that a reader has to give just that, or refuse. Columns
that nobody described are among them, and quantities in units that have a column of their own.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from random import Random
from typing import Any

import numpy as np

from oxhue.optics.files.spectrum import read_spectrum
from oxhue.optics.films.materials.user_table import read_user_table
from oxhue.optics.gauge.batch import read_readings
from oxhue.optics.oxidation.log_file import read_log
from oxhue.optics.tint.coupon_file import read_pieces

from .atoms import odd_number, seldom, spoilt, text
from .text_grammars import refused_or

_PLAIN_SHARE = 0.6


@dataclass(frozen=True)
class Table:
    """What stands in a file, and what it means: None where it may be read as anything.

    ``plain`` says that it must be read, ``wrong`` that it must be refused.
    """

    raw: bytes
    means: Any = None
    plain: bool = False
    wrong: bool = False


@dataclass(frozen=True)
class Form:
    """How a program saves a table."""

    mark: str
    comma: bool
    end: str
    code: str
    before: str

    @property
    def unclear(self) -> bool:
        """Whether decimal commas stand among commas: such a table may be refused."""
        return self.comma and self.mark == ","

    def write(self, head: Sequence[str] | None, rows: Sequence[Sequence[str]]) -> bytes:
        """The bytes of a table; cells that hold the mark stand in quotes."""
        lines = [*([] if head is None else [head]), *rows]
        cells = [[self._cell(one) for one in line] for line in lines]
        whole = self.before + self.end.join(self.mark.join(line) for line in cells) + self.end
        return whole.encode(self.code, "replace")

    def number(self, value: float, places: int) -> str:
        """A number as this program writes it."""
        shown = f"{value:.{places}f}"
        return shown.replace(".", ",") if self.comma else shown

    def _cell(self, one: str) -> str:
        quoted = one.strip() and (self.mark in one or '"' in one) and self.mark.strip()
        return '"' + one.replace('"', '""') + '"' if quoted else one


def draw_form(random: Random, marks: str = ",;\t") -> Form:
    """One way of saving; decimal commas where another mark separates, seldom where none does."""
    mark = random.choice(marks)
    comma = seldom(random, 0.4) if mark in ";\t" else mark == "," and seldom(random, 0.1)
    return Form(
        mark, comma, random.choice(("\n", "\r\n", "\n")),
        random.choice(("utf-8", "utf-8", "utf-8-sig", "utf-16")),
        random.choice(("", "", "# made: in the workshop\n")),
    )  # fmt: skip


def _spoil(random: Random, form: Form, head: list[str], rows: list[list[str]]) -> Table:
    """The table with a cell, a row or a few letters of it not as they were."""
    kind = random.randrange(5)
    row, cell = random.randrange(len(rows)), random.randrange(len(head))
    if kind == 0:
        rows[row][cell] = random.choice((odd_number(random), text(random), ""))
    elif kind == 1:
        del rows[row][cell:]
    elif kind == 2:
        head[cell] = random.choice((text(random), odd_number(random), head[0]))
    elif kind == 3:
        rows[row].insert(cell, odd_number(random))
    raw = form.write(head, rows)
    if kind == 4:
        broken = spoilt(random, raw.decode(form.code, "replace"), (";", "\t", ",", '"', "\r"))
        raw = broken.encode(form.code, "replace")
    return Table(raw)


def _read(read: Callable[[Path], Any], table: Table) -> Any:
    with tempfile.NamedTemporaryFile(suffix=".csv") as file:
        file.write(table.raw)
        file.flush()
        found = refused_or(partial(read, Path(file.name)))
    assert found is not None or not table.plain, "a plain table is refused"
    assert found is None or not table.wrong, "a table that says too much or too little is read"
    return found


def _same(found: Any, meant: Any, places: float = 1e-6) -> None:
    assert np.allclose(found, meant, rtol=1e-9, atol=places), f"read as {found}"


# -- readings -------------------------------------------------------------------------------

_STEMS = ("angle", "tilt", "view", "sd", "film", "kind", "note", "noise", "light", "seen", "date")
_ENDS = ("", "_deg", " (deg)", " [°]", "_nm", "_de", " %")
_READ = ("id", "how", "angle_deg", "l", "a", "b", "hex", "word")


def draw_readings(random: Random) -> Table:
    """Readings of pieces, with columns nobody described and colours stated twice among them."""
    form = draw_form(random)
    rows: list[list[str]] = [[] for _ in range(random.randint(1, 4))]
    means: list[dict[str, Any]] = [{} for _ in rows]
    head: list[str] = []
    ways = random.sample(("Lab", "hex", "word"), 2 if seldom(random, 0.15) else 1)
    for way in ways:
        head += ["L", "a", "b"] if way == "Lab" else [way]
        for row, meant in zip(rows, means, strict=True):
            if way == "Lab":
                lab = [round(random.uniform(*span), 2) for span in ((5, 95), (-60, 60), (-60, 60))]
                row += [form.number(one, 2) for one in lab]
                meant["lab"] = lab
            else:
                hexes = f"#{random.randrange(1 << 24):06x}"
                row.append(hexes if way == "hex" else random.choice(("purple", "blue", "gold")))
    if seldom(random, 0.4):
        head.append("angle_deg")
        for row, meant in zip(rows, means, strict=True):
            meant["angle"] = random.randint(0, 80)
            row.append(str(meant["angle"]))
    wrong = len(ways) > 1
    if seldom(random, 0.3):
        name = random.choice(_STEMS) + random.choice(_ENDS)
        head.append(name)
        wrong |= name.casefold() not in _READ
        for row, meant in zip(rows, means, strict=True):
            row.append(str(random.randint(0, 70)))
            meant["angle"] = float(row[-1])
    order = random.sample(range(len(head)), len(head))
    head, rows = [head[i] for i in order], [[row[i] for i in order] for row in rows]
    wrong |= len({one.casefold() for one in head}) < len(head)
    if seldom(random, 1 - _PLAIN_SHARE):
        return _spoil(random, form, head, rows)
    # A first cell that begins with a hex value's sign is no remark.
    return Table(form.write(head, rows), means, plain=not wrong and not form.unclear, wrong=wrong)


def check_readings(table: Table) -> bool:
    """Every reading as it was written."""
    found = _read(read_readings, table)
    for (_, reading), meant in zip(found or (), table.means or (), strict=False):
        if "lab" in meant:
            _same(reading.points_lab[0], meant["lab"])
        if "angle" in meant:
            doubts = reading.doubts
            assert doubts.angle_low_deg <= meant["angle"] <= doubts.angle_high_deg
            assert doubts.angle_high_deg - doubts.angle_low_deg < 12.0, "its angle is left aside"
    assert found is None or table.means is None or len(found) == len(table.means)
    return found is not None


# -- test pieces ----------------------------------------------------------------------------

_TO_C: dict[str, Callable[[float], float]] = {
    "temperature_C": lambda c: c, "temperature_K": lambda c: c + 273.15,
    "temperature_F": lambda c: 1.8 * c + 32,
}  # fmt: skip
_TO_S = {"time_s": 1.0, "time_min": 60.0, "time_h": 3600.0}


def _outcome(random: Random, way: str, form: Form) -> tuple[str, Any]:
    if way == "thickness_nm":
        nm = random.randint(10, 200)
        return str(nm), float(nm)
    if way == "hex":
        hexes = f"#{random.randrange(1 << 24):06x}"
        return hexes, hexes
    if way == "Lab":
        lab = [random.randint(5, 95), random.randint(-60, 60), random.randint(-60, 60)]
        return ",".join(map(str, lab)) if form.mark == "," else " ".join(map(str, lab)), lab
    return random.choice(("purple", "blue", "gold")), None


def draw_pieces(random: Random) -> Table:
    """Test pieces of one metal, their heats in any unit that has a column, or spoilt."""
    form = draw_form(random)
    hot, long = random.choice(list(_TO_C)), random.choice(list(_TO_S))
    way = random.choice(("thickness_nm", "hex", "Lab", "word"))
    head = ["id", "metal", hot, long, way]
    means = []
    rows = []
    for i in range(random.randint(1, 4)):
        c, s = random.randint(200, 600), 36 * random.randint(10, 200)
        shown, meant = _outcome(random, way, form)
        means.append((float(c), float(s), meant))
        rows.append([f"p{i}", "Ti", form.number(_TO_C[hot](c), 2),
                     form.number(s / _TO_S[long], 2), shown])  # fmt: skip
    wrong = False
    if seldom(random, 0.15):  # the other unit of the same, or a column nobody knows
        stem, end = random.choice((("temperature", "_R"), ("time", "_days"), ("temp", "_F")))
        head[2 if "temp" in stem else 3] = stem + end
        wrong = True
    order = random.sample(range(5), 5)
    head, rows = [head[i] for i in order], [[row[i] for i in order] for row in rows]
    if seldom(random, 1 - _PLAIN_SHARE):
        return _spoil(random, form, head, rows)
    plain = not wrong and not form.unclear
    return Table(form.write(head, rows), means, plain=plain, wrong=wrong)


def check_pieces(table: Table) -> bool:
    """Every piece's heat and outcome as they were written."""
    found = _read(read_pieces, table)
    if found is not None and table.means is not None:
        assert len(found[1]) == len(table.means), f"{len(found[1])} rows are read"
        for piece, (c, s, meant) in zip(found[1], table.means, strict=True):
            _same(piece.heat.temperature_C.max(), c, 0.006)
            _same(piece.heat.time_s[-1], s, 20.0)
            if isinstance(meant, float):
                _same(piece.thickness_nm, meant)
            elif isinstance(meant, list):
                _same(piece.reading.points_lab[0], meant)
            elif meant is not None:
                assert piece.text == meant
    return found is not None


# -- logs of a thermocouple -----------------------------------------------------------------

_TIME_HEADS = {"time_s": 1.0, "time [min]": 60.0, "seconds": 1.0, "t (s)": 1.0, "time_h": 3600.0,
               "min": 60.0}  # fmt: skip
_HEAT_HEADS = {"temperature_C": "C", "temp (°F)": "F", "T [K]": "K", "temp_F": "F", "°C": "C",
               "Channel 1 (°C)": "C"}  # fmt: skip
_MORE_HEADS = ("battery", "event", "setpoint", "ch2", "note")


def draw_heat_log(random: Random) -> Table:
    """A log of a heat as a logger writes it, with more columns or lines above, or spoilt."""
    form = draw_form(random, ",;\t")
    count = random.randint(3, 12)
    clock, (head_c, unit) = (
        random.choice(list(_TIME_HEADS)),
        random.choice(list(_HEAT_HEADS.items())),
    )
    step = random.choice((9.0, 18.0, 36.0, 90.0))
    seconds = [i * step for i in range(count)]
    heat = [round(20 + 430 * i / count + random.uniform(0, 9), 1) for i in range(count)]
    shown = [_TO_C[f"temperature_{unit}"](c) for c in heat]
    head = [clock, head_c]
    rows = [[form.number(s / _TIME_HEADS[clock], 4), form.number(c, 2)]
            for s, c in zip(seconds, shown, strict=True)]  # fmt: skip
    for name in random.sample(_MORE_HEADS, random.choice((0, 0, 1, 2))):
        head.append(name)
        for row in rows:
            row.append(form.number(random.uniform(3, 5), 1) if seldom(random, 0.8) else "")
    if seldom(random, 0.3):
        head, rows = head[::-1], [row[::-1] for row in rows]
    if seldom(random, 1 - _PLAIN_SHARE):
        return _spoil(random, form, head, rows)
    raw = form.write(head, rows)
    if form.unclear:  # as loggers do it: nothing says where a column ends
        raw = form.write(head, [[]]) + form.end.join(",".join(row) for row in rows).encode(
            form.code
        )
        if form.code != "utf-8":
            return Table(raw)
    return Table(raw, (seconds, heat), plain=not form.unclear)


def check_heat_log(table: Table) -> bool:
    """The heat as it was written."""
    found = _read(read_log, table)
    if found is not None and table.means is not None:
        seconds, heat = table.means
        _same(found.time_s, seconds, 0.2)
        _same(found.temperature_C, heat, 0.006)
    return found is not None


# -- spectra --------------------------------------------------------------------------------

_NM_HEADS = {"wavelength_nm": 1.0, "nm": 1.0, "Wavelength (nm)": 1.0, "lambda (um)": 1e-3,
             "wavelength_um": 1e-3}  # fmt: skip
_R_HEADS = {"R": ("reflectance", None), "R (%)": ("reflectance", 100.0), "%R": ("reflectance", 100),
            "T": ("transmittance", None), "Transmittance (%)": ("transmittance", 100.0),
            "%T": ("transmittance", 100.0)}  # fmt: skip
_OTHER_SCALES = ("A", "Abs", "OD1", "A (%)", "OD", "Absorbance", "-log(R)", "absorbance_1")


def draw_spectrum(random: Random) -> Table:
    """A spectrum of an instrument: absorbance, thousands, scans one below the other among them."""
    form = draw_form(random, ",;\t")
    nm_head = random.choice(list(_NM_HEADS))
    factor = _NM_HEADS[nm_head]
    start, step, count = random.randint(380, 600), random.choice((2, 5, 10)), random.randint(8, 60)
    nm = [float(start + i * step) for i in range(count)]
    share = [round(0.4 + 0.3 * np.sin(i / 5 + random.random()), 4) for i in range(count)]
    head, (kind, top) = random.choice(list(_R_HEADS.items()))
    wrong = False
    if seldom(random, 0.15):
        head, wrong = random.choice(_OTHER_SCALES), True
    top = top or random.choice((1.0, 100.0))
    rows = [[form.number(x * factor, 5 if factor < 1 else 1), form.number(v * top, 5)]
            for x, v in zip(nm, share, strict=True)]  # fmt: skip
    if seldom(random, 0.1):  # a second scan on another grid, below the first
        shifted = [[form.number((x + 1) * factor, 5 if factor < 1 else 1), row[1]]
                   for x, row in zip(nm, rows, strict=True)]  # fmt: skip
        rows, wrong = rows + shifted, True
    elif seldom(random, 0.3):
        rows.reverse()
    if seldom(random, 1 - _PLAIN_SHARE):
        return _spoil(random, form, [nm_head, head], rows)
    return Table(
        form.write([nm_head, head], rows), (kind, nm, share), not wrong and not form.unclear, wrong
    )


def check_spectrum(table: Table) -> bool:
    """The spectrum as it was written; with its kind stated too."""
    found = _read(read_spectrum, table)
    stated = _read(partial(read_spectrum, kind="reflectance"), Table(table.raw, wrong=table.wrong))
    assert stated is None or np.isfinite(stated.value).all()
    if found is not None and table.means is not None:
        kind, nm, share = table.means
        assert found.kind == kind
        _same(found.wavelength_nm, nm)
        _same(found.value, share)
    return found is not None


# -- optical constants ----------------------------------------------------------------------


def draw_constants(random: Random) -> Table:
    """Optical constants in a table of one's own, with n − ik among them, or spoilt."""
    form = draw_form(random, ",;\t")
    nm_head = random.choice(("wavelength_nm", "wavelength_um", "nm"))
    factor = 1e-3 if nm_head.endswith("um") else 1.0
    nm = [400.0 + 20 * i for i in range(random.randint(5, 20))]
    n = [round(1.4 + random.random(), 4) for _ in nm]
    negative = seldom(random, 0.15)
    k = [round((-1 if negative else 1) * (0.01 + random.random()), 4) for _ in nm]
    rows = [[form.number(x * factor, 4), form.number(a, 4), form.number(b, 4)]
            for x, a, b in zip(nm, n, k, strict=True)]  # fmt: skip
    if seldom(random, 1 - _PLAIN_SHARE):
        return _spoil(random, form, [nm_head, "n", "k"], rows)
    return Table(
        form.write([nm_head, "n", "k"], rows),
        (nm, n, k),
        not negative and not form.unclear,
        negative,
    )


def check_constants(table: Table) -> bool:
    """The constants as they were written, absorbing and never amplifying."""
    found = _read(read_user_table, table)
    if found is not None and table.means is not None:
        nm, n, k = table.means
        _same(found.nk(np.array(nm)), np.array(n) + 1j * np.array(k))
    return found is not None
