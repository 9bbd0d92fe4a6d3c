"""A page that stands alone: everything given is escaped, nothing is fetched."""

import re
from html.parser import HTMLParser

import pytest

from oxhue.optics.look.look import look
from oxhue.optics.look.plots import chart_look
from oxhue.optics.show.old_html import CAUTIONS, Section, report_html
from oxhue.optics.show.old_paper import Drawing, Paper, PaperItems, PaperTable, swatch_line
from oxhue.optics.show.text import format_swatch, new_table

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
        self.text.append(data)


def parsed(page):
    reader = Balanced()
    reader.feed(page)
    reader.close()
    assert reader.open == []
    return reader


def hostile_page():
    figure = chart_look(look("TiO2 45nm / Ti", spectrum=True))
    table = PaperTable([HOSTILE], [[HOSTILE], [swatch_line(HOSTILE, HOSTILE)]])
    blocks = [
        HOSTILE,
        swatch_line(HOSTILE, ""),
        table,
        Drawing(figure, HOSTILE),
        PaperItems([HOSTILE]),
    ]
    return report_html(HOSTILE, HOSTILE, [Section(HOSTILE, blocks)], [HOSTILE, HOSTILE])


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


def test_the_parts_of_a_section_come_in_order():
    page = report_html(
        "Title",
        "Lead",
        [
            Section(
                "Plate", ["Words", PaperTable(["oxide"], [[swatch_line("#3c4fa1", "dark blue")]])]
            )
        ],
        ["Foot"],
    )
    text = " ".join(part.strip() for part in parsed(page).text if part.strip())
    order = [text.index(word) for word in ("Title", "Lead", "Plate", "Words", "oxide", "#3c4fa1")]
    assert order == sorted(order)
    assert "background:#3c4fa1" in page
    assert "dark blue" in text


def test_the_same_page_twice_is_the_same():
    assert hostile_page() == hostile_page()


def test_what_is_printed_is_taken_down_in_its_parts():
    """The page says what the terminal says: words, tables with patches, lists, cautions apart."""
    paper = Paper()
    paper.print("About 37 nm.")
    paper.print()
    table = new_table("thickness", "colour")
    table.add_row("37 nm", format_swatch("#73346a", "purple", paper))
    paper.print(table)
    paper.print("Colour: ", format_swatch("#73346a", "purple", paper))
    for line in ("  - first", "  - second", "Caution. Hot.", "Next: look again."):
        paper.print(line)
    words, drawn, colour, items, last = paper.blocks
    assert words == "About 37 nm."
    assert drawn.head == ["thickness", "colour"]
    assert drawn.rows == [("37 nm", swatch_line("#73346a", "purple"))]
    assert colour == ("Colour: ", *swatch_line("#73346a", "purple"))
    assert items == PaperItems(["first", "second"])
    assert last == "Next: look again."
    assert paper.cautions == ["Hot."]


@pytest.mark.parametrize("word", ["tongs", "fumes", "dust", "implode", "local codes"])
def test_the_usual_cautions_are_there(word):
    assert any(word in caution for caution in CAUTIONS)
