"""Many readings at once: what is written as JSON, as CSV and as a table says the same."""

import csv
import io
import json
import re
from types import SimpleNamespace

import pytest
from matplotlib.colors import to_hex

from oxhue.optics.gauge.joint.piece import PieceEstimate
from oxhue.optics.gauge.joint.result import SharedValue
from oxhue.optics.gauge.result import Candidate, ManyEstimates, RowEstimate, csv_of


def row(number, fits=True, shares=(0.7, 0.3)):
    first = Candidate(20.0 + number, (18.0, 24.0), shares[0], 1, "TiO2", "#5a3a78", "purple")
    rest = [
        Candidate(150.0, (140.0, 160.0), one, 2, "TiO2", "#5a3a79", "violet") for one in shares[1:]
    ]
    return RowEstimate(
        f"p{number}", "#5a3a78", 20.0 + number, (18.0, 160.0), [(18.0, 24.0), (140.0, 160.0)],
        (first, *rest), fits, 0.4 if fits else 0.001, 0.4,
    )  # fmt: skip


def many(rows):
    return ManyEstimates(rows, ("TiO2(siefke2016)", "Ti(johnson1974)"), ())


def test_json_holds_every_candidate_and_csv_the_likeliest():
    rows = [row(1), row(2, fits=False)]
    plain = json.loads(json.dumps(many(rows).to_dict(), allow_nan=False))["readings"]
    assert [one["id"] for one in plain] == ["p1", "p2"]
    assert [one["probability"] for one in plain[0]["candidates"]] == [0.7, 0.3]
    assert plain[0]["region90_nm"] == [[18.0, 24.0], [140.0, 160.0]]
    lines = list(csv.DictReader(io.StringIO(csv_of(rows))))
    assert [line["fits"] for line in lines] == ["yes", "no"]
    first = lines[0]
    assert (first["id"], first["seen"], first["film"]) == ("p1", "#5a3a78", "TiO2")
    assert [float(first[key]) for key in ("thickness_nm", "low90_nm", "high90_nm")] == [21, 18, 160]
    assert (float(first["probability"]), first["order"], first["name"]) == (0.7, "1", "purple")


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (row(1), "gauge this piece by itself"),
        (row(1, shares=(1.0,)), "none is needed"),
        (row(1, shares=(0.99, 0.01)), "none is needed"),
        (row(1, fits=False), "make sure of the reading"),
    ],
    ids=["two orders", "one", "one by far", "does not fit"],
)
def test_each_row_says_what_to_do_about_its_piece(one, words):
    assert words in one.to_dict()["next_check"]


def test_a_table_says_which_do_not_fit_and_how_many_are_left_out():
    text = many([row(1), row(2, fits=False)]).summary()
    assert text.startswith("2 readings, 1 of which fit no film in question")
    assert "does not fit" in text
    assert "70 %" in text
    assert "list all" not in text
    long = many([row(i) for i in range(203)]).summary()
    assert long.startswith("203 readings\n")
    assert "p199" in long
    assert "p200" not in long
    assert "The first 200 of 203" in long


def piece(converged):
    shared = SharedValue(1.1, (1.05, 1.15))
    names = ("gain", "wb_a", "wb_b", "glare", "angle_deg", "index_error")
    joint = SimpleNamespace(
        **dict.fromkeys(names, shared), films={"TiO2": 0.9, "TiO2, part anatase": 0.1},
        faults={"none": 0.4, "scattering": 0.6},
        converged=converged, why="" if converged else "the sampler hardly moved",
        effective_draws=400.0, seed=1,
    )  # fmt: skip
    return PieceEstimate([row(1), row(2)], joint)


def test_spots_of_one_piece_add_what_they_share():
    plain = json.loads(json.dumps(piece(True).to_dict()))
    assert len(plain["readings"]) == 2
    assert plain["shared"]["gain"] == {"value": 1.1, "interval90": [1.05, 1.15]}
    assert plain["films"] == {"TiO2": 0.9, "TiO2, part anatase": 0.1}
    text = piece(True).summary()
    assert "Exposure off by a factor of 1.10 (1.05 to 1.15)." in text
    assert "Film: TiO2 90 %, TiO2, part anatase 10 %." in text
    assert "What all spots may share: the surface scatters light (60 %)." in text
    assert "Not to be trusted" not in text
    assert "Not to be trusted: the sampler hardly moved." in piece(False).summary()


def test_readings_are_drawn_in_the_colours_of_their_films_part_by_part():
    rows = [row(1), row(2)]
    (figure,) = many(rows).document().figures
    (ax,) = figure.draw().axes
    bars = [line.get_segments()[0] for line in ax.collections if hasattr(line, "get_segments")]
    wanted = [(place, part) for place, one in enumerate(rows, 1) for part in one.region90_nm]
    assert [(bar[0][0], (bar[0][1], bar[1][1])) for bar in bars] == wanted
    dots = ax.collections[-1]
    assert dots.get_offsets().tolist() == [[1, rows[0].thickness_nm], [2, rows[1].thickness_nm]]
    assert to_hex(dots.get_facecolor()[0]) == rows[0].candidates[0].srgb_hex


def test_one_row_in_a_notebook_has_its_candidates():
    html = row(1)._repr_html_().replace("\u00a0", " ")
    assert re.search(r"#5a3a78(</span>)? ?purple", html)
    assert "21 nm" in html
    assert many([row(1)]).summary().startswith("1 reading\n")


def test_a_table_prints_the_region_and_no_interval_that_swallows_what_it_excludes():
    text = many([row(1)]).summary()
    assert "18–24 or 140–160 nm" in text
    assert "18 to 160" not in text
