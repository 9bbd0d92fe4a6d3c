"""Answers that only the page gives leave as report, tables and JSON, too."""

import json

import pytest

from tests.page.test_photos import rendered, sent

RUN = {"setup": "shop kiln", "kind": "kiln", "metal": "Ti", "time": "20min"}
SEEN = (("400C", "gold"), ("430C", "purple"))
ROW = {"film": "TiO2(siefke2016)", "on": "Ti(johnson1974)", "white": "230,20,12,12", "side": 8}


@pytest.fixture
def plate_name(browser):
    from tests.page.test_photos import as_file

    return sent(browser, as_file(rendered(25.0, 75.0), "PNG")).headers["x-photo"]


def test_a_row_of_spots_leaves_as_it_was_shown(ask, plate_name):
    row = ROW | {"photo": plate_name, "line": "60,100,200,100", "spots": 3}
    shown = ask("row", **row)
    kept = ask("row", **row, face="json")
    assert kept["json"] == shown["answer"]
    assert kept["trusted"] == shown["trusted"]
    tables = ask("row", **row, face="csv")["csv"]
    for one in shown["answer"]["readings"]:
        assert f"{one['thickness_nm']:.0f}" in tables
    report = ask("row", **row, face="report")["report"]
    assert "3 spots in a row" in report
    assert report.count("<figure") >= 2  # the photo with its marks, and the chart
    chart = ask("row", **row, face="chart")
    assert chart["chart"].startswith("<svg")
    assert chart["scales"][0]["curves"]


@pytest.fixture
def logged(ask):
    for at, seen in SEEN:
        ask("record", **RUN, at=at, seen=seen, on="Ti")


@pytest.mark.usefixtures("logged")
@pytest.mark.parametrize(
    ("question", "fields"),
    [
        ("log", {}),
        pytest.param("learn", {"setup": "shop kiln"}, marks=pytest.mark.slow),
        ("next", {"setup": "shop kiln", "want": "purple"}),
    ],
)
def test_what_the_log_says_leaves_as_report_tables_and_json(ask, question, fields):
    assert "shop kiln" in ask(question, **fields, face="report")["report"]
    assert ask(question, **fields, face="csv")["csv"].count("\n") >= 1
    assert json.dumps(ask(question, **fields, face="json")["json"])


@pytest.mark.usefixtures("logged")
def test_a_face_that_is_none_is_refused_in_a_sentence(ask):
    assert "report, chart" in ask("log", face="poem")["refused"]
