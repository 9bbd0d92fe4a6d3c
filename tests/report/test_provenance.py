"""What an answer rests on: data sets, and what was taken to be off."""

from dataclasses import fields, replace

import pytest

from oxhue.optics.films.materials.catalogue import find_entry, load_material
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.stack import Stack
from oxhue.optics.inference.hypotheses import FilmModel
from oxhue.optics.inference.uncertainty import Uncertainty, uncertainty_for
from oxhue.optics.report import provenance
from oxhue.optics.report.provenance import (
    cite_sources,
    labels_of_pairs,
    labels_of_stack,
    uncertainty_table,
)


def test_each_data_set_is_cited_once_with_source_trust_and_licence():
    lines = cite_sources(["TiO2(siefke2016)", "own.csv", "TiO2(siefke2016)"])
    entry = find_entry("TiO2(siefke2016)")
    assert lines == [
        f"{entry.label}: {entry.source}, doi:{entry.doi} "
        f"(trust {entry.confidence}, {entry.licence})",
        "own.csv: not among the shipped sets",
    ]


def test_a_set_without_a_doi_is_cited_without_one(monkeypatch):
    entry = replace(find_entry("TiO2(siefke2016)"), doi="")
    monkeypatch.setattr(provenance, "find_entry", lambda _: entry)
    assert cite_sources(["TiO2"]) == [
        f"{entry.label}: {entry.source} (trust {entry.confidence}, {entry.licence})"
    ]


def test_every_doubt_has_its_words_and_its_unit():
    card = uncertainty_for("card")
    table = uncertainty_table([("#6a3fa0", "card", card)])
    assert list(table.head) == ["taken to be off, one standard deviation", "#6a3fa0 (card)"]
    said = dict(table.rows)
    assert said == {
        "scatter of the reading": "2 ΔE",
        "what the model may miss": "3 ΔE",
        "exposure, ± of its logarithm": "0.03",
        "white balance": "1 ΔE",
        "veil of glare, at most": "0.05 of the light",
        "viewing angle, from": "0 °",
        "viewing angle, to": "10 °",
        "index of the film, ±": "0.025 relative",
        "contrast a camera may add, at most": "0.4 relative",
        "light of another kind, at most": "1 of the light",
    }


def test_a_lamp_is_told_of_where_any_look_was_held_to_one():
    plain = uncertainty_for("word")
    lit = replace(plain, lamp_lift=3.0)
    rows = uncertainty_table([("gold", "word", plain), ("blue", "word", lit)]).rows
    assert len(rows) == len(fields(Uncertainty))
    assert ["dim looks lifted against a lamp, up to", "1 times", "3 times"] in [
        list(row) for row in rows
    ]


def test_films_come_before_substrates_and_each_once():
    titania, titanium = load_material("TiO2(siefke2016)"), load_material("Ti(johnson1974)")
    aluminium = load_material("Al(mcpeak2015)")
    pairs = [
        FilmModel("film", film, Stack((), base), 1.0 / 3.0)
        for film, base in ((titania, titanium), (titania, aluminium), (titanium, aluminium))
    ]
    assert labels_of_pairs(iter(pairs)) == (titania.label, titanium.label, aluminium.label)


@pytest.mark.parametrize(
    ("text", "labels"),
    [
        ("TiO2(siefke2016) 45nm / Ti(johnson1974)", ("TiO2(siefke2016)", "Ti(johnson1974)")),
        (
            "TiO2(siefke2016) 4nm / Ti(johnson1974) 4nm / glass 1mm | Al 4nm / Ti 4nm",
            ("TiO2(siefke2016)", "Ti(johnson1974)", "Al(mcpeak2015)", "glass(rubin1985-clear)"),
        ),
        ("TiO2(siefke2016):air 50% 40nm / Ti(johnson1974)",
         ("TiO2(siefke2016)", "air(unity)", "Ti(johnson1974)")),
    ],
)  # fmt: skip
def test_the_data_of_a_stack_are_those_of_all_its_media(text, labels):
    assert labels_of_stack(parse_stack(text)) == labels


def test_a_table_of_ones_own_is_named_as_that(tmp_path):
    own = tmp_path / "own.csv"
    own.write_text("wavelength_nm,n,k\n300,2.4,0\n900,2.3,0\n")
    (first, second) = labels_of_stack(parse_stack(f'"{own}" 45nm / Ti(johnson1974)'))
    assert first.endswith(", a table of your own")
    assert second == "Ti(johnson1974)"
