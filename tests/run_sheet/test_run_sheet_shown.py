"""How a run sheet is shown: in words and on the axes of its charts."""

import numpy as np
import pytest
from matplotlib import pyplot

from oxhue.optics.deposition.geometry import Piece, Placement, Source
from oxhue.optics.deposition.setup import Setup
from oxhue.optics.run_sheet.plots import plot_evenness, plot_witness
from oxhue.optics.run_sheet.run_sheet import run_sheet


@pytest.fixture(autouse=True)
def no_window():
    yield
    assert pyplot.get_fignums() == []


@pytest.fixture(scope="module")
def sheet():
    setup = Setup(Source("boat"), Placement(300.0), Piece(50.0, 50.0))
    return run_sheet("SiO2 90nm / Al 60nm / glass", setup, pressure="1e-6mbar")


def test_a_sheet_shows_evenness_and_the_witness(sheet):
    ax = plot_evenness(sheet)
    even = sheet.uniformity
    drawn = ax.collections[0]
    np.testing.assert_allclose(
        np.asarray(drawn.get_array()).reshape(even.relative.shape), 100.0 * even.relative
    )
    assert drawn.get_clim() == (100.0 * even.lowest, 100.0 * even.highest)
    assert ax.get_xlabel().endswith("[mm]")
    written = [20.0 * float(text.get_text()) for text in ax.texts]
    assert written
    assert written == pytest.approx(np.round(written))  # lines at round figures
    witness = plot_witness(sheet)
    assert witness.get_xlim() == (0.0, pytest.approx(150.0))
    names = [text.get_text() for text in witness.texts]
    assert names == ["1 Al", "2 SiO2"]
    assert witness.get_xlabel() == "deposited so far [nm]"


def test_a_sheet_says_size_getter_and_what_stays_dark():
    setup = Setup(Source("boat"), Placement(300.0), Piece(50.0, 30.0))
    sheet = run_sheet(
        "Al 60nm / steel", setup, pressure="3e-5mbar", getter="0.3m2", pumping="50l/s"
    )
    text = sheet.summary()
    assert "Over 50 by 30 mm" in text
    assert "3000 cm² of fresh titanium on the walls" in text
    assert "opaque" in text
