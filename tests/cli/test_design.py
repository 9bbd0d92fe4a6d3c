"""``oxhue design`` as people and programs meet it."""

from __future__ import annotations

import json
import re

import pytest

from oxhue.cli.main import exit_code
from oxhue.optics.design import design as mirror_module
from tests.cli.within import instead

WISH = ["design", "--on", "glass", "--with", "Al,SiO2", "--max-layers", "2", "--effort", "6"]
EASY = ["--goal", "R>85% 450..650nm"]
HARD = ["--goal", "R>99.5% 420..680nm"]


def run(capsys, *arguments):
    code = exit_code([*WISH, *arguments])
    return code, *capsys.readouterr()


def answer(capsys, *arguments):
    code, out, err = run(capsys, *arguments, "--json")
    return code, json.loads(out), err


def test_json_has_the_keys_of_the_contract(capsys):
    code, found, err = answer(capsys, *EASY, "--tolerance", "3%", "--samples", "200")
    assert code == 0
    assert err == ""
    assert found["met"] is True
    best = found["designs"][0]
    for key in ("stack", "merit", "mean_R", "min_R", "srgb_hex", "yield"):
        assert key in best
    assert 0.85 < best["min_R"] <= best["mean_R"] < 1.0
    assert 0.0 <= best["yield"] <= 1.0
    assert re.fullmatch(r"#[0-9a-f]{6}", best["srgb_hex"])
    assert found["goals"] == ["R>85% 450..650nm"]
    assert found["tolerance"] == "3%"
    assert len(best["layers"]) <= 2
    assert len(best["goals"]) == 1


def test_look_takes_the_stack_and_sees_the_same_colour(capsys):
    _, found, _ = answer(capsys, *EASY)
    best = found["designs"][0]
    assert exit_code(["look", best["stack"], "--json"]) == 0
    seen = json.loads(capsys.readouterr().out)
    assert seen["reflected"]["srgb_hex"] == best["srgb_hex"]
    assert best["yield"] is None


def test_goals_out_of_reach_end_with_3_and_the_nearest(capsys):
    code, found, _ = answer(capsys, *HARD)
    assert code == 3
    assert found["met"] is False
    assert found["designs"][0]["merit"] > 0.0
    merits = [design["merit"] for design in found["designs"]]
    assert merits == sorted(merits)


def test_text_answers_in_one_line_first(capsys):
    code, out, _ = run(capsys, *EASY, "--tolerance", "3%", "--samples", "200")
    assert code == 0
    first = out.splitlines()[0]
    assert "meets every goal" in first
    assert "of pieces" in first
    assert "/ glass" in first
    assert "Caution. " in out
    code, out, _ = run(capsys, *HARD)
    assert "misses a goal" in out.splitlines()[0]


REFUSED = [
    (["--goal", "R>95%"], "needs a band"),
    (["--with", "Unobtainium", "--goal", "R>95% 420..680nm"], "unknown material"),
    (["--goal", "R>95% 420..680nm", "--tolerance", "3"], "expected an error"),
    (["--goal", "R>95% 420..680nm", "--robust"], "--robust needs --tolerance"),
    (["--goal", "R>95% 420..680nm", "--thinnest", "5"], "--thinnest"),
    (["--goal", "R>95% 420..680nm", "--seed", "-1"], "--seed"),
    (["--goal", "R>95% 420..680nm", "--chart", "m.txt"], ".png"),
    (["--goal", "R>95% 30..40um"], "another data set"),
]


@pytest.mark.parametrize(("arguments", "sentence"), REFUSED)
def test_bad_wishes_end_with_2_one_sentence_and_no_answer(capsys, arguments, sentence):
    code = exit_code(instead(WISH, arguments))
    out, err = capsys.readouterr()
    assert code == 2
    assert out == ""
    assert sentence in err
    assert len(err.strip().splitlines()) == 1


def test_a_chart_is_written(capsys, tmp_path):
    for name in ("m.png", "m.svg"):
        goals = [*EASY, "--goal", "T<5% 550nm", "--tolerance", "2nm", "--samples", "100"]
        code, _, _ = run(capsys, *goals, "--chart", str(tmp_path / name))
        assert code == 0
        assert (tmp_path / name).stat().st_size > 5000


def test_an_interruption_prints_the_best_so_far(capsys, monkeypatch):
    real = mirror_module.search_long

    def stopped(*arguments, **named):
        real(*arguments, **named)
        raise KeyboardInterrupt

    monkeypatch.setattr(mirror_module, "search_long", stopped)
    code, found, _ = answer(capsys, *HARD)
    assert code == 130
    assert found["interrupted"] is True
    assert found["designs"]


def test_a_colour_is_looked_at_as_asked(capsys):
    _, square, _ = answer(capsys, "--goal", "colour straw within 30")
    _, tilted, _ = answer(
        capsys, "--goal", "colour straw within 30", "--angle", "60", "--light", "A"
    )
    assert tilted["angle_deg"] == 60.0
    assert tilted["light"] == "A"
    assert square["designs"][0]["stack"] == tilted["designs"][0]["stack"]
    assert square["designs"][0]["srgb_hex"] != tilted["designs"][0]["srgb_hex"]
