"""Many readings at once: the file they come in, and that each gets what it would get alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchmarks.drawn import draw_films, draw_readings
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.errors import InputError, LimitError, TableError
from oxhue.optics.gauge import batch
from oxhue.optics.gauge.batch import gauge_many, read_readings
from oxhue.optics.gauge.gauge import gauge
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.reading import Reading, parse_reading
from oxhue.optics.inference.uncertainty import DEFAULTS


def file_of(tmp_path, text):
    path = tmp_path / "dials.csv"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("id,hex\nXII,#5a3a78\nIII,6a3fa0\n", ("XII", "#5a3a78", "photo")),
        ("hex,id\n#5a3a78,XII\n", ("XII", "#5a3a78", "photo")),
        ("word\npurple\n", ("1", "purple", "word")),
        ("L,a,b\n48,20,-35\n", ("1", "48 20 -35", "instrument")),
        ("L*,a*, b*\n48,20,−35\n", ("1", "48 20 −35", "instrument")),
        ("L;a;b\n48,5;20,1;-35,0\n", ("1", "48.5 20.1 -35.0", "instrument")),
        ("\ufeffid\thex\thow\n7\t#5a3a78\tcard\n", ("7", "#5a3a78", "card")),
        ("# plates of the north dial\nhex\n#5a3a78\n\n", ("1", "#5a3a78", "photo")),
        ("hex,angle_deg\n#5a3a78,60\n", ("1", "#5a3a78", "photo")),
    ],
)
def test_files_people_keep_are_read(tmp_path, text, first):
    rows = read_readings(file_of(tmp_path, text))
    name, reading = rows[0]
    assert (name, reading.text, reading.how) == first


def test_angle_and_settings_reach_the_doubts(tmp_path):
    path = file_of(tmp_path, "hex,angle_deg\n#5a3a78,60\n#5a3a78,\n")
    (_, tilted), (_, plain) = read_readings(path, "card", {"glare": 0.3})
    assert tilted.doubts.angle_low_deg > 55.0
    assert plain.doubts == replace(DEFAULTS["card"], glare=0.3)


def test_the_angle_of_all_holds_where_a_row_states_none(tmp_path):
    path = file_of(tmp_path, "hex,angle_deg\n#5a3a78,30\n#5a3a78,\n")
    (_, own), (_, given) = read_readings(path, "card", angle="60")
    assert own.doubts.angle_high_deg < 40.0
    assert given.doubts.angle_low_deg > 55.0


def test_a_row_in_memory_has_no_column_that_is_not_read():
    with pytest.raises(InputError, match="row 1: 'angle' is unknown"):
        gauge_many("TiO2", "Ti", [{"hex": "#5a3a78", "angle": 60}])


@pytest.mark.parametrize(
    ("text", "wording"),
    [
        ("", "is empty"),
        ("hex\n", "a header and no rows"),
        ("colour\npurple\n", "needs L,a,b or hex or word"),
        ("id,L,a,b,angle\nXII,48,20,-35,60\n", "'angle' is unknown: did you mean angle_deg?"),
        ("id,hex,sd\nXII,#5a3a78,2\n", "'sd' is unknown: angle_deg, how and id are read"),
        ("hex,view\n#5a3a78,through\n", "'view' is unknown"),
        ("id,hex,L,a,b\nXII,#5a3a78,48,20,-35\n", "the colour of a row more than once"),
        ("hex,word\n#5a3a78,yellow\n", "the colour of a row more than once"),
        ("hex,hex\n#5a3a78,#5a3a78\n", "each once"),
        ("id,hex\nXII\n", "row 1: it has 1 cells, the header has 2"),
        ("hex\n#5a3a7\n", "row 1: the reading '#5a3a7' is no colour"),
        ("word\nbluple\n", "row 1: colour word 'bluple'"),
        ("L,a,b\n148,0,0\n", "row 1: the reading '148 0 0' is no CIELAB colour"),
        ("hex,how\n#5a3a78,guess\n", "row 1: unknown kind of reading 'guess'"),
    ],
)
def test_broken_files_are_refused_by_row(tmp_path, text, wording):
    with pytest.raises(TableError, match=wording):
        read_readings(file_of(tmp_path, text))


def test_too_many_rows_are_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(batch, "MAX_ROWS", 3)
    with pytest.raises(LimitError, match="4 rows; at most 3"):
        read_readings(file_of(tmp_path, "hex\n" + 4 * "#5a3a78\n"))


def test_a_row_gets_what_its_reading_gets_alone():
    readings = [("a", parse_reading("#5a3a78", "card")), ("b", parse_reading("purple"))]
    rows = gauge_many(["TiO2"], "Ti", readings).readings
    for row, (name, reading) in zip(rows, readings, strict=True):
        alone = gauge(["TiO2"], "Ti", [reading])
        assert row.id == name
        assert len(row.candidates) == len(alone.candidates)
        for one, other in zip(row.candidates, alone.candidates, strict=True):
            # Both sum in 32 bits, in another order.
            assert one.thickness_nm == pytest.approx(other.thickness_nm, abs=1e-4)
            assert one.interval90_nm == pytest.approx(other.interval90_nm, abs=1e-4)
            assert one.probability == pytest.approx(other.probability, abs=1e-5)
            assert (one.order, one.film) == (other.order, other.film)
            assert (one.srgb_hex, one.name) == (other.srgb_hex, other.name)
        assert row.interval90_nm == pytest.approx(alone.interval90_nm, abs=1e-4)
        assert row.region90_nm == alone.region90_nm
        assert row.fit_p == alone.fit_p


def test_readings_that_share_a_text_but_not_a_colour_are_kept_apart():
    """Two photos of one name, say: the text is the same, what was read is not."""
    first = parse_reading("30,40,-60", "card")
    second = replace(first, points_lab=np.array([[82.0, -10.0, 28.0]]))
    one, other = gauge_many(["TiO2"], "Ti", [("1", first), ("2", second)]).readings
    assert abs(one.thickness_nm - other.thickness_nm) > 30.0


def drawn(count, how):
    pairs, rng = list_film_models(("TiO2",), "Ti"), np.random.default_rng(5)
    doubts = DEFAULTS[how]
    films = draw_films(pairs, (0.0, 250.0), doubts.index_spread, count=count, rng=rng)
    lab = draw_readings(films, pairs, doubts=doubts, viewing=ViewingConditions(), rng=rng)
    return films.thickness_nm, [
        (str(i), Reading(f"spot {i}", how, one[None], np.ones(1), doubts))
        for i, one in enumerate(lab)
    ]


@pytest.mark.parametrize("how", [pytest.param("photo", marks=pytest.mark.slow), "card"])
def test_many_at_once_agree_with_one_by_one(how, monkeypatch):
    """Beyond FEW, glare and angle enter as normal spreads: medians move little, fits hardly."""
    _, readings = drawn(60, how)
    singly = gauge_many(["TiO2"], "Ti", readings).readings
    monkeypatch.setattr(batch, "FEW", 10)
    together = gauge_many(["TiO2"], "Ti", readings).readings
    moved = [abs(a.thickness_nm - b.thickness_nm) for a, b in zip(singly, together, strict=True)]
    assert np.median(moved) < 1.0
    assert np.mean(np.array(moved) < 5.0) > 0.9
    assert np.mean([a.fits == b.fits for a, b in zip(singly, together, strict=True)]) > 0.95
    assert [row.id for row in together] == [name for name, _ in readings]


def test_many_at_once_cover_as_stated():
    """Of 1,000 readings 90 % lie inside, within 3.5 binomial standard deviations."""
    truth, readings = drawn(1000, "photo")
    rows = gauge_many(["TiO2"], "Ti", readings).readings
    ends = np.array([row.interval90_nm for row in rows])
    inside = np.mean((ends[:, 0] <= truth) & (truth <= ends[:, 1]))
    assert abs(inside - 0.9) < 3.5 * np.sqrt(0.9 * 0.1 / truth.size)
    assert np.mean([row.fits for row in rows]) > 0.97
    for row in rows[:50]:
        assert sum(c.probability for c in row.candidates) == pytest.approx(1.0, abs=0.03)


def test_rows_that_are_no_readings_are_named_and_left_out_on_request(tmp_path):
    path = tmp_path / "pieces.csv"
    path.write_text("id,hex\na,#4477aa\nb,#zz\nc\nd,#336699\n", encoding="utf-8")
    left_out = []
    rows = read_readings(path, left_out=left_out)
    assert [name for name, _ in rows] == ["a", "d"]
    assert ["row 2" in left_out[0], "row 3" in left_out[1]] == [True, True]
    path.write_text("id,hex\nb,#zz\n", encoding="utf-8")
    with pytest.raises(TableError, match="no row that is a reading"):
        read_readings(path, left_out=[])
