"""What every answer can do, each by the document that it is."""

import re
import sys
from dataclasses import dataclass
from types import SimpleNamespace

import pytest
from matplotlib.figure import Figure as Drawing

from oxhue.optics.errors import InputError
from oxhue.optics.report.document import Document, Figure, present
from oxhue.optics.result import Result


@dataclass(frozen=True, eq=False, repr=False)
class Dial(Result):
    verb = "look"

    headline: str
    drawn: bool = False


@dataclass(frozen=True, eq=False, repr=False)
class Dials(Dial):
    rows = "hands"

    hands: tuple[Dial, ...] = ()


@present.register
def show_dial(dial: Dial) -> Document:
    figures = [Figure(Drawing, "the first"), Figure(lambda: None, "the second")]
    return Document(dial.headline, ["A <paragraph>."], figures=figures if dial.drawn else [])


def test_a_sentence_and_the_text_of_the_terminal():
    dial = Dial("A blue dial")
    assert str(dial) == "A blue dial"
    assert dial.summary().startswith("A blue dial")
    assert "A <paragraph>." in dial.summary()


@pytest.mark.parametrize("length", [0, 5, 190, 191, 192, 193, 500])
def test_a_repr_is_one_line_of_under_200_letters(length):
    line = repr(Dial("x" * length))
    whole = f"<Dial: {'x' * length}>"
    assert line == (whole if len(whole) < 200 else f"{whole[:195]}...>")
    assert len(line) == min(len(whole), 199)
    assert repr(Dial("two\nlines  wide")) == "<Dial: two lines wide>"


def test_a_chart_is_the_first_figure_and_none_is_said():
    assert isinstance(Dial("blue", drawn=True).plot(), Drawing)
    with pytest.raises(InputError, match="a Dial has no chart"):
        Dial("blue").plot()


def test_a_notebook_shows_it_as_markup():
    html = Dial("A blue dial")._repr_html_()
    assert re.search("A blue dial", html)
    assert "A &lt;paragraph&gt;." in html


def test_rows_are_a_table_where_there_are_any(monkeypatch):
    with pytest.raises(InputError, match="a Dial is no table; to_dict"):
        Dial("blue").to_dataframe()
    monkeypatch.setitem(sys.modules, "pandas", SimpleNamespace(DataFrame=list))
    rows = Dials("all", hands=(Dial("hour"), Dial("minute"))).to_dataframe()
    assert [row["headline"] for row in rows] == ["hour", "minute"]
