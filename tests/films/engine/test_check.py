"""Indices that cannot be are refused wherever they stand among many."""

import numpy as np
import pytest

from oxhue.optics.errors import OutOfRangeError
from oxhue.optics.films.engine.transfer_matrix import solve_arrays


@pytest.mark.parametrize("wavelengths", [3, 1_000])
@pytest.mark.parametrize("layer", [0, 2, 3])
@pytest.mark.parametrize("bad", [np.nan, np.inf, 2.0 - 1e-9j, -1.0, 1e-7, 2e6, complex(1, np.nan)])
def test_an_index_that_cannot_be_is_found_wherever_it_stands(bad, layer, wavelengths):
    index = np.full((40, 4, wavelengths), 1.5 + 0.1j)
    index[:, 0] = 1.0
    asked = np.full(2, 80.0), np.linspace(400.0, 700.0, wavelengths)
    solve_arrays(index, *asked)
    index[39, layer, -1] = bad
    with pytest.raises(OutOfRangeError, match="index"):
        solve_arrays(index, *asked)


def test_an_index_at_the_ends_of_its_range_is_taken():
    for n in (1e-6, 1e-6j, 1e6, 1e6j, complex(1.5, -0.0), 7e5 + 7e5j):
        solve_arrays([[1.0], [n], [1.5]], [50.0], [550.0])


def test_an_ambient_light_cannot_come_from_is_found_among_many():
    index = np.full((40, 3, 2), 1.5 + 0.1j)
    index[39, 0, 1] = 2.0j
    with pytest.raises(OutOfRangeError, match="ambient must have n above 0"):
        solve_arrays(index, [80.0], [450.0, 550.0])
