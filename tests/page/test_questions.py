"""What the page may ask: the JSON of the verbs, and one sentence for what is refused."""

import json
from pathlib import Path

import numpy as np
import pytest

from oxhue.cli.main import exit_code
from oxhue.optics.films import notation
from oxhue.page.fields import Fields, name_fields
from oxhue.page.work import QUESTIONS, answer

FILM, ON = "TiO2(siefke2016)", "Ti(johnson1974)"  # one pair of data sets: quick
PIECES = Path(__file__).parents[2] / "docs" / "examples" / "pieces.csv"
SAME = {
    "look": (
        {"stack": "TiO2 45nm / Ti", "angle_deg": 30},
        ["look", "TiO2 45nm / Ti", "--angle", "30", "--spectrum"],
    ),
    "tint": (
        {"metal": "Ti", "at": "450C", "for": "20min"},
        ["tint", "Ti", "--at", "450C", "--for", "20min"],
    ),
    "recipes": (
        {"metal": "Ti", "want": "purple", "for": ["20min"]},
        ["tint", "Ti", "--want", "purple", "--for", "20min"],
    ),
    "coupons": ({"pieces": PIECES.read_text()}, ["coupons", str(PIECES)]),
    "gauge": (
        {"film": FILM, "on": ON, "seen": ["#3c4fa1"], "how": "card"},
        ["gauge", "--film", FILM, "--on", ON, "--seen", "#3c4fa1", "--how", "card"],
    ),
    "expect": ({"film": "Ti 80nm on glass"}, ["assay", "--expect", "Ti 80nm on glass"]),
    "sheet": (
        {"stack": "Al 90nm / glass 4mm", "distance": "30cm", "rate": ["2nm/s"]},
        ["sheet", "Al 90nm / glass 4mm", "--source", "boat", "--distance", "30cm", "--rate",
         "2nm/s"],
    ),
    "chamber": (
        {"pumping": "2l/s", "leak": "1e-3mbar.l/s", "working_pressure": "1e-2mbar"},
        ["chamber", "--pumping", "2l/s", "--leak", "1e-3mbar.l/s", "--working-pressure",
         "1e-2mbar"],
    ),
    "design": (
        {"on": "glass", "goals": ["R>90% 500..600nm"], "with": ["Al"], "max_layers": 1,
         "designs": 1, "effort": 20},
        ["design", "--on", "glass", "--goal", "R>90% 500..600nm", "--with", "Al", "--max-layers",
         "1", "--designs", "1", "--effort", "20"],
    ),
}  # fmt: skip
TEXTS = {
    "look": ["stack", "ramp", "light"],
    "tint": ["metal", "at", "for"],
    "strip": ["metal"],
    "recipes": ["metal", "want", "for", "at"],
    "coupons": ["pieces"],
    "kiln": ["kiln"],
    "gauge": ["film", "on", "seen", "through", "behind", "how", "between", "finish", "light"],
    "assay": [
        "metal",
        "on",
        "seen",
        "behind",
        "through",
        "finish",
        "ohms",
        "strip",
        "guess",
        "base_finish",
        "trouble",
    ],
    "expect": ["film"],
    "design": ["on", "goals", "with", "total", "tolerance", "thinnest"],
    "sheet": ["stack", "source", "distance", "size", "rate", "witness", "wire", "tooling", "gas"],
    "chamber": [
        "volume",
        "pumping",
        "tube",
        "rise",
        "leak",
        "flush",
        "working_gas",
        "working_pressure",
        "rate",
        "distance",
        "source",
        "gauge",
        "metal",
    ],
}
LISTS = {"trouble", "seen", "through", "behind", "finish", "goals", "with", "rate"}
LISTED = {("recipes", "for"), ("recipes", "at")}


@pytest.mark.parametrize("question", SAME)
def test_the_answer_is_what_the_verb_prints(question, ask, capsys):
    fields, verb = SAME[question]
    found = ask(question, **fields)
    code = exit_code([*verb, "--json"])
    assert found["answer"] == json.loads(capsys.readouterr().out)
    assert found["trusted"] == (code == 0)


def test_an_assay_is_what_the_verb_prints(ask, capsys):
    found = ask("assay", metal="Ti", on="glass", seen=["gold"], ohms="open", wipe="stays")
    exit_code(["assay", "--metal", "Ti", "--on", "glass", "--seen", "gold", "--ohms", "open",
               "--wipe", "stays", "--json"])  # fmt: skip
    assert found["answer"] == json.loads(capsys.readouterr().out)


@pytest.mark.parametrize(
    ("question", "name"), [(q, n) for q, names in TEXTS.items() for n in names]
)
def test_no_field_names_a_file_of_this_machine(question, name, tmp_path, monkeypatch):
    monkeypatch.setattr(notation, "read_user_table", lambda _: pytest.fail("a file was read"))
    table = tmp_path / "table.csv"
    table.write_text("wavelength_nm,n,k\n300,2,0\n900,2,0\n")
    text = f'"{table}" 45nm / Ti'
    listed = name in LISTS or (question, name) in LISTED
    usual = {**SAME.get(question, ({"metal": "Ti", "seen": ["gold"]},))[0]}
    status, body = answer(question, usual | {name: [text] if listed else text})
    assert status == 200
    unused = (question, name) in {("assay", "strip"), ("sheet", "wire")}  # without meter or wire
    assert ("refused" in json.loads(body)) != unused


def test_a_kiln_that_was_learnt_answers_for_its_metal(ask, tmp_path, capsys):
    kiln = tmp_path / "kiln.json"
    kiln.write_text(ask("coupons", pieces=PIECES.read_text())["kiln"])
    text, heat = kiln.read_text(), ("--at", "450C", "--for", "20min")
    about = ask("kiln", kiln=text)["answer"]
    assert (about["metal"], about["pieces"]) == ("Ti", 5)
    for question, fields, verb in (
        ("tint", {"at": "450C", "for": "20min"}, heat),
        ("recipes", {"want": "purple", "for": ["20min"]}, ("--want", "purple", "--for", "20min")),
    ):
        found = ask(question, metal="Ti", kiln=text, **fields)["answer"]
        exit_code(["tint", "Ti", *verb, "--coupons", str(kiln), "--json"])
        assert found == json.loads(capsys.readouterr().out)
    plain, own = (ask("strip", metal="Ti", **more)["answer"] for more in ({}, {"kiln": text}))
    assert plain["srgb_hex"] != own["srgb_hex"]


@pytest.mark.parametrize(
    ("question", "fields", "said"),
    [
        ("coupons", {}, "there are no test pieces"),
        (
            "coupons",
            {"pieces": "metal,profile,word\nTi,/etc/host,blue"},
            "a profile cannot be read",
        ),
        ("coupons", {"pieces": "metal,word\nTi,blue"}, "give temperature_C and time_min"),
        ("coupons", {"pieces": ["Ti"]}, "must be a text"),
        ("coupons", {"pieces": "x" * 90_000}, "takes at most 80,000 characters"),
        ("kiln", {}, "there is no kiln"),
        ("kiln", {"kiln": "format = 1"}, "is not a saved kiln"),
        ("tint", {"metal": "Ti", "at": "450C", "for": "20min", "kiln": "["}, "not a saved kiln"),
    ],
)
def test_pieces_and_kilns_that_cannot_be_read_are_refused(question, fields, said):
    status, body = answer(question, fields)
    assert status == 200
    assert said in json.loads(body)["refused"]


def test_every_question_with_texts_is_in_that_list():
    of_the_log = {
        "log",
        "record",
        "next",
        "export",
        "import",
        "learn",
    }  # what is typed there is tried in test_log
    of_every_verb = {"forms", "verb", "keep"}  # tried in tests/cli/test_forms
    of_a_photo = {
        "photo",
        "map",
        "card",
        "row",
        "glance",
    }  # those with texts read them as gauge does
    others = {"choices"} | of_the_log | of_every_verb | of_a_photo
    assert set(TEXTS) == set(QUESTIONS) - others


@pytest.mark.parametrize(
    ("question", "fields", "said"),
    [
        ("look", {}, "'stack' is empty"),
        ("look", {"stack": 7}, "must be a text"),
        ("look", {"stack": "Xx 5nm / Ti"}, "unknown material 'Xx'"),
        ("look", {"stack": "TiO2 45nm / Ti", "angle_deg": 91}, "must be 0 to 90"),
        ("look", {"stack": "TiO2 45nm / Ti", "angle_deg": float("nan")}, "must be a number"),
        ("look", {"stack": "TiO2 45nm / Ti", "angle_deg": True}, "must be a number"),
        ("look", {"stack": "TiO2 0..200nm step 0.1nm / Ti"}, "too long for the page"),
        ("look", {"stack": "80 x (TiO2 1nm) / Ti"}, "at most 60 layers"),
        ("look", {"stack": "TiO2 1nm / " * 300 + "Ti"}, "at most 2,000 characters"),
        ("look", {"stack": "TiO2 45nm / Ti", "light": "moon"}, "light 'moon'"),
        ("strip", {"metal": "Ti", "temperatures": 200, "times_min": [1] * 30}, "4,000 places"),
        ("strip", {"metal": "Ti", "temperatures": 3.5}, "whole number"),
        ("tint", {"metal": "Ti", "at": "450", "for": "20min"}, "has no unit"),
        ("gauge", {"film": "TiO2", "on": "Ti", "seen": "purple"}, "must be a list"),
        ("gauge", {"film": "TiO2", "on": "Ti"}, "give at least one colour seen"),
        (
            "gauge",
            {"film": "TiO2", "on": "Ti", "seen": ["tan"], "between": "0..9um"},
            "up to 1000 nm",
        ),
        ("gauge", {"film": "TiO2,", "on": "Ti", "seen": ["gold"]}, "single commas"),
        ("gauge", {"film": "TiO2", "on": "Ti", "seen": ["gold"] * 25}, "at most 24"),
        ("map", {"film": "TiO2", "on": "Ti"}, "needs a photo"),
        ("assay", {"metal": "Ti", "ohms": "12"}, "is not understood"),
        ("design", {"goals": ["R>95%"], "with": ["Al"], "max_layers": 99}, "1 to 16"),
        (
            "design",
            {"goals": ["R>95% 500nm"], "with": ["Al"], "robust": True},
            "needs “Thickness is off by”",
        ),
        ("sheet", {"stack": "Al 90nm / glass 4mm", "size": "huge"}, "“Size of the piece” 'huge'"),
    ],
)
def test_what_is_refused_is_told_in_one_sentence(question, fields, said):
    status, body = answer(question, fields)
    refused = json.loads(body)["refused"]
    assert status == 200
    assert said in refused
    assert "--" not in refused
    assert "\n" not in refused


def test_parameters_are_called_by_the_labels_of_their_fields():
    assert name_fields("`pressure` and `rate` go together, unlike `four_point`", "assay") == (
        "“Pressure while it grew” and “Rate while it grew” go together, unlike four_point"
    )


def test_an_error_of_ours_tells_nothing_of_the_inside(monkeypatch, capsys):
    def broken(*_):
        raise KeyError("/home/somebody/secret")

    monkeypatch.setattr("oxhue.page.questions.look.look_question", broken)
    status, body = answer("look", {"stack": "TiO2 45nm / Ti"})
    assert status == 500
    assert b"secret" not in body
    assert b"Error" not in body
    assert "secret" in capsys.readouterr().err


def test_the_ramp_has_the_colours_of_the_stack_it_runs_through(ask):
    found = ask("look", stack="TiO2 45nm / Ti", ramp="TiO2 0..90nm step 45nm / Ti")
    ramp = found["drawing"]["ramp"]
    assert ramp["thickness_nm"] == [0.0, 45.0, 90.0]
    assert ramp["srgb_hex"][1] == found["answer"]["reflected"]["srgb_hex"]
    assert found["drawing"]["back"] is None


def test_a_plate_is_seen_from_behind_too(ask):
    drawing = ask("look", stack="Al 12nm / glass 1mm")["drawing"]
    assert drawing["back"]["side"] == "back"
    assert [(one["face"], one["kind"]) for one in drawing["layers"]] == [
        ("front", "metal"),
        ("substrate", "glass"),
    ]


def test_choices_name_what_the_questions_take(ask):
    choices = ask("choices")["answer"]
    assert {"TiO2", "Ti", "glass"} <= {one["name"] for one in choices["materials"]}
    titanium = next(one for one in choices["metals"] if one["key"] == "Ti")
    assert titanium["range_C"] == [100.0, 650.0]
    assert "D65" in choices["lights"]
    assert "purple" in choices["words"]


def test_fields_that_are_left_empty_are_not_given():
    fields = Fields({"a": "  ", "b": None, "c": ["x", " "]})
    assert fields.text_if("a") is None
    assert "b" not in fields
    assert fields.texts("c") == ["x"]
    assert fields.number("b", 3.0, 0.0, 5.0) == 3.0


@pytest.mark.parametrize("value", [10**400, -(10**400), 10**4000])
def test_a_number_beyond_all_floats_is_no_number(value, ask):
    for question, fields in (
        ("look", {"stack": "TiO2 45nm / Ti", "angle_deg": value}),
        ("look", {"stack": "TiO2 45nm / Ti", "observer": value}),
        ("strip", {"metal": "Ti", "temperatures": value}),
    ):
        assert "must be a number" in ask(question, **fields)["refused"]


def test_designs_are_drawn_as_their_goal_looks_at_them(ask):
    asked = {"on": "glass", "with": ["TiO2"], "max_layers": 1, "designs": 1, "effort": 5}
    drawing = ask("design", goals=["T<80% 700..900nm at 45deg s", "R>1% 500nm"], **asked)["drawing"]
    assert (drawing["shown"], drawing["angle_deg"], drawing["polarization"]) == ("T", 45.0, "s")
    assert drawing["bands"] == [["<", 80.0, 700.0, 900.0]]
    grid = np.array(drawing["wavelength_nm"])
    assert (grid[0], grid[-1]) == (380.0, 900.0)
    assert np.all(np.array(drawing["values"])[:, grid >= 700.0] < 0.801)
    plain = ask("design", goals=["colour purple"], **asked)["drawing"]
    assert (plain["shown"], plain["bands"]) == ("R", [])
