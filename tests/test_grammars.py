"""Inputs drawn by their structure: every reader gives what was meant, or refuses in one sentence.

Bugs that were mended are put back, one at a time, and the grammar of that input has to find each:
none of its own values stands in a grammar.
"""

import json
import math
import re
import zipfile
from contextlib import nullcontext
from contextvars import copy_context
from http.cookies import SimpleCookie

import numpy as np
import pytest

from benchmarks.fuzz import face_grammars, grammars
from benchmarks.fuzz.grammars import GRAMMARS, draw_many, draw_one, draw_plainly
from oxhue.optics import units
from oxhue.optics.assay import inputs as assay_inputs
from oxhue.optics.deposition import jar
from oxhue.optics.design import goal_reader
from oxhue.optics.files import atomic, spectrum
from oxhue.optics.films import written
from oxhue.optics.films.materials import nk_table, user_table
from oxhue.optics.gauge import batch
from oxhue.optics.images import decode
from oxhue.optics.log import exchange, queries
from oxhue.optics.oxidation import log_file
from oxhue.optics.report import csv, style, terminal
from oxhue.optics.tint import coupon_file, saved_draws
from oxhue.page import access, fields
from oxhue.page.questions import log_file as packed_log

QUICK = {"titles": 12, "paths": 40, "cells": 50, "words": 80}
FEWER = QUICK | {"jars": 20, "notations": 30, "spectra": 40, "words": 30, "cells": 20}
"""Drawn and shrunk they take longer."""


@pytest.fixture(autouse=True)
def _titles_alone(monkeypatch):
    """Charts are titled without their axes, which take most of the time to draw."""

    def bare_axes():
        axes = style.new_axes()
        axes.set_axis_off()
        axes.set(xticks=[], yticks=[])  # they are made even where they are not drawn
        return axes

    monkeypatch.setattr(face_grammars, "new_axes", bare_axes)


@pytest.mark.parametrize("name", GRAMMARS)
def test_what_a_grammar_draws_is_read_or_refused(name):
    draw_many(name, FEWER.get(name, 60))


@pytest.mark.parametrize("name", GRAMMARS)
def test_plain_draws_are_numbered_and_some_are_answered(name):
    count = QUICK.get(name, 150)
    answered, failed = draw_plainly(name, 0, count)
    assert failed == []
    assert answered >= 0.02 * count
    assert repr(draw_one(name, 3)) == repr(draw_one(name, 3))
    assert len({repr(draw_one(name, number)) for number in range(20)}) > 10


def test_the_record_goes_on_where_it_stopped(tmp_path, monkeypatch):
    record = tmp_path / "fuzz.md"
    record.write_text("# Record\n")
    monkeypatch.setattr(grammars, "RECORD", record)
    monkeypatch.setattr(grammars, "_EVERY", 7)
    grammars.draw_up_to("hosts", 10)
    first = record.read_text().splitlines()[1]
    assert " | 0..9 | " in first
    grammars.draw_up_to("hosts", 25)
    head, row = record.read_text().splitlines()
    assert head == "# Record"
    assert " | 0..24 | " in row
    answered = draw_plainly("hosts", 0, 25)[0]
    assert f"| {answered} | 0 |" in row


def nothing(*_, **__):
    """In place of a check."""


def put_back(module, name, old):
    """A bug: a name of a module as it once was."""
    return lambda monkeypatch: monkeypatch.setattr(module, name, old)


def simple_cookie(headers, name):
    found = SimpleCookie(headers.get("cookie", "")).get(name)
    return None if found is None else found.value


def unquoted_cookie(headers, name):
    from starlette.requests import cookie_parser

    return cookie_parser(headers.get("cookie", "")).get(name)


def only_the_first_colour(names):
    """Columns nobody knows are left aside, and of two colours the first counts."""
    folded = {name.casefold() for name in names}
    return "" if any(way <= folded for way in batch._COLOUR_COLUMNS) else "no colour"


def every_hash_a_remark(text):
    lines = enumerate(text.splitlines(), 1)
    return [(n, line) for n, line in lines if line.strip() and line[0] != "#"]


def torn_lines(text, where, read=exchange._from_lines):
    """Rows that end where any program would end a line."""
    return read("\n".join(text.splitlines()), where)


def decimal_comma(text, dimension, what, read=units.parse_quantity):
    """A comma taken for a point."""
    return read(text.replace(",", "."), dimension, what)


def known_or_left_aside(cells, _where):
    """Columns by what they begin with."""
    folded = {name.casefold(): name for name in coupon_file.COLUMNS}
    stems = {"temperature": "temperature_C", "temp": "temperature_C", "time": "time_min"}
    return [folded.get(c.casefold()) or stems.get(c.rpartition("_")[0], "id") for c in cells]


def any_numbers(rows, _where):
    """Optical constants whatever they are."""
    return tuple(np.array(rows, dtype=float).T[:3])


def forget_inputs(path, shown, check=atomic._check_target):
    """The target of a file, whatever was read."""

    def without():
        atomic._inputs.set(None)
        return check(path, shown)

    return copy_context().run(without)


BUGS = {
    "a whole number beyond any float in a jar": ("jars", [(jar, "is_finite", math.isfinite)]),
    "a whole number beyond any float in a kiln": (
        "saved", [(saved_draws, "is_finite", math.isfinite)]),
    "columns nobody knows, and the worse of two colours": (
        "readings", [(batch, "_fault_of_columns", only_the_first_colour)]),
    "a log whose decimal commas move every column": (
        "heat logs", [(log_file, "_check_widths", nothing)]),
    "hex values in front taken for remarks": (
        "pieces", [(coupon_file, "_without_remarks", every_hash_a_remark)]),
    "columns nobody knows taken for those of test pieces": (
        "pieces", [(coupon_file, "_read_head", known_or_left_aside)]),
    "absorbance read as reflectance": ("spectra", [(spectrum, "_check_meaning", nothing)]),
    "two scans merged into one zigzag": ("spectra", [(spectrum, "_refuse_two_scans", nothing)]),
    "n - ik from a program": ("memory", [(nk_table, "check_columns", any_numbers)]),
    "n - ik in a table": ("constants", [
        (nk_table, "check_columns", any_numbers), (user_table, "check_columns", any_numbers)]),
    "a reflectance in percent, or not a number, from a program": (
        "memory", [(spectrum.Spectrum, "__post_init__", nothing)]),
    "a stack that is written as another": ("stacks", [(written, "_check_medium", nothing)]),
    "how a PNG states PQ, HLG or P3 left aside": (
        "photos", [(decode, "_find_cicp", lambda _: b"")]),
    "photos that lie on their side": ("photos", [(decode, "_orientation", lambda _: 1)]),
    "what decoders raise let through": ("photos", [(decode, "_UNDECODABLE", (OSError,))]),
    "formulas of a chart in a name": ("titles", [
        (style, "take_words_as_words", nothing),
        (style, "_OUTPUT", style._OUTPUT | {"text.parse_math": True})]),
    "letters the font lacks told on stderr": (
        "titles", [(style, "_boxes_for_letters", nullcontext)]),
    "commands of a terminal in a name": ("names", [(terminal, "show_controls", str)]),
    "formulas of a spreadsheet in a name": ("names", [(csv, "cell_of", str)]),
    "cookies of other programs that lock the page": (
        "cookies", [(access, "_find_cookie", simple_cookie)]),
    "one cookie that keeps the page from everybody": (
        "cookies", [(access, "_find_cookie", unquoted_cookie)]),
    "a field beyond any float": ("fields", [(fields, "_is_finite", math.isfinite)]),
    "the usual port, which browsers leave out": ("hosts", [(access, "_USUAL_PORT", 0)]),
    "an input written over": ("paths", [(atomic, "_check_target", forget_inputs)]),
    "names no file can have": ("paths", [(atomic, "show_path", nothing), (
        face_grammars, "check_target", lambda path: atomic._check_target(path, "it"))]),
    "a decimal comma taken for a point": ("quantities", [(units, "parse_quantity", decimal_comma)]),
    "sentences as long as the number they quote": (
        "quantities", [(units, "shorten", lambda text, _=60: text)]),
    "kΩ taken for Ω": ("meters", [
        (assay_inputs, "_OHM_UNITS", assay_inputs._OHM_UNITS | {"K": 1.0, "k": 1.0})]),
    "ends of lines that tear an export": ("words", [(exchange, "_from_lines", torn_lines)]),
    "a cell of a log that is no JSON": ("cells", [(queries, "_read_table", json.loads)]),
    "bytes changed in a packed log": (
        "packed logs", [(packed_log, "_DAMAGED", (zipfile.BadZipFile,))]),
    "a relation of two signs": ("goals", [
        (goal_reader, "_RELATION", re.compile("([<>])()|(=)"))]),
}  # fmt: skip
"""Each bug by the grammar that has to find it, and what was otherwise in which module."""


RARE = {
    "a whole number beyond any float in a jar",
    "formulas of a chart in a name",
    "one cookie that keeps the page from everybody",
}
"""Bugs that few draws meet, or slow ones."""


@pytest.mark.parametrize(
    "bug", [pytest.param(bug, marks=pytest.mark.slow) if bug in RARE else bug for bug in BUGS]
)
def test_a_bug_that_was_mended_is_found_when_it_is_put_back(bug, monkeypatch):
    name, changes = BUGS[bug]
    for module, attribute, old in changes:
        monkeypatch.setattr(module, attribute, old)
    assert any(draw_plainly(name, number, 1)[1] for number in range(3_000))


def test_what_fails_is_shrunk(monkeypatch):
    seen = []

    def check(drawn):
        seen.append(drawn)
        return face_grammars.check_host(drawn)

    monkeypatch.setattr(access, "_USUAL_PORT", 0)
    monkeypatch.setitem(GRAMMARS, "hosts", grammars.Grammar(face_grammars.draw_host, check))
    with pytest.raises(AssertionError, match="turned away"):
        draw_many("hosts", 300)
    assert seen[-1] == (80, "127.0.0.1", "127.0.0.1", True)
