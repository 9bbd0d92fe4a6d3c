"""Documents on a terminal: no word and no colour value is ever broken, whatever the width."""

import io

import pytest
from rich.console import Console

from oxhue.optics.report.document import Document, Items, Note, Swatch, Table
from oxhue.optics.report.terminal import print_document

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
    middle = rendered(document, 52)
    assert "share" not in middle
    assert "consistent" in middle
    narrow = rendered(document, 44)
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
