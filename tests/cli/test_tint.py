"""The verbs tint and coupons on the command line: answers, JSON, charts, refusals."""

import pytest

from tests.cli.within import answer, run


def test_a_heat_in_json(capsys):
    code, plain = answer(capsys, "tint", "Ti", "--at", "842F", "--for", "20min", "--film", "100nm")
    assert code == 0
    for key in ("oxide", "thickness_nm", "interval90_nm", "metal_used_nm", "srgb_hex", "name",
                "law", "source", "cautions", "metal_left_nm"):  # fmt: skip
        assert plain[key] is not None
    _, celsius = answer(capsys, "tint", "titanium", "--at", "450C", "--for", "1200s")
    assert plain["thickness_nm"] == pytest.approx(celsius["thickness_nm"], rel=1e-9)


def test_a_heat_as_text(capsys):
    code, out, err = run(capsys, "tint", "steel", "--at", "280C", "--for", "10min")
    assert (code, err) == (0, "")
    assert out.splitlines()[0].startswith("carbon steel, 280 °C for 10 min: about ")
    assert out.count("Caution. ") == 1
    assert "(3 more cautions: --report FILE.html prints them.)" in out
    assert "\x1b" not in out


def test_a_profile_a_flame_and_a_gradient(capsys, tmp_path):
    log = tmp_path / "kiln.csv"
    log.write_text("time_min,temperature_C\n0,20\n30,450\n50,450\n", encoding="utf-8")
    _, ramped = answer(capsys, "tint", "Ti", "--profile", str(log))
    _, held = answer(capsys, "tint", "Ti", "--at", "450C", "--for", "20min")
    assert held["thickness_nm"] < ramped["thickness_nm"] < 1.3 * held["thickness_nm"]
    _, flame = answer(capsys, "tint", "Ti", "--at", "600C", "--pass", "20s")
    assert "passing" in flame["treatment"]
    _, plate = answer(
        capsys, "tint", "Ti", "--at", "250..550C", "--for", "20min", "--along", "100mm"
    )
    assert [plate["plate"][i]["position_mm"] for i in (0, -1)] == [0.0, 100.0]


def test_recipes_in_json(capsys):
    code, plain = answer(capsys, "tint", "Ti", "--want", "purple")
    assert code == 0
    first = plain["recipes"][0]
    for key in ("temperature_C", "time_min", "thickness_nm", "srgb_hex", "spread", "chance"):
        assert first[key] is not None
    assert first["spread"]["rating"] in ("easy", "fair", "touchy")
    _, one = answer(capsys, "tint", "Ti", "--want", "purple", "--for", "45min")
    assert {recipe["time_min"] for recipe in one["recipes"]} == {45.0}
    _, volts = answer(capsys, "tint", "Ti", "--want", "blue", "--anodise")
    assert volts["recipes"][0]["volts"] > 15.0


def test_a_colour_that_cannot_be_had_is_no_answer_to_trust(capsys):
    code, plain = answer(capsys, "tint", "steel", "--want", "#00c040")
    assert code == 3
    assert plain["recipes"] == []
    assert plain["nearest"]["delta_e"] > 10.0
    code, out, _ = run(capsys, "tint", "steel", "--want", "#00c040")
    assert code == 3
    assert "the nearest is" in out


def test_a_plate_an_overview_and_volts(capsys, tmp_path):
    code, out, _ = run(
        capsys, "tint", "Ti", "--want", "straw to blue", "--along", "100mm", "--for", "20min"
    )
    assert code == 0
    assert "one end at" in out
    chart = tmp_path / "strip.svg"
    code, out, err = run(capsys, "tint", "steel", "--chart", str(chart))
    assert code == 0
    assert "over temperature and time" in out
    assert err == f"chart written: {chart}\n"
    assert chart.stat().st_size > 10_000
    code, plain = answer(capsys, "tint", "Ti", "--volts", "25V")
    assert code == 0
    assert any("acid" in text for text in plain["cautions"])


def test_the_photo_of_a_sample_is_a_colour_to_meet(capsys, tmp_path):
    from PIL import Image

    picture = Image.new("RGB", (80, 60), (210, 210, 210))
    picture.paste((56, 129, 189), (10, 10, 40, 40))
    picture.save(tmp_path / "sample.png")
    where = ["--photo", str(tmp_path / "sample.png"), "--patch", "15,15,20,20"]
    code, found = answer(capsys, "tint", "Ti", *where, "--for", "20min", "--tolerance", "12")
    assert code == 0
    assert found["counts_as"] == "a colour within 12 ΔE of the one wanted"
    assert "sample.png" in found["want"]
    assert found["recipes"][0]["delta_e"] < 12.0
    assert any("without a white card" in said for said in found["warnings"])
    assert found["recipes"][0]["name"] in {"blue", "light blue"}


def test_a_log_without_names_of_its_columns(capsys, tmp_path):
    log = tmp_path / "kiln.csv"
    log.write_text("0;20,5\n20;450\n40;450\n60;100\n", encoding="utf-8")
    code, out, err = run(capsys, "tint", "Ti", "--profile", str(log))
    assert (code, out) == (2, "")
    assert "--columns 'time_min, temperature_C'" in err
    code, said = answer(
        capsys, "tint", "Ti", "--profile", str(log), "--columns", "time_min, temperature_C"
    )
    assert code == 0
    assert said["thickness_nm"] > 20.0


def test_coupons_and_the_tint_after_them(capsys, tmp_path):
    pieces, kiln, chart = (tmp_path / name for name in ("pieces.csv", "kiln.json", "kiln.png"))
    rows = [f"steel,{c},10,{word}" for c, word in ((215, "straw"), (255, "brown"), (290, "purple"),
                                                   (310, "dark blue"))]  # fmt: skip
    pieces.write_text("metal,temperature_C,time_min,word\n" + "\n".join(rows), encoding="utf-8")
    code, out, err = run(capsys, "coupons", str(pieces), "--save", str(kiln), "--chart", str(chart))
    assert code == 0
    assert "4 test pieces of carbon steel" in out
    assert "Next test piece: " in out
    assert f"kiln written: {kiln}" in err
    assert chart.read_bytes()[:4] == b"\x89PNG"
    _, learned = answer(capsys, "coupons", str(pieces))
    assert {"parameters", "residuals", "law", "next_piece", "fits"} <= set(learned)
    _, after = answer(
        capsys, "tint", "steel", "--at", "270C", "--for", "10min", "--coupons", str(kiln)
    )
    _, before = answer(capsys, "tint", "steel", "--at", "270C", "--for", "10min")
    spread = [plain["interval90_nm"][1] - plain["interval90_nm"][0] for plain in (after, before)]
    assert spread[0] < spread[1]
    assert "4 test pieces" in after["source"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["Ti", "--at", "450C"], "one of --for 20min and --pass 20s"),
        (["Ti", "--for", "20min"], "needs --at"),
        (["Ti", "--at", "450C", "--for", "20min", "--pass", "20s"], "one of --for"),
        (["Ti", "--at", "450", "--for", "20min"], "has no unit"),
        (["Ti", "--at", "-300C", "--for", "20min"], "absolute zero"),
        (["Ti", "--at", "1700C", "--for", "20min"], "melting point"),
        (["Ti", "--at", "450C", "--for", "-20min"], "cannot be negative; write it as 20min"),
        (["Ti", "--at", "450C", "--for", "20min", "--profile", "x.csv"], "not both"),
        (["Ti", "--profile", "absent.csv"], "there is no file"),
        (["Ti", "--volts", "25V", "--want", "blue"], "--volts stands alone"),
        (["Ti", "--volts", "25"], "has no unit"),
        (["Ti", "--want", "bluu"], "blue"),
        (["Ti", "--want", "blue", "--along", "100mm", "--for", "20min"], "straw to blue"),
        (["Ti", "--want", "straw to blue", "--along", "0mm", "--for", "20min"], "longer than"),
        (["Ti", "--want", "blue", "--film", "80nm"], "--want goes without --film"),
        (["Ti", "--at", "450C", "--for", "20min", "--passes", "2"], "--passes goes with --pass"),
        (["Ti", "--at", "450C", "--for", "20min", "--columns", "time_s"], "goes with --profile"),
        (["Ti", "--at", "450C", "--for", "20min", "--tolerance", "5"], "--tolerance goes with"),
        (["Ti", "--at", "450C", "--for", "20min", "--parts", "1"], "--parts must be a whole"),
        (["Ti", "--want", "blue", "--photo", "x.png", "--patch", "1,1,9,9"], "not both"),
        (["Ti", "--patch", "1,1,9,9"], "add --photo FILE"),
        (["Ti", "--want", "blue", "--pass", "5s", "--for", "20min"], "or --pass TIME, not both"),
        (["Ti", "--anodise", "--at", "450C"], "--anodise goes without heats"),
        (["Ti", "--coupons", "absent.toml"], "there is no file"),
        (["Ta"], "no colour of oxide on tantalum"),
        (["adamant"], "no law of oxidation"),
    ],
)
def test_refusals(arguments, words, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    code, out, err = run(capsys, "tint", *arguments)
    assert (code, out) == (2, "")
    assert words in err
    assert err.count("\n") == 1
    assert err.startswith("oxhue: ")
