"""How thick is it? The whole answer, for words and colours whose order everybody knows."""

import numpy as np
import pytest

from oxhue.optics.colour.colour import to_colour
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.errors import InputError, OutOfRangeError
from oxhue.optics.films.notation import parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.gauge.gauge import gauge
from oxhue.optics.gauge.result import ramp_of
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.numerics.integrate import trapezoid


def read(*texts, **options):
    return [parse_reading(text, **options) for text in texts]


def first_order(word, film="TiO2", on="Ti"):
    estimate = gauge([film], on, read(word))
    return next(one for one in estimate.candidates if one.order == 1)


def test_titanium_words_come_in_rising_thickness():
    """The order of every chart of tinted titanium: straw, gold, purple, blue."""
    found = [first_order(word).thickness_nm for word in ("straw", "gold", "purple", "blue")]
    assert found == sorted(found)
    assert 10.0 < found[0] < found[-1] < 70.0


@pytest.fixture(scope="module")
def purple():
    return gauge(["TiO2"], "Ti", read("purple"))


def test_an_estimate_hangs_together(purple):
    assert purple.fits
    assert purple.fit_p >= 0.01
    shares = [one.probability for one in purple.candidates]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) == pytest.approx(1.0, abs=0.01)
    assert sum(purple.films.values()) == pytest.approx(1.0)
    assert purple.thickness_nm == purple.candidates[0].thickness_nm
    assert trapezoid(purple.density, purple.grid_nm) == pytest.approx(1.0)
    for one in purple.candidates:
        assert one.interval90_nm[0] < one.thickness_nm < one.interval90_nm[1]
    orders = {one.thickness_nm: one.order for one in purple.candidates}
    assert [orders[d] for d in sorted(orders)] == [1, 2, 3]
    inside = sum(
        trapezoid(purple.density[rows], purple.grid_nm[rows])
        for low, high in purple.region90_nm
        for rows in [(purple.grid_nm >= low) & (purple.grid_nm <= high)]
    )
    assert inside == pytest.approx(0.90, abs=0.02)


def test_the_colours_a_film_runs_through_cover_the_whole_range(purple):
    nm, seen = ramp_of(purple)
    assert (nm[0], nm[-1]) == purple.between_nm
    np.testing.assert_allclose(np.diff(nm), 1.0)
    assert nm.shape == seen.srgb_hex.shape == seen.name.shape
    likeliest = purple.candidates[0]
    assert seen.name[int(likeliest.thickness_nm)] == likeliest.name


def test_a_colour_meter_finds_the_film_again():
    stack = "TiO2(siefke2016) 62nm / Ti(johnson1974)"
    lab = to_colour(solve(parse_stack(stack))).lab
    text = ",".join(f"{value:.2f}" for value in lab)
    estimate = gauge(["TiO2(siefke2016)"], "Ti(johnson1974)", read(text))
    assert estimate.thickness_nm == pytest.approx(62.0, abs=1.0)
    low, high = estimate.interval90_nm
    assert low < 62.0 < high
    assert high - low < 12.0
    assert estimate.optical_thickness_nm == pytest.approx(
        62.0 * parse_stack(stack).layers[0].medium.nk(550.0).real, rel=0.02
    )


def test_other_light_and_observer_are_used():
    """A colour under lamplight is gauged by its lamplight colours, and not by daylight's."""
    viewing = ViewingConditions("A", 10)
    lab = to_colour(solve(parse_stack("TiO2(siefke2016) 62nm / Ti(johnson1974)")), "A", 10).lab
    text = ",".join(f"{value:.2f}" for value in lab)
    film, on = ["TiO2(siefke2016)"], "Ti(johnson1974)"
    right = gauge(film, on, read(text), conditions=viewing)
    assert right.thickness_nm == pytest.approx(62.0, abs=1.0)
    assert right.candidates[0].name != gauge(film, on, read(text)).candidates[0].name or (
        abs(gauge(film, on, read(text)).thickness_nm - 62.0) > 1.0
    )


def test_a_foreign_colour_is_said_not_to_fit_and_no_look_is_advised():
    estimate = gauge(["Fe3O4"], "Fe", read("#00ff00"))
    assert not estimate.fits
    assert "none of those in question shows this colour" in estimate.next_check


def test_colours_seen_earlier_choose_the_order():
    """Straw and blue came before: the purple on the plate is that of the second order."""
    film, on = ["TiO2(siefke2016)"], "Ti(johnson1974)"
    alone = gauge(film, on, read("purple"))
    after_blue = gauge(film, on, read("purple"), before=read("straw", "blue"))
    assert alone.candidates[0].order == 1
    assert after_blue.candidates[0].order == 2
    assert after_blue.candidates[0].probability > 0.7


def test_earlier_colours_that_cannot_be_earlier_are_pointed_out():
    film, on = ["TiO2(siefke2016)"], "Ti(johnson1974)"
    estimate = gauge(film, on, read("straw"), between_nm=(0.0, 60.0), before=read("dark blue"))
    assert not estimate.fits
    assert any("earlier" in warning for warning in estimate.warnings)


def test_an_earlier_colour_that_no_film_shows_does_not_fit_either():
    film, on = ["Fe3O4"], "Fe"
    estimate = gauge(film, on, read("purple"), before=read("#00ff00"))
    assert not estimate.fits
    assert any("named as earlier, #00ff00" in warning for warning in estimate.warnings)
    among = gauge(film, on, read("blue"), before=read("straw", "purple"))
    assert among.fits
    assert not among.warnings


def test_what_cannot_be_answered_is_refused():
    with pytest.raises(InputError, match="at least one colour"):
        gauge(["TiO2"], "Ti", [])
    with pytest.raises(OutOfRangeError, match="the seed is -1"):
        gauge(["TiO2"], "Ti", read("purple"), seed=-1)
    with pytest.raises(OutOfRangeError, match="must run upwards"):
        gauge(["TiO2"], "Ti", read("purple"), between_nm=(250.0, 0.0))
    with pytest.raises(InputError, match="same index_spread"):
        gauge(["TiO2"], "Ti", [*read("purple"), *read("blue", settings={"index_spread": 0.05})])


def test_the_order_of_looks_does_not_matter():
    looks = [parse_reading("purple"), parse_reading("#8a4a80", "card"), parse_reading("45,30,-20")]
    films, on = ["TiO2(siefke2016)"], "Ti(johnson1974)"
    one, other = (gauge(films, on, order) for order in (looks, looks[::-1]))
    np.testing.assert_allclose(other.density, one.density, rtol=1e-4, atol=1e-9)  # 32 bits within
    assert other.thickness_nm == pytest.approx(one.thickness_nm, abs=1e-3)
    assert other.interval90_nm == pytest.approx(one.interval90_nm, abs=1e-3)
