"""Inputs by their structure: a grammar for each, drawn by hypothesis, which shrinks what fails.

A reader may return, or raise ``InputError`` with one sentence; anything else is a bug of ours. What
a grammar draws is right but for one part in a few, so that most of it comes far into the reader.
``python -m benchmarks.fuzz.grammars notations=1000000 goals=100000 tables=100000`` draws so many of
each and adds a row for each to ``benchmarks/fuzz.md``.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import cache, partial
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from oxhue.optics.errors import InputError

Draws = st.SearchStrategy[Any]

_TEXT = st.text(max_size=12)
_DIGITS = st.sampled_from(
    ["0", "1", "45", "0.5", "1e3", "1e308", "1e309", "-1", "+2", ".5", "5.", "1,5", "1.500,5", "٤٥",
     "1_000", "nan", "inf", "9" * 400, "1e-320", "0x10", "½", "1e", "--3"]
)  # fmt: skip
_NUMBER = st.one_of(_DIGITS, st.floats().map(repr), st.integers().map(str))
_UNITS = ("nm", "um", "µm", "Å", "mm", "m", "", " nm", "C", "°C", "K", "F", "s", "min", "h", "deg",
          "°", "V", "ohm", "Ω", "mbar", "l/s", "%", "nm/s", "cm2", "NM", "nM", "n m")  # fmt: skip
_UNIT = st.one_of(st.sampled_from(_UNITS), _TEXT)
QUANTITY = st.builds("{}{}".format, _NUMBER, _UNIT)
_NAMES = ("TiO2", "Ti", "SiO2", "Al", "glass", "Si", "air", "TiO2(siefke2016)", "TiO2(rutile)",
          "Zz", '"own.csv"', '"$\\frac$.csv"', '"a\nb"', '"', "n=1.5", "n=2+0.1i", "n=2-0.1i",
          "n=0", "n=1e400", "Ti:TiO2 30%", "TiO2->Ti", "Ti:TiO2 130%", "->", "Тi")  # fmt: skip
_MEDIUM = st.one_of(st.sampled_from(_NAMES), _TEXT)
_EXTENT = st.one_of(
    QUANTITY, st.builds("{}..{}".format, _NUMBER, QUANTITY), st.just("quarter@550nm"),
    st.builds("{}..{} step {}".format, _NUMBER, QUANTITY, QUANTITY),
    st.builds("{},{}".format, _NUMBER, QUANTITY), _TEXT,
)  # fmt: skip
_LAYER = st.builds("{} {}".format, _MEDIUM, _EXTENT)
_LAYERS = st.recursive(
    _LAYER,
    lambda inner: st.one_of(
        st.builds("{} x ({})".format, _NUMBER, inner), st.builds("{} / {}".format, inner, inner)
    ),
    max_leaves=6,
)
NOTATION = st.one_of(
    st.builds("{} / {}".format, _LAYERS, _MEDIUM), _LAYERS, _MEDIUM,
    st.builds("{} / {} {} | {}".format, _LAYERS, _MEDIUM, QUANTITY, _LAYERS),
    st.builds("{}{}{}".format, _LAYERS, _TEXT, _LAYERS),
)  # fmt: skip
_HEAD = st.sampled_from(["R", "T", "A", "OD", "emittance", "colour", "Rs", "Tp", "Rlum",
                         "luminous R", "r", "RT", "", "colour #6a3fa0",
                         "color 48,20,-35"])  # fmt: skip
_RELATION = st.sampled_from([">", "<", "=", ">=", "<=", "≥", "≤", "=>", "", " > ", "!="])
_WHERE = st.lists(
    st.one_of(
        st.builds("{}..{}".format, _NUMBER, QUANTITY), QUANTITY,
        st.builds("at {}deg".format, _NUMBER), st.sampled_from(["s", "p", "luminous", "from back",
        "from", "mean", "solar", "x2", "x 0", "through", "within 2%", "within"]), _TEXT,
    ),
    max_size=4,
).map(" ".join)  # fmt: skip
GOAL = st.builds("{}{}{} {}".format, _HEAD, _RELATION, QUANTITY, _WHERE)
READING = st.one_of(
    st.sampled_from(["purple", "blue", "#6a3fa0", "#fff", "48,20,-35", "48 20 -35", "angle=60"]),
    st.builds("{} angle={}".format, _TEXT, QUANTITY),
    st.builds("{},{},{}".format, _NUMBER, _NUMBER, _NUMBER), st.builds("#{}".format, _TEXT), _TEXT,
)  # fmt: skip

_COLUMNS = ("id", "hex", "L", "a", "b", "word", "how", "angle_deg", "metal", "temperature_C", "sd",
            "time_min", "temperature_F", "time_h", "volts", "Lab", "thickness_nm", "profile",
            "kiln", "time_s", "C", "wavelength_nm", "nm", "um", "R", "T", "R (%)", "n", "k",
            "A", "")  # fmt: skip
_CELL = st.one_of(_NUMBER, READING, _TEXT, st.sampled_from(["Ti", "steel", "", '"', "x\n", "440"]))


@st.composite
def tables(draw: st.DrawFn) -> bytes:
    """A table with a head, in one of the forms that spreadsheets and instruments save."""
    mark = draw(st.sampled_from([",", ";", "\t", " ", "|"]))
    width = draw(st.integers(1, 5))
    head = draw(st.lists(st.sampled_from(_COLUMNS), min_size=width, max_size=width))
    rows = draw(st.lists(st.lists(_CELL, min_size=1, max_size=width + 1), max_size=5))
    if draw(st.booleans()):  # mostly as wide as its head, and rising
        rows = [
            [str(60 * i), *row[1:width], *["1"] * (width - len(row))] for i, row in enumerate(rows)
        ]
    end = draw(st.sampled_from(["\n", "\r\n", "\r", "\n\n"]))
    text = draw(st.sampled_from(["", "# made: here\n", "sep=;\n"])) + end.join(
        mark.join(row) for row in [head, *rows]
    )
    code = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]))
    return text.encode(code, "replace")


_ODD = st.sampled_from([0, -1, 1e9, 10**400, -(10**400), True, "1", None, float("nan")])
_JSON = st.recursive(
    st.one_of(
        st.none(), st.booleans(), st.integers(), st.floats(), _TEXT,
        st.sampled_from([10**400, -(10**400), 10**29, "x" * 2_500]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(_TEXT, inner, max_size=3)
    ),
    max_leaves=5,
)  # fmt: skip


@cache
def _saved() -> tuple[dict[str, Any], dict[str, Any]]:
    from dataclasses import replace

    from oxhue.optics.oxidation.metals import find_metal
    from oxhue.optics.tint.bath import format_bath, shipped_bath
    from oxhue.optics.tint.kiln import format_kiln, shipped_kiln

    known: dict[str, Any] = {"pieces": 5, "made_from": "pieces.csv"}
    kiln = replace(shipped_kiln(find_metal("Ti"), count=20), between_C=(400.0, 500.0), **known)
    bath = replace(shipped_bath(find_metal("Ti"), count=20), between_V=(20.0, 90.0), **known)
    return json.loads(format_kiln(kiln)), json.loads(format_bath(bath))


@st.composite
def saved(draw: st.DrawFn) -> str:
    """A saved kiln or bath with one field replaced, or one cell of its draws."""
    data = dict(_saved()[draw(st.integers(0, 1))])
    name = draw(st.sampled_from([*data, "hue"]))
    if name == "draws" and draw(st.booleans()):
        data["draws"] = [[*row] for row in data["draws"]]
        row = draw(st.integers(0, 19))
        data["draws"][row][draw(st.integers(0, len(data["columns"]) - 1))] = draw(
            st.one_of(_ODD, _JSON)
        )
    elif name.startswith("between"):
        data[name] = draw(st.lists(_ODD, min_size=2, max_size=2))
    else:
        data[name] = draw(_JSON)
    return json.dumps(data)


_JAR_NAMES = ("volume", "pumping", "leak", "plastic", "rise", "walls", "outgassing", "ultimate",
              "tube", "residue", "gauge", "base_pressure", "hue")  # fmt: skip
_TOML = st.one_of(
    QUANTITY.map(json.dumps), _NUMBER, st.sampled_from(["true", "[]", '["3l"]', "{}", "1979-05-27",
    '"""3l"""', "0x1f", "nan", "inf", "-1"]),
)  # fmt: skip
_JAR_LINE = st.builds("{} = {}".format, st.sampled_from(_JAR_NAMES), _TOML)
_BEYOND = st.builds("{} = {}".format, st.sampled_from(_JAR_NAMES), st.just("9" * 400))
JAR = st.one_of(_JAR_LINE, _BEYOND, st.lists(_JAR_LINE, max_size=5).map("\n".join))


@st.composite
def log_lines(draw: st.DrawFn) -> str:
    """Lines of an exported log, one of whose values was replaced."""
    setup = {"setup": "kiln", "setup_version": 1, "setup_kind": "kiln", "facts": {}}
    run = {"run": 1, "setup": "kiln", "setup_version": 1, "setup_kind": "kiln", "plan": {},
           "at": "2024-05-01T10:00:00", "planned": "", "done": {"metal": "Ti", "at": "440C"},
           "remarks": "", "pieces": [{"name": "a", "facts": {}, "observations": []}]}  # fmt: skip
    row = draw(st.sampled_from([setup, run]))
    row[draw(st.sampled_from([*row]))] = draw(_JSON)
    return "\n".join(json.dumps(one) for one in (setup, run))


def _read_table(raw: bytes) -> None:
    """Every reader of tables, one after the other."""
    from oxhue.optics.files.spectrum import read_spectrum
    from oxhue.optics.films.materials.user_table import read_user_table
    from oxhue.optics.gauge.batch import read_readings
    from oxhue.optics.oxidation.log_file import read_log
    from oxhue.optics.tint.coupon_file import read_pieces

    readers: tuple[Callable[[Path], object], ...] = (
        read_user_table,
        read_spectrum,
        read_readings,
        read_log,
        read_pieces,
    )
    with tempfile.NamedTemporaryFile(suffix=".csv") as file:
        file.write(raw)
        file.flush()
        for read in readers:
            _try(partial(read, Path(file.name)))


def _try(read: Callable[[], object]) -> None:
    try:
        read()
    except InputError as error:
        sentence = str(error)
        assert len(sentence) > 8, f"no sentence: {sentence!r}"
        assert len(sentence) < 2_000, f"no one sentence: {sentence[:200]!r}"


def _read_notation(text: str) -> None:
    from oxhue.optics.films.notation import parse_stack
    from oxhue.optics.films.written import format_stack

    def read() -> None:
        written = format_stack(parse_stack(text))
        assert format_stack(parse_stack(written)) == written, f"{text!r} reads back otherwise"

    _try(read)


def _read_goal(text: str) -> None:
    from oxhue.optics.design.goal_reader import parse_goal

    def read() -> None:
        goal = parse_goal(text)
        assert parse_goal(str(goal)) == goal, f"{text!r} reads back otherwise"

    _try(read)


def _read_units(text: str) -> None:
    from oxhue.optics import units

    for dimension in units._UNITS:
        _try(partial(units.parse_quantity, text, dimension, "it"))
        _try(partial(units.parse_range, text, dimension, "it"))


def _read_reading(text: str) -> None:
    from oxhue.optics.assay.inputs import parse_meter
    from oxhue.optics.inference.reading import parse_reading

    _try(lambda: parse_reading(text))
    _try(lambda: parse_meter(text))


def _read_saved(text: str) -> None:
    from oxhue.optics.tint.bath import parse_bath
    from oxhue.optics.tint.kiln import parse_kiln

    for parse in (parse_kiln, parse_bath):
        _try(partial(parse, text, "saved.json"))


def _read_jar(text: str) -> None:
    from oxhue.optics.deposition.jar import read_jar

    with tempfile.NamedTemporaryFile(suffix=".toml", mode="w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        _try(lambda: read_jar(Path(file.name)))


def _read_log(text: str) -> None:
    from oxhue.optics.log.exchange import read_rows

    with tempfile.NamedTemporaryFile(suffix=".jsonl", mode="w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        _try(lambda: read_rows(Path(file.name)))


@dataclass(frozen=True)
class Grammar:
    """What is drawn, and the readers it goes through."""

    draws: Draws
    read: Callable[[Any], None]


GRAMMARS = {
    "notations": Grammar(NOTATION, _read_notation),
    "goals": Grammar(GOAL, _read_goal),
    "units": Grammar(st.one_of(QUANTITY, _EXTENT), _read_units),
    "readings": Grammar(READING, _read_reading),
    "tables": Grammar(tables(), _read_table),
    "saved": Grammar(saved(), _read_saved),
    "jars": Grammar(JAR, _read_jar),
    "logs": Grammar(log_lines(), _read_log),
}


def draw_many(name: str, count: int, start: int = 1) -> None:
    """Draw so many of a grammar; what fails is shrunk and raised."""
    grammar = GRAMMARS[name]

    @seed(start)
    @settings(
        max_examples=count, deadline=None, database=None,
        phases=(Phase.generate, Phase.shrink), suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(grammar.draws)
    def read(drawn: Any) -> None:
        grammar.read(drawn)

    read()


def main() -> None:
    """Draw what is asked for in parts of a thousand, so that memory stays small; record it."""
    record = Path(__file__).parents[1] / "fuzz.md"
    for asked in sys.argv[1:]:
        name, _, count = asked.partition("=")
        begun, done, part = time.process_time(), 0, 2_000
        while done < int(count):
            draw_many(name, min(part, int(count) - done), start=1 + done)
            done += part
        row = f"| {date.today()} | {name} | {int(count):,} | {time.process_time() - begun:.0f} s |"
        print(row, flush=True)
        with open(record, "a", encoding="utf-8") as stream:
            stream.write(row + "\n")


if __name__ == "__main__":
    main()
