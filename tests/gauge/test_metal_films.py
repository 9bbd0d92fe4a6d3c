"""A metal film by its resistance, the light through it, and colours without an upper end."""

import json
import math

import numpy as np
import pytest

from oxhue.optics.electrical.thin_film import film_metal, metal_sheet_ohm
from oxhue.optics.errors import InputError, UnknownNameError
from oxhue.optics.gauge.batch import gauge_many
from oxhue.optics.gauge.candidates import told_region
from oxhue.optics.gauge.gauge import gauge
from oxhue.optics.gauge.result import Candidate, csv_of
from oxhue.optics.inference.measured import clearness_chances, parse_light_share, parse_sheet_ohms
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.look.look import look

GLASS = "glass 1mm"
CU = "Cu(johnson1972)"


def inside(found, nm):
    low, high = found.interval90_nm
    return low <= nm <= high


@pytest.mark.parametrize("nm", [30.0, 80.0])
def test_sheet_resistance_gives_the_thickness_of_the_electrical_model(nm):
    metal = film_metal("Cu")
    impurity, islands = (
        math.sqrt(math.prod(ends)) for ends in (metal.impurity, metal.percolation_nm)
    )
    ohm = float(metal_sheet_ohm(metal, nm, impurity, percolation_nm=islands))
    found = gauge(CU, GLASS, ohms=f"{ohm:.4f} ohm/sq")
    assert found.fits
    assert inside(found, nm)
    assert found.thickness_nm == pytest.approx(nm, rel=0.1)


def test_purer_or_fouler_metal_is_allowed_for():
    """Films at both stated bounds of impurity lie within the interval of what a meter shows."""
    metal = film_metal("Cu")
    low, high = gauge(CU, GLASS, ohms="0.6ohm/sq").interval90_nm
    for impurity in np.geomspace(*metal.impurity, 5)[1:-1]:
        nm = np.linspace(20.0, 150.0, 1301)
        ohm = metal_sheet_ohm(metal, nm, impurity, percolation_nm=metal.percolation_nm[0])
        assert low <= float(np.interp(-0.6, -ohm, nm)) <= high


@pytest.mark.parametrize("nm", [20.0, 45.0])
def test_optical_density_and_percent_say_the_same(nm):
    share = float(look(f"{CU} {nm}nm / {GLASS}").transmitted.Y) / 100.0
    by_density = gauge(CU, GLASS, through=f"OD {-math.log10(share):.6f}")
    by_percent = gauge(CU, GLASS, through=f"{100.0 * share:.6f}%")
    assert inside(by_density, nm)
    assert by_percent.thickness_nm == pytest.approx(by_density.thickness_nm, abs=1e-3)


def test_all_that_was_measured_narrows_the_answer_and_is_listed():
    ohms = gauge(CU, GLASS, ohms="0.6ohm/sq")
    both = gauge(CU, GLASS, ohms="0.6ohm/sq", through="OD 1.6")
    width = [one.interval90_nm[1] - one.interval90_nm[0] for one in (ohms, both)]
    assert width[1] < width[0]
    listed = both.to_dict()["measured"]
    assert [one["text"] for one in listed] == ["OD 1.6", "0.6ohm/sq"]
    assert "OD 1.6 and 0.6ohm/sq" in str(both)


def test_measurements_that_contradict_each_other_fit_nothing():
    found = gauge(CU, GLASS, ohms="0.6ohm/sq", through="OD 0.3")
    assert not found.fits
    assert any("no thickness fits both" in warning for warning in found.warnings)


def test_an_open_meter_means_islands():
    found = gauge("Au", GLASS, ohms="open")
    assert found.region90_nm[-1][1] <= film_metal("Au").percolation_nm[1] + 2.0


def test_opaque_metal_is_at_least_so_thick():
    found = gauge("Cu", GLASS, "pink")
    (best,) = found.candidates
    assert best.open_upward
    assert best.order is None
    assert 10.0 < found.thickness_nm < 25.0
    assert found.interval90_nm == found.region90_nm[0] == (found.thickness_nm, math.inf)
    said = found.summary()
    assert f"at least {found.thickness_nm:.0f} nm" in said
    assert "order" not in str(found)
    plain = json.loads(json.dumps(found.to_dict(), allow_nan=False))
    assert plain["interval90_nm"][1] is None
    assert plain["candidates"][0]["order"] is None


def test_what_is_at_least_does_not_hang_on_the_range_asked_about():
    """Twice the range moves the lower end by less than half the range's own growth would."""
    near, far = (gauge(CU, GLASS, "pink", between_nm=(0.0, top)) for top in (250.0, 500.0))
    assert math.isinf(far.interval90_nm[1])
    assert far.thickness_nm - near.thickness_nm < 20.0


def test_a_clear_film_keeps_its_orders_and_upper_ends():
    found = gauge("TiO2(siefke2016)", "Ti(johnson1974)", "purple", between_nm=(0.0, 60.0))
    assert all(math.isfinite(one.interval90_nm[1]) for one in found.candidates)
    assert found.candidates[0].order == 1


def test_many_readings_of_opaque_metal_are_told_so_too(monkeypatch):
    monkeypatch.setattr("oxhue.optics.gauge.batch.FEW", 2)
    rows = gauge_many(CU, GLASS, ["#ffd6c6"] * 3).readings
    assert all(math.isinf(row.interval90_nm[1]) for row in rows)
    assert csv_of(rows).splitlines()[1].split(",")[4] == ""


def test_a_look_through_metal_is_held_to_a_lamp():
    """No glare, and a dim hue counts: 50 nm of silver seen dark blue is no 200 nm."""
    found = gauge("Ag", GLASS, "silver", through="dark blue")
    doubts = found.seen[1].doubts
    assert (doubts.glare, doubts.lamp_lift) == (0.0, 30.0)
    assert inside(found, 50.0)
    assert found.interval90_nm[1] < 150.0
    assert "held to a lamp" in found.summary()


def test_stated_doubts_of_a_look_through_stay():
    reading = parse_reading("dark blue", view="through", settings={"glare": 0.1})
    found = gauge(CU, GLASS, ["silver", reading])
    assert found.seen[1].doubts.glare == 0.1


def test_a_look_through_a_clear_film_is_as_before():
    reading = parse_reading("pale blue", view="through")
    found = gauge("TiO2(siefke2016)", GLASS, reading)
    assert found.seen[0].doubts == reading.doubts
    assert "lamp_lift" not in found.to_dict()["seen"][0]["doubts"]


def test_an_interval_that_swallows_what_the_region_leaves_out_is_not_told():
    told = ("TiO2", "#000000", "black")
    hollow = Candidate(55.0, (47.8, 166.1), 1.0, 1, *told, ((46.25, 65.25),))
    assert told_region(hollow) == ((46.25, 65.25),)
    parts = ((46.0, 64.0), (150.0, 170.0))
    assert told_region(Candidate(55.0, (47.8, 166.1), 1.0, 1, *told, parts)) == parts
    plain = Candidate(55.0, (47.0, 66.0), 1.0, 1, *told, ((46.25, 65.25),))
    assert told_region(plain) == ((47.0, 66.0),)


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"ohms": "0.6"}, "no sheet resistance"),
        ({"ohms": "0ohm/sq"}, "no sheet resistance"),
        ({"through": "OD 9"}, "optical density of 0 to 8"),
        ({"through": "120%"}, "share of the light up to 100%"),
        ({"through": "0%"}, "share of the light up to 100%"),
        ({}, "at least one colour"),
    ],
)
def test_refuses_what_is_no_measurement(options, says):
    with pytest.raises(InputError, match=says):
        gauge(CU, GLASS, **options)


def test_refuses_ohms_of_a_film_whose_conduction_is_unknown():
    with pytest.raises(UnknownNameError, match="resistivity"):
        gauge("MgF2", GLASS, ohms="1ohm/sq")


def test_refuses_light_through_an_opaque_base():
    with pytest.raises(InputError, match="opaque"):
        gauge("TiO2", "Ti", through="OD 1.5")


def test_words_for_light_and_numbers_are_read():
    assert parse_light_share("purple") is None
    assert parse_light_share("OPAQUE").word == "opaque"
    assert parse_light_share("od=1.5").density == 1.5
    assert parse_light_share("10 %").density == pytest.approx(1.0)
    assert parse_sheet_ohms("4.7 kΩ/□").ohm_per_square == pytest.approx(4700.0)
    assert math.isinf(parse_sheet_ohms("open").ohm_per_square)


def test_chances_of_words_sum_to_one_and_follow_the_density():
    chances = clearness_chances(np.linspace(0.0, 8.0, 81))
    np.testing.assert_allclose(chances.sum(axis=-1), 1.0, atol=1e-9)
    assert (np.diff(chances[:, 0]) >= 0.0).all()
    assert (np.diff(chances[:, 2]) <= 0.0).all()


def test_dark_films_are_metals_by_their_absorption():
    from oxhue.optics.films.materials.catalogue import load_material
    from oxhue.optics.gauge.candidates import dims_light

    assert all(dims_light(load_material(name)) for name in ("Ag", "Au", "Cu", "Ti", "Cr"))
    assert not any(dims_light(load_material(name)) for name in ("TiO2", "SiO2", "Al2O3"))
