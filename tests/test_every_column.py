"""Of every table that is read: a column counts, is said to be left aside, or is refused."""

import csv
import json

import numpy as np
import pytest

from oxhue.optics.deposition.jar import as_jar
from oxhue.optics.errors import InputError
from oxhue.optics.files.spectrum import read_spectrum
from oxhue.optics.films.materials.user_table import read_user_table
from oxhue.optics.gauge import batch
from oxhue.optics.gauge.batch import as_rows, read_readings
from oxhue.optics.log.exchange import read_rows, write_rows
from oxhue.optics.oxidation.log_file import read_log
from oxhue.optics.tint import coupon_file
from oxhue.optics.tint.coupon_file import read_pieces

NM = list(range(400, 700, 20))
HEAT = "time_s,temperature_C\n0,20\n600,{}\n1200,{}\n"


def readings(path):
    return [(name, one.points_lab.tolist(), one.doubts) for name, one in read_readings(path)]


def pieces(path):
    metal, rows = read_pieces(path)
    return metal.key, [{name: _plain(value) for name, value in vars(row).items()} for row in rows]


def _plain(value):
    if hasattr(value, "time_s"):
        return value.time_s.tolist(), value.temperature_C.tolist()
    return (value.points_lab.tolist(), value.doubts) if hasattr(value, "doubts") else value


def heat(path):
    found = read_log(path)
    return found.time_s.tolist(), found.temperature_C.tolist(), found.notes


def spectrum(path):
    found = read_spectrum(path)
    return found.wavelength_nm.tolist(), found.value.tolist(), found.kind, found.notes


def constants(path):
    return read_user_table(path).nk(np.array(NM[1:-1], dtype=float)).tolist()


SWAP = {"hex": "#6a3fa0", "word": "blue", "Lab": "40 10 -20", "thickness_nm": "40"}
TABLES = {
    "readings by L,a,b": (readings, {
        "id": ("dial", "hand"), "L": ("40", "60"), "a": ("10", "-20"), "b": ("-20", "30"),
        "how": ("instrument", "photo"), "angle_deg": ("5", "60"),
    }),
    "readings by hex": (readings, {"id": ("dial", "hand"), "hex": ("#6a3fa0", "#50a1c8")}),
    "readings by word": (readings, {"id": ("dial", "hand"), "word": ("purple", "blue")}),
    **{f"pieces by {way}, {hot}, {long}": (pieces, {
        "id": ("a", "b"), "kiln": ("small", "large"), "metal": ("Ti", "steel"),
        hot: ("600", "700"), long: ("20", "40"), way: (SWAP[way], {
            "hex": "#50a1c8", "word": "gold", "Lab": "60 10 -20", "thickness_nm": "50"}[way]),
        "sd": ("3", "9"), **({} if way == "thickness_nm" else {"how": ("card", "photo")}),
    }) for way, hot, long in (
        ("hex", "temperature_C", "time_min"), ("word", "temperature_F", "time_s"),
        ("Lab", "temperature_K", "time_h"), ("thickness_nm", "temperature_C", "time_min"))},
    "anodised pieces": (pieces, {
        "id": ("a", "b"), "metal": ("Ti", "Nb"), "volts": ("20", "40"),
        "hex": ("#6a3fa0", "#50a1c8"),
    }),
    "pieces by a log": (pieces, {
        "metal": ("Ti", "steel"), "profile": ("low.csv", "high.csv"), "hex": ("#6a3fa0", "#50a1c8"),
    }),
    "heats": (heat, {"time_s": (range(0, 900, 60), range(0, 1800, 120)),
                     "temperature_C": (range(20, 470, 30), range(20, 620, 40))}),
    "spectra": (spectrum, {"nm": (NM, [one + 1 for one in NM]),
                           "R": ([one / 2000 for one in NM], [one / 3000 for one in NM])}),
    "constants": (constants, {"wavelength_nm": (NM, [one + 40 for one in NM]),
                              "n": ([one / 200 for one in NM], [2.4] * len(NM)),
                              "k": ([0.1] * len(NM), [0.2] * len(NM))}),
}  # fmt: skip
"""Each table by its reader and, for each column, what stands in it and something else."""

OTHERS = ("angle", "view", "sd_nm", "film", "remark", "battery", "noise_de", "light")
TOLD = {"heats", "spectra"}
"""Tables of instruments: what else their programs write is left aside, and that is said."""


def written(folder, columns):
    """A file of the columns: a row for each of the cells."""
    for name, top in (("low.csv", 400), ("high.csv", 500)):
        (folder / name).write_text(HEAT.format(top, top), encoding="utf-8")
    cells = [[one] if isinstance(one, str) else [*one] for one in columns.values()]
    path = folder / "table.csv"
    lines = [",".join(columns), *(",".join(map(str, row)) for row in zip(*cells, strict=True))]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def read(reader, path):
    """What is read, or that it is refused."""
    try:
        return reader(path)
    except InputError:
        return "refused"


@pytest.mark.parametrize("table", TABLES)
def test_every_column_that_is_read_counts_or_is_refused(table, tmp_path):
    reader, columns = TABLES[table]
    usual = {name: said for name, (said, _) in columns.items()}
    before = read(reader, written(tmp_path, usual))
    if before == "refused":  # a thickness was not read off a card, for one
        before = reader(written(tmp_path, usual))
    for name, (_, other) in columns.items():
        assert read(reader, written(tmp_path, usual | {name: other})) != before, name


@pytest.mark.parametrize("table", TABLES)
def test_a_column_that_nobody_knows_is_refused_or_said_to_be_left_aside(table, tmp_path):
    reader, columns = TABLES[table]
    usual = {name: said for name, (said, _) in columns.items()}
    before = reader(written(tmp_path, usual))
    for name in OTHERS:
        more = "3" if isinstance(next(iter(usual.values())), str) else [3.5] * len(NM)
        found = read(reader, written(tmp_path, usual | {name: more}))
        if table in TOLD:
            assert any("taken" in note for note in found[-1]), name
            assert found[:-1] == before[:-1]
        else:
            assert found == "refused", name


def test_every_column_a_reader_knows_is_tried_here():
    tried = {name for _, columns in TABLES.values() for name in columns}
    assert set(coupon_file.COLUMNS) <= tried
    of_readings = {one.casefold() for one in tried}
    assert {*batch._OTHER_COLUMNS, *set().union(*batch._COLOUR_COLUMNS)} <= of_readings


@pytest.mark.parametrize(
    ("name", "value"), [("angle", 60), ("sd", 3), ("word", "blue"), ("film", "Ti")]
)
def test_rows_of_a_program_are_no_looser(name, value):
    assert len(as_rows([{"hex": "#6a3fa0"}])) == 1
    with pytest.raises(InputError, match=r"unknown|more than once"):
        as_rows([{"hex": "#6a3fa0", name: value}])


JAR = {
    "volume": ('"3l"', '"4l"'), "leak": ('"1e-3mbar.l/s"', '"2e-3mbar.l/s"'),
    "pumping": ('"2l/s"', '"3l/s"'), "plastic": ("false", "true"),
    "base_pressure": ('"1e-3mbar"', '"2e-3mbar"'), "gauge": ('"pirani"', '"ion"'),
}  # fmt: skip


def test_every_line_of_a_jar_counts_and_no_other_is_taken(tmp_path):
    path = tmp_path / "jar.toml"

    def jar(lines):
        path.write_text("".join(f"{name} = {value}\n" for name, value in lines.items()), "utf-8")
        return read(as_jar, path)

    usual = {name: said for name, (said, _) in JAR.items() if name != "base_pressure"}
    before = jar(usual)
    assert before != "refused"
    for name, (_, other) in JAR.items():
        assert jar(usual | {name: other}) != before, name
    for name in ("presure", "angle", "film"):
        assert jar(usual | {name: '"3l"'}) == "refused"


SETUP = {"setup": "jar", "setup_version": 1, "setup_kind": "chamber", "facts": {"note": "old"}}
RUN = {
    "run": 1, "setup": "jar", "setup_version": 1, "setup_kind": "chamber",
    "at": "2026-03-01T11:00:00+00:00", "planned": "Ti 40nm / glass", "done": {"metal": "Ti"},
    "remarks": "old wire", "plan": {"metal": "Al"},
    "pieces": [{"name": "dial", "facts": {"on": "glass"},
                "observations": [{"what": "seen", "text": "gold"}]}],
}  # fmt: skip
OTHER = {
    "run": 2, "setup": "bell", "setup_version": 2, "setup_kind": "kiln",
    "at": "2026-03-02T11:00:00+00:00", "planned": "Al 40nm / glass", "done": {"metal": "Al"},
    "remarks": "new wire", "plan": {"metal": "Ti"}, "facts": {"note": "new"}, "pieces": [],
}  # fmt: skip


def log_of(folder, *rows):
    path = folder / "log.jsonl"
    path.write_text("".join(json.dumps(row) + "\n" for row in rows), encoding="utf-8")
    return read(read_rows, path)


def test_every_key_of_an_exported_log_counts_and_no_other_is_taken(tmp_path):
    whole = shown(log_of(tmp_path, SETUP, RUN))
    for row, at in ((SETUP, 0), (RUN, 1)):
        for name in row:
            rows = [SETUP, RUN]
            rows[at] = row | {name: OTHER[name]}
            assert shown(log_of(tmp_path, *rows)) != whole, name
            rows[at] = row | {f"{name}s": row[name]}
            assert log_of(tmp_path, *rows) == "refused", name
    piece = RUN["pieces"][0]
    look = piece["observations"][0] | {"angle": 60}
    for odd in (piece | {"remark": "x"}, piece | {"observations": [look]}):
        assert log_of(tmp_path, SETUP, RUN | {"pieces": [odd]}) == "refused"


def shown(rows):
    return rows if rows == "refused" else [one.to_dict() for one in (*rows.setups, *rows.runs)]


def test_what_an_exported_log_says_twice_is_refused(tmp_path):
    path = tmp_path / "log.jsonl"
    line = json.dumps(RUN)
    for said in (line.replace('"run": 1', '"run": 1, "run": 2'),
                 line.replace('"on": "glass"', '"on": "glass", "on": "Si"')):  # fmt: skip
        assert said != line
        path.write_text(f"{json.dumps(SETUP)}\n{said}\n", encoding="utf-8")
        assert read(read_rows, path) == "refused"


def test_every_cell_of_an_exported_table_counts_or_is_refused(tmp_path):
    whole = log_of(tmp_path, SETUP, RUN)
    path = tmp_path / "log.csv"
    write_rows(path, whole)
    lines = path.read_text("utf-8").splitlines()
    assert shown(read_rows(path)) == shown(whole)
    other = dict(zip(lines[0].split(","), (
        "look", "7", "bell", "7", "kiln", "2026-03-02T11:00:00+00:00", "hand", "finish", "satin",
        "2026-03-02T12:00:00+00:00"), strict=True))  # fmt: skip
    for number in range(1, len(lines)):
        for name, said in other.items():
            changed = [next(csv.reader([line])) for line in lines]
            at = lines[0].split(",").index(name)
            if changed[number][at] == said:
                continue
            changed[number][at] = said
            with path.open("w", encoding="utf-8", newline="") as stream:
                csv.writer(stream, lineterminator="\n").writerows(changed)
            assert shown(read(read_rows, path)) != shown(whole), (lines[number], name)
        path.write_text("\n".join([*lines, lines[number]]) + "\n", encoding="utf-8")
        assert shown(read(read_rows, path)) != shown(whole), lines[number]
