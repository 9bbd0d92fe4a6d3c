"""The next look: more telling looks are expected to leave narrower intervals."""

import numpy as np
import pytest

from benchmarks.drawn import draw_films
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.errors import InputError
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.next_look import OWNED, rank_next_looks, read_owned
from oxhue.optics.inference.simulate import SampledFilms
from oxhue.optics.inference.uncertainty import DEFAULTS

PAIRS = list_film_models(("TiO2(amorphous)",), "Ti(johnson1974)")
CARD, METER, TILT = "white card", "colour meter", "tilted to 60"


def films(count=300, between=(0.0, 250.0)):
    return draw_films(PAIRS, between, 0.025, count=count, rng=np.random.default_rng(6))


def looks(now, held=None, seed=1, pairs=PAIRS, have=OWNED):
    rng, viewing = np.random.default_rng(seed), ViewingConditions()
    return rank_next_looks(held or films(), pairs, viewing=viewing, now=now, rng=rng, have=have)


def width(checks, words):
    return next(check.expected_width_nm for check in checks if words in check.look)


def offered(checks):
    return {words for words in (CARD, METER, TILT) if any(words in c.look for c in checks)}


PHOTO = ("photo", "front", DEFAULTS["photo"])


def test_what_few_people_own_is_offered_only_where_they_say_so():
    usual = " ".join(check.look for check in looks([PHOTO], have=()))
    assert "spectrum" not in usual
    assert METER not in usual
    assert CARD in usual
    owned = " ".join(check.look for check in looks([PHOTO], have=read_owned("Spectrometer")))
    assert "spectrum" in owned
    assert METER not in owned
    assert read_owned("spectrometer, colour meter") == ("spectrometer", "colour meter")
    with pytest.raises(InputError, match="eyes, a white card and a multimeter need not") as refused:
        read_owned(["lathe"])
    assert refused.value.parameter == "have"


def test_looks_come_most_telling_first():
    checks = looks([PHOTO])
    widths = [check.expected_width_nm for check in checks]
    assert widths == sorted(widths)
    assert width(checks, METER) < width(checks, CARD) < width(checks, TILT)
    assert all(0.0 < one < 225.0 for one in widths)  # 90 % of the range is 225 nm


def test_a_better_reading_of_the_same_kind_is_expected_to_tell_more():
    word = looks([("word", "front", DEFAULTS["word"])])
    photo = looks([PHOTO])
    assert width(photo, TILT) < width(word, TILT)


def test_the_seed_fixes_the_answer():
    assert looks([PHOTO], seed=4) == looks([PHOTO], seed=4)
    assert looks([PHOTO], seed=4) != looks([PHOTO], seed=5)


@pytest.mark.parametrize(
    ("now", "expected"),
    [
        ([("word", "front", DEFAULTS["word"])], {CARD, METER, TILT}),
        ([("card", "front", DEFAULTS["card"])], {METER, TILT}),
        ([("instrument", "front", DEFAULTS["instrument"])], {TILT}),
        ([PHOTO, ("photo", "front", DEFAULTS["photo"].with_angle(60.0))], {CARD, METER}),
        ([("instrument", "front", DEFAULTS["instrument"].with_angle(60.0)), PHOTO], {CARD}),
    ],
)
def test_a_look_already_taken_is_not_offered_again(now, expected):
    assert offered(looks(now)) == expected


def test_what_is_known_stays_known():
    """Films of one thickness leave nothing to find out but the doubt of the index."""
    held = SampledFilms(np.zeros(50, dtype=np.intp), np.full(50, 80.0), np.zeros(50))
    checks = looks([PHOTO], held)
    assert all(check.expected_width_nm == pytest.approx(3.29 * 0.025 * 80.0) for check in checks)


def test_light_through_is_offered_only_where_there_is_some():
    clear = list_film_models(("TiO2(siefke2016)",), "glass 1mm")
    held = SampledFilms(np.zeros(40, dtype=np.intp), np.linspace(0.0, 200.0, 40), np.zeros(40))
    assert any("through" in check.look for check in looks([PHOTO], held, pairs=clear))
    assert not any("through" in check.look for check in looks([PHOTO]))


def test_a_meter_is_offered_where_it_would_tell_metal_from_oxide():
    """Conductors up to 30 nm or clear oxide above 100 nm: the meter leaves one or the other."""
    pairs = list_film_models(("TiN(beliaev2023-sputtering)", "TiO2(siefke2016)"), "glass 1mm")
    names = [pair.film_name for pair in pairs]
    kinds = np.repeat(
        [names.index("TiN(beliaev2023-sputtering)"), names.index("TiO2(siefke2016)")], 30
    )
    nm = np.concatenate([np.linspace(0.0, 30.0, 30), np.linspace(100.0, 160.0, 30)])
    checks = looks([PHOTO], SampledFilms(kinds, nm, np.zeros(60)), pairs=pairs)
    # Nine tenths of 30 and of 60 nm, the mean of the two, and never less than the index leaves.
    assert width(checks, "conducts") == pytest.approx(0.5 * (27.0 + 54.0), abs=3.0)
    assert not any("conducts" in check.look for check in looks([PHOTO]))


def test_a_spectrum_tells_thickness_to_what_the_index_leaves():
    checks = looks([PHOTO])
    floor = np.mean(3.29 * 0.025 * films().thickness_nm)
    assert width(checks, "spectrum") == pytest.approx(floor, rel=0.15)
