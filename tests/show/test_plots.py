"""What the charts of heat, designs, runs, maps and spectra draw: the data on their axes."""

from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib import pyplot
from matplotlib.colors import to_hex

from oxhue.optics.assay.expectation import expect
from oxhue.optics.assay.plots import plot_expectation
from oxhue.optics.deposition.geometry import Piece, Placement, Source
from oxhue.optics.deposition.setup import Setup
from oxhue.optics.design.design import design
from oxhue.optics.design.plots import plot_depth, plot_design, plot_tilt
from oxhue.optics.oxidation.schedule import hold
from oxhue.optics.run_sheet.plots import plot_evenness, plot_witness
from oxhue.optics.run_sheet.run_sheet import run_sheet
from oxhue.optics.spectrum.plots import plot_fit, plot_residual
from oxhue.optics.thickness_map.plots import plot_field, plot_histogram, plot_profile
from oxhue.optics.tint.heat_strip import heat_strip
from oxhue.optics.tint.plots import chart_strip, plot_heats, plot_tint
from oxhue.optics.tint.tint import tint


@pytest.fixture(autouse=True)
def no_window():
    yield
    assert pyplot.get_fignums() == []


@pytest.fixture(scope="module")
def found():
    return design("glass", ["R>80% 500..600nm"], ["Al"], effort=3)


@pytest.fixture(scope="module")
def sheet():
    setup = Setup(Source("boat"), Placement(300.0), Piece(50.0, 50.0))
    return run_sheet("SiO2 90nm / Al 60nm / glass", setup, pressure="1e-6mbar")


@pytest.fixture(scope="module")
def field():
    nm = np.tile(np.linspace(20.0, 59.0, 40, dtype=np.float32), (30, 1))
    order = np.ones(nm.shape, dtype=np.uint8)
    nm[:5], order[:5] = np.nan, 0
    return SimpleNamespace(
        median_nm=nm, low_nm=nm - 3.0, high_nm=nm + 3.0, order=order, films=("TiO2",), on="Ti"
    )


def test_a_heat_shows_where_pieces_come_out():
    held = tint("Ti", hold(450.0, 1200.0))
    ax = plot_tint(held)
    area = sum(bar.get_width() * bar.get_height() for bar in ax.patches)
    assert area == pytest.approx(1.0)
    dashed = [line.get_xdata()[0] for line in ax.lines if line.get_linestyle() == "--"]
    assert dashed == list(held.interval90_nm)
    assert to_hex(ax.lines[-1].get_color()) == held.srgb_hex
    assert (ax.get_xlabel(), ax.get_ylabel()) == (
        "thickness of TiO2 [nm]", "probability per nm [1/nm]",
    )  # fmt: skip


def test_heats_show_a_colour_a_cell_and_mark_one():
    strip = heat_strip("Ti")
    ax = plot_heats(strip)
    shown = np.asarray(ax.collections[0].get_array()).reshape(-1, 3)
    assert [to_hex(one) for one in shown] == [str(one) for one in strip.srgb_hex.ravel()]
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("time [min]", "temperature [°C]")
    ticks = [label.get_text() for label in ax.get_xticklabels()]
    np.testing.assert_allclose(np.exp(ax.get_xticks()), [float(tick) for tick in ticks])
    marked = chart_strip(strip, (20.0, 450.0)).axes[0].lines[-1]
    assert (marked.get_xdata()[0], marked.get_ydata()[0]) == (np.log(20.0), 450.0)
    beyond = chart_strip(strip, (20.0, 450.0), (60.0, 430.0), (1e4, 450.0)).axes[0]
    assert len(beyond.lines) == 2 * 2  # each ring on its white ground; the third is off the strip


def test_an_expectation_shows_every_side_that_can_be_seen():
    awaited = expect("Ti 80nm on glass")
    ax = plot_expectation(awaited)
    drawn = [to_hex(patch.get_facecolor()) for patch in ax.patches]
    wanted = [
        str(seen.srgb_hex)
        for one in awaited.expected
        for seen in (one.front, one.back, one.through)
        if seen is not None
    ]
    assert drawn == wanted


def test_a_design_shows_its_spectrum_and_its_goals(found):
    ax = plot_design(found)
    lines = {line.get_label(): line for line in ax.lines}
    goal = lines["R>80% 500..600nm"]
    np.testing.assert_array_equal(goal.get_xydata(), [[500.0, 80.0], [600.0, 80.0]])
    nm = lines["R"].get_xdata()
    inside = (nm >= 500.0) & (nm <= 600.0)
    mean = lines["R"].get_ydata()[inside].mean()
    assert mean == pytest.approx(100.0 * found.designs[0].mean_R, abs=0.1)
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("wavelength [nm]", "share of the light [%]")


def test_a_design_is_tilted_and_looked_into(found):
    strip = plot_tilt(found)
    assert strip.get_xlabel() == "angle from square on [°]"
    assert strip.get_xlim() == (0.0, 70.0)
    depth = plot_depth(found)
    assert depth.get_xlim() == (0.0, pytest.approx(found.designs[0].total_nm))
    assert [text.get_text() for text in depth.texts] == ["Al"]


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


def test_a_map_shows_thickness_its_shares_and_a_line(field):
    ax = plot_field(field)
    np.testing.assert_array_equal(np.asarray(ax.images[0].get_array()), field.median_nm)
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("column [pixels]", "row [pixels]")
    histogram = plot_histogram(field)
    values, edges, _ = histogram.patches[0].get_data()
    assert np.sum(values * np.diff(edges)) == pytest.approx(100.0)
    assert (edges[0], edges[-1]) == (20.0, 60.0)
    profile = plot_profile(field, (0, 10, 39, 10))
    np.testing.assert_allclose(profile.lines[0].get_ydata(), field.median_nm[10])
    assert "[pixels]" in profile.get_xlabel()


def test_a_spectrum_shows_readings_model_and_rest():
    nm = np.array([400.0, 500.0, 600.0])
    fit = SimpleNamespace(
        wavelength_nm=nm, value=np.array([0.2, 0.3, 0.4]), curve=np.array([0.21, 0.3, 0.39]),
        residual=np.array([-0.01, 0.0, 0.01]), fits=True, no_film_needed=False, thickness_nm=52.0,
        interval90_nm=(51.0, 53.0),
    )  # fmt: skip
    ax = plot_fit(fit)
    assert [line.get_label() for line in ax.lines] == ["measured", "best model"]
    np.testing.assert_allclose(ax.lines[1].get_ydata(), 100.0 * fit.curve)
    rest = plot_residual(fit)
    np.testing.assert_allclose(rest.lines[-1].get_ydata(), 100.0 * fit.residual)
    assert rest.get_ylabel() == "residual [%]"
