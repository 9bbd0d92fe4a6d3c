"""The worked tour, whole: printed text, charts and report."""

import json
from contextlib import contextmanager
from importlib import import_module
from importlib.metadata import version
from itertools import pairwise
from pathlib import Path

import pytest

from oxhue.cli import demo_tour
from oxhue.cli.demo_tour import find_bands, run_demo
from oxhue.cli.main import exit_code
from oxhue.optics.errors import InputError
from oxhue.optics.look.look import look
from oxhue.optics.report.html import CAUTIONS

demo = import_module("oxhue.cli.demo")
TOLD: list[str] = []


@pytest.fixture(scope="module")
def tour(tmp_path_factory):
    """The tour worked out once: it takes seconds."""
    folder = tmp_path_factory.mktemp("demo") / "new" / "tour"
    command = "oxhue demo tour --report plate.html"
    return run_demo(folder, report=folder / "plate.html", command=command, tell=TOLD.append)


@pytest.fixture
def asked(tour, monkeypatch):
    """How the verb asks for the tour, which it is then given."""
    found = []
    monkeypatch.setattr(
        demo_tour, "run_demo", lambda *how, **more: found.append((how, more)) or tour
    )
    return found


def test_the_tour_prints_and_writes_what_it_says(tour):
    text, page = tour.summary(), Path(tour.report).read_text(encoding="utf-8")
    written = {path.name for path in Path(tour.report).parent.iterdir()}
    assert written == {
        "ramp.svg", "seen-as-a-word.svg", "seen-with-a-card.svg", "log.svg", "clock-log.csv",
        "plate.html",
    }  # fmt: skip
    assert all(name in text for name in written)
    assert page.startswith("<!DOCTYPE html>")
    assert "<script" not in page
    for held in (*CAUTIONS, "How sure this is", "Optical data", f"oxhue {version('oxhue')}",
                 "oxhue demo tour --report plate.html", "local codes"):  # fmt: skip
        assert held in page
    assert all(caution in text for caution in CAUTIONS)


@pytest.mark.usefixtures("tour")
def test_each_part_of_the_tour_is_told_as_it_begins():
    assert [one.split()[-1] for one in TOLD] == ["kiln", "seen", "teaches", "report"]


def test_the_verb_says_what_it_does_before_anything_is_loaded(asked, monkeypatch):
    said = []

    @contextmanager
    def listen(what):
        said.append((what, len(asked)))
        yield said.append

    monkeypatch.setattr(demo, "show_progress", listen)
    assert exit_code(["demo"]) == 0
    assert said == [("loading what charts are drawn with", 0)]


def test_the_verb_hands_on_the_folder_and_the_report_and_prints_the_tour(asked, tour, capsys):
    assert exit_code(["demo"]) == 0
    assert exit_code(["demo", "tour", "--report", "plate.html"]) == 0
    told = "oxhue demo tour --report plate.html"
    (first, more), (second, rest) = asked
    assert (first, second) == ((Path("oxhue-demo"),), (Path("tour"),))
    assert more.keys() == {"tell"}
    assert (rest["report"], rest["command"]) == (Path("plate.html"), told)
    out, err = capsys.readouterr()
    assert err == ""
    assert " ".join(str(tour).split()) in " ".join(out.split())


def test_the_tour_for_programs_is_one_object(asked, capsys):
    assert exit_code(["demo", "tour", "--json"]) == 0
    assert len(asked) == 1
    out, err = capsys.readouterr()
    told = json.loads(out)
    assert err == ""
    assert told["ramp"][0]["from_nm"] == 0.0
    assert [one["fits"] for one in told["estimates"]] == [True, True]
    assert [one["run"] for one in told["learnt"]["checks"]] == [1, 2, 3, 4, 5, 6]
    for name in (told["report"], *told["charts"]):
        assert Path(name).stat().st_size > 0


def test_the_log_of_the_tour_is_that_of_the_guide():
    root = Path(__file__).parents[2]
    one, other = (root / place / "clock-log.csv" for place in ("cli", "docs/examples"))
    assert one.read_bytes() == other.read_bytes()


def test_a_file_that_cannot_be_written_leaves_nothing_said(tmp_path):
    (tmp_path / "report.html").mkdir()
    with pytest.raises(InputError, match="it is a folder; name a file"):
        run_demo(tmp_path)


def test_bands_join_neighbours_of_one_name():
    found = find_bands(look("TiO2 0..60nm / Ti"))
    assert found[0].from_nm == 0.0
    assert found[-1].to_nm == 60.0
    assert [one.from_nm for one in found[1:]] == [one.to_nm + 1.0 for one in found[:-1]]
    names = [one.name for one in found]
    assert all(one != other for one, other in pairwise(names))


def test_a_folder_that_cannot_be_made_is_refused(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(InputError, match="cannot make the folder"):
        run_demo(tmp_path / "file")


def test_a_report_of_another_question_is_not_written_over(tmp_path):
    mine = tmp_path / "report.html"
    mine.write_text("the dial of the town hall")
    with pytest.raises(InputError, match="is no report of the demo; name another folder"):
        run_demo(tmp_path)
    assert list(tmp_path.iterdir()) == [mine]
    assert mine.read_text() == "the dial of the town hall"
