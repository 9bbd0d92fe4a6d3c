"""How a look is shown: its JSON, its words, and what is on the axes of its charts."""

import io
import json
import re

import numpy as np
import pytest
from matplotlib.colors import to_hex
from matplotlib.figure import Figure

from oxhue.optics.errors import InputError
from oxhue.optics.look.look import look
from oxhue.optics.look.plots import chart_look, plot_spectrum
from oxhue.optics.report.terminal import console, print_document

COLOUR = {"Y", "xyz", "lab", "srgb_hex", "in_gamut", "name"}


HEAD = {"stack", "angle_deg", "light", "observer", "reflected", "transmitted"}


HEX = re.compile(r"#[0-9a-f]{6}")


def round_trip(plain):
    text = json.dumps(plain, allow_nan=False)
    assert json.loads(text) == plain
    return json.loads(text)


def shown(result, stream=None):
    stream = stream or io.StringIO()
    print_document(result.document(), console(stream))
    return stream.getvalue()


@pytest.fixture(scope="module")
def ramp():
    return look("TiO2 0..100nm step 2nm / Ti", spectrum=True)


def curve(ax, label):
    return next(line for line in ax.lines if line.get_label().startswith(label))


def test_one_look():
    plain = round_trip(look("TiO2 45nm / Ti", angle_deg=30.0).to_dict())
    assert plain.keys() >= HEAD
    assert plain["reflected"].keys() == COLOUR
    assert plain["transmitted"] is None
    assert "R" not in plain
    assert (plain["angle_deg"], plain["light"], plain["observer"]) == (30.0, "D65", 2)
    colour = plain["reflected"]
    assert colour["Y"] == colour["xyz"][1]
    assert colour["srgb_hex"].startswith("#")
    assert len(colour["srgb_hex"]) == 7
    assert colour["in_gamut"] is True


def test_a_clear_piece_is_seen_through():
    plain = round_trip(look("Al 5nm / glass 1mm", spectrum=True).to_dict())
    assert plain["transmitted"].keys() == COLOUR
    lengths = {len(plain[key]) for key in ("wavelength_nm", "R", "T")}
    assert lengths == {81}
    assert all(0.0 <= r + t <= 1.0 for r, t in zip(plain["R"], plain["T"], strict=True))


def test_a_sweep_has_steps_like_single_looks():
    plain = round_trip(look("TiO2 0..20nm step 10nm / Ti", spectrum=True).to_dict())
    assert [step["thickness_nm"] for step in plain["steps"]] == [0.0, 10.0, 20.0]
    assert all(step.keys() >= HEAD | {"wavelength_nm", "R", "T"} for step in plain["steps"])
    single = look(plain["steps"][2]["stack"]).to_dict()  # what a step is called parses again
    assert single["reflected"]["lab"] == pytest.approx(plain["steps"][2]["reflected"]["lab"])


def test_two_sweeps_are_listed_in_the_order_of_the_layers():
    plain = look("TiO2 10,20nm / SiO2 30,40nm / Ti").to_dict()
    points = [step["thickness_nm"] for step in plain["steps"]]
    assert points == [[10.0, 30.0], [10.0, 40.0], [20.0, 30.0], [20.0, 40.0]]


def test_a_look_says_name_and_hex_first_and_its_conditions_last():
    text = shown(look("TiO2 45nm / Ti", angle_deg=30.0))
    first, *_, last, data = text.strip().splitlines()
    assert data == "Optical data: TiO2(siefke2016), Ti(johnson1974)."
    assert first == "TiO2 45nm / Ti: dark blue, " + HEX.search(first)[0]
    assert last == "Light D65, 2° observer, 30° from straight on."
    assert "opaque" in text


def test_two_thicknesses_may_be_one_with_a_decimal_comma():
    text = shown(look("TiO2 4,5nm / Ti"))
    assert "\nNote: two thicknesses; if 4,5 is one number, write 4.5.\n" in text
    assert "one number" not in shown(look("TiO2 4,5,6nm / Ti"))


@pytest.mark.parametrize(
    ("written", "right"),
    [("TiO2 1,500nm / Ti", "write 1.500 or 1500"), ("TiO2 1.500,5nm / Ti", "write 1500.5")],
)  # fmt: skip
def test_the_hint_of_a_comma_stands_in_the_data_too(written, right):
    [warning] = look(written).to_dict()["warnings"]
    assert warning.endswith(right)


def test_both_sides_of_a_clear_piece_are_named():
    text = shown(look("Au 20nm / glass 1mm"))
    assert "reflected, front" in text
    assert "through" in text
    assert len(HEX.findall(text)) == 3  # the first line and one for each side


def test_a_colour_outside_the_screen_is_said_to_be():
    vivid = next(
        seen
        for nm in range(100, 400, 5)
        if not (seen := look(f"Nb2O5 {nm}nm / Nb")).reflected.in_gamut
    )
    assert "More vivid than a screen can show: reflected" in shown(vivid)


def test_a_sweep_says_where_it_is_more_vivid_than_a_screen():
    nm = np.arange(0.0, 201.0)
    outside = nm[~np.asarray(look("TiO2 0..200nm / Ti").reflected.in_gamut)]
    text = shown(look("TiO2 0..200nm / Ti"))
    where = f"reflected, front, {outside[0]:g} to {outside[-1]:g} nm."
    assert f"More vivid than a screen can show: {where}" in text
    assert "vivid" not in shown(look("TiO2 0..100nm / Ti"))


def test_a_long_sweep_shows_some_rows_and_says_so():
    text = shown(look("TiO2 0..200nm / Ti"))
    rows = [line for line in text.splitlines() if HEX.search(line)]
    assert [row.split()[0] for row in rows] == [f"{nm}" for nm in range(0, 201, 5)]
    assert "41 rows of 201, evenly chosen" in text
    assert "through: the substrate is opaque" in text
    assert all(re.search(r"#[0-9a-f]{6} +[a-z]", row) for row in rows)


def test_names_with_brackets_and_colons_are_printed_as_they_are(tmp_path, monkeypatch):
    """A file name is no markup: [red] in it is not a colour, and :smile: not a picture."""
    monkeypatch.chdir(tmp_path)
    rows = "".join(f"{nm},2.4,0\n" for nm in range(300, 901, 50))
    (tmp_path / "own [red] :smile: [-].csv").write_text("wavelength_nm,n,k\n" + rows)
    text = shown(look('"own [red] :smile: [-].csv" 45nm / Ti'))
    assert text.startswith('"own [red] :smile: [-].csv" 45nm / Ti: ')


def test_a_spectrum_shows_percent_over_wavelength():
    seen = look("Al 10nm / glass 1mm", spectrum=True)
    ax = chart_look(seen).axes[0]
    np.testing.assert_allclose(curve(ax, "reflected").get_ydata(), 100.0 * seen.spectra.R)
    np.testing.assert_allclose(curve(ax, "seen through").get_ydata(), 100.0 * seen.spectra.T)
    assert ax.get_xlabel() == "wavelength [nm]"
    assert ax.get_ylabel() == "share of the light [%]"
    assert ax.get_xlim() == (380.0, 780.0)
    assert ax.get_ylim() == (0.0, 100.0)
    patches = [to_hex(patch.get_facecolor()) for patch in ax.patches]
    assert patches == [seen.reflected.srgb_hex, seen.transmitted.srgb_hex]
    labels = [text.get_text() for text in ax.get_legend().get_texts()]
    assert labels[0] == f"reflected: {seen.reflected.name}, {seen.reflected.srgb_hex}"


def test_a_sweep_shows_the_strip_above_the_reflectance(ramp):
    above, below = chart_look(ramp).axes
    np.testing.assert_allclose(curve(below, "luminous").get_ydata(), ramp.reflected.xyz[:, 1])
    green = int(np.argmin(np.abs(ramp.spectra.wavelength_nm - 550.0)))
    np.testing.assert_allclose(curve(below, "550 nm").get_ydata(), 100.0 * ramp.spectra.R[:, green])
    assert below.get_xlabel() == "thickness of TiO2(siefke2016) [nm]"
    assert below.get_ylabel() == "reflectance [%]"
    assert above.get_xlim() == (0.0, 100.0)
    assert below.get_ylim()[0] == 0.0
    assert "TiO2 0..100nm step 2nm / Ti" in above.get_title()
    assert "D65" in above.get_title()


def test_axes_of_ones_own_are_drawn_on():
    ax = Figure().subplots()
    assert plot_spectrum(look("TiO2 45nm / Ti", spectrum=True), ax) is ax


def test_charts_need_what_they_show():
    with pytest.raises(InputError, match="needs the spectra"):
        chart_look(look("TiO2 45nm / Ti"))
    with pytest.raises(InputError, match="one swept thickness"):
        chart_look(look("TiO2 1,2nm / SiO2 1,2nm / TiO2 1,2nm / Ti", spectrum=True))


def test_two_sweeps_are_a_field_of_their_colours():
    seen = look("TiO2 0..150nm step 50nm / SiO2 10,30nm / Ti")
    (figure,) = seen.document().figures
    (ax,) = figure.draw().axes
    drawn = np.asarray(ax.collections[0].get_array()).reshape(4, 2, 3)
    assert [to_hex(one) for one in drawn[:, 1]] == seen.reflected.srgb_hex[:, 1].tolist()
    assert ax.get_ylabel() == "thickness of TiO2(siefke2016) [nm]"
    assert ax.get_xlabel().startswith("thickness of SiO2")
