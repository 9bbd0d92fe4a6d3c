"""Documents on a terminal: no word and no colour value is ever broken, whatever the width."""

import io

import pytest
from rich.console import Console
from rich.text import Text

from oxhue.optics.report import terminal
from oxhue.optics.report.document import Document, Figure, Heading, Items, Note, Swatch, Table
from oxhue.optics.report.terminal import console, print_document, text_of

ROWS = [
    ["TiO2(siefke2016)", Swatch("#f2eee3", "clear"), "consistent with what was seen", "0.45"],
    ["SiO2(lemarchand2013)", Swatch("#5d6c85", "pale blue-green"), "", "12"],
]
HEAD = ["material", "colour", "what it means", "share"]


def rendered(document, width, colours=None):
    stream = io.StringIO()
    out = Console(
        file=stream, width=width, markup=False, highlight=False, color_system=colours,
        force_terminal=colours is not None, _environ={},
    )  # fmt: skip
    print_document(document, out)
    return stream.getvalue()


@pytest.mark.parametrize("colours", [None, "truecolor"])
@pytest.mark.parametrize("width", [24, 40, 60, 70, 80, 120])
def test_no_word_is_broken_at_any_width(width, colours):
    document = Document("An answer", [Table(HEAD, ROWS, optional=["share", "what it means"])])
    text = rendered(document, width, colours)
    for word in ("TiO2(siefke2016)", "SiO2(lemarchand2013)", "#f2eee3", "#5d6c85", "clear"):
        assert word in text


def test_optional_columns_leave_in_their_order():
    document = Document("An answer", [Table(HEAD, ROWS, optional=["share", "what it means"])])
    assert "share" in rendered(document, 120)
    middle = rendered(document, 53)  # the least for it: no name of two words is broken
    assert "share" not in middle
    assert "consistent" in middle
    narrow = rendered(document, 52)
    assert "consistent" not in narrow


def test_the_answer_comes_first_then_cautions_and_data_last():
    document = Document(
        "45 nm", ["Read off a photo.", Items(["one", "two"]), Note("Light D65.")],
        cautions=["Hot metal looks like cold metal."], sources=["TiO2(siefke2016)"],
    )  # fmt: skip
    lines = [line for line in rendered(document, 80).splitlines() if line.strip()]
    assert lines == [
        "45 nm", "Read off a photo.", "  - one", "  - two", "Light D65.",
        "Caution. Hot metal looks like cold metal.", "Optical data: TiO2(siefke2016).",
    ]  # fmt: skip


def test_further_cautions_are_pointed_to():
    document = Document("45 nm", cautions=["Hot.", "Sharp.", "Heavy."])
    stream = io.StringIO()
    print_document(document, Console(file=stream, width=80), more="see the report")
    assert "Caution. Hot. (2 more cautions: see the report.)" in stream.getvalue()


def test_one_further_caution_is_one_and_all_are_printed_where_nothing_points_on():
    said = []
    for cautions, more in ((["Hot.", "Sharp."], "see it"), (["Hot."], "see it"), (["a", "b"], "")):
        stream = io.StringIO()
        print_document(Document("x", cautions=cautions), Console(file=stream), more=more)
        said.append(stream.getvalue().split("\n")[1:-1])
    assert said == [
        ["Caution. Hot. (1 more caution: see it.)"], ["Caution. Hot."], ["Caution. a", "Caution. b"]
    ]  # fmt: skip


def test_headings_stand_free_and_a_figure_is_left_to_the_report():
    shown = text_of(Document("x", [Heading("Why"), "So.", Figure(lambda: None, "a chart")]))
    assert shown == "x\n\n\nWhy\nSo."


def test_a_patch_of_colour_is_shown_where_the_terminal_has_colours():
    line = Document("x", [("it is ", Swatch("#f2eee3", "clear"))])
    assert rendered(line, 80).splitlines()[-1] == "it is #f2eee3  clear"
    plain = rendered(line, 80, "truecolor").splitlines()[-1]
    assert "48;2;242;238;227m      \x1b[0m #f2eee3  clear" in plain


def test_a_table_that_cannot_fit_is_a_list_of_its_cells_that_are_not_empty():
    rows = [["TiO2(siefke2016)", ""], ["Ti", "as is"]]
    shown = rendered(Document("x", [Table(["material", "note"], rows)]), 12)
    lines = [line.rstrip() for line in shown.splitlines() if line.strip()]
    assert lines[0] == "x"
    assert "note" in lines[-2] + lines[-1]
    assert sum("note" in line for line in lines) == 1


def test_a_pipe_is_a_hundred_wide_and_takes_brackets_as_they_are():
    stream = io.StringIO()
    out = console(stream)
    assert out.width == 100
    print_document(Document("[bold]a[/bold] :smile: " + "x" * 120), out)
    assert stream.getvalue() == "[bold]a[/bold] :smile: " + "x" * 120 + "\n"


@pytest.mark.parametrize("width", [30, 31, 32, 33, 34, 40])
def test_a_table_uses_the_room_there_is_and_no_more(width):
    rows = [["a word and another and a third", "b"], ["c", "two words and more of them"]]
    shown = rendered(Document("x", [Table(["first", "second"], rows)]), width)
    longest = max(map(len, shown.splitlines()))
    assert longest <= width
    assert "third" in shown


def test_a_table_that_just_fits_is_not_narrowed():
    rows = [["a word and another and a third", "b"], ["c", "two words and more of them"]]
    table = Document("x", [Table(["first", "second"], rows)])
    room = len(rows[0][0]) + len(rows[1][1]) + 3 * 2 - 1

    def lines_at(width):
        return len([line for line in rendered(table, width).splitlines() if line.strip()])

    assert lines_at(room) == lines_at(200) == 5  # the answer, names, a rule and two rows
    assert lines_at(room - 1) > 5


@pytest.mark.parametrize(
    ("width", "lines"),
    [(8, "aa bb cc"), (7, "aa bb\ncc"), (5, "aa bb\ncc"), (4, "aa\nbb\ncc"), (1, "aa\nbb\ncc")],
)
def test_a_line_is_filled_to_its_last_letter(width, lines):
    assert terminal._broken(Text("aa bb cc"), width).plain == lines
