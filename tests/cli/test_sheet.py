"""``oxhue sheet`` in this process: the answer, the JSON contract, the chart, refusals."""

from __future__ import annotations

import json

import pytest

from tests.cli.within import instead, run

MIRROR = ["sheet", "SiO2 188nm / Al 80nm / glass", "--source", "boat", "--distance", "30cm"]
LAYER_KEYS = {
    "material", "thickness_nm", "mass_g", "time_s", "source_temperature_C", "arrival_ratio",
    "arrival_species", "stays_metal", "states", "witness", "rate_nm_s",
}  # fmt: skip


def as_json(capsys, *arguments):
    code, out, err = run(capsys, *arguments, "--json")
    assert (code, err) == (0, "")
    return json.loads(out)


def test_the_answer_comes_first_and_the_cautions_last(capsys):
    code, out, err = run(capsys, *MIRROR, "--rate", "10nm/s")
    assert (code, err) == (0, "")
    lines = [line for line in out.splitlines() if line.strip()]
    assert lines[0].startswith("2 layers, 27 s of deposition. Finished colour: silver")
    assert "chance that the film stays metallic" in lines[0]
    assert lines[-2].startswith("Caution. ")
    assert "more cautions" in lines[-2]
    assert lines[-1].startswith("Optical data: ")
    assert "can implode" in out
    assert "no vapour pressure is held for SiO2" in out


def test_json_keeps_the_contract(capsys):
    answer = as_json(capsys, *MIRROR, "--rate", "10nm/s")
    assert [layer["material"] for layer in answer["layers"]] == ["Al", "SiO2"]
    assert [layer["step"] for layer in answer["layers"]] == [1, 2]
    metal, glassy = answer["layers"]
    assert set(metal) >= LAYER_KEYS
    assert metal["arrival_species"] == "oxygen atoms offered per metal atom"
    assert isinstance(metal["stays_metal"], bool)
    assert sum(metal["states"].values()) == pytest.approx(1.0)
    assert answer["possible"]["as_asked"]
    assert glassy["stays_metal"] is None
    assert glassy["arrival_ratio"] is None
    assert metal["mass_g"] == pytest.approx(0.061, rel=0.04)
    assert metal["time_s"] == pytest.approx(8.0)
    assert set(metal["witness"]) == {"metal", "grey", "oxide"}
    assert list(glassy["witness"]) == ["film"]
    seen = metal["witness"]["metal"]
    assert set(seen) >= {"reflected", "transmitted", "ohms_per_square", "time_s"}
    assert seen["reflected"]["name"] == "silver"
    assert metal["moments"][-1] == seen
    assert metal["ohms_per_square"] == seen["ohms_per_square"]
    assert answer["replan"] is None


def test_an_open_circuit_is_null_in_json(capsys):
    answer = as_json(capsys, "sheet", "Ag 30nm / glass", "--source", "plane", "--distance", "20cm")
    assert answer["layers"][0]["moments"][0]["ohms_per_square"] is None
    assert answer["layers"][0]["ohms_per_square"] > 0.0


def test_all_options_reach_the_job(capsys):
    answer = as_json(
        capsys, "sheet", "SiO2 90nm / Ti 20nm / glass", "--source", "wire", "--distance", "250mm",
        "--rate", "1nm/s", "--rate", "Ti=0.5nm/s", "--pressure", "1e-6Torr", "--size", "25x75mm",
        "--offset", "2cm", "--tilt", "5", "--turning", "--wire-diameter", "0.6mm",
        "--wire-length", "4cm", "--wire", "W", "--current", "15A", "--tooling", "99nm/90nm",
        "--area", "50mm2", "--gas", "air", "--plastic", "--getter", "0.1m2", "--pumping", "60l/s",
        "--made", "1:Ti 24nm", "--witness", "BK7", "--every", "10nm", "--angle", "20",
        "--light", "A", "--observer", "10",
    )  # fmt: skip
    assert answer["source"] | {"kind": "wire", "length_mm": 40.0} == answer["source"]
    assert answer["placement"] == {
        "distance_mm": 250.0, "offset_mm": 20.0, "tilt_deg": 5.0, "turning": True,
    }  # fmt: skip
    assert answer["piece"] == {"width_mm": 25.0, "height_mm": 75.0, "round": False}
    assert answer["heater"]["area_cm2"] == 0.5
    assert answer["heater"]["wire_mm"] == 0.6
    assert (answer["heater"]["wire"], answer["heater"]["current_A"]) == ("W", 15.0)
    assert answer["tooling"] == pytest.approx(1.1)
    jar = answer["gas"]["jar"]
    assert jar["base_mbar"] == pytest.approx(1.333e-6, rel=1e-3)
    assert (jar["residue"], jar["plastic"], jar["pump"]["speed_l_s"]) == ("air", True, 60.0)
    assert answer["gas"]["getter_cm2"] == 1000.0
    assert (answer["light"], answer["observer"], answer["angle_deg"]) == ("A", 10, 20.0)
    assert answer["witness_slide"].startswith("BK7")
    titanium, silica = answer["layers"]
    assert (titanium["made"], titanium["thickness_nm"], titanium["planned_nm"]) == (
        True,
        24.0,
        20.0,
    )
    assert titanium["rate_nm_s"] == 0.5
    assert titanium["wire"]["stated_C"] > 1000.0
    assert titanium["wire"]["margin"]["margin_K"] == pytest.approx(215.0, abs=5.0)
    assert silica["moments"][0]["thickness_nm"] == 10.0
    change = answer["replan"]
    assert change["reflectance_rms"] < change["reflectance_rms_unchanged"]


def test_a_titanium_wire_is_told_to_melt(capsys):
    code, out, _ = run(
        capsys, "sheet", "Ti 50nm / glass", "--source", "wire", "--distance", "5cm",
        "--wire", "Ti", "--wire-diameter", "0.4mm", "--current", "6A",
    )  # fmt: skip
    assert code == 3
    assert out.startswith("This Ti wire of 0.4 mm melts above 5.4 A, and 6 A is stated. What")
    assert "the margin of 215 K is narrow" in out
    assert "melts" in out


def test_a_wire_of_unknown_thickness_is_asked_for(capsys):
    code, out, err = run(
        capsys, "sheet", "Ti 50nm / glass", "--source", "wire", "--distance", "5cm"
    )
    assert (code, out) == (2, "")
    assert "give --wire-diameter, or --melted-at" in err


def test_a_leak_that_a_growing_film_swallows_leaves_it_metal(capsys):
    code, out, _ = run(
        capsys, "sheet", "Ti 80nm / glass 1mm", "--source", "wire", "--wire", "Ti",
        "--wire-diameter", "0.4mm", "--wire-length", "200mm", "--distance", "5cm", "--leak",
        "1e-3mbar.l/s", "--pumping", "2l/s", "--working-gas", "argon", "--working-pressure",
        "5e-3mbar",
    )  # fmt: skip
    assert code == 0
    assert "Finished colour: silver, #cec8c2. 9" in out
    assert "argon to 5 × 10⁻³ mbar, leak 1 × 10⁻³ mbar l/s, pump 2 l/s" in out


def test_the_new_plan_is_told(capsys):
    _, out, _ = run(capsys, *MIRROR, "--made", "1:Al 40nm")
    assert out.startswith("1 layer, ")
    assert "1 (made)" in out
    assert "After what was made: colour difference from the plan" in out


@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
def test_the_chart_is_written(kind, capsys, tmp_path):
    path = tmp_path / f"sheet.{kind}"
    code, _, err = run(capsys, *MIRROR, "--chart", str(path))
    assert code == 0
    assert "chart written" in err
    assert path.stat().st_size > 3000


def test_the_chart_shows_map_and_strip():
    from oxhue.optics.deposition.geometry import Piece, Placement, Source
    from oxhue.optics.deposition.setup import Setup
    from oxhue.optics.run_sheet.plots import chart_sheet
    from oxhue.optics.run_sheet.run_sheet import run_sheet

    setup = Setup(Source("plane"), Placement(200.0), Piece(50.0, 50.0))
    figure = chart_sheet(run_sheet("SiO2 90nm / Ti 20nm / glass", setup, pressure="1e-6mbar"))
    left, right = figure.axes[:2]
    assert "±" in left.get_title()
    assert left.get_xlabel() == "along the offset [mm]"
    assert [label.get_text() for label in right.get_yticklabels()] == ["front", "back", "through"]
    assert right.get_xlim() == (0.0, 110.0)
    assert {text.get_text() for text in right.texts} == {"1 Ti", "2 SiO2"}


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--source", "candle"], "unknown source 'candle'"),
        (["--distance", "30"], "has no unit; use one of mm, cm"),
        (["--rate", "1nm"], "unknown unit 'nm'; use one of nm/s"),
        (["--pressure", "1e-5"], "has no unit; use one of mbar"),
        (["--getter", "0.3m2"], "--getter and --pumping go together"),
        (["--made", "7:Al 80nm"], "the steps are 1 to 2"),
        (["--size", "big"], "is not a number with a unit"),
        (["--gas", "wet"], "unknown residual gas 'wet'"),
        (["--chart", "sheet.gif"], "a chart is written as"),
    ],
)
def test_refuses_with_one_sentence_and_an_empty_answer(arguments, words, capsys):
    code, out, err = run(capsys, *instead(MIRROR, arguments))
    assert (code, out) == (2, "")
    assert words in err
    assert err.count("\n") == 1
