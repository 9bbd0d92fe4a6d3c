"""What a log's answers say and draw: lists, runs, what was learnt, the next run."""

from __future__ import annotations

from dataclasses import replace

import pytest

from oxhue.optics.log.jar.learnt import (
    Cause,
    JarChange,
    JarLearnt,
    JarThen,
    LearntNumber,
    NextRun,
    Notch,
    RunCheck,
)
from oxhue.optics.log.jar.plots import chart_drift, chart_learnt, plot_drift, plot_learnt
from oxhue.optics.log.jar.present import next_words
from oxhue.optics.log.records import (
    LoggedPiece,
    LoggedRun,
    LoggedSetup,
    LogList,
    Noted,
    Recorded,
)
from tests.kept_numbers import assert_as_kept, look_of

DONE = {"metal": "Ti", "source": "wire", "current": "4.8A", "time": "12min", "plastic": "yes"}


def run_of(number=1, done=DONE, *, pieces=(), plan=None, planned="", remarks=""):
    at = f"2026-03-{number % 28 + 1:02d}T10:00:00+01:00"
    return LoggedRun(
        number, "jar", 1, "chamber", at, planned, dict(done), remarks, pieces, plan or {}
    )


def check(run, *, made=30.0, fits=True):
    span = None if made is None else (0.9 * made, 1.2 * made)
    states = {"metal": 0.75, "grey": 0.2, "oxide": 0.05}
    before = {"metal": 0.5, "grey": 0.3, "oxide": 0.2}
    return RunCheck(run, 40.0, (20.0, 80.0), made, span, states, 3.0, 0.1, fits, before)


def learnt_of(checks, **changed):
    numbers = (
        LearntNumber("leak", 5e-4, (1e-4, 2e-3), (1e-5, 1e-1), "mbar l/s"),
        LearntNumber("rate over computed", 1.5, (1.25, 2.0), (0.3, 3.0)),
    )
    drift = tuple(JarThen(one.run, 2.0, (1.0, 4.0), 0.5, (0.25, 0.8)) for one in checks)
    given = {"skipped": (), "change": None, "causes": {}, "drift": drift, **changed}
    return JarLearnt("jar", "chamber", len(checks), given["skipped"], numbers, tuple(checks),
                     given["change"], given["causes"], None, given["drift"])  # fmt: skip


def test_a_run_says_what_was_done_and_what_came_of_each_piece():
    looks = (Noted("seen", "gold"), Noted("photo", "0" * 64 + ".jpg"))
    pieces = (
        LoggedPiece("slide", {"on": "glass"}, looks), LoggedPiece("dial", {"metal": "Al"}, ()),
        LoggedPiece("hand", {}, ()),
    )  # fmt: skip
    run = run_of(pieces=pieces, planned="Ti 80nm", remarks="by the window")
    text = run.summary()
    for said in ("Run 1, jar: metal Ti, source wire, current 4.8A, for 12min, plastic",
                 "Remarks: by the window", "Planned: Ti 80nm.", "slide: Ti on glass",
                 "dial: Al", "hand: Ti", "seen: gold", "2026-03-02 10:00:00+01:00"):  # fmt: skip
        assert said in text
    assert text.index("Remarks") < text.index("Planned") < text.index("Recorded")
    assert "Nothing is recorded" not in text
    bare = run_of(done={"time": "12min", "plastic": "no"}, pieces=(LoggedPiece("hand", {}, ()),))
    assert "plastic" not in bare.summary()
    assert "hand:" not in bare.summary()


def test_looks_stand_under_the_time_they_were_noted_at():
    first, later = "2026-03-02T10:05:00+01:00", "2026-03-05T09:00:00+01:00"
    looks = (
        Noted("seen", "gold", first),
        Noted("ohms", "open", first),
        Noted("wipe", "off", later),
    )
    text = run_of(pieces=(LoggedPiece("slide", {}, looks),)).summary()
    places = [text.index(said) for said in ("Noted 2026-03-02 10:05", "seen: gold", "ohms: open",
                                            "Noted 2026-03-05 09:00", "wipe: off")]  # fmt: skip
    assert places == sorted(places)
    assert text.count("Noted") == 2


def test_a_run_that_is_planned_says_so():
    planned = run_of(done={}, plan={"current": "6A", "working_pressure": "1Pa"}).summary()
    assert "Run 1, jar: planned: current 6A, at 1Pa" in planned
    assert "Nothing is recorded yet of what came out." in planned
    assert "planned: Ti 40nm / glass" in run_of(done={}, planned="Ti 40nm / glass").summary()


def test_a_list_has_a_row_for_each_of_the_last_forty_runs():
    seen = (Noted("seen", "gold"), Noted("ohms", "open"), Noted("photo", "f" * 64 + ".png"))
    slide = LoggedPiece("slide", {}, seen)
    runs = [run_of(number, pieces=(slide,)) for number in range(1, 42)]
    setups = (LoggedSetup("jar", 1, "chamber", {}), LoggedSetup("kiln", 2, "kiln", {}))
    text = LogList("log", setups, tuple(runs), len(runs)).summary()
    assert "41 runs; the last on 2026-03-14" in text
    assert "The last 40 of 41 runs; JSON lists all." in text
    rows = [line for line in text.splitlines() if "gold" in line]
    assert len(rows) == 40
    assert rows[0].split()[0] == "2"
    assert "slide: gold, open" in text
    assert "fff" not in text
    assert "The last" not in LogList("log", setups, tuple(runs[:40]), 40).summary()
    assert "1 run; the last on 2026-03-02" in LogList("log", setups, tuple(runs[:1]), 1).summary()
    assert "Setups: jar, kiln." in LogList("log", setups, (), 0).summary()
    assert "Setups: none." in LogList("log", (), (), 0).summary()


def test_a_setup_lists_its_jar_and_its_usual_source_together():
    facts = {
        "jar": {"volume": "3l"},
        "usual": {"wire_diameter": "0.5mm"},
        "note": "under the bench",
    }
    text = LoggedSetup("jar", 1, "chamber", facts).summary()
    for said in ("Recorded: jar, a chamber", "volume: 3l", "wire diameter: 0.5mm",
                 "note: under the bench"):  # fmt: skip
        assert said in text
    assert "version" not in text
    assert "usual" not in text
    assert "Recorded: kiln, a kiln, version 2" in LoggedSetup("kiln", 2, "kiln", {}).summary()


def test_what_was_just_recorded_names_its_log():
    text = Recorded("clocks.sqlite", "undo", 3, "Taken back: run 3.").summary()
    assert "Taken back: run 3." in text
    assert "Log: clocks.sqlite." in text


def test_what_was_learnt_is_a_table_of_runs_and_one_of_numbers():
    text = learnt_of([check(1), check(2, made=None)]).summary()
    assert "jar, 2 runs: all fit one jar" in text
    first, second = (line for line in text.splitlines() if "40 (20 to 80)" in line)
    assert first.split() == ["1", "40", "(20", "to", "80)", "30", "(27", "to", "36)",
                             "50", "%", "75", "%", "yes"]  # fmt: skip
    assert "no look" in second
    assert "1.5" in text
    assert "1.2 to 2" in text
    assert "5 × 10⁻⁴ mbar l/s" in text
    assert "Something changed" not in text
    assert "does not fit" not in text
    assert "jar, 1 run: all" in learnt_of([check(1)]).summary()


def test_what_does_not_fit_has_its_causes_and_remedies():
    causes = {2: (Cause("mask in the way", 0.6, "look behind it"), Cause("leak", 0.3, "a seal"),
                  Cause("wire", 0.06, "a new one"), Cause("rest", 0.04, "none"))}  # fmt: skip
    change = JarChange(2, 12.4, "leak 3 times higher")
    text = learnt_of(
        [check(1), check(2, fits=False)], causes=causes, change=change, skipped=("run 3: no look",)
    ).summary()
    flat = " ".join(text.split())
    assert "jar, 2 runs: 1 not like the others" in flat
    assert "Something changed before run 2: leak 3 times higher (12 times likelier than no" in flat
    assert "Run 2 does not fit the others: mask in the way 60 %, leak 30 %, wire 6 %." in flat
    assert "mask in the way: look behind it" in flat
    assert "rest" not in flat
    assert "Not learnt from: run 3: no look." in flat


def test_a_chart_has_two_bars_for_each_run_and_names_what_does_not_fit():
    learnt = learnt_of([check(1), check(4, made=None), check(7, made=90.0, fits=False)])
    ax = plot_learnt(learnt)
    bars = [line.get_segments()[0] for line in ax.collections]
    assert [(x, low, high) for (x, low), (_, high) in bars] == [
        (pytest.approx(-0.12), 20.0, 80.0), (pytest.approx(0.12), 27.0, 36.0),
        (pytest.approx(0.88), 20.0, 80.0), (pytest.approx(1.88), 20.0, 80.0),
        (pytest.approx(2.12), 81.0, 108.0),
    ]  # fmt: skip
    points = [(*line.get_xdata(), *line.get_ydata()) for line in ax.lines if len(line.get_xdata())]
    assert points == [
        (pytest.approx(-0.12), 40.0), (pytest.approx(0.12), 30.0), (pytest.approx(0.88), 40.0),
        (pytest.approx(1.88), 40.0), (pytest.approx(2.12), 90.0),
    ]  # fmt: skip
    assert [(one.get_text(), one.xy) for one in ax.texts] == [
        ("does\nnot fit", (2, 20.0))  # under both its bars, clear of the next run's
    ]
    assert [one.get_text() for one in ax.get_xticklabels()] == ["1", "4", "7"]
    assert list(ax.get_xticks()) == [0, 1, 2]
    assert (ax.get_xlabel(), ax.get_ylabel(), ax.get_yscale()) == (
        "run", "metal on the piece, nm", "log",
    )  # fmt: skip
    assert [one.get_text() for one in ax.get_legend().get_texts()] == [
        "expected from the other runs", "made",
    ]  # fmt: skip
    other = plot_learnt(learnt_of([check(2, made=None, fits=False)]))
    assert other.texts[0].xy == (0, 20.0)
    assert plot_learnt(learnt, ax=other) is other
    assert chart_learnt(learnt).axes[0].get_xlabel() == "run"


def test_drift_is_drawn_against_one_with_the_change_marked():
    then = (
        JarThen(3, 1.0, (0.5, 2.0), 0.9, (0.8, 1.1)),
        JarThen(5, 4.0, (2.0, 8.0), 1.0, (0.9, 1.2)),
    )
    learnt = learnt_of([check(3), check(5)], drift=then, change=JarChange(5, 20.0, "leak"))
    ax = plot_drift(learnt)
    leak, rate = ax.collections
    assert [one[:, 1].tolist() for one in leak.get_segments()] == [[0.5, 2.0], [2.0, 8.0]]
    assert [one[:, 1].tolist() for one in rate.get_segments()] == [[0.8, 1.1], [0.9, 1.2]]
    assert [one[0, 0] for one in leak.get_segments()] == pytest.approx([-0.06, 0.94])
    assert [one[0, 0] for one in rate.get_segments()] == pytest.approx([0.06, 1.06])
    lines = {line.get_label(): line for line in ax.lines}
    assert list(lines["leak"].get_ydata()) == [1.0, 4.0]
    assert list(lines["rate"].get_ydata()) == [0.9, 1.0]
    assert list(lines["rate"].get_xdata()) == pytest.approx([0.06, 1.06])
    upright = [one for one in ax.lines if list(one.get_ydata()) == [0, 1]]
    assert [one.get_xdata()[0] for one in upright] == [0.5]
    assert [one.get_ydata()[0] for one in ax.lines if len(set(one.get_ydata())) == 1] == [1.0]
    assert ax.get_yscale() == "log"
    ax.figure.canvas.draw()
    marks = [one.get_text() for one in ax.yaxis.get_ticklabels(which="both")]
    assert {"0.5", "1", "2", "5"} <= set(marks)
    assert not [one for one in marks if "$" in one or "e" in one]
    assert [one.get_text() for one in ax.get_xticklabels()] == ["3", "5"]
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("run", "over what is assumed")
    still = plot_drift(learnt_of([check(3), check(5)], drift=then), ax=ax.figure.subplots())
    assert not [one for one in still.lines if list(one.get_ydata()) == [0, 1]]
    assert len(chart_drift(learnt).axes) == 1


def test_charts_look_as_they_did():
    then = tuple(JarThen(run, 2.0, (1.0, 4.0), 0.5, (0.25, 0.8)) for run in (1, 4))
    checks = [check(1), check(4, made=90.0, fits=False)]
    learnt = learnt_of(checks, drift=then, change=JarChange(4, 20.0, "leak"))
    assert_as_kept("chart-learnt", look_of(chart_learnt(learnt)))
    assert_as_kept("chart-drift", look_of(chart_drift(learnt)))
    marks = plot_learnt(learnt).yaxis.get_ticklabels(which="both")
    assert {one.get_text() for one in marks} >= {"10", "20", "30", "40", "60", "100"}
    assert "50" not in {one.get_text() for one in marks}  # no room between 40 and 60


def next_of(**changed):
    done = {"metal": "Ti", "current": "4.9A", "time": "660s"}
    given = {"melts": 0.0, "done": done, "teaches": None, **changed}
    notches = (Notch("current +2 %", 0.55), Notch("leak halved", 0.9))
    return NextRun(
        "jar",
        "Ti 80nm",
        given["done"],
        0.62,
        0.11,
        0.7,
        0.8,
        given["melts"],
        0.15,
        "the scatter of the thickness from run to run",
        notches,
        given["teaches"],
        6,
    )


def test_the_next_run_says_its_settings_its_odds_and_what_limits_it():
    text = " ".join(next_of(melts=0.04).summary().split())
    for said in ("Ti 80nm in jar: 4.9A for 11 min; 62 % chance",
                 "Thickness within 15 %: 70 %. Right state: 80 %. Wire melts: 4 %.",
                 "What limits it: the scatter of the thickness from run to run.",
                 "would have 11 %", "current +2 % 55 %", "leak halved 90 %",
                 "Settings: metal Ti, current 4.9A, for 660s. From 6 runs.",
                 "implode"):  # fmt: skip
        assert said in text
    assert "teach most" not in text
    assert "Wire melts" not in next_of().summary()


@pytest.mark.parametrize(("state", "asked"), [(0.949, True), (0.95, False)])
def test_a_gauge_is_asked_for_where_the_state_is_in_doubt(state, asked):
    text = " ".join(replace(next_of(), in_state=state).summary().split())
    assert ("Read the gauge before the run" in text) is asked
    read = " ".join(replace(next_of(), in_state=0.5, base_pressure="6e-4mbar").summary().split())
    assert "For a gauge that reads 6e-4mbar before the run." in read
    assert "Read the gauge" not in read


@pytest.mark.parametrize(
    ("value", "words"),
    [(0.0099, "9.9 × 10⁻³"), (0.01, "0.01"), (99.4, "99"), (100.0, "1 × 10²"), (1.25, "1.2")],
)
def test_numbers_of_a_jar_in_words(value, words):
    number = LearntNumber("leak", value, (value, value), (value, value), "")
    learnt = replace(learnt_of([check(1)]), numbers=(number,))
    assert words in learnt.summary()
    assert f"{words} to {words}" in learnt.summary()


@pytest.mark.parametrize("told", [3, 4])
def test_three_causes_of_a_misfit_are_told(told):
    causes = {1: tuple(Cause(f"cause {i}", 0.25, f"remedy {i}") for i in range(told))}
    text = " ".join(learnt_of([check(1, fits=False)], causes=causes).summary().split())
    assert [f"cause {i} 25 %" in text for i in range(4)] == [True, True, True, False]
    assert [f"cause {i}: remedy {i}" in text for i in range(4)] == [True, True, True, False]


def test_charges_rates_and_wires_are_said_in_the_next_run():
    done = {"charge": "120mg", "rate": "0.3nm/s", "time": "3min", "new_wire": "no"}
    assert next_words(done) == "120mg at 0.3nm/s for 3 min"
    assert next_words({"current": "5A", "time": "3min", "new_wire": "yes"}) == (
        "5A for 3 min, with a new wire"
    )


def test_a_run_that_would_teach_more_is_named_where_it_is_another():
    other = {"metal": "Ti", "rate": "0.2nm/s", "time": "300s", "new_wire": "yes"}
    text = " ".join(next_of(teaches=other).summary().split())
    assert "The run that would teach most: at 0.2nm/s for 5 min, with a new wire." in text
    same = {"current": "4.9A", "time": "11min"}
    assert "teach most" not in next_of(teaches=same).summary()
