"""A jar from its parts and from its file; gauges in argon."""

import time

import pytest

from oxhue.optics.deposition.jar import MOST_BYTES, Jar, as_jar, make_jar, working_gas_of
from oxhue.optics.deposition.pump import Pump, Tube
from oxhue.optics.deposition.rise_test import RiseTest
from oxhue.optics.errors import InputError, OutOfRangeError, UnknownNameError

WRITTEN = """
name = "three-litre bell jar"
volume = "3l"
pumping = "2l/s"
ultimate = "1e-3mbar"
tube = "1m,8mm"
rise = "5e-3mbar,5e-2mbar,60s"
gauge = "pirani"
plastic = true
"""


@pytest.fixture
def written(tmp_path):
    path = tmp_path / "jar.toml"
    path.write_text(WRITTEN, encoding="utf-8")
    return path


def test_a_jar_of_a_file_is_that_of_its_parts(written):
    jar = as_jar(written)
    assert jar == Jar(
        volume_l=3.0,
        pump=Pump(2.0, 1e-3, Tube(100.0, 0.8)),
        rise=RiseTest((0.0, 60.0), (5e-3, 5e-2)),
        gauge="pirani",
        plastic=True,
        name="three-litre bell jar",
    )
    assert as_jar(str(written)) == jar
    assert as_jar(jar) is not None


def test_parts_take_the_place_of_the_jars_own(written):
    jar = as_jar(written, pumping="5l/s", leak="1e-4mbar.l/s", gauge=None)
    assert jar.pump == Pump(5.0, 1e-3, Tube(100.0, 0.8))
    assert (jar.rise, jar.leak_mbar_l_s, jar.gauge) == (None, 1e-4, "pirani")
    assert as_jar(jar, rise="1e-3mbar,2e-3mbar,10s").leak_mbar_l_s is None


def test_numbers_have_the_unit_of_their_field():
    assert make_jar(volume=3, pumping=2.0, leak=1e-3) == make_jar(
        volume="3l", pumping="2l/s", leak="1e-3mbar.l/s"
    )
    assert make_jar(leak="1sccm").leak_mbar_l_s == pytest.approx(1.8124e-2, rel=1e-4)
    assert make_jar(leak="1e-4Pa.m3/s").leak_mbar_l_s == pytest.approx(1e-3)


def test_walls_are_those_of_a_cylinder_as_high_as_wide():
    assert Jar(volume_l=3.0).inner_cm2 == pytest.approx(1151.0, rel=1e-3)
    assert Jar(walls_cm2=2000.0).inner_cm2 == 2000.0


@pytest.mark.parametrize(
    ("gauge", "reading", "true"),
    [("pirani", 1e-2, 1.7e-2), ("ion", 1e-4, 0.8e-4), ("absolute", 1e-2, 1e-2)],
)
def test_gauges_in_argon(gauge, reading, true):
    assert Jar(gauge=gauge).true_pressure_mbar(reading) == pytest.approx(true, rel=1e-12)


def test_a_gauge_is_not_read_beyond_its_span():
    with pytest.raises(OutOfRangeError, match="nothing above 1 mbar"):
        Jar(gauge="pirani").true_pressure_mbar(5.0)


def test_working_gases():
    assert [working_gas_of(one) for one in ("argon", "Ar", "nitrogen", None)] == [
        "Ar", "Ar", "N2", None,
    ]  # fmt: skip
    with pytest.raises(UnknownNameError, match="argon"):
        working_gas_of("argone")


@pytest.mark.parametrize(
    ("parts", "named"),
    [
        ({"volume": "3s"}, None),
        ({"volume": 0.0}, "volume"),
        ({"volume": True}, "volume"),
        ({"leak": -1.0}, "leak"),
        ({"gauge": "piranha"}, "gauge"),
        ({"gauge": 3}, "gauge"),
        ({"residue": "argon"}, "residue"),
        ({"plastic": "yes"}, "plastic"),
        ({"tube": "1m,8mm"}, "tube"),
        ({"ultimate": 1e-3}, "ultimate"),
        ({"base_pressure": float("nan")}, "base_pressure"),
    ],
)
def test_parts_that_are_refused_are_named(parts, named):
    with pytest.raises(InputError) as refused:
        make_jar(**parts)
    assert refused.value.parameter == named


def test_an_unknown_part_is_suggested():
    with pytest.raises(UnknownNameError, match="volume"):
        make_jar(volum="3l")


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"volume = ", "no TOML file"),
        (b"\xff\xfe\x00", "no TOML file"),
        (b'volume = "3l"\nvolume = "4l"', "no TOML file"),
        (b'colour = "red"', "jar.toml: a jar has no 'colour'"),
        (b"[volume]\nx = 1", "must be a text with a unit"),
        (b"x = 1\n" * MOST_BYTES, "longer than"),
    ],
)
def test_files_that_are_refused(content, why, tmp_path):
    path = tmp_path / "jar.toml"
    path.write_bytes(content)
    with pytest.raises(InputError, match=why):
        as_jar(path)


def test_a_missing_file_is_told(tmp_path):
    with pytest.raises(InputError, match="cannot read"):
        as_jar(tmp_path / "none.toml")
    with pytest.raises(InputError, match="must be a Jar"):
        as_jar(3)


@pytest.mark.parametrize("bad", ["a." * 3990 + "b = 1", "x = " + "[" * 7000, "x = '" + "'" * 7000])
def test_a_bad_file_is_refused_soon(bad, tmp_path):
    """The parser's time grows as the square of some bad files; the limit on size bounds it."""
    path = tmp_path / "jar.toml"
    path.write_text(bad, encoding="utf-8")
    begun = time.process_time()
    with pytest.raises(InputError):
        as_jar(path)
    assert time.process_time() - begun < 2.0
