"""Charts as files and drawings: kinds, bytes, inks and dashes."""

import subprocess
import sys

import matplotlib
import numpy as np
import pytest
from matplotlib import pyplot
from matplotlib.colors import to_hex
from matplotlib.figure import Figure

from oxhue.optics.data_sets.plots import plot_extinction, plot_index
from oxhue.optics.errors import InputError
from oxhue.optics.films.materials.catalogue import list_materials
from oxhue.optics.look.look import look
from oxhue.optics.look.plots import chart_look, plot_colours, plot_reflectance
from oxhue.optics.report.strips import plot_ramp
from oxhue.optics.report.style import (
    check_chart_name,
    contrasting_ink,
    line_styles,
    save_chart,
    svg_of,
    use_own_style,
)


@pytest.fixture(scope="module")
def ramp():
    return look("TiO2 0..100nm step 2nm / Ti", spectrum=True)


def test_a_strip_has_one_colour_a_point_and_one_name_a_band():
    hexes, names = ["#112233", "#445566", "#778899"], ["blue", "blue", "grey"]
    ax = plot_ramp([10.0, 20.0, 30.0], hexes, names)
    (image,) = [*ax.images, *ax.collections]
    shown = np.asarray(image.get_array()).reshape(3, -1)[:, :3]
    assert [to_hex(colour) for colour in shown] == hexes
    assert [text.get_text() for text in ax.texts] == ["blue", "grey"]


def test_plots_of_ones_own_stand_alone_and_show_nothing(ramp):
    entries = list_materials("SiO2")
    drawn = [
        plot_colours(ramp), plot_reflectance(ramp), plot_index(entries), plot_extinction(entries),
    ]  # fmt: skip
    assert len({id(ax.figure) for ax in drawn}) == len(drawn)
    assert all(ax.get_xlabel().endswith("[nm]") for ax in drawn)
    assert pyplot.get_fignums() == []


def test_a_chart_bears_no_date_whatever_a_build_asks_for(tmp_path, monkeypatch):
    """A variable of builds was read, and one that is no number was a traceback."""
    names = [f"{when}.{kind}" for kind in ("svg", "pdf") for when in ("then", "now")]
    for name in names:
        if name.startswith("then"):
            monkeypatch.setenv("SOURCE_DATE_EPOCH", "not a number")
        use_own_style()
        save_chart(Figure(figsize=(1.0, 1.0)), tmp_path / name)
    svg, svg_now, pdf, pdf_now = ((tmp_path / name).read_bytes() for name in names)
    assert (svg, pdf) == (svg_now, pdf_now)


@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
@pytest.mark.parametrize("settled", [False, True], ids=["laid-out-now", "laid-out-before"])
def test_a_chart_drawn_once_is_the_one_matplotlib_draws_twice(ramp, tmp_path, kind, settled):
    figures = chart_look(ramp), chart_look(ramp)
    for figure in figures:
        if settled:
            figure.set_layout_engine("none")
    save_chart(figures[0], tmp_path / f"ours.{kind}")
    files = {
        "png": {"pil_kwargs": {"compress_type": 3}},
        "svg": {"metadata": {"Date": None}},
        "pdf": {"metadata": {"CreationDate": None}},
    }
    settings = {"svg.hashsalt": "oxhue", "svg.fonttype": "path", "pdf.fonttype": 42}
    with matplotlib.rc_context(settings):
        figures[1].savefig(tmp_path / f"plain.{kind}", dpi=150, facecolor="white", **files[kind])
    plain, ours = ((tmp_path / f"{name}.{kind}").read_bytes() for name in ("plain", "ours"))
    assert plain == ours
    assert "draw" not in vars(figures[0])


@pytest.mark.skipif(
    matplotlib.__version_info__ < (3, 9), reason="up to 3.8 it does not load without them"
)
def test_programs_load_no_figures_in_space_and_leave_them_to_others():
    code = (
        "from oxhue.optics.report.style import use_own_style; use_own_style(); import sys;"
        "assert 'mpl_toolkits.mplot3d' not in sys.modules;"
        "from matplotlib.artist import kwdoc; from matplotlib.lines import Line2D;"
        "assert 'linewidth' in kwdoc(Line2D);"
        "from mpl_toolkits.mplot3d import Axes3D"
    )
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_the_ink_on_a_swatch_is_the_one_that_stands_out_more():
    assert [contrasting_ink(rgb) for rgb in ((0, 0, 0), (1, 1, 1), (0, 0, 1), (1, 1, 0))] == [
        "white", "black", "white", "black",
    ]  # fmt: skip
    assert (contrasting_ink([0.46] * 3), contrasting_ink([0.47] * 3)) == (
        "white",
        "black",
    )  # Y = 0.179


def test_curves_are_told_apart_without_colour():
    """In grey print a curve is known by its dashes and marks."""
    looks = line_styles(12)
    assert len({(str(one["ls"]), one["marker"]) for one in looks}) == 12
    greys = [matplotlib.colors.to_rgb(one["color"]) @ np.array([0.3, 0.6, 0.1]) for one in looks]
    assert np.all(np.diff(greys) > 0.0)


def test_a_drawing_for_a_page_has_no_names_that_could_clash():
    svg = svg_of(chart_look(look("TiO2 45nm / Ti", spectrum=True)), 'a "look"')
    assert svg.startswith('<svg role="img" aria-label="a &quot;look&quot;"')
    assert "<g id=" not in svg
    assert "font-family" not in svg  # letters are outlines: no font is needed
    assert "<text" not in svg


@pytest.mark.parametrize("name", ["a.gif", "a", "a.PNG.txt", ".png"])
def test_a_kind_we_cannot_write_is_refused(tmp_path, name):
    with pytest.raises(InputError, match=r"written as \.png, \.svg, \.pdf"):
        check_chart_name(tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_a_missing_folder_is_refused(tmp_path):
    with pytest.raises(InputError, match="its folder does not exist"):
        check_chart_name(tmp_path / "none" / "a.png")


@pytest.mark.parametrize(
    ("name", "start"), [("a.png", b"\x89PNG"), ("a.svg", b"<?xml"), ("a.PDF", b"%PDF")]
)
def test_the_name_decides_the_kind_and_the_same_chart_gives_the_same_bytes(tmp_path, name, start):
    written = []
    for _ in range(2):
        save_chart(chart_look(look("TiO2 45nm / Ti", spectrum=True)), tmp_path / name)
        written.append((tmp_path / name).read_bytes())
    assert written[0].startswith(start)
    assert written[0] == written[1]


def test_a_chart_that_fails_leaves_the_old_file(tmp_path, monkeypatch):
    target = tmp_path / "plate.png"
    target.write_bytes(b"old")

    def fail(_figure, stream, **_options):
        stream.write(b"half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Figure, "savefig", fail)
    with pytest.raises(InputError, match="no space left"):
        save_chart(Figure(), target)
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


def test_no_window_and_no_global_state_is_touched(tmp_path):
    before = dict(matplotlib.rcParams)
    save_chart(chart_look(look("TiO2 45nm / Ti", spectrum=True)), tmp_path / "a.svg")
    assert dict(matplotlib.rcParams) == before
    assert pyplot.get_fignums() == []
