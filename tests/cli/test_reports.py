"""``--report`` on every verb: one page that stands alone and says what was asked and found."""

import json
import shutil
from html.parser import HTMLParser
from importlib.metadata import version
from pathlib import Path

import pytest
from PIL import Image

from oxhue.cli.main import app, exit_code

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
SURE = ["--film", "TiO2(siefke2016)", "--on", "Ti(johnson1974)"]  # one pair of data sets: quick
CASES = {
    "look": ["look", "Al:air 30% 10nm / glass 1mm"],
    "look of two sweeps": ["look", "TiO2 10,20nm / SiO2 10,20nm / Ti"],
    "gauge": ["gauge", *SURE, "--seen", "purple", "--seen", "#5f4390 angle=20"],
    "gauge rows": ["gauge", *SURE, "--readings", "spots.csv"],
    "spectrum": ["spectrum", "plate.csv", *SURE, "--model", "table", "--between", "0..200nm"],
    "map": ["map", "small.png", *SURE, "--between", "0..80nm", "--profile", "10,40,70,40"],
    "tint": ["tint", "Ti", "--profile", "kiln-log.csv"],
    "recipes": ["tint", "Ti", "--want", "purple", "--for", "20min", "--at", "460C"],
    "volts": ["tint", "Ti", "--want", "blue", "--anodise"],
    "plate": ["tint", "Ti", "--want", "straw to blue", "--for", "20min", "--along", "80mm"],
    "coupons": ["coupons", "pieces.csv"],
    "assay": ["assay", "--expect", "Ti 80nm on glass"],
    "design": ["design", "--on", "glass", "--goal", "R>80% 550nm", "--with", "Al", "--effort", "3"],
    "sheet": ["sheet", "Al 90nm / glass 4mm", "--source", "boat", "--distance", "30cm"],
    "chamber": ["chamber", "--volume", "3l", "--leak", "1e-3mbar.l/s", "--pumping", "2l/s"],
    "materials": ["materials", "WO3"],
}  # fmt: skip


class Page(HTMLParser):
    """Tags, headings, all text, and what would be fetched."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.fetched, self.words, self.headings = [], [], [], []
        self.feed(text)
        self.close()
        self.text = " ".join("".join(self.words).split())

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.fetched += [v for k, v in attrs if k in ("src", "href", "xlink:href") and v[0] != "#"]

    def handle_data(self, data):
        self.words.append(data)
        if self.tags[-1:] == ["h2"]:
            self.headings.append(data)


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bench")
    shutil.copytree(EXAMPLES, folder, dirs_exist_ok=True)
    with Image.open(folder / "dial.jpg") as dial:
        dial.resize((96, 64)).save(folder / "small.png")
    return folder


@pytest.mark.parametrize("name", CASES)
def test_a_report_says_what_was_asked_and_what_it_rests_on(name, bench, capsys, monkeypatch):
    monkeypatch.chdir(bench)
    target = bench / "report.html"
    code = exit_code([*CASES[name], "--report", "report.html"])
    out, err = capsys.readouterr()
    assert code in (0, 3), err
    page = Page(target.read_text(encoding="utf-8"))
    target.unlink()
    assert not {"script", "link", "iframe", "object"} & set(page.tags)
    assert all(link.startswith("data:image/png;base64,") for link in page.fetched)
    wanted = ["How sure this is", "Cautions", "The answer", "What was asked"]
    wanted += [] if name in ("volts", "materials", "chamber") else ["Optical data"]
    assert set(wanted) <= set(page.headings)
    assert f"oxhue {version('oxhue')}" in page.text
    assert f"oxhue {CASES[name][0]}" in page.text
    assert "--report report.html" in page.text
    assert "local codes" in page.text
    # The page says what the terminal says, its first line first.
    assert " ".join(out.splitlines()[0].split()).rstrip(".") in page.text
    assert "report written: report.html" in err


def test_every_verb_takes_a_report():
    tried = {arguments[0] for arguments in CASES.values()}
    verbs = {command.name for command in app.registered_commands}
    assert tried == verbs - {"page", "schema", "demo"}  # no answers, and test_demo.py


def test_a_report_beside_json_leaves_the_streams_to_it(bench, capsys, monkeypatch):
    monkeypatch.chdir(bench)
    assert exit_code(["look", "TiO2 45nm / Ti", "--json", "--report", "a.html"]) == 0
    out, err = capsys.readouterr()
    assert (json.loads(out)["reflected"]["name"], err) == ("dark blue", "")
    page = (bench / "a.html").read_text(encoding="utf-8")
    assert "R" not in json.loads(out)
    assert page.count("<svg") == 1


def test_the_question_is_shown_as_text_whatever_it_holds(bench, capsys, monkeypatch):
    monkeypatch.chdir(bench)
    table = bench / "<img src=x onerror=alert(1)>.csv"
    table.write_text("wavelength_nm,n,k\n300,2,0\n900,2,0\n", encoding="utf-8")
    assert exit_code(["look", f'"{table.name}" 45nm / Ti', "--report", "b.html"]) == 0
    capsys.readouterr()
    page = Page((bench / "b.html").read_text(encoding="utf-8"))
    assert "img" not in page.tags
    assert "<img src=x onerror=alert(1)>.csv" in page.text
    assert "a table of your own" in page.text


@pytest.mark.parametrize(
    ("name", "message"),
    [("a.txt", "written as .html"), ("none/a.html", "folder does not exist"), (".", ".html")],
)
def test_a_report_that_cannot_be_written_is_refused_before_any_work(
    name, message, tmp_path, monkeypatch, capsys
):
    monkeypatch.chdir(tmp_path)
    assert exit_code(["look", "nonsense", "--report", name]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert message in err
    assert list(tmp_path.iterdir()) == []
