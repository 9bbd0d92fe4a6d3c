"""What a film and its base may be: weights, phases, data sets, refusals."""

import tomllib
from importlib.resources import files

import pytest

from oxhue.optics.errors import InputError, LimitError, UnknownNameError
from oxhue.optics.films.notation import parse_medium
from oxhue.optics.films.spectra import DEFAULT_WAVELENGTH_NM
from oxhue.optics.inference.hypotheses import list_film_models

VARIANTS = tomllib.loads(
    files("oxhue.optics.inference").joinpath("variants.toml").read_text(encoding="utf-8")
)


def names(pairs):
    return list(dict.fromkeys(pair.film_name for pair in pairs))


@pytest.mark.parametrize(
    ("films", "on"),
    [
        (("TiO2",), "Ti"),
        (("Fe3O4", "Fe2O3"), "Fe"),
        (("SiO2", "Si3N4", "TiO2"), "Si"),
        (("TiO2(rutile)",), "Ti(johnson1974)"),
        (("n=2.4",), "Ti"),
        (("TiO2(amorphous):air 20%",), "Ti"),
    ],
)
def test_weights_are_a_probability(films, on):
    pairs = list_film_models(films, on)
    assert sum(pair.weight for pair in pairs) == pytest.approx(1.0)
    assert all(pair.weight > 0.0 for pair in pairs)


def test_films_named_together_share_the_prior_equally():
    pairs = list_film_models(("TiO2", "SiO2"), "Ti")
    titania = sum(pair.weight for pair in pairs if pair.film_name.startswith("TiO2"))
    assert titania == pytest.approx(0.5)


def test_a_film_with_variants_stands_for_all_its_phases():
    pairs = list_film_models(("TiO2",), "Ti")
    shares = {name: sum(p.weight for p in pairs if p.film_name == name) for name in names(pairs)}
    assert shares == pytest.approx(
        {
            "TiO2, amorphous": 0.50,
            "TiO2, anatase": 0.20,
            "TiO2, rutile": 0.15,
            "TiO2, low density": 0.15,
        }
    )


def test_naming_a_phase_leaves_that_phase_with_all_its_data_sets():
    pairs = list_film_models(("TiO2(amorphous)",), "Ti(johnson1974)")
    assert names(pairs) == ["TiO2(amorphous)"]
    assert len(pairs) > 1


def test_naming_a_data_set_leaves_one():
    (only,) = list_film_models(("TiO2(siefke2016)",), "Ti(johnson1974)")
    assert only.film.label == "TiO2(siefke2016)"
    assert only.substrate.label == "Ti(johnson1974)"
    assert only.weight == 1.0


def test_of_layers_below_the_one_the_film_touches_is_varied():
    bare = list_film_models(("TiO2(siefke2016)",), "Ti")
    pairs = list_film_models(("TiO2(siefke2016)",), "Ti 60nm / SiO2 100nm / glass 1mm")
    assert [pair.substrate.label for pair in pairs] == [pair.substrate.label for pair in bare]
    assert [pair.weight for pair in pairs] == [pair.weight for pair in bare]
    assert len({pair.substrate.label for pair in pairs}) > 1
    named_below = list_film_models(
        ("TiO2(siefke2016)",), "Ti 60nm / Ti(johnson1974) 5nm / glass 1mm"
    )
    assert [pair.weight for pair in named_below] == [pair.weight for pair in bare]
    for pair in pairs:
        assert [float(layer.thickness_nm) for layer in pair.base.layers] == [60.0, 100.0]
        assert pair.base.layers[1].medium.label == parse_medium("SiO2").label
        assert pair.base.slab_nm == 1e6


def test_of_a_mixture_the_data_sets_of_what_comes_first_are_weighed():
    plain = [pair.film.label for pair in list_film_models(("TiO2(amorphous)",), "Ti(johnson1974)")]
    mixed = list_film_models(("TiO2(amorphous):air 20%",), "Ti(johnson1974)")
    assert [pair.film.first.label for pair in mixed] == plain
    second = list_film_models(("TiO2(amorphous):TiO2(siefke2016) 20%",), "Ti(johnson1974)")
    assert [pair.film.first.label for pair in second] == plain
    (only,) = list_film_models(("TiO2( siefke2016 ) : air 20%",), "Ti(johnson1974)")
    assert only.film.first.label == "TiO2(siefke2016)"


def test_a_constant_index_is_one_hypothesis():
    (only,) = list_film_models(("n=2.4",), "Ti(johnson1974)")
    assert only.film_name == "n=2.4"


@pytest.mark.parametrize("films", [("TiO2", "TiO2"), ("TiO2", " TiO2"), ("Fe2O3", "Fe2O3")])
def test_a_film_listed_twice_is_refused(films):
    with pytest.raises(InputError, match="listed twice"):
        list_film_models(films, "Ti")


def test_what_cannot_be_gauged_is_refused():
    with pytest.raises(InputError, match="at least one film"):
        list_film_models((), "Ti")
    with pytest.raises(InputError, match="graded layer"):
        list_film_models(("TiO2->Ti",), "Ti")
    with pytest.raises((UnknownNameError, InputError), match="Xx"):
        list_film_models(("Xx",), "Ti")
    with pytest.raises(LimitError, match="name fewer films"):
        list_film_models(("TiO2", "SiO2", "Si3N4", "Al2O3", "HfO2", "MgF2", "ZnO", "Cu"), "Au")


@pytest.mark.parametrize(
    ("film", "variant"), [(film, variant) for film in VARIANTS for variant in VARIANTS[film]]
)
def test_every_variant_is_a_medium_we_know_over_the_visible(film, variant):
    entry = VARIANTS[film][variant]
    assert set(entry) in ({"medium", "weight"}, {"medium", "over", "share", "weight"})
    assert 0.0 < entry.get("share", 0.5) < 1.0
    for name in (entry["medium"], entry.get("over", entry["medium"])):
        parse_medium(name).nk(DEFAULT_WAVELENGTH_NM)
        for pair in list_film_models((name,), "Si(green2008)"):
            index = pair.film.nk(DEFAULT_WAVELENGTH_NM)
            assert index.real.min() > 1.0
            assert index.imag.min() >= 0.0


@pytest.mark.parametrize("film", VARIANTS)
def test_weights_of_variants_sum_to_one(film):
    assert sum(entry["weight"] for entry in VARIANTS[film].values()) == pytest.approx(1.0)
    if " " not in film:  # a formula; the others are what people call the film
        assert film == parse_medium(film).name


def test_several_bases_are_refused_by_what_they_are():
    with pytest.raises(InputError, match="'Ti,Zr' names several bases"):
        list_film_models(["TiO2"], "Ti,Zr")
