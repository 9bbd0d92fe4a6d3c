"""What a log says to other verbs, its plans, its photos and its places."""

from __future__ import annotations

import os
import shutil

import numpy as np
import pytest
from PIL import Image

from oxhue.optics.assay.assay import assay
from oxhue.optics.errors import InputError
from oxhue.optics.log.log import Log
from oxhue.optics.run_sheet.run_sheet import run_sheet

DONE = {
    "source": "wire", "metal": "Ti", "wire_diameter": "0.5mm", "wire_length": "200mm",
    "time": "12min", "distance": "5cm", "working_gas": "argon", "working_pressure": "5e-3mbar",
    "new_wire": True,
}  # fmt: skip


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    """A jar whose wire gives half of what is computed, told by measured thicknesses."""
    folder = tmp_path_factory.mktemp("recorded")
    jar = folder / "jar.toml"
    jar.write_text('volume = "3 l"\npumping = "2 l/s"\nleak = "1e-3 mbar.l/s"\n')
    with Log.open(folder / "clocks.sqlite") as log:
        log.setup("jar", jar=jar, places={"middle": "5cm", "rim": "5cm,3cm,20"})
        for current, middle, rim in (("6.4A", 21, 8), ("6.5A", 27, 11), ("6.6A", 33, 13)):
            run = log.record("jar", current=current, **DONE).run
            log.saw(run, piece="slide", on="glass", place="middle", thickness=f"{middle}nm")
            log.saw(run, piece="edge", on="glass", place="rim", thickness=f"{rim}nm")
        log.setup("kiln", kind="kiln")
    return folder


@pytest.fixture(scope="module")
def learnt(recorded, tmp_path_factory):
    """The same log, in which what the jar taught is kept."""
    folder = tmp_path_factory.mktemp("learnt")
    shutil.copytree(recorded, folder, dirs_exist_ok=True)
    with Log.open(folder / "clocks.sqlite") as log:
        log.learn("jar")
    return folder


@pytest.fixture
def clocks(learnt, tmp_path):
    """A log of the test's own that has learnt."""
    shutil.copytree(learnt, tmp_path, dirs_exist_ok=True)
    with Log.open(tmp_path / "clocks.sqlite") as log:
        yield log


def test_a_sheet_takes_wire_tooling_and_leak_as_learnt(clocks):
    known = clocks.known("jar", "sheet", metal="Ti")
    assert float(known["setup"]["tooling"]) < 0.9
    sheet = run_sheet("Ti 30nm / glass", **known)
    usual = {name: text for name, text in known["setup"].items() if name != "tooling"}
    assert (
        sheet.layers[0].time_s
        > run_sheet("Ti 30nm / glass", **{**known, "setup": {**usual, "wire_diameter": "0.5mm"}})
        .layers[0]
        .time_s
    )


def test_a_place_off_the_axis_learns_its_own_tooling(clocks):
    numbers = {one.name: one for one in clocks.learn("jar").numbers}
    rim = numbers["tooling at rim against middle"]
    assert rim.interval90[1] / rim.interval90[0] < 0.8 * (rim.before90[1] / rim.before90[0])
    with pytest.raises(InputError, match="has no place 'edge'"):
        clocks.saw(1, piece="other", place="edge", seen="silver")
    with pytest.raises(InputError, match="a place is a name"):
        clocks.setup("jar", places={"rim": "1cm,2cm,3,4"})


def test_assay_and_gauge_take_how_the_run_went(clocks):
    known = clocks.known("jar", "assay", run=2)
    assert known["metal"] == "Ti"
    assert known["working_gas"] == "argon"
    assert 0.02 < float(known["rate"].removesuffix("nm/s")) < 0.06  # 27 nm in 12 minutes
    assert assay(seen="silver", **known).probabilities
    low, high = clocks.known("jar", "gauge", run=2)["between_nm"]
    assert low < 27.0 < high < 250.0


def test_what_a_setup_says_of_its_source_holds_for_its_runs(tmp_path):
    usual = {name: DONE[name] for name in ("source", "metal", "wire_diameter", "wire_length")}
    told = []
    for place, with_it in (("one", usual), ("other", {})):
        with Log.open(tmp_path / f"{place}.sqlite") as log:
            log.setup("jar", usual=with_it)
            said = {name: text for name, text in DONE.items() if name not in with_it}
            run = log.record("jar", current="6.5A", **said).run
            log.saw(run, piece="slide", on="glass", thickness="30nm")
            assert log.show(run).done.keys() == {*said, "current"} - {None}
            told.append(log.learn("jar").numbers)
    assert told[0] == told[1]
    with Log.open(tmp_path / "one.sqlite") as log, pytest.raises(InputError, match="source"):
        log.setup("kiln", kind="kiln", usual={"source": "wire"})


def test_the_first_heat_of_a_kiln_is_gauged_by_the_shipped_law(clocks):
    run = clocks.record("kiln", metal="Ti", at="450C", time="20min").run
    clocks.saw(run, piece="plate", on="Ti", seen="purple")
    low, high = clocks.known("kiln", "gauge")["between_nm"]
    assert 5.0 < low < 25.0
    assert 45.0 < high < 150.0


def test_what_a_verb_cannot_use_is_refused(clocks):
    for setup, verb, words in (
        ("kiln", "sheet", "is a kiln; sheet uses a chamber"),
        ("jar", "tint", "is a chamber; tint uses a kiln or flame"),
        ("jar", "look", "`verb` must be one of"),
    ):
        with pytest.raises(InputError, match=words):
            clocks.known(setup, verb)
    with pytest.raises(InputError, match="no run 9 that was done"):
        clocks.known("jar", "assay", run=9)


def test_a_plan_teaches_nothing_until_it_is_done(clocks):
    before = clocks.learn("jar").to_dict()
    plan = clocks.plan("jar", "Ti 40nm / glass", current="6.7A", metal="Ti", time="9min")
    assert plan.done == {}
    assert plan.plan["current"] == "6.7A"
    assert "planned" in plan.summary()
    assert clocks.learn("jar").to_dict() == before
    assert clocks.newest("jar").run == 3
    done = clocks.record("jar", like=plan.run, time="10min")
    assert done.planned == "Ti 40nm / glass"
    assert done.done == {"metal": "Ti", "current": "6.7A", "time": "10min"}
    with pytest.raises(InputError, match="`planned` says what"):
        clocks.plan("jar", "")


@pytest.mark.parametrize("ending", [".jsonl", ".csv"])
def test_photos_and_plans_go_with_an_export(clocks, tmp_path, ending):
    photo = tmp_path / "Dial.JPG"
    Image.fromarray(np.full((8, 8, 3), 120, np.uint8)).save(photo, format="JPEG")
    name = clocks.saw(1, piece="slide", photo=photo).pieces[0].observations[-1].text
    kept = tmp_path / "clocks-photos" / name
    assert kept.read_bytes() == photo.read_bytes()
    clocks.plan("jar", "Ti 40nm / glass", current="6.7A")
    away = tmp_path / "away"
    away.mkdir()
    file = away / f"all{ending}"
    clocks.export(file)
    with Log.open(away / "second.sqlite") as other:
        assert "not there" not in other.import_(file).sentence
        assert [one.to_dict() for one in other.runs().runs] == [
            one.to_dict() for one in clocks.runs().runs
        ]
    assert (away / "second-photos" / name).read_bytes() == photo.read_bytes()
    for one in (kept, away / "all-photos" / name):
        one.unlink()
    assert "A photo is not there" in clocks.export(away / f"again{ending}").sentence


def test_what_is_no_photo_is_refused(clocks, tmp_path):
    empty = tmp_path / "empty.jpg"
    empty.touch()
    text = tmp_path / "notes.txt"
    text.write_text("gold")
    long = tmp_path / "long.jpg"
    long.touch()
    os.truncate(long, 100_000_001)
    for path, words in (
        (long, "has 100,000,001 bytes"), (empty, "has 0 bytes"), (text, "ends in none of .jpg"),
        (tmp_path / "none.jpg", "cannot be read"),
    ):  # fmt: skip
        with pytest.raises(InputError, match=words):
            clocks.saw(1, piece="slide", photo=path)
    assert len(clocks.show(1).pieces[0].observations) == 1


def test_draws_are_kept_with_the_log(recorded, tmp_path):
    shutil.copytree(recorded, tmp_path, dirs_exist_ok=True)
    with Log.open(tmp_path / "clocks.sqlite") as log:
        first = log.next("jar", want="Ti 30nm", within=0.25)
        held = log._connection.execute(
            "SELECT count(*) FROM derived WHERE question LIKE 'draws %'"
        ).fetchone()[0]
        assert held == 1
        assert log.next("jar", want="Ti 30nm", within=0.25).to_dict() == first.to_dict()
