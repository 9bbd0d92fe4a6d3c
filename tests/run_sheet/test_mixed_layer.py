"""A layer of two materials mixed: two sources at once."""

import pytest

from oxhue.optics.run_sheet.run_sheet import run_sheet


def sheet(stack, **given):
    return run_sheet(stack, source="boat", distance="30cm", rate="1nm/s", **given)


@pytest.mark.parametrize(("percent", "titanium"), [(30, 0.7), (50, 0.5), (75, 0.25)])
def test_each_source_has_its_share_of_rate_and_charge(percent, titanium):
    (step,) = sheet(f"Ti:SiO2 {percent}% 80nm / glass").layers
    (alone,) = sheet("Ti 80nm / glass").layers
    metal, oxide = step.parts
    assert [one.material for one in step.parts] == ["Ti", "SiO2"]
    assert metal.rate_nm_s == pytest.approx(titanium)
    assert metal.rate_nm_s + oxide.rate_nm_s == pytest.approx(step.rate_nm_s)
    assert step.time_s == pytest.approx(80.0)
    assert metal.mass_g == pytest.approx(titanium * alone.mass_g)
    assert metal.source_temperature_C < alone.source_temperature_C


def test_its_metal_is_judged_at_its_own_rate():
    (step,) = sheet("Ti:SiO2 30% 80nm / glass").layers
    slow = run_sheet("Ti 56nm / glass", source="boat", distance="30cm", rate="0.7nm/s")
    assert step.states is None
    assert step.parts[0].states == pytest.approx(slow.layers[0].states, abs=1e-9)
    assert step.parts[1].states is None


def test_the_slower_source_sets_the_pace_of_both():
    asked = {"source": "wire", "distance": "10cm", "wire_diameter": "0.5mm", "wire": "Ti"}
    setup = {one: asked[one] for one in asked}
    (step,) = run_sheet("Ti:Cu 50% 40nm / glass", setup=setup, rate="5nm/s").layers
    assert not step.possible
    assert step.parts[0].rate_nm_s == pytest.approx(step.parts[1].rate_nm_s)
    assert step.rate_nm_s < 5.0


def test_both_charges_and_heats_are_shown():
    said = sheet("Ti:SiO2 30% 80nm / glass").summary()
    assert "two sources at once, Ti at 0.7 nm/s and SiO2 at 0.3 nm/s" in said
    assert "chance that Ti in the mixture stays metal" in said
    assert "mg, SiO2" in " ".join(said.split())


def test_without_a_rate_the_mixture_grows_as_fast_as_a_plain_film():
    (step,) = run_sheet("Ti:SiO2 30% 80nm / glass", source="boat", distance="30cm").layers
    assert step.rate_nm_s == pytest.approx(1.0)
