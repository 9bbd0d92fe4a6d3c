"""Materials without data of their own: what stands for them, and that it is said."""

import pytest

from oxhue.optics.assay.hypotheses import check_metal
from oxhue.optics.errors import OutOfRangeError, UnknownNameError
from oxhue.optics.films.materials.catalogue import find_entry, load_material, optical_stand_in
from oxhue.optics.films.materials.effective_medium import tell_stand_ins
from oxhue.optics.films.materials.stand_ins import find_stand_in, stand_in_names
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.look.look import look
from oxhue.optics.oxidation.metals import find_metal


@pytest.mark.parametrize(
    ("name", "used"),
    [
        ("Ti-6Al-4V", "Ti"), ("Ti64", "Ti"), ("316L", "stainless"), ("304", "stainless"),
        ("1.4301", "stainless"), ("nickel-silver", "brass"), ("1095", "steel"), ("sterling", "Ag"),
    ],
)  # fmt: skip
def test_an_alloy_in_a_stack_is_computed_as_what_stands_for_it_and_that_is_said(name, used):
    plain, seen = look(f"SiO2 45nm / {used}"), look(f"SiO2 45nm / {name}")
    assert seen.reflected.srgb_hex == plain.reflected.srgb_hex
    assert not plain.warnings
    assert any("is taken as" in one for one in seen.warnings)


def test_a_steel_of_another_structure_has_data_of_its_own():
    assert load_material("430").phase == "ferritic"


def test_names_of_more_than_one_word_are_read_in_a_stack():
    seen = parse_stack("Nickel  silver 20nm / grade 2 20nm / high speed steel")
    assert [layer.medium.name for layer in seen.layers] == ["brass", "Ti"]
    assert seen.substrate.name == "steel"
    with pytest.raises(UnknownNameError, match="did you mean coin silver"):
        load_material("fine silver")


def test_parts_of_mixtures_and_grades_are_told_once():
    media = [parse_medium("Ti64:TiO2 30%"), parse_medium("TiO2->Ti64")]
    (said,) = tell_stand_ins(media)
    assert said.startswith("grade 5 titanium is taken as titanium: ")


def test_what_has_data_of_its_own_needs_no_stand_in():
    assert find_stand_in("bronze").use == "Cu"
    assert optical_stand_in("bronze") is None
    assert find_entry("bronze").name == "bronze"
    assert tell_stand_ins([load_material("bronze"), load_material("silver")]) == ()


def test_a_number_that_is_no_steel_is_still_a_thickness_in_the_wrong_place():
    with pytest.raises(Exception, match="before its thickness"):
        parse_stack("SiO2 45nm / 3045")
    with pytest.raises(Exception, match="before its thickness"):
        parse_stack("304nm SiO2 / glass")


def test_a_name_that_nothing_stands_for_is_offered_the_nearest():
    with pytest.raises(UnknownNameError, match="did you mean inconel 625"):
        load_material("inconel 62")


def test_every_stand_in_is_found_by_its_own_name():
    assert all(find_stand_in(name).name == name for name in stand_in_names())


def test_a_loose_material_is_told_how_to_be_written():
    with pytest.raises(UnknownNameError, match="write it as a mixture, 'C:air 90%'"):
        load_material("soot")
    assert look("C:air 90% 2um / glass").reflected.name == "black"
    assert check_metal("lampblack") == "C"
    with pytest.raises(OutOfRangeError, match="burns away"):
        find_metal("soot")
