"""How times, resistances and films that cannot be probed are put in words."""

import pytest

from oxhue.optics.assay.expectation import expect
from oxhue.optics.deposition.geometry import Piece, Placement, Source
from oxhue.optics.deposition.setup import Setup
from oxhue.optics.report.format import format_ohm
from oxhue.optics.run_sheet.run_sheet import run_sheet
from oxhue.optics.tint.heat_strip import plate_hold
from oxhue.optics.units import format_duration


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(8.25, "8.2 s"), (99.0, "99 s"), (150.0, "2 min 30 s"), (9000.0, "2 h 30 min"),
     (float("inf"), "any time")],
)  # fmt: skip
def test_times_are_said_in_the_unit_people_use(seconds, words):
    assert format_duration(seconds) == words


@pytest.mark.parametrize(
    ("ohm", "words"),
    [(0.5, "0.5 Ω"), (12.0, "12 Ω"), (999.0, "999 Ω"), (4700.0, "4.7 kΩ"), (3e7, "30 MΩ")],
)  # fmt: skip
def test_resistances_carry_a_prefix(ohm, words):
    assert format_ohm(ohm) == words


def test_what_is_expected_of_a_film_depends_on_what_it_lies_on():
    clear = expect("Ti 80nm on glass").summary()
    assert "optical density" in clear.splitlines()[0]
    assert "per square." in clear.splitlines()[0]
    assert "Oxidised shares are" in clear
    assert "insulates" in clear
    steel = expect("Ti 80nm on steel").summary()
    assert "density" not in steel.splitlines()[0]
    assert "per square" not in steel.splitlines()[0]
    assert "shorted by the base" in steel
    gold = expect("Au 30nm on glass").summary()
    assert "Oxidised shares are" not in gold


def test_a_sheet_says_size_getter_and_what_stays_dark():
    setup = Setup(Source("boat"), Placement(300.0), Piece(50.0, 30.0))
    sheet = run_sheet(
        "Al 60nm / steel", setup, pressure="3e-5mbar", getter="0.3m2", pumping="50l/s"
    )
    text = sheet.summary()
    assert "Over 50 by 30 mm" in text
    assert "3000 cm² of fresh titanium on the walls" in text
    assert "opaque" in text


def test_places_on_a_plate_come_in_millimetres_where_its_length_is_known():
    bare = plate_hold("Ti", "straw", "blue", time="20min").to_dict()["plate"]
    held = plate_hold("Ti", "straw", "blue", time="20min", along_mm=200.0)
    assert all(point["position_mm"] is None for point in bare)
    assert [point.position_mm for point in held.plate] == pytest.approx(
        [200.0 * point["position"] for point in bare]
    )
    assert isinstance(bare[0]["interval90_nm"], list)
    assert "200 mm" in held.summary()
