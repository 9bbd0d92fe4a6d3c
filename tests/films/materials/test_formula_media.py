"""Media of one's own: formulas and arrays, checked where they are made."""

import numpy as np
import pytest

from oxhue import (
    CauchyMedium,
    ConstantIndex,
    Layer,
    LorentzMedium,
    Material,
    Mixture,
    SellmeierMedium,
    Stack,
    load_material,
    solve,
)
from oxhue.optics.errors import InputError

# Malitson (1965), doi:10.1364/JOSA.55.001205, whose table prints five decimals.
SILICA = SellmeierMedium(
    name="silica",
    strengths=(0.6961663, 0.4079426, 0.8974794),
    resonances_um=(0.0684043, 0.1162414, 9.896161),
)
MALITSON = {486.133: 1.46313, 587.561: 1.45846, 656.272: 1.45637}
GRID = np.linspace(400.0, 700.0, 4)


def test_sellmeier_is_what_malitson_prints():
    np.testing.assert_allclose(SILICA.nk(list(MALITSON)).real, list(MALITSON.values()), atol=5e-6)


def test_cauchy_and_lorentz_are_their_formulas():
    nm = np.array([[450.0, 550.0]])
    film = CauchyMedium(name="film", a=2.1, b_um2=0.03, c_um4=0.002)
    np.testing.assert_allclose(film.nk(nm), 2.1 + 0.03 / (nm / 1e3) ** 2 + 0.002 / (nm / 1e3) ** 4)
    E = 1239.841984332 / nm
    metal = LorentzMedium(
        name="m", eps_inf=2.0, plasma_eV=9.0, loss_eV=0.1, oscillators=[(1.5, 4.0, 0.8)]
    )
    eps = 2.0 - 81.0 / (E**2 + 0.1j * E) + 1.5 * 16.0 / (16.0 - E**2 - 0.8j * E)
    np.testing.assert_allclose(metal.nk(nm) ** 2, eps, rtol=1e-12)


def test_they_stand_in_stacks_and_mixtures():
    mixed = Mixture(SILICA, ConstantIndex(1.0), 0.2)
    own = Material.from_arrays([380.0, 780.0], [2.0, 1.9], [0.0, 0.01], name="mine")
    stack = Stack((Layer(mixed, 90.0), Layer(own, 40.0)), load_material("Ti"))
    found = solve(stack, GRID)
    assert np.all((found.R > 0.0) & (found.R < 1.0))
    assert own.label == "mine"
    np.testing.assert_allclose(own.nk(380.0), 2.0)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Material.from_arrays([400, 700], [2.0, 1.9], -0.1, name="a"), "k must not be"),
        (lambda: Material.from_arrays([400, 700], [2.0, np.nan], name="a"), "must be finite"),
        (lambda: Material.from_arrays([700, 400], [2.0, 1.9], name="a"), "rise strictly"),
        (lambda: Material.from_arrays([400, 700], [2.0] * 3, name="a"), r"`n` has shape \(3,\)"),
        (lambda: Material.from_arrays([400], [2.0], name="a"), "at least two"),
        (lambda: Material.from_arrays("blue", [2.0], name="a"), "`wavelength_nm` must be numbers"),
        (lambda: Material.from_arrays([400, 700], [2.0, 1.9], name=3), "`name` must be text"),
        (lambda: Mixture(SILICA, SILICA, 20.0), "must lie between 0 and 1"),
        (lambda: ConstantIndex(1.5, -0.1), "k counts absorption"),
        (lambda: CauchyMedium(name="a", a=-1.0), "no index above 0"),
        (lambda: CauchyMedium(name="a", a=np.nan), "no index above 0"),
        (lambda: CauchyMedium(name="a", a="high"), "`a` must be numbers"),
        (lambda: CauchyMedium(name="", a=1.5), "`name` must be text"),
        (lambda: CauchyMedium(name="a", a=1.5, range_nm=(700, 400)), "the shorter first"),
        (lambda: CauchyMedium(name="a", a=1.5).nk(900.0), "between 380 and 780"),
        (lambda: CauchyMedium(name="a", a=1.5).nk(np.nan), "between 380 and 780"),
        (lambda: SellmeierMedium(name="a", strengths=[1.0], resonances_um=[]), "each resonance"),
        (lambda: SellmeierMedium(name="a", strengths=[1.0], resonances_um=[0.5]), "no index"),
        (lambda: LorentzMedium(name="a", oscillators=[(1.0, 2.0)]), "triples"),
        (lambda: LorentzMedium(name="a", plasma_eV=-1.0), "0 or above"),
    ],
)
def test_what_cannot_be_is_refused_where_it_is_made(make, words):
    with pytest.raises(InputError, match=words):
        make()
