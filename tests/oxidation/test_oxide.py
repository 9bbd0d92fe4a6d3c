"""Oxide against the metal it comes from: metal used, oxygen taken on, and what the ratio says."""

import numpy as np
import pytest

from oxhue.optics.errors import InputError
from oxhue.optics.oxidation.oxide import oxide_ratio


def test_metal_and_oxygen_make_up_the_oxide():
    ratio = oxide_ratio("Al", "Al2O3", 2)
    nm = np.array([0.0, 10.0, 25.0])
    metal = ratio.metal_used_nm(nm) * 0.1 * 2.699  # µg/cm² of aluminium used up
    np.testing.assert_allclose(metal + ratio.mass_gain_ug_cm2(nm), nm * 0.1 * 3.2, rtol=1e-3)
    assert ratio.oxygen_share == pytest.approx(48.0 / 101.96, abs=1e-3)


@pytest.mark.parametrize(
    ("metal", "oxide", "atoms", "words"),
    [
        ("Mg", "MgO", 1, "cannot cover it"),
        ("Al", "Al2O3", 2, "thin films stay whole"),
        ("Nb", "Nb2O5", 2, "crack or flake"),
    ],
)
def test_the_ratio_says_whether_the_oxide_covers_its_metal(metal, oxide, atoms, words):
    assert words in oxide_ratio(metal, oxide, atoms).stress


def test_what_no_handbook_line_is_held_for_is_refused():
    with pytest.raises(InputError, match="no density or molar mass is shipped for brass"):
        oxide_ratio("brass", "CuO", 1)
