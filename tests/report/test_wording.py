"""No face looks at wording: what is said in other letters is shown in the same way."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass, replace

import pytest

import oxhue
from oxhue.optics.report.blocks import document_dict
from oxhue.optics.report.csv import document_csv
from oxhue.optics.report.document import Swatch
from oxhue.optics.report.html import html_of, report_html
from oxhue.optics.report.terminal import text_of

OTHER = str.maketrans(
    "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ",
    "nopqrstuvwxyzabcdefghijklmNOPQRSTUVWXYZABCDEFGHIJKLM",
)
FILM = {"on": "Ti(johnson1974)", "seen": "purple"}
ASKED = {
    "look": lambda: oxhue.look("TiO2 45nm / Ti"),
    "look at many": lambda: oxhue.look("TiO2 0..200nm step 20nm / Ti"),
    "gauge": lambda: oxhue.gauge("TiO2(siefke2016)", **FILM),
    "tint": lambda: oxhue.tint("Ti", "450C", "20min"),
    "assay": lambda: oxhue.assay(metal="Ti", on="glass", seen="gold", ohms="open"),
    "sheet": lambda: oxhue.run_sheet(
        "Ti 80nm / glass", source="boat", distance="30cm", rate="1nm/s", pressure="1e-4mbar"
    ),
}


def in_other_letters(told):
    """The same parts with each letter of their words replaced; colours stay."""
    if isinstance(told, str):
        return told.translate(OTHER)
    if isinstance(told, Swatch):
        return replace(told, name=told.name.translate(OTHER))
    if is_dataclass(told):
        parts = {one.name: in_other_letters(getattr(told, one.name)) for one in fields(told)}
        return replace(told, **parts)
    if isinstance(told, list | tuple):
        return type(told)(in_other_letters(one) for one in told)
    return told


def shape_of(html):
    """Its tags with their attributes, without the words between them."""
    return re.findall(r"<[^>]*>", html)


@pytest.fixture(scope="module", params=ASKED)
def both(request):
    """An answer's document without charts, labels of data and usual cautions, and the other."""
    told = replace(ASKED[request.param]().document(), figures=(), sources=(), cautions=())
    return told, in_other_letters(told)


def test_terminal_and_table_are_laid_out_alike(both):
    told, other = both
    assert text_of(told) != text_of(other)
    assert [len(line) for line in text_of(told).splitlines()] == [
        len(line) for line in text_of(other).splitlines()
    ]
    shapes = [[line.count(",") for line in document_csv(one).splitlines()] for one in (told, other)]
    assert shapes[0] == shapes[1]


def test_report_and_notebook_have_the_same_tags(both):
    told, other = both
    assert shape_of(html_of(told)) == shape_of(html_of(other))
    reports = [report_html(one, one.blocks, ["made by hand"]) for one in both]
    assert shape_of(reports[0]) == shape_of(reports[1])
    assert len(shape_of(reports[0])) > 30


def without_words(data):
    """Plain data with every text but a colour's left out."""
    if isinstance(data, dict):
        return {key: one if key == "hex" else without_words(one) for key, one in data.items()}
    if isinstance(data, list):
        return [without_words(one) for one in data]
    return None


def test_the_page_is_given_the_same_blocks(both):
    told, other = (without_words(document_dict(one)) for one in both)
    assert told == other
