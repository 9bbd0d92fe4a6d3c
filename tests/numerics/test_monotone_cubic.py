"""The cubic that does not overshoot, against SciPy's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from oxhue.optics.films.materials.catalogue import list_materials, load_material
from oxhue.optics.numerics.monotone_cubic import MonotoneCubic


@pytest.mark.parametrize("count", [2, 3, 4, 50])
@pytest.mark.parametrize("flat", [False, True])
def test_it_is_that_of_scipy(count, flat):
    draw = np.random.default_rng(count)
    x = np.cumsum(draw.uniform(0.1, 5.0, count))
    y = draw.normal(size=(count, 2))
    if flat:
        y[: count // 2 + 1] = 1.0
    at = np.concatenate([x, draw.uniform(x[0], x[-1], 500)])
    expected = PchipInterpolator(x, y)(at)
    np.testing.assert_allclose(MonotoneCubic.through(x, y)(at), expected, rtol=1e-12, atol=1e-12)


def test_it_keeps_between_its_points():
    x, y = np.arange(6.0), np.array([[0.0], [0.0], [1e-300], [5.0], [5.0], [-1.0]])
    at = np.linspace(0.0, 5.0, 501)
    values = MonotoneCubic.through(x, y)(at)[:, 0]
    assert values.min() >= -1.0
    assert values.max() <= 5.0
    assert np.all(values[at <= 1.0] == 0.0)


@pytest.mark.parametrize("entry", list_materials()[::12], ids=lambda entry: entry.label)
def test_shipped_indices_are_those_of_scipy(entry):
    table = load_material(entry.label)
    at = np.linspace(*table.range_nm, 400)
    expected = PchipInterpolator(table.wavelength_nm, np.column_stack([table.n, table.k]))(at)
    found = table.nk(at)
    np.testing.assert_allclose(found.real, expected[:, 0], rtol=1e-12)
    np.testing.assert_allclose(found.imag, expected[:, 1], rtol=1e-11, atol=1e-13)
