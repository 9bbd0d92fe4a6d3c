"""Spots of one piece in one photo, as rows of a file."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.cli.main import exit_code
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.errors import InputError
from oxhue.optics.gauge.joint.piece import gauge_one_piece
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.inference.simulate import SampledFilms, film_xyz, seen_lab

FILM, ON = "TiO2(siefke2016)", "Ti(johnson1974)"  # one pair of data sets: quick


def gradient(count=12):
    """A plate from straw to yellow, photographed a tenth too bright through 8 % of glare."""
    nm = np.linspace(15.0, 120.0, count)
    films = SampledFilms(np.zeros(count, dtype=int), nm, np.zeros(count))
    xyz = film_xyz(
        films, list_film_models((FILM,), ON), np.full(count, 10.0), viewing=ViewingConditions()
    )
    lab = seen_lab(xyz, np.full(count, 0.08), ViewingConditions(), exposure=1.1)
    return nm, lab + np.random.default_rng(4).normal(0.0, 1.0, lab.shape)


def readings(lab):
    rows = [",".join(f"{value:.3f}" for value in one) for one in lab]
    return [(str(i), parse_reading(text, "photo")) for i, text in enumerate(rows)]


def test_spots_together_find_thickness_and_what_is_wrong_with_the_photo():
    nm, lab = gradient(8)
    piece = gauge_one_piece([FILM], ON, readings(lab), rising=True)
    assert [row.id for row in piece.readings] == [str(i) for i in range(nm.size)]
    found = np.array([row.thickness_nm for row in piece.readings])
    assert np.max(np.abs(found - nm)) < 8.0
    low, high = piece.joint.gain.interval90
    assert low < 1.1 < high
    for row in piece.readings:
        assert row.interval90_nm[0] <= row.thickness_nm <= row.interval90_nm[1]
    assert piece.plain_p == min(1.0, nm.size * min(row.plain_p for row in piece.readings))
    assert piece.to_dict()["plain_p"] == piece.plain_p


def test_words_and_mixed_ways_are_refused():
    with pytest.raises(InputError, match="a word is too wide"):
        gauge_one_piece([FILM], ON, [("1", parse_reading("purple"))] * 2)
    mixed = [("1", parse_reading("#5a3a78")), ("2", parse_reading("#5a3a78", "card"))]
    with pytest.raises(InputError, match="in one way"):
        gauge_one_piece([FILM], ON, mixed)


def test_options_that_need_each_other_say_so(tmp_path, capsys):
    path = tmp_path / "spots.csv"
    path.write_text("hex\n#5a3a78\n", encoding="utf-8")
    ask = ["gauge", "--film", FILM, "--on", ON]
    assert exit_code([*ask, "--seen", "purple", "--one-piece"]) == 2
    assert exit_code([*ask, "--readings", str(path), "--rising"]) == 2
    assert exit_code([*ask, "--readings", str(path), "--in-a-row"]) == 2
    assert "go with --readings" in capsys.readouterr().err


@pytest.mark.slow
def test_spots_said_to_rise_that_fall_are_refused_in_one_sentence():
    lab = gradient(5)[1][::-1]
    with pytest.raises(InputError, match="list the spots from thin to thick"):
        gauge_one_piece([FILM], ON, readings(lab), rising=True)
