"""The next heat of a kiln: the surest, what limits it, each knob, the piece that teaches most; and
the metal that is meant where nobody names it."""

from dataclasses import replace

import numpy as np
import pytest

from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.errors import InputError
from oxhue.optics.log import kiln_runs
from oxhue.optics.log.kiln.advice import _limit
from oxhue.optics.log.log import Log
from oxhue.optics.log.named_metal import check_asked, name_metals
from oxhue.optics.log.records import LoggedPiece, LoggedRun
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.oxidation.schedule import hold
from oxhue.optics.report.schema import kind_schema
from oxhue.optics.tint.colour_search import ColourSearch, Wish
from oxhue.optics.tint.kiln import shipped_kiln
from oxhue.optics.tint.recipes import recipes
from tests.kept_numbers import assert_as_kept
from tests.report.test_schema import faults

HEATS = {"380C": "straw", "420C": "bronze", "450C": "purple"}


@pytest.fixture(autouse=True)
def _few_draws(monkeypatch):
    """A learner that takes what is shipped for what was learnt: which kiln it is is not asked."""

    def learn(metal, rows, *, seed, made_from, **_):
        kiln = replace(shipped_kiln(metal, seed), pieces=len(rows), made_from=made_from)
        return type("Learnt", (), {"fitted": kiln})

    monkeypatch.setattr(kiln_runs, "learn", learn)


@pytest.fixture
def log(tmp_path):
    with Log.open(tmp_path / "log.sqlite") as book:
        book.setup("kiln", kind="kiln")
        for at, seen in HEATS.items():
            run = book.record("kiln", metal="Ti", at=at, time="20min").run
            book.saw(run, piece="plate", seen=seen)
        yield book


def search_of(kiln, want="purple"):
    return ColourSearch.of(kiln, Wish(want), viewing=ViewingConditions(), seed=1)


def test_the_next_heat_says_all_that_a_jars_next_run_says(log):
    found = log.next("kiln", want="purple")
    said = found.to_dict()
    assert said["kind"] == "log"
    assert faults(said, kind_schema("log")) == []
    assert said["done"].keys() == {"metal", "at", "time"}
    assert [one["knob"] for one in said["notches"]] == [
        "10 °C hotter", "10 °C cooler", "time +10 %", "time −10 %"
    ]  # fmt: skip
    assert found.chance == found.recipes[0].chance
    assert found.runs == 3
    named = ("done", "chance", "chance_before", "limited_by", "notches", "teaches", "teaches_words")
    assert_as_kept("log-next-heat", {name: said[name] for name in named})
    text = found.summary()
    for words in ("What limits it:", "turned by one notch", "The piece that would teach most:"):
        assert words in text
    log.record("kiln", **found.done)  # what is advised can be recorded
    log.record("kiln", **found.teaches)


@pytest.mark.parametrize(
    ("sure", "words"),
    [
        ({"scatter", "film"}, "7 pieces leave open about the kiln"),
        ({"pace", "film"}, "the scatter from heat to heat"),
        ({"scatter", "pace"}, "which kind of oxide grows"),
        ({"scatter", "pace", "film"}, "no one thing"),
    ],
)
def test_what_is_in_doubt_limits_a_heat(sure, words):
    kiln = shipped_kiln(find_metal("Ti"))
    draws = kiln.draws
    zeros = np.zeros_like(draws.scatter)
    if "pace" in sure:
        draws = replace(
            draws, pace=np.zeros_like(draws.pace),
            theta=np.tile(draws.theta.mean(axis=0), (zeros.size, 1)),
            native_nm=np.full_like(zeros, 2.6),
        )  # fmt: skip
    scatter = zeros if "scatter" in sure else np.full_like(zeros, 0.5)
    film = draws.film if "film" not in sure else np.zeros_like(draws.film)
    kiln = replace(kiln, draws=replace(draws, scatter=scatter, film=film, index_error=zeros))
    search = search_of(kiln)
    first = recipes("Ti", "purple", kiln=kiln, times=("20min",)).recipes[0]
    assert words in _limit(search, hold(first.temperature_C, 1200.0), 7)


def test_a_colour_that_no_heat_gives_still_has_a_piece_that_teaches(log):
    found = log.next("kiln", want="#ff0000")
    assert (found.recipes, found.done, found.chance, found.notches) == ((), {}, 0.0, ())
    assert (found.chance_before, found.limited_by) == (0.0, "")
    assert "The piece that would teach most" in found.summary()
    assert "What limits it" not in found.summary()


def test_a_piece_is_of_the_metal_that_all_others_are_of(log):
    run = log.record("kiln", at="470C", time="20min").run
    log.saw(run, piece="plate", seen="blue")
    assert log.learn("kiln").fitted.pieces == 4
    assert log.known("kiln", "tint", metal="Ti")["kiln"].pieces == 4
    steel = log.record("kiln", metal="steel", at="290C", time="20min").run
    log.saw(steel, piece="plate", seen="straw")
    for ask in (log.learn, lambda name: log.next(name, want="purple")):
        with pytest.raises(InputError, match="of titanium and carbon steel; say with `metal`"):
            ask("kiln")
    assert log.learn("kiln", metal="Ti").fitted.pieces == 3  # nobody says of which the fourth is
    assert log.learn("kiln", metal="steel").fitted.pieces == 1


def test_a_metal_that_nobody_names_is_asked_for(tmp_path):
    with Log.open(tmp_path / "log.sqlite") as log:
        log.setup("kiln", kind="kiln")
        log.saw(log.record("kiln", at="450C", time="20min").run, seen="purple")
        with pytest.raises(InputError, match="says which metal was heated; name it with `metal`"):
            log.learn("kiln")
        assert log.learn("kiln", metal="Ti").fitted.pieces == 1
        log.setup("jar")
        log.record("jar", source="wire", current="4.8A", time="12min")
        with pytest.raises(InputError, match=r"what was deposited, nor .* name it with `metal`"):
            log.learn("jar")


def run(number, *pieces, **done):
    held = tuple(LoggedPiece(f"{i}", {"metal": metal}) for i, metal in enumerate(pieces))
    return LoggedRun(number, "jar", 1, "chamber", "", "", done, "", held)


@pytest.mark.parametrize(
    ("runs", "named", "metals"),
    [
        ([run(1, current="5A"), run(2, metal="titanium", current="5A")], None, ["Ti", "titanium"]),
        ([run(1, current="5A"), run(2, metal="Ti"), run(3, metal="Al")], None, [None, "Ti", "Al"]),
        ([run(1, current="5A"), run(2, metal="Ti"), run(3, metal="Al")], "Cr", ["Cr", "Ti", "Al"]),
        ([run(1, "Ti", "Ti", current="5A"), run(2, metal="Al")], None, ["Ti", "Al"]),
        ([run(1, "Ti", "Al", current="5A"), run(2, metal="Al")], None, ["Al", "Al"]),
        ([run(1, wire="Ti", current="5A")], None, ["Ti"]),
        ([run(1, wire="W", current="5A")], None, [None]),
        ([run(1, wire="Ti", charge="3mg")], None, [None]),
        ([run(1, wire="Ti", source="sputter")], None, [None]),
        ([run(1), run(2, metal="Ti")], None, [None, "Ti"]),
        ([run(1, current="5A"), run(2, metal="unobtainium")], None, [None, "unobtainium"]),
    ],
)
def test_a_run_of_a_jar_takes_the_metal_that_is_told_of_it(runs, named, metals):
    assert [one.done.get("metal") for one in name_metals(runs, named)] == metals


def test_a_metal_that_no_run_waits_for_is_refused():
    runs = [run(1, metal="Ti", current="5A"), run(2, metal="Al")]
    with pytest.raises(InputError, match="every run of 'jar' says it: Al, Ti"):
        check_asked(runs, "jar", "Cu")
    check_asked(runs, "jar", None)
    check_asked([*runs, run(3, current="4A")], "jar", "Cu")
    check_asked(runs[:1], "jar", "titanium")
