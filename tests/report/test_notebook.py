"""Results show themselves in a notebook: tables, swatches and charts, everything escaped."""

import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

import oxhue as optics
from oxhue.optics.deposition.geometry import Piece, Placement, Source
from oxhue.optics.deposition.setup import Setup
from oxhue.optics.films.materials.nk_table import Material
from oxhue.optics.films.stack import Layer, Stack
from oxhue.optics.images.icc import SRGB
from oxhue.optics.images.image import Codes
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.inference.uncertainty import DEFAULTS
from oxhue.optics.oxidation.schedule import hold
from oxhue.optics.report.document import present
from oxhue.optics.thickness_map.thickness_map import map_thickness
from oxhue.optics.tint.heat_strip import plate_hold

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
SHOWN = [
    "Colour", "Designs", "Estimate", "Expectation", "FieldMap", "HeatStrip", "Calibration", "Look",
    "Material", "Recipes", "Spectra", "RunSheet", "Spectrum", "SpectrumFit", "Stack", "Tint",
    "Verdict",
]  # fmt: skip


class Tags(HTMLParser):
    """Tags seen, all of them closed in order."""

    def __init__(self, text):
        super().__init__()
        self.open, self.seen = [], set()
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, _attrs):
        self.seen.add(tag)
        self.open.append(tag)

    def handle_startendtag(self, tag, _attrs):
        self.seen.add(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def as_html(result):
    """How a notebook shows it, whatever keeps its words on one line."""
    return result._repr_html_().replace("\u00a0", " ")


@pytest.mark.parametrize("name", SHOWN)
def test_every_result_at_the_door_is_displayed(name):
    assert callable(getattr(optics, name)._repr_html_)


def test_a_stack_shows_its_layers_and_its_colours():
    html = as_html(optics.parse_stack("TiO2 45nm / Ti 20nm / glass 1mm | MgF2 100nm"))
    assert Tags(html).seen >= {"table", "span"}
    table = html[html.index("<table") :]
    order = [table.index(word) for word in ("TiO2(siefke2016)", "Ti(johnson1974)", "1 mm", "MgF2")]
    assert order == sorted(order)
    assert "Seen through" in html
    assert "background:#" in html


def test_a_stack_without_data_over_the_visible_shows_its_layers():
    narrow = Material("x", "", "", "oxide", np.array([300.0, 400.0]), np.ones(2), np.zeros(2))
    html = as_html(Stack((Layer(narrow, np.array(10.0)),), narrow))
    assert "10 nm" in html
    assert "no colour here" in html


def test_a_colour_shows_patch_hex_and_name():
    seen = optics.look("TiO2 45nm / Ti").reflected
    html = as_html(seen)
    assert "background:#3c4fa1" in html
    assert "#3c4fa1</span> dark blue" in html
    many = optics.look("TiO2 0..200nm / Ti").reflected._repr_html_()
    assert many.count('class="patch"') == 12
    assert "12 of 201 colours" in many


def small_map():
    """A picture of a blue that the film may show and a red that it may not."""
    values = np.full((4, 6, 3), [60, 79, 161], dtype=np.uint8)
    values[:, 3:] = [250, 5, 5]
    codes = Codes(values, np.ones((4, 6), dtype=bool), SRGB, ())
    return map_thickness(codes, ["TiO2(siefke2016)"], "Ti(johnson1974)", doubts=DEFAULTS["card"])


def learned(folder):
    path = folder / "pieces.csv"
    path.write_text("metal,temperature_C,time_min,thickness_nm,sd\nTi,440,30,28,3\n", "utf-8")
    return optics.coupons(path)


def sheet():
    setup = Setup(Source("boat"), Placement(300.0), Piece(50.0, 50.0))
    return optics.run_sheet("Al 60nm / glass", setup, pressure="1e-6mbar")


@pytest.mark.parametrize(
    ("result", "question", "data", "seen"),
    [
        (lambda _: optics.assay(seen="gold", metal="Ti"),
         "metal, oxide", "TiN(schnabel2018)", "oxide"),
        (learned, "own heats", "TiO2(siefke2016)", "440 °C"),
        (lambda _: optics.heat_strip("Ti"), "Which colours", "Ti(johnson1974)", "Titanium"),
        (lambda _: sheet(), "How is it deposited", "Al", "charge"),
        (lambda _: small_map(), "everywhere", "TiO2(siefke2016)", "50 % of the picture"),
    ],
    ids=["verdict", "learned", "strip", "sheet", "map"],
)  # fmt: skip
def test_larger_answers_are_shown_with_what_they_rest_on(result, question, data, seen, tmp_path):
    found = result(tmp_path)
    html = as_html(found)
    assert not {"script", "link", "img", "iframe"} & Tags(html).seen
    assert seen in html
    document = found.document()
    assert question in document.question
    assert any(label.startswith(data) for label in document.sources)


@pytest.mark.parametrize(
    "result",
    [
        lambda: optics.solve(optics.parse_stack("Al 10nm / glass 1mm")),
        lambda: optics.load_material("SiO2"),
        lambda: optics.look("TiO2 0..20nm / Ti"),
        lambda: optics.tint("Ti", hold(450.0, 1200.0)),
        lambda: optics.expect("Ti 80nm on glass"),
        lambda: optics.recipes("Ti", "purple", times=[1200.0], temperatures=[460.0]),
        lambda: plate_hold("Ti", "straw", "blue", time="20min"),
        lambda: optics.design("glass", ["R>80% 550nm"], ["Al"], effort=3),
        lambda: optics.design("glass", ["R>80% 550nm"], ["Al"], effort=3).designs[0],
        lambda: optics.read_spectrum(EXAMPLES / "plate.csv"),
        lambda: optics.gauge(
            ["TiO2(siefke2016)"], "Ti(johnson1974)", [parse_reading("purple")]
        ),
    ],
    ids=[
        "response", "material", "look", "tint", "expectation", "recipes", "plate", "designs",
        "design", "spectrum", "estimate",
    ],
)  # fmt: skip
def test_results_are_well_formed_and_stand_alone(result):
    html = as_html(result())
    assert not {"script", "link", "img", "iframe"} & Tags(html).seen
    assert "http" not in re.sub(r'xmlns(:\w+)?="[^"]*"', "", html)


def test_names_are_escaped():
    name = "<script>alert(1)</script>"
    odd = Material(name, "", "", "oxide", np.array([300.0, 900.0]), np.ones(2), np.zeros(2))
    assert "<script" not in odd._repr_html_()


def test_what_is_no_result_of_ours_is_not_drawn():
    with pytest.raises(TypeError, match="int is no result"):
        present(3)


def test_nothing_that_draws_is_loaded_before_it_is_asked():
    program = (
        "import sys; from oxhue.optics.films.notation import parse_stack\n"
        "stack = parse_stack('TiO2 45nm / Ti')\n"
        "assert not {'matplotlib', 'rich', 'oxhue.optics.report'} & set(sys.modules)\n"
        "assert '#3c4fa1' in stack._repr_html_()"
    )
    subprocess.run([sys.executable, "-c", program], check=True)
