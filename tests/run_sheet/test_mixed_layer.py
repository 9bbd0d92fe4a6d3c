"""A layer of two materials mixed: two sources at once."""

import pytest

from oxhue.optics.colour.colour import to_colour
from oxhue.optics.colour.spaces import delta_e_2000
from oxhue.optics.errors import InputError
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


def test_a_graded_layer_runs_from_one_source_to_the_other():
    (step,) = sheet("Ti->SiO2 80nm / glass").layers
    (titanium,), (silica,) = sheet("Ti 80nm / glass").layers, sheet("SiO2 80nm / glass").layers
    assert [one.material for one in step.parts] == ["Ti", "SiO2"]
    assert [one.rate_nm_s for one in step.parts] == pytest.approx([1.0, 1.0])
    assert step.parts[0].mass_g == pytest.approx(0.5 * titanium.mass_g)
    assert step.parts[1].mass_g == pytest.approx(0.5 * silica.mass_g)
    assert step.parts[0].source_temperature_C == titanium.source_temperature_C
    assert "begin with SiO2 alone at 1 nm/s" in step.remarks[0]
    slow = run_sheet("Ti 40nm / glass", source="boat", distance="30cm", rate="0.5nm/s").layers[0]
    assert step.parts[0].states["metal"] == pytest.approx(slow.states["metal"], abs=0.02)


def test_a_graded_layer_on_the_back_begins_with_what_lies_on_the_glass():
    (step,) = sheet("glass 1mm | SiO2->Ti 80nm").layers
    assert "begin with SiO2 alone" in step.remarks[0]


@pytest.mark.parametrize(
    ("stack", "begun"),
    [
        ("Ti->TiO2 60nm / {}", "Ti:TiO2 85% 6nm / Ti:TiO2 95% 6nm / {}"),
        ("{} | TiO2->Ti 60nm", "{} | TiO2:Ti 5% 6nm / TiO2:Ti 15% 6nm"),
    ],
)  # fmt: skip
def test_the_witness_shows_as_much_of_a_grade_as_is_laid(stack, begun):
    found = sheet(stack.format("glass 1mm"), every_nm=12.0)
    front = "reflected_back" if found.layers[0].face == "back" else "reflected"
    first, *_, last = (getattr(one, front).lab for one in found.layers[0].moments)
    assert delta_e_2000(last, found.finished.lab) < 0.05
    assert delta_e_2000(first, to_colour(begun.format("glass 1mm")).lab) < 0.3
    squeezed = to_colour(stack.replace("60nm", "12nm").format("glass 1mm"))
    assert delta_e_2000(first, squeezed.lab) > 3.0


@pytest.mark.parametrize("given", [{"made": ["1:Ti->TiO2 55nm"]}, {"monitor": "532nm"}])
def test_a_graded_layer_is_neither_followed_nor_changed(given):
    with pytest.raises(InputError, match="as layers of mixtures"):
        sheet("Ti->TiO2 60nm / glass", **given)


def test_a_porous_film_is_planned_by_its_solid_part():
    with pytest.raises(InputError, match=r"^air cannot be deposited.*by its solid part"):
        sheet("C:air 90% 500nm / glass")
