"""How the list of materials is shown: its JSON, its words and its charts."""

import io
import json

from oxhue.optics.data_sets.plots import chart_material
from oxhue.optics.data_sets.result import describe_materials
from oxhue.optics.films.materials.catalogue import list_materials
from oxhue.optics.report.terminal import console, print_document


def round_trip(plain):
    text = json.dumps(plain, allow_nan=False)
    assert json.loads(text) == plain
    return json.loads(text)


def shown(result, stream=None):
    stream = stream or io.StringIO()
    print_document(result.document(), console(stream))
    return stream.getvalue()


def test_materials():
    for plain in round_trip(describe_materials().to_dict())["materials"]:
        assert plain.keys() >= {
            "name", "variant", "kind", "source", "doi", "database_page", "range_nm", "confidence",
        }  # fmt: skip
        assert plain["range_nm"][0] < plain["range_nm"][1]
        pages = plain["database_pages"]  # two rays of a crystal, two pages
        assert [plain["database_page"]] == (pages or [None])[:1]
        assert all(len(page.split("/")) == 3 for page in pages), plain


def test_materials_in_short_and_in_full():
    short = shown(describe_materials())
    assert short.splitlines()[0].endswith("data sets")
    assert "TiO2" in short
    full = shown(describe_materials("TiO2"))
    for entry in describe_materials("TiO2").materials:
        assert entry.label in full
        assert entry.source.split(",")[0] in full


def test_a_material_shows_index_and_extinction_of_every_set():
    entries = list_materials("TiO2")
    above, below = chart_material(entries).axes
    assert len(above.lines) == len(below.lines) == len(entries)
    assert [line.get_label() for line in above.lines] == [entry.label for entry in entries]
    assert above.get_ylabel() == "refractive index n [-]"
    assert below.get_ylabel() == "extinction coefficient k [-]"
    assert below.get_xlabel() == "wavelength [nm]"
