"""What a good film should show, and a bad one."""

import pytest

from oxhue.optics.assay.expectation import expect


@pytest.mark.parametrize("text", ["Ti 80nm / glass", "Ti 80 nm/glass", "Ti  80nm on glass"])
def test_a_film_to_expect_may_be_written_as_a_stack(text):
    told, spoken = expect(text), expect("Ti 80nm on glass")
    assert (told.metal, told.thickness_nm, told.on) == ("Ti", 80.0, "glass")
    assert told.expected[0].front.srgb_hex == spoken.expected[0].front.srgb_hex


def test_a_film_to_expect_may_lie_on_a_stack_of_its_own():
    told = expect("Al 40nm / SiO2 100nm / glass 4mm")
    assert (told.metal, told.on) == ("Al", "SiO2 100nm / glass 4mm")


def test_expectation_of_a_good_and_a_bad_film():
    told = expect("Ti 80nm on glass")
    assert [one.oxidised for one in told.expected] == [0.0, 0.1, 0.5, 1.0]
    good, *_, bad = told.expected
    assert good.optical_density > 2.5 > 0.5 > bad.optical_density
    assert good.thickness_nm == 80.0
    assert bad.thickness_nm == pytest.approx(80.0 * 2.032, rel=1e-3)
    assert good.ohm_sq[1] < 50.0 < 1e6 < bad.ohm_sq[0]
    assert good.mass_ug_cm2 == pytest.approx(0.1 * 4.506 * 80.0)
    # 48 parts of titanium by weight bind 32 of oxygen.
    assert bad.mass_ug_cm2 / good.mass_ug_cm2 == pytest.approx(79.865 / 47.867, rel=1e-3)
    lows = [one.ohm_sq[0] for one in told.expected]
    assert lows == sorted(lows)


def test_expectation_on_opaque_bases_and_of_noble_metals():
    told = expect("Ti 80nm on steel").expected[0]
    assert told.back is told.through is told.optical_density is told.ohm_sq is None
    assert len(expect("Au 30nm on glass").expected) == 1
