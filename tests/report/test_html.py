"""A page that stands alone: everything given is escaped, nothing is fetched."""

import re
from html.parser import HTMLParser

import pytest

from oxhue.optics.look.look import look
from oxhue.optics.look.plots import chart_look
from oxhue.optics.report.document import Document, Figure, Heading, Items, Note, Swatch, Table
from oxhue.optics.report.html import CAUTIONS, html_of, report_html

HOSTILE = """<script>alert('x')</script> & "quotes" <img src=x onerror=1>"""
VOID = {"meta", "br", "img", "link", "hr", "input"}


class Balanced(HTMLParser):
    def __init__(self):
        super().__init__()
        self.open, self.seen, self.text, self.links = [], [], [], []

    def handle_starttag(self, tag, attrs):
        self.seen.append(tag)
        self.links += [value for name, value in attrs if name in ("src", "href", "xlink:href")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.seen.append(tag)
        self.links += [value for name, value in attrs if name in ("src", "href", "xlink:href")]

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data.replace("\u00a0", " "))


def parsed(page):
    reader = Balanced()
    reader.feed(page)
    reader.close()
    assert reader.open == []
    return reader


def hostile_page():
    figure = chart_look(look("TiO2 45nm / Ti", spectrum=True))
    table = Table([HOSTILE], [[HOSTILE], [Swatch(HOSTILE, HOSTILE)]])
    document = Document(
        HOSTILE,
        blocks=[HOSTILE, Swatch(HOSTILE), table, Items([HOSTILE]), Note(HOSTILE), Heading(HOSTILE)],
        cautions=[HOSTILE],
        question=HOSTILE,
        figures=[Figure(lambda: figure, HOSTILE)],
        confidence=[HOSTILE],
        sources=[HOSTILE],
    )
    return report_html(document, [HOSTILE], [HOSTILE, HOSTILE])


def test_hostile_text_stays_text():
    page = hostile_page()
    reader = parsed(page)
    assert "script" not in reader.seen
    assert "img" not in reader.seen
    assert "onerror=1" not in re.sub(r"&lt;img src=x onerror=1&gt;", "", page)
    assert "".join(reader.text).count("<script>alert('x')</script>") >= 9


def test_nothing_is_fetched():
    reader = parsed(hostile_page())
    assert all(link.startswith("#") for link in reader.links)
    assert not {"script", "link", "iframe", "img"} & set(reader.seen)


def test_the_parts_of_a_page_come_in_order():
    table = Table(["oxide"], [[Swatch("#3c4fa1", "dark blue")]])
    document = Document(
        "Lead", blocks=["Words", table], confidence=["Sure"], question="Title", sources=["mine"]
    )
    page = report_html(document, ["Asked"], ["Foot"])
    text = " ".join(part.strip() for part in parsed(page).text if part.strip())
    words = ("Title", "Lead", "The answer", "Words", "oxide", "#3c4fa1", "Asked", "Cautions",
             "Sure", "Optical data", "mine", "Foot")  # fmt: skip
    order = [text.index(word) for word in words]
    assert order == sorted(order)
    assert "background:#3c4fa1" in page
    assert "dark blue" in text


def test_local_codes_are_on_every_page_and_of_cautions_those_of_its_work():
    page = report_html(Document("Lead", question="Title"), [], ["Foot"])
    assert [caution in page for caution in CAUTIONS] == [False] * (len(CAUTIONS) - 1) + [True]
    own = report_html(Document("Lead", question="Title", cautions=["Hot."]), [], ["Foot"])
    assert "Hot." in own
    assert CAUTIONS[-1] in own
    assert CAUTIONS[0] not in own


def test_the_same_page_twice_is_the_same():
    assert hostile_page() == hostile_page()


@pytest.mark.parametrize("word", ["tongs", "fumes", "dust", "implode", "local codes"])
def test_the_usual_cautions_are_there(word):
    assert any(word in caution for caution in CAUTIONS)


def test_a_cell_of_twenty_letters_stays_on_one_line():
    """A longer one takes breaks, and so does a colour, whose name may stand below its code."""
    cells = ["x" * 20, "x" * 21, (Swatch("#3c4fa1", "dark blue"), "blue")]
    page = html_of(Document("Head", [Table(["a"], [[one] for one in cells])]))
    assert ['td class="short"' in row for row in page.split("<tr>")[2:]] == [True, False, False]


def test_a_notebook_shows_the_first_figure_alone():
    figure = chart_look(look("TiO2 45nm / Ti", spectrum=True))
    figures = [Figure(lambda: figure, words) for words in ("one of them", "another of them")]
    shown = html_of(Document("Head", [], figures=figures))
    assert "one of them" in shown
    assert "another of them" not in shown


@pytest.mark.parametrize(
    ("rows", "columns", "is_long"), [(20, 3, False), (21, 3, True), (21, 4, False)]
)
def test_a_slim_table_of_more_than_twenty_rows_is_printed_in_two_columns(rows, columns, is_long):
    cells = [["x"] * columns for _ in range(rows)]
    page = html_of(Document("Head", [Table(["a"] * columns, cells)]))
    assert ('<div class="wide long">' in page) is is_long
