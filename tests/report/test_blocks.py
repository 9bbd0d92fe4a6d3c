"""Documents as plain data for the page, and as CSV for a spreadsheet."""

import csv
import io

import pytest

from oxhue.optics.report.blocks import document_dict
from oxhue.optics.report.csv import document_csv
from oxhue.optics.report.document import Document, Figure, Heading, Items, Note, Swatch, Table

BLUE = Swatch("#3c4fa1", "dark blue")
WHOLE = Document(
    headline=("It is ", BLUE, "."),
    blocks=[
        "A line.",
        Heading("Numbers"),
        Table(["film", "shift"], [["TiO2", "-3"], ["=1+2", "-x"], [BLUE, "+4"]]),
        Items(["one", ("two ", BLUE)]),
        Note("Small."),
        Figure(lambda: None, "a chart"),
    ],
    cautions=["Hot."],
    question="What is it?",
    figures=[Figure(lambda: None, "the chart")],
    confidence=["Sure."],
    sources=["TiO2(siefke2016)"],
)


def test_every_kind_of_block_is_plain_data():
    found = document_dict(WHOLE)
    blue = {"hex": "#3c4fa1", "words": "#3c4fa1 dark blue"}
    assert found["headline"] == ["It is ", blue, "."]
    assert [next(iter(one)) for one in found["blocks"]] == [
        "words", "heading", "table", "items", "note", "figure"
    ]  # fmt: skip
    assert found["blocks"][2]["table"][2] == [[blue], ["+4"]]
    assert found["figures"] == ["the chart"]
    assert (found["cautions"], found["confidence"]) == (["Hot."], [{"words": ["Sure."]}])


def test_csv_has_every_line_and_table():
    rows = list(csv.reader(io.StringIO(document_csv(WHOLE))))
    assert rows[0] == ["It is #3c4fa1  dark blue."]
    assert ["film", "shift"] in rows
    assert ["TiO2", "-3"] in rows
    assert ["one"] in rows
    assert ["Small."] in rows


@pytest.mark.parametrize("words", ["=1+2", "+4", "-x", "@SUM(A1)", "\tx"])
def test_no_cell_is_a_formula(words):
    text = document_csv(Document(headline="x", blocks=[Table(["head"], [[words]])]))
    assert [f"'{words}"] in list(csv.reader(io.StringIO(text)))
