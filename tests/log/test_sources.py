"""What is said of one kind of source alone: refused of another, and not carried over to it."""

import numpy as np
import pytest

from oxhue.optics.errors import InputError
from oxhue.optics.inference.reading import complete_text, parse_reading, write_reading
from oxhue.optics.log.facts import OF_SOURCE, check_source, complete_done, repeat_source
from oxhue.optics.log.log import Log
from oxhue.optics.log.photos import read_spot
from tests.images.pictures import saved

WIRE = {"source": "wire", "metal": "Ti", "wire_diameter": "0.5mm", "wire_length": "200mm"}
HEAD = {"source": "sputter", "current": "90mA", "volts": "480V"}


@pytest.fixture
def log(tmp_path):
    with Log.open(tmp_path / "clocks.sqlite") as opened:
        opened.setup("jar", usual=WIRE)
        opened.setup("bell")
        opened.setup("kiln", kind="kiln")
        yield opened


@pytest.mark.parametrize("kind", ["point", "plane", "boat", "wire", "sputter"])
def test_each_kind_of_source_takes_what_is_its_own(kind):
    for own, names in OF_SOURCE.items():
        for name in names:
            if own == kind:
                check_source({"source": kind, name: "5mm"}, {})
                check_source({name: "5mm"}, {"source": kind})
            else:
                for said in ({"source": kind, name: "5mm"}, {name: "5mm"}):
                    with pytest.raises(InputError, match=rf"`{name}` is of a {own} source.*{kind}"):
                        check_source(said, {"source": kind})


def test_a_source_is_a_wire_where_nobody_says(log):
    assert log.record("bell", current="4.8A", wire_length="9cm").done["wire_length"] == "9cm"
    with pytest.raises(InputError, match="`volts` is of a sputter source, and this source is wire"):
        log.record("bell", volts="480V")
    with pytest.raises(InputError, match="`wire_length` is of a wire source"):
        log.plan("jar", "Ti 40nm", source="sputter", wire_length="9cm")
    with pytest.raises(InputError, match="`coil` is of a wire source, and this source is boat"):
        log.setup("other", usual={"source": "boat", "coil": "5mm,0.8mm"})
    assert len(log.runs().runs) == 1


def test_a_run_like_one_of_another_source_has_nothing_of_that_source(log):
    log.record("jar", current="6A", rate="0.3nm/s", time="12min", wire="Ti", distance="5cm")
    same = log.record("jar", like=1).done
    assert (same["current"], same["rate"], same["wire"]) == ("6A", "0.3nm/s", "Ti")
    other = log.record("jar", like=1, **HEAD).done
    assert other == HEAD | {"time": "12min", "distance": "5cm"}
    back = log.record("jar", like=3, source="wire", current="6A").done
    assert back == {"source": "wire", "current": "6A", "time": "12min", "distance": "5cm"}


def test_the_usual_wire_of_a_setup_is_not_that_of_a_sputter_head():
    whole = complete_done(HEAD, {"usual": WIRE}, {})
    assert whole == HEAD | {"metal": "Ti"}
    assert complete_done({"current": "6A"}, {"usual": WIRE}, {}) == WIRE | {"current": "6A"}
    assert repeat_source(WIRE, "wire", "wire") == WIRE


def test_a_log_asked_for_what_the_setup_has_no_use_for_says_so(log):
    log.record("kiln", metal="Ti", at="450C", time="20min")
    log.saw(1, on="Ti", seen="purple")
    log.record("jar", current="6A", time="12min")
    for name, value in (("within", 0.3), ("risk", 0.1), ("base_pressure", "1e-3mbar")):
        with pytest.raises(InputError, match=rf"`{name}` is of a jar, and 'kiln' is a kiln"):
            log.next("kiln", want="purple", **{name: value})


@pytest.mark.parametrize(("white", "how"), [(None, "photo"), ("60,0,30,40", "card")])
def test_a_colour_off_a_photo_is_kept_as_one_off_a_photo(white, how, tmp_path):
    picture = np.full((40, 90, 3), [96, 48, 120], dtype=np.uint8)
    picture[:, 60:] = 225
    kept = parse_reading(read_spot(saved(tmp_path, picture, "dial.png"), "5,5,30,30", white=white))
    assert kept.how == how
    assert kept.doubts == parse_reading("40,30,-30", how).doubts
    assert kept.doubts.gain > parse_reading("40,30,-30").doubts.gain


def test_a_reading_written_is_read_back():
    card = parse_reading("48,20,-35", "card")
    again = parse_reading(write_reading(card))
    assert (again.how, again.points_lab.tolist()) == ("card", [[48.0, 20.0, -35.0]])
    assert complete_text("gold angle=60", how="word", angle="30") == "gold angle=60 how=word"
    assert complete_text("gold how=word", how="card") == "gold how=word"
    assert complete_text(" gold ") == " gold "
