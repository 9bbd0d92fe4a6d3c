"""What can be recorded, fact by fact: taken as it is written where it is right, else refused."""

import json
import sqlite3

import pytest

from oxhue.optics.errors import InputError
from oxhue.optics.log import facts
from oxhue.optics.log.derived import Derived
from oxhue.optics.log.log import Log

LENGTHS = ("wire_diameter", "wire_length", "distance")
RIGHT = {
    "chamber": {
        "source": ("boat", "laser"), "metal": ("Ti", "Xx"), "wire": ("W", "Xx"),
        "wire_diameter": ("0.8mm", "0.8"), "wire_length": ("5cm", "5V"),
        "coil": ("5mm,0.8mm", "5mm"),
        "current": ("4.8A", "4.8"), "volts": ("6V", "6A"), "rate": ("0.2nm/s", "0.2nm"),
        "time": ("12min", "12"), "distance": ("7cm", "-7cm"), "gauge_reading": ("1e-3mbar", "low"),
        "base_pressure": ("1e-5mbar", "0.1"), "working_gas": ("argon", "argn"),
        "working_pressure": ("1Pa", "1bar"), "flush": ("3,5mbar", "3"), "plastic": ("no", "maybe"),
        "melted": ("yes", "y"), "new_wire": ("no", ""), "pumped": ("44min", "44C"),
        "charge": ("120mg", "120"), "mask": ("brass, three slots", "x" * 2_001),
    },
    "kiln": {"metal": ("steel", "Xx"), "at": ("440C", "440"), "time": ("1h", "1C"),
             "profile": ("0s 20C, 9min 450C", "0s 20C, 9min")},
}  # fmt: skip
PIECE = {
    "on": ("glass", "Ti 4nm / glass"), "metal": ("Al", "Zz"), "distance": ("7cm", "7"),
    "offset": ("2cm", "2s"), "tilt": ("30", "30mm"), "place": ("rim", "x" * 2_001),
}  # fmt: skip
OBSERVED = {
    "seen": ("gold", "#12"), "behind": ("#c8a050", "glod"), "through": ("OD 2.4", "OD 9"),
    "ohms": ("120ohm", "120"), "finish": ("satin", "sad"), "wipe": ("smears", "sings"),
    "scratch": ("hard", "harder"), "warmed": ("same", "other"), "thickness": ("45nm", "45"),
    "weight": ("0.35mg on 12cm2", "0.35mg"),
    "spectrum": ("reflectance 400:0.1 550:0.2 700:0.3", "reflectance 500:0.1 700:0.2"),
    "remark": ("by the window", "x" * 2_001), "photo": ("0" * 64 + ".jpg", "../dial.jpg"),
    "answer": ("45 nm", "x" * 2_001), "link": ("#thickness", "x" * 2_001),
}  # fmt: skip
CASES = [
    *((facts.DONE[kind], name, *said) for kind, table in RIGHT.items()
      for name, said in table.items()),
    *((facts.PIECE, name, *said) for name, said in PIECE.items()),
    *((facts.OBSERVED, name, *said) for name, said in OBSERVED.items()),
]  # fmt: skip


@pytest.mark.parametrize(("known", "name", "right", "wrong"), CASES)
def test_each_fact_is_checked_as_it_is_written(known, name, right, wrong):
    assert facts.check_facts({name: f" {right} "}, known) == {name: right}
    with pytest.raises(InputError):
        facts.check_facts({name: wrong}, known)


def test_every_fact_that_can_be_recorded_is_tried_here():
    assert {kind: set(table) for kind, table in RIGHT.items()} == {
        kind: set(facts.DONE[kind]) for kind in RIGHT
    }
    assert facts.DONE["flame"] is facts.DONE["kiln"]
    assert set(PIECE) == set(facts.PIECE)
    assert set(OBSERVED) == set(facts.OBSERVED)


def test_what_was_not_said_is_left_out_and_yes_is_a_word():
    said = {"source": None, "plastic": True, "melted": False, "metal": "Ti"}
    assert facts.check_facts(said, facts.DONE["chamber"]) == {"plastic": "yes", "metal": "Ti"}


@pytest.mark.parametrize(
    ("said", "words"),
    [({"tim": "1h"}, "`tim` cannot be recorded here; there are metal, at, time, profile; did you "),
     ({"at": 440}, "`at` is a text with a unit, not 440"), ({"at": "  "}, "`at` is a text"),
     ({"at": ["440C"]}, "`at` is a text")],
)  # fmt: skip
def test_what_is_no_fact_names_itself(said, words):
    with pytest.raises(InputError, match=words) as refused:
        facts.check_facts(said, facts.DONE["kiln"])
    assert refused.value.parameter == next(iter(said))


def test_words_may_be_as_long_as_the_limit():
    longest = "x" * facts.LONGEST_TEXT
    assert facts.check_facts({"remark": longest}, facts.OBSERVED) == {"remark": longest}
    facts.check_words(longest, "note")
    for wrong in (longest + "x", 5):
        with pytest.raises(InputError, match="`note` is") as refused:
            facts.check_words(wrong, "note")
        assert refused.value.parameter == "note"


def test_places_have_a_distance_an_offset_and_a_tilt():
    assert facts.read_places({" rim ": "7cm, 2cm,30", "middle": "7cm"}) == {
        "rim": {"distance": "7cm", "offset": "2cm", "tilt": "30"}, "middle": {"distance": "7cm"},
    }  # fmt: skip
    assert facts.read_places(None) == {}
    for wrong in ({"": "7cm"}, {"rim": "7cm,2cm,30,4"}, {"rim": "7"}):
        with pytest.raises(InputError):
            facts.read_places(wrong)


def test_what_a_setup_is(tmp_path):
    jar = tmp_path / "jar.toml"
    jar.write_text('volume = "3l"\nplastic = true\n')
    usual = {"source": "wire", "metal": None}
    read = json.loads(
        facts.read_setup_facts("chamber", jar, "é", places={"rim": "7cm"}, usual=usual)
    )
    assert read == {
        "jar": {"volume": "3l", "plastic": True}, "places": {"rim": {"distance": "7cm"}},
        "usual": {"source": "wire"}, "note": "é",
    }  # fmt: skip
    assert facts.usual_of(read) == {"source": "wire"}
    assert json.loads(facts.read_setup_facts("kiln", None, "")) == {}
    jar.write_text("[inner]\nvolume = 3\n")
    for kind, given, named in (
        ("oven", {}, "kind"), ("kiln", {"jar": jar}, "jar"), ("chamber", {"jar": jar}, "jar"),
        ("kiln", {"places": {"rim": "7cm"}}, "places"), ("flame", {"usual": usual}, "usual"),
    ):  # fmt: skip
        with pytest.raises(InputError) as refused:
            facts.read_setup_facts(kind, given.pop("jar", None), "", **given)
        assert refused.value.parameter == named
    jar.write_text("[" * 10_000)
    with pytest.raises(InputError, match=r"jar\.toml is not TOML"):
        facts.read_setup_facts("chamber", jar, "")


@pytest.mark.parametrize("held", [None, 5, [], {"usual": 5}, {"usual": {"source": 5, "hue": "x"}}])
def test_a_setup_without_a_usual_source(held):
    assert facts.usual_of(held if isinstance(held, dict) else {"usual": held}) == {}


@pytest.mark.parametrize("name", [" jar ", "x" * 100])
def test_names_are_taken_without_spaces(name):
    assert facts.check_name(name, "setup") == name.strip()


@pytest.mark.parametrize("name", ["", "  ", 5, None, "x" * 101, "two\nlines"])
def test_what_is_no_name(name):
    with pytest.raises(InputError, match="`setup` is a name") as refused:
        facts.check_name(name, "setup")
    assert refused.value.parameter == "setup"


@pytest.fixture
def place(tmp_path):
    place = tmp_path / "log.sqlite"
    with Log.open(place) as log:
        log.setup("jar", kind="chamber")
        log.record("jar", source="wire", metal="Ti")
    return place


def changed(place, statement):
    connection = sqlite3.connect(place)
    connection.execute(statement)
    connection.commit()
    connection.close()


@pytest.mark.parametrize("column", ["run SET done", "run SET plan", "setup SET facts"])
def test_facts_that_another_program_changed_are_refused(column, place):
    changed(place, f"UPDATE {column} = '5'")
    with (
        Log.open(place, write=False) as log,
        pytest.raises(InputError, match="no table of names and values"),
    ):
        log.runs()


def test_what_was_worked_out_is_kept_with_every_digit(place):
    connection = sqlite3.connect(place)
    kept = Derived(connection)
    kept["one"] = [[0.1, 1e-300], [2.0 / 3.0]]
    kept["two"] = [[1.0]]
    assert (sorted(kept), len(kept)) == (["one", "two"], 2)
    assert kept["one"] == [[0.1, 1e-300], [2.0 / 3.0]]
    del kept["one"]
    assert "one" not in kept
    assert "two" in kept
    for damaged in ("5", "[[0.5]]", '{"a": 1}', "[1, [[1.0]]]", "[]", '"x"', b"\xff"):
        kept["three"] = [[1.0]]
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute("UPDATE derived SET answer = ? WHERE question = 'three'", (damaged,))
        assert kept.get("three") is None, damaged
        assert kept["two"] == [[1.0]]
    connection.execute("UPDATE derived SET model = 'another program'")
    assert "two" not in kept
    assert len(kept) == 0
    connection.close()


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("setup SET facts", '{"jar": 5}'), ("setup SET facts", '{"places": {"rim": 5}}'),
        ("run SET done", "9" * 5_000), ("piece SET facts", '{"a":' * 990 + "1" + "}" * 990),
        ("setup SET facts", '{"usual": []}'), ("setup SET version", "many"),
        ("setup SET version", 2**62), ("setup SET version", 0), ("run SET done", '{"metal": 5}'),
        ("run SET plan", '{"metal": null}'), ("run SET at", b"\0\xff"),
        ("run SET remarks", b"x"), ("setup SET name", b"jar"),
    ],
)  # fmt: skip
def test_what_no_recording_can_have_written_is_refused(column, value, place, tmp_path):
    connection = sqlite3.connect(place)
    connection.execute("INSERT INTO piece VALUES (1, 1, 1, 'dial', '{}')")
    connection.execute(f"UPDATE {column} = ?", (value,))
    connection.commit()
    connection.close()
    with Log.open(place) as log, pytest.raises(InputError, match="no table of names and values"):
        log.export(tmp_path / "all.jsonl")
    assert not (tmp_path / "all.jsonl").exists()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("volume = -3", r"jar\.toml: `volume` is -3 l"), ("volumes = '3l'", "mean volume"),
        ("tube = [1979-05-27]", r"jar\.toml: "), ("leak = nan", r"jar\.toml: `leak` must be"),
        (f"volume = {'9' * 4_000}", r"jar\.toml: `volume` must be"), ("volume = true", "volume"),
        ('volume = "\\u001b[2J"', r"jar\.toml: `volume` '.x1b"), ("volume = 1979-05-27", "date"),
    ],
)  # fmt: skip
def test_a_jar_is_recorded_only_as_it_can_be_computed(text, words, tmp_path):
    """Not found at the first run that is learnt from, weeks later."""
    jar = tmp_path / "jar.toml"
    jar.write_text(text)
    with Log.open(tmp_path / "log.sqlite") as log:
        with pytest.raises(InputError, match=words) as refused:
            log.setup("jar", jar=jar)
        assert log.runs().setups == ()
    assert refused.value.parameter == "jar"
    assert len(str(refused.value)) < 400


@pytest.mark.parametrize(
    ("kind", "held", "words"),
    [
        ("chamber", {"jar": {"volume": "3"}}, "volume"), ("chamber", {"jar": 5}, "no table of"),
        ("chamber", {"places": {"rim": 5}}, "a place is a table"),
        ("chamber", {"hue": 1}, "a setup has no 'hue'"),
        ("chamber", {"places": {"rim": {"distance": "7"}}}, "no unit"),
        ("chamber", {"places": {"rim": {"metal": "Ti"}}}, "`metal` cannot be recorded here"),
        ("chamber", {"usual": {"time": "5min"}}, "`time` cannot be recorded here"),
        ("chamber", {"note": 5}, "`note` is a text"), ("kiln", {"jar": {}}, "`jar` of a kiln"),
        ("flame", {"usual": {}}, "`usual` of a flame"),
    ],
)  # fmt: skip
def test_facts_of_a_setup_from_elsewhere_are_checked_like_ones_own(kind, held, words):
    with pytest.raises(InputError, match=words):
        facts.check_setup_facts(kind, held)


def test_facts_of_a_setup_as_they_are_recorded():
    whole = {"jar": {"volume": "3l"}, "places": {"rim": {"distance": "7cm", "tilt": "30"}},
             "usual": {"source": "wire"}, "note": "under the bench"}  # fmt: skip
    facts.check_setup_facts("chamber", whole)
    facts.check_setup_facts("kiln", {"note": "by the window"})
    facts.check_setup_facts("chamber", {})


@pytest.mark.parametrize(
    ("name", "inside", "outside"),
    [
        ("current", "0.1mA", "0A"), ("current", "90A", "1e6A"), ("volts", "480V", "0V"),
        ("rate", "0.3nm/s", "1e-9nm/s"), ("time", "1s", "0s"), ("time", "9d", "1e9s"),
        ("pumped", "0min", "1e9s"), ("distance", "5cm", "0cm"), ("wire_diameter", "0.1mm", "90m"),
        ("coil", "5mm,0.8mm", "5mm,0mm"), ("base_pressure", "6e-4mbar", "0mbar"),
        ("base_pressure", "10mbar", "1013mbar"), ("gauge_reading", "1013mbar", "1e9mbar"),
        ("working_pressure", "5e-3mbar", "1e-20mbar"),
    ],
)  # fmt: skip
def test_what_no_run_can_reach_is_refused(name, inside, outside):
    check = facts.DONE["chamber"][name]
    check(inside, f"`{name}`")
    with pytest.raises(InputError, match=rf"`{name}` is .*; it must be .* to "):
        check(outside, f"`{name}`")


@pytest.mark.parametrize(
    ("name", "inside", "outside"),
    [("tilt", "90", "95"), ("offset", "0cm", "20m"), ("distance", "7cm", "0.001mm")],
)
def test_where_no_piece_can_lie_is_refused(name, inside, outside):
    facts.PIECE[name](inside, f"`{name}`")
    with pytest.raises(InputError, match="it must be"):
        facts.PIECE[name](outside, f"`{name}`")
